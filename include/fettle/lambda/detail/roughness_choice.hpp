// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "fettle/fit/penalised_system.hpp"
#include "fettle/lambda/detail/unknowns.hpp"

namespace fettle::detail {

/// Eigenvalues of a small symmetric matrix by Jacobi rotations, row-major.
[[nodiscard]] inline std::vector<double> eigenvalues(std::vector<double> a, std::size_t n) {
  for (int sweep = 0; sweep < 30; ++sweep) {
    double off = 0, all = 0;
    for (std::size_t p = 0; p < n; ++p)
      for (std::size_t q = 0; q < n; ++q) (p == q ? all : off) += a[p * n + q] * a[p * n + q];
    if (off <= 1e-24 * all) break;
    for (std::size_t p = 0; p + 1 < n; ++p)
      for (std::size_t q = p + 1; q < n; ++q) {
        if (a[p * n + q] == 0) continue;
        const double theta = (a[q * n + q] - a[p * n + p]) / (2 * a[p * n + q]);
        const double t = (theta >= 0 ? 1 : -1) / (std::abs(theta) + std::sqrt(theta * theta + 1));
        const double c = 1 / std::sqrt(t * t + 1), s = t * c;
        for (std::size_t k = 0; k < n; ++k) {
          const double x = a[k * n + p], y = a[k * n + q];
          a[k * n + p] = c * x - s * y;
          a[k * n + q] = s * x + c * y;
        }
        for (std::size_t k = 0; k < n; ++k) {
          const double x = a[p * n + k], y = a[q * n + k];
          a[p * n + k] = c * x - s * y;
          a[q * n + k] = s * x + c * y;
        }
      }
  }
  std::vector<double> result(n);
  for (std::size_t k = 0; k < n; ++k) result[k] = (std::max)(a[k * n + k], 0.0);
  return result;
}

/// Smoothing strengths by restricted likelihood, the scale of the rows known and the priors of the cells part of it.
///
/// Source: the update is that of S. N. Wood, M. Fasiolo, "A generalized Fellner-Schall method for smoothing parameter
///         optimization with application to Tweedie location, scale and shape models", Biometrics 73 (2017) 1071-1081,
///         doi:10.1111/biom.12666, with the precision of the prior in place of the generalised inverse.
class roughness_choice {
 public:
  explicit roughness_choice(const unknowns& all) : strength_(all.strengths(), 1.0) {
    const auto terms = all.terms(strength_);
    add(terms[0], 0, 1, of_map);
    if (all.cylinders() > 0 && !all.trim_axes().empty()) add(terms[1], all.axes().size(), all.cylinders(), of_trims);
  }

  [[nodiscard]] const std::vector<double>& strength() const noexcept { return strength_; }

  /// One step towards the likelihood's maximum, at a system solved with the present strengths.
  void step(penalised_system& solved) {
    const std::vector<double> before = strength_;
    for (const part& group : parts_)
      for (std::size_t a = 0; a < group.axis.size(); ++a) {
        double up = static_cast<double>(group.copies) * expected(group, a, before), down = 0, influence = 0;
        for (std::size_t c = 0; c < group.copies; ++c) {
          const std::size_t j = group.first == 0 ? a : group.first + c * group.axis.size() + a;
          influence += solved.influence(j);
          down += solved.roughness(j);
        }
        up = (std::max)(up - influence, 1e-9 * up);
        double& strength = strength_[group.first + a];
        up += group.prior.weight / strength;
        down += group.prior.weight / group.prior.likely;
        const double factor = down > 0 ? up / down : largest_step;
        strength =
            std::clamp(strength * std::clamp(factor, 1 / largest_step, largest_step), group.prior.loosest, stiffest);
      }
  }

 private:
  struct strength_prior {
    double likely;   // where the search begins
    double weight;   // as of so many differences between cells
    double loosest;  // no strength is below
  };
  struct part {
    std::size_t first, copies;
    double pull;
    strength_prior prior;
    std::vector<std::vector<double>> axis;  // eigenvalues of the penalty along each axis
  };

  void add(const map_term& term, std::size_t first_axis, std::size_t copies, strength_prior prior) {
    part group{.first = first_axis, .copies = copies, .pull = term.pull.front(), .prior = prior, .axis = {}};
    for (std::size_t a = 0; a < term.smooth.size(); ++a) strength_[first_axis + a] = prior.likely;
    for (const auto& smooth : term.smooth) {
      const auto n = static_cast<std::size_t>(smooth.rough.matrix.rows());
      group.axis.push_back(eigenvalues({smooth.rough.matrix.data(), smooth.rough.matrix.data() + n * n}, n));
    }
    parts_.push_back(std::move(group));
  }

  // Trace of the inverse of the prior's precision times the penalty along one axis.
  [[nodiscard]] static double expected(const part& group, std::size_t axis, const std::vector<double>& strength) {
    double sum = 0;
    std::vector<std::size_t> at(group.axis.size(), 0);
    for (bool more = true; more;) {
      double precision = group.pull;
      for (std::size_t a = 0; a < at.size(); ++a) precision += strength[group.first + a] * group.axis[a][at[a]];
      sum += group.axis[axis][at[axis]] / precision;
      std::size_t a = at.size();
      while (a > 0 && ++at[a - 1] == group.axis[a - 1].size()) at[--a] = 0;
      more = a > 0;
    }
    return sum;
  }

  // Corrections of neighbouring cells differ by some 5 %, seldom by more than 10 %: common practice, no source.
  static constexpr strength_prior of_map{.likely = 400, .weight = 4, .loosest = 100};
  static constexpr strength_prior of_trims{.likely = 1, .weight = 0, .loosest = 1e-6};
  static constexpr double stiffest = 1e9, largest_step = 20;
  std::vector<double> strength_;
  std::vector<part> parts_;
};

}  // namespace fettle::detail
