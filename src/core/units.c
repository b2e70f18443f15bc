#include "core/units.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/dims.h"
#include "core/text.h"

/* ---- unit texts ---- */

typedef struct parsed {
    double numerator, denominator, offset;
    int base[RFY_N_BASES];
    int factors;
    bool shifted; /* a unit with an offset is among the factors */
    bool powered; /* and it, or the whole, is more than that unit alone */
} parsed;

typedef struct parser {
    const rfy_units *units;
    const char *text;
    size_t at;
    rfy_dim dim;
    bool prefix;          /* stop at the last complete unit instead of failing */
    size_t end, best_end; /* ends of the longest unit, and of the longest of the wanted dimension */
    parsed whole, best;
    rfy_quantity_error *error;
} parser;

/* Bytes of `token` if the text goes on with it. */
static size_t token(const char *text, const char *token) {
    size_t n = strlen(token);
    return strncmp(text, token, n) == 0 ? n : 0;
}

static size_t any_token(const char *text, const char *const *tokens) {
    for (; *tokens; tokens++)
        if (token(text, *tokens))
            return strlen(*tokens);
    return 0;
}

/* A blank, also the no-break and thin ones that typesetting puts before units. */
static size_t blank(const char *text) {
    static const char *const blanks[] = {" ", "\t", "\xC2\xA0", "\xE2\x80\x89", "\xE2\x80\xAF",
                                         NULL};
    return any_token(text, blanks);
}

static size_t blanks(const char *text) {
    size_t n = 0;
    for (size_t k; (k = blank(text + n)) > 0;)
        n += k;
    return n;
}

/* A multiplication sign between units; the dot counts only before a letter. */
static size_t times(const char *text) {
    static const char *const signs[] = {"*", "\xC2\xB7", "\xE2\x8B\x85", ".", NULL};
    return any_token(text, signs);
}

/* A superscript sign or digit: its bytes, and what it stands for in *c. */
static size_t superscript(const char *text, char *c) {
    static const char *const signs[] = {"\xC2\xB9",     "\xC2\xB2",     "\xC2\xB3",
                                        "\xE2\x81\xB0", "\xE2\x81\xB4", "\xE2\x81\xB5",
                                        "\xE2\x81\xB6", "\xE2\x81\xB7", "\xE2\x81\xB8",
                                        "\xE2\x81\xB9", "\xE2\x81\xBB", NULL};
    static const char meaning[] = "1230456789-";
    for (size_t i = 0; signs[i]; i++)
        if (token(text, signs[i])) {
            *c = meaning[i];
            return strlen(signs[i]);
        }
    return 0;
}

static bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%';
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* One letter of a unit word: bytes used; its plain spelling is appended to word (u for µ, deg for
 * °). */
static size_t letter(const char *text, char *word, size_t size) {
    static const struct {
        const char *sign, *plain;
    } special[] = {{"\xC2\xB5", "u"},
                   {"\xCE\xBC", "u"},
                   {"\xC2\xB0", "deg"},
                   {"\xC3\x85", "angstrom"},
                   {"\xE2\x84\xAB", "angstrom"}};
    size_t n = strlen(word);
    char single[2] = {text[0], '\0'}, c;
    const char *plain = single;
    size_t used = is_letter(text[0]) ? 1 : 0;
    for (size_t i = 0; !used && i < sizeof special / sizeof special[0]; i++)
        if ((used = token(text, special[i].sign)) > 0)
            plain = special[i].plain;
    if (!used && (unsigned char)text[0] >= 0x80 && !superscript(text, &c) && !times(text) &&
        !blank(text) && !token(text, "\xC3\x97"))
        used = 1; /* a letter of another script: part of the word, which will not be known */
    if (used && n + strlen(plain) + 1 <= size)
        memcpy(word + n, plain, strlen(plain) + 1);
    return used;
}

static const rfy_unit *find(const rfy_units *units, const char *symbol) {
    for (size_t i = 0; i < units->n; i++)
        if (strcmp(units->unit[i].row.symbol, symbol) == 0)
            return &units->unit[i];
    return NULL;
}

/* Copies user text for a message: at most `most` bytes, no control characters, whole code points.
 */
