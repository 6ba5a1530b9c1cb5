// SPDX-License-Identifier: MIT
#include "plan_shifts/files.hpp"

#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <utility>

#include "common/report/rounded.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/map_csv.hpp"
#include "plan_shifts/blip_maps.hpp"
#include "plan_shifts/terminal.hpp"

namespace plan_shifts {
namespace {

[[nodiscard]] std::string shifts_csv(const outcome& all) {
  std::string text = "from_gear,rpm,speed_kmh,rpm_after,at_limit,unload_s,fall_s\n";
  for (const auto& shift : all.up)
    text += fmt::format("{},{:.0f},{:.1f},{:.0f},{},{},{:.3f}\n", shift.from_gear, shift.rpm, shift.speed_kmh,
                        shift.rpm_after, shift.at_limit ? 1 : 0,
                        std::isnan(shift.unload_s) ? "" : fmt::format("{:.4f}", shift.unload_s), shift.fall_s);
  return text;
}

[[nodiscard]] nlohmann::ordered_json summary_json(const outcome& all) {
  using json = nlohmann::ordered_json;
  const auto count = count_blips(all);
  json result{{"title", all.settings.title}, {"up", json::array()}};
  for (const auto& shift : all.up)
    result["up"].push_back({{"from_gear", shift.from_gear},
                            {"rpm", shift.rpm},
                            {"speed_kmh", shift.speed_kmh},
                            {"rpm_after", shift.rpm_after},
                            {"at_limit", shift.at_limit},
                            {"unload_s", shift.unload_s},
                            {"fall_s", shift.fall_s}});
  result["blips"] = {{"in_time", count.status[0]},
                     {"late", count.status[1]},
                     {"unreachable", count.status[2]},
                     {"not_needed", count.status[3]},
                     {"error_10_pct_less_torque_pct", count.worst_low_pct},
                     {"error_10_pct_more_torque_pct", count.worst_high_pct},
                     {"speed_error_pct", all.settings.speed_error_pct},
                     {"wheel_torque_nm", count.largest_torque_nm},
                     {"speed_change_kmh", count.largest_change_kmh}};
  return result;
}

}  // namespace

std::vector<std::string> result_names() {
  return {"blip_throttle_pct.csv", "blip_time_s.csv", "blip_error_nm.csv", "unload_ms.csv", "shifts.csv",
          "summary.json",          "report.html"};
}

std::vector<std::filesystem::path> write_results(const outcome& all, const std::string& report,
                                                 const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> written;
  const auto map = [&](const char* name, std::size_t first_gear, std::vector<double> values, int decimals) {
    written.push_back(folder / name);
    fettle::write_map_csv(written.back(), gear_map(all, first_gear, std::move(values), decimals));
  };
  const auto text = [&](const char* name, const std::string& content) {
    written.push_back(folder / name);
    fettle::write_atomically(written.back(), content);
  };
  map("blip_throttle_pct.csv", 2, of_blips(all, [](const auto& shift) { return shift.plan.pulse.peak_pct; }), 2);
  map("blip_time_s.csv", 2, of_blips(all, [](const auto& shift) { return shift.plan.pulse.duration_s; }), 4);
  map("blip_error_nm.csv", 2, of_blips(all, [](const auto& shift) { return shift.jolt.wheel_torque_nm; }), 0);
  map("unload_ms.csv", 1, all.unload_ms, 1);
  text("shifts.csv", shifts_csv(all));
  text("summary.json", summary_json(all).dump(2) + "\n");
  text("report.html", report);
  return written;
}

}  // namespace plan_shifts
