/* From a description to a network: what merges, what gets a node, how series add up, copies, faults
 * of topology.
 *
 * Flows are measured through the public API: from a reservoir through the line into a chamber with
 * an ideal pump, at the steady state. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "study/system.h"
#include "support/sketch.h"

#define R  8.31446261815324
#define T  293.15
#define PI 3.14159265358979323846

static double area(double bore) {
    return PI * bore * bore / 4;
}

/* Pressure behind `pieces` relative to `before`, with a pump of 3 L/s there; `more` goes into the
 * chamber's object. */
static double passed(const char *pieces, double before, const char *more, int *nodes) {
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'in', 'reservoir': "
                    "{'N2': '%.17g Pa'}},"
                    "  {'name': 'out', 'volume': '1 L', 'start': {'N2': '%.17g Pa'}%s}],"
                    " 'lines': [{'name': 'line', 'between': ['in', 'out'], 'pieces': [%s]}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'out', 'to': 'ambient', "
                    "'speed': '3 L/s'}],"
                    " 'run': {'until': '10 min', 'tolerance': 1e-9}}",
                    before, before / 2, more, pieces);
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = NULL;
    assert_int_equal(rfy_find_ultimate(&result, system, &options), RFY_OK);
    double p = test_ultimate(result, "out", "N2") / before;
    if (nodes)
        *nodes = (int)result->n_chambers;
    rfy_result_free(result);
    rfy_system_free(system);
    return p;
}

/* ---- equal bores ---- */

/* A tube is a tube however it is cut, from molecular to turbulent flow. */
static void equal_bores_merge(void **state) {
    (void)state;
    const char *const cut[] = {"'tube 16 mm x 0.6 m'", "'tube 16 mm x 0.2 m', 'tube 16 mm x 0.4 m'",
                               "'tube 16 mm x 0.1 m', 'tube 16 mm x 0.1 m', 'tube 16 mm x 0.1 m', "
                               "'tube 16 mm x 0.1 m', 'tube 16 mm x 0.1 m',"
                               " 'tube 16 mm x 0.1 m'",
                               "'tube 16 mm x 0.25 m', {'valve': {'bore': '16 mm', 'length': '50 "
                               "mm'}}, 'tube 1.6 cm x 300 mm'"};
    for (double p = 1e-6; p < 2e5; p *= 10) {
        int nodes;
        double whole = passed(cut[0], p, "", &nodes);
        assert_int_equal(nodes, 1);
        for (size_t i = 1; i < 4; i++) {
            assert_close(passed(cut[i], p, "", &nodes), whole, 1e-9, 0, "cut %zu at %g Pa", i, p);
            assert_int_equal(nodes, 1);
        }
    }
}

/* Elbows merge as well, and their order does not matter. */
static void elbows_merge(void **state) {
    (void)state;
    for (double p = 1e-4; p < 2e5; p *= 100) {
        double a =
            passed("'tube 16 mm x 0.3 m', 'elbow 16 mm 90 deg', 'tube 16 mm x 0.2 m'", p, "", NULL);
        double b = passed("'elbow 16 mm 90 deg', 'tube 16 mm x 0.5 m'", p, "", NULL);
        assert_close(a, b, 1e-9, 0, "elbow first or in the middle at %g Pa", p);
        assert_true(a < passed("'tube 16 mm x 0.5 m'", p, "", NULL));
    }
}

/* ---- unequal bores ---- */

/* Published additive rule for molecular flow (Haefer 1980; Oatley 1957 for equal bores; M): for
 * runs of section A_i and transmission W_i between open chambers vbar/(4 C) = 1/A_1 + sum
 * (1/A_i)(1/W_i - 1) + sum over narrowings (1/A_i+1 - 1/A_i). W: clausing_tube.csv at L/R = 5,
 * 10, 20. */
