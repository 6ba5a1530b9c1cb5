// SPDX-License-Identifier: MIT
#include "fettle/fit.hpp"
#include "fettle/lambda.hpp"

int main() {}
