// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/fit/evidence.hpp"
#include "fettle/fit/loss.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/estimate.hpp"
#include "fettle/lambda/detail/reading_errors.hpp"
#include "fettle/lambda/detail/roughness_choice.hpp"
#include "fettle/lambda/detail/share_work.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_stencil.hpp"

namespace fettle::detail {

/// Gauss-Newton over everything that is sought: each round linearises the readings about the present estimate, weighs
/// them by how well they fit it, and solves one penalised system.
///
/// The sums of a round go over the channels in groups, shared by threads and merged in a fixed order.
class gauss_newton {
 public:
  gauss_newton(const std::vector<recording>& logs, const dynamic_table<double>& base, const dynamics& start,
               const identify_options& options, const unknowns& all)
      : options_{options},
        start_{start},
        all_{all},
        roughness_{all},
        errors_{logs, base, start.sensors.size(), options} {
    for (const auto& log : logs) {
      if (names_.empty() || names_.back() != log.name) names_.push_back(log.name);
      log_of_.push_back(names_.size() - 1);
      models_.emplace_back(log, base);
      screened_.push_back(screen_rows(log, base.axes(), options.screen));
    }
    now_ = estimate::at(all_, all_.priors().second, start_, names_.size());
    make_channels();
  }

  /// Starts from what a look at part of the logs has found.
  void resume(const gauss_newton& earlier) {
    now_ = estimate::at(all_, earlier.now_.value, start_, names_.size());
    roughness_.resume(earlier.roughness_.strength());
    by_ = loss::tukey;
  }

  /// @return rounds used; `settled` says whether they sufficed.
  int run(int most_rounds, const std::function<void(double)>& progress) {
    refresh(now_);
    find_slopes();
    errors_.measure(channels_, by_);
    int round = 0;
    settled_ = false;
    while (round < most_rounds && !settled_) {
      ++round;
      const double moved = advance();
      if (progress) progress(1 - std::pow(0.75, round));
      settled_ = by_ == loss::tukey && moved < 1;
      if (round == huber_rounds) by_ = loss::tukey;
    }
    return round;
  }

  [[nodiscard]] bool settled() const noexcept { return settled_; }
  [[nodiscard]] const estimate& now() const noexcept { return now_; }
  [[nodiscard]] const std::vector<channel>& channels() const noexcept { return channels_; }
  [[nodiscard]] const std::vector<reading_model>& models() const noexcept { return models_; }
  /// What is wrong with each row as a moment of injection, per model.
  [[nodiscard]] const std::vector<std::vector<rejection>>& screened() const noexcept { return screened_; }
  [[nodiscard]] const identify_options& options() const noexcept { return options_; }
  [[nodiscard]] const std::vector<std::string>& log_names() const noexcept { return names_; }
  [[nodiscard]] std::vector<double> strength() const { return roughness_.strength(); }
  [[nodiscard]] const reading_errors& errors() const noexcept { return errors_; }

