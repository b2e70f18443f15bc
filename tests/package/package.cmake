# Installing, and building on what was installed. The Debian packages themselves need root: .ci/run, package.sh.
add_test(NAME install_and_use COMMAND bash ${CMAKE_CURRENT_SOURCE_DIR}/package/install.sh ${CMAKE_BINARY_DIR} ${CMAKE_SOURCE_DIR})
set_tests_properties(install_and_use PROPERTIES TIMEOUT 120)
add_test(NAME header_documentation COMMAND bash ${CMAKE_CURRENT_SOURCE_DIR}/package/doxygen.sh ${CMAKE_SOURCE_DIR})
set_tests_properties(header_documentation PROPERTIES SKIP_RETURN_CODE 77)
