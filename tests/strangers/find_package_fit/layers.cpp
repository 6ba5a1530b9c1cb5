// SPDX-License-Identifier: MIT
#include "fettle/fit.hpp"
#include "fettle/lambda/decide.hpp"  // not all of lambda.hpp, which takes a compiler many seconds

int main() { return fettle::decision_limits{}.richer > 0 ? 0 : 1; }
