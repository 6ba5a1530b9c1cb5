// SPDX-License-Identifier: MIT
#include "compare_passes/files.hpp"

#include <cstddef>
#include <nlohmann/json.hpp>

#include "common/report/rounded.hpp"
#include "common/session/cell_name.hpp"
#include "compare_passes/words.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"

namespace compare_passes {
namespace {

[[nodiscard]] nlohmann::ordered_json step_json(const step& result) {
  const auto& compared = result.compared;
  nlohmann::ordered_json json{{"earlier", fettle::path_text(result.earlier.session.path)},
                              {"later", fettle::path_text(result.later.session.path)},
                              {"cells_compared", compared.compared()},
                              {"as_predicted", compared.count(fettle::pass_verdict::as_predicted)},
                              {"better", compared.count(fettle::pass_verdict::better)},
                              {"worse", compared.count(fettle::pass_verdict::worse)},
                              {"common_shift_pct", 100 * compared.common_shift},
                              {"common_shift_error_pct", 100 * compared.common_shift_error},
                              {"rms_pct",
                               {{"before", result.rms_pct(&fettle::pass_cell::before)},
                                {"predicted", result.rms_pct(&fettle::pass_cell::predicted)},
                                {"shown", result.rms_pct(&fettle::pass_cell::shown)}}}};
  json["worse_cells"] = nlohmann::ordered_json::array();
  for (const std::size_t k : result.worse_cells()) {
    const auto& cell = compared.cells[k];
    json["worse_cells"].push_back({{"cell", session::cell_name(result.later.base, k)},
                                   {"before_pct", percent(cell.before)},
                                   {"predicted_pct", percent(cell.predicted)},
                                   {"shown_pct", percent(cell.shown)},
                                   {"standard_error_pct", 100 * cell.standard_error},
                                   {"likely_reason", in_words(cell.reason)}});
  }
  return json;
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& result) {
  nlohmann::ordered_json json{{"title", result.last().later.session.title}, {"steps", nlohmann::ordered_json::array()}};
  for (const step& pass : result.steps) json["steps"].push_back(step_json(pass));
  return json;
}

}  // namespace

std::vector<std::string> result_names() {
  return {"predicted_pct.csv", "shown_pct.csv", "summary.json", "report.html"};
}

std::vector<std::filesystem::path> write_results(const outcome& result, const std::string& report,
                                                 const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> written;
  const step& last = result.last();
  const auto write_map = [&](const char* name, double fettle::pass_cell::*part) {
    fettle::map_file map = last.later.base;
    for (std::size_t k = 0; k < map.table.size(); ++k)
      map.table.values()[k] = report::rounded(percent(last.compared.cells[k].*part), 3);
    written.push_back(folder / name);
    fettle::write_map_csv(written.back(), map);
  };
  write_map("predicted_pct.csv", &fettle::pass_cell::predicted);
  write_map("shown_pct.csv", &fettle::pass_cell::shown);
  written.push_back(folder / "summary.json");
  fettle::write_atomically(written.back(), summary_json(result).dump(2) + "\n");
  written.push_back(folder / "report.html");
  fettle::write_atomically(written.back(), report);
  return written;
}

}  // namespace compare_passes
