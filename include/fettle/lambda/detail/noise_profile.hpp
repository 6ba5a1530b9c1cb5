// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "fettle/fit/loss.hpp"

namespace fettle::detail {

/// Standard deviation of a sensor's readings about the model, as it grows with how lively the mixture is.
///
/// Where the prediction hangs on film, delay and lag, their misfit adds to the noise; a steady engine shows the sensor
/// and the misfit of the grid alone. The deviation is the median one of equal shares of the readings, ordered by
/// liveliness, made to rise with it, and a straight line between the middles of the shares.
class noise_profile {
 public:
  /// @param readings  pairs of liveliness and residual; any order.
  [[nodiscard]] static noise_profile from(std::vector<std::pair<float, float>> readings) {
    noise_profile result;
    if (readings.empty()) return result;
    const std::size_t shares = std::clamp<std::size_t>(readings.size() / fewest, 1, most);
    const auto place = [&](std::size_t k) { return readings.begin() + static_cast<std::ptrdiff_t>(k); };
    std::vector<double> weight;
    result.activity_.clear();
    result.scale_.clear();
    for (std::size_t s = 0; s < shares; ++s) {
      const std::size_t begin = s * readings.size() / shares, end = (s + 1) * readings.size() / shares;
      if (end < readings.size()) std::nth_element(place(begin), place(end), readings.end());
      std::nth_element(place(begin), place((begin + end) / 2), place(end));
      std::vector<double> sizes;
      for (std::size_t i = begin; i < end; ++i) sizes.push_back(std::abs(static_cast<double>(readings[i].second)));
      result.activity_.push_back(static_cast<double>(readings[(begin + end) / 2].first));
      result.scale_.push_back((std::max)(median_scale(std::move(sizes)), finest));
      weight.push_back(1);
      while (result.scale_.size() > 1 && result.scale_.back() < result.scale_[result.scale_.size() - 2]) {
        const std::size_t n = result.scale_.size();  // pool neighbours that fall
        const double both = weight[n - 2] + weight[n - 1];
        result.scale_[n - 2] = (weight[n - 2] * result.scale_[n - 2] + weight[n - 1] * result.scale_[n - 1]) / both;
        result.activity_[n - 2] =
            (weight[n - 2] * result.activity_[n - 2] + weight[n - 1] * result.activity_[n - 1]) / both;
        weight[n - 2] = both;
        weight.pop_back();
        result.scale_.pop_back();
        result.activity_.pop_back();
      }
    }
    return result;
  }

  [[nodiscard]] double at(double activity) const noexcept {
    std::size_t k = 0;
    while (k < activity_.size() && activity_[k] <= activity) ++k;
    if (k == 0) return scale_.front();
    if (k == activity_.size()) return scale_.back();
    const double share = (activity - activity_[k - 1]) / (activity_[k] - activity_[k - 1]);
    return scale_[k - 1] + share * (scale_[k] - scale_[k - 1]);
  }

 private:
  static constexpr std::size_t fewest = 200, most = 12;
  static constexpr double finest = 2e-4;  // a log without noise still rounds its readings
  std::vector<double> activity_{0.0}, scale_{0.01};
};

}  // namespace fettle::detail
