// SPDX-License-Identifier: MIT
#include "compare_pulls/comparison.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <utility>

#include "compare_pulls/clustered.hpp"
#include "compare_pulls/pull_rows.hpp"
#include "compare_pulls/pulls_needed.hpp"
#include "fettle/error.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/io/text.hpp"

namespace compare_pulls {
namespace {

/// All pulls as one model: a torque curve before, one after, and the engine's inertia of each where it is identified.
class torque_model {
 public:
  torque_model(const settings& settings, const std::vector<pull>& pulls, const fettle::road_load<double>& load,
               const coast_fit* coasts)
      : settings_{settings}, pulls_{pulls}, load_{load}, coasts_{coasts}, axis_{speeds()} {
    by_sets_ = settings.state[0].sets >= 2 && settings.state[1].sets >= 2;
    for (std::size_t s = 0; s < 2; ++s) place_inertia(s);
    require_both_ways();
    place_wind();
    fit();
  }

  [[nodiscard]] comparison result() const {
    comparison all{.by_sets = by_sets_};
    const auto [low, high] = common_range();
    constexpr int count = 25;
    Eigen::VectorXd mean = Eigen::VectorXd::Zero(cells());
    for (int i = 0; i < count; ++i) {
      const double rpm = low + (high - low) * i / (count - 1);
      const Eigen::VectorXd at = detail::hats(axis_, {rpm}).row(0).transpose();
      mean += at / count;
      all.points.push_back({rpm, torque(0, at), torque(1, at), with_set_spread(gain(at))});
    }
    all.before_nm = torque(0, mean);
    all.after_nm = torque(1, mean);
    const estimate pure = gain(mean);
    all.gain = with_set_spread(pure);
    // Inertia comes from comparing gears within sets: what a set has in common cancels, so pulls are the clusters.
    const clustered_fit& by_pull = by_pull_ ? *by_pull_ : *fit_;
    for (std::size_t s = 0; s < 2; ++s)
      if (column_[s] >= 0) all.engine_kgm2[s] = number(by_pull, unit(column_[s]));
    if (column_[0] >= 0 && column_[1] >= 0) all.inertia_change = number(by_pull, unit(column_[1]) - unit(column_[0]));
    count_units(all, pure);
    return all;
  }

 private:
  [[nodiscard]] Eigen::Index cells() const { return static_cast<Eigen::Index>(axis_.size()); }

  [[nodiscard]] fettle::dynamic_axis<double> speeds() const {
    double low = 1e9, high = 0;
    for (const auto& p : pulls_) {
      low = std::min(low, *std::min_element(p.rpm.begin(), p.rpm.end()));
      high = std::max(high, *std::max_element(p.rpm.begin(), p.rpm.end()));
    }
    const int cells = std::clamp(static_cast<int>((high - low) / 250), 4, 40);
    std::vector<double> points;
    for (int i = 0; i <= cells; ++i) points.push_back(low + (high - low) * i / cells);
    return *fettle::dynamic_axis<double>::from(std::move(points));
  }

  /// Speeds that pulls of both states went through. Free revving is too short to measure torque: it is there for the
  /// inertia, and its speeds count only when there is nothing else.
  [[nodiscard]] std::pair<double, double> common_range() const {
    std::array<double, 2> low{1e9, 1e9}, high{0, 0};
    const bool only_free = std::all_of(pulls_.begin(), pulls_.end(), [](const auto& p) { return p.is_free; });
    for (const auto& p : pulls_) {
      if (p.is_free && !only_free) continue;
      low[p.state] = std::min(low[p.state], p.rpm.front());
      high[p.state] = std::max(high[p.state], p.rpm.back());
    }
    for (std::size_t s = 0; s < 2; ++s)
      if (!(high[s] > 0))
        throw fettle::error(
            fmt::format("{}: all pulls of \"{}\" revved freely; expected pulls in gear of both states, or of "
                        "neither",
                        fettle::path_text(settings_.path), settings_.state[s].name));
    const double from = std::max(low[0], low[1]), to = std::min(high[0], high[1]);
    if (!(to - from >= 500))
      throw fettle::error(
          fmt::format("{}: the pulls before cover {:.0f} to {:.0f} rpm, those after {:.0f} to {:.0f} rpm; "
                      "expected an overlap of at least 500 rpm",
                      fettle::path_text(settings_.path), low[0], high[0], low[1], high[1]));
    return {from, to};
  }

  /// If all pulls of one state went the same way, the wind would pass for the change.
  void require_both_ways() const {
    for (std::size_t s = 0; s < 2; ++s) {
      int out = 0, back = 0;
      for (const auto& p : pulls_)
        if (p.state == s && !p.is_free) (p.way == direction::out ? out : back) += p.way == direction::unknown ? 0 : 1;
      if ((out == 0) != (back == 0))
        throw fettle::error(
            fmt::format("{}: all pulls of \"{}\" went the same way, so wind and slope cannot be distinguished from the "
                        "change; expected as many out as back, or no direction for any",
                        fettle::path_text(settings_.path), settings_.state[s].name));
    }
  }

