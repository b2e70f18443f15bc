/* Lines of unlike pieces against particles followed one by one. The program adds resistances by the
 * published series rules (Oatley 1957; Haefer 1980 where the section changes), which forget that
 * what leaves one piece is beamed along the axis of the next. Each row says how far off that may
 * be; all are printed, and more than 3 % is marked. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "published/clausing.h"
#include "published/particles.h"
#include "published/radiosity.h"
#include "study/system.h"
#include "support/sketch.h"

#define PI 3.14159265358979323846
enum { PARTICLES = 300000 };

static void straight_tubes_and_cones(void **state) {
    (void)state;
    /* the particles themselves, against equations solved otherwise */
    static const double length[] = {0.2, 1, 5, 20};
    for (int i = 0; i < 4; i++) {
        round_wall tube = {0, 1, length[i], 1, 0, 0};
        passed p = round_transmission(&tube, 1, 1, 0, length[i], PARTICLES, 11 + (uint64_t)i);
        double w = clausing_transmission(length[i], 12);
        print_message("tube, L/R = %4g: %.5f +- %.5f, Clausing %.5f\n", length[i], p.w, p.sigma, w);
        assert_int_equal(p.lost, 0);
        assert_close(p.w, w, 0, 4 * p.sigma, "tube, L/R = %g", length[i]);
    }
    static const struct { double to, length; } cone[] = {{2, 2}, {0.5, 2}, {0.5, 6}};
    for (int i = 0; i < 3; i++) {
        round_wall wall = {0, 1, cone[i].length, cone[i].to, 0, 0};
        passed p = round_transmission(&wall, 1, 1, 0, cone[i].length, PARTICLES, 21 + (uint64_t)i);
        double w = cone_transmission(1, cone[i].to, cone[i].length, 12);
        print_message("cone to %g, L/R = %g: %.5f +- %.5f, radiosity %.5f\n", cone[i].to,
                      cone[i].length, p.w, p.sigma, w);
        assert_int_equal(p.lost, 0);
        assert_close(p.w, w, 0, 4 * p.sigma, "cone");
    }
    /* a step seen from both sides passes the same amount (detailed balance) */
    round_wall down[] = {{0, 2, 3, 2, 0, 0}, {3, 1, 3, 2, 0, -1}, {3, 1, 5, 1, 0, 0}};
    round_wall up[] = {{0, 1, 2, 1, 0, 0}, {2, 1, 2, 2, 0, 1}, {2, 2, 5, 2, 0, 0}};
    passed a = round_transmission(down, 3, 2, 0, 5, PARTICLES, 31);
    passed b = round_transmission(up, 3, 1, 0, 5, PARTICLES, 32);
    assert_int_equal(a.lost + b.lost, 0);
    assert_close(4 * a.w, b.w, 0, 4 * hypot(4 * a.sigma, b.sigma), "step both ways");
    /* two equal legs see each other */
    a = mitre_transmission(2, 5, PARTICLES, 33);
    b = mitre_transmission(5, 2, PARTICLES, 34);
    assert_int_equal(a.lost + b.lost, 0);
    assert_close(a.w, b.w, 0, 4 * hypot(a.sigma, b.sigma), "mitre both ways");
}

/* What the program makes of a line between open chambers: transmission referred to `area`. */
static double by_rule(const char *pieces, double area) {
    rfy_system *s = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'ambient': {'temperature': '20 "
                                "degC'}, 'chambers': [{'name': 'a', "
                                "'volume': '1 L'}, {'name': 'b', 'volume': '1 L'}], 'lines': "
                                "[{'name': 'line', 'between': ['a', "
                                "'b'], 'pieces': [%s]}], 'pumps': [{'name': 'p', 'kind': 'ideal', "
                                "'from': 'b', 'to': 'ambient', "
                                "'speed': '1 L/s'}], 'run': {'until': '1 s'}}",
                                pieces);
    double resistance = 0, mass = 28.014e-3;
    for (int i = 0; i < s->network->n_edges; i++) {
        const rfy_edge *e = &s->network->edge[i];
        if (e->role == RFY_EDGE_TUBING)
            resistance += 1 / rfy_stretch_molecular_conductance(e->stretch, mass);
    }
    rfy_system_free(s);
    return 1 / (resistance * area * rfy_mean_speed(mass, 293.15) / 4);
}

#define CYLINDER(r, from, to)                                                                      \
    { from, r, to, r, 0, 0 }
#define ROD(r, from, to)                                                                           \
    { from, r, to, r, 1, 0 }
#define CONE(r1, from, r2, to)                                                                     \
    { from, r1, to, r2, 0, 0 }
#define RING(r1, r2, at, side)                                                                     \
    { at, r1, at, r2, 0, side }

