#include "study/parameter.h"
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "flow/piece.h"
#include "network/leaves.h"

/* ---- tubing that meets in the same bore ----
 *
 * Pieces of equal bore merge into one stretch, and a chamber's "bore" is that of what ends there.
 * One of them changed alone would put an edge where there was none (and the flow has a kink there),
 * so they change together. */

typedef struct end {  /* one bore of a piece, a chamber, or a pump's mouth */
    const char *path; /* "stem/0/bore" */
    double bore;
    int group;
} end;

typedef struct ends {
    rfy_arena *arena;
    end *item;
    int n, cap;
} ends;

static bool is_bore(const char *key) {
    return strcmp(key, "bore") == 0 || strcmp(key, "from") == 0 || strcmp(key, "to") == 0;
}

static int add_end(ends *e, const char *path, double bore) {
    if (e->n == e->cap) {
        int more = e->cap ? 2 * e->cap : 32;
        e->item = rfy_arena_grow(e->arena, e->item, (size_t)e->cap, (size_t)more, sizeof *e->item);
        e->cap = more;
    }
    e->item[e->n] = (end){path, bore, e->n};
    return e->n++;
}

static void meet(ends *e, int a, int b) {
    if (a < 0 || b < 0 || a == b ||
        fabs(e->item[a].bore - e->item[b].bore) > 1e-9 * e->item[a].bore)
        return;
    int from = e->item[b].group, to = e->item[a].group;
    for (int i = 0; i < e->n; i++)
        if (e->item[i].group == from)
            e->item[i].group = to;
}

/* The bore of a piece at its first and last end, -1 where it has none to change. */
static void ends_of_piece(ends *e, const rfy_line_desc *line, size_t k, int *own) {
    const rfy_piece_desc *piece = (const rfy_piece_desc *)line->pieces.item + k;
    own[0] = own[1] = -1;
    for (size_t i = 0; i < piece->variant->record->n; i++) {
        const rfy_field *f = &piece->variant->record->field[i];
        if (!is_bore(f->key) || f->type != RFY_F_QUANTITY || f->dim != RFY_DIM_LENGTH)
            continue;
        double bore = *(const double *)(const void *)((const char *)piece->values + f->offset);
        if (isnan(bore))
            continue;
        int at = add_end(e, rfy_arena_printf(e->arena, "%s/%zu/%s", line->name, k, f->key), bore);
        if (strcmp(f->key, "to") != 0)
            own[0] = at;
        if (strcmp(f->key, "from") != 0)
            own[1] = at;
    }
}

static ends ends_of(rfy_arena *arena, const rfy_description *d) {
    ends e = {.arena = arena};
    const rfy_chamber_desc *chamber = d->chambers.item;
    const rfy_line_desc *line = d->lines.item;
    const rfy_pump_desc *pump = d->pumps.item;
    const size_t n = d->chambers.n;
    int *of_chamber = RFY_NEW(arena, n, int);
    for (size_t c = 0; c < n; c++)
        of_chamber[c] =
            isnan(chamber[c].bore)
                ? -1
                : add_end(&e, rfy_arena_printf(arena, "%s/bore", chamber[c].name), chamber[c].bore);
    for (size_t l = 0; l < d->lines.n; l++) {
        int before = -1;
        for (size_t k = 0; k < line[l].pieces.n; k++) {
            int own[2];
            ends_of_piece(&e, &line[l], k, own);
            meet(&e, before, own[0]);
            before = own[1];
            for (size_t c = 0; c < n; c++) {
                if (k == 0 && strcmp(line[l].between.item[0], chamber[c].name) == 0)
                    meet(&e, of_chamber[c], own[0]);
                if (k + 1 == line[l].pieces.n &&
                    strcmp(line[l].between.item[1], chamber[c].name) == 0)
                    meet(&e, of_chamber[c], own[1]);
            }
        }
    }
    for (size_t p = 0; p < d->pumps.n; p++) {
        const rfy_record *record = pump[p].head.variant->record;
        int f = rfy_field_find(record, "bore");
        double bore = NAN;
        if (f >= 0)
            bore = *(const double *)(const void *)((const char *)pump[p].head.values +
                                                   record->field[f].offset);
        for (size_t c = 0; c < n && !isnan(bore); c++)
            if (strcmp(pump[p].from, chamber[c].name) == 0)
                meet(&e, of_chamber[c],
                     add_end(&e, rfy_arena_printf(arena, "%s/bore", pump[p].name), bore));
    }
    return e;
}

