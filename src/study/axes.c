#include "study/axes.h"
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include "core/text.h"
#include "study/variation.h"

enum { MOST_VALUES = 1000000 };

typedef struct reader {
    rfy_arena *arena;
    const rfy_system *system;
    rfy_problems *problems;
    const char *whole; /* the text being read, for messages */
} reader;

static bool fail(reader *r, const char *allowed, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 3, 4)))
#endif
    ;

static bool fail(reader *r, const char *allowed, const char *format, ...) {
    rfy_place at = {0, 0, r->whole};
    va_list args;
    va_start(args, format);
    const char *what = rfy_arena_vprintf(r->arena, format, args);
    va_end(args);
    rfy_problem_add(r->problems, RFY_ERROR, &at, allowed, NULL, "%s", what);
    return false;
}

/* Splits at commas outside quotes and brackets; blanks around the parts are dropped. */
static size_t split(rfy_arena *arena, const char *text, const char ***out) {
    size_t n = 1;
    for (const char *c = text; *c; c++)
        n += *c == ',';
    const char **part = RFY_NEW(arena, n, const char *), *from = text;
    int depth = 0;
    bool quoted = false;
    n = 0;
    for (const char *c = text;; c++) {
        if (*c == '"' && (c == text || c[-1] != '\\'))
            quoted = !quoted;
        depth += !quoted && (*c == '[' || *c == '{');
        depth -= !quoted && (*c == ']' || *c == '}');
        if (*c && (*c != ',' || quoted || depth > 0))
            continue;
        const char *to = c;
        while (from < to && (*from == ' ' || *from == '\t'))
            from++;
        while (to > from && (to[-1] == ' ' || to[-1] == '\t'))
            to--;
        part[n++] = rfy_arena_strndup(arena, from, (size_t)(to - from));
        from = c + 1;
        if (!*c)
            break;
    }
    *out = part;
    return n;
}

static const char *text_of(rfy_arena *arena, double si, rfy_dim dim) {
    char number[32];
    rfy_write_number(number, si);
    const char *unit = rfy_dim_si(dim);
    return *unit ? rfy_arena_printf(arena, "%s %s", number, unit) : rfy_arena_strdup(arena, number);
}

const char *rfy_axis_text(rfy_arena *arena, const rfy_axis *axis, double u) {
    return text_of(arena, rfy_law_quantile(axis->law, axis->a, axis->b, u), axis->dim);
}

/* Of which kind the value at the path is, tried with a value. */
static bool find_dim(reader *r, rfy_axis *axis, const char *value) {
    rfy_variation *v = rfy_variation_new(r->system, &axis->path, 1);
    rfy_varied what;
    bool read = rfy_variation_network(v, &value) != NULL, good = rfy_variation_at(v, 0, &what);
    if (good)
        axis->dim = what.dim;
    if (!good && !read && rfy_problems_kept(rfy_variation_problems(v)) > 0) {
        const rfy_problem *p = rfy_problems_at(rfy_variation_problems(v), 0);
        fail(r, p->allowed ? rfy_arena_strdup(r->arena, p->allowed) : NULL, "%s", p->what);
    } else if (!good) {
        fail(r, "the path of one quantity or number", "%s is not a single value", axis->path);
    }
    rfy_variation_free(v);
    return good;
}

static bool quantity(reader *r, const char *text, rfy_dim dim, double *value) {
    rfy_quantity_error error;
    if (rfy_parse_quantity(r->system->catalog->units, text, dim, value, &error))
        return true;
    return fail(r, rfy_arena_strdup(r->arena, error.allowed), "%s", error.what);
}

static bool whole_number(const char *text, size_t *n) {
    double value;
    size_t used = rfy_read_number(text, &value);
    if (used == 0 || text[used] || !(value >= 1 && value <= MOST_VALUES) || floor(value) < value)
        return false;
    *n = (size_t)value;
    return true;
}

static bool read_range(reader *r, rfy_axis *axis, const char *const *part, size_t n,
                       bool logarithmic) {
    static const char how[] = "log(1e-9 mbar L/s, 1e-6 mbar L/s, 7) or even(5 mm, 25 mm, 5)";
    double a, b;
    if (n != 3 || !whole_number(part[2], &axis->n) || axis->n < 2)
        return fail(r, how, "a range has a first and a last value and how many, at least 2");
    if (!find_dim(r, axis, part[0]) || !quantity(r, part[0], axis->dim, &a) ||
        !quantity(r, part[1], axis->dim, &b))
        return false;
    if (logarithmic && !(a > 0 && b > 0))
        return fail(r, how, "a logarithmic range lies above 0");
    axis->text = RFY_NEW(r->arena, axis->n, const char *);
    for (size_t i = 0; i < axis->n; i++) {
        double u = (double)i / (double)(axis->n - 1);
        double value = i == 0             ? a
                       : i + 1 == axis->n ? b
                       : logarithmic      ? a * pow(b / a, u)
                                          : a + (b - a) * u;
        axis->text[i] = text_of(r->arena, value, axis->dim);
    }
    return true;
}

static bool stated(reader *r, rfy_axis *axis) {
    const rfy_spreads *all = &r->system->description->spreads;
    for (size_t i = 0; i < all->n; i++)
        if (strcmp(all->item[i].path, axis->path) == 0) {
            axis->law = RFY_LAW_FACTOR;
            axis->a = *all->item[i].at;
            axis->b = all->item[i].factor;
            axis->dim = all->item[i].dim;
            return true;
        }
    return fail(r, "{\"value\": …, \"factor\": 3} in the description, or spread(value, factor)",
                "no spread is stated at %s", axis->path);
}

