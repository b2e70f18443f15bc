/* The flow law of a stretch under drawn circumstances: what must hold whatever the numbers are. The
 * generator is seeded, so a failure comes back; each one is printed with its draw. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "flow/stretch.h"
#include "support/support.h"

#define PI 3.14159265358979323846
enum { GASES = 8 };

static rfy_arena *catalog_arena, *arena;
static const rfy_catalog *catalog;

static int setup(void **state) {
    (void)state;
    catalog_arena = rfy_arena_new();
    catalog = rfy_catalog_new(catalog_arena);
    arena = rfy_arena_new();
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_arena_free(catalog_arena);
    rfy_arena_free(arena);
    return 0;
}

/* ---- drawing ---- */

static uint64_t seed;

static double uniform(void) { /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static double log_uniform(double low, double high) {
    return low * pow(high / low, uniform());
}

static int below(int n) {
    return (int)(uniform() * n);
}

typedef struct draw {
    rfy_stretch_geometry geometry;
    double bore, length, temperature, opening; /* temperature: mean of the ends */
    bool one_temperature;
    rfy_mixture mix;
    const rfy_stretch *run, *back; /* the same with its ends exchanged */
    double a[GASES], b[GASES];
} draw;

static const rfy_stretch *turned(const rfy_stretch_geometry *g) {
    rfy_stretch_geometry back = *g;
    for (int i = 0; i < 2; i++) {
        back.inverse_area[i] = g->inverse_area[1 - i];
        back.end_area[i] = g->end_area[1 - i];
        back.temperature[i] = g->temperature[1 - i];
    }
    return rfy_stretch_new(arena, &back);
}

/* A round tube, or a flat channel whose ends may differ (a wedge). */
static void draw_shape(draw *d, bool tube) {
    rfy_stretch_geometry *g = &d->geometry;
    double bore = log_uniform(1e-3, 0.2), length = bore * log_uniform(0.01, 1000);
    d->bore = bore;
    d->length = length;
    double bends = below(4) == 0 ? 1 : 0;
    *g = rfy_tube_geometry(bore, length + 0.67 * bends * bore, length);
    g->loss = bends * uniform();
    if (!tube && below(3) == 0) {
        double wide = log_uniform(2, 100), swells = below(2) ? 1 : 1 + 3 * uniform();
        g->section = RFY_SECTION_CHANNEL;
        g->radius = bore;
        g->area = bore * bore * wide;
        g->end_area[0] = g->area;
        g->end_area[1] = g->area * swells;
        /* roughly right: a slit's own resistance, and the apertures taken off */
        g->body = length / bore / (1 + log1p(length / bore)) / swells + 0.5 - 0.5 / swells;
        g->length = length;
        g->viscous_length = 1.5 * length / swells;
    }
}

static void draw_run(draw *d, int most, bool tube) {
    static int since;
    if (++since % 1000 == 0) { /* runs are some 10 kB each */
        rfy_arena_free(arena);
        arena = rfy_arena_new();
    }
    rfy_stretch_geometry *g = &d->geometry;
    draw_shape(d, tube);
    if (below(6) == 0 && d->length < d->bore)
        g->thin = true;
    if (below(4) == 0)
        g->roughness = d->bore * log_uniform(1e-6, 0.03);
    for (int i = 0; i < 2; i++) { /* open, the same bore, wider or narrower */
        double ratio = below(3) == 0 ? 1 : log_uniform(0.3, 30);
        g->inverse_area[i] = below(3) == 0 ? 0 : 1 / (g->end_area[i] * ratio);
    }
    if (below(5) == 0) {
        g->cells = 1 + below(6);
        g->inertia = below(2) == 0;
    }
    d->temperature = below(2) ? 293.15 : 250 + 200 * uniform();
    d->one_temperature = tube || below(4) > 0;
    g->temperature[0] = g->temperature[1] = d->temperature;
    if (!d->one_temperature) {
        g->temperature[0] = 77 + 600 * uniform();
        g->temperature[1] = 2 * d->temperature - g->temperature[0];
        if (g->temperature[1] < 20)
            g->temperature[1] = 20;
        d->temperature = 0.5 * (g->temperature[0] + g->temperature[1]);
    }
    d->run = rfy_stretch_new(arena, g);
    d->back = turned(g);
    d->opening = below(3) ? 1 : log_uniform(1e-4, 1);

    int species[GASES], n = 1 + below(most);
    for (int i = 0; i < n; i++) {
        bool fresh;
        do {
            species[i] = below((int)catalog->n_species - 1); /* not the last, a pseudo-gas */
            fresh = true;
            for (int j = 0; j < i; j++)
                fresh = fresh && species[j] != species[i];
        } while (!fresh);
    }
    rfy_mixture_init(&d->mix, catalog, species, n, d->temperature);
}

static const rfy_species *gas_of(const draw *d, int i) {
    return &catalog->species[d->mix.species[i]];
}

static double total(const draw *d, const double *p) {
    double sum = 0;
    for (int i = 0; i < d->mix.n; i++)
        sum += p[i];
    return sum;
}

static void draw_pressures(draw *d) {
    const int n = d->mix.n, how = below(8);
    double level = log_uniform(1e-10, 1e5);
    bool shared = below(2); /* all gases about one level, or each at its own */
    for (int i = 0; i < n; i++) {
        d->a[i] = shared ? level * uniform() : log_uniform(1e-10, 1e5);
        d->b[i] = shared ? level * uniform() : log_uniform(1e-10, 1e5);
        if (how == 0 && below(3) == 0)
            d->a[i] = 0;
        if (how <= 1 && below(3) == 0)
            d->b[i] = 0;
        if (how == 2) /* nearly alike */
            d->b[i] = d->a[i] * (1 + log_uniform(1e-12, 1e-2) * (below(2) ? 1 : -1));
    }
    if (how == 3) /* into nothing */
        memset(d->b, 0, sizeof d->b);
    if (how == 4 && total(d, d->b) > 0) { /* equal totals, other composition */
        double ratio = total(d, d->a) / total(d, d->b);
        for (int i = 0; i < n; i++)
            d->b[i] *= ratio;
    }
}

static void tell(const draw *d) {
    const rfy_stretch_geometry *g = &d->geometry;
    print_error(
        "  section %d bore %.6g length %.6g loss %g rough %g thin %d cells %d inertia %d 1/A %g %g "
        "T %g %g opening %.6g\n",
        (int)g->section, d->bore, d->length, g->loss, g->roughness, g->thin, g->cells, g->inertia,
        g->inverse_area[0], g->inverse_area[1], g->temperature[0], g->temperature[1], d->opening);
    for (int i = 0; i < d->mix.n; i++)
        print_error("  %-4s %.17g %.17g\n", d->mix.name[i], d->a[i], d->b[i]);
}

/* What a gas moves one way at most: the yardstick of cancellation. Molecular exchange both ways,
 * and the mixture's flow into a vacuum carrying the gas's larger share. */
static double gross(const draw *d, int i) {
    double m[GASES] = {0}, pa = total(d, d->a), pb = total(d, d->b), up = fmax(pa, pb);
    for (int k = 0; k < d->mix.n; k++)
        m[k] = d->a[k] + d->b[k];
    rfy_mixture_state gas;
    rfy_mixture_at(&d->mix, m, &gas, NULL, NULL, NULL);
    double share = fmax(pa > 0 ? d->a[i] / pa : 0, pb > 0 ? d->b[i] / pb : 0);
    return rfy_stretch_molecular_conductance(d->run, gas_of(d, i)->molar_mass) * d->opening *
               (d->a[i] + d->b[i]) / (RFY_R * d->temperature) +
           share * rfy_stretch_total(d->run, &gas, d->opening, up, 0);
}

static void flow_of(const draw *d, const double *a, const double *b, double *flow) {
    rfy_stretch_flow(d->run, &d->mix, d->opening, a, b, flow, NULL, NULL);
}

typedef struct tally {
    long checked, left_out, wrong;
    double worst;
} tally;

/* off: error over what is allowed. */
static void count(tally *t, double off, const draw *d, const char *format, ...) {
    t->checked++;
    if (off > t->worst)
        t->worst = off;
    if (off <= 1)
        return;
    if (t->wrong++ < 3) {
        va_list args;
        va_start(args, format);
        char text[200];
        vsnprintf(text, sizeof text, format, args);
        va_end(args);
        print_error("%s: %.3g times the allowed error\n", text, off);
        tell(d);
    }
}

static void settle(const tally *t, const char *what) {
    print_message("%s: %ld checked, %ld left out, worst %.2g of what is allowed\n", what,
                  t->checked, t->left_out, t->worst);
    assert_int_equal(t->wrong, 0);
    assert_true(t->checked > 0);
}

/* ---- whatever is drawn ---- */

static void turning_round_changes_the_sign(void **state) {
    (void)state;
    seed = 1;
    tally odd = {0}, still = {0}, sign = {0};
    draw d;
    for (int k = 0; k < 100000; k++) {
        if (k % 20 == 0)
            draw_run(&d, GASES, false);
        draw_pressures(&d);
        double there[GASES], back[GASES], zero[GASES];
        flow_of(&d, d.a, d.b, there);
        rfy_stretch_flow(d.back, &d.mix, d.opening, d.b, d.a, back, NULL, NULL);
        flow_of(&d, d.a, d.a, zero);
        for (int i = 0; i < d.mix.n; i++) {
            double scale = gross(&d, i);
            bool finite = isfinite(there[i]) && isfinite(back[i]) && isfinite(scale);
            count(&odd, finite ? fabs(there[i] + back[i]) / (1e-12 * scale + 1e-300) : 1e9, &d,
                  "draw %d, ends exchanged, %s: %.17g and %.17g", k, d.mix.name[i], there[i],
                  back[i]);
            if (!d.one_temperature)
                still.left_out++;
            else
                count(&still, zero[i] == 0 ? 0 : 1e9, &d, "draw %d, no difference, %s flows %g", k,
                      d.mix.name[i], zero[i]);
            /* no gas leaves a side that has none of it */
            bool drawn = (d.a[i] <= 0 && there[i] > 0) || (d.b[i] <= 0 && there[i] < 0);
            count(&sign, drawn ? 1e9 : 0, &d, "draw %d, %s comes from nothing: %g", k,
                  d.mix.name[i], there[i]);
        }
    }
    settle(&odd, "antisymmetry within 1e-12 of the gross flow");
    settle(&still, "no flow without a difference");
    settle(&sign, "no gas from a side without it");
}

static void one_difference(const draw *d, int side, int j, double h, const double *centre,
                           double *slope) {
    /* central where there is room, else of second order to one side: amounts below zero count as
       zero, so the law has a corner there */
    double p[2][GASES], one[GASES], two[GASES];
    memcpy(p[0], d->a, sizeof p[0]);
    memcpy(p[1], d->b, sizeof p[1]);
    double *at = &p[side][j], start = *at;
    bool room = start > 2 * h;
    *at = start + h;
    double up = *at - start;
    flow_of(d, p[0], p[1], one);
    *at = room ? start - h : start + 2 * h;
    double down = start - *at;
    flow_of(d, p[0], p[1], two);
    for (int i = 0; i < d->mix.n; i++)
        slope[i] = room ? (one[i] - two[i]) / (up + down)
                        : (4 * one[i] - 3 * centre[i] - two[i]) / (2 * up);
}

static void derivatives_are_differences(void **state) {
    (void)state;
    /* A difference quotient has a truncation error that falls and a rounding error that grows as
       its step shrinks, and both are large across a corner (knots of the friction table, Re = 1000,
       a pressure difference near zero where inertia switches direction). So several steps are
       tried, and the best one has to agree. */
    seed = 2;
    tally t = {0}, empty = {0};
    draw d;
    for (int k = 0; k < 12000; k++) {
        if (k % 10 == 0)
            draw_run(&d, GASES, false);
        draw_pressures(&d);
        const int n = d.mix.n;
        double flow[GASES], by[2][GASES * GASES], plain[GASES];
        rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, flow, by[0], by[1]);
        flow_of(&d, d.a, d.b, plain);
        double pa = total(&d, d.a), pb = total(&d, d.b), level = fmax(pa, pb);
        bool close = fabs(pa - pb) < 1e-6 * level; /* rounding of pa - pb alone spoils a quotient */
        int side = below(2), j = below(n);
        /* an end that is all but empty counts as holding 1e-9 of the mean: a corner */
        bool corner = (side ? pb : pa) < 1e-7 * level;
        if (close || corner || level <= 0) {
            t.left_out++;
            continue;
        }
        double best[GASES], wanted[GASES];
        for (int i = 0; i < n; i++)
            best[i] = INFINITY;
        double scale = fmax(side ? d.b[j] : d.a[j], 1e-3 * level);
        for (double h = 1e-2; h > 1e-8; h /= 4) {
            double slope[GASES];
            one_difference(&d, side, j, h * fmin(scale, fabs(pa - pb)), flow, slope);
            for (int i = 0; i < n; i++) {
                double off = fabs(slope[i] - by[side][i * n + j]);
                if (off < best[i]) {
                    best[i] = off;
                    wanted[i] = slope[i];
                }
            }
        }
        for (int i = 0; i < n; i++) {
            double found = by[side][i * n + j];
            double own = fmax(fabs(by[0][i * n + i]), fabs(by[1][i * n + i]));
            double allowed = 1e-5 * fmax(own, fmax(fabs(found), gross(&d, i) / level)) + 1e-300;
            /* the flow alone is worked out by half the elimination: to round-off, some 1e4 fold */
            bool same = fabs(plain[i] - flow[i]) <= 1e-11 * gross(&d, i);
            count((side ? d.b[j] : d.a[j]) > 0 ? &t : &empty,
                  isfinite(found) && same ? best[i] / allowed : 1e9, &d,
                  "draw %d, %s by %s of end %d: %.12g, quotient %.12g", k, d.mix.name[i],
                  d.mix.name[j], side, found, wanted[i]);
        }
    }
    settle(&t, "derivatives within 1e-5");
    assert_true(t.left_out < 4000);
    settle(&empty, "derivatives by a gas that is absent, from above, within 1e-5");
}

