// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/session/cell_name.hpp"
#include "common/session/check_units.hpp"
#include "common/session/judge_scatter.hpp"
#include "common/session/judge_search.hpp"
#include "common/session/read_all_logs.hpp"
#include "common/session/read_fuel_map.hpp"
#include "common/session/recording.hpp"
#include "common/session/trim_maps.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace trim_cylinders {

/// What a run may do beyond what its session says.
struct run_options {
  session::path_trust trust = session::path_trust::prior;
  bool writes_anyway = false;  ///< trims that must not be loaded are written all the same
  std::size_t threads = 1;     ///< that share the work
};

/// Everything that one run found; what terminal, files and report are made from.
struct outcome {
  session::session session;
  run_options options;
  fettle::map_file shape;  ///< names and axes of a trim map; rank 0: no axes
  bool by_collector = false;
  fettle::identification map;
  fettle::cylinder_trims trims;
  fettle::decision_limits limits;
  fettle::lean_alarm_limits alarm;
  std::vector<fettle::decision> loaded;            ///< per cylinder
  std::vector<std::vector<double>> loaded_before;  ///< of the trims to correct. Shape: [cylinder][cell]; 1: none
  std::vector<fettle::region> regions;
  std::vector<std::string> objections;  ///< why the trims must not be loaded; empty: they may
  std::vector<std::string> alarms, remarks;
  std::vector<std::string> lean_stays;  ///< sensors that stood at their lean end
  std::vector<std::string> next;        ///< what to do once the trims are loaded
  std::size_t rows = 0;
  double minutes = 0;

  [[nodiscard]] std::size_t cylinders() const noexcept { return trims.correction.size(); }
  [[nodiscard]] std::string place(std::size_t cell) const {
    return shape.table.rank() == 0 ? "everywhere" : session::cell_name(shape, cell);
  }
  /// The same within a sentence: "at rpm 4000".
  [[nodiscard]] std::string at_place(std::size_t cell) const {
    return (shape.table.rank() == 0 ? "" : "at ") + place(cell);
  }
  /// The coordinates of a cell, in axis order.
  [[nodiscard]] std::vector<double> point(std::size_t cell) const {
    return fettle::cell_coordinates(shape.table.axes(), cell);
  }
  /// Whether anything is known of a cylinder's trim in a cell.
  [[nodiscard]] bool is_measured(std::size_t cylinder, std::size_t cell) const {
    return trims.passes[cylinder][cell] > 0;
  }
  [[nodiscard]] double needs_pct(std::size_t cylinder, std::size_t cell) const {
    return 100 * (trims.correction[cylinder][cell] - 1);
  }
  [[nodiscard]] double gets_pct(std::size_t cylinder, std::size_t cell) const {
    return 100 * (loaded[cylinder].applied[cell] - 1);
  }
  /// What the new trim of a cylinder holds: the trim that is corrected times the change.
  [[nodiscard]] double new_trim(std::size_t cylinder, std::size_t cell) const {
    return loaded_before[cylinder][cell] * loaded[cylinder].applied[cell];
  }
  [[nodiscard]] bool writes_trims() const { return objections.empty() || options.writes_anyway; }
  /// 3: the trims must not be loaded.
  [[nodiscard]] int exit_code() const { return objections.empty() ? 0 : 3; }
  [[nodiscard]] bool corrects_trims() const { return !session.trims.map_paths.empty(); }
  /// How much richer the collector will read, in percent: the largest of all cells. Below 0: leaner.
  [[nodiscard]] double collector_richer_pct() const {
    double most = 0;
    for (const auto& here : regions) {
      const double richer = 100 * (here.collector_lambda / here.collector_after - 1);
      if (std::abs(richer) > std::abs(most)) most = richer;
    }
    return most;
  }
  /// Spread of lambda between cylinders, mean over the time driven.
  [[nodiscard]] double spread(double fettle::region::*which) const {
    double sum = 0, seconds = 0;
    for (const auto& here : regions) sum += here.*which * here.seconds, seconds += here.seconds;
    return seconds > 0 ? sum / seconds : 0;
  }
};

using session::stage_progress;

