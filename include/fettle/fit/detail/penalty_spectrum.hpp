// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "fettle/fit/detail/symmetric_eigenvalues.hpp"
#include "fettle/fit/map_term.hpp"

namespace fettle::detail {

/// The eigenvalues of the penalties of all terms at any strengths: each is a weighted sum of one of every axis.
class penalty_spectrum {
 public:
  explicit penalty_spectrum(const std::vector<map_term>& terms) {
    for (const map_term& term : terms) {
      auto& axes = terms_.emplace_back();
      for (const smoothing& smooth : term.smooth) {
        const Eigen::MatrixXd& k = smooth.rough.matrix;
        std::vector<double> values =
            symmetric_eigenvalues({k.data(), k.data() + k.size()}, static_cast<std::size_t>(k.rows()));
        for (std::size_t i = 0; i < smooth.rough.free; ++i) values[i] = 0;  // exact null space
        axes.push_back(std::move(values));
      }
    }
  }

  /// Calls use(first axis, shares, sum) for every eigenvalue: the sum, and per axis of its term the eigenvalue of that
  /// axis at strength 1; `first axis` counts the smoothed axes of the terms before.
  template <class Use>
  void for_each(std::span<const double> strength, Use&& use) const {
    std::size_t first = 0;
    std::vector<double> share;
    for (const auto& axes : terms_) {
      std::size_t count = axes.empty() ? 0 : 1;
      for (const auto& axis : axes) count *= axis.size();
      share.resize(axes.size());
      for (std::size_t k = 0; k < count; ++k) {
        for (std::size_t a = axes.size(), rest = k; a-- > 0; rest /= axes[a].size())
          share[a] = axes[a][rest % axes[a].size()];
        double sum = 0;
        for (std::size_t a = 0; a < axes.size(); ++a) sum += strength[first + a] * share[a];
        use(first, std::as_const(share), sum);
      }
      first += axes.size();
    }
  }

 private:
  std::vector<std::vector<std::vector<double>>> terms_;  // per term and smoothed axis, ascending
};

}  // namespace fettle::detail
