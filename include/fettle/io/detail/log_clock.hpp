// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace fettle::detail {

/// Puts the rows of a log on one rising clock: rows of one stamp are spread evenly until the next stamp, and a clock
/// that starts again goes on behind a gap.
///
/// A row is handed on when the next stamp is there, so that memory holds no more rows than share a stamp.
class log_clock {
 public:
  static constexpr std::size_t most_of_one_stamp = 1000;
  static constexpr double restart_gap_s = 10;  ///< far more than any reader takes for one drive

  /// @param time  place of the time among the values of a row.
  explicit log_clock(std::size_t time) : time_(time) {}

  [[nodiscard]] bool is_empty() const noexcept { return count_ == 0; }
  [[nodiscard]] double stamp() const noexcept { return stamp_; }  ///< of the rows that wait
  [[nodiscard]] std::size_t waiting() const noexcept { return count_; }
  [[nodiscard]] std::size_t most_waiting() const noexcept { return most_; }
  [[nodiscard]] bool has_resolution() const noexcept { return resolution_ < none; }

  /// Adds a row whose stamp is that of the rows that wait, or the first after they were handed on.
  void add(std::span<const double> values) {
    if (count_ == 0) {
      stamp_ = values[time_];
      rows_.assign(values.begin(), values.end());
    } else {
      rows_.insert(rows_.end(), values.begin(), values.end());
    }
    ++count_;
    most_ = count_ > most_ ? count_ : most_;
  }

  /// Hands on the rows that wait, up to the next stamp; infinity: none follows them closely.
  template <class Use>
  void hand_on(double next, Use& use) {
    if (count_ == 0) return;
    const double step = next - stamp_;
    const double tick = step < 1.5 * resolution_ ? step : resolution_;
    if (step < 1.5 * resolution_) resolution_ = step;
    const std::size_t width = rows_.size() / count_;
    for (std::size_t i = 0; i < count_; ++i) {
      const std::span<double> row = std::span(rows_).subspan(i * width, width);
      double later = shift_;
      if (i > 0) later += tick * static_cast<double>(i) / static_cast<double>(count_);
      if (later != 0) row[time_] += later;  // plus 0 would turn -0 into 0
      last_ = row[time_];
      use(std::span<const double>(row));
    }
    count_ = 0;
  }

  /// The clock starts again at this stamp; the rows before it must have been handed on.
  void restart(double stamp) { shift_ = last_ + restart_gap_s - stamp; }

 private:
  static constexpr double none = std::numeric_limits<double>::infinity();
  std::size_t time_;
  std::vector<double> rows_;  ///< those that wait, one behind the other
  std::size_t count_ = 0, most_ = 0;
  double stamp_ = 0, shift_ = 0, last_ = 0;
  double resolution_ = none;  ///< the last step of the clock that was no gap
};

}  // namespace fettle::detail
