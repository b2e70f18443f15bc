#include <stdlib.h>
#include <string.h>
#include "common.h"

static rfy_status read_options(const cli_call *call, const char **vary, rfy_size_options *o) {
    *o = (rfy_size_options)RFY_SIZE_OPTIONS_INIT;
    for (size_t i = 0; i < call->n_given; i++)
        if (strcmp(call->given[i].option->name, "vary") == 0)
            vary[o->n_vary++] = call->given[i].value;
    o->vary = vary;
    o->reach = cli_value(call, "reach");
    o->keep = cli_value(call, "keep");
    o->fault = cli_value(call, "fault");
    o->from = cli_value(call, "from");
    o->to = cli_value(call, "to");
    o->stop = &cli_stop;
    o->ask = cli_has(call, "smallest") - cli_has(call, "largest");
    if (cli_has(call, "smallest") && cli_has(call, "largest"))
        return cli_misuse(call->command, "--smallest and --largest exclude each other");
    if (cli_has(call, "within") && cli_has(call, "for"))
        return cli_misuse(call->command, "--within goes with --reach, --for with --keep");
    if (o->reach && cli_has(call, "for"))
        return cli_misuse(call->command, "--for goes with --keep; write --within \"20 min\"");
    if (o->keep && cli_has(call, "within"))
        return cli_misuse(call->command, "--within goes with --reach; write --for \"20 min\"");
    rfy_status status = cli_one_time(call, "within", "20 min", &o->within);
    if (status == RFY_OK)
        status = cli_one_time(call, "for", "20 min", &o->within);
    if (status == RFY_OK)
        status = cli_read_tolerance(call, &o->tolerance);
    return status;
}

static rfy_status run_size(const cli_call *call) {
    const char **vary = calloc(call->n_given + 1, sizeof *vary), *unit;
    rfy_size_options options;
    rfy_system *system = NULL;
    rfy_size_result *result = NULL;
    cli_output output = {0};
    rfy_problems *problems = rfy_problems_new(call->operand[0]);
    rfy_status status = vary ? cli_pressure_unit(call, &unit) : RFY_RUN_FAILED;
    if (status == RFY_OK)
        status = read_options(call, vary, &options);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &system, NULL);
    cli_watch_interrupt();
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    rfy_status code = status;
    if (status == RFY_OK) {
        status = rfy_size(&result, system, &options, problems);
        cli_tell_problems(NULL, problems);
        if (result) {
            rfy_write_options how = cli_write_options(output.stream, unit);
            rfy_status written = cli_has(call, "json")
                                     ? rfy_write_size_json(output.stream, result, &how)
                                     : rfy_write_size_text(output.stream, result, &how);
            if (cli_has(call, "json") && result->trouble)
                cli_complain("%s", result->trouble);
            code = cli_exit_code(status, cli_output_close(&output, written));
        } else {
            cli_output_abandon(&output);
            code = status;
        }
    }
    rfy_problems_free(problems);
    rfy_size_free(result);
    rfy_system_free(system);
    free(vary);
    return code;
}

static const cli_option options[] = {
    {"vary", 0, "PATH", true,
     "What may be changed: the path of one value, as in --set (\"foreline hose/0/bore\"). Given "
     "more than once, all of them get the same value."},
    {"reach", 0, "CONDITION", false,
     "What is wanted: a condition as in a procedure (\"bulb < 10 Pa\", \"port < 1 Pa and turbo > "
     "90 "
     "%\"), or a steady pressure (\"ultimate bulb < 1e-4 Pa\")."},
    {"within", 0, "TIME", false,
     "With --reach: within this time (\"20 min\"); without it, within the run."},
    {"keep", 0, "CONDITION", false,
     "In place of --reach: a pressure that must hold on after a fault (\"backing tank < 40 Pa\")."},
    {"for", 0, "TIME", false, "With --keep: at least so long (\"20 min\")."},
    {"fault", 0, "TEXT", false, "With --keep: what goes wrong, and when (\"stop vane at 1 h\")."},
    {"smallest", 0, NULL, false,
     "Ask for the smallest that is enough; without it and --largest, by which way helps."},
    {"largest", 0, NULL, false, "Ask for the largest that is enough."},
    {"from", 0, "SIZE", false, "Look for no smaller one; a hundredth of the description's."},
    {"to", 0, "SIZE", false, "Look for no larger one; a hundred times the description's."},
    CLI_OPTION_JSON,
    CLI_OPTION_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_TOLERANCE,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_size = {
    "size",
    "FILE",
    1,
    1,
    "the smallest bore, longest hose, smallest pump, largest leak that is enough",
    "Changes one value of FILE until what is wanted is just met, and tells the next standard bore "
    "with its margin. Whether the smallest or the largest value is asked for follows from which "
    "way "
    "helps. Where no value is enough, it says what stands in the way. At most 12 full solves.",
    options,
    "  rarefy size examples/photocell-bulb.json --vary stem/0/bore \\\n"
    "      --reach \"bulb < 1e-3 Pa\" --within \"20 min\"\n"
    "  rarefy size bench.json --vary \"backing tank/volume\" \\\n"
    "      --keep \"backing tank < 40 Pa\" --for \"10 min\" --fault \"stop vane at 2 h\"",
    run_size};
