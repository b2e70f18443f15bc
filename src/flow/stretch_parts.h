/* The inside of a stretch, shared by stretch.c (building), stretch_law.c (what all gases have in
 * common) and stretch_mixture.c (each gas). */
#ifndef RFY_FLOW_STRETCH_PARTS_H
#define RFY_FLOW_STRETCH_PARTS_H

#include "flow/stretch.h"

#define RFY_STRETCH_PI 3.14159265358979323846

/* The rarefied part of the flow law, T_m(delta) = 1/[e + body/J(delta)], as piecewise cubics on
 * cells that are quarters of an octave: the cell of a delta is read off its bits, and integrals of
 * the polynomial have the pressure difference as an exact factor. */
enum { FIRST_OCTAVE = -24, OCTAVES = 45, PER_OCTAVE = 4, CELLS = OCTAVES * PER_OCTAVE };

typedef struct rfy_stretch_cell {
    double c[4]; /* in t = (delta - start)/width */
} rfy_stretch_cell;

struct rfy_stretch {
    rfy_stretch_geometry of; /* what it was built from */
    double temperature, radius, area;
    double ends;             /* e: apertures counted, 0 to 1 */
    double viscous_ratio;    /* viscous length/radius, end correction included */
    double diffusive_length; /* m */
    double scale;            /* n for one of n cells */
    bool inertia[2];         /* of flow from each end */
    double cd[2][2];         /* [direction]{at r -> 1, at r -> 0}: discharge coefficient that stands
                                for the loss of kinetic energy */
    double
        creep[2]; /* ln(T_mean/T_end): thermal transpiration; 0 where all is at one temperature */
    double creep_delta; /* delta per pascal of mean pressure, of air at the mean temperature */
    double first;       /* T_m below the first cell */
    double last;        /* and above the last */
    double start[CELLS + 1];
    double integral[CELLS + 1]; /* of T_m from 0 to start[i] */
    rfy_stretch_cell cell[CELLS];
    rfy_friction friction;
};

/* what the common part depends on */
enum { BY_P1, BY_P2, BY_MU, BY_M, BY_GAMMA, PARTS };

typedef struct rfy_stretch_common {
    double viscous;  /* N_v: carried by the mixture, mol/s */
    double rarefied; /* tau': multiplies each gas's aperture conductance */
    double d_viscous[PARTS], d_rarefied[PARTS];
    double diffusive_length; /* m, with the valve's constriction */
} rfy_stretch_common;

void rfy_stretch_common_at(const rfy_stretch *run, const rfy_mixture_state *gas, double opening,
                           double p1, double p2, bool derivatives, rfy_stretch_common *out);

#endif
