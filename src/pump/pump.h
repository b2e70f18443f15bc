/* Pumps: the registry of kinds and the hooks each one has.
 *
 * A pump moves gas from its inlet node to its outlet node. Adding a kind: one file with a value
 * struct, a field table, the hooks, and one line in pump.c. Throughout: moles per second, pascal.
 */
#ifndef RFY_PUMP_PUMP_H
#define RFY_PUMP_PUMP_H

#include "core/arena.h"
#include "core/record.h"
#include "gas/mixture.h"

extern const rfy_variants rfy_pump_kinds; /* .kind is const rfy_pump_kind * */

/* What a pump is built for. */
typedef struct rfy_pump_site {
    const rfy_mixture *mixture; /* the gases of the system */
    double temperature;         /* K, gas at the inlet */
    double inverse_area;        /* 1/section of the inlet node, 1/m2; 0 = open chamber */
    bool to_ambient;
    const double *ambient; /* partial pressures outside by gas, Pa */
    rfy_arena *arena;
    const rfy_catalog *catalog;
    rfy_problems *problems;
    const char *name;                                /* of the pump, for messages */
    void (*assume)(void *context, const char *text); /* reports a default in use; NULL:
                                                          nobody asks */
    void *context;
} rfy_pump_site;

typedef struct rfy_pump_kind {
    const char *name;
    /* Builds the pump's constant data from the values read; NULL after adding a problem. */
    const void *(*build)(const void *values, const rfy_origin *origin, const rfy_pump_site *site);
    /* Moles per second of each gas from inlet to outlet at speed fraction `turn` (0 rest … 1 full),
     * with its derivatives by the partial pressures at inlet and outlet (n x n, row = gas moved;
     * NULL = not wanted). */
    void (*flow)(const void *pump, double turn, const double *p_in, const double *p_out,
                 double *flow, double *by_in, double *by_out);
    /* Seconds from rest to full speed, and from full speed to rest. 0 = at once. */
    void (*inertia)(const void *pump, double *run_up, double *coast_down);
    /* Highest foreline pressure it stands while it turns, Pa; NULL for kinds without such a one. */
    double (*foreline_limit)(const void *pump);
} rfy_pump_kind;

#endif