/* Adds the paths that change with the parameter's own. */
static void join(const ends *e, rfy_parameter *p) {
    int own = -1;
    size_t n = 0;
    for (int i = 0; i < e->n; i++)
        if (strcmp(e->item[i].path, p->path[0]) == 0)
            own = i;
    if (own < 0)
        return;
    const char **path = RFY_NEW(e->arena, (size_t)e->n, const char *);
    path[n++] = p->path[0];
    for (int i = 0; i < e->n; i++)
        if (i != own && e->item[i].group == e->item[own].group)
            path[n++] = e->item[i].path;
    p->path = path;
    p->n_paths = n;
}

/* ---- one parameter ---- */

/* The key as people say it. */
static const char *spaced(rfy_arena *arena, const char *key, rfy_dim dim) {
    static const char *const said[][2] = {{"run_up", "run-up time"},
                                          {"coast_down", "coast-down time"},
                                          {"moves_in", "moving time"},
                                          {"cool", "cooling rate"},
                                          {"ramp", "heating rate"},
                                          {"soak", "soaking time"},
                                          {"from", "width at the first end"},
                                          {"to", "width at the second end"},
                                          {"pumped_for", "time under vacuum before"}};
    if (dim == RFY_DIM_TIME && strcmp(key, "from") == 0)
        return "beginning";
    if (dim == RFY_DIM_TIME && strcmp(key, "to") == 0)
        return "end";
    for (size_t i = 0; i < sizeof said / sizeof *said; i++)
        if (strcmp(key, said[i][0]) == 0)
            return said[i][1];
    char *text = rfy_arena_strdup(arena, key);
    for (char *c = text; *c; c++)
        if (*c == '_')
            *c = ' ';
    return text;
}

static const char *const *one_path(rfy_arena *arena, const char *path) {
    const char **list = RFY_NEW(arena, 1, const char *);
    list[0] = path;
    return list;
}

/* "stem/0/bore" for "stem/pieces/0/bore" and for a piece's own name, so that one number has one
 * path. */
static const char *plain_path(rfy_arena *arena, const rfy_description *d, const char *path) {
    const rfy_line_desc *line = d->lines.item;
    for (size_t l = 0; l < d->lines.n; l++) {
        const rfy_piece_desc *piece = line[l].pieces.item;
        const size_t length = strlen(line[l].name);
        bool in_line = strncmp(path, line[l].name, length) == 0 && path[length] == '/';
        const char *rest = in_line ? path + length + 1 : path;
        if (in_line && strncmp(rest, "pieces/", 7) == 0)
            rest += 7;
        if (in_line && *rest >= '0' && *rest <= '9')
            return rfy_arena_printf(arena, "%s/%s", line[l].name, rest);
        for (size_t k = 0; k < line[l].pieces.n; k++) {
            int f = rfy_field_find(piece[k].variant->record, "name");
            const char *name =
                f < 0 ? NULL
                      : *(const char *const *)(const void
                                                   *)((const char *)piece[k].values +
                                                      piece[k].variant->record->field[f].offset);
            const size_t n = name ? strlen(name) : 0;
            if (name && strncmp(rest, name, n) == 0 && rest[n] == '/')
                return rfy_arena_printf(arena, "%s/%zu%s", line[l].name, k, rest + n);
        }
    }
    return path;
}

