#include "study/conductance.h"
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>
#include "network/edges.h"

/* Borders of the regimes in lambda/bore, as in solve/watch.c (ISO 3529-1 names the regimes; the
 * borders are common practice), and the Reynolds number at which pipe flow begins to turn
 * turbulent. */
static const double kn_viscous = 0.01, kn_molecular = 0.5, re_turbulent = 2300;
/* An outlet held at the velocity of sound costs friction-limited flow (p_outlet/p)^2: below a
 * fifth, 4 %, friction decides and choking is not worth a word. */
static const double choking_counts = 0.2;

/* The piece as a law of flow, for one mixture. */
typedef struct law {
    rfy_edge edge; /* its stretch is NULL when the conductance is given */
    const rfy_mixture *mixture;
    rfy_mixture_state state; /* of the gas before the piece */
    const double *fraction;
    double opening, area, rt;
} law;

static void flow(const law *l, const double *a, const double *b, double *n, double *by_a,
                 double *by_b) {
    l->edge.flow(&l->edge, l->mixture, l->opening, a, b, n, by_a, by_b);
}

/* Total flow, mol/s, of the mixture at p before the piece with the same mixture at q behind it; the
 * slope by q when not NULL. */
static double total(const law *l, double p, double q, double *slope) {
    const int n = l->mixture->n;
    double a[RFY_MAX_GASES], b[RFY_MAX_GASES], each[RFY_MAX_GASES];
    double by_a[RFY_MAX_GASES * RFY_MAX_GASES], by_b[RFY_MAX_GASES * RFY_MAX_GASES], sum = 0;
    for (int i = 0; i < n; i++) {
        a[i] = l->fraction[i] * p;
        b[i] = l->fraction[i] * q;
    }
    flow(l, a, b, each, slope ? by_a : NULL, slope ? by_b : NULL);
    if (slope)
        *slope = 0;
    for (int i = 0; i < n; i++) {
        sum += each[i];
        for (int j = 0; slope && j < n; j++)
            *slope += by_b[i * n + j] * l->fraction[j];
    }
    return sum;
}

/* Flow over pressure difference, m3/s, with a thousandth of p between the ends: laminar wherever
 * vacuum pipes are used, and still a flow that inertia holds back where it would (its root law has
 * no slope at no difference). */
static double small_difference(const law *l, double p) {
    const double part = 1e-3;
    return total(l, p * (1 + part / 2), p * (1 - part / 2), NULL) * l->rt / (p * part);
}

/* ---- a pump behind the piece ---- */

/* Where the flow of the unchanged mixture equals what the pump takes, total(p, q) = s q: one root
 * in 0..p, since the left side never rises and the right side does. Newton, kept inside the bracket
 * by halving. */
static double balance_one(const law *l, double p, double s) {
    double low = 0, high = p, q = 0.5 * p;
    for (int i = 0; i < 200; i++) {
        double slope, f = total(l, p, q, &slope) - s * q;
        if (f > 0)
            low = q;
        else
            high = q;
        double next = q - f / (slope - s);
        if (!(next > low && next < high))
            next = 0.5 * (low + high);
        if (fabs(next - q) <= 1e-14 * q || high - low <= 1e-15 * high)
            return next;
        q = next;
    }
    return q;
}

/* The same gas by gas: the lighter gases are thinned out more behind the piece. Newton from the
 * unchanged mixture; no partial pressure falls to less than a tenth in one step. False when it does
 * not settle. */
static bool balance(const law *l, double p, double s, double *b) {
    const size_t n = (size_t)l->mixture->n;
    double a[RFY_MAX_GASES], each[RFY_MAX_GASES], step[RFY_MAX_GASES];
    double by_a[RFY_MAX_GASES * RFY_MAX_GASES], by_b[RFY_MAX_GASES * RFY_MAX_GASES];
    size_t order[RFY_MAX_GASES];
    double q = balance_one(l, p, s);
    for (size_t i = 0; i < n; i++) {
        a[i] = l->fraction[i] * p;
        b[i] = l->fraction[i] * q;
    }
    for (int round = 0; n > 1; round++) {
        flow(l, a, b, each, by_a, by_b);
        for (size_t i = 0; i < n; i++) {
            step[i] = each[i] - s * b[i];
            by_b[i * n + i] -= s;
        }
        gsl_matrix_view m = gsl_matrix_view_array(by_b, n, n);
        gsl_vector_view v = gsl_vector_view_array(step, n);
        gsl_permutation pivot = {n, order};
        int sign;
        if (gsl_linalg_LU_decomp(&m.matrix, &pivot, &sign) ||
            gsl_linalg_LU_svx(&m.matrix, &pivot, &v.vector))
            return false;
        double most = 0;
        for (size_t i = 0; i < n; i++) {
            double next = fmax(b[i] - step[i], 0.1 * b[i]);
            most = fmax(most, fabs(next - b[i]) / b[i]);
            b[i] = next;
        }
        if (!isfinite(most))
            return false;
        if (most <= 1e-12)
            break;
        if (round >= 100)
            return most <= 1e-8; /* round-off keeps it from getting closer */
    }
    return true;
}

