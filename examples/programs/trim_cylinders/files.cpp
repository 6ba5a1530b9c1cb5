// SPDX-License-Identifier: MIT
#include "trim_cylinders/files.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <utility>

#include "common/report/cell_states.hpp"
#include "common/report/rounded.hpp"
#include "common/session/next_session.hpp"
#include "common/session/trim_maps.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "trim_cylinders/verdict.hpp"

namespace trim_cylinders {
namespace {

/// Whose exhaust passes a sensor, as a session has it: 0, a cylinder, or the list of those that share its pipe.
[[nodiscard]] nlohmann::ordered_json as_json(const std::vector<std::size_t>& cylinders) {
  if (cylinders.size() > 1) return cylinders;
  return cylinders.empty() ? 0 : cylinders.front();
}

/// One row per cell and cylinder.
[[nodiscard]] fettle::log_table cell_rows(const outcome& result) {
  fettle::log_table table;
  table.names = {"cylinder"};
  for (const auto& axis : result.shape.axis_names) table.names.push_back(axis);
  for (const char* name : {"needs", "gets", "trim", "standard_error_pct", "seconds"}) table.names.emplace_back(name);
  table.columns.resize(table.names.size());
  for (std::size_t i = 0; i < result.cylinders(); ++i)
    for (std::size_t k = 0; k < result.trims.correction[i].size(); ++k) {
      std::vector<double> row{static_cast<double>(i + 1)};
      for (const double x : result.point(k)) row.push_back(x);
      const bool known = result.is_measured(i, k);
      row.push_back(known ? report::rounded(result.trims.correction[i][k], 5) : std::nan(""));
      row.push_back(report::rounded(result.loaded[i].applied[k], 5));
      row.push_back(report::rounded(result.new_trim(i, k), 5));
      row.push_back(known ? report::rounded(100 * result.trims.standard_error[i][k], 3) : std::nan(""));
      row.push_back(report::rounded(result.trims.seconds[k], 1));
      for (std::size_t c = 0; c < row.size(); ++c) table.columns[c].push_back(row[c]);
    }
  return table;
}

/// Trims, cylinder by cylinder and cell by cell.
[[nodiscard]] nlohmann::ordered_json cylinders_json(const outcome& result) {
  auto list = nlohmann::ordered_json::array();
  for (std::size_t i = 0; i < result.cylinders(); ++i) {
    nlohmann::ordered_json cells = nlohmann::ordered_json::array();
    for (std::size_t k = 0; k < result.trims.correction[i].size(); ++k) {
      nlohmann::ordered_json cell;
      const auto at = result.point(k);
      for (std::size_t a = 0; a < at.size(); ++a) cell[result.shape.axis_names[a]] = at[a];
      cell["gets"] = result.loaded[i].applied[k];
      cell["trim"] = result.new_trim(i, k);
      cell["state"] = report::key_of(result.loaded[i].state[k]);
      if (result.is_measured(i, k)) {
        cell["needs"] = result.trims.correction[i][k];
        cell["standard_error_pct"] = 100 * result.trims.standard_error[i][k];
      }
      cells.push_back(std::move(cell));
    }
    list.push_back(
        {{"cylinder", i + 1}, {"separable", bool{result.trims.separable.trim[i]}}, {"cells", std::move(cells)}});
  }
  return list;
}

/// Lambda of collector and leanest cylinder, cell by cell.
[[nodiscard]] nlohmann::ordered_json regions_json(const outcome& result) {
  auto list = nlohmann::ordered_json::array();
  for (const auto& here : result.regions) {
    nlohmann::ordered_json region;
    const auto at = result.point(here.cell);
    for (std::size_t a = 0; a < at.size(); ++a) region[result.shape.axis_names[a]] = at[a];
    region.update({{"seconds", here.seconds},
                   {"collector_lambda", here.collector_lambda},
                   {"collector_lambda_after", here.collector_after},
                   {"target_lambda", here.target_lambda},
                   {"leanest_cylinder", here.leanest},
                   {"leanest_lambda", here.leanest_lambda},
                   {"leanest_lambda_after", here.leanest_after},
                   {"spread_before_pct", 100 * here.spread_before},
                   {"spread_after_pct", 100 * here.spread_after},
                   {"lean_alarm", here.lean_alarm},
                   {"hidden_by_the_collector", here.hidden}});
    list.push_back(std::move(region));
  }
  return list;
}

/// Gains of the sensors.
[[nodiscard]] nlohmann::ordered_json sensors_json(const outcome& result) {
  auto list = nlohmann::ordered_json::array();
  for (std::size_t s = 0; s < result.map.gains.size(); ++s) {
    nlohmann::ordered_json sensor{{"sensor", result.session.sensors[s].name},
                                  {"calibrated", result.session.sensors[s].is_calibrated},
                                  {"separable", bool{result.trims.separable.gain[s]}},
                                  {"scatter_pct", 100 * result.map.scatter[s].noise},
                                  {"misfits_pct", 100 * result.map.scatter[s].misfits}};
    if (result.trims.separable.gain[s]) {
      sensor["gain"] = result.map.gains[s].value;
      sensor["standard_error_pct"] = 100 * result.map.gains[s].relative_error;
    }
    list.push_back(std::move(sensor));
  }
  return list;
}

/// How many readings of each sensor count in each log, and why the others do not.
[[nodiscard]] nlohmann::ordered_json readings_json(const outcome& result) {
  auto list = nlohmann::ordered_json::array();
  for (std::size_t l = 0; l < result.trims.rejected.size(); ++l)
    for (std::size_t s = 0; s < result.trims.rejected[l].size(); ++s) {
      const auto during_log = result.session.during(l);
      nlohmann::ordered_json counts{{"log", fettle::path_text(result.session.log_paths[l].filename())},
                                    {"sensor", during_log.sensors[s].name}};
      if (during_log.sensors[s].is_fitted) counts["cylinder"] = as_json(during_log.sensors[s].cylinders);
      for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
        const auto why = static_cast<fettle::rejection>(k);
        counts[std::string(fettle::describe(why))] = result.trims.rejected[l][s][why];
      }
      list.push_back(std::move(counts));
    }
  return list;
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& result) {
  const report::verdict verdict = verdict_of(result, "");
  nlohmann::ordered_json json{
      {"load", verdict.load},
      {"safe", verdict.safe},
      {"next_step", verdict.next},
      {"is_safe", verdict.is_safe},
      {"objections", result.objections},
      {"title", result.session.title},
      {"rows", result.rows},
      {"minutes", result.minutes},
      {"noise_phi", result.map.noise},
      {"rounds", result.map.rounds},
      {"settled", result.map.settled},
      {"every_trim_separable", result.trims.separable.holds_for_every_trim()},
      {"spread_pct",
       {{"before", 100 * result.spread(&fettle::region::spread_before)},
        {"after", 100 * result.spread(&fettle::region::spread_after)}}},
      {"one_pass_pct", {{"richer", 100 * result.limits.richer}, {"leaner", 100 * result.limits.leaner}}}};
  json["cylinders"] = cylinders_json(result);
  json["regions"] = regions_json(result);
  json["sensors"] = sensors_json(result);
  json["readings"] = readings_json(result);
  json["alarms"] = result.alarms;
  json["remarks"] = result.remarks;
  json["next"] = result.next;
  return json;
}

[[nodiscard]] std::string trim_name(std::size_t cylinder) {
  return fmt::format("trim_cylinder_{}.csv", cylinder);
}

}  // namespace

