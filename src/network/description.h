/* A description as read: plain data, one struct per kind of object in the file.
 *
 * Filled by io/read_description.c through the field tables of description.c (and of the piece and
 * pump registries). SI. Absent optional values follow core/record.h. Nothing here knows about JSON.
 */
#ifndef RFY_NETWORK_DESCRIPTION_H
#define RFY_NETWORK_DESCRIPTION_H

#include "core/record.h"

enum { RFY_ON, RFY_OFF }; /* choices of a pump's or gauge's "state" */
enum { RFY_GAUGE_THERMAL, RFY_GAUGE_HOT_CATHODE, RFY_GAUGE_COLD_CATHODE, RFY_GAUGE_CAPACITANCE };

/* choices of a wall's "model", a seal's "model", what a wall or seal is filled with at the start */
enum { RFY_WALL_POWER_LAW, RFY_WALL_SITES, RFY_WALL_DIFFUSION, RFY_WALL_CONSTANT };
enum { RFY_SEAL_STEADY, RFY_SEAL_DIFFUSION };
enum { RFY_FILLED_AS_AIR, RFY_FILLED_EMPTY };

extern const char *const rfy_on_off[];

typedef struct rfy_ambient_desc {
    rfy_origin origin;
    double pressure, temperature, relative_humidity;
} rfy_ambient_desc;

typedef struct rfy_wall_desc {
    rfy_origin origin;
    const char *name;
    const char *material, *condition;
    double area;
    double scale;    /* times what it gives off; NaN = 1 */
    double rate;     /* Pa m3/s/m2, replaces the material's */
    double exponent; /* with rate: q = rate (t/1 h)^-exponent; absent = constant */
    const char *gas;
    double pumped_for; /* age of the outgassing clock at the start, s */
    int model;         /* RFY_WALL_…, -1 = by material and bake */
    const char *sites; /* adsorbed water: row of data/sites.csv */
    double layers, sticking;
    rfy_range energies; /* J/mol */
    double thickness;   /* diffusion, m */
    double content;     /* diffusion, Pa m3 per m3 of wall */
    int filled;         /* diffusion with an open outer face: RFY_FILLED_… */
} rfy_wall_desc;

typedef struct rfy_seal_desc {
    rfy_origin origin;
    const char *name, *material;
    double length, cord, exposed_width;
    const char *outer; /* chamber on its outside; NULL = the surroundings */
    int model;         /* RFY_SEAL_…, -1 = steady */
    int filled;        /* RFY_FILLED_… */
} rfy_seal_desc;

typedef struct rfy_trapped_desc { /* a pocket behind a tiny passage */
    rfy_origin origin;
    const char *name;
    double volume, conductance; /* m3/s for air in molecular flow; or bore and length of a gap */
    double bore, length;
} rfy_trapped_desc;

typedef struct rfy_getter_desc {
    rfy_origin origin;
    const char *name, *getter;
    double area, mass;  /* m2, kg */
    double active_from; /* flashed or activated at, s */
} rfy_getter_desc;

typedef struct rfy_condensate_desc {
    rfy_origin origin;
    const char *name, *substance;
    double amount;        /* kg at the beginning */
    double area;          /* m2 */
    double temperature;   /* of the surroundings that keep the surface cold or warm, K */
    double heat_transfer; /* W/K */
    double sticking;
} rfy_condensate_desc;

typedef struct rfy_leak_desc {
    rfy_origin origin;
    const char *name;
    double rate;     /* Pa m3/s: one atmosphere outside, vacuum inside */
    const char *gas; /* NULL = ambient air */
} rfy_leak_desc;

typedef struct rfy_chamber_desc {
    rfy_origin origin;
    const char *name;
    double volume;
    rfy_by_gas reservoir; /* given in place of a volume */
    double bore;          /* section at the node; absent = open chamber */
    double temperature;
    rfy_by_gas start;             /* partial pressures; not given = ambient air */
    rfy_list walls, seals, leaks; /* rfy_wall_desc, rfy_seal_desc, rfy_leak_desc */
    rfy_list trapped, getters, condensates;
    int count;
} rfy_chamber_desc;

typedef struct rfy_line_desc {
    rfy_origin origin;
    const char *name;
    rfy_texts between; /* two names */
    rfy_list pieces;   /* rfy_piece_desc */
    int cells;         /* each stretch is cut into so many; -1 = whole */
    double cell_error; /* or into as many as keep this error; NaN = not asked */
    double scale;      /* times its conductance; NaN = 1 */
} rfy_line_desc;

typedef struct rfy_pump_desc { /* base of RFY_F_VARIANTS; the rest by kind, see pump/ */
    rfy_variant_head head;
    const char *name, *from, *to;
    int state;    /* RFY_ON, RFY_OFF */
    double scale; /* times its speed; NaN = 1 */
} rfy_pump_desc;

typedef struct rfy_gauge_desc {
    rfy_origin origin;
    const char *name, *at;
    int kind;
    rfy_range range; /* Pa */
    int state;
    double lag;   /* s */
    double scale; /* times what it should show; NaN = 1 */
} rfy_gauge_desc;

typedef struct rfy_source_desc {
    rfy_origin origin;
    const char *name, *gas, *at;
    double amount;    /* Pa m3, spread evenly over `during` */
    rfy_range during; /* s */
} rfy_source_desc;

typedef struct rfy_step_desc {
    rfy_origin origin;
    const char *when;
    rfy_texts actions, otherwise;
    double within;  /* s, since the step before */
    rfy_list steps; /* rfy_step_desc: a group in place of actions */
    int repeat;
    const char *until;
} rfy_step_desc;

typedef struct rfy_rule_desc {
    rfy_origin origin;
    const char *name, *whenever;
    rfy_texts then;
    double delay; /* s */
    int battery;
} rfy_rule_desc;

typedef struct rfy_fault_desc {
    rfy_origin origin;
    const char *name, *when;
    double at; /* s */
    rfy_texts actions;
} rfy_fault_desc;

typedef struct rfy_limit_desc {
    rfy_origin origin;
    const char *name, *watch, *while_;
    double max, min; /* Pa */
    double max_rate; /* Pa/s */
    double duration; /* s, key "for" */
    int applies;     /* 0 takes a ready-made limit away */
} rfy_limit_desc;

typedef struct rfy_target_desc {
    rfy_origin origin;
    const char *name, *chamber;
    double pressure;
} rfy_target_desc;

typedef struct rfy_bake_desc {
    rfy_origin origin;
    rfy_texts chambers;
    double from, temperature, ramp, soak, cool; /* s, K, K/s, s, K/s */
} rfy_bake_desc;

typedef struct rfy_seal_off_desc {
    rfy_origin origin;
    const char *chamber;
    double at;        /* s; absent = end of the run */
    rfy_by_gas burst; /* Pa m3 of each gas that the heated constriction gives off */
    double limit;     /* Pa */
} rfy_seal_off_desc;

typedef struct rfy_run_desc {
    rfy_origin origin;
    double until;
    double tolerance;
} rfy_run_desc;

typedef struct rfy_description {
    rfy_origin origin;
    int version; /* key "rarefy" */
    const char *title;
    rfy_texts gases;
    rfy_ambient_desc *ambient; /* NULL when absent */
    rfy_list chambers;
    rfy_texts junctions;
    rfy_list lines, pumps, gauges, sources, procedure, rules, faults, limits, targets, bakes;
    int ready_limits; /* 0 = none of the ready-made ones */
    rfy_seal_off_desc *seal_off;
    rfy_run_desc *run;
    rfy_spreads spreads;
} rfy_description;

extern const rfy_record rfy_description_record;

#endif
