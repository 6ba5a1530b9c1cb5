// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "common/command/option.hpp"
#include "common/session/recording.hpp"

namespace program {

/// The option that says whether exhaust path and wall film are identified from the logs or taken from the session.
[[nodiscard]] inline option path_option(session::path_trust& trust) {
  const auto set = [&trust](const std::string& word) {
    trust = word == "given" ? session::path_trust::given : session::path_trust::prior;
  };
  return {.name = "--path",
          .value = set,
          .says = "exhaust path and wall film: found from the logs, or as given in the session file",
          .words = {"found", "given"},
          .unless_given = "found"};
}

}  // namespace program
