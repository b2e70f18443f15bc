/* Readings of a log as points to fit: positive, within the gauge's range, few enough. */
#ifndef RFY_STUDY_LOG_POINTS_H
#define RFY_STUDY_LOG_POINTS_H

#include "network/network.h"
#include "rarefy/measured.h"

typedef struct rfy_log_points {
    size_t n, n_beyond; /* beyond: outside the range, or not above zero */
    double *t, *y;      /* s of the log, ln Pa; averaged where they stand close in ln of the time */
    int gauge, node;    /* gauge -1 = true pressure of the node */
    const char *name;
    double noise; /* between neighbours, in ln; NaN with few */
} rfy_log_points;

/* False after adding a problem: no such gauge or chamber, nothing usable. `name` as in
 * rfy_fit_options. */
bool rfy_log_points_take(rfy_log_points *out, rfy_arena *arena, const rfy_network *net,
                         const rfy_log *log, const char *name, size_t most, rfy_problems *problems);

#endif
