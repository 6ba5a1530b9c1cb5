// SPDX-License-Identifier: MIT
#pragma once

// The fit layer: maps made from numbers, on a host.
#include "fettle/fit/best_breakpoints.hpp"
#include "fettle/fit/compare.hpp"
#include "fettle/fit/curve.hpp"
#include "fettle/fit/demand_map.hpp"
#include "fettle/fit/evidence.hpp"
#include "fettle/fit/fill.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/fit_table.hpp"
#include "fettle/fit/fitted_map.hpp"
#include "fettle/fit/grid_evidence.hpp"
#include "fettle/fit/invert_table.hpp"
#include "fettle/fit/limit_shape.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/rebin.hpp"
#include "fettle/fit/roughness.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/fit/smooth.hpp"
#include "fettle/fit/strengths.hpp"
