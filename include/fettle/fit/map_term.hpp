// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/roughness.hpp"
#include "fettle/fit/smoothness.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// Smoothing along one axis of an unknown table: strength * sum over the lines along the axis of z'Kz.
struct smoothing {
  roughness rough;
  double strength = 0;
};

/// One unknown table of a map model and its prior.
struct map_term {
  std::vector<dynamic_axis<double>> axes;  ///< rank 0 (one number) to 3
  std::vector<smoothing> smooth{};         ///< one per axis, or empty: none
  std::vector<double> prior{};             ///< one per cell, or empty: zero
  std::vector<double> pull{};  ///< weight of the prior per cell, in the unit of the samples' weights, or empty: none

  [[nodiscard]] std::size_t size() const noexcept {
    std::size_t cells = 1;
    for (const auto& axis : axes) cells *= axis.size();
    return cells;
  }
};

/// A term smoothed along every axis by its curvature, one strength per axis.
///
/// The penalty is the mean over the lines along an axis of the integral of the squared second derivative over the axis
/// scaled to 0..1, so one number means the same on any grid.
///
/// Errors: `fettle::error` unless there is one strength per axis.
[[nodiscard]] inline map_term smooth_term(std::vector<dynamic_axis<double>> axes, std::span<const double> strength) {
  if (strength.size() != axes.size()) throw error("smooth_term: give one smoothing strength per axis");
  map_term term{.axes = std::move(axes)};
  for (std::size_t i = 0; i < strength.size(); ++i) {
    roughness rough = curvature_roughness(term.axes[i]);
    rough.matrix *= static_cast<double>(term.axes[i].size()) / static_cast<double>(term.size());
    term.smooth.push_back({std::move(rough), strength[i]});
  }
  return term;
}

namespace detail {

/// A term on these axes, smoothed with the strengths given; those to be chosen begin at 1.
[[nodiscard]] inline map_term term_for(const std::vector<dynamic_axis<double>>& axes, const smoothness& how) {
  const auto* given = std::get_if<std::vector<double>>(&how);
  return smooth_term(axes, given != nullptr ? *given : std::vector<double>(axes.size(), 1.0));
}

}  // namespace detail
}  // namespace fettle
