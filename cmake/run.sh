#!/bin/sh
# SPDX-License-Identifier: MIT
# sh cmake/run.sh                 installs what is missing, builds, and corrects a fuel map from a demo log
# sh cmake/run.sh test            the same for the tests, and runs them all
# sh cmake/run.sh passes          three passes on the demo: drive, correct, load, drive where the plan says, correct again
# sh cmake/run.sh laboratory      builds one page in which the library and the programs run as WebAssembly, offline
# sh cmake/run.sh laboratory test builds it and tests all of it in a browser; minutes, so "test" leaves out the programs
# sh cmake/run.sh fuzz [SECONDS]  runs every fuzz target for that long, 60 s unless said otherwise
# sh cmake/run.sh sanitize        the tests under AddressSanitizer and UndefinedBehaviorSanitizer, but for those that
#                                 build something themselves, and threads under ThreadSanitizer
# sh cmake/run.sh peers           how fast look-ups, sums, solving and reading are beside general-purpose libraries
# sh cmake/run.sh coverage        which lines of include/ the tests run
# sh cmake/run.sh mutate [COUNT [SEED [ONLY]]]  how many of so many small mistakes in map, fuel, vehicle, fit and lambda the
#                                 tests notice, 60 unless said otherwise; ONLY: fettle/fit/, or one header; 5 to 90 s each
# sh cmake/run.sh windows         all layers and programs for Windows by mingw-w64, and the demo by them under wine
# sh cmake/run.sh libcxx          all layers and programs by clang 19 and libc++, and the demo by them
# sh cmake/run.sh costs           how long each layer's header takes to include, and how large the headers are
set -eu
cd "$(dirname "$0")/.."

say() { printf '+ %s\n' "$*"; }
run() { say "$@"; "$@"; }
root() { if [ "$(id -u)" -eq 0 ]; then run "$@"; else run sudo "$@"; fi; }

# Debian and Ubuntu; anywhere else these must be there already.
need() {
  missing=
  for package in "$@"; do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q '^install ok installed$' || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  root apt-get update
  # shellcheck disable=SC2086  # a list of words
  root env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends $missing
}

# npm is part of nodejs where that is not Debian's own.
need_laboratory() {
  need emscripten nodejs libeigen3-dev libboost-dev nlohmann-json3-dev libfmt-dev libcli11-dev libfast-float-dev
    make cmake
  command -v npm >/dev/null || need npm
}

job=${1:-demo}
programs="g++ make cmake libeigen3-dev libboost-dev libfast-float-dev nlohmann-json3-dev libcli11-dev libfmt-dev gnuplot-nox"
tests="libgtest-dev librapidcheck-dev pkg-config python3 gcc-arm-none-eabi libstdc++-arm-none-eabi-newlib qemu-system-arm
  chromium chromium-driver python3-selenium"
