#!/bin/sh
# layers.sh ROOT: a layer includes only the layers to its left, and <layer>/detail/ is reached from that layer alone;
# every public header has a test of its name, or tests/README.md says which test covers it.
set -eu
cd "$1"
status=0
reached=$(mktemp)
trap 'rm "$reached"' EXIT
complain() { echo "$1"; status=1; }

allow() {  # others: what a header of a layer may include besides its own layer
  case $1 in
    map) others="version" ;;
    fuel | vehicle) others="map" ;;
    fit) others="map error" ;;
    io) others="map error compiled" ;;
    lambda) others="map fuel fit error compiled" ;;
  esac
}

for layer in map fuel vehicle fit io lambda; do
  [ -d "include/fettle/$layer" ] || continue
  allow "$layer"
  grep -rE '^ *# *include "fettle/' "include/fettle/$layer.hpp" "include/fettle/$layer" |
    sed 's/: *# *include "fettle\/\([^"]*\)\.hpp".*/ \1/' > "$reached"
  while read -r header included; do
    from=${included%%/*}
    case " $layer $others " in
      *" $from "*) ;;
      *) complain "$header: includes fettle/$included.hpp, which is no part of $layer or of: $others" ;;
    esac
    case $included in
      "$layer"/detail/*) ;;
      */detail/*) complain "$header: reaches into fettle/$included.hpp, private to $from" ;;
    esac
  done < "$reached"
done
grep -rE --include='*.hpp' --include='*.cpp' '^ *# *include "fettle/[^"]*/detail/' examples bench tests |
  sed 's/: *# *include "fettle\/\([^"]*\)".*/ \1/' > "$reached"
while read -r file included; do
  case $file in
    "tests/${included%%/*}"/*) ;;
    *) complain "$file: reaches into fettle/$included, private to ${included%%/*}" ;;
  esac
done < "$reached"

covered=$(sed -n 's/^| `\([^`]*\.hpp\)` | `.*/\1/p' tests/README.md)
for header in include/fettle/*/*.hpp include/fettle/*/detail/*.hpp; do
  [ -f "$header" ] || continue
  name=${header#include/fettle/}
  private=${name##*/detail/}
  [ "$private" = "$name" ] && test=tests/${name%.hpp}_test.cpp || test=tests/${name%%/*}/${private%.hpp}_test.cpp
  [ -f "$test" ] && continue
  case "
$covered
" in
    *"
$name
"*) ;;
    *) complain "include/fettle/$name: neither $test nor a row of tests/README.md covers it" ;;
  esac
done
exit $status
