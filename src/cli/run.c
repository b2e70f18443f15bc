#define _POSIX_C_SOURCE 200809L
#include <stdlib.h>
#include <unistd.h>
#include "common.h"
#include "fault.h"
#include "logs.h"

/* For programs that read the result: what the text answer says by itself goes to stderr here. */
static void report(const rfy_result *result) {
    if (result->status == RFY_INTERRUPTED)
        cli_complain("interrupted; the result ends at %.6g s", result->end);
    else if (result->status == RFY_RUN_FAILED)
        cli_complain("the run could not be finished, it came to %.6g s: %s", result->end,
                     result->trouble ? result->trouble : "no reason known");
    for (size_t i = 0; i < result->n_limits; i++)
        if (result->limit[i].broken)
            cli_complain("limit broken: %s, at %.6g s", result->limit[i].name,
                         result->limit[i].time);
}

static rfy_status write_result(const cli_call *call, FILE *stream, const rfy_result *result,
                               const char *unit) {
    rfy_write_options options = cli_write_options(stream, unit);
    if (cli_has(call, "json"))
        return rfy_write_run_json(stream, result, &options);
    if (cli_has(call, "csv"))
        return rfy_write_run_csv(stream, result, &options);
    return rfy_write_run_text(stream, result, &options);
}

/* A line on a terminal that is written over; nothing in a pipe or file. */
static void show_progress(void *context, size_t done, size_t all) {
    (void)context;
    fprintf(stderr, done == all ? "\r                              \r" : "\r%zu of %zu samples",
            done, all);
}

/* --band, --samples, --jobs */
static rfy_status read_band(const cli_call *call, rfy_run_options *options,
                            rfy_band_options *band) {
    size_t jobs = 0;
    rfy_status status = cli_read_count(call, "samples", 1000000, &band->samples);
    if (status == RFY_OK)
        status = cli_read_count(call, "jobs", 64, &jobs);
    if (status != RFY_OK)
        return status;
    if (!cli_has(call, "band"))
        return cli_has(call, "samples") || cli_has(call, "jobs")
                   ? cli_misuse(call->command, "--samples and --jobs go with --band")
                   : RFY_OK;
    if (cli_has(call, "fault"))
        return cli_misuse(call->command, "--band and --fault exclude each other");
    band->jobs = (int)jobs;
    band->stop = &cli_stop;
    band->at = options->at;
    band->n_at = options->n_at;
    if (isatty(STDERR_FILENO) == 1)
        band->progress = show_progress;
    options->band = band;
    return RFY_OK;
}

/* --measured, with the problem of --gauge told. */
static rfy_status measure(const cli_call *call, rfy_result *result, const rfy_log *log) {
    rfy_problems *problems = rfy_problems_new(cli_value(call, "measured"));
    rfy_status status = rfy_result_measure(result, log, cli_value(call, "gauge"), problems);
    if (rfy_problems_kept(problems) > 0)
        rfy_write_problems(stderr, problems);
    rfy_problems_free(problems);
    return status;
}

