/* Random networks, ours against CVODE: each run ends, keeps its gas, has no amount below minus its
 * floor, and agrees with CVODE at ten instants. The generator is seeded; a network that fails is
 * named by its seed, and that alone makes it again.
 *
 * usage: random_cvode FIRST COUNT [CHAMBERS GASES]      Exit status 1 when any fails. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <gsl/gsl_errno.h>
#include "crosscheck/by_cvode.h"
#include "study/system.h"
#include "support/draw.h"
#include "support/patience.h"

enum { INSTANTS = 10, PATIENCE = 60 /* processor seconds a network */ };
static const double agreement = 1e-5, balance = 1e-10;

/* ---- what is checked ---- */

typedef struct verdict {
    char text[400];
    double disagreement, residue, lowest;
    size_t steps;
} verdict;

/* Farthest an accepted amount lies below zero, over what is allowed (1 = just allowed). */
static void look_below(void *context, const rfy_sim *sim) {
    verdict *v = context;
    const rfy_ode *ode = sim->ode;
    const int g = sim->net->mixture.n;
    for (int k = 0; k < sim->net->n_free; k++) {
        const double grain = 10 * rfy_ode_grain(ode, k, sim->y);
        for (int i = k * g; i < (k + 1) * g; i++) {
            double below = -sim->y[i] / (ode->floor[i] + grain);
            if (!(below <= v->lowest))
                v->lowest = below;
        }
    }
}

/* Worst |p - q| / (p + floor); beside a much larger gas only round-off of that is left. */
static double disagreement(const test_replay *r, double *const *y, test_place *place) {
    const rfy_network *net = r->net;
    const int g = net->mixture.n;
    double worst = 0;
    for (size_t k = 0; k < r->n_at; k++)
        for (int n = 0; n < net->n_free; n++) {
            double factor = RFY_R * net->node[n].temperature / net->node[n].volume, total = 0;
            for (int i = n * g; i < (n + 1) * g; i++)
                total += factor * fabs(r->y[k][i]);
            for (int i = n * g; i < (n + 1) * g; i++) {
                double p = factor * r->y[k][i], q = factor * y[k][i];
                double e = fabs(p - q) / (fabs(p) + RFY_PRESSURE_FLOOR + 1e-13 / agreement * total);
                if (e <= worst)
                    continue;
                worst = e;
                *place = (test_place){r->at[k], net->node[n].name, net->mixture.name[i % g], q, p};
            }
        }
    return worst;
}

static bool one(uint64_t seed, int chambers, int gases, verdict *v) {
    static const double at[INSTANTS] = {0.0123, 0.123, 1.23, 7.7, 33, 111, 321, 770, 1777, 3600};
    test_dice dice = {seed * 0x2545f4914f6cdd1du};
    *v = (verdict){.text = ""};
    int n = 2 + test_below(&dice, chambers - 1), extra = test_below(&dice, 1 + chambers / 2),
        g = 1 + test_below(&dice, gases);
    rfy_system *system = test_random_system(&dice, n, extra, g);
    const rfy_network *net = system->network;
    test_allow(PATIENCE);
    test_replay *r = test_replay_new(net, RFY_METHOD_RODAS, 1e-8, at, INSTANTS, &test_out_of_time);
    v->steps = r->driver->steps;
    char *text = v->text;
    size_t left = sizeof v->text;
#define SAY(...)                                                                                   \
    do {                                                                                           \
        int used_ = snprintf(text, left, __VA_ARGS__);                                             \
        text += used_;                                                                             \
        left -= (size_t)used_;                                                                     \
    } while (0)
    if (r->trouble) {
        SAY("%s%s", test_out_of_time ? "out of time; " : "", r->trouble);
    } else {
        v->residue = test_replay_residue(r);
        if (!(v->residue <= balance))
            SAY("balance %.1e; ", v->residue);
        double **y = test_replay_room(r);
        test_allow(PATIENCE);
        if (!test_replay_ours(r, RFY_METHOD_RODAS, NULL, 1e-4, false, y, look_below, v, NULL))
            SAY("between switchings at 1e-4: failed; ");
        if (!(v->lowest <= 1))
            SAY("%.3g floors below zero; ", v->lowest);
        test_place place = {0};
        test_cvode options = {.rtol = 1e-9, .nonlinear = 0.01};
#ifdef RAREFY_CVODE_KLU
        options.klu = true;
#endif
        test_cvode_stats stats;
        test_allow(PATIENCE);
        bool fine = test_by_cvode(r, &options, y, NULL, &stats);
        v->disagreement = fine ? disagreement(r, y, &place) : HUGE_VAL;
        if (!(v->disagreement <= agreement)) {
            double first = v->disagreement;
            options.rtol = 1e-11;
            options.bends = true;
            test_allow(PATIENCE);
            test_replay *finer =
                test_replay_new(net, RFY_METHOD_RODAS, 1e-10, at, INSTANTS, &test_out_of_time);
            if (finer->trouble) {
                SAY("CVODE differs by %.1e, ours at 1e-10: %s; ", first, finer->trouble);
            } else {
                test_allow(PATIENCE);
                fine = test_by_cvode(finer, &options, y, NULL, &stats);
                v->disagreement = fine ? disagreement(finer, y, &place) : HUGE_VAL;
                if (!fine)
                    SAY("CVODE: flag %d at %g s%s; ", stats.flag, stats.failed_at,
                        test_out_of_time ? ", out of time" : "");
                else if (!(v->disagreement <= agreement))
                    SAY("CVODE differs by %.1e at 1e-8, %.1e tightened: %s in %s at %g s, "
                        "%.9g against %.9g Pa; ",
                        first, v->disagreement, place.gas, place.node, place.time, place.found,
                        place.wanted);
            }
            test_replay_free(finer);
        }
    }
    const bool sound = !v->text[0];
    if (!sound)
        printf("seed %llu (%d nodes, %d gases, %zu steps): %s\n", (unsigned long long)seed,
               net->n_free, net->mixture.n, v->steps, v->text);
    test_replay_free(r);
    rfy_system_free(system);
    return sound;
}

int main(int argc, char **argv) {
    if (argc != 3 && argc != 5) {
        fputs("usage: random_cvode FIRST COUNT [CHAMBERS GASES]\n", stderr);
        return 2;
    }
    uint64_t first = strtoull(argv[1], NULL, 10);
    long count = atol(argv[2]), failed = 0;
    int chambers = argc == 5 ? atoi(argv[3]) : 10, gases = argc == 5 ? atoi(argv[4]) : 8;
    gsl_set_error_handler_off();
    setvbuf(stdout, NULL, _IOLBF, 0);
    double worst = 0, residue = 0, began = test_seconds();
    size_t most_steps = 0;
    for (long i = 0; i < count; i++) {
        verdict v;
        failed += one(first + (uint64_t)i, chambers, gases, &v) ? 0 : 1;
        worst = v.disagreement > worst && v.disagreement <= agreement ? v.disagreement : worst;
        residue = v.residue > residue ? v.residue : residue;
        most_steps = v.steps > most_steps ? v.steps : most_steps;
        if ((i + 1) % 500 == 0 || i + 1 == count)
            printf("%ld networks, %ld failed; of the others the worst difference %.1e; worst "
                   "balance %.1e; most steps %zu; %.0f s\n",
                   i + 1, failed, worst, residue, most_steps, test_seconds() - began);
    }
    return failed > 0;
}
