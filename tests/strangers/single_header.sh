#!/bin/sh
# single_header.sh SOURCE FOLDER: makes the single header, compiles it alone and in a stranger's program, as a controller
# would: all warnings are errors, no exceptions, no run-time type information.
set -eu
source=$1 folder=$2
rm -rf "$folder"
cmake -P "$source/cmake/single_header.cmake" "$folder/fettle.hpp"
strict="-std=c++20 -Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Werror
  -fno-exceptions -fno-rtti"
for compiler in "${CXX:-g++}" clang++; do
  command -v "$compiler" >"$folder/found" || continue
  echo '#include "fettle.hpp"' >"$folder/alone.cpp"
  # shellcheck disable=SC2086  # the flags are words
  "$compiler" $strict -I "$folder" -c "$folder/alone.cpp" -o "$folder/alone.o"
  # shellcheck disable=SC2086
  "$compiler" $strict -I "$folder" "$source/tests/strangers/single_header/look_up.cpp" -o "$folder/look_up"
  "$folder/look_up"
done
