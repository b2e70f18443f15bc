# The JSON Schema against an outside validator (python3-jsonschema), and its patterns for quantities against the reader
# of units. Skipped, with a message, where the validator is not installed.
# Debian's own interpreter has Debian's modules, whatever else stands first in the path.
find_program(SYSTEM_PYTHON python3 PATHS /usr/bin NO_DEFAULT_PATH)
if(NOT SYSTEM_PYTHON)
  set(SYSTEM_PYTHON python3)
endif()
add_executable(unit_verdicts schema/unit_verdicts.c)
target_link_libraries(unit_verdicts PRIVATE test_support)
add_test(NAME schema_validator
  COMMAND ${SYSTEM_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/schema/check.py $<TARGET_FILE:rarefy_program> ${CMAKE_SOURCE_DIR}
          $<TARGET_FILE:unit_verdicts>)
set_tests_properties(schema_validator PROPERTIES TIMEOUT 240 SKIP_RETURN_CODE 77)
