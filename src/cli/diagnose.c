#include "logs.h"

static rfy_status run_diagnose(const cli_call *call) {
    rfy_diagnose_options options = RFY_DIAGNOSE_OPTIONS_INIT;
    rfy_system *system = NULL;
    rfy_log *log = NULL;
    rfy_diagnosis *found = NULL;
    rfy_problems *problems = rfy_problems_new(call->operand[0]);
    const char *unit;
    cli_output output = {0};
    options.gauge = cli_value(call, "gauge");
    options.stop = &cli_stop;
    cli_watch_interrupt();
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    if (status == RFY_OK)
        status = cli_read_log(call, call->operand[1], NULL, 0, &log);
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    if (status == RFY_OK) {
        status = rfy_diagnose(&found, system, log, &options, problems);
        if (rfy_problems_kept(problems) > 0)
            rfy_write_problems(stderr, problems);
        if (found) {
            rfy_write_options how = cli_write_options(output.stream, unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_diagnosis_json(output.stream, found, &how)
                                     : rfy_write_diagnosis_text(output.stream, found, &how);
            status = cli_output_close(&output, written);
        } else {
            cli_output_abandon(&output);
        }
    }
    rfy_diagnosis_free(found);
    rfy_log_free(log);
    rfy_system_free(system);
    rfy_problems_free(problems);
    return status;
}

static const cli_option options[] = {
    CLI_OPTION_LOGGED_GAUGE,  CLI_OPTION_COLUMNS, CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT, CLI_OPTION_SET,     CLI_OPTION_JSON,
    CLI_OPTION_UNIT,          CLI_OPTION_OUTPUT,  {0}};

const cli_command cli_diagnose = {
    "diagnose",
    "FILE LOG.csv",
    2,
    2,
    "what is wrong with a bench whose measured curve is not the predicted one",
    "Tries the usual suspects one at a time and in pairs (a leak, wet walls, a trapped volume, a "
    "worn pump, a blocked line or valve, a wrong gauge), ranks them by how well each explains the "
    "log, and says where in time each would show.",
    options,
    "  rarefy diagnose examples/photocell-bulb.json examples/bulb-slow.csv --gauge \\\n"
    "    \"port thermal gauge\"",
    run_diagnose};
