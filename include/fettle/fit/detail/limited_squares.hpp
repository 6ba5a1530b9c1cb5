// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "fettle/fit/detail/spd_factor.hpp"

namespace fettle::detail {

/// factor . cell >= least, over at most three cells.
struct linear_limit {
  std::array<std::uint32_t, 3> cell{};
  std::array<double, 3> factor{};  // zero: not used
  double least = 0;
};

/// A quadratic z'Hz/2 - right'z to be made smallest; H symmetric positive definite, by its lower triangle.
struct quadratic {
  struct entry {
    std::uint32_t row, column;
    double value;
  };
  std::vector<entry> entries;
  Eigen::VectorXd right;
};

struct limited_optimum {
  Eigen::VectorXd cells;
  bool feasible = true;
  std::size_t worst = 0;  ///< if not feasible, one of the limits that contradict each other
};

/// Least squares within linear limits: a primal-dual interior-point method, then one equality-constrained solution on
/// the limits that bind, which makes the answer as exact as rounding allows.
///
/// None of the quadratic-programming libraries packaged by Debian is header-only and free to link (CGAL's solver is
/// GPL, Ipopt and Clp are shared libraries, quadprog is Fortran for R), and an active-set method needs a step per
/// binding limit. This one needs some 20 factorisations of a matrix as sparse as H, however many limits bind, and does
/// not mind limits that depend on each other.
///
/// Source: S. Mehrotra, "On the implementation of a primal-dual interior point method", SIAM J. Optim. 2 (1992)
///         575-601, doi:10.1137/0802028 (predictor and corrector); polish by the method of multipliers.
class limited_squares {
 public:
  limited_squares(quadratic goal, std::vector<linear_limit> limits)
      : goal_{std::move(goal)}, limit_{std::move(limits)}, force_{Eigen::VectorXd::Zero(limit_count())} {
    for (linear_limit& limit : limit_) {  // limits of different units made alike
      double norm = 0;
      for (const double f : limit.factor) norm += f * f;
      norm = std::sqrt(norm);
      for (double& f : limit.factor) f /= norm;
      limit.least /= norm;
    }
    lay_out();
  }

  [[nodiscard]] limited_optimum solve() {
    assemble(Eigen::VectorXd::Zero(limit_count()));
    Eigen::VectorXd cells = solved(goal_.right);
    if (limit_.empty()) return {std::move(cells)};
    const double size = (std::max)(cells.cwiseAbs().maxCoeff(), least().cwiseAbs().maxCoeff());
    const Eigen::VectorXd missed = least() - image(cells);
    const double unit = missed.maxCoeff();  // the scale of what has to change
    if (unit <= rounding * size) return {std::move(cells)};

    const double stiffness = curvature();
    Eigen::VectorXd slack = missed.cwiseAbs().cwiseMax(unit);
    force_ = Eigen::VectorXd::Constant(limit_count(), stiffness * unit);
    const double enough = 1e-13 * stiffness * unit * unit;
    for (int round = 0; round < 80; ++round) {
      const Eigen::VectorXd dual = goal_.right - times(cells) + transposed(force_);
      const Eigen::VectorXd primal = image(cells) - least() - slack;
      const double gap = slack.dot(force_) / static_cast<double>(limit_count());
      if (gap < enough && primal.cwiseAbs().maxCoeff() < 1e-11 * unit) break;
      assemble(force_.cwiseQuotient(slack));
      if (factor_.smallest_pivot() <= 0) break;  // as far as rounding goes
      direction step = toward(dual, primal, slack, -slack.cwiseProduct(force_));
      const double far = (std::min)(room(slack, step.slack), room(force_, step.force));
      const double left =
          (slack + far * step.slack).dot(force_ + far * step.force) / static_cast<double>(limit_count());
      const double centring = std::pow(left / gap, 3);
      step = toward(dual, primal, slack,
                    (-slack.cwiseProduct(force_) - step.slack.cwiseProduct(step.force)).array() + centring * gap);
      const double length = (std::min)(1.0, 0.995 * (std::min)(room(slack, step.slack), room(force_, step.force)));
      if (!std::isfinite(step.cells.sum() + step.force.sum())) break;  // contradicting limits: forces without bound
      cells += length * step.cells;
      slack += length * step.slack;
      force_ += length * step.force;
    }
    polish(cells, slack, unit);
    limited_optimum result{std::move(cells)};
    const double still = (least() - image(result.cells)).maxCoeff();
    result.feasible = still <= 1e-7 * unit + rounding * size;
    // The forces of limits that contradict each other grow without bound, those of others do not (Farkas' lemma).
    if (!result.feasible) force_.maxCoeff(&result.worst);
    return result;
  }

 private:
  struct direction {
    Eigen::VectorXd cells, slack, force;
  };

  [[nodiscard]] Eigen::Index limit_count() const { return static_cast<Eigen::Index>(limit_.size()); }

  void lay_out() {
    std::vector<std::uint32_t> first(static_cast<std::size_t>(goal_.right.size()));
    for (std::size_t k = 0; k < first.size(); ++k) first[k] = static_cast<std::uint32_t>(k);
    const auto meet = [&](std::uint32_t a, std::uint32_t b) {
      first[(std::max)(a, b)] = (std::min)(first[(std::max)(a, b)], (std::min)(a, b));
    };
    for (const auto& e : goal_.entries) meet(e.row, e.column);
    for (const auto& limit : limit_)
      for (std::size_t a = 0; a < 3; ++a)
        for (std::size_t b = 0; b < a; ++b)
          if (limit.factor[a] != 0 && limit.factor[b] != 0) meet(limit.cell[a], limit.cell[b]);
    factor_.lay_out(first);
  }

