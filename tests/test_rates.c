/* The right-hand side of random networks and its Jacobian, against what must hold for any network:
 * derivatives equal differences, and what leaves one node arrives in another. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/system.h"
#include "support/draw.h"

typedef struct bench {
    rfy_arena *arena;
    rfy_system *system;
    const rfy_network *net;
    rfy_controls *controls;
    rfy_blocks *jacobian;
    double *y, *pressure, *rate[4];
    int n, g;
} bench;

static bench bench_new(rfy_system *system) {
    bench b = {.arena = rfy_arena_new(), .system = system, .net = system->network};
    b.g = b.net->mixture.n;
    b.n = rfy_network_states(b.net);
    b.controls = rfy_controls_new(b.arena, b.net);
    b.jacobian = rfy_blocks_new(b.arena, b.net);
    b.y = RFY_NEW(b.arena, (size_t)b.n, double);
    b.pressure = RFY_NEW(b.arena, (size_t)b.n, double);
    for (int i = 0; i < 4; i++)
        b.rate[i] = RFY_NEW(b.arena, (size_t)b.n, double);
    return b;
}

static void bench_free(bench *b) {
    rfy_arena_free(b->arena);
    rfy_system_free(b->system);
}

static double entry(const rfy_blocks *m, int row, int column) {
    const int g = m->g;
    for (int k = m->start[row / g]; k < m->start[row / g + 1]; k++)
        if (m->column[k] == column / g)
            return m->value[k * g * g + row % g * g + column % g];
    return 0;
}

/* Greatest throughput of a gas through any one edge, the scale of round-off in its sum. */
static double traffic(const bench *b, int gas) {
    double most = 0;
    for (int e = 0; e < b->net->n_edges; e++) {
        const rfy_edge *edge = &b->net->edge[e];
        double flow[RFY_MAX_GASES];
        double control = edge->valve >= 0  ? b->controls->opening[edge->valve]
                         : edge->pump >= 0 ? b->controls->turn[edge->pump]
                                           : 1;
        edge->flow(edge, &b->net->mixture, control, b->pressure + edge->from * b->g,
                   b->pressure + edge->to * b->g, flow, NULL, NULL);
        most = fmax(most, fabs(flow[gas]) * edge->copies);
    }
    return most;
}

/* ---- conservation ---- */

static void nothing_is_lost(void **state) {
    (void)state;
    test_dice dice = {1};
    for (int trial = 0; trial < 200; trial++) {
        bench b = bench_new(test_random_system(&dice, 2 + test_below(&dice, 8),
                                               test_below(&dice, 4), 1 + test_below(&dice, 8)));
        test_random_state(&dice, b.net, 1e-9, 1e5, b.y, b.controls);
        rfy_rates(b.net, b.controls, b.y, b.rate[0], b.pressure);
        for (int i = 0; i < b.g; i++) {
            double sum = 0;
            for (int k = 0; k <= b.net->n_nodes; k++)
                sum += b.rate[0][k * b.g + i];
            assert_close(sum, 0, 0, 1e-14 * b.n * (traffic(&b, i) + 1e-8), "trial %d, gas %d",
                         trial, i);
        }
        /* the same for every column of the Jacobian */
        rfy_rates_jacobian(b.net, b.controls, b.y, b.pressure, b.jacobian, b.rate[1]);
        /* the rates that come with it, by another elimination in the flow law: to round-off */
        for (int i = 0; i < b.n; i++)
            assert_close(b.rate[1][i], b.rate[0][i], 0, 1e-11 * (traffic(&b, i % b.g) + 1e-8),
                         "trial %d, rate %d", trial, i);
        for (int c = 0; c < b.net->n_free * b.g; c++)
            for (int i = 0; i < b.g; i++) {
                double sum = 0, most = 0;
                for (int k = 0; k < b.net->n_nodes; k++) {
                    double v = entry(b.jacobian, k * b.g + i, c);
                    sum += v;
                    most = fmax(most, fabs(v));
                }
                assert_close(sum, 0, 0, 1e-13 * most, "trial %d: column %d, gas %d", trial, c, i);
            }
        bench_free(&b);
    }
}

/* ---- derivatives ---- */

/* Central differences of four points, error ~ h^4, round-off some 1e-12 of the rates (the laws
 * solve by iteration); they see the flow laws' kinks (onset of turbulence, choking) only when one
 * lies within the stencil, so a few columns in ten thousand may be off; none by much. */
