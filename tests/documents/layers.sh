#!/bin/sh
# layers.sh ROOT: a layer includes only the layers to its left, and <layer>/detail/ is reached from that layer alone;
# every public header has a test of its name, or tests/README.md says which test covers it.
set -eu
cd "$1"
status=0
reached=$(mktemp)
trap 'rm "$reached"' EXIT
complain() { echo "$1"; status=1; }

allowed() {  # what a header of a layer may include besides its own layer
  case $1 in
    map) echo "version" ;;
    fuel | vehicle) echo "map" ;;
    fit) echo "map error" ;;
    io) echo "map error compiled" ;;
    lambda) echo "map fuel fit error compiled" ;;
  esac
}

for layer in map fuel vehicle fit io lambda; do
  [ -d "include/fettle/$layer" ] || continue
  others=$(allowed "$layer")
  for header in include/fettle/$layer.hpp $(find "include/fettle/$layer" -name '*.hpp' | sort); do
    for included in $(sed -n 's/^ *# *include "fettle\/\([^"]*\)\.hpp".*/\1/p' "$header"); do
      from=${included%%/*}
      case " $layer $others " in
        *" $from "*) ;;
        *) complain "$header: includes fettle/$included.hpp, which is no part of $layer or of: $others" ;;
      esac
      case $included in
        "$layer"/detail/*) ;;
        */detail/*) complain "$header: reaches into fettle/$included.hpp, private to $from" ;;
      esac
    done
  done
done
grep -rE --include='*.hpp' --include='*.cpp' '^ *# *include "fettle/[^"]*/detail/' examples bench tests |
  sed 's/: *# *include "fettle\/\([^"]*\)".*/ \1/' > "$reached"
while read -r file included; do
  case $file in
    "tests/${included%%/*}"/*) ;;
    *) complain "$file: reaches into fettle/$included, private to ${included%%/*}" ;;
  esac
done < "$reached"

for header in include/fettle/*/*.hpp include/fettle/*/detail/*.hpp; do
  [ -f "$header" ] || continue
  name=${header#include/fettle/}
  private=${name##*/detail/}
  [ "$private" = "$name" ] && test=tests/${name%.hpp}_test.cpp || test=tests/${name%%/*}/${private%.hpp}_test.cpp
  [ -f "$test" ] || grep -q "^| \`$name\` | \`" tests/README.md ||
    complain "include/fettle/$name: neither $test nor a row of tests/README.md covers it"
done
exit $status
