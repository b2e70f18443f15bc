/* Copies written short ("count", "like"), and descriptions that make no network. */
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

/* ---- copies ---- */

static rfy_result *run_to(rfy_system *system, const double *at, size_t n) {
    rfy_run_options options = RFY_RUN_OPTIONS_INIT;
    options.tolerance = 1e-8;
    options.at = at;
    options.n_at = n;
    return test_run(system, &options, RFY_OK);
}

#define BULB                                                                                       \
    "'volume': '0.2 L', 'start': {'N2': '1e4 Pa', 'H2O': '100 Pa'}, 'walls': [{'area': '0.03 "     \
    "m2', 'rate': '1e-6 Pa "                                                                       \
    "m3/s/m2', 'gas': 'H2O'}], 'leaks': [{'rate': '1e-6 Pa m3/s', 'gas': 'N2'}], 'seals': "        \
    "[{'material': 'FKM', "                                                                        \
    "'length': '50 mm', 'cord': '3 mm'}]"
#define STEM "'pieces': ['tube 6 mm x 50 mm', 'tube 8 mm x 30 mm']"
#define REST                                                                                       \
    "'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'manifold', 'to': 'ambient', 'speed': "   \
    "'2 L/s'}]"

/* Three copies by "count" are three bulbs written out, bit by bit of physics: pressures, balance,
 * ultimate. */
static void count_is_copies(void **state) {
    (void)state;
    const double at[] = {0.1, 1, 10, 100, 1000};
    rfy_system *one = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'bulb', 'count': 3, " BULB "},"
        " {'name': 'manifold', 'volume': '0.5 L', 'start': {'N2': '1e4 Pa'}}],"
        " 'lines': [{'name': 'stem', 'between': ['bulb', 'manifold'], " STEM "}], " REST ","
        " 'sources': [{'gas': 'N2', 'at': 'bulb', 'amount': '0.1 Pa m3', 'during': ['20 s', '30 "
        "s']}],"
        " 'run': {'until': '20 min'}}");
    rfy_system *three = test_sketch(
        "{'rarefy': 1, 'gases': ['N2', 'H2O'], 'chambers': [{'name': 'bulb', " BULB
        "}, {'name': 'bulb 2', " BULB "},"
        " {'name': 'bulb 3', 'like': 'bulb'}, {'name': 'manifold', 'volume': '0.5 L', 'start': "
        "{'N2': '1e4 Pa'}}],"
        " 'lines': [{'name': 'stem', 'between': ['bulb', 'manifold'], " STEM "},"
        "  {'name': 'stem 2', 'between': ['bulb 2', 'manifold'], " STEM "},"
        "  {'name': 'stem 3', 'like': 'stem', 'between': ['bulb 3', 'manifold']}], " REST ","
        " 'sources': [{'gas': 'N2', 'at': 'bulb', 'amount': '0.1 Pa m3', 'during': ['20 s', '30 "
        "s']},"
        "  {'gas': 'N2', 'at': 'bulb 2', 'amount': '0.1 Pa m3', 'during': ['20 s', '30 s']},"
        "  {'gas': 'N2', 'at': 'bulb 3', 'amount': '0.1 Pa m3', 'during': ['20 s', '30 s']}],"
        " 'run': {'until': '20 min'}}");
    rfy_result *a = run_to(one, at, 5), *b = run_to(three, at, 5);
    const char *const places[] = {"bulb", "manifold"}, *const gases[] = {"N2", "H2O"};
    for (size_t i = 0; i < 5; i++)
        for (size_t k = 0; k < 4; k++) {
            assert_close(test_partial(a, i, places[k / 2], gases[k % 2]),
                         test_partial(b, i, places[k / 2], gases[k % 2]), 1e-6, 1e-14,
                         "%s in %s after %g s", gases[k % 2], places[k / 2], at[i]);
            assert_close(test_partial(b, i, "bulb 2", gases[k % 2]),
                         test_partial(b, i, "bulb 3", gases[k % 2]), 1e-9, 1e-14, "twins");
        }
    for (size_t g = 0; g < 2; g++) {
        assert_close(a->balance[g].start, b->balance[g].start, 1e-12, 0, "start");
        assert_close(a->balance[g].from_walls, b->balance[g].from_walls, 1e-9, 0, "from walls");
        assert_close(a->balance[g].admitted, b->balance[g].admitted, 1e-6, 1e-20, "admitted");
        assert_close(test_ultimate(a, "bulb", gases[g]), test_ultimate(b, "bulb", gases[g]), 1e-8,
                     0, "ultimate");
    }
    rfy_result_free(b);
    rfy_result_free(a);
    rfy_system_free(three);
    rfy_system_free(one);
}