static void clip(char *out, size_t size, const char *text, size_t length, size_t most) {
    bool cut = length > most;
    size_t n = cut ? most : length;
    while (cut && n > 0 && ((unsigned char)text[n] & 0xC0) == 0x80)
        n--;
    if (n + 4 > size)
        n = 0;
    for (size_t i = 0; i < n; i++)
        out[i] = (unsigned char)text[i] < 0x20 || text[i] == 0x7F ? '?' : text[i];
    memcpy(out + n, cut ? "\xE2\x80\xA6" : "", cut ? 4 : 1);
}

static bool vector_is(const int *base, const rfy_dim_info *dim, bool molar) {
    for (int b = 0; b < RFY_N_BASES; b++) {
        int wanted = dim->base[b];
        /* Pa m3 = kg m2 s-2 becomes mol. */
        if (molar)
            wanted += b == RFY_BASE_M     ? -2
                      : b == RFY_BASE_KG  ? -1
                      : b == RFY_BASE_S   ? 2
                      : b == RFY_BASE_MOL ? 1
                                          : 0;
        if (base[b] != wanted)
            return false;
    }
    return true;
}

static bool is_dim(const parsed *p, rfy_dim dim) {
    return vector_is(p->base, &rfy_dims[dim], false) ||
           (rfy_dims[dim].molar && vector_is(p->base, &rfy_dims[dim], true));
}

/* The unit nearest to a word: of the wanted dimension if the word is the whole unit, else any. */
static const rfy_unit *nearest(const rfy_units *units, const char *word, rfy_dim dim, bool alone) {
    const char **name = rfy_xcalloc(units->n_spellings, sizeof *name);
    const rfy_unit *found = NULL;
    for (int wanted_only = alone; wanted_only >= 0 && !found; wanted_only--) {
        size_t n = 0;
        size_t *meaning = rfy_xcalloc(units->n_spellings, sizeof *meaning);
        for (size_t i = 0; i < units->n_spellings; i++) {
            const rfy_unit *u = &units->unit[units->meaning[i]];
            parsed p = {0};
            for (int b = 0; b < RFY_N_BASES; b++)
                p.base[b] = u->base[b];
            if (wanted_only && !is_dim(&p, dim))
                continue;
            meaning[n] = units->meaning[i];
            name[n++] = units->spelling[i];
        }
        int k = rfy_nearest(word, name, n);
        if (k >= 0)
            found = &units->unit[meaning[k]];
        free(meaning);
    }
    free(name);
    return found;
}

static bool unknown(parser *p, size_t from, size_t letters_end, const char *word) {
    if (p->prefix && p->best_end) /* nobody will see it, and the search for a hint takes time */
        return false;
    size_t begin = blanks(p->text), end = strlen(p->text);
    char shown[64];
    clip(shown, sizeof shown, p->text + from, letters_end - from, 40);
    p->error->offset = from;
    snprintf(p->error->what, sizeof p->error->what, "unit \"%s\" is not known", shown);
    snprintf(p->error->allowed, sizeof p->error->allowed, "%s", rfy_dims[p->dim].example);
    const rfy_unit *u = nearest(p->units, word, p->dim, from == begin && letters_end == end);
    if (u && end - begin < 40)
        snprintf(p->error->hint, sizeof p->error->hint, "did you mean \"%.*s%s%s\"?",
                 (int)(from - begin), p->text + begin, u->row.symbol, p->text + letters_end);
    return false;
}

static bool malformed(parser *p, const char *what) {
    p->error->offset = p->at;
    snprintf(p->error->what, sizeof p->error->what, "%s", what);
    snprintf(p->error->allowed, sizeof p->error->allowed, "%s", rfy_dims[p->dim].example);
    return false;
}

/* An exponent after a symbol: "2", "^2", "-1", "^-1", "²", "⁻¹". 1 when there is none, 0 when
 * wrong. */
static int exponent(parser *p) {
    const char *text = p->text + p->at;
    size_t n = text[0] == '^';
    bool marked = n > 0, negative = false, any = false;
    int value = 0;
    char c;
    size_t used = superscript(text + n, &c);
    if ((used && c == '-') || (text[n] == '-' && is_digit(text[n + 1])))
        negative = true, n += used ? used : 1;
    for (;; any = true) {
        if (is_digit(text[n]))
            c = text[n], used = 1;
        else if (!(used = superscript(text + n, &c)) || c == '-')
            break;
        n += used;
        value = value < 100 ? 10 * value + (c - '0') : value;
    }
    if (!any)
        return marked || negative ? 0 : 1;
    p->at += n;
    if (value < 1 || value > 9)
        return 0;
    return negative ? -value : value;
}

