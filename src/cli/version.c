#include "common.h"

static rfy_status run_version(const cli_call *call) {
    (void)call;
    puts("rarefy " RAREFY_VERSION);
    cli_output output;
    rfy_status status = cli_output_open(&output, NULL);
    return status == RFY_OK ? cli_output_close(&output, RFY_OK) : status;
}

static const cli_option options[] = {{0}};

const cli_command cli_version = {
    "version", "",   0,          0, "which version this is", "Prints the name and the version.",
    options,   NULL, run_version};
