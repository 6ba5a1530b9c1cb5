// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/prior_spreads.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/interpolate.hpp"

namespace session {

/// Value of a map of rank 1 to 3 at one row of its coordinates.
[[nodiscard]] inline double value_at(const fettle::dynamic_table<double>& map,
                                     const std::vector<std::vector<double>>& at, std::size_t row) {
  switch (map.rank()) {
    case 1:
      return fettle::interpolate(map.view<1>(), at[0][row]);
    case 2:
      return fettle::interpolate(map.view<2>(), at[0][row], at[1][row]);
    default:
      return fettle::interpolate(map.view<3>(), at[0][row], at[1][row], at[2][row]);
  }
}

namespace detail {

/// A slow channel holds its last sample.
inline void hold(std::vector<double>& series) {
  for (std::size_t i = 1; i < series.size(); ++i)
    if (std::isnan(series[i])) series[i] = series[i - 1];
}

[[nodiscard]] inline std::vector<double> held(const fettle::log_table& log, const std::string& name) {
  const auto* found = log.find(name);
  if (found == nullptr) return {};
  std::vector<double> series = *found;
  hold(series);
  return series;
}

[[nodiscard]] inline std::vector<double> needed(const fettle::log_table& log, const std::string& name,
                                                const std::string& log_name) {
  if (log.find(name) == nullptr) throw fettle::error("log " + log_name + ": the column " + name + " is needed");
  return held(log, name);
}

[[nodiscard]] inline double dead_time_ms(const bank& of, double battery_v) {
  if (of.battery_v.size() < 2) return of.dead_time_ms.front();
  return fettle::interpolate(fettle::map_view<1, double>{.axes = {{{of.battery_v.data(), of.battery_v.size()}}},
                                                         .values = of.dead_time_ms.data()},
                             battery_v);
}

}  // namespace detail

/// A log in the quantities that tell fuel from lambda.
[[nodiscard]] inline fettle::recording make_recording(const session& of, const fettle::map_file& base,
                                                      const fettle::log_table& log, const std::string& name) {
  using detail::held, detail::needed;
  fettle::recording result;
  result.name = name;
  result.cylinders = static_cast<double>(of.cylinders);
  result.stoichiometric_afr = of.stoichiometric_afr;
  result.time_s = needed(log, "time_s", name);
  for (const auto& axis : base.axis_names) result.at.push_back(needed(log, axis, name));
  result.speed_rpm = needed(log, "rpm", name);
  result.target_lambda = needed(log, "lambda_target", name);
  result.throttle_pct = held(log, "throttle_pct");
  result.coolant_degc = held(log, "coolant_degC");
  result.fuel_cut = held(log, "fuel_cut");
  const auto air_kpa = held(log, "air_kPa"), air_degc = held(log, "air_degC"), battery_v = held(log, "battery_v"),
             fuel_kpa = held(log, "fuel_kPa");
  const std::size_t rows = result.rows();

  constexpr double kelvin = 273.15, gas_constant = 287.05;  // J/(kg K), dry air
  const double cylinder_l = of.displacement_l / static_cast<double>(of.cylinders);
  result.need_mg.resize(rows);
  for (std::size_t i = 0; i < rows; ++i) {
    const double kpa = air_kpa.empty() ? of.reference_kpa : air_kpa[i];
    const double degc = air_degc.empty() ? of.reference_degc : air_degc[i];
    const double density = kpa / of.reference_kpa * (of.reference_degc + kelvin) / (degc + kelvin);
    const double value = value_at(base.table, result.at, i);
    switch (of.holds) {
      case meaning::fuel_mg:
        result.need_mg[i] = value * density;
        break;
      case meaning::pulse_ms:
        result.need_mg[i] = value * of.banks[0].flow_mg_ms * density;
        break;
      case meaning::ve_pct:
        result.need_mg[i] =
            value / 100 * kpa * cylinder_l * 1e6 / (gas_constant * (degc + kelvin)) / of.stoichiometric_afr;
        break;
    }
  }

  for (std::size_t b = 0; b < of.banks.size(); ++b) {
    const bank& one = of.banks[b];
    auto& fuel = result.fuel_mg.emplace_back(rows);
    const auto pulse_ms = one.pulse_column.empty() ? std::vector<double>{} : needed(log, one.pulse_column, name);
    for (std::size_t i = 0; i < rows; ++i) {
      if (pulse_ms.empty()) {  // pulses not logged: what the controller asked for, all from the first bank
        fuel[i] = b == 0 ? result.need_mg[i] / result.target_lambda[i] : 0;
        continue;
      }
      const double volts = battery_v.empty() ? 14 : battery_v[i];
      const double pressure =
          one.reference_kpa > 0 && !fuel_kpa.empty() ? std::sqrt(fuel_kpa[i] / one.reference_kpa) : 1;
      fuel[i] = pulse_ms[i] > 0
                    ? std::max(0.0, pulse_ms[i] - detail::dead_time_ms(one, volts)) * one.flow_mg_ms * pressure
                    : 0;
    }
  }

  for (const auto& one : of.sensors)
    result.sensors.push_back(
        {.name = one.name,
         .cylinder = one.cylinder,
         .flow_share = one.cylinder == 0 ? 1 : 1 / static_cast<double>(of.cylinders),
         .lowest = one.lowest,
         .highest = one.highest,
         .lambda = one.is_fitted ? *log.find(one.column) : std::vector<double>(rows, std::nan(""))});
  return result;
}

/// How firmly the session's own values of the path are believed.
enum class path_trust { given, prior };

/// How wrong the latency of a sensor may be, as the standard deviation of its logarithm. It is not sought: revolutions,
/// gas of the pipe and lag take up nearly all that it does.
inline constexpr double latency_spread = 0.3;

/// The dynamics of a session: held at its values, or those values as priors to be found from the logs.
[[nodiscard]] inline fettle::dynamics make_dynamics(const session& of, path_trust trust) {
  using fettle::parameter;
  const auto believed = [&](std::string name, double value, double spread, double lowest, double highest) {
    if (trust == path_trust::given || !(value > 0)) return parameter::held(std::move(name), value);
    return parameter{std::move(name), std::clamp(value, lowest, highest), spread, lowest, highest};
  };
  const fettle::prior_spreads spreads;
  fettle::dynamics result;
  result.revolutions = believed("revolutions", of.revolutions, 0.4, 0.5, 4);
  for (const auto& one : of.banks)
    result.banks.push_back({believed("film share, " + one.name, one.film_share, 0.6, 0.01, 0.9),
                            believed("film time, " + one.name, one.film_time_s, 0.6, 0.02, 5)});
  for (const auto& one : of.sensors)
    result.sensors.push_back(
        {believed("pipe gas mass, " + one.name, one.pipe_gas_mass_g, 0.6, 0.02, 20),
         trust == path_trust::given ? parameter::held("latency, " + one.name, one.latency_s)
                                    : parameter::uncertain("latency, " + one.name, one.latency_s, latency_spread),
         believed("lag, " + one.name, one.lag_s, 0.5, 0.005, 1),
         parameter{"gain, " + one.name, 1, one.is_calibrated ? spreads.calibrated_gain : spreads.gain, 0.7, 1.4}});
  return result;
}

}  // namespace session
