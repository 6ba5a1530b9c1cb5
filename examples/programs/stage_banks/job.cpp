// SPDX-License-Identifier: MIT
#include "stage_banks/job.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "common/session/cell_name.hpp"
#include "common/session/cells_by.hpp"
#include "common/session/recording.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/sizing.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "stage_banks/identified_films.hpp"
#include "virtual_engine/loaded_maps.hpp"

namespace stage_banks {

double passage_result::largest_film_error(std::size_t way, double allowed) const {
  const double limit = std::min(allowed, opened_at_once().largest[way] / 5);
  double wrong = 0, before = 0;
  for (const auto& films : known) {
    if (films.which != film_errors::same_way || films.use == share_use::constant) continue;
    const double here = films.size.staging.largest[way];
    if (here > limit) return wrong + (films.wrong - wrong) * std::max(0.0, limit - before) / (here - before);
    wrong = films.wrong;
    before = here;
  }
  return wrong;
}

double outcome::lacking(std::size_t cell) const {
  const double cycle_ms = fettle::cycle_ms(fettle::cell_coordinates(planned.demand.table.axes(), cell)[0]);
  double mg = 0;
  for (const auto& [bank, duty] :
       {std::pair{&banks[0], planned.primary_duty[cell]}, std::pair{&banks[1], planned.secondary_duty[cell]}})
    mg += bank->flow_mg_ms * cycle_ms * std::max(0.0, duty - largest_duty(banks));
  return mg / planned.demand.table.values()[cell];
}

std::vector<std::size_t> outcome::lacking_cells() const {
  constexpr double rounding = 1e-6;
  return session::cells_by(
      planned.share.size(), [&](std::size_t k) { return lacking(k) > rounding; },
      [&](std::size_t k) { return lacking(k); });
}

std::vector<std::size_t> outcome::unmet_cells() const {
  return session::cells_by(
      planned.unmet.size(), [&](std::size_t k) { return planned.unmet[k] != fettle::unmet_cell::none; },
      [&](std::size_t k) { return lacking(k); });
}

bank_sizing size_bank(const outcome& results, std::size_t bank) {
  const session::power_goal goal = results.session.goal.value_or(session::power_goal{});
  const double injectors = static_cast<double>(results.session.cylinders), flow = 60 * results.banks[bank].flow_mg_ms;
  const double dead_ms = results.session.banks[bank].pulses_per_cycle *
                         session::dead_time_ms(results.session.banks[bank], results.session.staging.battery_v);
  const double speed_rpm = goal.speed_rpm > 0 ? goal.speed_rpm : results.planned.demand.table.axes()[0].points().back();
  return {.static_g_per_min = flow,
          .static_cm3_per_min = fettle::cm3_per_min(flow, results.session.fuel_density_kg_m3),
          .needed_g_per_min = fettle::required_flow_g_per_min(fettle::power_target<double>{
              goal.power_kw, goal.bsfc_g_per_kwh, injectors, goal.duty, speed_rpm, dead_ms}),
          .carried_power_kw = fettle::carried_power_kw(injectors * flow, goal.bsfc_g_per_kwh,
                                                       fettle::open_share(goal.duty, dead_ms, speed_rpm))};
}

namespace {

void require_staged_engine(const session::session& session, const std::string& name) {
  if (session.banks.size() != 2)
    throw fettle::error(
        fmt::format("{}: /banks describes {} bank, expected two: primary, then secondary", name, session.banks.size()));
  for (const auto& bank : session.banks)
    if (!(bank.film_share > 0))
      throw fettle::error(
          fmt::format("{}: bank {} has no film, which compensation needs; give \"film\": {{\"share\", "
                      "\"time_s\"}}, an estimate will do",
                      name, bank.name));
  for (std::size_t b = 0; b < session.banks.size(); ++b) {
    const auto& known_v = session.banks[b].battery_v;  // fewer than two: one dead time for all
    for (const auto& [what, volts] : {std::pair{"/staging/battery_v is", session.staging.battery_v},
                                      {"the passages are driven at", driven_battery_v}})
      if (known_v.size() >= 2 && (volts < known_v.front() || volts > known_v.back()))
        throw fettle::error(
            fmt::format("{}: {} {:g} V, but /banks/{}/dead_time/battery_v goes from {:g} to {:g} V; "
                        "give the dead time there too",
                        name, what, volts, b, known_v.front(), known_v.back()));
  }
  virtual_engine::require_virtual_engine(session);
}

strategy_result measure(trace made, const trace& ideal, const passage& through, const bank_pair& banks) {
  strategy_result result{.made = std::move(made)};
  const trace& t = result.made;
  result.staging = excursion(t.lambda, ideal.lambda);
  result.staging_size = size_of(result.staging, through);
  result.total_size = size_of(excursion(t.lambda, t.target), through);
  for (std::size_t b = 0; b < banks.size(); ++b) {
    const auto& pulse_ms = b == 0 ? t.primary_ms : t.secondary_ms;
    double margin_ms = std::nan("");
    for (std::size_t i = 0; i < pulse_ms.size(); ++i) {
      result.largest_duty[b] = std::max(result.largest_duty[b], fettle::duty(pulse_ms[i], fettle::cycle_ms(t.rpm[i])));
      const double above = pulse_ms[i] - banks[b].smallest_pulse_ms;
      if (pulse_ms[i] > 0 && !(above >= margin_ms)) margin_ms = above;
    }
    result.pulse_margin_ms[b] = margin_ms;
  }
  return result;
}

passage_result drive_all(const virtual_engine::engine& e, const bank_pair& assumed, const share_plan& plan,
                         const session::staging_settings& settings, passage through) {
  passage_result result{.through = std::move(through)};
  std::array<trace, 2> ideal;  // without and with compensation
  for (const bool compensates : {false, true})
    ideal[compensates] = drive_with_one_ideal_bank(e, assumed, plan, compensates, result.through);
  for (const strategy how : strategies)
    result.by_strategy[static_cast<std::size_t>(how)] =
        measure(drive_through(e, {e, assumed, plan, how}, result.through), ideal[how == strategy::compensated],
                result.through, assumed);
  const auto keep = [&](std::string name, wrong_films& films, double wrong, film_errors which,
                        share_use use = share_use::staged) {
    result.known.push_back({std::move(name), wrong, which, use, films.worst(which, use)});
    return result.known.back().size;
  };
  const double error = settings.film_error;
  for (const double part : {0.0, 0.25, 0.5}) {
    wrong_films films(e, assumed, plan, result.through, part * error);
    keep(part > 0 ? fmt::format("{:.2g} % wrong, both banks alike", 100 * part * error) : "exact", films, part * error,
         film_errors::same_way);
  }
  wrong_films films(e, assumed, plan, result.through, error);
  result.expected =
      keep(fmt::format("{:.2g} % wrong, both banks alike", 100 * error), films, error, film_errors::same_way);
  result.worst =
      keep(fmt::format("{:.2g} % wrong, worst combination", 100 * error), films, error, film_errors::any_way);
  result.constant_split = keep(fmt::format("{:.2g} % wrong, split kept constant", 100 * error), films, error,
                               film_errors::same_way, share_use::constant);
  return result;
}

}  // namespace

double carried_power_kw(const outcome& results) {
  return size_bank(results, 0).carried_power_kw + size_bank(results, 1).carried_power_kw;
}

std::vector<std::string> objections_to(const outcome& planned) {
  std::vector<std::string> result;
  const auto cells = planned.lacking_cells();
  const auto many =
      std::count_if(cells.begin(), cells.end(), [&](std::size_t k) { return planned.lacking(k) > most_lacking; });
  if (many > 0)
    result.push_back(fmt::format(
        "{} cell{} over {:g} % of the fuel where no bank is open for more than {:.0f} % of the cycle; the worst, {}, "
        "lacks {:.0f} %",
        many, many == 1 ? " lacks" : "s lack", 100 * most_lacking, 100 * largest_duty(planned.banks),
        session::cell_name(planned.planned.demand, cells.front()), 100 * planned.lacking(cells.front())));
  if (!planned.session.goal) return result;
  const double carried = carried_power_kw(planned);
  if (planned.session.goal->power_kw > carried)
    result.push_back(fmt::format("{:.0f} kW is the target, and both banks together carry {:.0f} kW",
                                 planned.session.goal->power_kw, carried));
  return result;
}

outcome run(session::session session, const choices& choices, const stage_progress& progress) {
  const std::string name = session.path.string();
  if (!choices.films.empty()) take_identified_films(choices.films, session);
  if (!choices.seed && !session.virtual_engine_seed)
    throw fettle::error(name +
                        ": names no virtual engine to drive; add \"virtual_engine\": {\"seed\": 7} or give --seed");
  const std::uint64_t seed = choices.seed ? *choices.seed : *session.virtual_engine_seed;
  require_staged_engine(session, name);
  bank_pair banks;
  for (std::size_t b = 0; b < banks.size(); ++b) banks[b] = virtual_engine::as_bank(session.banks[b]);
  const auto demand = demand_of(session);
  auto planned = plan_staging(session, demand, banks, session.staging.wanted_share, name);
  auto least = plan_staging(session, demand, banks, 0, name);
  outcome result{.session = std::move(session),
                 .seed = seed,
                 .banks = std::move(banks),
                 .planned = std::move(planned),
                 .least = std::move(least)};
  result.writes_anyway = choices.writes_anyway;
  result.objections = objections_to(result);
  const share_plan plan = result.planned.plan();
  if (!(plan.largest > 0))
    throw fettle::error(name +
                        ": the plan never uses the second bank: the primary carries all the fuel and "
                        "wanted_share is 0, or throttle_guard and slowest_rpm shut the second bank everywhere");

  virtual_engine::engine e = virtual_engine::engine::from_seed(result.seed);
  for (std::size_t b = 0; b < result.banks.size(); ++b) {
    const auto film = e.bank[b].film;
    e.bank[b] = result.banks[b];
    e.bank[b].film = film;
  }
  auto passages = passages_through(plan, result.session.staging.slowest_rpm);
  for (std::size_t i = 0; i < passages.size(); ++i) {
    progress("driving: " + passages[i].name, 0.9 * static_cast<double>(i) / static_cast<double>(passages.size()));
    result.passages.push_back(drive_all(e, result.banks, plan, result.session.staging, std::move(passages[i])));
  }
  result.power = compare_power(e, result.banks, {plan, result.least.plan()}, result.seed, choices.pulls,
                               choices.gain_pct / 100, [&](double done) { progress("dyno pulls", 0.9 + 0.1 * done); });
  return result;
}

}  // namespace stage_banks
