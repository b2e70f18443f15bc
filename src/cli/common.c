#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "common.h"

/* "PATH=VALUE" cut at the first '='; `copy` owns the bytes. */
static bool split_setting(char *copy, rfy_setting *setting) {
    char *equals = strchr(copy, '=');
    if (!equals || equals == copy)
        return false;
    *equals = '\0';
    *setting = (rfy_setting){copy, equals + 1};
    return true;
}

static char *copy_text(const char *text) {
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy)
        memcpy(copy, text, size);
    return copy;
}

rfy_status cli_settings_add(const cli_command *command, cli_settings *settings, const char *text) {
    size_t n = settings->n;
    rfy_setting *setting = realloc(settings->setting, (n + 1) * sizeof *setting);
    settings->setting = setting ? setting : settings->setting;
    char **copy = realloc(settings->copy, (n + 1) * sizeof *copy);
    settings->copy = copy ? copy : settings->copy;
    if (!setting || !copy || !(copy[n] = copy_text(text))) {
        cli_complain("out of memory");
        return RFY_RUN_FAILED;
    }
    settings->n++;
    if (split_setting(copy[n], &setting[n]))
        return RFY_OK;
    return cli_misuse(command,
                      "--set \"%s\": write PATH=VALUE, for example "
                      "\"foreline hose/0/bore=25 mm\"",
                      text);
}

rfy_status cli_settings_read(const cli_call *call, cli_settings *settings) {
    rfy_status status = RFY_OK;
    for (size_t i = 0; i < call->n_given && status == RFY_OK; i++)
        if (strcmp(call->given[i].option->name, "set") == 0)
            status = cli_settings_add(call->command, settings, call->given[i].value);
    return status;
}

void cli_settings_free(cli_settings *settings) {
    for (size_t i = 0; i < settings->n; i++)
        free(settings->copy[i]);
    free(settings->copy);
    free(settings->setting);
    *settings = (cli_settings){0};
}

rfy_status cli_read_with(const char *path, const cli_settings *settings, rfy_system **system,
                         rfy_problems **problems) {
    char *text = NULL;
    size_t length = 0;
    *system = NULL;
    rfy_status status = cli_read_file(path, &text, &length);
    if (status != RFY_OK)
        return status;
    rfy_problems *found = rfy_problems_new(strcmp(path, "-") == 0 ? "standard input" : path);
    status = rfy_system_read(system, text, length, settings->setting, settings->n, found);
    if (problems) {
        *problems = found;
        found = NULL;
    } else if (rfy_problems_kept(found) > 0) {
        rfy_write_problems(stderr, found);
    }
    rfy_problems_free(found);
    free(text);
    return status;
}

rfy_status cli_read_system(const cli_call *call, size_t which, rfy_system **system,
                           rfy_problems **problems) {
    cli_settings settings = {0};
    *system = NULL;
    rfy_status status = cli_settings_read(call, &settings);
    if (status == RFY_OK)
        status = cli_read_with(call->operand[which], &settings, system, problems);
    cli_settings_free(&settings);
    return status;
}

rfy_status cli_pressure_unit(const cli_call *call, const char **unit) {
    *unit = cli_value(call, "pressure-unit");
    if (*unit && !rfy_is_pressure_unit(*unit))
        return cli_misuse(call->command,
                          "--pressure-unit \"%s\" is not a unit of pressure; Pa, mbar and Torr are "
                          "(rarefy list units shows all)",
                          *unit);
    return RFY_OK;
}

rfy_status cli_read_tolerance(const cli_call *call, double *tolerance) {
    const char *text = cli_value(call, "tolerance");
    char *end = NULL;
    if (!text)
        return RFY_OK;
    *tolerance = strtod(text, &end);
    if (end == text || *end || text[strspn(text, "0123456789.eE+-")] ||
        !(*tolerance >= 1e-12 && *tolerance <= 1e-2))
        return cli_misuse(call->command,
                          "--tolerance \"%s\": a number from 1e-12 to 1e-2 is allowed", text);
    return RFY_OK;
}

