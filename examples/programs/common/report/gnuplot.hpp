// SPDX-License-Identifier: MIT
#pragma once

#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>

namespace report {

/// The program's full path from the folders of PATH; relative ones, hence the present folder, are not searched.
[[nodiscard]] inline std::optional<std::string> find_program(std::string_view name) {
  const char* variable = std::getenv("PATH");
  for (std::string_view rest = variable ? variable : ""; !rest.empty();) {
    const std::string_view folder = rest.substr(0, rest.find(':'));
    rest.remove_prefix(std::min(folder.size() + 1, rest.size()));
    if (!folder.starts_with('/')) continue;
    const std::filesystem::path path = std::filesystem::path(folder) / name;
    std::error_code ignored;
    if (std::filesystem::is_regular_file(path, ignored) && access(path.c_str(), X_OK) == 0) return path.string();
  }
  return std::nullopt;
}

namespace detail {

/// A file without a name: it is gone as soon as it is closed, whatever happens.
using nameless_file = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;

[[nodiscard]] inline nameless_file open_nameless_file() {
  return {std::tmpfile(), &std::fclose};
}

[[nodiscard]] inline std::string contents(std::FILE* file) {
  std::string text;
  std::array<char, 65536> block;
  std::rewind(file);
  while (const std::size_t size = std::fread(block.data(), 1, block.size(), file)) text.append(block.data(), size);
  return text;
}

/// Runs a program without a shell, its three streams being these files; true if it ended well.
[[nodiscard]] inline bool run(const std::string& program, const char* argument, std::FILE* in, std::FILE* out,
                              std::FILE* err) {
  posix_spawn_file_actions_t streams;
  if (posix_spawn_file_actions_init(&streams) != 0) return false;
  bool ready = true;
  for (const auto& [file, stream] : {std::pair{in, 0}, {out, 1}, {err, 2}})
    ready = posix_spawn_file_actions_adddup2(&streams, fileno(file), stream) == 0 && ready;
  std::string name = program, option = argument;
  const std::array<char*, 3> arguments{name.data(), option.data(), nullptr};
  pid_t child = 0;
  const bool started = ready && posix_spawn(&child, program.c_str(), &streams, nullptr, arguments.data(), environ) == 0;
  posix_spawn_file_actions_destroy(&streams);
  if (!started) return false;
  int status = 0;
  while (waitpid(child, &status, 0) < 0)
    if (errno != EINTR) return false;
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

}  // namespace detail

/// The picture gnuplot draws from a script that sets the SVG terminal and writes to its standard output.
///
/// The script reaches gnuplot on its standard input, data inline; no file with a name is made, no shell runs, and the
/// user's own gnuplot settings are not read.
/// @return  the SVG file's text; none when gnuplot is not in PATH, fails or writes no whole picture.
[[nodiscard]] inline std::optional<std::string> run_gnuplot(std::string_view script) {
  const auto program = find_program("gnuplot");
  if (!program) return std::nullopt;
  const auto in = detail::open_nameless_file(), out = detail::open_nameless_file(), err = detail::open_nameless_file();
  if (!in || !out || !err) return std::nullopt;
  if (std::fwrite(script.data(), 1, script.size(), in.get()) != script.size()) return std::nullopt;
  std::rewind(in.get());
  constexpr const char* without_user_settings = "-d";
  if (!detail::run(*program, without_user_settings, in.get(), out.get(), err.get())) return std::nullopt;
  std::string svg = detail::contents(out.get());
  if (svg.find("</svg>") == std::string::npos) return std::nullopt;
  return svg;
}

}  // namespace report
