// SPDX-License-Identifier: MIT
#include "common/session/trim_maps.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <fstream>
#include <string>
#include <vector>

#include "common/session/recording.hpp"
#include "io/scratch.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/maps.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"
#include "virtual_engine/virtual_session.hpp"

namespace trim_maps_test {

class TrimMaps : public testing::Test {
 protected:
  std::filesystem::path write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_.file(name)) << text;
    return folder_.file(name);
  }
  [[nodiscard]] std::string refusal(const std::string& text) const {
    try {
      (void)session::read_trim(write("trim.csv", text));
    } catch (const fettle::error& problem) {
      return problem.what();
    }
    return "";
  }

 private:
  scratch::folder folder_;
};

TEST_F(TrimMaps, AreMapsOrOneNumber) {
  EXPECT_EQ(session::read_trim(write("lone.csv", "trim\n1.02\n")).table.rank(), 0U);
  EXPECT_EQ(session::read_trim(write("lone.csv", "trim\r\n1.02\r\n")).table.values()[0], 1.02);
  EXPECT_EQ(session::read_trim(write("lone.csv", "\xEF\xBB\xBFtrim\n1.02\n")).table.rank(), 0U);
  EXPECT_EQ(session::read_trim(write("map.csv", "rpm,trim\n1000,1.02\n9000,1\n")).table.rank(), 1U);
}

TEST_F(TrimMaps, ThatAreNoMultipliersAreRefused) {
  EXPECT_NE(refusal("rpm,trim\n1000,0\n9000,1\n").find("holds 0, expected a value above 0"), std::string::npos);
  EXPECT_NE(refusal("trim\n1.02\n1.03\n").find("has 2 numbers under \"trim\", expected one"), std::string::npos);
}

TEST_F(TrimMaps, AreReadAtTheCellsOfAMapWithMoreAxes) {
  const auto path = write("trim.csv", "throttle_pct,trim\n0,1\n100,1.1\n");
  const auto map = virtual_session::as_file(virtual_engine::share_map());  // over rpm, then throttle_pct
  const auto trim = session::read_trim(path);
  EXPECT_DOUBLE_EQ(session::trim_at_cell(trim, path, map, 12), 1.1);  // the last throttle of the first speed
  EXPECT_DOUBLE_EQ(session::trim_at_cell(trim, path, map, 13), 1);
  fettle::map_file other = map;
  other.axis_names[1] = "boost";
  EXPECT_THROW((void)session::trim_at_cell(trim, path, other, 0), fettle::error);
}

/// The engine of seed 3 without noise, driven up the hill with trims of its cylinders, all but the last rising with speed.
struct driven {
  virtual_engine::engine engine = virtual_engine::engine::from_seed(3);
  std::vector<double> low{0.95, 1.04, 1, 0.98, 1.02}, high{1.05, 0.96, 1.02, 0.98, 1};

  [[nodiscard]] fettle::log_table log(bool is_trimmed) const {
    virtual_engine::alpha_n_controller controller{engine, 3};
    for (std::size_t i = 0; is_trimmed && i < 5; ++i)
      controller.trims.push_back({.factor = *fettle::dynamic_table<double>::from(
                                      {*fettle::dynamic_axis<double>::from({1000, 9000})}, {low[i], high[i]}),
                                  .reads_throttle = {false}});
    return virtual_engine::simulate(engine, controller, virtual_engine::stage_drive(3, 2),
                                    {.cylinder_sensors = true, .noise = false})
        .log;
  }
};

TEST_F(TrimMaps, ThatWereLoadedDoNotShowInReadingsForOthers) {
  const driven run;
  session::session session = virtual_session::of_engine(run.engine);
  virtual_session::add_pipe_sensors(session, run.engine);
  const auto base = virtual_session::as_file(virtual_engine::base_fuel_map(run.engine, 3));
  const auto plain = session::make_recording(session, base, run.log(false), "plain").log;
  for (std::size_t i = 0; i < 5; ++i)
    session.loaded_trim_paths.push_back(
        write("trim_" + std::to_string(i) + ".csv",
              "rpm,trim\n1000," + std::to_string(run.low[i]) + "\n9000," + std::to_string(run.high[i]) + "\n"));
  const auto trimmed_log = run.log(true);
  const auto referred = session::make_recording(session, base, trimmed_log, "trimmed").log;
  for (std::size_t s = 1; s <= 5; ++s) {
    double squares = 0, squares_as_read = 0, count = 0;
    const auto& as_read = *trimmed_log.find(session.sensors[s].column);
    for (std::size_t i = 500; i < plain.rows(); ++i) {
      const double lambda = plain.sensors[s].lambda[i];
      if (!(lambda > 0.7 && lambda < 1.2)) continue;
      squares += std::pow(std::log(referred.sensors[s].lambda[i] / lambda), 2);
      squares_as_read += std::pow(std::log(as_read[i] / lambda), 2);
      ++count;
    }
    EXPECT_GT(count, 1500);
    EXPECT_LT(std::sqrt(squares / count), 0.1 * std::sqrt(squares_as_read / count)) << s;
  }
}

TEST_F(TrimMaps, OfWhichTheMeanIsFuelAreNotTakenForAnErrorOfTheMap) {
  const driven run;
  session::session session = virtual_session::of_engine(run.engine);
  const auto base = virtual_session::as_file(virtual_engine::base_fuel_map(run.engine, 3));
  for (std::size_t i = 0; i < 5; ++i) session.loaded_trim_paths.push_back(write("rich.csv", "trim\n1.05\n"));
  session.trims.map_paths = session.loaded_trim_paths;
  virtual_engine::alpha_n_controller controller{run.engine, 3};
  for (std::size_t i = 0; i < 5; ++i)
    controller.trims.push_back(
        {.factor = *fettle::dynamic_table<double>::from({}, std::vector<double>{1.05}), .reads_throttle = {}});
  const auto log = virtual_engine::simulate(run.engine, controller, virtual_engine::stage_drive(3, 1)).log;
  const auto recording = session::make_recording(session, base, log, "rich").log;
  std::vector<double> ratio;
  for (std::size_t i = 0; i < recording.rows(); ++i)
    if (recording.fuel_cut[i] == 0)
      ratio.push_back((recording.fuel_mg[0][i] + recording.fuel_mg[1][i]) * recording.target_lambda[i] /
                      recording.need_mg[i]);
  std::nth_element(ratio.begin(), ratio.begin() + static_cast<std::ptrdiff_t>(ratio.size() / 2), ratio.end());
  EXPECT_NEAR(ratio[ratio.size() / 2], 1, 2e-3);  // nothing but the logger's digits and the dead time's interpolation
}

}  // namespace trim_maps_test
