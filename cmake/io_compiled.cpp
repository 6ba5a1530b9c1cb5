// SPDX-License-Identifier: MIT
#include "fettle/io/definitions.hpp"