/* One gas, whole law: through the mean state. */
static double single(const rfy_stretch *run, const draw *d, double p1, double p2) {
    rfy_mixture_state gas = {rfy_viscosity(gas_of(d, 0), d->temperature), gas_of(d, 0)->molar_mass,
                             gas_of(d, 0)->gamma};
    return rfy_stretch_total(run, &gas, d->opening, p1, p2);
}

/* The same tube with bore and length multiplied. */
static rfy_stretch_geometry wider(const draw *d, double by_bore, double by_length) {
    rfy_stretch_geometry g =
        rfy_tube_geometry(d->bore * by_bore, d->length * by_length, d->length * by_length);
    g.loss = d->geometry.loss;
    g.thin = d->geometry.thin;
    g.roughness = d->geometry.roughness;
    g.cells = d->geometry.cells;
    g.inertia = d->geometry.inertia;
    for (int i = 0; i < 2; i++) {
        g.inverse_area[i] = d->geometry.inverse_area[i];
        g.temperature[i] = d->geometry.temperature[i];
    }
    return g;
}

static void one_gas_is_monotone(void **state) {
    (void)state;
    seed = 3;
    tally same = {0}, t = {0};
    draw d;
    for (int k = 0; k < 20000; k++) {
        if (k % 10 == 0)
            draw_run(&d, 1, true);
        draw_pressures(&d);
        double p1 = fmax(d.a[0], d.b[0]), p2 = fmin(d.a[0], d.b[0]), q = single(d.run, &d, p1, p2);
        /* the law of one gas is the mixture's law with one gas (an empty side counts as 1e-9 of the
           mean there) */
        double all;
        flow_of(&d, &p1, &p2, &all);
        count(&same, fabs(all - q) / (1e-9 * gross(&d, 0) + 1e-300), &d, "draw %d, one gas", k);
        const double step = log_uniform(1e-5, 2), hair = 1e-11 * q + 1e-300;
        double more = single(d.run, &d, p1 * (1 + step), p2);
        count(&t, (q - more) / hair, &d, "draw %d, falls with pressure: %.15g to %.15g", k, q,
              more);
        double lower = p2 / (1 + step);
        more = single(d.run, &d, p1, lower);
        count(&t, (q - more) / hair, &d, "draw %d, falls with suction: %.15g to %.15g", k, q, more);
        if (k % 10 || d.geometry.loss > 0)
            continue;
        rfy_stretch_geometry g = wider(&d, 1, 1 + step);
        more = single(rfy_stretch_new(arena, &g), &d, p1, p2);
        count(&t, (more - q) / hair, &d, "draw %d, grows with length by %.3g: %.15g to %.15g", k,
              step, q, more);
        /* Wider: between nodes that are wider still. (A wide stretch between narrow nodes adds
           chambers, and passes less: Haefer's rule.) */
        g = wider(&d, 1 + step, 1);
        bool wide = g.area * g.inverse_area[0] <= 1 && g.area * g.inverse_area[1] <= 1;
        if (!wide) {
            t.left_out++;
            continue;
        }
        more = single(rfy_stretch_new(arena, &g), &d, p1, p2);
        count(&t, (q - more) / hair, &d, "draw %d, falls with bore by %.3g: %.15g to %.15g", k,
              step, q, more);
    }
    settle(&same, "a mixture of one within 1e-9");
    settle(&t, "monotone");
}

