// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "fettle/lambda/detail/lagged.hpp"
#include "fettle/lambda/detail/row_cells.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/exhaust_path.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// What every sensor of one log should read, given a correction of the map and the dynamics on the way.
///
/// A map V whose cells are multiplied by c gives at x the value V(x) c(x), c(x) = sum of omega_k c_k with
/// omega_k = w_k V_k / V(x): the map's own interpolation. When V c is the right map, the mixture formed at a moment is
/// phi = (fuel that reaches the cylinder / what V asks for) / c(x). It then travels and is smeared by the sensor;
/// lambda does not mix linearly, phi does. So the reading is linear in 1/c and, by one Gauss-Newton step, in c.
class reading_model {
 public:
  /// The log and the base map must outlive the model. Coordinates outside an axis hold its end.
  reading_model(const recording& log, const dynamic_table<double>& base) : log_{log} {
    log.check();
    prepare_inputs();
    cells_ = detail::row_cells(log, base, source_);
  }

  [[nodiscard]] const recording& log() const noexcept { return log_; }

  /// phi in the cylinders at each row if the base map were right: fuel through the wall films over the need.
  ///
  /// A bank that delivers more than its description is part of the need, as far as the share map gives it fuel: what is
  /// right with the description as it is depends on its flow only where the log was driven with other shares.
  [[nodiscard]] std::vector<double> uncorrected_phi(const dynamics& with) const {
    std::vector<double> result(log_.rows(), 0.0);
    std::vector<double> now(log_.bank_share.empty() ? 0 : result.size(), 0.0);
    for (std::size_t b = 0; b < flow_.size(); ++b) {
      const double share = with.banks[b].film_share.value, time_s = with.banks[b].film_time_s.value;
      const double factor = now.empty() ? 1 : with.banks[b].flow.value;
      detail::lagged film(flow_[b].empty() ? 0.0 : flow_[b].front(), time_s);
      for (std::size_t i = 0; i < result.size(); ++i) {
        const double from_wall = i == 0 ? film.value() : film.advance(log_.time_s[i] - log_.time_s[i - 1], flow_[b][i]);
        result[i] += factor * ((1 - share) * flow_[b][i] + share * from_wall);
      }
      for (std::size_t i = 0; i < now.size(); ++i) now[i] += factor * log_.bank_share[b][source_[i]];
    }
    for (std::size_t i = 0; i < result.size(); ++i)
      result[i] /= need_flow_[i] * (i < now.size() && now[i] > 0 ? now[i] : 1);
    return result;
  }

  /// One coordinate of the map at each row; a row without one repeats the row before.
  [[nodiscard]] std::vector<double> coordinate(std::size_t axis) const {
    std::vector<double> result(log_.rows());
    for (std::size_t i = 0; i < result.size(); ++i) {
      const double x = log_.at[axis][source_[i]];
      result[i] = std::isfinite(x) ? x : 0.0;
    }
    return result;
  }

  /// c(x) at each row.
  [[nodiscard]] std::vector<double> correction_at_rows(std::span<const double> correction) const {
    std::vector<double> result(log_.rows());
    for (std::size_t i = 0; i < result.size(); ++i) {
      double sum = 0;
      cells_.for_each(i, [&](std::size_t cell, double share) { sum += share * correction[cell]; });
      result[i] = sum;
    }
    return result;
  }

  /// When the gas read at each row was injected. How much gas fills the pipe depends on the air, so on the correction
  /// too.
  ///
  /// @param correction  c(x) at each row.
  [[nodiscard]] std::vector<moment> injected(std::size_t sensor, const std::vector<double>& correction,
                                             const dynamics& with) const {
    const double per_cycle = log_.cylinders * log_.sensors[sensor].flow_share / 120e3;  // mg * rpm to g/s
    std::vector<double> flow_g_s = correction;
    for (std::size_t i = 0; i < flow_g_s.size(); ++i) {
      flow_g_s[i] *= log_.stoichiometric_afr * need_flow_[i];
      for (const auto& bank : flow_) flow_g_s[i] += bank[i];
      flow_g_s[i] *= per_cycle;
    }
    return transport(log_.time_s, speed_rpm_, flow_g_s).injected(path(sensor, with));
  }

  /// A series formed at injection (phi in the cylinders) as the sensor's element smears it on arrival.
  [[nodiscard]] std::vector<double> arrived(const std::vector<double>& formed, const std::vector<moment>& from,
                                            double lag_s) const {
    std::vector<double> result(formed.size());
    if (formed.empty()) return result;
    detail::lagged element(at(formed, from[0]), lag_s);
    result[0] = element.value();
    for (std::size_t i = 1; i < formed.size(); ++i)
      result[i] = element.advance(log_.time_s[i] - log_.time_s[i - 1], at(formed, from[i]));
    return result;
  }

  /// What a sensor's readings come from, at one correction and one set of parameters.
  struct origin {
    std::vector<double> uncorrected;  ///< phi in the cylinders at each row if the base map were right
    std::vector<double> correction;   ///< c(x) at each row
    std::vector<moment> from;         ///< when the gas read at each row was injected
    double lag_s = 0, gain = 1;
  };
  [[nodiscard]] origin origin_of(std::size_t sensor, std::span<const double> correction, const dynamics& with) const {
    origin result{uncorrected_phi(with),
                  correction_at_rows(correction),
                  {},
                  with.sensors[sensor].lag_s.value,
                  with.sensors[sensor].gain.value};
    result.from = injected(sensor, result.correction, with);
    return result;
  }

  /// phi that a sensor should read at each row.
  [[nodiscard]] std::vector<double> predict(const origin& source) const {
    std::vector<double> phi = source.uncorrected;
    for (std::size_t i = 0; i < phi.size(); ++i) phi[i] /= source.correction[i];
    phi = arrived(phi, source.from, source.lag_s);
    for (double& value : phi) value *= source.gain;
    return phi;
  }

