/* How much of a change is remembered: whether a run with a number changed may begin at an instant
 * of the run as it is, and not at its beginning.
 *
 * A change moves a target by what it did to the state up to an instant and by what it does from
 * there on. The first part is lambda . s, with s = dy/dq at that instant and lambda the derivative
 * of the target's time by the state there: the steps of a quick tangent, taken backwards (the
 * adjoint of Cao, Li, Petzold and Serban 2003, "Adjoint sensitivity analysis for
 * differential-algebraic equations", SIAM J. Sci. Comput. 24, 1076, for its discrete form). Where
 * it is small beside the whole, the place has forgotten what was before, as pumped places do.
 * Between two switchings only. */
#ifndef RFY_SOLVE_TANGENT_MEMORY_H
#define RFY_SOLVE_TANGENT_MEMORY_H

#include "solve/tangent.h"

typedef struct rfy_memory rfy_memory;

/* Begins to remember, for quick tangents of small networks; else nothing happens. */
void rfy_tangent_remember(rfy_tangent *t);
/* After a step and what was watched in it: lays the simulation aside, when there is need. */
void rfy_tangent_lay_aside(rfy_tangent *t);
/* The latest instant at which a run with a number (a column) changed may begin, when that target is
 * then met at about `then`, so that no more than a part of the change is left out; NULL = only the
 * beginning. */
const rfy_snapshot *rfy_tangent_late_start(const rfy_tangent *t, int target, int column,
                                           double then, double part);
/* The latest instant laid aside before which a number (a column) changed nothing at all, however it
 * changes: paces of valves and rotors that have not moved yet, walls that are still in air. NULL =
 * the beginning. */
const rfy_snapshot *rfy_tangent_untouched(const rfy_tangent *t, int column);
/* Frees what was laid aside. */
void rfy_tangent_forget(rfy_tangent *t);

/* ---- what a tangent calls ---- */

struct rfy_tangent_place;

/* A step was taken from there to the present instant. */
void rfy_memory_step(rfy_tangent *t, const struct rfy_tangent_place *from, const double *value,
                     const double *ratio, const double *pull);
/* Something is about to act at this instant. */
void rfy_memory_before(rfy_tangent *t);
/* Something was switched. */
void rfy_memory_begin(rfy_tangent *t);
/* A target was met at `time`, in a part of a step from there; f: rates there. */
void rfy_memory_target(rfy_tangent *t, int target, double time,
                       const struct rfy_tangent_place *from, double *value, const double *ratio,
                       const double *pull, const double *f);

#endif
