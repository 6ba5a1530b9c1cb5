#!/bin/sh
# costs.sh [HEADER...]: what a program pays for including each header at -O0, those of the layers unless others are named;
# then how long the headers are. CXX names the compiler.
set -eu
cd "$(dirname "$0")/.."
unit=$(mktemp -d)
trap 'rm -r "$unit"' EXIT
[ $# -gt 0 ] || set -- map.hpp fuel.hpp vehicle.hpp fit.hpp lambda.hpp io.hpp
echo "include of        seconds   MB"
for header in "$@"; do
  echo "#include \"fettle/$header\"" > "$unit/unit.cpp"
  python3 - "$header" "${CXX:-g++}" -std=c++20 -O0 -Iinclude -isystem /usr/include/eigen3 -c "$unit/unit.cpp" -o /dev/null <<'EOF'
import resource, subprocess, sys
subprocess.run(sys.argv[2:], check=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(f"{sys.argv[1]:<16} {used.ru_utime + used.ru_stime:8.1f} {used.ru_maxrss / 1024:5.0f}")
EOF
done
find include -name '*.hpp' -exec wc -l {} + | grep -v total | sort -n | awk '
  { lines[NR] = $1; if ($1 > 250) long = long "  " $1 " " $2 "\n" }
  END { print NR " headers, median " lines[int((NR + 1) / 2)] " lines; above 250 lines:"; printf "%s", long }'
