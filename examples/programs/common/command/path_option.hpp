// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>
#include <string>

#include "common/session/recording.hpp"

namespace program {

/// The option that says whether exhaust path and wall film are identified from the logs or taken from the session.
inline void add_path_option(CLI::App& app, session::path_trust& trust) {
  app.add_option_function<std::string>(
         "--path",
         [&trust](const std::string& word) {
           trust = word == "given" ? session::path_trust::given : session::path_trust::prior;
         },
         "exhaust path and wall film: found from the logs, or as given in the session file")
      ->check(CLI::IsMember({"found", "given"}))
      ->default_str("found");
}

}  // namespace program
