#!/bin/sh
# session_keys.sh ROOT: every key that the session reader knows stands in examples/README.md as `key`.
set -eu
cd "$1"
keys=$(tr '\n' ' ' <examples/programs/common/session/read_session.hpp | grep -o 'only([ ]*{[^}]*}' | grep -o '"[^"]*"' | tr -d '"' | sort -u)
test "$(echo "$keys" | wc -l)" -ge 30
missing=0
for key in $keys; do
  grep -q "\`$key\`" examples/README.md || { echo "examples/README.md does not explain the key $key"; missing=1; }
done
exit "$missing"
