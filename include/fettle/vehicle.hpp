// SPDX-License-Identifier: MIT
#pragma once

// The vehicle layer: what turns, what holds the car back, torque from acceleration, shifts. It runs on a controller.
#include "fettle/vehicle/blip.hpp"
#include "fettle/vehicle/driveline.hpp"
#include "fettle/vehicle/inertia.hpp"
#include "fettle/vehicle/motion.hpp"
#include "fettle/vehicle/road_load.hpp"
#include "fettle/vehicle/shift.hpp"
