// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "virtual_engine/dice.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// Decides for each cylinder, once a cycle, whether it misfires.
class misfiring {
 public:
  misfiring(const misfires& what, std::uint64_t seed) : what_{what}, draw_{seed, 7} {
    for (std::size_t i = 0; i < cylinders; ++i) turned_[i] = 2.0 * static_cast<double>(i) / cylinders;
  }

  /// One step of the crank.
  ///
  /// @param turned  revolutions in this step.
  /// @param charge  air of a cylinder over a full charge.
  void step(double turned, double charge) {
    const double probability = what_.probability(charge);
    if (!(probability > 0)) return;
    for (std::size_t i = 0; i < cylinders; ++i) {
      turned_[i] += turned;
      if (turned_[i] < 2) continue;
      turned_[i] -= 2;
      seen_[i] = draw_.happens(probability) ? 1 - what_.unseen_fuel : 1;
    }
  }

  /// Share of each cylinder's fuel that a sensor sees.
  [[nodiscard]] const per_cylinder& seen_fuel() const { return seen_; }

  [[nodiscard]] bool happens(std::size_t i) const { return seen_[i] < 1; }

  /// Cylinders whose present charge leaves unburnt, as a controller counts them from the crank's speed.
  [[nodiscard]] double count() const {
    double result = 0;
    for (std::size_t i = 0; i < cylinders; ++i) result += happens(i) ? 1 : 0;
    return result;
  }

  /// Whether the engine misfires at all.
  [[nodiscard]] bool may_happen() const { return what_.probability(0) > 0; }

 private:
  misfires what_;
  dice draw_;
  per_cylinder turned_{}, seen_{1, 1, 1, 1, 1};
};

}  // namespace virtual_engine