/* ---- rows ---- */

static rfy_regime regime_of(const law *l, const rfy_conductance_row *row) {
    if (!l->edge.stretch)
        return RFY_REGIME_GIVEN;
    if (row->knudsen > kn_molecular)
        return RFY_REGIME_MOLECULAR;
    if (row->knudsen >= kn_viscous)
        return RFY_REGIME_TRANSITION;
    /* Pressure at which this flow leaves with the velocity of sound, at 2/(gamma + 1) of the
     * temperature: p* = (N/A) sqrt(RTM/gamma) sqrt(2/(gamma + 1)) (gas dynamics; 0.528 of p for air
     * and a lossless nozzle). */
    double gamma = l->state.gamma;
    double sonic = row->flow / l->area * sqrt(l->rt * l->state.mass / gamma * 2 / (gamma + 1));
    if (sonic > row->downstream && sonic > choking_counts * row->pressure)
        return RFY_REGIME_CHOKED;
    return row->reynolds > re_turbulent ? RFY_REGIME_TURBULENT : RFY_REGIME_LAMINAR;
}

static bool fill_row(const law *l, const rfy_conductance_question *x, double p,
                     rfy_conductance_row *row) {
    const double s = x->pump_speed / l->rt;
    double b[RFY_MAX_GASES];
    *row = (rfy_conductance_row){.pressure = p, .pump_pressure = NAN, .effective_speed = NAN};
    row->mean_free_path = rfy_mean_free_path(l->state.viscosity, l->state.mass, x->temperature, p);
    row->knudsen =
        l->edge.stretch ? rfy_stretch_knudsen(l->edge.stretch, &l->state, p) : (double)NAN;
    row->conductance = small_difference(l, p);
    if (!isnan(x->pump_speed)) {
        double sum = 0;
        if (l->opening > 0 && !balance(l, p, s, b))
            return false;
        for (int i = 0; i < l->mixture->n && l->opening > 0; i++)
            sum += b[i];
        row->pump_pressure = sum;
        row->effective_speed = x->pump_speed * sum / p;
    }
    if (x->behind == RFY_BEHIND_PUMP) {
        row->downstream = row->pump_pressure;
        row->flow = s * row->pump_pressure;
    } else {
        row->downstream = x->behind == RFY_BEHIND_DROP       ? p * (1 - x->drop)
                          : x->behind == RFY_BEHIND_PRESSURE ? x->downstream
                                                             : 0;
        row->flow = total(l, p, row->downstream, NULL);
    }
    row->throughput = row->flow * RFY_R * RFY_T_REF;
    /* Re = mass flow x hydraulic diameter/(area x viscosity) */
    row->reynolds = l->edge.stretch ? row->flow * l->state.mass * 2 * x->shape.own.radius /
                                          (l->area * l->state.viscosity)
                                    : (double)NAN;
    row->regime = regime_of(l, row);
    return true;
}

/* Both ends and the whole decades between; 3, 30 … as well when there are few. */
static double *pressures(rfy_arena *arena, const rfy_conductance_question *x, size_t *n) {
    double low = x->from * (1 + 1e-9), high = x->to * (1 - 1e-9);
    int first = (int)floor(log10(low / x->unit)), last = (int)ceil(log10(high / x->unit));
    bool few = log10(x->to / x->from) < 4.5;
    double *p = RFY_NEW(arena, 2 * (size_t)(last - first + 2) + 2, double);
    *n = 0;
    p[(*n)++] = x->from;
    for (int k = first; k <= last; k++)
        for (int m = 1; m <= (few ? 3 : 1); m += 2) {
            double value = m * (k < 0 ? x->unit / pow(10, -k) : x->unit * pow(10, k));
            if (value > low && value < high)
                p[(*n)++] = value;
        }
    if (x->to > low)
        p[(*n)++] = x->to;
    return p;
}

/* ---- what is known of the answer ---- */

/* Expected errors between molecular flow and choking, by length over radius: the law against
 * kinetic calculations of short tubes (our judgement; measured for orifices, 2 %), with 1 % for the
 * kinetic model. */
static void expect_error(rfy_conductance_result *out, double inexact) {
    double l = out->length / (out->bore / 2);
    out->error_least = l < 1 ? 0.03 : l <= 20 ? 0.05 : 0.01;
    out->error_most = l < 1 ? 0.05 : l <= 20 ? 0.10 : l < 100 ? 0.05 : 0.01;
    out->error_molecular = inexact;
    if (out->error_most < inexact)
        out->error_most = inexact;
    if (out->error_least < inexact)
        out->error_least = inexact;
}

/* Sutherland's form is fitted to handbook values at 200 and 400 K, for water vapour at 300 and 500
 * K (where it meets the dilute-gas values down to 290 K): data/gases.csv. */
static void gas_limits(const rfy_conductance_question *x, rfy_conductance_result *out) {
    out->gas_coldest = 200;
    out->gas_hottest = 400;
    for (int i = 0; i < x->n_gases; i++)
        if (strcmp(x->catalog->species[x->species[i]].name, "H2O") == 0) {
            out->gas_coldest = 290;
            if (x->n_gases == 1)
                out->gas_hottest = 500;
        }
}

