// SPDX-License-Identifier: MIT
#include "virtual_engine/loaded_maps.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "common/session/log_conditions.hpp"
#include "common/session/trim_maps.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "virtual_engine/maps.hpp"

namespace virtual_engine {

injector_bank as_bank(const session::bank& bank) {
  injector_bank result{.name = bank.name,
                       .flow_mg_ms = bank.flow_mg_ms,
                       .smallest_pulse_ms = bank.smallest_pulse_ms,
                       .largest_duty = bank.largest_duty,
                       .film = {bank.film_share, bank.film_time_s}};
  for (std::size_t i = 0; i < result.dead_time_ms.size(); ++i)
    result.dead_time_ms[i] = session::dead_time_ms(bank, injector_bank::battery_v[i]);
  return result;
}

void require_virtual_engine(const session::session& session) {
  if (session.cylinders == cylinders && std::abs(session.displacement_l - displacement_l) <= 0.05 * displacement_l)
    return;
  throw fettle::error(fmt::format(
      "{}: /engine has {} cylinders and {:g} l, but the virtual engine that is driven has "
      "{} and {:g} l",
      fettle::path_text(session.path), session.cylinders, session.displacement_l, cylinders, displacement_l));
}

namespace {

[[nodiscard]] map loaded(const std::filesystem::path& path) {
  auto file = fettle::read_map_csv(path);
  if (file.axis_names != std::vector<std::string>{"rpm", "throttle_pct"})
    throw fettle::error(fettle::path_text(path) +
                        ": the virtual engine's controller reads its maps over rpm and throttle_pct; "
                        "the first cell must be rpm/throttle_pct");
  return std::move(file.table);
}

[[nodiscard]] trim_map loaded_trim(const std::filesystem::path& path) {
  auto file = session::read_trim(path);
  trim_map result{.factor = std::move(file.table)};
  for (const auto& name : file.axis_names) {
    if (name != "rpm" && name != "throttle_pct")
      throw fettle::error(fettle::path_text(path) +
                          ": a trim of the virtual engine's cylinders is read over rpm, throttle_pct or "
                          "both, not over " +
                          name);
    result.reads_throttle.push_back(name == "throttle_pct");
  }
  return result;
}

[[nodiscard]] map constant(double value) {
  return sampled({.rpm = {0, 10000}, .throttle_pct = {0, 100}}, [&](double, double) { return value; });
}

}  // namespace

alpha_n_controller controller_of(const session::session& session) {
  require_virtual_engine(session);
  if (session.banks.size() != banks)
    throw fettle::error(fmt::format("{}: /banks describes {} bank, expected two: primary, then secondary",
                                    fettle::path_text(session.path), session.banks.size()));
  if (session.holds != fettle::map_meaning::fuel_mg)
    throw fettle::error(fettle::path_text(session.path) +
                        ": /map/meaning is not fuel_mg, which the virtual engine's controller expects");
  alpha_n_controller result{loaded(session.map_path),
                            session.share_map_path.empty() ? constant(0) : loaded(session.share_map_path),
                            {as_bank(session.banks[0]), as_bank(session.banks[1])}};
  for (const auto& path : session.trims.map_paths) result.trims.push_back(loaded_trim(path));
  return result;
}

}  // namespace virtual_engine
