// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/error.hpp"
#include "fettle/lambda/detail/check_cylinders.hpp"

namespace fettle {

/// One sensor's stay in one place during one run.
struct sensor_stay {
  std::size_t run = 0;
  std::size_t sensor = 0;
  std::vector<std::size_t> cylinders{};  ///< whose exhaust passes it, 1 ..; empty: that of all
};

/// A sensor of a rotation: its gain is unknown unless it was calibrated against a reference.
struct rotated_sensor {
  std::string name;
  bool is_calibrated = false;
};

/// Which sensor sat where in which run.
struct rotation {
  std::size_t cylinders = 1;
  std::size_t runs = 1;
  std::vector<rotated_sensor> sensors;
  std::vector<sensor_stay> stays;

  /// Errors: `fettle::error` naming the sensor, run or cylinder that does not exist, or a sensor in two places at once.
  void check() const {
    for (std::size_t i = 0; i < stays.size(); ++i) {
      const auto& stay = stays[i];
      if (stay.sensor >= sensors.size())
        throw error("rotation: sensor number " + std::to_string(stay.sensor + 1) + " does not exist; there are " +
                    std::to_string(sensors.size()));
      if (stay.run >= runs)
        throw error("rotation: run " + std::to_string(stay.run + 1) + " does not exist; there are " +
                    std::to_string(runs));
      detail::check_cylinders("rotation: sensor " + sensors[stay.sensor].name, stay.cylinders, cylinders);
      for (std::size_t k = 0; k < i; ++k)
        if (stays[k].run == stay.run && stays[k].sensor == stay.sensor)
          throw error("rotation: sensor " + sensors[stay.sensor].name + " is in two places in run " +
                      std::to_string(stay.run + 1));
    }
  }
};

/// What a rotation identifies.
struct separability {
  std::vector<bool> trim;            ///< per cylinder: distinguished from every sensor's gain
  std::vector<bool> gain;            ///< per sensor: distinguished from cylinders and from the map
  std::vector<std::string> remarks;  ///< each pair or group that cannot be distinguished, by name, and why

  [[nodiscard]] bool holds_for_every_trim() const { return std::find(trim.begin(), trim.end(), false) == trim.end(); }
};

/// Which trims and gains a rotation determines, from the null space of its design.
///
/// Reading of a stay = map + run + mean trim of the cylinders that pass + gain of the sensor, all as logarithms of phi;
/// where all pass, the trims cancel, because they sum to zero. A quantity is identifiable when no direction of the null space
/// touches it.
/// Errors: those of `rotation::check`.
/// Cost:   one singular value decomposition with a row per stay.
[[nodiscard]] FETTLE_INLINE separability separate(const rotation& plan);

/// The fewest runs that distinguish every trim from every gain, by rows of a cyclic Latin square: in each run all
/// sensors move on together.
///
/// @param sensors    in pipes, none calibrated, at most one per cylinder.
/// @param collector  whether a calibrated sensor stays after the collector.
/// @return           entry [run][sensor]: the cylinder, 1 ..
/// Errors:           `fettle::error` when no number of runs would do.
[[nodiscard]] FETTLE_INLINE std::vector<std::vector<std::size_t>> plan_rotation(std::size_t sensors,
                                                                                std::size_t cylinders, bool collector);

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/lambda/detail/rotation_definition.hpp"
#endif
