// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <variant>

namespace report {

/// A colour of the screen (sRGB), each part from 0 to 1.
struct colour {
  double red = 0, green = 0, blue = 0;
};

inline constexpr colour black{0, 0, 0}, white{1, 1, 1};

/// `#rrggbb`
[[nodiscard]] std::string hex(colour c);

/// Relative luminance. Source: W3C, "Web Content Accessibility Guidelines 2.1", 2018, definition of this term.
[[nodiscard]] double luminance(colour c);

/// Contrast from 1 to 21; text needs 4.5. Source: as for `luminance`, success criterion 1.4.3.
[[nodiscard]] double contrast(colour a, colour b);

/// Black or white, whichever reads better. The better of the two never has less than sqrt(21) = 4.58.
[[nodiscard]] colour text_on(colour background);

struct range {
  double low = 0, high = 1;
};

/// The finite values' range; none when there is none.
[[nodiscard]] std::optional<range> range_of(std::span<const double> values);

/// Light for low values, dark for high ones: the order stays without colour vision and on grey paper.
struct sequential {
  std::optional<range> limits{};  ///< none: the values' own range
};

/// The range without outliers: what lies within three interquartile ranges of the quartiles, so that one cell does not
/// bleach all others. Source: J. W. Tukey, "Exploratory Data Analysis", 1977, the outer fences (from memory).
[[nodiscard]] std::optional<range> range_without_outliers(std::span<const double> values);

/// White at the centre, dark blue below, light orange above: the sides differ on grey paper and without colour vision.
struct diverging {
  double centre = 0;
  std::optional<double> reach{};  ///< distance of full colour from the centre; none: the farthest value's
};

using scale = std::variant<sequential, diverging>;

/// Cream over green to dark teal, as `part` goes from 0 to 1; lightness falls evenly. Blue and orange are kept for the
/// two sides of a difference.
[[nodiscard]] colour sequential_colour(double part);

/// Dark blue over white to light orange, as `part` goes from -1 to 1.
[[nodiscard]] colour diverging_colour(double part);

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
