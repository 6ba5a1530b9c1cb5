// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "fettle/lambda/detail/film_course.hpp"
#include "fettle/lambda/detail/lagged.hpp"
#include "fettle/lambda/detail/row_cells.hpp"
#include "fettle/lambda/detail/row_inputs.hpp"
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
  reading_model(const recording& log, const dynamic_table<double>& base)
      : log_{log}, inputs_{log}, cells_{log, base, inputs_.source} {
    const std::vector<double> nowhere(log.rows(), 0.0);
    for (std::size_t a = 0; a < places_.size(); ++a)
      places_[a] = a < base.rank() ? detail::places_on(base.axes()[a], coordinate(a)) : nowhere;
  }

  [[nodiscard]] const recording& log() const noexcept { return log_; }

  /// phi in the cylinders at each row if the base map were right: fuel through the wall films over the need.
  ///
  /// A bank that delivers more than its description is part of the need, as far as the share map gives it fuel: what is
  /// right with the description as it is depends on its flow only where the log was driven with other shares.
  [[nodiscard]] std::vector<double> uncorrected_phi(const dynamics& with) const {
    std::vector<double> result(log_.rows(), 0.0);
    for (std::size_t b = 0; b < inputs_.flow.size(); ++b) {
      const detail::film_course film = film_of(b, with);
      for (std::size_t i = 0; i < result.size(); ++i)
        result[i] += flow_factor(b, with) * film.delivered(i, inputs_.flow[b][i]);
    }
    divide_by_need(with, result);
    return result;
  }

  /// The wall film of a bank over the log.
  [[nodiscard]] detail::film_course film_of(std::size_t bank, const dynamics& with) const {
    return {with.banks[bank], log_.time_s, inputs_.flow[bank], places_};
  }

  /// Slopes of `uncorrected_phi` in the logarithm of a film parameter of a bank.
  ///
  /// @param film   of that bank, as `film_of` gives it.
  /// @param which  of its parameters: 0 share, 1 time, 2 and 3 its trends.
  [[nodiscard]] std::vector<double> film_slope(const detail::film_course& film, std::size_t bank, std::size_t which,
                                               const dynamics& with) const {
    std::vector<double> result = film.slope(which, places_);
    for (double& slope : result) slope *= flow_factor(bank, with);
    divide_by_need(with, result);
    return result;
  }

  /// One coordinate of the map at each row; a row without one repeats the row before.
  [[nodiscard]] std::vector<double> coordinate(std::size_t axis) const {
    std::vector<double> result(log_.rows());
    for (std::size_t i = 0; i < result.size(); ++i) {
      const double x = log_.at[axis][inputs_.source[i]];
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

  /// When the gas read at each row was injected. How much gas fills the pipe depends on the air, so on c(x).
  ///
  /// @param correction  c(x) at each row.
  [[nodiscard]] std::vector<moment> injected(std::size_t sensor, const std::vector<double>& correction,
                                             const dynamics& with) const {
    const double per_cycle = log_.cylinders * log_.sensors[sensor].flow_share / 120e3;  // mg * rpm to g/s
    std::vector<double> flow_g_s = correction;
    for (std::size_t i = 0; i < flow_g_s.size(); ++i) {
      flow_g_s[i] *= log_.stoichiometric_afr * inputs_.need_flow[i];
      for (const auto& bank : inputs_.flow) flow_g_s[i] += bank[i];
      flow_g_s[i] *= per_cycle;
    }
    return transport(log_.time_s, inputs_.speed_rpm, flow_g_s).injected(path(sensor, with));
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
      for (const auto& bank : inputs_.flow) fuel += bank[i];
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

  // The flow of a bank plays no part where nothing is said of the shares.
  [[nodiscard]] double flow_factor(std::size_t bank, const dynamics& with) const {
    return log_.bank_share.empty() ? 1 : with.banks[bank].flow.value;
  }

  void divide_by_need(const dynamics& with, std::vector<double>& flow) const {
    for (std::size_t i = 0; i < flow.size(); ++i) {
      double described = 0;
      for (std::size_t b = 0; b < log_.bank_share.size(); ++b)
        described += flow_factor(b, with) * log_.bank_share[b][inputs_.source[i]];
      flow[i] /= inputs_.need_flow[i] * (described > 0 ? described : 1);
    }
  }

  [[nodiscard]] static exhaust_path path(std::size_t sensor, const dynamics& with) {
    const auto& values = with.sensors[sensor];
    return {with.revolutions.value, values.pipe_gas_mass_g.value, values.latency_s.value, values.lag_s.value};
  }

  [[nodiscard]] static double at(const std::vector<double>& series, moment when) noexcept {
    if (!(when.fraction > 0)) return series[when.row];
    return series[when.row] + when.fraction * (series[when.row + 1] - series[when.row]);
  }

  const recording& log_;
  detail::row_inputs inputs_;
  detail::map_places places_;
  detail::row_cells cells_;
};

}  // namespace fettle
