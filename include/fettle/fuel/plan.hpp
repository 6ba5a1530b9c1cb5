// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "fettle/fuel/banks.hpp"
#include "fettle/map/interpolate.hpp"

namespace fettle {

/// What a staging plan must respect.
template <std::floating_point T>
struct staging_limits {
  flow_line<T> primary{};  ///< at the supply for which the plan is made: take the worst, low battery and pressure
  flow_line<T> secondary{};
  T largest_duty = 0;               ///< of either bank, 0 to 1
  T primary_reserve = 0;            ///< duty of the primary that the plan leaves free below the largest
  map_view<1, T> throttle_guard{};  ///< throttle below which the secondary stays shut, over speed; may not fall.
                                    ///< At or below the first throttle breakpoint it guards nothing.
  T slowest_rpm = 0;                ///< speed below which the secondary stays shut; at or below the first speed
                                    ///< breakpoint it shuts it at none
  T steepest_per_rpm = 0;           ///< change of share along the speed axis
  T steepest_per_throttle = 0;      ///< change of share along the throttle axis
  T wanted_share = 0;               ///< where nothing forbids it; 0 uses the secondary only where it is needed
};

/// Why a cell of a plan cannot be met.
enum class unmet_cell : std::uint8_t {
  none,
  demand_unusable,           ///< negative or not finite
  primary_smallest_pulse,    ///< less fuel than the primary's smallest pulse
  throttle_guard,            ///< the primary needs relief where throttle guard or speed keep the secondary shut
  capacity,                  ///< both banks together are too small
  secondary_smallest_pulse,  ///< the relief the primary needs is less than the secondary can give and no more fits
  steepness,                 ///< the share cannot rise fast enough to relieve the primary
};

/// Where a plan is written: buffers of the caller, one value per crossing of the demand map, in its order.
template <std::floating_point T>
struct staging_plan {
  T* share = nullptr;  ///< of the secondary bank
  T* primary_duty = nullptr;
  T* secondary_duty = nullptr;
  T* pulse_margin_ms = nullptr;  ///< smallest distance of a pulse in use from its smallest; NaN where nothing injects
  unmet_cell* unmet = nullptr;
};

/// Is a plan possible at all, and how much of it is met?
enum class plan_status : std::uint8_t {
  made,
  axes_unusable,
  injectors_unusable,
  duty_unusable,
  guard_unusable,
  steepness_unusable,
  share_unusable
};
struct plan_result {
  plan_status status = plan_status::made;
  std::size_t unmet_cells = 0;
};

namespace detail {

/// One crossing of a plan: what bounds its share.
template <std::floating_point T>
struct share_bounds {
  T needed = 0;    ///< to relieve the primary
  T smallest = 0;  ///< the secondary's smallest pulse
  T most = 0;      ///< the secondary's largest pulse, the primary's smallest, the guard
  unmet_cell unmet = unmet_cell::none;
};

template <std::floating_point T>
class planner {
 public:
  constexpr planner(const map_view<2, T>& demand_mg, const staging_limits<T>& limits,
                    const staging_plan<T>& out) noexcept
      : demand_{demand_mg},
        limits_{limits},
        out_{out},
        rows_{demand_mg.axes[0].size},
        columns_{demand_mg.axes[1].size} {}

  [[nodiscard]] constexpr plan_result run() noexcept {
    plan_result result{check(), 0};
    if (result.status != plan_status::made) return result;
    raise_towards_need();
    for (std::size_t row = 0; row < rows_; ++row) {
      for (std::size_t column = 0; column < columns_; ++column) apply_bounds(row, column);
    }
    while (lower_steep_steps()) {
    }
    for (std::size_t row = 0; row < rows_; ++row) {
      for (std::size_t column = 0; column < columns_; ++column) {
        report(row, column);
        if (out_.unmet[cell(row, column)] != unmet_cell::none) ++result.unmet_cells;
      }
    }
    return result;
  }

 private:
  [[nodiscard]] constexpr std::size_t cell(std::size_t row, std::size_t column) const noexcept {
    return row * columns_ + column;
  }
  [[nodiscard]] constexpr T speed_rpm(std::size_t row) const noexcept { return demand_.axes[0].points[row]; }
  [[nodiscard]] constexpr T throttle(std::size_t column) const noexcept { return demand_.axes[1].points[column]; }
  [[nodiscard]] constexpr T longest_ms(std::size_t row) const noexcept {
    return limits_.largest_duty * cycle_ms(speed_rpm(row));
  }

  [[nodiscard]] static constexpr bank_range<T> range(const flow_line<T>& line, T longest, fuel_fault& faults) noexcept {
    return range_of(weighed_bank<T>{checked_line<T>{line}, T{1}}, longest, faults);
  }

