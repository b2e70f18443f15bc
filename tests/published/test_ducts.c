/* Ducts, slits, annuli and cones against tables from outside, closed forms of their limits, and
 * particles followed one by one. Tags: N recomputed numerically from the radiosity equation (the
 * CSV beside this file says how), M from memory, exact = a closed form. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "flow/kinetic.h"
#include "flow/piece.h"
#include "flow/stretch.h"
#include "flow/tables.h"
#include "io/read_piece.h"
#include "support/support.h"

#define PI 3.14159265358979323846

static rfy_arena *catalog_arena, *arena;
static const rfy_catalog *catalog;
static const double temperature = 293.15, nitrogen_mass = 0.028014;
static const rfy_mixture_state nitrogen = {17.6e-6, 0.028014, 1.4};

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

static rfy_piece_shape shape_of(const char *format, ...) {
    char text[200];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    rfy_problems *problems = rfy_problems_new("piece");
    rfy_piece_read read;
    rfy_piece_shape shape = {0};
    if (rfy_read_piece(arena, catalog, text, NULL, 0, problems, &read) != RFY_OK)
        fail_msg("%s is not read", text);
    ((const rfy_piece_kind *)read.piece.variant->kind)->shape(read.piece.values, &shape);
    assert_true(rfy_piece_is_sound(&shape, read.piece.values, problems));
    rfy_problems_free(problems);
    shape.own.temperature[0] = shape.own.temperature[1] = temperature;
    return shape;
}

/* Transmission of a piece between open chambers, from its molecular conductance. */
static double transmission(const rfy_piece_shape *shape) {
    const rfy_stretch *run = rfy_stretch_new(arena, &shape->own);
    return rfy_stretch_molecular_conductance(run, nitrogen_mass) /
           (shape->own.area * rfy_mean_speed(nitrogen_mass, temperature) / 4);
}

static double conductance(const rfy_piece_shape *shape, double p1, double p2) {
    return rfy_stretch_total(rfy_stretch_new(arena, &shape->own), &nitrogen, 1, p1, p2) * RFY_R *
           temperature / (p1 - p2);
}

/* ---- tables ---- */

static void slits_meet_their_table(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/slit_duct.csv", 3, &row); /* N, 2e-6 */
    assert_int_equal(n, 28);
    for (size_t i = 0; i < n; i++) {
        double l = row[3 * i], w = row[3 * i + 1];
        assert_close(rfy_slit_transmission(l), w, 1e-6, 0, "slit at %g", l);
        rfy_piece_shape s = shape_of("slit 10 m x 1 mm x %.17g mm", l);
        assert_close(transmission(&s), w, 1e-3, 0, "a piece with a slit, length %g gaps", l);
    }
    free(row);
    /* between the nodes, and beyond: W l grows as ln l (exact form of the limit) */
    for (double l = 0.011; l < 900; l *= 1.3) {
        double below = rfy_slit_transmission(l), above = rfy_slit_transmission(1.01 * l);
        assert_true(below > above && below < 1.01 * above);
    }
    assert_close(rfy_slit_transmission(1e8) * 1e8 - rfy_slit_transmission(1e6) * 1e6, log(100),
                 1e-4, 0, "ln l");
    assert_close(rfy_slit_transmission(1e-5), 1 - 0.5e-5, 1e-9, 0, "a short slit: 1 - l/2 (exact)");
}

