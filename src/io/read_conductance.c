/* What is asked about one piece: texts to SI, then to study/conductance.h. */
#include "io/read_piece.h"
#include "study/conductance.h"
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "io/read_record.h"

typedef struct conductance_box {
    rfy_conductance_result result; /* first: a pointer to it is a pointer to the box */
    rfy_arena *arena;
} conductance_box;

typedef struct asking {
    rfy_arena *arena;
    const rfy_catalog *catalog;
    rfy_problems *problems;
    bool misused; /* a problem is with how the call is made, not with a value */
} asking;

static void complain(asking *a, const char *option, const char *allowed, const char *hint,
                     const char *what) {
    const rfy_place at = {0, 0, option};
    rfy_problem_add(a->problems, RFY_ERROR, &at, allowed, hint, "%s", what);
}

/* An option's quantity, within low and high; `without` when it is not given. */
static double quantity(asking *a, const char *option, const char *text, rfy_dim dim, double low,
                       double high, double without) {
    rfy_quantity_error error;
    double value = without;
    if (!text)
        return without;
    if (!rfy_parse_quantity(a->catalog->units, text, dim, &value, &error)) {
        complain(a, option, error.allowed, error.hint[0] ? error.hint : NULL, error.what);
        return without;
    }
    if (!(value >= low && value <= high)) {
        char from[48], to[48], shown[64];
        complain(a, option,
                 rfy_arena_printf(a->arena, "from %s to %s",
                                  rfy_format_quantity(from, sizeof from, dim, low),
                                  rfy_format_quantity(to, sizeof to, dim, high)),
                 NULL,
                 rfy_arena_printf(a->arena, "\"%s\" is too %s",
                                  rfy_clip(shown, sizeof shown, text, 40),
                                  value < low ? "small" : "large"));
        return without;
    }
    return value;
}

/* ---- gas ---- */

static const char gas_allowed[] = "a gas such as N2, or mole fractions such as \"N2=0.8,O2=0.2\"";

/* A copy without blanks at both ends. */
static char *trimmed(rfy_arena *arena, const char *text, size_t length) {
    while (length > 0 && (*text == ' ' || *text == '\t'))
        text++, length--;
    while (length > 0 && (text[length - 1] == ' ' || text[length - 1] == '\t'))
        length--;
    return rfy_arena_strndup(arena, text, length);
}

/* "N2=0.8" or "N2": adds it to the question. */
static bool add_gas(asking *a, char *part, rfy_conductance_question *x) {
    char *equals = strchr(part, '=');
    double fraction = 1;
    const char *name = part, *share = NULL;
    char shown[64];
    if (equals) {
        name = trimmed(a->arena, part, (size_t)(equals - part));
        share = trimmed(a->arena, equals + 1, strlen(equals + 1));
    }
    int species = rfy_species_find(a->catalog, name);
    if (species < 0) {
        const char **names = RFY_NEW(a->arena, a->catalog->n_species, const char *);
        for (size_t i = 0; i < a->catalog->n_species; i++)
            names[i] = a->catalog->species[i].name;
        complain(a, "gas", rfy_alternatives(a->arena, names, a->catalog->n_species),
                 rfy_did_you_mean(a->arena, name, names, a->catalog->n_species),
                 rfy_arena_printf(a->arena, "\"%s\" is no gas of the table",
                                  rfy_clip(shown, sizeof shown, name, 40)));
        return false;
    }
    for (int i = 0; i < x->n_gases; i++)
        if (x->species[i] == species) {
            complain(a, "gas", "each gas once", NULL,
                     rfy_arena_printf(a->arena, "%s is given twice", name));
            return false;
        }
    if (share) {
        rfy_quantity_error error;
        if (!rfy_parse_quantity(a->catalog->units, share, RFY_DIM_NONE, &fraction, &error) ||
            !(fraction > 0 && fraction <= 1)) {
            complain(a, "gas", "a mole fraction above 0, at most 1", NULL,
                     rfy_arena_printf(a->arena, "%s=%s", name,
                                      rfy_clip(shown, sizeof shown, share, 40)));
            return false;
        }
    }
    if (x->n_gases == RFY_MAX_GASES) {
        complain(a, "gas", rfy_arena_printf(a->arena, "%d gases at most", RFY_MAX_GASES), NULL,
                 "too many gases");
        return false;
    }
    x->species[x->n_gases] = species;
    x->fraction[x->n_gases++] = fraction;
    return true;
}

