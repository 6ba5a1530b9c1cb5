// SPDX-License-Identifier: MIT
#include "common/report/gnuplot.hpp"

#include <array>
#include <cstddef>
#include <cstdio>

#include "fettle/io/system.hpp"

namespace {

std::string contents(std::FILE* file) {
  std::string text;
  std::array<char, 65536> block;
  std::rewind(file);
  while (const std::size_t size = std::fread(block.data(), 1, block.size(), file)) text.append(block.data(), size);
  return text;
}

}  // namespace

/// The gnuplot in PATH. The script reaches it on its standard input, data inline; no file with a name is made and no shell
/// runs.
std::optional<std::string> report::run_gnuplot(std::string_view script) {
  const auto program = fettle::system::find_program("gnuplot");
  if (!program) return std::nullopt;
  const auto in = fettle::system::nameless_file(), out = fettle::system::nameless_file(),
             err = fettle::system::nameless_file();
  if (!in || !out || !err) return std::nullopt;
  if (std::fwrite(script.data(), 1, script.size(), in.get()) != script.size()) return std::nullopt;
  std::rewind(in.get());
  constexpr const char* without_user_settings = "-d";
  if (!fettle::system::run(*program, without_user_settings, {in.get(), out.get(), err.get()})) return std::nullopt;
  std::string svg = contents(out.get());
  if (svg.find("</svg>") == std::string::npos) return std::nullopt;
  return svg;
}
