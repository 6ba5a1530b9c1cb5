// SPDX-License-Identifier: MIT
#include "common/command/run_program.hpp"

#include <CLI/CLI.hpp>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <functional>
#include <new>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace program {
namespace {

/// Adds an option of the type that it sets.
class adder {
 public:
  adder(CLI::App& app, const option& added) : app_(app), added_(added) {}

  CLI::Option* operator()(bool* value) const { return app_.add_flag(added_.name, *value, added_.says); }
  CLI::Option* operator()(double* value) const { return number(*value)->capture_default_str(); }
  CLI::Option* operator()(int* value) const { return whole(*value)->capture_default_str(); }
  CLI::Option* operator()(std::size_t* value) const { return whole(*value)->capture_default_str(); }
  CLI::Option* operator()(std::optional<double>* value) const { return number(*value); }
  CLI::Option* operator()(std::optional<std::uint64_t>* value) const { return whole(*value); }
  CLI::Option* operator()(std::string* value) const { return add(*value); }
  CLI::Option* operator()(std::vector<std::string>* value) const {
    auto* const result = add(*value)->capture_default_str();
    if (added_.separator != 0) result->delimiter(added_.separator);
    if (added_.takes_single_words) result->allow_extra_args(false);
    return result;
  }
  CLI::Option* operator()(std::filesystem::path* value) const { return add(*value); }
  CLI::Option* operator()(std::vector<std::filesystem::path>* value) const {
    auto* const result = add(*value);
    return is_limited() ? result->expected(static_cast<int>(added_.lowest), static_cast<int>(added_.highest)) : result;
  }
  CLI::Option* operator()(const std::function<void(const std::string&)>& value) const {
    return app_.add_option_function<std::string>(added_.name, value, added_.says);
  }

 private:
  [[nodiscard]] bool is_limited() const { return added_.lowest < added_.highest; }

  template <class Value>
  [[nodiscard]] CLI::Option* add(Value& value) const {
    return app_.add_option(added_.name, value, added_.says);
  }
  template <class Value>
  [[nodiscard]] CLI::Option* number(Value& value) const {
    auto* const result = add(value);
    return is_limited() ? result->check(CLI::Range(added_.lowest, added_.highest)) : result;
  }
  template <class Value>
  [[nodiscard]] CLI::Option* whole(Value& value) const {
    auto* const result = add(value);
    return is_limited() ? result->check(CLI::Range(static_cast<int>(added_.lowest), static_cast<int>(added_.highest)))
                        : result;
  }

  CLI::App& app_;
  const option& added_;
};

void add(CLI::App& app, const option& added) {
  auto* const result = std::visit(adder(app, added), added.value);
  if (added.is_required) result->required();
  if (!added.words.empty()) result->check(CLI::IsMember(added.words));
  if (added.unless_given) result->default_str(*added.unless_given);
}

void add_all(CLI::App& app, const command& command) {
  for (const auto& added : command.options) add(app, added);
  for (const auto& added : command.options)
    if (!added.excludes.empty()) app.get_option(added.name)->excludes(app.get_option(added.excludes));
  if (!command.jobs.empty()) app.require_subcommand(1);
  for (const auto& job : command.jobs) add_all(*app.add_subcommand(job.name, job.purpose), job);
}

/// What the command line names: one of the jobs, or the command that has none.
const command& chosen(const CLI::App& app, const command& command) {
  for (const auto& job : command.jobs)
    if (app.got_subcommand(job.name)) return job;
  return command;
}

}  // namespace

int run_program(const command& command, int count, char** words) noexcept {
  try {
    CLI::App app{command.purpose, command.name};
    add_all(app, command);
    app.failure_message([](const CLI::App* self, const CLI::Error& problem) {
      return self->get_name() + ": " + fettle::printable(problem.what()) + "; --help lists what there is\n";
    });
    try {
      app.parse(count, words);
    } catch (const CLI::ParseError& problem) {
      return app.exit(problem) == 0 ? 0 : 2;
    }
    const int code = chosen(app, command).work();
    if (std::fflush(stdout) != 0) throw fettle::error("standard output could not be written; the files are whole");
    return code;
  } catch (const std::bad_alloc&) {
    std::fprintf(stderr, "%s: out of memory; free some, or ask for less: shorter logs, fewer of them\n", command.name);
  } catch (const std::exception& problem) {
    std::fprintf(stderr, "%s: %s\n", command.name, fettle::printable(problem.what()).c_str());
  }
  return 2;
}

}  // namespace program
