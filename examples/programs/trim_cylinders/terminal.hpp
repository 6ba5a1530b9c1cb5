// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <cstddef>
#include <string>
#include <utility>

#include "common/report/cell_states.hpp"
#include "trim_cylinders/job.hpp"
#include "trim_cylinders/verdict.hpp"

namespace trim_cylinders {
namespace detail {

/// Gathers the lines of the summary.
class summary_writer {
 public:
  summary_writer(const outcome& result, const std::string& folder)
      : result_{result}, text_{report::lines(verdict_of(result, folder))} {}

  [[nodiscard]] std::string text() {
    for (const auto& objection : result_.objections) line("  " + objection);
    lean();
    line("");
    line(result_.session.title);
    line(fmt::format("{} rows, {:.1f} min, {} run{}, {} cylinders, {} sensors", result_.rows, result_.minutes,
                     result_.session.log_paths.size(), result_.session.log_paths.size() == 1 ? "" : "s",
                     result_.cylinders(), result_.session.sensors.size()));
    line(fmt::format("spread of lambda between cylinders  {:.2f} % before, {:.2f} % predicted after",
                     100 * result_.spread(&fettle::region::spread_before),
                     100 * result_.spread(&fettle::region::spread_after)));
    trims();
    sensors();
    if (!result_.remarks.empty()) line("");
    for (const auto& remark : result_.remarks) line("- " + remark);
    if (!result_.next.empty()) line("");
    for (const auto& step : result_.next) line("next: " + step);
    return std::move(text_);
  }

 private:
  void line(const std::string& words) { text_ += words + "\n"; }

  void lean() {
    if (!result_.alarms.empty()) line("");
    for (const auto& alarm : result_.alarms) line("!! " + alarm);
    const auto lean = lean_trims(result_);
    if (lean.empty()) return;
    line("");
    line("trims that stay lean, the worst first");
    line("  needs     got       uncertainty  where");
    for (const auto& [cylinder, cell] : lean)
      line(fmt::format("  {:+6.2f} %  {:+6.2f} %  {:10.2f} %  cylinder {}, {}", result_.needs_pct(cylinder, cell),
                       result_.gets_pct(cylinder, cell), 100 * result_.trims.standard_error[cylinder][cell],
                       cylinder + 1, result_.place(cell)));
  }

  void trims() {
    line("");
    constexpr std::size_t width = 22;
    std::string head =
        fmt::format("{:<{}}", result_.corrects_trims() ? "change of the trim, %" : "trim to load, %", width);
    for (std::size_t i = 0; i < result_.cylinders(); ++i)
      head += fmt::format("{:>9}", fmt::format("cyl {}{}", i + 1, result_.trims.separable.trim[i] ? "" : "?"));
    line(head + "   leanest, lambda     collector  target");
    for (const auto& here : result_.regions) {
      std::string row = fmt::format("{:<{}}", result_.place(here.cell), width);
      for (std::size_t i = 0; i < result_.cylinders(); ++i)
        row += fmt::format("{:>+8.2f}{}", result_.gets_pct(i, here.cell),
                           report::mark_of(result_.loaded[i].state[here.cell]));
      line(row + fmt::format("   cyl {}, {:.3f} -> {:.3f}   {:.3f}    {:.3f}", here.leanest, here.leanest_lambda,
                             here.leanest_after, here.collector_lambda, here.target_lambda));
    }
    std::string marks;
    for (const auto& [symbol, meaning] : report::state_meanings()) marks += fmt::format("{} {}   ", symbol, meaning);
    line(marks + "? its sensor was not moved");
    if (const auto words = collector_in_words(result_); !words.empty()) line(words);
  }

  void sensors() {
    line("");
    line("sensor                 gain on phi   standard error   scatter");
    for (std::size_t s = 0; s < result_.map.gains.size(); ++s) {
      const auto& gain = result_.map.gains[s];
      const auto& sensor = result_.session.sensors[s];
      const bool is_known = sensor.is_calibrated || result_.trims.separable.gain[s];
      const std::string value = is_known ? fmt::format("{:.4f}", gain.value) : "-";
      const std::string error = sensor.is_calibrated ? "calibrated"
                                : is_known           ? fmt::format("{:.2f} %", 100 * gain.relative_error)
                                                     : "not identifiable";
      line(fmt::format("  {:<20} {:>7}       {:<16} {:.2f} %", sensor.name, value, error,
                       100 * result_.map.scatter[s].noise));
    }
  }

  const outcome& result_;
  std::string text_;
};

}  // namespace detail

/// What a tuner needs to know before loading the trims; the answers first.
///
/// @param folder  of the trims as the reader finds it, with a slash behind it.
[[nodiscard]] inline std::string summary(const outcome& result, const std::string& folder) {
  return detail::summary_writer(result, folder).text();
}

}  // namespace trim_cylinders
