// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <string>

#include "compare_pulls/job.hpp"

namespace compare_pulls {

/// "+1.20 % (+0.40 to +2.00)".
[[nodiscard]] inline std::string gain_in_words(const estimate& x) {
  return fmt::format("{:+.2f} % ({:+.2f} to {:+.2f})", 100 * x.value, 100 * x.low(), 100 * x.high());
}

[[nodiscard]] inline std::string units_in_words(const outcome& all, std::size_t count) {
  return fmt::format("{} {}{}", count, all.result.by_sets ? "set" : "pull", count == 1 ? "" : "s");
}

/// Did it make power?
[[nodiscard]] inline std::string verdict(const outcome& all) {
  const auto& gain = all.result.gain;
  const std::string range =
      fmt::format("{:.0f} to {:.0f} rpm", all.result.points.front().rpm, all.result.points.back().rpm);
  const std::string figure = fmt::format("mean torque over {}: {}, 95 % interval", range, gain_in_words(gain));
  if (!gain.is_shown()) return "NOT SHOWN. " + figure + " includes zero.";
  return (gain.value > 0 ? "YES. " : "NO, it cost power. ") + figure + ".";
}

/// How many pulls show the gain asked for.
[[nodiscard]] inline std::string needed_in_words(const outcome& all) {
  const auto& r = all.result;
  const std::string gain = fmt::format("a gain of {:g} %", all.settings.gain_pct);
  if (r.units_needed == 0)
    return fmt::format(
        "No number of pulls would show {} with 95 % probability{}", gain,
        r.by_sets ? ": the sets scatter too much" : " with one set of each; make two or more sets before and after");
  const std::size_t had = std::min(r.units[0], r.units[1]);
  const std::string needed = fmt::format("{} before and as many after show {} with 95 % probability",
                                         units_in_words(all, r.units_needed), gain);
  if (r.units_needed <= had) return needed + ": these are enough";
  return fmt::format(
      "{}: {} more of each. Decide once they are all driven: checking after every pull finds gains that do not exist",
      needed, r.units_needed - had);
}

[[nodiscard]] inline std::string inertia_in_words(const estimate& x) {
  return fmt::format("{:.4f} kg m2 ({:.4f} to {:.4f})", x.value, x.low(), x.high());
}

/// The outcome in a few lines.
[[nodiscard]] inline std::string summary(const outcome& all) {
  const auto& r = all.result;
  std::string text;
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(all.settings.title);
  line("");
  line(fmt::format("Power:  {}", verdict(all)));
  line(fmt::format("Pulls:  {} before, {} after. {}.", units_in_words(all, r.units[0]), units_in_words(all, r.units[1]),
                   needed_in_words(all)));
  if (!std::isnan(r.smallest_gain))
    line(
        fmt::format("        This many show a gain of {:.1f} % or more with 95 % probability.", 100 * r.smallest_gain));
  if (all.coasts) {
    const auto& c = all.coasts->coefficient;
    line(fmt::format(
        "Road:   A {:.0f} +- {:.0f} N, B {:.2f} +- {:.2f} N s/m, C {:.3f} +- {:.3f} N s2/m2; {:.0f} +- {:.0f} N "
        "at {:g} km/h (95 %)",
        c[0].value, c[0].half_width(), c[1].value, c[1].half_width(), c[2].value, c[2].half_width(),
        all.coasts->force_n[1].second.value, all.coasts->force_n[1].second.half_width(), all.coasts->force_n[1].first));
  }
  for (std::size_t s = 0; s < 2; ++s)
    if (r.engine_kgm2[s])
      line(fmt::format("Inertia of the engine, {}: {}", all.settings.state[s].name,
                       inertia_in_words(*r.engine_kgm2[s])));
  if (r.inertia_change)
    line(fmt::format("        change {:+.4f} kg m2 ({:+.4f} to {:+.4f}): {}", r.inertia_change->value,
                     r.inertia_change->low(), r.inertia_change->high(),
                     r.inertia_change->is_shown() ? "shown" : "NOT SHOWN"));
  for (const auto& g : all.gears) {
    if (g.mass_change_kg == 0) continue;
    std::string row = fmt::format("        gear {}: equivalent mass {:+.1f} kg", g.gear, g.mass_change_kg);
    if (!std::isnan(g.before_s))
      row += fmt::format("; {:g} to {:g} km/h {:.2f} s before, {:.2f} s with the new inertia, {:.2f} s after",
                         all.settings.from_kmh, all.settings.to_kmh, g.before_s, g.lighter_s, g.after_s);
    line(row);
  }
  for (const auto& caution : all.cautions) line("note: " + caution + ".");
  return text;
}

}  // namespace compare_pulls
