/* A rate-of-rise test: what is shut off, what the gauge shows, what the temperature does. */
#include "study/rise.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/problem.h"
#include "gas/catalog.h"
#include "gas/gas.h"
#include "study/system.h"

typedef struct rise_box {
    rfy_rise_result result; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} rise_box;

static const char *const gauge_kinds[] = {"thermal", "hot cathode", "cold cathode", "capacitance",
                                          NULL};

static double reads(int kind, const rfy_species *s) {
    double f = kind == 0 ? s->thermal_sensitivity : kind <= 2 ? s->ion_sensitivity : 1;
    return f > 0 ? f : 1;
}

/* What the gauge shows of air and of the walls' gas, per pascal. */
static bool find_factors(rfy_arena *arena, const rfy_rise_options *o, rfy_rise_result *out,
                         rfy_problems *problems) {
    const rfy_catalog *catalog = rfy_catalog_new(arena);
    const char *gas = o->gas ? o->gas : "H2O";
    int kind = 3, g = rfy_species_find(catalog, gas);
    if (o->gauge)
        for (kind = 0; gauge_kinds[kind] && strcmp(gauge_kinds[kind], o->gauge) != 0;)
            kind++;
    rfy_place at = {0, 0, ""};
    if (!gauge_kinds[kind]) {
        rfy_problem_add(problems, RFY_ERROR, &at, "thermal, hot cathode, cold cathode, capacitance",
                        NULL, "--gauge: \"%.40s\" is not a kind of gauge", o->gauge);
        return false;
    }
    if (g < 0) {
        rfy_problem_add(problems, RFY_ERROR, &at, "a gas of rarefy list gases", NULL,
                        "--gas: \"%.40s\" is not known", gas);
        return false;
    }
    out->air_factor = 0;
    for (size_t i = 0; i < catalog->n_species; i++)
        out->air_factor += catalog->species[i].air_fraction * reads(kind, &catalog->species[i]);
    out->gas_factor = reads(kind, &catalog->species[g]);
    out->thermal_gas_factor = reads(0, &catalog->species[g]);
    out->ion_gas_factor = reads(1, &catalog->species[g]);
    out->gauge = o->gauge ? rfy_arena_strdup(arena, o->gauge) : NULL;
    out->gas = rfy_arena_strdup(arena, gas);
    return true;
}

/* Readings in the part asked for, at the temperature of the first: p T0/T. Those that stand at the
 * gauge's lowest reading at the beginning, three or more of them, say only "less than". */
static size_t take_readings(const rfy_log *log, const rfy_rise_options *o, rfy_rise_result *out,
                            double *t, double *y, double *bare) {
    size_t n = 0;
    double t0 = NAN, kelvin = NAN;
    for (size_t i = 0; i < log->n; i++) {
        if (log->time[i] < o->from || log->time[i] > o->to)
            continue;
        if (n == 0) {
            t0 = log->time[i];
            kelvin = log->temperature ? log->temperature[i] : out->temperature;
            out->from = t0;
        }
        double now = log->temperature  ? log->temperature[i]
                     : isnan(o->drift) ? kelvin
                                       : kelvin + o->drift * (log->time[i] - t0);
        out->to = log->time[i];
        t[n] = log->time[i] - t0;
        bare[n] = log->pressure[i];
        y[n++] = log->pressure[i] * (now > 0 ? kelvin / now : 1);
    }
    out->corrected = log->temperature || !isnan(o->drift);
    if (log->temperature && n > 0)
        out->temperature = kelvin;
    size_t same = 1;
    while (same < n && bare[same] == bare[0])
        same++;
    bool lowest = same >= 3 && same + 5 < n;
    for (size_t i = same; i < n && lowest; i++)
        lowest = bare[i] >= bare[0];
    size_t again = 0; /* readings with steps as coarse as that repeat all along: that is no floor */
    for (size_t i = same + 1; i < n; i++)
        again += bare[i] == bare[i - 1];
    if (!lowest || 4 * again > n - same)
        return n;
    same--; /* the last of them stays: the pressure passes the floor there */
    out->n_floor = same;
    double shift = t[same];
    out->from += shift;
    n -= same;
    memmove(t, t + same, n * sizeof *t);
    memmove(y, y + same, n * sizeof *y);
    memmove(bare, bare + same, n * sizeof *bare);
    for (size_t i = 0; i < n; i++)
        t[i] -= shift;
    return n;
}

