// SPDX-License-Identifier: MIT
#pragma once

// The fit layer: maps made from numbers, on a host.
#include "fettle/fit/evidence.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/roughness.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/fit/strengths.hpp"
