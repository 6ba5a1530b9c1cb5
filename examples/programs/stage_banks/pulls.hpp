// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <numeric>
#include <vector>

#include "common/statistics/student_t.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "stage_banks/controller.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/simulate.hpp"

namespace stage_banks {

/// Two samples of a quantity and what they tell of the difference of their means.
struct comparison {
  double mean_a = 0, mean_b = 0;
  double half_width = 0;  ///< of the 95 % interval of mean_a - mean_b
  double scatter = 0;     ///< standard deviation of one reading, pooled

  [[nodiscard]] double difference() const { return mean_a - mean_b; }
  [[nodiscard]] bool is_shown() const { return std::abs(difference()) > half_width; }
};

/// Difference of two means of equally large, independent samples of equal scatter.
///
/// Shape:  two or more readings each, as many of one as of the other.
/// Source: Student, "The probable error of a mean", Biometrika 6 (1908) 1-25, doi:10.1093/biomet/6.1.1; the pooled form
///         as in every textbook.
[[nodiscard]] inline comparison compare(const std::vector<double>& a, const std::vector<double>& b) {
  const auto mean = [](const std::vector<double>& x) {
    return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
  };
  comparison result{.mean_a = mean(a), .mean_b = mean(b)};
  const double n = static_cast<double>(a.size());
  double squares = 0;
  for (const double x : a) squares += (x - result.mean_a) * (x - result.mean_a);
  for (const double x : b) squares += (x - result.mean_b) * (x - result.mean_b);
  result.scatter = std::sqrt(squares / (2 * n - 2));
  result.half_width = statistics::student_t(0.975, 2 * n - 2) * result.scatter * std::sqrt(2 / n);
  return result;
}

/// Readings of each kind needed so that a true gain is shown by a 95 % interval with a chance of 80 %; 0 if more than
/// 10000 would be.
[[nodiscard]] inline std::size_t readings_needed(double scatter, double gain) {
  for (std::size_t n = 2; n <= 10000; ++n) {
    const double size = static_cast<double>(n), freedom = 2 * size - 2;
    if ((statistics::student_t(0.975, freedom) + statistics::student_t(0.8, freedom)) * scatter * std::sqrt(2 / size) <=
        gain)
      return n;
  }
  return 0;
}

/// One speed of a torque curve, in N m.
struct torque_point {
  double rpm = 0;
  comparison measured{};       ///< a: staged by the plan, b: second bank only where the primary cannot do without
  double true_difference = 0;  ///< of the virtual engine, which no dynamometer knows
  double share_a = 0, share_b = 0;
  std::size_t pulls_needed = 0;
};

/// Did the second bank make power?
struct power_question {
  std::size_t pulls = 0;  ///< of each kind
  double gain = 0;        ///< the gain, as a fraction of torque, for which `pulls_needed` is given
  std::vector<torque_point> points{};
  comparison overall{};  ///< mean of the points at which the two plans differ
  double overall_true_difference = 0;
  std::size_t pulls_needed = 0;
  double least_factor = 1, greatest_factor = 1;  ///< of the corrections to standard air
};

namespace detail {

/// The two ways of fuelling that are compared, and pulls with each.
class pull_bench {
 public:
  pull_bench(const virtual_engine::engine& e, const bank_pair& assumed, std::array<share_plan, 2> plans,
             std::uint64_t seed)
      : engine_{e}, assumed_{assumed}, plans_{plans}, seed_{seed} {
    const auto& speeds = plans[0].map.axes[0];
    const double top_rpm = std::min(8600.0, speeds.points[speeds.size - 1]);
    for (double rpm = 3500; rpm <= top_rpm; rpm += 500) rpm_.push_back(rpm);
  }

  [[nodiscard]] const std::vector<double>& rpm() const { return rpm_; }
  [[nodiscard]] double share(std::size_t kind, double rpm) const {
    return fettle::interpolate(plans_[kind].map, rpm, 100.0);
  }

  /// Torque per speed of one pull, brought to standard air.
  [[nodiscard]] std::vector<double> measured(std::size_t kind, std::uint64_t run) {
    return torque(kind, virtual_engine::pull_drive(seed_, run), true, run);
  }
  /// Without drift and noise, in the same air for both kinds.
  [[nodiscard]] std::vector<double> truth(std::size_t kind) {
    auto world = virtual_engine::pull_drive(seed_, 0);
    world.torque_drift = 0;
    return torque(kind, world, false, 0);
  }

