# cmake --build BUILD --target bench: a table of speed and memory, whole processes.
add_executable(bench_measure EXCLUDE_FROM_ALL bench/measure.c)
target_link_libraries(bench_measure PRIVATE rarefy_flags)
add_custom_target(bench
  COMMAND sh ${CMAKE_CURRENT_SOURCE_DIR}/bench/bench.sh $<TARGET_FILE:rarefy_program> $<TARGET_FILE:bench_measure> ${rarefy_python}
  DEPENDS rarefy_program bench_measure USES_TERMINAL VERBATIM)

# cmake --build BUILD --target bench_cells: cost against the cells of a line; bench_linear: our LU and KLU.
add_executable(cells EXCLUDE_FROM_ALL bench/cells.c bench/cases.c)
target_link_libraries(cells PRIVATE test_support)
add_custom_target(bench_cells COMMAND cells USES_TERMINAL VERBATIM)
if(TARGET by_klu)
  add_executable(linear EXCLUDE_FROM_ALL bench/linear.c bench/cases.c bench/curve.c)
  target_link_libraries(linear PRIVATE by_klu)
  add_custom_target(bench_linear COMMAND linear USES_TERMINAL VERBATIM)
endif()

# cmake --build BUILD --target bench_derivatives: a run with derivatives of 20 numbers over one without, in time;
# bench_derivatives_counted: in instructions.
add_executable(derivatives EXCLUDE_FROM_ALL bench/derivatives.c bench/curve.c)
target_link_libraries(derivatives PRIVATE test_support)
add_custom_target(bench_derivatives COMMAND derivatives USES_TERMINAL VERBATIM)
file(GLOB rarefy_examples CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/examples/*.json)
add_custom_target(bench_derivatives_counted
  COMMAND sh ${CMAKE_CURRENT_SOURCE_DIR}/bench/derivatives.sh $<TARGET_FILE:derivatives> ${rarefy_examples}
  DEPENDS derivatives USES_TERMINAL VERBATIM)

# cmake --build BUILD --target bench_precision: time against error, ours and other solvers, with a picture.
# Python calls the same right-hand side in a shared library, so the sources are compiled once more for that.
if(SUNDIALS_FOUND)
  add_executable(precision EXCLUDE_FROM_ALL bench/precision.c bench/cases.c bench/curve.c)
  target_link_libraries(precision PRIVATE by_cvode)
  add_library(bench_rates SHARED EXCLUDE_FROM_ALL bench/rates_library.c bench/cases.c support/replay.c
    support/support.c ${rarefy_sources} ${embedded})
  set_source_files_properties(${embedded} PROPERTIES GENERATED TRUE)
  add_dependencies(bench_rates rarefy)
  target_include_directories(bench_rates PRIVATE ${CMAKE_SOURCE_DIR}/include ${CMAKE_SOURCE_DIR}/src ${CMAKE_SOURCE_DIR}/tests)
  target_compile_definitions(bench_rates PRIVATE RAREFY_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  target_link_libraries(bench_rates PRIVATE m PkgConfig::GSL PkgConfig::CJSON PkgConfig::CMOCKA rarefy_flags)
  set(results ${CMAKE_BINARY_DIR}/bench)
  file(MAKE_DIRECTORY ${results})
  add_custom_target(bench_precision
    COMMAND precision ${results} ${rarefy_python} ${CMAKE_CURRENT_SOURCE_DIR}/bench/precision_scipy.py
      $<TARGET_FILE:bench_rates>
    COMMAND sh ${CMAKE_CURRENT_SOURCE_DIR}/bench/precision.sh ${results}
    DEPENDS precision bench_rates USES_TERMINAL VERBATIM)
endif()

# cmake --build BUILD --target bench_sweep: points per second, threads, memory, a loop over SciPy; bench_bands: a
# Sobol sequence against plain random numbers.
add_custom_target(bench_sweep
  COMMAND sh ${CMAKE_CURRENT_SOURCE_DIR}/bench/sweep.sh $<TARGET_FILE:rarefy_program> $<TARGET_FILE:bench_measure> ${rarefy_python}
  DEPENDS rarefy_program bench_measure USES_TERMINAL VERBATIM)
add_executable(bench_bands_table EXCLUDE_FROM_ALL bench/bands.c)
target_link_libraries(bench_bands_table PRIVATE test_support)
add_custom_target(bench_bands COMMAND bench_bands_table USES_TERMINAL VERBATIM)
