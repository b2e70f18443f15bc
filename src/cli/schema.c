#include "common.h"

static rfy_status run_schema(const cli_call *call) {
    cli_output output;
    rfy_status status = cli_output_open(&output, cli_value(call, "output"));
    if (status == RFY_OK)
        status = cli_output_close(&output, rfy_write_schema(output.stream));
    return status;
}

static const cli_option options[] = {CLI_OPTION_OUTPUT, {0}};

const cli_command cli_schema = {
    "schema",
    "",
    0,
    0,
    "the JSON Schema of descriptions, for editors that complete and check as you type",
    "Writes the JSON Schema (draft 2020-12) of the format of descriptions. It is made from the "
    "tables that reading uses. Keys and units that it refuses are wrong; names that are not there "
    "and values out of range are told by \"rarefy check\" alone.",
    options,
    "  rarefy schema -o rarefy.schema.json",
    run_schema};
