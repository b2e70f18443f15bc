#include <stdlib.h>
#include "busy.h"
#include "common.h"

static rfy_status read_jobs(const cli_call *call, int *jobs) {
    const char *text = cli_value(call, "jobs");
    char *end = NULL;
    if (!text)
        return RFY_OK;
    long n = strtol(text, &end, 10);
    if (end == text || *end || n < 1 || n > 64)
        return cli_misuse(call->command, "--jobs \"%s\": a whole number from 1 to 64 is allowed",
                          text);
    *jobs = (int)n;
    return RFY_OK;
}

static rfy_status run_protect(const cli_call *call) {
    rfy_protect_options options = RFY_PROTECT_OPTIONS_INIT;
    rfy_system *system = NULL;
    rfy_protect_result *result = NULL;
    cli_output output = {0};
    const char *unit;
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = read_jobs(call, &options.jobs);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    cli_watch_interrupt();
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    rfy_status code = status;
    if (status == RFY_OK) {
        options.stop = &cli_stop;
        options.progress = cli_busy_count;
        options.context = "cases";
        status = rfy_protect(&result, system, &options);
        rfy_write_options how = cli_write_options(output.stream, unit);
        rfy_status written = cli_has(call, "json")
                                 ? rfy_write_protect_json(output.stream, result, &how)
                                 : rfy_write_protect_text(output.stream, result, &how);
        if (cli_has(call, "json") && result->trouble)
            cli_complain("%s", result->trouble);
        code = cli_exit_code(status, cli_output_close(&output, written));
    }
    rfy_protect_free(result);
    rfy_system_free(system);
    return code;
}

static const cli_option options[] = {CLI_OPTION_JSON,
                                     {"jobs", 'j', "NUMBER", false,
                                      "Threads to compute with, from 1 to 64; without it, one for "
                                      "each core. The answer is the same."},
                                     CLI_OPTION_UNIT,
                                     CLI_OPTION_SET,
                                     CLI_OPTION_OUTPUT,
                                     {0}};

const cli_command cli_protect = {
    "protect",
    "FILE",
    1,
    1,
    "every single fault at every phase: time available, what would save it",
    "Lets every fault of FILE, and the usual ones of its parts, strike once in every phase of the "
    "procedure: cracks, leaks, mains, pumps, valves that move or stick. Tells the time until the "
    "first limit breaks and what saves it. Exit code 5 when the procedure breaks a limit by "
    "itself.",
    options,
    "  rarefy protect examples/two-port-exhaust.json\n"
    "  rarefy protect bench.json --json --jobs 2 -o cases.json",
    run_protect};
