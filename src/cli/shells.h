/* The manual page and the completions of shells, made from the tables of commands and options. */
#ifndef RFY_CLI_SHELLS_H
#define RFY_CLI_SHELLS_H

#include "options.h"

/* rarefy(1) in the language of man(7). */
void cli_write_manual(FILE *out);

/* "bash", "zsh" or "fish"; NULL-ended. */
extern const char *const cli_shells[];
/* False for another shell. */
bool cli_write_completions(FILE *out, const char *shell);

/* Exit codes, one text each: "0" and "done". NULL-ended. */
typedef struct cli_exit_meaning {
    const char *code, *meaning;
} cli_exit_meaning;
extern const cli_exit_meaning cli_exit_meanings[];

#endif
