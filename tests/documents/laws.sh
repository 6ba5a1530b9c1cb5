#!/bin/sh
# laws.sh ROOT: every test that tests/README.md names for a law is in the file named beside it.
set -eu
cd "$1/tests"
status=0
# shellcheck disable=SC2016  # the backquotes are those of the document
rows=$(sed -n 's/^|[^|]*| `\([^` ]*\)` | *`*\([A-Za-z0-9]*\)\.*\([A-Za-z0-9]*\)`* *|$/\1 \2 \3/p' README.md)
[ -n "$rows" ] || { echo "README.md: no laws found"; exit 1; }
while read -r file suite name; do
  if [ ! -f "$file" ]; then
    echo "README.md: there is no $file"
    status=1
  elif [ -n "$name" ] && ! { grep -q "(${suite}[,)]" "$file" || grep -q "struct ${suite} " "$file"; }; then
    echo "README.md: $file has no suite $suite"
    status=1
  elif [ -n "$name" ] && ! grep -Eq "[(, ]${name}[,)]" "$file"; then
    echo "README.md: $file has no test $name"
    status=1
  fi
done <<EOF
$rows
EOF
echo "README.md: $(echo "$rows" | wc -l) laws"
exit $status
