// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/detail/pass_counter.hpp"
#include "fettle/lambda/gradient_blocks.hpp"
#include "fettle/lambda/reading_model.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/lambda/screening.hpp"

namespace fettle {

struct identify_options {
  screening screen{};
  double map_spread = 0.10;  ///< prior standard deviation of a cell's correction: how wrong the map may well be
  int most_rounds = 25;
  double model_error = 0.06;  ///< what one film a bank and one delay for all cylinders leave of a parameter's
                              ///< logarithm, however long the log: no source, from virtual engines of other physics
  double block_s = 2;         ///< readings further apart than this err independently
};

/// What a log says of one parameter.
struct parameter_estimate {
  parameter prior;
  double value = 0;
  double relative_error = 0;  ///< standard error of the natural logarithm, the model's own error included
  double reading_error = 0;   ///< the same without it: what noise, the length of the log and uncertain parameters leave
  double told = 0;            ///< share of the prior's variance that the log removed, 0 .. 1
};

/// Two quantities that the log moves together.
struct correlated_pair {
  std::string one, other;
  double correlation = 0;
};

/// What logs say of the map and of the way from injection to reading.
struct identification {
  std::vector<double> correction;      ///< per cell of the map: its right value over its present one
  std::vector<double> strengths;       ///< smoothing of the correction along each axis, as chosen from the logs
  std::vector<double> standard_error;  ///< of the correction's natural logarithm; errors correlated in time counted
  double common_error = 0;             ///< standard error that all cells share on top of it: gain of the best sensor
  Eigen::MatrixXd covariance;          ///< of the corrections, cell by cell
  std::vector<double> seconds;         ///< per cell: how long the engine ran there with fuel, counted or not
  std::vector<double> passes;          ///< per cell: distinct visits whose readings counted
  std::vector<double> lean_end_share;  ///< per cell: share of its readings at the lean end of the sensor's range
  std::vector<double> agreement;  ///< per cell: mean robust weight of its readings; about 0.9 where the model holds
  std::vector<double> readings;   ///< per cell: sum of the interpolation weights of the readings that counted
  dynamics with;                  ///< parameters as found
  std::vector<parameter_estimate> parameters;  ///< the free ones
  std::vector<correlated_pair> correlated;     ///< beyond 0.95
  std::vector<rejection_counts> rejected;      ///< one per sensor, all logs together
  double misfits = 0;                          ///< share of the readings that were ignored as far outside the noise
  double noise = 0;                            ///< robust standard deviation of phi about the model
  int rounds = 0;
  bool settled = false;  ///< the last round moved the readings by less than a twentieth of the noise, and
                         ///< no parameter by more than a fifth of its standard error or 0.2 %
};

namespace detail {

/// Gauss-Newton over cells and parameters at once: each round linearises the readings about the present answer, weighs
/// them by how well they fit it, and solves one map model (cells, and a table of rank 0 for the logarithm of each free
/// parameter). The parameters' step is that of variable projection with the cells solved inside.
///
/// Source: L. Kaufman, "A variable projection method for solving separable nonlinear least squares problems",
///         BIT 15 (1975) 49-57, doi:10.1007/BF01932995, for the equivalence.
class identifier {
 public:
  identifier(const std::vector<recording>& logs, const dynamic_table<double>& base, const dynamics& start,
             const identify_options& options)
      : base_{base},
        options_{options},
        prior_{start},
        now_{start},
        cells_{base.size()},
        correction_(base.size(), 1.0),
        strengths_(base.rank(), 1e-3) {
    check(logs);
    for (const auto& log : logs) models_.emplace_back(log, base);
    dynamics::for_each(now_, [&](const parameter& one) {
      if (one.is_free()) free_.push_back(one);
    });
    last_step_.assign(free_.size(), 0.0);
    nudge_.assign(free_.size(), finest_nudge);
  }

