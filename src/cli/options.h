/* Command lines: each command has one table of options, which drives parsing, help and suggestions.
 */
#ifndef RFY_CLI_OPTIONS_H
#define RFY_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "rarefy/rarefy.h"

typedef struct cli_option {
    const char *name;     /* "--at" without the dashes */
    char letter;          /* 'o' for "-o", or 0 */
    const char *argument; /* "TIMES", or NULL for a switch */
    bool repeats;         /* may be given more than once */
    const char *help;     /* one sentence */
} cli_option;

struct cli_call;

typedef struct cli_command {
    const char *name;
    const char *operands;     /* "FILE", for the usage line; "" for none */
    size_t fewest, most;      /* operands */
    const char *summary;      /* one line */
    const char *about;        /* a paragraph, one line; wrapped when shown */
    const cli_option *option; /* ends with a NULL name; every command has --help besides */
    const char *example;      /* one or more lines */
    rfy_status (*run)(const struct cli_call *call); /* gives the exit code */
} cli_command;

/* What was given: operands in order, options in order with their values. */
typedef struct cli_call {
    const cli_command *command;
    const char **operand;
    size_t n_operands;
    struct cli_given {
        const cli_option *option;
        const char *value; /* "" for a switch */
    } * given;
    size_t n_given;
    bool help; /* --help or -h was among them */
} cli_call;

/* All commands, ending with NULL. */
extern const cli_command *const cli_commands[];
const cli_command *cli_find_command(const char *name);

/* Takes the arguments after the command's name. On RFY_USAGE a message stands on stderr. */
rfy_status cli_parse(cli_call *call, const cli_command *command, int argc, char **argv);
void cli_call_free(cli_call *call);

/* Value of an option, or NULL when it was not given. Names must be in the command's table. */
const char *cli_value(const cli_call *call, const char *name);
bool cli_has(const cli_call *call, const char *name);

/* The name nearest to `text` by single-character edits, or NULL when none is near. */
const char *cli_nearest(const char *text, const char *const *names, size_t n);

void cli_write_help(FILE *out, const cli_command *command);
/* "rarefy: …" on stderr. */
void cli_complain(const char *format, ...) __attribute__((format(printf, 1, 2)));
/* The same, and where to find help; gives RFY_USAGE. */
rfy_status cli_misuse(const cli_command *command, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
