/* rarefy: finds the command, hands it its arguments, gives its exit code. The locale stays "C":
 * numbers are read and written with a point everywhere. */
#include <string.h>
#include <gsl/gsl_errno.h>
#include "busy.h"
#include "common.h"

/* clang-format off */
const cli_command *const cli_commands[] = {
    &cli_run,
    &cli_check,
    &cli_protect,
    &cli_ultimate,
    &cli_compare,
    &cli_size,
    &cli_sweep,
    &cli_shelf,
    &cli_rise,
    &cli_fit,
    &cli_diagnose,
    &cli_conductance,
    &cli_plot,
    &cli_report,
    &cli_list,
    &cli_schema,
    &cli_help,
    &cli_version,
    NULL};
/* clang-format on */

const cli_command *cli_find_command(const char *name) {
    const char *names[sizeof cli_commands / sizeof cli_commands[0]];
    size_t n = 0;
    for (; cli_commands[n]; n++) {
        if (strcmp(cli_commands[n]->name, name) == 0)
            return cli_commands[n];
        names[n] = cli_commands[n]->name;
    }
    const char *near = cli_nearest(name, names, n);
    if (near)
        cli_misuse(NULL, "there is no command \"%s\"; did you mean %s?", name, near);
    else
        cli_misuse(NULL, "there is no command \"%s\"", name);
    return NULL;
}

static void write_short_help(void) {
    fputs("Use:  rarefy COMMAND [OPTIONS] [FILE]\nCommands: ", stderr);
    for (size_t i = 0; cli_commands[i]; i++)
        fprintf(stderr, "%s%s", i ? ", " : "", cli_commands[i]->name);
    fputs(".\nrarefy help tells more.\n", stderr);
}

int main(int argc, char **argv) {
    gsl_set_error_handler_off();
    cli_watch_signals();
    cli_conductance_prepare();
    if (argc < 2) {
        write_short_help();
        return RFY_USAGE;
    }
    const char *name = argv[1];
    if (strcmp(name, "--help") == 0 || strcmp(name, "-h") == 0)
        name = "help";
    else if (strcmp(name, "--version") == 0 || strcmp(name, "-V") == 0)
        name = "version";
    else if (name[0] == '-') {
        cli_misuse(NULL, "a command is expected before %s", name);
        return RFY_USAGE;
    }
    const cli_command *command = cli_find_command(name);
    if (!command)
        return RFY_USAGE;
    cli_call call;
    rfy_status code = cli_parse(&call, command, argc - 2, argv + 2);
    if (code == RFY_OK && call.help) {
        cli_output output;
        cli_write_help(stdout, command);
        code = cli_output_open(&output, NULL);
        if (code == RFY_OK)
            code = cli_output_close(&output, RFY_OK);
    } else if (code == RFY_OK) {
        code = command->run(&call);
    }
    cli_call_free(&call);
    cli_busy_end();
    return (int)code;
}
