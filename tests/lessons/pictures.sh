#!/bin/sh
# pictures.sh LESSON...: each lesson draws a whole picture when asked, and says why where it cannot.
set -eu
command -v gnuplot >/dev/null || { echo "gnuplot is not installed"; exit 77; }
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
for lesson in "$@"; do
  picture=$folder/picture.svg
  "$lesson" --picture "$picture" >/dev/null
  grep -q '</svg>' "$picture" || { echo "$lesson: $picture is no whole picture"; exit 1; }
  rm "$picture"
  status=0
  PATH=$folder "$lesson" --picture "$picture" >/dev/null 2>"$folder/said" || status=$?
  [ "$status" -eq 2 ] && [ ! -e "$picture" ] || { echo "$lesson: exit code $status without gnuplot"; exit 1; }
  grep -q "picture.svg: not drawn; gnuplot" "$folder/said" || { cat "$folder/said"; exit 1; }
done