namespace detail {

/// The place of an axis of trims among those of the map.
[[nodiscard]] inline std::size_t axis_of_map(const session::session& session, const fettle::map_file& base,
                                             const std::string& who, const std::string& name) {
  const auto axis = std::find(base.axis_names.begin(), base.axis_names.end(), name);
  if (axis == base.axis_names.end())
    throw fettle::error(fmt::format("{} names \"{}\", which is not an axis of {}; known are {}", who, name,
                                    fettle::path_text(session.map_path), fmt::join(base.axis_names, ", ")));
  return static_cast<std::size_t>(axis - base.axis_names.begin());
}

/// The empty trim map: axes as the session gives them, else those of the trims to correct, else coarse steps along the
/// map's first axis.
[[nodiscard]] inline fettle::map_file trim_shape(const session::session& session, const fettle::map_file& base,
                                                 const session::trim_maps& before, std::vector<std::size_t>& along) {
  using axis = fettle::dynamic_axis<double>;
  fettle::map_file result{.axis_names = session.trims.axes, .table = base.table, .descending = {}};
  std::vector<axis> axes;
  if (session.trims.axes_are_given) {
    for (std::size_t a = 0; a < session.trims.axes.size(); ++a) {
      along.push_back(axis_of_map(session, base, "/cylinders/trim_axes", session.trims.axes[a]));
      axes.push_back(*axis::from(session.trims.points[a]));
    }
  } else if (!before.empty()) {
    result.axis_names = before.front().axis_names;
    axes = before.front().table.axes();
    for (const auto& name : result.axis_names)
      along.push_back(axis_of_map(session, base, fettle::path_text(session.trims.map_paths.front()), name));
  } else {
    constexpr std::size_t most = 9;  // trims change slowly: a coarse map needs less driving
    const auto& fine = base.table.axes()[0].points();
    const std::size_t count = std::min(most, fine.size());
    std::vector<double> points;
    for (std::size_t i = 0; i < count; ++i)
      points.push_back(fine[(i * (fine.size() - 1) + (count - 1) / 2) / (count - 1)]);
    result.axis_names = {base.axis_names[0]};
    along = {0};
    axes.push_back(*axis::from(points));
  }
  std::size_t cells = 1;
  for (const auto& each : axes) cells *= each.size();
  result.descending.assign(axes.size(), false);
  result.table = *fettle::dynamic_table<double>::from(std::move(axes), std::vector<double>(cells, 1.0));
  return result;
}

/// The trims to correct at the breakpoints of the new ones; 1 where there are none.
///
/// Errors: as `trim_at_cell`.
[[nodiscard]] inline std::vector<std::vector<double>> values_before(const session::session& session,
                                                                    const session::trim_maps& before,
                                                                    const fettle::map_file& shape) {
  std::vector<std::vector<double>> result(session.cylinders, std::vector<double>(shape.table.size(), 1.0));
  for (std::size_t i = 0; i < before.size(); ++i)
    for (std::size_t k = 0; k < shape.table.size(); ++k)
      result[i][k] = session::trim_at_cell(before[i], session.trims.map_paths[i], shape, k);
  return result;
}

/// What to know of trims that correct others.
inline void add_trims_before(outcome& result, const session::trim_maps& before) {
  if (!result.corrects_trims()) return;
  result.remarks.push_back(
      "the session names trims that are loaded: what is needed and what is given are changes of those, and the files "
      "written here hold the product");
  if (std::any_of(before.begin(), before.end(),
                  [&](const auto& trim) { return trim.table.axes() != result.shape.table.axes(); }))
    result.remarks.push_back(
        "the new trims have other breakpoints than those that they replace: between breakpoints they are straight "
        "lines");
}

/// Whether a sensor is calibrated and stays after the collector in all logs.
[[nodiscard]] inline bool stays_as_reference(const session::session& session, std::size_t sensor) {
  bool stays = session.sensors[sensor].cylinders.empty() && session.sensors[sensor].is_calibrated;
  for (const auto& log : session.facts)
    for (const auto& seat : log.seats)
      stays = stays && !(seat.sensor == sensor && seat.is_fitted && !seat.cylinders.empty());
  return stays;
}

inline void add_alarms(outcome& result) {
  for (const auto& here : result.regions) {
    if (!here.lean_alarm) continue;
    result.alarms.push_back(fmt::format(
        "{}: cylinder {} runs at lambda {:.3f}, target {:.3f}, while the collector shows {:.3f}{}{}",
        result.place(here.cell), here.leanest, here.leanest_lambda, here.target_lambda, here.collector_lambda,
        here.hidden ? fmt::format(", within {:g} % of the target", 100 * result.alarm.collector_slack) : "",
        result.trims.separable.trim[here.leanest - 1]
            ? ""
            : fmt::format(" (known to {:.1f} %, because its sensor was not moved)",
                          100 * result.trims.standard_error[here.leanest - 1][here.cell])));
  }
}

/// Cylinders that one pass could not lean as far as is sure.
inline void add_limits_met(outcome& result) {
  for (std::size_t i = 0; i < result.cylinders(); ++i) {
    const auto& applied = result.loaded[i].applied;
    const auto cells = std::count_if(applied.begin(), applied.end(),
                                     [&](double change) { return change < 1 && change <= 1 - result.limits.leaner; });
    if (cells == 0) continue;
    const auto worst = static_cast<std::size_t>(
        std::min_element(result.trims.correction[i].begin(), result.trims.correction[i].end()) -
        result.trims.correction[i].begin());
    result.remarks.push_back(fmt::format(
        "cylinder {} needs up to {:.2f} % less fuel ({}); one pass takes away {:g} % at most, in {} cell{}: load this, "
        "drive again, and see whether it still needs less",
        i + 1, -result.needs_pct(i, worst), result.place(worst), 100 * result.limits.leaner, cells,
        cells == 1 ? "" : "s"));
  }
}

/// What to do once the trims are loaded.
inline void add_next_steps(outcome& result) {
  const fettle::region* leanest = nullptr;
  std::string thin;
  const auto above = [](const fettle::region& here) { return here.collector_lambda / here.target_lambda - 1; };
  for (const auto& here : result.regions) {
    if (!leanest || above(here) > above(*leanest)) leanest = &here;
    bool is_thin = false;
    for (std::size_t i = 0; i < result.cylinders(); ++i)
      is_thin = is_thin || result.loaded[i].state[here.cell] == fettle::cell_state::not_driven ||
                result.loaded[i].state[here.cell] == fettle::cell_state::safe_part;
    if (is_thin) thin += (thin.empty() ? "" : "; ") + result.place(here.cell);
  }
  if (!thin.empty())
    result.next.push_back("drive again where cylinders are not yet known well enough to take fuel away: " + thin);
  if (leanest)
    result.next.push_back(fmt::format(
        "load the trims, drive, and correct the map from that log: the collector is leanest against its "
        "target {}, lambda {:.3f}, with the trims about {:.3f}, target {:.3f}",
        result.at_place(leanest->cell), leanest->collector_lambda, leanest->collector_after, leanest->target_lambda));
}

/// Share of a sensor's samples at its end of range. Some is usual: air alone rails every sensor.
[[nodiscard]] inline double railed_share(const fettle::rejection_counts& counts) {
  const auto railed = static_cast<double>(counts[fettle::rejection::sensor_at_its_end]);
  double sampled = 0;
  for (std::size_t k = 0; k < fettle::rejection_kinds; ++k)
    if (static_cast<fettle::rejection>(k) != fettle::rejection::not_sampled)
      sampled += static_cast<double>(counts.count[k]);
  return sampled > 0 ? railed / sampled : 0;
}

/// The median of the sensors that have readings: one that never rails is as odd as one that often does.
[[nodiscard]] inline double usual_railed_share(const std::vector<fettle::rejection_counts>& sensors) {
  std::vector<double> shares;
  for (const auto& counts : sensors)
    if (counts[fettle::rejection::none] > 0) shares.push_back(railed_share(counts));
  if (shares.empty()) return 1;
  const auto middle = shares.begin() + static_cast<std::ptrdiff_t>(shares.size() / 2);
  std::nth_element(shares.begin(), middle, shares.end());
  return *middle;
}

inline void add_sensor_remarks(outcome& result) {
  for (std::size_t l = 0; l < result.trims.rejected.size(); ++l) {
    const double usual = usual_railed_share(result.trims.rejected[l]);
    for (std::size_t s = 0; s < result.session.sensors.size(); ++s) {
      const session::session during_log = result.session.during(l);
      if (!during_log.sensors[s].is_fitted) continue;
      const auto& counts = result.trims.rejected[l][s];
      const std::size_t good = counts[fettle::rejection::none], dead = counts[fettle::rejection::stuck],
                        railed = counts[fettle::rejection::sensor_at_its_end];
      const std::string name = fmt::format("sensor {}, {}", during_log.sensors[s].name,
                                           fettle::path_text(result.session.log_paths[l].filename()));
      const bool unused = std::any_of(result.trims.unused.begin(), result.trims.unused.end(),
                                      [&](const auto& stay) { return stay.run == l && stay.sensor == s; });
      if (unused)
        result.remarks.push_back(
            fmt::format("{}: only {} readings count (standing still {}, at its end of range {}, not "
                        "sampled {}); this stay is left out",
                        name, good, dead, railed, counts[fettle::rejection::not_sampled]));
      else if (dead > 0 || railed_share(counts) > usual + 0.1)
        result.remarks.push_back(
            fmt::format("{}: {} readings stand still while the mixture moves and {} are at its "
                        "end of range; the other {} are used",
                        name, dead, railed, good));
    }
  }
}

inline void add_search_remarks(outcome& result) {
  if (!result.by_collector)
    result.remarks.push_back(
        "no calibrated sensor stays after the collector: the collector's lambda is inferred from the sensors in the "
        "pipes");
  const auto search = session::judge_search(result.map);
  result.remarks.insert(result.remarks.end(), search.begin(), search.end());
}

/// A session without a sensor in a pipe says nothing of single cylinders.
inline void require_sensor_in_a_pipe(const session::session& session) {
  for (std::size_t l = 0; l < session.log_paths.size(); ++l)
    for (const auto& sensor : session.during(l).sensors)
      if (sensor.is_fitted && !sensor.cylinders.empty()) return;
  throw fettle::error(fettle::path_text(session.path) +
                      ": no sensor sits in a cylinder's pipe in any log; give \"cylinder\" in /sensors, or an "
                      "\"assignment\" in /logs, such as {\"pipe 1\": 3}");
}

}  // namespace detail

