/* One piece over pressure: a short table for people, and the same as JSON. */
#include <math.h>
#include <string.h>
#include "core/arena.h"
#include "core/units.h"
#include "io/write_common.h"

static const char *const regimes[] = {
    [RFY_REGIME_MOLECULAR] = "molecular",      [RFY_REGIME_TRANSITION] = "transition",
    [RFY_REGIME_LAMINAR] = "viscous, laminar", [RFY_REGIME_TURBULENT] = "viscous, turbulent",
    [RFY_REGIME_CHOKED] = "viscous, choked",   [RFY_REGIME_GIVEN] = "given"};
static const char *const behinds[] = {[RFY_BEHIND_VACUUM] = "vacuum",
                                      [RFY_BEHIND_DROP] = "drop",
                                      [RFY_BEHIND_PRESSURE] = "pressure",
                                      [RFY_BEHIND_PUMP] = "pump"};

/* ---- text ---- */

/* "1", "0.833", "31000": a flow in one unit at every pressure, so that a column reads well. */
static rfy_word litres(double m3_per_s) {
    return rfy_show_number(m3_per_s * 1e3, 3, false);
}

static void write_title(rfy_page *page, const rfy_conductance_result *r) {
    char gas[400] = "", quantity[48];
    size_t n = 0;
    for (size_t i = 0; i < r->n_gases && n < sizeof gas; i++) {
        n += (size_t)snprintf(gas + n, sizeof gas - n, "%s%s", i ? ", " : "",
                              r->n_gases > 1 ? r->gas[i] : r->gas_name[i]);
        if (r->n_gases > 1 && n < sizeof gas)
            n += (size_t)snprintf(gas + n, sizeof gas - n, " %s" RFY_GLUE "%%",
                                  rfy_show_number(100 * r->fraction[i], 3, true).text);
    }
    rfy_page_bold(page, true);
    rfy_page_say(
        page, 0, 2, "%s: %s at %s", r->piece, gas,
        rfy_format_quantity(quantity, sizeof quantity, RFY_DIM_TEMPERATURE, r->temperature));
    rfy_page_bold(page, false);
    putc('\n', page->out);
}

static void write_answer(rfy_page *page, const rfy_conductance_result *r) {
    const rfy_conductance_row *low = &r->row[0], *high = &r->row[r->n_rows - 1];
    bool level = fabs(high->conductance - r->molecular) <= 1e-9 * r->molecular;
    if (isnan(r->area))
        rfy_page_say(page, 0, 2, "Given conductance: %s" RFY_GLUE "L/s of this gas at %s pressure.",
                     litres(r->molecular).text, level ? "every" : "the lowest");
    else
        rfy_page_say(page, 0, 2,
                     "Molecular flow: %s" RFY_GLUE
                     "L/s, transmission probability %s of an opening of "
                     "%s" RFY_GLUE "cm2.",
                     litres(r->molecular).text, rfy_show_number(r->transmission, 3, true).text,
                     rfy_show_number(r->area * 1e4, 3, true).text);
    if (isnan(r->pump_speed))
        return;
    rfy_word at_low = rfy_say_percent(low->effective_speed / r->pump_speed);
    rfy_word at_high = rfy_say_percent(high->effective_speed / r->pump_speed);
    char more[240] = "";
    if (r->n_rows > 1)
        snprintf(more, sizeof more, " and %s at %s", at_high.text,
                 rfy_show_pressure(page, high->pressure, 3).text);
    rfy_page_say(page, 0, 2,
                 "A pump of %s" RFY_GLUE "L/s (%s" RFY_GLUE
                 "m3/h) behind it leaves %s of its speed before it at %s%s.",
                 litres(r->pump_speed).text, rfy_show_number(r->pump_speed * 3600, 3, true).text,
                 at_low.text, rfy_show_pressure(page, low->pressure, 3).text, more);
}

/* What stands over the column of throughput. */
static void behind_words(const rfy_page *page, const rfy_conductance_result *r, rfy_word *word) {
    switch (r->behind) {
    case RFY_BEHIND_VACUUM:
        snprintf(word->text, sizeof word->text, "into vacuum");
        break;
    case RFY_BEHIND_DROP:
        snprintf(word->text, sizeof word->text, "at %.20s %% drop",
                 rfy_show_number(100 * r->drop, 3, true).text);
        break;
    case RFY_BEHIND_PRESSURE:
        snprintf(word->text, sizeof word->text, "into %.60s",
                 rfy_show_pressure(page, r->downstream, 3).text);
        break;
    case RFY_BEHIND_PUMP:
        snprintf(word->text, sizeof word->text, "to the pump");
        break;
    }
}

