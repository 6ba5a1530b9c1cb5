// SPDX-License-Identifier: MIT
// What comparisons of pulls are worth on virtual cars with known truth: how often 95 % intervals cover it, how often a gain
// is shown where there is none, whether the stated number of pulls shows a gain, inertia from gears, blips. Each line is
// one arrangement over many cars.
//
//   pulls_table --cars 1000
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "compare_pulls/comparison.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "inertia_bound.hpp"
#include "programs/blip_trial.hpp"
#include "virtual_engine/car.hpp"

namespace {

using namespace compare_pulls;
using virtual_engine::car_truth;

/// How a day is spent.
struct arrangement {
  const char* name = "";
  torque_source source = torque_source::dyno;
  std::size_t sets = 1, pulls = 1;   ///< sets of each kind, pulls in a set (in each gear)
  std::vector<std::size_t> gears{};  ///< on the road; 0: free revving
  bool is_inertia_known = true;
  bool is_efficiency_known = false;  ///< that of every gear; else one for all, as a session has it
  double gain = 0;
};

pull as_pull(const settings& settings, const fettle::log_table& log, const virtual_engine::test_conditions& now) {
  pull result{.file = "virtual"};
  result.time_s = *log.find("time_s");
  result.rpm = *log.find("rpm");
  const fettle::test_air<double> air{now.kpa, now.degc};
  result.air_factor = fettle::iso_1585_factor(air);
  if (settings.source == torque_source::dyno) {
    result.torque_nm = *log.find("torque_nm");
    return result;
  }
  if (log.find("speed_kmh") == nullptr) {
    result.is_free = true;
    return result;
  }
  result.way = now.is_out ? direction::out : direction::back;
  for (const double kmh : *log.find("speed_kmh")) result.speed_mps.push_back(kmh / 3.6);
  for (const double pct : *log.find("grade_pct")) result.rise.push_back(pct / 100);
  return result;
}

/// A car, its day, and what its owner knows of it.
class trial {
 public:
  trial(const arrangement& how, std::uint64_t seed)
      : how_{how}, truth_{car_truth::from_seed(seed), car_truth::from_seed(seed)}, day_{truth_[0], seed} {
    truth_[1].torque_factor = 1 + how.gain;
    truth_[1].body.turning.engine_kgm2 = 0.090;
    settings_.source = how.source;
    settings_.car = truth_[0].body;
    settings_.car.turning.engine_kgm2 = 0;
    for (std::size_t g = 1; g <= truth_[0].ratios.size(); ++g) {
      settings_.gears.push_back(truth_[0].gear(g));
      if (!how.is_efficiency_known) settings_.gears.back().efficiency = car_truth::mean_efficiency;
    }
    if (how.is_efficiency_known) settings_.efficiency_spread_pct = 0;
    for (std::size_t s = 0; s < 2; ++s)
      if (how.is_inertia_known) settings_.state[s].engine_kgm2 = truth_[s].body.turning.engine_kgm2;
  }

  /// Drives so many sets of each kind, in turn.
  void drive(std::size_t sets) {
    for (std::size_t i = 0; i < sets; ++i)
      for (std::size_t state = 0; state < 2; ++state) drive_set(state);
  }
  [[nodiscard]] comparison compared() {
    if (how_.source == torque_source::dyno) return compare(settings_, pulls_, {});
    std::vector<coast_down> runs;
    for (int i = 0; i < 6; ++i) {
      const auto now = day_.next();
      const auto log = virtual_engine::coast(truth_[0], now);
      auto& run =
          runs.emplace_back(coast_down{.file = "virtual", .way = now.is_out ? direction::out : direction::back});
      run.time_s = *log.find("time_s");
      for (const double kmh : *log.find("speed_kmh")) run.speed_mps.push_back(kmh / 3.6);
      for (const double pct : *log.find("grade_pct")) run.rise.push_back(pct / 100);
    }
    const coast_fit coasts(settings_, runs);
    return compare(settings_, pulls_, coasts.load(), &coasts);
  }
  /// The Cramer-Rao bound of the inertia's relative variance.
  [[nodiscard]] double least_inertia_variance(std::size_t state) const {
    const double least = pulls_table::least_inertia_error(
        truth_[state], {how_.gears, how_.sets * how_.pulls,
                        how_.is_efficiency_known ? 0 : car_truth::efficiency_spread / car_truth::mean_efficiency});
    return least * least;
  }
  [[nodiscard]] double engine_kgm2(std::size_t state) const { return truth_[state].body.turning.engine_kgm2; }

