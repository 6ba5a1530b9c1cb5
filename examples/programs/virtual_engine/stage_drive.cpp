// SPDX-License-Identifier: MIT
#include "virtual_engine/stage_drive.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

#include "virtual_engine/dice.hpp"

namespace virtual_engine {
namespace {

/// A small car and its driver on a hill road. It has its own rough idea of torque, so that a drive does not depend on
/// the engine in it: the same drive can be simulated with any engine and controller.
class hill_climb {
 public:
  hill_climb(std::uint64_t seed, double minutes) : draw_{seed, 4}, end_s_{minutes * 60} {
    for (int i = 0; i < 22; ++i)
      road_.push_back({draw_.uniform(40, 240), draw_.uniform(20, 60), draw_.uniform(10, 34)});
    start_kpa_ = draw_.uniform(96, 100);
    start_degc_ = draw_.uniform(14, 27);
    slope_ = draw_.uniform(0.06, 0.09);
    phase_ = draw_.uniform(0, 2 * std::numbers::pi);
  }

  /// Run-ups and easy returns until the minutes are full.
  [[nodiscard]] drive driven() {
    drive result{.name = "stage", .points = {}};
    points_ = &result.points;
    while (time_s_ < end_s_) {
      run_up();
      roll_back();
    }
    record(false);
    return result;
  }

 private:
  static constexpr double step_s = 0.01, mass_kg = 860;
  static constexpr std::array<double, 6> rpm_per_mps{390, 290, 228, 188, 160, 140};
  struct bend {
    double straight_m, length_m, speed_mps;  // a straight, then a bend taken at about this speed
  };

  void run_up() {
    gear_ = 0;
    speed_mps_ = 0;
    shift_up_rpm_ = draw_.uniform(8000, 8700);
    shift_down_rpm_ = draw_.uniform(3800, 4800);
    hold(draw_.uniform(2, 4), 0);  // at the line
    for (const bend& next : road_) {
      const bool lazy = draw_.happens(0.25);  // a gear too high, a gentler foot
      const double up = lazy ? draw_.uniform(5200, 7000) : shift_up_rpm_;
      const double down = lazy ? draw_.uniform(1800, 3000) : shift_down_rpm_;
      const double full_pct = lazy ? draw_.uniform(30, 85) : draw_.happens(0.7) ? 100 : draw_.uniform(60, 98);
      const double bend_mps = next.speed_mps * draw_.uniform(0.85, 1.05), braking = draw_.uniform(5, 9);
      straight(next.straight_m, bend_mps, braking, full_pct, up, down);
      if (draw_.happens(0.15)) continue;  // flat out through this one
      around(next.length_m, bend_mps, up, down);
    }
    height_m_ = std::max(height_m_, 0.0);
  }

  void straight(double length_m, double bend_mps, double braking, double full_pct, double up, double down) {
    bool brakes = false;
    for (double left_m = length_m; left_m > 0 && time_s_ < end_s_; left_m -= speed_mps_ * step_s) {
      brakes = brakes || speed_mps_ * speed_mps_ - bend_mps * bend_mps > 2 * braking * left_m;
      if (brakes && speed_mps_ <= bend_mps) return;
      const double grip_pct = 35 + 4 * speed_mps_;  // wheelspin in the low gears
      if (brakes)
        step(0, braking, up, down);
      else
        step(std::min(full_pct, grip_pct), 0, up, 0.8 * down);
    }
  }

  void around(double length_m, double bend_mps, double up, double down) {
    const double base_pct = draw_.uniform(8, 40), wander_pct = draw_.uniform(0, 15), pace = draw_.uniform(1, 5);
    for (double left_m = length_m; left_m > 0 && time_s_ < end_s_; left_m -= std::max(speed_mps_, 2.0) * step_s) {
      const double foot = base_pct + 8 * (bend_mps - speed_mps_) + wander_pct * std::sin(pace * time_s_);
      step(std::clamp(foot, 3.0, 75.0), speed_mps_ > bend_mps + 2 ? 4 : 0, up, down);
    }
  }

  /// Back down to the start, in traffic.
  void roll_back() {
    const double until_s = time_s_ + draw_.uniform(35, 60);
    const double up = draw_.uniform(2800, 4600), down = draw_.uniform(1500, 2000);
    double wanted_mps = 12, next_change_s = time_s_;
    while (time_s_ < std::min(until_s, end_s_)) {
      if (time_s_ >= next_change_s) {
        wanted_mps = draw_.uniform(6, 20);
        next_change_s = time_s_ + draw_.uniform(4, 9);
      }
      height_m_ *= 1 - step_s / 20;
      step(std::clamp(6 + 5 * (wanted_mps - speed_mps_), 0.0, 45.0), speed_mps_ > wanted_mps + 3 ? 1.5 : 0, up, down);
    }
    height_m_ = 0;
  }

