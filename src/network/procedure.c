#include <math.h>
#include <string.h>
#include "core/text.h"
#include "network/procedure.h"

/* ---- parsing ---- */

typedef struct parser {
    rfy_arena *arena;
    const rfy_units *units;
    const rfy_names *names;
    const char *text, *at;
    rfy_place place;
    rfy_problems *problems;
    int depth;
    bool failed;
} parser;

static rfy_condition *parse_or(parser *p);

static void skip_spaces(parser *p) {
    while (*p->at == ' ' || *p->at == '\t')
        p->at++;
}

static bool is_word_end(char c) {
    return c == '\0' || c == ' ' || c == '\t' || c == '(' || c == ')' || c == '<' || c == '>';
}

static bool take_word(parser *p, const char *word) {
    size_t n = strlen(word);
    if (strncmp(p->at, word, n) != 0 || !is_word_end(p->at[n]))
        return false;
    p->at += n;
    skip_spaces(p);
    return true;
}

static void complain(parser *p, const char *allowed, const char *hint, const char *what) {
    if (!p->failed)
        rfy_problem_add(p->problems, RFY_ERROR, &p->place, allowed, hint, "%s in \"%s\"", what,
                        p->text);
    p->failed = true;
}

rfy_condition *rfy_condition_new(rfy_arena *arena, rfy_condition_kind kind, int index, bool below,
                                 double value) {
    rfy_condition *c = RFY_NEW(arena, 1, rfy_condition);
    *c = (rfy_condition){.kind = kind, .index = index, .below = below, .value = value};
    return c;
}

rfy_condition *rfy_condition_both(rfy_arena *arena, rfy_condition *left, rfy_condition *right) {
    rfy_condition *c = rfy_condition_new(arena, RFY_COND_AND, 0, false, 0);
    c->left = left;
    c->right = right;
    return c;
}

void rfy_condition_renumber(rfy_condition *c, const int *now) {
    if (!c)
        return;
    if (c->kind == RFY_COND_PRESSURE || c->kind == RFY_COND_TEMPERATURE ||
        c->kind == RFY_COND_ARRIVED)
        c->index = now[c->index];
    rfy_condition_renumber(c->left, now);
    rfy_condition_renumber(c->right, now);
}

static rfy_condition *node_new(parser *p, rfy_condition_kind kind) {
    return rfy_condition_new(p->arena, kind, 0, false, 0);
}

static const char *after_spaces(const char *at) {
    while (*at == ' ' || *at == '\t')
        at++;
    return at;
}

static bool is_word_at(const char *at, const char *word) {
    size_t n = strlen(word);
    return strncmp(at, word, n) == 0 && is_word_end(at[n]);
}

/* The longest name that stands here and is followed by a comparison, or by "is". */
static bool take_name(parser *p, rfy_condition_kind *kind, int *index) {
    const struct {
        rfy_condition_kind kind;
        int n;
        const char *const *name;
    } group[] = {{RFY_COND_PRESSURE, p->names->n_nodes, p->names->node},
                 {RFY_COND_TURN, p->names->n_pumps, p->names->pump},
                 {RFY_COND_READING, p->names->n_gauges, p->names->gauge},
                 {RFY_COND_OPENING, p->names->n_valves, p->names->valve}};
    size_t best = 0;
    for (size_t g = 0; g < sizeof group / sizeof *group; g++)
        for (int i = 0; i < group[g].n; i++) {
            size_t n = strlen(group[g].name[i]);
            if (n <= best || strncmp(p->at, group[g].name[i], n) != 0)
                continue;
            const char *after = after_spaces(p->at + n);
            bool state =
                group[g].kind != RFY_COND_PRESSURE && after > p->at + n && is_word_at(after, "is");
            if (*after == '<' || *after == '>' || state) {
                best = n;
                *kind = group[g].kind;
                *index = i;
            }
        }
    if (best == 0 && (strncmp(p->at, "time", 4) == 0 || strncmp(p->at, "elapsed", 7) == 0)) {
        *kind = *p->at == 't' ? RFY_COND_TIME : RFY_COND_ELAPSED;
        best = *p->at == 't' ? 4 : 7;
        const char *after = after_spaces(p->at + best);
        if (*after != '<' && *after != '>')
            best = 0;
    }
    p->at += best;
    skip_spaces(p);
    return best > 0;
}

