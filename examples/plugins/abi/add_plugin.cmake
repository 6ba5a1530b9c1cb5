# add_plugin(<name> SOURCES file... [LINK target...]): the shared object <name>.so with one exported symbol.
set(plugin_abi_dir ${CMAKE_CURRENT_LIST_DIR})
function(add_plugin name)
  cmake_parse_arguments(PARSE_ARGV 1 arg "" "" "SOURCES;LINK")
  add_library(${name}_plugin MODULE ${arg_SOURCES})
  target_link_libraries(${name}_plugin PRIVATE fettle::map ${arg_LINK})
  target_include_directories(${name}_plugin PRIVATE ${plugin_abi_dir})
  target_link_options(${name}_plugin PRIVATE -Wl,--version-script=${plugin_abi_dir}/one_symbol.map -Wl,--no-undefined)
  set_target_properties(${name}_plugin PROPERTIES
    PREFIX "" OUTPUT_NAME ${name} CXX_EXTENSIONS OFF CXX_VISIBILITY_PRESET hidden VISIBILITY_INLINES_HIDDEN ON
    LINK_DEPENDS ${plugin_abi_dir}/one_symbol.map)
endfunction()
