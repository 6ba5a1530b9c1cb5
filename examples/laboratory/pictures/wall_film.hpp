// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/fuel/film.hpp"
#include "fettle/fuel/injector.hpp"

namespace laboratory {

/// A film as a question states it: `deposited`, `evaporation_ms`.
[[nodiscard]] inline fettle::wall_film<double> film_from(const nlohmann::json& question) {
  return {.deposited = question.at("deposited"), .evaporation_ms = question.at("evaporation_ms")};
}

/// A throttle opened and shut over a wall film, cycle by cycle, without compensation and with it.
///
/// Question: speed_rpm; film, the true one; assumed, that of the compensation (each: deposited, evaporation_ms);
///           is_compensated.
/// Answer:   per cycle time_s, wanted_mg, injected_mg, film_mg, cylinder_mg, lambda; deposited and evaporated, shares
///           of one cycle; leanest and richest lambda.
[[nodiscard]] inline nlohmann::json wall_film(const nlohmann::json& question) {
  const double cycle_ms = fettle::cycle_ms(question.at("speed_rpm").get<double>());
  const bool is_compensated = question.at("is_compensated");
  constexpr double shut_mg = 9, open_mg = 30, opens_s = 0.4, shuts_s = 1.6, ends_s = 3;
  std::vector<double> time_s, wanted, injected, film, cylinder, lambda;

  // [film]
  const auto real = fettle::film_over(film_from(question.at("film")), cycle_ms);
  const auto assumed = fettle::film_over(film_from(question.at("assumed")), cycle_ms);
  double film_mg = fettle::steady_film_mg(real, shut_mg), assumed_film_mg = fettle::steady_film_mg(assumed, shut_mg);
  for (double at_s = 0; at_s < ends_s; at_s += cycle_ms / 1000) {
    const double wanted_mg = at_s >= opens_s && at_s < shuts_s ? open_mg : shut_mg;
    const double injected_mg = is_compensated ? fettle::injection_for(assumed, assumed_film_mg, wanted_mg) : wanted_mg;
    assumed_film_mg = fettle::inject(assumed, assumed_film_mg, injected_mg).film_mg;
    const auto [cylinder_mg, left_mg] = fettle::inject(real, film_mg, injected_mg);
    film_mg = left_mg;
    // [/film]
    time_s.push_back(at_s);
    wanted.push_back(wanted_mg);
    injected.push_back(injected_mg);
    film.push_back(film_mg);
    cylinder.push_back(cylinder_mg);
    lambda.push_back(wanted_mg / cylinder_mg);
  }
  const auto [richest, leanest] = std::minmax_element(lambda.begin(), lambda.end());
  return {
      {"time_s", time_s},        {"wanted_mg", wanted}, {"injected_mg", injected},     {"film_mg", film},
      {"cylinder_mg", cylinder}, {"lambda", lambda},    {"deposited", real.deposited}, {"evaporated", real.evaporated},
      {"leanest", *leanest},     {"richest", *richest}};
}

}  // namespace laboratory
