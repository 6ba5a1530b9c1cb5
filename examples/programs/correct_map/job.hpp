// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "common/session/cell_name.hpp"
#include "common/session/cells_by.hpp"
#include "common/session/check_units.hpp"
#include "common/session/judge_scatter.hpp"
#include "common/session/read_all_logs.hpp"
#include "common/session/read_fuel_map.hpp"
#include "common/session/recording.hpp"
#include "common/session/require_axes.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/dynamic_stencil.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace correct_map {

/// What a run may do beyond what its session says.
struct run_options {
  session::path_trust trust = session::path_trust::prior;
  fettle::undriven_cells undriven = fettle::undriven_cells::follow_if_surely_lean;
  bool writes_anyway = false;  ///< a map that must not be loaded is written all the same
  std::size_t threads = 1;     ///< that share the work
  std::size_t visits = 60;     ///< points of the plan of the next drive; some ten minutes
};

/// Everything that one run found; what terminal, files and report are made from.
struct outcome {
  session::session session;
  run_options options;
  fettle::map_file base;
  fettle::identification identified;
  std::vector<fettle::cell_evidence> evidence;  ///< per cell of the map, as the decision saw it
  fettle::decision_limits limits;
  fettle::decision decided;
  std::vector<double> corrected;                ///< per cell: the new value, as it is written
  std::vector<fettle::forecast> forecasts;      ///< one per log, of the first sensor fitted in it
  std::vector<double> usage;                    ///< per cell: what the plan goes by
  std::vector<fettle::drive_leg> plan;          ///< where to drive next
  std::vector<fettle::lean_place> lean_places;  ///< where readings stay over 3 % lean between the breakpoints
  std::vector<std::string> lean_stays;          ///< sensors that stood at their lean end
  std::vector<std::size_t> unseen_cylinders;    ///< whose exhaust passes no sensor
  std::vector<std::string> objections;          ///< why the map must not be loaded; empty: it may
  std::vector<std::string> remarks;             ///< what could not be identified, and what to do about it
  std::size_t rows = 0;
  double minutes = 0;

  /// Root mean square over all logs of one series of the forecasts.
  [[nodiscard]] double rms_of(std::vector<double> fettle::forecast::*series) const {
    double squares = 0, count = 0;
    for (const auto& log : forecasts) {
      const double size = static_cast<double>((log.*series).size()), root = fettle::rms(log.*series);
      squares += size * root * root;
      count += size;
    }
    return count > 0 ? std::sqrt(squares / count) : 0;
  }
  [[nodiscard]] std::size_t count(fettle::cell_state which) const { return decided.cells(which).size(); }
  /// Fuel that a cell needs over what it has, in percent.
  [[nodiscard]] double needs_pct(std::size_t cell) const { return 100 * (evidence[cell].correction - 1); }
  /// Fuel that it gets, in percent of what it has.
  [[nodiscard]] double gets_pct(std::size_t cell) const { return 100 * (decided.applied[cell] - 1); }
  /// Fuel that it still needs with the new map, in percent of that; above 0 it is lean.
  [[nodiscard]] double left_pct(std::size_t cell) const {
    return 100 * (evidence[cell].correction / decided.applied[cell] - 1);
  }
  [[nodiscard]] double error_pct(std::size_t cell) const { return 100 * evidence[cell].standard_error; }
  /// Whether a driven cell reads lean with the new map, but had so little exhaust flow that it need not be.
  [[nodiscard]] bool reads_lean_at_little_flow() const {
    for (std::size_t k = 0; k < evidence.size(); ++k)
      if (evidence[k].passes > 0 && evidence[k].false_lean > 0 && !stays_lean(k) &&
          evidence[k].correction > decided.applied[k] * (1 + limits.lean_tolerance))
        return true;
    return false;
  }
  [[nodiscard]] bool stays_lean(std::size_t cell) const {
    return decided.state[cell] == fettle::cell_state::still_lean;
  }
  /// Cells that need more than they got, the leanest first.
  [[nodiscard]] std::vector<std::size_t> lean_cells() const {
    return session::cells_by(
        evidence.size(), [&](std::size_t k) { return stays_lean(k); }, [&](std::size_t k) { return left_pct(k); });
  }
  /// How many driven cells may be expected to be left leaner than this, as a fraction, by the estimate and its errors.
  [[nodiscard]] double expected_lean(double leaner_than) const {
    double sum = 0;
    for (std::size_t k = 0; k < evidence.size(); ++k)
      if (evidence[k].passes > 0) sum += chance_of_lean(k, leaner_than);
    return sum;
  }
  [[nodiscard]] double chance_of_lean(std::size_t cell, double leaner_than) const {
    const auto& known = evidence[cell];
    const double left = std::log(known.correction / decided.applied[cell]) - std::log1p(leaner_than);
    return 0.5 * std::erfc(-left / (std::hypot(known.standard_error, known.common_error) * std::sqrt(2.0)));
  }
  [[nodiscard]] std::size_t driven_cells() const {
    return static_cast<std::size_t>(
        std::count_if(evidence.begin(), evidence.end(), [](const auto& cell) { return cell.passes > 0; }));
  }
  [[nodiscard]] std::size_t changed_cells() const {
    return static_cast<std::size_t>(
        std::count_if(decided.applied.begin(), decided.applied.end(), [](double x) { return x != 1; }));
  }
  [[nodiscard]] bool writes_map() const { return objections.empty() || options.writes_anyway; }
  /// 3: the map must not be loaded.
  [[nodiscard]] int exit_code() const { return objections.empty() ? 0 : 3; }
};

