// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <exception>
#include <new>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "fettle_plugin.h"

/// A plugin as a C++ class: what it is made from, and the wall that keeps exceptions on this side.
namespace plugin {

/// Settings that do not suit a plugin; the text names the setting and what would be right.
class refusal : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// A map copied out of the settings.
struct named_map {
  std::vector<std::string> axis_names;
  fettle::dynamic_table<double> table;
};

/// The settings of a host, each found by name.
///
/// Errors: `refusal` naming the map or number, what was found and what is expected.
class settings {
 public:
  explicit settings(const fettle_settings& given) : given_(given) {
    if ((given.maps == nullptr && given.map_count > 0) || (given.numbers == nullptr && given.number_count > 0))
      throw refusal("the list of maps or numbers is null although its count is not 0");
  }

  [[nodiscard]] bool has_map(std::string_view name) const {
    return find(given_.maps, given_.map_count, name) != nullptr;
  }

  /// A map that must be there, of a rank within these.
  [[nodiscard]] named_map map(const std::string& name, std::size_t lowest_rank, std::size_t highest_rank) const {
    const fettle_map* map = find(given_.maps, given_.map_count, name);
    if (map == nullptr) throw refusal("needs the map " + name);
    if (map->rank < lowest_rank || map->rank > highest_rank)
      throw refusal("the map " + name + " has " + std::to_string(map->rank) + " axes, expected " +
                    std::to_string(lowest_rank) +
                    (lowest_rank == highest_rank ? "" : " to " + std::to_string(highest_rank)));
    return copied(*map);
  }

  /// A number that must be there, finite and within these bounds.
  [[nodiscard]] double number(const std::string& name, double lowest, double highest) const {
    const fettle_number* number = find(given_.numbers, given_.number_count, name);
    if (number == nullptr) throw refusal("needs the number " + name);
    if (!(number->value >= lowest && number->value <= highest))
      throw refusal("the number " + name + " is " + std::to_string(number->value) + ", expected " +
                    std::to_string(lowest) + " to " + std::to_string(highest));
    return number->value;
  }

 private:
  template <class Item>
  [[nodiscard]] static const Item* find(const Item* items, std::uint64_t count, std::string_view name) {
    for (std::uint64_t i = 0; i < count; ++i) {
      if (items[i].name == nullptr) throw refusal("a map or number has no name");
      if (items[i].name == name) return &items[i];
    }
    return nullptr;
  }

  [[nodiscard]] static named_map copied(const fettle_map& from) {
    const std::string name = from.name;
    if (from.axes == nullptr || from.values == nullptr) throw refusal("the map " + name + " has no axes or no values");
    std::vector<std::string> names;
    std::vector<fettle::dynamic_axis<double>> axes;
    std::uint64_t crossings = 1;
    for (std::uint64_t a = 0; a < from.rank; ++a) {
      const fettle_axis& axis = from.axes[a];
      if (axis.name == nullptr || axis.points == nullptr)
        throw refusal("axis " + std::to_string(a + 1) + " of the map " + name + " has no name or no breakpoints");
      if (axis.count > from.value_count)
        throw refusal("the map " + name + " has fewer values than breakpoints on its axis " + axis.name);
      auto made = fettle::dynamic_axis<double>::from({axis.points, axis.points + axis.count});
      if (!made)
        throw refusal("the axis " + std::string(axis.name) + " of the map " + name +
                      " must have at least two breakpoints, finite and each above the one before");
      names.emplace_back(axis.name);
      axes.push_back(std::move(*made));
      crossings *= axis.count;
      if (crossings > from.value_count) break;  // too few already, and the product stays within its type
    }
    if (crossings != from.value_count)
      throw refusal("the map " + name + " has " + std::to_string(from.value_count) +
                    " values, expected one per crossing of its breakpoints");
    std::vector<double> values(from.values, from.values + from.value_count);
    if (!std::all_of(values.begin(), values.end(), [](double value) { return std::isfinite(value); }))
      throw refusal("the map " + name + " has a value that is not finite; fill its holes first");
    return {std::move(names), *fettle::dynamic_table<double>::from(std::move(axes), std::move(values))};
  }

