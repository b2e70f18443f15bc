#include "io/log_cells.h"
#include <ctype.h>
#include <math.h>
#include <string.h>
#include <strings.h>
#include "core/text.h"

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

static char *trim(char *from, char *to) {
    while (from < to && is_blank(*from))
        from++;
    while (to > from && is_blank(to[-1]))
        to--;
    *to = '\0';
    return from;
}

void rfy_log_cut(char *line, char separator, rfy_log_cells *cells) {
    cells->n = 0;
    char *c = line;
    if (separator == ' ')
        while (is_blank(*c))
            c++;
    while (cells->n < RFY_LOG_MOST_CELLS && (*c || separator != ' ')) {
        char *from = c, *to;
        while (is_blank(*c) && *c != separator)
            c++;
        if (*c == '"') { /* quoted after RFC 4180, "" stands for a quote */
            from = to = ++c;
            while (*c && !(*c == '"' && c[1] != '"')) {
                if (*c == '"')
                    c++;
                *to++ = *c++;
            }
            if (*c == '"')
                c++;
            while (*c && *c != separator && !(separator == ' ' && *c == '\t'))
                c++;
        } else {
            while (*c && *c != separator && !(separator == ' ' && *c == '\t'))
                c++;
            to = c;
        }
        bool more = *c != '\0';
        if (more)
            c++;
        cells->text[cells->n++] = trim(from, to);
        if (separator == ' ')
            while (is_blank(*c))
                c++;
        if (!more)
            break;
    }
}

/* ---- what stands in a cell ---- */

typedef struct word {
    const char *text;
    rfy_log_kind kind;
} word;

static const word marks[] = {{"ol", RFY_CELL_OVER},
                             {"o.l", RFY_CELL_OVER},
                             {"o.l.", RFY_CELL_OVER},
                             {"0l", RFY_CELL_OVER},
                             {"over", RFY_CELL_OVER},
                             {"overrange", RFY_CELL_OVER},
                             {"over range", RFY_CELL_OVER},
                             {"over-range", RFY_CELL_OVER},
                             {"overload", RFY_CELL_OVER},
                             {"ovld", RFY_CELL_OVER},
                             {"ovl", RFY_CELL_OVER},
                             {"hi", RFY_CELL_OVER},
                             {"high", RFY_CELL_OVER},
                             {"or", RFY_CELL_OVER},
                             {"ur", RFY_CELL_UNDER},
                             {"lo", RFY_CELL_UNDER},
                             {"low", RFY_CELL_UNDER},
                             {"under", RFY_CELL_UNDER},
                             {"underrange", RFY_CELL_UNDER},
                             {"under range", RFY_CELL_UNDER},
                             {"under-range", RFY_CELL_UNDER},
                             {"inf", RFY_CELL_INFINITE},
                             {"infinity", RFY_CELL_INFINITE},
                             {"1.#inf", RFY_CELL_INFINITE},
                             {"\xE2\x88\x9E", RFY_CELL_INFINITE},
                             {"nan", RFY_CELL_NAN},
                             {"1.#qnan", RFY_CELL_NAN},
                             {"1.#ind", RFY_CELL_NAN},
                             {"#n/a", RFY_CELL_NAN},
                             {"n/a", RFY_CELL_NAN},
                             {"na", RFY_CELL_NAN},
                             {"#value!", RFY_CELL_NAN},
                             {"null", RFY_CELL_NAN},
                             {"none", RFY_CELL_NAN},
                             {"?", RFY_CELL_NAN},
                             {"off", RFY_CELL_OFF},
                             {"no sensor", RFY_CELL_OFF},
                             {"no gauge", RFY_CELL_OFF},
                             {"err", RFY_CELL_OFF},
                             {"error", RFY_CELL_OFF},
                             {NULL, RFY_CELL_TEXT}};

static rfy_log_kind mark_of(const char *text) {
    size_t dashes = strspn(text, "-"), stars = strspn(text, "*"), hashes = strspn(text, "#");
    if (dashes >= 2 && !text[dashes])
        return RFY_CELL_OVER;
    if (stars >= 2 && !text[stars])
        return RFY_CELL_OVER;
    if (hashes >= 2 && !text[hashes]) /* a spreadsheet column too narrow to show its number */
        return RFY_CELL_NAN;
    if (text[0] == '>' && strpbrk(text, "0123456789"))
        return RFY_CELL_OVER;
    if (text[0] == '<' && strpbrk(text, "0123456789"))
        return RFY_CELL_UNDER;
    const char *bare = text[0] == '-' || text[0] == '+' ? text + 1 : text;
    for (const word *w = marks; w->text; w++)
        if (strcasecmp(bare, w->text) == 0)
            return w->kind;
    return RFY_CELL_TEXT;
}

