// SPDX-License-Identifier: MIT
#include "fettle/fit.hpp"
#include "fettle/lambda.hpp"

// From headers alone, FETTLE_COMPILED not being defined.
int main() {
  auto* volatile identify = &fettle::identify;
  return identify != nullptr && fettle::plan_rotation(1, 1, true).size() == 1 ? 0 : 1;
}