static bool read_law(reader *r, rfy_axis *axis, rfy_law law, const char *const *part, size_t n) {
    static const char *const how[] = {
        [RFY_LAW_EVEN] = "between(5 mm, 8 mm)",
        [RFY_LAW_LOG_EVEN] = "logbetween(1e-9 mbar L/s, 1e-7 mbar L/s)",
        [RFY_LAW_NORMAL] = "normal(60 L/s, 5 L/s): mean and standard deviation",
        [RFY_LAW_FACTOR] = "spread(1e-8 mbar L/s, 3): median, and the factor nine tenths lie in"};
    if (n != 2)
        return fail(r, how[law], "two values are wanted");
    axis->law = law;
    if (!find_dim(r, axis, part[0]) || !quantity(r, part[0], axis->dim, &axis->a) ||
        !quantity(r, part[1], law == RFY_LAW_FACTOR ? RFY_DIM_NONE : axis->dim, &axis->b))
        return false;
    if ((law == RFY_LAW_LOG_EVEN && !(axis->a > 0 && axis->b > 0)) ||
        (law == RFY_LAW_FACTOR && !(axis->a > 0 && axis->b >= 1)) ||
        (law == RFY_LAW_NORMAL && !(axis->b >= 0)))
        return fail(r, how[law], "these values cannot be");
    return true;
}

static bool read_axis(reader *r, rfy_axis *axis, const char *text) {
    static const struct {
        const char *name;
        bool sampled, logarithmic;
        rfy_law law;
    } form[] = {{"log", false, true, 0},
                {"even", false, false, 0},
                {"between", true, false, RFY_LAW_EVEN},
                {"logbetween", true, false, RFY_LAW_LOG_EVEN},
                {"normal", true, false, RFY_LAW_NORMAL},
                {"spread", true, false, RFY_LAW_FACTOR}};
    r->whole = rfy_arena_strdup(r->arena, text);
    const char *equals = strchr(text, '=');
    if (!equals || equals == text || !equals[1])
        return fail(r, "\"stem/0/bore=5 mm,6 mm\"", "PATH=VALUES is wanted");
    axis->path = rfy_arena_strndup(r->arena, text, (size_t)(equals - text));
    const char *values = equals + 1, *open = strchr(values, '(');
    size_t length = strlen(values);
    if (strcmp(values, "spread") == 0)
        return stated(r, axis);
    for (size_t i = 0; open && i < sizeof form / sizeof form[0]; i++) {
        size_t n = strlen(form[i].name);
        if ((size_t)(open - values) != n || strncmp(values, form[i].name, n) != 0)
            continue;
        if (values[length - 1] != ')')
            return fail(r, NULL, "a parenthesis is not closed");
        const char **part;
        size_t parts =
            split(r->arena, rfy_arena_strndup(r->arena, open + 1, length - n - 2), &part);
        return form[i].sampled ? read_law(r, axis, form[i].law, part, parts)
                               : read_range(r, axis, part, parts, form[i].logarithmic);
    }
    axis->n = split(r->arena, values, &axis->text);
    for (size_t i = 0; i < axis->n; i++)
        if (!axis->text[i][0])
            return fail(r, NULL, "a value is missing");
    return true;
}

static bool is_there(const rfy_axes *axes, const char *path) {
    for (size_t i = 0; i < axes->n; i++)
        if (strcmp(axes->item[i].path, path) == 0)
            return true;
    return false;
}

size_t rfy_axes_dimensions(const rfy_axes *axes) {
    return axes->n_sampled + axes->walls.n;
}

bool rfy_axes_read(rfy_axes *axes, rfy_arena *arena, const rfy_system *system,
                   const char *const *over, size_t n_over, size_t samples, bool spreads,
                   rfy_problems *problems) {
    reader r = {.arena = arena, .system = system, .problems = problems, .whole = "--over"};
    const rfy_spreads *all = &system->description->spreads;
    *axes = (rfy_axes){.grid = 1};
    axes->item = RFY_NEW(arena, n_over + all->n, rfy_axis);
    for (size_t i = 0; i < n_over; i++) {
        rfy_axis axis = {0};
        if (!read_axis(&r, &axis, over[i]))
            return false;
        if (is_there(axes, axis.path))
            return fail(&r, NULL, "%s is gone over twice", axis.path);
        axes->item[axes->n++] = axis;
        axes->n_sampled += axis.n == 0;
        if (axis.n > 0 && axes->grid > SIZE_MAX / 1024 / axis.n)
            return fail(&r, NULL, "the grid has too many points");
        axes->grid *= axis.n > 0 ? axis.n : 1;
    }
    r.whole = "--spreads";
    for (size_t i = 0; spreads && i < all->n; i++) {
        if (is_there(axes, all->item[i].path))
            continue;
        rfy_axis axis = {.path = all->item[i].path};
        stated(&r, &axis);
        axes->item[axes->n++] = axis;
        axes->n_sampled++;
    }
    if (spreads)
        axes->walls = rfy_walls_of(arena, system->network);
    const size_t dimensions = rfy_axes_dimensions(axes);
    r.whole = "--samples";
    if (dimensions > 0 && samples == 0)
        return fail(&r, "--samples 256", "how many samples?");
    if (dimensions == 0 && samples > 0)
        return fail(&r, "--spreads, or --over \"PATH=spread(1e-8 mbar L/s, 3)\"",
                    "nothing is sampled");
    if (dimensions > RFY_MOST_DRAWS)
        return fail(&r, "at most 40 sampled values: the Sobol sequence has no more",
                    "too many values are sampled");
    axes->samples = samples > 0 ? samples : 1;
    return true;
}
