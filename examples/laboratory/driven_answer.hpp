// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace laboratory {

/// The same as `answer` for the pictures that drive the invented car and identify from its log.
[[nodiscard]] std::string driven_answer(const std::string& picture, const std::string& question);

}  // namespace laboratory
