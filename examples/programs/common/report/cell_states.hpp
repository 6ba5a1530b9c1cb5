// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <vector>

#include "common/report/map_table.hpp"
#include "fettle/lambda/decide.hpp"

namespace report {

/// All states of a cell, those that a tuner must see first in front.
inline constexpr std::array<fettle::cell_state, 5> cell_states{
    fettle::cell_state::still_lean, fettle::cell_state::corrected, fettle::cell_state::safe_part,
    fettle::cell_state::left_alone, fettle::cell_state::not_driven};

/// What became of a cell, to a tuner.
[[nodiscard]] constexpr const char* in_words(fettle::cell_state state) noexcept {
  switch (state) {
    case fettle::cell_state::corrected:
      return "corrected";
    case fettle::cell_state::safe_part:
      return "corrected as far as is safe";
    case fettle::cell_state::still_lean:
      return "still lean";
    case fettle::cell_state::left_alone:
      return "left alone";
    default:
      return "not driven";
  }
}

/// The name of a state in JSON.
[[nodiscard]] constexpr const char* key_of(fettle::cell_state state) noexcept {
  switch (state) {
    case fettle::cell_state::corrected:
      return "corrected";
    case fettle::cell_state::safe_part:
      return "safe_part";
    case fettle::cell_state::still_lean:
      return "still_lean";
    case fettle::cell_state::left_alone:
      return "left_alone";
    default:
      return "not_driven";
  }
}

/// The letter of a state in a map; a space: corrected, as most cells are.
[[nodiscard]] constexpr char mark_of(fettle::cell_state state) noexcept {
  switch (state) {
    case fettle::cell_state::corrected:
      return ' ';
    case fettle::cell_state::safe_part:
      return 's';
    case fettle::cell_state::still_lean:
      return 'L';
    case fettle::cell_state::left_alone:
      return 'a';
    default:
      return 'n';
  }
}

/// What the letters mean, for a map's legend.
[[nodiscard]] inline std::vector<cell_mark> state_meanings() {
  return {{'L', "still lean: needs more than it got"},
          {'s', "corrected as far as is safe"},
          {'a', "left alone"},
          {'n', "not driven"}};
}

}  // namespace report
