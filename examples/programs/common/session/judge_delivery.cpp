// SPDX-License-Identifier: MIT
#include "common/session/judge_delivery.hpp"

#include <fmt/format.h>

#include <cmath>

namespace session {
namespace {

/// What is known of the closed loop during a log.
enum class loop_knowledge {
  known,    ///< open, or its trim is logged: nothing but the map and the logged factors moved the fuel
  active,   ///< closed, and its trim is not logged
  nothing,  ///< the session does not say
};

[[nodiscard]] loop_knowledge knowledge_of_loop(const session& setup, bool loop_is_logged) {
  if (loop_is_logged || setup.loop_is_closed == false) return loop_knowledge::known;
  return setup.loop_is_closed ? loop_knowledge::active : loop_knowledge::nothing;
}

[[nodiscard]] std::string in_words(const delivery_trend& trend) {
  return fmt::format("{:+.1f} % over the range of {} (likely cause: {})", 100 * trend.change, trend.name, trend.cause);
}

}  // namespace

bool belongs_to_need(const session& setup, const delivery& fuel, bool loop_is_logged) {
  constexpr double negligible = 1e-3;
  if (!std::isfinite(fuel.ratio) || knowledge_of_loop(setup, loop_is_logged) != loop_knowledge::known) return false;
  if (std::abs(fuel.ratio - 1) > negligible) return true;
  for (const auto& trend : fuel.trends)
    if (trend.is_condition && std::abs(trend.change) > negligible) return true;
  return false;
}

std::vector<std::string> judge_delivery(const session& setup, const delivery& fuel, bool loop_is_logged,
                                        const std::string& name) {
  std::vector<std::string> remarks;
  if (!std::isfinite(fuel.ratio)) return remarks;  // nothing was injected
  const loop_knowledge loop = knowledge_of_loop(setup, loop_is_logged);
  const double most_off = loop == loop_knowledge::known ? 0.04 : loop == loop_knowledge::active ? 0.15 : 0.01;
  const std::string delivers =
      fmt::format("log {}: the pulses deliver {:.1f} % of the fuel that the map asks for", name, 100 * fuel.ratio);
  const std::string say_loop = loop == loop_knowledge::nothing
                                   ? "; if that is the work of closed loop, log loop_pct or say \"closed_loop\": true "
                                     "in the session, if the loop was off say false"
                                   : "";
  if (std::abs(fuel.ratio - 1) > most_off)
    throw fettle::error(
        fmt::format("{}: injector flow or dead time, pulse columns, banks, the factors of the controller or the map do "
                    "not belong to this log{}",
                    delivers, say_loop));
  constexpr double large = 0.01, worth_saying = 0.005;
  for (const auto& trend : fuel.trends) {
    const bool refuses = loop == loop_knowledge::nothing || (loop == loop_knowledge::known && !trend.is_condition);
    const std::string words = in_words(trend);
    if (refuses && std::abs(trend.change) > large)
      throw fettle::error(fmt::format("{}, and that changes by {}{}", delivers, words, say_loop));
    if (std::abs(trend.change) > worth_saying)
      remarks.push_back(fmt::format("{}: delivered over asked fuel changes by {}", name, words));
  }
  if (loop == loop_knowledge::active)
    remarks.push_back(name +
                      ": closed loop was active and its trim is not logged; the level of the corrected map is "
                      "only as right as the injectors' flow and dead time in the session");
  else if (std::abs(fuel.ratio - 1) > worth_saying)
    remarks.push_back(fmt::format("{}; taken as a factor of the controller, which will act on the corrected map too",
                                  delivers.substr(4)));
  return remarks;
}

}  // namespace session
