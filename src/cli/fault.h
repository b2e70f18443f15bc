/* The fault of a run, from the command line. */
#ifndef RFY_CLI_FAULT_H
#define RFY_CLI_FAULT_H

#include "options.h"

#define CLI_OPTION_FAULT                                                                           \
    {                                                                                              \
        "fault", 0, "TEXT", false,                                                                 \
            "Let something go wrong: one of the description's faults by name, or \"crack bulb 1 "  \
            "cm2 at 40 min\", \"stop vane when port < 1e-3 Pa\" (see rarefy list actions)."        \
    }

/* --fault, NULL when it is not given; to be freed. Problems go to stderr. */
rfy_status cli_read_fault(const cli_call *call, const rfy_system *system, rfy_fault **fault);

#endif
