// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>

#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/staged_film.hpp"
#include "fettle/map/interpolate.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/engine.hpp"

namespace stage_banks {

using virtual_engine::injector_bank;

/// Both banks as the controller assumes them to be: primary, secondary.
using bank_pair = std::array<injector_bank, virtual_engine::banks>;

/// The straight line of a bank at a battery voltage; pressure is the one at which its flow was given.
[[nodiscard]] inline fettle::flow_line<double> line_at(const injector_bank& bank, double battery_v) {
  const double dead_ms = bank.dead_ms(battery_v);
  return {.flow_mg_per_ms = bank.flow_mg_ms,
          .dead_time_ms = dead_ms,
          .smallest_open_ms = std::max(0.0, bank.smallest_pulse_ms - dead_ms)};
}

/// Duty that neither bank may exceed.
[[nodiscard]] inline double largest_duty(const bank_pair& banks) {
  return std::min(banks[0].largest_duty, banks[1].largest_duty);
}

/// The wall film of a bank in the library's units.
[[nodiscard]] inline fettle::wall_film<double> film_of(const injector_bank& bank) {
  return {bank.film.share, 1000 * bank.film.time_s};
}

/// How the second bank is brought in.
enum class strategy {
  single_bank,     ///< never
  opened_at_once,  ///< all at once, where the share map has reached half of its largest share
  blended,         ///< by the share map, no faster than allowed
  compensated,     ///< blended, with the films of both banks compensated
};
inline constexpr std::array strategies{strategy::single_bank, strategy::opened_at_once, strategy::blended,
                                       strategy::compensated};

[[nodiscard]] constexpr const char* in_words(strategy how) noexcept {
  switch (how) {
    case strategy::single_bank:
      return "single bank";
    case strategy::opened_at_once:
      return "second bank opened at once";
    case strategy::blended:
      return "blended";
    default:
      return "blended, film compensated";
  }
}

/// Shares of the second bank over speed and throttle.
struct share_plan {
  fettle::map_view<2, double> map{};
  fettle::map_view<1, double> throttle_guard{};  ///< throttle in percent below which it stays shut, over speed
  double largest = 0;                            ///< of the map
  double fastest_per_s = 0;                      ///< change of share; a primary bank at its limit is relieved at once
};

/// Drives two banks of the virtual engine, cycle by cycle. It knows the air of the engine exactly, so that what lambda
/// does is the work of injectors and films alone.
class staged_controller {
 public:
  staged_controller(const virtual_engine::engine& e, const bank_pair& assumed, const share_plan& plan, strategy how,
                    bool compensates)
      : engine_{e}, bank_{assumed}, plan_{plan}, how_{how}, compensates_{compensates} {}

  /// Compensates if the strategy says so.
  staged_controller(const virtual_engine::engine& e, const bank_pair& assumed, const share_plan& plan, strategy how)
      : staged_controller(e, assumed, plan, how, how == strategy::compensated) {}

  /// Called every millisecond; a new injection is worked out once a cycle.
  [[nodiscard]] virtual_engine::injection operator()(const virtual_engine::controller_input& in) {
    if (in.time_s == 0) {  // the films have settled before the drive begins
      for (int cycle = 0; cycle < 2000; ++cycle) next_cycle(in);
      turned_ = 0;
    }
    turned_ += in.rpm / 120000;
    if (turned_ >= 1) {
      turned_ -= 1;
      next_cycle(in);
    }
    return now_;
  }

 private:
  /// The share to ask for, moved on by one cycle.
  [[nodiscard]] double next_share(double rpm, double throttle_pct, bool is_guarded) {
    const double planned = fettle::interpolate(plan_.map, rpm, throttle_pct);
    if (how_ == strategy::opened_at_once) return planned > 0.5 * plan_.largest ? plan_.largest : 0;
    state_.share =
        fettle::ramped_share(planned, is_guarded, state_.share, plan_.fastest_per_s / 1000, fettle::cycle_ms(rpm));
    return state_.share;
  }

  void next_cycle(const virtual_engine::controller_input& in) {
    now_.lambda_target = virtual_engine::lambda_target(in.rpm, in.throttle_pct);
    const double wanted_mg = engine_.ideal_fuel_mg(in.rpm, in.throttle_pct) / now_.lambda_target *
                             virtual_engine::engine::density(in.air_kpa, in.air_degc);
    const double cycle_ms = fettle::cycle_ms(in.rpm);
    fettle::bank_films<double> films;
    if (compensates_)
      films = {fettle::film_over(film_of(bank_[0]), cycle_ms), fettle::film_over(film_of(bank_[1]), cycle_ms)};
    const bool is_guarded = !(in.throttle_pct >= fettle::interpolate(plan_.throttle_guard, in.rpm));
    const fettle::pulse_limits<double> limits{.cycle_ms = cycle_ms,
                                              .largest_duty = largest_duty(bank_),
                                              .secondary_stays_shut = how_ == strategy::single_bank || is_guarded};
    const auto banks = fettle::split_over_films({wanted_mg, next_share(in.rpm, in.throttle_pct, is_guarded)},
                                                {line_at(bank_[0], in.battery_v), line_at(bank_[1], in.battery_v)},
                                                films, limits, state_);
    fettle::inject(films, banks, state_);
    now_.pulse_ms[0].fill(banks.primary_ms);
    now_.pulse_ms[1].fill(banks.secondary_ms);
  }

  const virtual_engine::engine& engine_;
  bank_pair bank_;
  share_plan plan_;
  strategy how_;
  bool compensates_;
  fettle::bank_state<double> state_;
  virtual_engine::injection now_;
  double turned_ = 0;  // how far the present cycle has come
};

}  // namespace stage_banks