std::vector<std::string> result_names(std::size_t cylinders) {
  std::vector<std::string> names{"cylinders.csv", "session.json", "summary.json", "report.html"};
  for (std::size_t i = 1; i <= cylinders; ++i) names.push_back(trim_name(i));
  return names;
}

std::vector<std::filesystem::path> write_results(const outcome& result, const std::string& report,
                                                 const std::filesystem::path& folder) {
  std::vector<std::string> trims;
  for (std::size_t i = 1; i <= result.cylinders(); ++i) trims.push_back(trim_name(i));
  const std::string next_session =  // texts first: what fails, fails before the first file
      session::session_with_trims(result.session, folder, trims).dump(2) + "\n";
  const std::string summary = summary_json(result).dump(2) + "\n";
  std::vector<std::filesystem::path> written;
  for (std::size_t i = 0; i < result.cylinders() && result.writes_trims(); ++i) {
    written.push_back(folder / trims[i]);
    std::vector<double> values;
    for (std::size_t k = 0; k < result.shape.table.size(); ++k)
      values.push_back(report::rounded(result.new_trim(i, k), 5));
    if (result.shape.table.rank() == 0) {  // one number is no map
      fettle::log_table table;
      table.names = {session::lone_trim_name};
      table.columns = {values};
      fettle::write_log_csv(written.back(), table);
      continue;
    }
    fettle::map_file map = result.shape;
    std::copy(values.begin(), values.end(), map.table.values().begin());
    fettle::write_map_csv(written.back(), map);
  }
  if (result.writes_trims()) {
    written.push_back(folder / "session.json");
    fettle::write_atomically(written.back(), next_session);
  }
  written.push_back(folder / "cylinders.csv");
  fettle::write_log_csv(written.back(), cell_rows(result));
  written.push_back(folder / "summary.json");
  fettle::write_atomically(written.back(), summary);
  written.push_back(folder / "report.html");
  fettle::write_atomically(written.back(), report);
  return written;
}

}  // namespace trim_cylinders
