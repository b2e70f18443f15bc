#include "surface/slab.h"

#include <math.h>

#define PI 3.14159265358979323846

enum { SINGLE = 8, LAST = 1024, MOST = 80 };

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

/* Two states with the moments 0 to 3 of the modes from `from` below `to` in steps of `step`, each
 * of weight 1/rate. */
static void gather(slab *s, int *n, double shift, int from, int to, int step, double sign,
                   double rest) {
    double root = PI / s->spec.thickness, sum = 0, mean = 0, variance = 0, skew = 0;
    for (int i = from; i < to; i += step) {
        double r = root * (i + shift) * root * (i + shift);
        sum += 1 / r;
        mean += 1;
    }
    mean /= sum;
    for (int i = from; i < to; i += step) {
        double r = root * (i + shift) * root * (i + shift), d = r - mean;
        variance += d * d / r;
        skew += d * d * d / r;
    }
    variance /= sum;
    skew /= sum;
    double half = skew / variance / 2, wide = sqrt(half * half + variance);
    double low = mean + half - wide, high = mean + half + wide;
    double upper = (mean - low) / (high - low);
    for (int k = 0; k < 2; k++) {
        double r = k == 0 ? low : high, w = sum * (k == 0 ? 1 - upper : upper);
        /* the endless rest above the last group goes with its fastest state */
        w += k == 1 ? rest : 0;
        s->rate[*n] = r;
        s->many[*n] = w * r;
        s->sign[(*n)++] = sign;
    }
}

/* One series of modes, numbered from `first` in steps of `step`, at rate (pi (i + shift)/d)^2. */
static void modes(slab *s, int *n, double shift, int first, int step, double sign) {
    double root = PI / s->spec.thickness;
    int i = first;
    for (int k = 0; k < SINGLE; k++, i += step) {
        s->rate[*n] = root * (i + shift) * root * (i + shift);
        s->many[*n] = 1;
        s->sign[(*n)++] = sign;
    }
    for (double edge = i; i < LAST;) {
        edge *= sqrt(2);
        int to = i + step;
        while (to < edge)
            to += step;
        to += step; /* never a group of one */
        /* sum of 1/rate beyond: an integral, by the midpoint rule */
        double rest = to >= LAST ? 1 / (root * root * step * (to - 0.5 * step + shift)) : 0;
        gather(s, n, shift, i, to, step, sign, rest);
        i = to;
        edge = i;
    }
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
    int n = 0;
    s->spec = *spec;
    if (spec->open) {
        modes(s, &n, 0, 1, 2, 1);
        modes(s, &n, 0, 2, 2, -1);
    } else {
        modes(s, &n, 0.5, 0, 1, 0);
    }
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
        /* an even content c fills state j with 2 c A/(d r) for each face that shares it */
        double even = 2 * spec->content * spec->area / (spec->thickness * s->rate[j]) * s->many[j];
        store->start[j] = spec->open ? (s->sign[j] > 0 ? 2 * even : 0) : even;
        if (spec->settled)
            store->start[j] = j == 0 ? spec->content * spec->area * spec->thickness / weight[0] : 0;
        /* a mode adds its amount times its rate to the flow: below a billionth of a full wall's
         * flow none matters */
        store->grain[j] = 1e-9 * most * s->many[j] * s->rate[0] / s->rate[j] + 1e-300;
    }
    store->weight = weight;
}
