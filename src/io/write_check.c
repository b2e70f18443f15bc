/* Is the description sound; what it amounts to; what was assumed. */
#include "core/problem.h"
#include "io/write_common.h"

static const char *plural(size_t n) {
    return n == 1 ? "" : "s";
}

rfy_status rfy_write_check_text(FILE *out, const rfy_system *system, const rfy_problems *problems) {
    rfy_page page;
    rfy_status status = rfy_page_open(&page, out, NULL);
    if (status != RFY_OK)
        return status;
    size_t errors = problems ? rfy_problems_errors(problems) : 0;
    size_t kept = problems ? rfy_problems_kept(problems) : 0;
    if (kept > 0) {
        rfy_write_problems(out, problems);
        fputc('\n', out);
    }
    if (!system || errors > 0) {
        rfy_page_say(&page, 0, 2, "%s: not sound, %zu error%s.",
                     problems && problems->file ? problems->file : "The description", errors,
                     plural(errors));
        return rfy_page_close(&page);
    }
    rfy_summary s;
    rfy_system_summary(system, &s);
    const char *title = rfy_system_title(system);
    rfy_page_say(&page, 0, 2, "%s: sound%s.", title && title[0] ? title : "Untitled",
                 kept ? ", with the warnings above" : "");
    rfy_page_say(
        &page, 0, 2,
        "%zu chamber%s, %zu line%s and %zu pump%s; %s L of chambers and tubing. Computed with "
        "%zu gas%s in %zu node%s: %zu unknowns.",
        s.n_chambers, plural(s.n_chambers), s.n_lines, plural(s.n_lines), s.n_pumps,
        plural(s.n_pumps), rfy_show_number(s.volume * 1e3, 3, true).text, s.n_gases,
        s.n_gases == 1 ? "" : "es", s.n_nodes, plural(s.n_nodes), s.n_states);
    rfy_page_list(&page, "ASSUMED, BECAUSE THE DESCRIPTION DOES NOT SAY", s.n_assumed, s.assumed);
    return rfy_page_close(&page);
}

rfy_status rfy_write_check_json(FILE *out, const rfy_system *system, const rfy_problems *problems) {
    rfy_json json;
    rfy_json_begin(&json, out);
    size_t errors = problems ? rfy_problems_errors(problems) : 0;
    rfy_json_text(&json, "title", system ? rfy_system_title(system) : NULL);
    rfy_json_text(&json, "file", problems ? problems->file : NULL);
    rfy_json_flag(&json, "sound", system && errors == 0);
    rfy_json_count(&json, "errors", errors);
    rfy_json_count(&json, "problems_found", problems ? rfy_problems_total(problems) : 0);
    rfy_json_array(&json, "problems");
    for (size_t i = 0; problems && i < rfy_problems_kept(problems); i++) {
        const rfy_problem *p = rfy_problems_at(problems, i);
        rfy_json_object(&json, NULL);
        rfy_json_text(&json, "severity", p->severity == RFY_ERROR ? "error" : "warning");
        rfy_json_count(&json, "line", p->line > 0 ? (size_t)p->line : 0);
        rfy_json_count(&json, "column", p->column > 0 ? (size_t)p->column : 0);
        rfy_json_text(&json, "path", p->path);
        rfy_json_text(&json, "what", p->what);
        rfy_json_text(&json, "allowed", p->allowed);
        rfy_json_text(&json, "hint", p->hint);
        rfy_json_close(&json);
    }
    rfy_json_close(&json);
    if (system) {
        rfy_summary s;
        rfy_system_summary(system, &s);
        rfy_json_object(&json, "summary");
        rfy_json_count(&json, "chambers", s.n_chambers);
        rfy_json_count(&json, "lines", s.n_lines);
        rfy_json_count(&json, "pumps", s.n_pumps);
        rfy_json_count(&json, "nodes", s.n_nodes);
        rfy_json_count(&json, "gases", s.n_gases);
        rfy_json_count(&json, "states", s.n_states);
        rfy_json_number(&json, "volume_m3", s.volume);
        rfy_json_close(&json);
        rfy_json_texts(&json, "assumed", s.assumed, s.n_assumed);
    }
    return rfy_json_end(&json);
}
