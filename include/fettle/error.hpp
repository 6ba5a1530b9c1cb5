// SPDX-License-Identifier: MIT
#pragma once

#include <stdexcept>

namespace fettle {

/// What the host layers throw: the text names the file, line, column, axis or cell, the value, and what would be right.
class error : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace fettle
