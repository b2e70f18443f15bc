#include "support/draw.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

double test_even(test_dice *dice) {
    /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = dice->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

double test_between(test_dice *dice, double low, double high) {
    return low + (high - low) * test_even(dice);
}

double test_decades(test_dice *dice, double low, double high) {
    return low * pow(high / low, test_even(dice));
}

int test_below(test_dice *dice, int n) {
    return (int)(test_even(dice) * n);
}

typedef struct text {
    char *at;
    size_t left;
} text;

static void add(text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void add(text *t, const char *format, ...) {
    va_list args;
    va_start(args, format);
    int n = vsnprintf(t->at, t->left, format, args);
    va_end(args);
    assert_true(n >= 0 && (size_t)n < t->left);
    t->at += n;
    t->left -= (size_t)n;
}

static bool add_pieces(text *t, test_dice *dice, int line) {
    int n = 1 + test_below(dice, 3);
    double bore = test_between(dice, 3, 40);
    bool valve = false;
    for (int i = 0; i < n; i++) {
        add(t, "%s", i ? "," : "");
        switch (test_below(dice, 5)) {
        case 0:
            add(t, "'elbow %.4g mm %.4g deg'", bore, test_between(dice, 20, 120));
            break;
        case 1:
            if (!valve) {
                add(t, "{'valve': {'name': 'v%d', 'bore': '%.4g mm', 'length': '%.4g mm'}}", line,
                    bore, test_between(dice, 5, 80));
                valve = true;
                break;
            } /* fall through */
        case 2:
            bore = test_between(dice, 3, 40);
            add(t, "'tube %.4g mm x %.4g m'", bore, test_decades(dice, 0.01, 2));
            break;
        case 3:
            add(t, "{'trap': {'conductance': '%.4g L/s', 'volume': '0.1 L'}}",
                test_decades(dice, 0.1, 20));
            break;
        default:
            add(t, "'tube %.4g mm x %.4g m'", bore, test_decades(dice, 0.01, 2));
            break;
        }
    }
    return valve;
}

static const char *const names[] = {"N2", "H2O", "H2", "He", "Ar", "O2", "Xe", "CO2"};

rfy_system *test_mesh_system(test_dice *dice, int n, int gases) {
    const int side = (int)ceil(sqrt(n));
    size_t room = 400 * (size_t)(side * side) + 1000;
    char *buffer = malloc(room);
    assert_non_null(buffer);
    text t = {buffer, room};
    add(&t, "{'rarefy': 1, 'gases': [");
    for (int i = 0; i < gases; i++)
        add(&t, "%s'%s'", i ? "," : "", names[i]);
    add(&t, "], 'chambers': [");
    for (int i = 0; i < side * side; i++)
        add(&t, "%s{'name': 'c%d', 'volume': '%.4g L'}", i ? "," : "", i,
            test_decades(dice, 0.01, 10));
    add(&t, "], 'lines': [");
    for (int i = 0, line = 0; i < side * side; i++) {
        int ends[3] = {i % side + 1 < side ? i + 1 : -1, i + side < side * side ? i + side : -1,
                       test_below(dice, 20) == 0 ? test_below(dice, side * side) : -1};
        for (int k = 0; k < 3; k++)
            if (ends[k] >= 0 && ends[k] != i) {
                add(&t, "%s{'name': 'l%d', 'between': ['c%d', 'c%d'], 'pieces': [", line ? "," : "",
                    line, i, ends[k]);
                add(&t, "'tube %.4g mm x %.4g m']}", test_between(dice, 3, 40),
                    test_decades(dice, 0.01, 2));
                line++;
            }
    }
    add(&t, "], 'pumps': [{'name': 'p', 'kind': 'rotary vane', 'from': 'c0', 'to': 'ambient', "
            "'speed': '2 L/s'}], 'run': {'until': '1 h'}}");
    rfy_system *system = test_sketch("%s", buffer);
    free(buffer);
    return system;
}

rfy_system *test_random_system(test_dice *dice, int n, int extra, int gases) {
    char buffer[65536];
    int valve[8], n_valves = 0;
    text t = {buffer, sizeof buffer};
    add(&t, "{'rarefy': 1, 'gases': [");
    for (int i = 0; i < gases; i++)
        add(&t, "%s'%s'", i ? "," : "", names[i]);
    add(&t, "], 'chambers': [");
    for (int i = 0; i < n; i++) {
        add(&t, "%s{'name': 'c%d', 'volume': '%.4g L'", i ? "," : "", i,
            test_decades(dice, 0.01, 100));
        if (test_below(dice, 3) == 0)
            add(&t, ", 'temperature': '%.4g K'", test_between(dice, 250, 500));
        if (test_below(dice, 3) == 0)
            add(&t, ", 'walls': [{'material': 'stainless steel', 'area': '0.1 m2'}]");
        if (test_below(dice, 2) == 0)
            add(&t, ", 'leaks': [{'rate': '%.3g Pa m3/s'}, {'rate': '1e-6 Pa m3/s', 'gas': '%s'}]",
                test_decades(dice, 1e-10, 1e-3), names[test_below(dice, gases)]);
        add(&t, "}");
    }
    add(&t, "], 'lines': [");
    for (int i = 1; i < n + extra; i++) {
        int a = i < n ? i : test_below(dice, n),
            b = i < n ? test_below(dice, i) : test_below(dice, n);
        if (a == b)
            b = (a + 1) % n;
        add(&t, "%s{'name': 'l%d', 'between': ['c%d', 'c%d'], 'pieces': [", i > 1 ? "," : "", i, a,
            b);
        if (add_pieces(&t, dice, i) && n_valves < 8)
            valve[n_valves++] = i;
        add(&t, "]}");
    }
    add(&t, "], 'pumps': [{'name': 'p0', 'kind': 'rotary vane', 'from': 'c0', 'to': 'ambient', "
            "'speed': '2 L/s'}");
    for (int i = 1; i < n; i += 3)
        add(&t, ",{'name': 'p%d', 'kind': '%s', 'from': 'c%d', 'to': '%s', 'speed': '%.3g L/s'}", i,
            i % 2 ? "turbomolecular" : "scroll", i, i % 2 ? "c0" : "ambient",
            test_decades(dice, 1, 100));
    add(&t, "], 'procedure': [");
    double when = 0;
    for (int i = 0, steps = test_below(dice, 6); i < steps; i++) {
        add(&t, "%s{'when': 'time > %.6g s', 'do': [", i ? "," : "",
            when += test_decades(dice, 0.1, 900));
        if (n_valves && test_below(dice, 2))
            add(&t, "'%s v%d'", test_below(dice, 2) ? "open" : "close",
                valve[test_below(dice, n_valves)]);
        else
            add(&t, "'%s p0'", test_below(dice, 2) ? "start" : "stop");
        add(&t, "]}");
    }
    add(&t, "], 'run': {'until': '1 h'}}");
    return test_sketch("%s", buffer);
}

void test_random_state(test_dice *dice, const rfy_network *net, double low, double high, double *y,
                       rfy_controls *controls) {
    const int g = net->mixture.n;
    rfy_start_state(net, y);
    for (int k = 0; k < net->n_free; k++) {
        double p = test_decades(dice, low, high);
        for (int i = 0; i < g; i++) {
            double share = test_below(dice, 8) ? test_decades(dice, 1e-4, 1) : 0;
            y[k * g + i] = p * share * net->node[k].volume / (RFY_R * net->node[k].temperature);
        }
    }
    for (int i = 0; i < net->n_valves; i++)
        controls->opening[i] = test_below(dice, 3) ? test_even(dice) : 1;
    for (int i = 0; i < net->n_pumps; i++)
        controls->turn[i] = test_below(dice, 3) ? test_even(dice) : 1;
    for (int i = 0; i < net->n_free * g; i++)
        controls->emission[i] = test_below(dice, 3) ? 0 : test_decades(dice, 1e-15, 1e-8);
    memset(controls->from_walls, 0, (size_t)g * sizeof(double));
    for (int i = 0; i < net->n_free * g; i++)
        controls->from_walls[i % g] += controls->emission[i];
}
