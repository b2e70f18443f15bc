/* Rarefy: vacuum systems from a JSON description to pressures, times and cautions.
 *
 * The whole public interface. SI everywhere: pascal, second, kelvin, cubic metre, mole. Nothing
 * here is global: two systems may be used by two threads at once, and one system by several threads
 * as long as none of them changes it. The library prints nothing except through the rfy_write_*
 * functions, and installs no handlers (a program that links GSL should call
 * gsl_set_error_handler_off() itself, as the rarefy command does). */
#ifndef RAREFY_RAREFY_H
#define RAREFY_RAREFY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

#define RAREFY_VERSION "0.1.0"

/* Results of calls, and the exit codes of the command. */
typedef enum rfy_status {
    RFY_OK = 0,
    RFY_RUN_FAILED = 1,   /* the run could not be finished; what was computed so far is kept */
    RFY_USAGE = 2,        /* the call or command line is wrong */
    RFY_BAD_INPUT = 3,    /* the description is wrong: see the problems */
    RFY_IO_FAILED = 4,    /* reading or writing failed */
    RFY_LIMIT_BROKEN = 5, /* done, but a limit of the procedure was broken */
    RFY_INTERRUPTED = 130
} rfy_status;

/* ---- problems ---- */

typedef enum rfy_severity { RFY_ERROR, RFY_WARNING } rfy_severity;

#define RFY_MAX_PROBLEMS 20

/* Something wrong with a description, or worth a warning. */
typedef struct rfy_problem {
    rfy_severity severity;
    int line, column;    /* from 1; 0 when the problem is of the whole file */
    const char *path;    /* "foreline hose/1/bore", never NULL */
    const char *what;    /* what was found */
    const char *allowed; /* what is allowed, or NULL */
    const char *hint;    /* did you mean …, or NULL */
} rfy_problem;

typedef struct rfy_problems rfy_problems;

/* `file` is the name shown in messages. Free with rfy_problems_free. */
rfy_problems *rfy_problems_new(const char *file);
/* What gave the values and paths that stand in no file, as shown in messages; else "--set". */
void rfy_problems_from(rfy_problems *list, const char *option);
void rfy_problems_free(rfy_problems *list);
/* Kept problems (at most RFY_MAX_PROBLEMS errors and warnings together) and how many there were. */
size_t rfy_problems_kept(const rfy_problems *list);
size_t rfy_problems_total(const rfy_problems *list);
size_t rfy_problems_errors(const rfy_problems *list);
const rfy_problem *rfy_problems_at(const rfy_problems *list, size_t i);
/* file:line:column: error: path: what; allowed; hint - with the source line and a caret. */
void rfy_write_problems(FILE *out, const rfy_problems *list);

/* ---- a system ---- */

typedef struct rfy_system rfy_system;

/* A change from outside the file: path as in `--set`, value as text (a JSON value; text that is not
 * JSON is taken as a string, so 25 mm needs no quotes). */
typedef struct rfy_setting {
    const char *path;
    const char *value;
} rfy_setting;

/* Reads a description of `length` bytes. On RFY_BAD_INPUT *out is NULL and `problems` says why;
 * warnings may be there on RFY_OK too. Free with rfy_system_free. */
rfy_status rfy_system_read(rfy_system **out, const char *text, size_t length,
                           const rfy_setting *settings, size_t n_settings, rfy_problems *problems);
void rfy_system_free(rfy_system *system);
const char *rfy_system_title(const rfy_system *system);

/* ---- a run ---- */

/* Something that goes wrong: one of the description's faults by name, or actions of its own, with
 * when it strikes: "stop vane at 40 min", "crack bulb 1 cm2 when bulb < 1e-3 Pa", "mains fail;
 * stick roughing valve at 2 h". RFY_USAGE when it cannot be; then *out is NULL and `problems` says
 * why. Belongs to the system, which must outlive it; free with rfy_fault_free. */
