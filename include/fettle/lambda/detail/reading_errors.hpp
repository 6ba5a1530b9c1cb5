// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "fettle/fit/loss.hpp"
#include "fettle/lambda/detail/censored.hpp"
#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/noise_profile.hpp"
#include "fettle/lambda/detail/quarters.hpp"
#include "fettle/lambda/detail/residual_scale.hpp"
#include "fettle/lambda/detail/share_work.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle::detail {

/// What a standardised residual costs: the integral of weight times residual, twice.
[[nodiscard]] inline double robust_cost(loss kind, double standardised) noexcept {
  const double size = std::abs(standardised);
  if (kind == loss::huber) return size <= 1.345 ? size * size : 1.345 * (2 * size - 1.345);
  const double c2 = 4.685 * 4.685, inside = (std::max)(0.0, 1 - size * size / c2);
  return c2 / 3 * (1 - inside * inside * inside);
}

/// A row as weighted least squares sees it.
struct weighted_row {
  double residual = 0;
  double weight = 0;  ///< inverse variance, robust weight and temper included
  double robust = 0;  ///< the robust weight alone
};

/// The block of time in which a row lies, counted from the start of its part: rows of different blocks err independently.
[[nodiscard]] inline std::uint64_t block_of(const channel& series, std::size_t row, double block_s) {
  const auto& time_s = series.model->log().time_s;
  return static_cast<std::uint64_t>((time_s[row] - time_s[0]) / block_s);
}

/// How large the errors of readings are, sensor by sensor and place by place, as their residuals show it, and so how much
/// each row counts.
///
/// Readings of one pass share their errors, so each counts for less than an independent one: its variance is multiplied
/// by the temper, the variance inflation of sums over blocks of time. What one wall film per bank and one exhaust path
/// cannot explain of a transient is the same in every pass: at one place of operation it is one error, however many
/// readings share it. So is what a surface that is not bilinear leaves at a place of the map: without it, a minute held at
/// one point would bend the map there to that point's needs, and away from those around it.
class reading_errors {
 public:
  reading_errors(const std::vector<recording>& logs, const dynamic_table<double>& base, std::size_t sensors,
                 const identify_options& options)
      : options_{options}, profile_(sensors), state_(sensors), temper_(sensors, first_temper), misfit_(sensors) {
    for (const auto& axis : base.axes()) places_ *= 2 * axis.size() - 2;
    quarter_.resize(logs.size());
    share_work(options.threads, logs.size(), [&](std::size_t part) { quarter_[part] = quarters(logs[part], base); });
  }

  /// The quarter of a cell in which a row's gas was made: the surface between breakpoints is not bilinear, so residuals
  /// of a quarter share their sign.
  [[nodiscard]] std::uint32_t quarter(const channel& series, std::size_t row) const {
    return quarter_[series.part][series.origin.from[row].row];
  }
  [[nodiscard]] double noise(const channel& series, std::size_t row) const {
    return profile_[series.sensor].at(series.activity.empty() ? 0.0 : static_cast<double>(series.activity[row]));
  }

  /// A row's weight and residual under a loss.
  [[nodiscard]] weighted_row weigh(const channel& series, std::size_t row, loss kind) const {
    const auto [noise, wide, variance] = scales_of(series, row);
    weighted_row result{.residual = static_cast<double>(series.residual[row]), .weight = 1, .robust = 1};
    if (series.kind[row] == evidence_kind::measured) {
      result.robust = robust_weight(kind, result.residual / wide);
    } else {
      const double side = series.kind[row] == evidence_kind::lean_end ? 1 : -1;
      const censored_row censored = censored_row::at_end(side * result.residual, noise);
      result.residual = -side * censored.residual;
      result.weight = censored.weight;
      result.robust = robust_weight(loss::huber, result.residual / wide);
    }
    result.weight *= result.robust / variance;
    return result;
  }

  /// Learns the errors from the present residuals.
  void measure(const std::vector<channel>& channels, loss kind) {
    share_work(options_.threads, profile_.size(), [&](std::size_t s) { measure_sensor(channels, s, kind); });
    rows_.assign(places_, 0.0);
    for (const auto& states : state_)
      for (std::size_t q = 0; q < places_; ++q) rows_[q] += states[q].rows;
    if (kind != loss::tukey) return;
    measure_temper(channels);
    for (std::size_t s = 0; s < misfit_.size(); ++s)
      if (sees_all_cylinders(channels, s)) measure_misfit(s);
  }

  /// Mean robust cost of a row, in units of its noise, at the present residuals.
  [[nodiscard]] double cost(const std::vector<channel>& channels, loss kind) const {
    const auto total = reduce(options_.threads, channels.size(), cost_sum{}, [&](cost_sum& sum, std::size_t k) {
      const channel& series = channels[k];
      for (std::size_t i = 0; i < series.residual.size(); ++i) {
        if (series.kind[i] != evidence_kind::measured) continue;
        const auto [noise, wide, variance] = scales_of(series, i);
        sum.cost += wide * wide / variance * robust_cost(kind, static_cast<double>(series.residual[i]) / wide);
        sum.rows += noise * noise / variance;
      }
    });
    return total.rows > 0 ? total.cost / total.rows : 0;
  }

