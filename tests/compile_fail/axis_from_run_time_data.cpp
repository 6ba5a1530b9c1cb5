// SPDX-License-Identifier: MIT
// expects: is not a constant expression
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
fettle::axis<double, 2> made(double first) {
  return {{first, 2.0}};
}
#else
std::optional<fettle::axis<double, 2> > made(double first) {
  return fettle::axis<double, 2>::from({first, 2.0});
}
#endif
