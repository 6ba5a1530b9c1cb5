// SPDX-License-Identifier: MIT
// The pictures that drive the invented car: apart from the others, because they bring in all that the programs are.
#include "laboratory/driven_answer.hpp"

#include "laboratory/answer_of.hpp"
#include "laboratory/pictures/evidence.hpp"
#include "laboratory/pictures/passes.hpp"
#include "laboratory/pictures/three_ways.hpp"

namespace laboratory {

std::string driven_answer(const std::string& picture, const std::string& question) {
  static const picture_table pictures{{"evidence", evidence}, {"three_ways", three_ways}, {"passes", passes}};
  return answer_of(pictures, picture, question);
}

}  // namespace laboratory