fuzzing="clang libclang-rt-dev"
peers="libbenchmark-dev libgsl-dev libalglib-dev python3-scipy"
windows="g++-mingw-w64-x86-64-posix wine wine64"
libcxx="clang-19 libc++-19-dev libc++abi-19-dev"
jobs=$(getconf _NPROCESSORS_ONLN)
case $job in
  demo)
    need $programs
    run cmake -S . -B build/demo -DCMAKE_BUILD_TYPE=Release -DFETTLE_BUILD_TESTS=OFF
    run cmake --build build/demo -j "$jobs" --target virtual_engine correct_map
    run build/demo/examples/virtual_engine --out out/demo --drive stage --minutes 15
    run build/demo/examples/correct_map out/demo/session.json --out out/demo/corrected
    ;;
  passes)
    need $programs
    run cmake -S . -B build/demo -DCMAKE_BUILD_TYPE=Release -DFETTLE_BUILD_TESTS=OFF
    run cmake --build build/demo -j "$jobs" --target virtual_engine correct_map compare_passes
    run build/demo/examples/virtual_engine --out out/passes/1 --drive stage --minutes 10
    for pass in 1 2 3; do
      run build/demo/examples/correct_map out/passes/$pass/session.json --out out/passes/$pass/corrected
      run build/demo/examples/virtual_engine --session out/passes/$pass/corrected/session.json --drive plan --minutes 10 \
        --out out/passes/$((pass + 1))
    done
    run build/demo/examples/compare_passes out/passes/1/session.json out/passes/2/session.json \
      out/passes/3/session.json out/passes/4/session.json --out out/passes/compared
    ;;
  test)
    need $programs $tests
    need_laboratory
    # -O1: these are tests, not benchmarks, and most of their time is compilation
    run cmake -S . -B build/test -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O1 -DNDEBUG"
    run cmake --build build/test -j "$jobs"
    run ctest --test-dir build/test -j "$jobs" --no-tests=error --output-on-failure
    ;;
  laboratory)
    need_laboratory
    if [ "${2:-}" = test ]; then
      need $programs $tests
      run cmake -S . -B build/test -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O1 -DNDEBUG"
      run cmake --build build/test -j "$jobs" --target virtual_engine correct_map trim_cylinders stage_banks \
        laboratory_terminal laboratory_driven_terminal laboratory_driven_tests
      run ctest --test-dir build/test -C Laboratory -R 'laboratory\.whole' --no-tests=error --output-on-failure
      exit
    fi
    run sh examples/laboratory/build.sh build/laboratory
    say "open $PWD/build/laboratory/laboratory.html in a browser"
    ;;
  fuzz)
    need $programs $fuzzing
    run sh tests/fuzz/fuzz.sh build/fuzz "${2:-60}"
    ;;
  sanitize)
    need $programs $tests
    # instrumented, the regular expressions of g++ 12's own library look uninitialised to it
    run cmake -S . -B build/sanitize -DCMAKE_BUILD_TYPE=Release \
      -DCMAKE_CXX_FLAGS_RELEASE="-O1 -g1 -Wno-maybe-uninitialized" \
      -DFETTLE_SANITIZE=address,undefined
    run cmake --build build/sanitize -j "$jobs"
    run ctest --test-dir build/sanitize -j "$jobs" -LE "package|browser" --no-tests=error --output-on-failure
    run cmake -S . -B build/threads -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O1 -g1" \
      -DFETTLE_SANITIZE=thread -DFETTLE_BUILD_EXAMPLES=OFF
    run cmake --build build/threads -j "$jobs" --target threads_tests
    run build/threads/tests/threads_tests
    ;;
  coverage)
    need $programs $tests gcovr
    run cmake -S . -B build/coverage -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O1 --coverage"
    run cmake --build build/coverage -j "$jobs"
    run ctest --test-dir build/coverage -j "$jobs" -LE "package|browser" --no-tests=error --output-on-failure
    run gcovr --root . --filter include/ --exclude-throw-branches --txt --html-details build/coverage/report.html \
      build/coverage
    ;;
  windows)
    need $programs $windows
    run cmake -S . -B build/windows -DCMAKE_BUILD_TYPE=Release -DFETTLE_BUILD_TESTS=OFF -DFETTLE_INSTALL=OFF \
      -DCMAKE_SYSTEM_NAME=Windows -DCMAKE_CXX_COMPILER=x86_64-w64-mingw32-g++-posix \
      -DCMAKE_C_COMPILER=x86_64-w64-mingw32-gcc-posix -DCMAKE_EXE_LINKER_FLAGS=-static \
      -DCMAKE_PROJECT_TOP_LEVEL_INCLUDES="$PWD/cmake/windows.cmake"
    run cmake --build build/windows -j "$jobs"
    export WINEPREFIX="$PWD/build/windows/wine" WINEDEBUG=-all
    run wine build/windows/examples/virtual_engine.exe --out build/windows/demo --drive stage --minutes 15
    run wine build/windows/examples/correct_map.exe build/windows/demo/session.json --out build/windows/demo/corrected
    ;;
  libcxx)
    need $programs $libcxx
    run cmake -S . -B build/libcxx -DCMAKE_BUILD_TYPE=Release -DFETTLE_BUILD_TESTS=OFF -DFETTLE_INSTALL=OFF \
      -DCMAKE_CXX_COMPILER=clang++-19 -DCMAKE_C_COMPILER=clang-19 -DCMAKE_CXX_FLAGS="-stdlib=libc++ -DFMT_HEADER_ONLY"
    run cmake --build build/libcxx -j "$jobs"
    run build/libcxx/examples/virtual_engine --out build/libcxx/demo --drive stage --minutes 15
    run build/libcxx/examples/correct_map build/libcxx/demo/session.json --out build/libcxx/demo/corrected
    ;;
  costs)
    run sh cmake/costs.sh
    ;;
  peers)
    need $programs $peers
    run cmake -S . -B build/peers -DCMAKE_BUILD_TYPE=Release -DFETTLE_BUILD_TESTS=OFF -DFETTLE_BUILD_EXAMPLES=OFF \
      -DFETTLE_BUILD_BENCH=ON
    run cmake --build build/peers -j "$jobs" --target map_bench_native fit_bench io_bench
    run python3 bench/peers.py build/peers/bench
    ;;
  mutate)
    need $programs $tests
    shift
    run python3 tests/mutation/mutate.py "$@"
    ;;
  *)
    echo "usage: sh cmake/run.sh [test | passes | laboratory [test] | windows | libcxx | costs | fuzz [SECONDS] | sanitize | coverage |" >&2
    echo "                          peers | mutate [COUNT [SEED [ONLY]]]]" >&2
    exit 2
    ;;
esac
