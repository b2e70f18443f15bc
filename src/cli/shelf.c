#include <stdlib.h>
#include "common.h"

static rfy_status run_shelf(const cli_call *call) {
    rfy_run_options options;
    rfy_system *system = NULL;
    rfy_shelf *shelf = NULL;
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
        status = rfy_shelf_life(&shelf, system, &options);
        if (shelf) {
            rfy_write_options how = cli_write_options(output.stream, unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_shelf_json(output.stream, shelf, &how)
                                     : rfy_write_shelf_text(output.stream, shelf, &how);
            if (cli_has(call, "json") && shelf->trouble)
                cli_complain("%s", shelf->trouble);
            code = cli_exit_code(status, cli_output_close(&output, written));
        } else {
            cli_output_abandon(&output);
            cli_complain("the description names no envelope; add \"seal_off\": {\"chamber\": "
                         "\"bulb\"}");
            code = RFY_BAD_INPUT;
        }
    }
    rfy_shelf_free(shelf);
    rfy_system_free(system);
    free(at);
    return code;
}

static const cli_option options[] = {CLI_OPTION_JSON,
                                     CLI_OPTION_UNIT,
                                     CLI_OPTION_SET,
                                     CLI_OPTION_METHOD,
                                     CLI_OPTION_TOLERANCE,
                                     CLI_OPTION_OUTPUT,
                                     {0}};

const cli_command cli_shelf = {
    "shelf",
    "FILE",
    1,
    1,
    "what becomes of the vacuum in an envelope over ten years after it is sealed off",
    "Runs FILE (- for standard input) up to its seal-off, closes the envelope and follows it: what "
    "the walls still give off, what comes through glass and seals, what a getter takes up.",
    options,
    "  rarefy shelf lamp.json --set \"seal_off/limit=1e-2 Pa\"",
    run_shelf};
