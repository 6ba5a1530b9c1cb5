// SPDX-License-Identifier: MIT
#include "common.hpp"