typedef struct scan {
    const draw *d;
    bool by_level;
    double ratio, level;
} scan;

/* s: pressure of the higher end, or p1/p2 - 1. */
static double on_scan(const scan *c, double s) {
    return c->by_level ? single(c->d->run, c->d, s, s * c->ratio)
                       : single(c->d->run, c->d, c->level, c->level / (1 + s));
}

/* How far the middle is off the chord, by halving towards where it is most: 0 on a smooth curve,
 * half of the jump at a jump. `kink`: change of slope d ln q/d ln s seen on the way. */
static double jump_in(const scan *c, double low, double high, double *kink) {
    double off = 0;
    for (int i = 0; i < 14; i++) {
        double middle = 0.5 * (low + high),
               q[3] = {on_scan(c, low), on_scan(c, middle), on_scan(c, high)};
        off = fabs(q[0] - 2 * q[1] + q[2]) / q[1];
        *kink = off / (high / low - 1) * 2;
        double below_middle = fabs(q[0] - 2 * on_scan(c, 0.5 * (low + middle)) + q[1]);
        double above_middle = fabs(q[1] - 2 * on_scan(c, 0.5 * (middle + high)) + q[2]);
        if (below_middle > above_middle)
            high = middle;
        else
            low = middle;
        if (i < 13 && off < 1e-9) /* nothing left */
            break;
    }
    return off;
}

