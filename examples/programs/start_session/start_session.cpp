// SPDX-License-Identifier: MIT
// Logs and a map in, a session file out: what the columns are, what else can be seen in the numbers, and what only the
// tuner knows.
#include <fmt/core.h>

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "common/command/run_program.hpp"
#include "common/session/json_reader.hpp"
#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/text.hpp"
#include "start_session/draft.hpp"
#include "start_session/session_file.hpp"

namespace {

void print(const start_session::draft& draft, const std::string& session_text) {
  for (const auto& log : draft.logs) {
    fmt::print("{}\n", fettle::path_text(log.path));
    for (const auto& note : log.notes) fmt::print("  {}\n", note);
    for (const auto& match : log.matches) fmt::print("  {}\n", match);
  }
  fmt::print("\nguessed; replace what you know and delete its \"guess of\" line\n");
  for (const auto& guess : session::json_value::from_text(session_text, "session").guesses())
    fmt::print("  {}\n", guess);
  if (!draft.unknown.empty()) fmt::print("\ncould not be known\n");
  for (const auto& unknown : draft.unknown) fmt::print("  {}\n", unknown);
}

}  // namespace

int main(int count, char** words) {
  start_session::request request;
  std::optional<std::uint64_t> cylinders;
  std::optional<double> displacement_l, stoichiometric_afr, length_m, bore_mm, collector_length_m, collector_bore_mm;
  const auto work = [&] {
    request.cylinders_are_given = cylinders.has_value();
    request.displacement_is_given = displacement_l.has_value();
    request.fuel_is_given = stoichiometric_afr.has_value();
    request.pipes_are_given = length_m && bore_mm;
    auto& car = request.car;
    if (cylinders) car.cylinders = static_cast<double>(*cylinders);
    car.displacement_l = displacement_l.value_or(car.displacement_l);
    car.stoichiometric_afr = stoichiometric_afr.value_or(car.stoichiometric_afr);
    car.primary_length_m = length_m.value_or(car.primary_length_m);
    car.primary_bore_mm = bore_mm.value_or(car.primary_bore_mm);
    car.collector_length_m = collector_length_m.value_or(car.collector_length_m);
    car.collector_bore_mm = collector_bore_mm.value_or(car.collector_bore_mm);
    if (std::filesystem::exists(request.out))
      throw fettle::error(fettle::path_text(request.out) +
                          ": is there already; give --out another name, or move that file away");
    const auto draft = start_session::make_draft(request);
    const auto text = start_session::session_text(request, draft);
    fettle::write_atomically(request.out, text);
    print(draft, text);
    fmt::print("\n{}\n", fettle::path_text(request.out));
    return 0;
  };
  const program::command command{
      "start_session",
      "Writes a session file for logs and a map, and says what it guessed.",
      {program::required({"logs", &request.logs, "log files"}),
       program::required({"--map", &request.map, "the fuel map that was loaded, as a map CSV"}),
       program::required({"--out", &request.out, "session file to write"}),
       {.name = "--meaning",
        .value = &request.meaning,
        .says = "what the map's cells hold",
        .words = {"fuel_mg", "ve_pct", "pulse_ms"}},
       {"--cylinders", &cylinders, "number of cylinders", 1, 16},
       {"--displacement-l", &displacement_l, "of the engine", 0.03, 30},
       {"--stoichiometric-afr", &stoichiometric_afr, "of the fuel", 1, 40},
       {"--primary-length-m", &length_m, "exhaust pipe from valve to collector", 0.02, 3},
       {"--primary-bore-mm", &bore_mm, "inside", 10, 150},
       {"--collector-length-m", &collector_length_m, "from the collector to the sensor", 0, 5},
       {"--collector-bore-mm", &collector_bore_mm, "inside", 10, 300}},
      work};
  return program::run_program(command, count, words);
}
