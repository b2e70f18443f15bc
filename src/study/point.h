/* One point of a study: a run to its last target and nothing else, no series, no advice. */
#ifndef RFY_STUDY_POINT_H
#define RFY_STUDY_POINT_H

#include "solve/simulate.h"

typedef struct rfy_point_options {
    double tolerance;          /* 0 = the description's */
    const double *wall_scales; /* as in rfy_sim_options */
    bool ultimate;             /* go on to the end of the run and find the steady pressures there */
    const double *at;          /* pressures of the nodes of the targets at these instants; NULL */
    size_t n_at;
    volatile const int *stop;
} rfy_point_options;

typedef struct rfy_point {
    rfy_status status; /* RFY_OK, RFY_RUN_FAILED, RFY_INTERRUPTED */
    const char *trouble;
    double end;       /* s */
    double *time;     /* [n_targets] NaN = not reached within the run */
    double *pressure; /* [n_free] total at the end, Pa */
    double *ultimate; /* [n_free] steady, Pa; NULL = not asked or not found */
    double *curve;    /* [n_at * n_targets] Pa; NaN after the end */
    size_t steps;
} rfy_point;

/* Everything of the result lives in the arena. */
void rfy_point_run(rfy_arena *arena, const rfy_network *net, const rfy_point_options *options,
                   rfy_point *out);

#endif
