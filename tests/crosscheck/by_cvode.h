/* A recorded run again with CVODE (variable-order BDF): started afresh at each switching, from the
 * same right-hand side and analytic Jacobian. */
#ifndef RFY_TESTS_BY_CVODE_H
#define RFY_TESTS_BY_CVODE_H

#include "support/replay.h"

typedef struct test_cvode { /* 0 = CVODE's own default, except rtol */
    const char *name;
    double rtol;
    bool klu; /* sparse; where built with RAREFY_CVODE_KLU */
    int max_order;
    double eta_max, eta_first; /* greatest growth of a step, and of the first one */
    long jacobian_age;         /* steps between Jacobians */
    long setup_age;            /* steps between factorisations */
    double nonlinear;          /* coefficient of Newton's convergence test */
    double gamma_change;       /* relative change of gamma that asks for a factorisation */
    bool bends;                /* started afresh also where the law of a wall bends */
} test_cvode;

typedef struct test_cvode_stats {
    long steps, rates, jacobians, setups, newtons;
    int flag; /* of the call that failed */
    double failed_at;
} test_cvode_stats;

/* Fills y[n_at][replay->n]; `end` [n] may be NULL. False when CVODE gives up. */
bool test_by_cvode(test_replay *replay, const test_cvode *options, double **y, double *end,
                   test_cvode_stats *stats);

#endif
