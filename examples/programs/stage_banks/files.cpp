// SPDX-License-Identifier: MIT
#include "stage_banks/files.hpp"

#include <fmt/core.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <utility>

#include "common/report/rounded.hpp"
#include "common/session/cell_name.hpp"
#include "common/session/next_session.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/map_csv.hpp"
#include "stage_banks/terminal.hpp"

namespace stage_banks {
namespace {

[[nodiscard]] nlohmann::ordered_json size_json(const excursion_size& size) {
  return {{"largest_up_pct", 100 * size.largest[0]}, {"largest_down_pct", 100 * size.largest[1]},
          {"leanest_up_pct", 100 * size.leanest[0]}, {"leanest_down_pct", 100 * size.leanest[1]},
          {"rms_up_pct", 100 * size.rms[0]},         {"rms_down_pct", 100 * size.rms[1]}};
}

[[nodiscard]] nlohmann::ordered_json comparison_json(const comparison& torque, double truth, std::size_t pulls) {
  return {{"with_nm", torque.mean_a},
          {"without_nm", torque.mean_b},
          {"difference_nm", torque.difference()},
          {"interval_95_nm", {torque.difference() - torque.half_width, torque.difference() + torque.half_width}},
          {"shown", torque.is_shown()},
          {"true_difference_nm", truth},
          {"scatter_of_one_pull_nm", torque.scatter},
          {"pulls_needed", pulls > 0 ? nlohmann::ordered_json(pulls) : nlohmann::ordered_json()}};
}

/// What a passage did to lambda, strategy by strategy.
[[nodiscard]] nlohmann::ordered_json passage_json(const outcome& results, const passage_result& driven) {
  using json = nlohmann::ordered_json;
  json passage{{"name", driven.through.name}, {"strategies", json::array()}};
  for (const strategy how : strategies) {
    const auto& r = driven.with(how);
    json entry{{"name", in_words(how)}, {"staging", size_json(r.staging_size)}, {"total", size_json(r.total_size)}};
    for (std::size_t b = 0; b < results.banks.size(); ++b) {
      entry["largest_duty_pct"][results.banks[b].name] = 100 * r.largest_duty[b];
      entry["smallest_pulse_margin_ms"][results.banks[b].name] = r.pulse_margin_ms[b];  // null where it never opens
    }
    passage["strategies"].push_back(std::move(entry));
  }
  passage["compensated_by_film_accuracy"] = json::array();
  for (const auto& films : driven.known)
    passage["compensated_by_film_accuracy"].push_back({{"films", films.name},
                                                       {"staging", size_json(films.size.staging)},
                                                       {"unavoidable", size_json(films.size.single)},
                                                       {"total", size_json(films.size.total)}});
  passage["aim_met"] = {{"up", driven.meets_aim(0, results.session.staging.lambda_excursion)},
                        {"down", driven.meets_aim(1, results.session.staging.lambda_excursion)}};
  passage["aim_met_if_films_within_pct"] = {
      {"up", 100 * driven.largest_film_error(0, results.session.staging.lambda_excursion)},
      {"down", 100 * driven.largest_film_error(1, results.session.staging.lambda_excursion)}};
  return passage;
}

/// What the simulated pulls say.
[[nodiscard]] nlohmann::ordered_json power_json(const outcome& results) {
  using json = nlohmann::ordered_json;
  json power{
      {"pulls_each", results.power.pulls}, {"gain_asked_pct", 100 * results.power.gain}, {"points", json::array()}};
  power["overall"] =
      comparison_json(results.power.overall, results.power.overall_true_difference, results.power.pulls_needed);
  for (const auto& point : results.power.points) {
    json entry{{"rpm", point.rpm}, {"share_with", point.share_a}, {"share_without", point.share_b}};
    entry.update(comparison_json(point.measured, point.true_difference, point.pulls_needed));
    power["points"].push_back(std::move(entry));
  }
  return power;
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& results) {
  using json = nlohmann::ordered_json;
  const report::verdict verdict = verdict_of(results, share_map_name);
  json result{{"load", verdict.load},
              {"safe", verdict.safe},
              {"next", verdict.next},
              {"is_safe", verdict.is_safe},
              {"objections", results.objections},
              {"title", results.session.title},
              {"simulated", true},
              {"virtual_engine_seed", results.seed}};
  result["banks"] = json::array();
  for (std::size_t b = 0; b < results.banks.size(); ++b) {
    const auto size = size_bank(results, b);
    json bank{{"name", results.banks[b].name},
              {"static_flow_g_per_min", size.static_g_per_min},
              {"static_flow_cm3_per_min", size.static_cm3_per_min},
              {"carried_power_kW", size.carried_power_kw}};
    if (results.session.goal) bank["required_flow_alone_g_per_min"] = size.needed_g_per_min;
    result["banks"].push_back(std::move(bank));
  }
  result["unmet_cells"] = json::array();
  for (std::size_t k = 0; k < results.planned.unmet.size(); ++k)
    if (results.planned.unmet[k] != fettle::unmet_cell::none)
      result["unmet_cells"].push_back({{"cell", session::cell_name(results.planned.demand, k)},
                                       {"primary_duty_pct", 100 * results.planned.primary_duty[k]},
                                       {"secondary_duty_pct", 100 * results.planned.secondary_duty[k]},
                                       {"reason", in_words(results.planned.unmet[k])},
                                       {"remedy", remedy(results.planned.unmet[k])}});
  result["excursion_definition"] = definition;
  result["aim"] = aim_in_words(results.session.staging);
  result["fastest_share_per_s"] = results.planned.fastest_share_per_s;
  result["passages"] = json::array();
  for (const auto& driven : results.passages) result["passages"].push_back(passage_json(results, driven));
  result["power"] = power_json(results);
  return result;
}

/// All lambda traces of a passage, a hundred rows a second.
[[nodiscard]] fettle::log_table trace_table(const passage_result& passage) {
  fettle::log_table table;
  const auto add = [&](std::string name, const std::vector<double>& values, int decimals) {
    table.names.push_back(std::move(name));
    auto& column = table.columns.emplace_back();
    for (std::size_t i = 0; i < values.size(); i += 10) column.push_back(report::rounded(values[i], decimals));
  };
  const trace& first = passage.by_strategy[0].made;
  add("time_s", first.time_s, 2);
  add("rpm", first.rpm, 1);
  add("throttle_pct", first.throttle_pct, 2);
  constexpr std::array short_names{"single", "at_once", "blended", "compensated"};
  for (std::size_t s = 0; s < passage.by_strategy.size(); ++s) {
    const std::string suffix = std::string("_") + short_names[s];
    add("lambda" + suffix, passage.by_strategy[s].made.lambda, 5);
    add("staging" + suffix, passage.by_strategy[s].staging, 5);
    add("pulse_primary" + suffix + "_ms", passage.by_strategy[s].made.primary_ms, 3);
    add("pulse_secondary" + suffix + "_ms", passage.by_strategy[s].made.secondary_ms, 3);
  }
  return table;
}

[[nodiscard]] fettle::log_table torque_table(const power_question& question) {
  fettle::log_table table;
  for (const char* name : {"rpm", "share_with", "share_without", "torque_with_nm", "torque_without_nm", "difference_nm",
                           "half_width_95_nm", "true_difference_nm", "pulls_needed"})
    table.names.emplace_back(name);
  table.columns.resize(table.names.size());
  for (const auto& p : question.points) {
    std::size_t column = 0;
    const double needed = p.pulls_needed > 0 ? static_cast<double>(p.pulls_needed) : std::nan("");
    for (const double x : {p.rpm, p.share_a, p.share_b, p.measured.mean_a, p.measured.mean_b, p.measured.difference(),
                           p.measured.half_width, p.true_difference, needed})
      table.columns[column++].push_back(report::rounded(x, 4));
  }
  return table;
}

[[nodiscard]] std::string excursions_csv(const outcome& results) {
  std::string text = "passage,way,strategy,staging_largest_pct,staging_rms_pct,total_largest_pct,total_rms_pct\n";
  for (const auto& passage : results.passages)
    for (std::size_t way = 0; way < 2; ++way)
      for (const strategy how : strategies) {
        const auto& r = passage.with(how);
        text +=
            fmt::format("\"{}\",{},\"{}\",{:.4f},{:.4f},{:.4f},{:.4f}\n", passage.through.name,
                        way == 0 ? "up" : "down", in_words(how), 100 * r.staging_size.largest[way],
                        100 * r.staging_size.rms[way], 100 * r.total_size.largest[way], 100 * r.total_size.rms[way]);
      }
  return text;
}

[[nodiscard]] std::string passage_file(std::string passage) {
  std::erase(passage, ',');
  std::replace(passage.begin(), passage.end(), ' ', '_');
  return "passage_" + passage + ".csv";
}

}  // namespace

std::vector<std::string> result_names() {
  std::vector<std::string> names{share_map_name,        "primary_duty_pct.csv", "secondary_duty_pct.csv",
                                 "pulse_margin_ms.csv", "excursions.csv",       "torque.csv",
                                 "session.json",        "summary.json",         "report.html"};
  for (const char* passage : passage_names) names.push_back(passage_file(passage));
  return names;
}

std::vector<std::filesystem::path> write_results(const outcome& results, const std::string& report,
                                                 const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> written;
  const auto write_map = [&](const char* name, const std::vector<double>& values, double factor, int decimals) {
    written.push_back(folder / name);
    fettle::map_file map = results.planned.demand;
    for (std::size_t k = 0; k < values.size(); ++k)
      map.table.values()[k] = report::rounded(factor * values[k], decimals);
    fettle::write_map_csv(written.back(), map);
  };
  const auto write_text = [&](const std::string& name, const std::string& text) {
    written.push_back(folder / name);
    fettle::write_atomically(written.back(), text);
  };
  const auto write_log = [&](const std::string& name, const fettle::log_table& log) {
    written.push_back(folder / name);
    fettle::write_log_csv(written.back(), log);
  };
  if (results.writes_map()) write_map(share_map_name, results.planned.share, 1, 4);
  write_map("primary_duty_pct.csv", results.planned.primary_duty, 100, 2);
  write_map("secondary_duty_pct.csv", results.planned.secondary_duty, 100, 2);
  write_map("pulse_margin_ms.csv", results.planned.pulse_margin_ms, 1, 3);
  write_text("excursions.csv", excursions_csv(results));
  for (const auto& passage : results.passages) write_log(passage_file(passage.through.name), trace_table(passage));
  write_log("torque.csv", torque_table(results.power));
  if (results.writes_map())
    write_text("session.json", session::session_with_share(results.session, folder, share_map_name).dump(2) + "\n");
  write_text("summary.json", summary_json(results).dump(2) + "\n");
  write_text("report.html", report);
  return written;
}

}  // namespace stage_banks
