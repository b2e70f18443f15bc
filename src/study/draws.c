#include "study/draws.h"
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

/* The quantile of the normal distribution, kept finite at the ends. */
static double normal(double u) {
    const double least = 1e-12;
    return gsl_cdf_ugaussian_Pinv(u < least ? least : u > 1 - least ? 1 - least : u);
}

double rfy_law_quantile(rfy_law law, double a, double b, double u) {
    switch (law) {
    case RFY_LAW_EVEN:
        return a + (b - a) * u;
    case RFY_LAW_LOG_EVEN:
        return a * pow(b / a, u);
    case RFY_LAW_NORMAL:
        return a + b * normal(u);
    case RFY_LAW_FACTOR:
        break;
    }
    return a * pow(b, normal(u) / RFY_Z95);
}

static void add(rfy_walls *w, const char *material, double spread) {
    if (!material || !(spread > 1))
        return;
    for (size_t i = 0; i < w->n; i++)
        if (strcmp(w->material[i], material) == 0) {
            w->spread[i] = spread > w->spread[i] ? spread : w->spread[i];
            return;
        }
    w->material[w->n] = material;
    w->spread[w->n++] = spread;
}

rfy_walls rfy_walls_of(rfy_arena *arena, const rfy_network *net) {
    const size_t most = (size_t)(net->n_emitters + net->n_stores);
    rfy_walls w = {0, RFY_NEW(arena, most, const char *), RFY_NEW(arena, most, double)};
    for (int i = 0; i < net->n_emitters; i++)
        add(&w, net->emitter[i].material, net->emitter[i].spread);
    for (int i = 0; i < net->n_stores; i++)
        add(&w, net->store[i].material, net->store[i].spread);
    for (size_t i = 0; i < w.n; i++)
        w.material[i] = rfy_arena_strdup(arena, w.material[i]);
    return w;
}

static double scale_of(const rfy_walls *w, const char *material, const double *u) {
    for (size_t i = 0; material && i < w->n; i++)
        if (strcmp(w->material[i], material) == 0)
            return normal(u[i]) / RFY_Z95;
    return 0;
}

double *rfy_walls_scales(rfy_arena *arena, const rfy_walls *walls, const rfy_network *net,
                         const double *u) {
    double *scale = RFY_NEW(arena, (size_t)(net->n_emitters + net->n_stores), double);
    for (int i = 0; i < net->n_emitters; i++)
        scale[i] = scale_of(walls, net->emitter[i].material, u);
    for (int i = 0; i < net->n_stores; i++)
        scale[net->n_emitters + i] = scale_of(walls, net->store[i].material, u);
    return scale;
}
