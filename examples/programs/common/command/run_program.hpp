// SPDX-License-Identifier: MIT
#pragma once

#include "common/command/option.hpp"

namespace program {

/// Reads the words of a command line and does what they ask; whatever fails is one line on standard error and code 2.
[[nodiscard]] int run_program(const command& command, int count, char** words) noexcept;

}  // namespace program
