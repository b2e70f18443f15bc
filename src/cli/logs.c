#define _POSIX_C_SOURCE 200809L
#include "logs.h"
#include <errno.h>
#include <string.h>
#include <sys/stat.h>

rfy_status cli_read_log(const cli_call *call, const char *path, const char *temperature,
                        size_t most, rfy_log **log) {
    bool standard = strcmp(path, "-") == 0;
    const char *name = standard ? "standard input" : path;
    rfy_log_options options = RFY_LOG_OPTIONS_INIT;
    options.columns = cli_value(call, "columns");
    options.pressure_unit = cli_value(call, "log-unit");
    options.time_unit = cli_value(call, "log-time-unit");
    options.temperature = temperature;
    options.most = most;
    options.stop = &cli_stop;
    *log = NULL;
    FILE *in = standard ? stdin : fopen(path, "rb");
    struct stat about;
    if (!in) {
        cli_complain("%s: cannot be opened: %s", name, strerror(errno));
        return RFY_IO_FAILED;
    }
    if (fstat(fileno(in), &about) == 0 && S_ISDIR(about.st_mode)) {
        cli_complain("%s: is a directory", name);
        fclose(in);
        return RFY_IO_FAILED;
    }
    rfy_problems *problems = rfy_problems_new(name);
    rfy_status status = rfy_log_read(log, in, name, &options, problems);
    if (rfy_problems_kept(problems) > 0)
        rfy_write_problems(stderr, problems);
    else if (status == RFY_INTERRUPTED)
        cli_complain("interrupted while %s was read", name);
    rfy_problems_free(problems);
    if (!standard)
        fclose(in);
    return status;
}

rfy_status cli_quantity(const cli_call *call, const char *option, const char *dimension,
                        double *si) {
    char message[480];
    const char *text = cli_value(call, option);
    if (!text || rfy_read_quantity(text, dimension, si, message) == RFY_OK)
        return RFY_OK;
    return cli_misuse(call->command, "--%s \"%s\": %s", option, text, message);
}
