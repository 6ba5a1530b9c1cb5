// SPDX-License-Identifier: MIT
#include "board.hpp"

namespace board {

void print(std::int32_t number) {
  char text[12];
  char* at = text + sizeof text;
  *--at = 0;
  auto rest = number < 0 ? 0U - static_cast<std::uint32_t>(number) : static_cast<std::uint32_t>(number);
  do *--at = static_cast<char>('0' + rest % 10);
  while ((rest /= 10) > 0);
  if (number < 0) *--at = '-';
  print(at);
}

}  // namespace board
