#include <math.h>
#include <stdio.h>
#include <string.h>
#include "io/chart.h"

double rfy_scale_place(const rfy_scale *s, double value) {
    return s->log ? log(value / s->low) / log(s->high / s->low)
                  : (value - s->low) / (s->high - s->low);
}

static bool inside(const rfy_scale *s, double value) {
    double at = rfy_scale_place(s, value);
    return at > -1e-9 && at < 1 + 1e-9;
}

/* 10⁻³; 0.1, 1 and 10 as they are. */
static void decade_label(char *label, size_t size, int exponent, bool ascii) {
    static const char *const raised[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
    if (exponent >= -1 && exponent <= 2) {
        static const char *const plain[] = {"0.1", "1", "10", "100"};
        snprintf(label, size, "%s", plain[exponent + 1]);
        return;
    }
    if (ascii) {
        snprintf(label, size, "1e%d", exponent);
        return;
    }
    char digits[12];
    snprintf(digits, sizeof digits, "%d", exponent < 0 ? -exponent : exponent);
    size_t n = (size_t)snprintf(label, size, "10%s", exponent < 0 ? "⁻" : "");
    for (const char *d = digits; *d && n < size; d++)
        n += (size_t)snprintf(label + n, size - n, "%s", raised[*d - '0']);
}

size_t rfy_scale_decades(const rfy_scale *s, double room, bool ascii, rfy_tick *tick) {
    int first = (int)floor(log10(s->low) + 1e-9), last = (int)floor(log10(s->high) + 1e-9);
    double per_decade = room / log10(s->high / s->low); /* in labels */
    int every = per_decade >= 1.2 ? 1 : (int)ceil(1.2 / per_decade);
    size_t n = 0;
    for (int e = first; e <= last; e++)
        for (int k = 1; k < 10 && n < RFY_MOST_TICKS; k++) {
            double value = k * pow(10, e);
            bool wanted = k == 1 || per_decade > 1.5 || (per_decade > 0.7 && (k == 2 || k == 5));
            if (!wanted || !inside(s, value))
                continue;
            tick[n] = (rfy_tick){.value = value, .major = k == 1};
            if (k == 1 && e % every == 0)
                decade_label(tick[n].label, sizeof tick[n].label, e, ascii);
            else if (k > 1 && per_decade > 14 && (k == 2 || k == 5)) /* hardly a decade in all */
                snprintf(tick[n].label, sizeof tick[n].label, "%g", value);
            n++;
        }
    return n;
}

static const struct {
    double time;
    const char *label;
} known[] = {{1e-3, "1 ms"},
             {1e-2, "10 ms"},
             {0.1, "0.1 s"},
             {1, "1 s"},
             {10, "10 s"},
             {60, "1 min"},
             {600, "10 min"},
             {3600, "1 h"},
             {4 * 3600, "4 h"},
             {8 * 3600, "8 h"},
             {86400, "1 d"},
             {7 * 86400, "1 week"},
             {30 * 86400.0, "30 d"},
             {365.25 * 86400, "1 year"},
             {3652.5 * 86400, "10 years"}};

static size_t log_times(const rfy_scale *s, double room, rfy_tick *tick) {
    size_t n = 0;
    double before = -1;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        double at = rfy_scale_place(s, known[i].time);
        if (at < 0 || at > 1 || (before >= 0 && (at - before) * room < 1))
            continue;
        before = at;
        tick[n] = (rfy_tick){.value = known[i].time, .major = true};
        snprintf(tick[n].label, sizeof tick[n].label, "%s", known[i].label);
        n++;
    }
    return n;
}

