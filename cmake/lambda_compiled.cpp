// SPDX-License-Identifier: MIT
#include "fettle/lambda/definitions.hpp"
