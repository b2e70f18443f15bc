#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "core/arena.h"
#include "core/text.h"
#include "core/units.h"
#include "io/write_common.h"

/* ---- numbers ---- */

rfy_word rfy_show_number(double value, int digits, bool tidy) {
    rfy_word word;
    if (!isfinite(value)) {
        snprintf(word.text, sizeof word.text, "%s", isnan(value) ? "?" : "infinite");
        return word;
    }
    if (value == 0) {
        snprintf(word.text, sizeof word.text, "0");
        return word;
    }
    /* Digits and exponent are picked out of "%e", so that no locale's decimal point gets through.
     */
    char raw[48], figure[24];
    int n = 0;
    if (digits < 1)
        digits = 1;
    if (digits > 17)
        digits = 17;
    snprintf(raw, sizeof raw, "%.*e", digits - 1, fabs(value));
    char *e = strchr(raw, 'e');
    int exponent = e ? atoi(e + 1) : 0;
    for (const char *c = raw; c != e && *c; c++)
        if (*c >= '0' && *c <= '9')
            figure[n++] = *c;
    if (tidy)
        while (n > 1 && figure[n - 1] == '0')
            n--;
    char *o = word.text;
    if (value < 0)
        *o++ = '-';
    if (exponent >= 0 && exponent <= 4) {
        for (int i = 0; i < n || i <= exponent; i++) {
            if (i == exponent + 1)
                *o++ = '.';
            *o++ = i < n ? figure[i] : '0';
        }
    } else if (exponent < 0 && exponent >= -2) {
        *o++ = '0';
        *o++ = '.';
        for (int i = -1; i > exponent; i--)
            *o++ = '0';
        for (int i = 0; i < n; i++)
            *o++ = figure[i];
    } else {
        *o++ = figure[0];
        if (n > 1)
            *o++ = '.';
        for (int i = 1; i < n; i++)
            *o++ = figure[i];
        o += snprintf(o, 8, "e%d", exponent);
    }
    *o = '\0';
    return word;
}

/* "3 h 12 min"; the smaller part is left out when it is zero. */
static rfy_word two_parts(long count, long per, const char *large, const char *small) {
    rfy_word word;
    if (count % per)
        snprintf(word.text, sizeof word.text, "%ld" RFY_GLUE "%.30s" RFY_GLUE "%02ld" RFY_GLUE "%s",
                 count / per, large, count % per, small);
    else
        snprintf(word.text, sizeof word.text, "%ld" RFY_GLUE "%s", count / per, large);
    return word;
}

rfy_word rfy_show_time(double seconds) {
    rfy_word word;
    double t = fabs(seconds);
    const char *sign = seconds < 0 ? "-" : "";
    if (!isfinite(seconds))
        snprintf(word.text, sizeof word.text, "%s", isnan(seconds) ? "?" : "never");
    else if (t == 0)
        snprintf(word.text, sizeof word.text, "0" RFY_GLUE "s");
    else if (t < 0.0995)
        snprintf(word.text, sizeof word.text, "%s%.30s" RFY_GLUE "ms", sign,
                 rfy_show_number(t * 1e3, 2, true).text);
    else if (t < 9.95)
        snprintf(word.text, sizeof word.text, "%s%.30s" RFY_GLUE "s", sign,
                 rfy_show_number(t, 2, true).text);
    else if (t < 59.5)
        snprintf(word.text, sizeof word.text, "%s%ld" RFY_GLUE "s", sign, lround(t));
    else if (t < 3599.5)
        word = two_parts(lround(t), 60, "min", "s");
    else if (t < 86370)
        word = two_parts(lround(t / 60), 60, "h", "min");
    else if (t < 2 * 365.25 * 86400)
        word = two_parts(lround(t / 3600), 24, "d", "h");
    else
        snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "years",
                 rfy_show_number(t / (365.25 * 86400), 2, true).text);
    return word;
}

rfy_word rfy_show_pressure_number(const rfy_page *page, double pascal, int digits, bool tidy) {
    if (!(pascal < RFY_LOWEST_SHOWN && pascal >= 0))
        return rfy_show_number(pascal / page->unit_Pa, digits, tidy);
    rfy_word word;
    snprintf(word.text, sizeof word.text, "<%.30s",
             rfy_show_number(RFY_LOWEST_SHOWN / page->unit_Pa, 1, true).text);
    return word;
}

rfy_word rfy_show_pressure(const rfy_page *page, double pascal, int digits) {
    rfy_word word;
    bool nothing = pascal < RFY_LOWEST_SHOWN && pascal > 0;
    snprintf(
        word.text, sizeof word.text, "%s%.30s" RFY_GLUE "%s", nothing ? "under" RFY_GLUE : "",
        rfy_show_number((nothing ? RFY_LOWEST_SHOWN : pascal) / page->unit_Pa, digits, true).text,
        page->unit);
    return word;
}

