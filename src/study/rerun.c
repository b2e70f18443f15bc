#include "study/rerun.h"
#include <math.h>

typedef struct watcher {
    const rfy_network *net;
    const bool *wanted;
    double *time;
} watcher;

static void on_target(void *context, rfy_sim *sim, double time, const double *y, int target) {
    watcher *w = context;
    (void)y;
    w->time[target] = time;
    for (int i = 0; i < w->net->n_targets; i++)
        if (isinf(w->time[i]) && (!w->wanted || w->wanted[i]))
            return;
    rfy_sim_set_until(sim, 0); /* that was the last of them */
}

bool rfy_rerun(const rfy_network *net, const rfy_sim_options *options, const rfy_snapshot *from,
               const bool *wanted, double *time) {
    watcher w = {net, wanted, time};
    rfy_observer observer = {.target = on_target, .context = &w};
    rfy_sim_options o = *options;
    o.targets_only = true;
    o.uncounted = true;
    o.at = NULL;
    o.n_at = 0;
    for (int i = 0; i < net->n_targets; i++)
        time[i] = INFINITY;
    rfy_sim *sim = rfy_sim_new(net, &o, &observer);
    if (sim && from)
        rfy_sim_load(sim, from);
    const bool fine = sim && rfy_sim_run(sim) == RFY_OK;
    for (int i = 0; i < net->n_targets && !fine; i++)
        time[i] = isinf(time[i]) ? (double)NAN : time[i];
    rfy_sim_free(sim);
    return fine;
}

double rfy_rerun_tolerance(double of_the_run) {
    return of_the_run < 3e-3 ? 3e-3 : of_the_run;
}
