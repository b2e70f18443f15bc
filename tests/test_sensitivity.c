/* Exact derivatives against closed forms, and against central differences of runs at a tolerance of
 * 1e-11 for every file in examples/. */
#define _POSIX_C_SOURCE 200809L
#include <glob.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "study/sensitivity.h"
#include "support/sketch.h"

enum { MOST = 16 };

static const rfy_parameter *one(rfy_arena *arena, const rfy_system *system, const char *path) {
    rfy_parameter *p = RFY_NEW(arena, 1, rfy_parameter);
    rfy_problems *problems = rfy_problems_new("test");
    if (!rfy_parameter_find(arena, system, path, problems, p))
        fail_msg("%s: %s", path, rfy_problems_at(problems, 0)->what);
    rfy_problems_free(problems);
    return p;
}

/* d ln(time of the first target)/d ln(number). */
static double exponent(const rfy_system *system, const char *path, size_t target) {
    rfy_arena *arena = rfy_arena_new();
    rfy_sensitivity_options o = {.parameter = one(arena, system, path),
                                 .n_parameters = 1,
                                 .tolerance = 1e-7,
                                 .targets_only = true};
    const rfy_sensitivities *s = rfy_sensitivities_of(arena, system, &o);
    assert_int_equal(s->status, RFY_OK);
    double e = s->target_time_by[target] / s->target_time[target];
    rfy_arena_free(arena);
    return e;
}

/* ---- closed forms ---- */

/* t = V/S ln(p0/p): one volume, one constant speed. */
static void a_volume_and_a_speed(void **state) {
    (void)state;
    rfy_system *system =
        test_sketch("{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
                    " 'start': {'N2': '100 Pa'}}],"
                    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient',"
                    " 'speed': '2 L/s'}],"
                    " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '0.1 Pa'}],"
                    " 'run': {'until': '10 min'}}");
    assert_close(exponent(system, "tank/volume", 0), 1, 3e-5, 0, "volume");
    assert_close(exponent(system, "pump/speed", 0), -1, 3e-5, 0, "speed");
    assert_close(exponent(system, "tank/start/N2", 0), 1 / log(1000.0), 3e-5, 0, "start");
    assert_close(exponent(system, "targets/0/pressure", 0), -1 / log(1000.0), 3e-5, 0, "target");
    /* and the curve: ln p = ln p0 - S t/V at every instant, inside steps and at their ends */
    rfy_arena *arena = rfy_arena_new();
    rfy_parameter p[2] = {*one(arena, system, "tank/volume"), *one(arena, system, "pump/speed")};
    const double at[5] = {0, 0.7, 10, 77, 200};
    rfy_sensitivity_options o = {
        .parameter = p, .n_parameters = 2, .at = at, .n_at = 5, .tolerance = 1e-7};
    const rfy_sensitivities *s = rfy_sensitivities_of(arena, system, &o);
    assert_int_equal(s->status, RFY_OK);
    for (size_t i = 0; i < 5; i++) {
        double fallen = at[i] * 2e-3 / 50e-3;
        assert_close(s->log_pressure[i], log(100.0) - fallen, 1e-6, 1e-6, "curve at %g s", at[i]);
        assert_close(s->log_pressure_by[2 * i], fallen, 1e-4, 1e-7, "by volume at %g s", at[i]);
        assert_close(s->log_pressure_by[2 * i + 1], -fallen, 1e-4, 1e-7, "by speed at %g s", at[i]);
    }
    rfy_arena_free(arena);
    rfy_system_free(system);
}

#define BEHIND                                                                                     \
    "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '1 L',"                \
    " 'start': {'N2': '1e-3 Pa'}}, {'name': 'inlet', 'volume': '1e-3 cm3',"                        \
    " 'start': {'N2': '1e-3 Pa'}}],"                                                               \
    " 'lines': [{'name': 'way', 'between': ['tank', 'inlet'], 'pieces': [%s]}],"                   \
    " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'inlet', 'to': 'ambient',"               \
    " 'speed': '%s'}],"                                                                            \
    " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '1e-6 Pa'}],"                     \
    " 'run': {'until': '%s'}}"

