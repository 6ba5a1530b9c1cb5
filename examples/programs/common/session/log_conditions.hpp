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
namespace detail {

/// A column whose samples hold until the next; empty when the log has no such column, or never sampled it.
[[nodiscard]] inline std::vector<double> zero_order_hold(const fettle::log_table& log, const std::string& name) {
  const auto* column = log.find(name);
  if (column == nullptr) return {};
  std::vector<double> series = *column;
  for (std::size_t i = 1; i < series.size(); ++i)
    if (std::isnan(series[i])) series[i] = series[i - 1];
  return !series.empty() && std::isnan(series.back()) ? std::vector<double>{} : series;
}

/// A slow condition: before its first sample it was what that says.
[[nodiscard]] inline std::vector<double> condition(const fettle::log_table& log, const std::string& name) {
  std::vector<double> series = zero_order_hold(log, name);
  for (std::size_t i = series.size(); i-- > 1;)
    if (std::isnan(series[i - 1])) series[i - 1] = series[i];
  return series;
}

[[nodiscard]] inline std::vector<double> needed(const fettle::log_table& log, const std::string& name,
                                                const std::string& log_name) {
  auto series = zero_order_hold(log, name);
  if (series.empty()) throw fettle::error("log " + log_name + ": the column " + name + " is needed, with values");
  return series;
}

[[nodiscard]] inline double dead_time_ms(const bank& injector, double battery_v) {
  if (injector.battery_v.size() < 2) return injector.dead_time_ms.front();
  return fettle::interpolate(
      fettle::map_view<1, double>{.axes = {{{injector.battery_v.data(), injector.battery_v.size()}}},
                                  .values = injector.dead_time_ms.data()},
      battery_v);
}

}  // namespace detail

/// The conditions of every row of a log, and what stands for those that were not logged.
class log_conditions {
 public:
  /// Errors: `fettle::error` when the map's air is the manifold's, or a bank's pressure drop depends on it, and the log
  ///         has no `manifold_kPa`; or when the log has it and the session does not say how the rail is read.
  log_conditions(const session& setup, const fettle::log_table& log, const std::string& name)
      : log_name_(name),
        air_(setup.air),
        rail_kpa_if_absent_(setup.rail.kpa),
        air_kpa_(detail::condition(log, "air_kPa")),
        air_degc_(detail::condition(log, "air_degC")),
        manifold_kpa_(detail::condition(log, "manifold_kPa")),
        rail_kpa_(detail::condition(log, "fuel_kPa")),
        battery_v_(detail::condition(log, "battery_v")),
        coolant_degc_(detail::condition(log, "coolant_degC")),
        factor_(detail::condition(log, "fuel_factor")),
        loop_pct_(detail::condition(log, "loop_pct")) {
    if (air_.is_in_manifold && manifold_kpa_.empty())
      throw fettle::error("log " + name + ": the column manifold_kPa is needed, because /map/air_pressure is manifold");
    for (const auto& bank : setup.banks) require_pressures(setup, bank, name);
  }

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
