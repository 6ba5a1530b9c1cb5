// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/fuel/mixture.hpp"
#include "fettle/lambda/exhaust_path.hpp"
#include "fettle/map/interpolate.hpp"
#include "laboratory/pictures/demo_map.hpp"

namespace laboratory {

/// A throttle that opens at steady speed: what is made, and the gas that it becomes, every 2.5 ms.
struct opened_throttle {
  static constexpr double step_s = 0.0025, opens_s = 0.3, shut_pct = 12, open_pct = 55, afr = 14.3;
  std::vector<double> time_s, speed_rpm, throttle_pct, phi, flow_g_s;

  /// Fuel misses the step at first (lean for 0.12 s), then there is too much of it.
  [[nodiscard]] static opened_throttle at(double rpm) {
    opened_throttle result;
    for (int row = 0; row <= 800; ++row) {
      const double time = row * step_s, since = time - opens_s;
      const double throttle = since < 0 ? shut_pct : open_pct;
      const double fuel_mg = fettle::interpolate(demo_fuel_mg, rpm, throttle);
      result.time_s.push_back(time);
      result.speed_rpm.push_back(rpm);
      result.throttle_pct.push_back(throttle);
      result.phi.push_back(since < 0 ? 1.0 : since < 0.12 ? 0.86 : 1.08);
      result.flow_g_s.push_back(5 * fuel_mg * (1 + afr) / 1000 * rpm / 120);
    }
    return result;
  }

  [[nodiscard]] double phi_at(const fettle::moment& made) const {
    if (!(made.fraction > 0)) return made.fraction == 0 ? phi[made.row] : phi.front();
    return std::lerp(phi[made.row], phi[made.row + 1], made.fraction);
  }
};

/// A tip-in as the fuel, the gas in the pipe and the sensor have it.
///
/// Question: speed_rpm, revolutions, pipe_gas_mass_g, lag_s.
/// Answer:   time_s and, for each, throttle_pct, lambda_made, lambda_at_sensor and lambda_read; parcels, lambda of the
///           gas at 25 places from valve to sensor, for every `parcel_step`-th time; arrives_s, when the first gas of
///           the open throttle reaches the sensor; delay_shut_s and delay_open_s, of a steady engine.
[[nodiscard]] inline nlohmann::json tip_in(const nlohmann::json& question) {
  const double speed_rpm = question.at("speed_rpm"), pipe_gas_mass_g = question.at("pipe_gas_mass_g");
  const auto drive = opened_throttle::at(speed_rpm);

  // [transport]
  const fettle::exhaust_path path{
      .revolutions = question.at("revolutions"), .pipe_gas_mass_g = pipe_gas_mass_g, .lag_s = question.at("lag_s")};
  const fettle::transport gas(drive.time_s, drive.speed_rpm, drive.flow_g_s);
  const std::vector<fettle::moment> made = gas.injected(path);
  const auto lag = fettle::lag_step::over(drive.step_s, path.lag_s);
  // [/transport]

  std::vector<double> lambda_made, lambda_at_sensor, lambda_read;
  double before = 1, reading = 1, arrives_s = std::nan("");
  for (std::size_t row = 0; row < made.size(); ++row) {
    const double phi = drive.phi_at(made[row]);
    reading = lag.keep * reading + lag.now * phi + lag.before * before;
    before = phi;
    lambda_made.push_back(fettle::lambda_from_phi(drive.phi[row]));
    lambda_at_sensor.push_back(fettle::lambda_from_phi(phi));
    lambda_read.push_back(fettle::lambda_from_phi(reading));
    const double made_s = drive.time_s[made[row].row] + made[row].fraction * drive.step_s;
    if (std::isnan(arrives_s) && made_s >= drive.opens_s) arrives_s = drive.time_s[row];
  }

  constexpr std::size_t places = 25, parcel_step = 4;
  nlohmann::json parcels = nlohmann::json::array();
  for (std::size_t k = 0; k < places; ++k) {
    fettle::exhaust_path as_far = path;
    as_far.pipe_gas_mass_g = pipe_gas_mass_g * static_cast<double>(k) / (places - 1);
    const auto here = gas.injected(as_far);
    std::vector<double> lambda;
    for (std::size_t row = 0; row < here.size(); row += parcel_step)
      lambda.push_back(fettle::lambda_from_phi(drive.phi_at(here[row])));
    parcels.push_back(lambda);
  }
  return {{"time_s", drive.time_s},
          {"throttle_pct", drive.throttle_pct},
          {"lambda_made", lambda_made},
          {"lambda_at_sensor", lambda_at_sensor},
          {"lambda_read", lambda_read},
          {"parcels", parcels},
          {"parcel_step", parcel_step},
          {"opens_s", drive.opens_s},
          {"arrives_s", arrives_s},
          {"delay_shut_s", fettle::steady_delay_s(path, speed_rpm, drive.flow_g_s.front())},
          {"delay_open_s", fettle::steady_delay_s(path, speed_rpm, drive.flow_g_s.back())}};
}

}  // namespace laboratory
