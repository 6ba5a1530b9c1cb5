// SPDX-License-Identifier: MIT
#pragma once

#include <cstdio>
#include <string>

namespace laboratory {

/// main of a program PICTURE QUESTION: prints the answer; the exit code is 1 for one that could not be given.
inline int print_answer(int count, char** argument, std::string (*answer)(const std::string&, const std::string&)) {
  if (count != 3) {
    std::fprintf(stderr, "usage: %s PICTURE QUESTION\n", argument[0]);
    return 2;
  }
  const std::string text = answer(argument[1], argument[2]);
  std::printf("%s\n", text.c_str());
  return text.starts_with("{\"error\"") ? 1 : 0;
}

}  // namespace laboratory
