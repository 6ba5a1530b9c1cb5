// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cautions.hpp"
#include "common/report/interval_chart.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/page.hpp"
#include "common/vehicle/road_caution.hpp"
#include "compare_pulls/job.hpp"
#include "compare_pulls/terminal.hpp"

namespace compare_pulls {
namespace detail {

inline void add_result(report::page& page, const outcome& all) {
  page.section("Result");
  page.facts({{"Did it make power?", verdict(all)},
              {"Pulls", fmt::format("{} before, {} after", units_in_words(all, all.result.units[0]),
                                    units_in_words(all, all.result.units[1]))},
              {"Pulls needed", needed_in_words(all)}});
  if (!all.cautions.empty()) page.notice("What makes before and after less comparable", all.cautions);
  page.notice("Before you test", std::array{vehicle::road_caution});
  page.notice("Before you rely on it", report::cautions);
}

inline void add_torque(report::page& page, const outcome& all) {
  page.section("Torque");
  std::vector<double> rpm, before, after, gain, low, high;
  std::vector<std::vector<std::string>> rows;
  for (const auto& p : all.result.points) {
    rpm.push_back(p.rpm);
    before.push_back(p.before_nm);
    after.push_back(p.after_nm);
    gain.push_back(100 * p.gain.value);
    low.push_back(100 * p.gain.low());
    high.push_back(100 * p.gain.high());
    rows.push_back({fmt::format("{:.0f}", p.rpm), fmt::format("{:.1f}", p.before_nm), fmt::format("{:.1f}", p.after_nm),
                    gain_in_words(p.gain), p.gain.is_shown() ? "yes" : "not shown"});
  }
  page.picture(report::draw(report::line_chart{
                   .x_label = "engine speed in rpm",
                   .y_label = "torque in N m",
                   .series = {{all.settings.state[0].name, rpm, before}, {all.settings.state[1].name, rpm, after}}}),
               "Torque before and after, smooth curves through all pulls");
  page.picture(report::draw(report::interval_chart{.x_label = "engine speed in rpm",
                                                   .y_label = "gain in %",
                                                   .x = rpm,
                                                   .series = {{"gain, 95 % interval", gain, low, high}},
                                                   .limits = {{0, "no gain"}}}),
               "Gain over engine speed; each interval holds by itself with 95 %");
  page.add(report::table{
      .caption = "Torque and gain; at one or two of the 25 speeds a gain may be shown by chance alone",
      .columns = {{"rpm", true}, {"Before N m", true}, {"After N m", true}, {"Gain, 95 % interval", true}, {"Shown"}},
      .rows = std::move(rows)});
}

inline void add_car(report::page& page, const outcome& all) {
  if (all.coasts) {
    page.section("Road load");
    std::vector<std::vector<std::string>> rows;
    constexpr std::array names{"A in N", "B in N s/m", "C in N s2/m2"};
    for (std::size_t k = 0; k < names.size(); ++k) {
      const auto& c = all.coasts->coefficient[k];
      rows.push_back({names[k], fmt::format("{:.3f}", c.value), fmt::format("{:.3f} to {:.3f}", c.low(), c.high())});
    }
    for (const auto& [kmh, force] : all.coasts->force_n)
      rows.push_back({fmt::format("force at {:g} km/h in N", kmh), fmt::format("{:.0f}", force.value),
                      fmt::format("{:.0f} to {:.0f}", force.low(), force.high())});
    page.add(report::table{.caption = "Road load A + B v + C v2 from coast-downs",
                           .columns = {{"Quantity"}, {"Value", true}, {"95 % interval", true}},
                           .rows = std::move(rows)});
    page.paragraph("A, B and C are strongly correlated: the force is known better than each of them.");
  }
  if (all.gears.empty()) return;
  page.section("Rotating inertia");
  std::vector<std::pair<std::string, std::string>> facts;
  for (std::size_t s = 0; s < 2; ++s)
    if (all.result.engine_kgm2[s])
      facts.emplace_back("Engine, " + all.settings.state[s].name, inertia_in_words(*all.result.engine_kgm2[s]));
  if (all.result.inertia_change) facts.emplace_back("Change", inertia_in_words(*all.result.inertia_change));
  page.facts(facts);
  const bool has_stretch = all.settings.to_kmh > 0;
  report::table worth{.caption = "What the change of inertia is worth",
                      .columns = {{"Gear", true}, {"Equivalent mass kg", true}},
                      .rows = {}};
  if (has_stretch) {
    worth.caption += fmt::format(", {:g} to {:g} km/h", all.settings.from_kmh, all.settings.to_kmh);
    worth.columns.insert(worth.columns.end(), {{"Before s", true}, {"New inertia only s", true}, {"After s", true}});
  }
  for (const auto& g : all.gears) {
    auto& row = worth.rows.emplace_back();
    row = {std::to_string(g.gear), fmt::format("{:+.1f}", g.mass_change_kg)};
    if (!has_stretch) continue;
    for (const double s : {g.before_s, g.lighter_s, g.after_s})
      row.push_back(std::isnan(s) ? "outside the curve" : fmt::format("{:.2f}", s));
  }
  page.add(worth);
}

inline void add_method(report::page& page, const outcome& all) {
  page.section("How this was worked out");
  page.paragraph(
      all.settings.source == torque_source::dyno
          ? "Torque is taken as the dynamometer measured it. The rows of one pull are correlated, so a pull counts as "
            "one observation."
          : "The impulse of the engine is what accelerated the car and all that turns, overcame the road load and "
            "climbed the slope; speed is never differentiated. The efficiency of the gears and the mass of the car are "
            "taken as given: an error in them scales both curves alike.");
  page.paragraph(
      "The curves are penalised least squares, smoothed by REML. The intervals come from the differences between whole "
      "pulls (or sets of pulls), with Bell and McCaffrey's CR2 and Student's t at Satterthwaite's degrees of freedom. "
      "They therefore include errors that are correlated within a pull, and what shifts a whole pull, such as a hot "
      "engine.");
  page.paragraph(fmt::format(
      "Torque is corrected to dry air of 99 kPa at 25 \u00b0C by {}; the mean factors are {:.4f} before and {:.4f} "
      "after.",
      all.settings.air_correction == air_rule::iso_1585
          ? "ISO 1585 (formula as public texts state it; the standard was not read)"
      : all.settings.air_correction == air_rule::sae_j1349
          ? "SAE J1349 (formula as public texts state it; the standard was not read)"
          : "no rule",
      all.air_factor[0], all.air_factor[1]));
}

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& all) {
  report::page page(all.settings.title, all.settings.state[0].name + " against " + all.settings.state[1].name);
  detail::add_result(page, all);
  detail::add_torque(page, all);
  detail::add_car(page, all);
  detail::add_method(page, all);
  return page.html();
}

}  // namespace compare_pulls