 private:
  void drive_set(std::size_t state) {
    day_.begin_set();
    const std::size_t set = settings_.state[state].sets++;
    auto gears = how_.gears;
    if (set % 2 == 1) std::reverse(gears.begin(), gears.end());
    if (how_.source == torque_source::dyno) gears = {0};
    for (const std::size_t gear : gears)
      for (std::size_t i = 0; i < how_.pulls; ++i) {
        const auto now = day_.next();
        const bool is_dyno = how_.source == torque_source::dyno;
        const auto log = is_dyno     ? virtual_engine::dyno_pull(truth_[state], now)
                         : gear == 0 ? virtual_engine::free_pull(truth_[state], now)
                                     : virtual_engine::road_pull(truth_[state], gear, now);
        pulls_.push_back(as_pull(settings_, log, now));
        pulls_.back().state = state;
        pulls_.back().set = set;
        pulls_.back().gear = gear;
      }
  }

  arrangement how_;
  std::array<car_truth, 2> truth_;
  virtual_engine::test_day day_;
  settings settings_{};
  std::vector<pull> pulls_{};
};

/// Counts over many cars.
struct tally {
  double runs = 0, covered = 0, shown = 0, squares = 0, width = 0, covered_points = 0, points = 0;
  double change_covered = 0, change_squares = 0, changes = 0;
  double inertia_covered = 0, inertia_squares = 0, inertia_close = 0, inertias = 0, inertia_sum = 0, least_squares = 0;

  void add(const trial& trial, const comparison& result, double truth) {
    ++runs;
    covered += std::abs(result.gain.value - truth) <= result.gain.half_width();
    shown += result.gain.low() > 0;
    squares += (result.gain.value - truth) * (result.gain.value - truth);
    width += result.gain.half_width();
    for (const auto& p : result.points) covered_points += std::abs(p.gain.value - truth) <= p.gain.half_width();
    points += static_cast<double>(result.points.size());
    if (result.inertia_change) {
      const double error = result.inertia_change->value - (trial.engine_kgm2(1) - trial.engine_kgm2(0));
      ++changes;
      change_covered += std::abs(error) <= result.inertia_change->half_width();
      change_squares += error * error / (trial.engine_kgm2(0) * trial.engine_kgm2(0));
    }
    for (std::size_t s = 0; s < 2; ++s) {
      if (!result.engine_kgm2[s]) continue;
      const double error = result.engine_kgm2[s]->value - trial.engine_kgm2(s), relative = error / trial.engine_kgm2(s);
      ++inertias;
      inertia_covered += std::abs(error) <= result.engine_kgm2[s]->half_width();
      inertia_squares += relative * relative;
      inertia_sum += relative;
      least_squares += trial.least_inertia_variance(s);
      inertia_close += std::abs(relative) < 0.03;
    }
  }
  void print(const arrangement& how) const {
    fmt::print(
        "{:38} {:2} sets, gain {:.0f} %, {} cars: coverage {:5.1f} % (by speed {:5.1f} %), gain shown {:5.1f} %, rms "
        "error {:.2f} %, half width {:.2f} %",
        how.name, how.sets, 100 * how.gain, runs, 100 * covered / runs, 100 * covered_points / points,
        100 * shown / runs, 100 * std::sqrt(squares / runs), 100 * width / runs);
    if (inertias > 0)
      fmt::print(
          "; inertia coverage {:5.1f} %, rms error {:.1f} % (least possible {:.1f} %), mean {:+.1f} %, within 3 % "
          "{:5.1f} %",
          100 * inertia_covered / inertias, 100 * std::sqrt(inertia_squares / inertias),
          100 * std::sqrt(least_squares / inertias), 100 * inertia_sum / inertias, 100 * inertia_close / inertias);
    if (changes > 0)
      fmt::print("; its change coverage {:5.1f} %, rms error {:.1f} % of it", 100 * change_covered / changes,
                 100 * std::sqrt(change_squares / changes));
    fmt::print("\n");
    std::fflush(stdout);
  }
};

void try_out(const arrangement& how, std::uint64_t cars) {
  tally sum;
  for (std::uint64_t seed = 1; seed <= cars; ++seed) {
    trial full(how, seed);
    full.drive(how.sets);
    sum.add(full, full.compared(), how.gain);
  }
  sum.print(how);
}

/// First a few sets; then as many as the program states are needed; then judged once.
void try_stated_number(arrangement how, std::uint64_t cars) {
  tally sum;
  std::vector<double> needed;
  for (std::uint64_t seed = 1; seed <= cars; ++seed) {
    trial pilot(how, seed);
    pilot.drive(how.sets);
    const std::size_t stated = pilot.compared().units_needed;
    if (stated == 0) continue;  // the program says that no number would do
    needed.push_back(static_cast<double>(stated));
    trial full(how, 10000 + seed);
    full.drive(std::max<std::size_t>(stated, 2));
    sum.add(full, full.compared(), how.gain);
  }
  if (needed.empty()) {
    fmt::print("{}: no number of sets is stated for any of {} cars\n", how.name, cars);
    return;
  }
  std::nth_element(needed.begin(), needed.begin() + static_cast<std::ptrdiff_t>(needed.size() / 2), needed.end());
  fmt::print("stated by {} sets each: median {:g} sets each\n", how.sets, needed[needed.size() / 2]);
  sum.print(how);
}

/// How far blips end from their speed: the planner's map is exact at its breakpoints, times a factor.
void try_blips(double map_factor, std::uint64_t cars) {
  double sum = 0, largest = 0;
  for (std::uint64_t seed = 1; seed <= cars; ++seed) {
    const double error = blip_trial::largest_error(seed, map_factor);
    sum += error;
    largest = (std::max)(largest, error);
  }
  fmt::print("blips, torque map times {:g}, {} cars: largest error of the speed {:.2f} %, mean over cars {:.2f} %\n",
             map_factor, cars, 100 * largest, 100 * sum / static_cast<double>(cars));
}

}  // namespace

