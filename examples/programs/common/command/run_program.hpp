// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>
#include <concepts>
#include <cstdio>
#include <exception>
#include <new>

#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace program {

/// Reads the words of a command line and does what they ask; whatever fails is one line on standard error and code 2.
///
/// @param options  declares what may stand on the command line.
/// @param work     runs when that is as it should be, and gives the exit code.
template <std::invocable<CLI::App&> Options, std::invocable<> Work>
[[nodiscard]] int run_program(const char* name, const char* purpose, int count, char** words, const Options& options,
                              const Work& work) noexcept {
  try {
    CLI::App app{purpose, name};
    options(app);
    app.failure_message([](const CLI::App* self, const CLI::Error& problem) {
      return self->get_name() + ": " + fettle::printable(problem.what()) + "; --help lists what there is\n";
    });
    try {
      app.parse(count, words);
      const int code = work();
      if (std::fflush(stdout) != 0) throw fettle::error("standard output could not be written; the files are whole");
      return code;
    } catch (const CLI::ParseError& problem) {
      return app.exit(problem) == 0 ? 0 : 2;
    }
  } catch (const std::bad_alloc&) {
    std::fprintf(stderr, "%s: out of memory; free some, or ask for less: shorter logs, fewer of them\n", name);
  } catch (const std::exception& problem) {
    std::fprintf(stderr, "%s: %s\n", name, fettle::printable(problem.what()).c_str());
  }
  return 2;
}

}  // namespace program
