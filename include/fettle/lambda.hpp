// SPDX-License-Identifier: MIT
#pragma once

// The lambda layer: what exhaust readings say of a fuel map, on a host.
#include "fettle/lambda/cell_evidence.hpp"
#include "fettle/lambda/cylinder_trims.hpp"
#include "fettle/lambda/decide.hpp"
#include "fettle/lambda/drive_plan.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/evidence_of.hpp"
#include "fettle/lambda/exhaust_path.hpp"
#include "fettle/lambda/firing_order.hpp"
#include "fettle/lambda/forecast.hpp"
#include "fettle/lambda/identification.hpp"
#include "fettle/lambda/identify.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/largest_step.hpp"
#include "fettle/lambda/lean_regions.hpp"
#include "fettle/lambda/prior_spreads.hpp"
#include "fettle/lambda/reading_model.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/lambda/rotation.hpp"
#include "fettle/lambda/screening.hpp"
#include "fettle/lambda/visits.hpp"
