// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "common/report/chart.hpp"
#include "common/report/gnuplot.hpp"
#include "common/report/thinning.hpp"

namespace report {

/// Values of one kind; what is not finite is not counted.
struct sample {
  std::string name;
  std::span<const double> values;
};

/// How often values occur, several samples in the same bins, each as a share of its own number.
struct histogram {
  std::string x_label;  ///< with the unit
  std::vector<sample> samples{};
  std::size_t bins = 50;
  std::optional<range>
      x_range{};  ///< none: all there is; else the end bins hold what lies beyond, and the label says so
  picture_size size{};
};

/// Share of the finite values in each of equal bins, in percent; the end bins hold what lies beyond.
[[nodiscard]] std::vector<double> shares_pct(std::span<const double> values, range over, std::size_t bins);

/// Draws the histogram; none without gnuplot.
[[nodiscard]] std::optional<std::string> draw(const histogram& chart);

}  // namespace report
