// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/lambda/cylinder_model.hpp"
#include "fettle/lambda/detail/pass_counter.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/gradient_blocks.hpp"
#include "fettle/lambda/identify.hpp"
#include "fettle/lambda/reading_model.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/lambda/rotation.hpp"
#include "fettle/lambda/screening.hpp"

namespace fettle {

struct trim_options {
  std::vector<dynamic_axis<double>> axes{};  ///< of the trim maps, rank 0 to 2
  std::vector<std::size_t> along{};          ///< which coordinate of the log each axis reads
  std::vector<bool> calibrated{};            ///< per sensor; empty: those after the collector
  screening screen{};
  cylinder_spreads spreads{};
  double fewest_readings = 100;  ///< of a sensor in one log for its stay to count
  int most_rounds = 12;
  double block_s = 2;  ///< readings further apart than this err independently
};

/// What logs say of each cylinder: how much of the common fuel it needs.
///
/// Shape: [cylinder][cell of the trim map].
struct cylinder_trims {
  std::vector<dynamic_axis<double>> axes;
  std::vector<std::vector<double>> correction;      ///< multiplier of fuel that puts it on the collector's phi; mean 1
  std::vector<std::vector<double>> standard_error;  ///< of its logarithm, as the best trim map on these axes; errors
                                                    ///< that hang together in time and between sensors allowed for
  std::vector<std::vector<double>> passes;          ///< distinct visits whose readings counted
  std::vector<std::vector<double>> lean_end_share;  ///< share of its readings at the lean end of the sensor's range
  std::vector<std::vector<double>> agreement;       ///< mean robust weight of its readings
  std::vector<std::vector<double>> readings;        ///< sum of the interpolation weights of the readings that counted
  std::vector<double> seconds;                      ///< per cell: how long the engine ran there with fuel
  std::vector<double> collector_lambda;             ///< per cell: mean where the engine ran; NaN: never there
  std::vector<double> target_lambda;                ///< per cell, likewise
  std::vector<parameter_estimate> gains;            ///< per sensor, on phi; a calibrated one is held at 1
  dynamics with;                                    ///< with the paths of the sensors as found
  separability told;
  std::vector<std::vector<rejection_counts>> rejected;  ///< [log][sensor]
  std::vector<sensor_stay> unused;                      ///< stays with too few readings to count
  double noise = 0;                                     ///< robust standard deviation of the logarithm of phi
  int rounds = 0;
  bool settled = false;  ///< the last round moved no trim that was read by more than 0.02 %
};

namespace detail {

/// Readings less what the common map predicts, on the coordinates of the gas that was read.
///
/// Each round linearises paths about the present answer, weighs readings by how well they fit, and solves one map
/// model: the common rest, a trim map per cylinder, a gain per sensor, a level per run, two logarithms per free path.
/// Trims vary little while gas of one lag goes by, so they are read at the lagged coordinates: exact for a trim that is
/// straight over that stretch.
class trim_finder {
 public:
  /// @param share  of the logs to look at.
  trim_finder(const std::vector<recording>& logs, const dynamic_table<double>& base, std::span<const double> correction,
              const dynamics& with, const trim_options& options, double share = 1)
      : base_{base}, options_{options}, prior_{with}, correction_{correction} {
    check(logs);
    for (std::size_t l = 0; l < logs.size(); ++l)
      for (auto& piece : split_at_gaps(logs[l])) {
        if (share < 1)
          for (auto& stretch : stretches(piece, share)) pieces_.push_back(std::move(stretch));
        else
          pieces_.push_back(std::move(piece));
        run_.resize(pieces_.size(), l);
      }
    runs_ = logs.size();
    for (const auto& piece : pieces_) models_.emplace_back(piece, base);
    result_.axes = options.axes;
    result_.with = with;
    for (const auto& [part, parameter] : paths())
      if (parameter->is_free()) free_.push_back(part);
  }

