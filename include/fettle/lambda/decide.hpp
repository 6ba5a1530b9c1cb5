// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/cell_evidence.hpp"

namespace fettle {

/// What became of a cell.
enum class cell_state : std::uint8_t {
  corrected,   ///< it got what it needs, to within `decision_limits::lean_tolerance`
  safe_part,   ///< changed as far as is safe, which is less than the estimate
  still_lean,  ///< it needs more fuel than it got
  left_alone,  ///< driven, and not changed
  not_driven,  ///< no reading counted there; never leaned, enriched where its surroundings are sure of it
};

/// What becomes of cells in which nothing was measured.
enum class undriven_cells : std::uint8_t { follow_if_surely_lean, leave_alone };

/// How far one pass may go, and on what evidence it may take fuel away.
struct decision_limits {
  double richer = 0.15;          ///< most fuel added to a cell in one pass, as a fraction of it
  double leaner = 0.05;          ///< most fuel taken from a cell in one pass, as a fraction of it, below 1
  double margin_errors = 1;      ///< leaning stops this many standard errors short of the estimate; see `lean_weight`
  double least_seconds = 0.1;    ///< of driving, below which a cell is not leaned; fully from twice as long on
  double least_agreement = 0.6;  ///< below which a cell is not leaned; fully from halfway to 1 on
  double most_lean_end = 0.05;   ///< share of readings at the lean end from which on a cell is not leaned; fully up
                                 ///< to half of it: where a delay is a little off, some air from a fuel cut counts
  double lean_tolerance = 0.01;  ///< a cell that is left leaner than this, as a fraction, is called lean
  undriven_cells undriven = undriven_cells::follow_if_surely_lean;
};

/// What is loaded, cell by cell.
struct decision {
  std::vector<double> applied;  ///< new value over present value
  std::vector<cell_state> state;

  [[nodiscard]] std::vector<std::size_t> cells(cell_state which) const {
    std::vector<std::size_t> result;
    for (std::size_t k = 0; k < state.size(); ++k)
      if (state[k] == which) result.push_back(k);
    return result;
  }
};

/// How many times worse a lack of fuel that the decision causes must be than an equal excess for this margin to be
/// right: P / (1 - P), P the normal probability below `margin_errors`. 5.30 at one standard error, 5 at 0.967422.
[[nodiscard]] inline double lean_weight(double margin_errors) noexcept {
  const double above = 0.5 * std::erfc(margin_errors / std::sqrt(2.0));
  return (1 - above) / above;
}

namespace detail {

// 0 up to `from`, 1 from `to` on.
[[nodiscard]] inline double rise(double x, double from, double to) noexcept {
  return to > from ? std::clamp((x - from) / (to - from), 0.0, 1.0) : (x >= to ? 1.0 : 0.0);
}

inline void check_limits(const decision_limits& limits) {
  const auto require = [](bool holds, const char* name, double value, const char* expected) {
    if (!holds) throw error(std::string("decide: ") + name + " is " + std::to_string(value) + ", expected " + expected);
  };
  require(limits.richer >= 0 && std::isfinite(limits.richer), "richer", limits.richer, "a fraction of at least 0");
  require(limits.leaner >= 0 && limits.leaner < 1, "leaner", limits.leaner, "a fraction from 0 to below 1");
  require(limits.margin_errors >= 0 && std::isfinite(limits.margin_errors), "margin_errors", limits.margin_errors,
          "a number of standard errors of at least 0");
  require(limits.least_seconds >= 0 && std::isfinite(limits.least_seconds), "least_seconds", limits.least_seconds,
          "a time of at least 0 s");
  require(limits.least_agreement >= 0 && limits.least_agreement <= 1, "least_agreement", limits.least_agreement,
          "a weight from 0 to 1");
  require(limits.most_lean_end >= 0 && limits.most_lean_end <= 1, "most_lean_end", limits.most_lean_end,
          "a share from 0 to 1");
  require(limits.lean_tolerance >= 0 && std::isfinite(limits.lean_tolerance), "lean_tolerance", limits.lean_tolerance,
          "a fraction of at least 0");
}

inline void check_evidence(std::span<const cell_evidence> cells) {
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const auto require = [&](bool holds, const char* name, double value, const char* expected) {
      if (!holds)
        throw error("decide: cell " + std::to_string(k) + ": " + name + " is " + std::to_string(value) + ", expected " +
                    expected);
    };
    const cell_evidence& cell = cells[k];
    require(cell.correction > 0 && std::isfinite(cell.correction), "the correction", cell.correction,
            "a factor above 0");
    require(cell.standard_error > 0 && std::isfinite(cell.standard_error), "the standard error", cell.standard_error,
            "a number above 0: no estimate is exact");
    require(cell.common_error >= 0 && std::isfinite(cell.common_error), "the common error", cell.common_error,
            "a number of at least 0");
    require(cell.seconds >= 0 && std::isfinite(cell.seconds), "the time driven", cell.seconds, "at least 0 s");
    require(cell.passes >= 0 && std::isfinite(cell.passes), "the number of passes", cell.passes, "at least 0");
    require(cell.lean_end_share >= 0 && cell.lean_end_share <= 1, "the share of readings at the lean end",
            cell.lean_end_share, "a share from 0 to 1");
    require(cell.agreement >= 0 && cell.agreement <= 1, "the agreement", cell.agreement, "a weight from 0 to 1");
    require(cell.false_lean >= 0 && std::isfinite(cell.false_lean), "the false lean", cell.false_lean,
            "a number of at least 0");
  }
}

// How much of the leaning that is sure may be followed, 0 .. 1.
[[nodiscard]] inline double leaning_share(const cell_evidence& cell, const decision_limits& limits) noexcept {
  return rise(cell.seconds, limits.least_seconds, 2 * limits.least_seconds) *
         rise(cell.agreement, limits.least_agreement, (1 + limits.least_agreement) / 2) *
         (1 - rise(cell.lean_end_share, limits.most_lean_end / 2, limits.most_lean_end));
}

// The change of least expected loss, as a logarithm, whatever one pass allows.
[[nodiscard]] inline double wanted_change(const cell_evidence& cell, const decision_limits& limits) noexcept {
  const double needed = std::log(cell.correction);
  const bool is_driven = cell.passes > 0;
  if (!is_driven && limits.undriven == undriven_cells::leave_alone) return 0;
  if (!is_driven || needed >= 0) {  // nothing up to the doubt, in full from twice the doubt on
    const double doubt = cell.false_lean + (is_driven ? 0 : cell.standard_error);
    return (std::max)(0.0, (std::min)(needed, 2 * (needed - doubt)));
  }
  const double error = std::hypot(cell.standard_error, cell.common_error);
  return leaning_share(cell, limits) * (std::min)(0.0, needed + limits.margin_errors * error);
}

[[nodiscard]] inline cell_state state_of(const cell_evidence& cell, double applied,
                                         const decision_limits& limits) noexcept {
  const double left = std::log(cell.correction / applied), tolerated = std::log1p(limits.lean_tolerance);
  if (!(cell.passes > 0))
    return left - cell.false_lean - cell.standard_error > tolerated ? cell_state::still_lean : cell_state::not_driven;
  if (left - cell.false_lean > tolerated) return cell_state::still_lean;
  if (applied == 1) return cell_state::left_alone;
  return std::abs(left) > tolerated ? cell_state::safe_part : cell_state::corrected;
}

}  // namespace detail