static void nothing_jumps(void **state) {
    (void)state;
    /* Level from 1e-10 Pa to 10 atm at a drawn ratio; p1/p2 - 1 from 1e-9 to 1e4 at a drawn level.
       Where the middle of three neighbours is off the chord, halving tells a bend (friction from
       laminar to turbulent is tabulated, with a corner at each knot) from a jump. */
    seed = 4;
    tally t = {0};
    double sharpest = 0;
    draw d;
    for (int k = 0; k < 60; k++) {
        draw_run(&d, 1, true);
        scan c = {&d, k % 2 == 0, below(3) ? uniform() : 0, log_uniform(1e-4, 1e6)};
        double q[3] = {NAN, NAN, NAN};
        double from = c.by_level ? 1e-10 : 1e-9, to = c.by_level ? 1e6 : 1e4, step = 1e-3;
        for (double s = from; s < to; s *= 1 + step) {
            q[0] = q[1];
            q[1] = q[2];
            q[2] = on_scan(&c, s);
            if (isnan(q[0]))
                continue;
            double off = fabs(q[2] - (2 + step) * q[1] + (1 + step) * q[0]) / fabs(q[1]), kink = 0;
            if (off > 1e-6)
                off = jump_in(&c, s / ((1 + step) * (1 + step)), s, &kink);
            sharpest = fmax(sharpest, kink);
            /* besides the rounding of p1 - p2 */
            double allowed = 1e-6 + (c.by_level ? 0 : 4e-16 / s * (1 + s));
            d.a[0] = c.by_level ? s : c.level;
            d.b[0] = c.by_level ? s * c.ratio : c.level / (1 + s);
            count(&t, off / allowed, &d, "scan %d by %s at %g", k, c.by_level ? "level" : "ratio",
                  s);
        }
    }
    settle(&t, "no jump above 1e-6");
    print_message("sharpest bend: d ln q/d ln p changes by %.2g within 1e-7\n", sharpest);
}