  [[nodiscard]] cylinder_trims run(const std::function<void(double)>& progress) {
    refresh();
    const rotation design = observed();
    result_.told = separate(design);
    cylinder_model shape(options_.axes, design, options_.spreads, free_priors());
    value_.assign(shape.model(1, 1).cells(), 0.0);
    loss by = loss::huber;
    while (result_.rounds < options_.most_rounds) {
      ++result_.rounds;
      const double moved = advance(shape, by);
      if (!free_.empty()) refresh();
      if (progress) progress(1 - std::pow(0.7, result_.rounds));
      result_.settled = by == loss::tukey && moved < 1;
      if (result_.settled) break;
      if (moved < 50 || result_.rounds == 3) by = loss::tukey;
    }
    conclude(shape);
    return std::move(result_);
  }

 private:
  struct path_part {
    std::size_t sensor;
    bool is_lag;  // else the gas of its pipe
  };
  struct reading {
    double ratio;  // logarithm of phi over what the common map predicts
    std::array<float, 2> at;
    std::uint32_t row;
    std::array<float, 2> slope;  // of the prediction per unit of the logarithm of gas and lag
  };
  struct channel {
    std::size_t piece, sensor, cylinder;
    std::vector<reading> readings;
    bool counts = true;
  };

  void check(const std::vector<recording>& logs) {
    if (logs.empty()) throw error("cylinders: there is no log");
    if (options_.axes.size() > 2) throw error("cylinders: a trim map has two axes at most");
    if (options_.along.size() != options_.axes.size())
      throw error("cylinders: say for each axis of the trim maps which coordinate it reads");
    if (correction_.size() != base_.size())
      throw error("cylinders: the correction is about another number of cells than the map");
    prior_.check();
    cylinders_ = static_cast<std::size_t>(logs.front().cylinders);
    calibrated_ = options_.calibrated;
    for (const auto& log : logs) {
      log.check();
      if (log.sensors.size() != prior_.sensors.size() || log.fuel_mg.size() != prior_.banks.size())
        throw error("cylinders: log " + log.name + " has another number of sensors or banks than the dynamics");
      if (log.cylinders != static_cast<double>(cylinders_))
        throw error("cylinders: log " + log.name + " is of an engine with another number of cylinders");
      for (const std::size_t a : options_.along)
        if (a >= log.at.size())
          throw error("cylinders: an axis of the trim maps reads coordinate " + std::to_string(a) + " of log " +
                      log.name + ", which has " + std::to_string(log.at.size()));
    }
    if (calibrated_.empty())
      for (const auto& sensor : logs.front().sensors) calibrated_.push_back(sensor.cylinder == 0);
    if (calibrated_.size() != prior_.sensors.size())
      throw error("cylinders: say of every sensor whether it is calibrated, or of none");
  }

  [[nodiscard]] std::vector<std::pair<path_part, const parameter*>> paths() const {
    std::vector<std::pair<path_part, const parameter*>> result;
    for (std::size_t s = 0; s < prior_.sensors.size(); ++s) {
      result.push_back({{s, false}, &prior_.sensors[s].pipe_gas_mass_g});
      result.push_back({{s, true}, &prior_.sensors[s].lag_s});
    }
    return result;
  }
  template <class Dynamics>
  [[nodiscard]] static auto& part_of(Dynamics& all, path_part part) {
    auto& sensor = all.sensors[part.sensor];
    return part.is_lag ? sensor.lag_s : sensor.pipe_gas_mass_g;
  }
  [[nodiscard]] std::vector<parameter> free_priors() const {
    std::vector<parameter> result;
    for (const auto part : free_) result.push_back(part_of(prior_, part));
    return result;
  }

  // All channels at the present paths.
  void refresh() {
    const bool first = channels_.empty();
    result_.rejected.assign(runs_, std::vector<rejection_counts>(prior_.sensors.size()));
    std::size_t next = 0;
    for (std::size_t l = 0; l < pieces_.size(); ++l) {
      const reading_model& model = models_[l];
      std::vector<double> common = model.believed_phi(result_.with);
      const std::vector<double> divisor = model.correction_at_rows(correction_);
      for (std::size_t i = 0; i < common.size(); ++i) common[i] /= divisor[i];
      std::vector<std::vector<double>> at;
      for (const std::size_t a : options_.along) at.push_back(held(model.log().at[a]));
      const auto rows = screen_rows(model.log(), base_.axes(), options_.screen);
      if (first) add_regions(model.log(), rows, common, at);
      for (std::size_t s = 0; s < prior_.sensors.size(); ++s, ++next) {
        if (first)
          channels_.push_back({.piece = l, .sensor = s, .cylinder = model.log().sensors[s].cylinder, .readings = {}});
        fill(channels_[next], common, at, rows);
      }
    }
  }

