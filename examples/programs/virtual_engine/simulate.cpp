// SPDX-License-Identifier: MIT
#include "virtual_engine/simulate.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>

#include "fettle/error.hpp"
#include "virtual_engine/exhaust.hpp"
#include "virtual_engine/film.hpp"
#include "virtual_engine/misfire.hpp"

namespace virtual_engine {
namespace {

/// Fills a log row by row, each column with its own number of decimals, as the file will have it.
class row_writer {
 public:
  /// @param wanted  the names of the columns to keep; empty: all
  row_writer(fettle::log_table& table, std::size_t rows, const std::vector<std::string>& wanted)
      : table_{&table}, rows_{rows}, wanted_{&wanted} {}

  void column(std::string name, int decimals) {
    const bool kept = wanted_->empty() || std::find(wanted_->begin(), wanted_->end(), name) != wanted_->end();
    columns_.push_back({kept ? table_->names.size() : not_kept, std::pow(10.0, decimals)});
    if (!kept) return;
    table_->names.push_back(std::move(name));
    table_->columns.emplace_back().reserve(rows_);
  }

  void add(double value) {
    const auto [index, scale] = columns_[next_];
    if (index != not_kept) table_->columns[index].push_back(std::nearbyint(value * scale) / scale);
    if (++next_ == columns_.size()) next_ = 0;
  }

 private:
  static constexpr std::size_t not_kept = std::numeric_limits<std::size_t>::max();
  struct column_form {
    std::size_t index;  // in the table
    double scale;
  };
  fettle::log_table* table_;
  std::size_t rows_, next_ = 0;
  const std::vector<std::string>* wanted_;
  std::vector<column_form> columns_;
};

[[nodiscard]] double mean(const per_cylinder& values) {
  double sum = 0;
  for (const double value : values) sum += value;
  return sum / cylinders;
}

/// One run of the engine in steps of 1 ms, seen through a log.
class simulation {
 public:
  simulation(const engine& e, controller& driver, const drive& world, const run_options& options)
      : engine_{e},
        driver_{driver},
        world_{world},
        options_{options},
        noise_{options.seed, 5},
        gas_{e.revolutions, e.pipe_excess},
        misfires_{e.misfire, options.seed},
        log_{result_.log, rows(), options_.columns},
        truth_{result_.truth, options.keep_truth ? rows() : 0, options_.columns} {
    if (options.rate_hz < 1 || 1000 % options.rate_hz != 0)
      throw fettle::error("virtual engine: log rate " + std::to_string(options.rate_hz) + " Hz must divide 1000");
    for (std::size_t i = 0; i < (options.cylinder_sensors ? e.sensor.size() : 1); ++i)
      sensing_.emplace_back(e.sensor[i], 0.001);
    fresh_.assign(sensing_.size(), false);
    for (std::size_t b = 0; b < banks; ++b) walls_[b].assign(cylinders, wall{e.bank[b].film, step_ms});
    name_columns();
  }

  [[nodiscard]] run_result run() {
    const auto steps = static_cast<std::size_t>(std::llround(world_.duration_s() * 1000));
    const auto steps_per_row = static_cast<std::size_t>(1000 / options_.rate_hz);
    for (std::size_t step = 0; step < steps; ++step) {
      const bool logged = step % steps_per_row == steps_per_row / 2;  // the logger's clock is not the driver's
      now_ = world_.at(static_cast<double>(step) * 0.001, cursor_);
      if (logged || step == 0) measure();
      command();
      burn(step == 0);
      for (std::size_t i = 0; i < sensing_.size(); ++i) {
        sensing_[i].step(gas_);
        if (const int rate = engine_.sensor[i].rate_hz;
            rate > 0 && (step + 7 * i) % static_cast<std::size_t>(1000 / rate) == 0)
          fresh_[i] = true;
      }
      if (logged) write();
    }
    return std::move(result_);
  }

 private:
  static constexpr double step_ms = 1;

  [[nodiscard]] std::size_t rows() const {
    return static_cast<std::size_t>(world_.duration_s() * std::max(options_.rate_hz, 1)) + 1;
  }

  void name_columns() {
    log_.column("time_s", 3);
    log_.column("rpm", 1);
    log_.column("throttle_pct", 2);
    log_.column("pulse_primary_ms", 3);
    log_.column("pulse_secondary_ms", 3);
    log_.column("lambda_target", 4);
    for (std::size_t i = 0; i < sensing_.size(); ++i) log_.column(engine_.sensor[i].column, 4);
    for (const auto& [name, decimals] : {std::pair{"battery_v", 2},
                                         {"air_kPa", 2},
                                         {"air_degC", 1},
                                         {"coolant_degC", 1},
                                         {"fuel_kPa", 1},
                                         {"fuel_cut", 0}})
      log_.column(name, decimals);
    if (misfires_.may_happen()) log_.column("misfire", 0);
    if (world_.measures_torque) log_.column("torque_nm", 2);
    if (!options_.keep_truth) return;
    for (const char* name : {"air_mg", "fuel_mg", "film_primary_mg", "film_secondary_mg", "phi_collector"})
      truth_.column(name, 9);
    for (std::size_t i = 1; i <= cylinders; ++i) truth_.column("phi_" + std::to_string(i), 9);
  }

