#!/bin/sh
# session_keys.sh ROOT: every key that the session readers know stands in examples/README.md as `key`.
set -eu
cd "$1"
keys=$(cat examples/programs/common/session/*.[hc]pp | tr '\n' ' ' | grep -o 'only([ ]*{[^}]*}' | grep -o '"[^"]*"' | tr -d '"' | sort -u)
test "$(echo "$keys" | wc -l)" -ge 60
missing=0
for key in $keys; do
  grep -q "\`$key\`" examples/README.md || { echo "examples/README.md does not explain the key $key"; missing=1; }
done
exit "$missing"
