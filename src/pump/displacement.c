/* Positive-displacement pumps: rotary vane, diaphragm, scroll, piston.
 *
 * N_i = S_i(p)/RT (p_i - back_i): constant speed with a constant back-leak, which gives the
 * ultimate pressure p_u and S(p) = S0 (1 - p_u/p) (ISO 21360-2 defines the base pressure; the form
 * is standard). The gas of the back-leak is dry air for a pump that exhausts to ambient; for one
 * that exhausts into a chamber it is that chamber's gas, in proportion to its pressure. */
#include <math.h>
#include <string.h>
#include "core/curve.h"
#include "pump/kinds.h"

typedef struct ballast {
    rfy_origin origin;
    int open;
    double ultimate;
} ballast;

typedef struct displacement_values {
    rfy_origin origin;
    rfy_by_gas speed;
    double ultimate;
    const char *ultimate_gas;
    ballast *ballast;
    rfy_value_or_word when_off;
    rfy_curve curve;
} displacement_values;

static const char *const off_words[] = {"seals", NULL};

static const rfy_field ballast_fields[] = {
    {.key = "open",
     .type = RFY_F_BOOL,
     .offset = offsetof(ballast, open),
     .required = true,
     .help = "whether the gas ballast is open"},
    {.key = "ultimate",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(ballast, ultimate),
     .min = 0,
     .max = 1e5,
     .required = true,
     .help = "ultimate pressure with the ballast open"},
};
static const rfy_record ballast_record = {.name = "ballast",
                                          .size = sizeof(ballast),
                                          .field = ballast_fields,
                                          .n = sizeof ballast_fields / sizeof *ballast_fields};

static const rfy_field fields[] = {
    {.key = "speed",
     .type = RFY_F_QUANTITY_BY_GAS,
     .dim = RFY_DIM_FLOW,
     .offset = offsetof(displacement_values, speed),
     .min = 0,
     .max = 1e3,
     .above_min = true,
     .help = "pumping speed, one for all gases or by gas; or give `curve`"},
    {.key = "ultimate",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(displacement_values, ultimate),
     .min = 0,
     .max = 1e5,
     .assumed = "rotary vane 0.5 Pa, diaphragm 200 Pa, scroll 3 Pa, piston 5 Pa",
     .help = "pressure it reaches with its inlet closed, ballast closed"},
    {.key = "ultimate_gas",
     .type = RFY_F_TEXT,
     .offset = offsetof(displacement_values, ultimate_gas),
     .assumed = "dry air",
     .help = "gas that makes up the ultimate pressure"},
    {.key = "ballast",
     .type = RFY_F_RECORD,
     .record = &ballast_record,
     .offset = offsetof(displacement_values, ballast),
     .assumed = "closed",
     .help = "gas ballast"},
    {.key = "when_off",
     .type = RFY_F_VALUE_OR_WORD,
     .dim = RFY_DIM_FLOW,
     .choices = off_words,
     .offset = offsetof(displacement_values, when_off),
     .min = 0,
     .max = 1e3,
     .assumed = "seals",
     .help = "\"seals\", or the conductance back to its outlet when stopped"},
    {.key = "curve",
     .type = RFY_F_CURVE,
     .dim = RFY_DIM_PRESSURE,
     .dim2 = RFY_DIM_FLOW,
     .offset = offsetof(displacement_values, curve),
     .min = 0,
     .max = 1e7,
     .help = "pumping speed against inlet pressure, in place of `speed`"},
};
const rfy_record rfy_displacement_record = {.name = "positive-displacement pump",
                                            .size = sizeof(displacement_values),
                                            .field = fields,
                                            .n = sizeof fields / sizeof *fields};

typedef struct displacement {
    int n;
    double rt;
    double speed[RFY_MAX_GASES]; /* m3/s; a factor (1) when there is a curve */
    double back[RFY_MAX_GASES];  /* Pa, exhaust to ambient */
    double back_ratio;           /* p_u per pascal at the outlet, exhaust into a chamber */
    double off;                  /* conductance when stopped, m3/s */
    bool has_curve;
    rfy_smooth curve; /* speed against ln p */
} displacement;

static bool read_curve(const displacement_values *v, displacement *pump,
                       const rfy_pump_site *site) {
    const rfy_curve *c = &v->curve;
    double *x = RFY_NEW(site->arena, c->n, double), *y = RFY_NEW(site->arena, c->n, double);
    bool rising = c->x[1] > c->x[0];
    rfy_place at = rfy_place_of(&v->origin, "curve");
    for (size_t i = 0; i < c->n; i++) {
        size_t k = rising ? i : c->n - 1 - i;
        if (!(c->x[k] > 0) || c->y[k] < 0 || (i > 0 && !(log(c->x[k]) > x[i - 1]))) {
            rfy_problem_add(
                site->problems, RFY_ERROR, &at,
                "pressures above zero, rising or falling throughout, speeds not below zero", NULL,
                "the speed curve does not run evenly through point %zu",
                rising || i == 0 ? k + 1 : k + 2);
            return false;
        }
        x[i] = log(c->x[k]);
        y[i] = c->y[k];
    }
    rfy_smooth_build(&pump->curve, site->arena, x, y, c->n);
    pump->has_curve = true;
    return true;
}