typedef struct rfy_fault rfy_fault;
rfy_status rfy_fault_read(rfy_fault **out, const rfy_system *system, const char *text,
                          rfy_problems *problems);
void rfy_fault_free(rfy_fault *fault);

typedef enum rfy_method {
    RFY_METHOD_RODAS,  /* one-step Rosenbrock-Wanner of order 5 (RODAS5P), sparse; the default */
    RFY_METHOD_RODASP, /* its elder sisters of order 4: RODASP */
    RFY_METHOD_RODAS4, /* and RODAS4 */
    RFY_METHOD_MSBDF   /* GSL's variable-order multistep BDF, dense: the cross-check */
} rfy_method;

/* Whether something is computed that costs extra. */
typedef enum rfy_wish {
    RFY_NOT_WANTED,
    RFY_IF_CHEAP, /* when it costs little beside a usual run: some thousand unknowns times numbers;
                     then to about a tenth where that is cheaper */
    RFY_WANTED
} rfy_wish;

/* How a run is computed, and how far. */
typedef struct rfy_run_options {
    rfy_method method;
    double tolerance; /* relative, per gas and chamber; 0 = the description's, else 3e-4 */
    const double *at; /* instants wanted in the series, rising, s; NULL = chosen by the program */
    size_t n_at;
    double ultimate_after; /* wall rates for the ultimate pressure are those after this time, s; 0 =
                              end of run */
    volatile const int *stop; /* becomes non-zero when the run should end early; NULL = never */
    const rfy_fault *fault;   /* strikes in this run; NULL = none */
    rfy_wish sensitivities;   /* how results follow the numbers of the description; not for
                                 RFY_METHOD_MSBDF */
    const struct rfy_band_options *band; /* also find bands (studies.h), not with a fault; NULL =
                                            the quick estimate of time_early and time_late alone */
    bool without_scatter; /* not even that estimate: time_early and time_late are NaN, and two runs
                             of their own are spared */
} rfy_run_options;

#define RFY_RUN_OPTIONS_INIT                                                                       \
    { RFY_METHOD_RODAS, 0, NULL, 0, 0, NULL, NULL, RFY_NOT_WANTED, NULL, false }

typedef enum rfy_event_kind {
    RFY_EVENT_START,   /* the beginning of the run */
    RFY_EVENT_ACTION,  /* a procedure step acted: "start turbo" */
    RFY_EVENT_MACHINE, /* a valve is fully open, a pump is at speed or at rest */
    RFY_EVENT_TARGET,  /* a target was reached */
    RFY_EVENT_REGIME,  /* a line left viscous flow, or became molecular */
    RFY_EVENT_WALL,    /* walls left or met atmosphere: outgassing clocks */
    RFY_EVENT_SOURCE,  /* a gas source began or ended */
    RFY_EVENT_LIMIT,   /* a limit was broken */
    RFY_EVENT_END,     /* the end of the run */
    RFY_EVENT_RULE,    /* a rule acted */
    RFY_EVENT_FAULT    /* a fault struck */
} rfy_event_kind;

/* Something that happens in a run. */
typedef struct rfy_event {
    double time;
    rfy_event_kind kind;
    const char *what;       /* a sentence fragment: "foreline hose: flow becomes molecular" */
    const double *pressure; /* total pressure of every chamber at that instant, Pa */
} rfy_event;

/* What became of a target. */
typedef struct rfy_target_result {
    const char *name, *chamber;
    double pressure; /* wanted, Pa */
    bool reached;
    double time; /* first reached, s; NaN when not reached */
    double time_early,
        time_late;         /* the same when wall rates are smaller / larger by their spread
                              (first-order estimate); NaN when unknown, +inf = not within the run */
    const double *partial; /* by gas in that chamber when reached (or at the end), Pa */
    double speed;          /* effective pumping speed at the chamber then, for `speed_gas`, m3/s */
    const char *speed_gas;
    double gas_load; /* everything arriving from walls, seals and leaks then, Pa m3/s at 293.15 K */
    const char *gauge;    /* a gauge of the system nearest to the chamber, or NULL */
    double gauge_reading; /* what it shows at that moment, Pa (nitrogen equivalent by kind) */
} rfy_target_result;

