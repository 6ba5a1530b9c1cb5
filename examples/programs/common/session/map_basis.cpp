// SPDX-License-Identifier: MIT
#include "common/session/map_basis.hpp"

namespace session {

fettle::map_basis<double> basis_of(const session& setup) {
  return {.meaning = setup.holds,
          .air = {.reference = {setup.air.reference_kpa, setup.air.reference_degc},
                  .pressure_exponent = setup.air.pressure_exponent,
                  .temperature_exponent = setup.air.temperature_exponent},
          .stoichiometric_afr = setup.stoichiometric_afr,
          .swept_cm3 = 1000 * setup.displacement_l / static_cast<double>(setup.cylinders),
          .flow_mg_per_ms = setup.banks[0].flow_mg_ms};
}

}  // namespace session
