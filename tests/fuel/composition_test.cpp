// SPDX-License-Identifier: MIT
#include "fettle/fuel/composition.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <string>

#include "draws.hpp"
#include "reference.hpp"

namespace composition_test {

using fettle::fuel;

// Computed: tests/reference/stoich_afr.csv, the same element balance in another program, 15 digits.
TEST(StoichiometricAfr, MatchesTheReferenceFormulas) {
  int fuels = 0;
  for (const auto& row : reference::csv::read("stoich_afr.csv").rows) {
    if (row.at("c").empty()) continue;
    const fuel<double> composition{reference::csv::number(row, "c"), reference::csv::number(row, "h"),
                                   reference::csv::number(row, "o"), 1.0};
    const double expected = reference::csv::number(row, "afr");
    EXPECT_NEAR(fettle::stoichiometric_afr(composition), expected, 1e-12 * expected) << row.at("fuel");
    ++fuels;
  }
  EXPECT_EQ(fuels, 14);
}

// Published: U.S. DOE, Alternative Fuels Data Center, "Properties of Fuels": ethanol 9 (calculated). Handbook values
// from memory (J. B. Heywood, "Internal Combustion Engine Fundamentals", 1988, table D.4): the others. Handbooks differ
// from each other by 0.2 %, which is the tolerance.
TEST(StoichiometricAfr, AgreesWithHandbooks) {
  const struct {
    fuel<double> composition;
    double afr;
  } handbook[] = {{{8, 18, 0, 1}, 15.13}, {{1, 4, 0, 1}, 17.23},   {{3, 8, 0, 1}, 15.67}, {{1, 4, 1, 1}, 6.47},
                  {{2, 6, 1, 1}, 9.00},   {{1, 1.87, 0, 1}, 14.6}, {{6, 6, 0, 1}, 13.27}, {{7, 8, 0, 1}, 13.50}};
  for (const auto& [composition, afr] : handbook)
    EXPECT_NEAR(fettle::stoichiometric_afr(composition), afr, 0.002 * afr);
}

// The same handbook values. Densities: U.S. DOE, "Properties of Fuels", specific gravity of petrol 0.72 to 0.78; CRC
// Handbook of Chemistry and Physics (from memory), at 20 degC: ethanol 0.7893, methanol 0.7914 g/cm3.
TEST(NamedFuels, AreThoseOfTheHandbooks) {
  EXPECT_NEAR(fettle::stoichiometric_afr(fettle::gasoline<double>), 14.6, 0.002 * 14.6);
  EXPECT_NEAR(fettle::stoichiometric_afr(fettle::ethanol<double>), 9.00, 0.002 * 9.00);
  EXPECT_NEAR(fettle::stoichiometric_afr(fettle::methanol<double>), 6.47, 0.002 * 6.47);
  EXPECT_NEAR(fettle::gasoline<double>.density_kg_m3, 750, 30);
  EXPECT_NEAR(fettle::ethanol<double>.density_kg_m3, 789.3, 1);
  EXPECT_NEAR(fettle::methanol<double>.density_kg_m3, 791.4, 1);
}

// Computed: the blends of tests/reference/stoich_afr.csv, mass-weighted means of ethanol and gasoline.
TEST(Blend, OfEthanolAndGasolineMatchesTheReference) {
  int blends = 0;
  for (const auto& row : reference::csv::read("stoich_afr.csv").rows) {
    const std::string& name = row.at("fuel");
    if (name[0] != 'E') continue;
    const double percent = std::stod(name.substr(1));
    const auto blend = fettle::blend_by_volume<double>(
        {{fettle::ethanol<double>, percent}, {fettle::gasoline<double>, 100 - percent}});
    ASSERT_TRUE(blend);
    const double expected = reference::csv::number(row, "afr");
    EXPECT_NEAR(fettle::stoichiometric_afr(*blend), expected, 1e-12 * expected) << name;
    ++blends;
  }
  EXPECT_EQ(blends, 5);
}

RC_GTEST_PROP(Blend, ByMassHasTheMassWeightedMeanAfr, ()) {
  const fuel<double> a{draws::between<double>(1, 9), draws::between<double>(1, 20), draws::between<double>(0, 2), 700};
  const fuel<double> b{draws::between<double>(1, 9), draws::between<double>(1, 20), draws::between<double>(0, 2), 800};
  const double kg = draws::between<double>(0, 3), other_kg = draws::between<double>(0.1, 3);
  const auto blend = fettle::blend_by_mass<double>({{a, kg}, {b, other_kg}});
  RC_ASSERT(blend.has_value());
  const double mean = (kg * fettle::stoichiometric_afr(a) + other_kg * fettle::stoichiometric_afr(b)) / (kg + other_kg);
  RC_ASSERT(std::abs(fettle::stoichiometric_afr(*blend) - mean) <= 1e-13 * 20);
  RC_ASSERT(blend->density_kg_m3 >= 700 * (1 - 1e-14) && blend->density_kg_m3 <= 800 * (1 + 1e-14));
}

TEST(Blend, RefusesWhatIsNoBlend) {
  const auto gasoline = fettle::gasoline<double>;
  EXPECT_FALSE((fettle::blend_by_mass<double>({{gasoline, -1.0}, {gasoline, 2.0}})));
  EXPECT_FALSE((fettle::blend_by_mass<double>({{gasoline, 0.0}})));
  EXPECT_FALSE((fettle::blend_by_volume<double>({{gasoline, std::nan("")}})));
  EXPECT_FALSE((fettle::blend_by_volume<double>({{fuel<double>{}, 1.0}})));
  auto weightless = gasoline;
  weightless.density_kg_m3 = 0;
  EXPECT_FALSE((fettle::blend_by_mass<double>({{gasoline, 1.0}, {weightless, 1.0}})));
}

// Computed: 25 degC, 50 % relative humidity, 101.325 kPa with a steam-table saturation pressure of 3.169 kPa (from
// memory): 0.009881 kg/kg, and 14.600 becomes 14.744.
TEST(HumidityRatio, RaisesTheAfrOfMoistAir) {
  const double water = fettle::humidity_ratio(0.5 * 3.169, 101.325);
  EXPECT_NEAR(water, 0.009881, 0.5e-6);
  const auto gasoline = fettle::gasoline<double>;
  EXPECT_NEAR(fettle::stoichiometric_afr(gasoline, water) / fettle::stoichiometric_afr(gasoline), 14.744 / 14.6, 5e-5);
}

static_assert(fettle::stoichiometric_afr(fettle::ethanol<float>) > 9.0F);
static_assert(fettle::blend_by_mass<float>({{fettle::ethanol<float>, 1.0F}})->density_kg_m3 > 788.0F);

static_assert(fettle::blend_part<float>{}.amount == 0 && fettle::molar_mass(fuel<float>{}) == 0);

}  // namespace composition_test