/* A pump behind a conductance: t = V/S_eff ln(p0/p), 1/S_eff = 1/C + 1/S, so that the exponents are
 * -S_eff/C and -S_eff/S. In a long tube in molecular flow C goes as d^3/l (Knudsen 1909), and the
 * air in the tube is next to none. */
static void a_pump_behind_a_conductance(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        BEHIND, "{'trap': {'conductance': '3 L/s', 'volume': '1e-6 cm3'}}", "1 L/s", "1 min");
    /* nitrogen by the root of its mass: 28.96/28.01 of the conductance for air */
    const double c = 3 * sqrt(28.9647 / 28.0134), speed = c / (1 + c);
    assert_close(exponent(system, "tank/volume", 0), 1, 3e-5, 0, "volume");
    assert_close(exponent(system, "way/0/conductance", 0), -speed / c, 1e-4, 0, "conductance");
    assert_close(exponent(system, "pump/speed", 0), -speed, 1e-4, 0, "speed");
    rfy_system_free(system);
    system = test_sketch(BEHIND, "'tube 1 mm x 10 m'", "1 L/s", "10000 h");
    assert_close(exponent(system, "way/0/bore", 0), -3, 4e-3, 0, "bore of a long tube");
    assert_close(exponent(system, "way/0/length", 0), 1, 4e-3, 0, "length of a long tube");
    rfy_system_free(system);
}

/* A second pump is started when the first has brought the pressure to p1, its speed added:
 * t = V/S1 ln(p0/p1) + V/(S1 + S2) ln(p1/p2); with a wait w before it starts the pressure falls on
 * for that long: t = t1 + w + [V ln(p1/p2) - S1 w]/(S1 + S2). */
static void an_instant_that_depends(void **state) {
    (void)state;
    for (int waits = 0; waits < 2; waits++) {
        rfy_system *system = test_sketch(
            "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
            " 'start': {'N2': '100 Pa'}}],"
            " 'pumps': [{'name': 'A', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient',"
            " 'speed': '2 L/s'},"
            " {'name': 'B', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '3 L/s',"
            " 'state': 'off'}],"
            " 'procedure': [{'when': 'tank < 10 Pa', 'do': [%s'start B']}],"
            " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '0.1 Pa'}],"
            " 'run': {'until': '10 min'}}",
            waits ? "'wait 20 s', " : "");
        const double v = 50, s1 = 2, s2 = 3, w = waits ? 20 : 0, first = log(10.0),
                     then = log(100.0), s = s1 + s2;
        const double t = v / s1 * first + w + (v * then - s1 * w) / s;
        const double by_s1 = -v / s1 * first - w * s1 / s - s1 * (v * then - s1 * w) / (s * s);
        const double by_s2 = -s2 * (v * then - s1 * w) / (s * s);
        const double by_v = v / s1 * first + v * then / s;
        assert_close(exponent(system, "A/speed", 0), by_s1 / t, 3e-5, 0, "first pump, %d", waits);
        assert_close(exponent(system, "B/speed", 0), by_s2 / t, 3e-5, 0, "second pump, %d", waits);
        assert_close(exponent(system, "tank/volume", 0), by_v / t, 3e-5, 0, "volume, %d", waits);
        rfy_system_free(system);
    }
}

