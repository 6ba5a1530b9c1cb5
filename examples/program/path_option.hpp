// SPDX-License-Identifier: MIT
#pragma once

#include <CLI/CLI.hpp>
#include <map>
#include <string>

#include "session/recording.hpp"

namespace program {

/// The option that says whether exhaust path and wall film are found or believed.
inline void add_path_option(CLI::App& app, session::path_trust& trust) {
  app.add_option("--path", trust, "exhaust path and wall film: found from the logs, or as given in the session file")
      ->transform(CLI::CheckedTransformer(std::map<std::string, session::path_trust>{
          {"found", session::path_trust::prior}, {"given", session::path_trust::given}}))
      ->default_str("found");
}

}  // namespace program
