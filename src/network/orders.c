/* Actions as they are written: one table of patterns reads them all. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "core/text.h"
#include "network/program.h"

typedef struct row {
    const char *pattern; /* words and <slots>; what stands in [ ] may be left out */
    rfy_order_kind kind;
    const char *help;
} row;

/* Longer beginnings before shorter ones. */
static const row rows[] = {
    {"start <pump>", RFY_ORDER_START, "switches it on; a rotor runs up"},
    {"stop <pump>", RFY_ORDER_STOP, "switches it off; a rotor coasts down"},
    {"open <valve>", RFY_ORDER_OPEN, "it moves at its own pace"},
    {"close <valve>", RFY_ORDER_CLOSE, "it moves at its own pace"},
    {"switch on <gauge>", RFY_ORDER_SWITCH_ON, "it reads, and a hot cathode glows"},
    {"switch off <gauge>", RFY_ORDER_SWITCH_OFF, "it reads nothing"},
    {"wait <time>", RFY_ORDER_WAIT, "before the next action"},
    {"back-fill <chamber> with <gas> to <pressure> [through <valve>]", RFY_ORDER_FILL,
     "opens the valve of a reservoir of that gas until the pressure is there"},
    {"flush <chamber> with <gas> <count> times between <pressure> and <pressure> [through <valve>] "
     "[pumping through <valve>]",
     RFY_ORDER_FLUSH, "back-fills and pumps down in turn; tells what is left of the air"},
    {"vent <chamber> [with <gas>] [through <valve>]", RFY_ORDER_VENT,
     "back-fills to the pressure outside (98 % of it)"},
    {"seal off <chamber>", RFY_ORDER_SEAL_OFF, "shuts every line to it for ever"},
    {"heat <chamber> to <temperature> at <heating rate> [while below <pressure>]", RFY_ORDER_HEAT,
     "until it is there, or cools it; above that pressure it waits, until four fifths of it"},
    {"end the procedure", RFY_ORDER_END, "no further step is taken"},
    {"mains fail", RFY_ORDER_MAINS_FAIL,
     "pumps, gauges and rules stop; valves go where they go without mains"},
    {"mains return", RFY_ORDER_MAINS_RETURN, "what was on does not start by itself"},
    {"seize <pump>", RFY_ORDER_SEIZE, "it stands still at once, for good"},
    {"slow <pump> to <part>", RFY_ORDER_SLOW, "it coasts to that part of its speed and stays"},
    {"stick <valve>", RFY_ORDER_STICK, "it stays where it is, whatever it is told"},
    {"crack <chamber> <area>", RFY_ORDER_CRACK, "a hole of that area to the air outside"},
    {"leak <chamber> <throughput>", RFY_ORDER_LEAK, "a hole that admits so much air into a vacuum"},
    {"break <line>", RFY_ORDER_BREAK, "both stumps stand open to the air with its narrower bore"},
};
enum { N_ROWS = sizeof rows / sizeof *rows };

bool rfy_order_row(size_t i, const char **pattern, const char **help) {
    if (i >= N_ROWS)
        return false;
    *pattern = rows[i].pattern;
    *help = rows[i].help;
    return true;
}

typedef struct slot {
    const char *name;
    rfy_dim dim; /* of a quantity */
} slot;

static const slot quantities[] = {{"time", RFY_DIM_TIME},
                                  {"pressure", RFY_DIM_PRESSURE},
                                  {"part", RFY_DIM_NONE},
                                  {"area", RFY_DIM_AREA},
                                  {"throughput", RFY_DIM_THROUGHPUT},
                                  {"temperature", RFY_DIM_TEMPERATURE},
                                  {"heating rate", RFY_DIM_HEATING_RATE}};

typedef struct reader {
    rfy_arena *arena;
    const rfy_units *units;
    const rfy_names *names;
    const row *row;
    const char *at;
    rfy_place place;
    rfy_problems *problems;
    rfy_order *order;
    int n_values;
} reader;

static const char *past_blanks(const char *at) {
    return at + strspn(at, " \t");
}

