// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "stage_banks/controller.hpp"
#include "virtual_engine/drive.hpp"
#include "virtual_engine/simulate.hpp"

namespace stage_banks {

/// Up through the region where the second bank comes in, and down again.
struct passage {
  std::string name;
  virtual_engine::drive world;
  double turns_at_s = 0;  ///< before: on the way up and after it; from then on: down
};

/// One end of a passage.
struct passage_end {
  double rpm, throttle_pct;
};

/// Battery voltage of all passages.
inline constexpr double driven_battery_v = 13.7;

/// @param seconds  one way; the engine stays at each end until the films have settled.
[[nodiscard]] inline passage up_and_down(std::string name, passage_end low, passage_end high, double seconds) {
  constexpr double rest_s = 6;
  passage result{.name = std::move(name), .world = {.name = "staging", .points = {}}};
  double time_s = 0;
  const auto go = [&](double in_s, passage_end to) {
    result.world.points.push_back(
        {.time_s = time_s += in_s, .rpm = to.rpm, .throttle_pct = to.throttle_pct, .battery_v = driven_battery_v});
  };
  go(0, low);
  go(1, low);
  go(seconds, high);
  go(rest_s, high);
  result.turns_at_s = time_s;
  go(seconds, low);
  go(rest_s, low);
  return result;
}

inline constexpr std::array passage_names{"throttle, slow", "throttle, quick", "speed, slow", "speed, quick"};

/// Slow and quick passages by throttle and by speed through a plan.
///
/// Those by throttle are driven at the lowest breakpoint of speed where full throttle asks for more than 0.6 of the
/// largest share, those by speed at full throttle.
[[nodiscard]] inline std::vector<passage> passages_through(const share_plan& plan, double slowest_rpm) {
  const auto& speeds = plan.map.axes[0];
  const double top_rpm = std::min(8500.0, speeds.points[speeds.size - 1]);
  double rpm = top_rpm;
  for (std::size_t i = speeds.size; i-- > 0;)
    if (fettle::interpolate(plan.map, speeds.points[i], 100.0) > 0.6 * plan.largest)
      rpm = std::min(rpm, speeds.points[i]);
  const double guard_pct = fettle::interpolate(plan.throttle_guard, rpm);
  const passage_end shut{rpm, std::max(5.0, guard_pct - 10)}, open{rpm, 100};
  const passage_end low{std::max(1500.0, std::min(slowest_rpm, top_rpm) - 1000), 100}, high{top_rpm, 100};
  constexpr double slow_pct_per_s = 4;
  return {up_and_down(passage_names[0], shut, open, (open.throttle_pct - shut.throttle_pct) / slow_pct_per_s),
          up_and_down(passage_names[1], shut, open, 0.25), up_and_down(passage_names[2], low, high, 24),
          up_and_down(passage_names[3], low, high, 3)};
}

/// What lambda did in one passage, once a millisecond.
struct trace {
  std::vector<double> time_s, rpm, throttle_pct, primary_ms, secondary_ms;
  std::vector<double> lambda;  ///< of the mixture made in the cylinders: reciprocal of their air-weighted mean phi
  std::vector<double> target;
};

/// All that a trace has, or lambda and its target alone.
enum class traced { all, lambda };

[[nodiscard]] inline trace drive_through(const virtual_engine::engine& e, staged_controller controller,
                                         const passage& through, traced what = traced::all) {
  std::vector<std::string> columns{"lambda_target", "phi_collector"};
  if (what == traced::all)
    columns.insert(columns.end(), {"time_s", "rpm", "throttle_pct", "pulse_primary_ms", "pulse_secondary_ms"});
  auto run =
      virtual_engine::simulate(e, controller, through.world,
                               {.rate_hz = 1000, .noise = false, .keep_truth = true, .columns = std::move(columns)});
  const auto take = [](fettle::log_table& log, std::string_view name) {
    const auto at = static_cast<std::size_t>(std::find(log.names.begin(), log.names.end(), name) - log.names.begin());
    return at < log.columns.size() ? std::move(log.columns[at]) : std::vector<double>{};
  };
  trace result{.time_s = take(run.log, "time_s"),
               .rpm = take(run.log, "rpm"),
               .throttle_pct = take(run.log, "throttle_pct"),
               .primary_ms = take(run.log, "pulse_primary_ms"),
               .secondary_ms = take(run.log, "pulse_secondary_ms"),
               .lambda = take(run.truth, "phi_collector"),
               .target = take(run.log, "lambda_target")};
  for (double& phi : result.lambda) phi = 1 / phi;
  return result;
}

/// Banks that are never too small nor too large; their films stay.
[[nodiscard]] inline bank_pair made_ideal(bank_pair banks) {
  for (auto& bank : banks) {
    bank.flow_mg_ms *= 3;
    bank.dead_time_ms.fill(0);
    bank.smallest_pulse_ms = 1e-6;
    bank.largest_duty = 1;
  }
  return banks;
}

/// The reference: the same passage with one ideal bank, its film compensated with the same values as in the strategy that
/// is compared with it.
///
/// Lambda over this lambda is what staging does; what throttle and speed do to a film without staging is in both.
[[nodiscard]] inline trace drive_with_one_ideal_bank(virtual_engine::engine e, const bank_pair& assumed,
                                                     const share_plan& plan, bool compensates, const passage& through) {
  e.bank = made_ideal(e.bank);
  return drive_through(e, {e, made_ideal(assumed), plan, strategy::single_bank, compensates}, through, traced::lambda);
}

/// The same passage without staging: two ideal banks whose split stays at the largest share of the plan, compensated. What remains is load passing over the film of the second bank.
[[nodiscard]] inline trace drive_with_constant_split(virtual_engine::engine e, const bank_pair& assumed,
                                                     const share_plan& plan, const passage& through) {
  constexpr std::array anywhere{0.0, 1e6}, no_guard{0.0, 0.0};
  const std::array shares{plan.largest, plan.largest, plan.largest, plan.largest};
  const fettle::axis_view<double> axis{anywhere.data(), anywhere.size()};
  e.bank = made_ideal(e.bank);
  const share_plan constant{.map = {.axes = {axis, axis}, .values = shares.data()},
                            .throttle_guard = {.axes = {axis}, .values = no_guard.data()},
                            .largest = plan.largest,
                            .fastest_per_s = std::numeric_limits<double>::infinity()};
  return drive_through(e, {e, made_ideal(assumed), constant, strategy::compensated}, through, traced::lambda);
}

/// One lambda over another, less one.
[[nodiscard]] inline std::vector<double> excursion(const std::vector<double>& lambda,
                                                   const std::vector<double>& against) {
  std::vector<double> result(lambda.size());
  for (std::size_t i = 0; i < lambda.size(); ++i) result[i] = lambda[i] / against[i] - 1;
  return result;
}

/// Largest and root mean square size of an excursion, on the way up and on the way down.
struct excursion_size {
  std::array<double, 2> largest{}, rms{};
  std::array<double, 2> leanest{};  ///< largest above 0

