// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include "fettle/lambda/prior_spreads.hpp"
#include "fettle/lambda/screening.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// The maps of what each cylinder needs over the mean of all.
struct trim_shape {
  std::vector<dynamic_axis<double>> axes{};  ///< rank 0 to 2
  std::vector<std::size_t> along{};          ///< which coordinate of the log each axis reads
  bool is_given = true;                      ///< false: coarse axes are taken from the map
};

struct identify_options {
  screening screen{};
  prior_spreads spreads{};
  trim_shape trims{.is_given = false};  ///< used when a sensor sees a part of the cylinders
  double fewest_readings = 100;         ///< of a sensor in one log for its stay there to count for the trims
  int most_rounds = 12;
  double model_error = 0.06;  ///< what one film a bank and one delay for all cylinders leave of a parameter's
                              ///< logarithm, however long the log: no source, from virtual engines of other physics
  double block_s = 2;         ///< readings further apart than this err independently
  std::size_t threads = 1;    ///< that share the work; the answer is the same to the bit
};

}  // namespace fettle
