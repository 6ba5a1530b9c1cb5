// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "common/report/colour.hpp"

namespace report {

/// Size of a picture, in pixels at full width of a page.
struct picture_size {
  int width = 1000, height = 420;
};

/// A line across a chart at one height.
struct limit_line {
  double at;
  std::string name;
};

namespace detail {

/// No blue and no orange, which mean less and more fuel in maps; distinguished by lightness too.
inline constexpr std::array<std::string_view, 7> series_colours{"#6f6f6f", "#00695c", "#8e3b8a", "#1d2429",
                                                                "#5d9c2a", "#b3245e", "#a09a82"};
/// Distinguishable without colour too; 5 and 7 have no common factor, so that 35 series differ.
inline constexpr std::array<std::string_view, 5> series_dashes{"1", "(14,5)", "(4,4)", "(14,4,3,4)", "(22,5,6,5)"};
inline constexpr std::array<int, 5> series_points{7, 5, 9, 13, 11};

/// Colour, dash and point shape of the i-th series.
[[nodiscard]] std::string series_style(std::size_t i, std::string_view dash);
[[nodiscard]] std::string series_style(std::size_t i);

/// Text as gnuplot takes it literally: in single quotes nothing is substituted. An apostrophe becomes the typographic
/// one, because gnuplot misreads a doubled quote at the start of a text.
[[nodiscard]] std::string gnuplot_text(std::string_view text);

/// A number as gnuplot reads it, NaN as a gap.
[[nodiscard]] std::string datum(double value);

/// Room for what is drawn: never without width, with a margin if wanted.
[[nodiscard]] range roomy(range r, double margin);

/// The range of everything it was shown.
class growing_range {
 public:
  void include(double value) noexcept {
    if (!std::isfinite(value)) return;
    if (!any_) range_ = {value, value};
    any_ = true;
    range_ = {std::min(range_.low, value), std::max(range_.high, value)};
  }
  void include(std::span<const double> values) noexcept {
    for (const double value : values) include(value);
  }
  [[nodiscard]] bool any() const noexcept { return any_; }
  [[nodiscard]] range value() const noexcept { return range_; }  ///< 0 to 1 when there was nothing

 private:
  range range_{0, 1};
  bool any_ = false;
};

/// A gnuplot script under way: the look all charts share, data blocks, plot items.
class plot_script {
 public:
  explicit plot_script(picture_size size) {
    line("set encoding utf8");
    line("set terminal svg size {},{} fixed font 'sans-serif,15' noenhanced butt linewidth 1", size.width, size.height);
  }

  template <class... Arg>
  void line(fmt::format_string<Arg...> format, Arg&&... args) {
    text_ += fmt::format(format, std::forward<Arg>(args)...);
    text_ += '\n';
  }

  /// The frame of a chart in two dimensions.
  void frame(std::string_view x_label, std::string_view y_label, range x, range y) {
    line("set border 3 lc rgb '#444444'");
    line("set tics out nomirror textcolor rgb '#1d2429'");
    line("set grid lc rgb '#dddddd' lw 1 dt 1");
    line("set key outside top left horizontal Left reverse samplen 3");
    line("set xlabel {}", gnuplot_text(x_label));
    line("set ylabel {}", gnuplot_text(y_label));
    line("set xrange [{}:{}]", datum(x.low), datum(x.high));
    line("set yrange [{}:{}]", datum(y.low), datum(y.high));
  }

  /// Said in the middle of a chart that has nothing to show.
  void say_empty() { line("set label 'no values to show' at graph 0.5,0.5 center"); }

  /// Begins a data block and returns its name; follow with `row`s and `end_data`.
  [[nodiscard]] std::string begin_data() {
    const std::string name = fmt::format("$data{}", ++blocks_);
    line("{} << END", name);
    return name;
  }
  template <class... Number>
  void row(Number... numbers) {
    const char* separator = "";
    ((text_ += separator, text_ += datum(numbers), separator = " "), ...);
    text_ += '\n';
  }
  void blank_row() { text_ += '\n'; }
  void end_data() { line("END"); }

  /// One thing to plot; all are drawn by `plot`, in this order.
  template <class... Arg>
  void item(fmt::format_string<Arg...> format, Arg&&... args) {
    items_ += items_.empty() ? "" : ", ";
    items_ += fmt::format(format, std::forward<Arg>(args)...);
  }
  void limits(const std::vector<limit_line>& lines) {
    int dash = 0;
    for (const auto& [at, name] : lines)
      item("{} with lines lc rgb '#333333' lw 1.5 dt ({},4) title {}", datum(at), 9 + 9 * (dash++ % 3),
           gnuplot_text(name));
  }
  void plot(std::string_view command = "plot") {
    line("{} {}", command, items_.empty() ? "NaN notitle" : items_);
    items_.clear();
  }

  [[nodiscard]] const std::string& text() const noexcept { return text_; }

 private:
  std::string text_, items_;
  int blocks_ = 0;
};

}  // namespace detail

}  // namespace report
