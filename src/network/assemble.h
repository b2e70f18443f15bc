/* Shared by the files that assemble a network; nobody else needs it. */
#ifndef RFY_NETWORK_ASSEMBLE_H
#define RFY_NETWORK_ASSEMBLE_H

#include "network/edges.h"
#include "network/network.h"

#define RFY_BUILD_PI 3.14159265358979323846

typedef struct rfy_build {
    rfy_arena *arena;
    rfy_network *net;
    const rfy_description *description;
    rfy_problems *problems;
    int cap_nodes, cap_edges, cap_emitters, cap_valves, cap_stores;
    size_t cap_assumed;
    int n_chambers; /* nodes 0 … are the chambers in order, then junctions, then ambient */
    int n_named;    /* nodes the user may name */
    bool *seen_material;
    rfy_names names;
    rfy_mixture **other; /* mixtures at other temperatures than ambient */
    int n_other, cap_other;
    int cap_limits;
    struct rfy_heat_order *heat; /* actions that heat, as they are written */
    size_t n_heats;
    size_t errors_before;    /* of the assembly */
    const rfy_network *like; /* a network that differs little, or NULL */
    const rfy_network *laws; /* one whose laws of tubing may be taken over, or NULL */
} rfy_build;

void rfy_build_assume(rfy_build *b, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;
/* A name for what has none of its own; nobody reads those of a network that is like another. */
const char *rfy_build_name(rfy_build *b, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;
int rfy_build_node(rfy_build *b, const char *name);
/* The pointer is valid until the next edge is added. */
rfy_edge *rfy_build_edge(rfy_build *b, const char *name, rfy_edge_role role, int from, int to);
/* The law of the edge last added: taken over from another network where nothing of it changed. */
const rfy_stretch *rfy_build_stretch(rfy_build *b, const rfy_stretch_geometry *geometry);
void rfy_build_emitter(rfy_build *b, const char *name, const char *material, int node, int gas,
                       double area, double spread, const rfy_power_law *law);
/* A problem: `what` "word" is not among the names (equal ones in a row count once). */
void rfy_build_unknown(rfy_build *b, const char *what, const char *word, const char *const *names,
                       size_t n, rfy_place at);
/* A valve that moves at once, without a line or hole. */
int rfy_build_valve(rfy_build *b, const char *name, bool open);
/* -1 after adding a problem. */
int rfy_build_find_node(rfy_build *b, const char *name, rfy_place at, const char *what);
bool rfy_build_material(rfy_build *b, const char *material, const char *condition, rfy_place at,
                        rfy_power_law *law, int *gas, double *spread);

/* The gases at a temperature, made once for each. */
const rfy_mixture *rfy_build_mixture(rfy_build *b, double temperature);
/* assemble_gases.c: gases followed, the surroundings. False after adding problems. */
bool rfy_build_gases(rfy_build *b);
/* Index of a gas in the mixture; -1 after adding a problem. */
int rfy_build_gas(rfy_build *b, const char *name, rfy_place at);
/* The same for a gas that a material gives off: counted as another when it is not followed. */
int rfy_build_wall_gas(rfy_build *b, const char *name, const char *material);

/* To be filled by a kind of store; the pointer is valid until the next one is added. */
rfy_store *rfy_build_store(rfy_build *b, const char *name, const char *material, int node, int gas,
                           double spread);

/* assemble_walls.c */
void rfy_build_walls(rfy_build *b, const rfy_chamber_desc *chamber, int node);
void rfy_build_seals(rfy_build *b, const rfy_chamber_desc *chamber, int node);

/* assemble_bakes.c */
void rfy_build_bakes(rfy_build *b);
/* What steps, rules and faults heat; after the names. */
void rfy_build_heats(rfy_build *b);
/* Whether a bake or an action of the description heats the place. */
bool rfy_build_is_heated(const rfy_build *b, int node);
/* Warns when a material is heated above what it stands. */
void rfy_build_bake_limit(rfy_build *b, int node, const rfy_material *row);

/* assemble_holders.c: trapped volumes, getters, condensates */
void rfy_build_holders(rfy_build *b, const rfy_chamber_desc *chamber, int node);
/* Checks the seal-off; nothing of it is part of the network. */
void rfy_build_seal_off(rfy_build *b);

/* assemble_answers.c: names for conditions and actions, then what they are for */
void rfy_build_names(rfy_build *b);
void rfy_build_gauges(rfy_build *b);
void rfy_build_bursts(rfy_build *b);
void rfy_build_answers(rfy_build *b);
/* Nodes in all that was built here get their new numbers. */
void rfy_answers_renumber(rfy_build *b, const int *now);

/* assemble_lines.c */
void rfy_build_lines(rfy_build *b);
/* Names of all valves in the order in which rfy_build_lines numbers them, also of lines it could
 * not build. */
const char *const *rfy_build_valve_names(rfy_build *b, int *n);
/* Valves that shut the ends of lines without one, and holes in every place with a name; after
 * everything else that has edges. */
void rfy_build_holes(rfy_build *b);

/* ready_limits.c: what the parts themselves cannot stand, before the limits of the description. */
void rfy_build_ready_limits(rfy_build *b);
/* Room for one more limit of that name (or the one that has it already). */
rfy_limit *rfy_build_limit(rfy_build *b, const char *name);

#endif
