// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>
#include <vector>

#include "fettle/lambda.hpp"
#include "fettle/map/interpolate.hpp"
#include "laboratory/pictures/invented_drive.hpp"
#include "virtual_engine/plan_drive.hpp"

namespace laboratory {

/// Drive, correct, load, drive again: a chain of passes, the last of which can be added to.
class pass_chain {
 public:
  /// @param settings  seed, richer_pct, leaner_pct, follows_plan.
  explicit pass_chain(nlohmann::json settings)
      : settings_(std::move(settings)), first_(driven(settings_.at("seed"), minutes, 1.15)), map_(first_.base) {
    logs_.push_back(first_.log);
    passes_.push_back(error_of(first_, map_));
    passes_[0]["state"] = nlohmann::json::array();
  }

  [[nodiscard]] const nlohmann::json& settings() const { return settings_; }
  [[nodiscard]] std::size_t passes() const { return passes_.size() - 1; }

  /// Drives with the map that is loaded, the first time excepted, and corrects it by all logs so far.
  void add() {
    if (passes() > 0) drive();
    // [pass]
    const auto identified =
        fettle::identify(logs_, map_, session::make_dynamics(first_.session, session::path_trust::prior));
    const auto seen = fettle::evidence_of(identified);
    const auto decided = fettle::decide(seen, {.richer = settings_.at("richer_pct").get<double>() / 100,
                                               .leaner = settings_.at("leaner_pct").get<double>() / 100});
    if (usage_.empty()) usage_ = fettle::usage_of(identified.seconds);  // the first drive was an ordinary one
    plan_ = fettle::drive_plan(map_, fettle::next_visits(map_, identified.covariance, usage_, {.count = 30}));
    // [/pass]
    load(corrected(map_, decided.applied));
    nlohmann::json pass = error_of(first_, map_);
    pass["state"] = state_names(decided);
    pass["applied_pct"] = as_pct(decided.applied);
    double variance = 0, used = 0;
    for (std::size_t k = 0; k < seen.size(); ++k) {
      variance += usage_[k] * seen[k].standard_error * seen[k].standard_error;
      used += usage_[k];
    }
    pass["error_pct"] = 100 * std::sqrt(variance / used);
    passes_.push_back(std::move(pass));
  }

  [[nodiscard]] nlohmann::json answer() const {
    nlohmann::json result{{"axes", axes_json(map_)}, {"passes", passes_}};
    result["left_pct"] = truth_pct(first_, map_);
    result["plan"] = nlohmann::json::array();
    for (const auto& leg : plan_)
      result["plan"].push_back({{"from", leg.from},
                                {"to", leg.to},
                                {"error_now_pct", 100 * leg.error_before},
                                {"error_after_pct", 100 * leg.error_after}});
    return result;
  }

 private:
  static constexpr double minutes = 3;

  /// The map to drive with and to correct from now on. What logs say that the map asks for is linear in its cells.
  void load(virtual_engine::map next) {
    for (auto& log : logs_)
      for (std::size_t i = 0; i < log.rows(); ++i)
        log.need_mg[i] *= fettle::interpolate(next.view<2>(), log.at[0][i], log.at[1][i]) /
                          fettle::interpolate(map_.view<2>(), log.at[0][i], log.at[1][i]);
    map_ = std::move(next);
  }

  void drive() {
    using namespace virtual_engine;
    const std::uint64_t day = settings_.at("seed").get<std::uint64_t>() + 1000 * logs_.size();
    std::vector<planned_leg> legs;
    for (const auto& leg : plan_) legs.push_back({{leg.from[0], leg.from[1]}, {leg.to[0], leg.to[1]}});
    const bool follows_plan = settings_.at("follows_plan").get<bool>() && !legs.empty();
    const auto table =
        simulate(first_.engine, alpha_n_controller{map_, share_map(), first_.engine.bank},
                 follows_plan ? plan_drive(legs, day, minutes) : stage_drive(day, minutes), {.seed = day})
            .log;
    logs_.push_back(session::make_recording(first_.session, virtual_session::as_file(map_), table, "drive").log);
  }

  nlohmann::json settings_;
  invented_drive first_;
  virtual_engine::map map_;  ///< as it is loaded now
  std::vector<fettle::recording> logs_;
  std::vector<double> usage_;
  std::vector<fettle::drive_leg> plan_;
  std::vector<nlohmann::json> passes_;
};

/// Passes of three minutes each, on the points of the first drive.
///
/// Question: seed; passes, how many; richer_pct and leaner_pct, the most that one pass may add to or take from a cell;
///           follows_plan, whether drives after the first follow the plan or are ordinary ones.
/// Answer:   axes; passes, the first of which is the map as it came: rms_pct and lean_pct left on the points of the first
///           drive, and error_pct, the standard error weighted by use, states and applied_pct per cell; left_pct, what
///           each cell still needs; plan, the legs of the next drive.
[[nodiscard]] inline nlohmann::json passes(const nlohmann::json& question) {
  nlohmann::json settings = question;
  settings.erase("passes");
  const auto wanted = question.at("passes").get<std::size_t>();
  static std::optional<pass_chain> last;  // the next press adds to it
  if (!last || last->settings() != settings || last->passes() > wanted) last.emplace(settings);
  while (last->passes() < wanted) last->add();
  return last->answer();
}

}  // namespace laboratory
