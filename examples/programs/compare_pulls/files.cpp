// SPDX-License-Identifier: MIT
#include "compare_pulls/files.hpp"

#include <cstddef>
#include <nlohmann/json.hpp>

#include "common/report/rounded.hpp"
#include "compare_pulls/terminal.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"

namespace compare_pulls {
namespace {

[[nodiscard]] nlohmann::ordered_json estimate_json(const estimate& x, double unit = 1) {
  return {{"value", unit * x.value},
          {"standard_error", unit * x.standard_error},
          {"degrees_of_freedom", x.freedom},
          {"interval_95", {unit * x.low(), unit * x.high()}},
          {"shown", x.is_shown()}};
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& all) {
  using json = nlohmann::ordered_json;
  const auto& r = all.result;
  json result{{"title", all.settings.title},
              {"verdict", verdict(all)},
              {"gain_pct", estimate_json(r.gain, 100)},
              {"before_nm", r.before_nm},
              {"after_nm", r.after_nm},
              {"unit", r.by_sets ? "set" : "pull"},
              {"units", {r.units[0], r.units[1]}},
              {"gain_asked_pct", all.settings.gain_pct},
              {"units_needed", r.units_needed > 0 ? json(r.units_needed) : json()},
              {"smallest_gain_pct", 100 * r.smallest_gain},
              {"air_factor", {all.air_factor[0], all.air_factor[1]}}};
  for (std::size_t s = 0; s < 2; ++s)
    if (r.engine_kgm2[s])
      result[s == 0 ? "engine_before_kgm2" : "engine_after_kgm2"] = estimate_json(*r.engine_kgm2[s]);
  if (r.inertia_change) result["engine_change_kgm2"] = estimate_json(*r.inertia_change);
  if (all.coasts) {
    constexpr std::array names{"A_N", "B_Ns_per_m", "C_Ns2_per_m2"};
    for (std::size_t k = 0; k < names.size(); ++k)
      result["road_load"][names[k]] = estimate_json(all.coasts->coefficient[k]);
    for (const auto& [kmh, force] : all.coasts->force_n)
      result["road_load"]["force_N"].push_back({{"speed_kmh", kmh}, {"force", estimate_json(force)}});
  }
  result["gears"] = json::array();
  for (const auto& g : all.gears)
    result["gears"].push_back({{"gear", g.gear},
                               {"mass_change_kg", g.mass_change_kg},
                               {"before_s", g.before_s},
                               {"new_inertia_s", g.lighter_s},
                               {"after_s", g.after_s}});
  result["cautions"] = all.cautions;
  return result;
}

[[nodiscard]] fettle::log_table torque_table(const comparison& result) {
  fettle::log_table table{{"rpm", "before_nm", "after_nm", "gain_pct", "low_95_pct", "high_95_pct"}, {}};
  table.columns.resize(table.names.size());
  for (const auto& p : result.points) {
    std::size_t column = 0;
    for (const double x : {p.rpm, p.before_nm, p.after_nm, 100 * p.gain.value, 100 * p.gain.low(), 100 * p.gain.high()})
      table.columns[column++].push_back(report::rounded(x, 4));
  }
  return table;
}

}  // namespace

std::vector<std::string> result_names() {
  return {"torque.csv", "summary.json", "report.html"};
}

std::vector<std::filesystem::path> write_results(const outcome& all, const std::string& report,
                                                 const std::filesystem::path& folder) {
  fettle::write_log_csv(folder / "torque.csv", torque_table(all.result));
  fettle::write_atomically(folder / "summary.json", summary_json(all).dump(2) + "\n");
  fettle::write_atomically(folder / "report.html", report);
  return {folder / "torque.csv", folder / "summary.json", folder / "report.html"};
}

}  // namespace compare_pulls
