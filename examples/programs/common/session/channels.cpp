// SPDX-License-Identifier: MIT
#include "common/session/channels.hpp"

#include <algorithm>

namespace session {
namespace {

/// A misspelt name under /columns would leave the column that was meant unread without a word.
void refuse_unknown_columns(const session& setup, const std::vector<fettle::log_channel>& known) {
  for (const auto& column : setup.columns) {
    if (std::any_of(known.begin(), known.end(), [&](const auto& each) { return each.name == column.name; })) continue;
    std::string list;
    std::vector<std::string> names;
    for (const auto& each : known) {
      list += (list.empty() ? "" : ", ") + each.name;
      names.push_back(each.name);
    }
    throw fettle::error(fettle::path_text(setup.path) + ": /columns has \"" + column.name +
                        "\", which is not known here; known are " + list + meant_instead_of(column.name, names));
  }
}

}  // namespace

std::vector<fettle::log_channel> wanted_channels(const session& setup, const std::vector<std::string>& axes) {
  std::vector<fettle::log_channel> result;
  const auto is_named = [](const auto& list, const std::string& name) {
    return std::find_if(list.begin(), list.end(), [&](const auto& each) { return each.name == name; });
  };
  const auto want = [&](const std::string& name, bool required) {
    if (is_named(result, name) != result.end()) return;
    const auto given = is_named(setup.columns, name);
    if (given != setup.columns.end())
      result.push_back(*given);
    else
      result.push_back({.name = name, .file_name = name, .required = required});
  };
  want("time_s", true);
  want("rpm", true);
  for (const auto& axis : axes) want(axis, true);
  for (const auto& bank : setup.banks)
    for (const auto& column : bank.pulse_columns) want(column, true);
  for (const auto& sensor : setup.sensors) want(sensor.column, true);
  for (const char* name :
       {"lambda_target", "throttle_pct", "battery_v", "air_kPa", "air_degC", "manifold_kPa", "coolant_degC", "fuel_kPa",
        "fuel_factor", "loop_pct", "fuel_cut", "misfire", "ignition_cut"})
    want(name, false);
  refuse_unknown_columns(setup, result);
  for (const auto& sensor : setup.sensors)
    if (!sensor.is_fitted) std::erase_if(result, [&](const auto& column) { return column.name == sensor.column; });
  return result;
}

}  // namespace session