  [[nodiscard]] static std::vector<double> held(std::vector<double> series) {
    double last = 0;
    for (const double x : series)
      if (std::isfinite(x)) {
        last = x;
        break;
      }
    for (double& x : series) x = last = std::isfinite(x) ? x : last;
    return series;
  }

  void fill(channel& one, const std::vector<double>& common, const std::vector<std::vector<double>>& at,
            const std::vector<rejection>& rows) {
    const reading_model& model = models_[one.piece];
    const sensor_trace& trace = model.log().sensors[one.sensor];
    const double lag_s = result_.with.sensors[one.sensor].lag_s.value;
    const auto from = model.injected(one.sensor, correction_, result_.with);
    const std::vector<double> expected = model.arrived(common, from, lag_s);
    const std::vector<rejection> why = screen_sensor(model.log(), trace, rows, from, options_.screen);
    rejection_counts counts;
    for (const rejection reason : why) counts.add(reason);
    for (std::size_t k = 0; k < rejection_kinds; ++k)
      result_.rejected[run_[one.piece]][one.sensor].count[k] += counts.count[k];
    std::array<std::vector<double>, 2> slopes;
    for (std::size_t p = 0; p < 2; ++p)
      if (part_of(prior_, {one.sensor, p == 1}).is_free())
        slopes[p] = slope_of({one.sensor, p == 1}, model, common, expected);
    std::array<std::vector<double>, 2> gone;
    for (std::size_t a = 0; a < at.size(); ++a) gone[a] = model.arrived(at[a], from, lag_s);
    one.readings.clear();
    one.readings.reserve(counts[rejection::none]);
    for (std::size_t i = 0; i < why.size(); ++i) {
      if (why[i] != rejection::none || !(expected[i] > 0)) continue;
      reading r{.ratio = -std::log(trace.lambda[i] * expected[i]),
                .at = {},
                .row = static_cast<std::uint32_t>(i),
                .slope = {}};
      for (std::size_t a = 0; a < at.size(); ++a) r.at[a] = static_cast<float>(gone[a][i]);
      for (std::size_t p = 0; p < 2; ++p)
        if (!slopes[p].empty()) r.slope[p] = static_cast<float>(slopes[p][i]);
      one.readings.push_back(r);
    }
  }

  [[nodiscard]] std::vector<double> slope_of(path_part part, const reading_model& model,
                                             const std::vector<double>& common, const std::vector<double>& here) const {
    constexpr double nudge = 1e-3;
    dynamics there = result_.with;
    part_of(there, part).value *= std::exp(nudge);
    std::vector<double> result =
        model.arrived(common, model.injected(part.sensor, correction_, there), there.sensors[part.sensor].lag_s.value);
    for (std::size_t i = 0; i < result.size(); ++i) result[i] = here[i] > 0 ? (result[i] / here[i] - 1) / nudge : 0;
    return result;
  }

  // What the engine did where, whoever measured it.
  void add_regions(const recording& log, const std::vector<rejection>& rows, const std::vector<double>& common,
                   const std::vector<std::vector<double>>& at) {
    const trim_cells cells(options_.axes);
    result_.seconds.resize(cells.size());
    phi_.resize(cells.size());
    target_phi_.resize(cells.size());
    for (std::size_t i = 1; i < rows.size(); ++i) {
      if (rows[i] != rejection::none) continue;
      const double step_s = log.time_s[i] - log.time_s[i - 1];
      std::array<float, 2> x{};
      for (std::size_t a = 0; a < at.size(); ++a) x[a] = static_cast<float>(at[a][i]);
      const auto stencil = cells.at(x);
      for (std::size_t k = 0; k < stencil.size; ++k) {
        result_.seconds[stencil.cell[k]] += stencil.weight[k] * step_s;
        phi_[stencil.cell[k]] += stencil.weight[k] * step_s * common[i];
        target_phi_[stencil.cell[k]] += stencil.weight[k] * step_s / log.target_lambda[i];
      }
    }
  }

