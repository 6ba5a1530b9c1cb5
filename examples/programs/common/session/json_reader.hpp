// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <initializer_list>
#include <limits>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace session {

/// One value of a JSON file that knows where it stands, so that every refusal names file, place, value and remedy.
class json_value {
 public:
  /// Reads a whole file.
  [[nodiscard]] static json_value from_file(const std::filesystem::path& path);

  /// Reads a text.
  ///
  /// @param name  of where it comes from, for refusals.
  [[nodiscard]] static json_value from_text(const std::string& text, const std::string& name);

  /// A member that must be there.
  [[nodiscard]] json_value operator[](const std::string& key) const;
  [[nodiscard]] bool has(const std::string& key) const;

  /// Refuses any member not in the list, so that a misspelt name is not silently ignored; remarks may stand anywhere.
  void only(std::initializer_list<std::string_view> known) const;

  [[nodiscard]] double number(double lowest, double highest = std::numeric_limits<double>::infinity()) const;
  /// A number above zero.
  [[nodiscard]] double positive() const;
  [[nodiscard]] std::size_t whole(std::size_t lowest, std::size_t highest) const;
  [[nodiscard]] bool yes_or_no() const;
  [[nodiscard]] bool is_null() const;
  [[nodiscard]] bool is_list() const;
  [[nodiscard]] bool is_number() const;

  [[nodiscard]] std::string text() const;
  /// A text that stands in headings and sentences.
  [[nodiscard]] std::string name() const;
  /// The file that a text names.
  [[nodiscard]] std::filesystem::path path() const;

  [[nodiscard]] std::vector<json_value> list() const;

  /// Members in the file's order of names, without remarks.
  [[nodiscard]] std::vector<std::pair<std::string, json_value>> members() const;

  /// Every value here and below that has a `"guess of NAME": "why"` beside it: "/banks/0/flow_mg_ms, 4.2: why".
  [[nodiscard]] std::vector<std::string> guesses() const;

  [[noreturn]] void refuse(const std::string& complaint) const;

 private:
  json_value(nlohmann::json value, std::string place);

  static constexpr std::string_view guess_of = "guess of ";
  [[nodiscard]] static bool is_remark(std::string_view key);

  void collect_guesses(std::vector<std::string>& result) const;
  void require_printable(const std::string& text, const char* verb) const;
  void require_length(std::size_t longest) const;  // in characters
  [[nodiscard]] json_value member(const std::string& key) const;
  void require_object() const;
  [[nodiscard]] std::string shown() const;

  std::shared_ptr<const nlohmann::json> value_;
  std::string place_;
};

}  // namespace session
