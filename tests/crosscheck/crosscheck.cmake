# Optional checks against other codes: built and run only where those are installed.
find_package(SUNDIALS QUIET COMPONENTS cvode nvecserial sunlinsoldense sunmatrixdense)
if(SUNDIALS_FOUND)
  add_executable(test_cvode crosscheck/test_cvode.c)
  target_link_libraries(test_cvode PRIVATE test_support SUNDIALS::cvode SUNDIALS::nvecserial
    SUNDIALS::sunlinsoldense SUNDIALS::sunmatrixdense)
  add_test(NAME crosscheck_cvode COMMAND test_cvode)
  set_tests_properties(crosscheck_cvode PROPERTIES TIMEOUT 240)
endif()

# The script ends with 77 when its Python has no SciPy.
find_program(RAREFY_PYTHON NAMES python3 PATHS /usr/bin NO_CMAKE_ENVIRONMENT_PATH)
