# cmake --build BUILD --target bench: a table of speed and memory, whole processes.
add_executable(bench_measure EXCLUDE_FROM_ALL bench/measure.c)
target_link_libraries(bench_measure PRIVATE rarefy_flags)
if(NOT DEFINED rarefy_python)
  set(rarefy_python python3)
  foreach(candidate python3 /usr/bin/python3)
    execute_process(COMMAND ${candidate} -c "import scipy" RESULT_VARIABLE missing OUTPUT_QUIET ERROR_QUIET)
    if(missing STREQUAL "0")
      set(rarefy_python ${candidate})
      break()
    endif()
  endforeach()
endif()
add_custom_target(bench
  COMMAND sh ${CMAKE_CURRENT_SOURCE_DIR}/bench/bench.sh $<TARGET_FILE:rarefy_program> $<TARGET_FILE:bench_measure> ${rarefy_python}
  DEPENDS rarefy_program bench_measure USES_TERMINAL VERBATIM)
