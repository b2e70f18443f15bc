# The page of a run in headless Chromium, from the file system and without a network. Skipped, with a message, where
# chromium or python3-websocket is not installed.
add_test(NAME page_in_browser
  COMMAND ${SYSTEM_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/page/check_page.py $<TARGET_FILE:rarefy_program> ${CMAKE_SOURCE_DIR})
set_tests_properties(page_in_browser PROPERTIES TIMEOUT 280 SKIP_RETURN_CODE 77)