enum { PRESSURE = 10, FLOW = 20, KN = 11, RE = 10, C = 13, Q = 15, SPEED = 13 };

static void write_row(rfy_page *page, const char *p, const char *flow, const char *kn,
                      const char *re, const char *c, const char *q, const char *speed) {
    rfy_page_cell(page, p, PRESSURE, true);
    fputs("  ", page->out);
    rfy_page_cell(page, flow, FLOW, false);
    rfy_page_cell(page, kn, KN, true);
    rfy_page_cell(page, re, RE, true);
    rfy_page_cell(page, c, C, true);
    rfy_page_cell(page, q, Q, true);
    if (speed)
        rfy_page_cell(page, speed, SPEED, true);
    putc('\n', page->out);
}

static void write_table(rfy_page *page, const rfy_conductance_result *r) {
    rfy_word behind;
    behind_words(page, r, &behind);
    bool pump = !isnan(r->pump_speed);
    putc('\n', page->out);
    rfy_page_bold(page, true);
    write_row(page, "pressure", "flow", "lambda/bore", "Reynolds", "conductance", behind.text,
              pump ? "speed left" : NULL);
    write_row(page, page->unit, "", "", "", "L/s", page->load_unit, pump ? "L/s" : NULL);
    rfy_page_bold(page, false);
    for (size_t i = 0; i < r->n_rows; i++) {
        const rfy_conductance_row *x = &r->row[i];
        bool given = x->regime == RFY_REGIME_GIVEN;
        write_row(page, rfy_show_number(x->pressure / page->unit_Pa, 3, true).text,
                  regimes[x->regime], given ? "-" : rfy_show_number(x->knudsen, 2, false).text,
                  given ? "-" : rfy_show_number(x->reynolds, 2, false).text,
                  litres(x->conductance).text,
                  rfy_show_number(x->throughput / page->load_unit_SI, 3, false).text,
                  pump ? litres(x->effective_speed).text : NULL);
    }
    putc('\n', page->out);
}

static void write_notes(rfy_page *page, const rfy_conductance_result *r) {
    static const char *const throughput[] = {
        [RFY_BEHIND_VACUUM] = "into a vacuum, the most that passes",
        [RFY_BEHIND_DROP] = "with that part of the pressure lost on the way",
        [RFY_BEHIND_PRESSURE] = "against that pressure behind it",
        [RFY_BEHIND_PUMP] = "what the pump draws, taking the same volume at every pressure"};
    bool given = isnan(r->area);
    char error[48];
    rfy_page_say(page, 0, 2,
                 "Pressure before the piece. Conductance for a difference of 0.1" RFY_GLUE
                 "%% there. Throughput%s: %s "
                 "(gas counted at 20" RFY_GLUE "degC).",
                 given ? "" : " and Reynolds number", throughput[r->behind]);
    if (given)
        return;
    bool round = fabs(r->area / (0.78539816339744831 * r->bore * r->bore) - 1) < 1e-6;
    rfy_page_say(page, 0, 2,
                 "lambda/bore with lambda = (mu/p) sqrt(pi R T/2M), bore %s" RFY_GLUE
                 "mm%s: molecular above 0.5, viscous below 0.01. Turbulent above Re 2300; choked: "
                 "the velocity of "
                 "sound at the outlet sets the flow.",
                 rfy_show_number(r->bore * 1e3, 3, true).text, round ? "" : " (4 area/perimeter)");
    if (r->error_most > r->error_least)
        snprintf(error, sizeof error, "%.0f to %.0f", 100 * r->error_least, 100 * r->error_most);
    else
        snprintf(error, sizeof error, "%.0f", 100 * r->error_most);
    char limit[96] = "the molecular limit is exact for this shape";
    if (r->error_molecular > 0)
        snprintf(limit, sizeof limit, "in molecular flow %.3g" RFY_GLUE "%%",
                 100 * r->error_molecular);
    rfy_page_say(page, 0, 2,
                 "Expected error: %s" RFY_GLUE "%%, the kinetic model's 1" RFY_GLUE
                 "%% included; %s; turbulent or choked 5 to 12" RFY_GLUE "%%. Viscosity: 2" RFY_GLUE
                 "%% from %.0f to %.0f" RFY_GLUE
                 "K. For clean walls that scatter gas diffusely, between two open chambers.",
                 error, limit, r->gas_coldest, r->gas_hottest);
}

