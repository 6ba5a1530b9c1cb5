// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

#include "fettle/fit/evidence.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/rotation.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle {

/// How far cylinders, sensors and runs may well be from alike: prior standard deviations of logarithms of phi.
struct cylinder_spreads {
  double trim = 0.05;
  double gain = 0.03;
  double run = 0.01;
};

/// The cells of a trim map around one point; rank 0 to 2.
class trim_cells {
 public:
  struct weights {
    std::size_t size = 1;
    std::array<std::size_t, 4> cell{};
    std::array<double, 4> weight{1};
  };

  /// The axes must outlive this.
  explicit trim_cells(const std::vector<dynamic_axis<double>>& axes) : rank_{axes.size()} {
    for (std::size_t a = 0; a < rank_; ++a) views_[a] = axes[a].view(), cells_ *= axes[a].size();
  }
  [[nodiscard]] std::size_t size() const noexcept { return cells_; }

  /// Outside: each axis holds its end.
  template <class T>
  [[nodiscard]] weights at(const std::array<T, 2>& x) const noexcept {
    weights result;
    for (std::size_t a = 0; a < rank_; ++a) {
      const auto [index, fraction] = locate(views_[a], static_cast<double>(x[a]));
      for (std::size_t k = result.size; k-- > 0;) {  // downwards: entry k spreads to 2k and 2k+1
        const std::size_t cell = result.cell[k] * views_[a].size + index;
        const double weight = result.weight[k];
        result.cell[2 * k] = cell;
        result.cell[2 * k + 1] = cell + 1;
        result.weight[2 * k] = weight * (1 - fraction);
        result.weight[2 * k + 1] = weight * fraction;
      }
      result.size *= 2;
    }
    return result;
  }

 private:
  std::array<axis_view<double>, 2> views_{};
  std::size_t rank_, cells_ = 1;
};

/// The map model behind trims: reading = common rest + trim of the cylinder + gain of the sensor + level of the run.
///
/// All are logarithms of phi. The cylinders share one prior and the common rest has none, so the best trims sum to zero
/// in every cell without being told: what they have in common costs something in each of them and nothing in the common
/// rest. No cylinder is singled out.
class cylinder_model {
 public:
  struct row {
    std::vector<std::uint32_t> cell;
    std::vector<double> factor;
  };

  cylinder_model(std::vector<dynamic_axis<double>> axes, const rotation& design, const cylinder_spreads& spreads,
                 std::vector<parameter> paths = {})
      : axes_{std::move(axes)},
        spreads_{spreads},
        paths_{std::move(paths)},
        cylinders_{design.cylinders},
        cells_{trim_cells(axes_).size()} {
    std::size_t next = cells_ * (1 + cylinders_);
    for (const auto& sensor : design.sensors) sensor_.push_back(sensor.is_calibrated ? none : next++);
    for (std::size_t r = 0; r < design.runs; ++r) run_.push_back(design.runs > 1 ? next++ : none);
    first_path_ = next;
  }

  [[nodiscard]] std::size_t first_trim() const noexcept { return cells_; }
  [[nodiscard]] std::size_t end_of_trims() const noexcept { return cells_ * (1 + cylinders_); }
  [[nodiscard]] std::size_t offset_of_sensor(std::size_t sensor) const noexcept { return sensor_[sensor]; }
  [[nodiscard]] std::size_t offset_of_run(std::size_t run) const noexcept { return run_[run]; }
  [[nodiscard]] std::size_t offset_of_path(std::size_t path) const noexcept { return first_path_ + path; }

  /// @param scale     standard deviation of a reading of weight 1.
  /// @param strength  of the trims' smoothing, one per axis.
  [[nodiscard]] map_model model(double scale, std::span<const double> strength) const {
    const auto pull = [&](double spread) { return scale * scale / (spread * spread); };
    std::vector<map_term> terms{{.axes = axes_}};
    map_term trim = axes_.empty() ? map_term{.axes = {}} : smooth_term(axes_, strength);
    trim.pull.assign(cells_, pull(spreads_.trim));
    terms.insert(terms.end(), cylinders_, trim);
    const auto add_number = [&](double spread) { terms.push_back({.axes = {}, .pull = {pull(spread)}}); };
    for (const std::size_t sensor : sensor_)
      if (sensor != none) add_number(spreads_.gain);
    for (const std::size_t run : run_)
      if (run != none) add_number(spreads_.run);
    for (const auto& path : paths_) add_number(path.spread);
    return map_model(std::move(terms));
  }
  [[nodiscard]] map_model model(double scale, double strength) const {
    return model(scale, std::vector<double>(axes_.size(), strength));
  }

