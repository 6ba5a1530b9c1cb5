// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string_view>

#include "fettle/error.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// Makes sure that a map has the axes of another, by name and by breakpoints.
///
/// @param path   of the map, for the message.
/// @param whose  the other map in words: "the map".
/// Errors: `fettle::error` naming the file, the axis, what it has and what is expected.
void require_axes(const std::filesystem::path& path, const fettle::map_file& map, const fettle::map_file& other,
                  std::string_view whose);

}  // namespace session
