# Writes min_max.cpp: what the headers include from elsewhere, then the two macros, then the headers.
set(system "")
set(ours "")
foreach(header IN LISTS headers)
  file(STRINGS ${header} lines REGEX "^#include <")
  list(APPEND system ${lines})
  string(APPEND ours "#include \"${header}\"\n")
endforeach()
list(REMOVE_DUPLICATES system)
list(JOIN system "\n" system)
file(WRITE min_max.cpp "${system}\n
#define min(a, b) (((a) < (b)) ? (a) : (b))
#define max(a, b) (((a) > (b)) ? (a) : (b))\n
${ours}")
