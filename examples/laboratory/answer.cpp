// SPDX-License-Identifier: MIT
#include "laboratory/answer.hpp"

#include <nlohmann/json.hpp>

#include "common/report/glossary.hpp"
#include "laboratory/answer_of.hpp"
#include "laboratory/pictures/collector.hpp"
#include "laboratory/pictures/integer_cells.hpp"
#include "laboratory/pictures/look_up.hpp"
#include "laboratory/pictures/smoothing.hpp"
#include "laboratory/pictures/tip_in.hpp"
#include "laboratory/pictures/two_banks.hpp"
#include "laboratory/pictures/wall_film.hpp"

namespace laboratory {
namespace {

/// Question: nothing. Answer: words, each with term and meaning.
nlohmann::json glossary(const nlohmann::json&) {
  nlohmann::json words = nlohmann::json::array();
  for (const auto& [term, meaning] : report::glossary) words.push_back({{"term", term}, {"meaning", meaning}});
  return {{"words", words}};
}

}  // namespace

std::string answer(const std::string& picture, const std::string& question) {
  static const picture_table pictures{
      {"look_up", look_up},     {"demo_surface", demo_surface}, {"smoothing", smoothing},
      {"tip_in", tip_in},       {"wall_film", wall_film},       {"two_banks", two_banks},
      {"collector", collector}, {"rotation", rotation},         {"integer_cells", integer_cells},
      {"glossary", glossary}};
  return answer_of(pictures, picture, question);
}

}  // namespace laboratory
