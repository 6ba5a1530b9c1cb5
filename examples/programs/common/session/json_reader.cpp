// SPDX-License-Identifier: MIT
#include "common/session/json_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <set>
#include <system_error>

#include "common/session/nearest_name.hpp"
#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace session {
namespace {

std::string text_of(double x) {
  return fmt::format("{}", x);
}

constexpr std::size_t longest_name = 200;

// JSON readers keep the last of two members with one name; here the first would be lost without a word. Copying and
// showing a value take stack for every level of it. And a name is shown in full wherever it is refused.
nlohmann::json::parser_callback_t refuse_at_once(const std::string& name) {
  return [name, open = std::vector<std::set<std::string>>{}](int depth, nlohmann::json::parse_event_t event,
                                                             nlohmann::json& value) mutable {
    using event_kind = nlohmann::json::parse_event_t;
    if (depth > 20)
      throw fettle::error(name + ": lists and objects stand more than 20 deep in one another; far fewer are needed");
    if (event == event_kind::object_start) open.emplace_back();
    if (event == event_kind::object_end) open.pop_back();
    if (event != event_kind::key) return true;
    const auto& key = value.get_ref<const std::string&>();
    if (const std::size_t size = fettle::character_count(key); size > longest_name)
      throw fettle::error(
          fettle::printable(fmt::format("{}: a name begins with \"{}...\" and is {} characters long, "
                                        "expected {} at most",
                                        name, key.substr(0, 37), size, longest_name)));
    if (!open.back().insert(key).second)
      throw fettle::error(
          fettle::printable(fmt::format("{}: \"{}\" is given twice in one object; keep one of them", name, key)));
    return true;
  };
}

}  // namespace

json_value::json_value(nlohmann::json value, std::string place)
    : value_{std::make_shared<const nlohmann::json>(std::move(value))}, place_{std::move(place)} {}

json_value json_value::from_file(const std::filesystem::path& path) {
  std::error_code absent;
  if (std::filesystem::is_directory(path, absent))
    throw fettle::error(fettle::path_text(path) + ": is a folder, expected a JSON file");
  std::ifstream in(path, std::ios::binary);
  if (!in) throw fettle::error(fettle::path_text(path) + ": cannot be opened; check the path");
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  return from_text(text, fettle::path_text(path));
}

json_value json_value::from_text(const std::string& text, const std::string& name) {
  if (text.find_first_not_of(" \t\r\n") == std::string::npos)
    throw fettle::error(name + ": the file is empty, expected a JSON object");
  try {
    return {nlohmann::json::parse(text, refuse_at_once(name)), name + ": "};
  } catch (const nlohmann::json::parse_error& problem) {
    const std::size_t end = std::min(problem.byte, text.size());
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), '\n');
    throw fettle::error(name + ", line " + std::to_string(line) +
                        ": not JSON here; look for a missing comma, quote or brace on this line or the one before");
  } catch (const nlohmann::json::out_of_range&) {
    throw fettle::error(name + ": a number is beyond 1e308 in size; look for an exponent too long");
  }
}

json_value json_value::operator[](const std::string& key) const {
  require_object();
  if (!value_->contains(key)) refuse("has no \"" + key + "\", which is needed");
  return member(key);
}

bool json_value::is_null() const {
  return value_->is_null();
}

bool json_value::is_list() const {
  return value_->is_array();
}

bool json_value::is_number() const {
  return value_->is_number();
}

bool json_value::has(const std::string& key) const {
  require_object();
  return value_->contains(key);
}

void json_value::only(std::initializer_list<std::string_view> known) const {
  require_object();
  for (const auto& [key, ignored] : value_->items()) {
    if (is_remark(key) || std::find(known.begin(), known.end(), key) != known.end()) continue;
    std::string list;
    for (const auto name : known) list += (list.empty() ? "" : ", ") + std::string(name);
    refuse("has \"" + key + "\", which is not known here; known are " + list +
           meant_instead_of(key, {known.begin(), known.end()}));
  }
}

double json_value::number(double lowest, double highest) const {
  if (!value_->is_number()) refuse("is " + shown() + ", expected a number");
  const double x = value_->get<double>();
  if (!(x >= lowest && x <= highest)) {
    refuse("is " + shown() + ", expected a number from " + text_of(lowest) +
           (std::isfinite(highest) ? " to " + text_of(highest) : " up"));
  }
  return x;
}

