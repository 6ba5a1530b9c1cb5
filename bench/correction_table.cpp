// SPDX-License-Identifier: MIT
// What a fuel map is worth after correction from one log, on virtual engines with known truth, those included whose
// physics the library's model lacks. One row per case: the mean over the seeds of the rms lambda error at the driven
// points with the engine standing still, in percent; how many points are left lean; how many 95 % intervals hold.
//
//   correction_table --seeds 3 --physics each
#include <fmt/core.h>
#include <fmt/ranges.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <string>
#include <vector>

#include "best_map.hpp"
#include "correction_trial.hpp"
#include "nearest_cell.hpp"

namespace {

using namespace correction_table;

struct request {
  std::uint64_t seeds = 5, first = 1;
  std::vector<std::string> drives{"stage"}, sensors{"collector"}, physics{"none"};
  std::vector<double> minutes{15};
  std::vector<std::size_t> cells{1};
  double start_factor = 1;
  bool no_noise = false, every_seed = false;
};

struct tally {
  double inside = 0, count = 0;

  void add(double error, double standard_error) {
    inside += std::abs(error) < 1.96 * standard_error;
    ++count;
  }
  [[nodiscard]] std::string percent() const { return count > 0 ? fmt::format("{:.0f}", 100 * inside / count) : "-"; }
};

struct result {
  double nothing = 0, nearest = 0, estimate = 0, one_pass = 0, unlimited = 0, floor = 0, lean = 0;  // %
  tally driven, undriven;
  double seeds = 0;
};

std::vector<conditions> cases_of(const request& request) {
  std::vector<std::string> physics;
  for (const std::string& words : request.physics) {
    if (words != "each") {
      physics.push_back(words);
      continue;
    }
    physics.emplace_back("none");
    physics.insert(physics.end(), virtual_engine::physics_words.begin(), virtual_engine::physics_words.end());
    physics.emplace_back("all");
  }
  std::vector<conditions> result;
  for (const auto& drive : request.drives)
    for (const double minutes : request.minutes)
      for (const auto& sensors : request.sensors)
        for (const std::size_t cells : request.cells)
          for (const auto& words : physics)
            result.push_back({.drive = drive,
                              .minutes = minutes,
                              .sensors = sensors,
                              .physics = physics_of(words),
                              .has_noise = !request.no_noise,
                              .cells = cells,
                              .start_factor = request.start_factor});
  return result;
}

/// Intervals of cells: of driven ones against the best map on the grid, of the others against the engine itself.
void count_intervals(const trial& trial, const std::vector<fettle::cell_evidence>& cells, const best_map& best,
                     result& measured) {
  const double half_a_second = 50;  // rows
  const auto &rpm = trial.base.axes()[0].points(), &throttle_pct = trial.base.axes()[1].points();
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const auto error = [&](double truth) { return std::log(cells[k].correction / truth); };
    if (best.rows[k] > half_a_second) {
      measured.driven.add(error(best.correction[k]), cells[k].standard_error);
    } else if (best.rows[k] == 0) {
      const double ideal =
          trial.engine.ideal_fuel_mg(rpm[k / throttle_pct.size()], throttle_pct[k % throttle_pct.size()]);
      measured.undriven.add(error(ideal / trial.base.values()[k]), cells[k].standard_error);
    }
  }
}

result measure(std::uint64_t seed, const conditions& under) {
  const trial trial = make_trial(seed, under);
  const auto cells = fettle::evidence_of(
      fettle::identify({trial.log}, trial.base, session::make_dynamics(trial.session, session::path_trust::prior)));
  std::vector<double> estimate;
  for (const auto& cell : cells) estimate.push_back(cell.correction);
  const best_map best = fit_best_map(trial);
  const lambda_errors one_pass = errors_of(trial, fettle::decide(cells).applied);
  result measured{.nothing = errors_of(trial, std::vector<double>(trial.base.size(), 1.0)).rms_pct,
                  .nearest = errors_of(trial, nearest_cell(trial)).rms_pct,
                  .estimate = errors_of(trial, estimate).rms_pct,
                  .one_pass = one_pass.rms_pct,
                  .unlimited = errors_of(trial, fettle::decide(cells, {.richer = 1, .leaner = 0.5}).applied).rms_pct,
                  .floor = errors_of(trial, best.correction).rms_pct,
                  .lean = one_pass.lean_pct,
                  .driven = {},
                  .undriven = {},
                  .seeds = 1};
  count_intervals(trial, cells, best, measured);
  return measured;
}

