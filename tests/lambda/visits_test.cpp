// SPDX-License-Identifier: MIT
#include "fettle/lambda/visits.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <vector>

#include "fettle/error.hpp"

namespace visits_test {

fettle::dynamic_table<double> map_of_six() {
  return *fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from({1000, 2000}), *fettle::dynamic_axis<double>::from({0, 50, 100})},
      std::vector<double>(6, 1.0));
}

TEST(NextVisits, GoesWhereTheUncertaintyMattersMost) {
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(6, 6) * 1e-4;
  covariance(1, 1) = 9e-4;  // uncertain, seldom used
  covariance(5, 5) = 4e-4;  // less uncertain, much used
  const std::vector<double> usage{1, 1, 1, 1, 1, 50};
  const auto visits = fettle::next_visits(map_of_six(), covariance, usage, {.count = 2});
  ASSERT_EQ(visits.size(), 2U);
  EXPECT_EQ(visits[0].at, (std::vector<double>{2000, 100}));
  EXPECT_NEAR(visits[0].error_before, 0.02, 1e-12);
  EXPECT_NEAR(visits[0].error_after, 1 / std::sqrt(1 / 4e-4 + 1 / 1e-4), 1e-12);  // two independent witnesses
}

TEST(NextVisits, DoesNotNameANeighbourThatTheFirstVisitTells) {
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(6, 6) * 1e-4;
  covariance(0, 0) = covariance(1, 1) = 4e-4;
  covariance(0, 1) = covariance(1, 0) = 3.99e-4;  // the two go together
  covariance(5, 5) = 3e-4;
  const auto visits = fettle::next_visits(map_of_six(), covariance, std::vector<double>(6, 1.0), {.count = 2});
  ASSERT_EQ(visits.size(), 2U);
  EXPECT_EQ(visits[1].at, (std::vector<double>{2000, 100}));
}

RC_GTEST_PROP(NextVisits, EachLowersWhatIsLeft, ()) {
  Eigen::MatrixXd root(6, 6);
  for (Eigen::Index k = 0; k < root.size(); ++k) root.data()[k] = 1e-3 * *rc::gen::inRange(-20, 21);
  const Eigen::MatrixXd covariance = root * root.transpose();
  std::vector<double> usage(6);
  for (double& share : usage) share = *rc::gen::inRange(0, 5);
  const auto visits = fettle::next_visits(map_of_six(), covariance, usage, {.count = 6});
  double removed = 0;
  for (const auto& visit : visits) {
    RC_ASSERT(visit.error_after < visit.error_before);
    RC_ASSERT(visit.gain > 0);
    removed += visit.gain;
  }
  RC_ASSERT(removed <= 1 + 1e-9);
}

TEST(NextVisits, HasNothingToSayOfACarThatIsNeverUsed) {
  EXPECT_TRUE(fettle::next_visits(map_of_six(), Eigen::MatrixXd::Identity(6, 6), std::vector<double>(6, 0.0)).empty());
}

TEST(NextVisits, RefusesUsageThatDoesNotFit) {
  const Eigen::MatrixXd covariance = Eigen::MatrixXd::Identity(6, 6);
  EXPECT_THROW((void)fettle::next_visits(map_of_six(), covariance, std::vector<double>(5, 1.0)), fettle::error);
  EXPECT_THROW((void)fettle::next_visits(map_of_six(), covariance, std::vector<double>{1, 1, 1, 1, 1, -1}),
               fettle::error);
}

}  // namespace visits_test
