/* The options are the command's own and, after them, the keys of every kind of piece. */
#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include "common.h"

enum { MOST_OPTIONS = 96 };

static cli_option options[MOST_OPTIONS] = {
    {"gas", 0, "GAS", false,
     "Gas (rarefy list gases), or mole fractions such as N2=0.8,O2=0.2; without it nitrogen."},
    {"from", 0, "PRESSURE", false, "Lowest pressure before the piece; without it 1e-4 Pa."},
    {"to", 0, "PRESSURE", false, "Highest one; without it 1e5 Pa."},
    {"pump", 0, "SPEED", false,
     "A pump behind the piece, as \"3 m3/h\": what is left of its speed, and the flow it draws."},
    {"drop", 0, "SHARE", false,
     "Throughput when that part of the pressure is lost over the piece, as \"10 %\"; without it "
     "into a "
     "vacuum."},
    {"downstream", 0, "PRESSURE", false, "Throughput against this pressure behind the piece."},
    {"temperature", 0, "TEMPERATURE", false, "Of gas and piece; without it 20 degC."},
    CLI_OPTION_UNIT,
    CLI_OPTION_JSON,
    CLI_OPTION_OUTPUT,
};

/* Options from here on are keys of pieces; what they point to lives as long as the program. */
static size_t first_key;
static const char *key_of[MOST_OPTIONS];

static size_t count_options(void) {
    size_t n = 0;
    while (options[n].name)
        n++;
    return n;
}

static char *joined(const char *a, const char *b, const char *c, const char *d) {
    size_t size = strlen(a) + strlen(b) + strlen(c) + strlen(d) + 1;
    char *text = malloc(size);
    if (text)
        snprintf(text, size, "%s%s%s%s", a, b, c, d);
    return text;
}

/* "length" takes a LENGTH. */
static char *shouted(const char *text) {
    char *copy = joined(text, "", "", "");
    for (char *c = copy; c && *c; c++)
        *c = (char)(*c == ' ' ? '-' : toupper((unsigned char)*c));
    return copy;
}

static char *dashed(const char *text) {
    char *copy = joined(text, "", "", "");
    for (char *c = copy; c && *c; c++)
        *c = (char)(*c == '_' ? '-' : *c);
    return copy;
}

/* "moves_in" is the option --moves-in; the "from" of a reducer, since --from is taken,
 * --reducer-from. */
static char *option_name(const char *kind, const char *key) {
    char *name = dashed(key);
    for (size_t i = 0; name && i < first_key; i++)
        if (strcmp(options[i].name, name) == 0) {
            free(name);
            return joined(kind, "-", key, "");
        }
    return name;
}

void cli_conductance_prepare(void) {
    rfy_piece_key key;
    size_t n = first_key = count_options();
    for (size_t i = 0; rfy_piece_key_at(i, &key); i++) {
        char *name = option_name(key.kind, key.key);
        size_t at = 0;
        while (name && at < n && strcmp(options[at].name, name) != 0)
            at++;
        if (name && at == n && n + 1 < MOST_OPTIONS) {
            char *help = joined(key.kind, ": ", key.help, ".");
            char *takes = shouted(key.takes);
            if (help && takes) {
                key_of[n] = key.key;
                options[n++] = (cli_option){name, 0, takes, false, help};
            }
            continue;
        }
        if (at >= first_key && at < n) { /* one more kind has it */
            char *colon = strchr(options[at].help, ':');
            char *rest = joined(colon ? colon : "", "", "", "");
            if (colon && rest) {
                *colon = '\0';
                char *help = joined(options[at].help, ", ", key.kind, rest);
                *colon = ':';
                if (help) {
                    free((char *)options[at].help);
                    options[at].help = help;
                }
            }
            free(rest);
        }
        free(name);
    }
}

/* The operands are one text: "tube 16 mm x 1 m" needs no quotes. */
static char *join_operands(const cli_call *call) {
    size_t size = 1;
    for (size_t i = 0; i < call->n_operands; i++)
        size += strlen(call->operand[i]) + 1;
    char *text = calloc(size, 1);
    for (size_t i = 0; text && i < call->n_operands; i++) {
        strcat(text, i ? " " : "");
        strcat(text, call->operand[i]);
    }
    return text;
}

