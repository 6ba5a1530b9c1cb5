// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <string>

#include "common/report/verdict.hpp"
#include "common/session/cell_name.hpp"
#include "stage_banks/job.hpp"

namespace stage_banks {

/// A passage in one direction, up (0) or down (1).
struct leaning {
  const passage_result* passage = nullptr;
  std::size_t way = 0;
  [[nodiscard]] double lean() const { return passage->expected.staging.leanest[way]; }
  [[nodiscard]] double lean_without_staging() const { return passage->constant_split.staging.leanest[way]; }
};

/// The passage in which staging leans the mixture most, with film values as wrong as the session allows for; none where
/// it leans nowhere.
[[nodiscard]] inline leaning leanest_passage(const outcome& results) {
  leaning worst;
  for (const auto& passage : results.passages)
    for (std::size_t way = 0; way < 2; ++way)
      if (const leaning here{&passage, way}; here.lean() > (worst.passage ? worst.lean() : 0)) worst = here;
  return worst;
}

namespace detail {

[[nodiscard]] inline std::string cells_in_words(std::size_t count) {
  return fmt::format("{} cell{}", count, count == 1 ? "" : "s");
}

[[nodiscard]] inline std::string what_to_load(const outcome& results, const std::string& map_file) {
  if (!results.writes_map())
    return "NOTHING. This plan must not be loaded, and no share map was written; --write-anyway writes it all the "
           "same.";
  if (!results.objections.empty())
    return fmt::format("NOTHING. {} was written because you asked for it, but must not be loaded.", map_file);
  const auto& share = results.planned.share;
  return fmt::format("{} (second bank in {})", map_file,
                     cells_in_words(static_cast<std::size_t>(
                         std::count_if(share.begin(), share.end(), [](double cell) { return cell > 0; }))));
}

/// That a passage leans lambda, and whether banks that always share alike would too.
[[nodiscard]] inline std::string leaning_in_words(const leaning& worst, const session::staging_settings& settings) {
  return fmt::format(
      "with film values {:.2g} % wrong, staging leans the mixture by up to {:.1f} % for a moment ({}, {}; {:.1f} % if "
      "the split never changed)",
      100 * settings.film_error, 100 * worst.lean(), worst.passage->through.name, worst.way == 0 ? "up" : "down",
      100 * worst.lean_without_staging());
}

/// Leaner than the aim allows, and not because throttle or speed move: a constant split would do clearly better.
[[nodiscard]] inline bool is_leaned_by_staging(const leaning& worst, const session::staging_settings& settings) {
  constexpr double clearly = 1.1;
  return worst.passage && worst.lean() > settings.lambda_excursion &&
         worst.lean() > clearly * worst.lean_without_staging();
}

[[nodiscard]] inline std::string is_it_safe(const outcome& results, bool& is_safe) {
  is_safe = false;
  if (!results.objections.empty()) return fmt::format("NO. {}.", fmt::join(results.objections, ". And "));
  const auto& settings = results.session.staging;
  if (const auto cells = results.lacking_cells(); !cells.empty())
    return fmt::format(
        "NO. {} need{} more than the largest duty of a bank; the worst, {}, runs {:.1f} % lean if the controller "
        "enforces that limit.",
        cells_in_words(cells.size()), cells.size() == 1 ? "s" : "",
        session::cell_name(results.planned.demand, cells.front()), 100 * results.lacking(cells.front()));
  const leaning worst = leanest_passage(results);
  if (is_leaned_by_staging(worst, settings)) return fmt::format("NO: {}.", leaning_in_words(worst, settings));
  is_safe = true;
  if (!worst.passage)
    return "as far as this simulation tells: every cell gets its fuel, and staging leans none of them.";
  return fmt::format("as far as this simulation tells: every cell gets its fuel; {}.",
                     leaning_in_words(worst, settings));
}

[[nodiscard]] inline std::string what_to_do_next(const outcome& results) {
  if (results.session.goal && results.session.goal->power_kw > carried_power_kw(results))
    return "fit larger injectors, or lower the target, and run this again.";
  if (const auto cells = results.lacking_cells(); !cells.empty())
    return fmt::format("{}; then run this again.", remedy(results.planned.unmet[cells.front()]));
  if (is_leaned_by_staging(leanest_passage(results), results.session.staging))
    return "identify the films: drive quick throttle changes, correct_map, then --films with its summary.json.";
  return "load, open the throttle slowly through the guard at part load, and correct the map from that log.";
}

}  // namespace detail

/// What to load, whether it is safe, what to do next.
///
/// @param map_file  the share map as its reader finds it.
[[nodiscard]] inline report::verdict verdict_of(const outcome& results, const std::string& map_file) {
  report::verdict verdict{.load = detail::what_to_load(results, map_file), .safe = {}, .next = {}};
  verdict.safe = detail::is_it_safe(results, verdict.is_safe);
  verdict.next = detail::what_to_do_next(results);
  return verdict;
}

}  // namespace stage_banks