static void twins_are_one_gas(void **state) {
    (void)state;
    seed = 5;
    tally t = {0}, mixed = {0};
    draw d;
    for (int k = 0; k < 20000; k++) {
        if (k % 20 == 0)
            draw_run(&d, 3, false);
        const int n = d.mix.n;
        draw_pressures(&d);
        /* the last gas twice: any split of it, another at each end */
        draw twin = d;
        int species[GASES];
        for (int i = 0; i < n; i++)
            species[i] = d.mix.species[i];
        species[n] = species[n - 1];
        rfy_mixture_init(&twin.mix, catalog, species, n + 1, d.temperature);
        double share_a = uniform(), share_b = below(3) ? uniform() : 0;
        twin.a[n - 1] = d.a[n - 1] * share_a;
        twin.a[n] = d.a[n - 1] - twin.a[n - 1];
        twin.b[n - 1] = d.b[n - 1] * share_b;
        twin.b[n] = d.b[n - 1] - twin.b[n - 1];
        double whole[GASES], parts[GASES];
        flow_of(&d, d.a, d.b, whole);
        flow_of(&twin, twin.a, twin.b, parts);
        for (int i = 0; i < n; i++) {
            double sum = parts[i] + (i == n - 1 ? parts[n] : 0);
            count(n == 1 ? &t : &mixed, fabs(sum - whole[i]) / (1e-10 * gross(&d, i) + 1e-300), &d,
                  "draw %d, %s: %.15g as one, %.15g as two (%g, %g)", k, d.mix.name[i], whole[i],
                  sum, share_a, share_b);
        }
    }
    settle(&t, "twins alone within 1e-10");
    settle(&mixed, "twins among others within 1e-10");
}