  [[nodiscard]] constexpr plan_status check() const noexcept {
    if (check_axis(demand_.axes[0].points, rows_).fault != axis_fault::none ||
        check_axis(demand_.axes[1].points, columns_).fault != axis_fault::none || !(speed_rpm(0) > T{0})) {
      return plan_status::axes_unusable;
    }
    const bool has_duty = limits_.largest_duty > T{0} && limits_.largest_duty <= T{1} &&
                          limits_.primary_reserve >= T{0} && limits_.primary_reserve < limits_.largest_duty;
    if (!has_duty) return plan_status::duty_unusable;
    fuel_fault faults = fuel_fault::none;
    (void)range(limits_.primary, longest_ms(0), faults);
    (void)range(limits_.secondary, longest_ms(0), faults);
    if (has(faults, fuel_fault::injector_unusable)) return plan_status::injectors_unusable;
    const axis_view<T>& guard_axis = limits_.throttle_guard.axes[0];
    if (check_axis(guard_axis.points, guard_axis.size).fault != axis_fault::none) return plan_status::guard_unusable;
    for (std::size_t i = 0; i < guard_axis.size; ++i) {
      const T* guard = limits_.throttle_guard.values;
      if (!(guard[i] >= guard[i > 0 ? i - 1 : 0])) return plan_status::guard_unusable;
    }
    if (!(limits_.slowest_rpm >= T{0})) return plan_status::guard_unusable;
    if (!(limits_.steepest_per_rpm > T{0} && limits_.steepest_per_throttle > T{0})) {
      return plan_status::steepness_unusable;
    }
    const bool has_share = limits_.wanted_share >= T{0} && limits_.wanted_share <= T{1};
    return has_share ? plan_status::made : plan_status::share_unusable;
  }

  /// A share above zero must not be interpolated into the guarded region: no cell that touches it may have a corner
  /// above zero. The guard rises, so the upper speed of the next cell and the lower throttle of the last one decide.
  [[nodiscard]] constexpr bool is_guarded(std::size_t row, std::size_t column) const noexcept {
    const auto& guard = limits_.throttle_guard;
    const T guard_here =
        row + 1 < rows_ ? interpolate(guard, speed_rpm(row + 1)) : guard.values[guard.axes[0].size - 1];
    return throttle(column > 0 ? column - 1 : 0) < guard_here || speed_rpm(row > 0 ? row - 1 : 0) < limits_.slowest_rpm;
  }

  [[nodiscard]] constexpr share_bounds<T> bounds(std::size_t row, std::size_t column) const noexcept {
    const T mass = demand_.values[cell(row, column)];
    if (!is_finite_from_zero(mass)) return {.unmet = unmet_cell::demand_unusable};
    if (mass == T{0}) return {};
    fuel_fault faults = fuel_fault::none;
    const T reserved_ms = longest_ms(row) - limits_.primary_reserve * cycle_ms(speed_rpm(row));
    const auto primary = range(limits_.primary, reserved_ms, faults);
    const auto secondary = range(limits_.secondary, longest_ms(row), faults);
    if (primary.possible && mass < primary.low_mg) return {.unmet = unmet_cell::primary_smallest_pulse};
    share_bounds<T> result;
    result.needed = mass > primary.high_mg ? (mass - primary.high_mg) / mass : T{0};
    result.smallest = secondary.low_mg / mass;
    if (is_guarded(row, column)) {
      if (result.needed > T{0}) result.unmet = unmet_cell::throttle_guard;
      return result;
    }
    const T most_mg = mass - primary.low_mg < secondary.high_mg ? mass - primary.low_mg : secondary.high_mg;
    result.most = most_mg / mass;
    if (result.smallest > result.most) {
      result.most = T{0};
      if (result.needed > T{0}) result.unmet = unmet_cell::secondary_smallest_pulse;
    }
    if (mass > primary.high_mg + secondary.high_mg) result.unmet = unmet_cell::capacity;
    return result;
  }

  /// The smallest share that relieves the primary everywhere it can, and no steeper than allowed.
  constexpr void raise_towards_need() const noexcept {
    for (std::size_t row = 0; row < rows_; ++row) {
      for (std::size_t column = 0; column < columns_; ++column) {
        const auto [needed, smallest, most, unmet] = bounds(row, column);
        out_.share[cell(row, column)] = needed < most ? needed : most;
      }
    }
    const auto raise = [&](std::size_t to, std::size_t from, T drop) {
      const T least = out_.share[from] - drop;
      if (out_.share[to] < least) out_.share[to] = least;
    };
    for (std::size_t column = 0; column < columns_; ++column) {
      for (std::size_t row = 1; row < rows_; ++row) raise(cell(row, column), cell(row - 1, column), row_step(row));
      for (std::size_t row = rows_; --row > 0;) raise(cell(row - 1, column), cell(row, column), row_step(row));
    }
    for (std::size_t row = 0; row < rows_; ++row) {
      for (std::size_t j = 1; j < columns_; ++j) raise(cell(row, j), cell(row, j - 1), column_step(j));
      for (std::size_t j = columns_; --j > 0;) raise(cell(row, j - 1), cell(row, j), column_step(j));
    }
  }

