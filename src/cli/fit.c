#include <stdlib.h>
#include <string.h>
#include "busy.h"
#include "logs.h"

/* Values of an option that may be repeated; to be freed. */
static size_t values_of(const cli_call *call, const char *name, const char ***list) {
    size_t n = 0;
    *list = calloc(call->n_given + 1, sizeof **list);
    for (size_t i = 0; i < call->n_given && *list; i++)
        if (strcmp(call->given[i].option->name, name) == 0)
            (*list)[n++] = call->given[i].value;
    return n;
}

static rfy_status read_noise(const cli_call *call, double *noise) {
    rfy_status status = cli_quantity(call, "noise", "number", noise);
    if (status == RFY_OK && cli_has(call, "noise") && !(*noise > 0 && *noise < 3))
        return cli_misuse(call->command, "--noise: a share such as \"10 %%\"");
    return status;
}

/* The fitted description, only when the readings determine it. */
static rfy_status write_fitted(const cli_call *call, const rfy_system *system,
                               const rfy_fit_result *result) {
    const char *path = cli_value(call, "fitted");
    cli_output output;
    if (!path)
        return RFY_OK;
    if (!result->determined) {
        cli_complain("%s is not written: the readings do not determine the values", path);
        return RFY_OK;
    }
    rfy_status status = cli_output_open(&output, path);
    if (status != RFY_OK)
        return status;
    return cli_output_close(&output, rfy_write_fitted(output.stream, system, result));
}

static rfy_status run_fit(const cli_call *call) {
    rfy_fit_options options = RFY_FIT_OPTIONS_INIT;
    rfy_system *system = NULL;
    rfy_log *log = NULL;
    rfy_fit_result *result = NULL;
    rfy_problems *problems = rfy_problems_new(call->operand[0]);
    rfy_problems_from(problems, "--free");
    const char **free_paths, **priors, *unit;
    cli_output output = {0};
    options.n_free = values_of(call, "free", &free_paths);
    options.n_prior = values_of(call, "prior", &priors);
    options.free = free_paths;
    options.prior = priors;
    options.gauge = cli_value(call, "gauge");
    options.stop = &cli_stop;
    cli_watch_interrupt();
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK && options.n_free == 0)
        status = cli_misuse(call->command, "--free is missing: say what is unknown, for example "
                                           "--free \"port/leaks/0/rate\"");
    if (status == RFY_OK)
        status = read_noise(call, &options.noise);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    if (status == RFY_OK)
        status = cli_read_log(call, call->operand[1], NULL, 0, &log);
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "report"));
    if (status == RFY_OK) {
        status = rfy_fit(&result, system, log, &options, problems);
        cli_busy_end();
        if (rfy_problems_kept(problems) > 0)
            rfy_write_problems(stderr, problems);
        if (result) {
            rfy_write_options how = cli_write_options(output.stream, unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_fit_json(output.stream, result, &how)
                                     : rfy_write_fit_text(output.stream, result, &how);
            status = cli_output_close(&output, written);
            if (status == RFY_OK)
                status = write_fitted(call, system, result);
            if (status == RFY_OK && !result->determined)
                status = RFY_RUN_FAILED;
        } else {
            cli_output_abandon(&output);
        }
    }
    rfy_fit_free(result);
    rfy_log_free(log);
    rfy_system_free(system);
    rfy_problems_free(problems);
    free(free_paths);
    free(priors);
    return status;
}

static const cli_option options[] = {
    {"free", 0, "PATH", true,
     "A value of the description that is unknown, such as \"port/leaks/0/rate\", \"vane/speed\", "
     "\"bulb/walls/0/scale\", \"port gauge/scale\"; or \"start\": when the run began in the log's "
     "time. May be repeated."},
    {"prior", 0, "PATH=FACTOR", true,
     "What is known of it beforehand: within that factor, 95 % (\"vane/speed=1.3\", \"20 %\"); "
     "\"start=10 s\". Walls have the spread of their material."},
    CLI_OPTION_LOGGED_GAUGE,
    {"noise", 0, "SHARE", false, "Scatter of the readings, such as \"5 %\"; found without it."},
    {"fitted", 'o', "FILE", false,
     "Write the description with the fitted values in place, comments and order kept."},
    {"report", 0, "FILE", false, "Write the answer to FILE instead of standard output."},
    CLI_OPTION_COLUMNS,
    CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_JSON,
    CLI_OPTION_UNIT,
    {0}};

const cli_command cli_fit = {
    "fit",
    "FILE LOG.csv",
    2,
    2,
    "unknowns of the description from a measured curve, with their confidence",
    "Changes the freed values until the run in FILE shows what the log shows, and says how well "
    "they are known, which cannot be told apart and what measurement would tell. Exit code 1 when "
    "the readings do not determine them: then nothing is written with -o.",
    options,
    "  rarefy fit examples/photocell-bulb.json curve.csv --gauge \"port thermal gauge\" --free \\\n"
    "    \"port/leaks/0/rate\" --free \"vane/scale\" -o fitted.json",
    run_fit};
