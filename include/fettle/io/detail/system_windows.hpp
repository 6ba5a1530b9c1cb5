// SPDX-License-Identifier: MIT
#pragma once

#include <fcntl.h>
#include <io.h>
#include <process.h>

#include <cerrno>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <system_error>
#include <utility>

#include "fettle/io/detail/program_search.hpp"

// Declared as <windows.h> has them, whose macros would reach everybody who includes this.
extern "C" {
__declspec(dllimport) void* __stdcall OpenProcess(unsigned long access, int inherit, unsigned long process);
__declspec(dllimport) int __stdcall GetExitCodeProcess(void* process, unsigned long* code);
__declspec(dllimport) int __stdcall CloseHandle(void* handle);
__declspec(dllimport) unsigned long __stdcall GetLastError(void);
__declspec(dllimport) int __stdcall MoveFileExW(const wchar_t* from, const wchar_t* to, unsigned long flags);
}

namespace fettle::system {

using process_id = int;

[[nodiscard]] inline process_id process_number() noexcept {
  return ::_getpid();
}

/// Whether this process is known to be gone.
[[nodiscard]] inline bool has_ended(process_id process) noexcept {
  constexpr unsigned long query = 0x1000, no_such_process = 87, still_active = 259;
  void* const handle = ::OpenProcess(query, 0, static_cast<unsigned long>(process));
  if (handle == nullptr) return ::GetLastError() == no_such_process;
  unsigned long code = still_active;
  const bool known = ::GetExitCodeProcess(handle, &code) != 0;
  ::CloseHandle(handle);
  return known && code != still_active;
}

/// Waits until a file is on the disk, as far as the system knows.
[[nodiscard]] inline std::error_code flush_to_disk(const std::filesystem::path& file) {
  const int handle = ::_wopen(file.c_str(), _O_RDWR | _O_BINARY | _O_NOINHERIT);
  if (handle < 0) return {errno, std::generic_category()};
  const int failure = ::_commit(handle) == 0 ? 0 : errno;
  ::_close(handle);
  return {failure, std::generic_category()};
}

/// Renames a file over another in one step: whoever opens `to` gets the old file or the new one, whole.
[[nodiscard]] inline std::error_code replace(const std::filesystem::path& from, const std::filesystem::path& to) {
  constexpr unsigned long replace_existing = 1, write_through = 8;
  if (::MoveFileExW(from.c_str(), to.c_str(), replace_existing | write_through) != 0) return {};
  return {static_cast<int>(::GetLastError()), std::system_category()};
}

/// Whether the folder is read-only; its access list shows only when a file is made there.
[[nodiscard]] inline bool may_write_in(const std::filesystem::path& folder) noexcept {
  return ::_waccess(folder.c_str(), 2) == 0;
}

[[nodiscard]] inline bool is_terminal(std::FILE* stream) noexcept {
  return ::_isatty(::_fileno(stream)) != 0;
}

/// Characters on a line: as if it were 80 wide.
[[nodiscard]] inline std::size_t terminal_columns(std::FILE*) noexcept {
  return 80;
}

/// A program's full path from the folders of PATH; relative ones, hence the present folder, are not searched.
[[nodiscard]] inline std::optional<std::filesystem::path> find_program(const std::string& name) {
  return detail::find_in_path(name + ".exe", ';', [](const auto&) { return true; });
}

/// A file for reading and writing that is gone as soon as it is closed; null if none can be made.
[[nodiscard]] inline file_handle nameless_file() {
  std::error_code failure;
  const std::filesystem::path folder = std::filesystem::temp_directory_path(failure);
  wchar_t* const name = failure ? nullptr : ::_wtempnam(folder.c_str(), L"fettle");
  std::FILE* const file = name == nullptr ? nullptr : ::_wfopen(name, L"w+bTD");
  std::free(name);
  return {file, &std::fclose};
}

/// Runs a program without a shell, with one argument; whether it ended well. Not beside other threads that write.
[[nodiscard]] inline bool run(const std::filesystem::path& program, const std::string& argument,
                              program_streams streams) {
  std::FILE* const given[] = {streams.in, streams.out, streams.err};
  int own[3];
  std::fflush(stdout);
  std::fflush(stderr);
  for (int k = 0; k < 3; ++k) {
    own[k] = ::_dup(k);
    ::_dup2(::_fileno(given[k]), k);
  }
  const std::wstring option(argument.begin(), argument.end());
  const std::wstring quoted = L"\"" + program.wstring() + L"\"";
  const auto status = ::_wspawnl(_P_WAIT, program.c_str(), quoted.c_str(), option.c_str(), nullptr);
  for (int k = 0; k < 3; ++k) {
    if (own[k] < 0) continue;
    ::_dup2(own[k], k);
    ::_close(own[k]);
  }
  return status == 0;
}

}  // namespace fettle::system