/* Q/S: a leak into a pumped chamber; ln p = ln Q - ln S. */
static void the_ultimate(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
        " 'start': {'N2': '100 Pa'},"
        " 'walls': [{'area': '1 m2', 'rate': '2e-6 Pa m3/s/m2', 'gas': 'N2', 'name': 'skin'},"
        "           {'area': '3 m2', 'rate': '1e-6 Pa m3/s/m2', 'gas': 'N2', 'name': 'inside'}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient',"
        " 'speed': '2 L/s'}],"
        " 'run': {'until': '10 min'}}");
    const char *const path[4] = {"pump/speed", "tank/walls/0/area", "tank/walls/1/rate",
                                 "tank/volume"};
    const double wanted[4] = {-1, 0.4, 0.6, 0}; /* shares of the gas: 2 and 3 of 5 */
    rfy_arena *arena = rfy_arena_new();
    rfy_parameter p[4];
    for (int i = 0; i < 4; i++)
        p[i] = *one(arena, system, path[i]);
    rfy_sensitivity_options o = {.parameter = p, .n_parameters = 4};
    const rfy_sensitivities *s = rfy_sensitivities_of(arena, system, &o);
    assert_true(s->ultimate_found);
    assert_close(s->ultimate[0], 5e-6 / 2e-3, 1e-6, 0, "ultimate");
    for (int i = 0; i < 4; i++)
        assert_close(s->log_ultimate_by[i], wanted[i], 1e-5, 1e-6, "%s", path[i]);
    rfy_arena_free(arena);
    rfy_system_free(system);
}

/* A gauge that lags behind p = p0 exp(-a t), a = S/V, by tau dr/dt = p - r:
 * r = p0 (exp(-a t) - a tau exp(-t/tau))/(1 - a tau). A pump started when it shows p1 is started at
 * r = p1, and the time of that instant by a is -(dr/da)/(dr/dt). */
static void a_gauge_that_lags(void **state) {
    (void)state;
    const double a = 2.0 / 50, tau = 4, u = 1 - a * tau, p0 = 100, at[3] = {3, 20, 45};
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L',"
        " 'start': {'N2': '100 Pa'}}],"
        " 'gauges': [{'name': 'gauge', 'kind': 'capacitance', 'at': 'tank', 'lag': '4 s'}],"
        " 'pumps': [{'name': 'A', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient',"
        " 'speed': '2 L/s'},"
        " {'name': 'B', 'kind': 'ideal', 'from': 'tank', 'to': 'ambient', 'speed': '6 L/s',"
        " 'state': 'off'}],"
        " 'procedure': [{'when': 'gauge < 10 Pa', 'do': ['start B']}],"
        " 'targets': [{'name': 'low', 'chamber': 'tank', 'pressure': '1 Pa'}],"
        " 'run': {'until': '5 min'}}");
    rfy_arena *arena = rfy_arena_new();
    rfy_sensitivity_options o = {.parameter = one(arena, system, "A/speed"),
                                 .n_parameters = 1,
                                 .at = at,
                                 .n_at = 3,
                                 .tolerance = 1e-7};
    const rfy_sensitivities *s = rfy_sensitivities_of(arena, system, &o);
    assert_int_equal(s->status, RFY_OK);
    for (int i = 0; i < 3; i++) {
        const double t = at[i], e = exp(-a * t), f = exp(-t / tau), top = e - a * tau * f;
        const double by = ((-t * e - tau * f) * u + tau * top) / (u * u);
        assert_close(exp(s->log_reading[i]), p0 * top / u, 1e-4, 0, "reading at %g s", t);
        assert_close(s->log_reading_by[i], a * by / (top / u), 1e-3, 1e-6, "by speed at %g s", t);
    }
    /* where it shows 10 Pa, by Newton's method */
    double t = 60;
    for (int i = 0; i < 60; i++)
        t -= (p0 * (exp(-a * t) - a * tau * exp(-t / tau)) / u - 10) /
             (p0 * (-a * exp(-a * t) + a * exp(-t / tau)) / u);
    const double e = exp(-a * t), f = exp(-t / tau), top = e - a * tau * f;
    const double by = a * ((-t * e - tau * f) * u + tau * top) / (u * u), slope = a * (f - e) / u;
    const double started = -by / slope; /* d t/d ln a */
    /* then p falls from p0 exp(-a t) with 4 a in all: t2 = t + [ln(p0/p2) - a t]/(4 a), the speed
     * of B staying */
    const double b = 6.0 / 50, left = log(100.0) - a * t, t2 = t + left / (a + b);
    const double by2 = started - (a * t + a * started) / (a + b) - left * a / ((a + b) * (a + b));
    assert_close(s->target_time[0], t2, 1e-4, 0, "time");
    assert_close(s->target_time_by[0], by2, 1e-3, 0, "time by the speed of A");
    rfy_arena_free(arena);
    rfy_system_free(system);
}

