// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/dynamics.hpp"

namespace fettle::detail {

/// The parameter at a place of `dynamics::for_each`.
[[nodiscard]] inline parameter& parameter_at(dynamics& all, std::size_t place) {
  parameter* result = nullptr;
  dynamics::for_each(all, [&, next = std::size_t{0}](parameter& quantity) mutable {
    if (next++ == place) result = &quantity;
  });
  return *result;
}

/// One value of everything that is sought, and what predictions are made from.
struct estimate {
  std::vector<double> value;       ///< as `unknowns` orders them
  std::vector<double> correction;  ///< of every cell
  std::vector<double> trim;        ///< of every cylinder and trim cell, natural logarithm
  std::vector<double> gain;        ///< of every sensor, natural logarithm
  std::vector<double> log_level;   ///< of every log, natural logarithm
  dynamics with;

  /// @param start  dynamics whose parameters that are not sought stay.
  [[nodiscard]] static estimate at(const unknowns& all, std::vector<double> value, const dynamics& start,
                                   std::size_t logs) {
    estimate result{.value = std::move(value),
                    .correction = {},
                    .trim = {},
                    .gain = std::vector<double>(start.sensors.size(), 0.0),
                    .log_level = std::vector<double>(logs, 0.0),
                    .with = start};
    result.correction.assign(result.value.begin(), result.value.begin() + static_cast<std::ptrdiff_t>(all.cells()));
    result.trim.assign(result.value.begin() + static_cast<std::ptrdiff_t>(all.cells()),
                       result.value.begin() + static_cast<std::ptrdiff_t>(all.first_scalar()));
    for (std::size_t j = 0; j < start.sensors.size(); ++j) result.gain[j] = std::log(start.sensors[j].gain.value);
    std::vector<double> shared(start.sensors.size(), 0.0);
    for (std::size_t p = 0; p < all.scalars().size(); ++p) {
      const scalar_unknown& scalar = all.scalars()[p];
      double& number = result.value[all.first_scalar() + p];
      number = std::clamp(number, scalar.lowest, scalar.highest);
      switch (scalar.what) {
        case scalar_unknown::kind::level:
          for (double& u : result.correction) u += number;
          break;
        case scalar_unknown::kind::tilt:
          for (std::size_t k = 0; k < all.cells(); ++k) result.correction[k] += number * all.place(scalar.index, k);
          break;
        case scalar_unknown::kind::trim_level:
          for (std::size_t k = 0; k < all.trim_cells(); ++k) result.trim[scalar.index * all.trim_cells() + k] += number;
          break;
        case scalar_unknown::kind::shared_gain:
          for (std::size_t j = 0; j < start.sensors.size(); ++j)
            if (!is_calibrated(start.sensors[j], all.spreads())) shared[j] = number;
          break;
        case scalar_unknown::kind::log_level:
          result.log_level[scalar.index] = number;
          break;
        case scalar_unknown::kind::gain:
          result.gain[scalar.index] = number;
          break;
        case scalar_unknown::kind::parameter:
          parameter_at(result.with, scalar.index).value = std::exp(number);
          break;
      }
    }
    for (std::size_t j = 0; j < shared.size(); ++j) {
      result.gain[j] += shared[j];
      result.with.sensors[j].gain.value = std::exp(result.gain[j]);
    }
    for (double& u : result.correction) u = std::exp(std::clamp(u, -largest, largest));
    return result;
  }

 private:
  static constexpr double largest = 1.1;  // of a correction's logarithm: no meaning further out
};

}  // namespace fettle::detail
