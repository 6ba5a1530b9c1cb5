// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/detail/bit_cast.hpp"
#include "fettle/fit/detail/exact_sum.hpp"
#include "fettle/fit/detail/lanes.hpp"
#include "fettle/fit/detail/square_sums.hpp"
#include "fettle/fit/evidence.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// Evidence of long logs on the cells of one map of rank 2, summed per square of the grid, in exact integers.
///
/// A sample's share of every sum is rounded once, to 2^-44 of the largest value stated, and then added without error.
/// So the answer is the same bit for bit however the log was split, in whatever order its samples came and its parts
/// were merged, as long as all parts ran the same compiled code.
///
/// Source:  the products of two bilinear weights are polynomials of degree 2 in u and in v, so these sums hold all that
///          the normal equations need; the exact sums are the project's own.
/// Shape:   fixed memory, 14 sums a square: of w u^a v^b, a, b = 0 .. 2, of w y u^a v^b, a, b = 0 .. 1, and of w y^2.
/// Outside: each axis holds its end.
/// Cost:    some 45 operations a sample, in vectors; a search and 14 additions more when the square changes.
class grid_evidence {
 public:
  /// @param largest_value   no sample's value exceeds it in size.
  /// @param largest_weight  no sample's weight exceeds it.
  grid_evidence(dynamic_axis<double> rows, dynamic_axis<double> columns, double largest_value,
                double largest_weight = 1)
      : rows_{std::move(rows)},
        columns_{std::move(columns)},
        largest_value_{largest_value},
        largest_weight_{largest_weight},
        sums_((rows_.size() - 1) * (columns_.size() - 1)) {
    const auto sound = [](double bound) { return bound > 1e-100 && bound < 1e100; };
    if (!sound(largest_value) || !sound(largest_weight))
      throw error("grid_evidence: the largest value and weight must lie between 1e-100 and 1e100");
    const int value_exponent = std::ilogb(largest_value) + 1, weight_exponent = std::ilogb(largest_weight) + 1;
    for (int power = 0; power < 3; ++power)
      unit_[static_cast<std::size_t>(power)] = std::ldexp(1.0, weight_exponent + power * value_exponent - 44);
  }

  /// Adds samples: value at (row, column), with weights or, if none are given, all of weight 1.
  ///
  /// Errors: `fettle::error` names the first sample that is NaN or exceeds the stated bounds; those before it count.
  void add(std::span<const double> row, std::span<const double> column, std::span<const double> value,
           std::span<const double> weight = {}) {
    if (row.size() != value.size() || column.size() != value.size() ||
        (!weight.empty() && weight.size() != value.size()))
      throw error("grid_evidence: rows, columns, values and weights differ in number");
    if (weight.empty() && largest_weight_ < 1) throw error("grid_evidence: samples without weights weigh 1");
    if (weight.empty())
      add<false>(row.data(), column.data(), value.data(), nullptr, value.size());
    else
      add<true>(row.data(), column.data(), value.data(), weight.data(), value.size());
  }

  /// Adds the evidence of another part of the samples: the same axes and bounds.
  void merge(const grid_evidence& other) {
    if (!(other.rows_ == rows_ && other.columns_ == columns_ && other.largest_value_ == largest_value_ &&
          other.largest_weight_ == largest_weight_))
      throw error("grid_evidence: cannot merge parts with different axes or bounds");
    for (std::size_t k = 0; k < sums_.size(); ++k)
      for (std::size_t s = 0; s < sums_[k].size(); ++s) sums_[k][s].add(other.sums_[k][s]);
    samples_ += other.samples_;
  }

  [[nodiscard]] std::size_t samples() const noexcept { return samples_; }

  /// The same evidence as normal equations of the map's cells, row-major.
  [[nodiscard]] evidence to_evidence() const {
    evidence result(rows_.size() * columns_.size());
    detail::exact_sum squares;
    for (std::size_t i = 0; i + 1 < rows_.size(); ++i)
      for (std::size_t j = 0; j + 1 < columns_.size(); ++j) {
        const square_sums& sums = sums_[i * (columns_.size() - 1) + j];
        squares.add(sums[13]);
        if (sums[0].value() == 0) continue;
        std::array<std::uint32_t, 4> cell{};
        std::array<double, 16> normal{};
        std::array<double, 4> moment{};
        for (std::size_t a = 0; a < 4; ++a) {
          cell[a] = static_cast<std::uint32_t>((i + a / 2) * columns_.size() + j + a % 2);
          moment[a] = unit_[1] * detail::in_shares<2, 9>(sums, a / 2, a % 2);
          for (std::size_t b = 0; b < 4; ++b)
            normal[4 * a + b] = unit_[0] * detail::in_shares<3, 0>(sums, a / 2 + b / 2, a % 2 + b % 2);
        }
        result.add_sums(cell, normal, moment);
      }
    result.add_totals(unit_[2] * squares.value(), samples_);
    return result;
  }

