// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "common/session/json_reader.hpp"
#include "fettle/io/log_csv.hpp"

namespace session {

/// A column of ours that a file holds under another name or in another unit: {"name", "factor", "offset"}, each optional.
[[nodiscard]] inline fettle::log_channel read_column(const std::string& name, const json_value& from) {
  from.only({"name", "factor", "offset"});
  fettle::log_channel channel{.name = name, .file_name = from.has("name") ? from["name"].text() : name};
  if (from.has("factor")) channel.factor = from["factor"].number(-1e12, 1e12);
  if (channel.factor == 0) from["factor"].refuse("is 0, which would turn every value into the offset");
  if (from.has("offset")) channel.offset = from["offset"].number(-1e12, 1e12);
  return channel;
}

}  // namespace session
