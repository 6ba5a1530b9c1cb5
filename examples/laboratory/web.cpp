// SPDX-License-Identifier: MIT
// What the page calls: compiled to WebAssembly.
#include <emscripten.h>

#include <string>

#include "laboratory/answer.hpp"

/// The answer stays until the next call.
extern "C" EMSCRIPTEN_KEEPALIVE const char* laboratory_answer(const char* picture, const char* question) {
  static std::string text;
  text = laboratory::answer(picture, question);
  return text.c_str();
}
