#!/bin/sh
# SPDX-License-Identifier: MIT
# build.sh FOLDER [OPTION...]: makes FOLDER/laboratory.html; OPTIONs are cmake's.
# Needs emscripten, nodejs, npm and the headers of cmake/run.sh; sh cmake/run.sh laboratory installs them.
set -eu
export NODE_PATH=/usr/share/nodejs # where Debian keeps what emscripten needs of node, whichever node runs
here=$(cd "$(dirname "$0")" && pwd)
folder=$1
shift
emcmake cmake -S "$here" -B "$folder" -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O2 -DNDEBUG" "$@"
cmake --build "$folder" -j "$(getconf _NPROCESSORS_ONLN)"