/* ---- paths ---- */

static void paths(void **state) {
    (void)state;
    rfy_system *system = test_sketch(
        "{'rarefy': 1, 'gases': ['N2'], 'chambers': [{'name': 'tank', 'volume': '50 L'},"
        " {'name': 'mouth', 'volume': '1 L', 'bore': '40 mm'}],"
        " 'lines': [{'name': 'hose', 'between': ['tank', 'mouth'], 'pieces': ['tube 40 mm x 1 m',"
        " 'elbow 40 mm 90 deg', {'valve': {'name': 'gate', 'bore': '40 mm', 'length': '50 mm'}}]}],"
        " 'pumps': [{'name': 'pump', 'kind': 'turbomolecular', 'from': 'mouth', 'to': 'ambient',"
        " 'speed': {'N2': '60 L/s'}, 'compression': {'N2': 1e8}}],"
        " 'run': {'until': '1 min'}}");
    rfy_arena *arena = rfy_arena_new();
    /* the same bore all along changes together, whichever piece is named and however */
    const char *const bore[] = {"hose/0/bore",        "hose/1/bore",    "gate/bore",
                                "hose/pieces/2/bore", "hose/gate/bore", "mouth/bore"};
    for (size_t i = 0; i < sizeof bore / sizeof *bore; i++) {
        const rfy_parameter *p = one(arena, system, bore[i]);
        assert_int_equal(p->n_paths, 4);
        assert_close(p->value, 0.04, 1e-12, 0, "%s", bore[i]);
        const rfy_description *d = rfy_parameter_scaled(arena, system, p, 2);
        const rfy_chamber_desc *c = d->chambers.item;
        assert_close(c[1].bore, 0.08, 1e-12, 0, "mouth, by %s", bore[i]);
        rfy_problems *problems = rfy_problems_new("test");
        const rfy_network *net = rfy_network_new(arena, system->catalog, d, problems);
        assert_non_null(net);
        rfy_problems_free(problems);
        assert_int_equal(net->n_edges, system->network->n_edges);
    }
    assert_int_equal(one(arena, system, "hose/0/length")->n_paths, 1);
    assert_close(one(arena, system, "pump/speed/N2")->value, 0.06, 1e-12, 0, "speed by gas");
    /* the description itself is left alone */
    assert_close(((const rfy_chamber_desc *)system->description->chambers.item)[1].bore, 0.04,
                 1e-12, 0, "mouth as it was");
    const char *const wrong[] = {"hose/7/bore", "nobody/volume", "tank/name",
                                 "tank",        "pump/speed/Xe", "hose/0/length/1"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        rfy_parameter p;
        rfy_problems *problems = rfy_problems_new("test");
        if (rfy_parameter_find(arena, system, wrong[i], problems, &p))
            fail_msg("%s was found", wrong[i]);
        assert_int_equal(rfy_problems_errors(problems), 1);
        assert_string_equal(rfy_problems_at(problems, 0)->path, wrong[i]);
        rfy_problems_free(problems);
    }
    rfy_arena_free(arena);
    rfy_system_free(system);
}

/* ---- every example ---- */

typedef struct times {
    double target[MOST], pressure[MOST];
} times;

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int i) {
    (void)sim, (void)y;
    if (i < MOST)
        ((times *)context)->target[i] = time;
}

