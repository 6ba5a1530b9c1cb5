# fettle_layer(<name> [HEADERS file...] [DEPENDS target...]): the header-only target fettle::<name>, one name built or
# installed. Its headers are include/fettle/<name>.hpp, all below include/fettle/<name>/ and HEADERS, of include/fettle.
function(fettle_layer name)
  cmake_parse_arguments(PARSE_ARGV 1 arg "" "" "HEADERS;DEPENDS")
  list(TRANSFORM arg_HEADERS PREPEND ${PROJECT_SOURCE_DIR}/include/fettle/)
  file(GLOB_RECURSE headers CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/include/fettle/${name}/*.hpp)
  list(APPEND headers ${PROJECT_SOURCE_DIR}/include/fettle/${name}.hpp)
  add_library(fettle_${name} INTERFACE)
  add_library(fettle::${name} ALIAS fettle_${name})
  target_sources(fettle_${name} INTERFACE
                 FILE_SET HEADERS BASE_DIRS ${PROJECT_SOURCE_DIR}/include FILES ${headers} ${arg_HEADERS})
  target_compile_features(fettle_${name} INTERFACE cxx_std_20)
  target_link_libraries(fettle_${name} INTERFACE ${arg_DEPENDS})
  set_target_properties(fettle_${name} PROPERTIES EXPORT_NAME ${name})
  set_property(GLOBAL APPEND PROPERTY fettle_layers ${name})
endfunction()
