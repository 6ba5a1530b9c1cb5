#!/bin/sh
# one_symbol.sh NM PLUGIN...: lists what each plugin exports, which must be the function fettle_plugin and nothing else.
set -eu
nm=$1
shift
for plugin in "$@"; do
  exported=$("$nm" --dynamic --defined-only --format=posix "$plugin" | cut -d ' ' -f 1,2)
  echo "$plugin exports: $exported"
  test "$exported" = "fettle_plugin T"
done