static void complain_name(parser *p) {
    const char *known = NULL;
    const struct {
        int n;
        const char *const *name;
    } group[] = {{p->names->n_nodes, p->names->node},
                 {p->names->n_pumps, p->names->pump},
                 {p->names->n_gauges, p->names->gauge}};
    for (size_t g = 0; g < 3; g++)
        for (int i = 0; i < group[g].n; i++) {
            size_t length = strlen(group[g].name[i]);
            if (strncmp(p->at, group[g].name[i], length) != 0 || !is_word_end(p->at[length]) ||
                (known && length <= strlen(known)))
                continue;
            const char *after = p->at + length;
            while (*after == ' ' || *after == '\t')
                after++;
            if (*after == '\0' || *after == ')' || *after == '=' ||
                (*after >= '0' && *after <= '9'))
                known = group[g].name[i];
        }
    if (known) {
        complain(p, "< or > and a quantity behind it: \"port < 10 Pa\"", NULL,
                 rfy_arena_printf(p->arena, "\"%s\" is compared with nothing", known));
        return;
    }
    size_t n = strcspn(p->at, "<>()");
    while (n > 0 && (p->at[n - 1] == ' ' || p->at[n - 1] == '\t'))
        n--;
    char *found = rfy_arena_strndup(p->arena, p->at, n);
    int total = p->names->n_nodes + p->names->n_pumps + p->names->n_gauges + p->names->n_valves + 2;
    int k = 0;
    const char **all = RFY_NEW(p->arena, (size_t)total, const char *);
    all[k++] = "time";
    all[k++] = "elapsed";
    for (int i = 0; i < p->names->n_nodes; i++)
        all[k++] = p->names->node[i];
    for (int i = 0; i < p->names->n_pumps; i++)
        all[k++] = p->names->pump[i];
    for (int i = 0; i < p->names->n_gauges; i++)
        all[k++] = p->names->gauge[i];
    for (int i = 0; i < p->names->n_valves; i++)
        all[k++] = p->names->valve[i];
    int near = rfy_nearest(found, all, (size_t)total);
    const char *allowed = "a chamber, pump or gauge, or \"time\" or \"elapsed\", then < or > and a "
                          "quantity: \"port < 10 Pa\"";
    const char *hint =
        near >= 0 ? rfy_arena_printf(p->arena, "did you mean \"%s\"?", all[near]) : NULL;
    if (n == 0)
        complain(p, allowed, NULL, "a comparison is missing");
    else
        complain(p, allowed, hint,
                 rfy_arena_printf(p->arena, "no chamber, pump or gauge \"%s\" to compare", found));
}

/* "is on", "is off", "is open", "is closed". */
static rfy_condition *parse_state(parser *p, rfy_condition_kind kind, int index) {
    static const char *const words[2][2] = {{"on", "off"}, {"open", "closed"}};
    const bool valve = kind == RFY_COND_OPENING;
    p->at = after_spaces(p->at + 2);
    for (int i = 0; i < 2; i++) {
        if (!take_word(p, words[valve][i]))
            continue;
        if (valve) /* a hair above shut, so that it is either one or the other */
            return rfy_condition_new(p->arena, kind, index, i == 1, 1e-6);
        return rfy_condition_new(p->arena,
                                 kind == RFY_COND_TURN ? RFY_COND_DRIVEN : RFY_COND_SWITCHED, index,
                                 i == 1, 0);
    }
    complain(p, valve ? "\"is open\" or \"is closed\"" : "\"is on\" or \"is off\"", NULL,
             rfy_arena_printf(p->arena, "\"is %.20s\" says nothing", p->at));
    return NULL;
}

/* Whether a temperature stands there; takes it. A place has a pressure and a temperature: the unit
 * says which one is meant. */
static bool take_temperature(parser *p, rfy_condition *c) {
    rfy_quantity_error error;
    size_t used = 0;
    if (c->kind != RFY_COND_PRESSURE ||
        !rfy_parse_quantity_prefix(p->units, p->at, RFY_DIM_TEMPERATURE, &c->value, &used, &error))
        return false;
    c->kind = RFY_COND_TEMPERATURE;
    p->at += used;
    skip_spaces(p);
    if (!(c->value > 0))
        complain(p, "a temperature above absolute zero", NULL, "this comparison can never change");
    return true;
}

/* What follows the name of a chamber, pump, gauge or valve, or time or elapsed. */
static rfy_condition *parse_comparison(parser *p, rfy_condition_kind kind, int index) {
    if (is_word_at(p->at, "is"))
        return parse_state(p, kind, index);
    rfy_condition *c = node_new(p, kind);
    c->index = index;
    c->below = *p->at == '<';
    p->at++;
    if (*p->at == '=')
        p->at++;
    skip_spaces(p);
    if (take_temperature(p, c))
        return c;
    rfy_quantity_error error;
    size_t used = 0;
    const bool part = kind == RFY_COND_TURN || kind == RFY_COND_OPENING;
    rfy_dim dim = part                                                ? RFY_DIM_NONE
                  : kind == RFY_COND_TIME || kind == RFY_COND_ELAPSED ? RFY_DIM_TIME
                                                                      : RFY_DIM_PRESSURE;
    if (!rfy_parse_quantity_prefix(p->units, p->at, dim, &c->value, &used, &error)) {
        complain(p, rfy_arena_strdup(p->arena, error.allowed),
                 *error.hint ? rfy_arena_strdup(p->arena, error.hint) : NULL,
                 rfy_arena_strdup(p->arena, error.what));
        return NULL;
    }
    p->at += used;
    skip_spaces(p);
    if (kind == RFY_COND_PRESSURE || kind == RFY_COND_READING) {
        if (!(c->value > 0))
            complain(p, "a pressure above zero", NULL, "this comparison can never change");
    } else if (c->value < 0 || (part && c->value > 1)) {
        complain(p,
                 kind == RFY_COND_TURN ? "0 % to 100 % of full speed"
                 : part                ? "0 % to 100 % of its open area"
                                       : "a time from zero on",
                 NULL, "this comparison can never change");
    } else if (part && ((!c->below && c->value >= 1) || (c->below && c->value <= 0))) {
        complain(p,
                 kind == RFY_COND_TURN ? "\"> 90 %\" for full speed, \"< 5 %\" for at rest"
                                       : "\"> 90 %\", or \"is open\" and \"is closed\"",
                 NULL, "this comparison can never come true");
    }
    return c;
}

