#!/bin/sh
# deb.sh SOURCE PACKAGES FOLDER: installs the Debian package into a root of its own, uses it there, removes it.
set -eu
source=$1 package=$(find "$2" -maxdepth 1 -name '*.deb') folder=$3
rm -rf "$folder"
root=$folder/root
mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates"
: >"$root/var/lib/dpkg/status"
in_root() { dpkg --root="$root" --log="$folder/dpkg.log" --force-not-root --force-bad-path "$@"; }

in_root --install "$package"
"${CXX:-g++}" -std=c++20 -I "$root/usr/include" "$source/tests/strangers/look_up.cpp" -o "$folder/look_up"
"$folder/look_up"
in_root --purge libfettle-dev
if test -e "$root/usr/include/fettle" || test -e "$root/usr/share/cmake/fettle"; then
  find "$root/usr" >&2
  exit 1
fi