  [[nodiscard]] Eigen::VectorXd solved(Eigen::VectorXd right) const {
    factor_.solve({right.data(), static_cast<std::size_t>(right.size())});
    return right;
  }

  /// H + A' diag(weight) A, factored.
  void assemble(const Eigen::VectorXd& weight) {
    factor_.clear();
    for (const auto& e : goal_.entries)
      factor_.add(factor_.slot((std::max)(e.row, e.column), (std::min)(e.row, e.column)), e.value);
    for (std::size_t i = 0; i < limit_.size(); ++i) {
      const double w = weight[static_cast<Eigen::Index>(i)];
      if (w == 0) continue;
      const auto& [cell, factor, least] = limit_[i];
      for (std::size_t a = 0; a < 3; ++a)
        for (std::size_t b = 0; b <= a; ++b)
          if (factor[a] != 0 && factor[b] != 0)
            factor_.add(factor_.slot((std::max)(cell[a], cell[b]), (std::min)(cell[a], cell[b])),
                        w * factor[a] * factor[b]);
    }
    factor_.factor();
  }

  [[nodiscard]] Eigen::VectorXd times(const Eigen::VectorXd& x) const {
    Eigen::VectorXd result = Eigen::VectorXd::Zero(x.size());
    for (const auto& e : goal_.entries) {
      result[e.row] += e.value * x[e.column];
      if (e.row != e.column) result[e.column] += e.value * x[e.row];
    }
    return result;
  }
  [[nodiscard]] double curvature() const {
    double sum = 0;
    for (const auto& e : goal_.entries)
      if (e.row == e.column) sum += e.value;
    return sum / static_cast<double>(goal_.right.size());
  }
  [[nodiscard]] Eigen::VectorXd image(const Eigen::VectorXd& x) const {
    Eigen::VectorXd result = Eigen::VectorXd::Zero(limit_count());
    for (std::size_t i = 0; i < limit_.size(); ++i)
      for (std::size_t a = 0; a < 3; ++a)
        result[static_cast<Eigen::Index>(i)] += limit_[i].factor[a] * x[limit_[i].cell[a]];
    return result;
  }
  [[nodiscard]] Eigen::VectorXd transposed(const Eigen::VectorXd& y) const {
    Eigen::VectorXd result = Eigen::VectorXd::Zero(goal_.right.size());
    for (std::size_t i = 0; i < limit_.size(); ++i)
      for (std::size_t a = 0; a < 3; ++a)
        result[limit_[i].cell[a]] += limit_[i].factor[a] * y[static_cast<Eigen::Index>(i)];
    return result;
  }
  [[nodiscard]] Eigen::VectorXd least() const {
    Eigen::VectorXd result(limit_count());
    for (std::size_t i = 0; i < limit_.size(); ++i) result[static_cast<Eigen::Index>(i)] = limit_[i].least;
    return result;
  }

  // Newton step: slack . d force + force . d slack = target.
  [[nodiscard]] direction toward(const Eigen::VectorXd& dual, const Eigen::VectorXd& primal,
                                 const Eigen::VectorXd& slack, const Eigen::VectorXd& target) const {
    direction step;
    const Eigen::VectorXd pressed = (target - force_.cwiseProduct(primal)).cwiseQuotient(slack);
    step.cells = solved(dual + transposed(pressed));
    step.slack = image(step.cells) + primal;
    step.force = (target - force_.cwiseProduct(step.slack)).cwiseQuotient(slack);
    return step;
  }

  // How far along a step everything stays positive.
  [[nodiscard]] static double room(const Eigen::VectorXd& x, const Eigen::VectorXd& step) {
    double far = 1;
    for (Eigen::Index i = 0; i < x.size(); ++i)
      if (step[i] < 0) far = (std::min)(far, -x[i] / step[i]);
    return far;
  }

  // The exact optimum on the limits that bind, kept if it obeys the others and no force has changed sign.
  void polish(Eigen::VectorXd& cells, const Eigen::VectorXd& slack, double unit) {
    const double stiffness = curvature();
    const Eigen::VectorXd binds = (force_.array() > stiffness * slack.array()).cast<double>();
    const Eigen::VectorXd weight = 1e6 * stiffness * binds;
    assemble(weight);
    if (factor_.smallest_pivot() <= 0) return;
    Eigen::VectorXd exact = cells, force = force_.cwiseProduct(binds);
    for (int round = 0; round < 8; ++round) {
      const Eigen::VectorXd primal = (least() - image(exact)).cwiseProduct(weight);
      const Eigen::VectorXd dual = goal_.right - times(exact) + transposed(force);
      const Eigen::VectorXd step = solved(dual + transposed(primal));
      exact += step;
      force += primal - image(step).cwiseProduct(weight);
    }
    const bool obeys = (least() - image(exact)).maxCoeff() <= 1e-9 * unit;
    if (obeys && force.minCoeff() >= -1e-9 * stiffness * unit) cells = exact;
  }

  static constexpr double rounding = 1e-12;

  quadratic goal_;
  std::vector<linear_limit> limit_;
  Eigen::VectorXd force_;
  spd_factor factor_;
};

}  // namespace fettle::detail