rfy_status cli_read_count(const cli_call *call, const char *option, size_t most, size_t *n) {
    const char *text = cli_value(call, option);
    char *end = NULL;
    if (!text)
        return RFY_OK;
    unsigned long long value = strtoull(text, &end, 10);
    if (end == text || *end || text[0] == '-' || value < 1 || value > most)
        return cli_misuse(call->command, "--%s \"%s\": a whole number from 1 to %zu is allowed",
                          option, text, most);
    *n = (size_t)value;
    return RFY_OK;
}

void cli_tell_problems(const char *where, const rfy_problems *problems) {
    for (size_t i = 0; i < rfy_problems_kept(problems); i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        cli_complain("%s: %s%s%s%s%s", where ? where : p->path, p->what,
                     p->allowed ? "; allowed: " : "", p->allowed ? p->allowed : "",
                     p->hint ? "; " : "", p->hint ? p->hint : "");
    }
}

rfy_status cli_one_time(const cli_call *call, const char *option, const char *example,
                        double *seconds) {
    const char *text = cli_value(call, option);
    char message[256];
    double *times = NULL;
    size_t n = 0;
    if (!text)
        return RFY_OK;
    if (rfy_read_times(text, &times, &n, message) != RFY_OK)
        return cli_misuse(call->command, "--%s: %s", option, message);
    double first = times[0];
    free(times);
    if (n != 1 || !(first > 0))
        return cli_misuse(call->command, "--%s \"%s\": one time above zero, such as \"%s\"", option,
                          text, example);
    *seconds = first;
    return RFY_OK;
}

rfy_status cli_run_options(const cli_call *call, rfy_run_options *options, double **at) {
    static const char *const methods[] = {"rodas", "rodasp", "rodas4", "msbdf"};
    static const rfy_method kinds[] = {RFY_METHOD_RODAS, RFY_METHOD_RODASP, RFY_METHOD_RODAS4,
                                       RFY_METHOD_MSBDF};
    *options = (rfy_run_options)RFY_RUN_OPTIONS_INIT;
    options->stop = &cli_stop;
    *at = NULL;
    const char *method = cli_value(call, "method");
    const size_t n_methods = sizeof methods / sizeof *methods;
    size_t chosen = 0;
    while (method && chosen < n_methods && strcmp(method, methods[chosen]) != 0)
        chosen++;
    if (chosen == n_methods) {
        const char *near = cli_nearest(method, methods, n_methods);
        return cli_misuse(call->command,
                          "--method \"%s\": rodas, rodasp, rodas4 or msbdf is allowed%s%s%s",
                          method, near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
    }
    options->method = kinds[chosen];
    rfy_status status = cli_read_tolerance(call, &options->tolerance);
    if (status == RFY_OK)
        status = cli_one_time(call, "after", "8 h", &options->ultimate_after);
    const char *text = cli_value(call, "at");
    char message[256];
    if (status == RFY_OK && text) {
        if (rfy_read_times(text, at, &options->n_at, message) != RFY_OK)
            return cli_misuse(call->command, "--at: %s", message);
        options->at = *at;
    }
    return status;
}

rfy_status cli_study_begin(const cli_call *call, cli_study *study) {
    *study = (cli_study){0};
    rfy_status status = cli_pressure_unit(call, &study->unit);
    if (status == RFY_OK)
        status = cli_run_options(call, &study->options, &study->at);
    if (status == RFY_OK)
        status = cli_read_system(call, 0, &study->system, NULL);
    cli_watch_interrupt();
    if (status == RFY_OK)
        status = cli_output_open(&study->output, cli_value(call, "output"));
    return status;
}

void cli_study_end(cli_study *study) {
    rfy_system_free(study->system);
    free(study->at);
}

rfy_status cli_exit_code(rfy_status run, rfy_status written) {
    return written != RFY_OK ? written : run;
}
