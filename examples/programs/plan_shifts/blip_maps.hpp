// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "common/report/rounded.hpp"
#include "fettle/io/map_file.hpp"
#include "plan_shifts/job.hpp"

namespace plan_shifts {

/// A map over gear and rpm; the gear is the one the shift begins in.
[[nodiscard]] inline fettle::map_file gear_map(const outcome& all, std::size_t first_gear, std::vector<double> values,
                                               int decimals) {
  std::vector<double> gears;
  for (std::size_t g = 0; g < values.size() / all.rpm.size(); ++g) gears.push_back(static_cast<double>(first_gear + g));
  for (double& x : values) x = report::rounded(x, decimals);
  using axis = fettle::dynamic_axis<double>;
  return {.axis_names = {"gear", "rpm"},
          .table = *fettle::dynamic_table<double>::from({*axis::from(gears), *axis::from(all.rpm)}, std::move(values)),
          .descending = {false, false}};
}

/// Whether there is a blip to drive.
[[nodiscard]] inline bool is_usable(const down_shift& shift) {
  return shift.is_driven && shift.plan.status != fettle::blip_status::unreachable &&
         shift.plan.status != fettle::blip_status::unusable;
}

/// One number of every blip; NaN where there is none to drive.
template <class Number>
[[nodiscard]] std::vector<double> of_blips(const outcome& all, Number number) {
  std::vector<double> result;
  for (const auto& shift : all.down) result.push_back(is_usable(shift) ? number(shift) : std::nan(""));
  return result;
}

}  // namespace plan_shifts
