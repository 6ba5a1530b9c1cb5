// SPDX-License-Identifier: MIT
// What the loop of driving, correcting, loading and driving again is worth on virtual engines with known truth, with the
// drives that correct_map plans and with ordinary drives; those engines included whose physics the library's model lacks.
//
//   passes_table --seeds 2
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <random>
#include <string>
#include <system_error>
#include <tuple>
#include <utility>
#include <vector>

#include "best_map.hpp"
#include "correction_trial.hpp"
#include "passes_limits.hpp"
#include "passes_trial.hpp"

namespace {

using namespace passes_table;

struct request {
  std::uint64_t seeds = 2, first = 1;
  std::vector<std::string> physics{"none", "all"};
  double minutes = 10;
  std::size_t passes = 4, most_passes = 6;
  bool every_seed = false;
};

/// A folder of its own, removed with all in it.
class scratch_folder {
 public:
  scratch_folder() : path_{fs::temp_directory_path() / fmt::format("passes_table_{}", std::random_device{}())} {}
  scratch_folder(const scratch_folder&) = delete;
  scratch_folder& operator=(const scratch_folder&) = delete;
  ~scratch_folder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

/// One way of driving, summed over engines. First entry of a list: before the first pass.
struct result {
  std::vector<double> rms{}, over_2{}, over_3{}, known{};  ///< %, after each pass
  std::array<std::vector<double>, 3> exact{};              ///< % rms after each pass, see `exactness`
  std::vector<double> compared{}, as_predicted{};          ///< cells, of each pass
  double floor = 0;                                        ///< % rms
  double worsened = 0, most_worsened = 0;                  ///< engines that a pass made worse; by most, % rms
  std::array<double, 2> minutes{};     ///< driven until 95 % of the cells, and all, are known; else all that was driven
  std::array<double, 2> unfinished{};  ///< engines that never came so far
  double cells = 0, seeds = 0;
};

constexpr std::array exactness{"known exactly from the start", "estimated exactly, no margin in leaning",
                               "estimated exactly, with the margin"};
constexpr std::array enough{0.95, 1.0};  // of the cells
constexpr double no_rise_pct = 0.02;     // of the rms error: less is no difference

void add_up(std::vector<double>& sum, const std::vector<double>& more) {
  sum.resize((std::max)(sum.size(), more.size()), 0.0);
  for (std::size_t i = 0; i < more.size(); ++i) sum[i] += more[i];
}

void add(result& sum, const result& measured) {
  for (const auto list :
       {&result::rms, &result::over_2, &result::over_3, &result::known, &result::compared, &result::as_predicted})
    add_up(sum.*list, measured.*list);
  for (std::size_t i = 0; i < exactness.size(); ++i) add_up(sum.exact[i], measured.exact[i]);
  for (const auto value : {&result::floor, &result::worsened, &result::cells, &result::seeds})
    sum.*value += measured.*value;
  sum.most_worsened = (std::max)(sum.most_worsened, measured.most_worsened);
  for (const auto value : {&result::minutes, &result::unfinished})
    for (std::size_t i = 0; i < enough.size(); ++i) (sum.*value)[i] += (measured.*value)[i];
}

/// Cells that an ordinary driver runs in for a second or more, in all passes.
std::vector<bool> drivable(const std::vector<pass>& ordinary) {
  std::vector<bool> result;
  for (const auto& cell : ordinary.back().evidence) result.push_back(cell.seconds >= 1);
  return result;
}

/// The truth at the points of the ordinary drives, so that both ways are judged alike.
correction_table::trial judge_of(std::uint64_t seed, const request& request, const std::vector<std::string>& physics,
                                 const std::vector<pass>& ordinary) {
  virtual_engine::engine e = virtual_engine::engine::from_seed(seed);
  virtual_engine::add_physics(e, physics, seed);
  correction_table::trial judge{.engine = e, .base = virtual_engine::base_fuel_map(e, seed), .session = {}, .log = {}};
  judge.log.at.resize(2);
  for (std::size_t p = 0; p < request.passes; ++p) {
    judge.log.at[0].insert(judge.log.at[0].end(), ordinary[p].rpm.begin(), ordinary[p].rpm.end());
    judge.log.at[1].insert(judge.log.at[1].end(), ordinary[p].throttle_pct.begin(), ordinary[p].throttle_pct.end());
  }
  judge.log.time_s.resize(judge.log.at[0].size());
  judge.log.fuel_cut.resize(judge.log.at[0].size());
  return judge;
}

result measure(const request& request, const correction_table::trial& judge, const std::vector<pass>& driven,
               const std::vector<bool>& cells) {
  result sum{.cells = static_cast<double>(std::count(cells.begin(), cells.end(), true)), .seeds = 1};
  const auto judge_map = [&](const std::vector<double>& correction) {
    const auto errors = errors_of(judge, correction);
    sum.rms.push_back(errors.rms_pct);
    sum.over_2.push_back(errors.over_2_pct);
    sum.over_3.push_back(errors.lean_pct);
  };
  judge_map(std::vector<double>(judge.base.size(), 1.0));
  std::array<bool, enough.size()> is_finished{};
  for (std::size_t p = 0; p < driven.size(); ++p) {
    double known = 0;
    for (std::size_t k = 0; k < cells.size(); ++k) known += cells[k] && driven[p].evidence[k].standard_error <= 0.01;
    for (std::size_t i = 0; i < enough.size(); ++i) {
      if (!is_finished[i]) sum.minutes[i] += request.minutes;
      is_finished[i] = is_finished[i] || known >= enough[i] * sum.cells;
    }
    if (p >= request.passes) continue;
    std::vector<double> correction = driven[p].map;
    for (std::size_t k = 0; k < correction.size(); ++k) correction[k] /= judge.base.values()[k];
    judge_map(correction);
    sum.known.push_back(100 * known / sum.cells);
    sum.compared.push_back(static_cast<double>(driven[p].compared));
    sum.as_predicted.push_back(static_cast<double>(driven[p].as_predicted));
  }
  for (std::size_t i = 0; i < enough.size(); ++i) sum.unfinished[i] = is_finished[i] ? 0 : 1;
  for (std::size_t p = 1; p < sum.rms.size(); ++p)
    sum.most_worsened = (std::max)(sum.most_worsened, sum.rms[p] - sum.rms[p - 1]);
  sum.worsened = sum.most_worsened > no_rise_pct ? 1 : 0;
  return sum;
}

/// Adds what the loop would leave if the best map were known from the start.
void add_limits(result& sum, const request& request, const correction_table::trial& judge,
                const std::vector<pass>& driven) {
  const auto best = fit_best_map(judge).correction;
  const auto rms_pct = [&](const std::vector<double>& correction) { return errors_of(judge, correction).rms_pct; };
  sum.floor = rms_pct(best);
  const std::array after{known_exactly(best, request.passes), estimated_exactly(best, driven, request.passes, 0),
                         estimated_exactly(best, driven, request.passes, fettle::decision_limits{}.margin_errors)};
  for (std::size_t i = 0; i < exactness.size(); ++i)
    for (const auto& correction : after[i]) sum.exact[i].push_back(rms_pct(correction));
}

void print_result(const std::string& label, const result& sum) {
  fmt::print("{}\n", label);
  for (std::size_t p = 0; p < sum.rms.size(); ++p) {
    fmt::print("  {:8}{:10.2f}{:12.2f}{:12.2f}", p == 0 ? "before" : fmt::format("pass {}", p), sum.rms[p] / sum.seeds,
               sum.over_2[p] / sum.seeds, sum.over_3[p] / sum.seeds);
    if (p > 0) fmt::print("{:11.1f}", sum.known[p - 1] / sum.seeds);
    if (p > 1)
      fmt::print("{:11.1f} of {:5.0f}", 100 * sum.as_predicted[p - 1] / sum.compared[p - 1], sum.compared[p - 1]);
    fmt::print("\n");
  }
  fmt::print("  floor {:12.2f}\n", sum.floor / sum.seeds);
  fmt::print("  rms after each pass if every cell were\n");
  for (std::size_t i = 0; i < exactness.size(); ++i) {
    fmt::print("    {:46}", exactness[i]);
    for (const double rms : sum.exact[i]) fmt::print("{:6.2f}", rms / sum.seeds);
    fmt::print("\n");
  }
  fmt::print("  a pass raised the rms by more than {:g} % on {:.0f} of {:.0f} engines, by {:.2f} % at most\n",
             no_rise_pct, sum.worsened, sum.seeds, sum.most_worsened);
  for (std::size_t i = 0; i < enough.size(); ++i)
    fmt::print("  minutes until {:.0f} % of the cells are known to 1 %: {}{:.0f}{}\n", 100 * enough[i],
               sum.unfinished[i] > 0 ? "more than " : "", sum.minutes[i] / sum.seeds,
               sum.unfinished[i] > 0
                   ? fmt::format(" ({:.0f} of {:.0f} engines never came so far)", sum.unfinished[i], sum.seeds)
                   : "");
  fmt::print("\n");
  std::fflush(stdout);
}

void run(const request& request) {
  fmt::print("rms lambda error and share of points left lean, engine standing still, mean of seeds {} to {};\n",
             request.first, request.first + request.seeds - 1);
  fmt::print("drives of {:g} minutes, what one pass may change at its defaults\n\n", request.minutes);
  fmt::print("  {:8}{:>10}{:>12}{:>12}{:>11}{:>20}\n", "", "", "over 2 %", "over 3 %", "known to", "next log as");
  fmt::print("  {:8}{:>10}{:>12}{:>12}{:>11}{:>20}\n\n", "", "rms, %", "lean, %", "lean, %", "1 %, %", "predicted, %");
  for (const std::string& words : request.physics) {
    const std::vector<std::string> physics = correction_table::physics_of(words);
    result ordinary, planned;
    for (std::uint64_t seed = request.first; seed < request.first + request.seeds; ++seed) {
      const scratch_folder scratch;
      conditions under{.physics = physics, .minutes = request.minutes, .passes = request.most_passes};
      const auto by_habit = drive_passes(scratch.path() / "ordinary", seed, under);
      under.follows_plan = true;
      const auto by_plan = drive_passes(scratch.path() / "plan", seed, under);
      const auto judge = judge_of(seed, request, physics, by_habit);
      const auto cells = drivable(by_habit);
      for (auto [driven, sum, name] : {std::tuple{&by_habit, &ordinary, "ordinary drives"},
                                       std::tuple{&by_plan, &planned, "drives by the plan"}}) {
        result measured = measure(request, judge, *driven, cells);
        add_limits(measured, request, judge, *driven);
        if (request.every_seed) print_result(fmt::format("physics {}, {}, seed {}", words, name, seed), measured);
        add(*sum, measured);
      }
    }
    print_result(fmt::format("physics {}, ordinary drives", words), ordinary);
    print_result(fmt::format("physics {}, first drive ordinary, then by the plan of correct_map", words), planned);
  }
  fmt::print(
      "Points: those of the ordinary drives of these passes, with fuel, for both ways of driving. Known to 1 %: cells\n"
      "in which ordinary drives run for a second or more in {} passes, whose standard error is 1 % or less. Next log\n"
      "as predicted: cells of the next log that lie within the 95 % interval of the prediction. Floor: the best that\n"
      "this grid can do. Known from the start: the map of the floor, approached by no more than one pass may change.\n"
      "Estimated exactly: the same, but cells that were not driven are not leaned, nor are those with too little\n"
      "evidence in these logs; with the margin, leaning stops short by the stated standard error, as in correct_map.\n",
      request.most_passes);
}

}  // namespace

int main(int count, char** words) {
  request request;
  CLI::App app{"Passes of correction against known truth.", "passes_table"};
  app.add_option("--seeds", request.seeds, "how many engines")->check(CLI::PositiveNumber)->capture_default_str();
  app.add_option("--first", request.first, "seed of the first")->capture_default_str();
  app.add_option("--physics", request.physics,
                 "none, film, pipes, lag, reversion, misfire, all; several with commas are one case")
      ->capture_default_str();
  app.add_option("--minutes", request.minutes, "length of a drive")
      ->check(CLI::Range(1.0, 60.0))
      ->capture_default_str();
  app.add_option("--passes", request.passes, "how many are shown")->check(CLI::Range(1, 20))->capture_default_str();
  app.add_option("--most-passes", request.most_passes, "how many are driven, to see when every cell is known")
      ->check(CLI::Range(1, 20))
      ->capture_default_str();
  app.add_flag("--every-seed", request.every_seed, "also a table for each engine");
  CLI11_PARSE(app, count, words);
  request.most_passes = (std::max)(request.passes, request.most_passes);
  try {
    run(request);
  } catch (const fettle::error& problem) {
    fmt::print(stderr, "passes_table: {}\n", problem.what());
    return 2;
  }
  return 0;
}
