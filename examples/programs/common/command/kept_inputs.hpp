// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace program {

/// Refuses to write results over a file that the work reads: run again, it would start from its own results.
///
/// @param results  names of the files that will be written into the folder.
/// Errors: `fettle::error` naming the file.
inline void require_inputs_kept(const std::filesystem::path& out, const std::vector<std::string>& results,
                                const std::vector<std::filesystem::path>& inputs) {
  std::error_code missing;  // what is not there cannot be overwritten
  for (const auto& name : results)
    for (const auto& input : inputs)
      if (std::filesystem::equivalent(out / name, input, missing))
        throw fettle::error(fettle::path_text(input) + ": is read here, and " + name + " of the results in " +
                            fettle::path_text(out) + " would replace it; give --out another folder");
}

}  // namespace program
