// SPDX-License-Identifier: MIT
#pragma once

// Everything that is only declared where FETTLE_COMPILED is defined: for one unit of a program.
#include "fettle/io/detail/atomic_write_definition.hpp"
#include "fettle/io/detail/csv_layout_definition.hpp"
#include "fettle/io/detail/log_csv_definition.hpp"
#include "fettle/io/detail/log_preview_definition.hpp"
#include "fettle/io/detail/map_csv_definition.hpp"
