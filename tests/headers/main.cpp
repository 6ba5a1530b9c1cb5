// SPDX-License-Identifier: MIT
#include "every_header.hpp"

int other_unit();

int main() {
  return other_unit();
}