typedef enum rfy_limit_kind {
    RFY_LIMIT_MAX, /* the pressure stays below, Pa */
    RFY_LIMIT_MIN, /* the pressure stays above, Pa */
    RFY_LIMIT_RATE /* the pressure neither rises nor falls faster, Pa/s */
} rfy_limit_kind;

/* What became of a limit. */
typedef struct rfy_limit_result {
    const char *name, *watch;
    bool broken;
    double time; /* when it was first broken, s; NaN otherwise */
    double peak; /* worst watched value while the limit applied: highest, or lowest of a minimum;
                    NaN if it never applied */
    double peak_time;
    double max;      /* what was allowed, in Pa or Pa/s by kind */
    double duration; /* tolerated, s */
    rfy_limit_kind kind;
    const char *ready; /* why it is there, when it came with a part; NULL = of the description */
    const char *path;  /* broken: the way the gas came; NULL = kept */
} rfy_limit_result;

/* How long oil could creep from an oil-sealed pump to a clean chamber: a way open, and flow on none
 * of its lines viscous. */
typedef struct rfy_creep {
    const char *pump, *chamber;
    double time;               /* s */
    double untrapped;          /* part of it with a way that passes no trap, s */
    double oil, oil_untrapped; /* at most so much oil vapour, Pa s */
    double water;              /* water vapour in the chamber meanwhile, Pa s; NaN = not followed */
} rfy_creep;

/* A limit that a fault breaks. Times count from the fault. */
typedef struct rfy_broken_limit {
    const char *limit;
    double isothermal; /* gas at the temperature of its walls, s */
    double adiabatic;  /* bound for gas that keeps its heat, s: earlier; NaN where walls have the
                          time to take the heat, or no gas comes in from outside */
} rfy_broken_limit;

/* What may be done against a fault. */
typedef struct rfy_rescue {
    const char *action; /* "close high-vacuum valve, switch off hot gauge" */
    bool saves;         /* done at once, it keeps every limit that the fault would break */
    double latest;      /* it must be ordered within this time after the fault, s; NaN = in vain */
    double takes;       /* time its valves need to move, s */
} rfy_rescue;

/* What a fault comes to. */
typedef struct rfy_strike {
    const char *what; /* "crack bulb 1 cm2" */
    bool struck;      /* it did strike within the run */
    double time;      /* when, s */
    size_t n_broken;
    const rfy_broken_limit *broken; /* the first comes first */
    double available; /* time to the first broken limit, the safe one of both; +inf = none breaks */
    const char *path; /* the way of the gas to that limit */
    double transit;   /* time sound needs along that way, s: no answer is better than this */
    double bound; /* the most that heat kept in the gas can speed it up; NaN = nothing to do with
                     heat */
    size_t n_rules;
    const char *const *rule; /* rules that acted within the run after the fault, */
    const double *rule_time; /* and how long after it */
    size_t n_rescues;
    const rfy_rescue *rescue;
    double
        largest_hole; /* m2: the largest hole (of a fault that opens one) that rules, or without
                         any the best rescue, save; 0 = none, +inf = every one, NaN = not asked */
    double largest_hole_adiabatic; /* the same with the bound for gas that keeps its heat */
    const char *by;                /* what saves up to that hole */
} rfy_strike;

/* Where gas comes from at the ultimate state: one row per source and gas. */
typedef struct rfy_share {
    const char *source;     /* "port wall 1 (stainless steel)", "port leak 1", "vane (residual)" */
    int gas;                /* index in the result's gases */
    double throughput;      /* Pa m3/s at 293.15 K */
    const double *pressure; /* what it contributes in each chamber, Pa */
} rfy_share;

