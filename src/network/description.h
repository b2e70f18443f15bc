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
    double rate;     /* Pa m3/s/m2, replaces the material's */
    double exponent; /* with rate: q = rate (t/1 h)^-exponent; absent = constant */
    const char *gas;
    double pumped_for; /* age of the outgassing clock at the start, s */
} rfy_wall_desc;

typedef struct rfy_seal_desc {
    rfy_origin origin;
    const char *name, *material;
    double length, cord, exposed_width;
} rfy_seal_desc;

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
    int count;
} rfy_chamber_desc;

typedef struct rfy_line_desc {
    rfy_origin origin;
    const char *name;
    rfy_texts between; /* two names */
    rfy_list pieces;   /* rfy_piece_desc */
    int cells;         /* each stretch is cut into so many; -1 = whole */
    double cell_error; /* or into as many as keep this error; NaN = not asked */
} rfy_line_desc;

typedef struct rfy_pump_desc { /* base of RFY_F_VARIANTS; the rest by kind, see pump/ */
    rfy_variant_head head;
    const char *name, *from, *to;
    int state; /* RFY_ON, RFY_OFF */
} rfy_pump_desc;

typedef struct rfy_gauge_desc {
    rfy_origin origin;
    const char *name, *at;
    int kind;
    rfy_range range; /* Pa */
    int state;
    double lag; /* s */
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
    rfy_list lines, pumps, gauges, sources, procedure, rules, faults, limits, targets;
    int ready_limits; /* 0 = none of the ready-made ones */
    rfy_run_desc *run;
} rfy_description;

extern const rfy_record rfy_description_record;

#endif
