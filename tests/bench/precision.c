/* Work-precision curves of our steppers and of others on the networks of cases.c, all from one
 * right-hand side and analytic Jacobian (rfy_rates, rfy_rates_jacobian).
 *
 * usage: bench_precision DIRECTORY PYTHON SCRIPT LIBRARY [CASE ...]
 * Prints the table; leaves DIRECTORY/precision-CASE.dat for the picture. All but ours start afresh
 * at switchings known beforehand, from our reference: they have the finding of events for free.
 * Ours is timed both so and with its own events. Times are processor time of the thread, from the
 * network to the last instant; medians over rounds in which all methods take turns. */
#define _POSIX_C_SOURCE 200809L
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "bench/cases.h"
#include "bench/curve.h"
#include "crosscheck/by_cvode.h"
#include "study/system.h"
#include "support/patience.h"

static const double wanted[2] = {1e-4, 1e-6};

typedef enum bench_kind { OWN_EVENTS, BETWEEN, LANDING, BY_CVODE } bench_kind;

typedef struct method {
    const char *name;
    bench_kind kind;
    rfy_method ours;
    const gsl_odeiv2_step_type **with; /* a stepper of GSL's in place of ours */
    bool dense;                        /* n x n matrices: not for all networks */
    test_cvode cvode;
    double loosest; /* tolerance to begin with */
} method;

/* CVODE's settings that are tried; the best at each error counts. Coefficient of the Newton test
 * 0.1, 20 steps between factorisations, 51 between Jacobians, growth 10 (the first step 1e4) are
 * its defaults. */
static const test_cvode tunings[] = {
    {.name = "defaults"},
    {.name = "newton 0.3", .nonlinear = 0.3},
    {.name = "jacobian age 10", .jacobian_age = 10, .setup_age = 10},
    {.name = "newton 0.3, jacobian age 10", .nonlinear = 0.3, .jacobian_age = 10, .setup_age = 10},
    {.name = "newton 0.3, growth 100", .nonlinear = 0.3, .eta_max = 100},
    /* so far for the large network, whose runs take seconds */
    {.name = "bends", .bends = true},
    {.name = "order 3", .max_order = 3},
    {.name = "order 4", .max_order = 4},
    {.name = "growth 100", .eta_max = 100},
    {.name = "growth 3", .eta_max = 3},
    {.name = "newton 0.01", .nonlinear = 0.01},
    {.name = "jacobian age 1", .jacobian_age = 1, .setup_age = 5},
    {.name = "jacobian age 200", .jacobian_age = 200, .setup_age = 40},
    {.name = "gamma 0.5", .gamma_change = 0.5},
    {.name = "order 4, newton 0.3, gamma 0.5",
     .max_order = 4,
     .nonlinear = 0.3,
     .gamma_change = 0.5},
};
enum { TUNINGS = sizeof tunings / sizeof tunings[0], TUNINGS_OF_LARGE = 5 };
enum { PATIENCE = 8, PATIENCE_WITH_REFERENCE = 120 /* processor seconds a run of CVODE */ };

typedef struct bench {
    const bench_case *c;
    const rfy_network *net;
    test_replay *replay;
    double **y;
} bench;

/* One run; its error. NaN when it fails. */
static double go(bench *b, const method *m, double rtol, double *seconds) {
    double began = test_seconds();
    bool fine = false;
    if (m->kind == OWN_EVENTS) {
        test_replay *own = test_replay_new(b->net, m->ours, rtol, b->c->at, BENCH_INSTANTS, NULL);
        *seconds = own->event_seconds;
        double error =
            own->trouble ? (double)NAN : test_replay_error(b->replay, own->y, b->replay->y, NULL);
        test_replay_free(own);
        return error;
    }
    if (m->kind == BY_CVODE) {
        test_cvode options = m->cvode;
        options.rtol = rtol;
        test_allow(PATIENCE);
        fine = test_by_cvode(b->replay, &options, b->y, NULL, NULL);
        test_allow(0);
    } else {
        fine = test_replay_ours(b->replay, m->ours, m->with ? *m->with : NULL, rtol,
                                m->kind == LANDING, b->y, NULL, NULL, NULL);
    }
    *seconds = test_seconds() - began;
    return fine ? test_replay_error(b->replay, b->y, b->replay->y, NULL) : (double)NAN;
}