rfy_log_kind rfy_log_number(const char *text, char mark, double *value, const char **rest) {
    static const char minus[] = "\xE2\x88\x92";
    char plain[64];
    size_t n = 0, used = 0;
    int points = 0, commas = 0;
    *value = NAN;
    if (rest)
        *rest = "";
    if (!text[0])
        return RFY_CELL_EMPTY;
    const char *c = text;
    if (strncmp(c, minus, 3) == 0) {
        plain[n++] = '-';
        c += 3;
    } else if (*c == '+' || *c == '-') {
        if (*c == '-')
            plain[n++] = '-';
        c++;
    }
    if (!isdigit((unsigned char)*c) && !((*c == '.' || *c == ',') && isdigit((unsigned char)c[1])))
        return mark_of(text);
    for (; n + 8 < sizeof plain; c++) {
        if (isdigit((unsigned char)*c)) {
            plain[n++] = *c;
        } else if (*c == '.' || *c == ',') {
            points += *c == '.';
            commas += *c == ',';
            plain[n++] = '.';
        } else {
            break;
        }
    }
    bool exponent = (*c == 'e' || *c == 'E' || *c == 'd' || *c == 'D');
    const char *after = c + 1;
    bool minus_after = exponent && strncmp(after, minus, 3) == 0;
    bool sign = exponent && (*after == '+' || *after == '-');
    const char *digits = after + (minus_after ? 3 : sign ? 1 : 0);
    if (exponent && isdigit((unsigned char)*digits)) {
        plain[n++] = 'e';
        if (minus_after || (sign && *after == '-'))
            plain[n++] = '-';
        for (c = digits; isdigit((unsigned char)*c) && n + 1 < sizeof plain; c++)
            plain[n++] = *c;
    }
    plain[n] = '\0';
    if (isdigit((unsigned char)*c)) /* no number is that long */
        return RFY_CELL_TEXT;
    if (points + commas > 1 || (mark == '.' && commas) || (mark == ',' && points))
        return RFY_CELL_MARK;
    if (n > 0 && plain[n - 1] == '.') /* "5." */
        plain[--n] = '\0';
    used = rfy_read_number(plain, value);
    if (used != n || used == 0) {
        /* "1e999" is a number of the log, but none that can be used */
        return strchr(plain, 'e') ? RFY_CELL_INFINITE : RFY_CELL_TEXT;
    }
    if (!isfinite(*value))
        return RFY_CELL_INFINITE;
    while (is_blank(*c))
        c++;
    if (rest)
        *rest = c;
    else if (*c)
        return mark_of(text);
    return RFY_CELL_NUMBER;
}

/* ---- units ---- */

static const struct {
    const char *as, *is;
} spelling[] = {{"torr", "Torr"},
                {"mtorr", "mTorr"},
                {"micron", "micron"},
                {"microns", "micron"},
                {"pa", "Pa"},
                {"hpa", "hPa"},
                {"kpa", "kPa"},
                {"pascal", "Pa"},
                {"mbar", "mbar"},
                {"bar", "bar"},
                {"millibar", "mbar"},
                {"mmhg", "mmHg"},
                {"sec", "s"},
                {"secs", "s"},
                {"second", "s"},
                {"seconds", "s"},
                {"minute", "min"},
                {"minutes", "min"},
                {"mins", "min"},
                {"m", "min"},
                {"hour", "h"},
                {"hours", "h"},
                {"hr", "h"},
                {"hrs", "h"},
                {"msec", "ms"},
                {"day", "d"},
                {"days", "d"},
                {"c", "degC"},
                {"\xC2\xB0"
                 "c",
                 "degC"},
                {"deg c", "degC"},
                {"\xC2\xB0"
                 "f",
                 "degF"},
                {"f", "degF"},
                {"k", "K"},
                {"celsius", "degC"},
                {"sek", "s"},
                {"std", "h"}};

bool rfy_log_unit(const rfy_units *units, const char *text, size_t length, rfy_dim dim,
                  double *factor, double *offset) {
    char own[40];
    rfy_quantity_error error;
    while (length > 0 && is_blank(text[0])) {
        text++;
        length--;
    }
    while (length > 0 && is_blank(text[length - 1]))
        length--;
    if (length == 0 || length >= sizeof own)
        return false;
    memcpy(own, text, length);
    own[length] = '\0';
    if (rfy_parse_unit(units, own, dim, factor, offset, &error))
        return true;
    /* "Mbar" is a million bars, or a millibar on a keyboard without care: not taken */
    if (strcmp(own, "Mbar") == 0 || strcmp(own, "MPA") == 0 || strcmp(own, "mPA") == 0)
        return false;
    for (size_t i = 0; i < sizeof spelling / sizeof *spelling; i++)
        if (strcasecmp(own, spelling[i].as) == 0 &&
            rfy_parse_unit(units, spelling[i].is, dim, factor, offset, &error))
            return true;
    return false;
}

bool rfy_log_unit_in_name(const rfy_units *units, const char *name, rfy_dim dim, double *factor,
                          double *offset, size_t *name_length) {
    static const char open[] = "([{<", close[] = ")]}>";
    for (int i = 0; i < 4; i++) {
        const char *from = strrchr(name, open[i]), *to = from ? strchr(from, close[i]) : NULL;
        if (to && rfy_log_unit(units, from + 1, (size_t)(to - from - 1), dim, factor, offset)) {
            *name_length = (size_t)(from - name);
            return true;
        }
    }
    const char *in = strstr(name, " in ");
    if (in && rfy_log_unit(units, in + 4, strlen(in + 4), dim, factor, offset)) {
        *name_length = (size_t)(in - name);
        return true;
    }
    static const char before[] = "/_ .,:";
    for (int i = 0; before[i]; i++) {
        const char *from = strrchr(name, before[i]);
        if (from && from > name &&
            rfy_log_unit(units, from + 1, strlen(from + 1), dim, factor, offset)) {
            *name_length = (size_t)(from - name);
            return true;
        }
    }
    *name_length = strlen(name);
    /* the whole name is a unit */
    bool letter = !name[0] || (!name[1] && name[0] != 's' && name[0] != 'h');
    return !letter && rfy_log_unit(units, name, strlen(name), dim, factor, offset);
}
