// SPDX-License-Identifier: MIT
#include "common/session/log_fuel.hpp"

#include <array>
#include <cmath>
#include <cstddef>
#include <span>

namespace session {

std::vector<double> values_along(const fettle::map_file& map, const fettle::log_table& log, const std::string& name) {
  std::vector<std::vector<double>> at;
  for (const auto& axis : map.axis_names) at.push_back(needed(log, axis, name));
  std::vector<double> result(log.rows());
  std::array<double, 3> x{};
  for (std::size_t i = 0; i < result.size(); ++i) {
    for (std::size_t a = 0; a < at.size(); ++a) x[a] = at[a][i];
    result[i] = fettle::interpolate(map.table, std::span(x).first(at.size()));
  }
  return result;
}

std::vector<double> mean_along(const trim_maps& trims, const fettle::log_table& log, const std::string& name) {
  std::vector<double> result(log.rows(), trims.empty() ? 1.0 : 0.0);
  for (const auto& trim : trims) {
    const auto values = values_along(trim, log, name);
    for (std::size_t i = 0; i < result.size(); ++i) result[i] += values[i] / static_cast<double>(trims.size());
  }
  return result;
}

namespace {

[[nodiscard]] std::vector<double> target_along(const session& setup, const log_maps& maps, const fettle::log_table& log,
                                               const std::string& name) {
  if (setup.target.number) return std::vector<double>(log.rows(), *setup.target.number);
  if (maps.target) return values_along(*maps.target, log, name);
  auto column = zero_order_hold(log, "lambda_target");
  if (!column.empty()) return column;
  throw fettle::error(
      "log " + name +
      ": the commanded lambda is not known; give it in one of three ways: a column lambda_target (/columns says what "
      "it is called), a number, \"lambda_target\": 0.9, or a map, \"lambda_target\": {\"file\": \"target.csv\"}");
}

[[nodiscard]] fettle::pulsed_bank<double> pulsed(const session& setup, const bank& bank, bool rail_is_known) {
  return {.flow_mg_per_ms = bank.flow_mg_ms,
          .reference_drop_kpa = rail_is_known ? bank.reference_kpa : 0,
          .rail = setup.rail.reading,
          .nozzle = bank.nozzle,
          .pulses_per_cycle = bank.pulses_per_cycle};
}

[[noreturn]] void refuse_drop(const session& setup, const bank& bank, const fettle::log_table& log, std::size_t row,
                              const std::string& name) {
  throw fettle::error("log " + name + ", time " + std::to_string((*log.find("time_s"))[row]) + " s: bank " + bank.name +
                      " has no pressure over its nozzle; check fuel_kPa and manifold_kPa, and /fuel/rail of " +
                      fettle::path_text(setup.path));
}

/// What one bank delivered, the mean of its cylinders where each has a column.
void add_bank(const session& setup, const bank& bank, const fettle::log_table& log, const log_conditions& now,
              log_fuel& destination) {
  auto& fuel = destination.delivered_mg.emplace_back(log.rows(), 0.0);
  const fettle::pulsed_bank<double> law = pulsed(setup, bank, now.rail_is_known());
  const double share = 1 / static_cast<double>(bank.pulse_columns.size());
  auto& factor = destination.nozzle_factor.emplace_back(log.rows());
  for (std::size_t i = 0; i < fuel.size(); ++i)
    factor[i] = fettle::flow_line_at(law, 0.0, now.pressures(i)).flow_mg_per_ms / bank.flow_mg_ms;
  for (const auto& column : bank.pulse_columns) {
    const auto pulse_ms = needed(log, column, now.log_name());
    for (std::size_t i = 0; i < fuel.size(); ++i) {
      const double dead_ms = dead_time_ms(bank, now.battery_v(i));
      const double mg = pulse_ms[i] > 0 ? fettle::delivered_mg(law, pulse_ms[i], dead_ms, now.pressures(i)) : 0;
      if (std::isnan(mg)) refuse_drop(setup, bank, log, i, now.log_name());
      fuel[i] += share * mg;
      auto& shortest = destination.shortest_open_ms[i];
      if (pulse_ms[i] > dead_ms && !(pulse_ms[i] - dead_ms > shortest)) shortest = pulse_ms[i] - dead_ms;
    }
  }
}

}  // namespace

log_fuel read_fuel(const session& setup, const fettle::map_file& base, const log_maps& maps,
                   const fettle::log_table& log, const log_conditions& now) {
  const std::string& name = now.log_name();
  const auto basis = basis_of(setup);
  log_fuel result;
  result.target_lambda = target_along(setup, maps, log, name);
  result.need_mg = values_along(base, log, name);
  result.asked_mg = maps.loaded ? values_along(*maps.loaded, log, name) : result.need_mg;
  const auto trim = mean_along(maps.trims, log, name), loaded_trim = mean_along(maps.loaded_trims, log, name);
  for (std::size_t i = 0; i < log.rows(); ++i) {
    const double factor = now.factor(i);
    result.need_mg[i] = fettle::need_mg(basis, result.need_mg[i], now.air(i), factor * trim[i]);
    const double loaded_mg =
        fettle::need_mg(basis, result.asked_mg[i], now.air(i), factor * setup.map_factor * loaded_trim[i]);
    result.asked_mg[i] = fettle::asked_mg(loaded_mg, result.target_lambda[i], now.loop_pct(i));
  }
  result.pulses_are_logged = !setup.banks[0].pulse_columns.empty();
  if (result.pulses_are_logged) {
    result.shortest_open_ms.assign(log.rows(), std::nan(""));
    for (const auto& bank : setup.banks) add_bank(setup, bank, log, now, result);
  } else {  // what the controller asked for, all from the first bank
    result.delivered_mg.assign(setup.banks.size(), std::vector<double>(log.rows(), 0.0));
    result.delivered_mg[0] = result.asked_mg;
  }
  return result;
}

}  // namespace session
