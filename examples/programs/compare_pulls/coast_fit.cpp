// SPDX-License-Identifier: MIT
#include "compare_pulls/coast_fit.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cstddef>
#include <utility>

#include "compare_pulls/pull_rows.hpp"
#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace compare_pulls {
namespace {

bool has_both_ways(const std::vector<coast_down>& runs) {
  const auto count = [&](direction way) {
    return std::count_if(runs.begin(), runs.end(), [&](const auto& run) { return run.way == way; });
  };
  return count(direction::unknown) == 0 && count(direction::out) > 0 && count(direction::back) > 0;
}

/// Columns: A, B, C, wind, and the value.
Eigen::MatrixXd rows_of(const settings& settings, const coast_down& run, double mass) {
  const detail::bins mean_of(run.time_s);
  const auto n = static_cast<Eigen::Index>(run.time_s.size());
  Eigen::MatrixXd rate(n, 5);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto row = static_cast<std::size_t>(i);
    const double v = run.speed_mps[row];
    rate.row(i) << 1, v, v * v, static_cast<double>(run.way) * v,
        -fettle::slope_force_n(settings.car.mass_kg, run.rise[row]);
  }
  Eigen::MatrixXd whole = detail::cumulated(rate, run.time_s);
  for (Eigen::Index i = 0; i < n; ++i)
    whole(i, 4) -= mass * (run.speed_mps[static_cast<std::size_t>(i)] - run.speed_mps[0]);
  Eigen::MatrixXd rows = mean_of.means(whole);
  const Eigen::VectorXd time = mean_of.means(Eigen::Map<const Eigen::VectorXd>(run.time_s.data(), n));
  const double speed = 0.01 * mass, wander = 20;  // N over a second: a gust or a dip of the road
  Eigen::MatrixXd covariance(time.size(), time.size());
  for (Eigen::Index i = 0; i < time.size(); ++i)
    for (Eigen::Index k = 0; k < time.size(); ++k)
      covariance(i, k) = wander * wander * (std::min(time[i], time[k]) - run.time_s[0]) + 1e4 * speed * speed;
  covariance.diagonal().array() += speed * speed;
  Eigen::LLT<Eigen::MatrixXd>(covariance).matrixL().solveInPlace(rows);
  return rows;
}

}  // namespace

coast_fit::coast_fit(const settings& settings, const std::vector<coast_down>& runs) {
  if (runs.size() < 3)
    throw fettle::error(fmt::format("{}: names {} coast-down{}; expected three or more, in both directions",
                                    fettle::path_text(settings.path), runs.size(), runs.size() == 1 ? "" : "s"));
  const double mass = fettle::driven_mass_kg(settings.car, settings.gears.front());  // out of gear: without the engine
  std::vector<Eigen::MatrixXd> parts;
  Eigen::Index rows = 0;
  for (const auto& run : runs) {
    parts.push_back(rows_of(settings, run, mass));
    rows += parts.back().rows();
  }
  Eigen::MatrixXd all(rows, 5);
  std::vector<std::pair<Eigen::Index, Eigen::Index>> cluster;
  for (Eigen::Index first = 0; const auto& part : parts) {
    all.middleRows(first, part.rows()) = part;
    cluster.emplace_back(first, part.rows());
    first += part.rows();
  }
  unknowns_ = has_both_ways(runs) ? 4 : 3;
  fit_.emplace(all.leftCols(unknowns_), all.col(4), cluster, Eigen::MatrixXd::Zero(unknowns_, unknowns_));
}

estimate coast_fit::operator()(const Eigen::Vector3d& weights) const {
  Eigen::VectorXd all = Eigen::VectorXd::Zero(unknowns_);
  all.head(3) = weights;
  return (*fit_)(all);
}

}  // namespace compare_pulls
