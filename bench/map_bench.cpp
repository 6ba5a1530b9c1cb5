// SPDX-License-Identifier: MIT
// Look-ups of this library beside GSL, ALGLIB and Boost.Math, where installed. Items are look-ups. For medians:
//   map_bench_native --benchmark_repetitions=25 --benchmark_enable_random_interleaving=true --benchmark_min_time=0.02
//     --benchmark_report_aggregates_only=true
#include <benchmark/benchmark.h>
#include <math.h>  // Boost 1.74 pchip.hpp needs it

#include <array>
#include <cmath>
#include <cstddef>
#include <map>
#include <memory>
#include <random>
#include <string>
#include <vector>

#include "fettle/map.hpp"
#include "fettle/map/batch.hpp"
#include "fettle/map/dynamic_table.hpp"
#if __has_include(<Eigen/Core>)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#include <Eigen/Core>
#pragma GCC diagnostic pop
#endif
#ifdef FETTLE_BENCH_GSL
#include <gsl/gsl_interp2d.h>
#endif
#ifdef FETTLE_BENCH_ALGLIB
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#include <libalglib/interpolation.h>
#pragma GCC diagnostic pop
#endif
#ifdef FETTLE_BENCH_BOOST
#include <boost/math/interpolators/pchip.hpp>
#endif

namespace {

constexpr std::size_t nodes = 16, points = 32768;  // too many for a branch predictor to learn by heart

/// Uneven breakpoints from 0 to 15: cells between 0.25 and 1.75 of the even width.
std::vector<double> uneven(unsigned seed) {
  std::mt19937 random{seed};
  std::uniform_real_distribution<double> step{0.25, 1.75};
  std::vector<double> axis{0};
  while (axis.size() < nodes) axis.push_back(axis.back() + step(random));
  for (double& x : axis) x *= static_cast<double>(nodes - 1) / axis.back();
  return axis;
}

std::vector<double> noise(std::size_t count) {
  std::mt19937 random{7};
  std::uniform_real_distribution<double> value{1, 100};
  std::vector<double> result(count);
  for (double& v : result) v = value(random);
  return result;
}

/// Points all over the axis; for our own search also a little outside it, where the peers have no rule.
template <class T>
std::vector<T> scattered(unsigned seed, double outside = 0) {
  std::mt19937 random{seed};
  std::uniform_real_distribution<double> value{-outside, static_cast<double>(nodes - 1) + outside};
  std::vector<T> result(points);
  for (T& x : result) x = static_cast<T>(value(random));
  return result;
}

/// The same range walked in small steps: a coordinate stays in its cell for about 2000 look-ups.
template <class T>
std::vector<T> slow(double phase) {
  std::vector<T> result(points);
  for (std::size_t i = 0; i < points; ++i)
    result[i] = static_cast<T>(7.5 + 7 * std::sin(phase + 6.283185307179586 * static_cast<double>(i) / points));
  return result;
}

template <class T, std::size_t R>
fettle::dynamic_table<T> random_map() {
  std::vector<fettle::dynamic_axis<T>> axes;
  std::size_t count = 1;
  for (unsigned i = 0; i < R; ++i, count *= nodes) {
    const auto even = uneven(i + 1);
    axes.push_back(*fettle::dynamic_axis<T>::from(std::vector<T>(even.begin(), even.end())));
  }
  const auto values = noise(count);
  return *fettle::dynamic_table<T>::from(std::move(axes), std::vector<T>(values.begin(), values.end()));
}

void done(benchmark::State& state) {
  state.SetItemsProcessed(state.iterations() * static_cast<std::int64_t>(points));
}

template <class T>
void rank1_scattered(benchmark::State& state) {
  const auto map = random_map<T, 1>();
  const auto view = map.template view<1>();
  const auto x = scattered<T>(11);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(fettle::interpolate(view, x[i]));
  done(state);
}

template <class T>
void rank2_scattered(benchmark::State& state) {
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = scattered<T>(11), y = scattered<T>(12);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(fettle::interpolate(view, x[i], y[i]));
  done(state);
}

template <class T>
void rank2_scattered_outside_too(benchmark::State& state) {  // one coordinate in eight lies outside
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = scattered<T>(11, 1), y = scattered<T>(12, 1);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(fettle::interpolate(view, x[i], y[i]));
  done(state);
}

template <class T>
void rank2_slow(benchmark::State& state) {
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = slow<T>(0), y = slow<T>(1);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(fettle::interpolate(view, x[i], y[i]));
  done(state);
}

template <class T>
void rank2_slow_with_hint(benchmark::State& state) {
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = slow<T>(0), y = slow<T>(1);
  std::array<fettle::place<T>, 2> at{};
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) {
      benchmark::DoNotOptimize(fettle::interpolate(view, at, x[i], y[i]));
    }
  done(state);
}

