// SPDX-License-Identifier: MIT
// Logs and a map in, a session file out: what the columns are, what else can be seen in the numbers, and what only the
// tuner knows.
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <filesystem>

#include "common/command/run_program.hpp"
#include "common/session/json_reader.hpp"
#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/text.hpp"
#include "start_session/draft.hpp"
#include "start_session/session_file.hpp"

namespace {

void print(const start_session::draft& draft, const nlohmann::ordered_json& session) {
  for (const auto& log : draft.logs) {
    fmt::print("{}\n", fettle::path_text(log.path));
    for (const auto& note : log.notes) fmt::print("  {}\n", note);
    for (const auto& match : log.matches) fmt::print("  {}\n", match);
  }
  fmt::print("\nguessed; replace what you know and delete its \"guess of\" line\n");
  for (const auto& guess : session::json_value::from_text(session.dump(), "session").guesses())
    fmt::print("  {}\n", guess);
  if (!draft.unknown.empty()) fmt::print("\ncould not be known\n");
  for (const auto& unknown : draft.unknown) fmt::print("  {}\n", unknown);
}

}  // namespace

int main(int count, char** words) {
  start_session::request asked;
  CLI::Option *cylinders = nullptr, *displacement = nullptr, *fuel = nullptr, *length = nullptr, *bore = nullptr;
  const auto options = [&](CLI::App& app) {
    auto& car = asked.car;
    app.add_option("logs", asked.logs, "log files")->required();
    app.add_option("--map", asked.map, "the fuel map that was loaded, as a map CSV")->required();
    app.add_option("--out", asked.out, "session file to write")->required();
    app.add_option("--meaning", asked.meaning, "what the map's cells hold")
        ->check(CLI::IsMember({"fuel_mg", "ve_pct", "pulse_ms"}));
    cylinders = app.add_option("--cylinders", car.cylinders, "number of cylinders")->check(CLI::Range(1, 16));
    displacement =
        app.add_option("--displacement-l", car.displacement_l, "of the engine")->check(CLI::Range(0.03, 30.0));
    fuel = app.add_option("--stoichiometric-afr", car.stoichiometric_afr, "of the fuel")->check(CLI::Range(1.0, 40.0));
    length = app.add_option("--primary-length-m", car.primary_length_m, "exhaust pipe from valve to collector")
                 ->check(CLI::Range(0.02, 3.0));
    bore = app.add_option("--primary-bore-mm", car.primary_bore_mm, "inside")->check(CLI::Range(10.0, 150.0));
    app.add_option("--collector-length-m", car.collector_length_m, "from the collector to the sensor")
        ->check(CLI::Range(0.0, 5.0));
    app.add_option("--collector-bore-mm", car.collector_bore_mm, "inside")->check(CLI::Range(10.0, 300.0));
  };
  const auto work = [&] {
    asked.cylinders_are_given = cylinders->count() > 0;
    asked.displacement_is_given = displacement->count() > 0;
    asked.fuel_is_given = fuel->count() > 0;
    asked.pipes_are_given = length->count() > 0 && bore->count() > 0;
    if (std::filesystem::exists(asked.out))
      throw fettle::error(fettle::path_text(asked.out) +
                          ": is there already; give --out another name, or move that file away");
    const auto draft = start_session::make_draft(asked);
    const auto session = start_session::session_json(asked, draft);
    fettle::write_atomically(asked.out, session.dump(2) + "\n");
    print(draft, session);
    fmt::print("\n{}\n", fettle::path_text(asked.out));
    return 0;
  };
  return program::run_program("start_session", "Writes a session file for logs and a map, and says what it guessed.",
                              count, words, options, work);
}
