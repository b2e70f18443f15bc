# Optional checks against other codes: built and run only where those are installed.
find_package(SUNDIALS QUIET COMPONENTS cvode nvecserial sunlinsoldense sunmatrixdense)
if(SUNDIALS_FOUND)
  add_executable(test_cvode crosscheck/test_cvode.c)
  target_link_libraries(test_cvode PRIVATE test_support SUNDIALS::cvode SUNDIALS::nvecserial
    SUNDIALS::sunlinsoldense SUNDIALS::sunmatrixdense)
  add_test(NAME crosscheck_cvode COMMAND test_cvode)
  set_tests_properties(crosscheck_cvode PROPERTIES TIMEOUT 240)
  add_executable(test_cvode_stores crosscheck/test_cvode_stores.c)
  target_link_libraries(test_cvode_stores PRIVATE test_support SUNDIALS::cvode SUNDIALS::nvecserial
    SUNDIALS::sunlinsoldense SUNDIALS::sunmatrixdense)
  add_test(NAME crosscheck_cvode_stores COMMAND test_cvode_stores)
  set_tests_properties(crosscheck_cvode_stores PROPERTIES TIMEOUT 240)
endif()

# The script ends with 77 when its Python has no SciPy: look for one that has it first.
set(rarefy_python python3)
foreach(candidate python3 /usr/bin/python3)
  execute_process(COMMAND ${candidate} -c "import scipy" RESULT_VARIABLE missing OUTPUT_QUIET ERROR_QUIET)
  if(missing STREQUAL "0")
    set(rarefy_python ${candidate})
    break()
  endif()
endforeach()
foreach(script scipy_check photocell_check)
  add_test(NAME crosscheck_${script}
    COMMAND ${rarefy_python} ${CMAKE_CURRENT_SOURCE_DIR}/crosscheck/${script}.py $<TARGET_FILE:rarefy_program>)
  set_tests_properties(crosscheck_${script} PROPERTIES SKIP_RETURN_CODE 77 TIMEOUT 240)
endforeach()