/* Times of all targets at a tight tolerance with a parameter times a factor. */
static times run_with(const rfy_system *system, const rfy_parameter *p, double factor) {
    times t;
    rfy_arena *arena = rfy_arena_new();
    rfy_problems *problems = rfy_problems_new("test");
    const rfy_network *net = rfy_network_new(
        arena, system->catalog, rfy_parameter_scaled(arena, system, p, factor), problems);
    rfy_observer observer = {.target = on_target, .context = &t};
    rfy_sim_options o = {.tolerance = 1e-11, .targets_only = true};
    for (int i = 0; i < MOST; i++)
        t.target[i] = t.pressure[i] = NAN;
    rfy_sim *sim = rfy_sim_new(net, &o, &observer);
    assert_int_equal(rfy_sim_run(sim), RFY_OK);
    rfy_sim_free(sim);
    rfy_problems_free(problems);
    rfy_arena_free(arena);
    return t;
}

/* One number of each kind and dimension: those that matter most come first. */
static size_t choose(const rfy_parameter *all, size_t n, const rfy_sensitivities *s, size_t *chosen,
                     size_t most) {
    size_t count = 0;
    bool *used = calloc(n, sizeof *used);
    while (count < most) {
        size_t best = n;
        double weight = -1;
        for (size_t k = 0; k < n; k++) {
            double now = 0;
            for (size_t i = 0; i < s->n_targets; i++)
                now = fmax(now, fabs(s->target_time_by[i * n + k] / s->target_time[i]));
            for (size_t j = 0; j < count && now >= 0; j++)
                if (strcmp(all[chosen[j]].key, all[k].key) == 0)
                    now = -1;
            if (!used[k] && now > weight) {
                weight = now;
                best = k;
            }
        }
        if (best == n || weight < 0)
            break;
        used[best] = true;
        chosen[count++] = best;
    }
    free(used);
    return count;
}

static void example(void **state) {
    char *text = test_read_file(*state, NULL);
    rfy_system *system = test_system(text);
    rfy_arena *arena = rfy_arena_new();
    size_t n, chosen[8];
    const rfy_parameter *all = rfy_parameters_all(arena, system, &n);
    rfy_sensitivity_options o = {
        .parameter = all, .n_parameters = n, .tolerance = 1e-6, .targets_only = true};
    const rfy_sensitivities *s = rfy_sensitivities_of(arena, system, &o);
    assert_int_equal(s->status, RFY_OK);
    assert_true(s->n_targets <= MOST);
    /* runs of many inner states take their time */
    const size_t most = rfy_network_states(system->network) > 100 ? 2 : 3;
    size_t count = choose(all, n, s, chosen, most);
    assert_int_equal(count, most);
    for (size_t j = 0; j < count; j++) {
        const size_t k = chosen[j];
        const double h = 3e-4;
        assert_null(s->unsuited[k]);
        times more = run_with(system, &all[k], exp(h)), less = run_with(system, &all[k], exp(-h));
        for (size_t i = 0; i < s->n_targets; i++) {
            const double time = s->target_time[i];
            double by = (more.target[i] - less.target[i]) / (2 * h * time);
            assert_close(s->target_time_by[i * n + k] / time, by, 1e-4, 1e-6, "%s, target %zu, %s",
                         strrchr(*state, '/') + 1, i, all[k].name);
        }
    }
    rfy_arena_free(arena);
    rfy_system_free(system);
    free(text);
}

/* ---- the public answer ---- */

