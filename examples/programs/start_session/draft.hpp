// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "common/session/channels.hpp"
#include "common/session/log_conditions.hpp"
#include "common/session/log_fuel.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/log_preview.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "start_session/column_look.hpp"
#include "start_session/injector_guess.hpp"
#include "start_session/recognise.hpp"
#include "start_session/starting_values.hpp"

namespace start_session {

/// What the user says on the command line; what is not said is guessed.
struct request {
  std::vector<std::filesystem::path> logs{};
  std::filesystem::path map, out;
  car_facts car;
  bool cylinders_are_given = false, displacement_is_given = false, pipes_are_given = false, fuel_is_given = false;
  std::string meaning;  ///< of the map; empty: guessed
};

/// One log: its file, and what its columns are taken for.
struct drafted_log {
  std::filesystem::path path;
  std::vector<std::string> notes;    ///< on its layout
  std::vector<std::string> names;    ///< ours, of what was recognised
  std::vector<std::string> matches;  ///< our name of a column, and why
  std::vector<fettle::log_channel> columns;
};

/// A session in the making: values, and for those that were guessed the reason.
struct draft {
  session::session session;
  fettle::map_file map;
  std::vector<drafted_log> logs{};
  std::string meaning{}, meaning_guess{};
  std::vector<std::string> flow_guess{}, dead_time_guess{};  ///< per bank
  std::vector<std::string> sensor_guess{};                   ///< per sensor, of its place
  bool target_is_logged = false, loop_is_logged = false;
  std::vector<std::string> unknown{};  ///< what could not be known, and what follows from that
};

namespace detail {

/// Where the map's axes are in a log, under the names that the map gives them.
inline void add_axes(const fettle::map_file& map, const recognition& quantities, const std::vector<column_look>& looks,
                     double stoichiometric_afr, drafted_log& destination, std::vector<std::string>& unknown) {
  for (std::size_t a = 0; a < map.axis_names.size(); ++a) {
    const std::string& axis = map.axis_names[a];
    const auto is_axis = [&](const auto& column) { return column.name == axis; };
    if (std::any_of(looks.begin(), looks.end(), is_axis)) continue;
    if (std::any_of(quantities.conditions.begin(), quantities.conditions.end(), is_axis)) continue;
    fettle::log_preview as_column{.names = {axis}, .units = {""}, .columns = {map.table.axes()[a].points()}};
    const auto look = look_at_columns(as_column)[0];
    const recognised* column = nullptr;
    for (const auto& quantity : single_quantities(stoichiometric_afr))
      if (column == nullptr && quantity.scale(look))
        for (const auto& condition : quantities.conditions)
          if (condition.name == quantity.name) column = &condition;
    if (column == nullptr) {
      unknown.push_back(fmt::format("{}: which column is the map's axis {}; name it under /columns",
                                    fettle::path_text(destination.path.filename()), axis));
      continue;
    }
    destination.columns.push_back({axis, looks[column->column].name, column->factor, column->offset});
    destination.matches.push_back(fmt::format("{}: {}", axis, column->why));
  }
}

[[nodiscard]] inline std::string pulse_name(std::size_t place, std::size_t count, std::size_t cylinders) {
  if (count == 1) return "pulse_ms";
  if (count == 2 && cylinders != 2) return place == 0 ? "pulse_primary_ms" : "pulse_secondary_ms";
  return fmt::format("pulse_{}_ms", place + 1);
}

[[nodiscard]] inline std::string sensor_column(std::size_t place) {
  return fmt::format("lambda_{}", place + 1);
}

/// A second bank by its words; the order in the file otherwise.
inline void order_banks(std::vector<recognised>& pulses, const std::vector<column_look>& looks) {
  const auto is_second = [&](const recognised& pulse) {
    return looks[pulse.column].has_any({"secondary", "second", "outer", "upper"}) || looks[pulse.column].number == 2;
  };
  if (pulses.size() == 2 && is_second(pulses[0]) && !is_second(pulses[1])) std::swap(pulses[0], pulses[1]);
}

[[nodiscard]] inline drafted_log draft_log(const request& from, const std::filesystem::path& path,
                                           const fettle::map_file& map, recognition& quantities,
                                           std::vector<std::string>& unknown) {
  const auto preview = fettle::preview_log_csv(path);
  const auto looks = look_at_columns(preview);
  quantities = recognise(looks, from.car.stoichiometric_afr);
  order_banks(quantities.pulses, looks);
  drafted_log result{.path = path, .notes = preview.layout.departures(), .names = {}, .matches = {}, .columns = {}};
  for (const auto& name : preview.names)
    if (!fettle::is_printable(name))
      result.notes.push_back(fmt::format("column \"{}\" is left out: its name holds control characters, shown as ?",
                                         fettle::printable(name)));
  const auto add = [&](const std::string& name, const recognised& match) {
    result.names.push_back(name);
    result.matches.push_back(fmt::format("{}: {}", name, match.why));
    const std::string& file_name = looks[match.column].name;
    if (file_name != name || match.factor != 1 || match.offset != 0)
      result.columns.push_back({name, file_name, match.factor, match.offset});
  };
  for (const auto& condition : quantities.conditions) add(condition.name, condition);
  for (std::size_t i = 0; i < quantities.pulses.size(); ++i)
    add(pulse_name(i, quantities.pulses.size(), static_cast<std::size_t>(from.car.cylinders)), quantities.pulses[i]);
  for (std::size_t i = 0; i < quantities.lambdas.size(); ++i) add(sensor_column(i), quantities.lambdas[i]);
  add_axes(map, quantities, looks, from.car.stoichiometric_afr, result, unknown);
  const auto lacks = [&](const char* name) {
    return std::none_of(quantities.conditions.begin(), quantities.conditions.end(),
                        [&](const auto& condition) { return condition.name == name; });
  };
  std::string columns;
  for (const auto& name : preview.names)
    columns += (columns.empty() ? "" : ", ") + fettle::printable(name.size() > 40 ? name.substr(0, 40) + "..." : name);
  for (const char* name : {"time_s", "rpm"})
    if (lacks(name))
      throw fettle::error(
          fmt::format("{}: no column was recognised as {}; give it a name with plain words and a unit, "
                      "such as time_s or engine speed [rpm]; the columns are {}",
                      fettle::path_text(path), name, columns));
  if (quantities.lambdas.empty())
    throw fettle::error(fmt::format("{}: no column was recognised as lambda or air-fuel ratio; the columns are {}",
                                    fettle::path_text(path), columns));
  return result;
}

/// What a map's cells hold, by their size against what the engine can take in.
inline void guess_meaning(const request& from, draft& destination) {
  using fettle::map_meaning;
  const auto values = destination.map.table.values();
  const double largest = *std::max_element(values.begin(), values.end());
  const double full_mg = fettle::air_mass_mg<double>({100, 25}, 1000 * from.car.displacement_l / from.car.cylinders) /
                         from.car.stoichiometric_afr;
  destination.meaning = from.meaning;
  if (destination.meaning.empty()) {
    const double filling = largest / full_mg;
    destination.meaning = filling > 0.6 && filling < 1.4  ? "fuel_mg"
                          : largest > 50 && largest < 160 ? "ve_pct"
                                                          : "pulse_ms";
    destination.meaning_guess = fmt::format(
        "largest cell {:g}; a full cylinder of this engine takes {:.3g} mg of fuel at lambda 1", largest, full_mg);
  }
  destination.session.holds = destination.meaning == "fuel_mg"  ? map_meaning::fuel_mg
                              : destination.meaning == "ve_pct" ? map_meaning::ve_pct
                                                                : map_meaning::pulse_ms;
  const auto& axes = destination.map.axis_names;
  destination.session.air.is_in_manifold = destination.session.holds == map_meaning::ve_pct &&
                                           std::any_of(axes.begin(), axes.end(), [](const std::string& axis) {
                                             return axis.find("anifold") != std::string::npos || axis.ends_with("kPa");
                                           });
}

inline void add_sensors(const request& from, const recognition& quantities, draft& destination) {
  const std::size_t count = quantities.lambdas.size(), cylinders = destination.session.cylinders;
  for (std::size_t i = 0; i < count; ++i) {
    const int number = quantities.lambda_numbers[i];
    const bool in_pipe = count >= cylinders && count > 1 && number >= 1 && number <= static_cast<int>(cylinders);
    destination.session.sensors.push_back(
        {.name = in_pipe      ? fmt::format("pipe {}", number)
                 : count == 1 ? "collector"
                              : fmt::format("sensor {}", i + 1),
         .column = sensor_column(i),
         .cylinders = in_pipe ? std::vector<std::size_t>{static_cast<std::size_t>(number)} : std::vector<std::size_t>{},
         .lag_s = sensor_lag_s,
         .pipe_gas_mass_g = in_pipe ? pipe_gas_mass_g(from.car) : collector_gas_mass_g(from.car)});
    destination.sensor_guess.push_back(in_pipe ? "a sensor per cylinder, by the number in the column's name"
                                               : "taken to be behind the collector: 0");
  }
}

/// The mean of a bank's pulses, of which fuel is a straight line where all cylinders are open; NaN where only some are.
[[nodiscard]] inline std::vector<double> mean_pulse_ms(const session::bank& bank, const fettle::log_table& log) {
  std::vector<double> mean(log.rows(), 0.0);
  std::vector<std::size_t> open(log.rows(), 0);
  for (const auto& column : bank.pulse_columns) {
    const auto pulse_ms = session::zero_order_hold(log, column);
    for (std::size_t i = 0; i < pulse_ms.size(); ++i) {
      mean[i] += pulse_ms[i] / static_cast<double>(bank.pulse_columns.size());
      if (pulse_ms[i] > 0) ++open[i];
    }
  }
  for (std::size_t i = 0; i < mean.size(); ++i)
    if (open[i] > 0 && open[i] < bank.pulse_columns.size()) mean[i] = std::nan("");
  return mean;
}

/// Flow and dead time of every bank as the controller has them: its pulses over the fuel that its map asks for.
inline void guess_injectors(draft& destination) {
  session::session& session = destination.session;
  const std::filesystem::path& path = destination.logs[0].path;
  session::session no_pulses = session;
  no_pulses.columns = destination.logs[0].columns;
  const auto log = fettle::read_log_csv(path, session::wanted_channels(no_pulses, destination.map.axis_names));
  for (auto& bank : no_pulses.banks) bank.pulse_columns.clear();
  const std::string name = fettle::path_text(path);
  const session::log_conditions now(no_pulses, log, name);
  std::vector<double> left_mg = session::read_fuel(no_pulses, destination.map, {}, log, now).asked_mg;
  std::vector<std::vector<double>> pulses;
  for (const auto& bank : session.banks) pulses.push_back(mean_pulse_ms(bank, log));
  for (std::size_t b = 0; b < session.banks.size(); ++b) {
    std::vector<double> fuel_mg = left_mg;
    for (std::size_t i = 0; i < fuel_mg.size(); ++i)
      for (std::size_t later = b + 1; later < pulses.size(); ++later)
        if (pulses[later][i] > 0) fuel_mg[i] = std::nan("");  // only rows in which the later banks are shut count
    const auto guess = guess_injector(fuel_mg, pulses[b]);
    if (!guess || guess->scatter > 0.1) return;
    session.banks[b].flow_mg_ms = std::round(1e4 * guess->flow_mg_ms) / 1e4;
    session.banks[b].dead_time_ms = {std::round(1e4 * guess->dead_time_ms) / 1e4};
    destination.flow_guess[b] = destination.dead_time_guess[b] =
        fmt::format("the straight line of the log's pulses over the map's fuel, which scatter by {:.2f} % about it",
                    100 * guess->scatter);
    for (std::size_t i = 0; i < left_mg.size(); ++i)
      left_mg[i] -= guess->flow_mg_ms * std::max(0.0, pulses[b][i] - guess->dead_time_ms);
  }
}

/// Banks with the flow and dead time that the controller's own pulses show.
inline void add_banks(const recognition& quantities, draft& destination) {
  session::session& session = destination.session;
  const std::size_t count = quantities.pulses.size();
  const bool per_cylinder = count > 2 || (count == 2 && session.cylinders == 2);
  if (per_cylinder && count != session.cylinders)
    throw fettle::error(fmt::format("{}: {} columns look like pulses, expected one, one per bank, or one per cylinder",
                                    fettle::path_text(destination.logs[0].path), count));
  for (std::size_t b = 0; b < (count == 2 && !per_cylinder ? 2U : 1U); ++b) {
    const film_start film = b == 0 ? port_film : outer_film;
    session.banks.push_back({.name = b == 0 ? "primary" : "secondary",
                             .flow_mg_ms = 4,
                             .dead_time_ms = {1.0},
                             .smallest_pulse_ms = 1.5,
                             .film_share = film.share,
                             .film_time_s = film.time_s});
  }
  for (std::size_t i = 0; i < count; ++i)
    session.banks[per_cylinder ? 0 : i].pulse_columns.push_back(pulse_name(i, count, session.cylinders));
  destination.flow_guess.assign(session.banks.size(), "nothing in the log says it: take it from the data sheet");
  destination.dead_time_guess = destination.flow_guess;
  const bool can_guess = count > 0 && session.holds != fettle::map_meaning::pulse_ms && destination.unknown.empty();
  if (can_guess) guess_injectors(destination);
}

/// Sensors, pulses and target are the session's for all logs: what the first log has and another lacks.
inline void add_what_later_logs_lack(draft& destination) {
  const drafted_log& first = destination.logs.front();
  for (std::size_t l = 1; l < destination.logs.size(); ++l) {
    const auto& names = destination.logs[l].names;
    for (const auto& name : first.names)
      if ((name.starts_with("pulse_") || name.starts_with("lambda_")) &&
          std::find(names.begin(), names.end(), name) == names.end())
        destination.unknown.push_back(fmt::format(
            "{}: which column is {}, as in {}; name it under /logs/{}/columns, or leave this log out",
            fettle::path_text(destination.logs[l].path.filename()), name, fettle::path_text(first.path.filename()), l));
  }
}

}  // namespace detail

/// Looks at map and logs and makes a session of them.
///
/// Errors: `fettle::error` for files that cannot be read, and when time, speed or lambda is not recognised.
[[nodiscard]] inline draft make_draft(const request& from) {
  auto map = fettle::read_map_csv(from.map);  // before: g++ 12 destroys members twice where a later initialiser throws
  draft result{.session = {}, .map = std::move(map)};
  result.session.title = "Session of " + fettle::path_text(from.logs[0].filename());
  result.session.cylinders = static_cast<std::size_t>(from.car.cylinders);
  result.session.displacement_l = from.car.displacement_l;
  result.session.stoichiometric_afr = from.car.stoichiometric_afr;
  result.session.revolutions = revolutions;
  recognition first;
  for (std::size_t l = 0; l < from.logs.size(); ++l) {
    recognition quantities;
    result.logs.push_back(detail::draft_log(from, from.logs[l], result.map, quantities, result.unknown));
    if (l == 0) first = std::move(quantities);
  }
  const auto has = [&](const char* name) {
    return std::any_of(first.conditions.begin(), first.conditions.end(),
                       [&](const auto& condition) { return condition.name == name; });
  };
  result.target_is_logged = has("lambda_target");
  result.loop_is_logged = has("loop_pct");
  if (!result.target_is_logged) result.session.target.number = 0.88;
  detail::guess_meaning(from, result);
  detail::add_sensors(from, first, result);
  detail::add_banks(first, result);
  detail::add_what_later_logs_lack(result);
  if (first.pulses.empty())
    result.unknown.push_back(
        "pulses are not logged: the map is taken as the fuel, and correct_map refuses to do that "
        "until the session says \"closed_loop\": false, or loop_pct is logged");
  else if (!result.loop_is_logged)
    result.unknown.push_back("whether closed loop was active: say \"closed_loop\": true or false");
  for (const char* name : {"air_kPa", "air_degC", "coolant_degC", "battery_v"})
    if (!has(name))
      result.unknown.push_back(
          fmt::format("{}: not recognised in {}", name, fettle::path_text(from.logs[0].filename())));
  return result;
}

}  // namespace start_session