/* Length of the words that a pattern begins with. */
static size_t lead_of(const char *pattern) {
    size_t n = strcspn(pattern, "<");
    while (n > 0 && pattern[n - 1] == ' ')
        n--;
    return n;
}

static bool begins_with(const char *text, const char *words, size_t n) {
    return strncmp(text, words, n) == 0 && (text[n] == '\0' || text[n] == ' ' || text[n] == '\t');
}

static const char *const *names_of(const rfy_names *n, const char *slot_name, int *count) {
    if (strcmp(slot_name, "pump") == 0)
        return *count = n->n_pumps, n->pump;
    if (strcmp(slot_name, "valve") == 0)
        return *count = n->n_valves, n->valve;
    if (strcmp(slot_name, "gauge") == 0)
        return *count = n->n_gauges, n->gauge;
    if (strcmp(slot_name, "line") == 0)
        return *count = n->n_lines, n->line;
    if (strcmp(slot_name, "gas") == 0)
        return *count = n->n_gases, n->gas;
    return *count = n->n_nodes, n->node;
}

static bool how_it_is_written(reader *r, const char *what) {
    rfy_problem_add(r->problems, RFY_ERROR, &r->place,
                    rfy_arena_printf(r->arena, "\"%s\"", r->row->pattern), NULL, "%s in \"%s\"",
                    what, r->order->text);
    return false;
}

/* A name; the last one of an order takes the whole rest. */
static int read_name(reader *r, const char *slot_name, bool last) {
    int n, best = -1;
    const char *const *list = names_of(r->names, slot_name, &n);
    size_t length = 0, rest = strlen(r->at);
    while (rest > 0 && r->at[rest - 1] == ' ')
        rest--;
    for (int i = 0; i < n; i++) {
        size_t l = strlen(list[i]);
        bool fits =
            last ? l == rest && strncmp(r->at, list[i], l) == 0 : begins_with(r->at, list[i], l);
        if (fits && (best < 0 || l > length)) {
            best = i;
            length = l;
        }
    }
    if (best >= 0) {
        r->at = past_blanks(r->at + length);
        return best;
    }
    size_t lead = lead_of(r->row->pattern);
    if (rest == 0) {
        rfy_problem_add(r->problems, RFY_ERROR, &r->place, NULL, NULL,
                        "\"%.*s\" needs the name of a %s", (int)lead, r->row->pattern, slot_name);
        return -1;
    }
    char *found = rfy_arena_strndup(r->arena, r->at, last ? rest : strcspn(r->at, " \t"));
    int near = rfy_nearest(found, list, (size_t)n);
    bool simple = last && !strchr(r->row->pattern, '[');
    rfy_problem_add(r->problems, RFY_ERROR, &r->place,
                    simple ? rfy_arena_printf(r->arena, "\"%.*s\" and the name of a %s", (int)lead,
                                              r->row->pattern, slot_name)
                           : rfy_arena_printf(r->arena, "\"%s\"", r->row->pattern),
                    near >= 0 ? rfy_arena_printf(r->arena, "did you mean \"%s\"?", list[near])
                              : NULL,
                    "there is no %s \"%s\"", slot_name, last ? found : r->at);
    return -1;
}

static bool read_quantity(reader *r, const slot *s) {
    rfy_quantity_error error;
    size_t used = 0;
    double value;
    if (!rfy_parse_quantity_prefix(r->units, r->at, s->dim, &value, &used, &error)) {
        rfy_problem_add(r->problems, RFY_ERROR, &r->place,
                        rfy_arena_printf(r->arena, "\"%s\"", r->row->pattern),
                        *error.hint ? rfy_arena_strdup(r->arena, error.hint) : NULL, "%s in \"%s\"",
                        error.what, r->order->text);
        return false;
    }
    if (!(value > 0) || (s->dim == RFY_DIM_NONE && value > 1))
        return how_it_is_written(
            r, rfy_arena_printf(r->arena, "a %s %s", s->name,
                                value > 0 ? "above 100 %" : "that is not above zero"));
    if (r->n_values < 3)
        r->order->value[r->n_values++] = value;
    r->at = past_blanks(r->at + used);
    return true;
}

