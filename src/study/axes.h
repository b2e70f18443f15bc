/* What a sweep goes over: grids and sampled quantities, as they are written on a command line. */
#ifndef RFY_STUDY_AXES_H
#define RFY_STUDY_AXES_H

#include "study/draws.h"
#include "study/system.h"

enum { RFY_MOST_DRAWS = 40 }; /* dimensions of GSL's Sobol sequence */

typedef struct rfy_axis {
    const char *path;
    size_t n;          /* values of a grid; 0 = sampled */
    const char **text; /* [n] */
    rfy_law law;       /* sampled */
    double a, b;       /* SI */
    rfy_dim dim;
} rfy_axis;

typedef struct rfy_axes {
    size_t n, n_sampled;
    rfy_axis *item;
    size_t grid;    /* points of the grid: the product of its axes */
    size_t samples; /* points sampled at each of them; at least 1 */
    rfy_walls walls;
} rfy_axes;

/* Reads "PATH=VALUES" texts (studies.h says how they are written); with `spreads`, everything that
 * has a stated spread is sampled besides. False after adding problems, whose path is the text. */
bool rfy_axes_read(rfy_axes *axes, rfy_arena *arena, const rfy_system *system,
                   const char *const *over, size_t n_over, size_t samples, bool spreads,
                   rfy_problems *problems);
/* Sampled dimensions: axes, then materials. */
size_t rfy_axes_dimensions(const rfy_axes *axes);
/* The text of a sampled quantity, in the arena. */
const char *rfy_axis_text(rfy_arena *arena, const rfy_axis *axis, double u);

#endif
