/* A log of a gauge drawn beside a computed curve; the options that say how it is read: logs.h. */
#ifndef RFY_CLI_MEASURE_H
#define RFY_CLI_MEASURE_H

#include "logs.h"

#define CLI_OPTION_MEASURED                                                                        \
    {                                                                                              \
        "measured", 0, "LOG.csv", false,                                                           \
            "Draw this log of a gauge beside the curves; times count from its first row where it " \
            "has a clock."                                                                         \
    }

/* The log of --measured, NULL when it is not given; to be freed. */
static inline rfy_status cli_read_measured(const cli_call *call, rfy_log **log) {
    const char *path = cli_value(call, "measured");
    *log = NULL;
    return path ? cli_read_log(call, path, NULL, 0, log) : RFY_OK;
}

#endif
