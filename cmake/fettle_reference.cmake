# The target api_reference: HTML by Doxygen in <build>/reference/html; a warning is an error. Not part of a build.
find_package(Doxygen QUIET)
if(NOT DOXYGEN_FOUND)
  return()
endif()
configure_file(${CMAKE_CURRENT_LIST_DIR}/Doxyfile.in ${PROJECT_BINARY_DIR}/Doxyfile @ONLY)
add_custom_target(api_reference COMMAND Doxygen::doxygen ${PROJECT_BINARY_DIR}/Doxyfile
                  WORKING_DIRECTORY ${PROJECT_SOURCE_DIR} VERBATIM)
