// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

namespace fettle::detail {

/// A sum of integers that never overflows.
class exact_sum {
 public:
  exact_sum() = default;
  void add(std::int64_t x) noexcept { add(exact_sum{static_cast<std::uint64_t>(x), x < 0 ? -1 : 0}); }
  void add(const exact_sum& other) noexcept {
    low_ += other.low_;
    high_ += other.high_ + (low_ < other.low_ ? 1 : 0);
  }
  void subtract(const exact_sum& other) noexcept { add(other.negative()); }
  [[nodiscard]] double value() const noexcept {
    if (high_ < 0) return -negative().value();
    return static_cast<double>(high_) * 0x1p64 + static_cast<double>(low_);
  }

 private:
  exact_sum(std::uint64_t low, std::int64_t high) noexcept : low_{low}, high_{high} {}
  [[nodiscard]] exact_sum negative() const noexcept { return {~low_ + 1, ~high_ + (low_ == 0 ? 1 : 0)}; }
  std::uint64_t low_ = 0;
  std::int64_t high_ = 0;
};

}  // namespace fettle::detail