  [[nodiscard]] double worst() const { return std::max(largest[0], largest[1]); }
  /// Is the largest one lean?
  [[nodiscard]] bool is_lean(std::size_t way) const { return leanest[way] == largest[way]; }
  /// The larger of both, each way on its own.
  void widen(const excursion_size& other) {
    for (std::size_t way = 0; way < 2; ++way) {
      largest[way] = std::max(largest[way], other.largest[way]);
      leanest[way] = std::max(leanest[way], other.leanest[way]);
      rms[way] = std::max(rms[way], other.rms[way]);
    }
  }
};

[[nodiscard]] inline excursion_size size_of(const std::vector<double>& excursion, const passage& driven) {
  excursion_size result;
  std::array<double, 2> count{};
  for (std::size_t i = 0; i < excursion.size(); ++i) {
    const std::size_t way = static_cast<double>(i) * 0.001 < driven.turns_at_s ? 0 : 1;
    result.largest[way] = std::max(result.largest[way], std::abs(excursion[i]));
    result.leanest[way] = std::max(result.leanest[way], excursion[i]);
    result.rms[way] += excursion[i] * excursion[i];
    count[way] += 1;
  }
  for (std::size_t way = 0; way < 2; ++way) result.rms[way] = std::sqrt(result.rms[way] / count[way]);
  return result;
}

/// What lambda does in a compensated passage, and how much of it is the work of staging.
struct lambda_parts {
  excursion_size total{};    ///< lambda over its target, less one
  excursion_size single{};   ///< the same of one ideal bank, as well known
  excursion_size staging{};  ///< lambda over that of the one ideal bank, less one

