/* Declarative records: what keys an object of the description has, their dimension and range.
 *
 * One table of fields per kind of object drives reading, checking, `rarefy list`, the JSON Schema
 * and the man page. Every struct that is read this way starts with an rfy_origin. Absent optional
 * values: numbers and quantities NaN, integers and choices -1, texts NULL, lists empty. The code
 * that uses a value decides its default and reports it as ASSUMED; a field's `assumed` text
 * documents it. */
#ifndef RFY_CORE_RECORD_H
#define RFY_CORE_RECORD_H

#include <stdbool.h>
#include <stddef.h>
#include "core/problem.h"
#include "core/units.h"

struct rfy_record;

typedef struct rfy_origin {
    rfy_place at;                    /* the object itself */
    const struct rfy_record *record; /* its table */
    const rfy_place *field; /* place of each field's value, record->n of them; line 0 = absent */
    const struct rfy_record *extra; /* the variant's table, or NULL */
    const rfy_place *extra_field;
} rfy_origin;

/* Place of the value of `key` in the object, or of the object itself when it is absent. */
rfy_place rfy_place_of(const rfy_origin *origin, const char *key);

#define RFY_MAX_SPECIES 24 /* gases in the built-in table, at most */

typedef struct rfy_by_gas {     /* one value for all, or a map gas -> value */
    double all;                 /* NaN unless a single value was given */
    double of[RFY_MAX_SPECIES]; /* by species index of the catalogue; NaN = absent */
    bool given;
} rfy_by_gas;

/* A quantity given with its uncertainty: {"value": "1e-8 mbar L/s", "factor": 3}. */
typedef struct rfy_spread {
    const char *path;
    double *at; /* the value, among what was read */
    double factor;
    rfy_dim dim;
} rfy_spread;

typedef struct rfy_spreads {
    size_t n, capacity;
    rfy_spread *item;
} rfy_spreads;

typedef struct rfy_range {
    double from, to; /* NaN when absent */
} rfy_range;

typedef struct rfy_curve { /* points (x, y) as read; x strictly monotone is checked by the user */
    size_t n;
    double *x, *y;
} rfy_curve;

typedef struct rfy_texts {
    size_t n;
    const char **item;
    rfy_place *at;
} rfy_texts;

typedef struct rfy_list { /* n structs of record->size bytes, contiguous */
    size_t n;
    void *item;
} rfy_list;

typedef struct rfy_value_or_word { /* a quantity, or one of `choices` */
    double value;                  /* NaN if a word was given or absent */
    int word;                      /* index in choices, -1 if none */
} rfy_value_or_word;

typedef enum rfy_field_type {                 /* C type at `offset` */
                              RFY_F_QUANTITY, /* double, SI, from a text with a unit of `dim` */
                              RFY_F_NUMBER,   /* double, a bare JSON number (or a text "50 %") */
                              RFY_F_INTEGER,  /* int */
                              RFY_F_BOOL,     /* int 0/1, -1 absent */
                              RFY_F_TEXT,     /* const char * */
                              RFY_F_NAME, /* const char *: non-empty, no "/", no control characters,
                                             <= 200 bytes */
                              RFY_F_TEXTS,         /* rfy_texts */
                              RFY_F_CHOICE,        /* int index in choices, -1 absent */
                              RFY_F_VALUE_OR_WORD, /* rfy_value_or_word: quantity of `dim` or a word
                                                      of choices */
                              RFY_F_QUANTITY_BY_GAS, /* rfy_by_gas, quantity of `dim` */
                              RFY_F_NUMBER_BY_GAS,   /* rfy_by_gas, bare numbers */
                              RFY_F_RANGE,           /* rfy_range: [quantity, quantity] of `dim` */
                              RFY_F_CURVE,    /* rfy_curve: [[quantity dim, quantity dim2], …], at
                                                 least 2 points */
                              RFY_F_RECORD,   /* pointer to struct (arena), NULL absent; `record` */
                              RFY_F_RECORDS,  /* rfy_list of `record` structs */
                              RFY_F_VARIANTS, /* rfy_list of `record` structs, each completed by the
                                                 variant its `selector` names */
                              RFY_F_PIECES /* rfy_list of rfy_piece_desc: one-key objects or short
                                              texts; `variants` */
} rfy_field_type;

/* A kind that completes a base record: its own fields fill a block of record->size bytes. */
typedef struct rfy_variant {
    const char *name; /* "rotary vane" */
    const char *help; /* one line */
    const struct rfy_record *record;
    const void *kind; /* the registry's own table for the kind (hooks) */
    const char *const
        *short_keys; /* pieces: fields filled, in order, by the short form; NULL-ended */
} rfy_variant;

typedef struct rfy_variants {
    const rfy_variant *item;
    size_t n;
} rfy_variants;

typedef struct rfy_field {
    const char *key;
    rfy_field_type type;
    rfy_dim dim, dim2;
    size_t offset;
    double min, max; /* SI; both 0 = no limits given; of RFY_F_TEXTS: how many, for the schema */
    bool above_min;  /* min itself is not allowed */
    bool required;
    const char *const *choices; /* NULL-ended */
    const struct rfy_record *record;
    const rfy_variants *variants;
    const char *selector; /* RFY_F_VARIANTS: the key that names the variant ("kind") */
    const char *assumed;  /* what is assumed when absent, for help and schema; NULL = nothing */
    const char *help;     /* one line, required */
} rfy_field;

typedef struct rfy_record {
    const char *name; /* "chamber" */
    size_t size;
    const rfy_field *field;
    size_t n;
} rfy_record;

/* Index of a field by key, -1 if there is none (or record is NULL). */
int rfy_field_find(const rfy_record *record, const char *key);

/* Head of every struct filled by RFY_F_VARIANTS, right after the origin. */
typedef struct rfy_variant_head {
    rfy_origin origin;
    const rfy_variant *variant;
    void *values; /* variant->record->size bytes, starts with an rfy_origin too */
} rfy_variant_head;

typedef rfy_variant_head rfy_piece_desc;

#endif