rfy_status rfy_write_conductance_text(FILE *out, const rfy_conductance_result *result,
                                      const rfy_write_options *options) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, options);
    if (status != RFY_OK)
        return status;
    write_title(&page, result);
    write_answer(&page, result);
    write_table(&page, result);
    for (size_t i = 0; i < result->n_care; i++)
        rfy_page_say(&page, 0, 2, "CARE: %s", result->care[i]);
    if (result->n_assumed > 0) {
        fputs("Assumed: ", out);
        char text[1024] = "";
        size_t n = 0;
        for (size_t i = 0; i < result->n_assumed && n < sizeof text; i++)
            n += (size_t)snprintf(text + n, sizeof text - n, "%s%s", i ? "; " : "",
                                  result->assumed[i]);
        rfy_page_rest(&page, (int)strlen("Assumed: "), 2, text);
    }
    write_notes(&page, result);
    return rfy_page_close(&page);
}

/* ---- JSON ---- */

rfy_status rfy_write_conductance_json(FILE *out, const rfy_conductance_result *r,
                                      const rfy_write_options *options) {
    (void)options; /* SI throughout */
    rfy_json json;
    rfy_json_begin(&json, out);
    rfy_json_text(&json, "piece", r->piece);
    rfy_json_object(&json, "gas");
    for (size_t i = 0; i < r->n_gases; i++)
        rfy_json_number(&json, r->gas[i], r->fraction[i]);
    rfy_json_close(&json);
    rfy_json_number(&json, "temperature_K", r->temperature);
    rfy_json_number(&json, "viscosity_Pa_s", r->viscosity);
    rfy_json_number(&json, "molar_mass_kg_mol", r->molar_mass);
    rfy_json_number(&json, "area_m2", r->area);
    rfy_json_number(&json, "bore_m", r->bore);
    rfy_json_number(&json, "length_m", r->length);
    rfy_json_number(&json, "transmission_probability", r->transmission);
    rfy_json_number(&json, "molecular_conductance_m3_s", r->molecular);
    rfy_json_text(&json, "behind", behinds[r->behind]);
    rfy_json_number(&json, "drop", r->drop);
    rfy_json_number(&json, "downstream_Pa", r->downstream);
    rfy_json_number(&json, "pump_speed_m3_s", r->pump_speed);
    rfy_json_array(&json, "rows");
    for (size_t i = 0; i < r->n_rows; i++) {
        const rfy_conductance_row *x = &r->row[i];
        rfy_json_object(&json, NULL);
        rfy_json_number(&json, "pressure_Pa", x->pressure);
        rfy_json_text(&json, "flow", regimes[x->regime]);
        rfy_json_number(&json, "mean_free_path_m", x->mean_free_path);
        rfy_json_number(&json, "knudsen", x->knudsen);
        rfy_json_number(&json, "reynolds", x->reynolds);
        rfy_json_number(&json, "conductance_m3_s", x->conductance);
        rfy_json_number(&json, "downstream_Pa", x->downstream);
        rfy_json_number(&json, "flow_mol_s", x->flow);
        rfy_json_number(&json, "throughput_Pa_m3_s", x->throughput);
        rfy_json_number(&json, "pump_pressure_Pa", x->pump_pressure);
        rfy_json_number(&json, "effective_speed_m3_s", x->effective_speed);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    rfy_json_object(&json, "expected_error");
    rfy_json_number(&json, "molecular", r->error_molecular);
    rfy_json_number(&json, "least", r->error_least);
    rfy_json_number(&json, "most", r->error_most);
    rfy_json_number(&json, "viscosity", 0.02);
    rfy_json_number(&json, "viscosity_from_K", r->gas_coldest);
    rfy_json_number(&json, "viscosity_to_K", r->gas_hottest);
    rfy_json_close(&json);
    rfy_json_text(&json, "knudsen_is",
                  "lambda/bore, lambda = (mu/p) sqrt(pi R T/2M), bore = 4 area/perimeter");
    rfy_json_texts(&json, "assumed", r->assumed, r->n_assumed);
    rfy_json_texts(&json, "care", r->care, r->n_care);
    return rfy_json_end(&json);
}