/* "like" takes every key but the name, and its own keys come first. */
static void like_copies_and_overrides(void **state) {
    (void)state;
    rfy_system *system = test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'a', "
                                     "'volume': '1 L', 'start': {'N2': '5 Pa'}, 'bore':"
                                     " '40 mm'}, {'name': 'b', 'like': 'a', 'volume': '3 L'}, "
                                     "{'name': 'c', 'like': 'b'}], 'run': {'until': '1 s'}}");
    const rfy_network *net = system->network;
    const double volume[] = {1e-3, 3e-3, 3e-3};
    for (int i = 0; i < 3; i++) {
        assert_close(net->node[i].volume, volume[i], 1e-12, 0, "volume %d", i);
        assert_close(net->node[i].start[0], 5, 1e-12, 0, "start %d", i);
        assert_close(1 / net->node[i].inverse_area, area(0.04), 1e-12, 0, "bore %d", i);
    }
    rfy_system_free(system);
}

/* ---- faults ---- */

static void faults_of_topology(void **state) {
    (void)state;
    const struct {
        const char *text, *what, *hint;
    } rows[] = {
        {"'chambers': [{'name': 'port', 'volume': '1 L'}], 'lines': [{'name': 'l', 'between': "
         "['prot', 'ambient'],"
         " 'pieces': ['tube 4 mm x 1 m']}]",
         "prot", "port"},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'lines': [{'name': 'l', 'between': ['a', "
         "'a'], 'pieces': ["
         "'tube 4 mm x 1 m']}]",
         "back to itself", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'lines': [{'name': 'l', 'between': ['a'], "
         "'pieces': ["
         "'tube 4 mm x 1 m']}]",
         "two places", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'lines': [{'name': 'l', 'between': ['a', "
         "'ambient'], 'pieces': []}]",
         "pieces", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}, {'name': 'a', 'volume': '2 L'}]", "\"a\"",
         NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'junctions': ['a']", "\"a\"", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'junctions': ['j']", "connected to nothing",
         NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'pumps': [{'name': 'p', 'kind': 'ideal', "
         "'from': 'a', 'to': 'a',"
         " 'speed': '1 L/s'}]",
         "same place", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'pumps': [{'name': 'p', 'kind': 'ideal', "
         "'from': 'ambient', 'to':"
         " 'a', 'speed': '1 L/s'}]",
         "fixed pressure", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'pumps': [{'name': 'a', 'kind': 'ideal', "
         "'from': 'a', 'to':"
         " 'ambient', 'speed': '1 L/s'}]",
         "\"a\"", NULL},
        {"'chambers': [{'name': 'a'}]", "neither a volume nor a reservoir", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L', 'reservoir': {'N2': '1 Pa'}}]", "both", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}, {'name': 'r', 'reservoir': {'N2': '1 Pa'}, "
         "'start': {'N2': '1 Pa'}}]",
         "reservoir", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L', 'start': {'He': '1 Pa'}}]", "He", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L', 'count': 2}, {'name': 'b', 'volume': '1 L', "
         "'count': 3}], 'lines':"
         " [{'name': 'l', 'between': ['a', 'b'], 'pieces': ['tube 4 mm x 1 m']}]",
         "copies", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L', 'like': 'b'}, {'name': 'b', 'like': 'a'}]",
         "like", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'targets': [{'name': 't', 'chamber': "
         "'ambient', 'pressure': '1 Pa'}]",
         "never changes", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}, {'name': 'b', 'volume': '1 L', 'bore': '5 "
         "mm'}], 'lines': [{'name':"
         " 'l', 'between': ['a', 'b'], 'pieces': ['orifice 5 mm']}]",
         "orifice", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L', 'bore': '10 mm'}], 'pumps': [{'name': 'p', "
         "'kind': 'turbomolecular',"
         " 'from': 'a', 'to': 'ambient', 'speed': {'N2': '100 L/s'}}]",
         "mouth", NULL},
        {"'chambers': [{'name': 'a', 'volume': '1 L'}], 'sources': [{'gas': 'N2', 'at': 'a', "
         "'amount': '1 Pa m3', 'during':"
         " ['5 s', '4 s']}]",
         "first value is above", NULL},
        {"'chambers': []", "chambers", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        rfy_problems *problems = test_refused(
            "{'rarefy': 1, 'gases': ['N2', 'H2O'], %s, 'run': {'until': '1 h'}}", rows[i].text);
        bool told = false, hinted = rows[i].hint == NULL;
        for (size_t k = 0; k < rfy_problems_kept(problems); k++) {
            const rfy_problem *p = rfy_problems_at(problems, k);
            if (p->severity != RFY_ERROR)
                continue;
            assert_true(p->line == 1 && p->column > 1);
            told = told || strstr(p->what, rows[i].what) || strstr(p->path, rows[i].what);
            hinted = hinted || (p->hint && strstr(p->hint, rows[i].hint));
        }
        if (!told || !hinted) {
            rfy_write_problems(stderr, problems);
            fail_msg("%s: \"%s\" is not told", rows[i].text, rows[i].what);
        }
        rfy_problems_free(problems);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(count_is_copies),
        cmocka_unit_test(like_copies_and_overrides),
        cmocka_unit_test(faults_of_topology),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
