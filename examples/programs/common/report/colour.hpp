// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

namespace report {

/// A colour of the screen (sRGB), each part from 0 to 1.
struct colour {
  double red = 0, green = 0, blue = 0;
};

inline constexpr colour black{0, 0, 0}, white{1, 1, 1};

/// `#rrggbb`
[[nodiscard]] inline std::string hex(colour c) {
  const auto byte = [](double part) { return static_cast<int>(std::lround(255 * std::clamp(part, 0.0, 1.0))); };
  return fmt::format("#{:02x}{:02x}{:02x}", byte(c.red), byte(c.green), byte(c.blue));
}

/// Relative luminance. Source: W3C, "Web Content Accessibility Guidelines 2.1", 2018, definition of this term.
[[nodiscard]] inline double luminance(colour c) {
  const auto linear = [](double p) { return p <= 0.03928 ? p / 12.92 : std::pow((p + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
}

/// Contrast from 1 to 21; text needs 4.5. Source: as for `luminance`, success criterion 1.4.3.
[[nodiscard]] inline double contrast(colour a, colour b) {
  const auto [darker, lighter] = std::minmax({luminance(a), luminance(b)});
  return (lighter + 0.05) / (darker + 0.05);
}

/// Black or white, whichever reads better. The better of the two never has less than sqrt(21) = 4.58.
[[nodiscard]] inline colour text_on(colour background) {
  return contrast(background, black) >= contrast(background, white) ? black : white;
}

struct range {
  double low = 0, high = 1;
};

/// The finite values' range; none when there is none.
[[nodiscard]] inline std::optional<range> range_of(std::span<const double> values) {
  std::optional<range> result;
  for (const double value : values) {
    if (!std::isfinite(value)) continue;
    if (!result) result = range{value, value};
    result->low = std::min(result->low, value);
    result->high = std::max(result->high, value);
  }
  return result;
}

/// Light for low values, dark for high ones: the order stays without colour vision and on grey paper.
struct sequential {
  std::optional<range> limits{};  ///< none: the values' own range
};

/// The range without outliers: what lies within three interquartile ranges of the quartiles, so that one cell does not
/// bleach all others. Source: J. W. Tukey, "Exploratory Data Analysis", 1977, the outer fences (from memory).
[[nodiscard]] inline std::optional<range> range_without_outliers(std::span<const double> values) {
  std::vector<double> sorted;
  for (const double value : values)
    if (std::isfinite(value)) sorted.push_back(value);
  if (sorted.empty()) return std::nullopt;
  std::sort(sorted.begin(), sorted.end());
  const auto quartile = [&](std::size_t quarter) { return sorted[quarter * (sorted.size() - 1) / 4]; };
  const double fence = 3 * (quartile(3) - quartile(1));
  range result{sorted.back(), sorted.front()};
  for (const double value : sorted) {
    if (value < quartile(1) - fence || value > quartile(3) + fence) continue;
    result = {std::min(result.low, value), std::max(result.high, value)};
  }
  return result;
}

/// White at the centre, dark blue below, light orange above: the sides differ on grey paper and without colour vision.
struct diverging {
  double centre = 0;
  std::optional<double> reach{};  ///< distance of full colour from the centre; none: the farthest value's
};

using scale = std::variant<sequential, diverging>;

namespace detail {

/// A colour where equal steps look equal. Source: B. Ottosson, "A perceptual color space for image processing", 2020
/// (the Oklab matrices).
struct oklab {
  double lightness, a, b;
};

[[nodiscard]] inline oklab oklab_from(double lightness, double chroma, double hue_deg) {
  const double hue = hue_deg * 0.017453292519943295;
  return {lightness, chroma * std::cos(hue), chroma * std::sin(hue)};
}

[[nodiscard]] inline colour screen(const oklab& c) {
  const auto cube = [](double x) { return x * x * x; };
  const double l = cube(c.lightness + 0.3963377774 * c.a + 0.2158037573 * c.b);
  const double m = cube(c.lightness - 0.1055613458 * c.a - 0.0638541728 * c.b);
  const double s = cube(c.lightness - 0.0894841775 * c.a - 1.2914855480 * c.b);
  const auto coded = [](double p) {
    p = std::clamp(p, 0.0, 1.0);
    return p <= 0.0031308 ? 12.92 * p : 1.055 * std::pow(p, 1 / 2.4) - 0.055;
  };
  return {coded(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
          coded(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
          coded(-0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s)};
}

[[nodiscard]] inline colour between(const oklab& from, const oklab& to, double part) {
  return screen(
      {std::lerp(from.lightness, to.lightness, part), std::lerp(from.a, to.a, part), std::lerp(from.b, to.b, part)});
}

}  // namespace detail

/// Cream over green to dark teal, as `part` goes from 0 to 1; lightness falls evenly. Blue and orange are kept for the
/// two sides of a difference.
[[nodiscard]] inline colour sequential_colour(double part) {
  const auto low = detail::oklab_from(0.97, 0.05, 100), middle = detail::oklab_from(0.665, 0.095, 165),
             high = detail::oklab_from(0.36, 0.065, 195);
  return part < 0.5 ? detail::between(low, middle, 2 * part) : detail::between(middle, high, 2 * part - 1);
}

/// Dark blue over white to light orange, as `part` goes from -1 to 1.
[[nodiscard]] inline colour diverging_colour(double part) {
  const auto centre = detail::oklab_from(0.985, 0, 0);
  const auto end = part < 0 ? detail::oklab_from(0.42, 0.13, 258) : detail::oklab_from(0.74, 0.15, 58);
  return detail::between(centre, end, std::abs(part));
}

/// A scale laid over the values it is to colour. What lies beyond its ends has the colour of the end.
class colour_key {
 public:
  colour_key(const scale& choice, std::span<const double> values) {
    const range values_range = range_of(values).value_or(range{0, 0});
    if (const auto* about = std::get_if<diverging>(&choice)) {
      diverges_ = true;
      const double farthest = std::max(about->centre - values_range.low, values_range.high - about->centre);
      const double reach = about->reach.value_or(std::max(farthest, 0.0));
      ends_ = {about->centre - reach, about->centre + reach};
    } else {
      ends_ = std::get<sequential>(choice).limits.value_or(values_range);
    }
    below_ = values_range.low < ends_.low;
    above_ = values_range.high > ends_.high;
  }

  [[nodiscard]] bool diverges() const noexcept { return diverges_; }
  [[nodiscard]] range ends() const noexcept { return ends_; }
  [[nodiscard]] bool values_below() const noexcept { return below_; }
  [[nodiscard]] bool values_above() const noexcept { return above_; }

  [[nodiscard]] colour at(double value) const {
    const double width = ends_.high - ends_.low;
    const double neutral = diverges_ ? 0.5 : 0;
    const double part = width > 0 ? std::clamp((value - ends_.low) / width, 0.0, 1.0) : neutral;
    return diverges_ ? diverging_colour(2 * part - 1) : sequential_colour(part);
  }

 private:
  range ends_;
  bool diverges_ = false, below_ = false, above_ = false;
};

}  // namespace report