/// Decides what of an estimate reaches the engine: enrichment follows the estimate, leaning goes only as far as is sure.
///
/// Let theta be the logarithm of the fuel that a cell needs over what it has, known as N(m, s^2), and a the change that
/// is made. Too much fuel costs (a - theta)+, too little (theta - a)+; a lack of fuel that the change itself causes,
/// min((theta - a)+, (-a)+), costs w times as much, because the engine was not lean there before. The expected loss
/// falls with a while
///
///     a > 0:  P(theta < a) < P(theta > a)      so a = m where m > 0,
///     a < 0:  P(theta < a) < w P(theta > a)    so a = min(0, m + z s) where m < 0, z the w / (1 + w) normal quantile.
///
/// `margin_errors` is z, `lean_weight` gives w. A lean cell is therefore enriched however little it was driven: its
/// estimate is as likely to be too low as too high. The errors must be honest for that, those of a single pass too.
/// Where readings may be leaner than the mixture by up to b, m up to b may be nothing but that, and a = 0 there: followed,
/// such readings would ask for more fuel again after every pass. From 2 b on most of m is certainly real, and a = m, because
/// lean is worse than rich; between them a = 2 (m - b), which has no cliff. A choice, not derived from the loss.
/// What else makes an estimate doubtful acts on leaning alone: little driving, readings that contradict each other, and
/// readings at the lean end of the sensor, where the mixture may be leaner still. Cells where nothing was measured are
/// never leaned; they are enriched in the same way, b greater by s, or not at all (`undriven`). What one pass may change
/// bounds everything.
///
/// The change rises with m, and without b and the bounds on leaning two cells differ by no more than their estimates do and
/// `margin_errors` times what their errors do: the decision adds no cliff of its own.
///
/// @param cells  in any order; each is decided by itself, be it of a map or of a cylinder's trim.
/// @return       one factor and one state per cell.
/// Errors: `fettle::error` for a limit or an evidence that has no meaning, naming it, the cell and what is expected.
/// Source: closed form from the loss above; the quantile for weighted absolute loss: R. Koenker, G. Bassett, "Regression
///         quantiles", Econometrica 46 (1978) 33-50, doi:10.2307/1913643 (from memory).
[[nodiscard]] inline decision decide(std::span<const cell_evidence> cells, const decision_limits& limits = {}) {
  detail::check_limits(limits);
  detail::check_evidence(cells);
  decision result{.applied = {}, .state = {}};
  for (const cell_evidence& cell : cells) {
    result.applied.push_back(
        std::clamp(std::exp(detail::wanted_change(cell, limits)), 1 - limits.leaner, 1 + limits.richer));
    result.state.push_back(detail::state_of(cell, result.applied.back(), limits));
  }
  return result;
}

}  // namespace fettle
