// SPDX-License-Identifier: MIT
#include <benchmark/benchmark.h>

#include <Eigen/Sparse>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <random>
#include <vector>

#include "fettle/fit/best_breakpoints.hpp"
#include "fettle/fit/curve.hpp"
#include "fettle/fit/fill.hpp"
#include "fettle/fit/fit_table.hpp"
#include "fettle/fit/grid_evidence.hpp"
#include "fettle/fit/limit_shape.hpp"
#include "fettle/fit/rebin.hpp"
#include "fettle/fit/smooth.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/map/stencil.hpp"

namespace {

fettle::dynamic_axis<double> even_axis(std::size_t points) {
  std::vector<double> x;
  for (std::size_t i = 0; i < points; ++i) x.push_back(static_cast<double>(i));
  return *fettle::dynamic_axis<double>::from(x);
}

double surface(double x, double y) {
  return 10 + 3 * std::sin(5 * x) * std::cos(4 * y) + 4 * x;
}

fettle::map_model square_model(std::size_t points) {
  const double strengths[] = {0.01, 0.01};
  return fettle::map_model({fettle::smooth_term({even_axis(points), even_axis(points)}, strengths)});
}

/// Twenty noisy samples a cell, scattered over the map.
fettle::sample_rows scattered(const fettle::map_model& model, std::size_t points) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> place(0, static_cast<double>(points - 1));
  std::normal_distribution<double> noise(0, 0.2);
  fettle::sample_rows rows;
  for (std::size_t i = 0; i < 20 * points * points; ++i) {
    const double x[] = {place(random), place(random)};
    model.put(rows, 0, 1.0, x);
    const double scale = static_cast<double>(points);
    rows.finish(surface(x[0] / scale, x[1] / scale) + noise(random));
  }
  return rows;
}

fettle::evidence seen_by(const fettle::map_model& model, std::size_t points) {
  const auto rows = scattered(model, points);
  fettle::evidence seen(model.cells());
  for (std::size_t i = 0; i < rows.size(); ++i) seen.add(rows[i].cell, rows[i].factor, rows[i].value, rows[i].weight);
  return seen;
}

void fit_with_given_strengths(benchmark::State& state) {
  const auto points = static_cast<std::size_t>(state.range(0));
  const auto model = square_model(points);
  const auto seen = seen_by(model, points);
  for (auto _ : state) benchmark::DoNotOptimize(model.solve(seen));
}
BENCHMARK(fit_with_given_strengths)->Arg(20)->Arg(100)->Unit(benchmark::kMillisecond);

/// The same equations by Eigen's sparse Cholesky, and the same standard errors: one column of the inverse per cell.
void solve_by_eigen(benchmark::State& state) {
  const auto points = static_cast<std::size_t>(state.range(0));
  const auto model = square_model(points);
  fettle::penalised_system system(model.terms(), seen_by(model, points));
  system.solve(model.strengths());
  std::vector<Eigen::Triplet<double>> entries;
  system.for_each_entry([&](auto row, auto column, double value) {
    entries.emplace_back(static_cast<int>(row), static_cast<int>(column), value);
  });
  const auto cells = static_cast<Eigen::Index>(model.cells());
  Eigen::SparseMatrix<double> matrix(cells, cells);
  matrix.setFromTriplets(entries.begin(), entries.end());
  for (auto _ : state) {
    const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>> factor(matrix);
    const Eigen::VectorXd solution = factor.solve(system.right());
    Eigen::VectorXd variance(cells);
    for (Eigen::Index k = 0; k < cells; ++k) variance[k] = factor.solve(Eigen::VectorXd::Unit(cells, k))[k];
    benchmark::DoNotOptimize(solution.sum() + variance.sum());
  }
}
BENCHMARK(solve_by_eigen)->Arg(20)->Unit(benchmark::kMillisecond);

void fit_with_reml(benchmark::State& state) {
  const auto points = static_cast<std::size_t>(state.range(0));
  const auto model = square_model(points);
  const auto seen = seen_by(model, points);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::choose_strengths(model, seen).model.solve(seen));
}
BENCHMARK(fit_with_reml)->Arg(20)->Arg(100)->Unit(benchmark::kMillisecond);

/// A measured map of 20 x 20 cells, with the noise of its cells.
fettle::dynamic_table<double> measured_map() {
  std::mt19937_64 random(3);
  std::normal_distribution<double> noise(0, 0.2);
  std::vector<double> values;
  for (int i = 0; i < 20; ++i)
    for (int j = 0; j < 20; ++j) values.push_back(surface(i / 20.0, j / 20.0) + noise(random));
  return *fettle::dynamic_table<double>::from({even_axis(20), even_axis(20)}, std::move(values));
}

void smooth_map(benchmark::State& state) {
  const auto map = measured_map();
  const std::vector<double> error(map.size(), 0.2);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::smooth(map, {.standard_error = error}));
}
BENCHMARK(smooth_map)->Unit(benchmark::kMillisecond);

void fill_a_third_of_a_map(benchmark::State& state) {
  auto map = measured_map();
  for (std::size_t k = 0; k < map.size(); k += 3) map.values()[k] = std::nan("");
  const std::vector<double> error(map.size(), 0.2);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::fill(map, {.standard_error = error}));
}
BENCHMARK(fill_a_third_of_a_map)->Unit(benchmark::kMillisecond);

