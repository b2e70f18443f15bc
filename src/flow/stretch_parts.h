/* The inside of a stretch, shared by stretch.c (building), stretch_law.c (what all gases have in
 * common) and stretch_mixture.c (each gas). */
#ifndef RFY_FLOW_STRETCH_PARTS_H
#define RFY_FLOW_STRETCH_PARTS_H

#include "flow/stretch.h"
#include "gas/mixture_inline.h"

#define RFY_STRETCH_PI 3.14159265358979323846

/* The rarefied part of the flow law, T_m(delta) = 1/[e + body/J(delta)], as piecewise cubics on
 * cells that are quarters of an octave: the cell of a delta, its beginning and its width are read
 * off its bits, and integrals of the polynomial have the pressure difference as an exact factor. A
 * constant before the first and one behind the last stand as cells of their own at both ends of the
 * table. */
enum { FIRST_OCTAVE = -24, OCTAVES = 45, PER_OCTAVE = 4, CELLS = OCTAVES * PER_OCTAVE };

typedef struct rfy_stretch_cell {
    double c[4];     /* in t = (delta - start)/width */
    double integral; /* of T_m from 0 to its start */
} rfy_stretch_cell;

struct rfy_stretch {
    rfy_stretch_geometry of; /* what it was built from */
    double temperature, radius, area;
    double ends;             /* e: apertures counted, 0 to 1 */
    double viscous_ratio;    /* viscous length/radius, end correction included */
    double diffusive_length; /* m */
    double scale;            /* n for one of n cells */
    long long inertia[2];    /* of flow from each end: -1 with, 0 without */
    double cd[2][2];         /* [direction]{at r -> 1, at r -> 0}: discharge coefficient that stands
                                for the loss of kinetic energy */
    double
        creep[2]; /* ln(T_mean/T_end): thermal transpiration; 0 where all is at one temperature */
    double creep_delta; /* delta per pascal of mean pressure, of air at the mean temperature */
    rfy_stretch_cell cell[CELLS + 2];
    rfy_friction friction;
};

/* what the common part depends on */
enum { BY_P1, BY_P2, BY_MU, BY_M, BY_GAMMA, PARTS };

/* Four stretches at a time, each in its lane. */
typedef struct rfy_stretch_common {
    rfy_v4 viscous;  /* N_v: carried by the mixture, mol/s */
    rfy_v4 rarefied; /* tau': multiplies each gas's aperture conductance */
    rfy_v4 d_viscous[PARTS], d_rarefied[PARTS];
    rfy_v4 diffusive_length; /* m, with the valve's constriction */
} rfy_stretch_common;

void rfy_stretch_common_at(const rfy_stretch *const run[RFY_LANES], const double opening[RFY_LANES],
                           const rfy_mixture_four *gas, const rfy_v4 *p1, const rfy_v4 *p2,
                           bool derivatives, rfy_stretch_common *out);

#endif