/* Time of one run, short ones repeated for 4 ms. */
static double timed(bench *b, const method *m, double rtol) {
    double total = 0, one;
    int n = 0;
    do {
        go(b, m, rtol, &one);
        total += one;
        n++;
    } while (total < 4e-3);
    return total / n;
}

/* Tightens until the error is below all that is asked for. A first look takes one tolerance a
 * decade, once. CVODE may take longer when it is loose than when it is tight (rough steps leave
 * noise along a long line), so that one that ran out of time is tightened too. */
static void sweep(bench *b, const method *m, bench_curve *curve, bool first_look) {
    const double factor = b->c->large || first_look ? 0.1 : sqrt(0.1), most_seconds = 20;
    curve->n = 0;
    for (double rtol = m->loosest; rtol > 1e-12 && curve->n < BENCH_POINTS; rtol *= factor) {
        double seconds, error = go(b, m, rtol, &seconds);
        if (seconds < 0.05 && isfinite(error)) {
            double again = timed(b, m, rtol);
            seconds = again < seconds ? again : seconds;
        }
        if (isfinite(error)) {
            int k = curve->n++;
            curve->rtol[k] = rtol;
            curve->error[k] = error;
            curve->seconds[k] = seconds;
        }
        if (isfinite(error) ? error < 0.8 * wanted[1] || seconds > most_seconds
                            : seconds > most_seconds && m->kind != BY_CVODE)
            break;
    }
}

static void measure_again(bench *b, method *const *methods, bench_curve *curves, int n) {
    double *kept = calloc((size_t)n * BENCH_POINTS * BENCH_ROUNDS, sizeof *kept);
    int rounds[64] = {0};
    for (int round = 0; round < BENCH_ROUNDS; round++)
        for (int k = 0; k < n; k++) {
            double all = 0;
            for (int i = 0; i < curves[k].n; i++)
                all += curves[k].seconds[i];
            if (all * round > 6 && round >= 3) /* heavy ones are not repeated as often */
                continue;
            for (int i = 0; i < curves[k].n; i++)
                kept[(k * BENCH_POINTS + i) * BENCH_ROUNDS + round] =
                    timed(b, methods[k], curves[k].rtol[i]);
            rounds[k]++;
        }
    for (int k = 0; k < n; k++)
        for (int i = 0; rounds[k] > 0 && i < curves[k].n; i++)
            curves[k].seconds[i] =
                bench_median(kept + (k * BENCH_POINTS + i) * BENCH_ROUNDS, rounds[k]);
    free(kept);
}

/* The best settings of CVODE at each wanted error: adds a method for each to the list. */
static int tune(bench *b, bool klu, method *out) {
    bench_curve curve;
    double best[2] = {INFINITY, INFINITY};
    int choice[2] = {-1, -1};
    for (int t = 0; t < (b->c->large ? TUNINGS_OF_LARGE : TUNINGS); t++) {
        method m = {.kind = BY_CVODE, .cvode = tunings[t], .loosest = b->c->large ? 1e-6 : 1e-3};
        m.cvode.klu = klu;
        sweep(b, &m, &curve, true);
        for (int e = 0; e < 2; e++) {
            double time = bench_time_at(&curve, wanted[e]);
            if (time < best[e]) {
                best[e] = time;
                choice[e] = t;
            }
        }
    }
    int n = 0;
    for (int e = 0; e < 2; e++) {
        if (choice[e] < 0 || (e == 1 && choice[1] == choice[0]))
            continue;
        out[n] = (method){.name = klu ? "CVODE, KLU, tuned" : "CVODE, dense, tuned",
                          .kind = BY_CVODE,
                          .cvode = tunings[choice[e]],
                          .loosest = b->c->large ? 1e-5 : 1e-3};
        out[n++].cvode.klu = klu;
    }
    return n;
}