void add(result& sum, const result& measured) {
  for (double result::*value : {&result::nothing, &result::nearest, &result::estimate, &result::one_pass,
                                &result::unlimited, &result::floor, &result::lean, &result::seeds})
    sum.*value += measured.*value;
  for (tally result::*value : {&result::driven, &result::undriven}) {
    (sum.*value).inside += (measured.*value).inside;
    (sum.*value).count += (measured.*value).count;
  }
}

std::string label_of(const conditions& under) {
  std::string label = fmt::format("{} {:g} min, {}", under.drive, under.minutes, under.sensors);
  if (under.cells > 1) label += fmt::format(", cells / {}", under.cells);
  return label + ", " + (under.physics.empty() ? "none" : fmt::format("{}", fmt::join(under.physics, ",")));
}

void print_row(const std::string& label, std::size_t width, const result& sum) {
  fmt::print("{:{}}", label, width);
  for (const double value : {sum.nothing, sum.nearest, sum.estimate, sum.one_pass, sum.unlimited, sum.floor, sum.lean})
    fmt::print("{:9.2f}", value / sum.seeds);
  fmt::print("{:>5} of{:>5.0f}{:>5} of{:>5.0f}\n", sum.driven.percent(), sum.driven.count, sum.undriven.percent(),
             sum.undriven.count);
  std::fflush(stdout);
}

void print_head(const request& request, std::size_t width) {
  fmt::print("rms lambda error at the driven points, engine standing still, %; mean of seeds {} to {}{}\n\n",
             request.first, request.first + request.seeds - 1, request.no_noise ? "; sensors without noise" : "");
  fmt::print("{:{}}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>26}\n", "", width, "", "nearest", "", "applied,", "applied,",
             "", "points", "95 % intervals hold, %");
  fmt::print("{:{}}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>9}{:>13}{:>13}\n", "log, sensors, physics", width, "nothing",
             "gated", "estimate", "1 pass", "no limit", "floor", "lean, %", "driven", "undriven");
}

void run(const request& request) {
  const std::vector<conditions> cases = cases_of(request);
  std::size_t width = 22;
  for (const conditions& under : cases) width = (std::max)(width, label_of(under).size());
  print_head(request, width);
  for (const conditions& under : cases) {
    result sum;
    for (std::uint64_t seed = request.first; seed < request.first + request.seeds; ++seed) {
      const result measured = measure(seed, under);
      if (request.every_seed) print_row(fmt::format("  seed {}", seed), width, measured);
      add(sum, measured);
    }
    print_row(label_of(under), width, sum);
  }
  fmt::print(
      "\nnothing: the map as it is. nearest gated: readings one fixed delay late, in calm driving, averaged into the\n"
      "nearest cell. estimate: what the map needs. applied: what is loaded of it, within what one pass may change or\n"
      "without that limit. floor: the best that this grid can do. points lean: driven points that one pass leaves "
      "more\n"
      "than 3 % lean. Intervals: of cells driven for half a second against the best map of the grid, of cells never\n"
      "driven against the engine.\n");
}

}  // namespace

int main(int count, char** words) {
  request request;
  CLI::App app{"Corrections of a fuel map against known truth.", "correction_table"};
  app.add_option("--seeds", request.seeds, "how many engines")->check(CLI::PositiveNumber)->capture_default_str();
  app.add_option("--first", request.first, "seed of the first")->capture_default_str();
  app.add_option("--drive", request.drives, "stage, dyno or both")
      ->check(CLI::IsMember({"stage", "dyno"}))
      ->capture_default_str();
  app.add_option("--minutes", request.minutes, "length of the log; several: a row each")
      ->check(CLI::Range(1.0, 600.0))
      ->capture_default_str();
  app.add_option("--sensors", request.sensors, "collector, pipes (one in each pipe besides) or both")
      ->check(CLI::IsMember({"collector", "pipes"}))
      ->capture_default_str();
  app.add_option("--physics", request.physics,
                 "none, film, pipes, lag, reversion, misfire, all; several with commas are one case; each: every one "
                 "alone, then all")
      ->capture_default_str();
  app.add_option("--cells", request.cells, "into how many each interval of the map's axes is divided")
      ->check(CLI::Range(1, 8))
      ->capture_default_str();
  app.add_option("--start-factor", request.start_factor, "how wrong the session's delays and films are")
      ->check(CLI::Range(0.3, 3.0))
      ->capture_default_str();
  app.add_flag("--no-noise", request.no_noise, "sensors without noise and spikes");
  app.add_flag("--every-seed", request.every_seed, "also a row for each engine");
  CLI11_PARSE(app, count, words);
  try {
    run(request);
  } catch (const fettle::error& problem) {
    fmt::print(stderr, "correction_table: {}\n", problem.what());
    return 2;
  }
  return 0;
}
