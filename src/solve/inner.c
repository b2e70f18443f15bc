#include "solve/inner.h"

#include <string.h>

struct rfy_inner {
    const rfy_network *net;
    int first, n;
    double *by_x, *by_n; /* [n] of each state's rate: by itself, by the moles of its gas */
    double *through;     /* [n_stores] what flows straight through, by the moles of the gas */
    double *f, *inverse; /* [n]; inverse: 1/(fac - by_x) */
    double *rest;        /* [n] right-hand side of the inner states */
    double *diagonal;
    double fac;
};

rfy_inner *rfy_inner_new(rfy_arena *arena, const rfy_network *net) {
    if (net->n_inner == 0)
        return NULL;
    rfy_inner *in = RFY_NEW(arena, 1, rfy_inner);
    const size_t n = (size_t)net->n_inner;
    in->net = net;
    in->first = rfy_network_inner(net);
    in->n = net->n_inner;
    in->by_x = RFY_NEW(arena, n, double);
    in->by_n = RFY_NEW(arena, n, double);
    in->f = RFY_NEW(arena, n, double);
    in->inverse = RFY_NEW(arena, n, double);
    in->rest = RFY_NEW(arena, n, double);
    in->through = RFY_NEW(arena, (size_t)net->n_stores, double);
    in->diagonal = RFY_NEW(arena, (size_t)(net->n_free * net->mixture.n), double);
    return in;
}

void rfy_inner_slopes(const rfy_network *net, const rfy_controls *c, const double *y,
                      const double *pressure, double *f, double *by_x, double *by_n,
                      double *through) {
    const int g = net->mixture.n, first = rfy_network_inner(net);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        int at = s->first - first;
        double outer, per_mole = RFY_R * c->temperature[s->node] / net->node[s->node].volume;
        rfy_store_rates(s, &c->store[i], pressure[s->node * g + s->gas], y + s->first, f + at,
                        by_x + at, by_n + at, &outer);
        for (int j = at; j < at + s->n; j++)
            by_n[j] *= per_mole;
        through[i] = c->store[i].through * per_mole;
    }
}

void rfy_inner_jacobian(rfy_inner *in, const rfy_controls *c, const double *y,
                        const double *pressure) {
    rfy_inner_slopes(in->net, c, y, pressure, in->f, in->by_x, in->by_n, in->through);
}

void rfy_inner_values(const rfy_inner *in, const double **by_x, const double **by_n,
                      const double **through) {
    *by_x = in->by_x;
    *by_n = in->by_n;
    *through = in->through;
}

/* A place loses what its inner states gain, so with d = by_x and b = by_n of state j
 *     (fac - J) u_gas + sum_j (d_j u_j + b_j u_gas) = r,   (fac - d_j) u_j - b_j u_gas = r_j .
 * Putting u_j in leaves sum_j b_j fac/(fac - d_j) on the diagonal, without a difference of large
 * numbers. */
const double *rfy_inner_diagonal(rfy_inner *in, double fac) {
    const rfy_network *net = in->net;
    const int g = net->mixture.n;
    in->fac = fac;
    memset(in->diagonal, 0, (size_t)(net->n_free * g) * sizeof *in->diagonal);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double *d = &in->diagonal[s->node * g + s->gas];
        *d += in->through[i];
        for (int j = s->first - in->first; j < s->first - in->first + s->n; j++) {
            in->inverse[j] = 1 / (fac - in->by_x[j]);
            *d += in->by_n[j] * fac * in->inverse[j];
        }
    }
    return in->diagonal;
}

void rfy_inner_condense(rfy_inner *in, double *u) {
    const rfy_network *net = in->net;
    const int g = net->mixture.n;
    memcpy(in->rest, u + in->first, (size_t)in->n * sizeof *u);
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double *gas = &u[s->node * g + s->gas];
        for (int j = s->first - in->first; j < s->first - in->first + s->n; j++)
            *gas -= in->by_x[j] * in->rest[j] * in->inverse[j];
    }
}

void rfy_inner_expand(rfy_inner *in, double *u) {
    const rfy_network *net = in->net;
    const int g = net->mixture.n;
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        double gas = u[s->node * g + s->gas], outer = -in->through[i] * gas;
        double *x = u + s->first;
        for (int k = 0; k < s->n; k++) {
            int j = s->first - in->first + k;
            x[k] = (in->rest[j] + in->by_n[j] * gas) * in->inverse[j];
            if (s->sign)
                outer += s->sign[k] * (in->fac * x[k] - in->rest[j]);
        }
        if (s->sign)
            u[net->outside_node * g + s->gas] -= outer;
    }
}

void rfy_inner_dense(const rfy_inner *in, double *m, size_t n) {
    const rfy_network *net = in->net;
    const int g = net->mixture.n;
    for (int i = 0; i < net->n_stores; i++) {
        const rfy_store *s = &net->store[i];
        size_t gas = (size_t)(s->node * g + s->gas);
        size_t out = (size_t)(net->outside_node * g + s->gas);
        m[gas * n + gas] -= in->through[i];
        if (s->sign)
            m[out * n + gas] += in->through[i];
        for (int k = 0; k < s->n; k++) {
            size_t x = (size_t)(s->first + k);
            int j = s->first - in->first + k;
            m[x * n + x] += in->by_x[j];
            m[x * n + gas] += in->by_n[j];
            m[gas * n + x] -= in->by_x[j];
            m[gas * n + gas] -= in->by_n[j];
            if (s->sign) {
                m[out * n + x] -= s->sign[k] * in->by_x[j];
                m[out * n + gas] -= s->sign[k] * in->by_n[j];
            }
        }
    }
}
