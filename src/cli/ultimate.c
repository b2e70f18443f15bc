#include <stdlib.h>
#include "common.h"

static rfy_status run_ultimate(const cli_call *call) {
    rfy_run_options options;
    rfy_system *system = NULL;
    rfy_result *result = NULL;
    cli_output output = {0};
    double *at = NULL;
    const char *unit;
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = cli_run_options(call, &options, &at);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    cli_watch_interrupt();
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    rfy_status code = status;
    if (status == RFY_OK) {
        status = rfy_find_ultimate(&result, system, &options);
        if (result) {
            rfy_write_options how = cli_write_options(output.stream, unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_ultimate_json(output.stream, result, &how)
                                     : rfy_write_ultimate_text(output.stream, result, &how);
            if (cli_has(call, "json") && result->trouble)
                cli_complain("%s", result->trouble);
            code = cli_exit_code(status, cli_output_close(&output, written));
        } else {
            code = cli_output_without_result(&output, status);
        }
    }
    rfy_result_free(result);
    rfy_system_free(system);
    free(at);
    return code;
}

static const cli_option options[] = {
    CLI_OPTION_JSON,   CLI_OPTION_AFTER,     CLI_OPTION_UNIT,   CLI_OPTION_SET,
    CLI_OPTION_METHOD, CLI_OPTION_TOLERANCE, CLI_OPTION_OUTPUT, {0}};

const cli_command cli_ultimate = {
    "ultimate",
    "FILE",
    1,
    1,
    "the steady pressures: of which gas, and from which wall, seal, leak or pump",
    "Finds where the pressures of FILE (- for standard input) level off, with valves and pumps as "
    "they stand at the end of its procedure.",
    options,
    "  rarefy ultimate bench.json --after \"8 h\"",
    run_ultimate};
