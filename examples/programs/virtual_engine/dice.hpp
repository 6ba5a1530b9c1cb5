// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <bit>
#include <cstdint>

namespace virtual_engine {

/// Random numbers that are the same on every machine: integer arithmetic only, no library distribution.
///
/// Source: D. Blackman, S. Vigna, "Scrambled linear pseudorandom number generators", ACM Trans. Math. Softw. 47 (2021)
///         36, doi:10.1145/3460772: xoshiro256**, its state filled by splitmix64 (written from memory).
class dice {
 public:
  /// @param seed    what the user chose.
  /// @param stream  one number per purpose, so that more draws for one purpose do not disturb another.
  explicit dice(std::uint64_t seed, std::uint64_t stream = 0) noexcept {
    std::uint64_t mixed = seed + 0x632BE59BD9B4E019U * (stream + 1);
    for (auto& word : state_) word = splitmix(mixed);
  }

  [[nodiscard]] std::uint64_t bits() noexcept {
    const std::uint64_t result = std::rotl(state_[1] * 5, 7) * 9, shifted = state_[1] << 17U;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= shifted;
    state_[3] = std::rotl(state_[3], 45);
    return result;
  }

  /// Even between the two.
  [[nodiscard]] double uniform(double low, double high) noexcept {
    return low + (high - low) * static_cast<double>(bits() >> 11U) * 0x1p-53;
  }

  /// Normal, mean 0, standard deviation 1, as the sum of twelve even draws: no logarithm, hence no rounding of its own.
  /// Never beyond 6.
  [[nodiscard]] double normal() noexcept {
    std::uint64_t sum = 0;
    for (int draw = 0; draw < 3; ++draw)
      for (std::uint64_t word = bits(), piece = 0; piece < 4; ++piece, word >>= 16U) sum += word & 0xFFFFU;
    return (static_cast<double>(sum) + 6.0) * 0x1p-16 - 6.0;  // each piece stands for the middle of its 2^-16
  }

  [[nodiscard]] bool happens(double probability) noexcept { return uniform(0, 1) < probability; }

 private:
  [[nodiscard]] static std::uint64_t splitmix(std::uint64_t& x) noexcept {
    std::uint64_t z = (x += 0x9E3779B97F4A7C15U);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31U);
  }

  std::array<std::uint64_t, 4> state_{};
};

}  // namespace virtual_engine
