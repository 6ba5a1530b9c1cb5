#!/bin/sh
# fuzz.sh BUILD SECONDS [TARGET...]: builds the fuzz targets in BUILD and runs each for that long, as many at a time as
# there are processors. What breaks one is kept in BUILD/found; run the target on that file to see it again.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=$1 seconds=$2
shift 2
compiler=$(command -v clang++-14 || command -v clang++ || true)
if ! echo 'extern "C" int LLVMFuzzerTestOneInput(const char*, unsigned long) { return 0; }' |
     "${compiler:-false}" -fsanitize=fuzzer -x c++ -o /dev/null - 2>/dev/null; then
  echo "SKIP: fuzzing needs clang and its libFuzzer (Debian: clang-14 libclang-rt-14-dev)"
  exit 0
fi
jobs=$(getconf _NPROCESSORS_ONLN)
cmake -S "$here" -B "$build" -DCMAKE_CXX_COMPILER="$compiler" >"$build.log" 2>&1 || { cat "$build.log"; exit 1; }
cmake --build "$build" -j "$jobs" >"$build.log" 2>&1 || { cat "$build.log"; exit 1; }
mkdir -p "$build/found"

[ $# -gt 0 ] || set -- lookup integer map_csv log_csv start_session session_json vehicle_json plugin
if [ -d /dev/shm ]; then
  TMPDIR=/dev/shm # round trips write files
  export TMPDIR
fi
export build seconds here
printf '%s\n' "$@" | xargs -P "$jobs" -n 1 sh -c '
  mkdir -p "$build/corpus/$0"
  words=
  [ ! -f "$here/$0.dict" ] || words=-dict=$here/$0.dict
  "$build/fuzz_$0" -max_total_time="$seconds" -max_len=2000 -print_final_stats=1 $words \
    -artifact_prefix="$build/found/$0-" "$build/corpus/$0" "$here/corpus/$0" >"$build/found/$0.log" 2>&1 || {
    echo "fuzz_$0 found something:"
    grep -v "^#" "$build/found/$0.log" | tail -40
    exit 1
  }
  echo "$0: $(sed -n "s/stat::number_of_executed_units: */executions /p; s/^look-ups:/look-ups/p" "$build/found/$0.log" |
              paste -s -d " ")"'
