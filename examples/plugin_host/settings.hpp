// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "fettle/io/csv_number.hpp"
#include "fettle/io/map_csv.hpp"
#include "plugins/abi/fettle_plugin.h"

namespace plugin_host {

/// A command-line word `name=value` in two parts.
///
/// Errors: `fettle::error` when there is no name, no value or no sign between.
[[nodiscard]] inline std::pair<std::string, std::string> assignment(const std::string& word,
                                                                    const std::string& example) {
  const auto sign = word.find('=');
  if (sign == std::string::npos || sign == 0 || sign + 1 == word.size())
    throw fettle::error("found " + word + ", expected a name and what it is: " + example);
  return {word.substr(0, sign), word.substr(sign + 1)};
}

/// Maps from files and numbers, as plugins take them. Neither copied nor moved: the view points into it.
class settings {
 public:
  /// @param map_words     `map=fuel_map.csv`
  /// @param number_words  `largest_duty=0.85`
  settings(const std::vector<std::string>& map_words, const std::vector<std::string>& number_words) {
    for (const auto& word : map_words) {
      auto [name, path] = assignment(word, "map=fuel_map.csv");
      files_.push_back({std::move(name), fettle::read_map_csv(path)});
    }
    for (const auto& word : number_words) {
      auto [name, text] = assignment(word, "largest_duty=0.85");
      const auto value = fettle::detail::number_in(text);
      if (!value) throw fettle::error("found " + word + ", expected a number: largest_duty=0.85");
      numbers_.emplace_back(std::move(name), *value);
    }
    for (const auto& [name, file] : files_) {
      auto& axes = axes_.emplace_back();
      for (std::size_t a = 0; a < file.table.rank(); ++a) {
        const auto& points = file.table.axes()[a].points();
        axes.push_back({file.axis_names[a].c_str(), points.data(), points.size()});
      }
    }
    for (std::size_t i = 0; i < files_.size(); ++i)
      map_views_.push_back({files_[i].first.c_str(), axes_[i].data(), axes_[i].size(),
                            files_[i].second.table.values().data(), files_[i].second.table.size()});
    for (const auto& [name, value] : numbers_) number_views_.push_back({name.c_str(), value});
  }
  settings(const settings&) = delete;
  settings& operator=(const settings&) = delete;

  [[nodiscard]] fettle_settings view() const noexcept {
    return {sizeof(fettle_settings), map_views_.data(), map_views_.size(), number_views_.data(), number_views_.size()};
  }

 private:
  std::vector<std::pair<std::string, fettle::map_file>> files_;
  std::vector<std::pair<std::string, double>> numbers_;
  std::vector<std::vector<fettle_axis>> axes_;
  std::vector<fettle_map> map_views_;
  std::vector<fettle_number> number_views_;
};

}  // namespace plugin_host
