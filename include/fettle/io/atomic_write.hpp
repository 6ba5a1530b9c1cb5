// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <functional>
#include <iosfwd>
#include <string_view>

#include "fettle/compiled.hpp"

namespace fettle {

/// Writes a file whole or not at all: into a new file beside it, then renamed onto it.
///
/// Through a link onto its file, made if it is missing; who may read and write an older file stays as it is.
/// A killed writer leaves its new file, `.name.PROCESS.NUMBER.tmp`; the next write of that name removes it. In a folder
/// shared between machines it may take the other machine's writer for dead: that write then fails, with an error.
/// @param write  called once with the stream to fill; what it throws passes through.
/// Errors: `fettle::error` naming the path and the reason; then an older file of this name is as it was, and nothing
///         else is left behind.
/// Cost:   waits until the file is on the disk, so that a power cut leaves the old file or the new one.
FETTLE_INLINE void write_atomically(const std::filesystem::path& path, const std::function<void(std::ostream&)>& write);

/// Writes these bytes as a file, whole or not at all.
FETTLE_INLINE void write_atomically(const std::filesystem::path& path, std::string_view contents);

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/io/detail/atomic_write_definition.hpp"
#endif
