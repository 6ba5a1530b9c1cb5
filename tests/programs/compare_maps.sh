#!/bin/sh
# compare_maps.sh PROGRAM: maps beside the truth, worked out by hand, and what is refused.
set -eu
program=$1
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
cd "$folder"
printf 'rpm/throttle_pct,10,90\n1000,10.3,20\n3000,9,30\n' >truth.csv
printf 'rpm/throttle_pct,10,90\n1000,10,20\n3000,10,25\n' >map.csv       # lean by 3, 0, -10 and 20 %
printf 'rpm/throttle_pct,10,90\n3000,11,28\n1000,10.3,20\n' >better.csv  # falling; 0, 0, -18.18 and 7.14 %
printf 'rpm/throttle_pct,10,90\n1000,5,0.9\n3000,1,0\n' >seconds.csv

says() { # what standard output and standard error hold together, after an exit code
  wanted=$1 code=$2 status=0
  shift 2
  "$program" "$@" >said 2>&1 || status=$?
  if [ "$status" -ne "$code" ] || [ "$(cat said)" != "$wanted" ]; then
    printf '%s\nexit code %s:\n' "compare_maps $*" "$status"
    cat said
    exit 1
  fi
}

# rms of 3, 0, 10, 20: sqrt(509/4); of 0, 0, 18.18, 7.14: sqrt(381.6/4)
says 'lambda over its target, less 1, engine steady, in 4 of 4 cells
map.csv
  rms 11.28 %; over 2 % lean 50.0 % of the cells, over 3 % lean 50.0 %
  leanest +20.00 % at rpm 3000, throttle_pct 90; richest -10.00 % at rpm 3000, throttle_pct 10
better.csv
  rms 9.77 %; over 2 % lean 25.0 % of the cells, over 3 % lean 25.0 %
  leanest +7.14 % at rpm 3000, throttle_pct 90; richest -18.18 % at rpm 3000, throttle_pct 10' \
  0 map.csv better.csv --truth truth.csv
says 'lambda over its target, less 1, engine steady, in 2 of 4 cells
map.csv
  rms 7.38 %; over 2 % lean 50.0 % of the cells, over 3 % lean 50.0 %
  leanest +3.00 % at rpm 1000, throttle_pct 10; richest -10.00 % at rpm 3000, throttle_pct 10' \
  0 map.csv --truth truth.csv --seconds seconds.csv

printf 'rpm/load_pct,10,90\n1000,1,1\n3000,1,1\n' >other.csv
says 'compare_maps: other.csv: its axes are rpm, load_pct, expected those of the truth in truth.csv, rpm, throttle_pct' \
  2 map.csv other.csv --truth truth.csv
printf 'rpm/throttle_pct,10,80\n1000,1,1\n3000,1,1\n' >other.csv
says 'compare_maps: other.csv: the breakpoints of throttle_pct are 10, 80, expected those of the truth in truth.csv, 10, 90' \
  2 other.csv --truth truth.csv
says 'compare_maps: other.csv: the breakpoints of throttle_pct are 10, 80, expected those of the truth in truth.csv, 10, 90' \
  2 map.csv --truth truth.csv --seconds other.csv
printf 'rpm/throttle_pct,10,90\n1000,1,1\n3000,1,0\n' >other.csv
says 'compare_maps: other.csv: cell rpm 3000, throttle_pct 90 holds 0, expected a value above 0' 2 other.csv --truth truth.csv
says 'compare_maps: seconds.csv: no cell was driven for 6 s; give fewer --least-seconds' \
  2 map.csv --truth truth.csv --seconds seconds.csv --least-seconds 6
printf 'rpm/throttle_pct,10,90\n1000,1,\n3000,1,1\n' >other.csv
says 'compare_maps: other.csv, line 2, column 3 (90): found an empty cell, expected a number' 2 other.csv --truth truth.csv
says 'compare_maps: --truth is required; --help lists what there is' 2 map.csv
