// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <numbers>

namespace start_session {

/// What a tuner can measure at the car before there is any log.
struct car_facts {
  double cylinders = 4;
  double displacement_l = 2;
  double primary_length_m = 0.5;    ///< of one pipe from valve to collector
  double primary_bore_mm = 0;       ///< inside; 0: by the area rule of `primary_bore_mm`
  double collector_length_m = 0.4;  ///< from there to the sensor
  double collector_bore_mm = 0;     ///< inside; 0: half the area of all primaries
  double stoichiometric_afr = 14.6;
};

/// Inside diameter of a primary pipe that nobody measured: a cross-section of 2 cm2 for each 100 cm3 of the cylinder, the
/// order of size of racing manifolds (common practice, no source).
[[nodiscard]] inline double primary_bore_mm(const car_facts& car) {
  const double area_cm2 = 2 * 10 * car.displacement_l / car.cylinders;
  return 20 * std::sqrt(area_cm2 / std::numbers::pi);
}

/// Exhaust gas in a pipe: density of an ideal gas at 101 kPa and 1000 K, 0.352 g/l, times the volume.
///
/// Source: ideal gas law, R = 287.05 J/(kg K); the temperature is common practice, no source: hot gas that has begun to
///         cool on its way, and the logs correct it.
[[nodiscard]] inline double gas_mass_g(double length_m, double bore_mm) {
  constexpr double density_g_l = 101e3 / (287.05 * 1000);  // kg/m3 is g/l
  const double bore_dm = bore_mm / 100;
  return density_g_l * std::numbers::pi / 4 * bore_dm * bore_dm * 10 * length_m;
}

/// Gas between valves and a sensor behind the collector: that of all primaries, and of the collector up to the sensor.
[[nodiscard]] inline double collector_gas_mass_g(const car_facts& car) {
  const double primary_mm = car.primary_bore_mm > 0 ? car.primary_bore_mm : primary_bore_mm(car);
  const double collector_mm =
      car.collector_bore_mm > 0 ? car.collector_bore_mm : primary_mm * std::sqrt(car.cylinders / 2);
  return car.cylinders * gas_mass_g(car.primary_length_m, primary_mm) +
         gas_mass_g(car.collector_length_m, collector_mm);
}

/// Gas between valve and a sensor at the end of a primary pipe.
[[nodiscard]] inline double pipe_gas_mass_g(const car_facts& car) {
  return gas_mass_g(car.primary_length_m, car.primary_bore_mm > 0 ? car.primary_bore_mm : primary_bore_mm(car));
}

/// Revolutions from injection before the intake valve opens to the opening of the exhaust valve: intake, compression and
/// power stroke (common practice, no source).
inline constexpr double revolutions = 1.5;
/// First-order lag of a wide-band sensor with its controller, in s (common practice, no source).
inline constexpr double sensor_lag_s = 0.08;

/// Wall film of a warm engine: share of the fuel that lands, and time for it to come off (common practice, no source).
struct film_start {
  double share, time_s;
};
inline constexpr film_start port_film{0.25, 0.15};  ///< injectors at the valve
inline constexpr film_start outer_film{0.4, 0.3};   ///< injectors outside the trumpets

}  // namespace start_session
