// SPDX-License-Identifier: MIT
#pragma once

#include <cerrno>
#include <charconv>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <functional>
#include <optional>
#include <ostream>
#include <random>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>

#include "fettle/compiled.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/detail/refuse_writing.hpp"
#include "fettle/io/message.hpp"
#include "fettle/io/system.hpp"
#include "fettle/io/text.hpp"

namespace fettle {

namespace detail {

/// Checks what a rename would not: it replaces a device, a link or a write-protected file without asking.
///
/// @return  the status of the file that is there now, through links.
inline std::filesystem::file_status require_writable_place(const std::filesystem::path& path) {
  namespace fs = std::filesystem;
  if (!path.has_filename()) refuse_writing(path, "it names no file; give a file name");
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  std::error_code ignored;
  if (!fs::exists(folder, ignored)) refuse_writing(path, "the folder ", path_text(folder), " does not exist");
  if (!fs::is_directory(folder, ignored)) refuse_writing(path, path_text(folder), " is a file, not a folder");
  std::error_code failure;
  const fs::file_status status = fs::status(path, failure);
  if (status.type() == fs::file_type::none) refuse_writing(path, failure.message());
  if (!fs::exists(status)) return status;
  if (fs::is_directory(status)) refuse_writing(path, "it is a folder; give a file name");
  if (!fs::is_regular_file(status)) refuse_writing(path, "it is a device or pipe; give the name of an ordinary file");
  if ((status.permissions() & fs::perms::owner_write) == fs::perms::none)
    refuse_writing(path, "it is write-protected; give another name or lift the protection");
  return status;
}

/// The file that a path means, there or not yet: links followed to their end.
[[nodiscard]] inline std::filesystem::path behind_links(std::filesystem::path path) {
  std::error_code no_link;
  for (;;) {
    const std::filesystem::path next = std::filesystem::read_symlink(path, no_link);
    if (no_link) return path;
    path = path.parent_path() / next;
  }
}

/// The process that writes a file's temporary neighbour `.name.PROCESS.NUMBER.tmp`; nothing for any other name.
[[nodiscard]] inline std::optional<system::process_id> writer_in(std::string_view neighbour, std::string_view name) {
  const std::string head = message(".", name, ".");
  if (!neighbour.starts_with(head) || !neighbour.ends_with(".tmp")) return std::nullopt;
  system::process_id writer = 0;
  std::uint64_t number = 0;
  const char* const last = neighbour.data() + neighbour.size() - std::string_view(".tmp").size();
  const auto process = std::from_chars(neighbour.data() + head.size(), last, writer);
  if (process.ec != std::errc{} || writer <= 0 || process.ptr == last || *process.ptr != '.') return std::nullopt;
  const auto rest = std::from_chars(process.ptr + 1, last, number);
  return rest.ec == std::errc{} && rest.ptr == last ? std::optional(writer) : std::nullopt;
}

/// Removes what killed writers of this file left beside it. What cannot be read or removed is left there.
inline void clear_leftovers(const std::filesystem::path& target) {
  namespace fs = std::filesystem;
  std::error_code ignored;
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  for (fs::directory_iterator at(folder, ignored), none; at != none; at.increment(ignored)) {
    const auto writer = writer_in(at->path().filename().string(), target.filename().string());
    if (writer && system::has_ended(*writer)) fs::remove(at->path(), ignored);
  }
}

/// Deletes its file unless the file is in place.
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

FETTLE_INLINE void write_atomically(const std::filesystem::path& path,
                                    const std::function<void(std::ostream&)>& write) {
  namespace fs = std::filesystem;
  const fs::file_status before = detail::require_writable_place(path);
  const fs::path target = detail::behind_links(path);
  detail::clear_leftovers(target);
  std::random_device draw;
  const std::uint64_t number = std::uint64_t{draw()} << 32U | draw();
  const fs::path beside = fs::path(target).replace_filename(
      detail::message(".", target.filename().string(), ".", system::process_number(), ".", number, ".tmp"));

  errno = 0;
  std::ofstream out(beside, std::ios::binary);
  if (!out) detail::refuse_writing(path, detail::reason_from_errno());
  detail::temporary_file temporary(beside);
  std::error_code failure;
  if (fs::exists(before)) fs::permissions(beside, before.permissions(), failure);
  if (failure) detail::refuse_writing(path, failure.message());
  write(out);
  errno = out.bad() ? errno : 0;
  out.close();
  if (!out) detail::refuse_writing(path, detail::reason_from_errno());
  if ((failure = system::flush_to_disk(temporary.path))) detail::refuse_writing(path, failure.message());
  if ((failure = system::replace(temporary.path, target))) detail::refuse_writing(path, failure.message());
  temporary.in_place = true;
}

FETTLE_INLINE void write_atomically(const std::filesystem::path& path, std::string_view contents) {
  write_atomically(path, [contents](std::ostream& out) {
    out.write(contents.data(), static_cast<std::streamsize>(contents.size()));
  });
}

}  // namespace fettle
