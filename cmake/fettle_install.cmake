# Installation: headers, find_package(fettle COMPONENTS ...), fettle.pc for map, fuel and vehicle, a Debian package.
# Nothing installed holds an absolute path: the tree may be moved.
include(CMakePackageConfigHelpers)

set(config_dir ${CMAKE_INSTALL_DATADIR}/cmake/fettle)
get_property(layers GLOBAL PROPERTY fettle_layers)
foreach(layer IN LISTS layers)  # a file of targets each, so that map alone never looks for what fit needs
  install(TARGETS fettle_${layer} EXPORT fettle_${layer} FILE_SET HEADERS)
  install(EXPORT fettle_${layer} NAMESPACE fettle:: FILE fettle_${layer}.cmake DESTINATION ${config_dir})
endforeach()

configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/fettle-config.cmake.in
                              ${PROJECT_BINARY_DIR}/fettle-config.cmake INSTALL_DESTINATION ${config_dir})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/fettle-config-version.cmake
                                 COMPATIBILITY SameMinorVersion ARCH_INDEPENDENT)
install(FILES ${PROJECT_BINARY_DIR}/fettle-config.cmake ${PROJECT_BINARY_DIR}/fettle-config-version.cmake
        DESTINATION ${config_dir})

set(pc_dir ${CMAKE_INSTALL_FULL_DATADIR}/pkgconfig)
cmake_path(RELATIVE_PATH CMAKE_INSTALL_FULL_INCLUDEDIR BASE_DIRECTORY ${pc_dir} OUTPUT_VARIABLE includedir_from_pc)
configure_file(${CMAKE_CURRENT_LIST_DIR}/fettle.pc.in ${PROJECT_BINARY_DIR}/fettle.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/fettle.pc DESTINATION ${CMAKE_INSTALL_DATADIR}/pkgconfig)
install(FILES ${PROJECT_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})

if(PROJECT_IS_TOP_LEVEL)
  set(CPACK_GENERATOR DEB)
  set(CPACK_PACKAGE_NAME libfettle-dev)
  set(CPACK_PACKAGE_CONTACT "the fettle authors")
  set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
  set(CPACK_RESOURCE_FILE_LICENSE ${PROJECT_SOURCE_DIR}/LICENSE)
  set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
  set(CPACK_DEBIAN_PACKAGE_ARCHITECTURE all)
  set(CPACK_DEBIAN_PACKAGE_SECTION libdevel)
  set(CPACK_DEBIAN_PACKAGE_SUGGESTS "libeigen3-dev (>= 3.4), libboost-dev, libfast-float-dev")  # fit, lambda; io
  include(CPack)
endif()
