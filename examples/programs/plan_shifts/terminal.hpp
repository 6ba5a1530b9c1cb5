// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string>

#include "plan_shifts/job.hpp"

namespace plan_shifts {

/// How the blips of all down-shifts came out.
struct blip_count {
  std::array<std::size_t, 4> status{};  ///< in time, late, unreachable, not needed
  double worst_low_pct = 0, worst_high_pct = 0;
  double largest_torque_nm = 0, largest_change_kmh = 0;
};

[[nodiscard]] inline blip_count count_blips(const outcome& all) {
  blip_count result;
  for (const auto& shift : all.down) {
    if (!shift.is_driven) continue;
    const auto status = shift.plan.status;
    if (status == fettle::blip_status::unusable) continue;
    ++result.status[status == fettle::blip_status::not_needed ? 3 : static_cast<std::size_t>(status)];
    if (status != fettle::blip_status::in_time && status != fettle::blip_status::late) continue;
    result.worst_low_pct = std::min(result.worst_low_pct, shift.error_low_pct);
    result.worst_high_pct = std::max(result.worst_high_pct, shift.error_high_pct);
    result.largest_torque_nm = std::max(result.largest_torque_nm, shift.jolt.wheel_torque_nm);
    result.largest_change_kmh = std::max(result.largest_change_kmh, 3.6 * shift.jolt.speed_change_mps);
  }
  return result;
}

[[nodiscard]] inline std::string unload_in_words(double seconds) {
  return std::isnan(seconds) ? std::string("never by the cut alone, friction is too small: use the clutch")
                             : fmt::format("{:.0f} ms", 1000 * seconds);
}

[[nodiscard]] inline std::string blips_in_words(const outcome& all) {
  const auto count = count_blips(all);
  std::string text = fmt::format("{} of {} blips within {:g} ms", count.status[0],
                                 count.status[0] + count.status[1] + count.status[2], 1000 * all.settings.blip_s);
  if (count.status[1] > 0) text += fmt::format(", {} take longer at the widest throttle allowed", count.status[1]);
  if (count.status[2] > 0)
    text += fmt::format(", {} CANNOT reach their speed within {:g} ms: use the clutch there", count.status[2],
                        1000 * all.settings.longest_blip_s);
  if (count.status[3] > 0)
    text += fmt::format("; {} more need none, the free engine gets there by itself", count.status[3]);
  return text;
}

[[nodiscard]] inline std::string wrong_maps_in_words(const outcome& all) {
  const auto count = count_blips(all);
  return fmt::format(
      "if the engine makes 10 % less torque than the map says, a blip ends up to {:.1f} % too slow; with 10 % more, up "
      "to {:.1f} % too fast",
      -count.worst_low_pct, count.worst_high_pct);
}

[[nodiscard]] inline std::string jolt_in_words(const outcome& all) {
  const auto count = count_blips(all);
  return fmt::format(
      "if the engine turns {:g} % too fast when the gear goes in, the driven wheels feel up to {:.0f} N m for {:g} ms "
      "and the "
      "car gains up to {:.2f} km/h",
      all.settings.speed_error_pct, count.largest_torque_nm, 1000 * all.settings.engagement_s,
      count.largest_change_kmh);
}

/// The outcome in a few lines.
[[nodiscard]] inline std::string summary(const outcome& all) {
  std::string text = all.settings.title +
                     "\n\nup, full throttle   shift at   km/h   then rpm   dogs unloaded after   engine "
                     "falls by itself in\n";
  for (const auto& shift : all.up)
    text += fmt::format("  {} to {}            {:5.0f}{}     {:4.0f}   {:5.0f}      {:<20}  {:.2f} s\n",
                        shift.from_gear, shift.from_gear + 1, shift.rpm, shift.at_limit ? "*" : " ", shift.speed_kmh,
                        shift.rpm_after, unload_in_words(shift.unload_s), shift.fall_s);
  if (std::any_of(all.up.begin(), all.up.end(), [](const auto& shift) { return shift.at_limit; }))
    text += "  * the limit: the lower gear accelerates better up to it\n";
  text += fmt::format("\ndown: {}.\n      {}.\n      {}.", blips_in_words(all), wrong_maps_in_words(all),
                      jolt_in_words(all));
  return text + "\n";
}

}  // namespace plan_shifts