/// Lambda over target, less 1, from which on a place where the readings stay lean is called out.
inline constexpr double lean_place_error = 0.03;

/// A corrected value with four decimals, rounded towards the one before: an untouched cell stays as it was to the last
/// digit, and no rounding passes the limit that the decision kept.
[[nodiscard]] inline double rounded_towards(double before, double value) {
  constexpr double scale = 1e4;
  const double rounded = (value < before ? std::ceil(value * scale) : std::floor(value * scale)) / scale;
  const auto [least, most] = std::minmax(before, value);
  return std::clamp(rounded, least, most);
}

using session::stage_progress;

namespace detail {

[[nodiscard]] inline fettle::screening screening_of(const session::session& asked) {
  fettle::screening limits{.coldest_degc = asked.coldest_degc};
  const bool films_known =
      std::all_of(asked.banks.begin(), asked.banks.end(), [](const auto& bank) { return bank.film_share > 0; });
  if (!films_known) {  // without a wall film in the model, what follows a cut or a quick foot would be blamed on the
                       // map
    limits.after_cut_s = 1;
    limits.fastest_throttle_pct_s = 50;
    limits.after_transient_s = 1;
  }
  return limits;
}

[[nodiscard]] inline std::string rejections_in_words(const fettle::rejection_counts& counts) {
  std::string words;
  for (std::size_t k = 1; k < fettle::rejection_kinds; ++k) {
    const auto why = static_cast<fettle::rejection>(k);
    if (counts[why] > 0)
      words += fmt::format("{}{}: {}", words.empty() ? "" : ", ", fettle::describe(why), counts[why]);
  }
  return words;
}

inline void refuse_unusable(const outcome& result) {
  std::size_t counting = 0;
  std::string words;
  for (std::size_t s = 0; s < result.identified.rejected.size(); ++s) {
    counting += result.identified.rejected[s][fettle::rejection::none];
    words += fmt::format("; sensor {}: {}", result.session.sensors[s].name,
                         rejections_in_words(result.identified.rejected[s]));
  }
  if (counting > 0) return;
  throw fettle::error(
      fmt::format("{}: no reading counts{}. A usable log has a warm engine, fuel, a sensor within its range "
                  "and operating points on the map",
                  fettle::path_text(result.session.log_paths.front()), words));
}

/// What a log calls lambda is lambda, and it counts as the map's axes do; the latter may be wrong of an engine that only
/// idled.
inline void require_lambda_and_units(const session::session& during_log, const fettle::map_file& base,
                                     const fettle::log_table& log, const std::string& name, const run_options& how) {
  session::refuse_air_fuel_ratio(during_log, log, name);
  if (!how.writes_anyway) session::refuse_hundredths(base, log, name);
}

/// The sensor whose readings a log's forecast is about; where none is fitted, the first, which has none.
[[nodiscard]] inline std::size_t first_fitted(const session::session& during_log) {
  const auto sensor = std::find_if(during_log.sensors.begin(), during_log.sensors.end(),
                                   [](const auto& each) { return each.is_fitted; });
  return sensor == during_log.sensors.end() ? 0 : static_cast<std::size_t>(sensor - during_log.sensors.begin());
}

/// How much the car is used at each cell, from the session's own map of it.
[[nodiscard]] inline std::vector<double> read_usage(const session::session& asked, const fettle::map_file& base) {
  const fettle::map_file usage = fettle::read_map_csv(asked.usage_map_path);
  const auto refuse = [&](const std::string& what) {
    throw fettle::error(fmt::format("{}: {}", fettle::path_text(asked.usage_map_path), what));
  };
  session::require_axes(asked.usage_map_path, usage, base, "the map");
  const auto values = usage.table.values();
  for (std::size_t k = 0; k < values.size(); ++k)
    if (!(values[k] >= 0))
      refuse(fmt::format("cell {} holds {}, expected 0 or more: how much the car is used there",
                         session::cell_name(usage, k), values[k]));
  if (std::all_of(values.begin(), values.end(), [](double x) { return x == 0; }))
    refuse("every cell holds 0, so there is nowhere to drive; expected a cell above 0");
  return {values.begin(), values.end()};
}

/// Unit of a parameter of the dynamics, by its name; empty: a number or a fraction.
[[nodiscard]] inline std::string unit_of(const std::string& parameter) {
  if (parameter.starts_with("film time") || parameter.starts_with("lag") || parameter.starts_with("latency"))
    return "s";
  return parameter.starts_with("pipe gas mass") ? "g" : "";
}

/// A value of a parameter with its unit.
[[nodiscard]] inline std::string with_unit(const std::string& parameter, double value) {
  const std::string unit = unit_of(parameter);
  return fmt::format("{:.4g}{}{}", value, unit.empty() ? "" : " ", unit);
}

/// The cell of a leg that stays leanest with the corrected map loaded. Cells never visited count by what their
/// neighbours say.
[[nodiscard]] inline std::size_t leanest_cell(const outcome& result, const fettle::drive_leg& leg) {
  std::size_t leanest = result.base.table.size();
  for (std::size_t k = 0; k < result.base.table.size(); ++k) {
    const auto at = fettle::cell_coordinates(result.base.table.axes(), k);
    bool on_leg = true;
    for (std::size_t a = 0; a < at.size(); ++a) on_leg = on_leg && at[a] >= leg.from[a] && at[a] <= leg.to[a];
    if (on_leg && (leanest == result.base.table.size() || result.left_pct(k) > result.left_pct(leanest))) leanest = k;
  }
  return leanest;
}

/// A leg of the plan as its driver reads it: "rpm 3000 to 4500, throttle_pct 20".
[[nodiscard]] inline std::string where_to_drive(const fettle::drive_leg& leg,
                                                const std::vector<std::string>& axis_names) {
  std::string words;
  for (std::size_t a = 0; a < axis_names.size(); ++a) {
    words += fmt::format("{}{} {:g}", a == 0 ? "" : ", ", axis_names[a], leg.from[a]);
    if (leg.to[a] != leg.from[a]) words += fmt::format(" to {:g}", leg.to[a]);
  }
  return words;
}

/// Calls out the cells whose readings ask for more fuel, but were of little flow, which may read as lean by itself.
inline void add_low_flow_remark(outcome& result) {
  std::size_t count = 0, worst = 0;
  double most = 0;
  for (std::size_t k = 0; k < result.evidence.size(); ++k) {
    const double more = result.evidence[k].correction - 1;
    if (!(result.evidence[k].false_lean > 0 && result.evidence[k].passes > 0 && more > result.limits.lean_tolerance))
      continue;
    ++count;
    if (more > most) most = more, worst = k;
  }
  if (count == 0) return;
  result.remarks.push_back(fmt::format(
      "readings at little exhaust flow ask for more fuel in {} cell{}, up to {:.1f} % at {}; outside air that reaches "
      "the sensor there reads as lean, so up to {:.0f} % was not followed: judge by how the engine runs",
      count, count == 1 ? "" : "s", 100 * most, session::cell_name(result.base, worst), 100 * fettle::false_lean(0)));
}

/// Calls out banks that surely deliver something else than their description says.
inline void add_flow_remarks(outcome& result) {
  const auto& banks = result.session.banks;
  for (std::size_t b = 0; b < banks.size(); ++b)
    for (const auto& parameter : result.identified.parameters) {
      const double more = parameter.value - 1;
      if (parameter.prior.name != result.identified.with.banks[b].flow.name ||
          std::abs(more) < 2 * parameter.relative_error)
        continue;
      result.remarks.push_back(
          fmt::format("bank {} delivers {:.1f} % {} than its description, to within {:.1f} %; the corrected map allows "
                      "for that with the share map as it is; before the shares change, put flow_mg_ms {:.4g} into "
                      "session and controller, and correct the map again",
                      banks[b].name, 100 * std::abs(more), more > 0 ? "more" : "less", 200 * parameter.relative_error,
                      banks[b].flow_mg_ms * parameter.value));
    }
}

/// Calls out sensors and logs that say otherwise than the rest, by more than sensors and weather differ.
inline void add_contradictions(outcome& result) {
  constexpr double unusual = 2, contradicts = 3.5;  // prior standard deviations
  const auto call_out = [&](const std::string& name, double level, double spread, double deviations) {
    if (deviations < unusual) return;
    (deviations < contradicts ? result.remarks : result.objections)
        .push_back(
            fmt::format("{} reads {:.1f} % {} than the rest, where {:g} % is usual: a sensor, fuel, air columns or "
                        "loaded map that is not as described",
                        name, 100 * std::abs(level - 1), level > 1 ? "richer" : "leaner", 100 * spread));
  };
  for (const auto& gain : result.identified.gains)
    call_out(gain.prior.name.substr(gain.prior.name.find(", ") + 2).insert(0, "sensor "), gain.value / gain.prior.value,
             gain.prior.spread, gain.deviations());
  for (const auto& log : result.identified.log_levels)
    call_out("log " + log.name, log.level, log.spread, log.deviations());
}

/// Cylinders, counted from 1, whose exhaust passes no sensor in any log.
[[nodiscard]] inline std::vector<std::size_t> unseen_cylinders(const std::vector<fettle::recording>& logs) {
  std::vector<bool> seen(static_cast<std::size_t>(logs.front().cylinders), false);
  for (const auto& log : logs)
    for (const auto& sensor : log.sensors) {
      if (std::all_of(sensor.lambda.begin(), sensor.lambda.end(), [](double x) { return std::isnan(x); })) continue;
      if (sensor.cylinders.empty()) return {};
      for (const std::size_t cylinder : sensor.cylinders) seen[cylinder - 1] = true;
    }
  std::vector<std::size_t> result;
  for (std::size_t i = 0; i < seen.size(); ++i)
    if (!seen[i]) result.push_back(i + 1);
  return result;
}

/// Whether a cell around a place is called lean already, or had so little exhaust flow that it need not be.
[[nodiscard]] inline bool is_explained(const outcome& result, const fettle::lean_place& place) {
  const auto around = fettle::stencil_at(result.base.table.axes(), std::span<const double>(place.at));
  for (std::size_t k = 0; k < around.size; ++k)
    if (result.stays_lean(around.cell[k]) || result.evidence[around.cell[k]].false_lean > 0) return true;
  return false;
}

/// Errors: `fettle::error` naming two logs that hold the same readings: what was measured once counts once.
inline void refuse_copies(const std::vector<fettle::recording>& logs) {
  for (std::size_t i = 0; i < logs.size(); ++i)
    for (std::size_t j = 0; j < i; ++j) {
      bool same = logs[i].speed_rpm == logs[j].speed_rpm && logs[i].sensors.size() == logs[j].sensors.size();
      for (std::size_t s = 0; same && s < logs[i].sensors.size(); ++s)
        same =
            std::equal(logs[i].sensors[s].lambda.begin(), logs[i].sensors[s].lambda.end(),
                       logs[j].sensors[s].lambda.begin(), logs[j].sensors[s].lambda.end(),
                       [](double one, double other) { return one == other || (std::isnan(one) && std::isnan(other)); });
      if (same && logs[i].rows() > 1)
        throw fettle::error(
            fmt::format("{} and {} hold the same readings; name each log once", logs[j].name, logs[i].name));
    }
}

inline void add_remarks(outcome& result) {
  for (const auto& parameter : result.identified.parameters) {
    const bool is_flow =
        parameter.prior.name.starts_with("flow");  // else its description stands, as without these logs
    if (parameter.identified_share < 0.5 && !is_flow)
      result.remarks.push_back(fmt::format(
          "{} could not be identified from these logs and stays near the session's {}; {}", parameter.prior.name,
          with_unit(parameter.prior.name, parameter.prior.value),
          parameter.prior.name.starts_with("film")
              ? "to identify it, open and close the throttle quickly at steady speeds where this bank injects"
              : "to identify it, drive quick throttle changes at low and at high speed"));
    const bool at_bound =
        parameter.value <= parameter.prior.lowest * 1.001 || parameter.value >= parameter.prior.highest * 0.999;
    if (at_bound)
      result.remarks.push_back(
          fmt::format("{} ended at its bound {}: the logs contradict the model here; check columns, "
                      "banks and sensor before trusting this map",
                      parameter.prior.name, with_unit(parameter.prior.name, parameter.value)));
  }
  for (const auto& pair : result.identified.correlated)
    result.remarks.push_back(
        fmt::format("{} and {} move together in these logs (correlation {:.2f}): their joint effect is "
                    "identified, each alone is not",
                    pair.one, pair.other, pair.correlation));
  const auto scatter = session::judge_scatter(result.session, result.identified);
  result.objections.insert(result.objections.end(), scatter.objections.begin(), scatter.objections.end());
  result.remarks.insert(result.remarks.end(), scatter.remarks.begin(), scatter.remarks.end());
  if (!result.identified.settled)
    result.remarks.push_back(fmt::format("the search still moved after {} rounds: treat this result as a first pass",
                                         result.identified.rounds));
}

}  // namespace detail

