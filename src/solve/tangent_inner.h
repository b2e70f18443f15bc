/* Inner states in a step of linear equations (solve/tangent_step.h), by their answers.
 *
 * An inner state follows x' = a(t) x + c(t) N + b(t) with the moles N of its gas, and the gas loses
 * a x + c N. Through all stages of a step x is a linear function of itself and N at the beginning,
 * of the stage values v of the gas, and of b: the coefficients are numbers, the same for every
 * column, worked out once a step by running the stages for each of these inputs. What the gas
 * feels of a store needs only sums of them; the states themselves are touched twice a step,
 * whatever the number of stages. */
#ifndef RFY_SOLVE_TANGENT_INNER_H
#define RFY_SOLVE_TANGENT_INNER_H

#include "core/lanes.h"
#include "network/network.h"
#include "solve/rodas_method.h"

typedef struct rfy_linear rfy_linear;

enum { RFY_LINEAR_STAGES = 6, RFY_LINEAR_INPUTS = 2 + RFY_LINEAR_STAGES + 3 };

/* The method over a step, and its stages for the linear equations. */
typedef struct rfy_linear_stages {
    double fac;
    double a[RFY_LINEAR_STAGES][RFY_LINEAR_STAGES],
        c[RFY_LINEAR_STAGES][RFY_LINEAR_STAGES]; /* 1/s */
    double part[RFY_LINEAR_STAGES][3];           /* of the beginning, middle and end in a stage */
    double driven[RFY_LINEAR_STAGES][3];         /* with the change in time there, over the step */
} rfy_linear_stages;

/* Which vectors of the rows of a store have any b in them, a bit each; the last stands for all
 * behind it. */
typedef unsigned long long rfy_fed;

static inline rfy_fed rfy_fed_at(int vector) {
    return 1ULL << (vector < 63 ? vector : 63);
}

typedef struct rfy_inner_answer { /* of one store; u: stage values of its states, summed */
    double by_start[RFY_LINEAR_STAGES], by_stage[RFY_LINEAR_STAGES][RFY_LINEAR_STAGES];
    rfy_v4 *own; /* [stages * m] part of u by the states at the beginning and b */
    rfy_v4 *u;   /* [stages * m] */
    rfy_v4 *fed; /* [3 * m] sums of b */
    rfy_fed is_fed;
    double
        *end;  /* [RFY_LINEAR_INPUTS * lanes] of each state at the end of the step by the inputs */
    int lanes; /* its states, filled up to whole vectors */
} rfy_inner_answer;

typedef struct rfy_inner_step {
    const rfy_network *net;
    int m;
    rfy_inner_answer *store;
    struct rfy_wide_stages *wide; /* the stages, each number in all lanes of a vector */
    double *way; /* scratch: of u by the states at the beginning and the three b, stage by stage */
} rfy_inner_step;

rfy_inner_step *rfy_inner_step_new(rfy_arena *arena, const rfy_network *net, int m);

/* a[3]: at the beginning, middle and end; s: rows at the beginning; b[3] with fed[3][store], where
 * there is any. */
void rfy_inner_step_begin(rfy_inner_step *w, const rfy_linear_stages *stages,
                          const rfy_linear *const a[3], const rfy_v4 *const b[3],
                          const rfy_fed *const fed[3], const rfy_v4 *s);
/* Adds what gases feel of their stores to the right-hand side of stage k, rows of free nodes; v[l],
 * l < k: stage values of the free rows; and takes up v[k] once that is known. */
void rfy_inner_step_feel(rfy_inner_step *w, const rfy_linear_stages *stages, int k,
                         const rfy_v4 *start, rfy_v4 *const v[], rfy_v4 *rhs);
void rfy_inner_step_follow(rfy_inner_step *w, int k, rfy_v4 *const v[]);
/* Inner rows from s to out, which may be the same. */
void rfy_inner_step_end(rfy_inner_step *w, const rfy_v4 *start, rfy_v4 *const v[],
                        const rfy_v4 *const b[3], const rfy_v4 *s, rfy_v4 *out);

#endif