static void series_rule(void **state) {
    (void)state;
    const double w5 = 0.310525, w10 = 0.190942;
    double *row, w[3] = {0};
    size_t n = test_read_csv("tests/published/clausing_tube.csv", 3, &row);
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < 3; k++)
            if (row[3 * i] == (double[]){5, 10, 20}[k])
                w[k] = row[3 * i + 1];
    free(row);
    assert_close(w[0], w5, 5e-6, 0, "W(5), Cole 1977, from memory");
    assert_close(w[1], w10, 5e-6, 0, "W(10), Cole 1977, from memory");
    const struct {
        const char *pieces;
        int n, length[3]; /* index in w */
        double bore[3];
    } rows[] = {
        {"'tube 40 mm x 100 mm', 'tube 16 mm x 80 mm'", 2, {0, 1}, {0.040, 0.016}},
        {"'tube 16 mm x 80 mm', 'tube 40 mm x 100 mm'", 2, {1, 0}, {0.016, 0.040}},
        {"'tube 10 mm x 100 mm', 'tube 40 mm x 100 mm', 'tube 16 mm x 80 mm'",
         3,
         {2, 0, 1},
         {0.010, 0.040, 0.016}},
        {"'tube 40 mm x 100 mm', 'tube 10 mm x 100 mm', 'tube 16 mm x 80 mm'",
         3,
         {0, 2, 1},
         {0.040, 0.010, 0.016}},
        {"'tube 16 mm x 80 mm'", 1, {1}, {0.016}},
    };
    double speed = sqrt(8 * R * T / (PI * 0.028014));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double sum = 1 / area(rows[i].bore[0]);
        for (int k = 0; k < rows[i].n; k++) {
            double a = area(rows[i].bore[k]);
            sum += (1 / w[rows[i].length[k]] - 1) / a;
            if (k > 0 && rows[i].bore[k] < rows[i].bore[k - 1])
                sum += 1 / a - 1 / area(rows[i].bore[k - 1]);
        }
        double c = speed / 4 / sum;
        int nodes;
        assert_close(passed(rows[i].pieces, 1e-7, "", &nodes), c / (c + 3e-3), 1e-4, 0, "%s",
                     rows[i].pieces);
        assert_int_equal(nodes, rows[i].n); /* the chamber and one node at each change */
    }
}

/* An orifice in molecular flow is its area; in a tube of section A' it counts 1/A - 1/A' on top
 * (same rule). */
static void orifice_in_a_tube(void **state) {
    (void)state;
    double speed = sqrt(8 * R * T / (PI * 0.028014)), w = 0.190942;
    double c = speed / 4 * area(0.005);
    assert_close(passed("'orifice 5 mm'", 1e-7, "", NULL), c / (c + 3e-3), 1e-4, 0, "bare orifice");
    c = speed / 4 /
        (1 / area(0.016) + 2 * (1 / w - 1) / area(0.016) + 1 / area(0.005) - 1 / area(0.016));
    assert_close(
        passed("'tube 16 mm x 80 mm', 'orifice 5 mm', 'tube 16 mm x 80 mm'", 1e-7, "", NULL),
        c / (c + 3e-3), 1e-4, 0, "orifice between tubes");
}

/* A chamber that has the bore of the tube is no open space: no aperture there; one of another bore
 * counts the difference. Each end holds half an aperture, hence 1/2. */
static void chamber_with_a_bore(void **state) {
    (void)state;
    double speed = sqrt(8 * R * T / (PI * 0.028014)), w = 0.190942, a = area(0.016);
    const char *const bores[] = {"16 mm", "40 mm", "10 mm"};
    const double half[] = {0, (1 / a - 1 / area(0.040)) / 2, (1 / area(0.010) - 1 / a) / 2};
    for (size_t i = 0; i < 3; i++) {
        char more[64];
        snprintf(more, sizeof more, ", 'bore': '%s'", bores[i]);
        double c = speed / 4 / ((1 / w - 1) / a + 0.5 / a + half[i]);
        assert_close(passed("'tube 16 mm x 80 mm'", 1e-7, more, NULL), c / (c + 3e-3), 1e-4, 0,
                     "bore %s", bores[i]);
    }
}

