// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <random>
#include <span>
#include <vector>

#include "fettle/fit/fit_table.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/strengths.hpp"

namespace laboratory {

/// Noisy measurements of fuel over throttle at one speed, and the curve that they were drawn from.
struct dots {
  std::vector<double> throttle_pct, fuel_mg;

  [[nodiscard]] static double truth_mg(double throttle_pct) {
    return 3 + 37 * std::pow(throttle_pct, 1.3) / (std::pow(throttle_pct, 1.3) + 70) + 1.6 * std::sin(throttle_pct / 9);
  }

  /// @param noise_mg  standard deviation.
  [[nodiscard]] static dots drawn(std::uint32_t seed, std::size_t count, double noise_mg) {
    std::mt19937 random(seed);
    const auto uniform = [&random] { return static_cast<double>(random()) / 0x1p32; };  // the same everywhere
    dots result;
    for (std::size_t i = 0; i < count; ++i) {
      const double throttle = 100 * std::pow(uniform(), 1.4);
      double normal = -6;
      for (int k = 0; k < 12; ++k) normal += uniform();
      result.throttle_pct.push_back(throttle);
      result.fuel_mg.push_back(truth_mg(throttle) + noise_mg * normal);
    }
    return result;
  }
};

/// A curve through noisy dots, as smooth as asked, or as smooth as restricted maximum likelihood chooses.
///
/// Question: seed, count, noise_mg; log10_strength, or nothing for REML.
/// Answer:   the dots; breakpoints with value_mg, standard_error_mg and truth_mg; strength used and chosen_strength by
///           REML; effective_parameters; noise_mg as estimated; inside_95, the share of breakpoints whose 95 % interval
///           holds the truth; rms_error_mg against the truth; and score (minus the restricted log-likelihood, less its
///           smallest value) over log10_strengths.
[[nodiscard]] inline nlohmann::json smoothing(const nlohmann::json& question) {
  const auto measured = dots::drawn(question.at("seed"), question.at("count"), question.at("noise_mg"));
  const auto throttle = *fettle::dynamic_axis<double>::from({0, 3, 6, 10, 15, 20, 26, 33, 41, 50, 60, 70, 80, 90, 100});

  // [smoothing]
  const auto by_reml = fettle::fit_table({throttle}, measured.throttle_pct, measured.fuel_mg);
  const fettle::smoothness how = question.at("log10_strength").is_null()
                                     ? by_reml.strength
                                     : std::vector{std::pow(10.0, question.at("log10_strength").get<double>())};
  const auto fitted = fettle::fit_table({throttle}, measured.throttle_pct, measured.fuel_mg, {}, {.smooth = how});
  // [/smoothing]

  const fettle::map_model model({fettle::smooth_term({throttle}, by_reml.strength)});
  fettle::evidence seen(model.cells());
  fettle::sample_rows rows;
  for (std::size_t i = 0; i < measured.fuel_mg.size(); ++i) {
    model.put(rows, 0, 1.0, std::span(measured.throttle_pct).subspan(i, 1));
    rows.finish(measured.fuel_mg[i]);
    seen.add(rows[i].cell, rows[i].factor, rows[i].value, rows[i].weight);
  }
  fettle::strength_search search(model, seen);
  const double best = search.restricted_score(by_reml.strength);
  std::vector<double> log10_strengths, score;
  for (double at = -6; at <= 4.01; at += 0.25) {
    const double strength = std::pow(10.0, at);
    log10_strengths.push_back(at);
    score.push_back(search.restricted_score(std::span(&strength, 1)) - best);
  }

  std::vector<double> truth;
  double squares = 0, inside = 0;
  for (std::size_t k = 0; k < throttle.size(); ++k) {
    truth.push_back(dots::truth_mg(throttle.points()[k]));
    const double error = fitted.table.values()[k] - truth.back();
    squares += error * error;
    inside += std::abs(error) <= 1.96 * fitted.standard_error[k];
  }
  const auto cells = static_cast<double>(throttle.size());
  return {{"dots", {{"throttle_pct", measured.throttle_pct}, {"fuel_mg", measured.fuel_mg}}},
          {"throttle_pct", throttle.points()},
          {"value_mg", fitted.table.values()},
          {"standard_error_mg", fitted.standard_error},
          {"truth_mg", truth},
          {"strength", fitted.strength[0]},
          {"chosen_strength", by_reml.strength[0]},
          {"effective_parameters", fitted.effective_parameters},
          {"noise_mg", fitted.noise},
          {"inside_95", inside / cells},
          {"rms_error_mg", std::sqrt(squares / cells)},
          {"log10_strengths", log10_strengths},
          {"score", score}};
}

}  // namespace laboratory
