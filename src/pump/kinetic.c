/* Pumps that give gas a direction: turbomolecular and diffusion pumps, at any speed of rotor or
 * jet.
 *
 * Each gas drifts and diffuses against its compression ratio K0: with x = turn ln K0 and B(z) =
 * z/(e^z - 1) N = C0/RT [B(-x) p_in - B(x) p_out],  C0 = S0/ln K0 which is the usual S0 (K0 -
 * p_out/p_in)/(K0 - 1) at full speed and a passive tube of conductance C0 at rest (drift-diffusion
 * form; Gaede 1913 for the exponential K0). Too high a foreline pressure lowers x; too high an
 * inlet pressure limits the throughput. */
#include <math.h>
#include <string.h>
#include "core/bernoulli.h"
#include "pump/kinds.h"

#define PI 3.14159265358979323846

typedef struct kinetic_values {
    rfy_origin origin;
    rfy_by_gas speed, compression;
    double bore, foreline_limit, overload, run_up, coast_down;
} kinetic_values;

static const rfy_field fields[] = {
    {.key = "speed",
     .type = RFY_F_QUANTITY_BY_GAS,
     .dim = RFY_DIM_FLOW,
     .required = true,
     .offset = offsetof(kinetic_values, speed),
     .min = 0,
     .max = 1e3,
     .above_min = true,
     .help = "rated pumping speed at the mouth, by gas"},
    {.key = "compression",
     .type = RFY_F_NUMBER_BY_GAS,
     .offset = offsetof(kinetic_values, compression),
     .min = 1.5,
     .max = 1e20,
     .assumed = "other gases by ln K0 proportional to the root of molar mass; N2: 1e8",
     .help = "compression ratio at zero flow, by gas"},
    {.key = "bore",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_LENGTH,
     .offset = offsetof(kinetic_values, bore),
     .min = 0,
     .max = 5,
     .above_min = true,
     .assumed = "the bore of the chamber at its inlet, if given",
     .help = "bore of the mouth"},
    {.key = "foreline_limit",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(kinetic_values, foreline_limit),
     .min = 0,
     .max = 1e5,
     .above_min = true,
     .assumed = "turbomolecular 100 Pa, diffusion 40 Pa",
     .help = "highest foreline pressure in steady use"},
    {.key = "overload",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_PRESSURE,
     .offset = offsetof(kinetic_values, overload),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .assumed = "1 Pa",
     .help = "inlet pressure beyond which the throughput no longer grows (S0 times this)"},
    {.key = "run_up",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_TIME,
     .offset = offsetof(kinetic_values, run_up),
     .min = 0,
     .max = 1e5,
     .assumed = "turbomolecular 2 min, diffusion 20 min",
     .help = "from rest to full speed (or from cold to hot)"},
    {.key = "coast_down",
     .type = RFY_F_QUANTITY,
     .dim = RFY_DIM_TIME,
     .offset = offsetof(kinetic_values, coast_down),
     .min = 0,
     .max = 1e5,
     .assumed = "turbomolecular 10 min, diffusion 30 min",
     .help = "from full speed to rest"},
};
const rfy_record rfy_kinetic_record = {.name = "kinetic pump",
                                       .size = sizeof(kinetic_values),
                                       .field = fields,
                                       .n = sizeof fields / sizeof *fields};

typedef struct usual_figures { /* for the kind, from memory (reference: data/pumps.csv) */
    double foreline_limit, run_up, coast_down;
} usual_figures;

typedef struct kinetic {
    int n;
    double rt;
    rfy_gases c0; /* over RT, mol/s/Pa */
    rfy_gases ln_k0;
    double passage; /* of the resting blades, the same for every gas, m3/s */
    double foreline_half, overload, run_up, coast_down;
} kinetic;

/* Passages of a few millimetres: the path through a resting rotor becomes viscous near this
 * pressure (order of magnitude, derived for 5 mm). */
static const double passage_pressure = 9.0;

static double ln_k0_of(const kinetic_values *v, const rfy_pump_site *site, int gas, bool *assumed) {
    const rfy_species *species = site->catalog->species;
    int s = site->mixture->species[gas];
    double k = rfy_by_gas_value(&v->compression, s);
    *assumed = isnan(k);
    if (!isnan(k))
        return log(k);
    /* ln K0 ~ sqrt(M) (Gaede 1913): from the given gas nearest in mass, else nitrogen at 1e8 */
    double ln = log(1e8), mass = 0.028014, nearest = INFINITY;
    for (size_t i = 0; i < site->catalog->n_species; i++) {
        double distance = fabs(log(species[i].molar_mass / species[s].molar_mass));
        if (!isnan(v->compression.of[i]) && distance < nearest) {
            nearest = distance;
            ln = log(v->compression.of[i]);
            mass = species[i].molar_mass;
        }
    }
    ln *= sqrt(species[s].molar_mass / mass);
    return ln > log(1e18) ? log(1e18) : ln;
}

