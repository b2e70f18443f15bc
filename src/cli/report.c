#include "busy.h"
#include "common.h"
#include "fault.h"
#include "measure.h"
#include "rarefy/pictures.h"

static rfy_status run_report(const cli_call *call) {
    cli_study study;
    rfy_report_options how = RFY_REPORT_OPTIONS_INIT;
    rfy_result *result = NULL;
    rfy_protect_result *protect = NULL;
    rfy_fault *fault = NULL;
    rfy_log *log = NULL;
    if (!cli_value(call, "output"))
        return cli_misuse(call->command, "-o page.html is missing; -o - writes to standard output");
    rfy_status status = cli_read_measured(call, &log);
    if (status != RFY_OK)
        return status;
    status = cli_study_begin(call, &study);
    if (status == RFY_OK) {
        status = cli_read_fault(call, study.system, &fault);
        if (status != RFY_OK)
            cli_output_abandon(&study.output);
    }
    rfy_status code = status;
    if (status == RFY_OK) {
        study.options.fault = fault;
        status = rfy_run(&result, study.system, &study.options);
        if (cli_has(call, "faults") && status != RFY_INTERRUPTED) {
            rfy_protect_options options = RFY_PROTECT_OPTIONS_INIT;
            options.stop = &cli_stop;
            options.progress = cli_busy_count;
            options.context = "cases";
            rfy_protect(&protect, study.system, &options);
        }
        how.pressure_unit = study.unit;
        how.fault = cli_value(call, "fault");
        how.measured = log;
        how.protect = protect;
        rfy_status written = rfy_write_report(study.output.stream, study.system, result, &how);
        code = cli_exit_code(status, cli_output_close(&study.output, written));
    }
    rfy_protect_free(protect);
    rfy_result_free(result);
    rfy_fault_free(fault);
    rfy_log_free(log);
    cli_study_end(&study);
    return code;
}

static const cli_option options[] = {
    {"faults", 0, NULL, false,
     "Let every fault strike in every phase as well (rarefy protect): a table of what leaves least "
     "time."},
    CLI_OPTION_FAULT,
    CLI_OPTION_MEASURED,
    CLI_OPTION_COLUMNS,
    CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT,
    CLI_OPTION_AFTER,
    CLI_OPTION_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_METHOD,
    CLI_OPTION_TOLERANCE,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_report = {
    "report",
    "FILE",
    1,
    1,
    "one page to look at, print and share: answers, curves, the bench, tables, cautions",
    "Runs the description in FILE and writes a page of HTML that needs nothing beside it and no "
    "network: curves to read out and zoom, the bench drawn and coloured by pressure, when and "
    "what, "
    "limits, what was assumed, and the description itself.",
    options,
    "  rarefy report bench.json -o page.html --pressure-unit mbar",
    run_report};
