/* Logs on the command line: what commands that read one share. */
#ifndef RFY_CLI_LOGS_H
#define RFY_CLI_LOGS_H

#include "common.h"

#define CLI_OPTION_COLUMNS                                                                         \
    {                                                                                              \
        "columns", 0, "TIME,PRESSURE", false,                                                      \
            "Columns of the log by name or place, such as \"1,3\"; without it, found by header."   \
    }
#define CLI_OPTION_LOGGED_GAUGE                                                                    \
    {                                                                                              \
        "gauge", 0, "NAME", false,                                                                 \
            "Whose readings the log holds: a gauge of the description, or a chamber for true "     \
            "pressures."                                                                           \
    }
#define CLI_OPTION_LOG_UNIT                                                                        \
    { "log-unit", 0, "UNIT", false, "Unit of pressures in a log that does not say." }
#define CLI_OPTION_LOG_TIME_UNIT                                                                   \
    { "log-time-unit", 0, "UNIT", false, "Unit of times in a log that does not say; else s." }

/* Reads the log at `path` ("-" is standard input) with the options above, and a column of
 * temperatures when one is named. Messages go to stderr; *log is NULL unless RFY_OK. */
rfy_status cli_read_log(const cli_call *call, const char *path, const char *temperature,
                        size_t most, rfy_log **log);
/* A quantity given by an option; *si stays as it is when it is not given. */
rfy_status cli_quantity(const cli_call *call, const char *option, const char *dimension,
                        double *si);

#endif
