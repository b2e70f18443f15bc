/* What a study asks of one run: how long until a condition comes true, how low a chamber comes in
 * the end, how long a pressure is kept after a fault. One number, and how far it is from what is
 * wanted. */
#ifndef RFY_STUDY_GOAL_H
#define RFY_STUDY_GOAL_H

#include "solve/simulate.h"

typedef enum rfy_goal_kind {
    RFY_GOAL_REACH,    /* time until the condition holds, s; wanted: at most `wanted` */
    RFY_GOAL_ULTIMATE, /* steady pressure of a chamber, Pa; wanted: at most what the text says */
    RFY_GOAL_KEEP      /* time after the fault until the condition fails, s; at least `wanted` */
} rfy_goal_kind;

typedef struct rfy_goal {
    rfy_goal_kind kind;
    const char *condition; /* "bulb < 10 Pa and turbo > 90 %"; without the word "ultimate" */
    const char *fault;     /* of RFY_GOAL_KEEP, as in --fault */
    double wall_scale;     /* -1, 0, +1: walls give off less, as, more by their spread */
    double wanted;         /* s; of an ultimate pressure it is set by rfy_goal_read, Pa */
    const char *chamber;   /* what the condition is about, NULL when it is about more */
} rfy_goal;

/* Reads the condition against a network and says what is wrong with it. The texts must stay.
 * "ultimate bulb < 1e-4 Pa" makes an ultimate goal of a reach. */
bool rfy_goal_read(rfy_goal *goal, rfy_arena *arena, const rfy_network *net,
                   rfy_problems *problems);

typedef struct rfy_goal_result {
    rfy_status status; /* RFY_OK, RFY_RUN_FAILED, RFY_INTERRUPTED */
    const char *trouble;
    bool came;     /* it came to pass within the time looked at (a kept pressure: was lost) */
    double value;  /* s or Pa; NaN when it did not come */
    double looked; /* how long was looked, s */
    double left;   /* what the pressure was then, Pa; NaN = the condition is about more */
    double excess; /* ln of how far it is from what is wanted: > 0 = not met. Goes on smoothly
                      beyond the time looked at where the condition is one pressure */
    rfy_bottleneck bottleneck; /* at that moment; when asked for and there is one chamber */
    const rfy_share *source;   /* what brings most gas there in the steady state, NULL unknown */
    const char *source_gas;
    double source_share; /* of its pressure */
    size_t steps;
} rfy_goal_result;

/* One full solve. Texts of the result live in the arena; `explain` adds the bottleneck and the
 * source. */
void rfy_goal_run(rfy_arena *arena, const rfy_network *net, const rfy_goal *goal, double tolerance,
                  bool explain, volatile const int *stop, rfy_goal_result *out);

#endif