static void multiply(parsed *to, const rfy_unit *u, int power) {
    for (int i = 0; i < abs(power); i++) {
        if (power > 0)
            to->numerator *= u->numerator, to->denominator *= u->denominator;
        else
            to->numerator *= u->denominator, to->denominator *= u->numerator;
    }
    for (int b = 0; b < RFY_N_BASES; b++)
        to->base[b] += power * u->base[b];
    if (fabs(u->offset) > 0) {
        to->shifted = true;
        to->offset = u->offset;
        to->powered = to->powered || power != 1;
    }
    to->factors++;
}

static bool symbol(parser *p, int sign) {
    size_t from = p->at;
    char word[32] = "", full[32];
    for (size_t k; (k = letter(p->text + p->at, word, sizeof word)) > 0;)
        p->at += k;
    size_t letters_end = p->at;
    if (letters_end == from)
        return malformed(p, "a unit is missing");
    /* A symbol may hold a digit: mmH2O. */
    if (is_digit(p->text[p->at]) && is_letter(p->text[p->at + 1])) {
        size_t end = p->at + 1;
        snprintf(full, sizeof full, "%.20s%c", word, p->text[p->at]);
        for (size_t k; (k = letter(p->text + end, full, sizeof full)) > 0;)
            end += k;
        if (find(p->units, full)) {
            memcpy(word, full, sizeof word);
            p->at = letters_end = end;
        } else {
            return unknown(p, from, end, full);
        }
    }
    const rfy_unit *u = find(p->units, word);
    if (!u)
        return unknown(p, from, letters_end, word);
    int power = exponent(p);
    if (power == 0)
        return malformed(p, "an exponent is not a whole number from 1 to 9");
    multiply(&p->whole, u, sign * power);
    return true;
}

static bool product(parser *p, int sign, int depth);

static bool one_factor(parser *p, int sign, int depth) {
    p->at += blanks(p->text + p->at);
    if (p->text[p->at] != '(')
        return symbol(p, sign);
    if (depth == 4)
        return malformed(p, "too many parentheses");
    p->at++;
    if (!product(p, sign, depth + 1))
        return false;
    p->at += blanks(p->text + p->at);
    if (p->text[p->at] != ')')
        return malformed(p, "a parenthesis is not closed");
    p->at++;
    return true;
}

/* Keeps the longest unit so far, and the longest of the wanted dimension. */
static void note_end(parser *p) {
    p->end = p->at;
    if (is_dim(&p->whole, p->dim)) {
        p->best_end = p->at;
        p->best = p->whole;
    }
}

static bool product(parser *p, int sign, int depth) {
    if (!one_factor(p, sign, depth))
        return false;
    for (;;) {
        if (depth == 0)
            note_end(p);
        size_t gap = blanks(p->text + p->at);
        const char *next = p->text + p->at + gap;
        char word[32] = "";
        size_t dot = times(next);
        int next_sign = sign;
        if (*next == '/')
            p->at += gap + 1, next_sign = -sign;
        else if (dot)
            p->at += gap + dot;
        else if (gap && (*next == '(' || letter(next, word, sizeof word)))
            p->at += gap;
        else
            return true;
        if (!one_factor(p, next_sign, depth))
            return false;
    }
}

static parser begin(const rfy_units *units, const char *text, rfy_dim dim,
                    rfy_quantity_error *error) {
    return (parser){.units = units,
                    .text = text,
                    .dim = dim,
                    .error = error,
                    .whole = {.numerator = 1, .denominator = 1},
                    .best = {.numerator = 1, .denominator = 1}};
}

/* Says what a unit of another dimension is; `shown` is the quantity or the unit. */
static bool wrong_dimension(parser *p, const parsed *found, const char *shown) {
    const char *is = NULL;
    for (int d = 0; d < RFY_DIM_COUNT && !is; d++)
        if (is_dim(found, (rfy_dim)d))
            is = d == RFY_DIM_NONE ? "a ratio" : rfy_dims[d].phrase;
    p->error->offset = 0;
    if (is)
        snprintf(p->error->what, sizeof p->error->what, "\"%s\" is %s", shown, is);
    else
        snprintf(p->error->what, sizeof p->error->what, "\"%s\" is not %s", shown,
                 rfy_dims[p->dim].phrase);
    snprintf(p->error->allowed, sizeof p->error->allowed, "%s", rfy_dims[p->dim].example);
    return false;
}