  /// Calls use(row, unknowns, factors) for every row of a channel that counts: the slopes of its prediction.
  template <class Use>
  void for_each_row(const channel& one, Use&& use) const {
    std::vector<std::uint32_t> columns;
    std::vector<double> factors;
    const auto first_scalar = static_cast<std::uint32_t>(all_.first_scalar());
    one.model->for_each_slope(one.origin, now_.correction, one.reading,
                              [&](std::size_t row, const auto& cells, const auto& slopes) {
                                if (one.kind[row] == evidence_kind::none) return;
                                columns.assign(cells.begin(), cells.end());
                                factors.clear();
                                for (const double slope : slopes) factors.push_back(-slope);
                                add_trims(one, row, columns, factors);
                                for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
                                  const double slope = scalar_slope(one, row, p, cells, slopes);
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
        for (const channel& one : channels_)
          if (one.part == part && one.kind[row] != evidence_kind::none) use(one, row);
  }

  /// The sum over all channels: add(sum, channel) for each. Everything that a round sums up passes here.
  template <class Sum, class Add>
  [[nodiscard]] Sum sum_over_channels(const Sum& empty, const Add& add) const {
    return reduce(options_.threads, channels_.size(), empty, [&](Sum& sum, std::size_t k) { add(sum, channels_[k]); });
  }

  /// What all rows say at the present estimate.
  [[nodiscard]] evidence gather(loss by) const {
    auto seen = sum_over_channels(evidence(all_.size()), [&](evidence& sum, const channel& one) {
      for_each_row(one, [&](std::size_t row, const auto& columns, const auto& factors) {
        const weighted_row weighed = errors_.weigh(one, row, by);
        if (!(weighed.weight > 0)) return;
        double value = weighed.residual;
        for (std::size_t k = 0; k < columns.size(); ++k) value += factors[k] * now_.value[columns[k]];
        sum.add(columns, factors, value, weighed.weight);
      });
    });
    add_trim_sums(seen);
    return seen;
  }

  /// Moves to another estimate and predicts anew.
  void move_to(std::vector<double> value) {
    now_ = estimate::at(all_, std::move(value), start_, names_.size());
    refresh(now_);
    find_slopes();
  }

  /// Slopes of a channel in the logarithm of one parameter of the dynamics; empty where another sensor owns it.
  [[nodiscard]] std::vector<float> slope_of(const channel& one, std::size_t place) const {
    const parameter_place part(place, start_.banks.size());
    if (part.sensor != static_cast<std::size_t>(-1) && part.sensor != one.sensor) return {};
    dynamics moved = now_.with;
    double value = 0;
    dynamics::for_each(moved, [&, next = std::size_t{0}](const parameter& each) mutable {
      if (next++ == place) value = each.value;
    });
    estimate::set(moved, place, value * std::exp(probe));
    std::vector<double> formed =
        part.is_film || part.is_flow ? one.model->uncorrected_phi(moved) : one.origin.uncorrected;
    for (std::size_t i = 0; i < formed.size(); ++i) formed[i] /= one.origin.correction[i];
    return parameter_slope(one, moved, part, formed, probe);
  }

 private:
  // A stay of a sensor with too few readings in its log counts for nothing.
  void leave_out_short_stays() {
    if (all_.cylinders() == 0) return;
    std::vector<std::vector<double>> readings(names_.size(), std::vector<double>(start_.sensors.size(), 0.0));
    for (const auto& one : channels_)
      readings[one.log][one.sensor] +=
          static_cast<double>(std::count(one.kind.begin(), one.kind.end(), evidence_kind::measured));
    for (auto& one : channels_)
      if (readings[one.log][one.sensor] < options_.fewest_readings)
        one.kind.assign(one.kind.size(), evidence_kind::none);
  }

  void make_channels() {
    for (std::size_t m = 0; m < models_.size(); ++m)
      for (std::size_t s = 0; s < models_[m].log().sensors.size(); ++s) {
        const sensor_trace& trace = models_[m].log().sensors[s];
        if (std::all_of(trace.lambda.begin(), trace.lambda.end(), [](double x) { return std::isnan(x); })) continue;
        channel one{.model = &models_[m], .part = m, .log = log_of_[m], .sensor = s};
        for (const std::size_t cylinder : trace.cylinders) one.cylinders.push_back(cylinder - 1);
        std::sort(one.cylinders.begin(), one.cylinders.end());
        channels_.push_back(std::move(one));
      }
  }

  void add_trims(const channel& one, std::size_t row, std::vector<std::uint32_t>& columns,
                 std::vector<double>& factors) const {
    if (one.cylinders.empty()) return;
    const auto at = trim_stencil(one, row);
    for (const std::size_t cylinder : one.cylinders)
      for (std::size_t k = 0; k < at.size; ++k) {
        if (at.weight[k] == 0) continue;
        columns.push_back(static_cast<std::uint32_t>(all_.first_trim(cylinder) + at.cell[k]));
        factors.push_back(-at.weight[k] / static_cast<double>(one.cylinders.size()));
      }
  }

  [[nodiscard]] dynamic_stencil<double> trim_stencil(const channel& one, std::size_t row) const {
    const std::array<double, 2> x{static_cast<double>(one.trim_at[row][0]), static_cast<double>(one.trim_at[row][1])};
    return stencil_at(all_.trim_axes(), std::span<const double>(x));
  }

  template <class Cells, class Slopes>
  [[nodiscard]] double scalar_slope(const channel& one, std::size_t row, std::size_t p, const Cells& cells,
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
        return std::find(one.cylinders.begin(), one.cylinders.end(), what.index) == one.cylinders.end()
                   ? 0
                   : -1 / static_cast<double>(one.cylinders.size());
      case scalar_unknown::kind::shared_gain:
        return is_calibrated(start_.sensors[one.sensor], options_.spreads) ? 0 : 1;
      case scalar_unknown::kind::log_level:
        return what.index == one.log ? 1 : 0;
      case scalar_unknown::kind::gain:
        return what.index == one.sensor ? 1 : 0;
      default:
        return one.slope[p].empty() ? 0 : static_cast<double>(one.slope[p][row]);
    }
  }

  // The cylinders' needs have the mean 1 in every cell: the sum of their logarithms is minus half their squares.
  void add_trim_sums(evidence& seen) const {
    const std::size_t cylinders = all_.cylinders();
    std::vector<std::uint32_t> columns(2 * cylinders);
    const std::vector<double> ones(2 * cylinders, 1.0);
    for (std::size_t k = 0; cylinders > 0 && k < all_.trim_cells(); ++k) {
      double squares = 0;
      for (std::size_t i = 0; i < cylinders; ++i) {
        columns[i] = static_cast<std::uint32_t>(all_.first_trim(i) + k);
        columns[cylinders + i] = static_cast<std::uint32_t>(all_.trim_level(i));
        const double trim = now_.trim[i * all_.trim_cells() + k];
        squares += trim * trim;
      }
      seen.add(columns, ones, -squares / 2, 1 / (sum_spread * sum_spread));
    }
  }

  // Predictions and residuals at an estimate.
  void refresh(const estimate& at) {
    struct formed_mixture {
      std::vector<double> uncorrected, correction, phi;
    };
    std::vector<formed_mixture> formed(models_.size());
    share_work(options_.threads, models_.size(), [&](std::size_t m) {
      formed[m] = {models_[m].uncorrected_phi(at.with), models_[m].correction_at_rows(at.correction), {}};
      formed[m].phi = formed[m].uncorrected;
      for (std::size_t i = 0; i < formed[m].phi.size(); ++i) formed[m].phi[i] /= formed[m].correction[i];
    });
    share_work(options_.threads, channels_.size(), [&](std::size_t k) {
      channel& one = channels_[k];
      const formed_mixture& made = formed[one.part];
      one.origin = {made.uncorrected, made.correction, one.model->injected(one.sensor, made.correction, at.with),
                    at.with.sensors[one.sensor].lag_s.value, 1};
      one.reading = one.model->arrived(made.phi, one.origin.from, one.origin.lag_s);
      classify(one, screened_[one.part], options_.screen);
      if (!one.cylinders.empty()) read_trim_coordinates(one);
      find_residuals(one, at);
    });
    leave_out_short_stays();
  }

  void read_trim_coordinates(channel& one) const {
    one.trim_at.assign(one.reading.size(), {});
    for (std::size_t a = 0; a < all_.trim_axes().size(); ++a) {
      const auto lagged =
          one.model->arrived(one.model->coordinate(options_.trims.along[a]), one.origin.from, one.origin.lag_s);
      for (std::size_t i = 0; i < lagged.size(); ++i) one.trim_at[i][a] = static_cast<float>(lagged[i]);
    }
  }

  void find_residuals(channel& one, const estimate& at) const {
    const sensor_trace& trace = one.trace();
    const sensor_range range = measuring_range(trace);
    const double shift = at.gain[one.sensor] + at.log_level[one.log];
    one.residual.assign(one.reading.size(), 0.0F);
    for (std::size_t i = 0; i < one.reading.size(); ++i) {
      if (one.kind[i] == evidence_kind::none) continue;
      double predicted = std::log(one.reading[i]) + shift;
      if (!one.cylinders.empty()) {
        const auto stencil = trim_stencil(one, i);
        for (const std::size_t cylinder : one.cylinders)
          for (std::size_t k = 0; k < stencil.size; ++k)
            predicted -= stencil.weight[k] * at.trim[cylinder * all_.trim_cells() + stencil.cell[k]] /
                         static_cast<double>(one.cylinders.size());
      }
      double lambda = trace.lambda[i];
      if (one.kind[i] == evidence_kind::lean_end) lambda = (std::min)(lambda, range.highest * (1 - end_margin));
      if (one.kind[i] == evidence_kind::rich_end) lambda = (std::max)(lambda, range.lowest * (1 + end_margin));
      one.residual[i] = static_cast<float>(-std::log(lambda) - predicted);
    }
  }

  void find_slopes() {
    share_work(options_.threads, channels_.size(), [&](std::size_t k) {
      channel& one = channels_[k];
      one.slope.assign(all_.scalars().size(), {});
      one.activity.assign(one.reading.size(), 0.0F);
      one.film_activity = one.activity;
      for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
        if (all_.scalars()[p].what != scalar_unknown::kind::parameter) continue;
        one.slope[p] = slope_of(one, all_.scalars()[p].index);
        const parameter_place part(all_.scalars()[p].index, start_.banks.size());
        for (std::size_t i = 0; !part.is_flow && i < one.slope[p].size(); ++i) {
          const float square = one.slope[p][i] * one.slope[p][i];
          one.activity[i] += square;
          if (part.is_film) one.film_activity[i] += square;
        }
      }
      for (auto* activity : {&one.activity, &one.film_activity})
        for (float& x : *activity) x = static_cast<float>(usual_error) * std::sqrt(x);
    });
  }

