// SPDX-License-Identifier: MIT
#include "common/session/read_all_logs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "common/session/read_log.hpp"
#include "common/session/recording.hpp"
#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace session {
namespace {

/// Whether two stretches of logs are one and the same: long enough that chance cannot make them so.
bool are_copies(const fettle::recording& first, const fettle::recording& second) {
  constexpr std::size_t enough_rows = 100;
  const auto same = [](double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); };
  const auto& speed = first.speed_rpm;
  if (first.name == second.name || first.rows() < enough_rows || speed != second.speed_rpm ||
      first.sensors.size() != second.sensors.size() ||
      std::all_of(speed.begin(), speed.end(), [&](double rpm) { return rpm == speed.front(); }))
    return false;
  for (std::size_t s = 0; s < first.sensors.size(); ++s)
    if (!std::equal(first.sensors[s].lambda.begin(), first.sensors[s].lambda.end(), second.sensors[s].lambda.begin(),
                    second.sensors[s].lambda.end(), same))
      return false;
  return true;
}

/// Errors: `fettle::error` naming two logs that hold the same readings: what was measured once counts once.
void refuse_copies(const std::vector<fettle::recording>& logs) {
  for (std::size_t i = 0; i < logs.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (are_copies(logs[i], logs[j]))
        throw fettle::error(
            fmt::format("{} and {} hold the same readings; name each log once", logs[j].name, logs[i].name));
}

}  // namespace

all_logs read_all_logs(const session& setup, const fettle::map_file& base, const stage_progress& progress,
                       const log_check& check) {
  all_logs result;
  for (const auto& guess : setup.guesses) result.remarks.push_back("rests on a guess of the session: " + guess);
  for (std::size_t l = 0; l < setup.log_paths.size(); ++l) {
    const session during_log = setup.during(l);
    const std::string name = fettle::path_text(setup.log_paths[l]);
    const fettle::log_table log = read_log(during_log, setup.log_paths[l], base.axis_names, progress);
    result.rows += log.rows();
    check(during_log, log, name);
    read_recording read = make_recording(during_log, base, log, name);
    result.remarks.insert(result.remarks.end(), read.remarks.begin(), read.remarks.end());
    result.dangers.insert(result.dangers.end(), read.dangers.begin(), read.dangers.end());
    for (auto& part : fettle::split_at_gaps(std::move(read.log))) {
      result.minutes += (part.time_s.back() - part.time_s.front()) / 60;
      result.parts.push_back(std::move(part));
      result.log_of_part.push_back(l);
    }
  }
  refuse_copies(result.parts);
  return result;
}

}  // namespace session
