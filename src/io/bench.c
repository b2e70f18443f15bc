#include "io/bench.h"
#include <math.h>
#include <string.h>
#include "flow/piece.h"
#include "io/write_common.h"

enum {
    SLOT = 58,         /* px: least width of a symbol with its label */
    MOST_COLUMNS = 16, /* of a label line under a symbol */
    MOST_STEPS = 60000 /* of the search for the longest way */
};
static const double column = 6.5; /* px of 11 px sans serif */

/* ---- what there is ---- */

static int node_of(const rfy_bench *b, const char *name) {
    for (size_t i = 0; name && i < b->n_nodes; i++)
        if (strcmp(b->node[i].name, name) == 0)
            return (int)i;
    return RFY_BENCH_AIR;
}

/* Cuts a label into two lines: a kind from its measures, a name where it makes the shortest lines.
 */
static void cut_label(rfy_arena *arena, const char *text, bool is_name, const char *label[2]) {
    label[0] = text;
    label[1] = "";
    const char *blank = strchr(text, ' ');
    if (!is_name && blank) {
        label[0] = rfy_arena_strndup(arena, text, (size_t)(blank - text));
        label[1] = blank + 1;
        return;
    }
    if (rfy_text_columns(text) <= MOST_COLUMNS - 4)
        return;
    const char *best = NULL;
    for (const char *c = strchr(text, ' '); c; c = strchr(c + 1, ' ')) {
        size_t before = (size_t)(c - text), after = strlen(c + 1);
        size_t worse = before > after ? before : after;
        size_t least = best ? (size_t)(best - text) > strlen(best + 1) ? (size_t)(best - text)
                                                                       : strlen(best + 1)
                            : (size_t)-1;
        if (worse < least)
            best = c;
    }
    if (best) {
        label[0] = rfy_arena_strndup(arena, text, (size_t)(best - text));
        label[1] = best + 1;
    }
}

static void finish_symbol(rfy_bench_symbol *s) {
    int most = 0;
    for (int k = 0; k < 2; k++) {
        int n = rfy_text_columns(s->label[k]);
        most = n > most ? n : most;
    }
    most = most > MOST_COLUMNS ? MOST_COLUMNS : most;
    s->width = most * column + 12 > SLOT ? most * column + 12 : SLOT;
}

static void add_line(rfy_arena *arena, rfy_bench *b, const rfy_line_desc *line) {
    rfy_bench_edge *e = &b->edge[b->n_edges++];
    *e = (rfy_bench_edge){.name = line->name,
                          .a = node_of(b, line->between.item[0]),
                          .b = node_of(b, line->between.item[1]),
                          .n = line->pieces.n,
                          .symbol = RFY_NEW(arena, line->pieces.n, rfy_bench_symbol)};
    const rfy_piece_desc *piece = line->pieces.item;
    for (size_t i = 0; i < line->pieces.n; i++) {
        const rfy_piece_kind *kind = piece[i].variant->kind;
        rfy_piece_shape shape = {0};
        char text[256] = "";
        kind->shape(piece[i].values, &shape);
        kind->label(piece[i].values, text, sizeof text);
        rfy_bench_symbol *s = &e->symbol[i];
        *s = (rfy_bench_symbol){.kind = kind->name,
                                .name = shape.name,
                                .is_valve = shape.is_valve,
                                .on = shape.state == RFY_OPEN,
                                .about = rfy_arena_strdup(arena, text)};
        cut_label(arena, rfy_arena_strdup(arena, text), shape.name != NULL, s->label);
        finish_symbol(s);
        e->width += s->width;
    }
    if (e->a == RFY_BENCH_AIR) { /* the open end comes second */
        e->a = e->b;
        e->b = RFY_BENCH_AIR;
        for (size_t i = 0; i < e->n / 2; i++) {
            rfy_bench_symbol s = e->symbol[i];
            e->symbol[i] = e->symbol[e->n - 1 - i];
            e->symbol[e->n - 1 - i] = s;
        }
    }
}

static void add_pump(rfy_arena *arena, rfy_bench *b, const rfy_pump_desc *pump) {
    rfy_bench_edge *e = &b->edge[b->n_edges++];
    *e = (rfy_bench_edge){.name = NULL,
                          .a = node_of(b, pump->from),
                          .b = node_of(b, pump->to),
                          .pump = true,
                          .n = 1,
                          .symbol = RFY_NEW(arena, 1, rfy_bench_symbol)};
    *e->symbol = (rfy_bench_symbol){
        .kind = pump->head.variant->name,
        .name = pump->name,
        .is_pump = true,
        .on = pump->state != RFY_OFF,
        .about = rfy_arena_printf(arena, "%s, %s pump", pump->name, pump->head.variant->name)};
    cut_label(arena, pump->name, true, e->symbol->label);
    finish_symbol(e->symbol);
    e->width = e->symbol->width;
}

