// SPDX-License-Identifier: MIT
#pragma once

// The fuel layer: everything between air and two pulses. It runs on a controller.
#include "fettle/fuel/bank_mode.hpp"
#include "fettle/fuel/banks.hpp"
#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/composition.hpp"
#include "fettle/fuel/cycle.hpp"
#include "fettle/fuel/dead_time.hpp"
#include "fettle/fuel/exhaust.hpp"
#include "fettle/fuel/factors.hpp"
#include "fettle/fuel/fault.hpp"
#include "fettle/fuel/film.hpp"
#include "fettle/fuel/film_uncertainty.hpp"
#include "fettle/fuel/injector.hpp"
#include "fettle/fuel/mixture.hpp"
#include "fettle/fuel/plan.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "fettle/fuel/request.hpp"
#include "fettle/fuel/run_time.hpp"
#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/sizing.hpp"
#include "fettle/fuel/staged_film.hpp"
