// SPDX-License-Identifier: MIT
#include "fettle/fuel/staged_film.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"

namespace staged_film_test {

using fettle::bank_state;
using fettle::fuel_fault;

template <class T>
[[nodiscard]] fettle::bank_films<T> films(T cycle_ms) {
  const auto draw_film = [&] {
    return fettle::film_over<T>({draws::between<T>(0, 0.8), draws::between<T>(20, 2000)}, cycle_ms);
  };
  return {draw_film(), draw_film()};
}

// Whatever the share does, the cylinder gets what it wants whenever nothing is reported, and no fuel is lost.
template <class T>
void cylinder_gets_what_it_wants() {
  const auto primary = draws::line<T>(), secondary = draws::line<T>();
  const auto limits = draws::limits<T>();
  const auto both = films(limits.cycle_ms);
  bank_state<T> state{draws::mode(), draws::between<T>(0, 20), draws::between<T>(0, 20)};
  const T tolerance = std::is_same_v<T, double> ? T(1e-12) : T(1e-5);
  for (int k = 0; k < 60; ++k) {
    const T wanted_mg = draws::between<T>(0, 40), share = draws::between<T>(-0.2, 1.2);
    const auto before = state;
    const auto out = fettle::split_over_films({wanted_mg, share}, {primary, secondary}, both, limits, state);
    const T cylinder_mg = fettle::inject(both, out, state);
    const T films_before = before.primary_film_mg + before.secondary_film_mg;
    const T scale = wanted_mg + films_before + out.primary_mg + out.secondary_mg;
    RC_ASSERT(std::abs(wanted_mg - out.shortfall_mg - cylinder_mg) <= tolerance * scale);
    RC_ASSERT(std::abs(films_before + out.primary_mg + out.secondary_mg - cylinder_mg - state.primary_film_mg -
                       state.secondary_film_mg) <= tolerance * scale);
    RC_ASSERT(std::abs(fettle::mass_mg(primary, out.primary_ms) - out.primary_mg) <= tolerance * scale);
    RC_ASSERT(std::abs(fettle::mass_mg(secondary, out.secondary_ms) - out.secondary_mg) <= tolerance * scale);
    RC_ASSERT(std::max(out.primary_ms, out.secondary_ms) <= limits.cycle_ms * limits.largest_duty);
    if (out.shortfall_mg > tolerance * scale) RC_ASSERT(has(out.faults, fuel_fault::shortfall));
    if (out.shortfall_mg < -tolerance * scale) RC_ASSERT(has(out.faults, fuel_fault::excess));
  }
}
RC_GTEST_PROP(SplitOverFilms, CylinderGetsWhatItWantsInDouble, ()) {
  cylinder_gets_what_it_wants<double>();
}
RC_GTEST_PROP(SplitOverFilms, CylinderGetsWhatItWantsInFloat, ()) {
  cylinder_gets_what_it_wants<float>();
}

// A steady engine settles at the wanted share, in injected mass too: the films are in balance.
RC_GTEST_PROP(SplitOverFilms, SteadyEngineSettlesAtTheWantedShare, ()) {
  const fettle::flow_line<double> bank{4, 1, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const auto both = films(limits.cycle_ms);
  for (const auto& film : {both.primary, both.secondary}) RC_PRE(film.evaporated < 1.9 * (1 - film.deposited));
  const double wanted_mg = draws::between<double>(10, 40), share = draws::between<double>(0.2, 0.8);
  bank_state<double> state;
  fettle::bank_split<double> out;
  for (int k = 0; k < 5000; ++k) {
    out = fettle::split_over_films({wanted_mg, share}, {bank, bank}, both, limits, state);
    (void)fettle::inject(both, out, state);
  }
  RC_ASSERT(std::abs(out.secondary_mg / (out.primary_mg + out.secondary_mg) - share) <= 1e-9);
  RC_ASSERT(std::abs(out.primary_mg + out.secondary_mg - wanted_mg) <= 1e-9 * wanted_mg);
}

// Largest error of the fuel in the cylinder while the share steps to 0.5 and back, at 6000 rpm and 30 mg. Films that
// the engine has and films that the compensation assumes may differ; `compensate` off splits the wanted mass
// itself.
[[nodiscard]] double largest_bump(bool compensate, double assumed) {
  const fettle::flow_line<double> bank{3, 0.9, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const auto films_of = [&](double factor) {
    return fettle::bank_films<double>{fettle::film_over<double>({0.25 * factor, 300 * factor}, limits.cycle_ms),
                                      fettle::film_over<double>({0.10 * factor, 500 * factor}, limits.cycle_ms)};
  };
  const auto engine = films_of(1), model = films_of(assumed);
  bank_state<double> in_engine, in_model;
  double bump = 0;
  for (int k = 0; k < 3000; ++k) {
    const double share = k >= 1000 && k < 2000 ? 0.5 : 0.0;
    const auto out = compensate ? fettle::split_over_films({30.0, share}, {bank, bank}, model, limits, in_model)
                                : fettle::split(30.0, share, {bank, bank}, limits, in_engine.mode);
    (void)fettle::inject(model, out, in_model);
    const double cylinder_mg = fettle::inject(engine, out, in_engine);
    if (k > 900) bump = std::max(bump, std::abs(cylinder_mg / 30 - 1));
  }
  return bump;
}

TEST(SplitOverFilms, TakesTheBumpOutOfStaging) {
  const double bare = largest_bump(false, 1);
  EXPECT_GT(bare, 0.05);  // 0.5 * (0.25 - 0.10) of the fuel is suddenly missing from, or added to, the walls
  EXPECT_LT(largest_bump(true, 1), 1e-9);
  EXPECT_LT(largest_bump(true, 1.2), bare / 3);
  EXPECT_LT(largest_bump(true, 0.8), bare / 3);
}

TEST(SplitOverFilms, ClosesBothBanksWhenTheFilmsAreEnough) {
  const fettle::flow_line<double> bank{3, 0.9, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const fettle::bank_films<double> both{{0.3, 0.5}, {0.3, 0.5}};
  bank_state<double> state{fettle::bank_mode::both, 10, 10};
  const auto out = fettle::split_over_films({8.0, 0.5}, {bank, bank}, both, limits, state);
  EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  EXPECT_EQ(out.shortfall_mg, -2);
  EXPECT_EQ(out.faults, fuel_fault::excess);
  EXPECT_EQ(fettle::inject(both, out, state), 10);
}

TEST(SplitOverFilms, NamesAShareThatIsNone) {
  const fettle::flow_line<double> bank{3, 0.9, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const fettle::bank_films<double> both{{0.3, 0.5}, {0.3, 0.5}};
  for (const double share : {-0.1, 1.1}) {
    bank_state<double> state{fettle::bank_mode::both, 1, 1};
    const auto out = fettle::split_over_films({20.0, share}, {bank, bank}, both, limits, state);
    EXPECT_EQ(out.faults, fettle::split(20.0, share, {bank, bank}, limits, state.mode).faults) << share;
    EXPECT_NE(out.faults, fuel_fault::none) << share;
  }
}

TEST(SplitOverFilms, NothingWantedFromDryWallsIsNoFault) {
  const fettle::flow_line<double> bank{3, 0.9, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const fettle::bank_films<double> both{{0.3, 0.5}, {0.3, 0.5}};
  const auto out = fettle::split_over_films({0.0, 0.5}, {bank, bank}, both, limits, bank_state<double>{});
  EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  EXPECT_EQ(out.faults, fuel_fault::none);
  const auto less = fettle::split_over_films({-5.0, 0.5}, {bank, bank}, both, limits, bank_state<double>{});
  EXPECT_EQ(less.primary_ms + less.secondary_ms, 0);
  EXPECT_TRUE(has(less.faults, fuel_fault::mass_clamped));
}

TEST(SplitOverFilms, NaNInjectsNothingAndSparesTheFilms) {
  const fettle::flow_line<double> bank{3, 0.9, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const fettle::bank_films<double> both{{0.3, 0.5}, {0.3, 0.5}};
  bank_state<double> state{fettle::bank_mode::both, 10, 10};
  const auto out = fettle::split_over_films({std::nan(""), 0.5}, {bank, bank}, both, limits, state);
  EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  EXPECT_TRUE(has(out.faults, fuel_fault::not_a_number));
  EXPECT_EQ(fettle::inject(both, out, state), 10);
  EXPECT_EQ(state.primary_film_mg, 5);
}

}  // namespace staged_film_test
