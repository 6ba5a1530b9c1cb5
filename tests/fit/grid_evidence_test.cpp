// SPDX-License-Identifier: MIT
#include "fettle/fit/grid_evidence.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include "fettle/fit/map_model.hpp"
#include "fit/normal_matrix.hpp"

namespace grid_evidence_test {

using fettle::dynamic_axis;
using fettle::grid_evidence;

const auto speeds = *dynamic_axis<double>::from({500, 1000, 1500, 2500, 4000});
const auto loads = *dynamic_axis<double>::from({0, 10, 30, 100});

struct log {
  std::vector<double> row, column, value, weight;
  [[nodiscard]] std::size_t size() const { return value.size(); }
  void put(double r, double c, double v, double w) {
    row.push_back(r), column.push_back(c), value.push_back(v), weight.push_back(w);
  }
};

/// A drive over the map and beyond its edges, now slow, now jumping, often exactly on breakpoints.
log drawn_log() {
  log result;
  double row = 1000, column = 10;
  const auto samples = *rc::gen::inRange<std::size_t>(0, 400);
  for (std::size_t i = 0; i < samples; ++i) {
    const int kind = *rc::gen::inRange(0, 60);
    if (kind == 0) row = *rc::gen::element(500.0, 1000.0, 2500.0, 4000.0, 1e9, -1e9);
    if (kind == 1) column = *rc::gen::element(0.0, 10.0, 100.0, std::numeric_limits<double>::infinity(), -5.0);
    if (kind == 2) column = *rc::gen::inRange(0, 1100) * 0.1;
    row += 0.37 * *rc::gen::inRange(-4, 6);
    result.put(row, column, *rc::gen::inRange(-1000, 1000) * 1.23e-3, *rc::gen::inRange(0, 100) * 0.013);
  }
  return result;
}

void put(grid_evidence& seen, const log& samples, std::size_t begin, std::size_t end, bool weighted) {
  const auto part = [&](const std::vector<double>& x) { return std::span(x).subspan(begin, end - begin); };
  seen.add(part(samples.row), part(samples.column), part(samples.value),
           weighted ? part(samples.weight) : std::span<const double>{});
}

bool same_to_the_bit(const fettle::evidence& a, const fettle::evidence& b) {
  return a.samples() == b.samples() && a.square() == b.square() && a.moment() == b.moment() &&
         normal_matrix(a) == normal_matrix(b);
}

RC_GTEST_PROP(GridEvidence, EqualsEvidenceSampleBySample, ()) {
  const log samples = drawn_log();
  const bool weighted = *rc::gen::arbitrary<bool>();
  grid_evidence seen(speeds, loads, 2, 1.5);
  put(seen, samples, 0, samples.size(), weighted);
  const fettle::map_model model({{.axes = {speeds, loads}}});
  fettle::sample_rows rows;
  fettle::evidence expected(model.cells());
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const double x[] = {samples.row[i], samples.column[i]};
    model.put(rows, 0, 1.0, x);
    rows.finish(samples.value[i], weighted ? samples.weight[i] : 1.0);
    expected.add(rows[i].cell, rows[i].factor, rows[i].value, rows[i].weight);
  }
  const fettle::evidence summed = seen.to_evidence();
  const double bound = 1e-11 * (1 + static_cast<double>(samples.size()));
  RC_ASSERT(summed.samples() == samples.size());
  RC_ASSERT(std::abs(summed.square() - expected.square()) < bound);
  for (std::size_t k = 0; k < model.cells(); ++k)
    RC_ASSERT(std::abs(summed.moment()[k] - expected.moment()[k]) < bound);
  const Eigen::MatrixXd a = normal_matrix(summed), b = normal_matrix(expected);
  RC_ASSERT((a - b).cwiseAbs().maxCoeff() < bound);
}

RC_GTEST_PROP(GridEvidence, IsTheSameToTheBitHoweverTheLogIsSplitAndMerged, ()) {
  const log samples = drawn_log();
  const bool weighted = *rc::gen::arbitrary<bool>();
  grid_evidence whole(speeds, loads, 2, 1.5);
  put(whole, samples, 0, samples.size(), weighted);
  std::vector<grid_evidence> parts;
  for (std::size_t begin = 0; begin < samples.size();) {
    const std::size_t end = std::min(samples.size(), begin + *rc::gen::inRange<std::size_t>(1, 150));
    put(parts.emplace_back(speeds, loads, 2, 1.5), samples, begin, end, weighted);
    begin = end;
  }
  grid_evidence forwards(speeds, loads, 2, 1.5), backwards(speeds, loads, 2, 1.5);
  for (std::size_t k = 0; k < parts.size(); ++k) {
    forwards.merge(parts[k]);
    backwards.merge(parts[parts.size() - 1 - k]);
  }
  RC_ASSERT(same_to_the_bit(whole.to_evidence(), forwards.to_evidence()));
  RC_ASSERT(same_to_the_bit(whole.to_evidence(), backwards.to_evidence()));
}

RC_GTEST_PROP(GridEvidence, IsTheSameToTheBitInAnyOrderOfSamples, ()) {
  const log samples = drawn_log();
  log reversed;
  for (std::size_t i = samples.size(); i-- > 0;)
    reversed.put(samples.row[i], samples.column[i], samples.value[i], samples.weight[i]);
  grid_evidence a(speeds, loads, 2, 1.5), b(speeds, loads, 2, 1.5);
  put(a, samples, 0, samples.size(), true);
  put(b, reversed, 0, samples.size(), true);
  RC_ASSERT(same_to_the_bit(a.to_evidence(), b.to_evidence()));
}

TEST(GridEvidence, CountsWhatCameBeforeASampleItRefuses) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double bad_row[] = {600, nan}, row[] = {600, 700}, column[] = {5, 5}, value[] = {1, 1}, wild[] = {1, 3},
               lost[] = {1, nan}, heavy[] = {1, 2}, negative[] = {1, -1};
  grid_evidence seen(speeds, loads, 2);
  const auto refusal = [&](std::span<const double> r, std::span<const double> v, std::span<const double> w) {
    try {
      seen.add(r, column, v, w);
    } catch (const fettle::error& error) {
      return std::string(error.what()).find("sample 1") != std::string::npos;
    }
    return false;
  };
  EXPECT_TRUE(refusal(bad_row, value, {}));
  EXPECT_TRUE(refusal(row, wild, {}));
  EXPECT_TRUE(refusal(row, lost, {}));
  EXPECT_TRUE(refusal(row, value, heavy));
  EXPECT_TRUE(refusal(row, value, negative));
  EXPECT_EQ(seen.samples(), 5U);
  EXPECT_THROW(seen.add(std::span(row, 1), column, value), fettle::error);
}

TEST(GridEvidence, RefusesToMergeWhatIsNotAlike) {
  grid_evidence seen(speeds, loads, 2);
  EXPECT_THROW(seen.merge(grid_evidence(loads, speeds, 2)), fettle::error);
  EXPECT_THROW(seen.merge(grid_evidence(speeds, loads, 4)), fettle::error);
  EXPECT_THROW(grid_evidence(speeds, loads, 0), fettle::error);
  EXPECT_THROW(grid_evidence(speeds, loads, 1, std::numeric_limits<double>::infinity()), fettle::error);
}

}  // namespace grid_evidence_test