rfy_word rfy_show_load(const rfy_page *page, double pascal_m3_per_s) {
    rfy_word word;
    snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "%s",
             rfy_show_number(pascal_m3_per_s / page->load_unit_SI, 2, true).text, page->load_unit);
    return word;
}

rfy_word rfy_show_speed(double m3_per_s) {
    rfy_word word;
    snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "L/s",
             rfy_show_number(m3_per_s * 1e3, 2, true).text);
    return word;
}

rfy_word rfy_show_percent(double share) {
    rfy_word word;
    double p = 100 * share;
    if (!isfinite(p))
        snprintf(word.text, sizeof word.text, "  ?" RFY_GLUE "%%");
    else if (p < 1 && p > 0)
        snprintf(word.text, sizeof word.text, "< 1" RFY_GLUE "%%");
    else
        snprintf(word.text, sizeof word.text, "%3ld" RFY_GLUE "%%", lround(p));
    return word;
}

rfy_word rfy_say_percent(double share) {
    rfy_word padded = rfy_show_percent(share), word;
    snprintf(word.text, sizeof word.text, "%s", padded.text + strspn(padded.text, " "));
    return word;
}

/* ---- the page ---- */

rfy_status rfy_page_open(rfy_page *page, FILE *out, const rfy_write_options *options) {
    const char *unit = options && options->pressure_unit ? options->pressure_unit : "Pa";
    *page = (rfy_page){.out = out, .width = 100, .unit_Pa = 1, .load_unit_SI = 1};
    if (options) {
        page->color = options->color;
        if (options->width > 0)
            page->width = options->width < 50 ? 50 : options->width;
    }
    if (strlen(unit) >= sizeof page->unit)
        return RFY_USAGE;
    const bool pascal = strcmp(unit, "Pa") == 0;
    double factor = 1, offset = 0;
    if (!pascal) { /* the table of units is read for it */
        rfy_arena *arena = rfy_arena_new();
        rfy_quantity_error error;
        bool good =
            rfy_parse_unit(rfy_units_new(arena), unit, RFY_DIM_PRESSURE, &factor, &offset, &error);
        rfy_arena_free(arena);
        if (!good || !(factor > 0) || offset != 0)
            return RFY_USAGE;
    }
    snprintf(page->unit, sizeof page->unit, "%s", unit);
    page->unit_Pa = factor;
    /* Workshop habit: throughput in the unit of pressure times litres a second, but SI with pascal.
     */
    snprintf(page->load_unit, sizeof page->load_unit, "%s%s%s", unit, RFY_GLUE,
             pascal ? "m3/s" : "L/s");
    page->load_unit_SI = pascal ? 1 : factor * 1e-3;
    return RFY_OK;
}

rfy_status rfy_page_close(rfy_page *page) {
    return fflush(page->out) || ferror(page->out) ? RFY_IO_FAILED : RFY_OK;
}

void rfy_page_bold(rfy_page *page, bool on) {
    if (page->color)
        fputs(on ? "\033[1m" : "\033[0m", page->out);
}

/* Text from a description may hold anything: control characters must not reach a terminal, and
 * broken UTF-8 must not reach a file. */
static void put(rfy_page *page, const char *text, size_t length, bool valid) {
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        if (c == RFY_GLUE[0] || c == '\n' || c == '\t')
            c = ' ';
        else if (c < 0x20 || c == 0x7f || (c >= 0x80 && !valid))
            c = '?';
        else if (c == 0xc2 && i + 1 < length && (unsigned char)text[i + 1] < 0xa0) {
            c = '?'; /* U+0080 to U+009F: control characters too */
            i++;
        }
        putc(c, page->out);
    }
}

static bool is_valid(const char *text) {
    size_t bad;
    return rfy_utf8_valid(text, strlen(text), &bad);
}

static int columns(const char *text, size_t length, bool valid) {
    return (int)(valid ? rfy_utf8_count(text, length) : length);
}

int rfy_text_columns(const char *text) {
    return columns(text, strlen(text), is_valid(text));
}

static void new_line(rfy_page *page, int indent) {
    fprintf(page->out, "\n%*s", indent, "");
}

