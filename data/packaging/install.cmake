# What is installed, and the Debian packages: `cmake --install build`, `cpack --config build/CPackConfig.cmake`.
# Two components: the program with all that a user reads, and the library for those who build on it.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

# The program writes its own manual page, completions and schema, so they cannot differ from it.
set(made ${PROJECT_BINARY_DIR}/made)
set(made_files ${made}/rarefy.1 ${made}/rarefy.bash ${made}/_rarefy ${made}/rarefy.fish ${made}/rarefy.schema.json)
add_custom_command(OUTPUT ${made_files}
  COMMAND ${CMAKE_COMMAND} -E make_directory ${made}
  COMMAND rarefy_program help --man > ${made}/rarefy.1
  COMMAND rarefy_program help --completions bash > ${made}/rarefy.bash
  COMMAND rarefy_program help --completions zsh > ${made}/_rarefy
  COMMAND rarefy_program help --completions fish > ${made}/rarefy.fish
  COMMAND rarefy_program schema > ${made}/rarefy.schema.json
  DEPENDS rarefy_program
  COMMENT "Writing manual page, completions and schema" VERBATIM)
add_custom_target(rarefy_made ALL DEPENDS ${made_files})

set_target_properties(rarefy PROPERTIES VERSION ${PROJECT_VERSION} SOVERSION ${PROJECT_VERSION_MAJOR}.${PROJECT_VERSION_MINOR})
install(TARGETS rarefy_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR} COMPONENT program)
install(TARGETS rarefy EXPORT rarefy_targets
  ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT library
  LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR} COMPONENT library
  INCLUDES DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(DIRECTORY include/rarefy DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} COMPONENT library)

find_program(GZIP gzip)
if(GZIP)
  add_custom_command(OUTPUT ${made}/rarefy.1.gz COMMAND ${GZIP} -9nkf ${made}/rarefy.1 DEPENDS ${made}/rarefy.1 VERBATIM)
  add_custom_target(rarefy_manual ALL DEPENDS ${made}/rarefy.1.gz)
endif()
install(FILES ${made}/rarefy.1$<$<BOOL:${GZIP}>:.gz> DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 COMPONENT program)
install(FILES ${made}/rarefy.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME rarefy COMPONENT program)
install(FILES ${made}/_rarefy DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions COMPONENT program)
install(FILES ${made}/rarefy.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d COMPONENT program)
install(FILES ${made}/rarefy.schema.json DESTINATION ${CMAKE_INSTALL_DATADIR}/rarefy COMPONENT program)
install(DIRECTORY examples/ DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples COMPONENT program
  FILES_MATCHING PATTERN "*.json" PATTERN "*.md")
install(DIRECTORY examples/ DESTINATION share/doc/librarefy-dev/examples COMPONENT library FILES_MATCHING PATTERN "*.c")
install(FILES README.md DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)

file(RELATIVE_PATH up_from_pc /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
# pkg-config rarefy; find_package(rarefy) and the target rarefy::rarefy. A static library needs what it stands on.
configure_file(data/packaging/rarefy.pc.in rarefy.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/rarefy.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT library)
set(cmake_dir ${CMAKE_INSTALL_LIBDIR}/cmake/rarefy)
configure_package_config_file(data/packaging/rarefy-config.cmake.in rarefy-config.cmake INSTALL_DESTINATION ${cmake_dir})
write_basic_package_version_file(rarefy-config-version.cmake COMPATIBILITY SameMinorVersion)
install(EXPORT rarefy_targets NAMESPACE rarefy:: DESTINATION ${cmake_dir} COMPONENT library)
install(FILES ${PROJECT_BINARY_DIR}/rarefy-config.cmake ${PROJECT_BINARY_DIR}/rarefy-config-version.cmake
  DESTINATION ${cmake_dir} COMPONENT library)

# ---- Debian packages: rarefy and librarefy-dev ----
string(TIMESTAMP date "%a, %d %b %Y %H:%M:%S +0000" UTC)
configure_file(data/packaging/changelog.in changelog @ONLY)
if(GZIP)
  execute_process(COMMAND ${GZIP} -9nf ${PROJECT_BINARY_DIR}/changelog)
  install(FILES ${PROJECT_BINARY_DIR}/changelog.gz DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
  install(FILES ${PROJECT_BINARY_DIR}/changelog.gz DESTINATION share/doc/librarefy-dev COMPONENT library)
endif()
install(FILES data/packaging/copyright DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT program)
install(FILES data/packaging/copyright DESTINATION share/doc/librarefy-dev COMPONENT library)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME rarefy)
set(CPACK_PACKAGE_VENDOR "Rarefy")
set(CPACK_PACKAGE_CONTACT "The Rarefy developers <rarefy@rarefy.invalid>")
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_COMPONENTS_ALL program library)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_NAME rarefy)
set(CPACK_DEBIAN_PROGRAM_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_NAME librarefy-dev)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_DEPENDS "libgsl-dev, libcjson-dev, libc6-dev")
set(CPACK_COMPONENT_PROGRAM_DESCRIPTION "how a vacuum system pumps down, before anyone buys or bakes a part\n\
 From a JSON description of chambers, lines, pumps and the order of work it computes\n\
 pressures over time and answers how long, how low, which gas, what holds it back and which limit is broken.")
set(CPACK_COMPONENT_LIBRARY_DESCRIPTION "library that predicts how a vacuum system pumps down\n\
 C library, header, pkg-config and CMake files of rarefy.")
include(CPack)