static void ducts_meet_their_table(void **state) {
    (void)state;
    double *row, worst = 0;
    size_t n = test_read_csv("tests/published/rect_duct.csv", 4, &row);
    assert_int_equal(n, 66);
    for (size_t i = 0; i < n; i++) {
        double ratio = row[4 * i], l = row[4 * i + 1], w = row[4 * i + 2], err = row[4 * i + 3];
        /* N; at length 100 the column of errors says 0.1 to 0.55 %, and finer meshes say the same
         */
        double allowed = l < 100 ? 5e-4 : fmax(1e-3, err / w);
        double found = rfy_duct_transmission(ratio, l);
        assert_close(found, w, allowed, 0, "duct %g:1, length %g", ratio, l);
        worst = fmax(worst, fabs(found / w - 1));
        rfy_piece_shape s = shape_of("duct %.17g mm x 2 mm x %.17g mm", 2 * ratio, 2 * l);
        assert_close(transmission(&s), found, 1e-3, 0, "a piece with a duct");
        rfy_piece_shape t = shape_of("duct 2 mm x %.17g mm x %.17g mm", 2 * ratio, 2 * l);
        assert_true(s.own.body == t.own.body);
    }
    free(row);
    print_message("rectangular ducts: at most %.2g off the table\n", worst);
}

static void cones_meet_their_table(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/cone.csv", 4, &row); /* N, 6e-7 */
    assert_int_equal(n, 45);
    for (size_t i = 0; i < n; i++) {
        double ratio = row[4 * i], l = row[4 * i + 1], w = row[4 * i + 2];
        assert_close(rfy_cone_transmission(ratio, l), w, 2e-5, 0, "cone %g:1, length %g", ratio, l);
        /* either way round the conductance is the same (reciprocity) */
        rfy_piece_shape out = shape_of("reducer 10 mm x %.17g mm x %.17g mm", 10 * ratio, 5 * l);
        rfy_piece_shape in = shape_of("reducer %.17g mm x 10 mm x %.17g mm", 10 * ratio, 5 * l);
        assert_close(transmission(&out), w, 2e-4, 0, "a piece with a cone");
        assert_close(transmission(&in), transmission(&out), 1e-12, 0, "the cone turned round");
    }
    free(row);
    /* a cone that does not widen is a tube: Clausing's equation solved another way (N, 1e-9) */
    n = test_read_csv("tests/published/clausing_tube.csv", 3, &row);
    for (size_t i = 0; i < n; i++) {
        double l = row[3 * i], w = row[3 * i + 1];
        assert_close(rfy_cone_transmission(1, l), w, 1e-4, 0, "tube of length %g", l);
        assert_close(rfy_cone_transmission(1 + 1e-12, l), rfy_cone_transmission(1, l), 1e-9, 0,
                     "no step at ratio 1, length %g", l);
    }
    free(row);
}

static void annuli_meet_their_table(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/annulus_long.csv", 2, &row); /* N, 1e-4 */
    assert_int_equal(n, 17);
    for (size_t i = 0; i < n; i++) {
        double ratio = row[2 * i], k = row[2 * i + 1];
        assert_close(rfy_annulus_factor(ratio), k, 1e-3, 0, "K at %g", ratio);
        /* a very long one: C = K (pi/12) vbar (D0 - Di)^2 (D0 + Di)/L */
        if (ratio == 0)
            continue;
        const double d0 = 0.04, di = ratio * d0, length = 2e4 * (d0 - di) / 2;
        rfy_piece_shape s = shape_of("annulus 40 mm x %.17g mm x %.17g m", 40 * ratio, length);
        double c = PI / 12 * rfy_mean_speed(nitrogen_mass, temperature) * k * (d0 - di) *
                   (d0 - di) * (d0 + di) / length;
        assert_close(transmission(&s) * s.own.area * rfy_mean_speed(nitrogen_mass, temperature) / 4,
                     c, 3e-3, 0, "long annulus %g", ratio);
    }
    free(row);
    /* The classic table (M) agrees to 1 %: 1.072, 1.154, 1.254, 1.430, 1.675. */
    const double classic[5][2] = {
        {0.25, 1.072}, {0.5, 1.154}, {0.707, 1.254}, {0.866, 1.430}, {0.966, 1.675}};
    for (int i = 0; i < 5; i++)
        assert_close(rfy_annulus_factor(classic[i][0]), classic[i][1], 0.01, 0, "classic K");
    for (double l = 0.01; l < 1e4; l *= 3) /* no rod: a tube */
        assert_close(rfy_annulus_transmission(0, l), rfy_tube_transmission(l), 1e-9, 0, "no rod");
    for (double l = 0.1; l < 10; l *= 2) /* a hair's gap: a slit */
        assert_close(rfy_annulus_transmission(1 - 1e-8, l), rfy_slit_transmission(l), 5e-3, 0,
                     "thin ring of length %g", l);
}

