// SPDX-License-Identifier: MIT
#include "common/session/nearest_name.hpp"

#include <algorithm>
#include <cstddef>

namespace session {
namespace {

/// How many letters must be inserted, left out or replaced to turn one name into another; capitals count as small.
///
/// Source: V. I. Levenshtein, "Binary codes capable of correcting deletions, insertions, and reversals", Soviet Physics
///         Doklady 10 (1966) 707-710.
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b) {
  const auto small = [](char c) { return std::tolower(static_cast<unsigned char>(c)); };
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t k = 0; k < row.size(); ++k) row[k] = k;
  for (std::size_t i = 0; i < a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i + 1;
    for (std::size_t k = 0; k < b.size(); ++k) {
      const std::size_t replaced = diagonal + (small(a[i]) == small(b[k]) ? 0 : 1);
      diagonal = row[k + 1];
      row[k + 1] = (std::min)({replaced, row[k] + 1, diagonal + 1});
    }
  }
  return row.back();
}

}  // namespace

std::string meant_instead_of(std::string_view name, const std::vector<std::string>& known) {
  std::string_view nearest;
  std::size_t least = name.size() / 3 + 1;
  for (const auto& each : known) {
    const std::size_t distance = edit_distance(name.substr(0, 200), each);
    if (distance >= least) continue;
    least = distance;
    nearest = each;
  }
  return nearest.empty() ? "" : "; did you mean \"" + std::string(nearest) + "\"?";
}

}  // namespace session