int main(int count, char** words) {
  CLI::App app{"What comparisons of pulls are worth on virtual cars"};
  std::uint64_t cars = 200;
  std::string only;
  app.add_option("--cars", cars, "virtual cars per line")->capture_default_str();
  app.add_option("--only", only, "only lines whose name holds this text");
  CLI11_PARSE(app, count, words);
  const auto is_wanted = [&](const arrangement& how) {
    return std::string_view(how.name).find(only) != std::string::npos;
  };
  const std::vector<std::size_t> third{3}, three{1, 2, 4}, three_and_free{1, 2, 4, 0};
  for (const double gain : {0.0, 0.01}) {
    const arrangement in_turn{.name = "dyno, pulls in turn", .sets = 5, .gain = gain},
        on_road{.name = "road, third gear, sets of 2",
                .source = torque_source::road,
                .sets = 4,
                .pulls = 2,
                .gears = third,
                .gain = gain};
    for (const arrangement& how : {in_turn,
                                   {.name = "dyno, sets of 3", .sets = 3, .pulls = 3, .gain = gain},
                                   {.name = "dyno, one set of 6", .sets = 1, .pulls = 6, .gain = gain},
                                   on_road})
      if (is_wanted(how)) try_out(how, cars);
    for (auto [how, name] :
         {std::pair{in_turn, "dyno, pulls in turn, as stated"}, {on_road, "road, third gear, as stated"}}) {
      how.name = name;
      if (is_wanted(how)) try_stated_number(how, cars);
    }
  }
  if (std::string_view("blips").find(only) != std::string_view::npos)
    for (const double map_factor : {1.0, 0.9, 1.1}) try_blips(map_factor, cars / 4);
  for (const std::size_t sets : {2U, 4U, 8U, 16U})
    for (const auto& [name, gears, is_known] : {std::tuple{"road, three gears", three, false},
                                                {"road, three gears, efficiencies known", three, true},
                                                {"road, three gears and free revving", three_and_free, false}}) {
      const arrangement how{.name = name,
                            .source = torque_source::road,
                            .sets = sets,
                            .pulls = 2,
                            .gears = gears,
                            .is_inertia_known = false,
                            .is_efficiency_known = is_known};
      if (is_wanted(how)) try_out(how, (std::max)(2 * cars / sets, std::uint64_t{10}));
    }
}
