// SPDX-License-Identifier: MIT
// A map and what it says: five cylinders breathing through individual throttles, air per cylinder and cycle in mg.
#include <cstdio>
#include <string>

#include "fettle/map.hpp"
#include "lesson.hpp"

// Axes and values are checked by the compiler: see tests/compile_fail for what it says of a breakpoint out of order.
constexpr fettle::axis<double, 4> speed_rpm{{1000, 3000, 6000, 9000}};
constexpr fettle::axis<double, 3> throttle_pct{{0, 20, 100}};
constexpr fettle::table air_mg{speed_rpm,
                               throttle_pct,
                               {60, 420, 540,  //
                                40, 330, 580,  //
                                30, 260, 600,  //
                                25, 210, 560}};

static_assert(fettle::interpolate(air_mg, 3000, 100) == 580);  // a look-up costs nothing if it can be done beforehand

namespace {

lesson::line over_throttle(const std::string& name, double rpm) {
  lesson::line result{name, {}, {}};
  for (double pct = 0; pct <= 100; pct += 2) {
    result.x.push_back(pct);
    result.y.push_back(fettle::interpolate(air_mg, rpm, pct));
  }
  return result;
}

}  // namespace

int main(int count, char** words) {
  double rpm = 4500, pct = 50, wanted_mg = 400;
  const program::command about{"first_map",
                               "Reads a map of air over speed and throttle.",
                               {{"--rpm", &rpm, "speed, rpm", -20000, 20000},
                                {"--throttle-pct", &pct, "throttle, %", -200, 200},
                                {"--air-mg", &wanted_mg, "air to find the throttle for, mg", 0, 2000}}};
  return lesson::run(about, count, words, [&] {
    const auto at = fettle::interpolate_with_slopes(air_mg.view(), rpm, pct);
    std::printf("%g rpm and %g %% of throttle: %.1f mg\n", rpm, pct, at.value);
    constexpr fettle::edges straight_on{fettle::outside::extend, fettle::outside::extend};
    std::printf("if it went straight on beyond its ends: %.1f mg\n",
                fettle::read(air_mg.view(), {straight_on, straight_on}, rpm, pct).value);
    std::printf("it rises by %.2f mg per percent of throttle\n", at.slope[1]);
    const auto solutions = fettle::solve(
        air_mg.view(), 1, fettle::locate(air_mg.view(), rpm, 0), wanted_mg,
        [&](double throttle, double) { std::printf("%g mg at %.1f %% of throttle\n", wanted_mg, throttle); });
    if (solutions == 0) std::printf("%g mg at no throttle\n", wanted_mg);
    return lesson::picture{"throttle in %",
                           "air in mg",
                           {over_throttle("1000 rpm", 1000),
                            over_throttle("9000 rpm", 9000),
                            over_throttle("at the speed asked for", rpm),
                            {"the value asked for", {pct}, {at.value}, lesson::line::dots}}};
  });
}