  const fettle_settings& given_;
};

/// What the table of a plugin says about it.
struct description {
  const char* name;
  const char* version;
  const char* purpose;
  const char* usage;
};

namespace detail {

inline void explain(const char* text, char* message, std::uint64_t size) noexcept {
  if (message == nullptr || size == 0) return;
  const std::uint64_t length = (std::min)(std::uint64_t{std::char_traits<char>::length(text)}, size - 1);
  std::copy_n(text, length, message);
  message[length] = '\0';
}

/// Runs `work`; whatever it throws becomes a status and a message.
template <class Work>
[[nodiscard]] fettle_status guarded(char* message, std::uint64_t size, Work&& work) noexcept {
  try {
    work();
    return FETTLE_OK;
  } catch (const refusal& problem) {
    explain(problem.what(), message, size);
    return FETTLE_WRONG_SETTINGS;
  } catch (const std::bad_alloc&) {
    explain("out of memory", message, size);
    return FETTLE_OUT_OF_MEMORY;
  } catch (const std::exception& problem) {
    explain(problem.what(), message, size);
  } catch (...) {
    explain("failed for an unknown reason", message, size);
  }
  return FETTLE_FAILED;
}

inline const char* status_text(fettle_status status) noexcept {
  switch (status) {
    case FETTLE_OK:
      return "done";
    case FETTLE_NULL_POINTER:
      return "a pointer is null that must not be";
    case FETTLE_WRONG_SIZE:
      return "a struct is smaller than the first version of it";
    case FETTLE_WRONG_COUNT:
      return "another number of columns than this instance has";
    case FETTLE_WRONG_SETTINGS:
      return "the settings do not suit";
    case FETTLE_OUT_OF_MEMORY:
      return "out of memory";
    default:
      return "failed";
  }
}

/// The functions of the table, for one class of plugin.
template <class Plugin>
struct functions {
  struct instance {
    Plugin plugin;
    std::vector<std::string> inputs = plugin.inputs(), outputs = plugin.outputs();
  };
  [[nodiscard]] static instance* from_opaque(fettle_instance* opaque) noexcept {
    return reinterpret_cast<instance*>(opaque);
  }
  [[nodiscard]] static const instance* from_opaque(const fettle_instance* opaque) noexcept {
    return reinterpret_cast<const instance*>(opaque);
  }

  static fettle_status create(const fettle_settings* given, char* message, std::uint64_t message_size,
                              fettle_instance** made) noexcept {
    explain("", message, message_size);
    if (made == nullptr) return FETTLE_NULL_POINTER;
    *made = nullptr;
    if (given == nullptr) return FETTLE_NULL_POINTER;
    if (given->size < FETTLE_SETTINGS_SIZE_1_0) return FETTLE_WRONG_SIZE;
    return guarded(message, message_size,
                   [&] { *made = reinterpret_cast<fettle_instance*>(new instance{Plugin(settings(*given))}); });
  }

  static const char* input_name(const fettle_instance* self, std::uint64_t index) noexcept {
    return self != nullptr && index < from_opaque(self)->inputs.size() ? from_opaque(self)->inputs[index].c_str()
                                                                       : nullptr;
  }
  static const char* output_name(const fettle_instance* self, std::uint64_t index) noexcept {
    return self != nullptr && index < from_opaque(self)->outputs.size() ? from_opaque(self)->outputs[index].c_str()
                                                                        : nullptr;
  }

  static fettle_status run(fettle_instance* self, const double* const* inputs, std::uint64_t input_count,
                           double* const* outputs, std::uint64_t output_count, std::uint64_t rows) noexcept {
    if (self == nullptr || inputs == nullptr || outputs == nullptr) return FETTLE_NULL_POINTER;
    if (input_count != from_opaque(self)->inputs.size() || output_count != from_opaque(self)->outputs.size())
      return FETTLE_WRONG_COUNT;
    if (rows == 0) return FETTLE_OK;
    for (std::uint64_t i = 0; i < input_count; ++i)
      if (inputs[i] == nullptr) return FETTLE_NULL_POINTER;
    for (std::uint64_t i = 0; i < output_count; ++i)
      if (outputs[i] == nullptr) return FETTLE_NULL_POINTER;
    return guarded(nullptr, 0, [&] { from_opaque(self)->plugin.run(inputs, outputs, static_cast<std::size_t>(rows)); });
  }

  static void destroy(fettle_instance* self) noexcept { delete from_opaque(self); }

  static fettle_status reset(fettle_instance* self) noexcept {
    if (self == nullptr) return FETTLE_NULL_POINTER;
    if constexpr (requires { from_opaque(self)->plugin.reset(); }) from_opaque(self)->plugin.reset();
    return FETTLE_OK;
  }
};

}  // namespace detail

/// The table of a plugin: a class made from `settings`, with `inputs()` and `outputs()` (names of columns),
/// `run(inputs, outputs, rows)` and, if it remembers rows, `reset()`.
template <class Plugin>
[[nodiscard]] constexpr fettle_plugin_table table_of(const description& about) noexcept {
  using f = detail::functions<Plugin>;
  return {.size = sizeof(fettle_plugin_table),
          .abi_major = FETTLE_PLUGIN_MAJOR,
          .abi_minor = FETTLE_PLUGIN_MINOR,
          .name = about.name,
          .version = about.version,
          .purpose = about.purpose,
          .usage = about.usage,
          .status_text = detail::status_text,
          .create = f::create,
          .input_name = f::input_name,
          .output_name = f::output_name,
          .run = f::run,
          .destroy = f::destroy,
          .reset = f::reset};
}

}  // namespace plugin
