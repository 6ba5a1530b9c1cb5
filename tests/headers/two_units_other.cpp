// SPDX-License-Identifier: MIT
#include "every_header.hpp"

int other_unit();
int other_unit() {
  return 0;
}
