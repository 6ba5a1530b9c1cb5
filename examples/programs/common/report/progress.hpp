// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <functional>
#include <string>
#include <string_view>
#include <utility>

#include "fettle/io/system.hpp"

namespace report {

/// A line on a terminal that says how far the work is; it erases itself.
///
/// Nothing is shown when the stream is not a terminal, nor for work of less than half a second. It never throws and
/// never stops the work it reports on.
class progress {
 public:
  /// On standard error.
  progress()
      : progress(stderr, fettle::system::is_terminal(stderr), fettle::system::terminal_columns(stderr), &seconds) {}

  /// On another stream, with another clock.
  progress(std::FILE* out, bool is_terminal, std::size_t columns, std::function<double()> now_s)
      : out_(out), is_terminal_(is_terminal), columns_(columns), now_s_(std::move(now_s)), shown_s_(now_s_()) {
    wait_s_ = delay_s;
  }
  progress(const progress&) = delete;
  progress& operator=(const progress&) = delete;
  ~progress() { erase(); }

  /// @param fraction  of the work done, 0 to 1; what is not a number counts as 0.
  void show(double fraction, std::string_view label) noexcept try {
    if (!is_terminal_) return;
    const double now = now_s_();
    if (now - shown_s_ < wait_s_) return;
    shown_s_ = now;
    wait_s_ = refresh_s;
    const std::string text = line(fraction, label);
    erase();
    std::fwrite(text.data(), 1, text.size(), out_);
    std::fflush(out_);
    width_ = columns_of(text);
  } catch (...) {  // a display that fails must not end the work
  }

  /// A callable for readers that tell how far they are; it must not outlive this.
  [[nodiscard]] std::function<void(double)> under(std::string label) {
    return [this, label = std::move(label)](double fraction) { show(fraction, label); };
  }

  /// Leaves the line empty, for other output.
  void erase() noexcept {
    if (width_ == 0) return;
    std::fprintf(out_, "\r%*s\r", static_cast<int>(width_), "");
    std::fflush(out_);
    width_ = 0;
  }

 private:
  static constexpr double delay_s = 0.5, refresh_s = 0.1;
  static constexpr std::size_t bar_columns = 24;

  [[nodiscard]] static double seconds() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
  }

  /// Characters of UTF-8 text, each taken as one column wide.
  [[nodiscard]] static std::size_t columns_of(std::string_view text) {
    return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xC0) != 0x80; }));
  }

  [[nodiscard]] std::string line(double fraction, std::string_view label) const {
    const double part = std::isfinite(fraction) ? std::clamp(fraction, 0.0, 1.0) : 0;
    const auto full = static_cast<std::size_t>(part * static_cast<double>(bar_columns));
    std::string text = fmt::format("[{}{}] {:3.0f} % ", std::string(full, '='), std::string(bar_columns - full, ' '),
                                   std::floor(100 * part));
    for (const char c : label) text += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
    while (columns_of(text) >= columns_ && !text.empty()) text.pop_back();  // a wrapped line could not be erased
    return text;
  }

  std::FILE* out_;
  bool is_terminal_;
  std::size_t columns_;
  std::function<double()> now_s_;
  double shown_s_, wait_s_ = 0;
  std::size_t width_ = 0;
};

}  // namespace report
