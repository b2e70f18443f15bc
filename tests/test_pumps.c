/* Pumps, each built from a description and then asked for its flow alone, without a solver. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "flow/kinetic.h"
#include "study/system.h"
#include "support/sketch.h"

#define PI    3.14159265358979323846
#define LITRE 1e-3
enum { MOST = RFY_MAX_GASES };

static const double temperature = 293.15;

/* One pump from "vessel" (with `vessel` more keys) to `to`, its kind's keys in `keys`. */
static rfy_system *with_pump(const char *gases, const char *vessel, const char *to,
                             const char *kind, const char *keys) {
    return test_sketch(
        "{'rarefy': 1, 'gases': %s, 'ambient': {'temperature': '20 degC'},"
        " 'chambers': [{'name': 'vessel', 'volume': '1 L'%s},"
        " {'name': 'fore', 'volume': '1 L'}, {'name': 'rough inlet', 'volume': '1 L'}],"
        " 'lines': [{'name': 'hose', 'between': ['fore', 'rough inlet'],"
        " 'pieces': ['tube 25 mm x 0.5 m']}],"
        " 'pumps': [{'name': 'pump', 'kind': '%s', 'from': 'vessel', 'to': '%s'%s},"
        " {'name': 'rough', 'kind': 'ideal', 'from': 'rough inlet', 'to': 'ambient',"
        " 'speed': '10 m3/h'}], 'run': {'until': '1 s'}}",
        gases, vessel, kind, to, keys);
}

static void moved_by(const rfy_system *s, double turn, const double *in, const double *out,
                     double *flow) {
    const rfy_pump *pump = &s->network->pump[0];
    pump->kind->flow(pump->data, turn, in, out, flow, NULL, NULL);
}

static int gas_of(const rfy_system *s, const char *name) {
    for (int i = 0; i < s->network->mixture.n; i++)
        if (strcmp(s->network->mixture.name[i], name) == 0)
            return i;
    fail_msg("no gas %s", name);
    return -1;
}

/* Speed for one gas alone, m3/s. */
static double speed(const rfy_system *s, double turn, int gas, double p_in, double p_out) {
    double in[MOST] = {0}, out[MOST] = {0}, flow[MOST];
    in[gas] = p_in;
    out[gas] = p_out;
    moved_by(s, turn, in, out, flow);
    return flow[gas] * RFY_R * temperature / p_in;
}

static bool assumes(const rfy_system *s, const char *part) {
    for (size_t i = 0; i < s->network->n_assumed; i++)
        if (strstr(s->network->assumed[i], part))
            return true;
    return false;
}

static const char six[] = "['N2', 'O2', 'Ar', 'H2O', 'H2', 'He']";

/* ---- every kind ---- */

static uint64_t seed;

