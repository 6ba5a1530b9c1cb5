// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "common/command/option.hpp"

/// What the lessons share: options in place of an edit and a new build, and a picture.
namespace lesson {

struct line {
  std::string name;
  std::vector<double> x, y;  ///< NaN is a gap
  enum { straight, with_points, dots } style = straight;
};

/// Lines over one quantity, drawn as those of the programs' reports.
struct picture {
  std::string x_label, y_label;  ///< with units
  std::vector<line> lines;
};

/// Reads the command line, runs the lesson, and draws its picture where `--picture FILE` asks for it.
///
/// @param work  prints what the lesson says and gives its picture.
/// @return      the exit code: 2 for what cannot be done, said in one line on standard error.
[[nodiscard]] int run(program::command lesson, int count, char** words, const std::function<picture()>& work);

}  // namespace lesson
