// SPDX-License-Identifier: MIT
#include "fettle/fuel/film.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "reference.hpp"

namespace film_test {

using fettle::film_cycle;
using fettle::wall_film;

// Computed, exact solution of the equations of C. F. Aquino, SAE 810494 (1981), for a unit step onto dry walls, X =
// 0.3, tau = 0.5 s (tests/reference/film_step.csv), here with cycles of 20 ms (6000 rpm) and of 100 ms. The flow into
// the cylinder is what misses the wall and what the film gives off at that time.
TEST(Film, MatchesTheExactStepResponse) {
  const auto rows = reference::csv::read("film_step.csv");
  const auto times_s = rows.column("t_s"), expected = rows.column("cylinder_flow");
  for (const int cycles_per_row : {1, 5}) {
    const double cycle_ms = 100.0 / cycles_per_row;
    const auto cycle = fettle::film_over(wall_film<double>{0.3, 500}, cycle_ms);
    double film_mg = 0, cylinder_mg = 0;
    for (std::size_t row = 0; row < times_s.size(); ++row) {
      EXPECT_NEAR(1 - 0.3 + film_mg / 500, expected[row], 1e-9) << times_s[row];
      for (int k = 0; k < cycles_per_row; ++k) {
        const auto step = fettle::inject(cycle, film_mg, cycle_ms);
        film_mg = step.film_mg;
        cylinder_mg += step.cylinder_mg;
      }
      // Its integral: t - X tau (1 - exp(-t/tau)).
      const double end_ms = 1000 * times_s[row] + 100;
      EXPECT_NEAR(cylinder_mg, end_ms - 0.3 * 500 * -std::expm1(-end_ms / 500), 1e-9 * end_ms);
    }
  }
}

// A wall of its own, followed in steps of a thousandth of a cycle, wetted evenly: another program for the same numbers.
TEST(Film, IsWhatAFineIntegrationOfTheFlowGives) {
  const wall_film<double> film{0.4, 60};
  double film_mg = 7, fine_mg = 7;
  for (const double cycle_ms : {10.0, 40.0, 150.0})
    for (const double injected_mg : {20.0, 0.0, 35.0}) {
      const auto step = fettle::inject(fettle::film_over(film, cycle_ms), film_mg, injected_mg);
      const double dt_ms = cycle_ms / 1000, flow = injected_mg / cycle_ms;
      double cylinder_mg = 0;
      for (int k = 0; k < 1000; ++k) {  // the midpoint rule
        const double middle_mg = fine_mg + dt_ms / 2 * (0.4 * flow - fine_mg / 60);
        cylinder_mg += dt_ms * (0.6 * flow + middle_mg / 60);
        fine_mg += dt_ms * (0.4 * flow - middle_mg / 60);
      }
      EXPECT_NEAR(step.cylinder_mg, cylinder_mg, 1e-5 * (injected_mg + film_mg));
      EXPECT_NEAR(step.film_mg, fine_mg, 1e-5 * (injected_mg + film_mg));
      film_mg = step.film_mg;
    }
}

template <class T>
[[nodiscard]] film_cycle<T> any_cycle() {
  return fettle::film_over(wall_film<T>{draws::between<T>(0, 0.9), draws::between<T>(1, 3000)},
                           draws::between<T>(8, 200));
}

template <class T>
void conserves_mass() {
  const auto cycle = any_cycle<T>();
  T film_mg = draws::between<T>(0, 50);
  for (int k = 0; k < 50; ++k) {
    const T injected_mg = draws::between<T>(0, 60);
    const auto step = fettle::inject(cycle, film_mg, injected_mg);
    const T before = film_mg + injected_mg, after = step.cylinder_mg + step.film_mg;
    RC_ASSERT(std::abs(after - before) <= 4 * std::numeric_limits<T>::epsilon() * before);
    RC_ASSERT(step.cylinder_mg >= 0 && step.film_mg >= 0);
    film_mg = step.film_mg;
  }
}
RC_GTEST_PROP(Film, ConservesMassInDouble, ()) {
  conserves_mass<double>();
}
RC_GTEST_PROP(Film, ConservesMassInFloat, ()) {
  conserves_mass<float>();
}

template <class T>
void compensation_cancels_the_film() {
  const auto cycle = any_cycle<T>();
  T film_mg = draws::between<T>(0, 30);
  for (int k = 0; k < 50; ++k) {
    const T wanted_mg = draws::between<T>(0, 60);
    const T injected_mg = fettle::injection_for(cycle, film_mg, wanted_mg);
    RC_ASSERT(injected_mg >= 0);
    const auto step = fettle::inject(cycle, film_mg, injected_mg);
    const T scale = wanted_mg + cycle.evaporated * film_mg;
    if (injected_mg > 0) {
      RC_ASSERT(std::abs(step.cylinder_mg - wanted_mg) <= 8 * std::numeric_limits<T>::epsilon() * scale);
    } else {
      RC_ASSERT(step.cylinder_mg >= wanted_mg * (1 - std::numeric_limits<T>::epsilon()));
    }
    film_mg = step.film_mg;
  }
}
RC_GTEST_PROP(Film, CompensationCancelsItInDouble, ()) {
  compensation_cancels_the_film<double>();
}
RC_GTEST_PROP(Film, CompensationCancelsItInFloat, ()) {
  compensation_cancels_the_film<float>();
}

// From a wrong film the compensated injections settle, whatever the film and the cycle.
RC_GTEST_PROP(Film, CompensationSettlesForEveryUsableFilm, ()) {
  const auto cycle =
      fettle::film_over(wall_film<double>{draws::between<double>(0, 0.999), std::exp(draws::between<double>(-5, 9))},
                        draws::between<double>(5, 300));
  const double factor = 1 - cycle.evaporated / (1 - cycle.deposited);
  RC_ASSERT(std::abs(factor) < 1);
  RC_PRE(std::abs(factor) < 0.99 && cycle.deposited > 1e-12);
  const double wanted_mg = 20, steady_mg = fettle::steady_film_mg(cycle, wanted_mg);
  double film_mg = steady_mg * 1.001;
  for (int k = 0; k < 2000; ++k)
    film_mg = fettle::inject(cycle, film_mg, fettle::injection_for(cycle, film_mg, wanted_mg)).film_mg;
  RC_ASSERT(std::abs(film_mg / steady_mg - 1) < 1e-6);
}

// Steady state: what is injected arrives, whatever X and tau, and the film is X tau times the flow .
RC_GTEST_PROP(Film, SteadyInjectionArrives, ()) {
  const auto cycle = any_cycle<double>();
  const double injected_mg = draws::between<double>(1, 60);
  const auto step = fettle::inject(cycle, fettle::steady_film_mg(cycle, injected_mg), injected_mg);
  RC_ASSERT(std::abs(step.cylinder_mg - injected_mg) <= 1e-13 * injected_mg);
}
TEST(Film, SteadyAmountIsDepositedTimesTauTimesFlow) {
  for (const double cycle_ms : {0.001, 10.0, 500.0, 5000.0}) {
    const auto cycle = fettle::film_over(wall_film<double>{0.3, 500}, cycle_ms);
    EXPECT_NEAR(fettle::steady_film_mg(cycle, cycle_ms * 1.0), 0.3 * 500 * 1.0, 1e-12 * 150) << cycle_ms;
  }
}
TEST(Film, WhereNothingLandsThereIsNoneEvenInACycleOfNoTime) {
  for (const double cycle_ms : {0.0, 10.0}) {
    const auto no_film = fettle::film_over(wall_film<double>{0, 0}, cycle_ms);
    EXPECT_EQ(fettle::steady_film_mg(no_film, 20.0), 0) << cycle_ms;
  }
  EXPECT_EQ(fettle::steady_film_mg(fettle::film_over(wall_film<double>{0.3, 500}, 0.0), 0.0), 0);
  EXPECT_TRUE(std::isinf(fettle::steady_film_mg(fettle::film_over(wall_film<double>{0.3, 500}, 0.0), 20.0)));
}

// The exponential of the standard library is another program for the same numbers.
template <class T>
void decay_equals_expm1() {
  const T x = std::exp(draws::between<T>(-14, 5));
  const T expected = -std::expm1(-x);
  const auto over = fettle::detail::decay_over(x);
  RC_ASSERT(std::abs(over.gone - expected) <= 4 * std::numeric_limits<T>::epsilon() * expected);
  RC_ASSERT(std::abs(over.mean - expected / x) <= 6 * std::numeric_limits<T>::epsilon() * expected / x);
}
RC_GTEST_PROP(Film, DecayEqualsTheExponentialInDouble, ()) {
  decay_equals_expm1<double>();
}
RC_GTEST_PROP(Film, DecayEqualsTheExponentialInFloat, ()) {
  decay_equals_expm1<float>();
}

TEST(Film, AtItsEdges) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  for (const auto& film : {wall_film<double>{-0.1, 500}, wall_film<double>{1, 500}, wall_film<double>{nan, 500},
                           wall_film<double>{0.3, -1}, wall_film<double>{0.3, nan}, wall_film<double>{0.3, inf}}) {
    EXPECT_FALSE(fettle::is_usable(film));
    EXPECT_FALSE(fettle::checked_film<double>{film}.is_usable());
    EXPECT_EQ(fettle::film_over(film, 20.0).deposited, 0);
    EXPECT_EQ(fettle::film_over(film, 20.0).evaporated, 1);
  }
  for (const double cycle_ms : {0.0, -20.0, nan, inf}) {
    EXPECT_EQ(fettle::film_over(wall_film<double>{0.3, 500}, cycle_ms).evaporated, 0);
  }
  EXPECT_EQ(fettle::film_over(wall_film<double>{0.3, 0}, 20.0).evaporated, 1);
  EXPECT_EQ(fettle::film_over(wall_film<double>{0.3, 1e-9}, 20.0).evaporated, 1);
}

static_assert(fettle::injection_for(film_cycle<float>{0.5F, 0.25F}, 4.0F, 2.0F) == 2.0F);
static_assert(fettle::film_over(wall_film<float>{0.3F, 500}, 20.0F).evaporated > 0.0392F);

static_assert(fettle::wall_film<float>{}.deposited == 0 && fettle::wall_film<float>{}.evaporation_ms == 0);

}  // namespace film_test