  /// Starts from what a look at part of the logs has found.
  void resume(const identification& earlier) {
    correction_ = earlier.correction;
    strengths_ = earlier.strengths;
    now_ = earlier.with;
    for (std::size_t p = 0; p < free_.size(); ++p) free_[p].value = earlier.parameters[p].value;
    by_ = loss::tukey;
  }

  [[nodiscard]] identification run(const std::function<void(double)>& progress) {
    identification result;
    refresh();
    while (result.rounds < options_.most_rounds) {
      ++result.rounds;
      const double moved = advance(by_);
      refresh();
      if (progress) progress(1 - std::pow(0.8, result.rounds));
      result.settled = by_ == loss::tukey && moved < 1;
      if (result.settled) break;
      if (moved < 10 || result.rounds == 12)
        by_ = loss::tukey;  // it forgets what is still far from its place: not at first
    }
    conclude(result);
    return result;
  }

 private:
  // One sensor of one log at the present answer.
  struct channel {
    const reading_model* model;
    std::size_t sensor;
    reading_model::origin origin;
    std::vector<rejection> rejected;
    std::vector<double> residual;           // reading less prediction, in phi
    std::vector<std::vector<float>> slope;  // of the prediction per unit of each free parameter's logarithm
    std::vector<std::vector<float>> doubt;  // in the prediction from each uncertain parameter; empty: none
  };

  void check(const std::vector<recording>& logs) const {
    prior_.check();
    if (logs.empty()) throw error("identify: there is no log");
    if (base_.rank() < 1) throw error("identify: the map needs at least one axis");
    for (std::size_t i = 0; i < base_.size(); ++i)
      if (!(base_.values()[i] > 0) || !std::isfinite(base_.values()[i]))
        throw error("identify: cell " + std::to_string(i) + " of the map is " + std::to_string(base_.values()[i]) +
                    "; every cell must be above zero");
    for (const auto& log : logs) {
      if (log.at.size() != base_.rank())
        throw error("identify: log " + log.name + " has another number of map coordinates than the map has axes");
      if (log.fuel_mg.size() != prior_.banks.size())
        throw error("identify: log " + log.name + " has another number of banks than the dynamics");
      if (log.sensors.size() != prior_.sensors.size())
        throw error("identify: log " + log.name + " has another number of sensors than the dynamics");
    }
  }

  // Predictions, residuals and parameter slopes at the present answer.
  void refresh() {
    channels_.clear();
    std::vector<double> sizes;
    for (const auto& model : models_) {
      const recording& log = model.log();
      const std::vector<rejection> rows = screen_rows(log, base_.axes(), options_.screen);
      for (std::size_t s = 0; s < log.sensors.size(); ++s) {
        channel one{.model = &model,
                    .sensor = s,
                    .origin = model.origin_of(s, correction_, now_),
                    .rejected = {},
                    .residual = {},
                    .slope = {},
                    .doubt = {}};
        one.rejected = screen_sensor(log, log.sensors[s], rows, one.origin.from, options_.screen);
        const std::vector<double> here = model.predict(one.origin);
        one.residual.resize(here.size());
        for (std::size_t i = 0; i < here.size(); ++i) {
          if (one.rejected[i] != rejection::none) continue;
          one.residual[i] = 1 / log.sensors[s].lambda[i] - here[i];
          sizes.push_back(std::abs(one.residual[i]));
        }
        for (std::size_t p = 0; p < free_.size(); ++p) one.slope.push_back(slope_of(one, p, here));
        channels_.push_back(std::move(one));
      }
    }
    scale_ = (std::max)(median_scale(std::move(sizes)), finest_phi);
  }

  // Far from its place a parameter is nudged about as far as it last moved: the slope at a point sees only the nearest
  // edge of the fuel, and a delay that is off by more than that edge is wide would creep.
  [[nodiscard]] std::vector<float> slope_of(const channel& one, std::size_t p, const std::vector<double>& here) const {
    const double nudge = nudge_[p];
    return change_to(with_parameter(now_, p, free_[p].value * std::exp(nudge)), one, here, nudge);
  }

