/* The assembled system: nodes with moles of gas, edges that move gas between them, walls that emit.
 *
 * Constant after assembly; several runs may share it. The state is an array of moles, node-major:
 * y[node * n_gases + gas]. Free nodes come first, then fixed ones (ambient, reservoirs), whose
 * entries count what they gained since the start, then one entry for all walls without a memory,
 * which counts minus what they gave off, then the inner states of what holds gas (surface/store.h).
 * The sum over all nodes and stores of each gas is constant in time. */
#ifndef RFY_NETWORK_NETWORK_H
#define RFY_NETWORK_NETWORK_H

#include "core/arena.h"
#include "flow/stretch.h"
#include "gas/mixture.h"
#include "network/description.h"
#include "network/procedure.h"
#include "network/program.h"
#include "pump/pump.h"
#include "surface/power_law.h"
#include "surface/store.h"

typedef struct rfy_node {
    const char *name;
    bool internal;               /* put inside a line by the program */
    bool fixed;                  /* ambient or reservoir */
    bool heated;                 /* by a bake or an action of the description */
    double volume;               /* m3, tubing included; of all copies */
    double temperature;          /* K */
    double inverse_area;         /* 1/section, 1/m2; 0 = open chamber */
    double start[RFY_MAX_GASES]; /* partial pressures at the beginning (fixed: for ever), Pa */
    int count;                   /* equal copies */
} rfy_node;

typedef struct rfy_edge rfy_edge;

/* Moles per second of each gas from edge->from to edge->to under partial pressures a and b; control
 * is the valve opening or pump turn (1 when there is neither). Derivatives as in rfy_stretch_flow.
 * Pure. */
typedef void rfy_edge_flow(const rfy_edge *edge, const rfy_mixture *mixture, double control,
                           const double *a, const double *b, double *flow, double *by_a,
                           double *by_b);

typedef enum rfy_edge_role {
    RFY_EDGE_TUBING, /* part of a line */
    RFY_EDGE_PUMP,
    RFY_EDGE_LEAK,
    RFY_EDGE_SEAL, /* permeation */
    RFY_EDGE_HOLE  /* shut until a fault opens it */
} rfy_edge_role;

struct rfy_edge {
    const char
        *name; /* "foreline hose", "foreline hose: tube 16 mm x 1 m", "turbo", "port leak 1" */
    const char *part; /* the line or pump it belongs to */
    rfy_edge_role role;
    int from, to;
    double copies; /* parallel copies */
    int valve;     /* index of the valve in it, -1 none */
    int pump;      /* index of the pump, -1 none */
    rfy_edge_flow *flow;
    const rfy_mixture *mixture; /* the gases at its own temperature */
    const void *data;
    const rfy_stretch *stretch; /* for regimes; NULL for others */
    bool in_fours;              /* a stretch that is worked out together with others */
};

enum { RFY_STAYS, RFY_CLOSES, RFY_OPENS }; /* where a valve goes without mains */

/* Valves of the description, then what the program itself needs to shut and open: the ends of
 * lines without one (to seal them off), and a hole to the air in every place with a name, whose
 * opening is its area over RFY_HOLE_AREA. */
typedef struct rfy_valve {
    const char *name;
    double moves_in;
    bool open; /* at the beginning */
    int line;  /* -1 = a hole */
    int without_mains;
    int hole_in; /* node, -1 = no hole */
} rfy_valve;

#define RFY_HOLE_AREA 0.1 /* m2 */

typedef struct rfy_pump {
    const char *name;
    const rfy_pump_kind *kind;
    const void *data;
    double run_up, coast_down;
    bool on; /* at the beginning */
    int from, to, edge;
} rfy_pump;

typedef struct rfy_emitter { /* a wall, or the strip of a seal, or a tube's own wall */
    const char *name;
    const char *material; /* or "given rate" */
    int node, gas;
    double area;   /* m2, of all copies */
    double spread; /* factor up and down */
    double age;    /* time under vacuum before the run, s */
    double
        activation; /* the rate follows exp(-activation/RT) of its place, J/mol; 0 = it does not */
    rfy_power_law law;
} rfy_emitter;

