// SPDX-License-Identifier: MIT
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

per_cylinder centred(dice& draw, double largest) noexcept {
  per_cylinder result;
  double mean = 0, size = 0;
  for (auto& x : result) mean += (x = draw.uniform(-1, 1)) / cylinders;
  for (auto& x : result) size = std::max(size, std::abs(x -= mean));
  for (auto& x : result) x *= largest / size;
  return result;
}

engine engine::from_seed(std::uint64_t seed) {
  dice draw{seed, 1};
  engine e;
  e.peak_ = draw.uniform(6.4, 7.4);
  e.width_ = draw.uniform(3.0, 4.2);
  e.throat_ = draw.uniform(26, 34);
  e.leak_ = draw.uniform(0.008, 0.012);
  e.linear_ = draw.uniform(0.32, 0.5);
  e.knee_ = draw.uniform(1.9, 2.5);
  e.waves_ = {{{draw.uniform(2.9, 3.5), draw.uniform(0.32, 0.38), draw.uniform(0.052, 0.065)},
               {draw.uniform(4.7, 5.3), draw.uniform(0.34, 0.40), draw.uniform(-0.076, -0.062)},
               {draw.uniform(6.5, 7.3), draw.uniform(0.36, 0.43), draw.uniform(0.076, 0.090)}}};
  e.offset_ = centred(draw, draw.uniform(0.030, 0.040));
  e.swing_ = centred(draw, draw.uniform(0.005, 0.010));
  e.revolutions = draw.uniform(1.2, 1.8);
  e.mixing_gain = draw.uniform(0.012, 0.028);

  // Rounded as a data sheet gives them.
  const auto flow_mg_ms = [&](double low, double high) { return std::nearbyint(draw.uniform(low, high) * 100) / 100; };
  const auto dead_ms = [slow = draw.uniform(0.9, 1.1)](std::array<double, 5> ms) {
    for (double& time : ms) time = std::nearbyint(time * slow * 1000) / 1000;
    return ms;
  };
  e.bank[0] = {.name = "primary",
               .flow_mg_ms = flow_mg_ms(3.0, 3.4),
               .dead_time_ms = dead_ms({2.10, 1.48, 1.11, 0.88, 0.74}),
               .smallest_pulse_ms = 1.5,
               .film = {draw.uniform(0.15, 0.35), draw.uniform(0.15, 0.5)}};
  e.bank[1] = {.name = "secondary",
               .flow_mg_ms = flow_mg_ms(3.6, 4.2),
               .dead_time_ms = dead_ms({2.55, 1.75, 1.30, 1.02, 0.86}),
               .smallest_pulse_ms = 1.7,
               .film = {draw.uniform(0.3, 0.55), draw.uniform(0.4, 0.9)}};

  e.sensor[0] = {.name = "collector",
                 .column = "lambda_collector",
                 .cylinder = 0,
                 .pipe_gas_mass_g = draw.uniform(0.5, 1.2),
                 .lag_s = draw.uniform(0.04, 0.08),
                 .latency_s = draw.uniform(0.005, 0.015)};
  for (std::size_t i = 1; i <= cylinders; ++i) {
    const bool wired = i <= 2;  // the others come late and seldom, over the CAN bus
    e.sensor[i] = {.name = "pipe " + std::to_string(i),
                   .column = "lambda_" + std::to_string(i),
                   .cylinder = i,
                   .pipe_gas_mass_g = draw.uniform(0.1, 0.25),
                   .lag_s = draw.uniform(0.04, 0.08),
                   .latency_s = wired ? draw.uniform(0.005, 0.015) : draw.uniform(0.03, 0.08),
                   .gain = 1 + (draw.happens(0.5) ? 1 : -1) * draw.uniform(0.01, 0.03),
                   .rate_hz = wired ? 0 : 20};
  }
  return e;
}

}  // namespace virtual_engine
