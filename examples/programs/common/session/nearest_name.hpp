// SPDX-License-Identifier: MIT
#pragma once

#include <cctype>
#include <string>
#include <string_view>
#include <vector>

namespace session {

/// What a misspelt name was probably meant to be, as a question: "; did you mean \"battery_v\"?". Empty where no name
/// is near: more than a third of its letters would have to change.
[[nodiscard]] std::string meant_instead_of(std::string_view name, const std::vector<std::string>& known);

}  // namespace session