  /// The largest change allowed between a crossing and the one before it.
  [[nodiscard]] constexpr T row_step(std::size_t row) const noexcept {
    return limits_.steepest_per_rpm * (speed_rpm(row) - speed_rpm(row - 1));
  }
  [[nodiscard]] constexpr T column_step(std::size_t column) const noexcept {
    return limits_.steepest_per_throttle * (throttle(column) - throttle(column - 1));
  }

  constexpr void apply_bounds(std::size_t row, std::size_t column) const noexcept {
    const auto [needed, smallest, most, unmet] = bounds(row, column);
    T& share = out_.share[cell(row, column)];
    if (share < limits_.wanted_share) share = limits_.wanted_share;
    if (share > T{0} && share < smallest) share = smallest;
    if (share > most) share = most;
    if (share < smallest) share = T{0};
  }

  /// Lowers shares that rise too steeply from a neighbour. From zero the first step may be the secondary's smallest
  /// pulse, however steep: there is nothing between. Shares only ever go down, so this ends.
  [[nodiscard]] constexpr bool lower_steep_steps() const noexcept {
    bool has_changed = false;
    for (std::size_t row = 0; row < rows_; ++row) {
      for (std::size_t column = 0; column < columns_; ++column) {
        T& share = out_.share[cell(row, column)];
        if (share == T{0}) continue;
        const T smallest = bounds(row, column).smallest;
        T most = share;
        const auto hold = [&](std::size_t neighbour, T step) {
          const T there = out_.share[neighbour];
          const T allowed = there == T{0} && step < smallest ? smallest : there + step;
          if (allowed < most) most = allowed;
        };
        if (row > 0) hold(cell(row - 1, column), row_step(row));
        if (row + 1 < rows_) hold(cell(row + 1, column), row_step(row + 1));
        if (column > 0) hold(cell(row, column - 1), column_step(column));
        if (column + 1 < columns_) hold(cell(row, column + 1), column_step(column + 1));
        if (most < smallest) most = T{0};
        if (most < share) {
          share = most;
          has_changed = true;
        }
      }
    }
    return has_changed;
  }

  constexpr void report(std::size_t row, std::size_t column) const noexcept {
    const std::size_t here = cell(row, column);
    const auto [needed, smallest, most, unmet] = bounds(row, column);
    out_.unmet[here] = unmet;
    const T share = out_.share[here], mass = demand_.values[here];
    // The relief survives rounding of share and mass, no more.
    if (unmet == unmet_cell::none && share < needed * (T{1} - T{8} * std::numeric_limits<T>::epsilon())) {
      out_.unmet[here] = unmet_cell::steepness;
    }
    const bool has_mass = is_finite_from_zero(mass);
    const T cycle = cycle_ms(speed_rpm(row));
    const T primary_ms = has_mass ? pulse_ms(limits_.primary, mass - share * mass) : T{0};
    const T secondary_ms = has_mass ? pulse_ms(limits_.secondary, share * mass) : T{0};
    out_.primary_duty[here] = duty(primary_ms, cycle);
    out_.secondary_duty[here] = duty(secondary_ms, cycle);
    T margin = std::numeric_limits<T>::quiet_NaN();
    const auto narrow = [&](const flow_line<T>& line, T pulse) {
      const T above = pulse - (line.dead_time_ms + lengthened(line.short_pulse_ms, line.smallest_open_ms));
      if (pulse > T{0} && !(above >= margin)) margin = above;
    };
    narrow(limits_.primary, primary_ms);
    narrow(limits_.secondary, secondary_ms);
    out_.pulse_margin_ms[here] = margin;
  }

  const map_view<2, T>& demand_;
  const staging_limits<T>& limits_;
  const staging_plan<T>& out_;
  std::size_t rows_, columns_;
};

}  // namespace detail

/// Plans where the second bank comes in: its share of the fuel over speed and throttle, from what the injectors can do.
///
/// @param demand_mg  fuel per cylinder and cycle at every crossing of speed in rpm and throttle in percent.
/// @param out        buffers of the caller; written only when the status is `made`.
///
/// The share is zero, interpolated too, below the throttle guard (spray on a nearly closed throttle wets it: common
/// practice, no source) and below the slowest speed; zero or enough for the secondary's smallest pulse; large enough to
/// keep the primary's duty below its limit less the reserve; nowhere steeper than allowed, except that the step up from
/// zero may be the smallest pulse. Where not all of this is possible the guard comes first, then the smallest pulse and
/// the capacity, then the steepness, and the cell is named.
///
/// Errors: status; nothing is written then. Duties above the limit stand only in cells that are named.
/// Source: no source: these rules are the project's own, and the tests hold it to them.
/// Cost:   a few passes over the cells; no heap.
template <std::floating_point T>
[[nodiscard]] constexpr plan_result plan_share(const map_view<2, T>& demand_mg, const staging_limits<T>& limits,
                                               const staging_plan<T>& out) noexcept {
  return detail::planner<T>{demand_mg, limits, out}.run();
}

}  // namespace fettle