/// Reads the map and the logs of a session, and finds the corrected map.
///
/// Errors: `fettle::error` with one message that names the file and place; nothing is written here.
[[nodiscard]] inline outcome run(session::session asked, const run_options& how, const stage_progress& progress) {
  fettle::map_file base = session::read_fuel_map(asked);
  std::vector<double> usage = asked.usage_map_path.empty() ? std::vector<double>{} : detail::read_usage(asked, base);
  session::all_logs read =
      session::read_all_logs(asked, base, progress, [&](const auto& during_log, const auto& log, const auto& name) {
        detail::require_lambda_and_units(during_log, base, log, name, how);
      });
  const auto& logs = read.parts;
  detail::refuse_copies(logs);
  const fettle::identify_options options{.screen = detail::screening_of(asked), .threads = how.threads};
  // [correction]
  const auto identified = fettle::identify(logs, base.table, session::make_dynamics(asked, how.trust), options,
                                           [&](double fraction) { progress("fitting", fraction); });
  const auto evidence = fettle::evidence_of(identified);
  const fettle::decision_limits limits{
      .richer = asked.richer_pct / 100, .leaner = asked.leaner_pct / 100, .undriven = how.undriven};
  const auto decided = fettle::decide(evidence, limits);
  // [/correction]
  if (usage.empty()) usage = fettle::usage_of(identified.seconds);
  outcome result{.session = std::move(asked),
                 .options = how,
                 .base = base,
                 .identified = identified,
                 .evidence = evidence,
                 .limits = limits,
                 .decided = decided,
                 .corrected = {},
                 .forecasts = {},
                 .usage = std::move(usage),
                 .plan = {},
                 .lean_places = {},
                 .lean_stays = std::move(read.dangers),
                 .unseen_cylinders = {},
                 .objections = {},
                 .remarks = std::move(read.remarks),
                 .rows = read.rows,
                 .minutes = read.minutes};
  for (std::size_t k = 0; k < base.table.size(); ++k)
    result.corrected.push_back(rounded_towards(base.table.values()[k], base.table.values()[k] * decided.applied[k]));
  detail::refuse_unusable(result);
  detail::add_remarks(result);
  detail::add_contradictions(result);
  detail::add_flow_remarks(result);
  detail::add_low_flow_remark(result);
  result.forecasts.resize(result.session.log_paths.size());
  for (std::size_t i = 0; i < logs.size(); ++i) {
    const std::size_t log = read.log_of_part[i];
    const std::size_t sensor = detail::first_fitted(result.session.during(log));
    result.forecasts[log].append(
        fettle::predict_errors(logs[i], base.table, sensor, identified, result.decided.applied, options.screen));
  }
  result.lean_places = fettle::lean_places(result.forecasts, base.table, lean_place_error);
  std::erase_if(result.lean_places, [&](const auto& place) { return detail::is_explained(result, place); });
  result.unseen_cylinders = detail::unseen_cylinders(logs);
  result.plan = fettle::drive_plan(
      base.table, fettle::next_visits(base.table, identified.covariance, result.usage, {.count = how.visits}));
  return result;
}

}  // namespace correct_map
