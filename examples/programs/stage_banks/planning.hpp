// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include "common/session/map_basis.hpp"
#include "common/session/read_fuel_map.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/film_uncertainty.hpp"
#include "fettle/fuel/need.hpp"
#include "fettle/fuel/plan.hpp"
#include "fettle/io/map_csv.hpp"
#include "stage_banks/controller.hpp"

namespace stage_banks {

/// A plan for the second bank, one value per cell of the session's map.
struct staging_maps {
  fettle::map_file demand;  ///< mg per cylinder and cycle at the richest mixture, over speed and throttle
  std::vector<double> share{}, primary_duty{}, secondary_duty{}, pulse_margin_ms{};
  std::vector<fettle::unmet_cell> unmet{};
  std::vector<double> guard_rpm{}, guard_throttle_pct{};
  double fastest_share_per_s = 0;

  /// For a controller; it must not outlive this.
  [[nodiscard]] share_plan plan() const {
    return {.map = {demand.table.view<2>().axes, share.data()},
            .throttle_guard = {.axes = {{{guard_rpm.data(), guard_rpm.size()}}}, .values = guard_throttle_pct.data()},
            .largest = *std::max_element(share.begin(), share.end()),
            .fastest_per_s = fastest_share_per_s};
  }
};

[[nodiscard]] constexpr const char* in_words(fettle::unmet_cell why) noexcept {
  using fettle::unmet_cell;
  switch (why) {
    case unmet_cell::none:
      return "met";
    case unmet_cell::demand_unusable:
      return "the fuel asked for is not a usable number";
    case unmet_cell::primary_smallest_pulse:
      return "less fuel than the primary's smallest pulse";
    case unmet_cell::throttle_guard:
      return "the primary needs relief where throttle or speed keep the secondary shut";
    case unmet_cell::capacity:
      return "both banks together are too small";
    case unmet_cell::secondary_smallest_pulse:
      return "the relief needed is less than the secondary's smallest pulse";
    default:
      return "the share would have to rise more steeply than allowed";
  }
}

/// What to change in the session, or of the parts, to meet such a cell.
[[nodiscard]] constexpr const char* remedy(fettle::unmet_cell why) noexcept {
  using fettle::unmet_cell;
  switch (why) {
    case unmet_cell::none:
      return "";
    case unmet_cell::demand_unusable:
      return "correct this cell of the map";
    case unmet_cell::primary_smallest_pulse:
      return "cut fuel here, or fit a smaller primary";
    case unmet_cell::throttle_guard:
      return "lower throttle_guard or slowest_rpm, or fit a larger primary";
    case unmet_cell::capacity:
      return "fit larger injectors";
    case unmet_cell::secondary_smallest_pulse:
      return "lower primary_reserve, or fit a larger primary";
    default:
      return "let the second bank in earlier (throttle_guard, slowest_rpm), or raise steepest_per_throttle_pct or "
             "steepest_per_1000rpm";
  }
}

[[nodiscard]] constexpr const char* in_words(fettle::plan_status why) noexcept {
  using fettle::plan_status;
  switch (why) {
    case plan_status::axes_unusable:
      return "the map needs speeds above 0 rpm, and axes that rise";
    case plan_status::injectors_unusable:
      return "a bank needs a flow above 0 and a dead time that is not negative";
    case plan_status::duty_unusable:
      return "primary_reserve must be less than largest_duty of both banks";
    case plan_status::guard_unusable:
      return "the throttle guard may not fall over speed, and slowest_rpm may not be negative";
    case plan_status::steepness_unusable:
      return "the allowed steepness must be above 0";
    default:
      return "wanted_share must lie from 0 to 1";
  }
}

/// Fuel per cylinder and cycle in every cell of the session's map, for the richest mixture.
///
/// Errors: `fettle::error` unless the map is one over rpm and throttle_pct with values above zero.
[[nodiscard]] inline fettle::map_file demand_of(const session::session& session) {
  fettle::map_file map = session::read_fuel_map(session.map_path);
  if (map.axis_names != std::vector<std::string>{"rpm", "throttle_pct"})
    throw fettle::error(
        fmt::format("{}: the second bank is planned over rpm and throttle_pct; its first cell must be "
                    "rpm/throttle_pct",
                    session.map_path.string()));
  const auto basis = session::basis_of(session);
  for (double& value : map.table.values())
    value = fettle::need_mg(basis, value, basis.air.reference, 1.0) / session.staging.richest_lambda;
  return map;
}

namespace detail {

/// What a flat refusal of the planner would leave unexplained: a pulse that cannot fit at the top of the map.
inline void require_room(const bank_pair& banks, double battery_v, double top_rpm, const std::string& session_name) {
  const double cycle_ms = fettle::cycle_ms(top_rpm);
  for (const auto& bank : banks) {
    const double longest_ms = largest_duty(banks) * cycle_ms, dead_ms = bank.dead_ms(battery_v);
    const double smallest_ms = std::max(bank.smallest_pulse_ms, dead_ms);
    if (smallest_ms < longest_ms) continue;
    throw fettle::error(fmt::format(
        "{}: bank {}: at {:g} rpm a cycle lasts {:.2f} ms and the duty limit leaves {:.2f} ms of it, but its smallest "
        "pulse takes {:.2f} ms ({:.2f} ms dead time at {:g} V); check smallest_pulse_ms and dead time",
        session_name, bank.name, top_rpm, cycle_ms, longest_ms, smallest_ms, dead_ms, battery_v));
  }
}

}  // namespace detail

/// The change of share that films as uncertain as the session says allow.
[[nodiscard]] inline double fastest_share_per_s(const session::staging_settings& settings, const bank_pair& banks) {
  return 1000 * fettle::fastest_share_per_ms(film_of(banks[0]), film_of(banks[1]), settings.film_error,
                                             settings.lambda_excursion);
}

/// Plans the second bank for a session.
///
/// @param wanted_share  where nothing forbids it; 0: only where the primary cannot do without.
/// Errors: `fettle::error` naming the session and what does not fit.
[[nodiscard]] inline staging_maps plan_staging(const session::session& session, const fettle::map_file& demand,
                                               const bank_pair& banks, double wanted_share,
                                               const std::string& session_name) {
  const auto& settings = session.staging;
  staging_maps maps{.demand = demand,
                    .guard_rpm = settings.guard_rpm,
                    .guard_throttle_pct = settings.guard_throttle_pct,
                    .fastest_share_per_s = fastest_share_per_s(settings, banks)};
  detail::require_room(banks, settings.battery_v, demand.table.axes()[0].points().back(), session_name);
  for (auto* values : {&maps.share, &maps.primary_duty, &maps.secondary_duty, &maps.pulse_margin_ms})
    values->resize(demand.table.size());
  maps.unmet.resize(demand.table.size());
  const fettle::staging_limits<double> limits{
      .primary = line_at(banks[0], settings.battery_v),
      .secondary = line_at(banks[1], settings.battery_v),
      .largest_duty = largest_duty(banks),
      .primary_reserve = settings.primary_reserve,
      .throttle_guard = {.axes = {{{maps.guard_rpm.data(), maps.guard_rpm.size()}}},
                         .values = maps.guard_throttle_pct.data()},
      .slowest_rpm = settings.slowest_rpm,
      .steepest_per_rpm = settings.steepest_per_1000rpm / 1000,
      .steepest_per_throttle = settings.steepest_per_throttle_pct,
      .wanted_share = wanted_share};
  const auto result = fettle::plan_share(maps.demand.table.view<2>(), limits,
                                         {maps.share.data(), maps.primary_duty.data(), maps.secondary_duty.data(),
                                          maps.pulse_margin_ms.data(), maps.unmet.data()});
  if (result.status != fettle::plan_status::made)
    throw fettle::error(fmt::format("{}: no plan: {}", session_name, in_words(result.status)));
  return maps;
}

}  // namespace stage_banks
