// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "start_session/draft.hpp"

namespace start_session {

/// The session file of a draft: every key, and beside each guess why.
[[nodiscard]] std::string session_text(const request& request, const draft& from);

}  // namespace start_session
