#include <string.h>
#include "common.h"

static rfy_status write_overview(void) {
    puts("rarefy: how a vacuum system pumps down, before anyone buys or bakes a part\n");
    puts("Use:  rarefy COMMAND [OPTIONS] [FILE]\n\nCommands:");
    for (const cli_command *const *c = cli_commands; *c; c++)
        printf("  %-12s %s\n", (*c)->name, (*c)->summary);
    puts("\n\"rarefy help COMMAND\" shows the options of one.\n\n"
         "The result goes to standard output, everything else to standard error. Exit codes:\n"
         "  0    done\n"
         "  1    the run could not be finished; what is known is printed\n"
         "  2    wrong use of the command\n"
         "  3    the description is wrong\n"
         "  4    reading or writing failed\n"
         "  5    done, but a limit of the procedure was broken\n"
         "  130  interrupted; what is known is printed\n\n"
         "Example:\n"
         "  rarefy run examples/photocell-bulb.json --pressure-unit mbar\n\n"
         "Answers are estimates: outgassing data scatter by 3 to 10 times. Local rules, the "
         "makers'\n"
         "manuals and trained people come first.");
    return RFY_OK;
}

static rfy_status run_help(const cli_call *call) {
    cli_output output;
    rfy_status status = RFY_OK;
    const cli_command *about = NULL;
    if (call->n_operands == 1) {
        about = cli_find_command(call->operand[0]);
        if (!about)
            return RFY_USAGE;
    }
    if (about)
        cli_write_help(stdout, about);
    else
        status = write_overview();
    rfy_status opened = cli_output_open(&output, NULL);
    return opened == RFY_OK ? cli_output_close(&output, status) : opened;
}

static const cli_option options[] = {{0}};

const cli_command cli_help = {
    "help",
    "[COMMAND]",
    0,
    1,
    "this, or the options of one command",
    "Shows the commands and exit codes, or what one command does and its options.",
    options,
    "  rarefy help run",
    run_help};