static void read_gas(asking *a, const char *text, rfy_conductance_question *x) {
    size_t bad;
    if (!rfy_utf8_valid(text, strlen(text), &bad)) {
        complain(a, "gas", gas_allowed, NULL, "the text is not UTF-8");
        return;
    }
    bool parts = strchr(text, '=') || strchr(text, ',');
    for (const char *rest = text; rest;) {
        size_t length = strcspn(rest, ",");
        char *part = trimmed(a->arena, rest, length);
        if (parts && !strchr(part, '=')) {
            complain(a, "gas", gas_allowed, NULL,
                     rfy_arena_printf(a->arena, "\"%.40s\" has no mole fraction", part));
            return;
        }
        if (!add_gas(a, part, x))
            return;
        rest = rest[length] ? rest + length + 1 : NULL;
    }
    double sum = 0;
    for (int i = 0; i < x->n_gases; i++)
        sum += x->fraction[i];
    if (fabs(sum - 1) > 1e-3)
        complain(a, "gas", "fractions that add up to 1", NULL,
                 rfy_arena_printf(a->arena, "the mole fractions add up to %.4g", sum));
    for (int i = 0; i < x->n_gases; i++)
        x->fraction[i] /= sum;
}

/* ---- pressures ---- */

static const double lowest = 1e-12, highest = 1e6; /* Pa: beyond, no vacuum, or no ideal gas */

static void read_behind(asking *a, const rfy_conductance_options *o, rfy_conductance_question *x) {
    x->behind = RFY_BEHIND_VACUUM;
    x->drop = x->downstream = NAN;
    x->pump_speed = quantity(a, "pump", o->pump, RFY_DIM_FLOW, 1e-12, 1e4, NAN);
    if (o->drop && o->downstream) {
        complain(a, "drop", NULL, "leave one of the two out", "it stands beside \"downstream\"");
        a->misused = true;
    } else if (o->drop) {
        double pascal;
        rfy_quantity_error error;
        const char *shown = rfy_arena_printf(a->arena, "\"%.40s\" is a pressure", o->drop);
        x->behind = RFY_BEHIND_DROP;
        if (rfy_parse_quantity(a->catalog->units, o->drop, RFY_DIM_PRESSURE, &pascal, &error))
            complain(a, "drop", "a part of the pressure before the piece, such as \"10 %\"",
                     "for a fixed pressure behind the piece there is \"downstream\"", shown);
        else
            x->drop = quantity(a, "drop", o->drop, RFY_DIM_NONE, 1e-9, 1, 1);
    } else if (o->downstream) {
        x->behind = RFY_BEHIND_PRESSURE;
        x->downstream = quantity(a, "downstream", o->downstream, RFY_DIM_PRESSURE, 0, highest, 0);
    } else if (o->pump) {
        x->behind = RFY_BEHIND_PUMP;
    }
}

static void read_pressures(asking *a, const rfy_conductance_options *o,
                           rfy_conductance_question *x) {
    x->unit = 1;
    if (o->pressure_unit) {
        rfy_quantity_error error;
        double offset;
        if (!rfy_parse_unit(a->catalog->units, o->pressure_unit, RFY_DIM_PRESSURE, &x->unit,
                            &offset, &error)) {
            complain(a, "pressure_unit", error.allowed, error.hint[0] ? error.hint : NULL,
                     error.what);
            a->misused = true;
        }
    }
    double first = 1e-4, last = 1e5, below = x->downstream > 0 ? x->downstream : 0;
    while (!o->from && first <= below)
        first *= 10;
    x->from = quantity(a, "from", o->from, RFY_DIM_PRESSURE, lowest, highest, first);
    x->to = quantity(a, "to", o->to, RFY_DIM_PRESSURE, lowest, highest,
                     x->from > last ? x->from : last);
    if (!o->from && x->to < x->from && x->to > below)
        x->from = x->to;
    if (x->to < x->from)
        complain(a, "to", "a pressure not below \"from\"", NULL,
                 rfy_arena_printf(a->arena, "%.6g Pa is below %.6g Pa, where the table begins",
                                  x->to, x->from));
    else if (x->from <= below)
        complain(a, "from", "more than the pressure behind the piece", NULL,
                 rfy_arena_printf(a->arena,
                                  "at %.6g Pa nothing flows against %.6g Pa behind the piece",
                                  x->from, below));
}