static bool read_count(reader *r) {
    double number;
    size_t n = rfy_read_number(r->at, &number);
    if (n == 0 || number != floor(number) || number < 1 || number > 1000)
        return how_it_is_written(r, "a whole number from 1 to 1000 is missing");
    r->order->times = (int)number;
    r->at = past_blanks(r->at + n);
    return true;
}

static bool read_slot(reader *r, const char *name, bool last, bool pumping) {
    for (size_t i = 0; i < sizeof quantities / sizeof *quantities; i++)
        if (strcmp(name, quantities[i].name) == 0)
            return read_quantity(r, &quantities[i]);
    if (strcmp(name, "count") == 0)
        return read_count(r);
    int k = read_name(r, name, last);
    if (k < 0)
        return false;
    rfy_order *o = r->order;
    if (strcmp(name, "gas") == 0)
        o->gas = k;
    else if (o->part < 0)
        o->part = k;
    else if (pumping)
        o->pumping = k;
    else
        o->through = k;
    return true;
}

/* The words and slots of a pattern, one after the other. `depth` counts open brackets. */
static bool read_pattern(reader *r) {
    bool pumping = false;
    const char *p = r->row->pattern;
    while (*p) {
        p = past_blanks(p);
        if (*p == '[') { /* there or not: its first words tell */
            size_t n = lead_of(p + 1);
            if (!begins_with(r->at, p + 1, n)) {
                p = strchr(p, ']') + 1;
                continue;
            }
            pumping = strncmp(p + 1, "pumping", 7) == 0;
            p++;
        } else if (*p == ']') {
            p++;
        } else if (*p == '<') {
            char name[32];
            size_t n = strcspn(p, ">");
            snprintf(name, sizeof name, "%.*s", (int)n - 1, p + 1);
            p += n + 1;
            if (!read_slot(r, name, *past_blanks(p) == '\0', pumping))
                return false;
        } else {
            size_t n = strcspn(p, " ]");
            if (!begins_with(r->at, p, n))
                return how_it_is_written(r, rfy_arena_printf(r->arena, "\"%.*s\" is missing%s%s",
                                                             (int)n, p, *r->at ? " before " : "",
                                                             r->at));
            r->at = past_blanks(r->at + n);
            p += n;
        }
    }
    if (*r->at)
        return how_it_is_written(r, rfy_arena_printf(r->arena, "\"%s\" is left over", r->at));
    return true;
}

bool rfy_order_parse(rfy_arena *arena, const rfy_units *units, const rfy_names *names,
                     const char *text, rfy_place at, rfy_problems *problems, rfy_order *order) {
    reader r = {.arena = arena,
                .units = units,
                .names = names,
                .place = at,
                .problems = problems,
                .order = order};
    *order = (rfy_order){.part = -1,
                         .gas = -1,
                         .through = -1,
                         .pumping = -1,
                         .value = {NAN, NAN, NAN},
                         .at = at,
                         .text = text};
    r.at = past_blanks(text);
    for (size_t i = 0; i < N_ROWS; i++) {
        size_t n = lead_of(rows[i].pattern);
        if (!begins_with(r.at, rows[i].pattern, n))
            continue;
        r.row = &rows[i];
        order->kind = rows[i].kind;
        return read_pattern(&r);
    }
    const char *words[N_ROWS];
    for (size_t i = 0; i < N_ROWS; i++)
        words[i] = rfy_arena_strndup(arena, rows[i].pattern, lead_of(rows[i].pattern));
    char *first = rfy_arena_strndup(arena, r.at, strcspn(r.at, " "));
    int near = rfy_nearest(first, words, N_ROWS);
    rfy_problem_add(problems, RFY_ERROR, &at,
                    "start or stop a pump, open or close a valve, switch on or switch off a gauge, "
                    "wait, back-fill, flush, vent, seal off; see `rarefy list actions`",
                    near >= 0 ? rfy_arena_printf(arena, "did you mean \"%s\"?", words[near]) : NULL,
                    "\"%s\" is not an action", text);
    return false;
}
