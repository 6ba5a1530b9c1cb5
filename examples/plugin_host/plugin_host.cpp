// SPDX-License-Identifier: MIT
// Lists plugins, and runs them one after the other on a log: what one gives, the next may take. A plugin that cannot be
// used is explained and left out.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <exception>
#include <filesystem>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "common/command/run_program.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"
#include "plugin_host/loaded_plugin.hpp"
#include "plugin_host/settings.hpp"

namespace {

namespace fs = std::filesystem;
using namespace plugin_host;

struct request {
  std::vector<fs::path> plugins;
  fs::path log, out;
  std::vector<std::string> maps, numbers, columns;
};

/// Plugins in the order given; of a folder, every .so in the order of names.
std::vector<fs::path> plugin_files(const std::vector<fs::path>& given) {
  std::vector<fs::path> files;
  for (const auto& path : given) {
    if (!fs::is_directory(path)) {
      files.push_back(path);
      continue;
    }
    std::vector<fs::path> libraries;
    for (const auto& entry : fs::directory_iterator(path))
      if (entry.path().extension() == ".so") libraries.push_back(entry.path());
    std::sort(libraries.begin(), libraries.end());
    files.insert(files.end(), libraries.begin(), libraries.end());
  }
  return files;
}

/// Does the work for one plugin after the other; a fault in one is reported and does not stop the rest.
template <class Work>
int for_each_plugin(const std::vector<fs::path>& given, Work&& work) {
  int left_out = 0;
  for (const auto& path : plugin_files(given)) {
    try {
      work(std::make_shared<const loaded_plugin>(path));
    } catch (const std::exception& problem) {
      fmt::print(stderr, "plugin_host: {}\n", problem.what());
      ++left_out;
    }
  }
  return left_out == 0 ? 0 : 1;
}

int list(const request& request) {
  return for_each_plugin(request.plugins, [](const auto& plugin) {
    const auto& table = plugin->table();
    fmt::print("{} {} ({}, interface {}.{}): {}\n{}", table.name, table.version,
               fettle::path_text(plugin->path().filename()), table.abi_major, table.abi_minor, table.purpose,
               table.usage);
  });
}

/// A slow channel holds its last sample.
void hold(std::vector<double>& series) {
  for (std::size_t i = 1; i < series.size(); ++i)
    if (std::isnan(series[i])) series[i] = series[i - 1];
}

int run(const request& request) {
  std::map<std::string, std::string> column_of;
  for (const auto& word : request.columns) column_of.insert(assignment(word, "mass_mg=value"));
  const auto column_name = [&](const std::string& input) {
    const auto column = column_of.find(input);
    return column == column_of.end() ? input : column->second;
  };
  const settings given(request.maps, request.numbers);

  std::vector<instance> instances;
  int status =
      for_each_plugin(request.plugins, [&](auto plugin) { instances.emplace_back(std::move(plugin), given.view()); });
  std::vector<fettle::log_channel> channels{{.name = "time_s", .file_name = "time_s"}};
  for (const auto& instance : instances)
    for (const auto& input : instance.inputs()) {
      const auto name = column_name(input);
      const bool is_known = std::any_of(channels.begin(), channels.end(), [&](auto& c) { return c.name == name; });
      if (!is_known) channels.push_back({.name = name, .file_name = name, .required = false});
    }
  auto log = fettle::read_log_csv(request.log, channels);
  for (auto& column : log.columns) hold(column);

  fettle::log_table result{.names = {"time_s"}, .columns = {log.columns[0]}};
  for (auto& instance : instances) {
    try {
      std::vector<const double*> inputs;
      for (const auto& input : instance.inputs()) {
        const auto* column = log.find(column_name(input));
        if (column == nullptr)
          instance.plugin().refuse("needs the column " + column_name(input) +
                                   ", which neither the log nor a plugin before it has; --column " + input +
                                   "=NAME names another");
        inputs.push_back(column->data());
      }
      auto outputs = instance.run(inputs, log.rows());
      for (std::size_t i = 0; i < outputs.size(); ++i) {
        const std::string& name = instance.outputs()[i];
        if (result.find(name) != nullptr) instance.plugin().refuse("gives the column " + name + " a second time");
        result.names.push_back(name);
        result.columns.push_back(outputs[i]);
        log.names.push_back(name);
        log.columns.push_back(std::move(outputs[i]));
      }
      fmt::print("{}: {} rows, {} columns\n", instance.plugin().table().name, log.rows(), instance.outputs().size());
    } catch (const std::exception& problem) {
      fmt::print(stderr, "plugin_host: {}\n", problem.what());
      status = 1;
    }
  }
  fettle::write_log_csv(request.out, result);
  fmt::print("{}\n", fettle::path_text(request.out));
  return status;
}

}  // namespace

int main(int count, char** words) {
  request request;
  const auto plugins = program::required({"plugins", &request.plugins, "shared objects, or folders of them"});
  const auto words_option = [](const char* name, std::vector<std::string>& values, const char* says) {
    // once per word: plugins may follow
    return program::option{
        .name = name, .value = &values, .says = says, .unless_given = "", .takes_single_words = true};
  };
  const program::command listing{
      "list", "checks each plugin and says what it does and needs", {plugins}, [&] { return list(request); }};
  const program::command running{
      "run",
      "runs plugins on a log, in the order given",
      {plugins, program::required({"--log", &request.log, "log (CSV)"}),
       program::required({"--out", &request.out, "file for the results (CSV)"}),
       words_option("--map", request.maps, "a map for all plugins that know it: map=fuel_map.csv"),
       words_option("--number", request.numbers, "a number likewise: largest_duty=0.85"),
       words_option("--column", request.columns, "the column for an input, if its name differs: mass_mg=value")},
      [&] { return run(request); }};
  const program::command command{"plugin_host", "Lists plugins and runs them on a log.", {}, {}, {listing, running}};
  return program::run_program(command, count, words);
}
