// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "start_session/column_look.hpp"

namespace start_session {

/// A column of the file taken for a quantity of ours.
struct recognised {
  std::string name;        ///< ours
  std::size_t column = 0;  ///< of the file
  double factor = 1, offset = 0;
  std::string why;  ///< the column's name, the range of its values and the unit they are taken to be in
};

namespace detail {

/// How values of the file are converted into our unit: factor times value plus offset.
struct scaling {
  double factor = 1, offset = 0;
  const char* from = "";  ///< the unit that the numbers are taken to be in
};

/// A unit and the range in which ordinary values of the quantity lie in it.
struct unit_guess {
  const char* unit;  ///< ours where the factor is 1
  double factor, offset;
  double lowest, highest;  ///< of the median, in this unit
};

/// By the unit that is written, else by where the values lie; nothing when neither fits.
[[nodiscard]] inline std::optional<scaling> scale_of(const column_look& look, double typical,
                                                     const std::vector<unit_guess>& guesses) {
  for (const auto& guess : guesses)
    if (look.unit == guess.unit && typical >= guess.lowest && typical <= guess.highest)
      return scaling{guess.factor, guess.offset, guess.unit};
  for (const auto& guess : guesses)
    if ((look.unit.empty() || !is_unit(look.unit)) && typical >= guess.lowest && typical <= guess.highest)
      return scaling{guess.factor, guess.offset, guess.unit};
  return std::nullopt;
}

/// The time of a row; a duration of something else is none.
[[nodiscard]] inline std::optional<scaling> as_time(const column_look& look) {
  if (look.has_any({"injection", "injector", "pulse", "dead", "open", "dwell"})) return std::nullopt;
  if (!look.has_any({"time", "t", "clock", "timestamp"}) || look.samples < 2) return std::nullopt;
  if (look.unit == "ms") return scaling{1e-3, 0, "ms"};
  if (look.unit == "us") return scaling{1e-6, 0, "us"};
  if (look.unit == "s") return scaling{1, 0, "s"};
  return look.median_step <= 0.5   ? scaling{1, 0, "s"}
         : look.median_step <= 500 ? scaling{1e-3, 0, "ms"}
                                   : scaling{1e-6, 0, "us"};
}

[[nodiscard]] inline std::optional<scaling> as_speed(const column_look& look) {
  if (look.has_any({"vehicle", "wheel", "road", "car", "ground", "gps", "target", "idle", "limit"}))
    return std::nullopt;
  if (!look.has_any({"rpm", "speed", "revs", "revolutions", "crank"}) && look.unit != "rpm" && look.unit != "1/min")
    return std::nullopt;
  return scale_of(look, look.high,
                  {{"rpm", 1, 0, 400, 25000},
                   {"1/min", 1, 0, 400, 25000},
                   {"min-1", 1, 0, 400, 25000},
                   {"krpm", 1000, 0, 0.4, 25},
                   {"1/s", 60, 0, 25, 400},
                   {"hz", 60, 0, 25, 400}});
}

[[nodiscard]] inline std::optional<scaling> as_throttle(const column_look& look) {
  if (!look.has("throttle") || look.has_any({"target", "request", "demand", "pedal", "guard"})) return std::nullopt;
  return scale_of(look, look.highest, {{"%", 1, 0, 1.5, 110}, {"pct", 1, 0, 1.5, 110}, {"share", 100, 0, 0.05, 1.5}});
}

[[nodiscard]] inline bool is_mixture(const column_look& look) {
  const bool is_ratio = look.has("air") && look.has("fuel") && look.has("ratio");
  return look.has_any({"lambda", "afr", "wideband", "mixture"}) || (look.has("wide") && look.has("band")) || is_ratio ||
         look.unit == "afr" || look.unit == "lambda";
}
[[nodiscard]] inline bool is_wanted(const column_look& look) {
  return look.has_any({"target", "wanted", "desired", "commanded", "command", "set", "setpoint", "demand"});
}
[[nodiscard]] inline bool is_trim(const column_look& look) {
  return look.has_any({"correction", "trim", "loop", "feedback", "status", "valid", "error", "heater"});
}

/// Lambda, or an air-fuel ratio that the fuel's stoichiometric one turns into it.
[[nodiscard]] inline std::optional<scaling> as_mixture(const column_look& look, double stoichiometric_afr) {
  if (!is_mixture(look) || is_trim(look)) return std::nullopt;
  if (look.median > 0.5 && look.median < 2) return scaling{1, 0, "lambda"};
  if (look.median > 0.5 * stoichiometric_afr && look.median < 2 * stoichiometric_afr)
    return scaling{1 / stoichiometric_afr, 0, "air-fuel ratio"};
  return std::nullopt;
}

[[nodiscard]] inline std::optional<scaling> as_pulse(const column_look& look) {
  if (look.has_any({"duty", "dead", "angle", "count", "timing", "end"})) return std::nullopt;
  const bool is_named = look.has("pulse") || (look.has("injection") && look.has_any({"time", "duration", "width"})) ||
                        (look.has("injector") && look.has_any({"time", "open", "width", "duration"}));
  if (!is_named) return std::nullopt;
  return scale_of(look, look.highest, {{"ms", 1, 0, 0.3, 50}, {"us", 1e-3, 0, 300, 50000}, {"s", 1e3, 0, 3e-4, 0.05}});
}

[[nodiscard]] inline std::optional<scaling> as_pressure(const column_look& look, double lowest_kpa,
                                                        double highest_kpa) {
  return scale_of(look, look.median,
                  {{"kpa", 1, 0, lowest_kpa, highest_kpa},
                   {"bar", 100, 0, lowest_kpa / 100, highest_kpa / 100},
                   {"mbar", 0.1, 0, 10 * lowest_kpa, 10 * highest_kpa},
                   {"hpa", 0.1, 0, 10 * lowest_kpa, 10 * highest_kpa},
                   {"pa", 1e-3, 0, 1e3 * lowest_kpa, 1e3 * highest_kpa},
                   {"psi", 6.894757, 0, lowest_kpa / 6.894757, highest_kpa / 6.894757}});
}

[[nodiscard]] inline std::optional<scaling> as_temperature(const column_look& look) {
  if (look.unit == "degf" || look.unit == "f") return scaling{1 / 1.8, -32 / 1.8, "degF"};
  if (look.unit == "k" || look.unit == "degk" || look.lowest > 200) return scaling{1, -273.15, "K"};
  if (look.highest < 150 && look.lowest > -60) return scaling{1, 0, "degC"};
  return std::nullopt;
}
[[nodiscard]] inline bool is_temperature(const column_look& look) {
  return look.has_any({"temperature", "temp"}) || look.unit.starts_with("deg") || look.unit == "c";
}

[[nodiscard]] inline std::optional<scaling> as_loop_trim(const column_look& look) {
  const bool is_named = (look.has("loop") && !look.has("open")) || look.has("feedback") ||
                        (look.has("lambda") && look.has_any({"correction", "trim"}));
  if (!is_named || look.has("status")) return std::nullopt;
  if (std::abs(look.median) < 40 && (look.unit == "%" || look.unit == "pct" || look.lowest < 0))
    return scaling{1, 0, "%"};
  if (look.median > 0.6 && look.median < 1.5) return scaling{100, -100, "factor"};
  if (look.median > 60 && look.median < 150) return scaling{1, -100, "% of the fuel"};
  return std::nullopt;
}

[[nodiscard]] inline std::optional<scaling> as_factor(const column_look& look) {
  const bool is_named = look.has_any({"factor", "multiplier"}) && look.has_any({"fuel", "total", "all"});
  if (!is_named) return std::nullopt;
  return scale_of(look, look.median, {{"factor", 1, 0, 0.3, 3}, {"%", 0.01, 0, 30, 300}, {"pct", 0.01, 0, 30, 300}});
}

/// 0 or 1 in every row.
[[nodiscard]] inline bool is_switch(const column_look& look) {
  return look.lowest >= 0 && look.highest <= 1;
}

/// A quantity of ours that one column may hold.
struct quantity {
  const char* name;
  std::function<std::optional<scaling>(const column_look&)> scale;
};

[[nodiscard]] inline std::vector<quantity> single_quantities(double stoichiometric_afr) {
  using look = const column_look&;
  return {{"time_s", as_time},
          {"rpm", as_speed},
          {"throttle_pct", as_throttle},
          {"lambda_target",
           [=](look column) { return is_wanted(column) ? as_mixture(column, stoichiometric_afr) : std::nullopt; }},
          {"battery_v",
           [](look column) {
             const bool is_named =
                 column.has_any({"battery", "voltage", "supply"}) && !column.has_any({"sensor", "throttle"});
             return is_named ? scale_of(column, column.median, {{"v", 1, 0, 6, 60}, {"mv", 1e-3, 0, 6000, 60000}})
                             : std::nullopt;
           }},
          {"manifold_kPa",
           [](look column) { return column.has("manifold") ? as_pressure(column, 15, 320) : std::nullopt; }},
          {"air_kPa",
           [](look column) {
             const bool is_named = column.has_any({"barometric", "barometer", "ambient", "atmospheric"}) ||
                                   (column.has("air") && column.has("pressure")) ||
                                   (column.has("air") && column.unit == "kpa");
             return is_named && !is_temperature(column) ? as_pressure(column, 50, 110) : std::nullopt;
           }},
          {"fuel_kPa",
           [](look column) {
             const bool is_named =
                 (column.has("fuel") && column.has_any({"pressure", "rail"})) ||
                 (column.has("fuel") && (column.unit == "kpa" || column.unit == "bar" || column.unit == "psi"));
             return is_named ? as_pressure(column, 150, 1200) : std::nullopt;
           }},
          {"coolant_degC",
           [](look column) {
             const bool is_named = column.has_any({"coolant", "water"}) ||
                                   (column.has("engine") && column.has_any({"temperature", "temp"}));
             return is_named && !column.has("pressure") ? as_temperature(column) : std::nullopt;
           }},
          {"air_degC",
           [](look column) {
             const bool is_named =
                 column.has_any({"air", "intake", "inlet", "charge", "ambient"}) && is_temperature(column);
             return is_named ? as_temperature(column) : std::nullopt;
           }},
          {"fuel_factor", as_factor},
          {"loop_pct", as_loop_trim},
          {"misfire",
           [](look column) {
             return column.has("misfire") && is_switch(column) ? std::optional(scaling{}) : std::nullopt;
           }},
          {"ignition_cut",
           [](look column) {
             return column.has("cut") && column.has_any({"ignition", "spark", "shift"}) && is_switch(column)
                        ? std::optional(scaling{})
                        : std::nullopt;
           }},
          {"fuel_cut", [](look column) {
             return column.has("cut") && !column.has_any({"ignition", "spark", "shift"}) && is_switch(column)
                        ? std::optional(scaling{})
                        : std::nullopt;
           }}};
}

[[nodiscard]] inline recognised taken(const std::string& name, std::size_t column, const column_look& look,
                                      const scaling& scale) {
  std::string why = fmt::format("column \"{}\", {:g} to {:g}", look.name, look.lowest, look.highest);
  if (scale.from[0] != '\0') why += fmt::format(", taken to be in {}", scale.from);
  return {name, column, scale.factor, scale.offset, std::move(why)};
}

}  // namespace detail

/// Which columns are what. A column whose name is ours already is taken as it is; each column is used once.
struct recognition {
  std::vector<recognised> conditions{};  ///< one column each
  std::vector<recognised> lambdas{};     ///< of sensors, in the file's order
  std::vector<recognised> pulses{};
  std::vector<int> lambda_numbers{};  ///< in the names of the sensors' columns
};

/// Finds the quantities of ours in a log, by plain English words, units and values.
[[nodiscard]] inline recognition recognise(const std::vector<column_look>& looks, double stoichiometric_afr) {
  recognition result;
  std::vector<bool> used(looks.size(), false);
  const auto quantities = detail::single_quantities(stoichiometric_afr);
  const auto take = [&](const detail::quantity& quantity, bool by_our_name) {
    for (const auto& known : result.conditions)
      if (known.name == quantity.name) return;
    for (std::size_t i = 0; i < looks.size(); ++i) {
      if (used[i] || looks[i].samples == 0 || (by_our_name && looks[i].name != quantity.name)) continue;
      const auto scale = by_our_name ? std::optional(detail::scaling{}) : quantity.scale(looks[i]);
      if (!scale) continue;
      used[i] = true;
      result.conditions.push_back(detail::taken(quantity.name, i, looks[i], *scale));
      return;
    }
  };
  for (const auto& quantity : quantities) take(quantity, true);
  for (const auto& quantity : quantities) take(quantity, false);
  for (std::size_t i = 0; i < looks.size(); ++i) {
    if (used[i] || looks[i].samples == 0) continue;
    if (const auto scale = detail::as_pulse(looks[i])) {
      result.pulses.push_back(detail::taken(looks[i].name, i, looks[i], *scale));
    } else if (const auto mixture = detail::as_mixture(looks[i], stoichiometric_afr);
               mixture && !detail::is_wanted(looks[i])) {
      result.lambdas.push_back(detail::taken(looks[i].name, i, looks[i], *mixture));
      result.lambda_numbers.push_back(looks[i].number);
    }
  }
  return result;
}

}  // namespace start_session
