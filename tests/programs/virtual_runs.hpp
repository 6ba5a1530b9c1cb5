// SPDX-License-Identifier: MIT
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "virtual_engine/controller.hpp"
#include "virtual_engine/drive.hpp"
#include "virtual_engine/simulate.hpp"

namespace virtual_runs {

using namespace virtual_engine;

inline const std::vector<double>& column(const fettle::log_table& log, const char* name) {
  const auto* series = log.find(name);
  EXPECT_NE(series, nullptr) << name;
  static const std::vector<double> none;
  return series != nullptr ? *series : none;
}

/// FNV-1a over the log in units of its last decimal.
inline std::uint64_t fingerprint(const fettle::log_table& log) {
  std::uint64_t hash = 0xCBF29CE484222325U;
  for (const auto& values : log.columns)
    for (const double value : values)
      hash =
          (hash ^ (std::isnan(value) ? ~0U : static_cast<std::uint64_t>(std::llround(value * 1e4)))) * 0x100000001B3U;
  return hash;
}

inline drive steady(double seconds, double rpm, double throttle_pct) {
  const drive_point begin{.time_s = 0, .rpm = rpm, .throttle_pct = throttle_pct};
  drive_point end = begin;
  end.time_s = seconds;
  return {.name = "steady", .points = {begin, end}};
}

/// An engine whose walls stay dry and whose sensors do not lag, so that only the gas's way takes time.
inline engine without_film_and_lag(std::uint64_t seed) {
  engine e = engine::from_seed(seed);
  for (auto& bank : e.bank) bank.film.share = 0;
  for (auto& sensor : e.sensor) sensor.lag_s = 0, sensor.gain = 1;
  return e;
}

/// The default controller, 10 % richer after a time.
inline auto richer_after(double time_s, alpha_n_controller controller) {
  return [time_s, controller](const controller_input& in) mutable {
    injection out = controller(in);
    if (in.time_s >= time_s)
      for (std::size_t b = 0; b < banks; ++b)
        for (auto& pulse : out.pulse_ms[b])
          if (pulse > 0) pulse = controller.bank[b].pulse_ms(1.1 * controller.bank[b].mass_mg(pulse, 13.8), 13.8);
    return out;
  };
}

/// When phi, from rest at the beginning of a log to rest at its end, has gone a share of the way.
inline double crossing_s(const run_result& result, const char* sensor, double from_s, double share) {
  const auto &time = column(result.log, "time_s"), &lambda = column(result.log, sensor);
  const double before = 1 / lambda[static_cast<std::size_t>(from_s * 1000) - 1], after = 1 / lambda.back();
  for (std::size_t i = static_cast<std::size_t>(from_s * 1000); i < time.size(); ++i)
    if (1 / lambda[i] >= before + share * (after - before)) return time[i];
  return -1;
}

}  // namespace virtual_runs
