// SPDX-License-Identifier: MIT
#include "common/session/read_log.hpp"

#include <fmt/format.h>

#include <cstddef>
#include <utility>

namespace session {
namespace {

/// Time in another unit, or a logger too slow, would be blamed on the sensor further on.
void require_close_rows(const fettle::log_table& log, const std::filesystem::path& path) {
  constexpr double longest_s = 0.5;  // what split_at_gaps takes for a gap
  const auto& time_s = *log.find("time_s");
  if (time_s.size() < 2) return;
  std::vector<double> steps(time_s.size() - 1);
  for (std::size_t i = 0; i < steps.size(); ++i) steps[i] = time_s[i + 1] - time_s[i];
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  if (*middle <= longest_s) return;
  throw fettle::error(
      fmt::format("{}: the median step of time_s is {:g} s, expected {:g} s or less, so that the gas can be followed "
                  "from row to row; if the file counts in another unit, give time_s a factor in the session's "
                  "/columns, 0.001 for milliseconds; else log faster",
                  fettle::path_text(path), *middle, longest_s));
}

}  // namespace

fettle::log_table read_log(const session& setup, const std::filesystem::path& path,
                           const std::vector<std::string>& axes,
                           const std::function<void(const std::string& stage, double fraction)>& progress) {
  std::vector<std::string> all_axes = axes;
  for (auto& axis : read_log_maps(setup).axes()) all_axes.push_back(std::move(axis));
  fettle::log_table log = fettle::read_log_csv(
      path, wanted_channels(setup, all_axes),
      {.progress = [&](double fraction) { progress("reading " + fettle::path_text(path.filename()), fraction); },
       .is_strict = setup.is_strict});
  require_close_rows(log, path);
  return log;
}

}  // namespace session
