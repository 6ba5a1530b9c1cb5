// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace laboratory {

/// What a picture answers to a question: JSON in, JSON out, the same in the page and on a terminal. The questions and
/// answers of each are described in `pictures/`.
///
/// Errors: an object with the one member `error`, a sentence.
[[nodiscard]] std::string answer(const std::string& picture, const std::string& question);

}  // namespace laboratory
