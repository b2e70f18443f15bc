/* What the writers share: text for people (wrapped, in the unit asked for) and streamed JSON. */
#ifndef RFY_IO_WRITE_COMMON_H
#define RFY_IO_WRITE_COMMON_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "rarefy/rarefy.h"

#if defined(__GNUC__)
#define RFY_PRINTF(at, first) __attribute__((format(printf, at, first)))
#else
#define RFY_PRINTF(at, first)
#endif

/* A space that the wrapping never breaks at: between a number and its unit. */
#define RFY_GLUE "\037"

/* ---- text for people ---- */

typedef struct rfy_page {
    FILE *out;
    int width;
    bool color;
    char unit[40];       /* of pressure, as shown */
    double unit_Pa;      /* pascal in one of it */
    char load_unit[48];  /* of throughput: "Pa m3/s", or "mbar L/s" with mbar and so on */
    double load_unit_SI; /* Pa m3/s in one of it */
} rfy_page;

/* RFY_USAGE when the unit of options is not one of pressure. options may be NULL. */
rfy_status rfy_page_open(rfy_page *page, FILE *out, const rfy_write_options *options);
/* RFY_OK, or RFY_IO_FAILED when the stream has met an error or cannot be flushed. */
rfy_status rfy_page_close(rfy_page *page);

/* A short text handed back by value: use `.text` inside the same expression. */
typedef struct rfy_word {
    char text[88];
} rfy_word;

/* A number for people: "1.23e-3", "0.0123", "12.3", "1230", "1.01e5"; "?" for NaN. `tidy` drops
 * zeros at the end (a wanted 1e-3 rather than 1.00e-3). */
rfy_word rfy_show_number(double value, int digits, bool tidy);
/* "0 s", "4.2 ms", "0.42 s", "42 s", "2 min 05 s", "3 h 12 min", "2 d 03 h", "3.1 years". */
rfy_word rfy_show_time(double seconds);
/* Pressures below this are not told: what a description leaves out (hydrogen of metals, helium
 * through glass, the gauge itself) decides there, Pa. */
#define RFY_LOWEST_SHOWN 1e-12
/* The number alone in the page's unit, such as for a table; "<1e-12" for less. */
rfy_word rfy_show_pressure_number(const rfy_page *page, double pascal, int digits, bool tidy);
/* With the page's unit; `digits` significant digits. */
rfy_word rfy_show_pressure(const rfy_page *page, double pascal, int digits);
rfy_word rfy_show_load(const rfy_page *page, double pascal_m3_per_s);
/* "0.82 L/s" */
rfy_word rfy_show_speed(double m3_per_s);
/* A share of 1 in per cent, right-aligned to four characters: " 87 %", "< 1 %". */
rfy_word rfy_show_percent(double share);
/* The same for a sentence, not for a column. */
rfy_word rfy_say_percent(double share);

/* What a description calls itself, on the first line; a blank line follows. */
void rfy_page_title(rfy_page *page, const char *title);
/* A heading on its own line after a blank line. */
void rfy_page_heading(rfy_page *page, const char *format, ...) RFY_PRINTF(2, 3);
/* A wrapped paragraph: the first line begins at column `first`, the others at `hang`. */
void rfy_page_say(rfy_page *page, int first, int hang, const char *format, ...) RFY_PRINTF(4, 5);
/* The same for text that continues at column `at` of a line already begun; ends the line. */
void rfy_page_rest(rfy_page *page, int at, int hang, const char *text);
/* One cell of `width` columns, left- or right-aligned. Longer text is written in full. */
void rfy_page_cell(rfy_page *page, const char *text, int width, bool right);
void rfy_page_bold(rfy_page *page, bool on);
/* Heading and one "- …" paragraph per text; nothing when n is 0. */
void rfy_page_list(rfy_page *page, const char *heading, size_t n, const char *const *text);
/* "Care", "assumed" and "cautions" of a result, ending with what holds for every answer. */
void rfy_page_closing(rfy_page *page, const rfy_result *result);

/* Columns a text takes (characters; combining ones are not looked at). */
int rfy_text_columns(const char *text);

/* Index of a chamber by name, or -1. */
long rfy_chamber_index(const rfy_result *result, const char *name);
/* True for a chamber the program put inside a line. */
bool rfy_is_inside(const rfy_result *result, size_t chamber);
/* Steady total pressure of a chamber, NaN when it was not found. */
double rfy_levels_at(const rfy_result *result, long chamber);

/* Chambers that head the columns of a table, with words to the right of them. */
enum { RFY_MOST_COLUMNS = 5 };
typedef struct rfy_columns {
    size_t chamber[RFY_MOST_COLUMNS], n;
    int width[RFY_MOST_COLUMNS];
    int begin;       /* columns before the first chamber */
    int words;       /* where the words begin */
    size_t left_out; /* chambers of the user's that found no room */
} rfy_columns;
/* The most telling chambers that leave room for words: write_columns.c. */
rfy_columns rfy_columns_choose(const rfy_page *page, const rfy_result *result, int begin);
/* Names of the chambers over their columns, `lead` before and `words` after them. */
void rfy_columns_header(rfy_page *page, const rfy_columns *columns, const rfy_result *result,
                        const char *lead, const char *words);
