# cmake -DCOMPILER= -DINCLUDE= -P header_size.cmake: what `#include <fettle/map.hpp>` brings into a program.
execute_process(COMMAND ${COMPILER} -std=c++20 -E -P -I${INCLUDE} -x c++ ${INCLUDE}/fettle/map.hpp
                RESULT_VARIABLE failed OUTPUT_VARIABLE text ERROR_QUIET)
if(failed)
  message(FATAL_ERROR "fettle/map.hpp does not preprocess")
endif()
string(REGEX REPLACE "[^\n]" "" newlines "${text}")
string(LENGTH "${newlines}" lines)
message("fettle/map.hpp: ${lines} preprocessed lines")
if(lines GREATER_EQUAL 15000)
  message(FATAL_ERROR "15000 or more")
endif()