template <class T>
void rank3_scattered(benchmark::State& state) {
  const auto map = random_map<T, 3>();
  const auto view = map.template view<3>();
  const auto x = scattered<T>(11), y = scattered<T>(12), z = scattered<T>(13);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(fettle::interpolate(view, x[i], y[i], z[i]));
  done(state);
}

template <class T>
void rank2_list(benchmark::State& state) {
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = scattered<T>(11), y = scattered<T>(12);
  std::vector<T> out(points);
  for (auto _ : state) {
    fettle::interpolate_list(view, {x.data(), y.data()}, points, out.data());
    benchmark::ClobberMemory();
  }
  done(state);
}

template <class T>
void rank2_grid(benchmark::State& state) {  // 128 x 256 points
  const auto map = random_map<T, 2>();
  const auto view = map.template view<2>();
  const auto x = scattered<T>(11), y = scattered<T>(12);
  std::vector<T> out(points);
  for (auto _ : state) {
    fettle::interpolate_grid(view, {x.data(), y.data()}, {128, points / 128}, out.data());
    benchmark::ClobberMemory();
  }
  done(state);
}

#if __has_include(<Eigen/Core>)
/// One trim each for four cylinders, read at once.
template <class T>
void rank2_four_trims_scattered(benchmark::State& state) {
  using trims = Eigen::Matrix<T, 4, 1>;
  const auto axes = random_map<T, 2>();
  std::vector<trims> values(nodes * nodes);
  const auto numbers = noise(4 * values.size());
  for (std::size_t i = 0; i < values.size(); ++i)
    for (std::size_t k = 0; k < 4; ++k) values[i][static_cast<Eigen::Index>(k)] = static_cast<T>(numbers[4 * i + k]);
  const fettle::map_view<2, T, trims> view{.axes = axes.template view<2>().axes, .values = values.data()};
  const auto x = scattered<T>(11), y = scattered<T>(12);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) {
      trims all = fettle::interpolate(view, x[i], y[i]);
      benchmark::DoNotOptimize(all);
    }
  done(state);
}
#endif

/// The plain way: binary search with branches, then four corners.
void rank2_plain_loop(benchmark::State& state) {
  const auto map = random_map<double, 2>();
  const auto& a = map.axes()[0].points();
  const auto& b = map.axes()[1].points();
  const auto v = map.values();
  const auto x = scattered<double>(11), y = scattered<double>(12);
  const auto cell = [](const std::vector<double>& axis, double at) {
    std::size_t low = 0, high = axis.size() - 1;
    while (high - low > 1) (axis[(low + high) / 2] <= at ? low : high) = (low + high) / 2;
    return low;
  };
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) {
      const std::size_t r = cell(a, x[i]), c = cell(b, y[i]);
      const double t = (x[i] - a[r]) / (a[r + 1] - a[r]), u = (y[i] - b[c]) / (b[c + 1] - b[c]);
      const double* at = &v[r * nodes + c];
      benchmark::DoNotOptimize((1 - t) * ((1 - u) * at[0] + u * at[1]) + t * ((1 - u) * at[nodes] + u * at[nodes + 1]));
    }
  done(state);
}

BENCHMARK(rank1_scattered<double>);
BENCHMARK(rank2_scattered<double>);
BENCHMARK(rank2_scattered<float>);
BENCHMARK(rank2_scattered_outside_too<double>);
BENCHMARK(rank2_slow<double>);
BENCHMARK(rank2_slow_with_hint<double>);
BENCHMARK(rank2_slow_with_hint<float>);
BENCHMARK(rank3_scattered<double>);
BENCHMARK(rank2_list<double>);
BENCHMARK(rank2_list<float>);
BENCHMARK(rank2_grid<double>);
BENCHMARK(rank2_plain_loop);
#if __has_include(<Eigen/Core>)
BENCHMARK(rank2_four_trims_scattered<float>);
BENCHMARK(rank2_four_trims_scattered<double>);
#endif

#ifdef FETTLE_BENCH_GSL
void gsl_rank2(benchmark::State& state, bool moving_slowly) {
  const auto a = uneven(1), b = uneven(2), v = noise(nodes * nodes);
  const std::unique_ptr<gsl_interp2d, decltype(&gsl_interp2d_free)> spline{
      gsl_interp2d_alloc(gsl_interp2d_bilinear, nodes, nodes), gsl_interp2d_free};
  gsl_interp2d_init(spline.get(), a.data(), b.data(), v.data(), nodes, nodes);
  const std::unique_ptr<gsl_interp_accel, decltype(&gsl_interp_accel_free)> xa{gsl_interp_accel_alloc(),
                                                                               gsl_interp_accel_free},
      ya{gsl_interp_accel_alloc(), gsl_interp_accel_free};
  const auto x = moving_slowly ? slow<double>(0) : scattered<double>(11);
  const auto y = moving_slowly ? slow<double>(1) : scattered<double>(12);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i)
      benchmark::DoNotOptimize(
          gsl_interp2d_eval(spline.get(), a.data(), b.data(), v.data(), x[i], y[i], xa.get(), ya.get()));
  done(state);
}
BENCHMARK_CAPTURE(gsl_rank2, scattered, false);
BENCHMARK_CAPTURE(gsl_rank2, slow_with_accelerator, true);
#endif

