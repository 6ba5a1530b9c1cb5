// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "stage_banks/job.hpp"
#include "stage_banks/verdict.hpp"

namespace stage_banks {

/// The power goal against both banks, in one sentence.
[[nodiscard]] inline std::string sizing_in_words(const outcome& results) {
  const double primary = size_bank(results, 0).carried_power_kw, secondary = size_bank(results, 1).carried_power_kw;
  if (!results.session.goal)
    return fmt::format(
        "no \"target\" in the session; at 320 g/kWh and 85 % duty the primary bank carries {:.0f} kW, "
        "both carry {:.0f} kW",
        primary, primary + secondary);
  const double goal = results.session.goal->power_kw;
  const char* verdict = goal <= primary               ? "the primary bank alone is enough"
                        : goal <= primary + secondary ? "only both banks together are enough"
                                                      : "BOTH BANKS TOGETHER ARE TOO SMALL";
  return fmt::format("{:.0f} kW at {:g} g/kWh and {:.0f} % duty: primary carries {:.0f} kW, both {:.0f} kW; {}", goal,
                     results.session.goal->bsfc_g_per_kwh, 100 * results.session.goal->duty, primary,
                     primary + secondary, verdict);
}

/// The answer to "did the second bank make power?".
[[nodiscard]] inline std::string power_in_words(const power_question& question) {
  const comparison& all = question.overall;
  if (all.mean_b == 0) return "Both plans share the fuel alike at full throttle: there is nothing to compare.";
  const std::string interval =
      fmt::format("{:+.2f} N m ({:+.2f} to {:+.2f}) of {:.0f} N m, mean of the speeds where the plans differ",
                  all.difference(), all.difference() - all.half_width, all.difference() + all.half_width, all.mean_b);
  if (!all.is_shown()) return "Not shown by these pulls: " + interval + ".";
  return (all.difference() > 0 ? "Yes: " : "No, it cost power: ") + interval + ".";
}

[[nodiscard]] inline std::string pulls_in_words(std::size_t pulls) {
  return pulls > 0 ? std::to_string(pulls) : "more than 10000";
}

/// How the excursions of staging are defined, for every reader of the numbers.
inline constexpr std::string_view definition =
    "Staging excursion: lambda of the mixture in the cylinders, divided by the lambda that one ideal bank (never too "
    "small or too large) makes in the same passage with its film equally well compensated, minus one. What throttle "
    "and speed do to a film without staging is in both and cancels; it is part of the total, which is lambda over its "
    "target, minus one.";

/// What staging can be expected to achieve, and what limits it.
[[nodiscard]] inline std::string bound_in_words(const outcome& results) {
  const auto& settings = results.session.staging;
  double per_step = 0;
  for (const auto& bank : results.banks)
    per_step += fettle::film_uncertainty_of(film_of(bank), settings.film_error, fettle::cycle_ms(settings.slowest_rpm))
                    .per_step;
  return fmt::format(
      "The share changes by at most {:.3f} per second, so that film shares and times that are each wrong by {:.2g} % "
      "cannot move lambda by more than {:g} % at steady load. Changes of share that cannot wait add to this: the "
      "throttle guard, a primary at its limit, a first smallest pulse; a step of 0.1 costs up to {:.1f} %. Load that "
      "changes "
      "quickly moves fuel onto and off both walls with or without staging: see the row with the split kept constant.",
      results.planned.fastest_share_per_s, 100 * settings.film_error, 100 * settings.lambda_excursion, 10 * per_step);
}

/// Whether the aim was met, and if not, how accurate the film values would have to be.
[[nodiscard]] inline std::string aim_met_in_words(const passage_result& passage, std::size_t way,
                                                  const session::staging_settings& settings) {
  if (passage.meets_aim(way, settings.lambda_excursion)) return "met";
  return fmt::format("missed; met if film values are within {:.0f} %",
                     std::floor(100 * passage.largest_film_error(way, settings.lambda_excursion)));
}

/// The result of a passage against the aim, up or down.
[[nodiscard]] inline std::string verdict_in_words(const passage_result& passage, std::size_t way,
                                                  const session::staging_settings& settings) {
  const double made = passage.expected.staging.largest[way], at_once = passage.opened_at_once().largest[way];
  return fmt::format("{}: {:.2f} % {}, 1/{:.1f} of opening at once, constant split {:.2f} %: {}",
                     way == 0 ? "up" : "down", 100 * made, passage.expected.staging.is_lean(way) ? "lean" : "rich",
                     at_once / made, 100 * passage.constant_split.staging.largest[way],
                     aim_met_in_words(passage, way, settings));
}

/// The aim for every passage.
[[nodiscard]] inline std::string aim_in_words(const session::staging_settings& settings) {
  return fmt::format(
      "Aim: with film values {:.2g} % wrong in both banks alike, staging moves lambda by less than {:g} % and by "
      "at most a fifth of what opening the second bank at once does",
      100 * settings.film_error, 100 * settings.lambda_excursion);
}

inline constexpr std::string_view simulated =
    "All drives and pulls are SIMULATED on a virtual engine, seed {}, with this session's injectors; its air and wall "
    "films are invented. The controller is given the true air, so map errors play no part.";

namespace detail {

/// The smallest number; NaN where there is none.
[[nodiscard]] inline double least_of(const std::vector<double>& values) {
  double least = std::nan("");
  for (const double x : values)
    if (!std::isnan(x) && !(x >= least)) least = x;
  return least;
}
[[nodiscard]] inline double largest_of(const std::vector<double>& values) {
  return *std::max_element(values.begin(), values.end());
}

/// Gathers the lines of the summary.
class summary_writer {
 public:
  summary_writer(const outcome& results, const std::string& map_file)
      : results_{results}, text_{report::lines(verdict_of(results, map_file))} {}

