// SPDX-License-Identifier: MIT
#include "common/report/colour.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <vector>

namespace report {

std::string hex(colour c) {
  const auto byte = [](double part) { return static_cast<int>(std::lround(255 * std::clamp(part, 0.0, 1.0))); };
  return fmt::format("#{:02x}{:02x}{:02x}", byte(c.red), byte(c.green), byte(c.blue));
}

double luminance(colour c) {
  const auto linear = [](double p) { return p <= 0.03928 ? p / 12.92 : std::pow((p + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(c.red) + 0.7152 * linear(c.green) + 0.0722 * linear(c.blue);
}

double contrast(colour a, colour b) {
  const auto [darker, lighter] = std::minmax({luminance(a), luminance(b)});
  return (lighter + 0.05) / (darker + 0.05);
}

colour text_on(colour background) {
  return contrast(background, black) >= contrast(background, white) ? black : white;
}

std::optional<range> range_of(std::span<const double> values) {
  std::optional<range> result;
  for (const double value : values) {
    if (!std::isfinite(value)) continue;
    if (!result) result = range{value, value};
    result->low = std::min(result->low, value);
    result->high = std::max(result->high, value);
  }
  return result;
}

std::optional<range> range_without_outliers(std::span<const double> values) {
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

namespace {

/// A colour where equal steps look equal. Source: B. Ottosson, "A perceptual color space for image processing", 2020
/// (the Oklab matrices).
struct oklab {
  double lightness, a, b;
};

[[nodiscard]] oklab oklab_from(double lightness, double chroma, double hue_deg) {
  const double hue = hue_deg * 0.017453292519943295;
  return {lightness, chroma * std::cos(hue), chroma * std::sin(hue)};
}

[[nodiscard]] colour screen(const oklab& c) {
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

[[nodiscard]] colour between(const oklab& from, const oklab& to, double part) {
  return screen(
      {std::lerp(from.lightness, to.lightness, part), std::lerp(from.a, to.a, part), std::lerp(from.b, to.b, part)});
}

}  // namespace

colour sequential_colour(double part) {
  const auto low = oklab_from(0.97, 0.05, 100), middle = oklab_from(0.665, 0.095, 165),
             high = oklab_from(0.36, 0.065, 195);
  return part < 0.5 ? between(low, middle, 2 * part) : between(middle, high, 2 * part - 1);
}

colour diverging_colour(double part) {
  const auto centre = oklab_from(0.985, 0, 0);
  const auto end = part < 0 ? oklab_from(0.42, 0.13, 258) : oklab_from(0.74, 0.15, 58);
  return between(centre, end, std::abs(part));
}

}  // namespace report