 private:
  using real = detail::real_lanes;
  using units = detail::unit_lanes;
  using square_sums = detail::square_sums;
  static constexpr std::size_t block = 32;         // samples looked at together
  static constexpr std::size_t longest_run = 512;  // looked at, then summed from the cache; its sums fit 64 bits

  /// One square of the grid; those at the border own what lies outside.
  struct square {
    double row_from = 0, row_to = 0, column_from = 0, column_to = 0;    // empty: owns nothing
    double row_low = 0, row_last = 0, column_low = 0, column_last = 0;  // what it owns between its breakpoints
    double row_rate = 0, column_rate = 0;
    std::size_t index = 0;
    [[nodiscard]] bool owns(double row, double column) const noexcept {
      return row >= row_from && row < row_to && column >= column_from && column < column_to;
    }
  };

  /// Samples too few for a vector, or outside the map: brought inside, and filled up with what adds nothing.
  struct few {
    std::array<double, detail::lanes> row{}, column{}, value{}, weight{};
    std::size_t samples = 0;
  };

  template <bool Weighted>
  void add(const double* row, const double* column, const double* value, const double* weight, std::size_t count) {
    square here{};
    few rest;
    for (std::size_t i = 0; i < count;) {
      refuse_unsound(row[i], column[i], value[i], Weighted ? weight[i] : 0, i);
      if (!here.owns(row[i], column[i])) here = square_around(row[i], column[i]);
      const std::size_t end =
          end_of_run<Weighted>(here, row, column, value, weight, i, (std::min)(count, i + longest_run));
      const auto joins = [&](std::size_t k) {  // the first was located here; infinity is owned by nobody
        return (k == i || here.owns(row[k], column[k])) && sound(value[k], Weighted ? weight[k] : 0);
      };
      std::size_t& take = rest.samples;
      for (take = 0; take < detail::lanes && end + take < count && joins(end + take); ++take) {
        rest.row[take] = std::clamp(row[end + take], here.row_low, here.row_last);
        rest.column[take] = std::clamp(column[end + take], here.column_low, here.column_last);
        rest.value[take] = value[end + take];
        rest.weight[take] = Weighted ? weight[end + take] : 0;
      }
      for (std::size_t k = take; k < detail::lanes; ++k)
        rest.row[k] = here.row_low, rest.column[k] = here.column_low, rest.value[k] = rest.weight[k] = 0;
      sum<Weighted>(here, {row + i, column + i, value + i, Weighted ? weight + i : nullptr, end - i, rest});
      i = end + take;
    }
  }

  // Where the samples from begin on first leave the square or the stated bounds.
  template <bool Weighted>
  [[nodiscard]] std::size_t end_of_run(const square& here, const double* row, const double* column, const double* value,
                                       const double* weight, std::size_t begin, std::size_t end) const noexcept {
    for (std::size_t step : {block, detail::lanes})
      for (; begin + step <= end; begin += step) {
        units inside = ~units{};
        for (std::size_t i = begin; i < begin + step; i += detail::lanes) {
          const real r = detail::load(row + i), c = detail::load(column + i), y = detail::load(value + i);
          inside &= detail::all_of(r >= here.row_low) & detail::all_of(r <= here.row_last) &
                    detail::all_of(c >= here.column_low) & detail::all_of(c <= here.column_last) &
                    detail::all_of(y >= -largest_value_) & detail::all_of(y <= largest_value_);
          if constexpr (!Weighted) continue;
          const real w = detail::load(weight + i);
          inside &= detail::all_of(w >= 0.0) & detail::all_of(w <= largest_weight_);
        }
        if (!detail::all_lanes(inside)) break;
      }
    return begin;
  }

  [[nodiscard]] square square_around(double row, double column) const {
    constexpr double endless = std::numeric_limits<double>::infinity();
    const auto &r = rows_.points(), &c = columns_.points();
    const std::size_t i = locate(rows_.view(), row).index, j = locate(columns_.view(), column).index;
    return {.row_from = i == 0 ? -endless : r[i],
            .row_to = i + 2 == r.size() ? endless : r[i + 1],
            .column_from = j == 0 ? -endless : c[j],
            .column_to = j + 2 == c.size() ? endless : c[j + 1],
            .row_low = r[i],
            .row_last = i + 2 == r.size() ? r[i + 1] : std::nextafter(r[i + 1], r[i]),
            .column_low = c[j],
            .column_last = j + 2 == c.size() ? c[j + 1] : std::nextafter(c[j + 1], c[j]),
            .row_rate = 1 / (r[i + 1] - r[i]),
            .column_rate = 1 / (c[j + 1] - c[j]),
            .index = i * (c.size() - 1) + j};
  }

  [[nodiscard]] bool sound(double value, double weight) const noexcept {
    return std::abs(value) <= largest_value_ && weight >= 0 && weight <= largest_weight_;
  }

  void refuse_unsound(double row, double column, double value, double weight, std::size_t sample) const {
    const std::string name = "grid_evidence: sample " + std::to_string(sample);
    if (std::isnan(row) || std::isnan(column)) throw error(name + " has a coordinate that is not a number");
    if (sound(value, weight)) return;
    throw error(name + " has value " + std::to_string(value) + " and weight " + std::to_string(weight) +
                "; they must be numbers within +-" + std::to_string(largest_value_) + " and from 0 to " +
                std::to_string(largest_weight_));
  }

