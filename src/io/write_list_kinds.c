#include <math.h>
#include <string.h>
#include "io/write_list.h"
#include "network/program.h"

#define TAKES 400 /* bytes of a phrase saying what a key takes */

/* "one of "open", "closed"", cut short rather than overrun. */
static void add_choices(char *text, const char *lead, const char *const *choices) {
    size_t n = strlen(text);
    n += (size_t)snprintf(text + n, TAKES - n, "%s", lead);
    for (size_t i = 0; choices && choices[i] && n < TAKES; i++)
        n += (size_t)snprintf(text + n, TAKES - n, "%s\"%s\"", i ? ", " : "", choices[i]);
}

static void describe(const rfy_field *field, char *text) {
    const char *of_dim = rfy_dim_example(field->dim);
    text[0] = '\0';
    switch (field->type) {
    case RFY_F_QUANTITY:
        snprintf(text, TAKES, "%s", of_dim);
        break;
    case RFY_F_NUMBER:
        snprintf(text, TAKES, "a number");
        break;
    case RFY_F_INTEGER:
        snprintf(text, TAKES, "a whole number");
        break;
    case RFY_F_BOOL:
        snprintf(text, TAKES, "true or false");
        break;
    case RFY_F_TEXT:
        snprintf(text, TAKES, "a text");
        break;
    case RFY_F_NAME:
        snprintf(text, TAKES, "a name");
        break;
    case RFY_F_TEXTS:
        snprintf(text, TAKES, "a list of texts");
        break;
    case RFY_F_CHOICE:
        add_choices(text, "one of ", field->choices);
        break;
    case RFY_F_VALUE_OR_WORD:
        snprintf(text, TAKES, "%s", of_dim);
        add_choices(text, ", or one of ", field->choices);
        break;
    case RFY_F_QUANTITY_BY_GAS:
        snprintf(text, TAKES, "%s; one for all gases, or {gas: value}", of_dim);
        break;
    case RFY_F_NUMBER_BY_GAS:
        snprintf(text, TAKES, "a number; one for all gases, or {gas: number}");
        break;
    case RFY_F_RANGE:
        snprintf(text, TAKES, "[from, to], each %s", of_dim);
        break;
    case RFY_F_CURVE:
        snprintf(text, TAKES, "[[x, y], ...]: x %s, y %s", of_dim, rfy_dim_example(field->dim2));
        break;
    case RFY_F_RECORD:
        snprintf(text, TAKES, "an object");
        break;
    case RFY_F_RECORDS:
    case RFY_F_VARIANTS:
        snprintf(text, TAKES, "a list of objects");
        break;
    case RFY_F_PIECES:
        snprintf(text, TAKES, "a list of pieces");
        break;
    }
}

static void page_fields(rfy_page *page, const rfy_record *record, int indent) {
    int width = 0;
    for (size_t i = 0; i < record->n; i++) {
        int columns = rfy_text_columns(record->field[i].key);
        width = columns > width ? columns : width;
    }
    for (size_t i = 0; i < record->n; i++) {
        const rfy_field *field = &record->field[i];
        char takes[TAKES], line[2 * TAKES];
        describe(field, takes);
        snprintf(line, sizeof line, "%s. Takes %s%s%s%s", field->help, takes,
                 field->required ? "; required" : "", field->assumed ? "; without it: " : "",
                 field->assumed ? field->assumed : "");
        fprintf(page->out, "%*s", indent, "");
        rfy_page_cell(page, field->key, width + 2, false);
        rfy_page_rest(page, indent + width + 2, indent + width + 2, line);
        if (field->type == RFY_F_RECORD && field->record)
            page_fields(page, field->record, indent + 4);
    }
}

void rfy_page_kinds(rfy_page *page, const rfy_variants *kinds, const rfy_record *base) {
    if (base) {
        rfy_page_heading(page, "EVERY KIND");
        page_fields(page, base, 2);
    }
    for (size_t k = 0; k < kinds->n; k++) {
        const rfy_variant *kind = &kinds->item[k];
        rfy_page_heading(page, "%s: %s", kind->name, kind->help);
        if (kind->short_keys && kind->short_keys[0]) {
            char text[TAKES] = "";
            size_t n = 0;
            for (size_t i = 0; kind->short_keys[i] && n < sizeof text; i++)
                n += (size_t)snprintf(text + n, sizeof text - n, "%s%s", i ? ", " : "",
                                      kind->short_keys[i]);
            rfy_page_say(page, 2, 4, "Short form: \"%s\" and then %s.", kind->name, text);
        }
        page_fields(page, kind->record, 2);
    }
}

