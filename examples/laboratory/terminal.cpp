// SPDX-License-Identifier: MIT
// laboratory_terminal PICTURE QUESTION: prints what a picture of the laboratory answers, computed natively.
#include <cstdio>

#include "laboratory/answer.hpp"

int main(int count, char** argument) {
  if (count != 3) {
    std::fputs("usage: laboratory_terminal PICTURE QUESTION\n", stderr);
    return 2;
  }
  const std::string answer = laboratory::answer(argument[1], argument[2]);
  std::printf("%s\n", answer.c_str());
  return answer.starts_with("{\"error\"") ? 1 : 0;
}