static void take_care(rfy_arena *arena, const rfy_conductance_question *x, bool closed,
                      rfy_conductance_result *out) {
    const char **care = RFY_NEW(arena, 4, const char *);
    size_t n = 0;
    if (closed)
        care[n++] = "The valve is closed: nothing passes but what its seat lets through, which is "
                    "not counted.";
    if (x->temperature < out->gas_coldest || x->temperature > out->gas_hottest)
        care[n++] = rfy_arena_printf(
            arena,
            "The viscosity is extrapolated: it is fitted from %.0f K to %.0f K. Molecular "
            "flow does not depend on it.",
            out->gas_coldest, out->gas_hottest);
    for (int i = 0; i < x->n_gases; i++) {
        double most = rfy_water_saturation(x->temperature) / x->fraction[i];
        if (strcmp(x->catalog->species[x->species[i]].name, "H2O") == 0 && x->temperature < 373 &&
            most < x->to)
            care[n++] = rfy_arena_printf(
                arena,
                "Above %.3g Pa the water vapour would condense: such pressures do not occur.",
                most);
    }
    if (x->shape.curve)
        care[n++] = "Beyond the ends of its curve the conductance is taken as constant.";
    else if (x->shape.role == RFY_PIECE_GIVEN)
        care[n++] =
            "The given conductance is not raised at higher pressure, where it would be larger.";
    out->care = care;
    out->n_care = n;
}

static rfy_stretch_geometry geometry_of(const rfy_piece_shape *s, double temperature) {
    rfy_stretch_geometry g =
        s->role == RFY_PIECE_OWN
            ? s->own
            : rfy_tube_geometry(s->bore, s->molecular_length, s->viscous_length);
    if (s->role == RFY_PIECE_BORE)
        g.loss += s->loss;
    g.roughness = s->roughness;
    g.temperature[0] = g.temperature[1] = temperature;
    return g;
}

rfy_status rfy_conductance_answer(rfy_arena *arena, const rfy_conductance_question *question,
                                  rfy_problems *problems, rfy_conductance_result *out) {
    rfy_conductance_question copy = *question;
    rfy_mixture *mixture = RFY_NEW(arena, 1, rfy_mixture);
    rfy_mixture_init(mixture, copy.catalog, copy.species, copy.n_gases, copy.temperature);
    bool closed = copy.shape.is_valve && copy.shape.state == RFY_CLOSED;
    law l = {.mixture = mixture,
             .fraction = copy.fraction,
             .opening = closed ? 0 : 1,
             .rt = RFY_R * copy.temperature};
    rfy_mixture_at(mixture, copy.fraction, &l.state, NULL, NULL, NULL);
    out->temperature = copy.temperature;
    out->viscosity = l.state.viscosity;
    out->molar_mass = l.state.mass;
    out->area = out->bore = out->length = out->transmission = NAN;
    out->error_least = out->error_most = NAN;
    out->behind = copy.behind;
    out->drop = copy.drop;
    out->downstream = copy.downstream;
    out->pump_speed = copy.pump_speed;
    out->molecular = 0;
    if (copy.shape.role == RFY_PIECE_GIVEN) {
        if (copy.shape.curve) {
            l.edge.flow = rfy_edge_given_curve;
            l.edge.data = rfy_given_curve_new(arena, mixture, copy.shape.curve, copy.temperature);
        } else {
            l.edge.flow = rfy_edge_given;
            l.edge.data =
                rfy_given_molecular(arena, mixture, copy.shape.conductance, copy.temperature);
        }
        out->molecular = small_difference(&l, 1e-12);
    } else {
        copy.shape.own = geometry_of(&copy.shape, copy.temperature);
        const rfy_stretch_geometry *g = &copy.shape.own;
        l.edge.flow = rfy_edge_stretch;
        l.edge.stretch = rfy_stretch_new(arena, g);
        l.area = out->area = g->area;
        out->bore = 2 * g->radius;
        out->length = g->length;
        for (int i = 0; i < mixture->n; i++)
            out->molecular += l.opening * copy.fraction[i] *
                              rfy_stretch_molecular_conductance(l.edge.stretch, mixture->mass.d[i]);
        out->transmission = l.opening *
                            rfy_stretch_molecular_conductance(l.edge.stretch, l.state.mass) /
                            (g->area * rfy_mean_speed(l.state.mass, copy.temperature) / 4);
        expect_error(out, copy.shape.inexact);
    }
    gas_limits(&copy, out);
    take_care(arena, &copy, closed, out);

    double *p = pressures(arena, &copy, &out->n_rows);
    rfy_conductance_row *row = RFY_NEW(arena, out->n_rows, rfy_conductance_row);
    out->row = row;
    for (size_t i = 0; i < out->n_rows; i++)
        if (!fill_row(&l, &copy, p[i], &row[i])) {
            const rfy_place at = {0, 0, "pump"};
            rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL,
                            "the flow to the pump could not be balanced at %g Pa", p[i]);
            return RFY_RUN_FAILED;
        }
    return RFY_OK;
}