static double given_or(double value, double usual_value, const char *what, const char *unit,
                       double scale, const rfy_pump_site *site) {
    if (!isnan(value))
        return value;
    rfy_pump_assume(site, "%s: %s %.4g %s (usual for its kind)", site->name, what,
                    usual_value / scale, unit);
    return usual_value;
}

static const void *build(const void *values, const rfy_origin *origin, const rfy_pump_site *site,
                         const usual_figures *usual) {
    const kinetic_values *v = values;
    const rfy_mixture *mix = site->mixture;
    kinetic *pump = RFY_NEW(site->arena, 1, kinetic);
    pump->n = mix->n;
    pump->rt = RFY_R * site->temperature;
    double inverse_mouth = isnan(v->bore) ? site->inverse_area : 4 / (PI * v->bore * v->bore);
    double s_any = v->speed.all;
    int any = -1;
    for (size_t i = 0; i < site->catalog->n_species; i++)
        if (!isnan(v->speed.of[i]) &&
            (any < 0 || strcmp(site->catalog->species[i].name, "N2") == 0)) {
            any = (int)i;
            s_any = v->speed.of[i];
        }
    const char *laws = "", *same = "";
    for (int i = 0; i < mix->n; i++) {
        double s = rfy_by_gas_value(&v->speed, mix->species[i]), aperture = INFINITY;
        bool given = !isnan(s), assumed;
        if (!given)
            s = s_any;
        if (inverse_mouth > 0) {
            /* A rated speed is measured on an open dome: it contains the mouth's aperture, which
             * the network counts half at this node (Oatley 1957; ISO 21360-1 for the dome). */
            aperture = mix->mean_speed.d[i] / 4 / inverse_mouth;
            if (given && s >= aperture) {
                rfy_place at = rfy_place_of(&v->origin, "speed");
                rfy_problem_add(site->problems, RFY_ERROR, &at,
                                rfy_arena_printf(site->arena, "less than %.4g L/s for %s",
                                                 aperture * 1e3, mix->name[i]),
                                "check the bore and the unit of the speed",
                                "the speed %.4g L/s for %s is more than its mouth can let in",
                                s * 1e3, mix->name[i]);
                return NULL;
            }
            if (s > 0.8 * aperture && !given)
                s = 0.8 * aperture;
            double inverse =
                1 / s - 0.5 / aperture +
                0.5 * fabs(inverse_mouth - site->inverse_area) / inverse_mouth / aperture;
            s = 1 / inverse;
        }
        if (!given && site->assume)
            same = rfy_arena_printf(site->arena, "%s%s%s", same, *same ? ", " : "", mix->name[i]);
        pump->ln_k0.d[i] = ln_k0_of(v, site, i, &assumed);
        if (assumed && site->assume)
            laws = rfy_arena_printf(site->arena, "%s%s%s 1e%.1f", laws, *laws ? ", " : "",
                                    mix->name[i], pump->ln_k0.d[i] / log(10));
        pump->c0.d[i] = s / pump->ln_k0.d[i] / pump->rt;
    }
    (void)origin;
    if (*same)
        rfy_pump_assume(site, "%s: speed for %s as for %s", site->name, same,
                        any >= 0 ? site->catalog->species[any].name : "every gas");
    if (*laws)
        rfy_pump_assume(site, "%s: compression by the root of molar mass: %s", site->name, laws);
    pump->passage = s_any / 20; /* about S0/ln K0 of nitrogen */
    pump->foreline_half =
        2 * given_or(v->foreline_limit, usual->foreline_limit, "foreline limit", "Pa", 1, site);
    pump->overload = given_or(
        v->overload, 1, "throughput no longer grows above an inlet pressure of", "Pa", 1, site);
    pump->run_up = given_or(v->run_up, usual->run_up, "run-up time", "min", 60, site);
    pump->coast_down =
        given_or(v->coast_down, usual->coast_down, "coast-down time", "min", 60, site);
    return pump;
}

