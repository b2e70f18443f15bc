/* Values put straight where a reading has left them; anything else is read anew. */
#include "study/variation.h"
#include <stdlib.h>
#include "core/text.h"
#include "io/read_description.h"

struct rfy_variation {
    const rfy_system *system;
    size_t n;
    const char *const *path;
    rfy_arena *base, *point; /* the description as last read; what belongs to one network */
    rfy_description *description;
    rfy_slot *slot; /* [system->n_settings + n] */
    rfy_setting *setting;
    rfy_problems *problems;
    bool clean; /* every varied value has a slot of its own */
};

rfy_variation *rfy_variation_new(const rfy_system *system, const char *const *path, size_t n) {
    rfy_variation *v = rfy_xcalloc(1, sizeof *v);
    *v = (rfy_variation){.system = system,
                         .n = n,
                         .path = path,
                         .base = rfy_arena_new(),
                         .point = rfy_arena_new(),
                         .problems = rfy_problems_new(system->file)};
    return v;
}

void rfy_variation_free(rfy_variation *v) {
    if (!v)
        return;
    rfy_problems_free(v->problems);
    rfy_arena_free(v->point);
    rfy_arena_free(v->base);
    free(v);
}

static rfy_slot *own_slots(const rfy_variation *v) {
    return v->slot + v->system->n_settings;
}

/* Two settings of one place would make the earlier slot a dead one. */
static bool all_clean(const rfy_variation *v) {
    const rfy_slot *slot = own_slots(v);
    for (size_t i = 0; i < v->n; i++) {
        if (slot[i].n != 1)
            return false;
        for (size_t k = 0; k < i; k++)
            if (slot[k].at == slot[i].at)
                return false;
    }
    return true;
}

/* All over again, with the values as settings. */
static bool read_again(rfy_variation *v, const char *const *value) {
    const rfy_system *s = v->system;
    const size_t n = s->n_settings + v->n;
    rfy_arena_reset(v->base);
    rfy_problems_free(v->problems);
    v->problems = rfy_problems_new(s->file);
    v->description = NULL;
    v->slot = RFY_NEW(v->base, n, rfy_slot);
    v->setting = RFY_NEW(v->base, n, rfy_setting);
    for (size_t i = 0; i < s->n_settings; i++)
        v->setting[i] = s->setting[i];
    for (size_t i = 0; i < v->n; i++)
        v->setting[s->n_settings + i] = (rfy_setting){v->path[i], value[i]};
    bool fine = rfy_read_description_slots(v->base, s->catalog, s->text, s->length, v->setting, n,
                                           v->problems, v->slot, &v->description);
    v->clean = fine && all_clean(v);
    return fine;
}

static bool within(const rfy_field *f, double value) {
    bool limited = f->min < 0 || f->min > 0 || f->max > 0 || f->max < 0;
    return !limited || (value >= f->min && value <= f->max && !(f->above_min && value <= f->min));
}

static const rfy_network *assembled(rfy_variation *v) {
    rfy_arena_reset(v->point);
    if (rfy_problems_total(v->problems) > 0) {
        rfy_problems_free(v->problems);
        v->problems = rfy_problems_new(v->system->file);
    }
    const rfy_network *net = rfy_network_with_laws(v->point, v->system->catalog, v->description,
                                                   v->problems, v->system->network);
    return rfy_problems_errors(v->problems) > 0 ? NULL : net;
}

static bool parsed(const rfy_variation *v, const rfy_field *f, const char *text, double *value) {
    rfy_quantity_error error;
    return text && rfy_parse_quantity(v->system->catalog->units, text, f->dim, value, &error) &&
           within(f, *value) && f->type != RFY_F_INTEGER;
}

const rfy_network *rfy_variation_network(rfy_variation *v, const char *const *value) {
    bool fast = v->description && v->clean;
    for (size_t i = 0; i < v->n && fast; i++) {
        const rfy_slot *slot = &own_slots(v)[i];
        double number;
        fast = parsed(v, slot->field, value[i], &number);
        if (fast)
            *slot->at = number;
    }
    if (!fast && !read_again(v, value))
        return NULL;
    return assembled(v);
}

const rfy_network *rfy_variation_numbers(rfy_variation *v, const double *si) {
    bool fast = v->description && v->clean;
    for (size_t i = 0; i < v->n && fast; i++)
        fast = within(own_slots(v)[i].field, si[i]);
    if (fast) {
        for (size_t i = 0; i < v->n; i++)
            *own_slots(v)[i].at = si[i];
        return assembled(v);
    }
    rfy_arena *own = rfy_arena_new();
    const char **text = RFY_NEW(own, v->n, const char *);
    for (size_t i = 0; i < v->n; i++) {
        rfy_varied what;
        rfy_problems *ignored = rfy_problems_new("");
        char number[32];
        rfy_write_number(number, si[i]);
        bool known = rfy_variation_given(v->system, v->path[i], &what, ignored);
        rfy_problems_free(ignored);
        const char *unit = known ? rfy_dim_si(what.dim) : "";
        text[i] =
            *unit ? rfy_arena_printf(own, "%s %s", number, unit) : rfy_arena_strdup(own, number);
    }
    const rfy_network *net = rfy_variation_network(v, text);
    rfy_arena_free(own);
    return net;
}

const rfy_problems *rfy_variation_problems(const rfy_variation *v) {
    return v->problems;
}

static void tell(const rfy_slot *slot, rfy_varied *out) {
    const rfy_field *f = slot->field;
    *out = (rfy_varied){*slot->at, f->dim, f->min, f->max, f->key};
}

bool rfy_variation_at(const rfy_variation *v, size_t i, rfy_varied *out) {
    if (!v->description || own_slots(v)[i].n != 1)
        return false;
    tell(&own_slots(v)[i], out);
    return true;
}

bool rfy_variation_given(const rfy_system *s, const char *path, rfy_varied *out,
                         rfy_problems *problems) {
    rfy_arena *arena = rfy_arena_new();
    const size_t n = s->n_settings;
    rfy_setting *setting = RFY_NEW(arena, n + 1, rfy_setting);
    rfy_slot *slot = RFY_NEW(arena, n + 1, rfy_slot);
    rfy_description *description;
    for (size_t i = 0; i < n; i++)
        setting[i] = s->setting[i];
    setting[n] = (rfy_setting){path, NULL};
    bool good = rfy_read_description_slots(arena, s->catalog, s->text, s->length, setting, n + 1,
                                           problems, slot, &description);
    if (good && slot[n].n == 1) {
        tell(&slot[n], out);
    } else if (good) {
        rfy_place at = {0, (int)n + 1, path};
        rfy_problem_add(problems, RFY_ERROR, &at, "the path of one quantity or number", NULL,
                        "this is not a single value");
        good = false;
    }
    rfy_arena_free(arena);
    return good;
}

const rfy_spreads *rfy_variation_spreads(rfy_variation *v) {
    return v->description ? &v->description->spreads : NULL;
}