static int scipy(const bench *b, char **argv, bench_curve *curves) {
    char command[4096], line[256], name[16];
    int n = 0;
    snprintf(command, sizeof command, "'%s' '%s' '%s' %s %d", argv[2], argv[3], argv[4], b->c->name,
             20);
    FILE *rows = popen(command, "r");
    if (!rows)
        return 0;
    while (fgets(line, sizeof line, rows)) {
        double rtol, error, seconds;
        if (sscanf(line, "%15s %lf %lf %lf", name, &rtol, &error, &seconds) != 4)
            continue;
        char label[32];
        snprintf(label, sizeof label, "SciPy, %s", name);
        if (n == 0 || strcmp(curves[n - 1].setting, label) != 0) {
            if (n == 3)
                break;
            curves[n] = (bench_curve){0};
            snprintf(curves[n++].setting, sizeof curves->setting, "%s", label);
        }
        bench_curve *c = &curves[n - 1];
        if (c->n < BENCH_POINTS) {
            c->rtol[c->n] = rtol;
            c->error[c->n] = error;
            c->seconds[c->n++] = seconds;
        }
    }
    pclose(rows);
    for (int i = 0; i < n; i++) {
        curves[i].name = strdup(curves[i].setting);
        curves[i].setting[0] = '\0';
    }
    return n;
}

static void number(double value) {
    if (isfinite(value))
        printf("%11.3f", value);
    else
        printf("%11s", "-");
}

static void print(const bench_curve *curves, int n) {
    double best[2] = {INFINITY, INFINITY};
    for (int k = 0; k < n; k++)
        for (int e = 0; e < 2; e++)
            if (strncmp(curves[k].name, "CVODE", 5) == 0) {
                double t = bench_time_at(&curves[k], wanted[e]);
                best[e] = t < best[e] ? t : best[e];
            }
    printf("%-34s %10s %10s %10s %10s   %s\n", "ms at equal worst error", "at 1e-4", "at 1e-6",
           "/ CVODE", "/ CVODE", "setting");
    for (int k = 0; k < n; k++) {
        double t[2];
        printf("%-33s", curves[k].name);
        for (int e = 0; e < 2; e++)
            number(1e3 * (t[e] = bench_time_at(&curves[k], wanted[e])));
        for (int e = 0; e < 2; e++)
            number(t[e] / best[e]);
        printf("   %s\n", curves[k].setting);
    }
}

static void write_curves(const char *directory, const bench *b, const bench_curve *curves, int n) {
    char path[4096];
    snprintf(path, sizeof path, "%s/precision-%s.dat", directory, b->c->name);
    FILE *file = fopen(path, "w");
    if (!file) {
        perror(path);
        exit(1);
    }
    fprintf(file, "# %s: tolerance, worst error, seconds\n", b->c->label);
    for (int k = 0; k < n; k++) {
        fprintf(file, "%s\"%s%s%s\"\n", k ? "\n\n" : "", curves[k].name,
                curves[k].setting[0] ? ": " : "", curves[k].setting);
        for (int i = 0; i < curves[k].n; i++)
            fprintf(file, "%.3e %.4e %.4e\n", curves[k].rtol[i], curves[k].error[i],
                    curves[k].seconds[i]);
    }
    fclose(file);
}

static void check_reference(bench *b) {
    test_cvode tight = {.klu = b->c->sparse, .bends = true, .nonlinear = 0.01};
    for (tight.rtol = 0.1 * b->c->reference; tight.rtol < 1e-8; tight.rtol *= 10) {
        test_allow(PATIENCE_WITH_REFERENCE);
        bool fine = test_by_cvode(b->replay, &tight, b->y, NULL, NULL);
        test_allow(0);
        if (fine) {
            printf("reference: rodas at %.0e; CVODE at %.0e is within %.1e of it\n",
                   b->c->reference, tight.rtol,
                   test_replay_error(b->replay, b->y, b->replay->y, NULL));
            return;
        }
    }
    printf("reference: rodas at %.0e; CVODE failed at every tolerance below 1e-8\n",
           b->c->reference);
}

