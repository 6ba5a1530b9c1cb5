// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/fuel/film_uncertainty.hpp"
#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/staged_film.hpp"

namespace laboratory {

/// One cylinder with a bank in the port and one outside the trumpet, at steady speed and fuel, while the second bank
/// takes over half of the fuel and hands it back.
class change_of_banks {
 public:
  /// @param film_error  by what fraction the compensation overrates share and time of both films.
  change_of_banks(double speed_rpm, double film_error)
      : cycle_ms_{fettle::cycle_ms(speed_rpm)},
        real_{over(primary), over(secondary)},
        assumed_{over(mistaken(primary, film_error)), over(mistaken(secondary, film_error))} {}

  static constexpr fettle::wall_film<double> primary{.deposited = 0.22, .evaporation_ms = 180};
  static constexpr fettle::wall_film<double> secondary{.deposited = 0.42, .evaporation_ms = 420};
  static constexpr double wanted_mg = 30, planned = 0.5, opens_s = 0.5, shuts_s = 6.5, ends_s = 13;

  [[nodiscard]] static fettle::wall_film<double> mistaken(fettle::wall_film<double> film, double error) {
    return {film.deposited * (1 + error), film.evaporation_ms * (1 + error)};
  }
  [[nodiscard]] double cycle_ms() const { return cycle_ms_; }

  /// One way to do it: how fast the share may change (infinite: at once), and whether films are compensated.
  struct way {
    double fastest_per_ms = 0;
    bool is_compensated = false;
  };

  /// Share asked and lambda of every cycle, and the largest excursion of the mixture.
  [[nodiscard]] nlohmann::json run(const way& how) const {
    constexpr fettle::flow_line<double> first{.flow_mg_per_ms = 4.2, .dead_time_ms = 0.9, .smallest_open_ms = 0.6};
    constexpr fettle::flow_line<double> second{.flow_mg_per_ms = 6.0, .dead_time_ms = 1.0, .smallest_open_ms = 0.35};
    const fettle::pulse_limits<double> limits{.cycle_ms = cycle_ms_, .largest_duty = 0.9};
    fettle::bank_state<double> real{.mode = fettle::bank_mode::primary,
                                    .primary_film_mg = fettle::steady_film_mg(real_.primary, wanted_mg)};
    fettle::bank_state<double> assumed{.mode = fettle::bank_mode::primary,
                                       .primary_film_mg = fettle::steady_film_mg(assumed_.primary, wanted_mg)};
    std::vector<double> share, lambda;
    double excursion = 0, commanded = 0;
    for (double at_s = 0; at_s < ends_s; at_s += cycle_ms_ / 1000) {
      // [banks]
      const double plan = at_s >= opens_s && at_s < shuts_s ? planned : 0.0;
      commanded = fettle::ramped_share(plan, false, commanded, how.fastest_per_ms, cycle_ms_);
      const auto pulses = how.is_compensated ? fettle::split_over_films({wanted_mg, commanded}, {first, second},
                                                                        assumed_, limits, assumed)
                                             : fettle::split(wanted_mg, commanded, {first, second}, limits, real.mode);
      fettle::inject(assumed_, pulses, assumed);
      const double cylinder_mg = fettle::inject(real_, pulses, real);
      // [/banks]
      share.push_back(pulses.secondary_mg / (pulses.primary_mg + pulses.secondary_mg));
      lambda.push_back(wanted_mg / cylinder_mg);
      excursion = std::max(excursion, std::abs(cylinder_mg / wanted_mg - 1));
    }
    return {{"share", share}, {"lambda", lambda}, {"excursion", excursion}};
  }

 private:
  [[nodiscard]] fettle::film_cycle<double> over(const fettle::wall_film<double>& film) const {
    return fettle::film_over(film, cycle_ms_);
  }

  double cycle_ms_;
  fettle::bank_films<double> real_, assumed_;
};

/// A change of banks at once, blended, and blended with the films compensated.
///
/// Question: speed_rpm; film_error, a fraction of either sign; allowed_error, what the ramp allows for (a fraction);
///           excursion, the aim.
/// Answer:   time_s; at_once, blended and compensated, each with share, lambda and excursion; fastest_per_s, of the
///           share, none when the films count as known exactly.
[[nodiscard]] inline nlohmann::json two_banks(const nlohmann::json& question) {
  const change_of_banks banks(question.at("speed_rpm"), question.at("film_error"));
  const double allowed = question.at("allowed_error"), error = question.at("film_error");
  // [ramp]
  const auto assumed_primary = banks.mistaken(banks.primary, error);
  const auto assumed_secondary = banks.mistaken(banks.secondary, error);
  const double fastest_per_ms =
      fettle::fastest_share_per_ms(assumed_primary, assumed_secondary, allowed, question.at("excursion").get<double>());
  // [/ramp]
  std::vector<double> time_s;
  for (double at_s = 0; at_s < banks.ends_s; at_s += banks.cycle_ms() / 1000) time_s.push_back(at_s);
  return {{"time_s", time_s},
          {"at_once", banks.run({.fastest_per_ms = std::numeric_limits<double>::infinity()})},
          {"blended", banks.run({.fastest_per_ms = fastest_per_ms})},
          {"compensated", banks.run({.fastest_per_ms = fastest_per_ms, .is_compensated = true})},
          {"fastest_per_s", 1000 * fastest_per_ms}};
}

}  // namespace laboratory
