// SPDX-License-Identifier: MIT
#include "fettle/fit.hpp"
#include "fettle/lambda.hpp"

int main() { return fettle::decision_limits{}.richer > 0 ? 0 : 1; }
