#!/bin/sh
# install.sh SOURCE FOLDER [cmake option...]: installs into FOLDER/installed, moved there from elsewhere, and makes the
# Debian package in FOLDER/package. Where no layer is left out, every header of the source tree must be installed.
set -eu
source=$1 folder=$2
shift 2
rm -rf "$folder"
cmake -S "$source" -B "$folder/build" -DFETTLE_BUILD_TESTS=OFF -DFETTLE_BUILD_EXAMPLES=OFF "$@"
cmake --install "$folder/build" --prefix "$folder/before_the_move"
mv "$folder/before_the_move" "$folder/installed"
if grep -rlF -e "$source" -e "$folder" "$folder/installed"; then
  echo "these installed files name a folder of this machine" >&2
  exit 1
fi
case "$*" in
  *=OFF*) ;;
  *) diff -r "$source/include" "$folder/installed/include" ;;
esac
cpack --config "$folder/build/CPackConfig.cmake" -B "$folder/package"
