/* From a finished simulation to the parts of a result. Everything is allocated in the result's
 * arena. */
#ifndef RFY_STUDY_ANSWERS_H
#define RFY_STUDY_ANSWERS_H

#include "solve/simulate.h"
#include "study/system.h"

/* The public result, with what owns it. */
typedef struct rfy_result_box {
    rfy_result result; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} rfy_result_box;

/* Steady state under the controls of the simulation as they stand at `after`, wall clocks running
 * on. */
void rfy_answer_ultimate(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double after,
                         rfy_ultimate *out);

/* Which parts resist the flow from a chamber to its pumps at this state, for a gas. */
void rfy_answer_bottleneck(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                           const double *y, int chamber, int gas, rfy_bottleneck *out);

/* Everything that arrives from walls, seals, leaks and bursts at this state, Pa m3/s at 293.15 K.
 */
double rfy_answer_gas_load(rfy_sim *sim, const rfy_network *net, double time, const double *y);

/* The gauge fewest open lines away from a chamber among those that `shows` marks; -1 = none. */
int rfy_answer_nearest_gauge(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                             int chamber, const bool *shows);

void rfy_answer_balance(rfy_arena *arena, const rfy_network *net, const double *y,
                        const rfy_balance_row **out);

void rfy_answer_held(rfy_arena *arena, const rfy_network *net, const double *y, rfy_result *out);

/* Safety cautions that apply to this system. */
void rfy_answer_cautions(rfy_arena *arena, const rfy_network *net, const char *const **out,
                         size_t *n);

#endif