/* Checks a unit against the dimension and settles its factor and offset. */
static bool settle(parser *p, parsed *u, const char *shown) {
    if (!is_dim(u, p->dim))
        return wrong_dimension(p, u, shown);
    bool alone = u->factors == 1 && !u->powered;
    if (u->shifted && !alone && p->dim != RFY_DIM_HEATING_RATE) {
        p->at = 0;
        return malformed(p, "degC and degF stand alone; in a compound unit write K");
    }
    if (p->dim == RFY_DIM_HEATING_RATE)
        u->offset = 0;
    if (u->base[RFY_BASE_MOL] != 0 && rfy_dims[p->dim].molar)
        u->numerator *= RFY_UNITS_R * RFY_UNITS_T_REF;
    return true;
}

bool rfy_parse_unit(const rfy_units *units, const char *text, rfy_dim dim, double *factor,
                    double *offset, rfy_quantity_error *error) {
    *error = (rfy_quantity_error){0};
    parser p = begin(units, text, dim, error);
    if (!product(&p, 1, 0))
        return false;
    p.at += blanks(text + p.at);
    char shown[64];
    clip(shown, sizeof shown, text, strlen(text), 40);
    if (text[p.at])
        return malformed(&p, "the unit goes on in a way that makes no unit");
    if (!settle(&p, &p.whole, shown))
        return false;
    *factor = p.whole.numerator / p.whole.denominator;
    *offset = p.whole.offset;
    return true;
}

/* ---- quantities ---- */

static bool no_number(const char *text, rfy_dim dim, rfy_quantity_error *error) {
    char shown[64];
    clip(shown, sizeof shown, text, strlen(text), 40);
    if (text[blanks(text)] == '\0')
        snprintf(error->what, sizeof error->what, "the text is empty");
    else
        snprintf(error->what, sizeof error->what, "\"%s\" does not begin with a number", shown);
    snprintf(error->allowed, sizeof error->allowed, "%s", rfy_dims[dim].example);
    error->offset = blanks(text);
    return false;
}

static bool no_unit(const char *number, size_t length, rfy_dim dim, size_t at,
                    rfy_quantity_error *error) {
    char shown[32];
    clip(shown, sizeof shown, number, length, 20);
    error->offset = at;
    snprintf(error->what, sizeof error->what, "\"%s\" has no unit", shown);
    snprintf(error->allowed, sizeof error->allowed, "%s", rfy_dims[dim].example);
    snprintf(error->hint, sizeof error->hint, "write \"%s %s\" or \"%s %s\"", shown,
             rfy_dims[dim].usual[0], shown, rfy_dims[dim].usual[1]);
    return false;
}

/* Number forms that people write and a strict reader must refuse, with the cure as hint. */
static bool odd_number(const char *text, size_t number_end, rfy_dim dim,
                       rfy_quantity_error *error) {
    const char *next = text + number_end + blanks(text + number_end);
    const char *hint = NULL;
    if (*next == ',' && is_digit(next[1]))
        hint = "decimals take a point, and thousands nothing: 1500.5";
    else if (token(next, "x10") || token(next, "*10") || token(next, "\xC3\x97") ||
             token(next, "\xC2\xB7"
                         "10") ||
             *next == '^')
        hint = "write powers of ten as in 1e-8";
    else if (is_digit(*next) || *next == '.')
        hint = "write the number in one piece: 1500.5";
    if (!hint)
        return false;
    char shown[64];
    clip(shown, sizeof shown, text, strlen(text), 40);
    error->offset = (size_t)(next - text);
    snprintf(error->what, sizeof error->what, "the number of \"%s\" cannot be read", shown);
    snprintf(error->allowed, sizeof error->allowed, "%s", rfy_dims[dim].example);
    snprintf(error->hint, sizeof error->hint, "%s", hint);
    return true;
}

