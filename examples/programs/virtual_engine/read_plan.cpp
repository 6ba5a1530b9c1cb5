// SPDX-License-Identifier: MIT
#include "virtual_engine/read_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"

namespace virtual_engine {

std::vector<planned_leg> read_plan(const std::filesystem::path& path, const map& loaded) {
  std::vector<fettle::log_channel> wanted;
  for (const char* name : {"rpm", "throttle_pct", "rpm_to", "throttle_pct_to"})
    wanted.push_back({.name = name, .file_name = name});
  const auto log = fettle::read_log_csv(path, wanted);
  std::vector<planned_leg> result;
  for (std::size_t row = 0; row < log.rows(); ++row) {
    const auto at = [&](const char* name, std::size_t axis) {
      constexpr double slowest_rpm = 500;
      const double value = (*log.find(name))[row], highest = loaded.axes()[axis].points().back(),
                   lowest = std::max(loaded.axes()[axis].points().front(), axis == 0 ? slowest_rpm : 0.0);
      if (!(value >= lowest && value <= highest))
        throw fettle::error(
            fmt::format("{}, line {}: {} is {:g}, expected {:g} to {:g} as on the map that is driven; is it a plan for "
                        "another map?",
                        fettle::path_text(path), row + 2, name, value, lowest, highest));
      return value;
    };
    result.push_back({.from = {at("rpm", 0), at("throttle_pct", 1)},  //
                      .to = {at("rpm_to", 0), at("throttle_pct_to", 1)}});
  }
  if (result.empty()) throw fettle::error(fettle::path_text(path) + ": has no line to drive, expected at least one");
  return result;
}

}  // namespace virtual_engine