typedef struct rfy_rising { /* a gas that nothing removes */
    int chamber, gas;
    double rate; /* Pa/s */
} rfy_rising;

/* The steady state. */
typedef struct rfy_ultimate {
    bool found;
    double after;          /* wall clocks stand at this run time, s */
    const double *total;   /* [chamber], Pa */
    const double *partial; /* [chamber * n_gases + gas], Pa */
    const double *floor;   /* [chamber] total with walls dry (no outgassing), Pa */
    size_t n_shares;
    const rfy_share *share; /* largest first */
    size_t n_rising;
    const rfy_rising *rising;
    int iterations;
} rfy_ultimate;

/* Share of the flow resistance between one chamber and its pumps. */
typedef struct rfy_resistance {
    const char *part; /* "stem", "foreline hose / tube 16 mm x 1 m", "turbo" */
    double share;     /* of 1; all parts add up to 1 */
} rfy_resistance;

/* What holds the speed at a chamber back. */
typedef struct rfy_bottleneck {
    const char *target; /* for which target or state */
    const char *chamber;
    const char *gas;
    double time;  /* at which instant */
    double speed; /* effective speed at the chamber, m3/s */
    size_t n;
    const rfy_resistance *resistance; /* largest first */
} rfy_bottleneck;

/* How results follow one number of the description: exact derivatives of this run, events included.
 * An exponent e says that the result changes by e per cent when the number grows by one per cent.
 */
typedef struct rfy_sensitivity {
    const char *name; /* "length of stem" */
    size_t n_paths; /* as for --set; more than one where tubing that meets in the same bore changes
                       together */
    const char *const *path;
    double value; /* SI */
    const char *unit;
    const char *unsuited;   /* why it has no derivative (then all exponents are NaN), or NULL */
    const double *time;     /* [target] exponent of its time; NaN = not reached */
    const double *ultimate; /* [chamber] exponent of the ultimate pressure; NaN = not known */
} rfy_sensitivity;

/* What holds the speed back and where the gas comes from at one instant of the run. */
typedef struct rfy_split {
    const char *what;  /* what happens then: "open high-vacuum valve" */
    rfy_bottleneck at; /* of the chamber whose target comes next, for the gas that prevails there */
    double gas_load;   /* all that comes off or in, Pa m3/s at 293.15 K */
    size_t n_sources;
    const rfy_share *source; /* the largest first; their `pressure` is NULL */
} rfy_split;

/* One number halved or doubled, whichever brings a target sooner. */
typedef struct rfy_gain {
    size_t target, sensitivity; /* indices */
    double factor;              /* 0.5 or 2 */
    double estimate;            /* its time then, by the exponent alone, s */
    double time; /* by a run of its own, s; +inf = not within the run, NaN = not tried */
} rfy_gain;

typedef struct rfy_balance_row { /* mol */
    double start;                /* in chambers at the beginning */
    double from_walls;           /* released by walls and seals */
    double admitted; /* from outside: leaks, vents, permeation, sources, pump back-flow */
    double pumped;   /* thrown out to ambient */
    double to_walls; /* taken up by walls, getters and cold surfaces, when that is more than they
                        released */
    double left;     /* in chambers at the end */
    double handled;  /* start + from_walls + admitted */
    double residue; /* (handled - pumped - to_walls - left) / handled; 0 when nothing was handled */
} rfy_balance_row;

typedef struct rfy_held { /* what a wall with a memory, a getter or a cold surface holds */
    const char *name;
    int gas;           /* index in the result's gases */
    double start, end; /* mol, of all copies */
    double molar_mass; /* kg/mol */
} rfy_held;

/* What the computing took. */
typedef struct rfy_solver_stats {
    const char *method;
    double tolerance;
    size_t nodes, gases, states;
    size_t steps, rejected, rhs, jacobians, restarts;
} rfy_solver_stats;