/* A junction takes the widest bore that ends there. */
static void junctions(void **state) {
    (void)state;
    double speed = sqrt(8 * R * T / (PI * 0.028014)), w10 = 0.190942, w5 = 0.310525;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'in', 'reservoir': {'N2': '1e-7 "
        "Pa'}},"
        "  {'name': 'out', 'volume': '1 L', 'start': {'N2': '1e-8 Pa'}},"
        "  {'name': 'side', 'volume': '1 L', 'start': {'N2': '1e-8 Pa'}}], 'junctions': ['tee'],"
        " 'lines': [{'name': 'a', 'between': ['in', 'tee'], 'pieces': ['tube 16 mm x 80 mm']},"
        "           {'name': 'b', 'between': ['tee', 'out'], 'pieces': ['tube 40 mm x 100 mm']},"
        "           {'name': 'c', 'between': ['side', 'tee'], 'pieces': ['tube 10 mm x 1 m']}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'out', 'to': 'ambient', 'speed': '3 "
        "L/s'}],"
        " 'run': {'until': '1 s'}}");
    const rfy_network *net = system->network;
    const rfy_node *tee = NULL;
    for (int i = 0; i < net->n_nodes; i++)
        if (strcmp(net->node[i].name, "tee") == 0)
            tee = &net->node[i];
    assert_non_null(tee);
    assert_close(1 / tee->inverse_area, area(0.040), 1e-12, 0, "section of the tee");
    assert_close(tee->volume, (area(0.016) * 0.08 + area(0.04) * 0.1 + area(0.01) * 1) / 2, 1e-12,
                 0, "its volume");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    rfy_result *result = NULL;
    assert_int_equal(rfy_find_ultimate(&result, system, &options), RFY_OK);
    /* as 16 mm into 40 mm in one line: 1/A1 + ... with no narrowing */
    double c =
        speed / 4 / (1 / area(0.016) + (1 / w10 - 1) / area(0.016) + (1 / w5 - 1) / area(0.040));
    assert_close(test_ultimate(result, "out", "N2") / 1e-7, c / (c + 3e-3), 1e-4, 0,
                 "through the tee");
    /* nothing flows in the blind arm */
    assert_close(test_ultimate(result, "side", "N2"), test_ultimate(result, "tee", "N2"), 1e-9, 0,
                 "blind arm");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* ---- volumes and nodes ---- */

static const rfy_node *node_of(const rfy_network *net, const char *part) {
    for (int i = 0; i < net->n_nodes; i++)
        if (strstr(net->node[i].name, part))
            return &net->node[i];
    fail_msg("no node %s", part);
    return NULL;
}

/* Tubing has volume: halves to each end, but what lies before a valve belongs to the side before
 * it. */
static void tubing_is_shared(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', "
                                     "'volume': '1 L'}, {'name': 'b', 'volume': '2 L'},"
                                     "  {'name': 'c', 'volume': '4 L'}],"
                                     " 'lines': [{'name': 'one', 'between': ['a', 'b'], 'pieces': "
                                     "['tube 16 mm x 1 m', 'tube 25 mm x 2 m']},"
                                     "           {'name': 'two', 'between': ['b', 'c'], 'pieces': "
                                     "['tube 16 mm x 3 m', {'valve': {'name': 'v', 'bore':"
                                     "            '16 mm', 'length': '1 m'}}, 'tube 16 mm x 5 m']},"
                                     "           {'name': 'three', 'between': ['c', 'ambient'], "
                                     "'pieces': ['tube 10 mm x 1 m', {'trap': {'conductance':"
                                     "            '1 L/s', 'volume': '0.5 L'}}]}],"
                                     " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'b', "
                                     "'to': 'ambient', 'speed': '3 L/s'}],"
                                     " 'run': {'until': '1 s'}}");
    const rfy_network *net = system->network;
    double s16 = area(0.016), s25 = area(0.025), s10 = area(0.010);
    assert_close(net->node[0].volume, 1e-3 + s16 / 2, 1e-12, 0, "a");
    assert_close(net->node[1].volume, 2e-3 + s25 * 2 / 2 + s16 * 3.5, 1e-12, 0, "b");
    assert_close(net->node[2].volume, 4e-3 + s16 * 5.5 + s10 / 2, 1e-12, 0, "c");
    assert_close(node_of(net, "one, behind")->volume, s16 / 2 + s25, 1e-12, 0, "between the bores");
    assert_close(1 / node_of(net, "one, behind")->inverse_area, s25, 1e-12, 0,
                 "section there: the wider");
    assert_close(node_of(net, "three, behind")->volume, s10 / 2 + 0.25e-3, 1e-12, 0,
                 "before the trap");
    assert_true(node_of(net, "one, behind")->internal && !net->node[0].internal);
    rfy_summary summary;
    rfy_system_summary(system, &summary);
    assert_close(summary.volume, 7e-3 + s16 + 2 * s25 + 9 * s16 + s10 + 0.25e-3, 1e-12, 0,
                 "all of it");
    assert_int_equal(summary.n_nodes, 5);
    rfy_system_free(system);
}

