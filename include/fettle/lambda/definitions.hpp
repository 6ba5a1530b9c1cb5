// SPDX-License-Identifier: MIT
#pragma once

// Everything that is only declared where FETTLE_COMPILED is defined: for one unit of a program.
#include "fettle/lambda/detail/identify_definition.hpp"
#include "fettle/lambda/detail/rotation_definition.hpp"
#include "fettle/lambda/detail/visits_definition.hpp"