  // The stays that have readings enough; the others are left out and listed.
  [[nodiscard]] rotation observed() {
    rotation result{.cylinders = cylinders_, .runs = runs_, .sensors = {}, .stays = {}};
    for (std::size_t s = 0; s < prior_.sensors.size(); ++s)
      result.sensors.push_back({models_.front().log().sensors[s].name, calibrated_[s]});
    for (std::size_t r = 0; r < runs_; ++r)
      for (std::size_t s = 0; s < prior_.sensors.size(); ++s) {
        double readings = 0;
        sensor_stay stay{r, s, 0};
        for (const auto& one : channels_) {
          if (run_[one.piece] != r || one.sensor != s) continue;
          readings += static_cast<double>(one.readings.size());
          stay.cylinder = one.cylinder;
        }
        const bool counts = readings >= options_.fewest_readings;
        (counts ? result.stays : result_.unused).push_back(stay);
        for (auto& one : channels_)
          if (run_[one.piece] == r && one.sensor == s) one.counts = counts;
      }
    result.check();
    if (result.stays.empty())
      throw error("cylinders: no sensor has " + std::to_string(static_cast<int>(options_.fewest_readings)) +
                  " readings that count in any log");
    return result;
  }

  // Calls use(cells, factors, value, weight, residual, channel, reading) for every reading that counts.
  template <class Use>
  void for_each_reading(const cylinder_model& shape, loss by, Use&& use) const {
    const trim_cells grid(options_.axes);
    const std::vector<double> mixing = shape.mixing_rest(value_);
    cylinder_model::row row;
    for (const auto& one : channels_) {
      if (!one.counts) continue;
      const auto path = path_columns(one.sensor);
      std::array<double, 2> moved{};
      for (std::size_t p = 0; p < 2; ++p)
        if (path[p] != none) moved[p] = moved_by(path[p]);
      for (const auto& r : one.readings) {
        const auto stencil = grid.at(r.at);
        shape.write(row, run_[one.piece], one.sensor, one.cylinder, stencil);
        double value = r.ratio;
        if (one.cylinder == 0)
          for (std::size_t k = 0; k < stencil.size; ++k) value += stencil.weight[k] * mixing[stencil.cell[k]];
        for (std::size_t p = 0; p < 2; ++p) {
          if (path[p] == none) continue;
          row.cell.push_back(static_cast<std::uint32_t>(shape.offset_of_path(path[p])));
          row.factor.push_back(static_cast<double>(r.slope[p]));
          value += static_cast<double>(r.slope[p]) * moved[p];
        }
        double predicted = 0;
        for (std::size_t k = 0; k < row.cell.size(); ++k) predicted += row.factor[k] * value_[row.cell[k]];
        const double residual = value - predicted;
        const double weight = scale_ > 0 ? robust_weight(by, residual / scale_) : 1.0;
        use(row, value, weight, residual, one, r, stencil);
      }
    }
  }

  static constexpr std::size_t none = static_cast<std::size_t>(-1);
  [[nodiscard]] std::array<std::size_t, 2> path_columns(std::size_t sensor) const {
    std::array<std::size_t, 2> result{none, none};
    for (std::size_t f = 0; f < free_.size(); ++f)
      if (free_[f].sensor == sensor) result[free_[f].is_lag ? 1 : 0] = f;
    return result;
  }
  // How far a path parameter's logarithm stands from its prior: what the slopes are taken about.
  [[nodiscard]] double moved_by(std::size_t path) const {
    return std::log(part_of(result_.with, free_[path]).value / part_of(prior_, free_[path]).value);
  }

  void measure_scale(const cylinder_model& shape) {
    std::size_t total = 0, seen = 0;
    for (const auto& one : channels_) total += one.counts ? one.readings.size() : 0;
    const std::size_t every = 1 + total / 400000;  // a median needs no more
    std::vector<double> sizes;
    for_each_reading(shape, loss::squares,
                     [&](const auto&, double, double, double residual, const auto&, const auto&, const auto&) {
                       if (seen++ % every == 0) sizes.push_back(std::abs(residual));
                     });
    scale_ = (std::max)(median_scale(std::move(sizes)), 1e-5);
  }

