#include "surface/condensate.h"

#include <math.h>
#include "surface/sites.h"

#define PI       3.14159265358979323846
#define AVOGADRO 6.02214076e23 /* 1/mol, exact */

/* Beyond these temperatures pressures are held: no bench comes here, but a search may. */
static const double coldest = 60, hottest = 400;

double rfy_vapour_saturation(const rfy_vapour *v, double temperature, double *by_t) {
    double t = fmin(fmax(temperature, coldest), hottest), p, slope;
    if (v->reference > 0) { /* Clausius and Clapeyron with one heat */
        p = v->reference * exp(v->heat / RFY_R * (1 / v->reference_temperature - 1 / t));
        slope = p * v->heat / (RFY_R * t * t);
    } else { /* Magnus form */
        double c = t - 273.15, below = v->shift + c;
        if (below < 20) { /* its pole is near: nothing evaporates here */
            below = 20;
            c = below - v->shift;
        }
        p = v->factor * exp(v->slope * c / below);
        slope = p * v->slope * v->shift / (below * below);
    }
    if (by_t)
        *by_t = t == temperature ? slope : 0;
    return p;
}

typedef struct condensate {
    rfy_condensate_spec spec;
    double thin; /* amount below which the surface is not covered: a monolayer, mol */
} condensate;

static double saturation(const condensate *s, double t, double *by_t, double *heat) {
    const rfy_vapour *v = s->spec.ice && t < 273.15 ? s->spec.ice : s->spec.liquid;
    if (heat)
        *heat = v->heat;
    return rfy_vapour_saturation(v, t, by_t);
}

static double warmth(const condensate *s, double surroundings, double flow) {
    double t = surroundings;
    if (isfinite(s->spec.heat_transfer)) {
        double heat = (s->spec.ice && surroundings < 273.15 ? s->spec.ice : s->spec.liquid)->heat;
        t += heat * flow / s->spec.heat_transfer;
    }
    return fmin(fmax(t, coldest), hottest);
}

double rfy_condensate_temperature(const rfy_store *store, double surroundings, double flow) {
    return warmth(store->data, surroundings, flow);
}

/* Coefficients of this kind: g what condenses per pascal, o the temperature of the surroundings, k
 * the factor on the saturation pressure (bands). */
static void law(const rfy_store *store, const rfy_store_state *at, rfy_store_law *out) {
    const condensate *s = store->data;
    out->g[0] =
        s->spec.sticking * s->spec.area / sqrt(2 * PI * s->spec.molar_mass * RFY_R * at->gas);
    out->o[0] = at->wall;
    out->k[0] = at->scale;
}

/* What evaporates from a fully covered surface that gains `flow`, and its derivative by the flow,
 * which warms. */
static double evaporation(const condensate *s, const rfy_store_law *l, double flow,
                          double *by_flow) {
    double by_t, t = warmth(s, l->o[0], flow), p = saturation(s, t, &by_t, NULL);
    double per_pascal =
        l->k[0] * s->spec.sticking * s->spec.area / sqrt(2 * PI * s->spec.molar_mass * RFY_R * t);
    double heat = (s->spec.ice && l->o[0] < 273.15 ? s->spec.ice : s->spec.liquid)->heat;
    bool inside = t > coldest && t < hottest;
    *by_flow = isfinite(s->spec.heat_transfer) && inside
                   ? per_pascal * (by_t - p / (2 * t)) * heat / s->spec.heat_transfer
                   : 0;
    return per_pascal * p;
}

/* flow = g p - cover(x) evaporation(flow): one rising function of the flow, so one root. Below
 * zero, where no amount should be, the surface is bare and an overshoot comes back gently. */
static double rate(const rfy_store *store, const rfy_store_law *l, double p, double x, double *by_x,
                   double *by_p) {
    const condensate *s = store->data;
    double slope, come = l->g[0] * p, out = evaporation(s, l, 0, &slope);
    if (x <= 0) {
        *by_x = -out / s->thin;
        *by_p = l->g[0];
        return come - out * x / s->thin;
    }
    double cover = x / (x + s->thin), by_cover = s->thin / ((x + s->thin) * (x + s->thin));
    double flow = come - cover * out;
    if (isfinite(s->spec.heat_transfer)) {
        /* evaporation is at least nothing, and at a flow of at least `low` at most that of it */
        double high = come, low = come - cover * evaporation(s, l, come, &slope);
        low = fmin(low, flow);
        for (int i = 0; i < 100; i++) {
            out = evaporation(s, l, flow, &slope);
            double miss = flow - come + cover * out;
            if (miss > 0)
                high = flow;
            else
                low = flow;
            double next = flow - miss / (1 + cover * slope);
            if (!(next > low && next < high))
                next = 0.5 * (low + high);
            bool done = fabs(next - flow) <= 1e-15 * (fabs(come) + cover * out);
            flow = next;
            if (done)
                break;
        }
        out = evaporation(s, l, flow, &slope);
    } else {
        slope = 0;
    }
    double stiff = 1 / (1 + cover * slope);
    *by_x = -by_cover * out * stiff;
    *by_p = l->g[0] * stiff;
    return flow;
}

const rfy_store_kind rfy_store_condensate = {
    .name = "condensate", .exchanges = true, .pumps = true, .law = law, .rate = rate};

void rfy_condensate_new(rfy_arena *arena, const rfy_condensate_spec *spec, rfy_store *store) {
    condensate *s = RFY_NEW(arena, 1, condensate);
    s->spec = *spec;
    s->thin = RFY_MONOLAYER / AVOGADRO * spec->area;
    store->kind = &rfy_store_condensate;
    store->data = s;
    store->n = 1;
    store->start = RFY_NEW(arena, 1, double);
    store->grain = RFY_NEW(arena, 1, double);
    double *weight = RFY_NEW(arena, 1, double);
    store->start[0] = spec->amount;
    weight[0] = 1;
    store->grain[0] = 1e-6 * s->thin;
    store->weight = weight;
}
