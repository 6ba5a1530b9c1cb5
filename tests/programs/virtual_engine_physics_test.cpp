// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "programs/virtual_runs.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/exhaust.hpp"
#include "virtual_engine/film.hpp"
#include "virtual_engine/misfire.hpp"
#include "virtual_engine/physics.hpp"
#include "virtual_engine/session.hpp"
#include "virtual_engine/stage_drive.hpp"

namespace virtual_engine_physics_test {

using namespace virtual_engine;
using namespace virtual_runs;

engine with_physics(std::uint64_t seed, const std::vector<std::string>& words) {
  engine e = engine::from_seed(seed);
  add_physics(e, words, seed);
  return e;
}

/// Exhaust gas made in steps of 1 ms at 6000 rpm.
class gas_maker {
 public:
  explicit gas_maker(const per_cylinder& pipe_excess = {}) : gas{0.1, pipe_excess} {}

  void add(const per_cylinder& phi, double air_mg = 20) {
    per_cylinder air, fuel;
    air.fill(air_mg);
    for (std::size_t i = 0; i < cylinders; ++i) fuel[i] = air_mg * phi[i] / 14.3;
    gas.add(0.1, air, fuel, 14.3);
  }
  void add(double phi, double air_mg = 20) { add(per_cylinder{phi, phi, phi, phi, phi}, air_mg); }

