#!/bin/sh
# pkg_config.sh SOURCE INSTALLED FOLDER: builds a stranger's program with what fettle.pc says.
set -eu
source=$1 installed=$2 folder=$3
mkdir -p "$folder"
PKG_CONFIG_PATH=$(dirname "$(find "$installed" -name fettle.pc)")
export PKG_CONFIG_PATH
stated=$(sed -n 's/^#define FETTLE_VERSION_[A-Z]* //p' "$source/include/fettle/version.hpp" | paste -s -d .)
test "$(pkg-config --modversion fettle)" = "$stated"
# shellcheck disable=SC2046  # the flags are words
"${CXX:-g++}" -std=c++20 $(pkg-config --cflags fettle) "$source/tests/strangers/look_up.cpp" -o "$folder/look_up"
"$folder/look_up"
