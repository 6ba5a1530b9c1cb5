// SPDX-License-Identifier: MIT
// The programs as the page calls them: each with its own command line, on the files that the page has put beside it. And
// the pictures that drive the invented car.
#include <emscripten.h>

#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "laboratory/driven_answer.hpp"

// What main is called in the programs' own sources when they are compiled for the page, see CMakeLists.txt.
int virtual_engine_main(int count, char** words);
int correct_map_main(int count, char** words);
int trim_cylinders_main(int count, char** words);
int stage_banks_main(int count, char** words);

/// Runs a program; what it prints goes to standard output and standard error, its exit code is returned.
///
/// @param program  its name, one of those above without `_main`.
/// @param words    a JSON list of the words that follow the name on a command line.
extern "C" EMSCRIPTEN_KEEPALIVE int laboratory_run(const char* program, const char* words) {
  static const std::map<std::string, int (*)(int, char**)> programs{{"virtual_engine", virtual_engine_main},
                                                                    {"correct_map", correct_map_main},
                                                                    {"trim_cylinders", trim_cylinders_main},
                                                                    {"stage_banks", stage_banks_main}};
  auto line = nlohmann::json::parse(words).get<std::vector<std::string>>();
  line.insert(line.begin(), program);
  std::vector<char*> pointers;
  for (auto& word : line) pointers.push_back(word.data());
  pointers.push_back(nullptr);
  return programs.at(program)(static_cast<int>(line.size()), pointers.data());
}

/// The answer stays until the next call.
extern "C" EMSCRIPTEN_KEEPALIVE const char* laboratory_answer(const char* picture, const char* question) {
  static std::string text;
  text = laboratory::driven_answer(picture, question);
  return text.c_str();
}
