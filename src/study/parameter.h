/* Numbers of a description that may be varied: where a path leads, what is worth varying, and the
 * system with one of them changed a little.
 *
 * Paths have the grammar of `--set` (io/settings.h), followed in the description as read:
 * "stem/0/bore", "turbo/speed" (a map by gas or a curve: all its values by one factor),
 * "turbo/speed/N2". */
#ifndef RFY_STUDY_PARAMETER_H
#define RFY_STUDY_PARAMETER_H

#include "study/system.h"

/* One number, or several that change together by one factor. */
typedef struct rfy_parameter {
    const char *name; /* "bore of stem", "speed of turbo (N2)" */
    const char *part; /* "stem" */
    const char *key;  /* "bore" */
    size_t n_paths;   /* at least 1: tubing that meets in the same bore changes together */
    const char *const *path;
    rfy_dim dim;
    double value; /* SI, of the first number the first path leads to */
} rfy_parameter;

/* The parameter a path names; false after adding a problem (line 0, the path) when it leads to no
 * number. Strings are the arena's. */
bool rfy_parameter_find(rfy_arena *arena, const rfy_system *system, const char *path,
                        rfy_problems *problems, rfy_parameter *out);

/* All dimensions, speeds, rates, amounts and times of the parts that are given in the description:
 * what a user could change. Temperatures, gauges, limits, targets, the air outside are not among
 * them. */
const rfy_parameter *rfy_parameters_all(rfy_arena *arena, const rfy_system *system, size_t *n);

/* A copy of the description with a parameter multiplied by a factor. */
const rfy_description *rfy_parameter_scaled(rfy_arena *arena, const rfy_system *system,
                                            const rfy_parameter *parameter, double factor);

#endif
