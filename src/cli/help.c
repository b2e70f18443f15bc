#include <string.h>
#include "common.h"
#include "shells.h"

const cli_exit_meaning cli_exit_meanings[] = {
    {"0", "done"},
    {"1", "the run could not be finished; what is known is printed"},
    {"2", "wrong use of the command"},
    {"3", "the description is wrong"},
    {"4", "reading or writing failed"},
    {"5", "done, but a limit of the procedure was broken"},
    {"130", "interrupted; what is known is printed"},
    {NULL, NULL}};

static void write_overview(FILE *out) {
    fputs("rarefy: how a vacuum system pumps down, before anyone buys or bakes a part\n\n"
          "Use:  rarefy COMMAND [OPTIONS] [FILE]\n\nCommands:\n",
          out);
    for (const cli_command *const *c = cli_commands; *c; c++)
        fprintf(out, "  %-12s %s\n", (*c)->name, (*c)->summary);
    fputs("\n\"rarefy help COMMAND\" shows the options of one.\n\n"
          "The result goes to standard output, everything else to standard error. Exit codes:\n",
          out);
    for (const cli_exit_meaning *e = cli_exit_meanings; e->code; e++)
        fprintf(out, "  %-4s %s\n", e->code, e->meaning);
    fputs("\nExample:\n"
          "  rarefy run examples/photocell-bulb.json --pressure-unit mbar\n\n"
          "Answers are estimates: outgassing data scatter by 3 to 10 times. Local rules, the "
          "makers'\n"
          "manuals and trained people come first.\n",
          out);
}

static rfy_status run_help(const cli_call *call) {
    cli_output output;
    const cli_command *about = NULL;
    const char *shell = cli_value(call, "completions");
    bool manual = cli_has(call, "man");
    if ((shell != NULL) + manual + (call->n_operands == 1) > 1)
        return cli_misuse(call->command, "a command, --man and --completions exclude each other");
    bool known = !shell;
    for (size_t i = 0; !known && cli_shells[i]; i++)
        known = strcmp(shell, cli_shells[i]) == 0;
    if (!known)
        return cli_misuse(call->command, "--completions \"%s\": bash, zsh or fish is allowed",
                          shell);
    if (call->n_operands == 1) {
        about = cli_find_command(call->operand[0]);
        if (!about)
            return RFY_USAGE;
    }
    rfy_status status = cli_output_open(&output, NULL);
    if (status != RFY_OK)
        return status;
    if (about)
        cli_write_help(output.stream, about);
    else if (manual)
        cli_write_manual(output.stream);
    else if (shell)
        cli_write_completions(output.stream, shell);
    else
        write_overview(output.stream);
    return cli_output_close(&output, RFY_OK);
}

static const cli_option options[] = {
    {"man", 0, NULL, false, "Write the manual page rarefy(1)."},
    {"completions", 0, "SHELL", false,
     "Write the completions for bash, zsh or fish; both are made from the same tables as this."},
    {0}};

const cli_command cli_help = {
    "help",
    "[COMMAND]",
    0,
    1,
    "this, or the options of one command",
    "Shows the commands and exit codes, or what one command does and its options.",
    options,
    "  rarefy help run\n"
    "  source <(rarefy help --completions bash)",
    run_help};