  /// A steady wind is fitted to a set of pulls that went both ways.
  void place_wind() {
    std::set<std::pair<std::size_t, std::size_t>> out, back;
    for (const auto& p : pulls_) {
      if (p.way == direction::out) out.emplace(p.state, p.set);
      if (p.way == direction::back) back.emplace(p.state, p.set);
    }
    for (const auto& set : out)
      if (back.contains(set)) wind_[set] = 2 * cells() + extra_++;
  }

  /// Decides whether a state's pulls identify the engine's inertia.
  void place_inertia(std::size_t state) {
    std::set<std::size_t> gears;
    std::size_t units = 0;
    for (const auto& p : pulls_)
      if (p.state == state) {
        gears.insert(p.is_free ? 0 : settings_.source == torque_source::dyno ? 1 : p.gear);
        ++units;
      }
    if (units < 2)
      throw fettle::error(fmt::format(
          "{}: \"{}\" has {} pull; expected two or more, since a single pull says nothing about the scatter",
          fettle::path_text(settings_.path), settings_.state[state].name, units));
    if (gears.size() >= 2 && !settings_.state[state].engine_kgm2) {
      column_[state] = 2 * cells() + extra_++;
      return;
    }
    if (settings_.source == torque_source::road && !settings_.state[state].engine_kgm2)
      throw fettle::error(fmt::format(
          "{}: the pulls of \"{}\" are all in one gear, so the inertia of the engine cannot be separated from its "
          "torque; add pulls in a second gear, or give engine_kgm2",
          fettle::path_text(settings_.path), settings_.state[state].name));
  }

  void fit() {
    std::vector<std::size_t> order(pulls_.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    const auto unit_of = [&](std::size_t i) { return std::pair{pulls_[i].state, by_sets_ ? pulls_[i].set : i}; };
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return unit_of(a) < unit_of(b); });
    std::vector<pull_rows> parts;
    Eigen::Index rows = 0;
    for (const std::size_t i : order) {
      parts.push_back(rows_of(pulls_[i], settings_, axis_));
      rows += parts.back().value.size();
    }
    const Eigen::Index columns = 2 * cells() + extra_;
    Eigen::MatrixXd x = Eigen::MatrixXd::Zero(rows, columns);
    Eigen::VectorXd y(rows);
    load_of_rows_.resize(rows, 3);
    // A gear that loses more than the session says makes all impulses in that gear too small.
    Eigen::MatrixXd gear_rows = Eigen::MatrixXd::Zero(rows, static_cast<Eigen::Index>(settings_.gears.size()) + 1);
    std::vector<std::pair<Eigen::Index, Eigen::Index>> cluster, pull_clusters;
    Eigen::Index first = 0;
    for (std::size_t k = 0; k < parts.size(); ++k) {
      const auto& part = parts[k];
      const std::size_t state = pulls_[order[k]].state;
      const Eigen::Index n = part.value.size();
      x.block(first, static_cast<Eigen::Index>(state) * cells(), n, cells()) = part.cells;
      y.segment(first, n) = part.value + part.road_load * Eigen::Vector3d(load_.constant_n, load_.linear_ns_per_m,
                                                                          load_.quadratic_ns2_per_m2);
      load_of_rows_.middleRows(first, n) = part.road_load;
      const bool is_geared = settings_.source == torque_source::road && !pulls_[order[k]].is_free;
      if (is_geared)
        gear_rows.col(static_cast<Eigen::Index>(pulls_[order[k]].gear)).segment(first, n) = y.segment(first, n);
      const auto wind = wind_.find({state, pulls_[order[k]].set});
      if (wind != wind_.end()) x.col(wind->second).segment(first, n) = -part.wind;
      if (column_[state] >= 0)
        x.col(column_[state]).segment(first, n) = -part.inertia;
      else
        y.segment(first, n) += part.inertia * settings_.state[state].engine_kgm2.value_or(0);
      if (k > 0 && unit_of(order[k]) == unit_of(order[k - 1])) {
        cluster.back().second += n;
      } else {
        cluster.emplace_back(first, n);
        ++units_[state];
      }
      pull_clusters.emplace_back(first, n);
      first += n;
    }
    const Eigen::MatrixXd smooth = penalty(x, y);
    fit_.emplace(x, y, cluster, smooth);
    if (by_sets_ && extra_ > 0) by_pull_.emplace(x, y, pull_clusters, smooth);
    sensitivity_ = fit_->solve(load_of_rows_);
    gear_sensitivity_ = fit_->solve(gear_rows);
  }

