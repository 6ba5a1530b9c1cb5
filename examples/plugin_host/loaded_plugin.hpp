// SPDX-License-Identifier: MIT
#pragma once

#define BOOST_DLL_USE_STD_FS  // header-only: without it Boost.DLL wants the library of Boost.Filesystem
#include <boost/dll/shared_library.hpp>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "plugins/abi/fettle_plugin.h"

namespace plugin_host {

/// What is wrong with the table of a plugin, or nothing.
///
/// The size is looked at before anything behind it, so a table from an older or newer plugin is read no further than
/// it goes.
[[nodiscard]] inline std::optional<std::string> fault_of(const fettle_plugin_table* table) {
  if (table == nullptr) return "gives no table of functions";
  const auto truncated = [&] {
    return "has a truncated table: " + std::to_string(table->size) + " bytes, expected at least " +
           std::to_string(FETTLE_PLUGIN_TABLE_SIZE_1_0);
  };
  if (table->size < offsetof(fettle_plugin_table, name)) return truncated();  // no room even for the version
  if (table->abi_major != FETTLE_PLUGIN_MAJOR)
    return "speaks version " + std::to_string(table->abi_major) + " of the interface, this host " +
           std::to_string(FETTLE_PLUGIN_MAJOR) + "; a plugin built for this version is needed";
  if (table->size < FETTLE_PLUGIN_TABLE_SIZE_1_0) return truncated();
  if (table->abi_minor >= 1 && table->size < sizeof(fettle_plugin_table))
    return "has a wrong size: " + std::to_string(table->size) + " bytes, but version 1." +
           std::to_string(table->abi_minor) + " has at least " + std::to_string(sizeof(fettle_plugin_table));
  if (table->name == nullptr || table->version == nullptr || table->purpose == nullptr || table->usage == nullptr)
    return "has no name, version, purpose or usage";
  if (table->status_text == nullptr || table->create == nullptr || table->input_name == nullptr ||
      table->output_name == nullptr || table->run == nullptr || table->destroy == nullptr)
    return "lacks a function in its table";
  return std::nullopt;
}

/// A shared object that is a plugin, loaded as long as this lives.
///
/// Errors: `fettle::error` naming the file and what keeps it from being used.
class loaded_plugin {
 public:
  explicit loaded_plugin(const std::filesystem::path& path) : path_(path) {
    if (!std::filesystem::is_regular_file(path)) refuse("is not a file");
    try {
      library_.load(std::filesystem::absolute(path), boost::dll::load_mode::rtld_now);
    } catch (const std::system_error& problem) {
      refuse(std::string("cannot be loaded: ") + problem.what());
    }
    if (!library_.has(FETTLE_PLUGIN_SYMBOL))
      refuse("has no symbol " FETTLE_PLUGIN_SYMBOL "; it is a shared object, but no plugin");
    table_ = library_.get<const fettle_plugin_table*()>(FETTLE_PLUGIN_SYMBOL)();
    if (const auto fault = fault_of(table_)) refuse(*fault);
  }

  [[nodiscard]] const std::filesystem::path& path() const noexcept { return path_; }
  [[nodiscard]] const fettle_plugin_table& table() const noexcept { return *table_; }

  /// Can it forget the rows so far without being made anew? Plugins of version 1.0 cannot.
  [[nodiscard]] bool can_reset() const noexcept {
    return table_->size >= sizeof(fettle_plugin_table) && table_->reset != nullptr;
  }

  [[noreturn]] void refuse(const std::string& complaint) const {
    throw fettle::error("plugin " + path_.string() + " " + complaint);
  }
  void require(fettle_status status, const std::string& action, const std::string& message = {}) const {
    if (status == FETTLE_OK) return;
    const char* text = table_->status_text(status);
    refuse("cannot " + action + ": " +
           (!message.empty()  ? message
            : text != nullptr ? text
                              : "no reason given") +
           " (status " + std::to_string(status) + ")");
  }

 private:
  std::filesystem::path path_;
  boost::dll::shared_library library_;
  const fettle_plugin_table* table_ = nullptr;
};

/// One instance of a plugin, made from settings.
///
/// Errors: `fettle::error` with the plugin's own explanation.
class instance {
 public:
  instance(std::shared_ptr<const loaded_plugin> plugin, const fettle_settings& settings) : plugin_(std::move(plugin)) {
    char message[512] = "";
    fettle_instance* made = nullptr;
    const fettle_status status = plugin_->table().create(&settings, message, sizeof message, &made);
    plugin_->require(status, "be set up", message);
    if (made == nullptr) plugin_->refuse("says that it is set up but gives no instance");
    self_ = {made, plugin_->table().destroy};
    inputs_ = names(plugin_->table().input_name);
    outputs_ = names(plugin_->table().output_name);
  }

  [[nodiscard]] const loaded_plugin& plugin() const noexcept { return *plugin_; }
  [[nodiscard]] const std::vector<std::string>& inputs() const noexcept { return inputs_; }
  [[nodiscard]] const std::vector<std::string>& outputs() const noexcept { return outputs_; }

  /// @param inputs   a column of `rows` values for each input name.
  /// @param outputs  likewise, to be written.
  void run(const double* const* inputs, double* const* outputs, std::size_t rows) const {
    plugin_->require(plugin_->table().run(self_.get(), inputs, inputs_.size(), outputs, outputs_.size(), rows), "run");
  }

  /// The same with columns of its own.
  [[nodiscard]] std::vector<std::vector<double>> run(const std::vector<const double*>& inputs, std::size_t rows) const {
    if (inputs.size() != inputs_.size())
      plugin_->refuse("takes " + std::to_string(inputs_.size()) + " columns, not " + std::to_string(inputs.size()));
    std::vector<std::vector<double>> columns(outputs_.size(), std::vector<double>(rows));
    std::vector<double*> outputs;
    for (auto& column : columns) outputs.push_back(column.data());
    run(inputs.data(), outputs.data(), rows);
    return columns;
  }

  void reset() const {
    if (!plugin_->can_reset()) plugin_->refuse("cannot forget: it is older than that; make a new instance instead");
    plugin_->require(plugin_->table().reset(self_.get()), "forget the rows so far");
  }

 private:
  [[nodiscard]] std::vector<std::string> names(const char* (*name_of)(const fettle_instance*, std::uint64_t)) const {
    constexpr std::uint64_t most = 1000;  // a plugin without an end of names does not hang its host
    std::vector<std::string> result;
    while (const char* name = result.size() < most ? name_of(self_.get(), result.size()) : nullptr)
      result.emplace_back(name);
    return result;
  }

  std::shared_ptr<const loaded_plugin> plugin_;  // before self_: the plugin outlives its instance
  std::unique_ptr<fettle_instance, void (*)(fettle_instance*)> self_{nullptr, nullptr};
  std::vector<std::string> inputs_, outputs_;
};

}  // namespace plugin_host
