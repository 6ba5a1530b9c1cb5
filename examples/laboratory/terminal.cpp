// SPDX-License-Identifier: MIT
// laboratory_terminal PICTURE QUESTION: prints what a picture of the laboratory answers, computed natively.
#include "laboratory/answer.hpp"
#include "laboratory/print_answer.hpp"

int main(int count, char** argument) {
  return laboratory::print_answer(count, argument, laboratory::answer);
}