static bool finish(const parser *p, const parsed *u, double value, double *si, const char *shown) {
    double result = value * u->numerator / u->denominator + u->offset;
    const char *trouble = NULL;
    if (!isfinite(value) || !isfinite(result))
        trouble = "is too large a number";
    else if (p->dim == RFY_DIM_TEMPERATURE && result < 0)
        trouble = "is below absolute zero";
    if (trouble) {
        p->error->offset = 0;
        snprintf(p->error->what, sizeof p->error->what, "\"%s\" %s", shown, trouble);
        snprintf(p->error->allowed, sizeof p->error->allowed, "%s", rfy_dims[p->dim].example);
        return false;
    }
    *si = result;
    return true;
}

static bool quantity(const rfy_units *units, const char *text, rfy_dim dim, bool prefix, double *si,
                     size_t *used, rfy_quantity_error *error) {
    *error = (rfy_quantity_error){0};
    size_t at = blanks(text);
    double value = 0;
    size_t digits = rfy_read_number(text + at, &value);
    if (digits == 0)
        return no_number(text, dim, error);
    size_t number_end = at + digits;
    const char *unit_text = text + number_end;
    size_t gap = blanks(unit_text);
    char shown[64], word[32] = "";
    if (!prefix && odd_number(text, number_end, dim, error))
        return false;
    bool has_unit = letter(unit_text + gap, word, sizeof word) > 0 || unit_text[gap] == '(';
    parser p = begin(units, unit_text, dim, error);
    p.prefix = prefix;
    bool good = has_unit && product(&p, 1, 0);
    size_t end = prefix && p.best_end ? p.best_end : p.end;
    parsed found = prefix && p.best_end ? p.best : p.whole;
    /* "16 x 2 m": the x joins two values, the first of which has no unit. */
    bool joined = prefix && !good && p.end == 0 && (word[0] == 'x' || word[0] == 'X') &&
                  !letter(unit_text + gap + 1, word, sizeof word);
    if (!has_unit || joined || (prefix && !good && p.end == 0 && dim == RFY_DIM_NONE)) {
        /* No unit at all: right for a bare number. */
        size_t rest = number_end + gap;
        clip(shown, sizeof shown, text + at, digits, 40);
        if (!prefix && text[rest]) {
            p.at = gap;
            malformed(&p, "what follows the number is not a unit");
            error->offset += number_end;
            return false;
        }
        *error = (rfy_quantity_error){0};
        p.error = error;
        parsed none = {.numerator = 1, .denominator = 1};
        if (dim != RFY_DIM_NONE && prefix && odd_number(text, number_end, dim, error))
            return false;
        if (dim != RFY_DIM_NONE)
            return no_unit(text + at, digits, dim, at, error);
        if (used)
            *used = number_end;
        return finish(&p, &none, value, si, shown);
    }
    /* "1 mbar L/sec and": a sign before the unknown word says that it was meant as a unit. */
    const char *after = unit_text + p.end + blanks(unit_text + p.end);
    bool stopped_well = prefix && p.end > 0 && (p.best_end || (*after != '/' && !times(after)));
    if (!good && !stopped_well) {
        error->offset += number_end;
        return false;
    }
    if (!prefix) {
        size_t tail = blanks(unit_text + p.at);
        if (unit_text[p.at + tail]) {
            p.at += tail;
            malformed(&p, "what follows the unit does not belong to it");
            error->offset += number_end;
            return false;
        }
    } else if (!good || p.best_end) {
        *error = (rfy_quantity_error){0};
        if (!p.best_end) {
            /* The longest complete unit is of another dimension; read it again to say which. */
            char *copy = rfy_xcalloc(end + 1, 1);
            memcpy(copy, unit_text, end);
            rfy_quantity_error ignored = {0};
            parser again = begin(units, copy, dim, &ignored);
            product(&again, 1, 0);
            found = again.whole;
            free(copy);
        }
    }
    clip(shown, sizeof shown, text + at, (prefix ? number_end + end : strlen(text)) - at, 40);
    if (!settle(&p, &found, shown)) {
        error->offset = at;
        return false;
    }
    if (used)
        *used = number_end + end;
    return finish(&p, &found, value, si, shown);
}

bool rfy_parse_quantity(const rfy_units *units, const char *text, rfy_dim dim, double *si,
                        rfy_quantity_error *error) {
    return quantity(units, text, dim, false, si, NULL, error);
}

bool rfy_parse_quantity_prefix(const rfy_units *units, const char *text, rfy_dim dim, double *si,
                               size_t *used, rfy_quantity_error *error) {
    return quantity(units, text, dim, true, si, used, error);
}