static void a_closed_valve_passes_nothing(void **state) {
    (void)state;
    seed = 6;
    draw d;
    for (int k = 0; k < 500; k++) {
        draw_run(&d, GASES, false);
        draw_pressures(&d);
        double flow[GASES], by_a[GASES * GASES], by_b[GASES * GASES], before[GASES], barely[GASES];
        rfy_stretch_flow(d.run, &d.mix, 0, d.a, d.b, flow, by_a, by_b);
        for (int i = 0; i < d.mix.n; i++)
            assert_true(flow[i] == 0);
        for (int i = 0; i < d.mix.n * d.mix.n; i++)
            assert_true(by_a[i] == 0 && by_b[i] == 0);
        d.opening = 1;
        flow_of(&d, d.a, d.b, before);
        d.opening = 1 - 1e-9; /* opening fully is no jump */
        flow_of(&d, d.a, d.b, barely);
        for (int i = 0; i < d.mix.n; i++)
            assert_close(barely[i], before[i], 0, 1e-7 * gross(&d, i), "draw %d, nearly open", k);
    }
}

static void a_hair_below_zero_is_harmless(void **state) {
    (void)state;
    seed = 7;
    draw d;
    for (int k = 0; k < 5000; k++) {
        if (k % 10 == 0)
            draw_run(&d, GASES, false);
        draw_pressures(&d);
        int j = below(d.mix.n);
        d.a[j] = 0;
        double hair = 1e-12 * fmax(total(&d, d.a), total(&d, d.b));
        double zero[GASES], under[GASES], by_a[GASES * GASES], by_b[GASES * GASES];
        flow_of(&d, d.a, d.b, zero);
        double scale = 0;
        for (int i = 0; i < d.mix.n; i++)
            scale += gross(&d, i);
        d.a[j] = -hair;
        rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.b, under, by_a, by_b);
        for (int i = 0; i < d.mix.n * d.mix.n; i++)
            assert_true(isfinite(by_a[i]) && isfinite(by_b[i]));
        for (int i = 0; i < d.mix.n; i++)
            assert_close(under[i], zero[i], 0, 1e-8 * scale, "draw %d, %s", k, d.mix.name[i]);
        /* no gas anywhere */
        memset(d.a, 0, sizeof d.a);
        rfy_stretch_flow(d.run, &d.mix, d.opening, d.a, d.a, under, by_a, by_b);
        for (int i = 0; i < d.mix.n; i++)
            assert_true(under[i] == 0 && by_a[i * d.mix.n + i] > 0);
    }
}

