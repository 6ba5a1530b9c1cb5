// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/detail/exact_sum.hpp"
#include "fettle/fit/detail/lanes.hpp"
#include "fettle/fit/evidence.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// What long logs say about the cells of one map of rank 2: evidence summed per square of the grid, in exact integers.
///
/// A sample's share of every sum is rounded once, to 2^-44 of the largest value stated, and then added without error.
/// So the answer is the same bit for bit however the log was split, in whatever order its samples came and its parts
/// were merged, as long as all parts ran the same compiled code.
///
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

  /// Adds what another part of the samples says: the same axes and bounds.
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
          moment[a] = unit_[1] * in_shares<2, 9>(sums, a / 2, a % 2);
          for (std::size_t b = 0; b < 4; ++b)
            normal[4 * a + b] = unit_[0] * in_shares<3, 0>(sums, a / 2 + b / 2, a % 2 + b % 2);
        }
        result.add_sums(cell, normal, moment);
      }
    result.add_totals(unit_[2] * squares.value(), samples_);
    return result;
  }

 private:
  using real = detail::real_lanes;
  using units = detail::unit_lanes;
  using square_sums = std::array<detail::exact_sum, 14>;
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
      sum<Weighted>(here, row + i, column + i, value + i, Weighted ? weight + i : nullptr, end - i, rest);
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
          inside &= all_of(r >= here.row_low) & all_of(r <= here.row_last) & all_of(c >= here.column_low) &
                    all_of(c <= here.column_last) & all_of(y >= -largest_value_) & all_of(y <= largest_value_);
          if constexpr (!Weighted) continue;
          const real w = detail::load(weight + i);
          inside &= all_of(w >= 0.0) & all_of(w <= largest_weight_);
        }
        if (!all_lanes(inside)) break;
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

  // Adds x as an integer in the unit that is the last place of the anchor: the sum's bits are that integer plus a
  // constant, so adding them is exact.
  static void tally(units& sum, const real& x, double anchor) noexcept { sum += std::bit_cast<units>(x + anchor); }
  [[nodiscard]] static double anchor(double unit) noexcept { return 0x1.8p52 * unit; }

  /// Sums samples that lie in the square: whole vectors of them, and the rest.
  template <bool Weighted>
  [[gnu::noinline]] void sum(const square& here, const double* row, const double* column, const double* value,
                             const double* weight, std::size_t whole, const few& rest) noexcept {
    const double shares = anchor(unit_[0]), moments = anchor(unit_[1]), squares = anchor(unit_[2]);
    const auto u_of = [&](const double* r) { return (detail::load(r) - here.row_low) * here.row_rate; };
    const auto v_of = [&](const double* c) { return (detail::load(c) - here.column_low) * here.column_rate; };
    units s0{}, s1{}, s2{}, s3{}, s4{}, s5{}, s6{}, s7{}, s8{};
    const auto add_shares = [&](const double* r, const double* c, const double* weights) {
      const real u = u_of(r), v = v_of(c);
      real wu = u, wv = v;
      if constexpr (Weighted) {
        const real w = detail::load(weights);
        tally(s0, w, shares);
        wu *= w;
        wv *= w;
      }
      const real vv = v * v, wuu = wu * u;
      tally(s1, wv, shares);
      tally(s2, wv * v, shares);
      tally(s3, wu, shares);
      tally(s4, wu * v, shares);
      tally(s5, wu * vv, shares);
      tally(s6, wuu, shares);
      tally(s7, wuu * v, shares);
      tally(s8, wuu * vv, shares);
    };
    for (std::size_t i = 0; i < whole; i += detail::lanes)
      add_shares(row + i, column + i, Weighted ? weight + i : nullptr);
    if (rest.samples > 0) add_shares(rest.row.data(), rest.column.data(), rest.weight.data());
    // A second pass, so that all sums stay in registers.
    units m0{}, m1{}, m2{}, m3{}, yy{};
    const auto add_moments = [&](const double* r, const double* c, const double* values, const double* weights) {
      const real u = u_of(r), v = v_of(c), y = detail::load(values);
      real wy = y;
      if constexpr (Weighted) wy *= detail::load(weights);
      const real wyu = wy * u;
      tally(m0, wy, moments);
      tally(m1, wy * v, moments);
      tally(m2, wyu, moments);
      tally(m3, wyu * v, moments);
      tally(yy, wy * y, squares);
    };
    for (std::size_t i = 0; i < whole; i += detail::lanes)
      add_moments(row + i, column + i, value + i, Weighted ? weight + i : nullptr);
    if (rest.samples > 0) add_moments(rest.row.data(), rest.column.data(), rest.value.data(), rest.weight.data());
    const std::size_t count = whole + (rest.samples > 0 ? detail::lanes : 0), samples = whole + rest.samples;
    const auto integer = [&](const units& sum, double unit) {
      std::uint64_t total = 0;
      for (const std::uint64_t lane : std::bit_cast<std::array<std::uint64_t, detail::lanes>>(sum)) total += lane;
      return std::bit_cast<std::int64_t>(total - count * std::bit_cast<std::uint64_t>(anchor(unit)));
    };
    const std::uint64_t one = std::bit_cast<std::uint64_t>(1 + shares) - std::bit_cast<std::uint64_t>(shares);
    square_sums& sums = sums_[here.index];
    sums[0].add(Weighted ? integer(s0, unit_[0]) : std::bit_cast<std::int64_t>(samples * one));
    std::size_t k = 1;
    for (const units* s : {&s1, &s2, &s3, &s4, &s5, &s6, &s7, &s8}) sums[k++].add(integer(*s, unit_[0]));
    for (const units* s : {&m0, &m1, &m2, &m3}) sums[k++].add(integer(*s, unit_[1]));
    sums[k].add(integer(yy, unit_[2]));
    samples_ += samples;
  }

  template <class Mask>
  [[nodiscard]] static units all_of(const Mask& holds) noexcept {
    if constexpr (sizeof(Mask) == sizeof(units))
      return std::bit_cast<units>(holds);
    else
      return holds ? ~units{} : units{};
  }
  [[nodiscard]] static bool all_lanes(const units& holds) noexcept {
    for (const std::uint64_t lane : std::bit_cast<std::array<std::uint64_t, detail::lanes>>(holds))
      if (lane == 0) return false;
    return true;
  }

  // Sums of powers, Width x Width from First, as the sum of the products of shares u^a (1-u)^(Width-1-a) and likewise
  // v and b: differences of integers, hence exact.
  template <std::size_t Width, std::size_t First>
  [[nodiscard]] static double in_shares(const square_sums& sums, std::size_t a, std::size_t b) noexcept {
    static constexpr int choose[3][3] = {{1, 0, 0}, {1, 1, 0}, {1, 2, 1}};
    detail::exact_sum result;
    for (std::size_t i = a; i < Width; ++i)
      for (std::size_t j = b; j < Width; ++j) {
        const int times = choose[Width - 1 - a][i - a] * choose[Width - 1 - b][j - b];
        for (int k = 0; k < times; ++k) {
          if ((i + j + a + b) % 2 == 0)
            result.add(sums[First + Width * i + j]);
          else
            result.subtract(sums[First + Width * i + j]);
        }
      }
    return result.value();
  }

  dynamic_axis<double> rows_, columns_;
  double largest_value_, largest_weight_;
  std::array<double, 3> unit_{};  // of sums without value, with it, with its square
  std::vector<square_sums> sums_;
  std::size_t samples_ = 0;
};

}  // namespace fettle
