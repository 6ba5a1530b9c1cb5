// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <utility>
#include <vector>

namespace fettle::detail {

/// Gradients of readings, summed over blocks of time: what errs together there errs as one, in all sensors of a log.
class gradient_blocks {
 public:
  gradient_blocks(std::size_t cells, double block_s) : block_s_{block_s}, gradient_(cells, 0.0) {}

  /// Adds one reading; cheapest where those of one block follow one another.
  void add(std::size_t log, double time_s, std::span<const std::uint32_t> cell, std::span<const double> factor,
           double weighted_residual) {
    if (const std::pair here{log, std::floor(time_s / block_s_)}; here != block_) {
      close();
      block_ = here;
    }
    for (std::size_t k = 0; k < cell.size(); ++k) {
      if (gradient_[cell[k]] == 0) touched_.push_back(cell[k]);
      gradient_[cell[k]] += weighted_residual * factor[k];
    }
  }

  /// Sum of the blocks' outer products, grown by what fitting so many parameters has taken out of it: twofold at most,
  /// since fewer blocks than that say little of it.
  ///
  /// Source: of the growth, J. G. MacKinnon, H. White, "Some heteroskedasticity-consistent covariance matrix estimators
  ///         with improved finite sample properties", J. Econometrics 29 (1985) 305-325 (from memory): n/(n - k), here
  ///         of blocks.
  [[nodiscard]] Eigen::MatrixXd sum(double parameters) {
    close();
    const auto n = static_cast<Eigen::Index>(gradient_.size());
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(n, n);
    for (const auto& [at, list] : blocks_)  // a cell may have several parts: the products add up all the same
      for (const auto& [a, of_a] : list)
        for (const auto& [b, of_b] : list) result(a, b) += of_a * of_b;
    const auto blocks = static_cast<double>(blocks_.size());
    return blocks > 0 ? result * (blocks / (std::max)(blocks - parameters, blocks / 2)) : result;
  }

 private:
  using parts = std::vector<std::pair<std::uint32_t, double>>;

  void close() {
    if (touched_.empty()) return;
    auto& into = blocks_[block_];
    for (const auto k : touched_) into.emplace_back(k, std::exchange(gradient_[k], 0.0));
    touched_.clear();
  }

  double block_s_;
  std::pair<std::size_t, double> block_{};
  std::vector<double> gradient_;
  std::vector<std::uint32_t> touched_;
  std::map<std::pair<std::size_t, double>, parts> blocks_;
};

}  // namespace fettle::detail
