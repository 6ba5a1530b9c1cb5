// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <span>
#include <utility>
#include <vector>

#include "fettle/fit/detail/penalty_spectrum.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/fit/smoothness.hpp"

namespace fettle {

/// A model with strengths chosen from the evidence, and the score they reached.
struct chosen_strengths {
  map_model model;
  double score = 0;  ///< minus the restricted log likelihood (scale profiled out), or the GCV score: smaller is better
};

/// Finds the smoothing strengths of a model, one per smoothed axis; an axis of strength 0 stays unsmoothed.
class strength_search {
 public:
  strength_search(const map_model& model, const evidence& seen)
      : model_{model}, system_{model.terms(), seen}, spectrum_{model.terms()} {}

  /// Minus the restricted log likelihood with the scale profiled out.
  ///
  /// Source: S. N. Wood, "Fast stable restricted maximum likelihood and marginal likelihood estimation of
  ///         semiparametric generalized linear models", J. R. Statist. Soc. B 73 (2011) 3-36,
  ///         doi:10.1111/j.1467-9868.2010.00749.x. A prior on a cell counts as one more sample.
  [[nodiscard]] double restricted_score(std::span<const double> strength) {
    system_.solve(strength);
    return restricted_score_of_solved(strength);
  }

  /// GCV score n rss / (n - edf)^2.
  [[nodiscard]] double gcv_score(std::span<const double> strength) {
    system_.solve(strength);
    const double free = system_.samples() - system_.effective_parameters();
    return system_.samples() * system_.weighted_squares() / (free * free);
  }

  [[nodiscard]] chosen_strengths choose(criterion rule) {
    return rule == criterion::reml ? choose_by_reml() : choose_by_gcv();
  }

 private:
  [[nodiscard]] double restricted_score_of_solved(std::span<const double> strength) {
    double log_penalty = 0, penalised = 0;
    spectrum_.for_each(strength, [&](std::size_t, const auto&, double total) {
      if (!(total > 0)) return;
      log_penalty += std::log(total);
      penalised += 1;
    });
    const double free = system_.samples_and_priors() - (static_cast<double>(model_.cells()) - penalised);
    const double scale = system_.penalised_squares() / free;
    return 0.5 * (free * (std::log(2 * std::numbers::pi * scale) + 1) + system_.log_determinant() - log_penalty);
  }

  // Fixed point of the restricted likelihood's gradient, each step an increase of the likelihood; every second step is
  // extrapolated along the geometric sequence it forms and kept if the score agrees.
  // Source: S. N. Wood, M. Fasiolo, "A generalized Fellner-Schall method for smoothing parameter optimization with
  //         application to Tweedie location, scale and shape models", Biometrics 73 (2017) 1071-1081,
  //         doi:10.1111/biom.12666.
  chosen_strengths choose_by_reml() {
    std::vector<double> now = model_.strengths();
    double score = restricted_score(now);
    std::vector<double> last_step(now.size(), 0.0);
    for (int iteration = 0; iteration < 200; ++iteration) {
      const std::vector<double> step = log_step(now);
      std::vector<double> plain = now, far = now;
      double largest = 0;
      for (std::size_t j = 0; j < now.size(); ++j) {
        if (now[j] == 0) continue;
        largest = (std::max)(largest, std::abs(step[j]));
        const double ratio =
            iteration % 2 == 1 && last_step[j] != 0 ? std::clamp(step[j] / last_step[j], -0.5, 0.95) : 0.0;
        plain[j] = bounded(now[j] * std::exp(step[j]), j);
        far[j] = bounded(now[j] * std::exp(std::clamp(step[j] / (1 - ratio), -4.0, 4.0)), j);
      }
      if (largest < 1e-4) break;
      double next = far == plain ? std::numeric_limits<double>::infinity() : restricted_score(far);
      if (next < score) {
        now = far;
        last_step.assign(now.size(), 0.0);
      } else {
        next = restricted_score(plain);
        now = plain;
        last_step = step;
      }
      const double gain = score - next;
      score = next;
      if (std::abs(gain) < 1e-10 * (1 + std::abs(score))) break;
    }
    return {model_.with_strengths(now), score};
  }

  /// Where a search may go: from next to no smoothing to next to no curvature.
  [[nodiscard]] double bounded(double strength, std::size_t j) const {
    const double unit = system_.unit_strength(j);
    return std::clamp(strength, unit * penalised_system::loosest, unit * penalised_system::stiffest);
  }

  // log of the Fellner-Schall factor of every strength, at the solved system.
  [[nodiscard]] std::vector<double> log_step(std::span<const double> strength) {
    std::vector<double> expected(strength.size(), 0.0);  // tr(S^- S_j)
    double penalised = 0;
    spectrum_.for_each(strength, [&](std::size_t first, const auto& share, double total) {
      if (!(total > 0)) return;
      penalised += 1;
      for (std::size_t a = 0; a < share.size(); ++a) expected[first + a] += share[a] / total;
    });
    const double free = system_.samples_and_priors() - (static_cast<double>(model_.cells()) - penalised);
    const double scale = system_.penalised_squares() / free;
    std::vector<double> step(strength.size(), 0.0);
    for (std::size_t j = 0; j < strength.size(); ++j) {
      if (strength[j] == 0) continue;
      const double up = (std::max)(expected[j] - system_.influence(j), 1e-12 * expected[j]);
      const double down = system_.roughness(j);
      step[j] = std::clamp(std::log(scale * up) - std::log((std::max)(down, (std::numeric_limits<double>::min)())),
                           -4.0, 4.0);
    }
    return step;
  }

  // One axis at a time by Brent's method on the logarithm: the score is smooth and the axes nearly independent.
  chosen_strengths choose_by_gcv() {
    std::vector<double> now = model_.strengths();
    double score = gcv_score(now);
    for (int sweep = 0; sweep < 30; ++sweep) {
      const double before = score;
      for (std::size_t j = 0; j < now.size(); ++j) {
        if (now[j] == 0) continue;
        const double middle = std::log(now[j]), reach = sweep == 0 ? 12 : 2;
        const auto along = [&](double log_strength) {
          now[j] = bounded(std::exp(log_strength), j);
          return gcv_score(now);
        };
        const auto best = boost::math::tools::brent_find_minima(along, middle - reach, middle + reach, 26);
        now[j] = bounded(std::exp(best.first), j);
        score = best.second;
      }
      if (std::abs(before - score) < 1e-12 * std::abs(score)) break;
    }
    return {model_.with_strengths(now), score};
  }

  const map_model& model_;
  penalised_system system_;
  detail::penalty_spectrum spectrum_;
};

/// The model with smoothing strengths chosen from the evidence; the model's own strengths are where the search starts.
[[nodiscard]] inline chosen_strengths choose_strengths(const map_model& model, const evidence& seen,
                                                       criterion rule = criterion::reml) {
  return strength_search(model, seen).choose(rule);
}

}  // namespace fettle