  // How the predictions of a sensor change from `here` to other dynamics, in units of `by`.
  [[nodiscard]] std::vector<float> change_to(const dynamics& with, const channel& one, const std::vector<double>& here,
                                             double by) const {
    const std::vector<double> there = one.model->predict(one.model->origin_of(one.sensor, correction_, with));
    std::vector<float> result(here.size());
    for (std::size_t i = 0; i < here.size(); ++i) result[i] = static_cast<float>((there[i] - here[i]) / by);
    return result;
  }

  [[nodiscard]] static dynamics with_parameter(dynamics all, std::size_t index, double value) {
    std::size_t next = 0;
    dynamics::for_each(all, [&](parameter& one) {
      if (one.is_free() && next++ == index) one.value = value;
    });
    return all;
  }

  // Parameters that may be wrong but are not sought, by their places in the dynamics.
  [[nodiscard]] std::vector<std::size_t> uncertain() const {
    std::vector<std::size_t> result;
    std::size_t place = 0;
    dynamics::for_each(now_, [&](const parameter& one) {
      if (one.is_uncertain()) result.push_back(place);
      ++place;
    });
    return result;
  }

  // What one spread of such a parameter does to the predictions of a sensor; nothing where another sensor owns it.
  [[nodiscard]] std::vector<float> doubt_of(const channel& one, std::size_t place,
                                            const std::vector<double>& here) const {
    const std::size_t shared = 1 + 2 * now_.banks.size(), own = shared + 4 * one.sensor;
    if (place >= shared && (place < own || place >= own + 4)) return {};
    dynamics with = now_;
    double spread = 0;
    dynamics::for_each(with, [&, next = std::size_t{0}](parameter& other) mutable {
      if (next++ != place) return;
      other.value *= std::exp(finest_nudge);
      spread = other.spread;
    });
    return change_to(with, one, here, finest_nudge / spread);
  }

  // The model of this round: cells pulled to 1, logarithms of the parameters pulled to their priors.
  [[nodiscard]] map_model linear_model(double wider = 1) const {
    std::vector<map_term> terms{smooth_term(base_.axes(), strengths_)};
    terms[0].prior.assign(cells_, 1.0);
    terms[0].pull.assign(cells_, square(scale_ / options_.map_spread));
    for (const auto& prior : priors())
      terms.push_back(
          {.axes = {}, .prior = {std::log(prior.value)}, .pull = {square(scale_ / (wider * prior.spread))}});
    return map_model(std::move(terms));
  }

  // Calls use(cells, factors, value, weight, channel, row) for every reading that counts.
  template <class Use>
  void for_each_reading(loss by, Use&& use) const {
    for (const auto& one : channels_) {
      one.model->for_each_slope(one.origin, cells_, [&](std::size_t i, auto& cells, auto& factors) {
        if (one.rejected[i] != rejection::none) return;
        const double weight = robust_weight(by, one.residual[i] / scale_);
        if (weight == 0) return;
        double value = -one.residual[i];
        for (std::size_t k = 0; k < cells.size(); ++k) value += factors[k] * correction_[cells[k]];
        for (std::size_t p = 0; p < free_.size(); ++p) {
          const double slope = -static_cast<double>(one.slope[p][i]);
          cells.push_back(static_cast<std::uint32_t>(cells_ + p));
          factors.push_back(slope);
          value += slope * std::log(free_[p].value);
        }
        use(cells, factors, value, weight, one, i);
      });
    }
  }

  [[nodiscard]] evidence gather(loss by) const {
    evidence seen(cells_ + free_.size());
    for_each_reading(by, [&](const auto& cells, const auto& factors, double value, double weight, const auto&, auto) {
      seen.add(cells, factors, value, weight);
    });
    return seen;
  }