  /// One round; below 1 the trims have settled.
  double advance(const cylinder_model& shape, loss by) {
    if (result_.rounds > 1) measure_scale(shape);
    evidence seen(value_.size());
    for_each_reading(shape, by,
                     [&](const auto& row, double value, double weight, double, const auto&, const auto&, const auto&) {
                       if (weight > 0) seen.add(row.cell, row.factor, value, weight);
                     });
    const double scale = scale_ > 0 ? scale_ : 0.01;
    strength_ = shape.choose_strength(scale, strength_, seen);
    const map_fit fit = shape.model(scale, strength_).solve(seen);
    double moved = scale_ > 0 ? 0.0 : 100.0;  // the first round has yet to see the noise
    for (std::size_t k = shape.first_trim(); k < shape.end_of_trims(); ++k)
      if (seen.weight(k) > 1) moved = (std::max)(moved, std::abs(fit.value[k] - value_[k]) / settled_move);
    value_ = fit.value;
    for (std::size_t f = 0; f < free_.size(); ++f) {
      const parameter& before = part_of(prior_, free_[f]);
      parameter& now = part_of(result_.with, free_[f]);
      const double step =
          std::clamp(fit.value[shape.offset_of_path(f)] - std::log(now.value / before.value), -0.5, 0.5);
      now.value = std::clamp(now.value * std::exp(step), before.lowest, before.highest);
      value_[shape.offset_of_path(f)] = std::log(now.value / before.value);
    }
    return moved;
  }

  void conclude(const cylinder_model& shape) {
    measure_scale(shape);
    const std::size_t cells = trim_cells(options_.axes).size();
    gradient_blocks blocks(value_.size(), options_.block_s);
    robust_growth growth(loss::tukey);
    evidence seen(value_.size());
    result_.readings = result_.agreement = result_.lean_end_share =
        std::vector<std::vector<double>>(cylinders_, std::vector<double>(cells, 0.0));
    std::vector<pass_counter> passes(cylinders_, pass_counter(cells));
    for_each_reading(shape, loss::tukey,
                     [&](const auto& row, double value, double weight, double residual, const auto& one, const auto& r,
                         const auto& stencil) {
                       if (one.cylinder > 0)
                         for (std::size_t k = 0; k < stencil.size; ++k) {
                           result_.readings[one.cylinder - 1][stencil.cell[k]] += stencil.weight[k];
                           result_.agreement[one.cylinder - 1][stencil.cell[k]] += weight * stencil.weight[k];
                           passes[one.cylinder - 1].add(stencil.cell[k], stencil.weight[k], one.piece,
                                                        models_[one.piece].log().time_s[r.row]);
                         }
                       if (!(weight > 0)) return;
                       growth.add(weight);
                       seen.add(row.cell, row.factor, value, weight);
                       blocks.add(one.piece, models_[one.piece].log().time_s[r.row], row.cell, row.factor,
                                  weight * residual);
                     });
    for (std::size_t i = 0; i < cylinders_; ++i) {
      result_.passes.push_back(passes[i].count());
      for (std::size_t k = 0; k < cells; ++k)
        if (result_.readings[i][k] > 0) result_.agreement[i][k] /= result_.readings[i][k];
    }
    const map_model model = shape.model(scale_, strength_);
    penalised_system system(model.terms(), seen);
    const std::vector<double> strengths = model.strengths();
    system.solve(strengths);
    const Eigen::MatrixXd scores = blocks.sum(system.effective_parameters()) * growth.value() * growth.value();
    const Eigen::MatrixXd covariance = system.sandwich(scores, scale_ * scale_);
    const auto error = [&](std::size_t k) {
      const auto at = static_cast<Eigen::Index>(k);
      return std::sqrt((std::max)(covariance(at, at), 0.0));
    };
    result_.noise = scale_;
    result_.correction = shape.trims(value_);
    for (std::size_t i = 0; i < cylinders_; ++i) {
      auto& errors = result_.standard_error.emplace_back();
      for (std::size_t k = 0; k < cells; ++k) errors.push_back(trim_error(shape, covariance, i, cells, k));
    }
    for (std::size_t s = 0; s < prior_.sensors.size(); ++s) {
      parameter_estimate gain{.prior = prior_.sensors[s].gain, .value = 1, .relative_error = 0, .told = 0};
      if (!calibrated_[s]) {
        const std::size_t k = shape.offset_of_sensor(s);
        gain.value = std::exp(value_[k]);
        gain.relative_error = error(k);
        gain.told = std::clamp(
            1 - gain.relative_error * gain.relative_error / (options_.spreads.gain * options_.spreads.gain), 0.0, 1.0);
      }
      result_.gains.push_back(std::move(gain));
    }
    const std::vector<double> mixing = shape.mixing_rest(value_);
    for (std::size_t k = 0; k < cells; ++k) {
      const double seconds = result_.seconds[k];
      const double common = std::exp(value_[k] - mixing[k]);
      result_.collector_lambda.push_back(seconds > 0 ? seconds / (phi_[k] * common) : std::nan(""));
      result_.target_lambda.push_back(seconds > 0 ? seconds / target_phi_[k] : std::nan(""));
    }
  }

