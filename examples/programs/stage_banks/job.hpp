// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "common/session/cell_name.hpp"
#include "common/session/recording.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/sizing.hpp"
#include "stage_banks/identified_films.hpp"
#include "stage_banks/passage.hpp"
#include "stage_banks/planning.hpp"
#include "stage_banks/pulls.hpp"
#include "virtual_engine/loaded_maps.hpp"

namespace stage_banks {

/// What the user may choose beside the session.
struct choices {
  std::optional<std::uint64_t> seed{};  ///< of the virtual engine; none: the session's
  std::filesystem::path films{};        ///< summary.json of correct_map; empty: the session's films
  std::size_t pulls = 6;                ///< of each kind
  double gain_pct = 1;                  ///< of torque, to be seen
  bool writes_anyway = false;           ///< a plan that must not be loaded is written all the same
};

/// One strategy in one passage.
struct strategy_result {
  trace made;
  std::vector<double> staging{};  ///< lambda over that of one ideal bank, less one
  excursion_size staging_size{}, total_size{};
  std::array<double, 2> largest_duty{};     ///< by bank
  std::array<double, 2> pulse_margin_ms{};  ///< smallest distance of a pulse from the smallest allowed; NaN: shut
};

/// A compensated passage with film values that are wrong by some fraction.
struct film_case {
  std::string name;
  double wrong = 0;  ///< by what fraction
  film_errors which = film_errors::same_way;
  share_use use = share_use::staged;
  lambda_parts size{};
};

/// One passage with all strategies.
struct passage_result {
  passage through;
  std::array<strategy_result, strategies.size()> by_strategy{};
  std::vector<film_case> known{};  ///< compensated: from exact film values to the worst of those allowed for, rising
  lambda_parts expected{};         ///< with the session's film error, both banks in the same direction
  lambda_parts worst{};            ///< the same in the worst of all directions
  lambda_parts constant_split{};   ///< the same with the split kept constant: nothing is staged

  [[nodiscard]] excursion_size opened_at_once() const { return with(strategy::opened_at_once).staging_size; }
  /// Does staging keep lambda within the aim with wrong films, up (0) or down (1)?
  [[nodiscard]] bool meets_aim(std::size_t way, double allowed) const {
    return expected.staging.largest[way] < allowed &&
           5 * expected.staging.largest[way] <= opened_at_once().largest[way];
  }
  /// How wrong film values may be for staging to keep lambda. Between the cases driven on a straight line: excursions
  /// bend upwards, so that errs to the safe side.
  [[nodiscard]] double largest_film_error(std::size_t way, double allowed) const;
  [[nodiscard]] const strategy_result& with(strategy how) const { return by_strategy[static_cast<std::size_t>(how)]; }
};

/// All results of one run.
struct outcome {
  session::session session;
  std::uint64_t seed = 0;
  bank_pair banks;
  staging_maps planned;  ///< with the session's wanted share
  staging_maps least;    ///< the second bank only where the primary cannot do without
  std::vector<passage_result> passages{};
  power_question power{};
  bool writes_anyway = false;
  std::vector<std::string> objections{};  ///< why the plan must not be loaded; empty: it may

  /// Fuel that a cell lacks where no bank may stay open longer than its largest duty, as a fraction of what it needs.
  [[nodiscard]] double lacking(std::size_t cell) const;
  /// Cells that lack fuel, the worst first.
  [[nodiscard]] std::vector<std::size_t> lacking_cells() const;
  /// Cells that the plan does not meet, those that lack most fuel first.
  [[nodiscard]] std::vector<std::size_t> unmet_cells() const;
  [[nodiscard]] bool writes_map() const { return objections.empty() || writes_anyway; }
  /// 3: the plan must not be loaded.
  [[nodiscard]] int exit_code() const { return objections.empty() ? 0 : 3; }
};

/// What the injectors must carry and what they can.
struct bank_sizing {
  double static_g_per_min = 0, static_cm3_per_min = 0;
  double needed_g_per_min = 0;  ///< each, if this bank carried the goal alone
  double carried_power_kw = 0;  ///< by this bank alone, at the goal's consumption and duty
};

[[nodiscard]] bank_sizing size_bank(const outcome& results, std::size_t bank);

using stage_progress = std::function<void(const std::string& stage, double fraction)>;

/// By both banks together, at the goal's consumption and duty.
[[nodiscard]] double carried_power_kw(const outcome& results);

/// A cell that lacks more fuel than this, as a fraction, must not be driven: as a lean cylinder is called out.
inline constexpr double most_lacking = 0.03;

/// Why a plan must not be loaded; none: it may.
[[nodiscard]] std::vector<std::string> objections_to(const outcome& planned);

/// Plans the second bank of a session and tries the plan on the virtual engine that the session names.
///
/// The virtual engine gets the session's injectors; its air and its films stay its own.
/// Errors: `fettle::error` with one message that names the file and place; nothing is written here.
[[nodiscard]] outcome run(session::session session, const choices& choices, const stage_progress& progress);

}  // namespace stage_banks