  double least_factor = 1e9, greatest_factor = 0;

 private:
  [[nodiscard]] std::vector<double> torque(std::size_t kind, const virtual_engine::drive& world, bool noise,
                                           std::uint64_t run) {
    const auto log =
        virtual_engine::simulate(engine_, staged_controller{engine_, assumed_, plans_[kind], strategy::compensated},
                                 world, {.noise = noise, .seed = seed_ + 7919 * (run + 1)})
            .log;
    const auto mean = [](const std::vector<double>& x) {
      return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
    };
    // The virtual engine breathes dry air.
    const double factor =
        fettle::iso_1585_factor(fettle::test_air<double>{mean(*log.find("air_kPa")), mean(*log.find("air_degC"))});
    least_factor = std::min(least_factor, factor);
    greatest_factor = std::max(greatest_factor, factor);
    const auto &rpm = *log.find("rpm"), &torque_nm = *log.find("torque_nm");
    std::vector<double> sum(rpm_.size()), count(rpm_.size());
    for (std::size_t i = 0; i < rpm.size(); ++i)
      for (std::size_t k = 0; k < rpm_.size(); ++k)
        if (std::abs(rpm[i] - rpm_[k]) <= 125) {
          sum[k] += torque_nm[i];
          count[k] += 1;
        }
    for (std::size_t k = 0; k < rpm_.size(); ++k) sum[k] *= factor / count[k];
    return sum;
  }

  const virtual_engine::engine& engine_;
  bank_pair assumed_;
  std::array<share_plan, 2> plans_;
  std::uint64_t seed_;
  std::vector<double> rpm_;
};

}  // namespace detail

/// Pulls in turn with one plan and the other, so that slow changes of the day fall on both.
///
/// @param plans     planned for power; second bank only where needed.
/// @param progress  called with the fraction done.
[[nodiscard]] inline power_question compare_power(const virtual_engine::engine& e, const bank_pair& assumed,
                                                  const std::array<share_plan, 2>& plans, std::uint64_t seed,
                                                  std::size_t pulls, double gain,
                                                  const std::function<void(double)>& progress) {
  detail::pull_bench bench{e, assumed, plans, seed};
  std::array<std::vector<std::vector<double>>, 2> torque;  // by kind, pull, speed
  for (std::size_t run = 0; run < 2 * pulls; ++run) {
    progress(static_cast<double>(run) / static_cast<double>(2 * pulls));
    torque[run % 2].push_back(bench.measured(run % 2, run));
  }
  power_question result{
      .pulls = pulls, .gain = gain, .least_factor = bench.least_factor, .greatest_factor = bench.greatest_factor};
  const std::array truth{bench.truth(0), bench.truth(1)};
  std::array<std::vector<double>, 2> means{std::vector<double>(pulls), std::vector<double>(pulls)};
  double differing = 0;
  for (std::size_t k = 0; k < bench.rpm().size(); ++k) {
    std::array<std::vector<double>, 2> readings;
    for (std::size_t kind = 0; kind < 2; ++kind)
      for (const auto& pull : torque[kind]) readings[kind].push_back(pull[k]);
    torque_point point{.rpm = bench.rpm()[k],
                       .measured = compare(readings[0], readings[1]),
                       .true_difference = truth[0][k] - truth[1][k],
                       .share_a = bench.share(0, bench.rpm()[k]),
                       .share_b = bench.share(1, bench.rpm()[k])};
    point.pulls_needed = readings_needed(point.measured.scatter, gain * point.measured.mean_b);
    if (point.share_a - point.share_b > 0.05) {
      differing += 1;
      result.overall_true_difference += point.true_difference;
      for (std::size_t kind = 0; kind < 2; ++kind)
        for (std::size_t i = 0; i < pulls; ++i) means[kind][i] += readings[kind][i];
    }
    result.points.push_back(point);
  }
  if (differing == 0) return result;
  for (auto& kind : means)
    for (double& mean : kind) mean /= differing;
  result.overall_true_difference /= differing;
  result.overall = compare(means[0], means[1]);
  result.pulls_needed = readings_needed(result.overall.scatter, gain * result.overall.mean_b);
  return result;
}

}  // namespace stage_banks