double json_value::positive() const {
  const double x = number(std::numeric_limits<double>::lowest());
  if (!(x > 0) || !std::isfinite(x)) refuse("is " + shown() + ", expected a number above 0");
  return x;
}

std::size_t json_value::whole(std::size_t lowest, std::size_t highest) const {
  if (!value_->is_number_integer() || value_->get<double>() < static_cast<double>(lowest) ||
      value_->get<double>() > static_cast<double>(highest))
    refuse("is " + shown() + ", expected a whole number from " + std::to_string(lowest) + " to " +
           std::to_string(highest));
  return value_->get<std::size_t>();
}

bool json_value::yes_or_no() const {
  if (!value_->is_boolean()) refuse("is " + shown() + ", expected true or false");
  return value_->get<bool>();
}

std::string json_value::text() const {
  if (!value_->is_string() || value_->get_ref<const std::string&>().empty())
    refuse("is " + shown() + ", expected a text");
  require_printable(value_->get_ref<const std::string&>(), "is");
  require_length(1000);
  return value_->get<std::string>();
}

std::string json_value::name() const {
  std::string result = text();
  require_length(longest_name);
  return result;
}

std::filesystem::path json_value::path() const {
  return fettle::path_named(text());
}

std::vector<json_value> json_value::list() const {
  if (!value_->is_array()) refuse("is " + shown() + ", expected a list [...]");
  std::vector<json_value> result;
  for (std::size_t i = 0; i < value_->size(); ++i) result.push_back({(*value_)[i], place_ + "/" + std::to_string(i)});
  return result;
}

std::vector<std::pair<std::string, json_value>> json_value::members() const {
  require_object();
  std::vector<std::pair<std::string, json_value>> result;
  for (const auto& [key, ignored] : value_->items()) {
    if (is_remark(key)) continue;
    require_printable(key, "has");
    result.emplace_back(key, member(key));
  }
  return result;
}

std::vector<std::string> json_value::guesses() const {
  std::vector<std::string> result;
  collect_guesses(result);
  return result;
}

void json_value::refuse(const std::string& complaint) const {
  throw fettle::error(fettle::printable(place_ + (place_.back() == ' ' ? "the file " : " ") + complaint));
}

bool json_value::is_remark(std::string_view key) {
  return key.starts_with("comment") || key.starts_with(guess_of);
}

void json_value::collect_guesses(std::vector<std::string>& result) const {
  if (value_->is_array())
    for (const auto& item : list()) item.collect_guesses(result);
  if (!value_->is_object()) return;
  for (const auto& [key, ignored] : value_->items()) {
    if (!key.starts_with(guess_of)) {
      if (!is_remark(key)) member(key).collect_guesses(result);
      continue;
    }
    const std::string name = key.substr(guess_of.size());
    if (!value_->contains(name)) refuse("has \"" + key + "\", but no \"" + name + "\" to which that belongs");
    const json_value guessed = member(name);
    const std::string shown_place = guessed.place_.substr(guessed.place_.find(": ") + 2);
    result.push_back(fettle::printable(shown_place + ", " + guessed.shown() + ": " + member(key).text()));
  }
}

void json_value::require_printable(const std::string& text, const char* verb) const {
  if (fettle::is_printable(text)) return;
  refuse(std::string(verb) + " \"" + text.substr(0, 40) +
         "\", where each question mark is a control character; expected plain text");
}

void json_value::require_length(std::size_t longest) const {
  if (const std::size_t size = fettle::character_count(value_->get_ref<const std::string&>()); size > longest)
    refuse(fmt::format("is {}, {} characters long, expected {} at most", shown(), size, longest));
}

json_value json_value::member(const std::string& key) const {
  return {value_->at(key), place_ + "/" + key};
}

void json_value::require_object() const {
  if (!value_->is_object()) refuse("is " + shown() + ", expected an object {...}");
}

std::string json_value::shown() const {
  const std::string whole = value_->dump();
  return whole.size() > 40 ? whole.substr(0, 37) + "..." : whole;
}

}  // namespace session
