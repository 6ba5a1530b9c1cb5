// SPDX-License-Identifier: MIT
#pragma once

#include <gtest/gtest.h>

#include <cstddef>
#include <cstdlib>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace reference {

/// A reference CSV of tests/reference: one `#` line of provenance, a header, rows of text cells.
struct csv {
  std::vector<std::map<std::string, std::string>> rows;

  [[nodiscard]] static csv read(const std::string& file) {
    std::ifstream in(std::string(FETTLE_REFERENCE_DIR "/") + file);
    EXPECT_TRUE(in) << "cannot open reference file " << file;
    csv result;
    std::string line;
    std::vector<std::string> names;
    while (std::getline(in, line)) {
      if (line.empty() || line.front() == '#') continue;
      std::vector<std::string> cells;
      std::stringstream cut(line);
      for (std::string cell; std::getline(cut, cell, ',');) cells.push_back(cell);
      if (names.empty()) {
        names = cells;
        continue;
      }
      auto& row = result.rows.emplace_back();
      for (std::size_t i = 0; i < names.size() && i < cells.size(); ++i) row[names[i]] = cells[i];
    }
    EXPECT_FALSE(result.rows.empty()) << file;
    return result;
  }

  /// One column as numbers.
  [[nodiscard]] std::vector<double> column(const std::string& name) const {
    std::vector<double> result;
    for (const auto& row : rows) result.push_back(number(row, name));
    return result;
  }

  [[nodiscard]] static double number(const std::map<std::string, std::string>& row, const std::string& name) {
    return std::strtod(row.at(name).c_str(), nullptr);
  }
};

}  // namespace reference
