// SPDX-License-Identifier: MIT
#include "fettle/fit/detail/limited_squares.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

namespace limited_squares_test {

using fettle::detail::limited_optimum;
using fettle::detail::limited_squares;
using fettle::detail::linear_limit;
using fettle::detail::quadratic;

// Published: J. Nocedal, S. J. Wright, "Numerical Optimization", 2nd ed., Springer 2006, example 16.4 (from memory): make
// (x - 1)^2 + (y - 2.5)^2 smallest with x - 2y + 2 >= 0, -x - 2y + 6 >= 0, -x + 2y + 2 >= 0, x >= 0, y >= 0;
// solution (1.4, 1.7). Exact to rounding, since the last step is an equality-constrained solution.
TEST(LimitedSquares, SolvesTheTextbookExample) {
  quadratic goal{.entries = {{0, 0, 2}, {1, 1, 2}}, .right = Eigen::Vector2d(2, 5)};
  const std::vector<linear_limit> limits{{{0, 1, 0}, {1, -2, 0}, -2},
                                         {{0, 1, 0}, {-1, -2, 0}, -6},
                                         {{0, 1, 0}, {-1, 2, 0}, -2},
                                         {{0, 0, 0}, {1, 0, 0}, 0},
                                         {{1, 0, 0}, {1, 0, 0}, 0}};
  const limited_optimum optimum = limited_squares(goal, limits).solve();
  EXPECT_TRUE(optimum.feasible);
  EXPECT_NEAR(optimum.cells[0], 1.4, 1e-12);
  EXPECT_NEAR(optimum.cells[1], 1.7, 1e-12);
}

TEST(LimitedSquares, IsPlainLeastSquaresWhereNoLimitBinds) {
  const quadratic goal{.entries = {{0, 0, 2}, {1, 0, 1}, {1, 1, 3}}, .right = Eigen::Vector2d(1, 2)};
  const limited_optimum free = limited_squares(goal, {}).solve();
  const limited_optimum loose = limited_squares(goal, {{{0, 0, 0}, {1, 0, 0}, -10}}).solve();
  EXPECT_NEAR(free.cells[0], 0.2, 1e-15);
  EXPECT_NEAR(free.cells[1], 0.6, 1e-15);
  EXPECT_EQ(free.cells, loose.cells);
}

TEST(LimitedSquares, NamesALimitOfTheCellWhereTheyContradictEachOther) {
  const quadratic goal{.entries = {{0, 0, 1}, {1, 1, 1}}, .right = Eigen::VectorXd::Zero(2)};
  const limited_optimum optimum =
      limited_squares(goal, {{{0, 0, 0}, {1, 0, 0}, 2}, {{1, 1, 1}, {1, 0, 0}, 3}, {{1, 1, 1}, {-1, 0, 0}, 1}}).solve();
  EXPECT_FALSE(optimum.feasible);
  EXPECT_TRUE(optimum.worst == 1 || optimum.worst == 2) << optimum.worst;
}

/// The smallest value of a quadratic with some limits taken as equations; nothing when these depend on each other.
bool solve_on(const Eigen::MatrixXd& h, const Eigen::VectorXd& right, const Eigen::MatrixXd& limits,
              const Eigen::VectorXd& least, Eigen::VectorXd& cells) {
  const Eigen::Index n = h.rows(), m = limits.rows();
  Eigen::MatrixXd kkt = Eigen::MatrixXd::Zero(n + m, n + m);
  kkt.topLeftCorner(n, n) = h;
  kkt.bottomLeftCorner(m, n) = limits;
  kkt.topRightCorner(n, m) = limits.transpose();
  Eigen::VectorXd side(n + m);
  side << right, least;
  const Eigen::FullPivLU<Eigen::MatrixXd> factor(kkt);
  if (!factor.isInvertible()) return false;
  cells = factor.solve(side).head(n);
  return true;
}

// Every set of binding limits tried in turn: the optimum is the best of those points that keep to all limits.
RC_GTEST_PROP(LimitedSquares, IsTheBestOfAllSetsOfBindingLimits, ()) {
  const Eigen::Index n = 4;
  const auto number = [] { return 0.1 * *rc::gen::inRange(-20, 21); };
  Eigen::MatrixXd root(n, n);
  for (Eigen::Index i = 0; i < n * n; ++i) root.data()[i] = number();
  const Eigen::MatrixXd h = root.transpose() * root + Eigen::MatrixXd::Identity(n, n);
  quadratic goal{.entries = {}, .right = Eigen::VectorXd(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    goal.right[i] = number();
    for (Eigen::Index j = 0; j <= i; ++j)
      goal.entries.push_back({static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(j), h(i, j)});
  }
  std::vector<linear_limit> limits;
  Eigen::MatrixXd factor = Eigen::MatrixXd::Zero(5, n);
  Eigen::VectorXd least(5);
  for (Eigen::Index k = 0; k < 5; ++k) {  // all kept by the point (1, 1, 1, 1): some point obeys
    const auto a = *rc::gen::inRange<std::uint32_t>(0, 4);
    const std::uint32_t b = (a + 1) % 4;
    const double fa = number(), fb = number() + 2.05;  // not zero
    factor(k, a) += fa;
    factor(k, b) += fb;
    least[k] = fa + fb - 0.1 * *rc::gen::inRange(0, 10);
    limits.push_back({{a, b, a}, {fa, fb, 0}, least[k]});
  }
  const limited_optimum optimum = limited_squares(goal, limits).solve();
  const auto value = [&](const Eigen::VectorXd& z) { return 0.5 * z.dot(h * z) - goal.right.dot(z); };
  double best = std::numeric_limits<double>::infinity();
  for (unsigned set = 0; set < 32; ++set) {
    std::vector<Eigen::Index> binds;
    for (Eigen::Index k = 0; k < 5; ++k)
      if ((set >> k & 1U) != 0) binds.push_back(k);
    Eigen::VectorXd cells;
    if (binds.size() > 4 || !solve_on(h, goal.right, factor(binds, Eigen::all), least(binds), cells)) continue;
    if (((factor * cells - least).array() >= -1e-9).all()) best = std::min(best, value(cells));
  }
  RC_ASSERT(optimum.feasible);
  RC_ASSERT(((factor * optimum.cells - least).array() >= -1e-7).all());
  RC_ASSERT(std::abs(value(optimum.cells) - best) < 1e-6 * (1 + std::abs(best)));
}

}  // namespace limited_squares_test
