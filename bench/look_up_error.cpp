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

struct corner_sum {
  long double value = 0, largest = 0;
};

/// The value as its formula says, in long double, from the cell's corners; `cell` and `t` by axis.
template <class T, std::size_t R>
corner_sum exact(const fettle::map_view<R, T>& map, const std::array<std::size_t, R>& cell,
                 const std::array<long double, R>& t) {
  corner_sum sum;
  for (std::size_t corner = 0; corner < (std::size_t{1} << R); ++corner) {
    std::size_t at = 0;
    long double weight = 1;
    for (std::size_t i = 0; i < R; ++i) {
      const std::size_t upper = (corner >> i) & 1U;
      at = at * map.axes[i].size + cell[i] + upper;
      weight *= upper == 1 ? t[i] : 1 - t[i];
    }
    sum.value += weight * static_cast<long double>(map.values[at]);
    sum.largest = std::max(sum.largest, std::abs(static_cast<long double>(map.values[at])));
  }
  return sum;
}

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
      std::array<std::size_t, R> cell{};
      std::array<long double, R> t{};
      for (std::size_t i = 0; i < R; ++i) {
        const auto& points = table.axes()[i].points();
        x[i] = make.between(points.front(), points.back());
        const auto above = std::upper_bound(points.begin() + 1, points.end() - 1, x[i]);
        cell[i] = static_cast<std::size_t>(above - points.begin()) - 1;
        const auto low = static_cast<long double>(above[-1]), high = static_cast<long double>(*above);
        t[i] = (static_cast<long double>(x[i]) - low) / (high - low);
      }
      T value{};
      if constexpr (R == 1) value = fettle::interpolate(map, x[0]);
      if constexpr (R == 2) value = fettle::interpolate(map, x[0], x[1]);
      if constexpr (R == 3) value = fettle::interpolate(map, x[0], x[1], x[2]);
      const corner_sum truth = exact(map, cell, t);
      const T largest = static_cast<T>(truth.largest);
      const auto ulp = static_cast<long double>(std::nextafter(largest, std::numeric_limits<T>::infinity()) - largest);
      const auto error = static_cast<double>(std::abs(static_cast<long double>(value) - truth.value) / ulp);
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