#ifdef FETTLE_BENCH_ALGLIB
alglib::real_1d_array alglib_row(const std::vector<double>& x) {
  alglib::real_1d_array row;
  row.setcontent(static_cast<alglib::ae_int_t>(x.size()), x.data());
  return row;
}

void alglib_rank2(benchmark::State& state, bool moving_slowly) {
  alglib::spline2dinterpolant spline;
  alglib::spline2dbuildbilinearv(alglib_row(uneven(2)), nodes, alglib_row(uneven(1)), nodes,
                                 alglib_row(noise(nodes * nodes)), 1, spline);
  const auto x = moving_slowly ? slow<double>(0) : scattered<double>(11);
  const auto y = moving_slowly ? slow<double>(1) : scattered<double>(12);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(alglib::spline2dcalc(spline, y[i], x[i]));
  done(state);
}
BENCHMARK_CAPTURE(alglib_rank2, scattered, false);
BENCHMARK_CAPTURE(alglib_rank2, slow, true);

void alglib_rank3_scattered(benchmark::State& state) {
  alglib::spline3dinterpolant spline;
  alglib::spline3dbuildtrilinearv(alglib_row(uneven(3)), nodes, alglib_row(uneven(2)), nodes, alglib_row(uneven(1)),
                                  nodes, alglib_row(noise(nodes * nodes * nodes)), 1, spline);
  const auto x = scattered<double>(11), y = scattered<double>(12), z = scattered<double>(13);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(alglib::spline3dcalc(spline, z[i], y[i], x[i]));
  done(state);
}
BENCHMARK(alglib_rank3_scattered);
#endif

#ifdef FETTLE_BENCH_BOOST
void boost_pchip_rank1_scattered(
    benchmark::State& state) {  // a cubic: the nearest thing Boost 1.74 has in one dimension
  auto a = uneven(1), v = noise(nodes);
  const boost::math::interpolators::pchip curve(std::move(a), std::move(v));
  const auto x = scattered<double>(11);
  for (auto _ : state)
    for (std::size_t i = 0; i < points; ++i) benchmark::DoNotOptimize(curve(x[i]));
  done(state);
}
BENCHMARK(boost_pchip_rank1_scattered);
#endif

/// Prints the usual table, then how we stand against the peers and against ourselves.
class standing_reporter : public benchmark::ConsoleReporter {
 public:
  void ReportRuns(const std::vector<Run>& runs) override {
    ConsoleReporter::ReportRuns(runs);
    for (const Run& run : runs) {  // medians where there are repetitions
      if (run.run_type == Run::RT_Aggregate && run.aggregate_name != "median") continue;
      ns_[run.run_name.function_name + (run.run_name.args.empty() ? "" : "/" + run.run_name.args)] =
          run.GetAdjustedCPUTime() / static_cast<double>(points);
    }
  }

  void Finalize() override {
    GetOutputStream() << "\nns per look-up, ratio, aim\n";
    compare("rank2_scattered<double>", "gsl_rank2/scattered", "8 times faster");
    compare("rank2_slow_with_hint<double>", "gsl_rank2/slow_with_accelerator", "2.5 times faster");
    compare("rank3_scattered<double>", "alglib_rank3_scattered", "6 times faster");
    compare("rank2_list<double>", "rank2_scattered<double>", "at most 60 % of it: 1.67 times faster");
    compare("rank2_grid<double>", "rank2_scattered<double>", "at most 60 % of it: 1.67 times faster");
    for (const std::string type : {"<float>", "<double>"})
      compare("rank2_four_trims_scattered" + type, "rank2_scattered" + type, "at most 1.5 times its cost: 0.67");
  }

 private:
  void compare(const std::string& ours, const std::string& peer, const char* aim) {
    const auto a = ns_.find(ours), b = ns_.find(peer);
    if (a == ns_.end() || b == ns_.end()) return;
    GetOutputStream() << ours << ' ' << a->second << ", " << peer << ' ' << b->second << ": " << b->second / a->second
                      << " times faster (aim: " << aim << ")\n";
  }
  std::map<std::string, double> ns_;
};

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 1;
  standing_reporter reporter;
  benchmark::RunSpecifiedBenchmarks(&reporter);
}
