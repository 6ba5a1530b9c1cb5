// SPDX-License-Identifier: MIT
// Logs of any layout as start_session takes them: refused in words, or a session that reads back.
#include <nlohmann/json.hpp>

#include "common/session/json_reader.hpp"
#include "fettle/io/log_preview.hpp"
#include "files.hpp"
#include "start_session/draft.hpp"
#include "start_session/session_file.hpp"

namespace {

using fuzz::law;

const std::filesystem::path& map_path() {
  static const auto path = [] {
    const auto result = fuzz::scratch_path("fuel_map.csv");
    std::ofstream(result) << "rpm/throttle_pct,0,100\n1000,10,20\n7000,12,30\n";
    return result;
  }();
  return path;
}

void check_preview(const std::filesystem::path& path) {
  const auto preview = fettle::preview_log_csv(path, 50);
  law(preview.units.size() == preview.names.size() && preview.columns.size() == preview.names.size(),
      "names, units and columns are as many");
  for (const auto& column : preview.columns)
    law(column.size() == preview.columns.front().size() && column.size() <= 50, "columns are of one length");
}

void check_draft(const start_session::request& asked) {
  const auto draft = start_session::make_draft(asked);
  law(!draft.session.sensors.empty() && !draft.session.banks.empty(), "there are sensors and banks");
  for (const auto& bank : draft.session.banks) law(bank.flow_mg_ms > 0, "a bank flows");
  const auto text = start_session::session_text(asked, draft);
  law(!session::json_value::from_text(text, "session").guesses().empty(), "guesses are marked");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::bytes in(data, size);
  const std::size_t draw = in.below(4);
  static const auto path = fuzz::scratch_path("log.csv");  // no file in memory: a session names files seen from its own
  std::ofstream(path, std::ios::binary).write(in.text(), static_cast<std::streamsize>(in.size()));
  start_session::request asked;
  asked.logs.assign(draw == 3 ? 2 : 1, path);
  asked.map = map_path();
  asked.out = fuzz::scratch_path("session.json");
  asked.meaning = draw == 0 ? "fuel_mg" : draw == 1 ? "pulse_ms" : "";
  try {
    check_preview(path);
    check_draft(asked);
  } catch (const fettle::error& refused) {
    fuzz::check_refusal(refused, path);
  }
  return 0;
}