  // The penalised solution; a parameter that would leave its bounds stays on them while the others find their place.
  [[nodiscard]] penalised_system solve(const evidence& seen) {
    std::vector<map_term> terms = all_.terms(roughness_.strength());
    const std::size_t first_term = terms.size() - all_.scalars().size();
    for (int attempt = 0;; ++attempt) {
      penalised_system system(terms, seen);
      for (int step = 0; attempt == 0 && step < 3; ++step) {
        system.solve(all_.expanded(roughness_.strength()));
        roughness_.step(system);
      }
      system.solve(all_.expanded(roughness_.strength()));
      bool is_outside = false;
      for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
        const scalar_unknown& one = all_.scalars()[p];
        const double now = now_.value[all_.first_scalar() + p];
        const double next = system.cells()[static_cast<Eigen::Index>(all_.first_scalar() + p)];
        if (!((now <= one.lowest && next < now) || (now >= one.highest && next > now))) continue;
        if (terms[first_term + p].pull[0] >= fixed) continue;
        terms[first_term + p].pull[0] = fixed;
        terms[first_term + p].prior[0] = now;
        is_outside = true;
      }
      if (!is_outside || attempt == 3) return system;
    }
  }

  [[nodiscard]] std::vector<double> bounded_step(const penalised_system& system) const {
    std::vector<double> step(all_.size());
    for (std::size_t k = 0; k < step.size(); ++k)
      step[k] = std::clamp(system.cells()[static_cast<Eigen::Index>(k)] - now_.value[k], -largest_step, largest_step);
    return step;
  }

