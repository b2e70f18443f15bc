# The whole campaigns of invented records (tests of the suite take a slice): --target campaign_measured.
add_executable(measured_campaign EXCLUDE_FROM_ALL measured/campaign.c)
target_link_libraries(measured_campaign PRIVATE test_support)
add_custom_target(campaign_measured COMMAND measured_campaign DEPENDS measured_campaign VERBATIM)
