// SPDX-License-Identifier: MIT
// What a fuel map is worth after correction from one log, by method, on virtual engines with known truth: the rms of
// the steady-state lambda error over the driven points, in percent. Also how well the dynamics are found, and how often
// the 95 % interval of a cell holds.
//
//   correction_table [--seeds N] [--first SEED] [--drive stage|dyno] [--minutes M] [--start-factor F]
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "fettle/lambda.hpp"
#include "programs/virtual_session.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/stage_drive.hpp"

namespace {

using fettle::recording;

struct request {
  std::uint64_t seeds = 5, first = 1;
  std::string drive = "stage";
  double minutes = 15, start_factor = 1;
};

/// One engine, one log, and what is known of the truth.
struct trial {
  virtual_engine::engine engine;
  fettle::dynamic_table<double> base;
  session::session session;
  std::vector<recording> logs;
};

trial make_trial(std::uint64_t seed, const request& asked) {
  auto engine = virtual_engine::engine::from_seed(seed);
  auto base = virtual_engine::base_fuel_map(engine, seed);
  const auto drive = asked.drive == "dyno" ? virtual_engine::dyno_drive(seed, asked.minutes)
                                           : virtual_engine::stage_drive(seed, asked.minutes);
  const auto run =
      virtual_engine::simulate(engine, virtual_engine::alpha_n_controller(engine, seed), drive, {.seed = seed});
  auto session = virtual_session::of_engine(engine);
  std::vector<recording> logs{session::make_recording(session, virtual_session::as_file(base), run.log, "demo").log};
  return {std::move(engine), std::move(base), std::move(session), std::move(logs)};
}

bool burns(const recording& log, std::size_t i) {
  return log.fuel_cut[i] == 0;
}

/// Rms of (map / truth - 1) over the driven points with fuel, in percent.
double error_pct(const trial& of, std::span<const double> correction) {
  fettle::dynamic_table<double> map = of.base;
  for (std::size_t k = 0; k < map.size(); ++k) map.values()[k] *= correction[k];
  const recording& log = of.logs[0];
  double squares = 0, count = 0;
  for (std::size_t i = 0; i < log.rows(); ++i) {
    if (!burns(log, i)) continue;
    const double truth = of.engine.ideal_fuel_mg(log.at[0][i], log.at[1][i]);
    const double error = fettle::interpolate(map.view<2>(), log.at[0][i], log.at[1][i]) / truth - 1;
    squares += error * error;
    ++count;
  }
  return 100 * std::sqrt(squares / count);
}

/// Table whose interpolation comes nearest to given factors at the driven points, held to 1 where nothing was driven.
std::vector<double> fitted(const trial& of, const std::vector<double>& factor) {
  const std::array<double, 2> gentle{1e-5, 1e-5};
  fettle::map_term term = fettle::smooth_term(of.base.axes(), gentle);
  term.prior.assign(of.base.size(), 1.0);
  term.pull.assign(of.base.size(), 0.01);
  const fettle::map_model model({std::move(term)});
  fettle::evidence seen(model.cells());
  const auto view = of.base.view<2>();
  for (std::size_t i = 0; i < factor.size(); ++i) {
    if (std::isnan(factor[i])) continue;
    const auto weights = fettle::stencil_at(view.axes, {fettle::locate(view.axes[0], of.logs[0].at[0][i]),
                                                        fettle::locate(view.axes[1], of.logs[0].at[1][i])});
    const double value = fettle::interpolate(of.base.view<2>(), of.logs[0].at[0][i], of.logs[0].at[1][i]);
    std::array<std::uint32_t, 4> cell{};
    std::array<double, 4> share{};
    for (std::size_t k = 0; k < 4; ++k) {
      cell[k] = static_cast<std::uint32_t>(weights.cell[k]);
      share[k] = weights.weight[k] * of.base.values()[weights.cell[k]] / value;
    }
    seen.add(cell, share, factor[i], 1);
  }
  return model.solve(seen).value;
}

/// The best this table could do: fitted to the truth itself.
std::vector<double> best_table(const trial& of) {
  const recording& log = of.logs[0];
  std::vector<double> factor(log.rows(), std::nan(""));
  for (std::size_t i = 0; i < log.rows(); ++i)
    if (burns(log, i))
      factor[i] = of.engine.ideal_fuel_mg(log.at[0][i], log.at[1][i]) / fettle::interpolate(of.base.view<2>(), log.at[0][i], log.at[1][i]);
  return fitted(of, factor);
}

/// lambda measured over target, one fixed delay earlier; NaN where it must not be used.
std::vector<double> delayed_factor(const trial& of, bool gated) {
  const recording& log = of.logs[0];
  const auto& sensor = of.session.sensors[0];
  const double delay_s =
      fettle::steady_delay_s({of.session.revolutions, sensor.pipe_gas_mass_g, sensor.latency_s, 0}, 4500, 40) +
      sensor.lag_s;
  const auto rows = static_cast<std::size_t>(std::lround(delay_s * 100));
  std::vector<double> factor(log.rows(), std::nan(""));
  std::size_t still = 0;  // rows since the last cut or quick throttle change
  for (std::size_t i = 1; i + rows < log.rows(); ++i) {
    const bool moves = std::abs(log.throttle_pct[i] - log.throttle_pct[i - 1]) > 0.3 || !burns(log, i);
    still = moves ? 0 : still + 1;
    const double lambda = log.sensors[0].lambda[i + rows];
    const bool usable = burns(log, i) && lambda > log.sensors[0].lowest && lambda < log.sensors[0].highest;
    const bool calm = still > 100 && log.coolant_degc[i] > 60 && std::abs(lambda / log.target_lambda[i] - 1) < 0.25;
    if (usable && (!gated || calm)) factor[i] = lambda / log.target_lambda[i];
  }
  return factor;
}

/// Each sample averaged into the cell nearest to it.
std::vector<double> nearest_cell(const trial& of, const std::vector<double>& factor) {
  std::vector<double> sum(of.base.size(), 0.0), count(of.base.size(), 0.0);
  const auto view = of.base.view<2>();
  for (std::size_t i = 0; i < factor.size(); ++i) {
    if (std::isnan(factor[i])) continue;
    const auto row = fettle::locate(view.axes[0], of.logs[0].at[0][i]),
               column = fettle::locate(view.axes[1], of.logs[0].at[1][i]);
    const std::size_t k =
        (row.index + (row.fraction >= 0.5)) * view.axes[1].size + column.index + (column.fraction >= 0.5);
    sum[k] += factor[i];
    ++count[k];
  }
  for (std::size_t k = 0; k < sum.size(); ++k) sum[k] = count[k] > 0 ? sum[k] / count[k] : 1;
  return sum;
}

/// The session as a tuner who is off by a factor in every dynamic value would have written it.
session::session mistaken(session::session of, double factor) {
  of.revolutions *= factor;
  for (auto& bank : of.banks) {
    bank.film_share = std::min(bank.film_share * factor, 0.85);
    bank.film_time_s *= factor;
  }
  for (auto& sensor : of.sensors) {
    sensor.latency_s *= factor;
    sensor.lag_s *= factor;
    sensor.pipe_gas_mass_g *= factor;
  }
  return of;
}

std::vector<double> true_parameters(const virtual_engine::engine& engine) {
  std::vector<double> result{engine.revolutions};
  for (const auto& bank : engine.bank) {
    result.push_back(bank.film.share);
    result.push_back(bank.film.time_s);
  }
  result.push_back(engine.sensor[0].pipe_gas_mass_g);
  result.push_back(engine.sensor[0].lag_s);
  return result;
}

void print_row(const std::string& label, std::span<const double> columns) {
  fmt::print("{:>6}", label);
  for (const double x : columns) fmt::print("{:>10.2f}", x);
  fmt::print("\n");
}

void run(const request& asked) {
  fmt::print("{} drive, {:g} min at 100 Hz, 16 x 13 cells; rms steady-state lambda error over the driven points, %\n\n",
             asked.drive, asked.minutes);
  fmt::print("{:>6}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}\n", "", "", "nearest", "nearest", "interp.",
             "fettle", "fettle", "", "found/");
  fmt::print("{:>6}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}{:>10}\n", "seed", "nothing", "ungated", "gated", "fixed",
             "given", "found", "floor", "floor");
  std::array<double, 8> mean{};
  std::vector<double> worst_parameter(7, 0.0);
  std::vector<std::string> names;
  double inside = 0, cells = 0;
  for (std::uint64_t seed = asked.first; seed < asked.first + asked.seeds; ++seed) {
    const trial one = make_trial(seed, asked);
    const auto gated = delayed_factor(one, true);
    const auto given =
        fettle::identify(one.logs, one.base, session::make_dynamics(one.session, session::path_trust::given));
    const auto found =
        fettle::identify(one.logs, one.base,
                         session::make_dynamics(mistaken(one.session, asked.start_factor), session::path_trust::prior));
    const auto best = best_table(one);
    const double floor = error_pct(one, best), ours = error_pct(one, found.correction);
    const std::array<double, 8> row{error_pct(one, std::vector<double>(one.base.size(), 1.0)),
                                    error_pct(one, nearest_cell(one, delayed_factor(one, false))),
                                    error_pct(one, nearest_cell(one, gated)),
                                    error_pct(one, fitted(one, gated)),
                                    error_pct(one, given.correction),
                                    ours,
                                    floor,
                                    ours / floor};
    print_row(std::to_string(seed), row);
    for (std::size_t i = 0; i < row.size(); ++i) mean[i] += row[i] / static_cast<double>(asked.seeds);
    for (std::size_t k = 0; k < best.size(); ++k) {
      if (found.readings[k] < 20) continue;
      ++cells;
      inside += std::abs(best[k] - found.correction[k]) < 1.96 * found.standard_error[k];
    }
    const auto truth = true_parameters(one.engine);
    names.clear();
    for (std::size_t p = 0; p < found.parameters.size(); ++p) {
      names.push_back(found.parameters[p].prior.name);
      worst_parameter[p] = std::max(worst_parameter[p], std::abs(found.parameters[p].value / truth[p] - 1));
    }
  }
  print_row("mean", mean);
  fmt::print("\nlargest error of a parameter over the seeds, started at {:g} times the truth\n", asked.start_factor);
  for (std::size_t p = 0; p < names.size(); ++p) fmt::print("  {:28} {:6.1f} %\n", names[p], 100 * worst_parameter[p]);
  fmt::print("\n95 % intervals that hold the cell of the best table: {:.1f} % of {:.0f}\n", 100 * inside / cells,
             cells);
}

}  // namespace

int main(int count, char** words) {
  request asked;
  CLI::App app{"Corrections of a fuel map by several methods, against known truth.", "correction_table"};
  app.add_option("--seeds", asked.seeds, "how many engines")->capture_default_str();
  app.add_option("--first", asked.first, "seed of the first")->capture_default_str();
  app.add_option("--drive", asked.drive)->check(CLI::IsMember({"stage", "dyno"}))->capture_default_str();
  app.add_option("--minutes", asked.minutes)->check(CLI::Range(1.0, 600.0))->capture_default_str();
  app.add_option("--start-factor", asked.start_factor, "how wrong the session's dynamics are")
      ->check(CLI::Range(0.3, 3.0))
      ->capture_default_str();
  CLI11_PARSE(app, count, words);
  run(asked);
}
