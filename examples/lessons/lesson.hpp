// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <variant>
#include <vector>

/// What the lessons share: options in place of an edit and a new build, and a picture.
namespace lesson {

/// What a reader may change on the command line.
struct option {
  const char* name;                    ///< as "--rpm"
  std::variant<double*, bool*> value;  ///< a number, or a flag that is set where it stands
  const char* says;                    ///< what it is, with its unit
  double lowest = 0, highest = 0;      ///< of a number, both allowed
};

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

struct about {
  const char* name;
  const char* purpose;
  std::vector<option> options;
};

/// Reads the command line, runs the lesson, and draws its picture where `--picture FILE` asks for it.
///
/// @param work  prints what the lesson says and gives its picture.
/// @return      the exit code: 2 for what cannot be done, said in one line on standard error.
[[nodiscard]] int run(const about& lesson, int count, char** words, const std::function<picture()>& work);

}  // namespace lesson
