// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/fit/map_term.hpp"
#include "fettle/lambda/detail/map_places.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/prior_spreads.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle::detail {

/// A number that is sought beside the cells; for a parameter of the dynamics, its natural logarithm.
struct scalar_unknown {
  enum class kind { level, tilt, trim_level, log_level, shared_gain, gain, parameter };
  kind what = kind::level;
  std::size_t index = 0;  ///< axis of a tilt, cylinder, log, sensor of a gain, place of a parameter in the dynamics
  double prior = 0, spread = 1;
  double lowest = -1e9, highest = 1e9;

  [[nodiscard]] bool is_same(const scalar_unknown& other) const noexcept {
    return what == other.what && index == other.index;
  }
};

/// Whether a sensor was compared with a reference lately: its gain's prior says so.
[[nodiscard]] inline bool is_calibrated(const sensor_parameters& sensor, const prior_spreads& spreads) noexcept {
  return !(sensor.gain.spread > spreads.calibrated_gain);
}

/// What is sought, as one vector: local corrections of the cells, trims cylinder by cylinder, then single numbers.
///
/// The logarithm of a cell's correction is its local part + level + tilts times the cell's place on the axes, -1 .. 1;
/// that of a cylinder's trim is its local part + the cylinder's level.
class unknowns {
 public:
  unknowns(std::vector<dynamic_axis<double>> axes, std::vector<dynamic_axis<double>> trim_axes, std::size_t cylinders,
           const prior_spreads& spreads)
      : axes_{std::move(axes)}, trim_axes_{std::move(trim_axes)}, cylinders_{cylinders}, spreads_{spreads} {
    for (const auto& axis : axes_) cells_ *= axis.size();
    for (const auto& axis : trim_axes_) trim_cells_ *= axis.size();
    std::vector<std::vector<double>> on_axis;
    for (const auto& axis : axes_) on_axis.push_back(places_on(axis, axis.points()));
    place_.assign(axes_.size(), std::vector<double>(cells_));
    for (std::size_t k = 0; k < cells_; ++k) {
      std::size_t rest = k;
      for (std::size_t a = axes_.size(); a-- > 0; rest /= axes_[a].size())
        place_[a][k] = on_axis[a][rest % axes_[a].size()];
    }
    add({.what = scalar_unknown::kind::level, .spread = spreads.level});
    for (std::size_t a = 0; a < axes_.size(); ++a)
      add({.what = scalar_unknown::kind::tilt, .index = a, .spread = spreads.tilt});
    first_trim_level_ = scalars_.size();
    for (std::size_t i = 0; i < cylinders_; ++i)
      add({.what = scalar_unknown::kind::trim_level, .index = i, .spread = spreads.trim});
  }

  [[nodiscard]] const prior_spreads& spreads() const noexcept { return spreads_; }
  void add(const scalar_unknown& scalar) { scalars_.push_back(scalar); }

  [[nodiscard]] std::size_t cells() const noexcept { return cells_; }
  [[nodiscard]] std::size_t cylinders() const noexcept { return cylinders_; }  ///< that have trims; 0: none
  [[nodiscard]] std::size_t trim_cells() const noexcept { return trim_cells_; }
  [[nodiscard]] std::size_t first_trim(std::size_t cylinder) const noexcept { return cells_ + cylinder * trim_cells_; }
  [[nodiscard]] std::size_t trim_level(std::size_t cylinder) const noexcept {
    return first_scalar() + first_trim_level_ + cylinder;
  }
  [[nodiscard]] std::size_t first_scalar() const noexcept { return cells_ + cylinders_ * trim_cells_; }
  [[nodiscard]] std::size_t size() const noexcept { return first_scalar() + scalars_.size(); }
  [[nodiscard]] const std::vector<scalar_unknown>& scalars() const noexcept { return scalars_; }
  [[nodiscard]] const std::vector<dynamic_axis<double>>& axes() const noexcept { return axes_; }
  [[nodiscard]] const std::vector<dynamic_axis<double>>& trim_axes() const noexcept { return trim_axes_; }
  /// Place of a cell on an axis, -1 .. 1: what a tilt multiplies.
  [[nodiscard]] double place(std::size_t axis, std::size_t cell) const noexcept { return place_[axis][cell]; }

  /// Smoothing strengths: one per axis of the map, then one per axis of the trims, which all cylinders share.
  [[nodiscard]] std::size_t strengths() const noexcept {
    return axes_.size() + (cylinders_ > 0 ? trim_axes_.size() : 0);
  }
  /// The same as a penalised system takes them: those of the trims once per cylinder.
  [[nodiscard]] std::vector<double> expanded(std::span<const double> strength) const {
    std::vector<double> result(strength.begin(), strength.begin() + static_cast<std::ptrdiff_t>(axes_.size()));
    for (std::size_t i = 0; i < cylinders_; ++i)
      result.insert(result.end(), strength.begin() + static_cast<std::ptrdiff_t>(axes_.size()), strength.end());
    return result;
  }

  /// The terms of the model, in units of the noise of a row of weight 1.
  ///
  /// @param wider  how many times as wide as they are the priors count.
  [[nodiscard]] std::vector<map_term> terms(std::span<const double> strength, double wider = 1) const {
    const auto pull = [&](double spread) { return 1 / (wider * spread * wider * spread); };
    const std::vector<double> all = expanded(strength);
    const std::span<const double> given(all);
    std::vector<map_term> result{random_walk_term(given.first(axes_.size()))};
    result[0].pull.assign(cells_, pull(spreads_.local));
    for (std::size_t i = 0; i < cylinders_; ++i) {
      const auto own = given.subspan(axes_.size() + i * trim_axes_.size(), trim_axes_.size());
      result.push_back(trim_axes_.empty() ? map_term{.axes = {}} : smooth_term(trim_axes_, own));
      result.back().pull.assign(trim_cells_, pull(spreads_.local_trim));
    }
    for (const auto& scalar : scalars_)
      result.push_back({.axes = {}, .prior = {scalar.prior}, .pull = {pull(scalar.spread)}});
    return result;
  }

  /// Prior standard deviation and mean of every unknown.
  [[nodiscard]] std::pair<std::vector<double>, std::vector<double>> priors() const {
    std::vector<double> spread(cells_, spreads_.local), mean(size(), 0.0);
    spread.resize(first_scalar(), spreads_.local_trim);
    for (const auto& scalar : scalars_) {
      mean[spread.size()] = scalar.prior;
      spread.push_back(scalar.spread);
    }
    return {std::move(spread), std::move(mean)};
  }

 private:
  // A random walk from cell to cell along each axis, whatever their spacing: maps are typed cell by cell. Trims are
  // smooth, as they are physics alone.
  [[nodiscard]] map_term random_walk_term(std::span<const double> strength) const {
    map_term result{.axes = axes_};
    for (std::size_t a = 0; a < axes_.size(); ++a)
      result.smooth.push_back({difference_roughness(axes_[a].size(), 1), strength[a]});
    return result;
  }

  std::vector<dynamic_axis<double>> axes_, trim_axes_;
  std::size_t cylinders_, cells_ = 1, trim_cells_ = 1, first_trim_level_ = 0;
  prior_spreads spreads_;
  std::vector<std::vector<double>> place_;  // [axis][cell]
  std::vector<scalar_unknown> scalars_;
};

}  // namespace fettle::detail
