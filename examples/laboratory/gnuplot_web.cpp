// SPDX-License-Identifier: MIT
// The reports' pictures as the page draws them: by the gnuplot that its worker holds, see page/work/gnuplot.js.
#include <emscripten.h>

#include <cstdlib>
#include <memory>

#include "common/report/gnuplot.hpp"

// clang-format off: this is JavaScript
EM_JS(char*, drawn_in_worker, (const char* script), {
  const svg = Module["gnuplot"](UTF8ToString(script));
  return svg ? allocateUTF8(svg) : 0;
});
// clang-format on

std::optional<std::string> report::run_gnuplot(std::string_view script) {
  const std::unique_ptr<char, decltype(&std::free)> svg(drawn_in_worker(std::string(script).c_str()), std::free);
  if (!svg) return std::nullopt;
  return svg.get();
}
