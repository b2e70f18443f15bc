/* Faults from the command line, and what the fault of a run comes to. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <string.h>
#include "study/answers.h"
#include "study/strike.h"

/* Speed of sound in air at 20 degC, for the time that news of the fault takes. */
static const double sound = 343;
/* Within this time walls take the heat of dense gas (about 10 s at one atmosphere in a bulb of 5
 * cm: heat conduction, order of magnitude). */
static const double heat_lasts = 30;

rfy_status rfy_fault_read(rfy_fault **out, const rfy_system *system, const char *text,
                          rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    rfy_fault *fault = RFY_NEW(arena, 1, rfy_fault);
    fault->arena = arena;
    rfy_compiler c = {.arena = arena,
                      .net = system->network,
                      .names = &system->network->names,
                      .problems = problems,
                      .program = &fault->program};
    size_t before = rfy_problems_errors(problems);
    /* the problems outlive a fault that cannot be */
    rfy_place at = {0, 0, "--fault"};
    rfy_compile_fault_text(&c, rfy_arena_strdup(arena, text), at);
    if (rfy_problems_errors(problems) > before) {
        rfy_arena_free(arena);
        *out = NULL;
        return RFY_USAGE;
    }
    *out = fault;
    return RFY_OK;
}

void rfy_fault_free(rfy_fault *fault) {
    if (fault)
        rfy_arena_free(fault->arena);
}

/* ---- the largest hole ---- */

typedef struct hole_search {
    rfy_case c;
    const rfy_program *fault;
    const rfy_program *rescue; /* NULL = the rules of the description */
    double area;               /* of the fault as it stands, m2 */
} hole_search;

/* ln of the worst over what is allowed, with the hole made `exp(ln_area)` large. */
static double margin_of(double ln_area, void *params) {
    const hole_search *s = params;
    rfy_arena *arena = rfy_arena_new();
    rfy_program p = *s->fault;
    p.op = rfy_arena_grow(arena, p.op, (size_t)p.n_ops, (size_t)p.n_ops, sizeof *p.op);
    for (int i = 0; i < p.n_ops; i++)
        if (p.op[i].kind == RFY_OP_ACT && p.op[i].action.verb == RFY_VERB_HOLE)
            p.op[i].action.value *= exp(ln_area) / s->area;
    rfy_case c = s->c;
    rfy_outcome out;
    c.fault = &p;
    rfy_case_run(arena, &c, s->rescue, false, &out);
    double margin = out.status == RFY_OK ? out.margin : 1;
    rfy_arena_free(arena);
    return margin;
}

static double area_of(const rfy_program *fault) {
    double area = 0;
    for (int i = 0; i < fault->n_ops; i++)
        if (fault->op[i].kind == RFY_OP_ACT && fault->op[i].action.verb == RFY_VERB_HOLE &&
            fault->op[i].action.value > area)
            area = fault->op[i].action.value;
    return area;
}

/* Root of the margin in ln of the area: Brent's method in a bracket found by factors of ten. */
static double largest_hole(hole_search *s) {
    const double least = 1e-11, most = 0.1; /* m2 */
    double low = log(s->area), high = low, step = log(10);
    bool broken = margin_of(low, s) > 0;
    while (broken && low > log(least)) {
        high = low;
        low -= step;
        broken = margin_of(low, s) > 0;
    }
    if (broken)
        return 0;
    while (high <= low || margin_of(high, s) <= 0) {
        if (high > low)
            low = high;
        if (low >= log(most))
            return INFINITY;
        high = low + step < log(most) ? low + step : log(most);
    }
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    gsl_function f = {margin_of, s};
    double root = low;
    if (solver && gsl_root_fsolver_set(solver, &f, low, high) == GSL_SUCCESS)
        for (int i = 0; i < 40; i++) {
            if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
                break;
            low = gsl_root_fsolver_x_lower(solver);
            high = gsl_root_fsolver_x_upper(solver);
            root = low;
            if (high - low < 2e-3)
                break;
        }
    if (solver)
        gsl_root_fsolver_free(solver);
    return exp(root);
}

/* ---- what it comes to ---- */

static int by_time(const rfy_broken_limit *a, const rfy_broken_limit *b) {
    double x = a->adiabatic < a->isothermal ? a->adiabatic : a->isothermal,
           y = b->adiabatic < b->isothermal ? b->adiabatic : b->isothermal;
    return (x > y) - (x < y);
}

