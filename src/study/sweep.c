/* Many points of one description, or many descriptions, each to one line. */
#include <gsl/gsl_qrng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "study/axes.h"
#include "study/line.h"
#include "study/stream.h"
#include "study/variation.h"

/* What is kept for each thread, made by the thread itself. */
typedef struct hand {
    rfy_variation *variation;
    rfy_arena *arena;
} hand;

typedef struct sweep {
    const rfy_sweep_options *options;
    rfy_status status;
    unsigned long long mark; /* of everything that decides what the lines say */
    hand hands[RFY_STREAM_WORKERS];
    /* a grid with samples */
    const rfy_system *system;
    const char **path;
    rfy_axes axes;
    size_t begin, end; /* points of this shard */
    gsl_qrng *sobol;
    size_t drawn; /* of the sequence since its beginning */
    /* descriptions */
    char *(*next)(void *from, size_t *length);
    void *from;
    const rfy_catalog *catalog;
    const rfy_setting *settings;
    size_t n_settings;
    /* both */
    size_t skipped; /* lines that were there already */
    bool may_skip;
    rfy_arena *head_arena;
    size_t all;
} sweep;

typedef struct item {
    size_t point;
    double u[RFY_MOST_DRAWS];
    char *text; /* a description */
    size_t length;
    unsigned long long mark;
} item;

/* ---- what tells one sweep from another ---- */

/* FNV-1a (Fowler, Noll and Vo 1991), 64 bits. */
static unsigned long long mix(unsigned long long h, const void *data, size_t n) {
    const unsigned char *byte = data;
    for (size_t i = 0; i < n; i++)
        h = (h ^ byte[i]) * 1099511628211ULL;
    return (h ^ 0xFF) * 1099511628211ULL; /* the end counts too */
}

static unsigned long long mark_of(const rfy_sweep_options *o, const char *text, size_t length,
                                  const rfy_setting *settings, size_t n_settings) {
    unsigned long long h = mix(14695981039346656037ULL, RAREFY_VERSION, strlen(RAREFY_VERSION));
    h = mix(h, text, length);
    for (size_t i = 0; i < n_settings; i++) {
        h = mix(h, settings[i].path, strlen(settings[i].path));
        h = mix(h, settings[i].value, strlen(settings[i].value));
    }
    for (size_t i = 0; i < o->n_over; i++)
        h = mix(h, o->over[i], strlen(o->over[i]));
    h = mix(h, &o->samples, sizeof o->samples);
    h = mix(h, &o->tolerance, sizeof o->tolerance);
    const char flags[2] = {(char)o->spreads, (char)o->ultimate};
    return mix(h, flags, sizeof flags);
}

/* Whether the line is there already. */
static bool is_there(sweep *s, size_t point, unsigned long long mark) {
    if (!s->may_skip || !s->options->have)
        return false;
    rfy_arena_reset(s->head_arena);
    int have = s->options->have(s->options->context, rfy_line_head(s->head_arena, point, mark));
    if (have < 0)
        s->status = RFY_USAGE;
    s->may_skip = have > 0;
    s->skipped += have > 0;
    return have > 0;
}

/* ---- points of a grid ---- */

/* The sample's place in the sequence; points come in order, so that this mostly draws one. */
static void draw(sweep *s, size_t sample, double *u) {
    if (!s->sobol)
        return;
    if (sample < s->drawn) {
        gsl_qrng_init(s->sobol);
        s->drawn = 0;
    }
    while (s->drawn <= sample) {
        gsl_qrng_get(s->sobol, u);
        s->drawn++;
    }
}

static bool next_point(void *context, size_t i, void *to) {
    sweep *s = context;
    item *it = to;
    while (i + s->skipped < s->end - s->begin && is_there(s, s->begin + i + s->skipped, s->mark)) {
    }
    it->point = s->begin + i + s->skipped;
    if (it->point >= s->end || s->status != RFY_OK)
        return false;
    draw(s, it->point % s->axes.samples, it->u);
    it->mark = s->mark;
    return true;
}

static hand *own(sweep *s, int worker) {
    hand *h = &s->hands[worker];
    if (!h->arena) {
        h->arena = rfy_arena_new();
        if (s->system)
            h->variation = rfy_variation_new(s->system, s->path, s->axes.n);
    }
    rfy_arena_reset(h->arena);
    return h;
}

static bool work_point(void *context, int worker, size_t i, void *from, FILE *out) {
    sweep *s = context;
    const item *it = from;
    hand *h = own(s, worker);
    const char **value = RFY_NEW(h->arena, s->axes.n, const char *);
    size_t rest = it->point / s->axes.samples, dimension = 0;
    (void)i;
    for (size_t k = s->axes.n; k-- > 0;)
        if (s->axes.item[k].n > 0) {
            value[k] = s->axes.item[k].text[rest % s->axes.item[k].n];
            rest /= s->axes.item[k].n;
        }
    for (size_t k = 0; k < s->axes.n; k++)
        if (s->axes.item[k].n == 0)
            value[k] = rfy_axis_text(h->arena, &s->axes.item[k], it->u[dimension++]);
    rfy_line_of line = {.head = rfy_line_head(h->arena, it->point, it->mark),
                        .n = s->axes.n,
                        .path = s->path,
                        .value = value,
                        .walls = &s->axes.walls,
                        .u = it->u + dimension,
                        .net = rfy_variation_network(h->variation, value),
                        .problems = rfy_variation_problems(h->variation)};
    rfy_point point = {0};
    if (line.net) {
        rfy_point_options o = {.tolerance = s->options->tolerance,
                               .ultimate = s->options->ultimate,
                               .stop = s->options->stop};
        if (s->axes.walls.n > 0)
            o.wall_scales = rfy_walls_scales(h->arena, &s->axes.walls, line.net, it->u + dimension);
        rfy_point_run(h->arena, line.net, &o, &point);
        line.point = &point;
        if (point.status == RFY_INTERRUPTED)
            return false;
    }
    return rfy_line_write(out, &line);
}

