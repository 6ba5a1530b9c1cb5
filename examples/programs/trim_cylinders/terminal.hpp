// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <cstddef>
#include <string>

#include "common/report/cell_states.hpp"
#include "trim_cylinders/job.hpp"

namespace trim_cylinders {

/// What a tuner needs to know before loading the trims.
[[nodiscard]] inline std::string summary(const outcome& of) {
  std::string text;
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(of.session.title);
  line(fmt::format("{} rows, {:.1f} min, {} run{}, {} cylinders, {} sensors", of.rows, of.minutes,
                   of.session.log_paths.size(), of.session.log_paths.size() == 1 ? "" : "s", of.cylinders(),
                   of.session.sensors.size()));
  line("");
  for (const auto& alarm : of.alarms) line("!! " + alarm);
  if (!of.alarms.empty()) line("");

  line(fmt::format("spread of lambda between cylinders  {:.2f} % before, {:.2f} % predicted after",
                   100 * of.spread(&fettle::region::spread_before), 100 * of.spread(&fettle::region::spread_after)));
  line("");
  const std::size_t width = 22;
  std::string head = fmt::format("{:<{}}", "trim applied, %", width);
  for (std::size_t i = 0; i < of.cylinders(); ++i)
    head += fmt::format("{:>9}", fmt::format("cyl {}{}", i + 1, of.trims.told.trim[i] ? "" : "?"));
  line(head + "   leanest, lambda     collector  target");
  for (const auto& one : of.regions) {
    std::string row = fmt::format("{:<{}}", of.place(one.cell), width);
    for (std::size_t i = 0; i < of.cylinders(); ++i)
      row += fmt::format("{:>+8.2f}{}", of.gets_pct(i, one.cell), report::mark_of(of.loaded[i].state[one.cell]));
    line(row + fmt::format("   cyl {}, {:.3f} -> {:.3f}   {:.3f}    {:.3f}", one.leanest, one.leanest_lambda,
                           one.leanest_after, one.collector_lambda, one.target_lambda));
  }
  std::string marks;
  for (const auto& [symbol, meaning] : report::state_meanings()) marks += fmt::format("{} {}   ", symbol, meaning);
  line(marks + "? known to no more than its sensor's gain");
  line("");
  line("sensor                 gain on phi   standard error");
  for (std::size_t s = 0; s < of.map.gains.size(); ++s) {
    const auto& one = of.map.gains[s];
    const auto& sensor = of.session.sensors[s];
    if (sensor.is_calibrated)
      line(fmt::format("  {:<20} {:>7.4f}       calibrated", sensor.name, one.value));
    else if (!of.trims.told.gain[s])
      line(fmt::format("  {:<20}       -       not told", sensor.name));
    else
      line(fmt::format("  {:<20} {:>7.4f}       {:.2f} %", sensor.name, one.value, 100 * one.relative_error));
  }
  if (!of.remarks.empty()) line("");
  for (const auto& remark : of.remarks) line("- " + remark);
  if (!of.next.empty()) line("");
  for (const auto& step : of.next) line("next: " + step);
  return text;
}

}  // namespace trim_cylinders