/* What a run came to. Series are by time; NaN and NULL stand for what is not known. */
typedef struct rfy_result {
    const char *title;
    rfy_status status;
    const char *trouble; /* why the run ended early, or NULL */
    double end;          /* simulated time reached, s */
    size_t n_chambers, n_gases, n_times;
    const char *const *chamber;
    const bool *internal; /* chambers the program put inside lines (not named by the user) */
    const char *const *gas;
    const double *time;     /* [n_times] */
    const double *pressure; /* [n_times * n_chambers] total */
    const double *partial;  /* [(time * n_chambers + chamber) * n_gases + gas] */
    size_t n_gauges;
    const char *const *gauge;
    const double *gauge_reading; /* [n_times * n_gauges]; NaN when off or out of range */
    size_t n_targets, n_limits, n_events, n_bottlenecks;
    const rfy_target_result *target;
    const rfy_limit_result *limit;
    const rfy_event *event;
    const rfy_bottleneck *bottleneck;
    size_t n_sensitivities, n_changes;
    size_t n_splits;
    const rfy_split *split;   /* at every action, rule, fault and target, and at the end; with
                                 sensitivities wanted */
    bool list_sensitivities;  /* they were asked for: the text lists them too */
    bool rough_sensitivities; /* to about a tenth, good for an order; else exact to first order */
    const rfy_sensitivity *sensitivity; /* the most important first; none unless asked for */
    const rfy_gain *change;             /* by target, the greatest gain first */
    size_t n_creeps;
    const rfy_creep *creep;
    const rfy_strike *strike;    /* what the fault of this run comes to; NULL = no fault */
    const struct rfy_band *band; /* NULL = not asked, or nothing is uncertain */
    rfy_ultimate ultimate;
    const rfy_balance_row *balance; /* [n_gases] */
    size_t n_held;
    const rfy_held *held;
    size_t n_assumed, n_cautions, n_care;
    const char *const *assumed;
    const char *const *care; /* warnings about this run: extrapolation, a hot gauge in air, … */
    const char *const *cautions; /* safety */
    rfy_solver_stats solver;
    const struct rfy_overlay *measured; /* a log beside it, see measured.h; NULL = none */
} rfy_result;

/* Runs the description to its end. *out is always set; status is also in the result. The system
 * must outlive the result, which borrows names from it. */
rfy_status rfy_run(rfy_result **out, const rfy_system *system, const rfy_run_options *options);
/* Only the steady state, from the state at the end of the run's procedure. Other parts stay empty.
 */
rfy_status rfy_find_ultimate(rfy_result **out, const rfy_system *system,
                             const rfy_run_options *options);
void rfy_result_free(rfy_result *result);

/* ---- every fault at every phase ---- */

/* How rfy_protect works. */
typedef struct rfy_protect_options {
    int jobs;       /* threads; 0 = as many as the machine has cores */
    double horizon; /* how long after a fault its consequences are followed, s; 0 = 30 min */
    volatile const int *stop;
    /* Called now and then, from one thread at a time; NULL = never. */
    void (*progress)(void *context, size_t done, size_t all);
    void *context;
} rfy_protect_options;

#define RFY_PROTECT_OPTIONS_INIT                                                                   \
    { 0, 0, NULL, NULL, NULL }

/* A stretch of the procedure between two of its steps. */
typedef struct rfy_phase {
    const char *name;        /* "2: close roughing valve, open high-vacuum valve" */
    double begin, end, time; /* s; faults strike at `time` */
} rfy_phase;