void fit_table_to_8000_points_by_tukey(benchmark::State& state) {
  std::mt19937_64 random(5);
  std::uniform_real_distribution<double> place(0, 19);
  std::normal_distribution<double> noise(0, 0.2);
  std::vector<double> at, value;
  for (int i = 0; i < 8000; ++i) {
    at.push_back(place(random));
    at.push_back(place(random));
    value.push_back(surface(at[at.size() - 2] / 20, at.back() / 20) + noise(random));
  }
  for (auto _ : state)
    benchmark::DoNotOptimize(
        fettle::fit_table({even_axis(20), even_axis(20)}, at, value, {}, {.loss = fettle::loss::tukey}));
}
BENCHMARK(fit_table_to_8000_points_by_tukey)->Unit(benchmark::kMillisecond);

void limit_shape_along_both_axes(benchmark::State& state) {
  const auto map = measured_map();
  const fettle::shape_limit wanted[] = {{.keep = fettle::shape::non_decreasing, .axis = 0},
                                        {.keep = fettle::shape::non_increasing, .axis = 1}};
  for (auto _ : state) benchmark::DoNotOptimize(fettle::limit_shape(map, wanted));
}
BENCHMARK(limit_shape_along_both_axes)->Unit(benchmark::kMillisecond);

void rebin_by_least_squares(benchmark::State& state) {
  const auto map = measured_map();
  std::vector<double> x;
  for (int i = 0; i < 16; ++i) x.push_back(19.0 * i / 15);
  const auto axis = *fettle::dynamic_axis<double>::from(x);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::rebin(map, {axis, axis}));
}
BENCHMARK(rebin_by_least_squares)->Unit(benchmark::kMillisecond);

void best_20_of_500_breakpoints(benchmark::State& state) {
  std::vector<double> y;
  for (int i = 0; i < 500; ++i) y.push_back(surface(i / 500.0, 0.3));
  const auto curve = *fettle::dynamic_table<double>::from({even_axis(500)}, y);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::best_breakpoints(curve, 0, 20));
}
BENCHMARK(best_20_of_500_breakpoints)->Unit(benchmark::kMillisecond);

void read_monotone_curve(benchmark::State& state) {
  std::vector<double> y;
  for (int i = 0; i < 20; ++i) y.push_back(std::sqrt(i));
  const fettle::curve curve(even_axis(20), y, fettle::curve_rule::monotone);
  double x = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(curve(x));
    x = x > 18.9 ? 0 : x + 0.1;
  }
}
BENCHMARK(read_monotone_curve);

/// Ten million samples that wander over a 20 x 20 map as a drive does, about 300 in each square before the next.
struct drive {
  std::vector<double> x, y, value;
  explicit drive(std::size_t samples) {
    std::mt19937_64 random(11);
    std::normal_distribution<double> noise(0, 0.05);
    for (std::size_t i = 0; i < samples; ++i) {
      const auto t = static_cast<double>(i);
      x.push_back(9.5 + 9.4 * std::sin(3.1e-4 * t));
      y.push_back(9.5 + 9.4 * std::sin(2.3e-4 * t));
      value.push_back(1 + noise(random));
    }
  }
};

void accumulate_slow_drive(benchmark::State& state) {
  const drive log(10'000'000);
  for (auto _ : state) {
    fettle::grid_evidence seen(even_axis(20), even_axis(20), 4);
    seen.add(log.x, log.y, log.value);
    benchmark::DoNotOptimize(seen.samples());
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(log.x.size()));
}
BENCHMARK(accumulate_slow_drive)->Unit(benchmark::kMillisecond);

/// Ten times fewer of them, as rows of a sparse matrix B and its product B'B by Eigen.
void accumulate_by_eigen(benchmark::State& state) {
  const drive log(1'000'000);
  const auto points = even_axis(20);
  const auto axis = points.view();
  for (auto _ : state) {
    Eigen::SparseMatrix<double, Eigen::RowMajor> rows(static_cast<Eigen::Index>(log.x.size()), 400);
    rows.reserve(Eigen::VectorXi::Constant(rows.rows(), 4));
    for (std::size_t i = 0; i < log.x.size(); ++i) {
      const std::array at{fettle::locate(axis, log.x[i]), fettle::locate(axis, log.y[i])};
      const auto corners = fettle::stencil_at(std::array{axis, axis}, at);
      for (std::size_t k = 0; k < corners.size; ++k)
        rows.insert(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(corners.cell[k])) = corners.weight[k];
    }
    const Eigen::SparseMatrix<double> normal = Eigen::SparseMatrix<double>(rows.transpose()) * rows;
    const Eigen::VectorXd moment = rows.transpose() * Eigen::Map<const Eigen::VectorXd>(log.value.data(), rows.rows());
    benchmark::DoNotOptimize(normal.sum() + moment.sum());
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(log.x.size()));
}
BENCHMARK(accumulate_by_eigen)->Unit(benchmark::kMillisecond);

/// The same samples, only read: the bound that memory sets.
void stream_slow_drive(benchmark::State& state) {
  const drive log(10'000'000);
  for (auto _ : state) {
    std::array<double, 8> sum{};
    for (std::size_t i = 0; i + 8 <= log.x.size(); i += 8)
      for (std::size_t k = 0; k < 8; ++k) sum[k] += log.x[i + k] + log.y[i + k] + log.value[i + k];
    benchmark::DoNotOptimize(sum);
  }
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(log.x.size()));
}
BENCHMARK(stream_slow_drive)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