  /// The slow channels: read once per row, by controller and logger alike.
  void measure() {
    const auto noisy = [&](double value, double deviation) {
      return options_.noise ? value + deviation * noise_.normal() : value;
    };
    seen_ = {.time_s = now_.time_s,
             .rpm = now_.rpm,
             .throttle_pct = now_.throttle_pct,
             .battery_v = noisy(now_.battery_v, 0.02),
             .air_kpa = noisy(now_.air_kpa, 0.04),
             .air_degc = noisy(now_.air_degc, 0.1),
             .coolant_degc = noisy(now_.coolant_degc, 0.1)};
    fuel_kpa_ = noisy(engine_.fuel_kpa, 1);
  }

  void command() {
    seen_.time_s = now_.time_s;
    seen_.rpm = now_.rpm;
    seen_.throttle_pct = now_.throttle_pct;
    seen_.shift_cut = now_.shift_cut;
    commanded_ = driver_(std::as_const(seen_));
  }

  /// Injection, wall, cylinder: what happens within one step.
  void burn(bool first) {
    const double cycle_ms = 120000 / now_.rpm;
    const double mean_air_mg =
        engine_.air_mg(now_.rpm, now_.throttle_pct) * engine::density(now_.air_kpa, now_.air_degc);
    const per_cylinder factor = engine_.air_factors(now_.rpm);
    for (std::size_t b = 0; b < banks; ++b)
      if (const wall_film& film = engine_.bank[b].film; film.varies())
        for (auto& wall : walls_[b]) wall.change(film.at(mean_air_mg / full_charge_mg, now_.rpm));
    misfires_.step(step_ms / 60000 * now_.rpm, mean_air_mg / full_charge_mg);
    per_cylinder fuel_mg{};  // per step
    for (std::size_t i = 0; i < cylinders; ++i) {
      air_mg_[i] = factor[i] * mean_air_mg;
      for (std::size_t b = 0; b < banks; ++b) {
        const double pulse_ms = std::min(commanded_.pulse_ms[b][i], cycle_ms);
        const double flow = pulse_ms > 0 ? engine_.bank[b].mass_mg(pulse_ms, now_.battery_v) / cycle_ms : 0;
        if (first) walls_[b][i].settle(flow);
        fuel_mg[i] += walls_[b][i].step(flow) * step_ms;
      }
    }
    per_cylinder air_of_step_mg;
    for (std::size_t i = 0; i < cylinders; ++i) {
      air_of_step_mg[i] = air_mg_[i] * step_ms / cycle_ms;
      fuel_mg_[i] = fuel_mg[i] * cycle_ms / step_ms;
    }
    gas_.add(step_ms / 60000 * now_.rpm, air_of_step_mg, fuel_mg, engine_.stoichiometric_afr, misfires_.seen_fuel());
  }

  void write() {
    const double pulse[banks]{mean(commanded_.pulse_ms[0]), mean(commanded_.pulse_ms[1])};
    for (const double value : {now_.time_s, now_.rpm, now_.throttle_pct, pulse[0], pulse[1], commanded_.lambda_target})
      log_.add(value);
    dice* const noise = options_.noise ? &noise_ : nullptr;
    for (std::size_t i = 0; i < sensing_.size(); ++i) {
      const bool sampled = engine_.sensor[i].rate_hz == 0 || fresh_[i];
      log_.add(sampled ? sensing_[i].lambda(noise) : std::numeric_limits<double>::quiet_NaN());
      fresh_[i] = false;
    }
    for (const double value :
         {seen_.battery_v, seen_.air_kpa, seen_.air_degc, seen_.coolant_degc, fuel_kpa_, commanded_.cut ? 1.0 : 0.0})
      log_.add(value);
    if (misfires_.may_happen()) log_.add(misfires_.count());
    if (world_.measures_torque) write_torque();
    if (options_.keep_truth) write_truth();
  }

  void write_torque() {
    double mass[banks]{};
    for (std::size_t b = 0; b < banks; ++b)
      for (const double pulse_ms : commanded_.pulse_ms[b]) mass[b] += engine_.bank[b].mass_mg(pulse_ms, now_.battery_v);
    const double share = mass[1] > 0 ? mass[1] / (mass[0] + mass[1]) : 0;
    per_cylinder phi;
    for (std::size_t i = 0; i < cylinders; ++i) phi[i] = misfires_.happens(i) ? 0 : gas_.phi_made()[i + 1];
    const double torque_nm = engine_.torque_nm(now_.rpm, now_.throttle_pct, air_mg_, phi, share);
    log_.add(torque_nm * (1 + world_.torque_drift) + (options_.noise ? 0.8 * noise_.normal() : 0));
  }

  void write_truth() {
    double film_mg[banks]{};
    for (std::size_t b = 0; b < banks; ++b)
      for (const auto& wall : walls_[b]) film_mg[b] += wall.mass_mg() / cylinders;
    for (const double value : {mean(air_mg_), mean(fuel_mg_), film_mg[0], film_mg[1]}) truth_.add(value);
    for (const double phi : gas_.phi_made()) truth_.add(phi);
  }

  const engine& engine_;
  controller& driver_;
  const drive& world_;
  run_options options_;
  dice noise_;
  run_result result_;
  exhaust gas_;
  misfiring misfires_;
  std::vector<sensing> sensing_;
  std::vector<bool> fresh_;  // a slow sensor has a sample that no row has shown yet
  std::array<std::vector<wall>, banks> walls_;
  row_writer log_, truth_;
  std::size_t cursor_ = 0;
  drive_point now_;
  controller_input seen_;
  injection commanded_;
  per_cylinder air_mg_{}, fuel_mg_{};  // per cycle
  double fuel_kpa_ = 0;
};

}  // namespace

run_result simulate(const engine& e, controller driver, const drive& world, const run_options& options) {
  return simulation{e, driver, world, options}.run();
}

}  // namespace virtual_engine
