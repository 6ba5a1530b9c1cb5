// SPDX-License-Identifier: MIT
#include "common/session/recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace session {

fettle::dynamics make_dynamics(const session& setup, path_trust trust) {
  using fettle::parameter;
  const auto with_prior = [&](std::string name, double value, double spread, double lowest, double highest) {
    if (trust == path_trust::given || !(value > 0)) return parameter::held(std::move(name), value);
    return parameter{std::move(name), std::clamp(value, lowest, highest), spread, lowest, highest};
  };
  const fettle::prior_spreads spreads;
  const auto trend = [&](const bank& bank, int axis) {
    const std::string name = fmt::format("film time trend along axis {}, {}", axis, bank.name);
    return bank.film_share > 0 ? with_prior(name, 1, spreads.film_time_trend, 0.3, 3) : parameter::held(name, 1);
  };
  fettle::dynamics result;
  result.revolutions = with_prior("revolutions", setup.revolutions, 0.4, 0.5, 4);
  for (const auto& bank : setup.banks)
    result.banks.push_back({.film_share = with_prior("film share, " + bank.name, bank.film_share, 0.6, 0.01, 0.9),
                            .film_time_s = with_prior("film time, " + bank.name, bank.film_time_s, 0.6, 0.02, 5),
                            .flow = with_prior("flow factor, " + bank.name, 1, spreads.flow, 0.7, 1.4),
                            .film_time_trend = {trend(bank, 1), trend(bank, 2)}});
  for (const auto& sensor : setup.sensors)
    result.sensors.push_back({with_prior("pipe gas mass, " + sensor.name, sensor.pipe_gas_mass_g, 0.6, 0.02, 20),
                              trust == path_trust::given
                                  ? parameter::held("latency, " + sensor.name, sensor.latency_s)
                                  : parameter::uncertain("latency, " + sensor.name, sensor.latency_s, latency_spread),
                              with_prior("lag, " + sensor.name, sensor.lag_s, 0.5, 0.005, 1),
                              parameter{"gain, " + sensor.name, 1,
                                        sensor.is_calibrated ? spreads.calibrated_gain : spreads.gain, 0.7, 1.4}});
  return result;
}

namespace {

/// Logs without pulses are only good for a correction when nothing else moved the fuel.
[[nodiscard]] std::vector<std::string> remarks_without_pulses(const session& setup, bool loop_is_logged,
                                                              const std::string& name) {
  if (!loop_is_logged && setup.loop_is_closed.value_or(true))
    throw fettle::error(
        "log " + name +
        ": pulses are not logged, so the map is taken as the fuel, and closed loop may have trimmed that; log the "
        "pulses or loop_pct, or, if the loop was off, say \"closed_loop\": false in the session");
  return {name + ": pulses are not logged; the map" + (loop_is_logged ? " with loop_pct" : "") +
          " is taken as the fuel that was injected"};
}

/// Sensors that stood at their lean end for long: what gas they had is not known.
[[nodiscard]] std::vector<std::string> stays_at_the_lean_end(const fettle::recording& log) {
  std::vector<std::string> result;
  for (const auto& sensor : log.sensors)
    if (const double stood_s = fettle::detail::stood_at_lean_end_s(log, sensor); stood_s > 0)
      result.push_back(
          fmt::format("sensor {} stood at its lean end for {:.0f} s of {}: a mixture that is very lean, or a "
                      "sensor that is unplugged or broken",
                      sensor.name, stood_s, log.name));
  return result;
}

/// Non-zero where either series is: charges that left unburnt, by misfire or because their ignition was cut.
[[nodiscard]] std::vector<double> unburnt(std::vector<double> misfire, const std::vector<double>& ignition_cut) {
  if (misfire.empty()) return ignition_cut;
  for (std::size_t i = 0; i < ignition_cut.size(); ++i)
    if (!(std::abs(misfire[i]) > 0)) misfire[i] = ignition_cut[i];
  return misfire;
}

}  // namespace

read_recording make_recording(const session& setup, const fettle::map_file& base, const fettle::log_table& log,
                              const std::string& name) {
  const log_conditions now(setup, log, name);
  const log_maps maps = read_log_maps(setup);
  log_fuel fuel = read_fuel(setup, base, maps, log, now);
  read_recording result;
  std::vector<std::string> notes;
  for (const auto& note : log.notes) notes.push_back(name + ": " + note);
  if (fuel.pulses_are_logged) {
    const delivery delivered = assess_delivery(fuel, now, base, log);
    result.remarks = judge_delivery(setup, delivered, now.loop_is_logged(), name);
    if (belongs_to_need(setup, delivered, now.loop_is_logged()))
      for (std::size_t i = 0; i < fuel.need_mg.size(); ++i) fuel.need_mg[i] *= delivered.factor[i];
  } else {
    result.remarks = remarks_without_pulses(setup, now.loop_is_logged(), name);
  }
  result.remarks.insert(result.remarks.begin(), notes.begin(), notes.end());
  fettle::recording& recording = result.log;
  recording.name = name;
  recording.cylinders = static_cast<double>(setup.cylinders);
  recording.stoichiometric_afr = setup.stoichiometric_afr;
  recording.time_s = needed(log, "time_s", name);
  for (const auto& axis : base.axis_names) recording.at.push_back(needed(log, axis, name));
  recording.speed_rpm = needed(log, "rpm", name);
  recording.target_lambda = std::move(fuel.target_lambda);
  recording.throttle_pct = zero_order_hold(log, "throttle_pct");
  recording.coolant_degc = zero_order_hold(log, "coolant_degC");
  recording.fuel_cut = zero_order_hold(log, "fuel_cut");
  recording.unburnt = unburnt(zero_order_hold(log, "misfire"), zero_order_hold(log, "ignition_cut"));
  recording.need_mg = std::move(fuel.need_mg);
  recording.fuel_mg = std::move(fuel.delivered_mg);
  if (maps.share && fuel.pulses_are_logged) {
    auto second = values_along(*maps.share, log, name);
    std::vector<double> first = second;
    for (double& share : first) share = 1 - share;
    recording.bank_share = {std::move(first), std::move(second)};
  }
  for (const auto& sensor : setup.sensors)
    recording.sensors.push_back(
        {.name = sensor.name,
         .cylinders = sensor.cylinders,
         .flow_share = sensor.cylinders.empty()
                           ? 1
                           : static_cast<double>(sensor.cylinders.size()) / static_cast<double>(setup.cylinders),
         .lowest = sensor.lowest,
         .highest = sensor.highest,
         .lambda = sensor.is_fitted ? *log.find(sensor.column) : std::vector<double>(log.rows(), std::nan(""))});
  result.dangers = stays_at_the_lean_end(recording);
  if (setup.loaded_trim_paths != setup.trims.map_paths)
    refer_to_trims(maps, base, log, make_dynamics(setup, path_trust::given), recording);
  return result;
}

}  // namespace session