/// Reads the map and the logs of a session with sensors in the pipes, and finds the trims of the cylinders.
///
/// Errors: `fettle::error` with one message that names the file and place; nothing is written here.
[[nodiscard]] inline outcome run(session::session session, const run_options& how, const stage_progress& progress) {
  if (session.cylinders < 2)
    throw fettle::error(fettle::path_text(session.path) + ": one cylinder alone cannot be trimmed against others");
  detail::require_sensor_in_a_pipe(session);
  const fettle::map_file base = session::read_fuel_map(session.map_path);
  fettle::identify_options options{.screen = {.coldest_degc = session.coldest_degc}, .threads = how.threads};
  const session::trim_maps before = session::read_trims(session.trims.map_paths);
  fettle::map_file shape = detail::trim_shape(session, base, before, options.trims.along);
  std::vector<std::vector<double>> loaded_before = detail::values_before(session, before, shape);
  options.trims.axes = shape.table.axes();
  options.trims.is_given = true;

  session::all_logs logs =
      session::read_all_logs(session, base, progress, [](const auto& during_log, const auto& log, const auto& name) {
        session::refuse_air_fuel_ratio(during_log, log, name);
      });
  bool by_collector = false;
  for (std::size_t s = 0; s < session.sensors.size(); ++s)
    by_collector = by_collector || detail::stays_as_reference(session, s);
  fettle::identification identified =
      fettle::identify(logs.parts, base.table, session::make_dynamics(session, how.trust), options,
                       [&](double fraction) { progress("fitting", fraction); });
  fettle::cylinder_trims trims = identified.cylinders;
  const fettle::decision_limits limits{.richer = session.trims.richer_pct / 100,
                                       .leaner = session.trims.leaner_pct / 100};
  const fettle::lean_alarm_limits alarm{.lean_alarm = session.trims.lean_alarm_pct / 100};
  std::vector<fettle::decision> loaded;
  std::vector<std::vector<double>> applied;
  for (std::size_t i = 0; i < session.cylinders; ++i) {
    loaded.push_back(fettle::decide(fettle::evidence_of(trims, i), limits));
    applied.push_back(loaded.back().applied);
  }
  std::vector<fettle::region> regions = fettle::lean_regions(trims, applied, alarm);
  session::scatter_verdict scatter = session::judge_scatter(session, identified);
  outcome result{.session = std::move(session),
                 .options = how,
                 .shape = std::move(shape),
                 .by_collector = by_collector,
                 .map = std::move(identified),
                 .trims = std::move(trims),
                 .limits = limits,
                 .alarm = alarm,
                 .loaded = std::move(loaded),
                 .loaded_before = std::move(loaded_before),
                 .regions = std::move(regions),
                 .objections = std::move(scatter.objections),
                 .alarms = {},
                 .remarks = std::move(logs.remarks),
                 .lean_stays = std::move(logs.dangers),
                 .next = {},
                 .rows = logs.rows,
                 .minutes = logs.minutes};
  result.remarks.insert(result.remarks.end(), scatter.remarks.begin(), scatter.remarks.end());
  result.remarks.insert(result.remarks.end(), result.trims.separable.remarks.begin(),
                        result.trims.separable.remarks.end());
  detail::add_trims_before(result, before);
  detail::add_alarms(result);
  detail::add_limits_met(result);
  detail::add_next_steps(result);
  detail::add_sensor_remarks(result);
  detail::add_search_remarks(result);
  return result;
}

}  // namespace trim_cylinders