typedef struct rfy_bake { /* temperature of a place over the run: straight between these points */
    int node, n;
    double *time, *temperature; /* s, rising; K */
} rfy_bake;

typedef struct rfy_burst {
    const char *name;
    int node, gas;
    double from, to, flow; /* s, s, mol/s */
} rfy_burst;

typedef struct rfy_gauge {
    const char *name;
    int node, kind;
    double low, high;             /* Pa; NaN = no bound */
    bool on;                      /* at the beginning */
    double lag;                   /* time constant of its reading, s */
    double factor[RFY_MAX_GASES]; /* reading per pascal of each gas */
} rfy_gauge;

typedef struct rfy_target {
    const char *name;
    int node;
    double pressure;
} rfy_target;

typedef struct rfy_limit {
    const char *name;
    int node;
    rfy_condition *while_; /* NULL = always */
    rfy_limit_kind kind;
    double allowed; /* Pa, or Pa/s for a rate */
    double duration;
    const char *ready; /* why it is there, when it came with a part; NULL = of the description */
} rfy_limit;

typedef struct rfy_line {
    const char *name;
    int from, to;
    int narrowest;      /* edge whose regime speaks for the line; -1 none */
    double end_area[2]; /* of the bore at its ends, m2 */
    bool trap;          /* has one in it */
    double length;      /* along the flow, m */
    int shut_off[2];    /* valve that shuts it at that end; -1 none */
} rfy_line;

typedef struct rfy_network {
    rfy_arena *arena;
    const rfy_catalog *catalog;
    const rfy_description *description;
    rfy_mixture mixture; /* at ambient temperature */
    double ambient[RFY_MAX_GASES], ambient_pressure, ambient_temperature;
    int n_nodes, n_free; /* free first, then fixed, then the walls' entry at n_nodes */
    rfy_node *node;
    int ambient_node;
    int n_user_valves; /* those of the description; the others come after them */
    int outside_node;  /* the same air, kept apart to count what leaks, permeates and bursts in */
    int n_stores, n_inner, n_bakes; /* n_inner: states of all stores together */
    int n_edges, n_valves, n_pumps, n_emitters, n_bursts, n_gauges, n_targets, n_limits, n_lines;
    rfy_edge *edge;
    rfy_valve *valve;
    rfy_pump *pump;
    rfy_emitter *emitter;
    rfy_store *store;
    rfy_bake *bake;
    rfy_burst *burst;
    rfy_gauge *gauge;
    rfy_target *target;
    rfy_limit *limit;
    rfy_line *line;
    rfy_program procedure;
    int n_rules, n_faults;
    rfy_program *rule, *fault;
    rfy_names names; /* by the numbers of this network */
    bool watches_rates, watches_connections, gauges_lag;
    double until, tolerance;
    size_t n_assumed;
    const char **assumed;
} rfy_network;

/* Builds a network from a sound description. NULL when problems of topology or reference were
 * added. */
const rfy_network *rfy_network_new(rfy_arena *arena, const rfy_catalog *catalog,
                                   const rfy_description *description, rfy_problems *problems);
/* The same; laws of tubing that did not change are those of another network, which must outlive it.
 */
const rfy_network *rfy_network_with_laws(rfy_arena *arena, const rfy_catalog *catalog,
                                         const rfy_description *description, rfy_problems *problems,
                                         const rfy_network *laws);
/* The same for a description that differs from that of a network in numbers of its parts alone, to
 * be compared with it or run beside it: it takes over the laws of tubing that did not change, and,
 * when it has the same parts, procedure, rules, faults and limits, so that network must outlive it.
 * What has no name of its own has none. */
const rfy_network *rfy_network_like(rfy_arena *arena, const rfy_catalog *catalog,
                                    const rfy_description *description, rfy_problems *problems,
                                    const rfy_network *like);

/* Where the inner states begin in the state, and how many entries there are in all. */
static inline int rfy_network_inner(const rfy_network *net) {
    return (net->n_nodes + 1) * net->mixture.n;
}
static inline int rfy_network_states(const rfy_network *net) {
    return rfy_network_inner(net) + net->n_inner;
}

#endif
