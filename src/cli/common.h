/* What several commands share: the options of a run, reading a description with its settings. */
#ifndef RFY_CLI_COMMON_H
#define RFY_CLI_COMMON_H

#include "files.h"
#include "options.h"

/* Rows for option tables. */
#define CLI_OPTION_JSON                                                                            \
    { "json", 0, NULL, false, "Write one JSON document, in SI units, instead of text." }
#define CLI_OPTION_OUTPUT                                                                          \
    {                                                                                              \
        "output", 'o', "FILE", false,                                                              \
            "Write the result to FILE instead of standard output; FILE appears only when "         \
            "complete."                                                                            \
    }
#define CLI_OPTION_UNIT                                                                            \
    {                                                                                              \
        "pressure-unit", 0, "UNIT", false,                                                         \
            "Unit of pressure in text and CSV: Pa (the default), mbar, Torr, ..."                  \
    }
#define CLI_OPTION_SET                                                                             \
    {                                                                                              \
        "set", 0, "PATH=VALUE", true,                                                              \
            "Change one value of the description, for example \"foreline hose/0/bore=25 mm\"; "    \
            "may "                                                                                 \
            "be repeated."                                                                         \
    }
#define CLI_OPTION_AFTER                                                                           \
    {                                                                                              \
        "after", 0, "TIME", false,                                                                 \
            "Take wall rates for the ultimate pressure as they are after TIME (\"8 h\"); without " \
            "it, at the end of the run."                                                           \
    }
#define CLI_OPTION_METHOD                                                                          \
    {                                                                                              \
        "method", 0, "NAME", false,                                                                \
            "How to integrate: rodas (the default, order 5), rodasp or rodas4 (order 4), or "      \
            "msbdf "                                                                               \
            "(slow; to cross-check)."                                                              \
    }
#define CLI_OPTION_TOLERANCE                                                                       \
    {                                                                                              \
        "tolerance", 0, "NUMBER", false,                                                           \
            "Relative tolerance of the integration, from 1e-12 to 1e-2, in place of the "          \
            "description's."                                                                       \
    }

/* Settings as they are given with --set. */
typedef struct cli_settings {
    size_t n;
    rfy_setting *setting;
    char **copy; /* owns the texts */
} cli_settings;
/* "PATH=VALUE"; RFY_USAGE with a message when it is not that. */
rfy_status cli_settings_add(const cli_command *command, cli_settings *settings, const char *text);
/* Every --set of the call. */
rfy_status cli_settings_read(const cli_call *call, cli_settings *settings);
void cli_settings_free(cli_settings *settings);
/* Reads a description with these settings; otherwise as cli_read_system. */
rfy_status cli_read_with(const char *path, const cli_settings *settings, rfy_system **system,
                         rfy_problems **problems);
/* Reads the description named by operand `which`, with every --set. Problems go to stderr, unless
 * `problems` is given: then it receives the list, to be freed. *system is NULL unless the status is
 * RFY_OK. */
rfy_status cli_read_system(const cli_call *call, size_t which, rfy_system **system,
                           rfy_problems **problems);
/* The unit of --pressure-unit, NULL when absent; RFY_USAGE with a message when it is none. */
rfy_status cli_pressure_unit(const cli_call *call, const char **unit);
/* A whole number from 1 to `most`; *n stays as it is when the option is absent. */
rfy_status cli_read_count(const cli_call *call, const char *option, size_t most, size_t *n);
/* Problems of a text on the command line; `where` NULL: each by its own path. */
void cli_tell_problems(const char *where, const rfy_problems *problems);
rfy_status cli_read_tolerance(const cli_call *call, double *tolerance);
/* The one time above zero of an option; *seconds stays as it is when it is not given. */
rfy_status cli_one_time(const cli_call *call, const char *option, const char *example,
                        double *seconds);
/* --method, --tolerance, --after and --at (when the command has it) into options; *at is to be
 * freed. */
rfy_status cli_run_options(const cli_call *call, rfy_run_options *options, double **at);

/* A study of one description: what its options say, the description read, the output opened. */
typedef struct cli_study {
    rfy_run_options options;
    rfy_system *system;
    cli_output output;
    double *at;
    const char *unit;
} cli_study;
rfy_status cli_study_begin(const cli_call *call, cli_study *study);
/* Frees it; the output is closed or abandoned by the caller. */
void cli_study_end(cli_study *study);

/* Exit code when the computing said `run` and the writing said `written`. */
rfy_status cli_exit_code(rfy_status run, rfy_status written);

/* One a line, in the order of help: so two branches that add one seldom meet. */
extern const cli_command cli_run;
extern const cli_command cli_check;
extern const cli_command cli_protect;
extern const cli_command cli_ultimate;
extern const cli_command cli_compare;
extern const cli_command cli_size;
extern const cli_command cli_sweep;
extern const cli_command cli_shelf;
extern const cli_command cli_rise, cli_fit, cli_diagnose;
extern const cli_command cli_conductance;
extern const cli_command cli_plot;
extern const cli_command cli_report;
extern const cli_command cli_list;
extern const cli_command cli_schema;
extern const cli_command cli_help;
extern const cli_command cli_version;
/* Before any parsing: the keys of pieces become options of `conductance`. */
void cli_conductance_prepare(void);

#endif
