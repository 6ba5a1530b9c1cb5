// SPDX-License-Identifier: MIT
// laboratory_driven_terminal PICTURE QUESTION: the same for the pictures that drive the invented car.
#include "laboratory/driven_answer.hpp"
#include "laboratory/print_answer.hpp"

int main(int count, char** argument) {
  return laboratory::print_answer(count, argument, laboratory::driven_answer);
}