static double uniform(void) { /* splitmix64 (Steele, Lea and Flood 2014) */
    uint64_t z = seed += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static const struct {
    const char *kind, *keys, *to;
} every[] = {
    {"ideal", ", 'speed': '40 L/s'", "fore"},
    {"rotary vane", ", 'speed': '3 m3/h', 'ultimate': '0.3 Pa'", "ambient"},
    {"rotary vane", ", 'speed': '3 m3/h', 'when_off': '0.2 L/s'", "fore"},
    {"diaphragm", ", 'speed': {'N2': '1 m3/h', 'He': '0.7 m3/h'}", "ambient"},
    {"scroll",
     ", 'curve': [['1 Pa', '0 m3/h'], ['10 Pa', '4 m3/h'], ['1000 Pa', '6 m3/h'], ['1e5 Pa', '5 "
     "m3/h']]",
     "ambient"},
    {"piston", ", 'speed': '8 m3/h', 'ballast': {'open': true, 'ultimate': '20 Pa'}", "fore"},
    {"turbomolecular", ", 'speed': {'N2': '60 L/s'}, 'compression': {'N2': 1e9, 'H2': 1e3}",
     "fore"},
    {"turbomolecular", ", 'speed': '60 L/s', 'bore': '63 mm', 'foreline_limit': '500 Pa'", "fore"},
    {"diffusion", ", 'speed': {'N2': '150 L/s', 'He': '200 L/s'}", "fore"},
};

static void derivatives_are_differences(void **state) {
    (void)state;
    double worst = 0;
    seed = 1;
    for (size_t k = 0; k < sizeof every / sizeof *every; k++) {
        rfy_system *s = with_pump(six, "", every[k].to, every[k].kind, every[k].keys);
        const rfy_pump *pump = &s->network->pump[0];
        const int n = s->network->mixture.n;
        for (int t = 0; t < 400; t++) {
            double p[2][MOST], flow[MOST], by[2][MOST * MOST], level = 0;
            double turn = t % 4 == 0 ? 1 : t % 4 == 1 ? 0 : uniform();
            for (int side = 0; side < 2; side++)
                for (int i = 0; i < n; i++) {
                    p[side][i] = uniform() < 0.1 ? 0 : pow(10, -9 + 14 * uniform());
                    level = fmax(level, p[side][i]);
                }
            pump->kind->flow(pump->data, turn, p[0], p[1], flow, by[0], by[1]);
            for (int side = 0; side < 2; side++)
                for (int j = 0; j < n; j++) {
                    /* the best of several steps; to one side of second order near zero, where
                       amounts stop counting */
                    double best[MOST], sum = 0;
                    for (int i = 0; i < n; i++)
                        best[i] = INFINITY;
                    for (int i = 0; i < n; i++)
                        sum += p[side][i];
                    for (double h = 1e-3; h > 1e-8; h /= 10) {
                        double one[MOST], two[MOST], start = p[side][j];
                        double step = h * fmax(start, 1e-2 * fmax(sum, 1e-9));
                        bool room = start > 2 * step;
                        p[side][j] = start + step;
                        pump->kind->flow(pump->data, turn, p[0], p[1], one, NULL, NULL);
                        p[side][j] = room ? start - step : start + 2 * step;
                        pump->kind->flow(pump->data, turn, p[0], p[1], two, NULL, NULL);
                        p[side][j] = start;
                        for (int i = 0; i < n; i++) {
                            double slope = room ? (one[i] - two[i]) / (2 * step)
                                                : (4 * one[i] - 3 * flow[i] - two[i]) / (2 * step);
                            best[i] = fmin(best[i], fabs(slope - by[side][i * n + j]));
                        }
                    }
                    for (int i = 0; i < n; i++) {
                        /* what the gas itself moves both ways, over the pressure that matters */
                        double gross = fabs(by[0][i * n + i]) * p[0][i] +
                                       fabs(by[1][i * n + i]) * p[1][i] + fabs(flow[i]);
                        double own = fmax(fabs(by[0][i * n + i]), fabs(by[1][i * n + i]));
                        double scale = fmax(own, gross / fmax(sum, 1e-9)) + 1e-300;
                        worst = fmax(worst, best[i] / scale);
                        if (!(best[i] <= 1e-5 * scale))
                            fail_msg("%s, turn %g, %s by %s of end %d (%g Pa): %.9g, off by %.3g, "
                                     "allowed "
                                     "%.3g",
                                     every[k].kind, turn, s->network->mixture.name[i],
                                     s->network->mixture.name[j], side, p[side][j],
                                     by[side][i * n + j], best[i], 1e-5 * scale);
                    }
                }
        }
        rfy_system_free(s);
    }
    print_message("derivatives of pumps: at most %.2g off\n", worst);
}

static void nothing_is_made_of_nothing(void **state) {
    (void)state;
    seed = 2;
    for (size_t k = 0; k < sizeof every / sizeof *every; k++) {
        rfy_system *s = with_pump(six, "", every[k].to, every[k].kind, every[k].keys);
        const int n = s->network->mixture.n;
        double none[MOST] = {0}, in[MOST], out[MOST], flow[MOST];
        moved_by(s, 0, none, none, flow);
        for (int i = 0; i < n; i++)
            assert_true(flow[i] == 0);
        for (int t = 0; t < 1000; t++) {
            for (int i = 0; i < n; i++) {
                in[i] = uniform() < 0.2 ? 0 : pow(10, -12 + 17 * uniform());
                out[i] = uniform() < 0.2 ? 0 : pow(10, -12 + 17 * uniform());
            }
            moved_by(s, uniform(), in, out, flow);
            for (int i = 0; i < n; i++) {
                assert_true(isfinite(flow[i]));
                if (in[i] == 0 && strcmp(every[k].to, "ambient") != 0)
                    assert_true(flow[i] <= 0);
                if (out[i] == 0)
                    assert_true(flow[i] >= 0 || strcmp(every[k].to, "ambient") == 0);
            }
        }
        rfy_system_free(s);
    }
}

static void registry_is_complete(void **state) {
    (void)state;
    assert_true(rfy_pump_kinds.n >= 7);
    for (size_t i = 0; i < rfy_pump_kinds.n; i++) {
        const rfy_variant *v = &rfy_pump_kinds.item[i];
        const rfy_pump_kind *kind = v->kind;
        assert_string_equal(kind->name, v->name);
        assert_non_null(kind->build);
        assert_non_null(kind->flow);
        assert_non_null(kind->inertia);
        assert_true(strlen(v->help) > 0);
        for (size_t f = 0; f < v->record->n; f++) {
            const rfy_field *field = &v->record->field[f];
            if (!field->help || !*field->help || !(field->min <= field->max) ||
                !isfinite(field->min) || !isfinite(field->max) ||
                field->offset >= v->record->size || (field->required && field->assumed))
                fail_msg("%s: field %s is not sound", v->name, field->key);
            for (size_t g = 0; g < f; g++)
                assert_string_not_equal(field->key, v->record->field[g].key);
        }
    }
}

/* ---- ideal and displacement ---- */

static void ideal_pump(void **state) {
    (void)state;
    rfy_system *s = with_pump("['N2', 'He']", "", "fore", "ideal", ", 'speed': '40 L/s'");
    for (double p = 1e-9; p < 2e5; p *= 10)
        for (int i = 0; i < 2; i++) {
            assert_close(speed(s, 1, i, p, 1e5), 40 * LITRE, 1e-12, 0, "whatever stands outside");
            assert_close(speed(s, 0.25, i, p, 0), 10 * LITRE, 1e-12, 0, "a quarter of the speed");
        }
    rfy_system_free(s);
}

static void displacement_pumps(void **state) {
    (void)state;
    /* S(p) = S0 (1 - p_u/p): constant speed against a constant back-leak (standard form, M; ISO
       21360-2 defines base pressure). Usual ultimates: orders from textbooks (M). */
    static const struct {
        const char *kind;
        double usual;
    } rows[] = {{"rotary vane", 0.5}, {"diaphragm", 200}, {"scroll", 3}, {"piston", 5}};
    const double s0 = 3 / 3600.0;
    for (size_t k = 0; k < 4; k++) {
        rfy_system *s = with_pump(six, "", "ambient", rows[k].kind, ", 'speed': '3 m3/h'");
        assert_true(assumes(s, "ultimate pressure"));
        assert_true(assumes(s, "seals its inlet"));
        const rfy_network *net = s->network;
        const int n = net->mixture.n, water = gas_of(s, "H2O");
        double air[MOST], in[MOST], flow[MOST], dry = 0;
        for (int i = 0; i < n; i++)
            dry += i == water ? 0 : net->ambient[i];
        for (int i = 0; i < n; i++)
            air[i] = i == water ? 0 : net->ambient[i] / dry; /* dry air */
        for (double ratio = 1; ratio < 1e6; ratio *= 7) {
            double p = rows[k].usual * ratio, sum = 0;
            for (int i = 0; i < n; i++)
                in[i] = p * air[i];
            moved_by(s, 1, in, net->ambient, flow);
            for (int i = 0; i < n; i++)
                sum += flow[i];
            assert_close(sum * RFY_R * temperature / p, s0 * (1 - 1 / ratio), 1e-12, 1e-12 * s0,
                         "%s, %g times its ultimate", rows[k].kind, ratio);
            moved_by(s, 0, in, net->ambient, flow);
            for (int i = 0; i < n; i++)
                assert_true(flow[i] == 0); /* seals when stopped */
        }
        /* at no pressure the whole back-leak S0 p_u / RT comes back */
        double returned = 0;
        memset(in, 0, sizeof in);
        moved_by(s, 1, in, net->ambient, flow);
        for (int i = 0; i < n; i++)
            returned -= flow[i];
        assert_close(returned * RFY_R * temperature, s0 * rows[k].usual, 1e-12, 0,
                     "back-leak of %s", rows[k].kind);
        rfy_system_free(s);
    }
}

static void displacement_details(void **state) {
    (void)state;
    const char *const two = "['N2', 'He', 'H2O']";
    double in[MOST] = {0}, out[MOST] = {0}, flow[MOST];
    /* ballast: another ultimate */
    rfy_system *s =
        with_pump(two, "", "ambient", "rotary vane",
                  ", 'speed': '36 m3/h', 'ultimate': '0.3 Pa', 'ballast': {'open': true,"
                  " 'ultimate': '2 Pa'}");
    int n2 = gas_of(s, "N2"), he = gas_of(s, "He");
    double zero = 0;
    moved_by(s, 1, in, s->network->ambient, flow);
    for (int i = 0; i < 3; i++)
        zero += flow[i];
    assert_close(-zero * RFY_R * temperature, 0.01 * 2, 1e-12, 0, "back-leak with ballast");
    rfy_system_free(s);
    s = with_pump(two, "", "ambient", "rotary vane",
                  ", 'speed': '36 m3/h', 'ultimate': '0.3 Pa', 'ballast': {'open': false,"
                  " 'ultimate': '2 Pa'}, 'ultimate_gas': 'H2O'");
    moved_by(s, 1, in, s->network->ambient, flow);
    assert_close(-flow[gas_of(s, "H2O")] * RFY_R * temperature, 0.01 * 0.3, 1e-12, 0,
                 "back-leak of the gas named");
    assert_true(flow[n2] == 0 && flow[he] == 0);
    rfy_system_free(s);
    /* into a chamber: the ultimate in proportion to what stands there, p_u per atmosphere */
    s = with_pump(
        two, "", "fore", "scroll",
        ", 'speed': {'N2': '36 m3/h', 'He': '18 m3/h'}, 'ultimate': '3 Pa', 'when_off': '0.5 L/s'");
    in[he] = 7;
    out[he] = 1e4;
    moved_by(s, 1, in, out, flow);
    assert_close(flow[he] * RFY_R * temperature, 0.005 * (7 - 3 * 1e4 / 101325), 1e-12, 0,
                 "into a chamber");
    moved_by(s, 0, in, out, flow);
    assert_close(flow[he] * RFY_R * temperature, 5e-4 * (7 - 1e4), 1e-12, 0,
                 "lets back when stopped");
    assert_true(assumes(s, "speed for H2O as for its best gas"));
    assert_close(speed(s, 1, gas_of(s, "H2O"), 100, 0), 0.01, 1e-12, 0, "water as the best gas");
    rfy_system_free(s);
}

static void speed_curves(void **state) {
    (void)state;
    static const double p[] = {1, 10, 1000, 1e5}, v[] = {0.5, 4, 6, 5}; /* Pa, m3/h */
    for (int turned = 0; turned < 2; turned++) {
        rfy_system *s = with_pump("['N2', 'He']", "", "fore", "scroll",
                                  turned ? ", 'ultimate': '0 Pa', 'curve': [['1e5 Pa', '5 m3/h'], "
                                           "['1000 Pa', '6 m3/h'], ['10 Pa', "
                                           "'4 m3/h'], ['1 Pa', '0.5 m3/h']]"
                                         : ", 'ultimate': '0 Pa', 'curve': [['1 Pa', '0.5 m3/h'], "
                                           "['10 Pa', '4 m3/h'], ['1000 Pa', "
                                           "'6 m3/h'], ['1e5 Pa', '5 m3/h']]");
        for (int i = 0; i < 4; i++)
            assert_close(speed(s, 1, 0, p[i], 0), v[i] / 3600, 1e-9, 0, "at %g Pa", p[i]);
        assert_close(speed(s, 1, 1, 1e-6, 0), 0.5 / 3600, 1e-9, 0, "constant below");
        assert_close(speed(s, 1, 1, 9e5, 0), 5.0 / 3600, 1e-9, 0, "constant above");
        for (int i = 0; i < 3; i++) { /* no overshoot between the points */
            double before = v[i];
            for (double q = p[i]; q < p[i + 1]; q *= 1.05) {
                double now = speed(s, 1, 0, q, 0) * 3600;
                assert_true(v[i + 1] > v[i] ? now >= before - 1e-9 : now <= before + 1e-9);
                before = now;
            }
        }
        /* the curve goes by total pressure */
        double in[MOST] = {500, 500}, out[MOST] = {0}, flow[MOST];
        moved_by(s, 1, in, out, flow);
        assert_close(flow[0] * RFY_R * temperature / 500, 6.0 / 3600, 1e-9, 0, "half of 1000 Pa");
        rfy_system_free(s);
    }
    rfy_problems_free(
        test_refused("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'v', 'volume': "
                     "'1 L'}], 'pumps': [{'name': 'p', 'kind': 'scroll', 'from': 'v', "
                     "'to': 'ambient', 'curve': [['1 Pa', '1 m3/h'], ['100 Pa', '2 "
                     "m3/h'], ['10 Pa', '3 m3/h']]}], 'run': {'until': '1 s'}}"));
}

/* ---- turbomolecular and diffusion ---- */

static void turbo_with_its_backing_pump(void **state) {
    (void)state;
    /* S = S0/(1 - 1/K0 + S0/(K0 S_b)): flow balance of S0 (K0 p_in - p_f)/(K0 - 1) = S_b p_f
     * (standard form, M). */
    rfy_system *s = with_pump("['N2', 'H2', 'He']", "", "fore", "turbomolecular",
                              ", 'speed': {'N2': '60 L/s', 'H2': '50 L/s', 'He': '55 L/s'},"
                              " 'compression': {'N2': 1e9, 'H2': 1e3, 'He': 1e4}");
    static const struct {
        const char *gas;
        double s0, k0;
    } rows[] = {{"H2", 50, 1e3}, {"He", 55, 1e4}, {"N2", 60, 1e9}};
    for (int k = 0; k < 3; k++)
        for (double backing = 0.02; backing < 30; backing *= 3) { /* L/s */
            int gas = gas_of(s, rows[k].gas);
            double p_in = 1e-6, low = 0, high = 2 * rows[k].k0 * p_in;
            for (int i = 0; i < 200; i++) {
                double p = 0.5 * (low + high);
                if (speed(s, 1, gas, p_in, p) * p_in > backing * LITRE * p)
                    low = p;
                else
                    high = p;
            }
            double wanted =
                rows[k].s0 / (1 - 1 / rows[k].k0 + rows[k].s0 / (rows[k].k0 * backing)) * LITRE;
            assert_close(speed(s, 1, gas, p_in, low), wanted, 1e-3, 0, "%s backed by %g L/s",
                         rows[k].gas, backing);
        }
    rfy_system_free(s);
}

static void compression_of_a_rotor(void **state) {
    (void)state;
    rfy_system *s = with_pump(six, "", "fore", "turbomolecular",
                              ", 'speed': {'N2': '60 L/s'}, 'compression': {'N2': 1e8, 'H2': 1e3},"
                              " 'foreline_limit': '200 Pa', 'overload': '1 Pa'");
    const rfy_network *net = s->network;
    assert_true(assumes(s, "compression by the root of molar mass"));
    assert_true(assumes(s, "speed for"));
    for (int i = 0; i < net->mixture.n; i++) {
        double mass = net->catalog->species[net->mixture.species[i]].molar_mass;
        /* ln K0 as the root of molar mass (Gaede 1913, M) from the given gas nearest in mass:
           hydrogen for helium, nitrogen for the rest */
        bool light = mass < 0.0075;
        double ln = light ? log(1e3) * sqrt(mass / 2.016e-3) : log(1e8) * sqrt(mass / 28.014e-3);
        for (double turn = 0.1; turn < 1.05; turn += 0.3) {
            /* no flow where the ratio is K0^turn, at pressures too low to matter */
            double p_in = 1e-12, p_out = p_in * exp(turn * ln);
            double q = speed(s, turn, i, p_in, p_out), open = speed(s, turn, i, p_in, 0);
            assert_close(q / open, 0, 0, 1e-9, "zero-flow compression of %s at %g of its speed",
                         net->mixture.name[i], turn);
        }
        /* at rest a tube: nothing at equal pressures, the same both ways, C0 = S0/ln K0 */
        assert_true(speed(s, 0, i, 1e-3, 1e-3) == 0);
        assert_close(speed(s, 0, i, 1e-6, 0), speed(s, 1, i, 1e-6, 0) / ln, 1.1e-3, 0,
                     "at rest, %s", net->mixture.name[i]);
        double p[2][MOST] = {{0}, {0}}, flow[2][MOST];
        p[0][i] = 3;
        p[1][i] = 40;
        moved_by(s, 0, p[0], p[1], flow[0]);
        moved_by(s, 0, p[1], p[0], flow[1]);
        assert_close(flow[0][i], -flow[1][i], 1e-12, 0, "both ways at rest");
    }
    /* foreline at twice the limit: half of ln K0; at the limit 6 % less */
    int n2 = gas_of(s, "N2");
    static const double fore[] = {400, 200}, share[] = {0.5, 1 / (1 + 0.0625)};
    for (int k = 0; k < 2; k++) {
        double p_in = fore[k] * exp(-share[k] * log(1e8));
        assert_close(speed(s, 1, n2, p_in, fore[k]) / speed(s, 1, n2, p_in, 0), 0, 0, 1e-6,
                     "compression with %g Pa in the foreline", fore[k]);
    }
    /* overload: throughput levels off at S0 times the overload pressure, and never falls with
     * pressure */
    double before = 0;
    for (double p = 1e-6; p < 1e5; p *= 1.1) {
        double q = speed(s, 1, n2, p, 0) * p;
        assert_true(q >= before);
        before = q;
    }
    assert_close(before, 60 * LITRE * 1, 1e-3, 0, "greatest throughput");
    assert_close(speed(s, 1, n2, 1e-4, 0), 60 * LITRE, 1e-6, 0, "rated speed at low pressure");
    rfy_system_free(s);
}

static void run_up_and_coast_down(void **state) {
    (void)state;
    static const struct {
        const char *kind, *keys;
        double up, down;
    } rows[] = {{"turbomolecular", "", 120, 600},
                {"turbomolecular", ", 'run_up': '90 s', 'coast_down': '5 min'", 90, 300},
                {"diffusion", "", 1200, 1800}};
    for (int k = 0; k < 3; k++) {
        char keys[200];
        snprintf(keys, sizeof keys, ", 'speed': '60 L/s'%s", rows[k].keys);
        rfy_system *s = with_pump("['N2']", "", "fore", rows[k].kind, keys);
        assert_close(s->network->pump[0].run_up, rows[k].up, 1e-12, 0, "run-up");
        assert_close(s->network->pump[0].coast_down, rows[k].down, 1e-12, 0, "coast-down");
        rfy_system_free(s);
    }
}

/* Speed at an open chamber before a tube that leads to the pump's mouth, N2, molecular, m3/s. */
static double before_the_mouth(const char *inlet, const char *tube, const char *pump_keys) {
    rfy_system *s = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'ambient': {'temperature': '20 degC'},"
        " 'chambers': [{'name': 'vessel', 'volume': '10 L'}, {'name': 'inlet', 'volume': '1 L'%s},"
        " {'name': 'fore', 'volume': '1 L'}],"
        " 'lines': [{'name': 'neck', 'between': ['vessel', 'inlet'], 'pieces': ['%s']}],"
        " 'pumps': [{'name': 'pump', 'kind': 'turbomolecular', 'from': 'inlet', 'to': 'fore',"
        " 'compression': {'N2': 1e9}%s}, {'name': 'rough', 'kind': 'ideal', 'from': 'fore', 'to':"
        " 'ambient', 'speed': '10 m3/h'}], 'run': {'until': '1 s'}}",
        inlet, tube, pump_keys);
    const rfy_network *net = s->network;
    const rfy_edge *neck = NULL;
    for (int i = 0; i < net->n_edges; i++)
        if (net->edge[i].role == RFY_EDGE_TUBING)
            neck = &net->edge[i];
    assert_non_null(neck);
    double p_vessel = 1e-7, low = 0, high = p_vessel, through = 0, pumped, out = 0;
    for (int i = 0; i < 200; i++) {
        double p = 0.5 * (low + high);
        neck->flow(neck, &net->mixture, 1, &p_vessel, &p, &through, NULL, NULL);
        moved_by(s, 1, &p, &out, &pumped);
        if (through > pumped)
            low = p;
        else
            high = p;
    }
    rfy_system_free(s);
    return through * RFY_R * temperature / p_vessel;
}