  /// Smoothing by REML, chosen for one curve under all pulls, so that it is the same before and after.
  [[nodiscard]] Eigen::MatrixXd penalty(const Eigen::MatrixXd& x, const Eigen::VectorXd& y) const {
    std::vector<fettle::map_term> terms{fettle::smooth_term({axis_}, std::vector<double>{1e-3})};
    for (Eigen::Index k = 0; k < extra_; ++k) terms.push_back({.axes = {}});
    const fettle::map_model model(std::move(terms));
    fettle::sample_rows rows;
    for (Eigen::Index i = 0; i < x.rows(); ++i) {
      for (Eigen::Index k = 0; k < cells(); ++k) rows.put(static_cast<std::size_t>(k), x(i, k) + x(i, cells() + k));
      for (Eigen::Index k = 0; k < extra_; ++k) rows.put(static_cast<std::size_t>(cells() + k), x(i, 2 * cells() + k));
      rows.finish(y[i]);
    }
    const auto smooth =
        fettle::fit_rows(model, rows, {.strengths = fettle::criterion::reml}).model.terms()[0].smooth[0];
    Eigen::MatrixXd result = Eigen::MatrixXd::Zero(x.cols(), x.cols());
    for (const Eigen::Index at : {Eigen::Index{0}, cells()})
      result.block(at, at, cells(), cells()) = smooth.strength * smooth.rough.matrix;
    return result;
  }

  [[nodiscard]] double torque(std::size_t state, const Eigen::VectorXd& at) const {
    return at.dot(fit_->value().segment(static_cast<Eigen::Index>(state) * cells(), cells()));
  }
  [[nodiscard]] Eigen::VectorXd unit(Eigen::Index column) const {
    return Eigen::VectorXd::Unit(2 * cells() + extra_, column);
  }
  /// A weighted sum with the errors of the gears' efficiencies and of the coast-downs in it.
  [[nodiscard]] estimate number(const clustered_fit& fit, const Eigen::VectorXd& weights) const {
    const double spread = settings_.efficiency_spread_pct / 100;
    const estimate pure =
        with_variance(fit(weights), spread * spread * (gear_sensitivity_.transpose() * weights).squaredNorm());
    if (coasts_ == nullptr) return pure;
    return with_variance(pure, (*coasts_)(sensitivity_.transpose() * weights));
  }
  [[nodiscard]] estimate gain(const Eigen::VectorXd& at) const {
    const double before = torque(0, at), ratio = torque(1, at) / before;
    Eigen::VectorXd weights = Eigen::VectorXd::Zero(2 * cells() + extra_);
    weights.segment(0, cells()) = -ratio / before * at;
    weights.segment(cells(), cells()) = at / before;
    estimate result = number(*fit_, weights);
    result.value = ratio - 1;
    return result;
  }
  /// The variance between sets that is assumed when there is only one set before or after.
  [[nodiscard]] double set_variance() const {
    return by_sets_ ? 0 : 2 * settings_.between_sets_pct * settings_.between_sets_pct * 1e-4;
  }
  [[nodiscard]] estimate with_set_spread(const estimate& pure) const { return with_variance(pure, set_variance()); }

  void count_units(comparison& all, const estimate& pure) const {
    all.units = units_;
    const double each = 1 / static_cast<double>(units_[0]) + 1 / static_cast<double>(units_[1]);
    const scatter of_unit{pure.standard_error / std::sqrt(each), pure.freedom};
    all.units_needed = units_needed(of_unit, settings_.gain_pct / 100, set_variance());
    const std::size_t n = std::min(units_[0], units_[1]);
    double low = 0, high = 0.5;
    all.smallest_gain = std::nan("");
    if (n < 2 || chance_shown(of_unit, high, n, set_variance()) < 0.95) return;
    for (int i = 0; i < 20; ++i) {
      const double middle = (low + high) / 2;
      (chance_shown(of_unit, middle, n, set_variance()) < 0.95 ? low : high) = middle;
    }
    all.smallest_gain = high;
  }

  const settings& settings_;
  const std::vector<pull>& pulls_;
  fettle::road_load<double> load_;
  const coast_fit* coasts_;
  fettle::dynamic_axis<double> axis_;
  bool by_sets_ = false;
  std::array<Eigen::Index, 2> column_{-1, -1};
  Eigen::Index extra_ = 0;
  std::map<std::pair<std::size_t, std::size_t>, Eigen::Index> wind_{};  ///< columns, by state and set
  std::array<std::size_t, 2> units_{};
  std::optional<clustered_fit> fit_, by_pull_;  ///< the second only where it differs and is needed
  Eigen::MatrixXd load_of_rows_, sensitivity_, gear_sensitivity_;
};

}  // namespace

comparison compare(const settings& settings, const std::vector<pull>& pulls, const fettle::road_load<double>& load,
                   const coast_fit* coasts) {
  return torque_model(settings, pulls, load, coasts).result();
}

}  // namespace compare_pulls
