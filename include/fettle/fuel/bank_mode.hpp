// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

namespace fettle {

/// Which banks inject.
enum class bank_mode : std::uint8_t { none, primary, both, secondary };

}  // namespace fettle