static const void *build(const void *values, const rfy_origin *origin, const rfy_pump_site *site,
                         double usual_ultimate) {
    const displacement_values *v = values;
    const rfy_mixture *mix = site->mixture;
    displacement *pump = RFY_NEW(site->arena, 1, displacement);
    pump->n = mix->n;
    pump->rt = RFY_R * site->temperature;
    if (v->curve.n > 0 && v->speed.given) {
        rfy_place at = rfy_place_of(&v->origin, "curve");
        rfy_problem_add(site->problems, RFY_ERROR, &at, "one of the two", NULL,
                        "both `speed` and `curve` are given");
        return NULL;
    }
    if (v->curve.n > 0) {
        if (!read_curve(v, pump, site))
            return NULL;
        for (int i = 0; i < mix->n; i++)
            pump->speed[i] = 1;
    } else {
        for (int i = 0; i < mix->n; i++) {
            double s = rfy_by_gas_value(&v->speed, mix->species[i]);
            if (isnan(
                    s)) { /* a displacement pump takes in whatever comes: the largest speed given */
                for (int k = 0; k < RFY_MAX_SPECIES; k++)
                    if (!isnan(v->speed.of[k]) && !(s >= v->speed.of[k]))
                        s = v->speed.of[k];
                if (!isnan(s))
                    rfy_pump_assume(site, "%s: speed for %s as for its best gas", site->name,
                                    mix->name[i]);
            }
            if (isnan(s)) {
                rfy_problem_add(site->problems, RFY_ERROR, &origin->at,
                                "\"speed\" (such as \"3 m3/h\") or \"curve\"", NULL,
                                "the pump has no pumping speed");
                return NULL;
            }
            pump->speed[i] = s;
        }
    }
    double ultimate = v->ultimate;
    if (v->ballast && v->ballast->open > 0)
        ultimate = v->ballast->ultimate;
    if (isnan(ultimate) && pump->has_curve)
        ultimate = 0; /* a measured curve has its ultimate pressure in it: it falls to zero there */
    if (v->ultimate_gas && !site->to_ambient)
        rfy_pump_assume(site, "%s: what comes back is the gas at its outlet, not \"%s\"",
                        site->name, v->ultimate_gas);
    if (isnan(ultimate)) {
        ultimate = usual_ultimate;
        rfy_pump_assume(site, "%s: ultimate pressure %.3g Pa (usual for its kind)", site->name,
                        ultimate);
    }
    if (site->to_ambient) {
        int only = -1;
        if (v->ultimate_gas) {
            for (int i = 0; i < mix->n; i++)
                if (strcmp(mix->name[i], v->ultimate_gas) == 0)
                    only = i;
            if (only < 0) {
                rfy_place at = rfy_place_of(&v->origin, "ultimate_gas");
                rfy_problem_add(site->problems, RFY_ERROR, &at, "a gas of the run", NULL,
                                "no gas \"%s\" is followed in this run", v->ultimate_gas);
                return NULL;
            }
        }
        double dry = 0;
        for (int i = 0; i < mix->n; i++)
            dry += strcmp(mix->name[i], "H2O") == 0 ? 0 : site->ambient[i];
        if (only < 0 && !(dry > 0))
            rfy_pump_assume(
                site, "%s: no part of dry air is followed, its ultimate pressure counts as %s",
                site->name, mix->name[0]);
        for (int i = 0; i < mix->n; i++) {
            double part = only >= 0                          ? i == only
                          : !(dry > 0)                       ? i == 0
                          : strcmp(mix->name[i], "H2O") == 0 ? 0
                                                             : site->ambient[i] / dry;
            pump->back[i] = ultimate * part;
        }
    } else {
        pump->back_ratio = ultimate / RFY_ATM;
    }
    pump->off = isnan(v->when_off.value) ? 0 : v->when_off.value;
    if (v->when_off.word < 0 && isnan(v->when_off.value))
        rfy_pump_assume(site, "%s: seals its inlet when it stops", site->name);
    return pump;
}

static void flow(const void *data, double turn, const double *p_in, const double *p_out,
                 double *moved, double *by_in, double *by_out) {
    const displacement *pump = data;
    const int n = pump->n;
    double shape = 1, slope = 0, total = 0;
    if (pump->has_curve) {
        for (int i = 0; i < n; i++)
            total += p_in[i] > 0 ? p_in[i] : 0;
        if (total > 0) {
            shape = rfy_smooth_at(&pump->curve, log(total), &slope);
            slope /= total;
        } else {
            shape = pump->curve.y[0];
        }
    }
    if (by_in) {
        memset(by_in, 0, (size_t)(n * n) * sizeof *by_in);
        memset(by_out, 0, (size_t)(n * n) * sizeof *by_out);
    }
    for (int i = 0; i < n; i++) {
        double c = turn * pump->speed[i] / pump->rt, off = (1 - turn) * pump->off / pump->rt;
        double net = p_in[i] - pump->back[i] - pump->back_ratio * p_out[i];
        moved[i] = c * shape * net + off * (p_in[i] - p_out[i]);
        if (!by_in)
            continue;
        for (int j = 0; j < n && slope != 0; j++)
            by_in[i * n + j] = p_in[j] >= 0 ? c * slope * net : 0;
        by_in[i * n + i] += c * shape + off;
        by_out[i * n + i] = -c * shape * pump->back_ratio - off;
    }
}

static void inertia(const void *pump, double *run_up, double *coast_down) {
    (void)pump;
    *run_up = *coast_down = 0;
}

/* Usual ultimate pressures: common textbook orders, from memory (reference: data/pumps.csv). */
#define KIND(symbol, label, ultimate)                                                              \
    static const void *build_##symbol(const void *v, const rfy_origin *o,                          \
                                      const rfy_pump_site *s) {                                    \
        return build(v, o, s, ultimate);                                                           \
    }                                                                                              \
    const rfy_pump_kind rfy_##symbol = {                                                           \
        .name = label, .build = build_##symbol, .flow = flow, .inertia = inertia}
KIND(rotary_vane, "rotary vane", 0.5);
KIND(diaphragm, "diaphragm", 200);
KIND(scroll, "scroll", 3);
KIND(piston, "piston", 5);
