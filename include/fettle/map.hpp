// SPDX-License-Identifier: MIT
#pragma once

// The map layer: what runs on a controller. `map/dynamic_table.hpp`, for hosts, is included by itself.
#include "fettle/map/adapt.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/batch.hpp"
#include "fettle/map/blend.hpp"
#include "fettle/map/cells.hpp"
#include "fettle/map/even_axis.hpp"
#include "fettle/map/integer.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/map/inverse.hpp"
#include "fettle/map/nearest.hpp"
#include "fettle/map/outside.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/slopes.hpp"
#include "fettle/map/stencil.hpp"
#include "fettle/map/table.hpp"
#include "fettle/map/view.hpp"
#include "fettle/version.hpp"
