// SPDX-License-Identifier: MIT
// The plugins through their C interface: settings and columns that a careless host may send. Every buffer is exactly as
// long as promised, so that a step beyond it is seen.
#include <array>
#include <cmath>
#include <memory>
#include <string>

#include "bytes.hpp"
#include "fettle_plugin.h"

// The entries of the three plugins, which are compiled into this program under names of their own.
extern "C" const fettle_plugin_table* look_up_entry();
extern "C" const fettle_plugin_table* stage_entry();
extern "C" const fettle_plugin_table* trim_entry();

namespace {

using fuzz::law;

template <class T>
using list = std::unique_ptr<T[]>;  // unlike a vector's, its memory ends where it says

constexpr std::array<const char*, 8> map_names{
    "map",    "correction", "secondary_share", "primary_dead_time_ms", "secondary_dead_time_ms", "trim_1",
    "trim_2", nullptr};
constexpr std::array<const char*, 6> number_names{"primary_flow_mg_per_ms",
                                                  "secondary_flow_mg_per_ms",
                                                  "primary_smallest_open_ms",
                                                  "secondary_smallest_open_ms",
                                                  "largest_duty",
                                                  nullptr};
constexpr std::array<const char*, 4> axis_names{"rpm", "throttle_pct", "battery_v", nullptr};

/// A map in memory of its own. Counts that a plugin can see through may be wrong.
struct owned_map {
  list<fettle_axis> axes;
  std::array<list<double>, 4> points;
  list<double> values;
  fettle_map map{};

  explicit owned_map(fuzz::bytes& in, std::size_t name) {
    const std::size_t rank = in.below(16) == 0 ? in.below(5) : name == 3 || name == 4 ? 1 : 1 + in.below(3);
    axes = std::make_unique<fettle_axis[]>(rank);
    std::uint64_t crossings = 1;
    for (std::size_t a = 0; a < rank; ++a) {
      const std::size_t count = in.below(16) == 0 ? in.below(2) : 2 + in.below(3);
      points[a] = std::make_unique<double[]>(count);
      const bool orderly = in.below(8) != 0;
      for (std::size_t i = 0; i < count; ++i)
        points[a][i] = orderly ? static_cast<double>(i) * 10 + static_cast<double>(in.below(10)) : in.number<double>();
      axes[a] = {axis_names[in.below(32) == 0 ? 3 : a % 3], in.below(64) == 0 ? nullptr : points[a].get(), count};
      crossings *= count;
    }
    const std::uint64_t count = in.below(16) == 0 ? in.below(80) : crossings;
    values = std::make_unique<double[]>(count);
    for (std::uint64_t i = 0; i < count; ++i) values[i] = in.number<double>();
    map = {map_names[name], in.below(64) == 0 ? nullptr : axes.get(), rank, in.below(64) == 0 ? nullptr : values.get(),
           count};
    if (in.below(64) == 0 && rank > 0) axes[rank - 1].count = ~std::uint64_t{0} >> in.below(8);
    if (in.below(64) == 0) map.rank = ~std::uint64_t{0} >> in.below(8);
  }
};

void run(fuzz::bytes& in, const fettle_plugin_table& table, fettle_instance* made, std::size_t which) {
  std::uint64_t inputs = 0, outputs = 0;
  while (table.input_name(made, inputs) != nullptr) ++inputs;
  while (table.output_name(made, outputs) != nullptr) ++outputs;
  law(inputs >= 1 && outputs >= 1, "an instance has columns");
  for (int twice = 0; twice < 2; ++twice) {
    const std::uint64_t rows = in.below(in.below(8) == 0 ? 70 : 5);
    std::vector<list<double>> columns;
    std::vector<const double*> from;
    std::vector<double*> to;
    for (std::uint64_t i = 0; i < inputs + outputs; ++i) {
      auto& column = columns.emplace_back(std::make_unique<double[]>(rows));
      for (std::uint64_t row = 0; row < rows; ++row) column[row] = i < inputs ? in.number<double>() : -77;
      const bool missing = in.below(64) == 0;
      i < inputs ? from.push_back(missing ? nullptr : column.get()) : to.push_back(missing ? nullptr : column.get());
    }
    const std::uint64_t said_inputs = in.below(32) == 0 ? in.below(9) : inputs;
    const auto status = table.run(made, from.data(), said_inputs, to.data(), outputs, rows);
    law(status == FETTLE_OK || status == FETTLE_NULL_POINTER || status == FETTLE_WRONG_COUNT, "running has few ends");
    if (status != FETTLE_OK) continue;
    for (std::uint64_t row = 0; row < rows && which == 1; ++row) {
      law(to[0][row] >= 0 && to[1][row] >= 0, "a pulse is never negative, and never NaN");
      law(to[3][row] >= 0 && to[3][row] < 65536, "faults are bits");
    }
    if (in.below(4) == 0) law(table.reset(made) == FETTLE_OK, "an instance can be reset");
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::bytes in(data, size);
  const std::array<const fettle_plugin_table*, 3> plugins{look_up_entry(), stage_entry(), trim_entry()};
  constexpr std::array<std::array<std::size_t, 3>, 3> wanted{{{0, 1, 1}, {2, 3, 4}, {5, 6, 6}}};
  const std::size_t which = in.below(3);
  const auto& table = *plugins[which];

  std::vector<owned_map> owned;
  for (std::size_t i = 0; i < 3; ++i)
    if (in.below(16) != 0) owned.emplace_back(in, in.below(16) == 0 ? in.below(map_names.size()) : wanted[which][i]);
  auto maps = std::make_unique<fettle_map[]>(owned.size());
  for (std::size_t i = 0; i < owned.size(); ++i) maps[i] = owned[i].map;
  const std::size_t number_count = in.below(16) == 0 ? in.below(number_names.size() + 1) : 5;
  auto numbers = std::make_unique<fettle_number[]>(number_count);
  for (std::size_t i = 0; i < number_count; ++i)
    numbers[i] = {number_names[i], in.below(8) == 0 ? in.number<double>() : static_cast<double>(in.below(11)) / 10};
  fettle_settings settings{sizeof settings, in.below(64) == 0 ? nullptr : maps.get(), owned.size(),
                           in.below(64) == 0 ? nullptr : numbers.get(), number_count};
  if (in.below(64) == 0) settings.size = in.below(64);

  const std::size_t room = in.below(120);
  auto message = std::make_unique<char[]>(room);
  for (std::size_t i = 0; i < room; ++i) message[i] = 'x';
  fettle_instance* made = nullptr;
  const auto status = table.create(in.below(64) == 0 ? nullptr : &settings, message.get(), room, &made);
  law(table.status_text(status) != nullptr, "every status has words");
  law((status == FETTLE_OK) == (made != nullptr), "an instance is made or refused");
  bool ends = room == 0;
  for (std::size_t i = 0; i < room; ++i) ends = ends || message[i] == '\0';
  law(ends, "a message ends in a zero byte");
  law(status == FETTLE_OK || status == FETTLE_WRONG_SETTINGS || status == FETTLE_WRONG_SIZE ||
          status == FETTLE_NULL_POINTER,
      "creating has few ends");
  if (made != nullptr) run(in, table, made, which);
  table.destroy(made);
  return 0;
}
