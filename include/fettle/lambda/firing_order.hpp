// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numbers>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/sample_rows.hpp"

namespace fettle {

/// A collector whose one sensor is fast enough to see the cylinders go by.
///
/// At each exhaust event the gas at the sensor is a weighted mean of the last cylinders' phi, which the sensor then
/// follows with a first-order lag: a periodic system, sampled once per event.
struct firing_collector {
  std::vector<std::size_t> order;                    ///< cylinders, 1 .., in firing order
  std::vector<double> mixing{0.5, 0.3, 0.15, 0.05};  ///< share of the newest gas, the one before, ..; sums to 1
  double lag_s = 0.01;
  double delay_events = 0;      ///< from exhaust event to sensor, whole events and a fraction
  double delay_error_s = 0;     ///< how well that delay is known, one standard deviation
  double lag_error = 0;         ///< how well the lag is known, as a fraction of it
  double mixing_error = 0;      ///< how well the share of the newest gas is known; the others make up for it
  double noise = 0.006;         ///< standard deviation of one sample of phi
  double largest_error = 0.01;  ///< of a cylinder's phi: beyond, the estimate is refused

  /// Errors: `fettle::error` naming what is wrong.
  void check() const {
    if (order.size() < 2) throw error("firing_collector: give the firing order of at least two cylinders");
    std::vector<bool> seen(order.size(), false);
    for (const std::size_t cylinder : order) {
      if (cylinder < 1 || cylinder > order.size() || seen[cylinder - 1])
        throw error("firing_collector: the firing order must name each cylinder from 1 to " +
                    std::to_string(order.size()) + " once; it names " + std::to_string(cylinder) +
                    (cylinder >= 1 && cylinder <= order.size() ? " twice" : ""));
      seen[cylinder - 1] = true;
    }
    double sum = 0;
    for (const double share : mixing) sum += share;
    if (mixing.empty() || std::abs(sum - 1) > 1e-6)
      throw error("firing_collector: the mixing shares sum to " + std::to_string(sum) + "; they must sum to 1");
    if (!(lag_s >= 0 && delay_events >= 0 && delay_error_s >= 0 && noise > 0 && largest_error > 0))
      throw error("firing_collector: lag, delay and errors must not be negative, noise and largest error above 0");
    if (!(lag_error >= 0 && lag_error < 1))
      throw error("firing_collector: the error of the lag must lie between 0 and 1, as a fraction of it");
    if (!(mixing_error >= 0 && (mixing_error == 0 || mixing_error <= (std::min)(mixing[0], 1 - mixing[0]))))
      throw error("firing_collector: with its error the share of the newest gas must lie between 0 and 1");
  }
};

/// What one fast sensor can tell at one speed.
struct firing_observability {
  double event_s = 0;         ///< time between exhaust events
  double weakest = 0;         ///< gain of the pattern between cylinders that the sensor sees least, 0 .. 1
  double cylinder_error = 0;  ///< standard error of a cylinder's phi from noise alone
  double delay_events = 0;    ///< how well the delay is known, in events: half an event names the wrong cylinder
  bool usable = false;
};

namespace detail {

/// Share of each firing position's phi in a sample taken at an event of position 0: the steady periodic response.
[[nodiscard]] inline std::vector<double> periodic_response(const firing_collector& collector, double event_s) {
  const std::size_t n = collector.order.size();
  const double keep = collector.lag_s > 0 ? std::exp(-event_s / collector.lag_s) : 0.0;
  std::vector<double> result(n, 0.0);
  const double late = std::floor(collector.delay_events), fraction = collector.delay_events - late;
  const double all = 1 - std::pow(keep, static_cast<double>(n));  // the lag's memory, turned up once per cycle
  for (std::size_t age = 0; age < n; ++age) {
    const double lagged = (1 - keep) * std::pow(keep, static_cast<double>(age)) / all;
    for (std::size_t m = 0; m < collector.mixing.size(); ++m)
      for (const auto& [more, share] : {std::pair{0.0, 1 - fraction}, {1.0, fraction}}) {
        const auto events_ago = age + m + static_cast<std::size_t>(late + more);
        result[(n - events_ago % n) % n] += lagged * collector.mixing[m] * share;
      }
  }
  return result;
}

/// What steady cylinders a stretch of samples fits best.
struct firing_fit {
  double mean_phi = 0;
  std::vector<double> deviation;  // per cylinder, sums to zero
  double noise_variance = 0;
};

[[nodiscard]] inline firing_fit fit_cylinders(const firing_collector& collector, std::span<const double> phi,
                                              double event_s) {
  const std::size_t n = collector.order.size();
  const std::vector<double> response = periodic_response(collector, event_s);
  std::vector<map_term> terms{{.axes = {}}};  // the mean, and one number per firing position pulled together
  const double faint = 1e-9 * static_cast<double>(phi.size());  // beside so many samples, and above their rounding
  for (std::size_t p = 0; p < n; ++p) terms.push_back({.axes = {}, .pull = {faint}});
  const map_model model(std::move(terms));
  evidence data(model.cells());
  std::vector<std::uint32_t> cell;
  for (std::size_t k = 0; k <= n; ++k) cell.push_back(static_cast<std::uint32_t>(k));
  std::vector<double> factor(n + 1, 1.0);
  for (std::size_t event = 0; event < phi.size(); ++event) {
    for (std::size_t p = 0; p < n; ++p) factor[1 + p] = response[(p + n - event % n) % n];
    data.add(cell, factor, phi[event], 1);
  }
  const map_fit fit = model.solve(data);
  // What the cylinders share and the mean act alike; the pull alone divides them.
  double shared = 0;
  for (std::size_t p = 0; p < n; ++p) shared += fit.value[1 + p] / static_cast<double>(n);
  firing_fit result{fit.value[0] + shared, std::vector<double>(n), fit.noise_variance};
  for (std::size_t p = 0; p < n; ++p) result.deviation[collector.order[p] - 1] = fit.value[1 + p] - shared;
  return result;
}

/// The collector with delay, lag and mixing each off by their error in turn, to one side.
[[nodiscard]] inline std::vector<firing_collector> mistaken(const firing_collector& collector, double event_s,
                                                            double side) {
  std::vector<firing_collector> result;
  const double cycle =
      static_cast<double>(collector.order.size());  // a delay longer by whole cycles is the same system
  const double later = collector.delay_events + cycle * std::ceil(collector.delay_error_s / event_s / cycle);
  if (collector.delay_error_s > 0) {
    result.push_back(collector);
    result.back().delay_events = later + side * collector.delay_error_s / event_s;
  }
  if (collector.lag_error > 0) {
    result.push_back(collector);
    result.back().lag_s *= 1 + side * collector.lag_error;
  }
  if (collector.mixing_error > 0) {  // so the share of the newest gas lies between 0 and 1
    result.push_back(collector);
    auto& mixing = result.back().mixing;
    mixing[0] = collector.mixing[0] + side * collector.mixing_error;
    for (std::size_t m = 1; m < mixing.size(); ++m) mixing[m] *= (1 - mixing[0]) / (1 - collector.mixing[0]);
  }
  return result;
}

}  // namespace detail

/// Observability of the cylinders at a speed, from samples of a number of cycles.
///
/// The periodic response is a circulant matrix; its eigenvalues are the gains of the patterns between cylinders.
/// Usable: no cylinder's error beyond the limit, and the delay known to a quarter of an event.
[[nodiscard]] inline firing_observability observe(const firing_collector& collector, double speed_rpm, double cycles) {
  collector.check();
  const std::size_t n = collector.order.size();
  const double count = static_cast<double>(n);
  firing_observability result{.event_s = 120 / speed_rpm / count};
  const std::vector<double> response = detail::periodic_response(collector, result.event_s);
  result.weakest = 1;
  double variance = 0;
  for (std::size_t h = 1; h < n; ++h) {
    std::complex<double> gain = 0;
    for (std::size_t p = 0; p < n; ++p)
      gain += response[p] * std::polar(1.0, -2 * std::numbers::pi * static_cast<double>(h * p) / count);
    result.weakest = (std::min)(result.weakest, std::abs(gain));
    variance += 1 / std::norm(gain);
  }
  result.cylinder_error = collector.noise * std::sqrt(variance / (count * (std::max)(cycles, 1.0)));
  result.delay_events = collector.delay_error_s / result.event_s;
  result.usable = result.cylinder_error < collector.largest_error && result.delay_events < 0.25;
  return result;
}

/// The speed above which estimates from this number of cycles are refused; 0 when they are at every speed.
[[nodiscard]] inline double highest_usable_rpm(const firing_collector& collector, double cycles) {
  constexpr double slowest_rpm = 100, fastest_rpm = 20000;
  if (!observe(collector, slowest_rpm, cycles).usable) return 0;
  if (observe(collector, fastest_rpm, cycles).usable) return fastest_rpm;
  double low = slowest_rpm, high = fastest_rpm;
  while (high - low > 1) {
    const double middle = (low + high) / 2;
    (observe(collector, middle, cycles).usable ? low : high) = middle;
  }
  return low;
}

/// phi of each cylinder less the collector's mean.
struct firing_estimate {
  double mean_phi = 0;
  std::vector<double> deviation;       ///< per cylinder, sums to zero
  std::vector<double> standard_error;  ///< of each deviation: noise, and what delay, lag and mixing being off would do
  double highest_rpm = 0;              ///< above this the estimate would have been refused
};

/// Cylinders from one fast sensor after the collector, at steady speed.
///
/// @param phi        one sample per exhaust event, the first at the event of the first cylinder of the firing order.
/// Errors:           `fettle::error` above the usable speed, naming it; with less than two cycles; for a sample that is
///                   not finite.
/// Source:           the model of J. W. Grizzle, K. L. Dobson, J. A. Cook, "Individual cylinder air-fuel ratio control
///                   with a single EGO sensor", IEEE Trans. Veh. Tech. 40 (1991) 280 (from memory): event-sampled,
///                   periodic, mixing then first-order lag. Solved here by least squares over whole stretches instead
///                   of an observer: the cylinders stand still while they are measured.
[[nodiscard]] inline firing_estimate estimate_cylinders(const firing_collector& collector, std::span<const double> phi,
                                                        double speed_rpm) {
  collector.check();
  const std::size_t n = collector.order.size();
  const double cycles = static_cast<double>(phi.size()) / static_cast<double>(n);
  if (cycles < 2) throw error("estimate_cylinders: two cycles of samples are needed at least");
  const firing_observability seen = observe(collector, speed_rpm, cycles);
  firing_estimate result;
  result.highest_rpm = highest_usable_rpm(collector, cycles);
  if (!seen.usable)
    throw error("estimate_cylinders: at " + std::to_string(static_cast<int>(speed_rpm)) +
                " rpm one sensor cannot tell the cylinders apart: its weakest gain is " + std::to_string(seen.weakest) +
                " and its delay is known to " + std::to_string(seen.delay_events) +
                " events; with these samples it can " +
                (result.highest_rpm > 0 ? "up to " + std::to_string(static_cast<int>(result.highest_rpm)) + " rpm"
                                        : std::string("at no speed")));
  for (std::size_t event = 0; event < phi.size(); ++event)
    if (!std::isfinite(phi[event]))
      throw error("estimate_cylinders: sample " + std::to_string(event) + " is not a number");
  const detail::firing_fit fit = detail::fit_cylinders(collector, phi, seen.event_s);
  result.mean_phi = fit.mean_phi;
  result.deviation = fit.deviation;
  std::vector<double> variance(n, fit.noise_variance * std::pow(seen.cylinder_error / collector.noise, 2));
  const auto low = detail::mistaken(collector, seen.event_s, -1), high = detail::mistaken(collector, seen.event_s, 1);
  for (std::size_t k = 0; k < low.size(); ++k) {
    const auto below = detail::fit_cylinders(low[k], phi, seen.event_s);
    const auto above = detail::fit_cylinders(high[k], phi, seen.event_s);
    for (std::size_t i = 0; i < n; ++i) variance[i] += std::pow((above.deviation[i] - below.deviation[i]) / 2, 2);
  }
  for (const double each : variance) result.standard_error.push_back(std::sqrt(each));
  return result;
}

}  // namespace fettle
