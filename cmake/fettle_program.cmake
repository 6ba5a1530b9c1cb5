# Flags of our own programs and tests; none of them reaches a user of the library.
add_library(fettle_strict INTERFACE)
target_compile_options(fettle_strict INTERFACE
  -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Werror)
# g++ collects garbage less often when it may take a gigabyte: a seventh of the time of the largest unit, a few percent of all.
target_compile_options(fettle_strict INTERFACE
  $<$<CXX_COMPILER_ID:GNU>:--param=ggc-min-expand=1000> $<$<CXX_COMPILER_ID:GNU>:--param=ggc-min-heapsize=1000000>)
if(FETTLE_SANITIZE)
  target_compile_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE} -fno-sanitize-recover=all)
  target_link_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE})
endif()