static double mean(const double *x, size_t from, size_t to) {
    double sum = 0;
    for (size_t i = from; i < to; i++)
        sum += x[i];
    return sum / (double)(to - from);
}

/* Rates from reading to reading where they are few, else between means of six parts of time. */
static void find_rows(rfy_arena *arena, const double *t, const double *y, size_t n, double to_flow,
                      rfy_rise_result *out) {
    enum { PARTS = 7 };
    size_t parts = n <= 12 ? n : PARTS, begin = 0, k = 0;
    rfy_rise_row *row = RFY_NEW(arena, parts, rfy_rise_row);
    double t_before = 0, y_before = 0;
    for (size_t i = 0; i < parts; i++) {
        size_t end = begin + 1;
        double until = t[n - 1] * (double)(i + 1) / (double)parts;
        if (n <= 12)
            end = i + 1;
        else
            while (end < n && t[end] <= until)
                end++;
        if (i + 1 == parts)
            end = n;
        if (end <= begin)
            continue;
        double tm = mean(t, begin, end), ym = mean(y, begin, end);
        if (begin > 0) {
            double rate = (ym - y_before) / (tm - t_before);
            row[k++] = (rfy_rise_row){out->from + t_before, out->from + tm, 0.5 * (ym + y_before),
                                      rate, rate * to_flow};
        }
        t_before = tm;
        y_before = ym;
        begin = end;
        if (begin >= n)
            break;
    }
    out->row = row;
    out->n_rows = k;
}

static rfy_interval interval_of(const rfy_rise_fit *f, rfy_rise_of of, double wider,
                                double multiple) {
    rfy_interval i = {.value = rfy_rise_value(&f->both, of)};
    rfy_rise_interval(f->shapes, of, f->both.chi2, i.value, f->variance, f->freedom, wider, &i.low,
                      &i.high);
    i.value *= multiple;
    i.low *= multiple;
    i.high *= multiple;
    return i;
}

/* Shapes are free where there is no outgassing to show one: the profile then falls further below
 * the truth than one number alone would bring it (Davies 1987, Biometrika 74, 33). The factor was
 * found with simulated straight lines (tests/measured). */
#define WIDER_AT_NOTHING 0.9

static void fill_fit(const rfy_rise_fit *f, const rfy_rise_judgement *j, double to_flow,
                     rfy_rise_result *out) {
    out->verdict = j->verdict;
    out->leak_certain = j->leak_certain;
    out->outgassing_certain = j->outgassing_certain;
    out->leak_share = j->leak_share;
    out->outgassing_share = j->outgassing_share;
    memcpy(out->bic, j->bic, sizeof out->bic);
    out->n_used = f->n;
    out->n_outliers = f->n_outliers;
    out->scatter = f->noise.f * sqrt(f->variance);
    out->floor = f->noise.s * sqrt(f->variance);
    out->ratio = f->noise.ratio;
    out->misfit = f->misfit;
    out->background = f->both.background;
    out->leak = interval_of(f, RFY_OF_SLOPE, 0, to_flow / out->air_factor);
    out->outgassing = interval_of(f, RFY_OF_INITIAL, WIDER_AT_NOTHING, to_flow / out->gas_factor);
    out->level = interval_of(f, RFY_OF_AMOUNT, WIDER_AT_NOTHING, 1 / out->gas_factor);
    out->levelling = f->both.amount > 0 && f->both.shape ? f->both.shape->tau : (double)NAN;
    out->power_law = f->both.shape && f->both.shape->law != RFY_RISE_LEVELS;
    if (out->power_law)
        out->level = (rfy_interval){NAN, NAN, NAN};
}