size_t rfy_scale_times(const rfy_scale *s, double room, rfy_tick *tick) {
    static const struct {
        double step, unit;
        const char *name;
        int parts; /* minor ticks to a step */
    } steps[] = {{1e-4, 1e-3, "ms", 5},
                 {2e-4, 1e-3, "ms", 4},
                 {5e-4, 1e-3, "ms", 5},
                 {1e-3, 1e-3, "ms", 5},
                 {2e-3, 1e-3, "ms", 4},
                 {5e-3, 1e-3, "ms", 5},
                 {1e-2, 1e-3, "ms", 5},
                 {2e-2, 1e-3, "ms", 4},
                 {5e-2, 1e-3, "ms", 5},
                 {0.1, 1, "s", 5},
                 {0.2, 1, "s", 4},
                 {0.5, 1, "s", 5},
                 {1, 1, "s", 5},
                 {2, 1, "s", 4},
                 {5, 1, "s", 5},
                 {10, 1, "s", 5},
                 {20, 1, "s", 4},
                 {30, 1, "s", 3},
                 {60, 60, "min", 6},
                 {120, 60, "min", 4},
                 {300, 60, "min", 5},
                 {600, 60, "min", 5},
                 {1200, 60, "min", 4},
                 {1800, 60, "min", 3},
                 {3600, 3600, "h", 6},
                 {7200, 3600, "h", 4},
                 {4 * 3600, 3600, "h", 4},
                 {6 * 3600, 3600, "h", 6},
                 {12 * 3600, 3600, "h", 4},
                 {86400, 86400, "d", 4},
                 {2 * 86400, 86400, "d", 4},
                 {5 * 86400, 86400, "d", 5},
                 {1e1 * 86400, 86400, "d", 5},
                 {3e1 * 86400, 86400, "d", 3},
                 {1e2 * 86400, 86400, "d", 5},
                 {365.25 * 86400, 365.25 * 86400, "a", 4},
                 {3652.5 * 86400, 365.25 * 86400, "a", 5}};
    const size_t n_steps = sizeof steps / sizeof *steps;
    if (s->log)
        return log_times(s, room, tick);
    size_t best = 0, n = 0;
    double most = room < 2 ? 2 : room > 12 ? 12 : room;
    while (best + 1 < n_steps && (s->high - s->low) / steps[best].step > most)
        best++;
    double minor = steps[best].step / steps[best].parts;
    for (double k = ceil(s->low / minor - 1e-9);
         k * minor <= s->high * (1 + 1e-12) && n < RFY_MOST_TICKS; k++) {
        bool major = fmod(k, steps[best].parts) < 0.5;
        tick[n] = (rfy_tick){.value = k * minor + 0.0, .major = major};
        if (major)
            snprintf(tick[n].label, sizeof tick[n].label, "%g %s", tick[n].value / steps[best].unit,
                     steps[best].name);
        n++;
    }
    return n;
}

/* Neighbours that are too near become a block, which stands where its members would on the average;
 * blocks that touch join (pooling of adjacent violators, as in isotonic regression). */
void rfy_spread_out(double *place, size_t n, double gap, double low, double high) {
    enum { MOST = 512 };
    double first[MOST]; /* where each block's first member would stand */
    size_t from[MOST], blocks = 0;
    if (n == 0 || n > MOST)
        return;
    for (size_t i = 0; i < n; i++) {
        first[blocks] = place[i];
        from[blocks++] = i;
        while (blocks > 1) {
            size_t a = blocks - 2, b = blocks - 1;
            double n_a = (double)(from[b] - from[a]), n_b = (double)(i + 1 - from[b]);
            if (first[a] + n_a * gap <= first[b])
                break;
            first[a] = (n_a * first[a] + n_b * (first[b] - n_a * gap)) / (n_a + n_b);
            blocks--;
        }
    }
    for (size_t b = 0; b < blocks; b++) {
        size_t end = b + 1 < blocks ? from[b + 1] : n;
        for (size_t i = from[b]; i < end; i++)
            place[i] = first[b] + (double)(i - from[b]) * gap;
    }
    for (size_t i = 0; i < n; i++) { /* the ends hold */
        double least = low + (double)i * gap;
        place[i] = place[i] < least ? least : place[i];
    }
    for (size_t i = n; i-- > 0;) {
        double most = high - (double)(n - 1 - i) * gap;
        place[i] = place[i] > most ? most : place[i];
    }
}