  /// Calls use(row, cells, factors) for every row: minus the slope of the logarithm of the sensor's phi in the logarithm
  /// of each cell's correction, lag[phi omega_k c_k / c] / lag[phi]. They sum to 1 over the cells of a row.
  ///
  /// @param correction  of every cell, as `origin` was made with.
  /// @param reading     what arrives at each row: `arrived` of the phi formed.
  template <class Use>
  void for_each_slope(const origin& at, std::span<const double> correction, std::span<const double> reading,
                      Use&& use) const {
    std::vector<double> factor(correction.size(), 0.0), emitted_factors;
    std::vector<bool> is_active(correction.size(), false);
    std::vector<std::uint32_t> active;
    const auto add_row = [&](std::size_t row, double weight) {
      const double slope = weight * at.uncorrected[row] / (at.correction[row] * at.correction[row]);
      cells_.for_each(row, [&](std::uint32_t cell, double share) {
        if (share == 0) return;
        if (!is_active[cell]) {
          is_active[cell] = true;
          active.insert(std::upper_bound(active.begin(), active.end(), cell), cell);
        }
        factor[cell] += slope * share * correction[cell];
      });
    };
    const auto add = [&](moment when, double weight) {
      if (!(when.fraction > 0)) return add_row(when.row, weight);
      add_row(when.row, weight * (1 - when.fraction));
      add_row(when.row + 1, weight * when.fraction);
    };
    detail::lag_clock clock(at.lag_s);
    for (std::size_t i = 0; i < log_.rows(); ++i) {
      if (i == 0) {
        add(at.from[0], 1);
      } else {
        const lag_step step = clock.over(log_.time_s[i] - log_.time_s[i - 1]);
        for (const std::uint32_t cell : active) factor[cell] *= step.keep;
        add(at.from[i - 1], step.before);
        add(at.from[i], step.now);
        std::erase_if(active, [&](std::uint32_t cell) {  // what is left of a cell passed long ago
          if (std::abs(factor[cell]) > forgotten * reading[i]) return false;
          is_active[cell] = false;
          factor[cell] = 0;
          return true;
        });
      }
      emitted_factors.clear();
      for (const std::uint32_t cell : active) emitted_factors.push_back(factor[cell] / reading[i]);
      use(i, active, emitted_factors);
    }
  }

  /// Adds the seconds that the engine ran with fuel at each cell.
  void add_usage(std::span<double> seconds) const {
    for (std::size_t i = 1; i < log_.rows(); ++i) {
      double fuel = 0;
      for (const auto& bank : flow_) fuel += bank[i];
      if (!(fuel > 0)) continue;
      cells_.for_each(
          i, [&](std::size_t cell, double share) { seconds[cell] += share * (log_.time_s[i] - log_.time_s[i - 1]); });
    }
  }

  /// Calls use(cell, share) for the cells around one row.
  template <class Use>
  void for_each_cell(std::size_t row, Use&& use) const {
    cells_.for_each(row, [&](std::size_t cell, double share) { use(cell, share); });
  }

  /// Adds a reading to what each cell had to do with at the moment of injection.
  void add_residency(moment when, double weight, std::span<double> sum) const {
    cells_.for_each(when.row, [&](std::size_t cell, double share) { sum[cell] += weight * share; });
  }

 private:
  static constexpr double forgotten = 1e-4;  // of phi: the last digit of a reading

  [[nodiscard]] static exhaust_path path(std::size_t sensor, const dynamics& with) {
    const auto& values = with.sensors[sensor];
    return {with.revolutions.value, values.pipe_gas_mass_g.value, values.latency_s.value, values.lag_s.value};
  }

  [[nodiscard]] static double at(const std::vector<double>& series, moment when) noexcept {
    if (!(when.fraction > 0)) return series[when.row];
    return series[when.row] + when.fraction * (series[when.row + 1] - series[when.row]);
  }

  // Flows per unit of time; a row with a missing input repeats the row before, so that nothing behind it is lost.
  void prepare_inputs() {
    flow_.assign(log_.fuel_mg.size(), std::vector<double>(log_.rows()));
    need_flow_.resize(log_.rows());
    speed_rpm_.resize(log_.rows());
    source_.resize(log_.rows());
    for (std::size_t i = 0; i < log_.rows(); ++i) {
      bool sound = log_.need_mg[i] > 0 && std::isfinite(log_.need_mg[i]) && log_.speed_rpm[i] > 0 &&
                   std::isfinite(log_.speed_rpm[i]);
      for (const auto& series : log_.at) sound = sound && std::isfinite(series[i]);
      for (const auto& series : log_.fuel_mg) sound = sound && std::isfinite(series[i]);
      source_[i] = sound || i == 0 ? i : source_[i - 1];
      const std::size_t from = source_[i];
      const bool usable = sound || from != i;
      need_flow_[i] = usable && log_.need_mg[from] > 0 ? log_.need_mg[from] * log_.speed_rpm[from] : 1.0;
      speed_rpm_[i] = usable && std::isfinite(log_.speed_rpm[from]) ? log_.speed_rpm[from] : 0.0;
      for (std::size_t b = 0; b < flow_.size(); ++b) {
        const double flow = log_.fuel_mg[b][from] * log_.speed_rpm[from];
        flow_[b][i] = std::isfinite(flow) ? flow : 0.0;
      }
    }
  }

  const recording& log_;
  std::vector<std::vector<double>> flow_;  // of each bank, mg * rpm
  std::vector<double> need_flow_, speed_rpm_;
  std::vector<std::size_t> source_;  // the row whose inputs stand for this row
  detail::row_cells cells_;
};

}  // namespace fettle
