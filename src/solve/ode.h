/* The initial-value problem between two switchings, and the methods that step it, all behind GSL's
 * odeiv2.
 *
 * Time is local: seconds since the last switching, so that microseconds count after hours. */
#ifndef RFY_SOLVE_ODE_H
#define RFY_SOLVE_ODE_H

#include <gsl/gsl_odeiv2.h>
#include "network/rates.h"
#include "solve/block_lu.h"
#include "solve/inner.h"

#define RFY_PRESSURE_FLOOR 1e-12 /* Pa: gas below this need not be relatively accurate */

typedef struct rfy_ode rfy_ode;

struct rfy_ode {
    const rfy_network *net;
    int n; /* states */
    double rtol;
    double trace;   /* a gas below this times the round-off of its node is as good as that much */
    bool uncounted; /* entries that only count are not followed: they mean nothing */
    double *floor;  /* [n] absolute error allowed per state; infinite for the counting entries */
    /* Fills the controls for a local time; moving = some valve or rotor is on its way. */
    void (*set_controls)(void *context, double t, rfy_controls *controls, bool *moving);
    void *context;
    rfy_controls *controls;
    double controls_at; /* time they stand for; NaN = stale */
    bool moving;
    rfy_blocks *jacobian;
    rfy_block_lu *lu;
    rfy_inner *inner; /* NULL: no inner states, or frozen ones */
    double *pressure; /* scratch */
    double *y_old;    /* [n] state at the beginning of the last step, for the error weights */
    double *dfdt, *scratch;
    double jacobian_t, *jacobian_y; /* where the Jacobian stands; t is NaN when stale */
    double *jacobian_rate;          /* and the rates there */
    size_t rhs, jacobians;          /* counts */
    double last_h, last_error;      /* of the last accepted step since a switching; 0 = none */
    bool was_refused;               /* the last try */
    int failures;                   /* in a row */
};

rfy_ode *rfy_ode_new(rfy_arena *arena, const rfy_network *net, double rtol);
/* Forget cached controls and Jacobian: something was switched. */
void rfy_ode_stale(rfy_ode *ode);

/* f(t, y); GSL's three-way result. */
int rfy_ode_rates(rfy_ode *ode, double t, const double *y, double *rate);
/* The same unchecked, for stages whose sum is checked … */
void rfy_ode_stage(rfy_ode *ode, double t, const double *y, double *rate);
/* … and what to return when it is not finite. */
int rfy_ode_failed(rfy_ode *ode);
/* Jacobian blocks into ode->jacobian and df/dt into ode->dfdt; nothing to do when they stand there
 * already. */
int rfy_ode_jacobian(rfy_ode *ode, double t, const double *y);

/* Round-off of the amounts in a node: a trace gas beside an atmosphere is not known better than
 * this, mol. */
double rfy_ode_grain(const rfy_ode *ode, int node, const double *y);
/* Amount of a free state against which its error and changes are measured, floor apart, mol. */
double rfy_ode_size(const rfy_ode *ode, int i, const double *y);
/* From now on only total pressures have to be accurate: a gas that is less than a hundredth of what
 * is in its node need not be as accurate as the rest. */
void rfy_ode_totals_only(rfy_ode *ode);

/* For GSL: sys->params is the rfy_ode. The dense Jacobian serves GSL's own steppers. */
void rfy_ode_system(rfy_ode *ode, gsl_odeiv2_system *system);

/* Our steppers (RODAS5P; RODASP and RODAS4 for comparison). sys->params must be an rfy_ode. */
extern const gsl_odeiv2_step_type *rfy_step_rodas, *rfy_step_rodasp, *rfy_step_rodas4;
/* Solution inside the step last applied by this stepper, at fraction s of it (0 to 1). */
void rfy_rodas_dense(const void *step_state, double s, double *y);
/* Its derivative in time; h: length of that step. */
void rfy_rodas_slope(const void *step_state, double s, double h, double *slope);

/* Greatest error of a step to y over what is allowed, infinite when it must not be taken; y_old
 * stands at its beginning. */
double rfy_ode_step_error(const rfy_ode *ode, const double *y, const double *yerr);

/* Step-size control: greatest error of all states, each weighed by floor + rtol max(|old|, |new|).
 */
gsl_odeiv2_control *rfy_control_new(rfy_ode *ode);

#endif
