// SPDX-License-Identifier: MIT
#include "fettle/fit/map_model.hpp"

#include <gtest/gtest.h>

#include <cstdint>

#include "fettle/fit/strengths.hpp"
#include "reference.hpp"

namespace map_model_test {

using fettle::dynamic_axis;

fettle::map_model ethanol_model(double strength_c, double strength_e) {
  std::vector<dynamic_axis<double>> axes{*dynamic_axis<double>::from({7.5, 9, 12, 15, 18}),
                                         *dynamic_axis<double>::from({.5, .7, .8, .9, 1, 1.1, 1.25})};
  fettle::map_term term{.axes = axes};
  if (strength_c > 0 || strength_e > 0)
    term.smooth = {{fettle::difference_roughness(5, 2), strength_c}, {fettle::difference_roughness(7, 2), strength_e}};
  return fettle::map_model({term});
}

fettle::evidence ethanol_evidence(const fettle::map_model& model) {
  const auto data = reference::csv::read("ethanol.csv");
  fettle::sample_rows rows;
  for (const auto& row : data.rows) {
    const double x[] = {reference::csv::number(row, "C"), reference::csv::number(row, "E")};
    model.put(rows, 0, 1.0, x);
    rows.finish(reference::csv::number(row, "NOx"));
  }
  fettle::evidence seen(model.cells());
  for (std::size_t i = 0; i < rows.size(); ++i) seen.add(rows[i].cell, rows[i].factor, rows[i].value, rows[i].weight);
  return seen;
}

struct scores {
  double strength_c, strength_e, edf, rss, gcv, restricted;
};

scores published(const std::string& fit) {
  for (const auto& row : reference::csv::read("ethanol_table_fit_scores.csv").rows)
    if (row.at("fit") == fit)
      return {reference::csv::number(row, "lambda_C"), reference::csv::number(row, "lambda_E"),
              reference::csv::number(row, "edf"),      reference::csv::number(row, "rss"),
              reference::csv::number(row, "gcv"),      reference::csv::number(row, "minus_restricted_loglik")};
  ADD_FAILURE() << fit;
  return {};
}

void expect_published_nodes(const std::string& fit, const std::vector<double>& value, double tolerance) {
  for (const auto& row : reference::csv::read("ethanol_table_fit.csv").rows) {
    if (row.at("fit") != fit) continue;
    const auto cell =
        static_cast<std::size_t>(reference::csv::number(row, "iC") * 7 + reference::csv::number(row, "iE"));
    EXPECT_NEAR(value[cell], reference::csv::number(row, "value"), tolerance) << fit << " cell " << cell;
  }
}

// Published: NOx of 88 engine runs (Brinkman, SAE Trans. 90 (1981) 1410; R package lattice), nodes and scores by
// R 4.2.2 and mgcv 1.8-41 gam(paraPen), tests/reference/ethanol_table_fit*.csv. Tolerances: nodes 1e-8 at given
// strengths.
TEST(MapModelOnEthanol, MatchesMgcvAtGivenStrengths) {
  for (const std::string fit : {"ls", "fixed", "stiff", "gcv", "reml"}) {
    const scores expected = published(fit);
    const auto model = ethanol_model(expected.strength_c, expected.strength_e);
    const auto solution = model.solve(ethanol_evidence(model));
    EXPECT_TRUE(solution.undetermined.empty());
    EXPECT_NEAR(solution.effective_parameters, expected.edf, 1e-7) << fit;
    EXPECT_NEAR(solution.weighted_squares, expected.rss, 1e-8) << fit;
    EXPECT_NEAR(solution.gcv(), expected.gcv, 1e-10) << fit;
    expect_published_nodes(fit, solution.value, 1e-8);
  }
}

// The published optimum of a flat score: strengths to 1 %, scores to 1e-6.
TEST(MapModelOnEthanol, FindsTheStrengthsThatMgcvFinds) {
  const auto model = ethanol_model(0.1, 0.1);
  const auto seen = ethanol_evidence(model);
  const auto reml = fettle::choose_strengths(model, seen, fettle::criterion::reml);
  EXPECT_NEAR(reml.score, published("reml").restricted, 1e-6);
  EXPECT_NEAR(reml.model.strengths()[0] / published("reml").strength_c, 1, 0.01);
  EXPECT_NEAR(reml.model.strengths()[1] / published("reml").strength_e, 1, 0.01);
  const auto gcv = fettle::choose_strengths(model, seen, fettle::criterion::gcv);
  EXPECT_NEAR(gcv.score, published("gcv").gcv, 1e-8);
  EXPECT_NEAR(gcv.model.strengths()[0] / published("gcv").strength_c, 1, 0.01);
  EXPECT_NEAR(gcv.model.strengths()[1] / published("gcv").strength_e, 1, 0.01);
}

// Two equal readings a cell: no smoothing fits them exactly, but a ten millionth of the readings' own weight remains.
TEST(ChooseStrengths, OfReadingsWithoutNoiseEndsWhereNoiseCanStillBeEstimated) {
  const auto axis = *fettle::dynamic_axis<double>::from({0, 1, 2, 3, 4, 5, 6, 7});
  const fettle::map_model model({{.axes = {axis}, .smooth = {{fettle::difference_roughness(8, 2), 1.0}}}});
  fettle::evidence seen(model.cells());
  const double one[] = {1};
  for (std::uint32_t k = 0; k < 16; ++k) {
    const std::uint32_t cell[] = {k / 2};
    seen.add(cell, one, k / 2 % 3 == 0 ? 1.0 : -1.0, 1.0);
  }
  const auto chosen = fettle::choose_strengths(model, seen, fettle::criterion::reml).model;
  const fettle::penalised_system system(model.terms(), seen);
  EXPECT_NEAR(chosen.strengths()[0] / system.unit_strength(0), 1e-7, 1e-12);
  EXPECT_GT(chosen.solve(seen).noise_variance, 1e-15);
}

// By hand: rows that reach back to the first, the first and the second cell are 1, 2 and 2 wide.
TEST(CellOrder, CountsTheSquaresOfItsWidthsAsWork) {
  const fettle::detail::cell_order order{{0, 1, 2}, {0, 0, 1}};
  EXPECT_EQ(order.work(), 1 + 4 + 4);
}

TEST(MapModelOnEthanol, RestrictedScoreMatchesMgcvAtGivenStrengths) {
  for (const std::string fit : {"fixed", "stiff", "gcv", "reml"}) {
    const scores expected = published(fit);
    const auto model = ethanol_model(expected.strength_c, expected.strength_e);
    const double strengths[] = {expected.strength_c, expected.strength_e};
    fettle::strength_search search(model, ethanol_evidence(model));
    EXPECT_NEAR(search.restricted_score(strengths), expected.restricted, 1e-6) << fit;
  }
}

TEST(MapModelOnEthanol, APriorOnACellCountsAsOneMoreSample) {
  const auto model = ethanol_model(0.1, 0.1);
  auto seen = ethanol_evidence(model);
  fettle::map_term term = model.terms().front();
  term.prior.assign(term.size(), 0.0);
  term.pull = term.prior;
  term.prior[4] = 2.5;
  term.pull[4] = 3;
  const double strengths[] = {0.1, 0.1}, factor[] = {1};
  const double by_prior = fettle::strength_search(fettle::map_model({term}), seen).restricted_score(strengths);
  const std::uint32_t cell[] = {4};
  seen.add(cell, factor, 2.5, 3);
  EXPECT_NEAR(by_prior, fettle::strength_search(model, seen).restricted_score(strengths), 1e-9);
}

}  // namespace map_model_test
