// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

namespace fettle::detail {

/// A symmetric positive definite matrix with one diagonal beside the main one, factored as L D L'
/// (G. H. Golub, C. F. Van Loan, "Matrix Computations", from memory).
class tridiagonal_factor {
 public:
  /// @param beside  entry k couples rows k and k + 1; one fewer than the diagonal.
  tridiagonal_factor(std::vector<double> diagonal, std::vector<double> beside)
      : pivot_{std::move(diagonal)}, factor_{std::move(beside)} {
    for (std::size_t k = 0; k + 1 < pivot_.size(); ++k) {
      const double coupling = factor_[k];
      factor_[k] /= pivot_[k];
      pivot_[k + 1] -= factor_[k] * coupling;
    }
  }

  /// Solves for one right side, in its place.
  void solve(std::span<double> right) const {
    for (std::size_t k = 1; k < right.size(); ++k) right[k] -= factor_[k - 1] * right[k - 1];
    for (std::size_t k = right.size(); k-- > 0;) {
      right[k] /= pivot_[k];
      if (k + 1 < right.size()) right[k] -= factor_[k] * right[k + 1];
    }
  }

 private:
  std::vector<double> pivot_, factor_;
};

}  // namespace fettle::detail
