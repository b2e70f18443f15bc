#include "surface/slab.h"

#include <math.h>

#define PI 3.14159265358979323846

enum {
    SINGLE = 12, /* modes on their own with a closed outer face, */
    CROSS = 33,  /* and those that reach from face to face; odd, see below */
    LAST = 1024,
    MOST = 96
};

typedef struct slab {
    rfy_slab_spec spec;
    double rate[MOST]; /* of each state over D, 1/m2 */
    double many[MOST]; /* modes it stands for, by strength */
    double sign[MOST];
} slab;

double rfy_slab_diffusivity(const rfy_slab_spec *s, double temperature) {
    return s->d0 * exp(-s->activation / (RFY_R * temperature));
}

double rfy_slab_permeability(const rfy_slab_spec *s, double temperature) {
    return s->k * exp(-s->k_activation / RFY_R * (1 / temperature - 1 / RFY_T_REF));
}

double rfy_slab_slowest(const rfy_slab_spec *s, double temperature) {
    double root = PI / s->thickness / (s->open ? 1 : 2);
    return rfy_slab_diffusivity(s, temperature) * root * root;
}

static double rate_of(const slab *s, double number) {
    double root = PI / s->spec.thickness * number;
    return root * root;
}

static void single(slab *s, int *n, double number, double many, double sign) {
    s->rate[*n] = rate_of(s, number);
    s->many[*n] = many;
    s->sign[(*n)++] = sign;
}

/* Two states with the moments 0 to 3 of the modes numbered from + shift to below to + shift, each
 * of weight 1/rate; `rest` is the weight of the endless tail, which goes with the faster one. */
static void gather(slab *s, int *n, double shift, int from, int to, double rest) {
    double sum = 0, mean, variance = 0, skew = 0;
    for (int i = from; i < to; i++)
        sum += 1 / rate_of(s, i + shift);
    mean = (to - from) / sum;
    for (int i = from; i < to; i++) {
        double r = rate_of(s, i + shift), d = r - mean;
        variance += d * d / r / sum;
        skew += d * d * d / r / sum;
    }
    double half = skew / variance / 2, wide = sqrt(half * half + variance);
    double rate[2] = {mean + half - wide, mean + half + wide};
    double upper = (mean - rate[0]) / (rate[1] - rate[0]);
    double weight[2] = {sum * (1 - upper), sum * upper + rest};
    for (int k = 0; k < 2; k++) {
        s->rate[*n] = rate[k];
        s->many[*n] = weight[k] * rate[k];
        s->sign[(*n)++] = 0;
    }
}

static void gather_all(slab *s, int *n, double shift, int from) {
    while (from < LAST) {
        int to = (int)(from * 1.33) + 1;
        to = to < from + 2 ? from + 2 : to;
        /* sum of 1/rate beyond: an integral, by the midpoint rule */
        double step = PI / s->spec.thickness;
        double rest = to >= LAST ? 1 / (step * step * (to - 0.5 + shift)) : 0;
        gather(s, n, shift, from, to, rest);
        from = to;
    }
}

/* Outer face closed: modes (i + 1/2) pi/d.
 *
 * Both faces open: modes i pi/d, of sign + and - by turns as seen from the outer face. High modes
 * never reach from face to face: two neighbours together are a state at the inner face and one at
 * the outer face, which nothing here needs (it stays in balance with the air). The last of the
 * crossing modes counts half on either side, so that the signs add up to 1/2 and gas from outside
 * begins with no flow at all; as its number is odd the flow is never below zero on the way. */
static int make_modes(slab *s) {
    int n = 0;
    if (!s->spec.open) {
        for (int i = 0; i < SINGLE; i++)
            single(s, &n, i + 0.5, 1, 0);
        gather_all(s, &n, 0.5, SINGLE);
        return n;
    }
    for (int i = 1; i < CROSS; i++)
        single(s, &n, i, 1, i % 2 ? 1 : -1);
    single(s, &n, CROSS, 0.5, 1);
    single(s, &n, CROSS, 0.5, 0);
    gather_all(s, &n, 0, CROSS + 1);
    return n;
}

static void law(const rfy_store *store, const rfy_store_state *at, rfy_store_law *out) {
    const slab *s = store->data;
    double d = rfy_slab_diffusivity(&s->spec, at->wall);
    double k = rfy_slab_permeability(&s->spec, at->wall);
    double through = at->scale * k * s->spec.area / s->spec.thickness / (RFY_R * RFY_T_REF);
    out->through = s->spec.open ? through : 0;
    out->through_outside = out->through * s->spec.outside;
    for (int j = 0; j < store->n; j++) {
        out->k[j] = d * s->rate[j];
        out->g[j] = 2 * through * s->many[j];
        out->o[j] = s->spec.open ? s->sign[j] * out->g[j] * s->spec.outside : 0;
    }
}

const rfy_store_kind rfy_store_slab = {.name = "diffusion", .law = law};

void rfy_slab_new(rfy_arena *arena, const rfy_slab_spec *spec, rfy_store *store) {
    slab *s = RFY_NEW(arena, 1, slab);
    s->spec = *spec;
    const int n = make_modes(s);
    store->kind = &rfy_store_slab;
    store->data = s;
    store->n = n;
    store->sign = spec->open ? s->sign : NULL;
    double *weight = RFY_NEW(arena, (size_t)n, double);
    store->start = RFY_NEW(arena, (size_t)n, double);
    store->grain = RFY_NEW(arena, (size_t)n, double);
    double most = spec->content * spec->area * spec->thickness;
    double held = rfy_slab_permeability(spec, RFY_T_REF) / rfy_slab_diffusivity(spec, RFY_T_REF) /
                  (RFY_R * RFY_T_REF) * spec->outside * spec->area * spec->thickness;
    most = most > held ? most : held;
    for (int j = 0; j < n; j++) {
        weight[j] = 1 + s->sign[j];
        /* an even content c fills state j with 2 c A/(d r) from each face it knows */
        double even = 2 * spec->content * spec->area / (spec->thickness * s->rate[j]) * s->many[j];
        store->start[j] = even * (1 + s->sign[j]);
        if (spec->settled)
            store->start[j] = j == 0 ? spec->content * spec->area * spec->thickness / weight[0] : 0;
        /* a mode adds its amount times its rate to the flow: below a billionth of a full wall's
         * flow none matters */
        store->grain[j] = 1e-9 * most * s->many[j] * s->rate[0] / s->rate[j] + 1e-300;
    }
    store->weight = weight;
}
