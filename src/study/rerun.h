/* A run made again with something changed, for the times of targets alone. */
#ifndef RFY_STUDY_RERUN_H
#define RFY_STUDY_RERUN_H

#include "solve/simulate.h"

/* From an instant laid aside (of this network or the same with other numbers), or NULL: from the
 * beginning. Times of all targets in [n_targets] s, up to the last of those wanted (NULL: all of
 * them): infinite where one is not reached within the run, NaN when the run failed before.
 * `options` may carry wall_scale, a tolerance and a stop; the rest is set here. False when it was
 * interrupted or failed. */
bool rfy_rerun(const rfy_network *net, const rfy_sim_options *options, const rfy_snapshot *from,
               const bool *wanted, double *time);

/* The tolerance for runs whose times are told to some three digits: their error is a tenth of it.
 */
double rfy_rerun_tolerance(double of_the_run);

#endif
