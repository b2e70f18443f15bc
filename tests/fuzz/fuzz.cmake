# The seeds run in every build (test_fuzz_seeds). With -DRAREFY_FUZZ=ON and clang, fuzz_reader is built too:
#   ./tests/fuzz_reader -dict=../tests/fuzz/json.dict corpus ../tests/fuzz/seeds
file(GLOB fuzz_seeds CONFIGURE_DEPENDS fuzz/seeds/* malformed/bench.json)
add_executable(fuzz_replay fuzz/fuzz_reader.c fuzz/replay.c)
target_link_libraries(fuzz_replay PRIVATE rarefy rarefy_flags)
target_include_directories(fuzz_replay PRIVATE ${CMAKE_CURRENT_SOURCE_DIR} ${CMAKE_SOURCE_DIR}/src)
add_test(NAME test_fuzz_seeds COMMAND fuzz_replay ${fuzz_seeds})
set_tests_properties(test_fuzz_seeds PROPERTIES TIMEOUT 240)

if(RAREFY_FUZZ)
  add_executable(fuzz_reader fuzz/fuzz_reader.c)
  target_link_libraries(fuzz_reader PRIVATE rarefy rarefy_flags)
  target_include_directories(fuzz_reader PRIVATE ${CMAKE_CURRENT_SOURCE_DIR} ${CMAKE_SOURCE_DIR}/src)
  target_link_options(fuzz_reader PRIVATE -fsanitize=fuzzer)
endif()
