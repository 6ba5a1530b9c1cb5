// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "compare_pulls/air.hpp"
#include "compare_pulls/comparison.hpp"
#include "compare_pulls/settings.hpp"
#include "fettle/map/interpolate.hpp"

namespace compare_pulls {

/// What the change of inertia is worth in one gear.
struct gear_effect {
  std::size_t gear = 0;
  double mass_change_kg = 0;                                                         ///< of the equivalent mass
  double before_s = std::nan(""), lighter_s = std::nan(""), after_s = std::nan("");  ///< over the stretch asked for
};

/// Road load as coast-downs give it.
struct fitted_road_load {
  std::array<estimate, 3> coefficient{};
  std::vector<std::pair<double, estimate>> force_n{};  ///< at speeds in km/h
};

/// The result of one run.
struct outcome {
  compare_pulls::settings settings;
  std::size_t pulls = 0;
  fettle::road_load<double> load{};
  std::optional<fitted_road_load> coasts{};
  comparison result{};
  std::vector<gear_effect> gears{};
  std::array<double, 2> air_factor{1, 1};  ///< mean, before and after
  std::vector<std::string> cautions{};     ///< what makes before and after less comparable
};

using stage_progress = std::function<void(const std::string& stage, double fraction)>;

namespace detail {

/// Seconds over a stretch in one gear by a torque curve and an inertia; NaN where the curve does not reach.
[[nodiscard]] inline double stretch_s(const outcome& all, const fettle::driveline<double>& gear, std::size_t state,
                                      double engine_kgm2) {
  const auto& points = all.result.points;
  std::vector<double> rpm, torque;
  for (const auto& p : points) {
    rpm.push_back(p.rpm);
    torque.push_back(state == 0 ? p.before_nm : p.after_nm);
  }
  const fettle::map_view<1, double> curve{{{{rpm.data(), rpm.size()}}}, torque.data()};
  const double from = all.settings.from_kmh / 3.6, to = all.settings.to_kmh / 3.6;
  if (!(fettle::engine_rpm(gear, from) >= rpm.front() && fettle::engine_rpm(gear, to) <= rpm.back()))
    return std::nan("");
  auto car = all.settings.car;
  car.turning.engine_kgm2 = engine_kgm2;
  car.load = all.load;
  constexpr int steps = 200;
  double sum = 0;
  for (int i = 0; i < steps; ++i) {
    const double v = from + (to - from) * (i + 0.5) / steps;
    sum +=
        (to - from) / steps /
        fettle::acceleration_mps2(car, gear, {.speed_mps = v}, fettle::interpolate(curve, fettle::engine_rpm(gear, v)));
  }
  return sum;
}

inline void add_gears(outcome& all) {
  const auto inertia = [&](std::size_t state) -> std::optional<double> {
    if (all.result.engine_kgm2[state]) return all.result.engine_kgm2[state]->value;
    return all.settings.state[state].engine_kgm2;
  };
  if (!inertia(0) || !inertia(1)) return;
  for (std::size_t g = 0; g < all.settings.gears.size(); ++g) {
    const auto& gear = all.settings.gears[g];
    gear_effect effect{.gear = g + 1};
    effect.mass_change_kg = fettle::rotating_mass_kg<double>({.engine_kgm2 = *inertia(1) - *inertia(0)}, gear);
    if (all.settings.to_kmh > 0) {
      effect.before_s = stretch_s(all, gear, 0, *inertia(0));
      effect.lighter_s = stretch_s(all, gear, 0, *inertia(1));
      effect.after_s = stretch_s(all, gear, 1, *inertia(1));
    }
    all.gears.push_back(effect);
  }
}

/// What differs between before and after that no correction takes out.
inline void add_cautions(outcome& all, const std::vector<pull>& pulls) {
  std::array<double, 2> coolant{}, count{}, factor{};
  bool has_coolant = true;
  for (const auto& p : pulls) {
    coolant[p.state] += p.coolant_degc;
    has_coolant = has_coolant && !std::isnan(p.coolant_degc);
    factor[p.state] += p.air_factor;
    count[p.state] += 1;
  }
  for (std::size_t s = 0; s < 2; ++s) {
    coolant[s] /= count[s];
    all.air_factor[s] = factor[s] / count[s];
  }
  if (has_coolant && std::abs(coolant[1] - coolant[0]) > 5)
    all.cautions.push_back(
        fmt::format("The coolant was at {:.0f} degC before and at {:.0f} degC after; start all pulls within 5 degC of "
                    "each other, since a colder engine makes more torque",
                    coolant[0], coolant[1]));
  if (std::abs(all.air_factor[1] / all.air_factor[0] - 1) > 0.03)
    all.cautions.push_back(fmt::format(
        "The air correction differs by {:.1f} % between before and after; over so large a step it is good to a "
        "few tenths of a percent at best",
        100 * std::abs(all.air_factor[1] / all.air_factor[0] - 1)));
  if (all.settings.source == torque_source::road &&
      std::any_of(pulls.begin(), pulls.end(), [](const auto& p) { return !p.is_free && p.way == direction::unknown; }))
    all.cautions.push_back(
        "The session does not say in which direction the pulls were driven, so wind and slope affect the result; drive "
        "both ways and give every pull its direction, out or back");
  if (std::any_of(pulls.begin(), pulls.end(), [](const auto& p) { return p.is_free; }))
    all.cautions.push_back(
        "Free revving is taken to have the torque of the pulls in gear. Do it in neutral with the clutch engaged, or "
        "its driven plate is missing from the inertia, and only with a limiter that works: the engine reaches it in a "
        "third of a second");
  if (!all.result.by_sets)
    all.cautions.push_back(fmt::format(
        "There is only one set of pulls before or after, so whatever else changed in between cannot be distinguished "
        "from the change itself. A standard deviation of {:g} % from set to set is assumed; two or more sets of each "
        "would measure it",
        all.settings.between_sets_pct));
  for (std::size_t s = 0; s < 2; ++s) {
    const auto& inertia = all.result.engine_kgm2[s];
    if (!inertia || inertia->half_width() < 0.5 * inertia->value) continue;
    all.cautions.push_back(fmt::format(
        "The inertia of \"{}\" is known to {:.0f} % only; add pulls in gears further apart, or free revving",
        all.settings.state[s].name, 100 * inertia->half_width() / std::abs(inertia->value)));
  }
}

}  // namespace detail

/// Reads all logs of a session and compares before with after.
[[nodiscard]] inline outcome run(const settings& settings, const stage_progress& progress) {
  outcome all{.settings = settings, .load = settings.car.load};
  std::vector<coast_down> runs;
  for (const auto& file : settings.coast_downs) runs.push_back(read_coast_down(settings, file));
  std::optional<coast_fit> coasts;
  if (!runs.empty()) {
    coasts.emplace(settings, runs);
    all.load = coasts->load();
    all.coasts.emplace();
    for (int k = 0; k < 3; ++k)
      all.coasts->coefficient[static_cast<std::size_t>(k)] = (*coasts)(Eigen::Vector3d::Unit(k));
    for (const double kmh : {50.0, 100.0, 150.0}) all.coasts->force_n.emplace_back(kmh, coasts->force_n(kmh / 3.6));
  }
  std::vector<pull> pulls;
  const double files = static_cast<double>(settings.state[0].pulls.size() + settings.state[1].pulls.size());
  for (std::size_t s = 0; s < 2; ++s)
    for (const auto& file : settings.state[s].pulls) {
      progress("reading pulls", static_cast<double>(pulls.size()) / files);
      pulls.push_back(read_pull(settings, file, s));
    }
  all.pulls = pulls.size();
  all.cautions = correct_for_air(settings, pulls);
  progress("comparing", 0);
  all.result = compare(settings, pulls, all.load, coasts ? &*coasts : nullptr);
  detail::add_gears(all);
  detail::add_cautions(all, pulls);
  return all;
}

}  // namespace compare_pulls
