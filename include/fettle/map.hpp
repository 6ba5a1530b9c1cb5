// SPDX-License-Identifier: MIT
#pragma once

// The map layer: what runs on a controller. `map/dynamic_table.hpp`, for hosts, is included by itself.
#include "fettle/map/axis.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/stencil.hpp"
#include "fettle/map/table.hpp"
#include "fettle/map/view.hpp"
#include "fettle/version.hpp"
