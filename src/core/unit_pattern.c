#include "core/unit_pattern.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/dims.h"

#define BLANKS RFY_PATTERN_BLANKS
#define NUMBER "[+-]?(?:[0-9]+(?:\\.[0-9]+)?|\\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
#define TIMES                                                                                      \
    "(?:[ \\t\xC2\xA0\xE2\x80\x89\xE2\x80\xAF]+|" BLANKS "[*.\xC2\xB7\xE2\x8B\x85]" BLANKS ")"
#define OVER   BLANKS "/" BLANKS
#define LETTER "[A-Za-z%\xC2\xB5\xCE\xBC\xC2\xB0\xC3\x85\xE2\x84\xAB]"

enum { HIGHEST = 3 }; /* powers of a unit in a product of two that are looked at one by one */

/* Units of equal base and of the same kind of zero are one class. */
typedef struct class {
    const rfy_unit *first;
    const char *symbols; /* "(?:mm|cm)" */
} class;

typedef struct classes {
    class item[40];
    size_t n;
} classes;

static bool same_class(const rfy_unit *a, const rfy_unit *b) {
    return memcmp(a->base, b->base, sizeof a->base) == 0 &&
           (fabs(a->offset) > 0) == (fabs(b->offset) > 0);
}

/* A symbol as people may write it: the micro sign for u, the degree sign for deg. */
static const char *spelled(rfy_arena *arena, const char *symbol) {
    if (strcmp(symbol, "angstrom") == 0)
        return "(?:angstrom|\xC3\x85|\xE2\x84\xAB)";
    if (strncmp(symbol, "deg", 3) == 0)
        return rfy_arena_printf(arena, "(?:deg|\xC2\xB0)%s", symbol + 3);
    if (symbol[0] == 'u')
        return rfy_arena_printf(arena, "[u\xC2\xB5\xCE\xBC]%s", symbol + 1);
    return symbol;
}

static void sort_units(rfy_arena *arena, const rfy_units *units, classes *out) {
    out->n = 0;
    for (size_t i = 0; i < units->n; i++) {
        const rfy_unit *u = &units->unit[i];
        size_t k = 0;
        while (k < out->n && !same_class(out->item[k].first, u))
            k++;
        const char *own = spelled(arena, u->row.symbol);
        if (k < out->n)
            out->item[k].symbols = rfy_arena_printf(arena, "%s|%s", out->item[k].symbols, own);
        else if (k < sizeof out->item / sizeof *out->item)
            out->item[out->n++] = (class){u, own};
    }
}

static const char *power(rfy_arena *arena, int e) {
    static const char *const raised[] = {"", "\xC2\xB9", "\xC2\xB2", "\xC2\xB3"};
    if (e == 1)
        return "(?:\\^?(?:1|\xC2\xB9))?";
    return rfy_arena_printf(arena, "\\^?%s(?:%d|%s)", e < 0 ? "(?:-|\xE2\x81\xBB)" : "", abs(e),
                            raised[abs(e)]);
}

/* What the powers of two units come to. */
static bool makes(const rfy_unit *a, int ea, const rfy_unit *b, int eb, rfy_dim dim) {
    const rfy_dim_info *d = &rfy_dims[dim];
    bool plain = true, molar = d->molar;
    for (int k = 0; k < RFY_N_BASES; k++) {
        int is = ea * a->base[k] + (b ? eb * b->base[k] : 0);
        /* Pa m3 = kg m2 s-2 may be mol, as in units.c */
        int as_mol = d->base[k] + (k == RFY_BASE_M     ? -2
                                   : k == RFY_BASE_KG  ? -1
                                   : k == RFY_BASE_S   ? 2
                                   : k == RFY_BASE_MOL ? 1
                                                       : 0);
        plain = plain && is == d->base[k];
        molar = molar && is == as_mol;
    }
    return plain || molar;
}

static bool is_ratio(const rfy_unit *u) {
    for (int k = 0; k < RFY_N_BASES; k++)
        if (u->base[k])
            return false;
    return true;
}