static rfy_status run_run(const cli_call *call) {
    rfy_run_options options;
    rfy_system *system = NULL;
    rfy_result *result = NULL;
    rfy_fault *fault = NULL;
    rfy_log *log = NULL;
    rfy_band_options band = RFY_BAND_OPTIONS_INIT;
    cli_output output = {0};
    double *at = NULL;
    const char *unit;
    if (cli_has(call, "json") && cli_has(call, "csv"))
        return cli_misuse(call->command, "--json and --csv exclude each other");
    if (cli_has(call, "csv") && cli_has(call, "sensitivities"))
        return cli_misuse(call->command, "--csv and --sensitivities exclude each other");
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = cli_run_options(call, &options, &at);
    if (status == RFY_OK)
        status = read_band(call, &options, &band);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    if (status == RFY_OK)
        status = cli_read_fault(call, system, &fault);
    options.fault = fault;
    if (status == RFY_OK && cli_has(call, "sensitivities") && options.method == RFY_METHOD_MSBDF) {
        rfy_fault_free(fault);
        rfy_system_free(system);
        free(at);
        return cli_misuse(call->command, "--sensitivities: not with --method msbdf");
    }
    /* people are told what a change brings; programs ask for it */
    options.sensitivities = cli_has(call, "sensitivities")                  ? RFY_WANTED
                            : cli_has(call, "json") || cli_has(call, "csv") ? RFY_NOT_WANTED
                                                                            : RFY_IF_CHEAP;
    options.without_scatter = cli_has(call, "csv"); /* a series does not tell it */
    cli_watch_interrupt();
    if (status == RFY_OK && cli_has(call, "gauge") && !cli_has(call, "measured"))
        status = cli_misuse(call->command, "--gauge goes with --measured");
    if (status == RFY_OK && cli_has(call, "measured"))
        status = cli_read_log(call, cli_value(call, "measured"), NULL, 2000, &log);
    /* Opened before the run: an unwritable place should not cost the time of a long run. */
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    rfy_status code = status;
    if (status == RFY_OK) {
        status = rfy_run(&result, system, &options);
        if (result) {
            if (cli_has(call, "json") || cli_has(call, "csv"))
                report(result);
            if (options.n_at > 0 && at[options.n_at - 1] > result->end)
                cli_complain("instants of --at after %.6g s, the end of the run, are left out",
                             result->end);
            rfy_status beside = log ? measure(call, result, log) : RFY_OK;
            rfy_status written = write_result(call, output.stream, result, unit);
            code = cli_exit_code(status, cli_output_close(&output, written));
            code = code == RFY_OK ? beside : code;
        } else {
            code = cli_output_without_result(&output, status);
        }
    }
    rfy_result_free(result);
    rfy_log_free(log);
    rfy_fault_free(fault);
    rfy_system_free(system);
    free(at);
    return code;
}

static const cli_option options[] = {
    CLI_OPTION_JSON,
    {"csv", 0, NULL, false, "Write the series as comma-separated values instead of text."},
    {"at", 0, "TIMES", false,
     "Instants of the series, rising, for example \"10 s,100 s,1 h\"; without it, chosen by the "
     "program."},
    CLI_OPTION_FAULT,
    {"measured", 0, "LOG.csv", false,
     "Compare with this log of a gauge, and say where it leaves the prediction."},
    {"gauge", 0, "NAME", false,
     "Whose readings that log holds: a gauge of the description, or a chamber."},
    CLI_OPTION_COLUMNS,
    CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT,
    {"sensitivities", 0, NULL, false,
     "How each target and level follows every bore, length, area, speed and rate of the "
     "description, the most important first (exact to first order; not with --method msbdf)."},
    {"band", 0, NULL, false,
     "How sure: 5, 50 and 95 % for every target and for the curve when everything that has a "
     "stated spread varies, and which input that comes from; with --csv, the curves of the band."},
    {"samples", 0, "NUMBER", false, "Runs for --band; without it, 256."},
    {"jobs", 'j', "NUMBER", false,
     "Threads for --band, from 1 to 64; without it, one for each core. The answer is the same."},
    CLI_OPTION_AFTER,
    CLI_OPTION_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_METHOD,
    CLI_OPTION_TOLERANCE,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_run = {
    "run",
    "FILE",
    1,
    1,
    "the pump-down: how long, how low, what decides it, what could go wrong",
    "Follows the description in FILE through its procedure. FILE may be - for standard input. "
    "A result is printed even when a limit is broken (exit code 5), when the run cannot be "
    "finished "
    "(1) or when it is interrupted with Ctrl-C (130).",
    options,
    "  rarefy run examples/photocell-bulb.json --pressure-unit mbar\n"
    "  rarefy run bench.json --csv --at \"1 min,10 min,1 h\" -o curve.csv",
    run_run};
