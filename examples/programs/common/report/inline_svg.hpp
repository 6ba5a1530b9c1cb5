// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include "common/report/text.hpp"

namespace report {

/// An SVG file made ready to stand inside a page: no prologue, no empty groups, no names from elsewhere, ids of its own,
/// a description.
///
/// @param prefix       makes the ids unique: give each picture of a page another one.
/// @param description  read out where the picture cannot be seen.
[[nodiscard]] std::string inline_svg(std::string_view file, std::string_view prefix, std::string_view description);

}  // namespace report