  void hold(double seconds, double throttle_pct) {
    for (const double until_s = time_s_ + seconds; time_s_ < std::min(until_s, end_s_);) {
      speed_mps_ = 0;
      step(throttle_pct, 9, 9000, 0);
    }
  }

  /// One step of car and driver: the foot moves, the gears change, the car follows.
  void step(double wanted_pct, double braking, double shift_up_rpm, double shift_down_rpm) {
    shift(wanted_pct, braking, shift_up_rpm, shift_down_rpm);
    if (time_s_ < blip_until_s_) wanted_pct = 38;
    const double opens = 320 * step_s, closes = 600 * step_s;  // the foot, in % per step
    throttle_pct_ += std::clamp(wanted_pct - throttle_pct_, -closes, opens);

    const bool cut = time_s_ < cut_until_s_;
    const double torque_nm = (cut || time_s_ < blip_until_s_) ? -20 : rough_torque(throttle_pct_);
    const double drive_n = torque_nm * rpm_per_mps[gear_] * 2 * std::numbers::pi / 60;
    const double drag_n = 0.45 * speed_mps_ * speed_mps_ + mass_kg * 9.81 * (0.012 + slope_);
    const double forward = std::clamp((drive_n - drag_n) / mass_kg, -4.0, 8.0) - braking;
    speed_mps_ = std::max(0.0, speed_mps_ + forward * step_s);
    height_m_ += slope_ * speed_mps_ * step_s;

    // Below walking pace the clutch slips; otherwise the wheels hold the engine.
    const double slipping_rpm = 1000 + std::min(55 * throttle_pct_, 3800.0);
    rpm_ += (std::max(speed_mps_ * rpm_per_mps[gear_], slipping_rpm * (gear_ == 0)) - rpm_) * (step_s / 0.045);
    rpm_ = std::clamp(rpm_, 950.0, 8950.0);
    record(cut);
    time_s_ = static_cast<double>(++steps_) * step_s;
  }

  void shift(double wanted_pct, double braking, double up_rpm, double down_rpm) {
    if (time_s_ < busy_until_s_) return;
    const double wheel_rpm = speed_mps_ * rpm_per_mps[gear_];
    if (wheel_rpm > up_rpm && gear_ + 1 < rpm_per_mps.size() && braking == 0) {
      ++gear_;
      cut_until_s_ = time_s_ + draw_.uniform(0.05, 0.1);
      busy_until_s_ = time_s_ + 0.5;
    } else if (gear_ > 0 && wheel_rpm < down_rpm && speed_mps_ * rpm_per_mps[gear_ - 1] < 0.93 * up_rpm) {
      --gear_;
      if (wanted_pct < 10) blip_until_s_ = time_s_ + 0.14;
      busy_until_s_ = time_s_ + 0.4;
    }
  }

  [[nodiscard]] double rough_torque(double throttle_pct) const {
    const double off_peak = (rpm_ - 6800) / 6000;
    return 265 * (1 - off_peak * off_peak) * std::min(1.0, (throttle_pct + 3) / (12 + rpm_ / 160)) - 15 - rpm_ / 300;
  }

  void record(bool cut) {
    points_->push_back({.time_s = time_s_,
                        .rpm = rpm_,
                        .throttle_pct = throttle_pct_,
                        .air_kpa = start_kpa_ - 0.0115 * height_m_,
                        .air_degc = start_degc_ + 2 * std::sin(phase_ + time_s_ / 210) - 0.0065 * height_m_,
                        .battery_v = 13.9 - 0.9 * std::exp(-rpm_ / 1200) + 0.15 * std::sin(time_s_ / 37),
                        .coolant_degc = 88 - 33 * std::exp(-time_s_ / 40),
                        .shift_cut = cut});
  }

  dice draw_;
  std::vector<bend> road_;
  std::vector<drive_point>* points_ = nullptr;
  double end_s_, start_kpa_ = 98, start_degc_ = 20, slope_ = 0.07, phase_ = 0;
  double shift_up_rpm_ = 8500, shift_down_rpm_ = 4500;
  double time_s_ = 0, speed_mps_ = 0, rpm_ = 1000, throttle_pct_ = 0, height_m_ = 0;
  double cut_until_s_ = 0, blip_until_s_ = 0, busy_until_s_ = 0;
  std::size_t gear_ = 0, steps_ = 0;
};

}  // namespace

drive stage_drive(std::uint64_t seed, double minutes) {
  return hill_climb{seed, minutes}.driven();
}

}  // namespace virtual_engine
