// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <vector>

// What every fuzz target needs: numbers made from the fuzzer's bytes, and a law that ends the run when it is broken.
namespace fuzz {

/// Numbers out of a row of bytes; zeros once it is used up.
class bytes {
 public:
  bytes(const std::uint8_t* data, std::size_t size) : data_{data}, size_{size} {}

  template <class T>
  [[nodiscard]] T raw() {
    T result{};
    const std::size_t count = std::min(sizeof result, size_);
    std::memcpy(&result, data_, count);
    data_ += count;
    size_ -= count;
    return result;
  }
  /// A whole number from 0 to `below` - 1.
  [[nodiscard]] std::size_t below(std::size_t below) { return raw<std::uint8_t>() % below; }

  /// Any number there is: a small one in two bytes, or all bits as they come, NaN and infinities among them.
  template <class T>
  [[nodiscard]] T number() {
    if (below(2) == 0) return static_cast<T>(raw<std::int8_t>()) / T{4};
    return raw<T>();
  }

  /// A finite number whose difference from another such is finite.
  template <class T>
  [[nodiscard]] T tame_number() {
    const T value = number<T>() / T{4};
    return value >= std::numeric_limits<T>::lowest() && value <= std::numeric_limits<T>::max() ? value : T{1};
  }

  [[nodiscard]] bool empty() const { return size_ == 0; }
  [[nodiscard]] const char* text() const { return reinterpret_cast<const char*>(data_); }
  [[nodiscard]] std::size_t size() const { return size_; }

 private:
  const std::uint8_t* data_;
  std::size_t size_;
};

/// Ends the run when a law does not hold; libFuzzer keeps the input.
inline void law(bool holds, const char* text) {
  if (holds) return;
  std::fprintf(stderr, "broken law: %s\n", text);
  std::abort();
}

template <class T>
[[nodiscard]] bool same(T a, T b) {
  return a == b || (a != a && b != b);
}

}  // namespace fuzz
