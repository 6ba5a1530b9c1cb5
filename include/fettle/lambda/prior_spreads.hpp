// SPDX-License-Identifier: MIT
#pragma once

namespace fettle {

/// How far from the map, from each other and from calibration things may well be: prior standard deviations of natural
/// logarithms. Common practice, no source.
struct prior_spreads {
  double level = 0.10;             ///< correction common to all cells of the map
  double tilt = 0.05;              ///< of the correction along each axis, from its middle to an end
  double local = 0.5;              ///< correction of a cell beside level and tilt: its neighbours say more
  double scatter = 0.03;           ///< of a cell never driven beside what its surroundings say: maps are typed by hand
  double trim = 0.03;              ///< fuel that a cylinder needs over the mean of all, everywhere
  double local_trim = 0.015;       ///< the same of a cell beside it
  double gain = 0.015;             ///< of a sensor
  double shared_gain = 0.03;       ///< that all sensors which are not calibrated share, beside one that is
  double calibrated_gain = 0.005;  ///< of a sensor compared with a reference lately
  double flow = 0.03;              ///< of a bank beside the first, over its description
  double film_time_trend = 0.25;   ///< time of a wall film at the end of an axis of the map over that in its middle
  double log_level = 0.01;         ///< of one log against the others: fuel, weather
};

}  // namespace fettle