bool rfy_parameter_find(rfy_arena *arena, const rfy_system *system, const char *path,
                        rfy_problems *problems, rfy_parameter *out) {
    rfy_leaves *leaves = RFY_NEW(arena, 1, rfy_leaves);
    /* the leaves of the system's own description are only looked at here */
    const char *why = rfy_leaves_find(arena, system->catalog,
                                      (rfy_description *)(size_t)system->description, path, leaves);
    if (why) {
        rfy_place at = {0, 0, path};
        rfy_problem_add(problems, RFY_ERROR, &at, NULL, NULL, "%s", why);
        return false;
    }
    *out = (rfy_parameter){.part = leaves->part,
                           .key = leaves->key,
                           .n_paths = 1,
                           .path = one_path(arena, plain_path(arena, system->description, path)),
                           .dim = leaves->dim,
                           .value = *leaves->number[0]};
    out->name =
        rfy_arena_printf(arena, "%s of %s", spaced(arena, leaves->key, leaves->dim), leaves->part);
    ends e = ends_of(arena, system->description);
    if (is_bore(out->key))
        join(&e, out);
    return true;
}

const rfy_description *rfy_parameter_scaled(rfy_arena *arena, const rfy_system *system,
                                            const rfy_parameter *parameter, double factor) {
    rfy_description *copy = rfy_description_copy(arena, system->description);
    rfy_leaves *leaves = RFY_NEW(arena, 1, rfy_leaves);
    for (size_t i = 0; i < parameter->n_paths; i++) {
        if (rfy_leaves_find(arena, system->catalog, copy, parameter->path[i], leaves))
            continue;
        for (size_t k = 0; k < leaves->n; k++)
            *leaves->number[k] *= factor;
    }
    return copy;
}

/* ---- all of them ---- */

typedef struct collector {
    rfy_arena *arena;
    rfy_parameter *item;
    size_t n, cap;
    ends ends;
} collector;

/* What nobody changes to pump faster, and limits that change nothing of the course. */
static bool is_left_out(const rfy_field *f) {
    static const char *const keys[] = {"start",    "reservoir",  "temperature",
                                       "exponent", "energies",   "foreline_limit",
                                       "overload", "cell_error", "angle"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (strcmp(f->key, keys[i]) == 0)
            return true;
    return f->type == RFY_F_NUMBER && strcmp(f->key, "layers") != 0;
}

static void collect(void *context, const char *path, const char *label, const rfy_field *f,
                    const double *number) {
    collector *c = context;
    if (is_left_out(f) || !(fabs(*number) > 0))
        return;
    for (size_t i = 0; i < c->n; i++) /* changes with an earlier one */
        for (size_t k = 0; k < c->item[i].n_paths; k++)
            if (strcmp(c->item[i].path[k], path) == 0)
                return;
    if (c->n == c->cap) {
        size_t more = c->cap ? 2 * c->cap : 32;
        c->item = rfy_arena_grow(c->arena, c->item, c->cap, more, sizeof *c->item);
        c->cap = more;
    }
    rfy_parameter *p = &c->item[c->n++];
    const char *slash = strchr(path, '/');
    *p = (rfy_parameter){.part = rfy_arena_strndup(c->arena, path, (size_t)(slash - path)),
                         .key = f->key,
                         .n_paths = 1,
                         .path = one_path(c->arena, path),
                         .dim = f->type == RFY_F_CURVE ? f->dim2 : f->dim,
                         .value = *number};
    p->name = rfy_arena_printf(c->arena, "%s of %s", spaced(c->arena, f->key, f->dim), label);
    if (is_bore(f->key))
        join(&c->ends, p);
    if (p->n_paths > 1)
        p->name = rfy_arena_printf(c->arena, "bore of %s", p->part);
}

const rfy_parameter *rfy_parameters_all(rfy_arena *arena, const rfy_system *system, size_t *n) {
    static const char *const lists[] = {"lines", "pumps", "chambers", "sources", "bakes"};
    collector c = {.arena = arena, .ends = ends_of(arena, system->description)};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        rfy_leaves_walk(arena, system->description, lists[i], collect, &c);
    *n = c.n;
    return c.item;
}
