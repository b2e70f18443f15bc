/* The series as comma-separated values: time, chambers, gauges, then partial pressures. Lines end
 * in "\n"; names are quoted as RFC 4180, section 2, rules 5 to 7 say. An unknown value is an empty
 * field. */
#include <math.h>
#include <string.h>
#include "core/text.h"
#include "io/write_common.h"

/* `name` (and gas) with the unit, quoted when it holds a comma, a quote or a line end. */
static void put_name(FILE *out, const char *name, const char *gas, const char *unit) {
    const char *part[] = {name, gas ? " " : "", gas ? gas : "", "_", unit};
    bool quote = false;
    for (size_t i = 0; i < sizeof part / sizeof part[0]; i++)
        quote = quote || strpbrk(part[i], ",\"\r\n");
    fputs(quote ? ",\"" : ",", out);
    for (size_t i = 0; i < sizeof part / sizeof part[0]; i++)
        for (const char *c = part[i]; *c; c++) {
            if (*c == '"')
                putc('"', out);
            putc(*c, out);
        }
    if (quote)
        putc('"', out);
}

static void put_value(FILE *out, double value) {
    char buffer[32];
    putc(',', out);
    if (isfinite(value))
        fputs(rfy_write_number(buffer, value), out);
}

/* The band in place of the one curve: three columns for each chamber with a target. */
static void write_band(FILE *out, const rfy_page *page, const rfy_band *b) {
    static const char *const part[] = {"5 %", "50 %", "95 %"};
    fputs("time_s", out);
    for (size_t c = 0; c < b->n_chambers; c++)
        for (int k = 0; k < 3; k++)
            put_name(out, b->chamber[c].name, part[k], page->unit);
    putc('\n', out);
    for (size_t i = 0; i < b->n_times; i++) {
        char buffer[32];
        fputs(rfy_write_number(buffer, b->time[i]), out);
        for (size_t c = 0; c < b->n_chambers; c++) {
            const rfy_quantiles *q = &b->chamber[c].pressure[i];
            const double value[3] = {q->low, q->median, q->high};
            for (int k = 0; k < 3; k++)
                put_value(out, value[k] / page->unit_Pa);
        }
        putc('\n', out);
    }
}

rfy_status rfy_write_run_csv(FILE *out, const rfy_result *r, const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    if (r->band) {
        write_band(out, &page, r->band);
        return rfy_page_close(&page);
    }
    fputs("time_s", out);
    for (size_t c = 0; c < r->n_chambers; c++)
        if (!rfy_is_inside(r, c))
            put_name(out, r->chamber[c], NULL, page.unit);
    for (size_t g = 0; g < r->n_gauges; g++)
        put_name(out, r->gauge[g], NULL, page.unit);
    for (size_t c = 0; c < r->n_chambers; c++)
        for (size_t g = 0; g < r->n_gases && !rfy_is_inside(r, c); g++)
            put_name(out, r->chamber[c], r->gas[g], page.unit);
    putc('\n', out);
    for (size_t i = 0; i < r->n_times; i++) {
        char buffer[32];
        fputs(rfy_write_number(buffer, r->time[i]), out);
        for (size_t c = 0; c < r->n_chambers; c++)
            if (!rfy_is_inside(r, c))
                put_value(out, r->pressure[i * r->n_chambers + c] / page.unit_Pa);
        for (size_t g = 0; g < r->n_gauges; g++)
            put_value(out, r->gauge_reading[i * r->n_gauges + g] / page.unit_Pa);
        for (size_t c = 0; c < r->n_chambers; c++)
            for (size_t g = 0; g < r->n_gases && !rfy_is_inside(r, c); g++)
                put_value(out, r->partial[(i * r->n_chambers + c) * r->n_gases + g] / page.unit_Pa);
        putc('\n', out);
    }
    return rfy_page_close(&page);
}
