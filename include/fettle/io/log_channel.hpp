// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>

namespace fettle {

/// One channel wanted from a log file: our name, the file's own name, and how its numbers become ours.
struct log_channel {
  std::string name;       ///< ours, with its unit: `lambda_1`, `pulse_primary_ms`, `time_s`
  std::string file_name;  ///< in the file's header
  double factor = 1;      ///< value = number in the file * factor + offset
  double offset = 0;      ///< in our unit
  bool required = true;   ///< false: a file without it gives a log without it
};

/// Told now and then how much of a file has been read, from 0 to 1.
using read_progress = std::function<void(double)>;

/// How a log is read.
struct log_rules {
  read_progress progress{};
  bool is_strict = false;  ///< true: plain CSV with rising time only, nothing is guessed, skipped or spread
};

}  // namespace fettle
