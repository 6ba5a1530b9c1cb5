// SPDX-License-Identifier: MIT
#include "virtual_engine/physics_json.hpp"

#include <nlohmann/json.hpp>
#include <string>

namespace virtual_engine {

nlohmann::ordered_json physics_json(const engine& e) {
  using nlohmann::ordered_json;
  ordered_json result;
  for (const std::string& name : e.physics) {
    ordered_json& effect = result[name] = ordered_json::object();
    if (name == "film")
      for (const auto& bank : e.bank)
        effect[bank.name] = {{"share_by_charge", bank.film.share_by_charge},
                             {"share_by_speed", bank.film.share_by_speed},
                             {"time_by_charge", bank.film.time_by_charge},
                             {"time_by_speed", bank.film.time_by_speed}};
    if (name == "pipes") effect["gas_over_mean_less_1"] = e.pipe_excess;
    if (name == "lag")
      for (const auto& sensor : e.sensor)
        effect[sensor.name] = {{"lag_to_lean_over_lag_to_rich", sensor.lag_ratio},
                               {"second_lag_s", sensor.second_lag_s}};
    if (name == "reversion")
      effect = {{"air_drawn_in", e.sensor[0].air_drawn_in}, {"flow_g_s", e.sensor[0].air_drawn_in_flow_g_s}};
    if (name == "misfire")
      effect = {{"always", e.misfire.always},
                {"at_no_charge", e.misfire.at_no_charge},
                {"gone_by_charge", e.misfire.gone_by_charge},
                {"unseen_fuel", e.misfire.unseen_fuel}};
  }
  return result;
}

}  // namespace virtual_engine