static void json_fields(rfy_json *json, const rfy_record *record) {
    rfy_json_array(json, "keys");
    for (size_t i = 0; i < record->n; i++) {
        const rfy_field *field = &record->field[i];
        char takes[TAKES];
        describe(field, takes);
        rfy_json_object(json, NULL);
        rfy_json_text(json, "key", field->key);
        rfy_json_text(json, "help", field->help);
        rfy_json_text(json, "takes", takes);
        rfy_json_flag(json, "required", field->required);
        rfy_json_text(json, "assumed", field->assumed);
        if (field->dim != RFY_DIM_NONE)
            rfy_json_text(json, "unit", rfy_dim_si(field->dim));
        if (field->min != 0.0 || field->max != 0.0) {
            rfy_json_number(json, "min", field->min);
            rfy_json_number(json, "max", field->max);
        }
        if (field->choices) {
            size_t n = 0;
            while (field->choices[n])
                n++;
            rfy_json_texts(json, "choices", field->choices, n);
        }
        if (field->type == RFY_F_RECORD && field->record)
            json_fields(json, field->record);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

void rfy_json_kinds(rfy_json *json, const rfy_variants *kinds, const rfy_record *base) {
    if (base) {
        rfy_json_object(json, "every_kind");
        json_fields(json, base);
        rfy_json_close(json);
    }
    rfy_json_array(json, "kinds");
    for (size_t k = 0; k < kinds->n; k++) {
        const rfy_variant *kind = &kinds->item[k];
        rfy_json_object(json, NULL);
        rfy_json_text(json, "name", kind->name);
        rfy_json_text(json, "help", kind->help);
        if (kind->short_keys) {
            size_t n = 0;
            while (kind->short_keys[n])
                n++;
            rfy_json_texts(json, "short_form", kind->short_keys, n);
        }
        json_fields(json, kind->record);
        rfy_json_close(json);
    }
    rfy_json_close(json);
}

/* ---- actions ---- */

/* What a condition may compare, by example. */
static const char *const conditions[][2] = {
    {"port < 10 Pa", "pressure of a chamber or junction"},
    {"port > 300 degC", "temperature of a chamber or junction"},
    {"turbo > 90 %", "speed of a pump, of its full speed"},
    {"port gauge < 5 Pa", "reading of a gauge; false while it is off"},
    {"foreline valve > 50 %", "how far a valve is open"},
    {"foreline valve is closed", "or \"is open\""},
    {"vane is off", "of pumps and gauges, or \"is on\""},
    {"time > 5 min", "since the beginning of the run"},
    {"elapsed > 30 s", "since the step before was done"},
    {"not port < 1 Pa and (turbo > 90 % or time > 1 h)",
     "joined; \"and\" binds closer than \"or\""}};
enum { N_CONDITIONS = sizeof conditions / sizeof *conditions };

static const char *const sections[] = {"procedure", "rules", "faults", "limits"};
enum { N_SECTIONS = sizeof sections / sizeof *sections };

static const rfy_record *record_of(const char *key) {
    for (size_t i = 0; i < rfy_description_record.n; i++)
        if (strcmp(rfy_description_record.field[i].key, key) == 0)
            return rfy_description_record.field[i].record;
    return NULL;
}

void rfy_page_actions(rfy_page *page) {
    const char *pattern, *help;
    rfy_page_heading(page, "ACTIONS, for \"do\", \"then\", \"otherwise\" and faults");
    for (size_t i = 0; rfy_order_row(i, &pattern, &help); i++)
        rfy_page_say(page, 2, 6, "%s: %s", pattern, help);
    rfy_page_heading(page, "CONDITIONS, for \"when\", \"until\", \"while\" and \"whenever\"");
    for (size_t i = 0; i < N_CONDITIONS; i++)
        rfy_page_say(page, 2, 6, "%s: %s", conditions[i][0], conditions[i][1]);
    for (size_t i = 0; i < N_SECTIONS; i++) {
        rfy_page_heading(page, "\"%s\": a list of objects with these keys", sections[i]);
        page_fields(page, record_of(sections[i]), 2);
    }
}

void rfy_json_actions(rfy_json *json) {
    const char *pattern, *help;
    rfy_json_array(json, "actions");
    for (size_t i = 0; rfy_order_row(i, &pattern, &help); i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "pattern", pattern);
        rfy_json_text(json, "help", help);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_array(json, "conditions");
    for (size_t i = 0; i < N_CONDITIONS; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "example", conditions[i][0]);
        rfy_json_text(json, "help", conditions[i][1]);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    for (size_t i = 0; i < N_SECTIONS; i++) {
        rfy_json_object(json, sections[i]);
        json_fields(json, record_of(sections[i]));
        rfy_json_close(json);
    }
}