void rfy_page_rest(rfy_page *page, int at, int hang, const char *text) {
    bool valid = is_valid(text);
    int column = at;
    size_t gap = 0;
    for (const char *c = text; *c;) {
        if (*c == ' ') {
            gap++;
            c++;
            continue;
        }
        size_t length = strcspn(c, " ");
        int wide = columns(c, length, valid);
        if (column + (int)gap + wide > page->width && column > hang) {
            new_line(page, hang);
            column = hang;
        } else {
            fprintf(page->out, "%*s", (int)gap, "");
            column += (int)gap;
        }
        /* A word longer than the line is cut rather than left to run over the edge. */
        while (column + wide > page->width && wide > 1 && column < page->width) {
            size_t part = 0;
            while (part < length && columns(c, part + 1, valid) <= page->width - column)
                part++;
            while (valid && part < length && ((unsigned char)c[part] & 0xc0) == 0x80)
                part++;
            if (part == 0 || part >= length)
                break;
            put(page, c, part, valid);
            new_line(page, hang);
            column = hang;
            c += part;
            length -= part;
            wide = columns(c, length, valid);
        }
        put(page, c, length, valid);
        column += wide;
        c += length;
        gap = 0;
    }
    putc('\n', page->out);
}

static char *format_text(const char *format, va_list args) RFY_PRINTF(1, 0);
static char *format_text(const char *format, va_list args) {
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *text = rfy_xcalloc(n < 0 ? 1 : (size_t)n + 1, 1);
    if (n > 0)
        vsnprintf(text, (size_t)n + 1, format, args);
    return text;
}

void rfy_page_say(rfy_page *page, int first, int hang, const char *format, ...) {
    va_list args;
    va_start(args, format);
    char *text = format_text(format, args);
    va_end(args);
    fprintf(page->out, "%*s", first, "");
    rfy_page_rest(page, first, hang, text);
    free(text);
}

void rfy_page_title(rfy_page *page, const char *title) {
    rfy_page_bold(page, true);
    rfy_page_say(page, 0, 2, "%s", title && title[0] ? title : "Untitled");
    rfy_page_bold(page, false);
    putc('\n', page->out);
}

void rfy_page_heading(rfy_page *page, const char *format, ...) {
    va_list args;
    va_start(args, format);
    char *text = format_text(format, args);
    va_end(args);
    putc('\n', page->out);
    rfy_page_bold(page, true);
    rfy_page_rest(page, 0, 2, text);
    rfy_page_bold(page, false);
    free(text);
}

void rfy_page_cell(rfy_page *page, const char *text, int width, bool right) {
    bool valid = is_valid(text);
    int pad = width - columns(text, strlen(text), valid);
    if (pad < 0)
        pad = 0;
    if (right)
        fprintf(page->out, "%*s", pad, "");
    put(page, text, strlen(text), valid);
    if (!right)
        fprintf(page->out, "%*s", pad, "");
}

void rfy_page_list(rfy_page *page, const char *heading, size_t n, const char *const *text) {
    if (n == 0)
        return;
    rfy_page_heading(page, "%s", heading);
    for (size_t i = 0; i < n; i++)
        rfy_page_say(page, 2, 4, "- %s", text[i]);
}

void rfy_page_closing(rfy_page *page, const rfy_result *result) {
    rfy_page_list(page, "CARE", result->n_care, result->care);
    rfy_page_list(page, "ASSUMED, BECAUSE THE DESCRIPTION DOES NOT SAY", result->n_assumed,
                  result->assumed);
    rfy_page_list(page, "SAFETY", result->n_cautions, result->cautions);
    bool said = false;
    for (size_t i = 0; i < result->n_cautions; i++)
        said = said || strstr(result->cautions[i], "estimate");
    if (!said) {
        if (result->n_cautions == 0)
            rfy_page_heading(page, "SAFETY");
        rfy_page_say(
            page, 2, 4,
            "- This is an estimate: published outgassing data scatter by 3 to 10 times. Local "
            "rules, the makers' manuals and trained people come first.");
    }
}

long rfy_chamber_index(const rfy_result *result, const char *name) {
    for (size_t c = 0; name && c < result->n_chambers; c++)
        if (strcmp(result->chamber[c], name) == 0)
            return (long)c;
    return -1;
}

bool rfy_is_inside(const rfy_result *result, size_t chamber) {
    return result->internal && result->internal[chamber];
}

double rfy_levels_at(const rfy_result *result, long chamber) {
    for (size_t i = 0; i < result->ultimate.n_rising; i++) {
        const rfy_rising *rising = &result->ultimate.rising[i];
        if (rising->chamber == (int)chamber && result->ultimate.total &&
            rising->rate * 3600 > 0.01 * result->ultimate.total[chamber])
            return (double)NAN; /* it does not level: a hundredth more each hour */
    }
    return chamber >= 0 && result->ultimate.found && result->ultimate.total
               ? result->ultimate.total[chamber]
               : (double)NAN;
}