  exhaust gas;
};

/// What a sensor close to the valve shows of phi over time, one value per step of 1 ms.
template <class Phi>
std::vector<double> seen_by(const lambda_sensor& sensor, int steps, Phi&& phi) {
  gas_maker maker;
  sensing probe{sensor, 0.001};
  std::vector<double> result;
  for (int i = 0; i < steps; ++i) {
    maker.add(phi(i));
    probe.step(maker.gas);
    result.push_back(probe.phi());
  }
  return result;
}

TEST(VirtualEnginePhysics, NoneChangesNothingAndEachChangesTheLog) {
  const auto mark = [](const engine& e) {
    return fingerprint(
        simulate(e, alpha_n_controller{e, 7}, stage_drive(7, 0.5), {.cylinder_sensors = true, .seed = 3}).log);
  };
  const std::uint64_t plain = mark(engine::from_seed(7));
  EXPECT_EQ(mark(with_physics(7, {})), plain);
  for (const char* word : physics_words) EXPECT_NE(mark(with_physics(7, {word})), plain) << word;
  EXPECT_EQ(mark(with_physics(7, {"all"})), mark(with_physics(7, {"misfire", "reversion", "lag", "pipes", "film"})));
}

TEST(VirtualEnginePhysics, RefusesAWordThatItDoesNotKnow) {
  engine e = engine::from_seed(1);
  EXPECT_THROW(add_physics(e, {"film", "ghosts"}, 1), fettle::error);
  EXPECT_TRUE(e.physics.empty());
}

TEST(VirtualEnginePhysics, FilmSettlesToItsStatedValuesAtTheMiddleOfTheMap) {
  const wall_film film = with_physics(3, {"film"}).bank[1].film;
  EXPECT_DOUBLE_EQ(film.at(0.5, 5000).share, film.share);
  EXPECT_DOUBLE_EQ(film.at(0.5, 5000).time_s, film.time_s);
  EXPECT_LT(film.at(0.9, 5000).share, film.at(0.1, 5000).share);
  EXPECT_LT(film.at(0.5, 8000).time_s, film.at(0.5, 2000).time_s);
}

TEST(VirtualEnginePhysics, FilmThatVariesLosesNothing) {
  const wall_film film = with_physics(3, {"film"}).bank[1].film;
  wall wall{film, 1};
  dice draw{1};
  double in = 0, out = 0;
  for (int i = 0; i < 5000; ++i) {
    wall.change(film.at(draw.uniform(0, 1), draw.uniform(1000, 9000)));
    const double flow = draw.happens(0.2) ? 0 : draw.uniform(0, 5);
    in += flow;
    out += wall.step(flow);
  }
  EXPECT_NEAR(in, out + wall.mass_mg(), 1e-9 * in);
}

// Of a step of the fuel the film keeps its share of the moment: what arrives at once is 1 - share of the step.
TEST(VirtualEnginePhysics, FilmKeepsTheShareOfItsOperatingPoint) {
  const engine e = with_physics(3, {"film"});
  for (const auto& [rpm, throttle] : {std::pair{2000.0, 9.0}, {3000.0, 30.0}, {8000.0, 20.0}}) {
    const alpha_n_controller controller{ideal_fuel_map(e), share_map(), e.bank};
    const auto fuel = column(simulate(e, richer_after(1, controller), steady(2, rpm, throttle),
                                      {.rate_hz = 1000, .noise = false, .keep_truth = true})
                                 .truth,
                             "fuel_mg");
    const wall_film here = e.bank[0].film.at(e.air_mg(rpm, throttle) / full_charge_mg, rpm);
    const double step = 0.1 * fuel[999], kept = std::exp(-0.001 / here.time_s);
    EXPECT_NEAR((fuel[1000] - fuel[999]) / step, 1 - here.share * (1 - kept) * here.time_s / 0.001, 1e-6) << rpm;
  }
}

TEST(VirtualEnginePhysics, UnequalPipesLeaveASteadyMixtureAsItIs) {
  gas_maker maker{{0.5, -0.3, 0.1, -0.4, 0.1}};
  const lambda_sensor collector{.name = "collector", .column = "", .pipe_gas_mass_g = 0.8};
  std::array<std::size_t, cylinders> cursors{};
  for (int i = 0; i < 100; ++i) maker.add({0.9, 1.0, 1.1, 1.2, 0.8});
  EXPECT_NEAR(maker.gas.phi_at(collector, cursors), maker.gas.phi_made()[0], 1e-12);
}

// Each step makes 5 x 20 mg of air and the fuel for it at phi 1: 107 mg; pipes of 0.8 g (1 + excess) take 7.48 steps
// (1 + excess), and the way to the valve takes one.
TEST(VirtualEnginePhysics, EachCylindersGasArrivesAtItsOwnTime) {
  const per_cylinder excess{0.5, -0.3, 0.1, -0.4, 0.1};
  const lambda_sensor collector{.name = "collector", .column = "", .pipe_gas_mass_g = 0.8};
  const double pipe_steps = 0.8 / (0.1 * (1 + 1 / 14.3));
  for (std::size_t which = 0; which < cylinders; ++which) {
    gas_maker maker{excess};
    std::array<std::size_t, cylinders> cursors{};
    for (int i = 0; i < 100; ++i) maker.add(1), (void)maker.gas.phi_at(collector, cursors);
    double arrived = 0, moment = 0, passed = 0;
    for (int i = 0; i < 60; ++i) {  // a pulse of one cylinder, one step long
      per_cylinder phi{1, 1, 1, 1, 1};
      if (i == 0) phi[which] = 1.1;
      maker.add(phi);
      passed = maker.gas.phi_at(collector, cursors) - 1;
      arrived += passed;
      moment += i * passed;
    }
    EXPECT_NEAR(arrived, 0.1 / cylinders, 2e-4) << "nothing is lost";
    EXPECT_NEAR(moment / arrived, 1 + pipe_steps * (1 + excess[which]), 0.1);
  }
}

// Linear systems: two lags in series answer a step with 1 - (T1 exp(-t/T1) - T2 exp(-t/T2)) / (T1 - T2).
TEST(VirtualEnginePhysics, TwoStagesAnswerAsTwoLagsInSeries) {
  const lambda_sensor sensor{.name = "pipe", .column = "", .cylinder = 1, .lag_s = 0.08, .second_lag_s = 0.03};
  const auto seen = seen_by(sensor, 700, [](int i) { return i < 200 ? 1.0 : 1.2; });
  for (const int late : {20, 60, 150, 300}) {
    const double t = (late - 1.5) * 0.001;  // one step to the valve, and halfway between the two Euler sums
    const double share = 1 - (0.08 * std::exp(-t / 0.08) - 0.03 * std::exp(-t / 0.03)) / 0.05;
    EXPECT_NEAR((seen[static_cast<std::size_t>(200 + late)] - 1) / 0.2, share, 0.01) << late;
  }
}

TEST(VirtualEnginePhysics, LopsidedSensorIsSlowerOneWayByItsRatio) {
  const lambda_sensor sensor{.name = "pipe", .column = "", .cylinder = 1, .lag_s = 0.08, .lag_ratio = 2};
  const auto sixty_three_pct_after = [&](double phi) {
    const auto seen = seen_by(sensor, 1000, [&](int i) { return i < 200 ? 1.0 : phi; });
    std::size_t i = 200;
    while ((seen[i] - 1) / (phi - 1) < 1 - std::exp(-1.0)) ++i;
    return static_cast<double>(i - 200);
  };
  EXPECT_NEAR(sixty_three_pct_after(0.9), 80 * std::sqrt(2.0), 3);
  EXPECT_NEAR(sixty_three_pct_after(1.1), 80 / std::sqrt(2.0), 3);
}

TEST(VirtualEnginePhysics, LopsidedSensorReadsASwingTowardItsFastSide) {
  const auto mean_of = [](double ratio) {
    const lambda_sensor sensor{.name = "pipe", .column = "", .cylinder = 1, .lag_s = 0.08, .lag_ratio = ratio};
    const auto seen = seen_by(sensor, 4000, [](int i) { return 1 + 0.1 * std::sin(i * 0.0314159265); });
    return std::accumulate(seen.begin() + 2000, seen.end(), 0.0) / 2000;
  };
  EXPECT_NEAR(mean_of(1), 1, 1e-4);
  EXPECT_GT(mean_of(2), 1.01);
  EXPECT_LT(mean_of(0.5), 0.99);
}

TEST(VirtualEnginePhysics, LittleExhaustFlowReadsLeanAndMuchDoesNot) {
  const engine e = with_physics(4, {"reversion"});
  for (const auto& [rpm, throttle] : {std::pair{800.0, 0.0}, {1200.0, 2.0}, {5800.0, 54.0}}) {
    const auto reading = column(simulate(e, alpha_n_controller{ideal_fuel_map(e), share_map(), e.bank},
                                         steady(4, rpm, throttle), {.noise = false})
                                    .log,
                                "lambda_collector")
                             .back();
    const double fuel_mg = e.ideal_fuel_mg(rpm, throttle) / lambda_target(rpm, throttle);
    const double flow_g_s = (e.air_mg(rpm, throttle) + fuel_mg) * cylinders / 1000 * rpm / 120;
    const double drawn_in = e.sensor[0].air_drawn_in * std::exp(-flow_g_s / e.sensor[0].air_drawn_in_flow_g_s);
    EXPECT_NEAR(reading / lambda_target(rpm, throttle), 1 + drawn_in, 3e-4) << rpm << " rpm, " << flow_g_s << " g/s";
    EXPECT_TRUE(rpm > 1500 || drawn_in > 0.02);
    EXPECT_TRUE(rpm < 5000 || drawn_in < 1e-6);
  }
}

TEST(VirtualEnginePhysics, MisfiresAreAsManyAsStatedAndFewAtLargeCharge) {
  const misfires what = with_physics(5, {"misfire"}).misfire;
  EXPECT_LT(what.probability(0.5), 0.001);
  constexpr int cycles = 20000;
  for (const double charge : {0.1, 0.2, 0.6}) {
    misfiring events{what, 5};
    double misfired = 0;
    for (int i = 0; i < cycles; ++i) {
      events.step(2, charge);
      for (std::size_t c = 0; c < cylinders; ++c) misfired += events.happens(c);
    }
    const double expected = what.probability(charge) * cycles * cylinders;
    EXPECT_NEAR(misfired, expected, 4 * std::sqrt(expected)) << charge;
  }
}

TEST(VirtualEnginePhysics, AMisfireLastsOneCycleAndReadsLean) {
  misfiring events{{.always = 1, .unseen_fuel = 0.6}, 1};
  double steps = 0;
  for (int i = 0; i < 19; ++i) events.step(0.1, 0.5);
  EXPECT_FALSE(events.happens(0)) << "decided at the end of a cycle";
  for (int i = 0; i < 40; ++i) {
    events.step(0.1, 0.5);
    steps += events.happens(0);
  }
  EXPECT_GE(steps, 39);
  engine e = without_film_and_lag(5);
  e.misfire = {.always = 1, .unseen_fuel = 0.3};
  const auto run = simulate(e, alpha_n_controller{ideal_fuel_map(e), share_map(), e.bank}, steady(2, 4000, 20),
                            {.noise = false, .keep_truth = true});
  EXPECT_NEAR(column(run.log, "lambda_collector").back(), lambda_target(4000, 20) / 0.7, 1e-3);
  const auto pull = simulate(e, alpha_n_controller{e, 5}, pull_drive(5), {.noise = false});
  EXPECT_LT(column(pull.log, "torque_nm").back(), 0) << "a cylinder that does not burn does no work";
}

TEST(VirtualEnginePhysics, IsWrittenIntoTheTruthAndOnlyWhereItIsOn) {
  EXPECT_FALSE(truth_json(engine::from_seed(2), 2).contains("physics"));
  const auto some = truth_json(with_physics(2, {"lag", "misfire"}), 2)["physics"];
  EXPECT_EQ(some.size(), 2U);
  EXPECT_EQ(some["lag"].size(), cylinders + 1);
  EXPECT_GT(some["misfire"]["unseen_fuel"], 0);
  const auto all = truth_json(with_physics(2, {"all"}), 2)["physics"];
  for (const char* word : physics_words) EXPECT_FALSE(all[word].empty()) << word;
}

}  // namespace virtual_engine_physics_test
