#!/bin/sh
# SPDX-License-Identifier: MIT
# build.sh FOLDER [FLAGS]: makes FOLDER/laboratory.html; FLAGS are the compiler's, -O2 -DNDEBUG unless said otherwise.
# Needs emscripten, nodejs, npm and the headers of cmake/run.sh; sh cmake/run.sh laboratory installs them.
set -eu
export NODE_PATH=/usr/share/nodejs # where Debian keeps what emscripten needs of node, whichever node runs
here=$(cd "$(dirname "$0")" && pwd)
emcmake cmake -S "$here" -B "$1" -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="${2:--O2 -DNDEBUG}"
cmake --build "$1" -j "$(getconf _NPROCESSORS_ONLN)"
