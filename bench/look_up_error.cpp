// SPDX-License-Identifier: MIT
// Not a timing: how far look-ups are from the value in long double, at worst and on average, over random maps. In units
// in the last place (ULP) of the largest of the cells around the point, which is what rounding is measured by: the
// value itself may be a small difference of large cells.
//
//   look_up_error [MILLIONS]   queries in all, 100 millions unless said otherwise
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <random>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/interpolate.hpp"
#include "map/exact_look_up.hpp"

namespace {

constexpr std::size_t queries_per_map = 20000;

template <class T>
struct random_map {
  std::mt19937_64& random;

  T between(T low, T high) { return std::uniform_real_distribution<T>{low, high}(random); }

  /// 2 to 24 breakpoints anywhere up to 10,000, cells up to a thousand times as wide as their neighbours.
  fettle::dynamic_axis<T> axis() {
    std::vector<T> points{between(-5000, 5000)};
    for (std::size_t more = 1 + random() % 23; more > 0; --more)
      points.push_back(points.back() + std::pow(T{10}, between(-1, 2)));
    return *fettle::dynamic_axis<T>::from(std::move(points));
  }

  template <std::size_t R>
  fettle::dynamic_table<T> table(bool both_signs) {
    std::vector<fettle::dynamic_axis<T>> axes;
    std::size_t size = 1;
    for (std::size_t i = 0; i < R; ++i) size *= axes.emplace_back(axis()).size();
    std::vector<T> values(size);
    for (T& value : values) value = between(both_signs ? -100 : 1, 100);
    return *fettle::dynamic_table<T>::from(std::move(axes), std::move(values));
  }
};

template <class T, std::size_t R>
void measure(const char* type, bool both_signs, std::size_t queries) {
  std::mt19937_64 random(R);
  random_map<T> make{random};
  double worst = 0, squares = 0, count = 0;
  for (std::size_t done = 0; done < queries; done += queries_per_map) {
    const auto table = make.template table<R>(both_signs);
    const auto map = table.template view<R>();
    for (std::size_t query = 0; query < queries_per_map; ++query) {
      std::array<T, R> x{};
      for (std::size_t i = 0; i < R; ++i) {
        const auto& points = table.axes()[i].points();
        x[i] = make.between(points.front(), points.back());
      }
      T value{};
      if constexpr (R == 1) value = fettle::interpolate(map, x[0]);
      if constexpr (R == 2) value = fettle::interpolate(map, x[0], x[1]);
      if constexpr (R == 3) value = fettle::interpolate(map, x[0], x[1], x[2]);
      const exact_look_up exact(map, x);
      const auto error = static_cast<double>(std::abs(static_cast<long double>(value) - exact.value) / exact.ulp);
      worst = std::max(worst, error);
      squares += error * error;
      ++count;
    }
  }
  std::printf("%-8s%zu     %-12s%12.0f%10.2f%10.2f\n", type, R, both_signs ? "both signs" : "positive", count, worst,
              std::sqrt(squares / count));
}

}  // namespace

int main(int count, char** words) {
  const double millions = count > 1 ? std::atof(words[1]) : 100;
  if (!(millions >= 0.24 && millions <= 1e5)) {
    std::fprintf(stderr, "usage: look_up_error [MILLIONS], 0.24 to 100000\n");
    return 2;
  }
  const auto each = static_cast<std::size_t>(millions * 1e6 / 12);
  std::printf("cells   rank  values           queries worst ULP  rms ULP\n");
  for (const bool both_signs : {false, true}) {
    measure<float, 1>("float", both_signs, each);
    measure<float, 2>("float", both_signs, each);
    measure<float, 3>("float", both_signs, each);
    measure<double, 1>("double", both_signs, each);
    measure<double, 2>("double", both_signs, each);
    measure<double, 3>("double", both_signs, each);
  }
}
