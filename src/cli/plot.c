#define _POSIX_C_SOURCE 200809L
#include <stdlib.h>
#include <string.h>
#include "common.h"
#include "measure.h"
#include "rarefy/pictures.h"

typedef enum plot_form { FORM_SVG, FORM_PNG, FORM_TERMINAL, FORM_GNUPLOT, FORM_NONE } plot_form;

static bool ends_with(const char *text, const char *end) {
    size_t n = strlen(text), m = strlen(end);
    return n >= m && strcmp(text + n - m, end) == 0;
}

/* By the options, else by the end of the file's name; on a terminal the picture goes there. */
static rfy_status choose_form(const cli_call *call, plot_form *out) {
    const char *path = cli_value(call, "output");
    bool terminal = cli_has(call, "terminal"), gnuplot = cli_has(call, "gnuplot");
    if (terminal && gnuplot)
        return cli_misuse(call->command, "--terminal and --gnuplot exclude each other");
    *out = terminal                          ? FORM_TERMINAL
           : gnuplot                         ? FORM_GNUPLOT
           : !path || strcmp(path, "-") == 0 ? FORM_TERMINAL
           : ends_with(path, ".svg")         ? FORM_SVG
           : ends_with(path, ".png")         ? FORM_PNG
                                             : FORM_NONE;
    if (*out == FORM_NONE)
        return cli_misuse(call->command,
                          "-o \"%s\": the name should end in .svg or .png; or add --terminal or "
                          "--gnuplot",
                          path);
    return RFY_OK;
}

static rfy_status unknown_chamber(const cli_call *call, const rfy_result *r, const char *name) {
    const char **known = calloc(r->n_chambers + 1, sizeof *known);
    size_t n = 0;
    for (size_t i = 0; known && i < r->n_chambers; i++)
        if (!r->internal || !r->internal[i])
            known[n++] = r->chamber[i];
    const char *near = known ? cli_nearest(name, known, n) : NULL;
    free(known);
    return cli_misuse(call->command, "--chamber \"%s\": there is no such chamber%s%s%s", name,
                      near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
}

static rfy_status check_chambers(const cli_call *call, const rfy_result *r,
                                 const rfy_plot_options *how) {
    for (size_t k = 0; k < how->n_chambers; k++) {
        bool known = false;
        for (size_t i = 0; i < r->n_chambers; i++)
            known = known || (strcmp(how->chamber[k], r->chamber[i]) == 0 &&
                              (!r->internal || !r->internal[i]));
        if (!known)
            return unknown_chamber(call, r, how->chamber[k]);
    }
    return RFY_OK;
}

static bool speaks_utf8(void) {
    static const char *const names[] = {"LC_ALL", "LC_CTYPE", "LANG"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const char *value = getenv(names[i]);
        if (value && *value)
            return strstr(value, "UTF-8") || strstr(value, "utf8") || strstr(value, "utf-8");
    }
    return false;
}

static rfy_status draw(const cli_call *call, FILE *out, const rfy_result *result, plot_form form,
                       rfy_plot_options *how) {
    char message[256] = "";
    rfy_status status = RFY_OK;
    switch (form) {
    case FORM_SVG:
        status = rfy_write_plot_svg(out, result, how);
        break;
    case FORM_PNG:
        status = rfy_write_plot_png(out, result, how, message);
        break;
    case FORM_GNUPLOT:
        status = rfy_write_plot_gnuplot(out, result, how);
        break;
    case FORM_TERMINAL:
    case FORM_NONE: {
        const rfy_write_options page = cli_write_options(out, NULL);
        how->color = page.color;
        how->width = page.width;
        how->ascii = cli_has(call, "ascii") || !speaks_utf8();
        status = rfy_write_plot_terminal(out, result, how);
        break;
    }
    }
    if (message[0])
        cli_complain("%s", message);
    if (status == RFY_USAGE)
        cli_misuse(call->command, "between --from and --to there is nothing to draw");
    return status;
}

static rfy_status run_plot(const cli_call *call) {
    cli_study study;
    rfy_result *result = NULL;
    rfy_log *log = NULL;
    plot_form form = FORM_NONE;
    rfy_plot_options how = RFY_PLOT_OPTIONS_INIT;
    const char **chamber = calloc(call->n_given + 1, sizeof *chamber);
    for (size_t i = 0; chamber && i < call->n_given; i++)
        if (strcmp(call->given[i].option->name, "chamber") == 0)
            chamber[how.n_chambers++] = call->given[i].value;
    how.chamber = chamber;
    how.gases = cli_has(call, "gases");
    how.linear_time = cli_has(call, "linear-time");
    rfy_status status = choose_form(call, &form);
    if (status == RFY_OK)
        status = cli_one_time(call, "from", "1 min", &how.from);
    if (status == RFY_OK)
        status = cli_one_time(call, "to", "1 min", &how.to);
    if (status == RFY_OK)
        status = cli_read_measured(call, &log);
    if (status != RFY_OK) {
        free(chamber);
        return status;
    }
    status = cli_study_begin(call, &study);
    rfy_status code = status;
    if (status == RFY_OK) {
        study.options.without_scatter = true; /* curves do not show it */
        status = rfy_run(&result, study.system, &study.options);
        how.pressure_unit = study.unit;
        how.measured = log;
        rfy_status drawn = check_chambers(call, result, &how);
        if (drawn == RFY_OK)
            drawn = draw(call, study.output.stream, result, form, &how);
        code = cli_exit_code(status, cli_output_close(&study.output, drawn));
    }
    rfy_result_free(result);
    rfy_log_free(log);
    cli_study_end(&study);
    free(chamber);
    return code;
}

static const cli_option options[] = {
    {"chamber", 0, "NAME", true, "Draw this chamber only; may be repeated."},
    {"gases", 0, NULL, false, "Draw the partial pressure of every gas too."},
    {"linear-time", 0, NULL, false, "An even scale of time in place of decades."},
    {"from", 0, "TIME", false, "Begin there, for example \"10 s\"."},
    {"to", 0, "TIME", false, "End there."},
    {"terminal", 't', NULL, false,
     "Draw on the terminal, in Braille dots or, where it does not speak UTF-8, in letters; this is "
     "so without -o."},
    {"ascii", 0, NULL, false, "On a terminal: letters in any case."},
    {"gnuplot", 0, NULL, false, "Write a script for gnuplot with its data."},
    CLI_OPTION_MEASURED,
    CLI_OPTION_COLUMNS,
    CLI_OPTION_LOG_UNIT,
    CLI_OPTION_LOG_TIME_UNIT,
    CLI_OPTION_UNIT,
    CLI_OPTION_SET,
    CLI_OPTION_METHOD,
    CLI_OPTION_TOLERANCE,
    CLI_OPTION_OUTPUT,
    {0}};

const cli_command cli_plot = {
    "plot",
    "FILE",
    1,
    1,
    "the curves of pressure over time: SVG, PNG, on the terminal, or for gnuplot",
    "Runs the description in FILE and draws the pressures of its chambers with what happens, what "
    "is wanted and what is allowed. The form follows from the name given with -o: .svg, or .png "
    "where librsvg is installed.",
    options,
    "  rarefy plot bench.json -o curve.svg --pressure-unit mbar\n"
    "  rarefy plot bench.json --terminal --chamber bulb --gases",
    run_plot};
