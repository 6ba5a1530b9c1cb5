// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <utility>
#include <vector>

#include "fettle/fit/evidence.hpp"
#include "fettle/fit/loss.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/extrapolated_steps.hpp"
#include "fettle/lambda/detail/linearised_readings.hpp"
#include "fettle/lambda/detail/parameter_slope.hpp"
#include "fettle/lambda/detail/reading_errors.hpp"
#include "fettle/lambda/detail/roughness_choice.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"

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
        all_{all},
        roughness_{all},
        first_{all.priors().second},
        readings_{logs, base, start, options, all},
        errors_{logs, base, start.sensors.size(), options},
        accuracy_(all.size(), 1.0) {}

  /// Starts from what a look at part of the logs has found; it sought all that is sought here, and perhaps more. How
  /// strongly to smooth is sought anew: from far too strong, likelihood hardly shows the way back.
  void resume(const gauss_newton& earlier) {
    const auto& last = earlier.readings_.now().value;
    std::copy_n(last.begin(), all_.first_scalar(), first_.begin());
    for (std::size_t p = 0, q = 0; p < all_.scalars().size(); ++p, ++q) {
      while (!earlier.all_.scalars()[q].is_same(all_.scalars()[p])) ++q;
      first_[all_.first_scalar() + p] = last[all_.first_scalar() + q];
    }
    loss_ = loss::tukey;
  }

  /// @param still  how far a cell may still move in a round, in its errors, for the search to have settled.
  /// @return       rounds used; `settled` says whether they sufficed.
  int run(int most_rounds, double still, const std::function<void(double)>& progress) {
    move_to(first_);
    errors_.measure(readings_.channels(), loss_);
    int round = 0;
    settled_ = false;
    while (round < most_rounds && !settled_) {
      ++round;
      const double numbers_moved = advance();
      if (progress) progress(1 - std::pow(0.75, round));
      settled_ = loss_ == loss::tukey && last_move_ < still && numbers_moved < settled_number * still;
      if (round == huber_rounds) {
        loss_ = loss::tukey;
        steps_.forget();
      }
    }
    return round;
  }

  [[nodiscard]] bool settled() const noexcept { return settled_; }
  /// Of the cell that moved farthest in the last round, over its error.
  [[nodiscard]] double last_move() const noexcept { return last_move_; }
  /// How far a parameter of the dynamics lies from its prior, over the accuracy to which it can be known at best; 0 if it
  /// is not sought.
  ///
  /// @param place  in `dynamics::for_each`.
  [[nodiscard]] double distance_from_prior(std::size_t place) const {
    for (std::size_t p = 0; p < all_.scalars().size(); ++p) {
      const scalar_unknown& scalar = all_.scalars()[p];
      if (scalar.what == scalar_unknown::kind::parameter && scalar.index == place)
        return (readings_.now().value[all_.first_scalar() + p] - scalar.prior) / accuracy_[all_.first_scalar() + p];
    }
    return 0;
  }
  [[nodiscard]] const linearised_readings& readings() const noexcept { return readings_; }
  [[nodiscard]] const identify_options& options() const noexcept { return options_; }
  [[nodiscard]] std::vector<double> strength() const { return roughness_.strength(); }
  [[nodiscard]] const reading_errors& errors() const noexcept { return errors_; }

  /// What all rows say at the present estimate.
  [[nodiscard]] evidence gather(loss kind) const {
    auto seen = readings_.sum_over_channels(evidence(all_.size()), [&](evidence& sum, const channel& series) {
      readings_.for_each_row(series, [&](std::size_t row, const auto& columns, const auto& factors) {
        const weighted_row weighed = errors_.weigh(series, row, kind);
        if (!(weighed.weight > 0)) return;
        double value = weighed.residual;
        for (std::size_t k = 0; k < columns.size(); ++k) value += factors[k] * readings_.now().value[columns[k]];
        sum.add(columns, factors, value, weighed.weight);
      });
    });
    add_trim_sums(seen);
    return seen;
  }

  /// Moves to another estimate and predicts anew.
  void move_to(std::vector<double> value) {
    readings_.predict(std::move(value));
    readings_.find_slopes();
  }

 private:
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
        const double trim = readings_.now().trim[i * all_.trim_cells() + k];
        squares += trim * trim;
      }
      seen.add(columns, ones, -squares / 2, 1 / (sum_spread * sum_spread));
    }
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
        const scalar_unknown& scalar = all_.scalars()[p];
        const double now = readings_.now().value[all_.first_scalar() + p];
        const double next = system.cells()[static_cast<Eigen::Index>(all_.first_scalar() + p)];
        if (!((now <= scalar.lowest && next < now) || (now >= scalar.highest && next > now))) continue;
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
      step[k] = std::clamp(system.cells()[static_cast<Eigen::Index>(k)] - readings_.now().value[k], -largest_step,
                           largest_step);
    return step;
  }

  /// One round; the largest move of a number, in its accuracy.
  double advance() {
    const evidence seen = gather(loss_);
    auto system = solve(seen);
    find_accuracy(system.variance());
    const std::vector<double> step = bounded_step(system);
    const std::vector<double> before = readings_.now().value;
    const double cost_before = errors_.cost(readings_.channels(), loss_);
    const bool is_robust = loss_ == loss::tukey;
    move(before, is_robust ? steps_.next(before, step, accuracy_) : step, 1);
    for (double share = 1; is_robust && share >= 0.5; share /= 2) {
      if (!(errors_.cost(readings_.channels(), loss_) > cost_before * 1.01)) break;
      move(before, step, share);
    }
    readings_.find_slopes();
    errors_.measure(readings_.channels(), loss_);
    return find_largest_moves(step, seen);
  }

  void move(const std::vector<double>& from, const std::vector<double>& step, double share) {
    std::vector<double> next(step.size());
    for (std::size_t k = 0; k < step.size(); ++k)
      next[k] = from[k] + std::clamp(share * step[k], -largest_step, largest_step);
    readings_.predict(std::move(next));
  }

  // To which each unknown can be known at best.
  void find_accuracy(const Eigen::VectorXd& variance) {
    for (std::size_t k = 0; k < accuracy_.size(); ++k) {
      const double error = std::sqrt((std::max)(variance[static_cast<Eigen::Index>(k)], 1e-12));
      accuracy_[k] = k < all_.first_scalar() ? error : std::hypot(error, options_.model_error);
    }
  }

  // Numbers that only together make a delay may trade places for long without moving any cell: they are left out.
  double find_largest_moves(const std::vector<double>& step, const evidence& seen) {
    double numbers = 0;
    last_move_ = 0;
    for (std::size_t k = 0; k < all_.size(); ++k) {
      const double moved = std::abs(step[k]) / accuracy_[k];
      if (k < all_.first_scalar()) {
        if (seen.weight(k) > 0) last_move_ = (std::max)(last_move_, moved);
      } else if (!is_delay(all_.scalars()[k - all_.first_scalar()])) {
        numbers = (std::max)(numbers, moved);
      }
    }
    return numbers;
  }

  [[nodiscard]] bool is_delay(const scalar_unknown& scalar) const {
    return scalar.what == scalar_unknown::kind::parameter &&
           parameter_place(scalar.index, readings_.now().with.banks.size()).is_delay;
  }

  static constexpr int huber_rounds = 2;
  static constexpr double sum_spread = 1e-3;    // of the mean of the cylinders' needs
  static constexpr double largest_step = 0.5;   // of a logarithm in one round
  static constexpr double fixed = 1e12;         // pull of a parameter on its bound
  static constexpr double settled_number = 10;  // times as far as a cell may a number still move

  identify_options options_;
  const unknowns& all_;
  roughness_choice roughness_;
  std::vector<double> first_;  // where the search begins
  linearised_readings readings_;
  reading_errors errors_;
  std::vector<double> accuracy_;  // of all unknowns
  extrapolated_steps steps_;
  loss loss_ = loss::huber;
  bool settled_ = false;
  double last_move_ = 0;
};

}  // namespace fettle::detail