/* One fault in one phase. */
typedef struct rfy_protect_case {
    size_t fault, phase;
    const char *limit; /* the first that breaks, NULL = none */
    double available;  /* s, as in rfy_strike */
    double isothermal; /* s */
    double transit;    /* s */
    const char *path;
    const char *rescue;  /* what would save it, NULL = nothing does */
    double latest;       /* ordered within this time, s */
    const char *guard;   /* the same as a rule, NULL = nothing tells of the fault in time */
    double delay;        /* that the rule may have at most, s */
    const char *rule;    /* rules that acted, NULL = none */
    const char *trouble; /* the case could not be computed, or NULL */
    bool broken_before;  /* some limit was broken before the fault already */
} rfy_protect_case;

/* What every fault comes to in every phase. */
typedef struct rfy_protect_result {
    const char *title;
    rfy_status status; /* RFY_LIMIT_BROKEN when the procedure itself breaks a limit */
    const char *trouble;
    size_t n_faults, n_phases, n_cases;
    const char *const *fault;
    const rfy_phase *phase;
    const rfy_protect_case *cases; /* least time first; then those that break nothing */
    double horizon;
    size_t n_broken_alone; /* limits that the procedure breaks without any fault */
    const char *const *broken_alone;
    size_t n_assumed, n_cautions;
    const char *const *assumed, *const *cautions;
} rfy_protect_result;

/* The faults of the description and the usual ones of its parts, one at a time, late in every phase
 * of the procedure. The result does not depend on the number of threads. */
rfy_status rfy_protect(rfy_protect_result **out, const rfy_system *system,
                       const rfy_protect_options *options);
void rfy_protect_free(rfy_protect_result *result);
/* ---- after the seal-off ---- */

/* One instant of it. */
typedef struct rfy_shelf_row {
    const char *when;                    /* "when sealed", "1 d", "limit crossed" */
    double time;                         /* since the seal-off, s */
    double total, total_low, total_high; /* Pa; low and high: amounts in walls smaller and larger by
                                            their spread, NaN when unknown */
    const double *partial;               /* [n_gases], Pa */
    const char *source;                  /* what gives off most gas then, or NULL */
    const char *source_gas;
    double source_flow; /* Pa m3/s at 293.15 K */
} rfy_shelf_row;

/* The time after the seal-off. */
typedef struct rfy_shelf {
    const char *title, *chamber;
    rfy_status status;
    const char *trouble; /* why it ended early, or NULL */
    double sealed_at;    /* s of the run */
    double volume;       /* of one envelope, m3 */
    size_t n_gases, n_rows;
    const char *const *gas;
    const rfy_shelf_row *row;
    double limit; /* Pa; NaN when none is given; it counts from the first day on */
    double crossed, crossed_early, crossed_late; /* s after the seal-off; infinity = not within the
                                                    time looked at, NaN = no limit or unknown */
    size_t n_assumed, n_care, n_cautions;
    const char *const *assumed, *const *care, *const *cautions;
    rfy_solver_stats solver; /* of the time after the seal-off */
} rfy_shelf;

/* Runs the description to the seal-off, closes the envelope and follows it for ten years at the
 * ambient temperature. RFY_USAGE when the description names no envelope ("seal_off"): then *out is
 * NULL; otherwise it is set. */
rfy_status rfy_shelf_life(rfy_shelf **out, const rfy_system *system,
                          const rfy_run_options *options);
void rfy_shelf_free(rfy_shelf *shelf);

/* ---- one piece on its own ---- */

/* A key that a kind of piece is described by. The texts are the library's own. */
typedef struct rfy_piece_key {
    const char *kind;  /* "tube" */
    const char *key;   /* "bore" */
    const char *takes; /* "length", "number", "choice", ... */
    const char *help;  /* "inner diameter" */
    bool required;
} rfy_piece_key;

/* Key i of all kinds taken together that matters to the flow; false past the last. */
bool rfy_piece_key_at(size_t i, rfy_piece_key *out);

