// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "common/session/session.hpp"

namespace session {

/// Reads a session file; paths in it are relative to its folder.
///
/// Members whose names begin with `comment` are ignored; `"guess of NAME": "why"` marks NAME beside it as guessed.
/// Errors: `fettle::error` naming the file, the place in it (/banks/0/flow_mg_ms), what was found and what is expected.
[[nodiscard]] session read_session(const std::filesystem::path& path);

}  // namespace session