  /// One round; how far the estimate moved: below 1 it has settled.
  double advance() {
    const evidence seen = gather(by_);
    auto system = solve(seen);
    const auto variance = system.variance();
    const std::vector<double> step = bounded_step(system);
    const estimate before = now_;
    const double cost_before = errors_.cost(channels_, by_);
    double share = turns_back(step, variance) && by_ == loss::tukey ? 0.5 : 1;
    for (int halving = 0;; ++halving, share /= 2) {
      std::vector<double> next(step.size());
      for (std::size_t k = 0; k < step.size(); ++k) next[k] = before.value[k] + share * step[k];
      now_ = estimate::at(all_, std::move(next), start_, names_.size());
      refresh(now_);
      if (halving == 2 || by_ != loss::tukey || !(errors_.cost(channels_, by_) > cost_before * 1.01)) break;
    }
    find_slopes();
    errors_.measure(channels_, by_);
    return largest_move(step, variance, seen);
  }

  // Whether the numbers would go back where they came from: slopes by differences lead to and fro about the answer.
  [[nodiscard]] bool turns_back(const std::vector<double>& step, const Eigen::VectorXd& variance) {
    std::vector<double> now(all_.scalars().size());
    double along = 0, length = 0, last_length = 0;
    last_step_.resize(now.size(), 0.0);
    for (std::size_t p = 0; p < now.size(); ++p) {
      const std::size_t k = all_.first_scalar() + p;
      now[p] = step[k] / accuracy(k, variance);
      along += now[p] * last_step_[p];
      length += now[p] * now[p];
      last_length += last_step_[p] * last_step_[p];
    }
    last_step_ = std::move(now);
    return along < -0.5 * std::sqrt(length * last_length);
  }

  // To which each unknown can be known at best.
  [[nodiscard]] double accuracy(std::size_t k, const Eigen::VectorXd& variance) const {
    const double error = std::sqrt((std::max)(variance[static_cast<Eigen::Index>(k)], 1e-12));
    return k < all_.first_scalar() ? error : std::hypot(error, options_.model_error);
  }

  // The largest step in units of what counts as settled: a twentieth of a cell's error, a tenth of a number's.
  [[nodiscard]] double largest_move(const std::vector<double>& step, const Eigen::VectorXd& variance,
                                    const evidence& seen) const {
    double moved = 0;
    for (std::size_t k = 0; k < all_.size(); ++k) {
      const bool is_cell = k < all_.first_scalar();
      if (is_cell && !(seen.weight(k) > 0)) continue;
      moved = (std::max)(moved, std::abs(step[k]) / ((is_cell ? 1 : 2) * settled_share * accuracy(k, variance)));
    }
    return moved;
  }

  static constexpr int huber_rounds = 2;
  static constexpr double probe = 0.1;           // of a logarithm, to find a slope
  static constexpr double sum_spread = 1e-3;     // of the mean of the cylinders' needs
  static constexpr double largest_step = 0.5;    // of a logarithm in one round
  static constexpr double fixed = 1e12;          // pull of a parameter on its bound
  static constexpr double settled_share = 0.05;  // of a cell's error

  identify_options options_;
  dynamics start_;
  const unknowns& all_;
  roughness_choice roughness_;
  std::vector<std::string> names_;                // of the logs; parts of one log share theirs
  std::vector<std::size_t> log_of_;               // per part
  std::vector<reading_model> models_;             // per part
  std::vector<std::vector<rejection>> screened_;  // per part
  std::vector<channel> channels_;
  estimate now_;
  reading_errors errors_;
  std::vector<double> last_step_;  // of the numbers, in units of their accuracy
  loss by_ = loss::huber;
  bool settled_ = false;
};

}  // namespace fettle::detail