/* ---- the whole ---- */

static void name_everything(rfy_arena *arena, const rfy_conductance_question *x,
                            const rfy_piece_read *piece, const rfy_conductance_options *o,
                            rfy_conductance_result *out) {
    char label[160];
    const rfy_piece_kind *kind = piece->piece.variant->kind;
    kind->label(piece->piece.values, label, sizeof label);
    out->piece = rfy_arena_strdup(arena, label);
    out->n_gases = (size_t)x->n_gases;
    const char **gas = RFY_NEW(arena, out->n_gases, const char *);
    const char **name = RFY_NEW(arena, out->n_gases, const char *);
    double *fraction = RFY_NEW(arena, out->n_gases, double);
    for (size_t i = 0; i < out->n_gases; i++) {
        gas[i] = x->catalog->species[x->species[i]].name;
        name[i] = x->catalog->species[x->species[i]].long_name;
        fraction[i] = x->fraction[i];
    }
    out->gas = gas;
    out->gas_name = name;
    out->fraction = fraction;
    const char **assumed = RFY_NEW(arena, piece->n_assumed + 2, const char *);
    size_t n = 0;
    if (!o->gas)
        assumed[n++] = "gas: nitrogen";
    if (!o->temperature)
        assumed[n++] = "temperature: 20 degC";
    for (size_t i = 0; i < piece->n_assumed; i++)
        assumed[n++] = piece->assumed[i];
    out->assumed = assumed;
    out->n_assumed = n;
}

rfy_status rfy_conductance_find(rfy_conductance_result **out, const char *piece,
                                const rfy_setting *settings, size_t n_settings,
                                const rfy_conductance_options *options, rfy_problems *problems) {
    static const rfy_conductance_options nothing = RFY_CONDUCTANCE_OPTIONS_INIT;
    const rfy_conductance_options *o = options ? options : &nothing;
    rfy_arena *arena = rfy_arena_new();
    conductance_box *box = RFY_NEW(arena, 1, conductance_box);
    asking a = {.arena = arena, .catalog = rfy_catalog_new(arena), .problems = problems};
    rfy_conductance_question x = {.catalog = a.catalog};
    rfy_piece_read read = {0};
    size_t errors = problems->errors;
    box->arena = arena;
    *out = NULL;
    rfy_catalog_tell(a.catalog, problems);
    rfy_status status =
        rfy_read_piece(arena, a.catalog, piece, settings, n_settings, problems, &read);
    read_gas(&a, o->gas ? o->gas : "N2", &x);
    x.temperature =
        quantity(&a, "temperature", o->temperature, RFY_DIM_TEMPERATURE, 4, 3000, 293.15);
    read_behind(&a, o, &x);
    read_pressures(&a, o, &x);
    if (status == RFY_OK && problems->errors > errors)
        status = RFY_BAD_INPUT;
    if (a.misused)
        status = RFY_USAGE;
    if (status == RFY_OK) {
        const rfy_piece_kind *kind = read.piece.variant->kind;
        x.shape.seat_leak = NAN;
        kind->shape(read.piece.values, &x.shape);
        if (!rfy_piece_is_sound(&x.shape, read.piece.values, problems))
            status = RFY_BAD_INPUT;
    }
    if (status == RFY_OK) {
        name_everything(arena, &x, &read, o, &box->result);
        status = rfy_conductance_answer(arena, &x, problems, &box->result);
    }
    if (status == RFY_OK)
        *out = &box->result;
    else
        rfy_arena_free(arena);
    return status;
}

void rfy_conductance_free(rfy_conductance_result *result) {
    if (result)
        rfy_arena_free(((conductance_box *)result)->arena);
}