static const struct line {
    const char *what, *pieces; /* mm */
    int n;
    round_wall wall[8];
    double inlet, inner, length;
    double allowed; /* off by, besides four standard errors */
} lines[] = {
    {"step 2:1, short",
     "'tube 40 mm x 40 mm', 'tube 20 mm x 20 mm'",
     3,
     {CYLINDER(20, 0, 40), RING(10, 20, 40, -1), CYLINDER(10, 40, 60)},
     20,
     0,
     60,
     0.03},
    {"step 2:1, long",
     "'tube 40 mm x 200 mm', 'tube 20 mm x 100 mm'",
     3,
     {CYLINDER(20, 0, 200), RING(10, 20, 200, -1), CYLINDER(10, 200, 300)},
     20,
     0,
     300,
     0.04},
    {"step 1:2, wide end behind",
     "'tube 20 mm x 20 mm', 'tube 40 mm x 80 mm'",
     3,
     {CYLINDER(10, 0, 20), RING(10, 20, 20, 1), CYLINDER(20, 20, 100)},
     10,
     0,
     100,
     0.04},
    {"step 5:1",
     "'tube 50 mm x 50 mm', 'tube 10 mm x 10 mm'",
     3,
     {CYLINDER(25, 0, 50), RING(5, 25, 50, -1), CYLINDER(5, 50, 60)},
     25,
     0,
     60,
     0.03},
    {"step 1.25:1",
     "'tube 25 mm x 50 mm', 'tube 20 mm x 50 mm'",
     3,
     {CYLINDER(12.5, 0, 50), RING(10, 12.5, 50, -1), CYLINDER(10, 50, 100)},
     12.5,
     0,
     100,
     0.05},
    {"tube, short chamber, tube",
     "'tube 10 mm x 20 mm', 'tube 40 mm x 40 mm', 'tube 10 mm x 20 mm'",
     5,
     {CYLINDER(5, 0, 20), RING(5, 20, 20, 1), CYLINDER(20, 20, 60), RING(5, 20, 60, -1),
      CYLINDER(5, 60, 80)},
     5,
     0,
     80,
     0.05},
    {"tube, long chamber, tube",
     "'tube 10 mm x 20 mm', 'tube 40 mm x 160 mm', 'tube 10 mm x 20 mm'",
     5,
     {CYLINDER(5, 0, 20), RING(5, 20, 20, 1), CYLINDER(20, 20, 180), RING(5, 20, 180, -1),
      CYLINDER(5, 180, 200)},
     5,
     0,
     200,
     0.05},
    {"orifice in a tube",
     "'tube 40 mm x 60 mm', 'orifice 20 mm', 'tube 40 mm x 60 mm'",
     4,
     {CYLINDER(20, 0, 60), RING(10, 20, 60, -1), RING(10, 20, 60, 1), CYLINDER(20, 60, 120)},
     20,
     0,
     120,
     0.06},
    {"short annulus",
     "'annulus 40 mm 20 mm 20 mm'",
     2,
     {CYLINDER(20, 0, 20), ROD(10, 0, 20)},
     20,
     10,
     20,
     0.06},
    {"annulus",
     "'annulus 40 mm 20 mm 100 mm'",
     2,
     {CYLINDER(20, 0, 100), ROD(10, 0, 100)},
     20,
     10,
     100,
     0.06},
    {"cone", "'reducer 40 mm 20 mm 60 mm'", 1, {CONE(20, 0, 10, 60)}, 20, 0, 60, 0.01},
    {"tube, cone, tube",
     "'tube 40 mm x 40 mm', 'reducer 40 mm 20 mm 40 mm', 'tube 20 mm x 40 mm'",
     3,
     {CYLINDER(20, 0, 40), CONE(20, 40, 10, 80), CYLINDER(10, 80, 120)},
     20,
     0,
     120,
     0.06},
};

static void report(const char *what, const passed *p, double rule, double allowed) {
    double off = rule / p->w - 1;
    print_message("%-28s %.5f +- %.5f, series rule %.5f, %+.1f %%%s\n", what, p->w, p->sigma, rule,
                  100 * off, fabs(off) > 0.03 + 2 * p->sigma / p->w ? "  over 3 %" : "");
    assert_int_equal(p->lost, 0);
    assert_close(rule, p->w, allowed, 4 * p->sigma, "%s", what);
}

static void series_rules(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        const struct line *l = &lines[i];
        passed p = round_transmission(l->wall, l->n, l->inlet, l->inner, l->length, PARTICLES,
                                      101 + (uint64_t)i);
        double area = PI * (l->inlet * l->inlet - l->inner * l->inner) * 1e-6;
        report(l->what, &p, by_rule(l->pieces, area), l->allowed);
    }
}

static void mitred_elbows(void **state) {
    (void)state;
    /* Davis 1960 (M): the elbow lies between a straight tube of its axial length and one longer by
       4/3 radius. The rule takes the latter throughout, which is right for long legs (tubes that
       meet the elbow count as its legs) and too little flow for a short one that stands alone. */
    static const struct {
        double leg, low; /* radii; how much too low the rule may be */
    } rows[] = {{1, 0.28}, {2, 0.17}, {4, 0.08}, {8, 0.035}, {16, 0.025}};
    for (int i = 0; i < 5; i++) {
        double leg = rows[i].leg;
        passed p = mitre_transmission(leg, leg, PARTICLES, 201 + (uint64_t)leg);
        char pieces[300], what[60];
        snprintf(pieces, sizeof pieces,
                 "'tube 20 mm x %g mm', {'elbow': {'bore': '20 mm', 'angle': '90 deg', 'radius': "
                 "'0 mm', "
                 "'length': '%g mm'}}",
                 5 * leg, 15 * leg);
        snprintf(what, sizeof what, "mitre, legs of %g radii", leg);
        double rule = by_rule(pieces, PI * 1e-4);
        report(what, &p, rule, rows[i].low);
        assert_true(rule < p.w + 4 * p.sigma); /* never more than passes */
        assert_close(rule, clausing_transmission(2 * leg + 1.33, 12), 1e-4, 0, "the rule");
        assert_true(p.w > clausing_transmission(2 * leg + 4. / 3, 12) - 4 * p.sigma);
        if (leg > 1) /* with no inner wall at all it passes more than a straight tube */
            assert_true(p.w < clausing_transmission(2 * leg, 12) + 4 * p.sigma);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(straight_tubes_and_cones),
        cmocka_unit_test(series_rules),
        cmocka_unit_test(mitred_elbows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
