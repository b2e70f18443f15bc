#include "common.h"

static rfy_status run_check(const cli_call *call) {
    rfy_system *system = NULL;
    rfy_problems *problems = NULL;
    cli_output output = {0};
    rfy_status status = cli_read_system(call, 0, &system, &problems);
    rfy_status code = status;
    if (problems) { /* the file was read: sound or not, the verdict is the result */
        rfy_status written = cli_output_open(&output, cli_value(call, "output"));
        if (written == RFY_OK) {
            written = cli_has(call, "json") ? rfy_write_check_json(output.stream, system, problems)
                                            : rfy_write_check_text(output.stream, system, problems);
            written = cli_output_close(&output, written);
        }
        code = cli_exit_code(status, written);
    }
    rfy_problems_free(problems);
    rfy_system_free(system);
    return code;
}

static const cli_option options[] = {CLI_OPTION_JSON, CLI_OPTION_SET, CLI_OPTION_OUTPUT, {0}};

const cli_command cli_check = {
    "check",
    "FILE",
    1,
    1,
    "is the description sound, and what is assumed where it is silent",
    "Reads the description in FILE (- for standard input) and reports everything wrong with it at "
    "once, each with line, column and a hint. Exit code 0 when it is sound, 3 when it is not.",
    options,
    "  rarefy check bench.json",
    run_check};
