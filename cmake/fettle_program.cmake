# Flags of our own programs and tests; none of them reaches a user of the library.
add_library(fettle_strict INTERFACE)
target_compile_options(fettle_strict INTERFACE
  -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Werror)
# g++ spends a seventh of its time on collecting garbage unless it may take a gigabyte.
target_compile_options(fettle_strict INTERFACE
  $<$<CXX_COMPILER_ID:GNU>:--param=ggc-min-expand=1000> $<$<CXX_COMPILER_ID:GNU>:--param=ggc-min-heapsize=1000000>)
if(FETTLE_SANITIZE)
  target_compile_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE} -fno-sanitize-recover=all)
  target_link_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE})
endif()
