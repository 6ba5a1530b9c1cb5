// SPDX-License-Identifier: MIT
#include "fettle/lambda/reading_model.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace reading_model_test {

using fettle::dynamic_axis;
using fettle::parameter;

struct example {
  fettle::dynamic_table<double> base = *fettle::dynamic_table<double>::from(
      {*dynamic_axis<double>::from({1000, 3000, 6000}), *dynamic_axis<double>::from({0, 30, 100})},
      {8, 14, 20, 9, 18, 28, 7, 20, 36});
  fettle::dynamics with{.revolutions = parameter::held("revolutions", 1.5),
                        .banks = {{parameter::held("film share", 0.2), parameter::held("film time", 0.3)}},
                        .sensors = {{parameter::held("pipe gas mass", 0.8), parameter::held("latency", 0.01),
                                     parameter::held("lag", 0.06), parameter::held("gain", 1)}}};
  fettle::recording log;

  example() {
    log.name = "example";
    log.cylinders = 5;
    log.at.resize(2);
    log.fuel_mg.resize(1);
    for (int i = 0; i < 600; ++i) {
      const double t = 0.01 * i, rpm = 3000 + 1500 * std::sin(t), pct = 40 + 30 * std::sin(2.3 * t);
      log.time_s.push_back(t);
      log.at[0].push_back(rpm);
      log.at[1].push_back(pct);
      log.speed_rpm.push_back(rpm);
      log.need_mg.push_back(15 + 0.1 * pct);
      log.fuel_mg[0].push_back(16 + 0.11 * pct);
      log.target_lambda.push_back(1);
    }
    log.sensors.push_back({.name = "collector", .lambda = std::vector<double>(600, 1.0)});
  }
};

TEST(ReadingModel, OfASteadyEngineReadsFuelOverNeedWhateverThePath) {
  example drive;
  for (std::size_t i = 0; i < drive.log.rows(); ++i) {
    drive.log.at[0][i] = drive.log.speed_rpm[i] = 3000;
    drive.log.at[1][i] = 30;
    drive.log.need_mg[i] = 18;
    drive.log.fuel_mg[0][i] = 19.8;
  }
  const fettle::reading_model model(drive.log, drive.base);
  const std::vector<double> right(drive.base.size(), 1.1);
  for (const double phi : model.predict(model.origin_of(0, right, drive.with))) EXPECT_NEAR(phi, 1.0, 1e-12);
}

TEST(ReadingModel, SlopesAreTheDifferenceQuotientsOfItsPredictions) {
  const example drive;
  const fettle::reading_model model(drive.log, drive.base);
  std::vector<double> correction(drive.base.size());
  for (std::size_t k = 0; k < correction.size(); ++k) correction[k] = 1 + 0.05 * std::sin(3.0 * static_cast<double>(k));
  const auto origin = model.origin_of(0, correction, drive.with);
  const auto here = model.predict(origin);
  std::vector<std::vector<double>> slope(drive.log.rows(), std::vector<double>(correction.size(), 0.0));
  model.for_each_slope(origin, correction, here, [&](std::size_t row, const auto& cells, const auto& factors) {
    for (std::size_t k = 0; k < cells.size(); ++k) slope[row][cells[k]] = factors[k];
  });
  for (std::size_t k = 0; k < correction.size(); ++k) {
    auto moved = correction;
    moved[k] *= std::exp(1e-6);
    auto there = origin;
    there.correction = model.correction_at_rows(moved);  // the same gas: its time of flight hardly depends on a cell
    const auto changed = model.predict(there);
    for (std::size_t i = 0; i < here.size(); i += 37)
      EXPECT_NEAR(slope[i][k], -std::log(changed[i] / here[i]) / 1e-6, 2e-3) << "row " << i << ", cell " << k;
  }
}

// What a film holds is not lost when its time changes: over a round trip as much reaches the cylinders as was injected,
// up to what sums over rows of 10 ms leave of an integral.
TEST(ReadingModel, AFilmWhoseTimeFollowsTheMapLosesNoFuel) {
  example drive;
  for (std::size_t i = 0; i < drive.log.rows(); ++i) {
    const double s = 3.14159265358979 * std::clamp((drive.log.time_s[i] - 0.5) / 3, 0.0, 1.0),
                 rise = std::sin(s) * std::sin(s);
    drive.log.at[0][i] = drive.log.speed_rpm[i] = 2000 + 3500 * rise;
    drive.log.at[1][i] = 20 + 70 * rise;
    drive.log.fuel_mg[0][i] = 10 + 20 * rise;
  }
  const fettle::reading_model model(drive.log, drive.base);
  drive.with.banks[0].film_time_trend = {parameter::held("trend 1", 0.5), parameter::held("trend 2", 1.4)};
  const auto phi = model.uncorrected_phi(drive.with);
  double injected = 0, delivered = 0, difference = 0;
  for (std::size_t i = 0; i < phi.size(); ++i) {
    injected += drive.log.fuel_mg[0][i] * drive.log.speed_rpm[i];
    delivered += phi[i] * drive.log.need_mg[i] * drive.log.speed_rpm[i];
    difference = (std::max)(difference, std::abs(phi[i] * drive.log.need_mg[i] / drive.log.fuel_mg[0][i] - 1));
  }
  EXPECT_GT(difference, 0.02);
  EXPECT_NEAR(delivered / injected, 1, 1e-4);
}

// Up to the length of a row over the film's time: with rows of 1 ms they agree within 2e-4.
TEST(ReadingModel, FilmSlopesAreTheDifferenceQuotientsOfTheMixture) {
  example drive;
  const fettle::reading_model model(drive.log, drive.base);
  auto& bank = drive.with.banks[0];
  bank.film_time_trend = {parameter::held("trend 1", 0.7), parameter::held("trend 2", 1.2)};
  fettle::parameter* const parameters[]{&bank.film_share, &bank.film_time_s, &bank.film_time_trend[0],
                                        &bank.film_time_trend[1]};
  for (std::size_t which = 0; which < 4; ++which) {
    const auto slope = model.film_slope(model.film_of(0, drive.with), 0, which, drive.with);
    const double value = parameters[which]->value;
    parameters[which]->value = value * std::exp(1e-5);
    const auto above = model.uncorrected_phi(drive.with);
    parameters[which]->value = value * std::exp(-1e-5);
    const auto below = model.uncorrected_phi(drive.with);
    parameters[which]->value = value;
    for (std::size_t i = 0; i < slope.size(); i += 7)
      EXPECT_NEAR(slope[i], (above[i] - below[i]) / 2e-5, 3e-3) << "parameter " << which << ", row " << i;
  }
}

TEST(ReadingModel, SlopesOfARowSumTo1) {
  const example drive;
  const fettle::reading_model model(drive.log, drive.base);
  const std::vector<double> right(drive.base.size(), 1.0);
  const auto origin = model.origin_of(0, right, drive.with);
  model.for_each_slope(origin, right, model.predict(origin), [&](std::size_t, const auto&, const auto& factors) {
    double sum = 0;
    for (const double factor : factors) sum += factor;
    EXPECT_NEAR(sum, 1, 2e-3);
  });
}

}  // namespace reading_model_test
