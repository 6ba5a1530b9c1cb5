// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstddef>
#include <thread>

namespace program {

/// The option that says how many threads share the work: all cores unless said otherwise.
inline void add_threads_option(CLI::App& app, std::size_t& threads) {
  threads = std::max(1U, std::thread::hardware_concurrency());
  app.add_option("--threads", threads, "how many threads share the work; results are the same with any number")
      ->check(CLI::Range(1, 256))
      ->default_str("one per core");
}

}  // namespace program
