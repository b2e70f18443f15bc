/* Exact sensitivities: how times of targets, pressures at given instants and the ultimate pressure
 * change with numbers of the description, to first order, from one run.
 *
 * Forward sensitivities along the steps of the run itself (solve/tangent.h), events included; runs
 * are not differenced. All derivatives are by the logarithm of the parameter: per unit of relative
 * change. */
#ifndef RFY_STUDY_SENSITIVITY_H
#define RFY_STUDY_SENSITIVITY_H

#include "rarefy/rarefy.h"
#include "solve/tangent.h"
#include "study/parameter.h"

typedef struct rfy_sensitivity_options {
    const rfy_parameter *parameter;
    size_t n_parameters;
    const double *at; /* instants, rising, s */
    size_t n_at;
    double tolerance;  /* of the run; 0 = 3e-5, or the description's own where that is smaller */
    bool targets_only; /* end when all targets are reached and `at` is over: no ultimate */
    double ultimate_after; /* s; 0 = end of the run */
    volatile const int *stop;
} rfy_sensitivity_options;

typedef struct rfy_sensitivities {
    rfy_status status; /* RFY_OK, RFY_RUN_FAILED, RFY_INTERRUPTED; what was found stays */
    const char *trouble;
    size_t n_parameters, n_nodes, n_gauges, n_targets, n_at;
    double end; /* time reached */

    /* d by ln parameter of each target's time, s; NaN when the target is not reached */
    const double *target_time;    /* [n_targets] s; NaN = not reached */
    const double *target_time_by; /* [n_targets * n_parameters] s */

    /* free nodes (chambers first) and gauges at each instant; NaN for instants not reached and
     * gauges that are off */
    const double *log_pressure;    /* [n_at * n_nodes] ln Pa of the total */
    const double *log_pressure_by; /* [(at * n_nodes + node) * n_parameters] */
    const double *log_reading;     /* [n_at * n_gauges] ln Pa */
    const double *log_reading_by;  /* [(at * n_gauges + gauge) * n_parameters] */

    bool ultimate_found;
    const double *ultimate;        /* [n_nodes] Pa */
    const double *log_ultimate_by; /* [n_nodes * n_parameters] */

    const char *const *unsuited; /* [n_parameters] why it has no derivative, or NULL */
    rfy_solver_stats solver;
} rfy_sensitivities;

/* Allocated in the arena. Only fails to be made when memory does. */
const rfy_sensitivities *rfy_sensitivities_of(rfy_arena *arena, const rfy_system *system,
                                              const rfy_sensitivity_options *options);

/* The steady state after a run as study/ultimate.c finds it, with its derivatives: total pressures,
 * [n_free] Pa, and their logarithms' derivatives, [n_free * n]. False when there is none. guess:
 * partial pressures to begin with, [n_free * n_gases] Pa; NULL = those of the run. */
bool rfy_sensitivity_ultimate(rfy_sim *sim, const rfy_network *net, rfy_tangent *tangent, size_t n,
                              double after, const double *guess, double *total, double *by);

#endif