/* "(1 more chamber in …)" when some were left out. */
void rfy_columns_footer(rfy_page *page, const rfy_columns *columns, const char *where);

/* ---- parts of the run's text ---- */

/* What becomes of a target, in sentences. */
void rfy_page_answer(rfy_page *page, const rfy_result *result, const rfy_target_result *target);
/* WHEN / pressures / what you do or what happens: write_run_table.c. */
void rfy_page_events(rfy_page *page, const rfy_result *result);
/* WHAT DECIDES IT and IF YOU CHANGE ONE THING: write_run_advice.c. */
void rfy_page_bottlenecks(rfy_page *page, const rfy_result *result);
void rfy_page_changes(rfy_page *page, const rfy_result *result);
/* write_change.c: the same from exact sensitivities, and all of them. */
void rfy_page_exact_changes(rfy_page *page, const rfy_result *result);
void rfy_page_sensitivities(rfy_page *page, const rfy_result *result);
/* What resists and what gives off gas at the milestones. */
void rfy_page_splits(rfy_page *page, const rfy_result *result);
/* LIMITS with their margins: write_limits.c. */
void rfy_page_limits(rfy_page *page, const rfy_result *result);
/* HOW SURE: quantiles and what they come from, when a band was found: write_band.c. */
void rfy_page_band(rfy_page *page, const rfy_result *result);
/* OIL AND WATER BACK: write_creep.c. */
void rfy_page_creep(rfy_page *page, const rfy_result *result);
/* THE FAULT: time available, what saves, how large a hole may be: write_strike.c. */
void rfy_page_strike(rfy_page *page, const rfy_result *result);
/* "0.42 ms", "2 min 05 s", "for ever". */
rfy_word rfy_show_span(double seconds);
/* "H2O 92 % (9.2e-4 Pa), N2 5 %, …": the make-up of a gas; without the pressures when page is
 * NULL. Allocated, to be freed. */
char *rfy_gas_makeup(const rfy_page *page, const rfy_result *result, const double *partial);
/* One row per source of gas in that chamber at the ultimate state, largest first, at most `most`.
 */
void rfy_page_sources(rfy_page *page, const rfy_result *result, size_t chamber, size_t most);
/* Whether sources make up the level there; not where gas is shut in. */
bool rfy_sources_matter(const rfy_result *result, size_t chamber);
/* What walls, getters and cold surfaces held at the beginning and hold at the end:
 * write_run_held.c. */
void rfy_page_held(rfy_page *page, const rfy_result *result);
/* Gases that nothing removes. */
void rfy_page_rising(rfy_page *page, const rfy_result *result);

/* ---- JSON ---- */

/* Objects and arrays one item a line, arrays of numbers on one line; always valid JSON: bytes that
 * are not UTF-8 become U+FFFD, control characters are escaped, NaN and infinities become null. */
typedef struct rfy_json {
    FILE *out;
    int depth;
    char bracket[16];
    bool filled[16];
    bool one_line;
} rfy_json;

void rfy_json_begin(rfy_json *json, FILE *out);      /* opens the outer object */
void rfy_json_begin_line(rfy_json *json, FILE *out); /* all of it on one line */
rfy_status rfy_json_end(rfy_json *json);             /* closes it and reports stream errors */
/* `key` is NULL inside arrays, in all of these. */
void rfy_json_object(rfy_json *json, const char *key);
void rfy_json_array(rfy_json *json, const char *key);
void rfy_json_close(rfy_json *json);
void rfy_json_text(rfy_json *json, const char *key, const char *text); /* NULL gives null */
void rfy_json_number(rfy_json *json, const char *key, double value);
void rfy_json_count(rfy_json *json, const char *key, size_t value);
void rfy_json_flag(rfy_json *json, const char *key, bool value);
void rfy_json_null(rfy_json *json, const char *key);
/* n numbers, each `stride` elements after the one before. */
void rfy_json_numbers(rfy_json *json, const char *key, const double *value, size_t n,
                      size_t stride);
void rfy_json_texts(rfy_json *json, const char *key, const char *const *text, size_t n);
/* {name: value, …} */
void rfy_json_by_name(rfy_json *json, const char *key, const char *const *name, const double *value,
                      size_t n);
/* The keys ultimate, ultimate_after_s, ultimate_sources and rising: write_ultimate.c. */
void rfy_json_ultimate(rfy_json *json, const rfy_result *result);
/* The key band, when one was found: write_band.c. */
void rfy_json_band(rfy_json *json, const rfy_result *result);
/* The key oil_back: write_creep.c. */
void rfy_json_creep(rfy_json *json, const rfy_result *result);
/* The key fault, when one struck: write_strike.c. */
void rfy_json_strike(rfy_json *json, const rfy_result *result);
/* title, status, trouble; and at the end assumed, care, cautions, solver. */
void rfy_json_opening(rfy_json *json, const rfy_result *result);
void rfy_json_closing(rfy_json *json, const rfy_result *result);

#endif
