// SPDX-License-Identifier: MIT
#pragma once

#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstddef>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <system_error>
#include <utility>

#include "fettle/io/detail/program_search.hpp"

extern char** environ;  // POSIX: declared by the program itself

namespace fettle::system {

using process_id = pid_t;

[[nodiscard]] inline process_id process_number() noexcept {
  return ::getpid();
}

/// Whether this process is known to be gone.
[[nodiscard]] inline bool has_ended(process_id process) noexcept {
  return ::kill(process, 0) != 0 && errno == ESRCH;
}

/// Waits until a file is on the disk, as far as the system knows.
[[nodiscard]] inline std::error_code flush_to_disk(const std::filesystem::path& file) {
  const int handle = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (handle < 0) return {errno, std::generic_category()};
  const int failure = ::fsync(handle) == 0 ? 0 : errno;
  ::close(handle);
  return {failure, std::generic_category()};
}

/// Renames a file over another in one step: whoever opens `to` gets the old file or the new one, whole.
[[nodiscard]] inline std::error_code replace(const std::filesystem::path& from, const std::filesystem::path& to) {
  std::error_code failure;
  std::filesystem::rename(from, to, failure);
  return failure;
}

[[nodiscard]] inline bool may_write_in(const std::filesystem::path& folder) noexcept {
  return ::access(folder.c_str(), W_OK | X_OK) == 0;
}

[[nodiscard]] inline bool is_terminal(std::FILE* stream) noexcept {
  return ::isatty(::fileno(stream)) == 1;
}

/// Characters on a line; 80 where the system does not know.
[[nodiscard]] inline std::size_t terminal_columns(std::FILE* stream) noexcept {
  winsize size{};
  return ::ioctl(::fileno(stream), TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

/// A program's full path from the folders of PATH; relative ones, hence the present folder, are not searched.
[[nodiscard]] inline std::optional<std::filesystem::path> find_program(const std::string& name) {
  return detail::find_in_path(name, ':', [](const auto& path) { return ::access(path.c_str(), X_OK) == 0; });
}

/// A file for reading and writing that is gone as soon as it is closed, whatever happens; null if none can be made.
[[nodiscard]] inline file_handle nameless_file() {
  return {std::tmpfile(), &std::fclose};
}

/// Runs a program without a shell, with one argument; whether it ended well.
[[nodiscard]] inline bool run(const std::filesystem::path& program, std::string argument, program_streams streams) {
  posix_spawn_file_actions_t actions;
  if (::posix_spawn_file_actions_init(&actions) != 0) return false;
  bool ready = true;
  for (const auto& [file, stream] : {std::pair{streams.in, 0}, {streams.out, 1}, {streams.err, 2}})
    ready = ::posix_spawn_file_actions_adddup2(&actions, ::fileno(file), stream) == 0 && ready;
  std::string name = program.string();
  const std::array<char*, 3> arguments{name.data(), argument.data(), nullptr};
  process_id child = 0;
  const bool started =
      ready && ::posix_spawn(&child, program.c_str(), &actions, nullptr, arguments.data(), environ) == 0;
  ::posix_spawn_file_actions_destroy(&actions);
  if (!started) return false;
  int status = 0;
  while (::waitpid(child, &status, 0) < 0)
    if (errno != EINTR) return false;
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

}  // namespace fettle::system
