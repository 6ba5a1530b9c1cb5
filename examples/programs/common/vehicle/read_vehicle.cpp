// SPDX-License-Identifier: MIT
#include "common/vehicle/read_vehicle.hpp"

namespace vehicle {
namespace {

[[nodiscard]] fettle::road_load<double> read_road_load(const session::json_value& from) {
  from.only({"A_N", "B_Ns_per_m", "C_Ns2_per_m2"});
  return {.constant_n = from["A_N"].number(0, 1e5),
          .linear_ns_per_m = from.has("B_Ns_per_m") ? from["B_Ns_per_m"].number(-1e3, 1e3) : 0,
          .quadratic_ns2_per_m2 = from["C_Ns2_per_m2"].number(0, 100)};
}

}  // namespace

described_car read_vehicle(const session::json_value& from) {
  from.only({"mass_kg", "wheels_kgm2", "shafts_kgm2", "engine_kgm2", "gear_ratios", "final_ratio", "wheel_radius_m",
             "tyre_growth_per_m2s2", "efficiency", "road_load"});
  described_car result;
  result.car.mass_kg = from["mass_kg"].number(50, 1e5);
  auto& turning = result.car.turning;
  turning.wheels_kgm2 = from["wheels_kgm2"].number(0, 100);
  if (from.has("shafts_kgm2")) turning.shafts_kgm2 = from["shafts_kgm2"].number(0, 10);
  result.has_engine_inertia = from.has("engine_kgm2");
  if (result.has_engine_inertia) turning.engine_kgm2 = from["engine_kgm2"].number(1e-4, 10);
  fettle::driveline<double> gear{.final_ratio = from["final_ratio"].number(0.1, 50),
                                 .wheel_radius_m = from["wheel_radius_m"].number(0.05, 2)};
  if (from.has("efficiency")) gear.efficiency = from["efficiency"].number(0.3, 1);
  if (from.has("tyre_growth_per_m2s2")) gear.growth_per_m2s2 = from["tyre_growth_per_m2s2"].number(0, 1e-4);
  for (const auto& ratio : from["gear_ratios"].list()) {
    gear.gear_ratio = ratio.number(0.05, 50);
    if (!result.gears.empty() && !(gear.gear_ratio < result.gears.back().gear_ratio))
      ratio.refuse("is not below the ratio of the gear before it; expected ratios that fall from the first gear on");
    result.gears.push_back(gear);
  }
  if (result.gears.empty()) from["gear_ratios"].refuse("is empty; give the ratio of every gear, the first one first");
  result.has_road_load = from.has("road_load");
  if (result.has_road_load) result.car.load = read_road_load(from["road_load"]);
  return result;
}

}  // namespace vehicle