static void list_broken(rfy_arena *arena, const rfy_network *net, const rfy_outcome *cold,
                        const rfy_outcome *warm, rfy_strike *out) {
    rfy_broken_limit *list = RFY_NEW(arena, (size_t)net->n_limits, rfy_broken_limit);
    for (int i = 0; i < net->n_limits; i++) {
        double adiabatic = warm ? warm->after[i] : (double)NAN;
        if (isnan(cold->after[i]) && isnan(adiabatic))
            continue;
        if (!(cold->after[i] < heat_lasts) && !(adiabatic < heat_lasts))
            adiabatic = NAN;
        if (isnan(cold->after[i]) && isnan(adiabatic))
            continue;
        rfy_broken_limit one = {rfy_arena_strdup(arena, net->limit[i].name), cold->after[i],
                                adiabatic};
        size_t k = out->n_broken++;
        for (; k > 0 && by_time(&list[k - 1], &one) > 0; k--)
            list[k] = list[k - 1];
        list[k] = one;
    }
    out->broken = list;
    out->available = INFINITY;
    if (out->n_broken > 0)
        out->available = list[0].adiabatic < list[0].isothermal || isnan(list[0].isothermal)
                             ? list[0].adiabatic
                             : list[0].isothermal;
}

static void find_rescues(rfy_arena *arena, const rfy_case *c, const rfy_outcome *cold,
                         rfy_strike *out, rfy_attempt *best) {
    rfy_attempt attempt[8];
    int n = rfy_attempts(arena, c, cold, attempt, 8);
    rfy_rescue *list = RFY_NEW(arena, (size_t)n, rfy_rescue);
    bool saved = false;
    for (int i = 0; i < n; i++) {
        double latest = rfy_latest(arena, c, &attempt[i], out->available, 9);
        list[i] = (rfy_rescue){.action = attempt[i].text,
                               .saves = latest >= 0,
                               .latest = latest >= 0 ? latest : (double)NAN,
                               .takes = attempt[i].takes};
        if (best->n == 0 || (latest >= 0 && !saved))
            *best = attempt[i];
        saved = saved || latest >= 0;
    }
    out->rescue = list;
    out->n_rescues = (size_t)n;
}

const rfy_strike *rfy_answer_strike(rfy_arena *arena, const rfy_network *net,
                                    const rfy_snapshot *from, const rfy_program *fault,
                                    volatile const int *stop) {
    rfy_strike *out = RFY_NEW(arena, 1, rfy_strike);
    *out = (rfy_strike){.what = rfy_arena_strdup(arena, fault->text),
                        .struck = true,
                        .time = rfy_snapshot_time(from),
                        .bound = NAN,
                        .largest_hole = NAN,
                        .largest_hole_adiabatic = NAN};
    rfy_case c = {
        .net = net, .from = from, .fault = fault, .horizon = 1800, .tolerance = 1e-6, .stop = stop};
    rfy_outcome cold, hot, *warm = NULL;
    rfy_case_run(arena, &c, NULL, true, &cold);
    const rfy_network *adiabatic = rfy_network_adiabatic(arena, net, fault);
    rfy_case bound = c;
    if (adiabatic) {
        bound.net = adiabatic;
        bound.horizon = heat_lasts;
        rfy_case_run(arena, &bound, NULL, true, &hot);
        warm = &hot;
    }
    list_broken(arena, net, &cold, warm, out);
    out->path = cold.path ? cold.path : warm ? warm->path : NULL;
    out->transit = (cold.path ? cold.length : warm ? warm->length : 0) / sound;
    out->n_rules = (size_t)cold.n_rules;
    out->rule = cold.rule;
    out->rule_time = cold.rule_after;
    if (out->n_broken > 0 && isfinite(out->broken[0].adiabatic))
        out->bound = out->broken[0].isothermal / out->broken[0].adiabatic;

    /* the faster world decides what saves */
    const bool by_heat = warm && warm->first >= 0 && isfinite(out->bound);
    const rfy_case *world = by_heat ? &bound : &c;
    rfy_attempt best = {0};
    find_rescues(arena, world, by_heat ? warm : &cold, out, &best);
    double area = area_of(fault);
    if (area > 0 && (net->n_rules > 0 || best.n > 0)) {
        hole_search s = {.c = c, .fault = fault, .area = area};
        s.c.tolerance = 1e-5;
        out->by = "the rules of the description";
        if (net->n_rules == 0) {
            s.rescue = rfy_rescue_program(arena, best.action, best.n, 0);
            out->by = rfy_arena_printf(arena, "%s, ordered at the very instant", best.text);
        }
        out->largest_hole = out->largest_hole_adiabatic = largest_hole(&s);
        if (adiabatic) {
            s.c.net = adiabatic;
            s.c.horizon = heat_lasts;
            out->largest_hole_adiabatic = largest_hole(&s);
        }
    }
    return out;
}