RFY_WIDE
static void flow(const void *data, double turn, const double *p_in, const double *p_out,
                 double *moved, double *by_in, double *by_out) {
    const kinetic *pump = data;
    const int n = pump->n;
    double in = 0, out = 0;
    for (int i = 0; i < n; i++) {
        in += p_in[i] > 0 ? p_in[i] : 0;
        out += p_out[i] > 0 ? p_out[i] : 0;
    }
    /* A foreline above its limit takes the compression away (ln K0 halved at twice the limit). */
    double u = out / pump->foreline_half, u4 = u * u * u * u;
    double f_out = 1 / (1 + u4), f = turn * f_out;
    double d_out = -f * f_out * 4 * u * u * u / pump->foreline_half;
    /* Too much gas at the inlet limits the throughput to about S0 p_overload, whatever the
     * pressure; the compression at zero flow stays. (Shapes: common practice, no source.) */
    double w = turn * in / pump->overload, root = 1 / sqrt(1 + w * w);
    double d_root = -root * root * root * w * turn / pump->overload;
    /* Path through resting blades in viscous flow: grows with the harmonic mean pressure up to
     * twice the rated speed, and closes as the rotor turns. */
    double sum = in + out, h = sum > 0 ? 2 * in * out / sum : 0;
    double h_in = sum > 0 ? 2 * out * out / (sum * sum) : 0,
           h_out = sum > 0 ? 2 * in * in / (sum * sum) : 0;
    double rest = (1 - turn) * (1 - turn), pv = passage_pressure, e = h * h / (pv * (h + pv));
    double d_e = (2 * h * (h + pv) - h * h) / (pv * (h + pv) * (h + pv));
    double cap = 40, passive = rest * rest * e / (1 + e / cap);
    double d_passive = rest * rest * d_e / ((1 + e / cap) * (1 + e / cap));
    const double g = pump->passage / pump->rt;
    const double through = g * passive;
    RFY_LANES_OF(RFY_MAX_GASES) throttled, pushed, own_in, own_out; /* of each gas */
    for (int v = 0; v * RFY_LANES < n; v++) {
        const int left = n - v * RFY_LANES, count = left < RFY_LANES ? left : RFY_LANES;
        rfy_v4 a, b, slope;
        rfy_to_lanes(p_in + v * RFY_LANES, count, 1, &a);
        rfy_to_lanes(p_out + v * RFY_LANES, count, 1, &b);
        const rfy_v4 x = f * pump->ln_k0.v[v], back = rfy_bernoulli(x, &slope),
                     forward = back + x, /* B(-x) = B(x) + x */
            c = root * pump->c0.v[v], bare = forward * a - back * b,
                     flow = c * bare + through * (a - b);
        for (int i = 0; i < count; i++)
            moved[v * RFY_LANES + i] = flow[i];
        if (!by_in)
            continue;
        const rfy_v4 by_x = c * ((1 + slope) * a - slope * b) * pump->ln_k0.v[v];
        throttled.v[v] = pump->c0.v[v] * bare * d_root + g * (a - b) * (d_passive * h_in);
        pushed.v[v] = by_x * d_out + g * (a - b) * (d_passive * h_out);
        own_in.v[v] = c * forward + through;
        own_out.v[v] = c * back + through;
    }
    for (int i = 0; by_in && i < n; i++) {
        for (int j = 0; j < n; j++) {
            by_in[i * n + j] = p_in[j] >= 0 ? throttled.d[i] : 0;
            by_out[i * n + j] = p_out[j] >= 0 ? pushed.d[i] : 0;
        }
        by_in[i * n + i] += own_in.d[i];
        by_out[i * n + i] -= own_out.d[i];
    }
}

static void inertia(const void *data, double *run_up, double *coast_down) {
    const kinetic *pump = data;
    *run_up = pump->run_up;
    *coast_down = pump->coast_down;
}

static double foreline_limit(const void *data) {
    const kinetic *pump = data;
    return pump->foreline_half / 2;
}

static const usual_figures usual_turbo = {100, 120, 600}, usual_diffusion = {40, 1200, 1800};

static const void *build_turbo(const void *v, const rfy_origin *o, const rfy_pump_site *s) {
    return build(v, o, s, &usual_turbo);
}
static const void *build_diffusion(const void *v, const rfy_origin *o, const rfy_pump_site *s) {
    return build(v, o, s, &usual_diffusion);
}
const rfy_pump_kind rfy_turbomolecular = {.name = "turbomolecular",
                                          .build = build_turbo,
                                          .flow = flow,
                                          .inertia = inertia,
                                          .foreline_limit = foreline_limit};
const rfy_pump_kind rfy_diffusion = {.name = "diffusion",
                                     .build = build_diffusion,
                                     .flow = flow,
                                     .inertia = inertia,
                                     .foreline_limit = foreline_limit};