/* Of a reservoir, whose pressure never changes; NaN = none. */
static double held_pressure(const rfy_by_gas *reservoir) {
    double sum = 0;
    if (!reservoir->given)
        return NAN;
    for (int i = 0; i < RFY_MAX_SPECIES; i++)
        sum += isnan(reservoir->of[i]) ? 0 : reservoir->of[i];
    return isnan(reservoir->all) ? sum : reservoir->all;
}

static void collect(rfy_arena *arena, const rfy_description *d, const rfy_result *r, rfy_bench *b) {
    b->node = RFY_NEW(arena, d->chambers.n + d->junctions.n, rfy_bench_node);
    b->edge = RFY_NEW(arena, d->lines.n + d->pumps.n, rfy_bench_edge);
    const rfy_chamber_desc *chamber = d->chambers.item;
    for (size_t i = 0; i < d->chambers.n; i++)
        b->node[b->n_nodes++] =
            (rfy_bench_node){.name = chamber[i].name,
                             .chamber = rfy_chamber_index(r, chamber[i].name),
                             .reservoir = chamber[i].reservoir.given,
                             .held = held_pressure(&chamber[i].reservoir),
                             .copies = chamber[i].count > 1 ? chamber[i].count : 1};
    for (size_t i = 0; i < d->junctions.n; i++)
        b->node[b->n_nodes++] =
            (rfy_bench_node){.name = d->junctions.item[i],
                             .chamber = rfy_chamber_index(r, d->junctions.item[i]),
                             .junction = true,
                             .copies = 1};
    const rfy_line_desc *line = d->lines.item;
    for (size_t i = 0; i < d->lines.n; i++)
        if (line[i].between.n == 2)
            add_line(arena, b, &line[i]);
    const rfy_pump_desc *pump = d->pumps.item;
    for (size_t i = 0; i < d->pumps.n; i++)
        add_pump(arena, b, &pump[i]);
    const rfy_gauge_desc *gauge = d->gauges.item;
    for (size_t i = 0; i < d->gauges.n; i++) {
        int at = node_of(b, gauge[i].at);
        if (at >= 0 && b->node[at].n_gauges < RFY_BENCH_GAUGES)
            b->node[at].gauge[b->node[at].n_gauges++] = &gauge[i];
    }
}

/* ---- the longest way through what is not placed yet ---- */

typedef struct search {
    const rfy_bench *b;
    bool *seen;
    int *node, *edge; /* the way so far; edge[k] leads to node[k] */
    int n, best_n;
    int *best_node, *best_edge;
    double best;
    long steps;
} search;

/* The way is worth its length, and more when it ends at a pump that blows into the air. */
static double worth(const search *s) {
    double value = s->n;
    const rfy_bench *b = s->b;
    for (size_t e = 0; e < b->n_edges; e++)
        if (b->edge[e].pump && b->edge[e].b == RFY_BENCH_AIR && b->edge[e].a == s->node[s->n - 1])
            value += 3.5;
    for (int k = 1; k < s->n; k++)
        value += b->edge[s->edge[k]].pump ? 1 : 0;
    return value;
}

static void go_on(search *s) {
    double value = worth(s);
    if (value > s->best + 1e-9) {
        s->best = value;
        s->best_n = s->n;
        memcpy(s->best_node, s->node, (size_t)s->n * sizeof(int));
        memcpy(s->best_edge, s->edge, (size_t)s->n * sizeof(int));
    }
    int here = s->node[s->n - 1];
    for (size_t e = 0; e < s->b->n_edges && s->steps++ < MOST_STEPS; e++) {
        const rfy_bench_edge *edge = &s->b->edge[e];
        int next = edge->a == here                  ? edge->b
                   : edge->b == here && !edge->pump ? edge->a
                                                    : RFY_BENCH_AIR;
        if (next < 0 || s->seen[next] || s->b->node[next].placed)
            continue;
        s->seen[next] = true;
        s->node[s->n] = next;
        s->edge[s->n++] = (int)e;
        go_on(s);
        s->n--;
        s->seen[next] = false;
    }
}

static void start_search(rfy_arena *arena, const rfy_bench *b, search *s) {
    size_t n = b->n_nodes + 1;
    *s = (search){.b = b,
                  .seen = RFY_NEW(arena, n, bool),
                  .node = RFY_NEW(arena, n, int),
                  .edge = RFY_NEW(arena, n, int),
                  .best_node = RFY_NEW(arena, n, int),
                  .best_edge = RFY_NEW(arena, n, int),
                  .best = -1};
}

static void search_from(search *s, int start) {
    s->seen[start] = true;
    s->node[0] = start;
    s->edge[0] = -1;
    s->n = 1;
    s->steps = 0;
    go_on(s);
    s->seen[start] = false;
}