  [[nodiscard]] std::string text() {
    line("");
    line(results_.session.title);
    line(fmt::format(fmt::runtime(simulated), results_.seed));
    banks();
    plan();
    excursions();
    film_accuracy();
    aim();
    power();
    return std::move(text_);
  }

 private:
  void line(const std::string& words) { text_ += words + "\n"; }

  void banks() {
    line("");
    line("banks          mg/ms   g/min   cm3/min   dead time   smallest pulse   film share   film time");
    for (std::size_t b = 0; b < results_.banks.size(); ++b) {
      const auto& bank = results_.banks[b];
      const auto size = size_bank(results_, b);
      line(fmt::format(
          "  {:12} {:5.2f}  {:6.1f}   {:7.1f}     {:.3f} ms         {:.3f} ms        {:.2f}        {:.2f} s", bank.name,
          bank.flow_mg_ms, size.static_g_per_min, size.static_cm3_per_min,
          bank.dead_ms(results_.session.staging.battery_v), bank.smallest_pulse_ms, bank.film.share, bank.film.time_s));
    }
    line("  " + sizing_in_words(results_));
    if (results_.session.goal)
      line(fmt::format("  required flow for that: {:.1f} g/min per injector from one bank",
                       size_bank(results_, 0).needed_g_per_min));
  }

  void plan() {
    const auto& planned = results_.planned;
    line("");
    line(
        fmt::format("plan: largest share {:.2f}, largest duty primary {:.0f} %, secondary {:.0f} %, smallest pulse "
                    "margin {:.2f} ms",
                    planned.plan().largest, 100 * largest_of(planned.primary_duty),
                    100 * largest_of(planned.secondary_duty), least_of(planned.pulse_margin_ms)));
    if (const auto unmet = results_.unmet_cells(); !unmet.empty())
      line(fmt::format("  {} cannot be met; the report names each", cells_in_words(unmet.size())));
  }

  void excursions() {
    line("");
    line("largest (rms) lambda excursion in %      staging, up    staging, down       total, up      total, down");
    for (const auto& passage : results_.passages) {
      line(passage.through.name);
      for (const strategy how : strategies) {
        const auto& result = passage.with(how);
        std::string row = fmt::format("  {:34}", in_words(how));
        for (const auto* size : {&result.staging_size, &result.total_size})
          for (std::size_t way = 0; way < 2; ++way)
            row += fmt::format("   {:6.2f} ({:5.2f})", 100 * size->largest[way], 100 * size->rms[way]);
        line(row);
      }
    }
  }

  void film_accuracy() {
    line("");
    line("compensated, by the accuracy of the film values: largest excursion in %, up / down");
    line("                                          staging          unavoidable      total");
    for (const auto& passage : results_.passages) {
      line(passage.through.name);
      for (const auto& films : passage.known) {
        std::string row = fmt::format("  {:38}", films.name);
        for (const auto* part : {&films.size.staging, &films.size.single, &films.size.total})
          row += fmt::format("  {:5.2f} / {:5.2f}  ", 100 * part->largest[0], 100 * part->largest[1]);
        line(row);
      }
    }
  }

  void aim() {
    line("");
    line(aim_in_words(results_.session.staging));
    for (const auto& passage : results_.passages)
      for (std::size_t way = 0; way < 2; ++way)
        line(fmt::format("  {:16} {}", passage.through.name, verdict_in_words(passage, way, results_.session.staging)));
    line("  " + bound_in_words(results_));
  }

  void power() {
    const auto& question = results_.power;
    line("");
    line(
        fmt::format("did the second bank make power? {} simulated pulls each way, torque to ISO 1585", question.pulls));
    line("  " + power_in_words(question));
    if (question.overall.mean_b > 0)
      line(fmt::format("  (true here: {:+.2f} N m) to see a gain of {:g} %: {} pulls each way",
                       question.overall_true_difference, 100 * question.gain, pulls_in_words(question.pulls_needed)));
  }

  const outcome& results_;
  std::string text_;
};

}  // namespace detail

/// What a tuner needs to know before loading the plan; the answers first.
///
/// @param map_file  the share map as the reader finds it.
[[nodiscard]] inline std::string summary(const outcome& results, const std::string& map_file) {
  return detail::summary_writer(results, map_file).text();
}

}  // namespace stage_banks
