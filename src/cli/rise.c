#include <math.h>
#include <string.h>
#include "logs.h"

/* --volume, or the chamber of a description. */
static rfy_status find_volume(const cli_call *call, double *volume) {
    const char *file = cli_value(call, "in"), *chamber = cli_value(call, "chamber");
    if (cli_has(call, "volume") == (file != NULL))
        return cli_misuse(call->command,
                          "the volume that was shut off is needed: --volume \"0.6 L\", "
                          "or --in FILE --chamber NAME");
    if (!file) {
        rfy_status status = cli_quantity(call, "volume", "volume", volume);
        if (status == RFY_OK && !(*volume > 0))
            return cli_misuse(call->command, "--volume: a volume above zero");
        return status;
    }
    if (!chamber)
        return cli_misuse(call->command, "--in needs --chamber NAME");
    rfy_system *system;
    cli_call as = *call;
    as.operand = &file;
    rfy_status status = cli_read_system(&as, 0, &system, NULL);
    if (status != RFY_OK)
        return status;
    *volume = rfy_system_volume(system, chamber);
    rfy_system_free(system);
    if (isnan(*volume)) {
        cli_complain("%s: there is no chamber \"%s\"", file, chamber);
        return RFY_BAD_INPUT;
    }
    return RFY_OK;
}

/* --temperature is one temperature, or names a column of the log. */
static rfy_status read_options(const cli_call *call, rfy_rise_options *o, const char **column) {
    char message[480];
    const char *temperature = cli_value(call, "temperature");
    *column = NULL;
    rfy_status status = find_volume(call, &o->volume);
    if (status == RFY_OK && temperature &&
        rfy_read_quantity(temperature, "temperature", &o->temperature, message) != RFY_OK)
        *column = temperature;
    if (status == RFY_OK)
        status = cli_quantity(call, "drift", "heating rate", &o->drift);
    if (status == RFY_OK)
        status = cli_quantity(call, "from", "time", &o->from);
    if (status == RFY_OK)
        status = cli_quantity(call, "to", "time", &o->to);
    if (status == RFY_OK && *column && cli_has(call, "drift"))
        return cli_misuse(call->command, "--drift and a column of temperatures exclude each other");
    o->gauge = cli_value(call, "gauge");
    o->gas = cli_value(call, "gas");
    return status;
}

static rfy_status find(const char *path, const rfy_log *log, const rfy_rise_options *options,
                       rfy_rise_result **result) {
    rfy_problems *problems = rfy_problems_new(path);
    rfy_status status = rfy_rise(result, log, options, problems);
    if (rfy_problems_kept(problems) > 0)
        rfy_write_problems(stderr, problems);
    rfy_problems_free(problems);
    return status;
}

static rfy_status run_rise(const cli_call *call) {
    enum { MOST = 4000 };
    rfy_rise_options options = RFY_RISE_OPTIONS_INIT;
    rfy_log *log[2] = {NULL, NULL};
    rfy_rise_result *result[2] = {NULL, NULL};
    const char *unit, *column;
    cli_output output = {0};
    cli_watch_interrupt();
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = read_options(call, &options, &column);
    for (size_t i = 0; i < call->n_operands && status == RFY_OK; i++)
        status = cli_read_log(call, call->operand[i], column, MOST, &log[i]);
    for (size_t i = 0; i < call->n_operands && status == RFY_OK; i++)
        status = find(call->operand[i], log[i], &options, &result[i]);
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    if (status == RFY_OK) {
        rfy_write_options how = cli_write_options(output.stream, unit);
        rfy_status written = cli_has(call, "json")
                                 ? rfy_write_rise_json(output.stream, result[0], result[1], &how)
                                 : rfy_write_rise_text(output.stream, result[0], result[1], &how);
        status = cli_output_close(&output, written);
    }
    for (int i = 0; i < 2; i++) {
        rfy_rise_free(result[i]);
        rfy_log_free(log[i]);
    }
    return status;
}

static const cli_option options[] = {
    {"volume", 0, "VOLUME", false, "Volume that was shut off, for example \"0.6 L\"."},
    {"in", 0, "FILE", false, "Take the volume from a description instead; needs --chamber."},
    {"chamber", 0, "NAME", false, "The chamber of that description, with its share of the tubing."},
    {"gauge", 0, "KIND", false,
     "thermal, \"hot cathode\", \"cold cathode\" or capacitance; without it readings are taken as "
     "true pressures."},
    {"gas", 0, "GAS", false, "What the walls give off; H2O without it. The leak is air."},
    {"temperature", 0, "WHAT", false,
     "Temperature of the gas (\"25 degC\"), or the log's column of temperatures, by which "
     "pressures "
     "are then corrected."},
    {"drift", 0, "RATE", false, "How fast the gas warmed, for example \"0.5 K/h\"; corrected for."},
    {"from", 0, "TIME", false, "Leave out what stands before this time in the log."},
    {"to", 0, "TIME", false, "Leave out what stands after it."},
    CLI_OPTION_COLUMNS,
    CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_JSON,
    CLI_OPTION_UNIT,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_rise = {
    "rise",
    "LOG.csv [AFTER.csv]",
    1,
    2,
    "a rate-of-rise test: leak, outgassing or both, and how large",
    "Reads how the pressure rose in a volume that was shut off from its pump, and tells a leak (a "
    "straight line) from outgassing (which levels off), with 95 % intervals; or that the record "
    "cannot tell, and how long one would have to be. A second log, taken after a leak hunt, is "
    "compared with the first. LOG.csv may be - for standard input.",
    options,
    "  rarefy rise examples/port-isolated.csv --volume \"0.6 L\" --gauge thermal\n"
    "  rarefy rise before.csv after.csv --in bench.json --chamber port --pressure-unit mbar",
    run_rise};
