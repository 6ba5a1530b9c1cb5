// SPDX-License-Identifier: MIT
#pragma once

// Functions that take seconds to compile are inline, unless FETTLE_COMPILED is defined: then headers declare them alone, and
// one unit of the program includes the definitions.hpp of the layers it uses, fettle/io/definitions.hpp say.
#ifdef FETTLE_COMPILED
#define FETTLE_INLINE
#else
#define FETTLE_INLINE inline
#endif