static void the_mouth_is_counted_once(void **state) {
    (void)state;
    /* A rated speed contains the aperture of the mouth (ISO 21360-1 measures it under a dome), so a
       neck of the same bore adds only its own resistance: 1/S = 1/S0 + (1/W - 1)/(A vbar/4) (Oatley
       1957). For 60 L/s of nitrogen at 40 mm with a neck of 60 mm that is 38.5 L/s; adding 1/C
       would say 30.6. */
    double w = 0.4200554494; /* L/R = 3, published/clausing_tube.csv */
    double aperture = PI * 4e-4 * rfy_mean_speed(28.014e-3, temperature) / 4;
    double wanted = 1 / (1 / 0.06 + (1 / w - 1) / aperture);
    assert_close(wanted, 38.5 * LITRE, 2e-3, 0, "worked by hand");
    const char *const tube = "tube 40 mm x 60 mm", *const keys = ", 'speed': '60 L/s'";
    double found = before_the_mouth(", 'bore': '40 mm'", tube, keys);
    assert_close(found, wanted, 1e-4, 0, "mouth from the chamber's bore");
    found = before_the_mouth(", 'bore': '40 mm'", tube, ", 'speed': '60 L/s', 'bore': '40 mm'");
    assert_close(found, wanted, 1e-4, 0, "mouth given");
    /* An open chamber between them: a mouth of its own bore, and the neck a whole one. */
    found = before_the_mouth("", tube, ", 'speed': '60 L/s', 'bore': '40 mm'");
    assert_close(found, 1 / (1 / 0.06 + 1 / (w * aperture)), 1e-4, 0, "open chamber between");
    rfy_problems_free(test_refused(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'v', 'volume': '1 L', 'bore': "
        "'40 mm'}, {'name': 'fore', 'volume': '1 L'}], 'pumps': [{'name': 'p', 'kind': "
        "'turbomolecular', 'from': 'v', 'to': 'fore', 'speed': '160 L/s'}, {'name': 'r', "
        "'kind': 'ideal', 'from': 'fore', 'to': 'ambient', 'speed': '1 L/s'}], 'run': "
        "{'until': '1 s'}}"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(derivatives_are_differences),
        cmocka_unit_test(nothing_is_made_of_nothing),
        cmocka_unit_test(registry_is_complete),
        cmocka_unit_test(ideal_pump),
        cmocka_unit_test(displacement_pumps),
        cmocka_unit_test(displacement_details),
        cmocka_unit_test(speed_curves),
        cmocka_unit_test(turbo_with_its_backing_pump),
        cmocka_unit_test(compression_of_a_rotor),
        cmocka_unit_test(run_up_and_coast_down),
        cmocka_unit_test(the_mouth_is_counted_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
