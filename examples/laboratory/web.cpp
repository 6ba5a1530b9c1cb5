// SPDX-License-Identifier: MIT
// What the page calls, compiled to WebAssembly: the pictures' answers, and the programs as they are.
#include <emscripten.h>

#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "laboratory/answer.hpp"

// The main functions of the programs; CMakeLists.txt gives them these names.
int correct_map_main(int count, char** words);
int stage_banks_main(int count, char** words);
int trim_cylinders_main(int count, char** words);
int virtual_engine_main(int count, char** words);

extern "C" {

/// Somebody watches: the page shows how far a program says it is.
int isatty(int stream) {
  return stream == 2 ? 1 : 0;
}

/// The answer stays until the next call.
EMSCRIPTEN_KEEPALIVE const char* laboratory_answer(const char* picture, const char* question) {
  static std::string text;
  text = laboratory::answer(picture, question);
  return text.c_str();
}

/// Runs a program on the files of the module.
///
/// @param command  its name and the words behind it, one a line.
/// @return         its exit code; 2 for a program that there is not.
EMSCRIPTEN_KEEPALIVE int laboratory_run(const char* command) {
  std::vector<std::string> words{""};
  for (const char c : std::string_view(command)) {
    if (c == '\n')
      words.emplace_back();
    else
      words.back() += c;
  }
  std::vector<char*> pointers;
  for (auto& word : words) pointers.push_back(word.data());
  pointers.push_back(nullptr);
  constexpr std::array<std::pair<std::string_view, int (*)(int, char**)>, 4> programs{
      {{"correct_map", correct_map_main},
       {"stage_banks", stage_banks_main},
       {"trim_cylinders", trim_cylinders_main},
       {"virtual_engine", virtual_engine_main}}};
  for (const auto& [name, run] : programs)
    if (name == words.front()) return run(static_cast<int>(words.size()), pointers.data());
  return 2;
}

}  // extern "C"
