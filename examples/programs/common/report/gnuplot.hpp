// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace report {

/// The picture gnuplot draws from a script that sets the SVG terminal and writes to its standard output.
///
/// The user's own gnuplot settings are not read.
/// @return  the SVG file's text; none when there is no gnuplot, it fails or writes no whole picture.
[[nodiscard]] std::optional<std::string> run_gnuplot(std::string_view script);

}  // namespace report
