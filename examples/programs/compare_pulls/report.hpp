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

inline void add_result(report::page& page, const outcome& of) {
  page.section("Result");
  page.facts({{"Did it make power?", verdict(of)},
              {"Pulls", fmt::format("{} before, {} after", units_in_words(of, of.result.units[0]),
                                    units_in_words(of, of.result.units[1]))},
              {"To see a gain", needed_in_words(of)}});
  if (!of.cautions.empty()) page.notice("What makes before and after less comparable", of.cautions);
  page.notice("Before you test", std::array{vehicle::road_caution});
  page.notice("Before you rely on it", report::cautions);
}

inline void add_torque(report::page& page, const outcome& of) {
  page.section("Torque");
  std::vector<double> rpm, before, after, gain, low, high;
  std::vector<std::vector<std::string>> rows;
  for (const auto& p : of.result.points) {
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
                   .series = {{of.settings.state[0].name, rpm, before}, {of.settings.state[1].name, rpm, after}}}),
               "Torque before and after, smooth curves through all pulls");
  page.picture(report::draw(report::interval_chart{.x_label = "engine speed in rpm",
                                                   .y_label = "gain in %",
                                                   .x = rpm,
                                                   .series = {{"gain, 95 % interval", gain, low, high}},
                                                   .limits = {{0, "no gain"}}}),
               "Gain over engine speed; each interval holds by itself with 95 %");
  page.add(report::table{
      .caption = "Torque and gain; of 25 speeds, one or two may be shown by chance alone",
      .columns = {{"rpm", true}, {"Before N m", true}, {"After N m", true}, {"Gain, 95 % interval", true}, {"Shown"}},
      .rows = std::move(rows)});
}

inline void add_car(report::page& page, const outcome& of) {
  if (of.coasts) {
    page.section("Road load");
    std::vector<std::vector<std::string>> rows;
    constexpr std::array names{"A in N", "B in N s/m", "C in N s2/m2"};
    for (std::size_t k = 0; k < names.size(); ++k) {
      const auto& c = of.coasts->coefficient[k];
      rows.push_back({names[k], fmt::format("{:.3f}", c.value), fmt::format("{:.3f} to {:.3f}", c.low(), c.high())});
    }
    for (const auto& [kmh, force] : of.coasts->force_n)
      rows.push_back({fmt::format("force at {:g} km/h in N", kmh), fmt::format("{:.0f}", force.value),
                      fmt::format("{:.0f} to {:.0f}", force.low(), force.high())});
    page.add(report::table{.caption = "Road load A + B v + C v2 from coast-downs",
                           .columns = {{"Quantity"}, {"Value", true}, {"95 % interval", true}},
                           .rows = std::move(rows)});
    page.paragraph("A, B and C are strongly correlated: the force is known better than each of them.");
  }
  if (of.gears.empty()) return;
  page.section("Rotating inertia");
  std::vector<std::pair<std::string, std::string>> facts;
  for (std::size_t s = 0; s < 2; ++s)
    if (of.result.engine_kgm2[s])
      facts.emplace_back("Engine, " + of.settings.state[s].name, inertia_in_words(*of.result.engine_kgm2[s]));
  if (of.result.inertia_change) facts.emplace_back("Change", inertia_in_words(*of.result.inertia_change));
  page.facts(facts);
  std::vector<std::vector<std::string>> rows;
  const auto seconds = [](double s) {
    return std::isnan(s) ? std::string("outside the curve") : fmt::format("{:.2f}", s);
  };
  for (const auto& g : of.gears)
    rows.push_back({std::to_string(g.gear), fmt::format("{:+.1f}", g.mass_change_kg), seconds(g.before_s),
                    seconds(g.lighter_s), seconds(g.after_s)});
  page.add(report::table{.caption = fmt::format("What the change of inertia is worth, {:g} to {:g} km/h",
                                                of.settings.from_kmh, of.settings.to_kmh),
                         .columns = {{"Gear", true},
                                     {"Equivalent mass kg", true},
                                     {"Before s", true},
                                     {"New inertia only s", true},
                                     {"After s", true}},
                         .rows = std::move(rows)});
}

inline void add_method(report::page& page, const outcome& of) {
  page.section("How this was worked out");
  page.paragraph(
      of.settings.by == method::dyno
          ? "Torque as the dynamometer gave it. Rows within a pull are correlated; a pull counts as one."
          : "The engine's impulse is what it has done to the car: speed gained by all masses, road load, slope. "
            "Speed is not differentiated. The efficiency of the gears and the car's mass are taken as given: an "
            "error there scales both curves alike.");
  page.paragraph(
      "The curves are penalised least squares, as smooth as REML makes them. Intervals come from how whole pulls (or "
      "sets "
      "of pulls) differ, with Student's t at Satterthwaite's degrees of freedom (Bell and McCaffrey's CR2), so that "
      "errors "
      "correlated within a pull, and a level of the pull's own such as that of a hot engine, are in them.");
  page.paragraph(fmt::format(
      "Torque is brought to 99 kPa of dry air at 25 \u00b0C by {}; mean factors {:.4f} before and {:.4f} after. "
      "Without "
      "columns of the air the factor is 1.",
      of.settings.rule == air_rule::iso_1585 ? "ISO 1585 (formula as public texts state it; the standard was not read)"
      : of.settings.rule == air_rule::sae_j1349
          ? "SAE J1349 (formula as public texts state it; the standard was not read)"
          : "no rule",
      of.air_factor[0], of.air_factor[1]));
}

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& of) {
  report::page page(of.settings.title, of.settings.state[0].name + " against " + of.settings.state[1].name);
  detail::add_result(page, of);
  detail::add_torque(page, of);
  detail::add_car(page, of);
  detail::add_method(page, of);
  return page.html();
}

}  // namespace compare_pulls