rfy_status rfy_rise(rfy_rise_result **out_box, const rfy_log *log, const rfy_rise_options *options,
                    rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    rise_box *box = RFY_NEW(arena, 1, rise_box);
    rfy_rise_result *out = &box->result;
    const rfy_interval unknown = {NAN, NAN, NAN};
    *out_box = NULL;
    box->arena = arena;
    *out =
        (rfy_rise_result){.log = log,
                          .verdict = RFY_RISE_UNDECIDED,
                          .volume = options->volume,
                          .temperature = options->temperature > 0 ? options->temperature : 293.15,
                          .leak = unknown,
                          .outgassing = unknown,
                          .level = unknown,
                          .levelling = NAN,
                          .background = NAN,
                          .leak_share = NAN,
                          .outgassing_share = NAN,
                          .scatter = NAN,
                          .floor = NAN,
                          .misfit = NAN,
                          .needed = NAN,
                          .drift_flow = NAN};
    for (int i = 0; i < 4; i++)
        out->bic[i] = NAN;
    if (!find_factors(arena, options, out, problems)) {
        rfy_arena_free(arena);
        return RFY_BAD_INPUT;
    }
    double *t = RFY_NEW(arena, log->n, double), *y = RFY_NEW(arena, log->n, double);
    double *bare = RFY_NEW(arena, log->n, double);
    size_t n = take_readings(log, options, out, t, y, bare);
    if (n < 2) {
        rfy_place at = {0, 0, ""};
        rfy_problem_add(problems, RFY_ERROR, &at, "at least two readings", NULL,
                        n == 0 ? "no reading stands in the part of the log asked for"
                               : "only one reading stands in the part of the log asked for");
        rfy_arena_free(arena);
        return RFY_BAD_INPUT;
    }
    /* pV = nRT; flows count at 293.15 K like all of this program's */
    double to_flow = out->volume * RFY_T_REF / out->temperature, span = t[n - 1];
    out->n_used = n;
    out->total = (y[n - 1] - y[0]) / span * to_flow;
    out->moles = out->total / (RFY_R * RFY_T_REF);
    out->by_kelvin = fabs(bare[n - 1]) / out->temperature / span * to_flow;
    if (out->corrected)
        out->drift_flow = ((bare[n - 1] - bare[0]) - (y[n - 1] - y[0])) / span * to_flow;
    find_rows(arena, t, y, n, to_flow, out);
    if (n >= 5) {
        rfy_rise_fit fit;
        rfy_rise_fit_make(&fit, arena, t, y, n);
        rfy_rise_judgement judgement = rfy_rise_judge(&fit, 0);
        fill_fit(&fit, &judgement, to_flow, out);
        if (n >= 8)
            out->needed = rfy_rise_needed(&fit, &judgement);
    }
    *out_box = out;
    return RFY_OK;
}

void rfy_rise_free(rfy_rise_result *result) {
    if (result)
        rfy_arena_free(((rise_box *)result)->arena);
}

/* Standard deviation that a 95 % interval stands for. */
static double error_of(const rfy_interval *i) {
    return (i->high - i->low) / (2 * 1.96);
}

rfy_rise_change rfy_rise_compare(const rfy_rise_result *before, const rfy_rise_result *after) {
    return (rfy_rise_change){
        after->leak.value - before->leak.value,
        hypot(error_of(&before->leak), error_of(&after->leak)),
        after->outgassing.value - before->outgassing.value,
        hypot(error_of(&before->outgassing), error_of(&after->outgassing)),
    };
}

double rfy_system_volume(const rfy_system *system, const char *chamber) {
    const rfy_network *net = system->network;
    for (int i = 0; i < net->n_free; i++)
        if (!net->node[i].internal && strcmp(net->node[i].name, chamber) == 0)
            return net->node[i].volume / (net->node[i].count > 0 ? net->node[i].count : 1);
    return (double)NAN;
}