  /// One round; how far the answer moved: below 1 it has settled.
  double advance(loss by) {
    const evidence seen = gather(by);
    const map_model model = choose_strengths(linear_model(), seen).model;
    strengths_ = model.strengths();
    const map_fit fit = model.solve(seen);
    std::vector<double> step(cells_);
    for (std::size_t k = 0; k < cells_; ++k) step[k] = fit.value[k] - correction_[k];
    const double hurried = by == loss::tukey ? hurry_cells(seen, step) : 1;
    double squares = 0, weight = 0;
    for (std::size_t k = 0; k < cells_; ++k) {
      squares += seen.weight(k) * square(step[k]);
      weight += seen.weight(k);
      correction_[k] = std::clamp(correction_[k] + hurried * step[k], 0.3, 3.0);  // no meaning further out
    }
    double moved = weight > 0 ? std::sqrt(squares / weight) / (settled_share * scale_) : 0;
    for (std::size_t p = 0; p < free_.size(); ++p) {
      const double plain = fit.value[cells_ + p] - std::log(free_[p].value);
      const double factor = by == loss::tukey ? hurry(p, plain) : 1;
      const double bounded = std::clamp(factor * plain, -longest_step, longest_step);
      nudge_[p] = by == loss::tukey || std::abs(bounded) < close_by ? finest_nudge
                                                                    : std::clamp(bounded, -widest_nudge, widest_nudge);
      const double next = std::clamp(free_[p].value * std::exp(bounded), free_[p].lowest, free_[p].highest);
      moved = (std::max)(moved, std::abs(std::log(next / free_[p].value)) /
                                    (std::max)(0.2 * fit.standard_error[cells_ + p], finest_step));
      free_[p].value = next;
      now_ = with_parameter(std::move(now_), p, next);
    }
    return moved;
  }

  // Reweighting makes steps shrink by a steady ratio: every second step goes where that series leads.
  [[nodiscard]] static double hurry(double ratio) noexcept {
    return ratio > 0.3 && ratio < 1 ? 1 / (1 - (std::min)(ratio, 0.9)) : 1;
  }

  double hurry(std::size_t p, double plain) {
    double& before = last_step_[p];
    const double factor = before != 0 ? hurry(plain / before) : 1;
    before = factor == 1 ? plain : 0;
    return factor;
  }

  // The cells move together, so they share one ratio, each step weighed by its readings.
  double hurry_cells(const evidence& seen, const std::vector<double>& step) {
    double along = 0, before = 0;
    for (std::size_t k = 0; k < last_cells_.size(); ++k) {
      along += seen.weight(k) * step[k] * last_cells_[k];
      before += seen.weight(k) * square(last_cells_[k]);
    }
    const double factor = before > 0 ? hurry(along / before) : 1;
    last_cells_ = factor == 1 ? step : std::vector<double>{};
    return factor;
  }