 private:
  struct row_scales {
    double noise;     // of one reading
    double wide;      // of its residual, model error included: what the robust weight compares it with
    double variance;  // of its error, with its share of the errors that readings have in common
  };
  struct cost_sum {
    double cost = 0, rows = 0;
    void merge(const cost_sum& other) {
      cost += other.cost;
      rows += other.rows;
    }
  };

  [[nodiscard]] row_scales scales_of(const channel& series, std::size_t row) const {
    const std::uint32_t place = quarter(series, row);
    const auto& here = state_[series.sensor][place];
    const double noise = this->noise(series, row), left = options_.model_error / usual_error;
    const double film = series.activity.empty() ? 0.0 : left * static_cast<double>(series.film_activity[row]);
    const double all = series.activity.empty() ? 0.0 : left * static_cast<double>(series.activity[row]);
    const double scale = (std::max)(noise, here.spread);
    return {noise, (std::max)(std::hypot(noise, all), here.scale),
            scale * scale * temper_[series.sensor] + film * film * rows_[place] +
                (all * all - film * film + misfit_[series.sensor]) * here.rows};
  }

  void measure_sensor(const std::vector<channel>& channels, std::size_t sensor, loss kind) {
    std::vector<std::vector<float>> places(places_);
    std::vector<std::pair<float, float>> pairs;
    for (const auto& series : channels) {
      if (series.sensor != sensor) continue;
      for (std::size_t i = 0; i < series.residual.size(); ++i) {
        if (series.kind[i] == evidence_kind::none) continue;
        places[quarter(series, i)].push_back(series.residual[i]);
        if (series.kind[i] == evidence_kind::measured) pairs.emplace_back(series.activity[i], series.residual[i]);
      }
    }
    if (!pairs.empty()) profile_[sensor] = noise_profile::from(std::move(pairs));
    state_[sensor].resize(places_);
    for (std::size_t q = 0; q < places_; ++q) state_[sensor][q].follow(places[q], kind == loss::tukey);
  }

  // The readings of a pipe are off by the coarse trims too.
  [[nodiscard]] static bool sees_all_cylinders(const std::vector<channel>& channels, std::size_t sensor) {
    return std::all_of(channels.begin(), channels.end(),
                       [&](const channel& series) { return series.sensor != sensor || series.cylinders.empty(); });
  }

  // The variance that the means of places have beyond what the noise of their readings explains.
  void measure_misfit(std::size_t sensor) {
    std::vector<double> sizes;
    double noise = 0;
    for (const auto& here : state_[sensor]) {
      const double variance = here.spread * here.spread * temper_[sensor] / (std::max)(here.rows, 1.0);
      if (here.rows < fewest_rows || variance > largest_mean_error * largest_mean_error) continue;
      sizes.push_back(std::abs(here.centre));
      noise += variance;
    }
    if (sizes.size() < fewest_places) return;
    noise /= static_cast<double>(sizes.size());
    const double size = median_scale(std::move(sizes));
    double& misfit = misfit_[sensor];
    misfit += (misfit > 0 ? residual_scale::pace : 1) * ((std::max)(size * size - noise, 0.0) - misfit);
  }

  void measure_temper(const std::vector<channel>& channels) {
    std::vector<double> together(temper_.size(), 0.0), apart(temper_.size(), 0.0);
    for (const auto& series : channels) {
      double sum = 0;
      for (std::size_t i = 0; i < series.residual.size(); ++i) {
        if (i > 0 && block_of(series, i, options_.block_s) != block_of(series, i - 1, options_.block_s)) {
          together[series.sensor] += sum * sum;
          sum = 0;
        }
        if (series.kind[i] != evidence_kind::measured) continue;
        const double noise = this->noise(series, i), standard = static_cast<double>(series.residual[i]) / noise;
        const double score = robust_weight(loss::tukey, standard) * standard;
        sum += score;
        apart[series.sensor] += score * score;
      }
      together[series.sensor] += sum * sum;
    }
    for (std::size_t s = 0; s < temper_.size(); ++s)
      if (apart[s] > 0) temper_[s] = std::clamp(together[s] / apart[s], 1.0, largest_temper);
  }

  static constexpr double first_temper = 4, largest_temper = 400;
  // Places whose mean is known well below the misfit of usual maps, some 0.1 to 0.5 %, and so many of them that their
  // median says something: no source.
  static constexpr double fewest_rows = 50, largest_mean_error = 0.003;
  static constexpr std::size_t fewest_places = 20;

  identify_options options_;
  std::size_t places_ = 1;                           // quarters of cells
  std::vector<std::vector<std::uint32_t>> quarter_;  // of every row, per part
  std::vector<noise_profile> profile_;               // per sensor
  std::vector<std::vector<residual_scale>> state_;   // per sensor and quarter
  std::vector<double> rows_;                         // that count, per quarter
  std::vector<double> temper_;                       // per sensor
  std::vector<double> misfit_;                       // of the map at a place of operation, variance, per sensor
};

}  // namespace fettle::detail