static void one_case(const bench_case *c, char **argv) {
    rfy_system *system = bench_read(c, NULL, NULL);
    bench b = {.c = c, .net = system->network};
    b.replay = test_replay_new(b.net, RFY_METHOD_RODAS, c->reference, c->at, BENCH_INSTANTS,
                               &test_out_of_time);
    if (b.replay->trouble) {
        printf("%s: the reference failed: %s\n\n", c->label, b.replay->trouble);
        return;
    }
    b.y = test_replay_room(b.replay);
    printf("%s: %d nodes x %d gases, %d stretches between switchings\n", c->label, b.net->n_free,
           b.net->mixture.n, b.replay->n_segments);
    check_reference(&b);
    method list[16] = {
        {.name = "rodas, own events", .kind = OWN_EVENTS, .loosest = 1e-2},
        {.name = "rodas", .kind = BETWEEN, .loosest = 1e-2},
        {.name = "rodasp", .kind = BETWEEN, .ours = RFY_METHOD_RODASP, .loosest = 1e-2},
        {.name = "rodas4, own events",
         .kind = OWN_EVENTS,
         .ours = RFY_METHOD_RODAS4,
         .loosest = 1e-2},
        {.name = "rodas4", .kind = BETWEEN, .ours = RFY_METHOD_RODAS4, .loosest = 1e-2},
        {.name = "GSL msbdf",
         .kind = LANDING,
         .ours = RFY_METHOD_MSBDF,
         .dense = true,
         .loosest = 1e-3},
        {.name = "GSL bsimp",
         .kind = LANDING,
         .with = &gsl_odeiv2_step_bsimp,
         .dense = true,
         .loosest = 1e-2},
        {.name = "CVODE, dense", .kind = BY_CVODE, .dense = true, .loosest = 1e-3},
        {.name = "CVODE, KLU", .kind = BY_CVODE, .cvode = {.klu = true}, .loosest = 1e-3}};
    int n = 8;
    if (!c->sparse)
        n += tune(&b, false, list + n);
    n += tune(&b, true, list + n);
    method *kept[16];
    bench_curve curves[20];
    int n_kept = 0;
    for (int k = 0; k < n; k++) {
        if (list[k].dense && c->sparse)
            continue;
        bench_curve *curve = &curves[n_kept];
        *curve = (bench_curve){.name = list[k].name};
        if (list[k].cvode.name)
            snprintf(curve->setting, sizeof curve->setting, "%s", list[k].cvode.name);
        kept[n_kept++] = &list[k];
        sweep(&b, &list[k], curve, false);
    }
    measure_again(&b, kept, curves, n_kept);
    if (c->sparse)
        printf("left out at this size: dense matrices (%d unknowns), SciPy\n", b.replay->n);
    else
        n_kept += scipy(&b, argv, curves + n_kept);
    print(curves, n_kept);
    write_curves(argv[1], &b, curves, n_kept);
    printf("\n");
    fflush(stdout);
    test_replay_free(b.replay);
    rfy_system_free(system);
}

int main(int argc, char **argv) {
    if (argc < 5) {
        fputs("usage: bench_precision DIRECTORY PYTHON SCRIPT LIBRARY [CASE ...]\n", stderr);
        return 2;
    }
    gsl_set_error_handler_off();
    setvbuf(stdout, NULL, _IOLBF, 0);
    for (int i = 0; i < BENCH_CASES; i++) {
        bool asked = argc == 5;
        for (int k = 5; k < argc; k++)
            asked = asked || strcmp(argv[k], bench_cases[i].name) == 0;
        if (asked)
            one_case(&bench_cases[i], argv);
    }
    return 0;
}
