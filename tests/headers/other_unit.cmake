# Writes other_unit.cpp: what the headers include from elsewhere, then the macros min and max, then the headers.
set(system "")
set(ours "")
foreach(header IN LISTS headers)
  file(STRINGS ${header} lines REGEX "^#include <")
  list(APPEND system ${lines})
  string(APPEND ours "#include \"${header}\"\n")
endforeach()
list(REMOVE_DUPLICATES system)
list(JOIN system "\n" system)
file(WRITE other_unit.cpp "${system}\n
#define min(a, b) (((a) < (b)) ? (a) : (b))
#define max(a, b) (((a) > (b)) ? (a) : (b))\n
${ours}
#include \"${CMAKE_CURRENT_LIST_DIR}/used_by_both.hpp\"
int other_unit();
int other_unit() { return used_by_both(); }\n")