/* Texts as a person writes them. NULL stands for what is said beside it. */
typedef struct rfy_conductance_options {
    const char *gas;         /* "Ar", or mole fractions "N2=0.8,O2=0.2"; nitrogen */
    const char *temperature; /* 20 degC */
    const char *from, *to;   /* pressures before the piece; 1e-4 Pa and 1e5 Pa */
    const char *drop;        /* the part of that pressure that is lost over the piece: "10 %"; */
    const char *downstream;  /* or the pressure behind it; the pump, else a vacuum */
    const char *pump; /* speed of a pump behind it, equal at all pressures, for all gases; none */
    const char *pressure_unit; /* lines stand at whole decades of it; Pa */
} rfy_conductance_options;

#define RFY_CONDUCTANCE_OPTIONS_INIT                                                               \
    { NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL }

/* By lambda/bore: molecular above 0.5, viscous below 0.01. Viscous flow is turbulent above Re =
 * 2300, choked where the velocity of sound at the outlet holds it back. */
typedef enum rfy_regime {
    RFY_REGIME_MOLECULAR,
    RFY_REGIME_TRANSITION,
    RFY_REGIME_LAMINAR,
    RFY_REGIME_TURBULENT,
    RFY_REGIME_CHOKED,
    RFY_REGIME_GIVEN /* the conductance was given, nothing is known of the inside */
} rfy_regime;

typedef enum rfy_behind { /* what is behind the piece when its throughput is worked out */
                          RFY_BEHIND_VACUUM,
                          RFY_BEHIND_DROP,
                          RFY_BEHIND_PRESSURE,
                          RFY_BEHIND_PUMP
} rfy_behind;

/* The piece at one pressure before it. */
typedef struct rfy_conductance_row {
    double pressure;       /* before the piece, Pa */
    double mean_free_path; /* there, m: (mu/p) sqrt(pi R T/2M) */
    double knudsen;        /* mean free path/bore; NaN when the conductance was given */
    double conductance;    /* for a difference of a thousandth about `pressure`, m3/s */
    double downstream;     /* pressure behind the piece for what follows, Pa */
    rfy_regime regime;
    double reynolds;        /* NaN when the conductance was given */
    double flow;            /* mol/s */
    double throughput;      /* the same, Pa m3/s at 293.15 K */
    double pump_pressure;   /* where the flow through the piece is what the pump takes, Pa; NaN
                               without a pump */
    double effective_speed; /* of that pump before the piece, m3/s; NaN without a pump */
} rfy_conductance_row;

/* The piece stands between two open chambers. Volume flows are at the temperature of the gas. */
typedef struct rfy_conductance_result {
    const char *piece; /* "tube 16 mm x 1 m" */
    size_t n_gases;
    const char *const *gas, *const *gas_name;  /* "N2", "nitrogen" */
    const double *fraction;                    /* of the moles; adds up to 1 */
    double temperature, viscosity, molar_mass; /* K; Pa s; kg/mol */
    double gas_coldest, gas_hottest;           /* K: where the viscosities hold within 2 % */
    double area;   /* narrowest open section, m2; NaN when the conductance was given, like the next
                      three */
    double bore;   /* hydraulic diameter, 4 area/perimeter, m */
    double length; /* along the flow, m */
    double transmission;    /* molecular transmission probability, of what enters `area` */
    double molecular;       /* conductance at vanishing pressure, m3/s */
    double error_molecular; /* expected relative error of molecular flow; 0 = exact for the shape */
    double error_least,
        error_most; /* expected relative error of rows that are not molecular; NaN unknown */
    rfy_behind behind;
    double drop;       /* part of 1, with RFY_BEHIND_DROP; else NaN, like the next */
    double downstream; /* Pa, with RFY_BEHIND_PRESSURE */
    double pump_speed; /* m3/s; NaN without a pump */
    size_t n_rows, n_assumed, n_care;
    const rfy_conductance_row *row; /* pressure rises */
    const char *const *assumed, *const *care;
} rfy_conductance_result;

