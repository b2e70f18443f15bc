/* What is held in walls, getters and ice. */
#include <math.h>
#include "io/write_common.h"

enum { MOST = 10 };

static const double gas_of_a_mole = 8.31446261815324 * 293.15; /* Pa m3 at 20 degC */

/* Weighable amounts in grams, others as gas. */
static rfy_word amount(const rfy_held *held, double moles) {
    rfy_word word;
    double grams = moles * held->molar_mass * 1e3;
    bool weighed = fmax(held->start, held->end) * held->molar_mass >= 1e-4;
    double shown = weighed ? grams : moles * gas_of_a_mole;
    if (shown < (weighed ? 1e-3 : 1e-12))
        snprintf(word.text, sizeof word.text, "none");
    else
        snprintf(word.text, sizeof word.text, "%.40s" RFY_GLUE "%s",
                 rfy_show_number(shown, 2, true).text, weighed ? "g" : "Pa" RFY_GLUE "m3");
    return word;
}

void rfy_page_held(rfy_page *page, const rfy_result *r) {
    size_t shown = 0, some = 0;
    for (size_t i = 0; i < r->n_held; i++)
        some += fmax(r->held[i].start, r->held[i].end) * gas_of_a_mole > 1e-12;
    if (some == 0)
        return;
    rfy_page_heading(page, "WHAT IS HELD (at the beginning, at the end)");
    for (size_t i = 0; i < r->n_held && shown < MOST; i++) {
        const rfy_held *h = &r->held[i];
        if (!(fmax(h->start, h->end) * gas_of_a_mole > 1e-12))
            continue;
        shown++;
        rfy_page_say(page, 2, 6, "%s: %s of %s, %s", h->name, amount(h, h->start).text,
                     r->gas[h->gas], amount(h, h->end).text);
    }
    if (some > shown)
        rfy_page_say(page, 2, 2, "(%zu more in --json)", some - shown);
}
