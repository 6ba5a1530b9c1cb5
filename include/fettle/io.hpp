// SPDX-License-Identifier: MIT
#pragma once

// The io layer: maps and logs as files.
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/csv_layout.hpp"
#include "fettle/io/log_channel.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/log_preview.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"
