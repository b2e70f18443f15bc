#include <stdlib.h>
#include <string.h>
#include "common.h"

enum { MOST_SYSTEMS = 26 }; /* A to Z */

typedef struct side {
    rfy_system *system;
    char *name;
} side;

static char *joined(const char *a, const char *b) {
    size_t size = strlen(a) + strlen(b) + 3;
    char *text = malloc(size);
    if (text)
        snprintf(text, size, "%s%s%s", a, b[0] ? ", " : "", b);
    return text;
}

static char *trimmed(char *text) {
    while (*text == ' ')
        text++;
    for (size_t n = strlen(text); n > 0 && text[n - 1] == ' '; n--)
        text[n - 1] = '\0';
    return text;
}

/* "a=1; b=2" */
static rfy_status add_group(const cli_call *call, cli_settings *settings, const char *group) {
    char *copy = joined(group, ""), *rest = copy;
    rfy_status status = copy ? RFY_OK : RFY_RUN_FAILED;
    while (status == RFY_OK && rest) {
        char *next = strchr(rest, ';');
        if (next)
            *next++ = '\0';
        status = cli_settings_add(call->command, settings, trimmed(rest));
        rest = next;
    }
    free(copy);
    return status;
}

/* One file: as it is, then once more for each --set. */
static rfy_status read_alternatives(const cli_call *call, side *all, size_t *n) {
    cli_settings none = {0};
    rfy_status status = cli_read_with(call->operand[0], &none, &all[0].system, NULL);
    all[0].name = joined(call->operand[0], "");
    *n = 1;
    for (size_t i = 0; i < call->n_given && status == RFY_OK; i++) {
        if (strcmp(call->given[i].option->name, "set") != 0)
            continue;
        if (*n == MOST_SYSTEMS)
            return cli_misuse(call->command, "more than %d systems at once", MOST_SYSTEMS);
        cli_settings settings = {0};
        status = add_group(call, &settings, call->given[i].value);
        if (status == RFY_OK)
            status = cli_read_with(call->operand[0], &settings, &all[*n].system, NULL);
        all[*n].name = joined(call->operand[0], call->given[i].value);
        ++*n;
        cli_settings_free(&settings);
    }
    if (status == RFY_OK && *n == 1)
        return cli_misuse(call->command,
                          "there is nothing to compare with: a second FILE, or --set "
                          "with one alternative");
    return status;
}

static rfy_status read_files(const cli_call *call, side *all, size_t *n) {
    cli_settings settings = {0};
    rfy_status status = RFY_OK;
    for (size_t i = 0; i < call->n_given && status == RFY_OK; i++)
        if (strcmp(call->given[i].option->name, "set") == 0)
            status = add_group(call, &settings, call->given[i].value);
    for (size_t i = 0; i < call->n_operands && status == RFY_OK; i++) {
        status = cli_read_with(call->operand[i], &settings, &all[i].system, NULL);
        all[i].name = joined(call->operand[i], "");
        *n = i + 1;
    }
    cli_settings_free(&settings);
    return status;
}

static rfy_status run_compare(const cli_call *call) {
    side all[MOST_SYSTEMS] = {{0}};
    size_t n = 0;
    rfy_compare_options options = RFY_COMPARE_OPTIONS_INIT;
    rfy_comparison *result = NULL;
    cli_output output = {0};
    const char *unit;
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status == RFY_OK)
        status = cli_read_tolerance(call, &options.tolerance);
    if (status == RFY_OK)
        status =
            call->n_operands == 1 ? read_alternatives(call, all, &n) : read_files(call, all, &n);
    cli_watch_interrupt();
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    rfy_status code = status;
    if (status == RFY_OK) {
        const rfy_system *system[MOST_SYSTEMS];
        const char *name[MOST_SYSTEMS];
        for (size_t i = 0; i < n; i++) {
            system[i] = all[i].system;
            name[i] = all[i].name ? all[i].name : "?";
        }
        options.stop = &cli_stop;
        status = rfy_compare(&result, system, name, n, &options);
        rfy_write_options how = cli_write_options(output.stream, unit);
        rfy_status written = cli_has(call, "json")
                                 ? rfy_write_comparison_json(output.stream, result, &how)
                                 : rfy_write_comparison_text(output.stream, result, &how);
        code = cli_exit_code(status, cli_output_close(&output, written));
    }
    rfy_comparison_free(result);
    for (size_t i = 0; i < MOST_SYSTEMS; i++) {
        rfy_system_free(all[i].system);
        free(all[i].name);
    }
    return code;
}

static const cli_option options[] = {
    CLI_OPTION_JSON,
    CLI_OPTION_UNIT,
    {"set", 0, "PATH=VALUE", true,
     "With one FILE: an alternative, compared with the file as it is; \"a=1; b=2\" is one with two "
     "changes. With several: a change made to all of them."},
    CLI_OPTION_TOLERANCE,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_compare = {
    "compare",
    "FILE...",
    1,
    MOST_SYSTEMS,
    "two or more systems side by side: times, levels, what the difference comes from",
    "Runs each FILE, or one FILE and an alternative for every --set, and says what each costs or "
    "saves against the first one, and from which pressure on.",
    options,
    "  rarefy compare examples/desiccator-short-hose.json examples/desiccator-long-hose.json\n"
    "  rarefy compare bench.json --set \"stem/0/bore=8 mm\" --set \"vane/speed=6 m3/h\"",
    run_compare};
