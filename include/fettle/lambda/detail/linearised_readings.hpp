// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/estimate.hpp"
#include "fettle/lambda/detail/parameter_slope.hpp"
#include "fettle/lambda/detail/share_work.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_stencil.hpp"

namespace fettle::detail {

/// The readings of all sensors at one estimate: what they differ by from their predictions, and the slopes of these in
/// every unknown.
class linearised_readings {
 public:
  linearised_readings(const std::vector<recording>& logs, const dynamic_table<double>& base, const dynamics& start,
                      const identify_options& options, const unknowns& all)
      : options_{options}, start_{start}, all_{all} {
    for (const auto& log : logs) {
      if (names_.empty() || names_.back() != log.name) names_.push_back(log.name);
      log_of_.push_back(names_.size() - 1);
      models_.emplace_back(log, base);
      screened_.push_back(screen_rows(log, base.axes(), options.screen));
    }
    make_channels();
  }

  [[nodiscard]] const estimate& now() const noexcept { return now_; }
  [[nodiscard]] const std::vector<channel>& channels() const noexcept { return channels_; }
  [[nodiscard]] const std::vector<reading_model>& models() const noexcept { return models_; }
  /// What is wrong with each row as a moment of injection, per model.
  [[nodiscard]] const std::vector<std::vector<rejection>>& screened() const noexcept { return screened_; }
  [[nodiscard]] const std::vector<std::string>& log_names() const noexcept { return names_; }

  /// Predicts every reading at another estimate; slopes stay as they are.
  void predict(std::vector<double> value) {
    now_ = estimate::at(all_, std::move(value), start_, names_.size());
    struct formed_mixture {
      std::vector<double> uncorrected, correction, phi;
    };
    std::vector<formed_mixture> formed(models_.size());
    share_work(options_.threads, models_.size(), [&](std::size_t m) {
      formed[m] = {models_[m].uncorrected_phi(now_.with), models_[m].correction_at_rows(now_.correction), {}};
      formed[m].phi = formed[m].uncorrected;
      for (std::size_t i = 0; i < formed[m].phi.size(); ++i) formed[m].phi[i] /= formed[m].correction[i];
    });
    share_work(options_.threads, channels_.size(), [&](std::size_t k) {
      channel& series = channels_[k];
      const formed_mixture& made = formed[series.part];
      series.origin = {made.uncorrected, made.correction,
                       series.model->injected(series.sensor, made.correction, now_.with),
                       now_.with.sensors[series.sensor].lag_s.value, 1};
      series.reading = series.model->arrived(made.phi, series.origin.from, series.origin.lag_s);
      classify(series, screened_[series.part], options_.screen);
      if (!series.cylinders.empty()) read_trim_coordinates(series);
      find_residuals(series);
    });
    leave_out_short_stays();
  }

  /// Finds the slopes about the present estimate.
  void find_slopes() {
    share_work(options_.threads, channels_.size(), [&](std::size_t k) {
      channel& series = channels_[k];
      series.slope.assign(all_.scalars().size(), {});
      series.activity.assign(series.reading.size(), 0.0F);
      series.film_activity = series.activity;
      parameter_slopes slopes(series, now_.with);
      for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
        if (all_.scalars()[p].what != scalar_unknown::kind::parameter) continue;
        series.slope[p] = slopes.in(all_.scalars()[p].index);
        const parameter_place part(all_.scalars()[p].index, start_.banks.size());
        for (std::size_t i = 0; !part.is_flow && !part.is_trend && i < series.slope[p].size(); ++i) {
          const float square = series.slope[p][i] * series.slope[p][i];
          series.activity[i] += square;
          if (part.is_film) series.film_activity[i] += square;
        }
      }
      for (auto* activity : {&series.activity, &series.film_activity})
        for (float& x : *activity) x = static_cast<float>(usual_error) * std::sqrt(x);
    });
  }

