// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

#include "common/session/json_reader.hpp"
#include "common/session/session.hpp"

namespace stage_banks {

/// Film values as correct_map found them in logs take the place of the session's, and the largest of their standard
/// errors that of its `film_error`: one standard error serves as a bound, which a value may exceed in one case of three
/// (normal distribution). A film time that varies over the map is that in its middle, and its error larger by how far it
/// lies from there at the ends of both axes.
///
/// @param summary  the summary.json that correct_map wrote for an engine with banks of the same names.
/// Errors: `fettle::error` naming the file and the place in it.
inline void take_identified_films(const std::filesystem::path& summary, session::session& destination) {
  const auto parameters = session::json_value::from_file(summary)["parameters"];
  double largest_error = 0.01;  // the least that a session may state
  const auto take = [&](const std::string& name, double& value, double lowest, double highest) {
    for (const auto& parameter : parameters.list()) {
      if (parameter["name"].text() != name) continue;
      value = parameter["value"].number(lowest, highest);
      return parameter["standard_error_pct"].number(0, 90) / 100;
    }
    parameters.refuse("holds no \"" + name + "\"; let correct_map find the films, without --path given");
  };
  for (auto& bank : destination.banks) {
    double trend = 0;
    for (const auto& parameter : parameters.list())
      if (const std::string name = parameter["name"].text();
          name.starts_with("film time trend") && name.ends_with(", " + bank.name))
        trend += std::abs(std::log(parameter["value"].number(0.1, 10)));
    largest_error = std::max(largest_error, take("film share, " + bank.name, bank.film_share, 0, 0.95));
    const double error = take("film time, " + bank.name, bank.film_time_s, 0.001, 10);
    largest_error = std::max(largest_error, std::min(error + std::expm1(trend), 0.9));
  }
  destination.staging.film_error = largest_error;
}

}  // namespace stage_banks
