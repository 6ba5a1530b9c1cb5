// SPDX-License-Identifier: MIT
#pragma once

#include <cerrno>
#include <concepts>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <ostream>
#include <random>
#include <string>
#include <string_view>
#include <system_error>

#include "fettle/error.hpp"
#include "fettle/io/message.hpp"

namespace fettle {

namespace detail {

template <class... Part>
[[noreturn]] void refuse_writing(const std::filesystem::path& path, const Part&... reason) {
  throw error(printable(message("cannot write ", path.string(), ": ", reason...)));
}

/// Checks what a rename would not: it replaces a device, a link or a write-protected file without asking.
inline void require_writable_place(const std::filesystem::path& path) {
  namespace fs = std::filesystem;
  if (!path.has_filename()) refuse_writing(path, "it names no file; give a file name");
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  std::error_code ignored;
  if (!fs::exists(folder, ignored)) refuse_writing(path, "the folder ", folder.string(), " does not exist");
  if (!fs::is_directory(folder, ignored)) refuse_writing(path, folder.string(), " is a file, not a folder");
  const fs::file_status status = fs::status(path, ignored);
  if (!fs::exists(status)) return;
  if (fs::is_directory(status)) refuse_writing(path, "it is a folder; give a file name");
  if (!fs::is_regular_file(status)) refuse_writing(path, "it is a device or pipe; give the name of an ordinary file");
  if ((status.permissions() & fs::perms::owner_write) == fs::perms::none)
    refuse_writing(path, "it is write-protected; give another name or lift the protection");
}

/// Deletes its file unless told that the file is in place.
struct temporary_file {
  std::filesystem::path path;
  bool in_place = false;

  explicit temporary_file(std::filesystem::path file) : path(std::move(file)) {}
  temporary_file(const temporary_file&) = delete;
  temporary_file& operator=(const temporary_file&) = delete;
  ~temporary_file() {
    std::error_code ignored;
    if (!in_place) std::filesystem::remove(path, ignored);
  }
};

[[nodiscard]] inline std::string reason_from_errno() {
  return errno == 0 ? "the system gives no reason" : std::generic_category().message(errno);
}

}  // namespace detail

/// Writes a file whole or not at all: into a new file beside it, then renamed onto it.
///
/// @param write  called once with the stream to fill; what it throws passes through.
/// Errors: `fettle::error` naming the path and the reason; then an older file of this name is as it was, and nothing
///         else is left behind. Not proof against a power cut: nothing is forced to disk.
template <std::invocable<std::ostream&> Write>
void write_atomically(const std::filesystem::path& path, Write&& write) {
  namespace fs = std::filesystem;
  detail::require_writable_place(path);
  std::error_code failure;
  const fs::path target = fs::exists(path) ? fs::canonical(path, failure) : path;  // through a link, onto its file
  if (failure) detail::refuse_writing(path, failure.message());

  std::random_device draw;
  const std::string suffix = std::to_string(std::uint64_t{draw()} << 32U | draw());
  const fs::path beside =
      fs::path(target).replace_filename(detail::message(".", target.filename().string(), ".", suffix, ".tmp"));

  errno = 0;
  std::ofstream out(beside, std::ios::binary);
  if (!out) detail::refuse_writing(path, detail::reason_from_errno());
  detail::temporary_file temporary(beside);
  write(static_cast<std::ostream&>(out));
  errno = out.bad() ? errno : 0;
  out.close();
  if (!out) detail::refuse_writing(path, detail::reason_from_errno());
  fs::rename(temporary.path, target, failure);
  if (failure) detail::refuse_writing(path, failure.message());
  temporary.in_place = true;
}

/// Writes these bytes as a file, whole or not at all.
inline void write_atomically(const std::filesystem::path& path, std::string_view contents) {
  write_atomically(path, [contents](std::ostream& out) {
    out.write(contents.data(), static_cast<std::streamsize>(contents.size()));
  });
}

}  // namespace fettle
