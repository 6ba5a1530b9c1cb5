// SPDX-License-Identifier: MIT
// How near the trims of cylinders come to known truth on virtual engines, and whether their stated errors hold.
//
//   trim_table [--seeds N] [--first SEED]
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "lambda/virtual_cylinders.hpp"

namespace {

struct plan {
  std::string name;
  std::vector<std::vector<std::size_t>> cylinder;  // [run][sensor]
  double minutes;                                  // of each run
};

struct deviations {
  double squares = 0, stated = 0, of_stated = 0, inside = 0, count = 0;

  void add(double error, double standard_error) {
    squares += error * error;
    stated += standard_error;
    of_stated += error * error / (standard_error * standard_error);
    inside += std::abs(error) < 1.96 * standard_error;
    ++count;
  }
};

void run(std::uint64_t first, std::uint64_t seeds) {
  const std::vector<plan> plans{{"5 sensors, 2 runs of 5 min", {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 5},
                                {"1 sensor, 5 runs of 5 min", {{1}, {2}, {3}, {4}, {5}}, 5},
                                {"1 sensor, 5 runs of 2 min", {{1}, {2}, {3}, {4}, {5}}, 2}};
  fmt::print("{:28}{:>12}{:>14}{:>12}{:>14}{:>13}\n", "", "rms error %", "of best map %", "stated %", "over stated",
             "inside 95 %");
  for (const auto& plan : plans) {
    double squares = 0;
    deviations from_best;
    for (std::uint64_t seed = first; seed < first + seeds; ++seed) {
      const auto runs = virtual_cylinders::rotated_runs(seed, plan.cylinder, plan.minutes);
      const auto trims = virtual_cylinders::estimated_trims(runs);
      const auto best = virtual_cylinders::best_trims(runs, trims.axes.front().points());
      const double rms = virtual_cylinders::rms_error(runs, trims);
      squares += rms * rms;
      for (std::size_t k = 0; k < trims.seconds.size(); ++k)
        for (std::size_t i = 0; trims.seconds[k] > 5 && i < best.size(); ++i)
          from_best.add(std::log(trims.correction[i][k] / best[i][k]), trims.standard_error[i][k]);
    }
    fmt::print("{:28}{:12.3f}{:14.3f}{:12.3f}{:14.2f}{:13.1f}\n", plan.name,
               100 * std::sqrt(squares / static_cast<double>(seeds)),
               100 * std::sqrt(from_best.squares / from_best.count), 100 * from_best.stated / from_best.count,
               std::sqrt(from_best.of_stated / from_best.count), 100 * from_best.inside / from_best.count);
  }
}

}  // namespace

int main(int count, char** words) {
  std::uint64_t seeds = 10, first = 1;
  CLI::App app{"Trims of cylinders from rotated sensors, against known truth.", "trim_table"};
  app.add_option("--seeds", seeds, "how many engines")->check(CLI::PositiveNumber)->capture_default_str();
  app.add_option("--first", first, "seed of the first")->capture_default_str();
  CLI11_PARSE(app, count, words);
  run(first, seeds);
}