  /// Samples that lie in one square: whole vectors of them, and the rest.
  struct run {
    const double *row, *column, *value, *weight;
    std::size_t whole;
    const few& rest;
  };

  // Calls use(row, column, value, weight) for every vector of samples.
  template <bool Weighted, class Use>
  static void for_each_vector(const run& samples, Use&& use) {
    for (std::size_t i = 0; i < samples.whole; i += detail::lanes)
      use(samples.row + i, samples.column + i, samples.value + i, Weighted ? samples.weight + i : nullptr);
    const few& rest = samples.rest;
    if (rest.samples > 0) use(rest.row.data(), rest.column.data(), rest.value.data(), rest.weight.data());
  }

  // Two passes, so that all sums stay in registers.
  template <bool Weighted>
  void sum(const square& here, const run& samples) {
    std::array<units, 9> shares{};
    std::array<units, 5> moments{};
    sum_shares<Weighted>(here, samples, shares);
    sum_moments<Weighted>(here, samples, moments);
    const std::size_t count = samples.whole + (samples.rest.samples > 0 ? detail::lanes : 0);
    const auto integer = [&](const units& sum, double unit) {
      std::uint64_t total = 0;
      for (const std::uint64_t lane : detail::bit_cast<std::array<std::uint64_t, detail::lanes>>(sum)) total += lane;
      return detail::bit_cast<std::int64_t>(total - count * detail::bit_cast<std::uint64_t>(detail::anchor(unit)));
    };
    const std::size_t added = samples.whole + samples.rest.samples;
    const double one_share = detail::anchor(unit_[0]);
    const std::uint64_t whole_share =
        detail::bit_cast<std::uint64_t>(1 + one_share) - detail::bit_cast<std::uint64_t>(one_share);
    square_sums& sums = sums_[here.index];
    sums[0].add(Weighted ? integer(shares[0], unit_[0]) : detail::bit_cast<std::int64_t>(added * whole_share));
    for (std::size_t k = 1; k < 9; ++k) sums[k].add(integer(shares[k], unit_[0]));
    for (std::size_t k = 0; k < 4; ++k) sums[9 + k].add(integer(moments[k], unit_[1]));
    sums[13].add(integer(moments[4], unit_[2]));
    samples_ += added;
  }

  template <bool Weighted>
  [[gnu::noinline]] void sum_shares(const square& here, const run& samples, std::array<units, 9>& sums) const noexcept {
    const double unit = detail::anchor(unit_[0]);
    units s0{}, s1{}, s2{}, s3{}, s4{}, s5{}, s6{}, s7{}, s8{};
    for_each_vector<Weighted>(samples, [&](const double* r, const double* c, const double*, const double* weights) {
      const real u = (detail::load(r) - here.row_low) * here.row_rate;
      const real v = (detail::load(c) - here.column_low) * here.column_rate;
      real wu = u, wv = v;
      if constexpr (Weighted) {
        const real w = detail::load(weights);
        detail::tally(s0, w, unit);
        wu *= w;
        wv *= w;
      }
      const real vv = v * v, wuu = wu * u;
      detail::tally(s1, wv, unit);
      detail::tally(s2, wv * v, unit);
      detail::tally(s3, wu, unit);
      detail::tally(s4, wu * v, unit);
      detail::tally(s5, wu * vv, unit);
      detail::tally(s6, wuu, unit);
      detail::tally(s7, wuu * v, unit);
      detail::tally(s8, wuu * vv, unit);
    });
    sums = {s0, s1, s2, s3, s4, s5, s6, s7, s8};
  }

  template <bool Weighted>
  [[gnu::noinline]] void sum_moments(const square& here, const run& samples,
                                     std::array<units, 5>& sums) const noexcept {
    const double unit = detail::anchor(unit_[1]), square_unit = detail::anchor(unit_[2]);
    units m0{}, m1{}, m2{}, m3{}, yy{};
    for_each_vector<Weighted>(samples,
                              [&](const double* r, const double* c, const double* values, const double* weights) {
                                const real u = (detail::load(r) - here.row_low) * here.row_rate;
                                const real v = (detail::load(c) - here.column_low) * here.column_rate;
                                const real y = detail::load(values);
                                real wy = y;
                                if constexpr (Weighted) wy *= detail::load(weights);
                                const real wyu = wy * u;
                                detail::tally(m0, wy, unit);
                                detail::tally(m1, wy * v, unit);
                                detail::tally(m2, wyu, unit);
                                detail::tally(m3, wyu * v, unit);
                                detail::tally(yy, wy * y, square_unit);
                              });
    sums = {m0, m1, m2, m3, yy};
  }

  dynamic_axis<double> rows_, columns_;
  double largest_value_, largest_weight_;
  std::array<double, 3> unit_{};  // of sums without value, with it, with its square
  std::vector<square_sums> sums_;
  std::size_t samples_ = 0;
};

}  // namespace fettle
