#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include "options.h"
#include "busy.h"

enum { LONGEST_NAME = 40 };

void cli_complain(const char *format, ...) {
    va_list args;
    cli_busy_end();
    va_start(args, format);
    fputs("rarefy: ", stderr);
    vfprintf(stderr, format, args);
    putc('\n', stderr);
    va_end(args);
}

rfy_status cli_misuse(const cli_command *command, const char *format, ...) {
    va_list args;
    va_start(args, format);
    fprintf(stderr, "rarefy%s%s: ", command ? " " : "", command ? command->name : "");
    vfprintf(stderr, format, args);
    va_end(args);
    fprintf(stderr, "\nSee: rarefy help%s%s\n", command ? " " : "", command ? command->name : "");
    return RFY_USAGE;
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

/* Edits that turn a into b: a letter changed, added, left out, or two neighbours swapped (optimal
 * string alignment, after Damerau 1964). */
static size_t distance(const char *a, const char *b) {
    size_t rows[3][LONGEST_NAME + 1], n = strlen(b);
    size_t *before = rows[0], *last = rows[1], *row = rows[2];
    for (size_t j = 0; j <= n; j++)
        last[j] = before[j] = j;
    for (size_t i = 1; a[i - 1]; i++) {
        row[0] = i;
        for (size_t j = 1; j <= n; j++) {
            row[j] = least(last[j - 1] + (a[i - 1] != b[j - 1]), 1 + least(last[j], row[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], before[j - 2] + 1);
        }
        size_t *spare = before;
        before = last;
        last = row;
        row = spare;
    }
    return last[n];
}

const char *cli_nearest(const char *text, const char *const *names, size_t n) {
    const char *best = NULL;
    size_t least_edits = 0, length = strlen(text);
    if (length == 0 || length > LONGEST_NAME)
        return NULL;
    for (size_t i = 0; i < n; i++) {
        if (strlen(names[i]) > LONGEST_NAME)
            continue;
        size_t edits = distance(text, names[i]);
        /* A beginning of three letters or more counts as near too: "press" for "pressure-unit". */
        if (length >= 3 && strncmp(text, names[i], length) == 0)
            edits = 1;
        if (edits <= (length + 2) / 3 && (!best || edits < least_edits)) {
            best = names[i];
            least_edits = edits;
        }
    }
    return best;
}

static size_t count_options(const cli_command *command) {
    size_t n = 0;
    while (command->option[n].name)
        n++;
    return n;
}

static const cli_option *find_long(const cli_command *command, const char *name, size_t length) {
    for (const cli_option *o = command->option; o->name; o++)
        if (strlen(o->name) == length && strncmp(o->name, name, length) == 0)
            return o;
    return NULL;
}

static const cli_option *find_letter(const cli_command *command, char letter) {
    for (const cli_option *o = command->option; o->name; o++)
        if (o->letter && o->letter == letter)
            return o;
    return NULL;
}

static rfy_status unknown_option(const cli_command *command, const char *name, size_t length) {
    size_t n = count_options(command);
    const char **names = calloc(n + 1, sizeof *names);
    char text[LONGEST_NAME + 1] = "";
    const char *near = NULL;
    if (names && length <= LONGEST_NAME) {
        memcpy(text, name, length);
        for (size_t i = 0; i < n; i++)
            names[i] = command->option[i].name;
        names[n] = "help";
        near = cli_nearest(text, names, n + 1);
    }
    free(names);
    if (near)
        return cli_misuse(command, "there is no option --%.*s; did you mean --%s?", (int)length,
                          name, near);
    return cli_misuse(command, "there is no option --%.*s", (int)length, name);
}

static rfy_status keep(cli_call *call, const cli_option *option, const char *value) {
    if (!option->repeats)
        for (size_t i = 0; i < call->n_given; i++)
            if (call->given[i].option == option)
                return cli_misuse(call->command, "--%s stands twice", option->name);
    call->given[call->n_given].option = option;
    call->given[call->n_given++].value = value;
    return RFY_OK;
}

/* The value of an option that needs one: what is glued to it, or the next argument. */
static rfy_status take_value(cli_call *call, const cli_option *option, const char *glued, int argc,
                             char **argv, int *i) {
    if (!glued && *i + 1 < argc && strncmp(argv[*i + 1], "--", 2) != 0)
        glued = argv[++*i];
    if (!glued)
        return cli_misuse(call->command, "--%s needs a value: --%s %s", option->name, option->name,
                          option->argument);
    return keep(call, option, glued);
}

static rfy_status parse_long(cli_call *call, int argc, char **argv, int *i) {
    const char *name = argv[*i] + 2;
    size_t length = strcspn(name, "=");
    const char *glued = name[length] == '=' ? name + length + 1 : NULL;
    const cli_option *option = find_long(call->command, name, length);
    if (!option && length == 4 && strncmp(name, "help", 4) == 0 && !glued) {
        call->help = true;
        return RFY_OK;
    }
    if (!option)
        return unknown_option(call->command, name, length);
    if (option->argument)
        return take_value(call, option, glued, argc, argv, i);
    if (glued)
        return cli_misuse(call->command, "--%s takes no value", option->name);
    return keep(call, option, "");
}

static rfy_status parse_letter(cli_call *call, int argc, char **argv, int *i) {
    const char *text = argv[*i];
    const cli_option *option = find_letter(call->command, text[1]);
    if (!option && strcmp(text, "-h") == 0) {
        call->help = true;
        return RFY_OK;
    }
    if (!option)
        return cli_misuse(call->command, "there is no option %s", text);
    if (option->argument)
        return take_value(call, option, text[2] ? text + 2 : NULL, argc, argv, i);
    if (text[2])
        return cli_misuse(call->command, "there is no option %s", text);
    return keep(call, option, "");
}

rfy_status cli_parse(cli_call *call, const cli_command *command, int argc, char **argv) {
    *call = (cli_call){.command = command};
    call->operand = calloc((size_t)argc + 1, sizeof *call->operand);
    call->given = calloc((size_t)argc + 1, sizeof *call->given);
    if (!call->operand || !call->given) {
        cli_complain("out of memory");
        return RFY_RUN_FAILED;
    }
    bool options_over = false;
    for (int i = 0; i < argc; i++) {
        rfy_status status = RFY_OK;
        if (options_over || argv[i][0] != '-' || argv[i][1] == '\0')
            call->operand[call->n_operands++] = argv[i];
        else if (strcmp(argv[i], "--") == 0)
            options_over = true;
        else if (argv[i][1] == '-')
            status = parse_long(call, argc, argv, &i);
        else
            status = parse_letter(call, argc, argv, &i);
        if (status != RFY_OK)
            return status;
    }
    if (call->help)
        return RFY_OK;
    if (call->n_operands < command->fewest)
        return cli_misuse(command, "%s is missing", command->operands);
    if (call->n_operands > command->most)
        return cli_misuse(command, "\"%s\" is one too many", call->operand[command->most]);
    return RFY_OK;
}

void cli_call_free(cli_call *call) {
    free(call->operand);
    free(call->given);
    *call = (cli_call){0};
}

const char *cli_value(const cli_call *call, const char *name) {
    for (size_t i = 0; i < call->n_given; i++)
        if (strcmp(call->given[i].option->name, name) == 0)
            return call->given[i].value;
    return NULL;
}

bool cli_has(const cli_call *call, const char *name) {
    return cli_value(call, name) != NULL;
}

/* ---- help ---- */

/* Bytes up to the next blank that does not stand between double quotes. */
static size_t word_length(const char *text) {
    bool quoted = false;
    size_t n = 0;
    for (; text[n] && (quoted || text[n] != ' '); n++)
        quoted = quoted != (text[n] == '"');
    return n;
}

/* A text wrapped at 80 columns, from column `at` on. */
static void wrap(FILE *out, const char *text, size_t at) {
    size_t column = at;
    while (*text) {
        size_t n = word_length(text);
        if (column > at && column + 1 + n > 80) {
            fprintf(out, "\n%*s", (int)at, "");
            column = at;
        } else if (column > at) {
            putc(' ', out);
            column++;
        }
        fprintf(out, "%.*s", (int)n, text);
        column += n;
        text += n;
        text += strspn(text, " ");
    }
    putc('\n', out);
}

static void write_option(FILE *out, const cli_option *o) {
    char head[80];
    snprintf(head, sizeof head, "  %s%c%s--%s%s%s", o->letter ? "-" : "",
             o->letter ? o->letter : ' ', o->letter ? ", " : "   ", o->name, o->argument ? " " : "",
             o->argument ? o->argument : "");
    fprintf(out, "%-30s", head);
    if (strlen(head) > 29)
        fprintf(out, "\n%30s", "");
    wrap(out, o->help, 30);
}

void cli_write_help(FILE *out, const cli_command *command) {
    static const cli_option help = {"help", 'h', NULL, false, "Show this."};
    fprintf(out, "rarefy %s: %s\n\n", command->name, command->summary);
    fprintf(out, "Use:  rarefy %s%s%s%s\n\n", command->name,
            command->option[0].name ? " [OPTIONS]" : "", command->operands[0] ? " " : "",
            command->operands);
    wrap(out, command->about, 0);
    fputs("\nOptions:\n", out);
    for (const cli_option *o = command->option; o->name; o++)
        write_option(out, o);
    write_option(out, &help);
    if (command->example)
        fprintf(out, "\nExample:\n%s\n", command->example);
}