  void conclude(identification& result) {
    gradient_blocks blocks(cells_ + free_.size(), options_.block_s);
    evidence seen(cells_ + free_.size());
    robust_growth growth(loss::tukey);
    const std::vector<std::size_t> doubts = uncertain();
    if (!doubts.empty())
      for (auto& one : channels_) {
        const std::vector<double> here = one.model->predict(one.origin);
        for (const std::size_t place : doubts) one.doubt.push_back(doubt_of(one, place, here));
      }
    const auto unknowns = static_cast<Eigen::Index>(cells_ + free_.size());
    std::vector<Eigen::VectorXd> push(doubts.size(), Eigen::VectorXd::Zero(unknowns));
    for_each_reading(loss::tukey, [&](const auto& reading_cells, const auto& factors, double value, double weight,
                                      const channel& one, std::size_t row) {
      growth.add(weight);
      seen.add(reading_cells, factors, value, weight);
      for (std::size_t d = 0; d < doubts.size(); ++d) {
        if (one.doubt[d].empty()) continue;
        for (std::size_t k = 0; k < reading_cells.size(); ++k)
          push[d][reading_cells[k]] += weight * factors[k] * static_cast<double>(one.doubt[d][row]);
      }
      const auto log = static_cast<std::size_t>(one.model - models_.data());
      blocks.add(log, one.model->log().time_s[row], reading_cells, factors, weight * one.residual[row]);
    });
    const map_model model = linear_model(barely_believed);
    penalised_system system(model.terms(), seen);
    system.solve(strengths_);
    const Eigen::MatrixXd scores = blocks.sum(system.effective_parameters()) * square(growth.value());
    Eigen::MatrixXd spread = system.sandwich(scores, square(scale_));
    for (const auto& one : push) {
      const Eigen::VectorXd moved = system.response(one);
      spread += moved * moved.transpose();
    }
    const Eigen::MatrixXd covariance = believe(std::move(spread));
    const auto cells = static_cast<Eigen::Index>(cells_);
    result.covariance = covariance.topLeftCorner(cells, cells);
    result.correction = correction_;
    result.strengths = strengths_;
    result.with = now_;
    result.noise = scale_;
    const auto variance = [&](std::size_t k) {
      return covariance(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(k));
    };
    for (std::size_t k = 0; k < cells_; ++k) result.standard_error.push_back(std::sqrt(variance(k)));
    const auto beliefs = priors();
    for (std::size_t p = 0; p < free_.size(); ++p) {
      const double own = variance(cells_ + p);
      result.parameters.push_back({.prior = beliefs[p],
                                   .value = free_[p].value,
                                   .relative_error = std::sqrt(own + square(options_.model_error)),
                                   .reading_error = std::sqrt(own),
                                   .told = std::clamp(1 - own / square(beliefs[p].spread), 0.0, 1.0)});
      for (std::size_t q = 0; q < p; ++q) {
        const double correlation =
            covariance(static_cast<Eigen::Index>(cells_ + p), static_cast<Eigen::Index>(cells_ + q)) /
            std::sqrt(own * variance(cells_ + q));
        if (std::abs(correlation) > 0.95) result.correlated.push_back({free_[q].name, free_[p].name, correlation});
      }
    }
    count(result);
  }

  // Weighs what the logs say of the parameters, errors that hang together included, against what was believed of them.
  // The search takes every reading for a fresh one and so follows a whisper of the logs far away from the prior.
  [[nodiscard]] Eigen::MatrixXd believe(Eigen::MatrixXd covariance) {
    const auto free = static_cast<Eigen::Index>(free_.size());
    if (free == 0) return covariance;
    const auto beliefs = priors();
    Eigen::MatrixXd between = covariance.bottomRightCorner(free, free);
    Eigen::VectorXd away(free);
    for (Eigen::Index p = 0; p < free; ++p) {
      const auto& prior = beliefs[static_cast<std::size_t>(p)];
      between(p, p) += square(prior.spread);
      away[p] = std::log(prior.value / free_[static_cast<std::size_t>(p)].value);
    }
    const Eigen::MatrixXd reach = covariance.rightCols(free);
    const Eigen::MatrixXd gain = between.llt().solve(reach.transpose()).transpose();
    const Eigen::VectorXd step = gain * away;
    for (std::size_t k = 0; k < cells_; ++k) correction_[k] += step[static_cast<Eigen::Index>(k)];
    for (std::size_t p = 0; p < free_.size(); ++p) {
      auto& one = free_[p];
      one.value =
          std::clamp(one.value * std::exp(step[static_cast<Eigen::Index>(cells_ + p)]), one.lowest, one.highest);
      now_ = with_parameter(std::move(now_), p, one.value);
    }
    refresh();
    covariance -= gain * reach.transpose();
    return covariance;
  }

