#include "io/write_log.h"

void rfy_page_log(rfy_page *page, const rfy_log *log) {
    rfy_page_heading(page, "READ FROM %s", log->name);
    char first[96];
    snprintf(first, sizeof first, "%s", rfy_show_time(log->time[0]).text);
    rfy_page_say(page, 2, 4, "- %zu of %zu row%s used, from %s to %s.", log->used, log->rows,
                 log->rows == 1 ? "" : "s", first, rfy_show_time(log->time[log->n - 1]).text);
    for (size_t i = 0; i < log->n_losses; i++) {
        const rfy_log_loss *l = &log->loss[i];
        char lines[80];
        if (l->rows == 1)
            snprintf(lines, sizeof lines, "line %ld", l->first);
        else
            snprintf(lines, sizeof lines, "lines %ld to %ld", l->first, l->last);
        rfy_page_say(page, 2, 4, "- %zu left out, %s: %s%s%s%s.", l->rows, l->why, lines,
                     l->example[0] ? " (\"" : "", l->example, l->example[0] ? "\")" : "");
    }
    for (size_t i = 0; i < log->n_notes; i++)
        rfy_page_say(page, 2, 4, "- %s", log->note[i]);
}

void rfy_json_log(rfy_json *json, const char *key, const rfy_log *log) {
    rfy_json_object(json, key);
    rfy_json_text(json, "name", log->name);
    rfy_json_count(json, "lines", (size_t)log->lines);
    rfy_json_count(json, "rows", log->rows);
    rfy_json_count(json, "used", log->used);
    rfy_json_count(json, "points", log->n);
    rfy_json_flag(json, "thinned", log->thinned);
    rfy_json_number(json, "from_s", log->time[0]);
    rfy_json_number(json, "to_s", log->time[log->n - 1]);
    rfy_json_array(json, "left_out");
    for (size_t i = 0; i < log->n_losses; i++) {
        rfy_json_object(json, NULL);
        rfy_json_text(json, "why", log->loss[i].why);
        rfy_json_count(json, "rows", log->loss[i].rows);
        rfy_json_count(json, "first_line", (size_t)log->loss[i].first);
        rfy_json_count(json, "last_line", (size_t)log->loss[i].last);
        rfy_json_text(json, "example", log->loss[i].example);
        rfy_json_close(json);
    }
    rfy_json_close(json);
    rfy_json_texts(json, "notes", log->note, log->n_notes);
    rfy_json_close(json);
}
