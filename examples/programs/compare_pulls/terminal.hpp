// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <string>

#include "compare_pulls/job.hpp"

namespace compare_pulls {

/// "+1.20 % (+0.40 to +2.00)".
[[nodiscard]] inline std::string gain_in_words(const estimate& of) {
  return fmt::format("{:+.2f} % ({:+.2f} to {:+.2f})", 100 * of.value, 100 * of.low(), 100 * of.high());
}

[[nodiscard]] inline std::string units_in_words(const outcome& of, std::size_t count) {
  return fmt::format("{} {}{}", count, of.result.by_sets ? "set" : "pull", count == 1 ? "" : "s");
}

/// Did it make power?
[[nodiscard]] inline std::string verdict(const outcome& of) {
  const auto& gain = of.result.gain;
  const std::string range =
      fmt::format("{:.0f} to {:.0f} rpm", of.result.points.front().rpm, of.result.points.back().rpm);
  const std::string figure = fmt::format("mean torque over {}: {}, 95 % interval", range, gain_in_words(gain));
  if (!gain.is_shown()) return "NOT SHOWN. " + figure + " includes none.";
  return (gain.value > 0 ? "YES. " : "NO, it cost power. ") + figure + ".";
}

/// How many pulls show the gain asked for.
[[nodiscard]] inline std::string needed_in_words(const outcome& of) {
  const auto& r = of.result;
  const std::string gain = fmt::format("a gain of {:g} %", of.settings.gain_pct);
  if (r.units_needed == 0)
    return fmt::format(
        "No number of pulls shows {} with a chance of 95 % in this arrangement{}", gain,
        r.by_sets ? ": they scatter too much" : ", with one set of each: make two or more sets before and after");
  const std::size_t had = std::min(r.units[0], r.units[1]);
  const std::string all = fmt::format("{} before and as many after show {} with a chance of 95 %",
                                      units_in_words(of, r.units_needed), gain);
  if (r.units_needed <= had) return all + ": these are enough";
  return fmt::format(
      "{}: {} more of each. Decide then, not after every pull: looking again and again finds gains that are "
      "none",
      all, r.units_needed - had);
}

[[nodiscard]] inline std::string inertia_in_words(const estimate& of) {
  return fmt::format("{:.4f} kg m2 ({:.4f} to {:.4f})", of.value, of.low(), of.high());
}

/// The outcome in a few lines.
[[nodiscard]] inline std::string summary(const outcome& of) {
  const auto& r = of.result;
  std::string text;
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(of.settings.title);
  line("");
  line(fmt::format("Power:  {}", verdict(of)));
  line(fmt::format("Pulls:  {} before, {} after. {}.", units_in_words(of, r.units[0]), units_in_words(of, r.units[1]),
                   needed_in_words(of)));
  if (!std::isnan(r.smallest_gain))
    line(fmt::format("        As many as these show a gain of {:.1f} % or more with a chance of 95 %.",
                     100 * r.smallest_gain));
  if (of.coasts) {
    const auto& c = of.coasts->coefficient;
    line(fmt::format(
        "Road:   A {:.0f} +- {:.0f} N, B {:.2f} +- {:.2f} N s/m, C {:.3f} +- {:.3f} N s2/m2; {:.0f} +- {:.0f} N "
        "at {:g} km/h (95 %)",
        c[0].value, c[0].half_width(), c[1].value, c[1].half_width(), c[2].value, c[2].half_width(),
        of.coasts->force_n[1].second.value, of.coasts->force_n[1].second.half_width(), of.coasts->force_n[1].first));
  }
  for (std::size_t s = 0; s < 2; ++s)
    if (r.engine_kgm2[s])
      line(
          fmt::format("Inertia of the engine, {}: {}", of.settings.state[s].name, inertia_in_words(*r.engine_kgm2[s])));
  if (r.inertia_change)
    line(fmt::format("        change {:+.4f} kg m2 ({:+.4f} to {:+.4f}): {}", r.inertia_change->value,
                     r.inertia_change->low(), r.inertia_change->high(),
                     r.inertia_change->is_shown() ? "shown" : "NOT SHOWN"));
  for (const auto& g : of.gears) {
    if (g.mass_change_kg == 0) continue;
    std::string row = fmt::format("        gear {}: equivalent mass {:+.1f} kg", g.gear, g.mass_change_kg);
    if (!std::isnan(g.before_s))
      row += fmt::format("; {:g} to {:g} km/h {:.2f} s before, {:.2f} s with the new inertia, {:.2f} s after",
                         of.settings.from_kmh, of.settings.to_kmh, g.before_s, g.lighter_s, g.after_s);
    line(row);
  }
  for (const auto& caution : of.cautions) line("note: " + caution + ".");
  return text;
}

}  // namespace compare_pulls
