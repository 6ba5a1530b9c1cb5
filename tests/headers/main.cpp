// SPDX-License-Identifier: MIT
#include "every_header.hpp"
//
#include "used_by_both.hpp"

int other_unit();

int main() {
  return used_by_both() + other_unit();
}
