/* A stretch: tubing of one kind of section, possibly with a valve in it, at any pressure, for any
 * mixture.
 *
 * Built once from geometry, then constant. The flow law (physics in stretch_law.c and
 * stretch_mixture.c): single gas   Q = (A vbar/4) * integral of T(delta) dp, limited by inertia and
 * choking mixture      viscous flow carries the mixture, each gas diffuses on top (dusty-gas form)
 * Ends: a node has a section area; an end counts half an aperture, |1/A_end - 1/A_node|/2. */
#ifndef RFY_FLOW_STRETCH_H
#define RFY_FLOW_STRETCH_H

#include <stdbool.h>
#include "core/arena.h"
#include "flow/friction.h"
#include "gas/mixture.h"

typedef enum rfy_section { /* which kinetic curve leads from molecular to slip flow */
                           RFY_SECTION_TUBE,
                           RFY_SECTION_CHANNEL /* slits, flat ducts, annuli */
} rfy_section;

typedef struct rfy_stretch_geometry {
    rfy_section section;
    double area;   /* open area that flow is referred to (the smaller end), m2 */
    double radius; /* of a tube, m; else half the hydraulic diameter 4 area/perimeter */
    double end_area[2];
    double body; /* molecular resistance without the apertures, times area: 1/W - (A/A_0 + A/A_1)/2,
                    where W is the transmission between open chambers referred to `area` (1/W - 1
                    for a tube) */
    double length;          /* along the flow, m */
    double viscous_length;  /* length of tube of the same radius and area that resists as much in
                               laminar flow, m */
    double loss;            /* K of bends */
    double roughness;       /* m */
    double inverse_area[2]; /* 1/section of the node at each end, 1/m2; 0 = open chamber */
    double temperature[2];  /* of the gas at each end, K */
    bool thin;              /* an orifice in a plate */
    int cells; /* this stretch is one of n equal cells of a longer one whose geometry is given; 0 or
                  1 = whole */
    bool inertia; /* with cells: only one of them carries the inertia */
    int one_way;  /* and that for flow from end 0 only (1), from end 1 only (2), or both ways (0) */
} rfy_stretch_geometry;

/* The geometry of a straight tube; molecular_length and viscous_length count bends. Other fields
 * stay zero. */
rfy_stretch_geometry rfy_tube_geometry(double bore, double molecular_length, double viscous_length);

typedef struct rfy_stretch rfy_stretch;

const rfy_stretch *rfy_stretch_new(rfy_arena *arena, const rfy_stretch_geometry *geometry);
/* Whether it is what this geometry would give. */
bool rfy_stretch_is_of(const rfy_stretch *run, const rfy_stretch_geometry *geometry);

/* Flow of each gas from end 0 to end 1, mol/s, under partial pressures a (end 0) and b (end 1), Pa.
 * opening: 1 = no valve or fully open, 0 = closed (no flow). Derivatives by a and b when not NULL:
 * row-major n x n, row = gas that flows. Pure. */
void rfy_stretch_flow(const rfy_stretch *run, const rfy_mixture *mixture, double opening,
                      const double *a, const double *b, double *flow, double *by_a, double *by_b);

/* The same for four stretches at a time, which is faster than one after the other: what is in lane
 * k of flow[n], by_a[n * n] and by_b[n * n] belongs to run[k] between a[k] and b[k]. Derivatives
 * when by_a is not NULL. None of them may have ends at different temperatures (rfy_stretch_alone)
 * or be closed; a lane that is not needed may repeat another. */
typedef struct rfy_stretch_four {
    const rfy_stretch *run[RFY_LANES];
    double opening[RFY_LANES];
    const double *a[RFY_LANES], *b[RFY_LANES];
} rfy_stretch_four;
void rfy_stretch_flow_four(const rfy_stretch_four *four, const rfy_mixture *mixture, rfy_v4 *flow,
                           rfy_v4 *by_a, rfy_v4 *by_b);
bool rfy_stretch_alone(const rfy_stretch *run);

/* The part of the law common to all gases, for one gas or a mixture's mean: total flow, mol/s. For
 * tables and tests. */
double rfy_stretch_total(const rfy_stretch *run, const rfy_mixture_state *gas, double opening,
                         double p_a, double p_b);

/* lambda/(2 radius) at a pressure for a viscosity and molar mass. */
double rfy_stretch_knudsen(const rfy_stretch *run, const rfy_mixture_state *gas, double pressure);

/* Conductance of a gas at vanishing pressure, m3/s. */
double rfy_stretch_molecular_conductance(const rfy_stretch *run, double molar_mass);

#endif
