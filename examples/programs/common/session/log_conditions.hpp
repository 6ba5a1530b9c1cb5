// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/delivered.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/map/interpolate.hpp"

namespace session {

/// A column whose samples hold until the next; empty when the log has no such column, or never sampled it.
[[nodiscard]] std::vector<double> zero_order_hold(const fettle::log_table& log, const std::string& name);

/// A slow condition: before its first sample it was what that says.
[[nodiscard]] std::vector<double> condition(const fettle::log_table& log, const std::string& name);

[[nodiscard]] std::vector<double> needed(const fettle::log_table& log, const std::string& name,
                                         const std::string& log_name);

[[nodiscard]] double dead_time_ms(const bank& injector, double battery_v);

/// The conditions of every row of a log, and what stands for those that were not logged.
class log_conditions {
 public:
  /// Errors: `fettle::error` when the map's air is the manifold's, or a bank's pressure drop depends on it, and the log
  ///         has no `manifold_kPa`; or when the log has it and the session does not say how the rail is read.
  log_conditions(const session& setup, const fettle::log_table& log, const std::string& name);

  [[nodiscard]] const std::string& log_name() const noexcept { return log_name_; }
  /// The air by which the controller scales the map.
  [[nodiscard]] fettle::air_state<double> air(std::size_t row) const {
    return {air_.is_in_manifold ? manifold_kpa_[row] : ambient_kpa(row),
            air_degc_.empty() ? air_.reference_degc : air_degc_[row]};
  }
  [[nodiscard]] fettle::fuel_pressures<double> pressures(std::size_t row) const {
    return {.rail_kpa = rail_kpa_.empty() ? rail_kpa_if_absent_.value_or(0) : rail_kpa_[row],
            .manifold_kpa = manifold_kpa_.empty() ? std::nan("") : manifold_kpa_[row],
            .ambient_kpa = ambient_kpa(row)};
  }
  /// Is anything known of the pressure over the nozzles?
  [[nodiscard]] bool rail_is_known() const { return !rail_kpa_.empty() || rail_kpa_if_absent_; }
  [[nodiscard]] double battery_v(std::size_t row) const { return battery_v_.empty() ? 14 : battery_v_[row]; }
  [[nodiscard]] double factor(std::size_t row) const { return factor_.empty() ? 1 : factor_[row]; }
  [[nodiscard]] double loop_pct(std::size_t row) const { return loop_pct_.empty() ? 0 : loop_pct_[row]; }
  [[nodiscard]] bool loop_is_logged() const { return !loop_pct_.empty(); }

  /// Logged conditions by name, for whoever looks for what explains a series; empty series were not logged.
  struct series {
    const char* name;
    const std::vector<double>* values;
  };
  [[nodiscard]] std::vector<series> logged() const {
    std::vector<series> result;
    for (const series& each :
         {series{"air_degC", &air_degc_}, series{"air_kPa", &air_kpa_}, series{"manifold_kPa", &manifold_kpa_},
          series{"coolant_degC", &coolant_degc_}, series{"battery_v", &battery_v_}, series{"fuel_kPa", &rail_kpa_}})
      if (!each.values->empty()) result.push_back(each);
    return result;
  }

 private:
  [[nodiscard]] double ambient_kpa(std::size_t row) const {
    return air_kpa_.empty() ? air_.reference_kpa : air_kpa_[row];
  }

  void require_pressures(const session& setup, const bank& bank, const std::string& name) const {
    if (bank.pulse_columns.empty() || !(bank.reference_kpa > 0) || !rail_is_known()) return;
    const std::string who = "log " + name + ", bank " + bank.name + ": ";
    if (!setup.rail.is_given && !manifold_kpa_.empty())
      throw fettle::error(who +
                          "the log has manifold_kPa, so it matters what fuel_kPa is measured against; say it in the "
                          "session, \"fuel\": {\"rail\": {\"reading\": \"differential\"}}, or gauge, or absolute");
    if (manifold_kpa_.empty() && fettle::depends_on_manifold(setup.rail.reading, bank.nozzle))
      throw fettle::error(who +
                          "the pressure over the nozzle depends on the manifold, and the log has no manifold_kPa; log "
                          "it, or leave out reference_kPa if the controller allows for it");
  }

  std::string log_name_;
  map_air air_;
  std::optional<double> rail_kpa_if_absent_;
  std::vector<double> air_kpa_, air_degc_, manifold_kpa_, rail_kpa_, battery_v_, coolant_degc_, factor_, loop_pct_;
};

}  // namespace session