  /// Writes what a reading is made of. After the collector all cylinders count alike (see `mixing_rest`).
  void write(row& into, std::size_t run, std::size_t sensor, std::size_t cylinder,
             const trim_cells::weights& at) const {
    into.cell.clear();
    into.factor.clear();
    const auto put = [&](std::size_t offset, double share) {
      for (std::size_t k = 0; k < at.size; ++k) {
        if (at.weight[k] == 0) continue;
        into.cell.push_back(static_cast<std::uint32_t>(offset + at.cell[k]));
        into.factor.push_back(share * at.weight[k]);
      }
    };
    put(0, 1);
    if (cylinder > 0) put(cells_ * cylinder, 1);
    for (std::size_t i = 1; cylinder == 0 && i <= cylinders_; ++i) put(cells_ * i, 1 / static_cast<double>(cylinders_));
    for (const std::size_t offset : {sensor_[sensor], run_[run]}) {
      if (offset == none) continue;
      into.cell.push_back(static_cast<std::uint32_t>(offset));
      into.factor.push_back(1);
    }
  }

  /// Per cell: what a collector's reading lacks of the mean of the cylinders' logarithms.
  ///
  /// Fuel is the same for all, so a cylinder's air goes as 1/phi, and the collector's phi is the air-weighted mean of
  /// phi: the harmonic mean. Its logarithm differs from the mean logarithm in second order.
  [[nodiscard]] std::vector<double> mixing_rest(std::span<const double> value) const {
    std::vector<double> result;
    for (std::size_t k = 0; k < cells_; ++k) {
      double air = 0, mean = 0;
      for (std::size_t i = 1; i <= cylinders_; ++i) {
        air += std::exp(-value[cells_ * i + k]);
        mean += value[cells_ * i + k];
      }
      result.push_back(std::log(air / static_cast<double>(cylinders_)) + mean / static_cast<double>(cylinders_));
    }
    return result;
  }

  /// Multipliers of fuel that make the cylinders' phi equal: as their air, mean 1 in every cell.
  [[nodiscard]] std::vector<std::vector<double>> trims(std::span<const double> value) const {
    std::vector<std::vector<double>> result(cylinders_, std::vector<double>(cells_));
    for (std::size_t k = 0; k < cells_; ++k) {
      double air = 0;
      for (std::size_t i = 0; i < cylinders_; ++i) air += result[i][k] = std::exp(-value[cells_ * (i + 1) + k]);
      for (auto& one : result) one[k] *= static_cast<double>(cylinders_) / air;
    }
    return result;
  }

  /// One smoothing strength per axis, the same for every cylinder, by restricted likelihood.
  [[nodiscard]] std::vector<double> choose_strength(double scale, std::vector<double> strength,
                                                    const evidence& seen) const {
    const bool first = strength.empty();
    if (first) strength.assign(axes_.size(), 1e-3);
    if (axes_.empty()) return strength;
    const map_model shape = model(scale, strength);
    strength_search search(shape, seen);
    std::vector<double> every;
    for (std::size_t a = 0; a < axes_.size(); ++a) {
      const double middle = std::log(strength[a]), reach = first ? 12 : 3;
      const auto along = [&](double logarithm) {
        strength[a] = std::exp(logarithm);
        every.clear();
        for (std::size_t i = 0; i < cylinders_; ++i) every.insert(every.end(), strength.begin(), strength.end());
        return search.restricted_score(every);
      };
      strength[a] = std::clamp(
          std::exp(boost::math::tools::brent_find_minima(along, middle - reach, middle + reach, 8).first), 1e-10, 1e6);
    }
    return strength;
  }

 private:
  static constexpr std::size_t none = static_cast<std::size_t>(-1);

  std::vector<dynamic_axis<double>> axes_;
  cylinder_spreads spreads_;
  std::vector<parameter> paths_;
  std::size_t cylinders_, cells_, first_path_ = 0;
  std::vector<std::size_t> sensor_, run_;
};

}  // namespace fettle
