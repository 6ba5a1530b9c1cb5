// SPDX-License-Identifier: MIT
#pragma once

// The fuel layer: everything between air and two pulses. It runs on a controller.
#include "fettle/fuel/banks.hpp"
#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/composition.hpp"
#include "fettle/fuel/delivered.hpp"
#include "fettle/fuel/exhaust.hpp"
#include "fettle/fuel/fault.hpp"
#include "fettle/fuel/film.hpp"
#include "fettle/fuel/film_doubt.hpp"
#include "fettle/fuel/injector.hpp"
#include "fettle/fuel/mixture.hpp"
#include "fettle/fuel/need.hpp"
#include "fettle/fuel/plan.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "fettle/fuel/run_time.hpp"
#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/sizing.hpp"
#include "fettle/fuel/staged_film.hpp"
