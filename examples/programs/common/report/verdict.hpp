// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <string>

namespace report {

/// The three answers that come before everything else: what to load, whether it is safe, what to do next.
struct verdict {
  std::string load, safe, next;  ///< whole sentences
  bool is_safe = false;          ///< `safe` says yes
};

/// As the first lines of a terminal's output.
[[nodiscard]] inline std::string lines(const verdict& v) {
  return fmt::format("Load:  {}\nSafe:  {}\nNext:  {}\n", v.load, v.safe, v.next);
}

}  // namespace report
