// SPDX-License-Identifier: MIT
// expects: affine_over
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
struct label {
  int number;
};
label read(const fettle::cells<label, 2>& map) {
  return fettle::interpolate(map, std::array{fettle::place<float>{}});
}
#else
double read(const fettle::cells<double, 2>& map) {
  return fettle::interpolate(map, std::array{fettle::place<float>{}});
}
#endif
