// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "fettle/error.hpp"
#include "fettle/io/message.hpp"
#include "fettle/io/text.hpp"

namespace fettle::detail {

template <class... Part>
[[noreturn]] void refuse_writing(const std::filesystem::path& path, const Part&... reason) {
  throw error(printable(message("cannot write ", path_text(path), ": ", reason...)));
}

}  // namespace fettle::detail
