/* Oil and water back, in text and JSON. */
#include <math.h>
#include <string.h>
#include "io/write_common.h"

static rfy_word show_exposure(double pascal_s) {
    rfy_word word;
    snprintf(word.text, sizeof word.text, "%.30s" RFY_GLUE "Pa" RFY_GLUE "s",
             rfy_show_number(pascal_s, 2, true).text);
    return word;
}

void rfy_page_creep(rfy_page *page, const rfy_result *r) {
    bool headed = false;
    for (size_t i = 0; i < r->n_creeps; i++) {
        const rfy_creep *c = &r->creep[i];
        char trap[200] = "", water[160] = "";
        if (c->time < 1)
            continue;
        if (!headed) {
            rfy_page_heading(page, "OIL AND WATER BACK");
            rfy_page_say(page, 2, 2,
                         "For so long a way to the oil pump stood open with gas too thin to sweep "
                         "vapour back (p d below 0.6 Pa m). Oil: at most its vapour at the pump, "
                         "taken as 0.01 Pa (common practice, no source).");
        }
        headed = true;
        if (c->untrapped <= 0)
            snprintf(trap, sizeof trap, ", all of it through a trap: none while that is cold");
        else if (c->untrapped < c->time * 0.999)
            snprintf(trap, sizeof trap, ", past a trap but for %s",
                     rfy_show_time(c->untrapped).text);
        if (c->water > 0)
            snprintf(water, sizeof water, "; water there meanwhile %s",
                     show_exposure(c->water).text);
        rfy_page_say(page, 2, 4, "- %s, from %s: %s; oil at most %s%s%s.", c->chamber, c->pump,
                     rfy_show_time(c->time).text, show_exposure(c->oil).text, trap, water);
    }
}

void rfy_json_creep(rfy_json *json, const rfy_result *r) {
    rfy_json_array(json, "oil_back");
    for (size_t i = 0; i < r->n_creeps; i++) {
        const rfy_creep *c = &r->creep[i];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "pump", c->pump);
        rfy_json_text(json, "chamber", c->chamber);
        rfy_json_number(json, "open_s", c->time);
        rfy_json_number(json, "untrapped_s", c->untrapped);
        rfy_json_number(json, "oil_at_most_Pa_s", c->oil);
        rfy_json_number(json, "oil_untrapped_at_most_Pa_s", c->oil_untrapped);
        rfy_json_number(json, "water_Pa_s", c->water);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}
