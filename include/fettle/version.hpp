// SPDX-License-Identifier: MIT
#pragma once

// The one place that states the version: CMake reads it from here.
#define FETTLE_VERSION_MAJOR 0
#define FETTLE_VERSION_MINOR 1
#define FETTLE_VERSION_PATCH 0
