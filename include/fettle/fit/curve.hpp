// SPDX-License-Identifier: MIT
#pragma once

#include <math.h>  // Boost 1.74: pchip.hpp calls isnan without naming where from

#include <algorithm>
#include <boost/math/interpolators/makima.hpp>
#include <boost/math/interpolators/pchip.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// How a curve runs between its breakpoints.
enum class curve_rule {
  linear,    ///< straight
  monotone,  ///< cubic that rises where the values rise and falls where they fall; never beyond two neighbours
  makima     ///< smoother cubic that may pass its breakpoints a little; flat stretches stay flat
};

/// A smooth curve through values at breakpoints; outside, both ends keep their value.
///
/// monotone: the slope at an inner breakpoint is the weighted harmonic mean of its neighbours' (Brodlie's rule), at an
///           end that of the parabola through three points, cut back to keep the shape. Boost's own ends, the outermost
///           straight slopes, are replaced by these.
/// makima:   modified Akima slopes, ends by quadratic continuation of the straight slopes, as Boost has them.
/// Shape:   any axis; fewer than four breakpoints are joined by straight lines.
/// Errors:  `fettle::error` when the values are not finite, or not as many as the breakpoints. NaN in is NaN out.
/// Source:  F. N. Fritsch, J. Butland, "A method for constructing local monotone piecewise cubic interpolants", SIAM J.
///          Sci. Stat. Comput. 5 (1984) 300-304, doi:10.1137/0905021; H. Akima, "A new method of interpolation and
///          smooth curve fitting based on local procedures", J. ACM 17 (1970) 589-602, doi:10.1145/321607.321609, with
///          the weights modified as the Boost.Math documentation of makima states.
class curve {
  using numbers = std::vector<double>;

 public:
  curve(const dynamic_axis<double>& axis, std::span<const double> values, curve_rule rule)
      : axis_{axis}, values_(values.begin(), values.end()) {
    if (values_.size() != axis_.size()) throw error("curve: give one value per breakpoint");
    for (const double value : values_)
      if (!std::isfinite(value)) throw error("curve: every value must be finite");
    if (rule == curve_rule::linear || values_.size() < 4) return;
    numbers x = axis_.points(), y = values_;
    if (rule == curve_rule::monotone) {
      const std::size_t n = x.size();
      const double first = end_slope(x[1] - x[0], x[2] - x[1], y[1] - y[0], y[2] - y[1]);
      const double last = end_slope(x[n - 1] - x[n - 2], x[n - 2] - x[n - 3], y[n - 1] - y[n - 2], y[n - 2] - y[n - 3]);
      cubic_ = boost::math::interpolators::pchip<numbers>(std::move(x), std::move(y), first, last);
    } else {
      cubic_ = boost::math::interpolators::makima<numbers>(std::move(x), std::move(y));
    }
  }

  [[nodiscard]] double operator()(double x) const {
    if (std::isnan(x)) return x;
    const double inside = std::clamp(x, axis_.points().front(), axis_.points().back());
    if (const auto* p = std::get_if<1>(&cubic_)) return (*p)(inside);
    if (const auto* p = std::get_if<2>(&cubic_)) return (*p)(inside);
    const auto [index, fraction] = locate(axis_.view(), inside);
    return fraction == 1 ? values_[index + 1] : values_[index] + fraction * (values_[index + 1] - values_[index]);
  }

 private:
  // Slope of the parabola at the end whose interval is h wide and rises by d; the next one is k wide and rises by e.
  [[nodiscard]] static double end_slope(double h, double k, double d, double e) {
    const double near = d / h, next = e / k, slope = ((2 * h + k) * near - h * next) / (h + k);
    if (!(slope * near > 0)) return 0;
    return near * next < 0 && std::abs(slope) > 3 * std::abs(near) ? 3 * near : slope;
  }

  dynamic_axis<double> axis_;
  numbers values_;
  std::variant<std::monostate, boost::math::interpolators::pchip<numbers>, boost::math::interpolators::makima<numbers>>
      cubic_;
};

}  // namespace fettle
