// SPDX-License-Identifier: MIT
// Session files of compare_pulls and plan_shifts: refused in words, or read with every number within what is allowed.
#include <cmath>

#include "compare_pulls/read_settings.hpp"
#include "files.hpp"
#include "plan_shifts/read_settings.hpp"

namespace {

using fuzz::law;

void check_pulls(const std::filesystem::path& path) {
  const auto asked = compare_pulls::read_settings(path);
  for (const auto& state : asked.state) {
    law(!state.pulls.empty() && state.sets >= 1, "there are pulls before and after");
    for (const auto& pull : state.pulls) {
      law(pull.set < state.sets, "a pull belongs to a set");
      law(pull.gear <= std::max<std::size_t>(asked.gears.size(), 1), "a gear is one of the car's");
    }
  }
  law(asked.full_throttle_pct >= 20 && asked.full_throttle_pct <= 100, "full throttle is a throttle");
}

void check_shifts(const std::filesystem::path& path) {
  const auto asked = plan_shifts::read_settings(path);
  law(asked.vehicle.gears.size() >= 3 && asked.limit_rpm >= 1000, "there are gears and a limit");
  law(asked.guard_rpm.size() == asked.guard_throttle_pct.size(), "a guard has a throttle for every speed");
  law(asked.overrun_rpm.size() == asked.overrun_nm.size(), "overrun has a torque for every speed");
  law(asked.longest_blip_s >= asked.blip_s, "a blip may last as long as is wanted");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::memory_file file({reinterpret_cast<const char*>(data), size});
  for (const auto check : {check_pulls, check_shifts}) try {
      check(file.path());
    } catch (const fettle::error& refused) {
      fuzz::check_refusal(refused, file.path());
    }
  return 0;
}