/* ---- descriptions, one a line ---- */

static bool next_line(void *context, size_t i, void *to) {
    sweep *s = context;
    item *it = to;
    for (;;) {
        it->text = s->next(s->from, &it->length);
        if (!it->text)
            return false;
        it->mark = mark_of(s->options, it->text, it->length, s->settings, s->n_settings);
        if (!is_there(s, s->options->first + i + s->skipped, it->mark))
            break;
        free(it->text);
        it->text = NULL;
    }
    it->point = s->options->first + i + s->skipped;
    if (s->status == RFY_OK)
        return true;
    free(it->text);
    it->text = NULL;
    return false;
}

static bool work_line(void *context, int worker, size_t i, void *from, FILE *out) {
    sweep *s = context;
    item *it = from;
    hand *h = own(s, worker);
    rfy_problems *problems = rfy_problems_new("line");
    rfy_system *system = NULL;
    (void)i;
    rfy_system_read_sharing(&system, s->catalog, it->text, it->length, s->settings, s->n_settings,
                            problems);
    rfy_line_of line = {.head = rfy_line_head(h->arena, it->point, it->mark),
                        .net = system ? system->network : NULL,
                        .problems = problems};
    rfy_point point = {0};
    bool good = true;
    if (line.net) {
        rfy_point_options o = {.tolerance = s->options->tolerance,
                               .ultimate = s->options->ultimate,
                               .stop = s->options->stop};
        rfy_point_run(h->arena, line.net, &o, &point);
        line.point = &point;
        good = point.status != RFY_INTERRUPTED;
    }
    good = good && rfy_line_write(out, &line);
    rfy_system_free(system);
    rfy_problems_free(problems);
    free(it->text);
    it->text = NULL;
    return good;
}

/* ---- both ---- */

static bool take(void *context, size_t i, const char *line, size_t length) {
    sweep *s = context;
    bool good = s->options->take(s->options->context, line, length);
    if (!good)
        s->status = RFY_IO_FAILED;
    else if (s->options->progress)
        s->options->progress(s->options->context, s->skipped + i + 1, s->all);
    return good;
}

static rfy_status run(sweep *s, bool lines) {
    rfy_stream stream = {.threads = s->options->jobs,
                         .item_size = sizeof(item),
                         .next = lines ? next_line : next_point,
                         .work = lines ? work_line : work_point,
                         .take = take,
                         .stop = s->options->stop,
                         .context = s};
    bool whole;
    s->may_skip = true;
    s->head_arena = rfy_arena_new();
    rfy_stream_run(&stream, &whole);
    for (int i = 0; i < RFY_STREAM_WORKERS; i++) {
        rfy_variation_free(s->hands[i].variation);
        rfy_arena_free(s->hands[i].arena);
    }
    rfy_arena_free(s->head_arena);
    if (s->status != RFY_OK)
        return s->status;
    return whole ? RFY_OK : RFY_INTERRUPTED;
}

rfy_status rfy_sweep(const rfy_system *system, const rfy_sweep_options *options,
                     rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    sweep *s = RFY_NEW(arena, 1, sweep);
    s->options = options;
    s->system = system;
    rfy_status status = RFY_USAGE;
    if (!rfy_axes_read(&s->axes, arena, system, options->over, options->n_over, options->samples,
                       options->spreads, problems))
        goto done;
    rfy_place at = {0, 0, "--shard"};
    if (options->shards > 0 && (options->shard < 1 || options->shard > options->shards)) {
        rfy_problem_add(problems, RFY_ERROR, &at, "from 1/N to N/N", NULL, "there is no such part");
        goto done;
    }
    s->path = RFY_NEW(arena, s->axes.n, const char *);
    for (size_t i = 0; i < s->axes.n; i++)
        s->path[i] = s->axes.item[i].path;
    size_t n = s->axes.grid * s->axes.samples, parts = options->shards ? options->shards : 1,
           part = options->shards ? options->shard - 1 : 0;
    /* parts differ by one point at most; the division first, so that nothing overflows */
    size_t share = n / parts, more = n % parts;
    s->begin = share * part + (part < more ? part : more);
    s->end = s->begin + share + (part < more);
    s->all = s->end - s->begin;
    s->mark = mark_of(options, system->text, system->length, system->setting, system->n_settings);
    if (rfy_axes_dimensions(&s->axes) > 0)
        s->sobol = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)rfy_axes_dimensions(&s->axes));
    status = run(s, false);
    if (s->sobol)
        gsl_qrng_free(s->sobol);
done:
    rfy_arena_free(arena);
    return status;
}

rfy_status rfy_sweep_lines(char *(*next)(void *context, size_t *length), void *from,
                           const rfy_setting *settings, size_t n_settings,
                           const rfy_sweep_options *options) {
    rfy_arena *arena = rfy_arena_new();
    sweep *s = RFY_NEW(arena, 1, sweep);
    s->options = options;
    s->next = next;
    s->from = from;
    s->catalog = rfy_catalog_new(arena);
    s->settings = settings;
    s->n_settings = n_settings;
    rfy_status status = run(s, true);
    rfy_arena_free(arena);
    return status;
}