  void count(identification& result) const {
    result.seconds.assign(cells_, 0.0);
    for (const auto& model : models_) model.add_usage(result.seconds);
    pass_counter passes(cells_);
    std::vector<double> lean(cells_, 0.0);
    result.readings.assign(cells_, 0.0);
    result.agreement.assign(cells_, 0.0);
    result.rejected.resize(prior_.sensors.size());
    double counting = 0;
    for (const auto& one : channels_)
      for (std::size_t i = 0; i < one.rejected.size(); ++i) {
        result.rejected[one.sensor].add(one.rejected[i]);
        if (one.rejected[i] == rejection::sensor_at_its_end && one.model->log().sensors[one.sensor].lambda[i] > 1)
          one.model->add_residency(one.origin.from[i], 1, lean);
        if (one.rejected[i] != rejection::none) continue;
        const double weight = robust_weight(loss::tukey, one.residual[i] / scale_);
        ++counting;
        if (weight == 0) ++result.misfits;
        one.model->add_residency(one.origin.from[i], 1, result.readings);
        one.model->add_residency(one.origin.from[i], weight, result.agreement);
        one.model->for_each_cell(one.origin.from[i].row, [&](std::size_t cell, double share) {
          passes.add(cell, share, static_cast<std::size_t>(one.model - models_.data()), one.model->log().time_s[i]);
        });
      }
    result.passes = passes.count();
    result.lean_end_share.assign(cells_, 0.0);
    for (std::size_t k = 0; k < cells_; ++k)
      if (lean[k] > 0) result.lean_end_share[k] = lean[k] / (lean[k] + result.readings[k]);
    if (counting > 0) result.misfits /= counting;
    for (std::size_t k = 0; k < cells_; ++k)
      if (result.readings[k] > 0) result.agreement[k] /= result.readings[k];
  }

  [[nodiscard]] std::vector<parameter> priors() const {
    std::vector<parameter> result;
    dynamics::for_each(prior_, [&](const parameter& one) {
      if (one.is_free()) result.push_back(one);
    });
    return result;
  }

  [[nodiscard]] static double square(double x) noexcept { return x * x; }

  static constexpr double finest_phi = 1e-5;                        // a log without noise still rounds its readings
  static constexpr double finest_nudge = 0.02, widest_nudge = 0.2;  // of a logarithm, to find a slope
  static constexpr double close_by = 0.05;       // of a logarithm: a last step that calls for the finest nudge
  static constexpr double barely_believed = 10;  // times a prior's spread: leaves a parameter to the logs alone
  static constexpr double longest_step = 0.5;    // of a logarithm in one round
  static constexpr double finest_step = 2e-3;    // of a parameter's logarithm: finer than anybody can use it
  static constexpr double settled_share = 0.05;  // of the noise: what a settled map may still move its readings by

  const dynamic_table<double>& base_;
  identify_options options_;
  dynamics prior_, now_;
  std::size_t cells_;
  std::vector<double> correction_, strengths_;
  std::vector<parameter> free_;  // at their present values
  std::vector<double> last_step_, last_cells_;
  std::vector<double> nudge_;  // of each free parameter's logarithm
  std::vector<reading_model> models_;
  std::vector<channel> channels_;
  double scale_ = 0;
  loss by_ = loss::huber;
};

}  // namespace detail

/// Cells of the map, exhaust path, sensor lag and wall films from the same logs, together.
///
/// @param logs   one or more, each with its own conditions; all with the same banks and sensors.
/// @param base   the map under correction, every cell above zero.
/// @param start  what is believed of the dynamics: a held parameter stays, a free one is found from the logs and its
/// prior.
/// @param progress  told after each round about how much of the work is done, 0 .. 1.
/// @return       corrections with standard errors; cells and parameters that the logs do not reach stay at their prior.
/// Errors:       `fettle::error` naming the log, cell or parameter that does not fit.
/// Cost:         linear in rows: some ten rounds over up to 200,000 of them, some three over the rest.
[[nodiscard]] inline identification identify(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                             const dynamics& start, const identify_options& options = {},
                                             const std::function<void(double)>& progress = {}) {
  constexpr double enough_rows = 100000;
  double rows = 0;
  for (const auto& log : logs) rows += static_cast<double>(log.rows());
  detail::identifier all(logs, base, start, options);
  if (rows > 2 * enough_rows) {  // a look at part of a long log brings all of it near its answer
    std::vector<recording> part;
    for (const auto& log : logs)
      for (auto& stretch : detail::stretches(log, enough_rows / rows)) part.push_back(std::move(stretch));
    identify_options few = options;
    few.most_rounds = 8;
    all.resume(detail::identifier(part, base, start, few).run({}));
  }
  return all.run(progress);
}

}  // namespace fettle
