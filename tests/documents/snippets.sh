#!/bin/sh
# snippets.sh ROOT DOCUMENT: every block of C++, C, CMake or Python in the document follows a line
#   <!-- path/of/file: region -->
# and is what stands in that file between the comments `[region]` and `[/region]`, less the indentation of its first
# line; without `: region` it is the whole file.
set -eu
cd "$1"
document=$2
awk -v document="$document" '
  function fail(text) { print document ", line " NR ": " text; failed = 1 }
  function region_of(file, region, text, line, inside, indent, exists) {
    text = ""
    inside = region == ""
    exists = inside
    indent = -1
    while ((status = (getline line < file)) > 0) {
      if (region != "" && index(line, "[/" region "]")) inside = 0
      else if (region != "" && index(line, "[" region "]")) inside = exists = 1
      else if (inside) {
        if (indent < 0) { match(line, /^ */); indent = RLENGTH }
        text = text (substr(line, 1, indent) ~ /^ *$/ ? substr(line, indent + 1) : line) "\n"
      }
    }
    close(file)
    if (status < 0) fail("cannot read " file)
    else if (!exists) fail(file " has no region [" region "]")
    return text
  }
  /^<!-- [^ ]+ -->$/ || /^<!-- [^ ]+: [a-z_]+ -->$/ {
    file = $2; region = ""
    if (NF == 4) { sub(/:$/, "", file); region = $3 }
    wanted = region_of(file, region)
    has_source = 1
    next
  }
  !in_block && /^```(cpp|c|cmake|python)$/ {
    in_block = 1; block = ""; blocks++
    if (!has_source) fail("a block of code without the file and region it comes from")
    next
  }
  !in_block && /^```./ { in_block = 2; next }
  in_block && /^```$/ {
    if (in_block == 1 && has_source && block != wanted)
      fail("differs from " file " [" region "], which has\n" wanted)
    in_block = has_source = 0
    next
  }
  in_block == 1 { block = block $0 "\n" }
  END { print document ": " blocks + 0 " snippets"; exit failed }' "$document"