static void in_a_result(void **state) {
    (void)state;
    char *text = test_read_file("examples/photocell-bulb.json", NULL);
    rfy_system *system = test_system(text);
    rfy_run_options o = RFY_RUN_OPTIONS_INIT;
    rfy_result *plain = test_run(system, &o, RFY_OK);
    o.sensitivities = RFY_WANTED;
    rfy_result *r = test_run(system, &o, RFY_OK);
    assert_int_equal(plain->n_sensitivities, 0);
    assert_true(r->n_sensitivities > 20);
    /* the run itself is the same to the last bit */
    assert_int_equal(plain->n_times, r->n_times);
    assert_memory_equal(plain->pressure, r->pressure,
                        plain->n_times * plain->n_chambers * sizeof(double));
    assert_memory_equal(&plain->target[1].time, &r->target[1].time, sizeof(double));
    /* ranked, and each change told is what a run with --set gives */
    for (size_t k = 1; k < r->n_sensitivities; k++) {
        double before =
            fmax(fabs(r->sensitivity[k - 1].time[0]), fabs(r->sensitivity[k - 1].time[1]));
        double now = fmax(fabs(r->sensitivity[k].time[0]), fabs(r->sensitivity[k].time[1]));
        assert_true(now <= before);
    }
    /* what resists adds up to all of it, and the sources to no more than the gas there is */
    assert_int_equal(plain->n_splits, 0);
    assert_true(r->n_splits >= 4);
    for (size_t i = 0; i < r->n_splits; i++) {
        const rfy_split *p = &r->split[i];
        double shares = 0, gas = 0;
        for (size_t k = 0; k < p->at.n; k++)
            shares += p->at.resistance[k].share;
        for (size_t k = 0; k < p->n_sources; k++)
            gas += p->source[k].throughput;
        if (p->at.speed > 0)
            assert_close(shares, 1, 1e-3, 0, "shares at %g s", p->at.time);
        assert_true(gas <= p->gas_load * (1 + 1e-9) && gas > 0.9 * p->gas_load);
        assert_true(i == 0 || p->at.time > r->split[i - 1].at.time);
    }
    size_t tried = 0;
    for (size_t k = 0; k < r->n_changes; k++) {
        const rfy_gain *c = &r->change[k];
        const rfy_sensitivity *s = &r->sensitivity[c->sensitivity];
        assert_true(c->estimate < r->target[c->target].time);
        if (isnan(c->time) || s->n_paths != 1 || strcmp(s->unit, "m") != 0)
            continue;
        char value[64];
        snprintf(value, sizeof value, "%.17g m", s->value * c->factor);
        rfy_setting setting = {s->path[0], value};
        rfy_problems *problems = rfy_problems_new("test");
        rfy_system *other;
        assert_int_equal(rfy_system_read(&other, text, strlen(text), &setting, 1, problems),
                         RFY_OK);
        o.sensitivities = RFY_NOT_WANTED;
        rfy_result *changed = test_run(other, &o, RFY_OK);
        assert_close(c->time, changed->target[c->target].time, 1e-3, 0, "%s", s->name);
        rfy_result_free(changed);
        rfy_system_free(other);
        rfy_problems_free(problems);
        tried++;
    }
    assert_true(tried > 0);
    rfy_result_free(plain);
    rfy_result_free(r);
    rfy_system_free(system);
    free(text);
}

int main(void) {
    gsl_set_error_handler_off();
    const struct CMUnitTest closed[] = {cmocka_unit_test(a_volume_and_a_speed),
                                        cmocka_unit_test(a_pump_behind_a_conductance),
                                        cmocka_unit_test(an_instant_that_depends),
                                        cmocka_unit_test(the_ultimate),
                                        cmocka_unit_test(a_gauge_that_lags),
                                        cmocka_unit_test(paths),
                                        cmocka_unit_test(in_a_result)};
    int failed = cmocka_run_group_tests_name("closed forms", closed, NULL, NULL);
    glob_t files;
    if (glob(RAREFY_SOURCE_DIR "/examples/*.json", 0, NULL, &files) != 0)
        return 1;
    struct CMUnitTest *tests = calloc(files.gl_pathc, sizeof *tests);
    for (size_t i = 0; i < files.gl_pathc; i++)
        tests[i] = (struct CMUnitTest){.name = strrchr(files.gl_pathv[i], '/') + 1,
                                       .test_func = example,
                                       .initial_state = files.gl_pathv[i]};
    failed += _cmocka_run_group_tests("examples", tests, files.gl_pathc, NULL, NULL);
    free(tests);
    globfree(&files);
    return failed;
}