  static constexpr double settled_move = 2e-4;

  // A trim is what a cylinder differs by from the mean of all: what they share belongs to the common rest.
  [[nodiscard]] double trim_error(const cylinder_model& shape, const Eigen::MatrixXd& covariance, std::size_t cylinder,
                                  std::size_t cells, std::size_t cell) const {
    double variance = 0;
    for (std::size_t i = 0; i < cylinders_; ++i)
      for (std::size_t k = 0; k < cylinders_; ++k) {
        const auto row = static_cast<Eigen::Index>(shape.first_trim() + i * cells + cell);
        const auto column = static_cast<Eigen::Index>(shape.first_trim() + k * cells + cell);
        const double share = 1 / static_cast<double>(cylinders_);
        variance += ((i == cylinder) - share) * ((k == cylinder) - share) * covariance(row, column);
      }
    return std::sqrt((std::max)(variance, 0.0));
  }

  const dynamic_table<double>& base_;
  trim_options options_;
  dynamics prior_;
  std::span<const double> correction_;
  std::size_t cylinders_ = 0, runs_ = 0;
  std::vector<bool> calibrated_;
  std::vector<path_part> free_;
  std::vector<recording> pieces_;  // of the logs, cut where the clock jumps
  std::vector<std::size_t> run_;   // of each piece
  std::vector<reading_model> models_;
  std::vector<channel> channels_;
  std::vector<double> value_, phi_, target_phi_;
  std::vector<double> strength_;
  double scale_ = 0;
  cylinder_trims result_;
};

}  // namespace detail

/// Trim maps of the cylinders and gains of the sensors, from logs between which sensors may have moved.
///
/// @param logs        all with the same banks and sensors; `sensor_trace::cylinder` says where each sat in that log.
/// @param base        the map that was driven with.
/// @param correction  per cell of the map, as `identify` found it from the collector or from all sensors.
/// @param with        films and path as found there; pipe gas and lag of a sensor that are free are found here.
/// @return            trims, with what cannot be told apart listed by name and left at its prior.
/// Errors:            `fettle::error` naming the log, sensor or cylinder that does not fit.
/// Cost:              linear in readings; paths are found on up to 200,000 rows, and held for the rest.
[[nodiscard]] inline cylinder_trims find_trims(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                               std::span<const double> correction, const dynamics& with,
                                               const trim_options& options = {},
                                               const std::function<void(double)>& progress = {}) {
  constexpr double enough_rows = 100000;
  double rows = 0;
  for (const auto& log : logs) rows += static_cast<double>(log.rows());
  dynamics paths = with;
  if (rows > 2 * enough_rows) {
    trim_options few = options;
    few.fewest_readings *= enough_rows / rows;
    paths = detail::trim_finder(logs, base, correction, with, few, enough_rows / rows).run({}).with;
    for (auto& sensor : paths.sensors) sensor.pipe_gas_mass_g.spread = sensor.lag_s.spread = 0;
  }
  return detail::trim_finder(logs, base, correction, paths, options).run(progress);
}

}  // namespace fettle