/* A junction between thin apertures has next to no volume of its own; it gets a tenth of a bore,
 * told as assumed. */
static void least_volume(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', "
                                     "'volume': '1 L'}, {'name': 'b', 'volume': '2 L'}],"
                                     " 'junctions': ['j'], 'lines': [{'name': 'one', 'between': "
                                     "['a', 'j'], 'pieces': ['tube 20 mm x 0.1 mm']},"
                                     "           {'name': 'two', 'between': ['j', 'b'], 'pieces': "
                                     "['tube 20 mm x 0.1 mm']}], 'run': {'until': '1 s'}}");
    const rfy_node *j = node_of(system->network, "j");
    assert_close(j->volume, area(0.02) * 0.02 / 10, 1e-9, 0, "a tenth of a bore");
    bool told = false;
    for (size_t i = 0; i < system->network->n_assumed; i++)
        told = told || (strstr(system->network->assumed[i], "j:") &&
                        strstr(system->network->assumed[i], "volume"));
    assert_true(told);
    rfy_system_free(system);
}

/* A node inside a line belongs to the side it is open to, also for the gas it starts with. */
static void inside_nodes_start_with_their_side(void **state) {
    (void)state;
    const char *const lines[] = {
        /* the node stands between the closed gate and the trap: the tank's side */
        "'between': ['bottle', 'tank'], 'pieces': [{'valve': {'name': 'gate', 'bore': '16 mm', "
        "'length': '20 mm',"
        " 'state': 'closed'}}, {'trap': {'conductance': '1 L/s', 'volume': '0.1 L'}}]",
        "'between': ['tank', 'bottle'], 'pieces': [{'trap': {'conductance': '1 L/s', 'volume': "
        "'0.1 L'}}, {'valve':"
        " {'name': 'gate', 'bore': '16 mm', 'length': '20 mm', 'state': 'closed'}}]",
        "'between': ['bottle', 'tank'], 'pieces': [{'valve': {'name': 'gate', 'bore': '16 mm', "
        "'length': '20 mm',"
        " 'state': 'closed'}}, 'tube 25 mm x 0.1 m', 'tube 16 mm x 0.1 m', 'tube 25 mm x 0.1 m']"};
    const char *const bottles[] = {"'reservoir': {'N2': '1000 Pa'}",
                                   "'volume': '1 L', 'start': {'N2': '1000 Pa'}",
                                   "'volume': '1 L'"};
    for (size_t i = 0; i < 9; i++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '1 L', "
            "'start': {'N2': '1e-3 Pa'}},"
            "  {'name': 'bottle', %s}], 'lines': [{'name': 'line', %s}], 'run': {'until': '10 s'}}",
            bottles[i % 3], lines[i / 3]);
        const rfy_network *net = system->network;
        for (int k = 0; k < net->n_nodes; k++)
            if (net->node[k].internal && strncmp(net->node[k].name, "line", 4) == 0)
                assert_close(net->node[k].start[0], 1e-3, 1e-12, 0, "line %zu, bottle %zu: %s",
                             i / 3, i % 3, net->node[k].name);
        rfy_system_free(system);
    }
}

/* Parts keep their meaning when nodes are put in order: reservoirs first in the file, junctions,
 * conditions, gauges. */
