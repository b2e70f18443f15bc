/* One fault from one instant of a run: which limits break and when, what would save them. */
#ifndef RFY_STUDY_STRIKE_H
#define RFY_STUDY_STRIKE_H

#include "solve/simulate.h"

/* A case to be computed; everything in it stays as it is meanwhile. */
typedef struct rfy_case {
    const rfy_network *net;
    const rfy_snapshot *from; /* the instant of the fault, before it */
    const rfy_program *fault; /* strikes at once */
    double horizon;           /* s after the fault */
    double tolerance;
    volatile const int *stop;
} rfy_case;

typedef struct rfy_outcome {
    rfy_status status; /* RFY_OK, RFY_RUN_FAILED, RFY_INTERRUPTED */
    const char *trouble;
    int first;        /* limit that breaks first, -1 = none */
    double *after;    /* [limit] s after the fault; NaN = kept, or broken before the fault */
    double margin;    /* ln of the worst (watched value/allowed); > 0 exactly when one breaks */
    const char *path; /* the way of the gas to the first one */
    int source;       /* the place with a name where that way begins, -1 = none */
    double length;    /* of that way, m */
    int n_valves, valve[8]; /* open ones on that way, those nearest to the limit first */
    int n_shut, shut[8];    /* shut ones beside the watched place */
    int n_rules;
    const char **rule; /* that acted, and when after the fault */
    double *rule_after;
} rfy_outcome;

/* Computes the consequences, with what acts besides (may be NULL); ends at the first broken limit
 * unless `all`. Texts live in the arena. */
void rfy_case_run(rfy_arena *arena, const rfy_case *c, const rfy_program *rescue, bool all,
                  rfy_outcome *out);

/* The same network with smaller volumes, so that gas from outside raises pressures as if it kept
 * the heat that filling gives it: the bound explained in strike.c. NULL when the fault lets in no
 * gas. */
const rfy_network *rfy_network_adiabatic(rfy_arena *arena, const rfy_network *net,
                                         const rfy_program *fault);

/* A program that orders `actions` a time after the fault; n at most 8. */
rfy_program *rfy_rescue_program(rfy_arena *arena, const rfy_action *actions, int n, double delay);

/* What may be tried against an outcome: each a list of actions. At most `most`. */
typedef struct rfy_attempt {
    int n;
    rfy_action action[8];
    const char *text;
    double takes; /* s that the slowest of its valves needs */
} rfy_attempt;
int rfy_attempts(rfy_arena *arena, const rfy_case *c, const rfy_outcome *out, rfy_attempt *attempt,
                 int most);

/* The attempt as a rule a controller could have: "whenever bulb > 0.1 Pa then close gate", with the
 * delay it may have at most when orders must come within `latest` after the fault. NULL when
 * nothing tells of the fault in time. */
const char *rfy_rule_for(rfy_arena *arena, const rfy_case *c, const rfy_outcome *out,
                         const rfy_attempt *attempt, double latest, double *delay);

/* Latest delay of an attempt that keeps every limit, found between 0 and `most` in `halvings`;
 * negative when it is in vain even at once. */
double rfy_latest(rfy_arena *arena, const rfy_case *c, const rfy_attempt *attempt, double most,
                  int halvings);

#endif