/* The keys among what was given. */
static size_t keys_given(const cli_call *call, rfy_setting *setting) {
    size_t n = 0;
    for (size_t i = 0; i < call->n_given; i++) {
        size_t at = (size_t)(call->given[i].option - options);
        if (at >= first_key)
            setting[n++] = (rfy_setting){key_of[at], call->given[i].value};
    }
    return n;
}

static bool is_option(const char *name) {
    for (const cli_option *o = options; o->name; o++)
        if (strcmp(o->name, name) == 0)
            return true;
    return false;
}

/* The path "tube/bore" or "pump" becomes the option's name. */
static void complain(const rfy_problems *problems) {
    for (size_t i = 0; i < rfy_problems_kept(problems); i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        const char *slash = strchr(p->path, '/');
        char *kind = joined(p->path, "", "", ""), *name;
        if (kind && slash)
            kind[slash - p->path] = '\0';
        name = kind && slash ? option_name(kind, slash + 1) : dashed(p->path);
        fprintf(stderr, "rarefy conductance: %s%s%s%s", name && is_option(name) ? "--" : "",
                name ? name : "", name && *name ? ": " : "", p->what);
        if (p->allowed)
            fprintf(stderr, "; allowed: %s", p->allowed);
        if (p->hint)
            fprintf(stderr, "; %s", p->hint);
        putc('\n', stderr);
        free(name);
        free(kind);
    }
}

static rfy_status run_conductance(const cli_call *call) {
    const char *unit;
    rfy_status status = cli_pressure_unit(call, &unit);
    if (status != RFY_OK)
        return status;
    const rfy_conductance_options asked = {.gas = cli_value(call, "gas"),
                                           .temperature = cli_value(call, "temperature"),
                                           .from = cli_value(call, "from"),
                                           .to = cli_value(call, "to"),
                                           .drop = cli_value(call, "drop"),
                                           .downstream = cli_value(call, "downstream"),
                                           .pump = cli_value(call, "pump"),
                                           .pressure_unit = unit};
    char *piece = join_operands(call);
    rfy_setting *setting = calloc(call->n_given + 1, sizeof *setting);
    rfy_problems *problems = rfy_problems_new("rarefy conductance");
    rfy_conductance_result *result = NULL;
    if (piece && setting && problems) {
        status = rfy_conductance_find(&result, piece, setting, keys_given(call, setting), &asked,
                                      problems);
        complain(problems);
    } else {
        cli_complain("out of memory");
        status = RFY_RUN_FAILED;
    }
    if (status == RFY_USAGE)
        fprintf(stderr, "See: rarefy help conductance, rarefy list pieces\n");
    cli_output output;
    if (status == RFY_OK)
        status = cli_output_open(&output, cli_value(call, "output"));
    if (status == RFY_OK) {
        rfy_write_options how = cli_write_options(output.stream, unit);
        rfy_status written = cli_has(call, "json")
                                 ? rfy_write_conductance_json(output.stream, result, &how)
                                 : rfy_write_conductance_text(output.stream, result, &how);
        status = cli_output_close(&output, written);
    }
    rfy_conductance_free(result);
    rfy_problems_free(problems);
    free(setting);
    free(piece);
    return status;
}

const cli_command cli_conductance = {
    "conductance",
    "PIECE",
    1,
    24,
    "one piece over pressure and gas, without a description",
    "Shows what one piece of tubing passes between two open chambers, without a description. PIECE "
    "is a kind "
    "with its measures as options, or its short form: \"tube 16 mm x 1 m\". Lines stand at whole "
    "decades "
    "of pressure; with --from and --to equal there is one. Of the options, those below --output "
    "belong to "
    "the kinds of piece named beside them; \"rarefy list pieces\" tells more of each. Exit code 2: "
    "the piece or an "
    "option is not as it must be; 3: a value cannot be.",
    options,
    "  rarefy conductance tube --bore \"16 mm\" --length \"1 m\" --pump \"5 m3/h\" --pressure-unit "
    "mbar\n"
    "  rarefy conductance \"orifice 1 mm\" --gas Ar --from \"1e-2 Pa\" --to \"1e3 Pa\" --json",
    run_conductance};
