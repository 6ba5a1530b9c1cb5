// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <tuple>
#include <utility>
#include <vector>

#include "fettle/map/dynamic_interpolate.hpp"
#include "fettle/map/interpolate.hpp"
#include "virtual_engine/engine.hpp"
#include "virtual_engine/maps.hpp"

namespace virtual_engine {

/// What a controller knows, once a millisecond.
struct controller_input {
  double time_s = 0, rpm = 0, throttle_pct = 0;
  double battery_v = 0, air_kpa = 0, air_degc = 0, coolant_degc = 0;  ///< as measured
  bool shift_cut = false;                                             ///< the gearbox asks for a fuel cut
};

/// Multiplier of one cylinder's fuel: a map over speed, over throttle, or over both.
struct trim_map {
  map factor;
  std::vector<bool> reads_throttle{};  ///< per axis; else it reads the speed

  [[nodiscard]] double at(double rpm, double throttle_pct) const {
    std::array<double, 2> point{};
    for (std::size_t a = 0; a < reads_throttle.size(); ++a) point[a] = reads_throttle[a] ? throttle_pct : rpm;
    return fettle::interpolate(factor, std::span<const double>{point}.first(reads_throttle.size()));
  }
};

/// What a controller commands.
struct injection {
  std::array<per_cylinder, banks> pulse_ms{};  ///< per cycle; 0 = closed
  double lambda_target = 1;
  bool cut = false;
};

/// Commanded lambda: 1 at low load, 0.88 at high load.
[[nodiscard]] inline double lambda_target(double rpm, double throttle_pct) {
  const double from_pct = 22 + rpm / 1000;
  return 1 - 0.12 * ramp(throttle_pct, from_pct, from_pct + 40);
}

/// The controller whose logs are corrected: alpha-N with air density, dead time, two banks, fuel cuts.
///
/// Any other callable from `controller_input` to `injection` may take its place.
class alpha_n_controller {
 public:
  alpha_n_controller(map fuel_mg, map secondary_share, std::array<injector_bank, banks> injectors)
      : bank{std::move(injectors)}, fuel_{std::move(fuel_mg)}, share_{std::move(secondary_share)} {}

  /// With the map that the car of this seed came with, and injectors as they are.
  alpha_n_controller(const engine& e, std::uint64_t seed)
      : alpha_n_controller(base_fuel_map(e, seed), share_map(), e.bank) {}

  std::array<injector_bank, banks> bank;  ///< as described to the controller
  std::vector<trim_map> trims{};          ///< one per cylinder; empty: all 1
  double warm_up_per_k = 0.003;           ///< enrichment below 70 degC
  double acceleration = 0;                ///< enrichment per full throttle step; dies away in 0.15 s

  [[nodiscard]] const map& fuel_mg() const noexcept { return fuel_; }

  [[nodiscard]] injection operator()(const controller_input& in) {
    injection out{.lambda_target = lambda_target(in.rpm, in.throttle_pct)};
    const double enrichment = 1 + warm_up_per_k * std::max(0.0, 70 - in.coolant_degc) + step_enrichment(in);
    out.cut = overruns(in) || in.shift_cut;
    if (out.cut) return out;

    const double mass_mg = fettle::interpolate(fuel_.view<2>(), in.rpm, in.throttle_pct) / out.lambda_target *
                           engine::density(in.air_kpa, in.air_degc) * enrichment;
    const double share = fettle::interpolate(share_.view<2>(), in.rpm, in.throttle_pct);
    if (trims.empty()) {
      const auto [primary, secondary] = staged(mass_mg, share, in);
      out.pulse_ms[0].fill(primary);
      out.pulse_ms[1].fill(secondary);
      return out;
    }
    for (std::size_t i = 0; i < cylinders; ++i) {
      std::tie(out.pulse_ms[0][i], out.pulse_ms[1][i]) =
          staged(trims[i].at(in.rpm, in.throttle_pct) * mass_mg, share, in);
    }
    return out;
  }

 private:
  /// Both banks' pulses: the secondary's is 0 or usable; what is too long for the primary goes to the secondary.
  [[nodiscard]] std::pair<double, double> staged(double mass_mg, double share, const controller_input& in) const {
    const double cycle_ms = 120000 / in.rpm;
    double secondary = bank[1].pulse_ms(share * mass_mg, in.battery_v);
    if (secondary < bank[1].smallest_pulse_ms) secondary = share = 0;
    double primary = bank[0].pulse_ms((1 - share) * mass_mg, in.battery_v);
    if (const double longest_ms = bank[0].largest_duty * cycle_ms; primary > longest_ms) {
      const double rest_mg = mass_mg - bank[0].mass_mg(longest_ms, in.battery_v);
      secondary = std::max(bank[1].pulse_ms(rest_mg, in.battery_v), bank[1].smallest_pulse_ms);
      primary = bank[0].pulse_ms(mass_mg - bank[1].mass_mg(secondary, in.battery_v), in.battery_v);
    }
    return {std::max(primary, bank[0].smallest_pulse_ms), std::min(secondary, bank[1].largest_duty * cycle_ms)};
  }

  [[nodiscard]] bool overruns(const controller_input& in) {
    overrun_ = overrun_ ? in.throttle_pct < 2.5 && in.rpm > 2200 : in.throttle_pct < 1.5 && in.rpm > 2500;
    return overrun_;
  }

  [[nodiscard]] double step_enrichment(const controller_input& in) {
    if (acceleration == 0) return 0;
    if (in.time_s == 0) throttle_before_ = in.throttle_pct;
    throttle_before_ += (in.throttle_pct - throttle_before_) * (in.time_s - time_before_) / 0.15;
    time_before_ = in.time_s;
    return acceleration * std::max(0.0, in.throttle_pct - throttle_before_) / 100;
  }

  map fuel_, share_;
  bool overrun_ = false;
  double throttle_before_ = 0, time_before_ = 0;
};

}  // namespace virtual_engine
