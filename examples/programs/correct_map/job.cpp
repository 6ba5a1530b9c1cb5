// SPDX-License-Identifier: MIT
#include "correct_map/job.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

namespace correct_map {

double rounded_towards(double before, double value) {
  constexpr double scale = 1e4;
  const double rounded = (value < before ? std::ceil(value * scale) : std::floor(value * scale)) / scale;
  const auto [least, most] = std::minmax(before, value);
  return std::clamp(rounded, least, most);
}

std::string rejections_in_words(const fettle::rejection_counts& counts) {
  std::string words;
  for (std::size_t k = 1; k < fettle::rejection_kinds; ++k) {
    const auto why = static_cast<fettle::rejection>(k);
    if (counts[why] > 0)
      words += fmt::format("{}{}: {}", words.empty() ? "" : ", ", fettle::describe(why), counts[why]);
  }
  return words;
}

namespace {

[[nodiscard]] fettle::screening screening_of(const session::session& session) {
  fettle::screening limits{.coldest_degc = session.coldest_degc};
  const bool films_known =
      std::all_of(session.banks.begin(), session.banks.end(), [](const auto& bank) { return bank.film_share > 0; });
  if (!films_known) {  // without a wall film in the model, what follows a cut or a quick foot would be blamed on the
                       // map
    limits.after_cut_s = 1;
    limits.fastest_throttle_pct_s = 50;
    limits.after_transient_s = 1;
  }
  return limits;
}

void refuse_unusable(const outcome& result) {
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
void require_lambda_and_units(const session::session& during_log, const fettle::map_file& base,
                              const fettle::log_table& log, const std::string& name, const run_options& how) {
  session::refuse_air_fuel_ratio(during_log, log, name);
  if (!how.writes_anyway) session::refuse_hundredths(base, log, name);
}

/// The sensor whose readings a log's forecast is about; where none is fitted, the first, which has none.
[[nodiscard]] std::size_t first_fitted(const session::session& during_log) {
  const auto sensor = std::find_if(during_log.sensors.begin(), during_log.sensors.end(),
                                   [](const auto& each) { return each.is_fitted; });
  return sensor == during_log.sensors.end() ? 0 : static_cast<std::size_t>(sensor - during_log.sensors.begin());
}

/// How much the car is used at each cell, from the session's own map of it.
[[nodiscard]] std::vector<double> read_usage(const session::session& session, const fettle::map_file& base) {
  const fettle::map_file usage = fettle::read_map_csv(session.usage_map_path);
  const auto refuse = [&](const std::string& what) {
    throw fettle::error(fmt::format("{}: {}", fettle::path_text(session.usage_map_path), what));
  };
  session::require_axes(session.usage_map_path, usage, base, "the map");
  const auto values = usage.table.values();
  for (std::size_t k = 0; k < values.size(); ++k)
    if (!(values[k] >= 0))
      refuse(fmt::format("cell {} holds {}, expected 0 or more: how much the car is used there",
                         session::cell_name(usage, k), values[k]));
  if (std::all_of(values.begin(), values.end(), [](double x) { return x == 0; }))
    refuse("every cell holds 0, so there is nowhere to drive; expected a cell above 0");
  return {values.begin(), values.end()};
}

/// Cylinders, counted from 1, whose exhaust passes no sensor in any log.
[[nodiscard]] std::vector<std::size_t> unseen_cylinders(const std::vector<fettle::recording>& logs) {
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
[[nodiscard]] bool is_explained(const outcome& result, const fettle::lean_place& place) {
  const auto around = fettle::stencil_at(result.base.table.axes(), std::span<const double>(place.at));
  for (std::size_t k = 0; k < around.size; ++k)
    if (result.stays_lean(around.cell[k]) || result.evidence[around.cell[k]].false_lean > 0) return true;
  return false;
}

}  // namespace

outcome run(session::session session, const run_options& how, const stage_progress& progress) {
  fettle::map_file base = session::read_fuel_map(session.map_path);
  std::vector<double> usage = session.usage_map_path.empty() ? std::vector<double>{} : read_usage(session, base);
  session::all_logs read =
      session::read_all_logs(session, base, progress, [&](const auto& during_log, const auto& log, const auto& name) {
        require_lambda_and_units(during_log, base, log, name, how);
      });
  const auto& logs = read.parts;
  const fettle::identify_options options{.screen = screening_of(session), .threads = how.threads};
  // [correction]
  const auto identified = fettle::identify(logs, base.table, session::make_dynamics(session, how.trust), options,
                                           [&](double fraction) { progress("fitting", fraction); });
  const auto evidence = fettle::evidence_of(identified);
  const fettle::decision_limits limits{
      .richer = session.richer_pct / 100, .leaner = session.leaner_pct / 100, .undriven = how.undriven};
  const auto decided = fettle::decide(evidence, limits);
  // [/correction]
  if (usage.empty()) usage = fettle::usage_of(identified.seconds);
  outcome result{.session = std::move(session),
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
  refuse_unusable(result);
  detail::add_remarks(result);
  detail::add_contradictions(result);
  detail::add_flow_remarks(result);
  detail::add_low_flow_remark(result);
  result.forecasts.resize(result.session.log_paths.size());
  for (std::size_t i = 0; i < logs.size(); ++i) {
    const std::size_t log = read.log_of_part[i];
    const std::size_t sensor = first_fitted(result.session.during(log));
    result.forecasts[log].append(
        fettle::predict_errors(logs[i], base.table, sensor, identified, result.decided.applied, options.screen));
  }
  result.lean_places = fettle::lean_places(result.forecasts, base.table, lean_place_error);
  std::erase_if(result.lean_places, [&](const auto& place) { return is_explained(result, place); });
  result.unseen_cylinders = unseen_cylinders(logs);
  result.plan = fettle::drive_plan(
      base.table, fettle::next_visits(base.table, identified.covariance, result.usage, {.count = how.visits}));
  return result;
}

}  // namespace correct_map