static void order_of_the_file(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'r', 'reservoir': {'N2': '7 Pa'}},"
        "  {'name': 'x', 'volume': '1 L', 'start': {'N2': '10 Pa'}}, {'name': 'q', 'reservoir': "
        "{'N2': '9 Pa'}},"
        "  {'name': 'y', 'volume': '1 L', 'start': {'N2': '20 Pa'}}],"
        " 'pumps': [{'name': 'px', 'kind': 'ideal', 'from': 'x', 'to': 'r', 'speed': '1 L/s'},"
        "           {'name': 'py', 'kind': 'ideal', 'from': 'y', 'to': 'q', 'speed': '0.1 L/s'}],"
        " 'gauges': [{'name': 'gx', 'at': 'x', 'kind': 'capacitance'}, {'name': 'gr', 'at': 'r', "
        "'kind': 'capacitance'}],"
        " 'limits': [{'name': 'l', 'watch': 'y', 'while': 'x < 5 Pa', 'max': '19 Pa'}],"
        " 'targets': [{'name': 't', 'chamber': 'y', 'pressure': '15 Pa'}],"
        " 'procedure': [{'when': 'x < 2 Pa and y < 18 Pa and r > 6 Pa', 'do': ['stop px']}], "
        "'run': {'until': '5 s'}}");
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-9;
    rfy_result *result = test_run(system, &options, RFY_OK);
    assert_int_equal(result->n_chambers, 2);
    assert_close(test_event(result, "stop px")->time, log(5), 1e-7, 0, "x below 2 Pa");
    assert_close(test_target(result, "t")->time, 10 * log(20 / 15.0), 1e-7, 0, "y below 15 Pa");
    assert_false(test_limit(result, "l")->broken); /* y is at 18.66 Pa when x passes 5 Pa */
    assert_close(result->gauge_reading[1], 7, 1e-12, 0, "gauge at a reservoir");
    assert_close(result->gauge_reading[0], 10, 1e-12, 0, "gauge at a chamber");
    /* what px moved went to r, and is counted as pumped */
    assert_close(result->balance[0].start, (10 + 20) * 1e-3 / (R * T), 1e-12, 0,
                 "gas at the start");
    rfy_result_free(result);
    rfy_system_free(system);
}

/* Two valves in one line: each alone shuts it. */
static void two_valves(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++) {
        rfy_system *system =
            test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', 'volume': '1 "
                        "L', 'start': {'N2': '100 Pa'}},"
                        "  {'name': 'b', 'volume': '1 L', 'start': {'N2': '0 Pa'}}],"
                        " 'lines': [{'name': 'l', 'between': ['a', 'b'], 'pieces': [{'valve': "
                        "{'name': 'v', 'bore': '16 mm', 'length':"
                        "  '20 mm', 'state': '%s'}}, 'tube 16 mm x 0.1 m', {'valve': {'name': 'w', "
                        "'bore': '16 mm', 'length': '20 mm',"
                        "  'state': '%s'}}]}], 'run': {'until': '10 s'}}",
                        i & 1 ? "open" : "closed", i & 2 ? "open" : "closed");
        rfy_result *result = test_run(system, NULL, RFY_OK);
        double b = test_pressure(result, result->n_times - 1, "b");
        if (i == 3)
            assert_true(b > 45 && b < 55);
        else if (i == 1) /* open to a, closed to b */
            assert_true(b == 0);
        else
            assert_true(b < 2); /* at most what stood between the valves */
        rfy_result_free(result);
        rfy_system_free(system);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_bores_merge),
        cmocka_unit_test(elbows_merge),
        cmocka_unit_test(series_rule),
        cmocka_unit_test(orifice_in_a_tube),
        cmocka_unit_test(chamber_with_a_bore),
        cmocka_unit_test(junctions),
        cmocka_unit_test(tubing_is_shared),
        cmocka_unit_test(least_volume),
        cmocka_unit_test(inside_nodes_start_with_their_side),
        cmocka_unit_test(order_of_the_file),
        cmocka_unit_test(two_valves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