static void derivatives_are_differences(void **state) {
    (void)state;
    test_dice dice = {2};
    size_t columns = 0, off = 0;
    for (int trial = 0; trial < 200; trial++) {
        bench b = bench_new(test_random_system(&dice, 2 + test_below(&dice, 4),
                                               test_below(&dice, 3), 1 + test_below(&dice, 6)));
        test_random_state(&dice, b.net, 1e-6, 1e5, b.y, b.controls);
        rfy_rates_jacobian(b.net, b.controls, b.y, b.pressure, b.jacobian, NULL);
        for (int c = 0; c < b.net->n_free * b.g; c++) {
            double node_total = 0, y = b.y[c];
            for (int i = 0; i < b.g; i++)
                node_total += b.y[c / b.g * b.g + i];
            double h = 1e-4 * (y > 1e-3 * node_total ? y : 1e-3 * node_total);
            bool central = y > 2.5 * h;
            const double shift[4] = {-2, -1, 1, 2};
            if (!central) /* a gas that is absent: amounts below zero follow another branch */
                continue;
            for (int s = 0; s < 4; s++) {
                b.y[c] = y + shift[s] * h;
                rfy_rates(b.net, b.controls, b.y, b.rate[s], b.pressure);
            }
            b.y[c] = y;
            double largest = 0, noise = 0, worst = 0;
            for (int r = 0; r < b.net->n_nodes * b.g; r++) {
                double d =
                    (b.rate[0][r] - 8 * b.rate[1][r] + 8 * b.rate[2][r] - b.rate[3][r]) / (12 * h);
                double exact = entry(b.jacobian, r, c);
                largest = fmax(largest, fabs(exact));
                noise = fmax(noise, fabs(b.rate[1][r]) * 2e-13 / h);
                worst = fmax(worst, fabs(d - exact));
            }
            columns++;
            if (worst > 2e-6 * largest + 10 * noise) {
                off++;
                if (worst > 2e-2 * largest + 10 * noise)
                    fail_msg("trial %d, column %d (%s): off by %g of %g", trial, c,
                             b.net->node[c / b.g].name, worst, largest);
            }
        }
        bench_free(&b);
    }
    assert_true(columns > 1000);
    if (off * 100 > columns)
        fail_msg("%zu of %zu columns are off", off, columns);
}

/* A gas that is absent: its column is the one-sided difference from zero up. */
static void derivatives_of_absent_gases(void **state) {
    (void)state;
    test_dice dice = {3};
    size_t columns = 0;
    for (int trial = 0; trial < 60; trial++) {
        bench b = bench_new(test_random_system(&dice, 3, 1, 4));
        test_random_state(&dice, b.net, 1e-6, 1e5, b.y, b.controls);
        rfy_rates_jacobian(b.net, b.controls, b.y, b.pressure, b.jacobian, NULL);
        for (int c = 0; c < b.net->n_free * b.g; c++) {
            double total = 0;
            for (int i = 0; i < b.g; i++)
                total += b.y[c / b.g * b.g + i];
            if (b.y[c] > 0 || !(total > 0))
                continue;
            columns++;
            double h = 1e-6 * total, largest = 0, worst = 0, noise = 0;
            rfy_rates(b.net, b.controls, b.y, b.rate[0], b.pressure);
            b.y[c] = h;
            rfy_rates(b.net, b.controls, b.y, b.rate[1], b.pressure);
            b.y[c] = 0;
            for (int r = 0; r < b.net->n_nodes * b.g; r++) {
                double d = (b.rate[1][r] - b.rate[0][r]) / h, exact = entry(b.jacobian, r, c);
                /* at zero the Jacobian is that of the branch below: own flow only */
                if (r % b.g != c % b.g)
                    continue;
                largest = fmax(largest, fabs(exact));
                worst = fmax(worst, fabs(d - exact));
                noise = fmax(noise, fabs(b.rate[0][r]) * 2e-13 / h);
            }
            if (worst > 1e-3 * largest + 10 * noise)
                fail_msg("trial %d, column %d: off by %g of %g", trial, c, worst, largest);
        }
        bench_free(&b);
    }
    assert_true(columns > 20);
}

/* ---- equilibrium ---- */

/* Equal partial pressures everywhere at one temperature, nothing pumped or emitted: no gas moves (a
 * leak is from outside, so air at ambient pressure). */
static void equilibrium_is_at_rest(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'O2', 'H2O', 'He'],"
        " 'chambers': [{'name': 'a', 'volume': '1 L', 'leaks': [{'rate': '1e-3 mbar L/s'}]},"
        "              {'name': 'b', 'volume': '1 L', 'seals': [{'material': 'FKM', 'length': '0.1 "
        "m', 'cord': '5 mm'}]}],"
        " 'junctions': ['tee'],"
        " 'lines': [{'name': '1', 'between': ['a', 'tee'], 'pieces': ['tube 10 mm x 1 m', 'orifice "
        "2 mm']},"
        "           {'name': '2', 'between': ['tee', 'b'], 'pieces': ['tube 16 mm x 1 m', 'tube 4 "
        "mm x 0.1 m']},"
        "           {'name': '3', 'between': ['tee', 'ambient'], 'pieces': ['tube 25 mm x 0.3 "
        "m']}],"
        " 'run': {'until': '1 h'}}");
    bench b = bench_new(system);
    rfy_start_state(b.net, b.y);
    rfy_rates(b.net, b.controls, b.y, b.rate[0], b.pressure);
    for (int r = 0; r < b.n; r++)
        assert_true(fabs(b.rate[0][r]) < 1e-12);
    bench_free(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_lost),
        cmocka_unit_test(derivatives_are_differences),
        cmocka_unit_test(derivatives_of_absent_gases),
        cmocka_unit_test(equilibrium_is_at_rest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
