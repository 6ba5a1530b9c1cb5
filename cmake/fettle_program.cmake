# Flags of our own programs and tests; none of them reaches a user of the library.
add_library(fettle_strict INTERFACE)
target_compile_options(fettle_strict INTERFACE
  -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Werror)
if(FETTLE_SANITIZE)
  target_compile_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE} -fno-sanitize-recover=all)
  target_link_options(fettle_strict INTERFACE -fsanitize=${FETTLE_SANITIZE})
endif()
