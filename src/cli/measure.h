/* A log of a gauge beside a computed curve. */
#ifndef RFY_CLI_MEASURE_H
#define RFY_CLI_MEASURE_H

#include "options.h"
#include "rarefy/measured.h"

#define CLI_OPTION_MEASURED                                                                        \
    {                                                                                              \
        "measured", 0, "LOG.csv", false,                                                           \
            "Draw this log of a gauge beside the curves; times count from its first row."          \
    }

/* The log of --measured, NULL when it is not given; to be freed. */
rfy_status cli_read_measured(const cli_call *call, rfy_log **log);

#endif