static void thermal_transpiration(void **state) {
    (void)state;
    /* Molecular flow stands still when p/sqrt(T) is equal on both sides (Reynolds 1879); dense gas
       when p is, apart from thermal creep of the order 1/delta^2. */
    seed = 8;
    draw d;
    for (int k = 0; k < 2000; k++) {
        do
            draw_run(&d, GASES, false);
        while (d.one_temperature);
        const double *t = d.geometry.temperature;
        double p = log_uniform(1e-12, 1e-9), flow[GASES];
        for (int i = 0; i < d.mix.n; i++) {
            d.a[i] = p * uniform();
            d.b[i] = d.a[i] * sqrt(t[1] / t[0]);
        }
        flow_of(&d, d.a, d.b, flow);
        for (int i = 0; i < d.mix.n; i++)
            assert_close(flow[i], 0, 0, 1e-7 * gross(&d, i), "draw %d, %s at rest", k,
                         d.mix.name[i]);
        p = 1e7 / d.geometry.radius; /* delta of about 1e9 */
        for (int i = 0; i < d.mix.n; i++)
            d.a[i] = d.b[i] = p / d.mix.n;
        double rarefied = gross(&d, 0);
        flow_of(&d, d.a, d.b, flow);
        for (int i = 0; i < d.mix.n; i++)
            assert_close(flow[i], 0, 0, 1e-6 * rarefied, "draw %d, dense %s at rest", k,
                         d.mix.name[i]);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turning_round_changes_the_sign),
        cmocka_unit_test(derivatives_are_differences),
        cmocka_unit_test(one_gas_is_monotone),
        cmocka_unit_test(nothing_jumps),
        cmocka_unit_test(twins_are_one_gas),
        cmocka_unit_test(a_closed_valve_passes_nothing),
        cmocka_unit_test(a_hair_below_zero_is_harmless),
        cmocka_unit_test(thermal_transpiration),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
