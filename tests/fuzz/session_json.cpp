// SPDX-License-Identifier: MIT
// Session files: refused in words, or read with every number within what is allowed.
#include <algorithm>
#include <cmath>

#include "common/session/channels.hpp"
#include "common/session/read_session.hpp"
#include "files.hpp"

namespace {

using fuzz::law;

void check_session(const session::session& session) {
  law(session.cylinders >= 1 && session.cylinders <= 16 && session.displacement_l > 0, "there is an engine");
  law(!session.banks.empty() && !session.sensors.empty() && !session.log_paths.empty(),
      "there are banks, sensors and logs");
  law(session.facts.size() == session.log_paths.size(), "facts are known for every log");
  for (const auto& bank : session.banks) {
    law(bank.flow_mg_ms > 0 && std::isfinite(bank.flow_mg_ms), "a bank flows");
    law(!bank.dead_time_ms.empty() && (bank.battery_v.empty() || bank.battery_v.size() == bank.dead_time_ms.size()),
        "a bank has a dead time");
  }
  for (const auto& sensor : session.sensors)
    law(std::all_of(sensor.cylinders.begin(), sensor.cylinders.end(),
                    [&](auto i) { return i >= 1 && i <= session.cylinders; }) &&
            sensor.lowest <= sensor.highest,
        "a sensor sits somewhere");
  for (std::size_t log = 0; log < session.log_paths.size(); ++log) (void)session.during(log);
  law(!session::wanted_channels(session, {"rpm", "throttle_pct"}).empty(), "columns are wanted");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::memory_file file({reinterpret_cast<const char*>(data), size});
  try {
    check_session(session::read_session(file.path()));
  } catch (const fettle::error& refused) {
    fuzz::check_refusal(refused, file.path());
  }
  return 0;
}
