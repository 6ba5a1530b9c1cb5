// SPDX-License-Identifier: MIT
#pragma once

#include "common/session/session.hpp"
#include "fettle/fuel/need.hpp"

namespace session {

/// What turns a cell of the session's map into fuel.
[[nodiscard]] inline fettle::map_basis<double> basis_of(const session& of) {
  return {.meaning = of.holds,
          .air = {.reference = {of.air.reference_kpa, of.air.reference_degc},
                  .pressure_exponent = of.air.pressure_exponent,
                  .temperature_exponent = of.air.temperature_exponent},
          .stoichiometric_afr = of.stoichiometric_afr,
          .swept_cm3 = 1000 * of.displacement_l / static_cast<double>(of.cylinders),
          .flow_mg_per_ms = of.banks[0].flow_mg_ms};
}

}  // namespace session
