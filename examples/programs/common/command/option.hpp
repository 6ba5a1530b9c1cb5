// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace program {

/// What may stand on a command line: an option with a value, a flag, or, named without dashes, a value by itself.
struct option {
  std::string name;  ///< as "--out"
  std::variant<bool*, double*, int*, std::size_t*, std::optional<double>*, std::optional<std::uint64_t>*, std::string*,
               std::vector<std::string>*, std::filesystem::path*, std::vector<std::filesystem::path>*,
               std::function<void(const std::string&)>>
      value;                                  ///< what is set; a bool: a flag; a function: called with the word
  std::string says;                           ///< what it is, with its unit
  double lowest = 0, highest = 0;             ///< of a number, or of how many paths, both allowed; both 0: any
  std::vector<std::string> words{};           ///< that are allowed; none: any
  std::optional<std::string> unless_given{};  ///< the default that help shows; nothing: a number or list as it stands
  char separator = 0;                         ///< between the words of a list, beside blanks; 0: none
  bool takes_single_words = false;            ///< a list: given anew for every word, others may follow one
  std::string excludes{};                     ///< name of the option that cannot stand beside this one
  bool is_required = false;
};

/// An option that cannot be left out.
[[nodiscard]] inline option required(option option) {
  option.is_required = true;
  return option;
}

/// A program as its user meets it.
struct command {
  const char* name;
  const char* purpose;
  std::vector<option> options;
  std::function<int()> work{};  ///< runs when the words are as they should be, and gives the exit code
  std::vector<command> jobs{};  ///< the word that names one of these chooses it, and its work is done instead
};

}  // namespace program