static rfy_condition *parse_unary(parser *p) {
    if (p->failed)
        return NULL;
    if (++p->depth > 64) {
        complain(p, "at most 64 levels", NULL, "the condition is nested too deeply");
        return NULL;
    }
    rfy_condition *result = NULL;
    rfy_condition_kind kind = RFY_COND_TIME;
    int index = 0;
    if (take_name(p, &kind, &index)) { /* a name may begin with the word not */
        result = parse_comparison(p, kind, index);
    } else if (take_word(p, "not")) {
        rfy_condition *c = node_new(p, RFY_COND_NOT);
        c->left = parse_unary(p);
        result = c;
    } else if (*p->at == '(') {
        p->at++;
        skip_spaces(p);
        result = parse_or(p);
        if (!p->failed && *p->at != ')')
            complain(p, NULL, NULL, "a closing parenthesis is missing");
        if (*p->at == ')')
            p->at++;
        skip_spaces(p);
    } else {
        complain_name(p);
    }
    p->depth--;
    return result;
}

static rfy_condition *parse_and(parser *p) {
    rfy_condition *left = parse_unary(p);
    while (!p->failed && take_word(p, "and")) {
        rfy_condition *c = node_new(p, RFY_COND_AND);
        c->left = left;
        c->right = parse_unary(p);
        left = c;
    }
    return left;
}

static rfy_condition *parse_or(parser *p) {
    rfy_condition *left = parse_and(p);
    while (!p->failed && take_word(p, "or")) {
        rfy_condition *c = node_new(p, RFY_COND_OR);
        c->left = left;
        c->right = parse_and(p);
        left = c;
    }
    return left;
}

rfy_condition *rfy_condition_parse(rfy_arena *arena, const rfy_units *units, const rfy_names *names,
                                   const char *text, rfy_place at, rfy_problems *problems) {
    parser p = {.arena = arena,
                .units = units,
                .names = names,
                .text = text,
                .at = text,
                .place = at,
                .problems = problems};
    skip_spaces(&p);
    rfy_condition *c = parse_or(&p);
    if (!p.failed && *p.at)
        complain(&p, "comparisons joined by and, or, not", NULL,
                 rfy_arena_printf(arena, "\"%s\" does not belong", p.at));
    return p.failed ? NULL : c;
}

/* ---- guards ---- */

double rfy_condition_guard(const rfy_condition *c, const rfy_view *view) {
    double left, right, x, value = c->value;
    switch (c->kind) {
    case RFY_COND_AND:
    case RFY_COND_OR:
        left = rfy_condition_guard(c->left, view);
        right = rfy_condition_guard(c->right, view);
        return (left < right) == (c->kind == RFY_COND_AND) ? left : right;
    case RFY_COND_NOT:
        return -rfy_condition_guard(c->left, view);
    case RFY_COND_PRESSURE:
    case RFY_COND_READING:
        x = c->kind == RFY_COND_PRESSURE ? view->pressure[c->index] : view->reading[c->index];
        if (isnan(x))
            return -1;
        x = log((x > 1e-300 ? x : 1e-300) / value);
        break;
    case RFY_COND_TEMPERATURE:
        x = view->temperature[c->index] / value - 1;
        break;
    case RFY_COND_ARRIVED: /* touches zero from below at the end of the way, where it is exact */
        return -fabs(view->temperature[c->index] / value - 1);
    case RFY_COND_TURN:
        x = view->turn[c->index] - value;
        break;
    case RFY_COND_TIME:
        x = view->time - value;
        break;
    case RFY_COND_WAITED:
        x = view->waited - value;
        break;
    case RFY_COND_OPENING:
        x = view->opening[c->index] - value;
        break;
    case RFY_COND_DRIVEN:
        x = view->driven[c->index] ? 1 : -1;
        break;
    case RFY_COND_SWITCHED:
        x = view->switched[c->index] ? 1 : -1;
        break;
    case RFY_COND_CONNECTED:
        x = view->connected[c->index] ? 1 : -1;
        break;
    case RFY_COND_REARM:
        return -rfy_condition_guard(c->left, view) - 1e-6;
    default:
        x = view->elapsed - value;
        break;
    }
    return c->below ? -x : x;
}