/* ---- rows ---- */

enum { MOST_SPANS = 512 };
typedef struct spans { /* columns taken in rows */
    struct {
        int row, from, to;
    } item[MOST_SPANS];
    int n;
} spans;

static bool is_free(const spans *t, int row, int from, int to) {
    for (int i = 0; i < t->n; i++)
        if (t->item[i].row == row && t->item[i].from <= to && t->item[i].to >= from)
            return false;
    return true;
}

static int take_row(spans *t, int row, int from, int to) {
    while (!is_free(t, row, from, to))
        row++;
    if (t->n < MOST_SPANS) {
        t->item[t->n].row = row;
        t->item[t->n].from = from;
        t->item[t->n++].to = to;
    }
    return row;
}

/* Places the found way beside `from` (column of the node it hangs on, to which `edge` leads), or,
 * with from = NULL, as a row of its own. */
static void place_way(rfy_bench *b, spans *taken, const search *s, rfy_bench_node *from,
                      int first_edge, bool left) {
    int step = left ? -1 : 1, at = from ? from->column + step : 0;
    int last = at + step * (s->best_n - 1), own = from ? from->column : at;
    int low = left ? last : own, high = left ? own : last;
    int row = take_row(taken, from ? from->row + 1 : b->rows, low, high);
    for (int k = 0; k < s->best_n; k++) {
        rfy_bench_node *node = &b->node[s->best_node[k]];
        node->placed = true;
        node->row = row;
        node->column = at + step * k;
        int e = k == 0 ? first_edge : s->best_edge[k];
        if (e < 0)
            continue;
        rfy_bench_edge *edge = &b->edge[e];
        edge->used = true;
        edge->row = row;
        edge->way = k == 0 ? RFY_BENCH_BELOW : RFY_BENCH_ALONG;
        edge->column = left ? node->column : node->column - 1;
        edge->turned = (edge->b == s->best_node[k]) == left;
    }
    if (from) {
        from->turns_left = from->turns_left || left;
        from->turns_right = from->turns_right || !left;
    }
    b->rows = row + 1 > b->rows ? row + 1 : b->rows;
}

static bool leads_outward(const rfy_bench *b, const search *s, int first_edge) {
    if (b->edge[first_edge].pump)
        return true;
    for (int k = 0; k < s->best_n; k++) {
        if (k > 0 && b->edge[s->best_edge[k]].pump)
            return true;
        for (size_t e = 0; e < b->n_edges; e++)
            if (b->edge[e].pump && b->edge[e].b == RFY_BENCH_AIR && b->edge[e].a == s->best_node[k])
                return true;
    }
    return false;
}

/* Branches of what is placed, until nothing hangs on it any more. */
static void place_branches(rfy_arena *arena, rfy_bench *b, spans *taken) {
    for (bool more = true; more;) {
        more = false;
        for (size_t e = 0; e < b->n_edges; e++) {
            rfy_bench_edge *edge = &b->edge[e];
            if (edge->used || edge->a < 0 || edge->b < 0)
                continue;
            bool a = b->node[edge->a].placed, c = b->node[edge->b].placed;
            if (a == c)
                continue;
            search s;
            start_search(arena, b, &s);
            search_from(&s, a ? edge->b : edge->a);
            place_way(b, taken, &s, &b->node[a ? edge->a : edge->b], (int)e,
                      !leads_outward(b, &s, (int)e));
            more = true;
        }
    }
}

/* By-passes, and what ends in the air. */
static void place_rest(rfy_bench *b, spans *taken) {
    for (int round = 0; round < 2; round++) /* exhausts beside their pumps' inlets come first */
        for (size_t e = 0; e < b->n_edges; e++) {
            rfy_bench_edge *edge = &b->edge[e];
            if (edge->used || edge->a < 0)
                continue;
            rfy_bench_node *a = &b->node[edge->a];
            if (edge->b == RFY_BENCH_AIR) {
                if (round == 0 && !edge->pump)
                    continue;
                edge->used = true;
                edge->column = a->column;
                if (is_free(taken, a->row, a->column + 1, a->column + 1)) {
                    edge->row = take_row(taken, a->row, a->column + 1, a->column + 1);
                    edge->way = RFY_BENCH_ALONG;
                    continue;
                }
                edge->way = RFY_BENCH_BELOW;
                edge->row = take_row(taken, a->row + 1, a->column, a->column + 1);
                a->turns_right = true;
            } else if (round == 1) {
                rfy_bench_node *c = &b->node[edge->b];
                int low = a->column < c->column ? a->column : c->column;
                int high = a->column < c->column ? c->column : a->column;
                int below = a->row > c->row ? a->row : c->row;
                edge->used = true;
                edge->way = RFY_BENCH_BELOW;
                edge->column = low;
                edge->turned = a->column > c->column;
                edge->row = take_row(taken, below + 1, low, high == low ? low + 1 : high);
                (edge->turned ? c : a)->turns_right = true;
                if (high == low)
                    (edge->turned ? a : c)->turns_right = true;
                else
                    (edge->turned ? a : c)->turns_left = true;
            }
            b->rows = edge->row + 1 > b->rows ? edge->row + 1 : b->rows;
        }
}

