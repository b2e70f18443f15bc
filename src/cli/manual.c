#include <string.h>
#include "shells.h"

/* Text for man(7): its own signs are taken for themselves. */
static void put(FILE *out, const char *text) {
    bool begins = true;
    for (const char *c = text; *c; c++) {
        if (begins && (*c == '.' || *c == '\''))
            fputs("\\&", out);
        if (*c == '\\')
            fputs("\\e", out);
        else if (*c == '-')
            fputs("\\-", out);
        else
            putc(*c, out);
        begins = *c == '\n';
    }
}

static void put_option(FILE *out, const cli_option *o) {
    fputs(".TP\n", out);
    if (o->letter)
        fprintf(out, "\\fB\\-%c\\fR, ", o->letter);
    fputs("\\fB\\-\\-", out);
    put(out, o->name);
    fputs("\\fR", out);
    if (o->argument) {
        fputs(" \\fI", out);
        put(out, o->argument);
        fputs("\\fR", out);
    }
    putc('\n', out);
    put(out, o->help);
    putc('\n', out);
}

static void put_command(FILE *out, const cli_command *command) {
    static const cli_option help = {"help", 'h', NULL, false, "Show this."};
    fprintf(out, ".SS rarefy %s%s%s%s\n", command->name,
            command->option[0].name ? " [OPTIONS]" : "", *command->operands ? " " : "",
            command->operands);
    put(out, command->about);
    putc('\n', out);
    for (const cli_option *o = command->option; o->name; o++)
        put_option(out, o);
    put_option(out, &help);
    if (command->example) {
        fputs(".PP\nExample:\n.PP\n.nf\n", out);
        put(out, command->example);
        fputs("\n.fi\n", out);
    }
}

void cli_write_manual(FILE *out) {
    fprintf(out,
            ".\\\" Made by rarefy help --man.\n.TH RAREFY 1 \"\" \"rarefy %s\" \"User "
            "commands\"\n.SH NAME\nrarefy \\- how a vacuum system pumps down, before anyone "
            "buys or bakes a part\n.SH SYNOPSIS\n.B rarefy\n\\fICOMMAND\\fR [\\fIOPTIONS\\fR] "
            "[\\fIFILE\\fR]\n.SH DESCRIPTION\n",
            RAREFY_VERSION);
    put(out, "A description in JSON names chambers, lines, pumps and the order of work. From it "
             "rarefy computes pressures over time and says how long, how low, which gas, what "
             "holds it back and which limit is broken. Every quantity in a description carries its "
             "unit, such as \"25 mm\"; keys that begin with // are comments. The result goes to "
             "standard output, everything else to standard error.\n");
    fputs(".SH COMMANDS\n", out);
    for (const cli_command *const *c = cli_commands; *c; c++) {
        fprintf(out, ".TP\n\\fB%s\\fR\n", (*c)->name);
        put(out, (*c)->summary);
        putc('\n', out);
    }
    fputs(".SH OPTIONS OF THE COMMANDS\n", out);
    for (const cli_command *const *c = cli_commands; *c; c++)
        put_command(out, *c);
    fputs(".SH EXIT STATUS\n", out);
    for (const cli_exit_meaning *e = cli_exit_meanings; e->code; e++) {
        fprintf(out, ".TP\n%s\n", e->code);
        put(out, e->meaning);
        putc('\n', out);
    }
    fputs(".SH ENVIRONMENT\n.TP\n.B NO_COLOR\nset to anything: no colour, on a terminal "
          "either\n.TP\n.B COLUMNS\nwidth of text\n.SH CAUTION\n",
          out);
    put(out,
        "Answers are estimates: outgassing data scatter by 3 to 10 times. Evacuated glass can "
        "implode, ovens burn, gauge and discharge supplies kill, nitrogen displaces air. Local "
        "rules, the makers' manuals and trained people come first.\n");
}