  void widen(const lambda_parts& other) {
    total.widen(other.total);
    single.widen(other.single);
    staging.widen(other.staging);
  }
};

/// @param ideal  the same passage with one ideal bank.
[[nodiscard]] inline lambda_parts parts_of(const trace& made, const trace& ideal, const passage& through) {
  return {.total = size_of(excursion(made.lambda, made.target), through),
          .single = size_of(excursion(ideal.lambda, ideal.target), through),
          .staging = size_of(excursion(made.lambda, ideal.lambda), through)};
}

/// How wrong film values are: in the same direction for both banks, or in the worst of all directions.
enum class film_errors { same_way, any_way };
/// Staged by the plan, or split in constant shares all the time.
enum class share_use { staged, constant };

/// What a compensation does whose film shares and times are each wrong by a fraction; what it has driven once it remembers.
class wrong_films {
 public:
  wrong_films(const virtual_engine::engine& e, const bank_pair& assumed, const share_plan& plan, const passage& through,
              double wrong)
      : engine_{e}, assumed_{assumed}, plan_{plan}, through_{through}, wrong_{wrong} {}

  /// The worst of all these errors.
  [[nodiscard]] lambda_parts worst(film_errors which, share_use use = share_use::staged) {
    lambda_parts result;
    for (unsigned signs = 0; signs < staged_.size(); ++signs) {
      if (which == film_errors::same_way && (signs & 3U) != signs >> 2U) continue;
      result.widen(
          use == share_use::staged
              ? staged(signs)
              : parts_of(drive_with_constant_split(engine_, guess(signs), plan_, through_), ideal(signs), through_));
      if (wrong_ == 0) break;
    }
    return result;
  }

 private:
  /// @param signs  a bit each for share and time of the primary bank, then of the secondary: too large.
  [[nodiscard]] bank_pair guess(unsigned signs) const {
    bank_pair result = assumed_;
    for (std::size_t b = 0; b < result.size(); ++b) {
      const unsigned of_bank = signs >> (2 * b);
      result[b].film = engine_.bank[b].film;
      result[b].film.share *= (of_bank & 1U) != 0 ? 1 + wrong_ : 1 - wrong_;
      result[b].film.time_s *= (of_bank & 2U) != 0 ? 1 + wrong_ : 1 - wrong_;
    }
    return result;
  }
  [[nodiscard]] const trace& ideal(unsigned signs) {
    auto& kept = ideal_[signs & 3U];  // one bank: the film of the secondary plays no part
    if (!kept) kept = drive_with_one_ideal_bank(engine_, guess(signs), plan_, true, through_);
    return *kept;
  }
  [[nodiscard]] const lambda_parts& staged(unsigned signs) {
    auto& kept = staged_[signs];
    if (!kept)
      kept = parts_of(
          drive_through(engine_, {engine_, guess(signs), plan_, strategy::compensated}, through_, traced::lambda),
          ideal(signs), through_);
    return *kept;
  }

  const virtual_engine::engine& engine_;
  const bank_pair& assumed_;
  const share_plan& plan_;
  const passage& through_;
  double wrong_;
  std::array<std::optional<trace>, 4> ideal_{};
  std::array<std::optional<lambda_parts>, 16> staged_{};
};

}  // namespace stage_banks
