// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

namespace fettle::detail {

/// Distinct visits of each cell: readings of one cell that are seconds apart, or of two logs, belong to two visits.
///
/// Readings of one visit share their errors (film, delay, misfit of the grid), so visits count and not readings.
class pass_counter {
 public:
  explicit pass_counter(std::size_t cells) : count_(cells, 0.0), last_(cells) {}

  /// @param share  of the cell in the reading; what hardly touches it makes no visit.
  void add(std::size_t cell, double share, std::size_t log, double time_s) {
    if (!(share > least_share)) return;
    visit& last = last_[cell];
    if (count_[cell] == 0 || last.log != log || time_s > last.time_s + apart_s || time_s < last.time_s - apart_s)
      count_[cell] += 1;
    last = {log, time_s};
  }

  [[nodiscard]] const std::vector<double>& count() const noexcept { return count_; }

 private:
  static constexpr double least_share = 0.1, apart_s = 1;
  struct visit {
    std::size_t log = 0;
    double time_s = 0;
  };
  std::vector<double> count_;
  std::vector<visit> last_;
};

}  // namespace fettle::detail
