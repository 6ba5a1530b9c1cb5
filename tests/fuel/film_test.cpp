// SPDX-License-Identifier: MIT
#include "fettle/fuel/film.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "reference.hpp"

namespace {

using fettle::film_cycle;
using fettle::wall_film;

// Computed, exact solution of the equations of C. F. Aquino, SAE 810494 (1981), for a unit step onto dry walls, X =
// 0.3, tau = 0.5 s (tests/reference/film_step.csv), here with cycles of 20 ms (6000 rpm) and of 100 ms.
TEST(Film, MatchesTheExactStepResponse) {
  const auto rows = reference::csv::read("film_step.csv");
  const auto times_s = rows.column("t_s"), expected = rows.column("cylinder_flow");
  for (const int cycles_per_row : {1, 5}) {
    const auto cycle = fettle::film_over(wall_film<double>{0.3, 500}, 100.0 / cycles_per_row);
    double film_mg = 0;
    for (std::size_t row = 0; row < times_s.size(); ++row) {
      EXPECT_NEAR(fettle::inject(cycle, film_mg, 1.0).cylinder_mg, expected[row], 1e-9) << times_s[row];
      for (int k = 0; k < cycles_per_row; ++k) film_mg = fettle::inject(cycle, film_mg, 1.0).film_mg;
    }
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

// From a wrong film the compensated injections settle, or swing ever wider, as `is_compensable` says.
RC_GTEST_PROP(Film, CompensationSettlesWhenItSaysSo, ()) {
  const film_cycle<double> cycle{draws::between<double>(0.1, 0.9), draws::between<double>(0.05, 1)};
  const double factor = 1 - cycle.evaporated / (1 - cycle.deposited);
  RC_PRE(std::abs(std::abs(factor) - 1) > 0.05);
  const double wanted_mg = 20, steady_mg = fettle::steady_film_mg(cycle, wanted_mg);
  double film_mg = steady_mg * 1.001;
  for (int k = 0; k < 400; ++k)
    film_mg = fettle::inject(cycle, film_mg, fettle::injection_for(cycle, film_mg, wanted_mg)).film_mg;
  RC_ASSERT(fettle::is_compensable(cycle) == (std::abs(film_mg / steady_mg - 1) < 1e-6));
}

// Steady state: what is injected arrives, whatever X and tau, and the film is X tau times the flow (continuous limit).
RC_GTEST_PROP(Film, SteadyInjectionArrives, ()) {
  const auto cycle = any_cycle<double>();
  const double injected_mg = draws::between<double>(1, 60);
  const auto step = fettle::inject(cycle, fettle::steady_film_mg(cycle, injected_mg), injected_mg);
  RC_ASSERT(std::abs(step.cylinder_mg - injected_mg) <= 1e-13 * injected_mg);
}
TEST(Film, SteadyAmountTendsToDepositedTimesTau) {
  const auto cycle = fettle::film_over(wall_film<double>{0.3, 500}, 0.001);
  EXPECT_NEAR(fettle::steady_film_mg(cycle, 0.001 * 1.0), 0.3 * 500 * 1.0, 0.3 * 500 * 1e-5);
}

// The exponential of the standard library is another program for the same number.
template <class T>
void evaporated_share_equals_expm1() {
  const T x = std::exp(draws::between<T>(-14, 5));
  const T expected = -std::expm1(-x);
  RC_ASSERT(std::abs(fettle::detail::one_minus_exp(x) - expected) <= 4 * std::numeric_limits<T>::epsilon() * expected);
}
RC_GTEST_PROP(Film, EvaporatedShareEqualsTheExponentialInDouble, ()) {
  evaporated_share_equals_expm1<double>();
}
RC_GTEST_PROP(Film, EvaporatedShareEqualsTheExponentialInFloat, ()) {
  evaporated_share_equals_expm1<float>();
}

TEST(Film, AtItsEdges) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  for (const auto& film : {wall_film<double>{-0.1, 500}, wall_film<double>{1, 500}, wall_film<double>{nan, 500},
                           wall_film<double>{0.3, -1}, wall_film<double>{0.3, nan}, wall_film<double>{0.3, inf}}) {
    EXPECT_FALSE(fettle::is_usable(film));
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

}  // namespace
