/* From a finished simulation to the parts of a result. Everything is allocated in the result's
 * arena. */
#ifndef RFY_STUDY_ANSWERS_H
#define RFY_STUDY_ANSWERS_H

#include "solve/simulate.h"
#include "study/system.h"

struct rfy_fault {
    rfy_arena *arena;
    rfy_program program;
};

/* The public result, with what owns it. */
typedef struct rfy_result_box {
    rfy_result result; /* first: a pointer to it is a pointer to the box */
    rfy_band *band;
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

/* The same source by source and gas by gas, at the most `most`, the largest first. */
void rfy_answer_sources(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                        const double *y, size_t most, const rfy_share **out, size_t *n);

/* The gauge fewest open lines away from a chamber among those that `shows` marks; -1 = none. */
int rfy_answer_nearest_gauge(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                             int chamber, const bool *shows);

/* The way the gas comes by which a limit is broken at this state: "air through hole in bulb -> bulb
 * -> stem -> port -> high-vacuum line (high-vacuum valve is open)"; or what keeps it there. */
typedef struct rfy_way {        /* what stands along it; lists of at most `most`, the caller's */
    int most, n_valves, *valve; /* open valves, those nearest to the limit first */
    int source;                 /* the last place with a name upstream */
    int n_shut, *shut;          /* shut valves beside the watched place */
    double length;              /* of its lines and across its chambers, m */
} rfy_way;
/* way may be NULL. */
const char *rfy_answer_way(rfy_arena *arena, rfy_sim *sim, const rfy_network *net, double time,
                           const double *y, int limit, rfy_way *way);

/* Oil and water that creep back: creep.c. NULL when no pump has oil. */
typedef struct rfy_creeper rfy_creeper;
rfy_creeper *rfy_creeper_new(rfy_arena *arena, const rfy_network *net);
/* Counts the time from one instant to the other with the state at the second. */
void rfy_creeper_note(rfy_creeper *creeper, rfy_sim *sim, double from, double to, const double *y);
void rfy_creeper_tell(const rfy_creeper *creeper, rfy_arena *arena, const rfy_creep **out,
                      size_t *n);

/* What the fault of a run comes to, from the instant before it. */
const rfy_strike *rfy_answer_strike(rfy_arena *arena, const rfy_network *net,
                                    const rfy_snapshot *from, const rfy_program *fault,
                                    volatile const int *stop);

void rfy_answer_balance(rfy_arena *arena, const rfy_network *net, const double *y,
                        const rfy_balance_row **out);

void rfy_answer_held(rfy_arena *arena, const rfy_network *net, const double *y, rfy_result *out);

/* How the results follow the numbers of the description: influence.c. Joins a simulation before it
 * runs; NULL when it is not wanted or cannot be. */
typedef struct rfy_influence rfy_influence;
rfy_influence *rfy_influence_new(rfy_arena *arena, const rfy_system *system,
                                 const rfy_run_options *options, rfy_sim *sim);
void rfy_influence_target(rfy_influence *influence, int target);
/* After a step and all that was watched in it. */
void rfy_influence_step(rfy_influence *influence);
/* Times of targets with all walls at wall_scale of `options`, where they can be had without a whole
 * run of their own: then time[i] and known[i] are set. */
void rfy_influence_band(const rfy_influence *influence, const rfy_sim_options *options,
                        const rfy_target_result *target, double *time, bool *known);
/* The latest instant before which walls gave off nothing, where a run for the rest of them may
 * begin; NULL = the beginning. */
const rfy_snapshot *rfy_influence_walls_begin(const rfy_influence *influence, const bool *wanted);
/* After the run: sensitivities and changes of the result; `options` for runs of its own. */
void rfy_influence_tell(rfy_influence *influence, rfy_sim *sim, double after,
                        const rfy_sim_options *options, rfy_result *out);

/* Safety cautions that apply to this system. */
void rfy_answer_cautions(rfy_arena *arena, const rfy_network *net, const char *const **out,
                         size_t *n);

#endif
