// SPDX-License-Identifier: MIT
#include "common/session/log_conditions.hpp"

namespace session {

std::vector<double> zero_order_hold(const fettle::log_table& log, const std::string& name) {
  const auto* column = log.find(name);
  if (column == nullptr) return {};
  std::vector<double> series = *column;
  for (std::size_t i = 1; i < series.size(); ++i)
    if (std::isnan(series[i])) series[i] = series[i - 1];
  return !series.empty() && std::isnan(series.back()) ? std::vector<double>{} : series;
}

std::vector<double> condition(const fettle::log_table& log, const std::string& name) {
  std::vector<double> series = zero_order_hold(log, name);
  for (std::size_t i = series.size(); i-- > 1;)
    if (std::isnan(series[i - 1])) series[i - 1] = series[i];
  return series;
}

std::vector<double> needed(const fettle::log_table& log, const std::string& name, const std::string& log_name) {
  auto series = zero_order_hold(log, name);
  if (series.empty()) throw fettle::error("log " + log_name + ": the column " + name + " is needed, with values");
  return series;
}

double dead_time_ms(const bank& injector, double battery_v) {
  if (injector.battery_v.size() < 2) return injector.dead_time_ms.front();
  return fettle::interpolate(
      fettle::map_view<1, double>{.axes = {{{injector.battery_v.data(), injector.battery_v.size()}}},
                                  .values = injector.dead_time_ms.data()},
      battery_v);
}

log_conditions::log_conditions(const session& setup, const fettle::log_table& log, const std::string& name)
    : log_name_(name),
      air_(setup.air),
      rail_kpa_if_absent_(setup.rail.kpa),
      air_kpa_(condition(log, "air_kPa")),
      air_degc_(condition(log, "air_degC")),
      manifold_kpa_(condition(log, "manifold_kPa")),
      rail_kpa_(condition(log, "fuel_kPa")),
      battery_v_(condition(log, "battery_v")),
      coolant_degc_(condition(log, "coolant_degC")),
      factor_(condition(log, "fuel_factor")),
      loop_pct_(condition(log, "loop_pct")) {
  if (air_.is_in_manifold && manifold_kpa_.empty())
    throw fettle::error("log " + name + ": the column manifold_kPa is needed, because /map/air_pressure is manifold");
  for (const auto& bank : setup.banks) require_pressures(setup, bank, name);
}

}  // namespace session