  /// Calls use(row, unknowns, factors) for every row of a channel that counts: the slopes of its prediction.
  template <class Use>
  void for_each_row(const channel& series, Use&& use) const {
    std::vector<std::uint32_t> columns;
    std::vector<double> factors;
    const auto first_scalar = static_cast<std::uint32_t>(all_.first_scalar());
    series.model->for_each_slope(series.origin, now_.correction, series.reading,
                                 [&](std::size_t row, const auto& cells, const auto& slopes) {
                                   if (series.kind[row] == evidence_kind::none) return;
                                   columns.assign(cells.begin(), cells.end());
                                   factors.clear();
                                   for (const double slope : slopes) factors.push_back(-slope);
                                   add_trims(series, row, columns, factors);
                                   for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
                                     const double slope = scalar_slope(series, row, p, cells, slopes);
                                     if (slope == 0) continue;
                                     columns.push_back(first_scalar + static_cast<std::uint32_t>(p));
                                     factors.push_back(slope);
                                   }
                                   use(row, columns, factors);
                                 });
  }

  /// Calls use(channel, row) for every reading that counts, in the order of time within each part of a log.
  template <class Use>
  void for_each_reading(Use&& use) const {
    for (std::size_t part = 0; part < models_.size(); ++part)
      for (std::size_t row = 0; row < models_[part].log().rows(); ++row)
        for (const channel& series : channels_)
          if (series.part == part && series.kind[row] != evidence_kind::none) use(series, row);
  }

  /// The sum over all channels: add(sum, channel) for each. Everything that a round sums up passes here.
  template <class Sum, class Add>
  [[nodiscard]] Sum sum_over_channels(const Sum& empty, const Add& add) const {
    return reduce(options_.threads, channels_.size(), empty, [&](Sum& sum, std::size_t k) { add(sum, channels_[k]); });
  }

 private:
  // A stay of a sensor with too few readings in its log counts for nothing.
  void leave_out_short_stays() {
    if (all_.cylinders() == 0) return;
    std::vector<std::vector<double>> readings(names_.size(), std::vector<double>(start_.sensors.size(), 0.0));
    for (const auto& series : channels_)
      readings[series.log][series.sensor] +=
          static_cast<double>(std::count(series.kind.begin(), series.kind.end(), evidence_kind::measured));
    for (auto& series : channels_)
      if (readings[series.log][series.sensor] < options_.fewest_readings)
        series.kind.assign(series.kind.size(), evidence_kind::none);
  }

  void make_channels() {
    for (std::size_t m = 0; m < models_.size(); ++m)
      for (std::size_t s = 0; s < models_[m].log().sensors.size(); ++s) {
        const sensor_trace& trace = models_[m].log().sensors[s];
        if (std::all_of(trace.lambda.begin(), trace.lambda.end(), [](double x) { return std::isnan(x); })) continue;
        channel series{.model = &models_[m], .part = m, .log = log_of_[m], .sensor = s};
        for (const std::size_t cylinder : trace.cylinders) series.cylinders.push_back(cylinder - 1);
        std::sort(series.cylinders.begin(), series.cylinders.end());
        channels_.push_back(std::move(series));
      }
  }

  void add_trims(const channel& series, std::size_t row, std::vector<std::uint32_t>& columns,
                 std::vector<double>& factors) const {
    if (series.cylinders.empty()) return;
    const auto at = trim_stencil(series, row);
    for (const std::size_t cylinder : series.cylinders)
      for (std::size_t k = 0; k < at.size; ++k) {
        if (at.weight[k] == 0) continue;
        columns.push_back(static_cast<std::uint32_t>(all_.first_trim(cylinder) + at.cell[k]));
        factors.push_back(-at.weight[k] / static_cast<double>(series.cylinders.size()));
      }
  }

  [[nodiscard]] dynamic_stencil<double> trim_stencil(const channel& series, std::size_t row) const {
    const std::array<double, 2> x{static_cast<double>(series.trim_at[row][0]),
                                  static_cast<double>(series.trim_at[row][1])};
    return stencil_at(all_.trim_axes(), std::span<const double>(x));
  }

  template <class Cells, class Slopes>
  [[nodiscard]] double scalar_slope(const channel& series, std::size_t row, std::size_t p, const Cells& cells,
                                    const Slopes& slopes) const {
    const scalar_unknown& what = all_.scalars()[p];
    double sum = 0;
    switch (what.what) {
      case scalar_unknown::kind::level:
        return -1;
      case scalar_unknown::kind::tilt:
        for (std::size_t k = 0; k < cells.size(); ++k) sum -= slopes[k] * all_.place(what.index, cells[k]);
        return sum;
      case scalar_unknown::kind::trim_level:
        return std::find(series.cylinders.begin(), series.cylinders.end(), what.index) == series.cylinders.end()
                   ? 0
                   : -1 / static_cast<double>(series.cylinders.size());
      case scalar_unknown::kind::shared_gain:
        return is_calibrated(start_.sensors[series.sensor], options_.spreads) ? 0 : 1;
      case scalar_unknown::kind::log_level:
        return what.index == series.log ? 1 : 0;
      case scalar_unknown::kind::gain:
        return what.index == series.sensor ? 1 : 0;
      default:
        return series.slope[p].empty() ? 0 : static_cast<double>(series.slope[p][row]);
    }
  }

  void read_trim_coordinates(channel& series) const {
    series.trim_at.assign(series.reading.size(), {});
    for (std::size_t a = 0; a < all_.trim_axes().size(); ++a) {
      const auto lagged = series.model->arrived(series.model->coordinate(options_.trims.along[a]), series.origin.from,
                                                series.origin.lag_s);
      for (std::size_t i = 0; i < lagged.size(); ++i) series.trim_at[i][a] = static_cast<float>(lagged[i]);
    }
  }

  void find_residuals(channel& series) const {
    const sensor_trace& trace = series.trace();
    const sensor_range range = measuring_range(trace);
    const double shift = now_.gain[series.sensor] + now_.log_level[series.log];
    series.residual.assign(series.reading.size(), 0.0F);
    for (std::size_t i = 0; i < series.reading.size(); ++i) {
      if (series.kind[i] == evidence_kind::none) continue;
      double predicted = std::log(series.reading[i]) + shift;
      if (!series.cylinders.empty()) {
        const auto stencil = trim_stencil(series, i);
        for (const std::size_t cylinder : series.cylinders)
          for (std::size_t k = 0; k < stencil.size; ++k)
            predicted -= stencil.weight[k] * now_.trim[cylinder * all_.trim_cells() + stencil.cell[k]] /
                         static_cast<double>(series.cylinders.size());
      }
      double lambda = trace.lambda[i];
      if (series.kind[i] == evidence_kind::lean_end) lambda = (std::min)(lambda, range.highest * (1 - end_margin));
      if (series.kind[i] == evidence_kind::rich_end) lambda = (std::max)(lambda, range.lowest * (1 + end_margin));
      series.residual[i] = static_cast<float>(-std::log(lambda) - predicted);
    }
  }

  identify_options options_;
  dynamics start_;
  const unknowns& all_;
  std::vector<std::string> names_;                // of the logs; parts of one log share theirs
  std::vector<std::size_t> log_of_;               // per part
  std::vector<reading_model> models_;             // per part
  std::vector<std::vector<rejection>> screened_;  // per part
  std::vector<channel> channels_;
  estimate now_;
};

}  // namespace fettle::detail
