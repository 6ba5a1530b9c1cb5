// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <thread>

#include "common/command/option.hpp"

namespace program {

/// The option that says how many threads share the work: all cores unless said otherwise.
[[nodiscard]] inline option threads_option(std::size_t& threads) {
  threads = std::max(1U, std::thread::hardware_concurrency());
  return {.name = "--threads",
          .value = &threads,
          .says = "how many threads share the work; results are the same with any number",
          .lowest = 1,
          .highest = 256,
          .unless_given = "one per core"};
}

}  // namespace program
