// SPDX-License-Identifier: MIT
#pragma once

#include <rapidcheck.h>

#include "fettle/fuel/banks.hpp"

// Random inputs of the property tests of this folder.
namespace draws {

/// A number between two, both included.
template <class T>
[[nodiscard]] T between(double low, double high) {
  constexpr int steps = 1 << 20;
  const int step = *rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, steps + 1));
  return static_cast<T>(low + (high - low) * step / steps);
}

/// An injector at some supply: 1 to 8 mg/ms, dead time to 2 ms, smallest opening 0.2 to 1.5 ms.
template <class T>
[[nodiscard]] fettle::flow_line<T> line() {
  return {between<T>(1, 8), between<T>(0.3, 2), between<T>(0.2, 1.5)};
}

/// Limits of some speed from 600 to 14000 rpm.
template <class T>
[[nodiscard]] fettle::pulse_limits<T> limits() {
  return {.cycle_ms = fettle::cycle_ms(between<T>(600, 14000)), .largest_duty = between<T>(0.5, 1)};
}

[[nodiscard]] inline fettle::bank_mode mode() {
  return static_cast<fettle::bank_mode>(*rc::gen::inRange(0, 4));
}

}  // namespace draws