/* `piece` is a kind ("tube") or a short form ("tube 16 mm x 1 m"); settings add values by key
 * ("bore", "16 mm"). The path of a problem is "tube/bore", or the member of the options. RFY_USAGE:
 * no such kind, key or option for this piece, one missing or given twice; RFY_BAD_INPUT: a value
 * that cannot be; RFY_RUN_FAILED: the balance with the pump could not be found. *out is NULL unless
 * RFY_OK. */
rfy_status rfy_conductance_find(rfy_conductance_result **out, const char *piece,
                                const rfy_setting *settings, size_t n_settings,
                                const rfy_conductance_options *options, rfy_problems *problems);
void rfy_conductance_free(rfy_conductance_result *result);

/* What `rarefy check` says about a sound description. */
typedef struct rfy_summary {
    size_t n_chambers, n_lines, n_pumps, n_nodes, n_gases, n_states;
    double volume; /* of chambers and tubing, m3 */
    size_t n_assumed;
    const char *const *assumed;
} rfy_summary;
void rfy_system_summary(const rfy_system *system, rfy_summary *out);

/* ---- output ---- */

/* How a result is written. */
typedef struct rfy_write_options {
    const char *pressure_unit; /* "Pa" when NULL */
    bool color;
    int width; /* columns for text; 0 = 100 */
} rfy_write_options;

#define RFY_WRITE_OPTIONS_INIT                                                                     \
    { NULL, false, 0 }

/* Each returns RFY_OK, RFY_USAGE for an unknown unit, or RFY_IO_FAILED when the stream reports an
 * error. */
rfy_status rfy_write_run_text(FILE *out, const rfy_result *result,
                              const rfy_write_options *options);
rfy_status rfy_write_run_json(FILE *out, const rfy_result *result,
                              const rfy_write_options *options);
rfy_status rfy_write_run_csv(FILE *out, const rfy_result *result, const rfy_write_options *options);
rfy_status rfy_write_ultimate_text(FILE *out, const rfy_result *result,
                                   const rfy_write_options *options);
rfy_status rfy_write_ultimate_json(FILE *out, const rfy_result *result,
                                   const rfy_write_options *options);
rfy_status rfy_write_shelf_text(FILE *out, const rfy_shelf *shelf,
                                const rfy_write_options *options);
rfy_status rfy_write_shelf_json(FILE *out, const rfy_shelf *shelf,
                                const rfy_write_options *options);
rfy_status rfy_write_conductance_text(FILE *out, const rfy_conductance_result *result,
                                      const rfy_write_options *options);
rfy_status rfy_write_conductance_json(FILE *out, const rfy_conductance_result *result,
                                      const rfy_write_options *options);
rfy_status rfy_write_protect_text(FILE *out, const rfy_protect_result *result,
                                  const rfy_write_options *options);
rfy_status rfy_write_protect_json(FILE *out, const rfy_protect_result *result,
                                  const rfy_write_options *options);
rfy_status rfy_write_check_text(FILE *out, const rfy_system *system, const rfy_problems *problems);
/* Works without a system too (system NULL: only the problems). */
rfy_status rfy_write_check_json(FILE *out, const rfy_system *system, const rfy_problems *problems);
/* "gases", "materials", "bores", "units", "pieces", "pumps", "actions". RFY_USAGE for another
 * topic. */
rfy_status rfy_write_list(FILE *out, const char *topic, bool json);
/* NULL-ended names of the topics of rfy_write_list. */
const char *const *rfy_list_topics(void);
/* The JSON Schema (draft 2020-12) of descriptions. */
rfy_status rfy_write_schema(FILE *out);

/* A list of times such as "10 s,100 s,1 h"; *times is malloc'ed. On failure message (>= 256 bytes)
 * says why. */
rfy_status rfy_read_times(const char *text, double **times, size_t *n, char *message);
/* True when `text` is a unit of pressure. */
bool rfy_is_pressure_unit(const char *text);

#ifdef __cplusplus
}
#endif

#include "rarefy/measured.h"
#include "rarefy/studies.h"

#endif
