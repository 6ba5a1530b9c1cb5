// SPDX-License-Identifier: MIT
#include "fettle/fit/fit_table.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <string>
#include <utility>

#include "fettle/map/interpolate.hpp"
#include "reference.hpp"

namespace fit_table_test {

using fettle::dynamic_axis;
using fettle::dynamic_table;

dynamic_axis<double> even_axis(double from, double step, std::size_t points) {
  std::vector<double> x;
  for (std::size_t i = 0; i < points; ++i) x.push_back(from + step * static_cast<double>(i));
  return *dynamic_axis<double>::from(x);
}

fettle::fitted_map ethanol_map() {
  std::vector<double> at, value;
  for (const auto& row : reference::csv::read("ethanol.csv").rows) {
    at.push_back(reference::csv::number(row, "C"));
    at.push_back(reference::csv::number(row, "E"));
    value.push_back(reference::csv::number(row, "NOx"));
  }
  return fettle::fit_table({*dynamic_axis<double>::from({7.5, 9, 12, 15, 18}), even_axis(0.5, 0.05, 16)}, at, value);
}

struct distances {
  double largest = 0, rms = 0;
};
distances from_published(const fettle::fitted_map& map, const std::string& file, const std::string& column) {
  distances result;
  const auto data = reference::csv::read(file);
  for (const auto& row : data.rows) {
    const double here =
        fettle::interpolate(map.table.view<2>(), reference::csv::number(row, "C"), reference::csv::number(row, "E"));
    const double miss = std::abs(here - reference::csv::number(row, column));
    result.largest = std::max(result.largest, miss);
    result.rms += miss * miss / static_cast<double>(data.rows.size());
  }
  result.rms = std::sqrt(result.rms);
  return result;
}

// A comparison, not an oracle: good smoothers differ. Published predictions inside the data: loess as in Cleveland
// (1993) and mgcv te() by REML differ from each other by 0.18 at most and 0.065 rms (ug/J); a table between
// breakpoints 0.05 apart must not differ from either by more than twice that. The thin plate is the one of middle
// strength (tests/reference/ethanol_*.csv).
TEST(FitTableOnEthanol, PredictsLikeOtherGoodSmoothers) {
  const auto map = ethanol_map();
  EXPECT_TRUE(map.is_determined());
  const std::pair<const char*, const char*> published[] = {{"ethanol_smooth_predictions.csv", "loess"},
                                                           {"ethanol_smooth_predictions.csv", "te_reml"},
                                                           {"ethanol_thin_plate.csv", "s_0.1"}};
  for (const auto& [file, column] : published) {
    const distances distance = from_published(map, file, column);
    EXPECT_LT(distance.largest, 0.36) << column;
    EXPECT_LT(distance.rms, 0.13) << column;
  }
}

RC_GTEST_PROP(FitTable, FindsAMapOfAnyRankFromExactReadings, ()) {
  const auto rank = *rc::gen::inRange<std::size_t>(1, 4);
  std::vector<dynamic_axis<double>> axes;
  std::size_t cells = 1;
  for (std::size_t a = 0; a < rank; ++a)
    cells *= axes.emplace_back(even_axis(0, 1.5, *rc::gen::inRange<std::size_t>(2, 5))).size();
  auto values = *rc::gen::container<std::vector<double>>(
      cells, rc::gen::map(rc::gen::inRange(-1000, 1000), [](int v) { return 0.1 * v; }));
  const auto truth = *dynamic_table<double>::from(axes, std::move(values));
  std::vector<double> at, read;
  for (int i = 0; i < 2000; ++i) {  // a low-discrepancy walk through the whole map and a little beyond it
    std::vector<double> x;
    for (std::size_t a = 0; a < rank; ++a) {
      const double share = std::fmod(i * (a == 0   ? 0.8191725133961645
                                          : a == 1 ? 0.6710436067037893
                                                   : 0.5497004779019703),
                                     1);
      x.push_back(-0.1 + share * (axes[a].points().back() + 0.2));
    }
    read.push_back(rank == 1   ? fettle::interpolate(truth.view<1>(), x[0])
                   : rank == 2 ? fettle::interpolate(truth.view<2>(), x[0], x[1])
                               : fettle::interpolate(truth.view<3>(), x[0], x[1], x[2]));
    at.insert(at.end(), x.begin(), x.end());
  }
  const auto fitted = fettle::fit_table(axes, at, read, {}, {.smooth = std::vector<double>(rank, 0.0)});
  RC_ASSERT(fitted.is_determined());
  for (std::size_t k = 0; k < cells; ++k) RC_ASSERT(std::abs(fitted.table.values()[k] - truth.values()[k]) < 1e-8);
}

TEST(FitTable, IsNotLedAstrayByOutliersWhenRobust) {
  std::vector<double> at, value;
  for (int i = 0; i < 400; ++i) {
    at.push_back(i / 40.0);
    value.push_back(std::sin(at.back()) + 0.01 * ((i * 7919) % 13 - 6) + (i % 9 == 0 ? 20.0 : 0.0));
  }
  const std::vector<dynamic_axis<double>> axes{even_axis(0, 0.5, 21)};
  for (const auto loss : {fettle::loss::huber, fettle::loss::tukey}) {
    const auto robust = fettle::fit_table(axes, at, value, {}, {.loss = loss});
    double largest = 0;
    for (std::size_t k = 0; k < 21; ++k)
      largest = std::max(largest, std::abs(robust.table.values()[k] - std::sin(0.5 * static_cast<double>(k))));
    EXPECT_LT(largest, loss == fettle::loss::tukey ? 0.06 : 0.2);
  }
  EXPECT_GT(fettle::fit_table(axes, at, value).table.values()[10] - std::sin(5.0), 1.0);
}

TEST(FitTable, CountsAPointTwiceLikeAPointOfDoubleWeight) {
  const std::vector<dynamic_axis<double>> axes{even_axis(0, 1, 4)};
  const double at[] = {0.1, 1.4, 2.2, 2.9, 1.4}, value[] = {1, 3, 2, 5, 3}, weight[] = {1, 2, 1, 1};
  const fettle::fit_options given{.smooth = std::vector<double>{0.01}};
  const auto twice = fettle::fit_table(axes, at, value, {}, given);
  const auto heavy = fettle::fit_table(axes, std::span(at, 4), std::span(value, 4), weight, given);
  for (std::size_t k = 0; k < 4; ++k) EXPECT_NEAR(twice.table.values()[k], heavy.table.values()[k], 1e-10);
}

void expect_no_nan(const fettle::fitted_map& map) {
  for (const double value : map.table.values()) EXPECT_TRUE(std::isfinite(value));
  for (const double error : map.standard_error) EXPECT_FALSE(std::isnan(error));
}

// Ill-posed problems: no points, one point, points of no weight, points on one line of a plane. With chosen and with
// given strengths each must name the cells it leaves open and contain no NaN.
TEST(FitTable, NamesWhatIllPosedProblemsLeaveOpen) {
  const std::vector<dynamic_axis<double>> axes{even_axis(0, 1, 3), even_axis(0, 1, 4)};
  const std::vector<double> diagonal{0, 0, 0.5, 0.5, 1, 1, 1.5, 1.5, 2, 2};
  for (const fettle::smoothness& how :
       {fettle::smoothness{fettle::criterion::reml}, fettle::smoothness{fettle::criterion::gcv},
        fettle::smoothness{std::vector<double>{1, 1}}, fettle::smoothness{std::vector<double>{0, 0}}}) {
    const auto none = fettle::fit_table(axes, {}, {}, {}, {.smooth = how});
    EXPECT_EQ(none.undetermined.size(), 12U);
    expect_no_nan(none);
    const auto single = fettle::fit_table(axes, std::vector<double>{1, 1}, std::vector<double>{5}, {}, {.smooth = how});
    EXPECT_EQ(single.undetermined.size(), 11U);
    EXPECT_NEAR(single.table.values()[5], 5, 1e-6);
    EXPECT_TRUE(std::isinf(single.standard_error[5]));  // determined, but how well one point cannot tell
    expect_no_nan(single);
    const std::vector<double> value{1, 2, 3, 4, 5};
    const auto weightless = fettle::fit_table(axes, diagonal, value, std::vector<double>(5, 0.0), {.smooth = how});
    EXPECT_EQ(weightless.undetermined.size(), 12U);
    expect_no_nan(weightless);
    const auto line = fettle::fit_table(axes, diagonal, value, {}, {.smooth = how});
    EXPECT_FALSE(line.is_determined());
    expect_no_nan(line);
  }
}

TEST(FitTable, IsTheSameOnAnAxisOfAnyUnit) {
  const auto fitted = [](double unit) {
    std::vector<double> breakpoints, at, value;
    for (int i = 0; i < 5; ++i) breakpoints.push_back(i * unit);
    for (int i = 0; i < 17; ++i) {
      at.push_back(0.25 * i * unit);
      value.push_back(i % 5 + 0.1 * i);
    }
    return fettle::fit_table({*fettle::dynamic_axis<double>::from(breakpoints)}, at, value);
  };
  const auto expected = fitted(1);
  for (const double unit : {0x1p-500, 0x1p500})
    for (std::size_t k = 0; k < 5; ++k) EXPECT_EQ(fitted(unit).table.values()[k], expected.table.values()[k]);
}

TEST(FitTable, NamesAPointItCannotUse) {
  const std::vector<dynamic_axis<double>> axes{even_axis(0, 1, 3)};
  const double bad = std::numeric_limits<double>::quiet_NaN();
  try {
    (void)fettle::fit_table(axes, std::vector<double>{0, bad}, std::vector<double>{1, 2});
    FAIL();
  } catch (const fettle::error& refusal) {
    EXPECT_NE(std::string(refusal.what()).find("point 1"), std::string::npos);
  }
  EXPECT_THROW((void)fettle::fit_table(axes, std::vector<double>{0, 1}, std::vector<double>{1, bad}), fettle::error);
  EXPECT_THROW((void)fettle::fit_table(axes, std::vector<double>{0, 1}, std::vector<double>{1}), fettle::error);
}

}  // namespace fit_table_test
