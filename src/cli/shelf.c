#include "common.h"

static rfy_status run_shelf(const cli_call *call) {
    cli_study study;
    rfy_shelf *shelf = NULL;
    rfy_status status = cli_study_begin(call, &study), code = status;
    if (status == RFY_OK) {
        status = rfy_shelf_life(&shelf, study.system, &study.options);
        if (shelf) {
            rfy_write_options how = cli_write_options(study.output.stream, study.unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_shelf_json(study.output.stream, shelf, &how)
                                     : rfy_write_shelf_text(study.output.stream, shelf, &how);
            if (cli_has(call, "json") && shelf->trouble)
                cli_complain("%s", shelf->trouble);
            code = cli_exit_code(status, cli_output_close(&study.output, written));
        } else {
            cli_output_abandon(&study.output);
            cli_complain("the description names no envelope; add \"seal_off\": {\"chamber\": "
                         "\"bulb\"}");
            code = RFY_BAD_INPUT;
        }
    }
    rfy_shelf_free(shelf);
    cli_study_end(&study);
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
