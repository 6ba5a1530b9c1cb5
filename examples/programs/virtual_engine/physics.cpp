// SPDX-License-Identifier: MIT
#include "virtual_engine/physics.hpp"

#include <algorithm>

#include "fettle/error.hpp"
#include "virtual_engine/dice.hpp"

namespace virtual_engine {
namespace {

/// Sizes of the effects.
struct physics_sizes {
  // Published for a central injector, over 0.3 to 1 bar of the manifold and 1000 to 6000 rpm: the share falls by about
  // 0.6 of its logarithm with load and 0.9 with speed, the time by 0.4 and 1. Half of that here: injectors in the port.
  // Source: E. Hendricks, T. Vesterholm, S. C. Sorenson, "Nonlinear, closed loop, SI engine control observers",
  //         SAE 920237 (1992), doi:10.4271/920237 (from memory).
  double share_by_charge = -0.3, share_by_speed = -0.45, time_by_charge = -0.2, time_by_speed = -0.5;

  // Gas between valve and sensor of the pipe that differs most, over the mean, less 1: a collector at one end of a row
  // of cylinders. Common practice, no source.
  double pipe_excess = 0.5;

  // Symmetric and lopsided slow answers are the six faults of a sensor's response that on-board diagnostics must find:
  // California Code of Regulations, title 13, section 1968.2 (from memory). Their sizes: common practice, no source.
  double lag_ratio = 2, second_lag = 0.5;  // the second of the first

  // A pulse sucks in about the same volume at any flow, so that only little flow is diluted much: some 6 % at idle, 7 g/s,
  // and 1 % at 20 g/s. Common practice, no source.
  double air_drawn_in = 0.2, air_drawn_in_flow_g_s = 6;

  // A misfire in some hundred cycles where the charge is small and burnt gas dilutes it, almost none above a third of a
  // full charge; hydrocarbons reach the electrodes later and less than oxygen does. Common practice, no source.
  misfires misfire{.always = 0.0005, .at_no_charge = 0.03, .gone_by_charge = 0.35, .unseen_fuel = 0.6};
};

void add_film_variation(engine& e, const physics_sizes& size) {
  for (auto& bank : e.bank) {
    bank.film.share_by_charge = size.share_by_charge;
    bank.film.share_by_speed = size.share_by_speed;
    bank.film.time_by_charge = size.time_by_charge;
    bank.film.time_by_speed = size.time_by_speed;
  }
}

void add_sensor_lag(engine& e, const physics_sizes& size, dice draw) {
  for (auto& sensor : e.sensor) {
    sensor.lag_ratio = draw.happens(0.5) ? size.lag_ratio : 1 / size.lag_ratio;
    sensor.second_lag_s = size.second_lag * sensor.lag_s;
  }
}

}  // namespace

void add_physics(engine& e, const std::vector<std::string>& words, std::uint64_t seed) {
  for (const auto& word : words)
    if (word != "all" && std::find(physics_words.begin(), physics_words.end(), word) == physics_words.end())
      throw fettle::error("virtual engine: there is no physics called " + word +
                          "; it is film, pipes, lag, reversion, misfire or all");
  const auto wanted = [&](const std::string& name) {
    return std::any_of(words.begin(), words.end(),
                       [&](const std::string& word) { return word == name || word == "all"; });
  };
  const physics_sizes size;
  for (const std::string name : physics_words) {
    if (!wanted(name)) continue;
    e.physics.push_back(name);
    if (name == "film") add_film_variation(e, size);
    if (name == "lag") add_sensor_lag(e, size, dice{seed, 8});
    if (name == "misfire") e.misfire = size.misfire;
    if (name == "reversion") {
      e.sensor[0].air_drawn_in = size.air_drawn_in;
      e.sensor[0].air_drawn_in_flow_g_s = size.air_drawn_in_flow_g_s;
    }
    if (name == "pipes") {
      dice draw{seed, 9};
      e.pipe_excess = centred(draw, size.pipe_excess);
    }
  }
}

}  // namespace virtual_engine