/* ---- px ---- */

static double box_width(const rfy_bench_node *n) {
    int columns = rfy_text_columns(n->name);
    columns = columns > 20 ? 20 : columns;
    double width = columns * 7.7 + 24;
    for (size_t i = 0; i < n->n_gauges; i++) {
        int own = rfy_text_columns(n->gauge[i]->name);
        double wide = (own > 18 ? 18 : own) * column + 34;
        width = wide > width ? wide : width;
    }
    return width < 84 ? 84 : width;
}

static void measure(rfy_arena *arena, rfy_bench *b) {
    int low = 0, high = 0;
    for (size_t i = 0; i < b->n_nodes; i++) {
        low = b->node[i].column < low ? b->node[i].column : low;
        high = b->node[i].column > high ? b->node[i].column : high;
    }
    for (size_t i = 0; i < b->n_nodes; i++)
        b->node[i].column -= low;
    for (size_t e = 0; e < b->n_edges; e++)
        b->edge[e].column -= low;
    b->columns = high - low + 1;
    size_t n = (size_t)b->columns + 1;
    b->column_x = RFY_NEW(arena, n, double);
    b->column_width = RFY_NEW(arena, n, double);
    b->gap_x = RFY_NEW(arena, n, double);
    b->gap_width = RFY_NEW(arena, n, double);
    b->row_y = RFY_NEW(arena, (size_t)b->rows + 1, double);
    size_t *lanes_left = RFY_NEW(arena, n, size_t), *lanes_right = RFY_NEW(arena, n, size_t);
    double *above = RFY_NEW(arena, (size_t)b->rows + 1, double);
    for (size_t i = 0; i < b->n_nodes; i++) {
        const rfy_bench_node *node = &b->node[i];
        double width = box_width(node);
        if (width > b->column_width[node->column])
            b->column_width[node->column] = width;
        double gauges = 24.0 * (double)node->n_gauges;
        above[node->row] = gauges > above[node->row] ? gauges : above[node->row];
        lanes_left[node->column] += node->turns_left;
        lanes_right[node->column] += node->turns_right;
    }
    for (size_t e = 0; e < b->n_edges; e++) {
        const rfy_bench_edge *edge = &b->edge[e];
        int title = edge->name ? rfy_text_columns(edge->name) : 0;
        double width = edge->width, wide = (title > 30 ? 30 : title) * column + 8;
        width = wide > width ? wide : width;
        if (edge->b == RFY_BENCH_AIR)
            width += 34;
        if (width + 20 > b->gap_width[edge->column])
            b->gap_width[edge->column] = width + 20;
    }
    double x = 10, y = 12;
    for (int c = 0; c < b->columns; c++) {
        double left = 12.0 * (double)lanes_left[c], right = 12.0 * (double)lanes_right[c];
        b->column_x[c] = x + left + b->column_width[c] / 2;
        x += left + b->column_width[c] + right;
        b->gap_x[c] = x;
        x += b->gap_width[c];
        lanes_left[c] = lanes_right[c] = 0;
    }
    b->width = x + 10;
    for (int row = 0; row < b->rows; row++) {
        y += (above[row] > 22 ? above[row] : 22) + 26;
        b->row_y[row] = y;
        y += 58;
    }
    b->height = y + 4;
    for (size_t i = 0; i < b->n_nodes; i++) {
        rfy_bench_node *node = &b->node[i];
        int c = node->column;
        node->x = b->column_x[c];
        node->y = b->row_y[node->row];
        if (node->turns_left)
            node->lane_left = node->x - b->column_width[c] / 2 - 8 - 12.0 * (double)lanes_left[c]++;
        if (node->turns_right)
            node->lane_right =
                node->x + b->column_width[c] / 2 + 8 + 12.0 * (double)lanes_right[c]++;
    }
}

void rfy_bench_new(rfy_arena *arena, const rfy_description *d, const rfy_result *r, rfy_bench *b) {
    *b = (rfy_bench){0};
    spans taken = {.n = 0};
    collect(arena, d, r, b);
    for (;;) { /* once, unless the bench falls into parts */
        search s;
        start_search(arena, b, &s);
        for (size_t i = 0; i < b->n_nodes; i++)
            if (!b->node[i].placed)
                search_from(&s, (int)i);
        if (s.best < 0)
            break;
        place_way(b, &taken, &s, NULL, -1, false);
        place_branches(arena, b, &taken);
    }
    place_rest(b, &taken);
    measure(arena, b);
}
