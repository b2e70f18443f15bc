#include "common.h"

static rfy_status run_ultimate(const cli_call *call) {
    cli_study study;
    rfy_result *result = NULL;
    rfy_status status = cli_study_begin(call, &study), code = status;
    if (status == RFY_OK) {
        status = rfy_find_ultimate(&result, study.system, &study.options);
        if (result) {
            rfy_write_options how = cli_write_options(study.output.stream, study.unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_ultimate_json(study.output.stream, result, &how)
                                     : rfy_write_ultimate_text(study.output.stream, result, &how);
            if (cli_has(call, "json") && result->trouble)
                cli_complain("%s", result->trouble);
            code = cli_exit_code(status, cli_output_close(&study.output, written));
        } else {
            code = cli_output_without_result(&study.output, status);
        }
    }
    rfy_result_free(result);
    cli_study_end(&study);
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
