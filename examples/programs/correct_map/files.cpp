// SPDX-License-Identifier: MIT
#include "correct_map/files.hpp"

#include <algorithm>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <span>
#include <utility>

#include "common/report/cell_states.hpp"
#include "common/report/rounded.hpp"
#include "common/session/next_session.hpp"
#include "correct_map/job.hpp"
#include "correct_map/plan_words.hpp"
#include "correct_map/verdict.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace correct_map {
namespace {

/// Values in the layout of the session's map: same axes, same order, same separator.
[[nodiscard]] fettle::map_file like_base(const outcome& result, std::span<const double> values) {
  fettle::map_file map = result.base;
  std::copy(values.begin(), values.end(), map.table.values().begin());
  return map;
}

[[nodiscard]] nlohmann::ordered_json cell_list(const outcome& result, fettle::cell_state which) {
  auto list = nlohmann::ordered_json::array();
  for (const std::size_t k : result.decided.cells(which)) {
    nlohmann::ordered_json cell;
    const auto at = fettle::cell_coordinates(result.base.table.axes(), k);
    for (std::size_t a = 0; a < at.size(); ++a) cell[result.base.axis_names[a]] = at[a];
    cell["needs_pct"] = result.needs_pct(k);
    cell["gets_pct"] = result.gets_pct(k);
    cell["left_pct"] = result.left_pct(k);
    cell["standard_error_pct"] = result.error_pct(k);
    cell["seconds"] = result.evidence[k].seconds;
    cell["passes"] = result.evidence[k].passes;
    cell["agreement"] = result.evidence[k].agreement;
    cell["lean_end_share"] = result.evidence[k].lean_end_share;
    list.push_back(std::move(cell));
  }
  return list;
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& result) {
  using fettle::forecast;
  const report::verdict verdict = verdict_of(result, corrected_map_name);
  nlohmann::ordered_json json{{"load", verdict.load},
                              {"safe", verdict.safe},
                              {"next", verdict.next},
                              {"is_safe", verdict.is_safe},
                              {"objections", result.objections},
                              {"dangers", dangers_in_words(result)},
                              {"title", result.session.title},
                              {"rows", result.rows},
                              {"minutes", result.minutes},
                              {"path", result.options.trust == session::path_trust::given ? "given" : "found"},
                              {"noise_phi", result.identified.noise},
                              {"rounds", result.identified.rounds},
                              {"settled", result.identified.settled}};
  json["lambda_error_rms_pct"] = {{"map_before", 100 * result.rms_of(&forecast::map_before)},
                                  {"map_after", 100 * result.rms_of(&forecast::map_after)},
                                  {"read_before", 100 * result.rms_of(&forecast::read_before)},
                                  {"read_after", 100 * result.rms_of(&forecast::read_after)}};
  json["one_pass_pct"] = {{"richer", result.session.richer_pct}, {"leaner", result.session.leaner_pct}};
  json["cells"] = nlohmann::ordered_json::object();
  for (const auto state : report::cell_states) json["cells"][report::key_of(state)] = cell_list(result, state);
  json["readings"] = nlohmann::ordered_json::array();
  for (std::size_t s = 0; s < result.identified.rejected.size(); ++s) {
    nlohmann::ordered_json sensor{{"sensor", result.session.sensors[s].name}};
    for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
      const auto why = static_cast<fettle::rejection>(k);
      sensor[std::string(fettle::describe(why))] = result.identified.rejected[s][why];
    }
    json["readings"].push_back(std::move(sensor));
  }
  json["parameters"] = nlohmann::ordered_json::array();
  for (const auto& parameter : result.identified.parameters)
    json["parameters"].push_back({{"name", parameter.prior.name},
                                  {"value", parameter.value},
                                  {"unit", detail::unit_of(parameter.prior.name)},
                                  {"standard_error_pct", 100 * parameter.relative_error},
                                  {"session_value", parameter.prior.value},
                                  {"identified_share", parameter.identified_share}});
  json["remarks"] = result.remarks;
  return json;
}

/// The plan as a table: where, and the cell on the way that stays leanest.
[[nodiscard]] fettle::log_table plan_table(const outcome& result) {
  fettle::log_table plan;
  for (const auto& axis : result.base.axis_names) plan.names.push_back(axis);
  for (const auto& axis : result.base.axis_names) plan.names.push_back(axis + "_to");
  for (const char* name : {"needs_pct", "gets_pct", "standard_error_now_pct", "standard_error_after_pct"})
    plan.names.emplace_back(name);
  plan.columns.resize(plan.names.size());
  for (const auto& leg : result.plan) {
    std::vector<double> row = leg.from;
    row.insert(row.end(), leg.to.begin(), leg.to.end());
    const std::size_t k = detail::leanest_cell(result, leg);
    for (const double pct : {result.needs_pct(k), result.gets_pct(k), 100 * leg.error_before, 100 * leg.error_after})
      row.push_back(report::rounded(pct, 3));
    for (std::size_t i = 0; i < row.size(); ++i) plan.columns[i].push_back(row[i]);
  }
  return plan;
}

}  // namespace

std::vector<std::string> result_names() {
  return {corrected_map_name, "estimated_map.csv", "standard_error_pct.csv", "seconds.csv", usage_name,
          "drive_next.csv",   "session.json",      "summary.json",           "report.html"};
}

std::vector<std::filesystem::path> write_results(const outcome& result, const std::string& report,
                                                 const std::filesystem::path& folder) {
  std::string next_session;  // texts first: what fails, fails before the first file
  if (result.writes_map()) {
    auto next = session::session_with_map(result.session, folder, corrected_map_name);
    if (result.session.usage_map_path.empty()) next["usage_map"] = {{"file", usage_name}};
    next_session = next.dump(2) + "\n";
  }
  const std::string summary = summary_json(result).dump(2) + "\n";
  std::vector<std::filesystem::path> written;
  const auto write_map = [&](const char* name, std::vector<double> values, int decimals) {
    for (double& value : values) value = report::rounded(value, decimals);
    written.push_back(folder / name);
    fettle::write_map_csv(written.back(), like_base(result, values));
  };
  if (result.writes_map()) {
    written.push_back(folder / corrected_map_name);
    fettle::write_map_csv(written.back(), like_base(result, result.corrected));
  }
  std::vector<double> estimated, error_pct, seconds;
  for (std::size_t k = 0; k < result.evidence.size(); ++k) {
    estimated.push_back(result.base.table.values()[k] * result.evidence[k].correction);
    error_pct.push_back(result.error_pct(k));
    seconds.push_back(result.evidence[k].seconds);
  }
  write_map("estimated_map.csv", std::move(estimated), 4);
  write_map("standard_error_pct.csv", std::move(error_pct), 3);
  write_map("seconds.csv", std::move(seconds), 2);
  if (result.session.usage_map_path.empty())  // later drives by a plan do not say how the car is used
    write_map(usage_name, result.usage, 3);

  written.push_back(folder / "drive_next.csv");
  fettle::write_log_csv(written.back(), plan_table(result));
  if (result.writes_map()) {
    written.push_back(folder / "session.json");
    fettle::write_atomically(written.back(), next_session);
  }
  written.push_back(folder / "summary.json");
  fettle::write_atomically(written.back(), summary);
  written.push_back(folder / "report.html");
  fettle::write_atomically(written.back(), report);
  return written;
}

}  // namespace correct_map
