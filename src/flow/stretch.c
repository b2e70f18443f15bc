#include <math.h>
#include "flow/kinetic.h"
#include "flow/stretch_parts.h"

#define PI RFY_STRETCH_PI

/* ---- building ---- */

static double cell_start(int i) {
    return ldexp(1 + (double)(i % PER_OCTAVE) / PER_OCTAVE, FIRST_OCTAVE + i / PER_OCTAVE);
}

/* A channel's own curve grows without bound as delta -> 0, where in truth the length takes the
 * place of the mean free path: the curve is entered at delta + shift, with the shift that makes the
 * molecular limit exact. Body conductance sqrt(pi) (radius/length) g(delta + shift), g(shift) =
 * length/(sqrt(pi) radius body). */
static double channel_shift(const rfy_stretch_geometry *g) {
    double wanted = g->length / (sqrt(PI) * g->radius * g->body);
    double low = 1e-300, high = 1e3; /* g falls with its argument */
    if (!(wanted > rfy_channel_rarefied(high, NULL)))
        return -1;
    for (int i = 0; i < 200; i++) {
        double middle = sqrt(low) * sqrt(high);
        if (rfy_channel_rarefied(middle, NULL) > wanted)
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* Resistance of the body at delta over that in molecular flow, and its slope. */
static double body_at(rfy_section section, double shift, double delta, double *slope) {
    double d, value;
    if (section == RFY_SECTION_CHANNEL && shift > 0) {
        value = rfy_channel_rarefied(delta + shift, &d) / rfy_channel_rarefied(shift, NULL);
        d /= rfy_channel_rarefied(shift, NULL);
    } else {
        value = rfy_tube_rarefied(delta, &d);
    }
    *slope = -d / (value * value);
    return 1 / value;
}

/* The same at the start of a cell. Of tubes it depends on nothing else, so each thread works it out
 * once: a study builds thousands of them. */
static double body_of_cell(rfy_section section, double shift, int cell, double *slope) {
    static _Thread_local double value[CELLS + 1], by[CELLS + 1];
    static _Thread_local bool made = false;
    if (section == RFY_SECTION_CHANNEL && shift > 0)
        return body_at(section, shift, cell_start(cell), slope);
    for (int i = 0; i <= CELLS && !made; i++)
        value[i] = body_at(RFY_SECTION_TUBE, 0, cell_start(i), &by[i]);
    made = true;
    *slope = by[cell];
    return value[cell];
}

static void tabulate(rfy_stretch *run, const rfy_stretch_geometry *g) {
    double value[CELLS + 1], slope[CELLS + 1];
    double shift = g->section == RFY_SECTION_CHANNEL && g->body > 0 ? channel_shift(g) : 0;
    for (int i = 0; i <= CELLS; i++) {
        double d_body, body = g->body * body_of_cell(g->section, shift, i, &d_body);
        value[i] = 1 / (run->ends + body);
        slope[i] = -value[i] * value[i] * g->body * d_body;
    }
    slope[0] = slope[CELLS] = 0;
    run->cell[0] = (rfy_stretch_cell){{value[0], 0, 0, 0}, 0};
    double integral = value[0] * cell_start(0);
    for (int i = 0; i < CELLS; i++) {
        double h = cell_start(i + 1) - cell_start(i);
        double rise = value[i + 1] - value[i], m0 = slope[i] * h, m1 = slope[i + 1] * h;
        rfy_stretch_cell *cell = &run->cell[i + 1];
        *cell = (rfy_stretch_cell){{value[i], m0, 3 * rise - 2 * m0 - m1, m0 + m1 - 2 * rise},
                                   integral};
        integral += h * (cell->c[0] + cell->c[1] / 2 + cell->c[2] / 3 + cell->c[3] / 4);
    }
    run->cell[CELLS + 1] = (rfy_stretch_cell){{value[CELLS], 0, 0, 0}, integral};
}

rfy_stretch_geometry rfy_tube_geometry(double bore, double molecular_length,
                                       double viscous_length) {
    double radius = bore / 2, area = PI * radius * radius;
    /* transmission of the stretch itself (Clausing 1932); the apertures are counted at the ends, so
     * that series sums are the published rules (Oatley 1957 for equal bores) */
    return (rfy_stretch_geometry){
        .section = RFY_SECTION_TUBE,
        .area = area,
        .radius = radius,
        .end_area = {area, area},
        .body = 1 / rfy_tube_transmission(molecular_length / radius) - 1,
        .length = viscous_length,
        .viscous_length = viscous_length,
    };
}

const rfy_stretch *rfy_stretch_new(rfy_arena *arena, const rfy_stretch_geometry *g) {
    rfy_stretch *run = RFY_NEW(arena, 1, rfy_stretch);
    run->of = *g;
    run->temperature = 0.5 * (g->temperature[0] + g->temperature[1]);
    run->radius = g->radius;
    run->area = g->area;
    double narrow[2]; /* how much the flow is contracted entering at each end: 1 from an open
                         chamber */
    run->ends = 0;
    for (int i = 0; i < 2; i++) {
        double ratio = g->end_area[i] * g->inverse_area[i]; /* A_end/A_node */
        run->ends += 0.5 * g->area * fabs(1 / g->end_area[i] - g->inverse_area[i]);
        narrow[i] = ratio < 1 ? (1 - ratio) * (g->area / g->end_area[i]) : 0;
        run->creep[i] = log(run->temperature / g->temperature[i]);
    }
    const double air_viscosity = 1.82e-5 * pow(run->temperature / 293.15, 0.76), air_mass = 0.02897;
    run->creep_delta =
        run->radius / (air_viscosity * sqrt(2 * RFY_R * run->temperature / air_mass));
    tabulate(run, g);
    /* Creeping flow into an orifice (Sampson 1891) adds 3 pi/8 radii of tube. */
    run->viscous_ratio = g->viscous_length / run->radius + run->ends * 3 * PI / 8;
    run->diffusive_length = g->length + run->ends * run->radius * PI / 2;
    run->scale = g->cells > 1 ? g->cells : 1;
    for (int i = 0; i < 2; i++)
        run->inertia[i] = g->cells <= 1 || (g->inertia && g->one_way != 2 - i) ? -1 : 0;
    for (int from = 0; from < 2; from++) {
        /* Kinetic-energy loss: development of the profile with entrance and exit takes K = 2.28
         * between open chambers (Langhaar 1942): 1.28 where the flow contracts, 1 where it spreads
         * (Borda-Carnot). No stretch passes more than a lossless nozzle: K >= 1. */
        double exit_ratio = narrow[1 - from];
        double k = 1.28 * narrow[from] + exit_ratio * exit_ratio + g->loss;
        if (k < 1)
            k = 1;
        run->cd[from][0] = 1 / sqrt(k);
        /* Into a vacuum the contraction matters less: Cd = 0.83 for a sharp inlet (Perry 1949). */
        run->cd[from][1] = 1 / sqrt(1 + 0.35 * (k - 1));
        if (g->thin) { /* sharp-edged orifice: Cd 0.60 at small, 0.84 at large ratio (Perry 1949) */
            run->cd[from][0] = 0.60;
            run->cd[from][1] = 0.84;
        }
    }
    rfy_friction_build(&run->friction, g->roughness / (2 * run->radius));
    return run;
}

bool rfy_stretch_is_of(const rfy_stretch *run, const rfy_stretch_geometry *g) {
    const rfy_stretch_geometry *of = &run->of;
    bool same = of->section == g->section && of->area == g->area && of->radius == g->radius &&
                of->body == g->body && of->length == g->length &&
                of->viscous_length == g->viscous_length && of->loss == g->loss &&
                of->roughness == g->roughness && of->thin == g->thin && of->cells == g->cells &&
                of->inertia == g->inertia && of->one_way == g->one_way;
    for (int i = 0; i < 2; i++)
        same = same && of->end_area[i] == g->end_area[i] &&
               of->inverse_area[i] == g->inverse_area[i] && of->temperature[i] == g->temperature[i];
    return same;
}