static const char *either(rfy_arena *arena, const char *so_far, const char *more) {
    return *so_far ? rfy_arena_printf(arena, "%s|%s", so_far, more) : more;
}

/* One unit of that dimension, perhaps to a power. */
static const char *single_units(rfy_arena *arena, const classes *all, rfy_dim dim) {
    const char *text = "";
    for (size_t i = 0; i < all->n; i++) {
        const class *a = &all->item[i];
        bool shifted = fabs(a->first->offset) > 0 && dim != RFY_DIM_HEATING_RATE;
        for (int e = -HIGHEST; e <= HIGHEST; e++)
            if (e && (e == 1 || (!shifted && !is_ratio(a->first))) &&
                makes(a->first, e, NULL, 0, dim))
                text = either(arena, text,
                              rfy_arena_printf(arena, "(?:%s)%s", a->symbols, power(arena, e)));
    }
    return text;
}

/* Whether a product or quotient of two units is worth looking at: what cancels is not. */
static bool may_pair(const class *a, int e, const class *b, int f, rfy_dim dim) {
    bool shifted = fabs(a->first->offset) > 0 || fabs(b->first->offset) > 0;
    if (!e || !f || (shifted && dim != RFY_DIM_HEATING_RATE) || is_ratio(a->first) ||
        is_ratio(b->first) || (a == b && e != f))
        return false;
    return makes(a->first, e, b->first, f, dim);
}

/* Two units that come to that dimension. */
static const char *pairs_of_units(rfy_arena *arena, const classes *all, rfy_dim dim,
                                  const char *text) {
    for (size_t i = 0; i < all->n; i++)
        for (size_t j = 0; j < all->n; j++)
            for (int e = -HIGHEST; e <= HIGHEST; e++)
                for (int f = -HIGHEST; f <= HIGHEST; f++) {
                    const class *a = &all->item[i], *b = &all->item[j];
                    if (may_pair(a, e, b, f, dim))
                        text = either(arena, text,
                                      rfy_arena_printf(
                                          arena, "(?:%s)%s(?:" TIMES "(?:%s)%s|" OVER "(?:%s)%s)",
                                          a->symbols, power(arena, e), b->symbols, power(arena, f),
                                          b->symbols, power(arena, -f)));
                }
    return text;
}

static const char *with_number(rfy_arena *arena, const char *units, bool optional) {
    return rfy_arena_printf(arena, NUMBER "%s" BLANKS "(?:%s)%s", optional ? "(?:" : "", units,
                            optional ? ")?" : "");
}

const char *rfy_quantity_pattern_short(rfy_arena *arena, const rfy_units *units, rfy_dim dim) {
    classes all;
    sort_units(arena, units, &all);
    const char *text = single_units(arena, &all, dim);
    if (strpbrk(rfy_dims[dim].si, " /"))
        text = pairs_of_units(arena, &all, dim, text);
    return with_number(arena, text, dim == RFY_DIM_NONE);
}

const char *rfy_quantity_pattern(rfy_arena *arena, const rfy_units *units, rfy_dim dim, bool bare) {
    /* three units or more, a part of a part, a high power, parentheses */
    static const char other[] = LETTER "[^()/*.\xC2\xB7\xE2\x8B\x85 \\t]*(?:(?:" OVER "|" TIMES
                                       ")" LETTER "[^()/*.\xC2\xB7\xE2\x8B\x85 \\t]*){2,}"
                                       "|(?:%|pp[mb])[^()]+|[^()]+(?:%|pp[mb])"
                                       "|[^()]*\\([^0-9][^\"]*|" LETTER
                                       "[^\"]*\\^?[-\xE2\x81\xBB]?[4-9\xE2\x81\xB4-\xE2\x81\xB9]";
    classes all;
    sort_units(arena, units, &all);
    const char *text = single_units(arena, &all, dim);
    if (dim == RFY_DIM_NONE)
        return with_number(arena, either(arena, text, LETTER "+" OVER LETTER "+"), bare);
    text = either(arena, pairs_of_units(arena, &all, dim, text), other);
    return with_number(arena, text, bare);
}