/* ---- particles ---- */

/* Test particles (Davis 1960): from the inlet with the cosine law, off the walls with the cosine
 * law, until they leave by one end. The share that passes is W, with the spread of a binomial. */
static uint64_t seed;

static double uniform(void) { /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

typedef struct vector {
    double x, y, z;
} vector;

/* A direction about the unit normal n by the cosine law. */
static vector cosine(vector n) {
    vector t = fabs(n.x) < 0.7 ? (vector){0, n.z, -n.y} : (vector){-n.z, 0, n.x};
    double inv = 1 / sqrt(t.x * t.x + t.y * t.y + t.z * t.z);
    t = (vector){t.x * inv, t.y * inv, t.z * inv};
    vector s = {n.y * t.z - n.z * t.y, n.z * t.x - n.x * t.z, n.x * t.y - n.y * t.x};
    double u = uniform(), phi = 2 * PI * uniform(), a = sqrt(1 - u), b = sqrt(u) * cos(phi),
           c = sqrt(u) * sin(phi);
    return (vector){a * n.x + b * t.x + c * s.x, a * n.y + b * t.y + c * s.y,
                    a * n.z + b * t.z + c * s.z};
}

enum { PARTICLES = 300000 };

/* How far along direction d from p to the wall, and the wall's inward normal there. */
typedef double to_wall(const double *size, vector p, vector d, vector *normal);
typedef vector inlet(const double *size);

static void follow(const char *what, to_wall *wall, inlet *start, const double *size, double length,
                   double expected, double allowed) {
    int passed = 0;
    for (int i = 0; i < PARTICLES; i++) {
        vector p = start(size), d = cosine((vector){0, 0, 1}), n;
        for (;;) {
            double far = wall(size, p, d, &n);
            p = (vector){p.x + far * d.x, p.y + far * d.y, p.z + far * d.z};
            if (!(p.z > 0 && p.z < length))
                break;
            d = cosine(n);
        }
        passed += p.z >= length;
    }
    double w = (double)passed / PARTICLES, spread = sqrt(w * (1 - w) / PARTICLES);
    print_message("%s: %.5f +- %.5f, law %.5f (%+.2f %%)\n", what, w, spread, expected,
                  100 * (expected / w - 1));
    assert_close(expected, w, allowed, 4 * spread, "%s", what);
}

static vector duct_inlet(const double *size) {
    return (vector){size[0] * (uniform() - 0.5), size[1] * (uniform() - 0.5), 0};
}

static double duct_wall(const double *size, vector p, vector d, vector *n) {
    double x = d.x == 0 ? 1e9 : (copysign(size[0] / 2, d.x) - p.x) / d.x,
           y = d.y == 0 ? 1e9 : (copysign(size[1] / 2, d.y) - p.y) / d.y;
    *n = x < y ? (vector){d.x > 0 ? -1 : 1, 0, 0} : (vector){0, d.y > 0 ? -1 : 1, 0};
    return fmax(0, fmin(x, y));
}

static vector ring_inlet(const double *size) { /* outer radius 1, inner size[0] */
    double k2 = size[0] * size[0], r = sqrt(k2 + (1 - k2) * uniform()), phi = 2 * PI * uniform();
    return (vector){r * cos(phi), r * sin(phi), 0};
}

static double ring_wall(const double *size, vector p, vector d, vector *n) {
    double a = d.x * d.x + d.y * d.y, b = p.x * d.x + p.y * d.y, r2 = p.x * p.x + p.y * p.y,
           k = size[0];
    double far = (-b + sqrt(fmax(0, b * b - a * (r2 - 1)))) / a;
    double in = b * b - a * (r2 - k * k);
    bool hits = b < 0 && in > 0 && r2 > k * k * (1 + 1e-12);
    if (hits)
        far = (-b - sqrt(in)) / a;
    double x = p.x + far * d.x, y = p.y + far * d.y, r = sqrt(x * x + y * y);
    *n = hits ? (vector){x / r, y / r, 0} : (vector){-x / r, -y / r, 0};
    return fmax(0, far);
}

static vector cone_inlet(const double *size) { /* radius 1 at z = 0, growing by size[0] a length */
    (void)size;
    double r = sqrt(uniform()), phi = 2 * PI * uniform();
    return (vector){r * cos(phi), r * sin(phi), 0};
}

static double cone_wall(const double *size, vector p, vector d, vector *n) {
    /* x^2 + y^2 = (1 + t z)^2 along the way; the first root ahead that is not the start itself */
    double t = size[0], r = 1 + t * p.z, g = t * d.z;
    double a = d.x * d.x + d.y * d.y - g * g, b = p.x * d.x + p.y * d.y - r * g,
           c = fmin(0, p.x * p.x + p.y * p.y - r * r);
    double root = sqrt(fmax(0, b * b - a * c));
    double far = 1e9; /* never: the flight opens no wider than the cone */
    if (b > 0)
        far = -c / (b + root);
    else if (a > 0)
        far = (-b + root) / a;
    double x = p.x + far * d.x, y = p.y + far * d.y, rho = sqrt(x * x + y * y),
           f = 1 / sqrt(1 + t * t);
    *n = (vector){-x / rho * f, -y / rho * f, t * f};
    return far;
}

static void particles_agree(void **state) {
    (void)state;
    seed = 20240229;
    const double ducts[][4] = {/* ratio, length, allowed */
                               {1.25, 0.7, 0.003}, {1, 3, 0.003},  {2.5, 7, 0.003},
                               {7, 3, 0.003},      {4, 30, 0.003}, {25, 12, 0.008}};
    for (size_t i = 0; i < sizeof ducts / sizeof *ducts; i++) {
        const double size[2] = {ducts[i][0], 1};
        follow("duct", duct_wall, duct_inlet, size, ducts[i][1],
               rfy_duct_transmission(ducts[i][0], ducts[i][1]), ducts[i][2]);
    }
    const double rings[][2] = {{0.05, 2}, {0.3, 5}, {0.6, 1}, {0.6, 12}, {0.85, 4}, {0.9, 20}};
    for (size_t i = 0; i < sizeof rings / sizeof *rings; i++)
        follow("annulus", ring_wall, ring_inlet, rings[i], rings[i][1] * (1 - rings[i][0]),
               rfy_annulus_transmission(rings[i][0], rings[i][1]), 0.006);
    const double cones[][2] = {{1.1, 0.3}, {1.7, 3}, {1.3, 8}, {4, 6}, {8, 4}, {2.5, 30}};
    for (size_t i = 0; i < sizeof cones / sizeof *cones; i++) {
        const double slope = (cones[i][0] - 1) / cones[i][1];
        follow("cone", cone_wall, cone_inlet, &slope, cones[i][1],
               rfy_cone_transmission(cones[i][0], cones[i][1]), 0.001);
    }
}

/* ---- limits ---- */

/* Long duct of any section: W L = (1/2A) integral over the section of the chords to the wall, over
 * all directions in its plane (Smoluchowski 1910; a tube gives 8 R/3). Rectangle a x 1. */
static double chords(double a) {
    enum { POINTS = 240, TURNS = 720 };
    double sum = 0;
    for (int i = 0; i < POINTS; i++)
        for (int j = 0; j < POINTS / 2; j++) {
            double x = a * (i + 0.5) / POINTS, y = (j + 0.5) / POINTS;
            for (int k = 0; k < TURNS; k++) {
                double phi = 2 * PI * (k + 0.5) / TURNS, c = cos(phi), s = sin(phi);
                double u = c > 0 ? (a - x) / c : -x / c, v = s > 0 ? (1 - y) / s : -y / s;
                sum += fmin(u, v);
            }
        }
    return sum / (POINTS * (POINTS / 2.0)) * 2 * PI / TURNS / 2;
}

static void long_ducts(void **state) {
    (void)state;
    const double ratios[] = {1, 1.8, 6, 30};
    for (int i = 0; i < 4; i++)
        assert_close(rfy_duct_transmission(ratios[i], 1e8) * 1e8, chords(ratios[i]), 1e-3, 0,
                     "long duct %g:1", ratios[i]);
    /* long cones: 1/W = (3/8) r1^2 times the integral of dz/r^3 (Knudsen 1909), here by Simpson's
     * rule */
    for (double ratio = 1; ratio < 30; ratio *= 1.9) {
        double sum = 0;
        for (int i = 0; i <= 2000; i++)
            sum += (i == 0 || i == 2000 ? 1 : i % 2 ? 4 : 2) * pow(1 + (ratio - 1) * i / 2000, -3);
        assert_close(1 / rfy_cone_transmission(ratio, 1e6), 3.0 / 8 * 1e6 * sum / 6000, 5e-4, 0,
                     "long cone %g:1", ratio);
    }
}

static void short_ducts(void **state) {
    (void)state;
    /* 1/W - 1 = wall/(4 section) for any short straight duct (exact to first order) */
    for (double ratio = 1; ratio < 200; ratio *= 3)
        assert_close((1 / rfy_duct_transmission(ratio, 1e-5) - 1) / 1e-5, 0.5 * (1 + 1 / ratio),
                     1e-4, 0, "short duct %g:1", ratio);
    for (double ratio = 0; ratio < 1; ratio += 0.19)
        assert_close((1 / rfy_annulus_transmission(ratio, 1e-5) - 1) / 1e-5, 0.5, 1e-4, 0,
                     "short annulus %g", ratio);
    /* A short cone at half angle theta: its wall is flat, 1 - W = l (1 - sin theta)^2/(2 cos theta)
     * by the crossed strings (Hottel). 0 deg is the tube's l/2. */
    for (double theta = 0; theta < 1.4; theta += 0.2) {
        double l = 1e-3 * cos(theta), ratio = 1 + l * tan(theta), s = 1 - sin(theta);
        assert_close(1 - rfy_cone_transmission(ratio, l), l * s * s / (2 * cos(theta)), 3e-3, 0,
                     "short cone at %g rad", theta);
    }
}

static void friction_factors(void **state) {
    (void)state;
    /* f Re of laminar flow (Darcy, on the hydraulic diameter) is 64 times viscous length over
     * length. Rectangles and annuli from White, Fluid Mechanics, tables 6.4 and 6.3 (M); 96 between
     * plates is exact. */
    const double ducts[][2] = {{1, 56.91},    {0.75, 57.89},  {0.5, 62.19},
                               {0.25, 72.93}, {0.125, 82.34}, {0.05, 89.91}};
    for (size_t i = 0; i < sizeof ducts / sizeof *ducts; i++) {
        rfy_piece_shape s = shape_of("duct 40 mm x %.17g mm x 1 m", 40 * ducts[i][0]);
        assert_close(64 * s.own.viscous_length, ducts[i][1], 3e-4, 0, "f Re of 1:%g", ducts[i][0]);
    }
    const double rings[][2] = {{0.01, 80.11}, {0.05, 86.27}, {0.1, 89.37}, {0.2, 92.35},
                               {0.4, 94.71},  {0.6, 95.59},  {0.8, 95.92}, {0.999999, 96}};
    for (size_t i = 0; i < sizeof rings / sizeof *rings; i++) {
        rfy_piece_shape s = shape_of("annulus 40 mm x %.17g mm x 1 m", 40 * rings[i][0]);
        assert_close(64 * s.own.viscous_length, rings[i][1], 2e-4, 0, "f Re of ring %g",
                     rings[i][0]);
    }
    rfy_piece_shape s = shape_of("slit 1 m x 1 mm x 1 m");
    assert_close(64 * s.own.viscous_length, 96, 1e-12, 0, "f Re between plates");
}

static void viscous_limits(void **state) {
    (void)state;
    /* At high pressure and a small difference the whole law gives each section's own laminar flow.
     * Square: 0.42173 b^4/(12 mu L) a pascal (M, Boussinesq's series); plates w h^3/(12 mu L); cone
     * 8 mu/pi times the integral of dz/r^4. */
    const double p = 1e5, dp = 1e-4, mu = nitrogen.viscosity;
    rfy_piece_shape s = shape_of("duct 2 mm x 2 mm x 20 m");
    assert_close(conductance(&s, p + dp / 2, p - dp / 2),
                 0.42173 * pow(2e-3, 4) * p / (12 * mu * 20), 2e-3, 0, "square duct");
    s = shape_of("slit 1 m x 1 mm x 20 m");
    assert_close(conductance(&s, p + dp / 2, p - dp / 2), 1e-9 * p / (12 * mu * 20), 3e-3, 0,
                 "slit");
    double sum = 0;
    for (int i = 0; i <= 2000; i++)
        sum += (i == 0 || i == 2000 ? 1 : i % 2 ? 4 : 2) * pow(1e-3 + 2e-3 * i / 2000, -4);
    double resistance = 8 * mu / PI * 20 * sum / 6000;
    s = shape_of("reducer 6 mm x 2 mm x 20 m");
    assert_close(conductance(&s, p + dp / 2, p - dp / 2), p / resistance, 3e-3, 0, "cone");
    /* and the bed is Kozeny and Carman's: k A p/(mu L), k = e^3 d^2/(180 (1 - e)^2) */
    s = shape_of("bed 40 mm x 2 m x 1 mm");
    double k = pow(0.4, 3) * 1e-6 / (180 * 0.36), area = PI * 0.04 * 0.04 / 4;
    assert_close(conductance(&s, p + dp / 2, p - dp / 2), k * area * p / (mu * 2), 3e-3, 0, "bed");
}

static void channels_meet_the_kinetic_table(void **state) {
    (void)state;
    double *row;
    size_t n = test_read_csv("tests/published/poiseuille_channel_kinetic.csv", 4, &row);
    assert_int_equal(n, 43);
    const double gap = 1e-3, length = 1, v0 = rfy_probable_speed(nitrogen_mass, temperature);
    rfy_piece_shape s = shape_of("slit 1 m x 1 mm x 1 m");
    double worst = 0;
    for (size_t i = 0; i < n; i++) {
        double delta = row[4 * i], g = row[4 * i + 2], p = delta * nitrogen.viscosity * v0 / gap;
        if (delta <
            0.2) /* there a slit of 1000 gaps is no longer endless: ln(1/delta) has no limit */
            continue;
        double c = conductance(&s, p * (1 + 1e-6), p * (1 - 1e-6));
        double found = c * length / (s.own.area * gap * v0 / 2);
        assert_close(found, g, 0.012, 0, "channel at %g", delta);
        worst = fmax(worst, fabs(found / g - 1));
    }
    print_message("slit of 1000 gaps: at most %.2g off the endless channel (S-model)\n", worst);
    free(row);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slits_meet_their_table),
        cmocka_unit_test(ducts_meet_their_table),
        cmocka_unit_test(cones_meet_their_table),
        cmocka_unit_test(annuli_meet_their_table),
        cmocka_unit_test(particles_agree),
        cmocka_unit_test(long_ducts),
        cmocka_unit_test(short_ducts),
        cmocka_unit_test(friction_factors),
        cmocka_unit_test(viscous_limits),
        cmocka_unit_test(channels_meet_the_kinetic_table),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
