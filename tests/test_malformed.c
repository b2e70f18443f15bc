/* Every way we know to get a description wrong, and what the user is told: tests/malformed/ (see
 * its README).
 *
 * The cases are the project's own; where they lean on a standard it is RFC 8259 (what is JSON) and
 * the Unicode Standard (what is UTF-8). The place of each fault is marked by hand in the case
 * itself. */
#define _POSIX_C_SOURCE 200809L
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>
#include "core/text.h"
#include "support/support.h"

#define MARK  "\xC2\xA6" /* the broken bar, never part of a description */
#define EVERY 12         /* one case in so many goes through the program as well */

static const char *const files[] = {"syntax",   "encoding", "size",      "type",    "unit",
                                    "range",    "key",      "name",      "like",    "piece",
                                    "topology", "physics",  "procedure", "program", "setting",
                                    "surfaces"};

typedef struct text {
    char *data;
    size_t length, capacity;
} text;

static void append(text *t, const char *data, size_t n) {
    if (t->length + n + 1 > t->capacity) {
        t->capacity = 2 * (t->length + n + 1);
        t->data = realloc(t->data, t->capacity);
        assert_non_null(t->data);
    }
    if (n)
        memcpy(t->data + t->length, data, n);
    t->length += n;
    t->data[t->length] = '\0';
}

/* Text of a case: %{0A} is a byte, %{x*70} repeats; all else stands for itself. */
static void append_case(text *t, const char *line, size_t n) {
    for (size_t i = 0; i < n;) {
        const char *close =
            i + 2 < n && line[i] == '%' && line[i + 1] == '{' ? memchr(line + i, '}', n - i) : NULL;
        if (!close) {
            append(t, line + i++, 1);
            continue;
        }
        const char *body = line + i + 2, *star = NULL;
        for (const char *c = body; c < close; c++)
            if (*c == '*')
                star = c; /* the last one */
        if (star) {
            for (long k = strtol(star + 1, NULL, 10); k > 0; k--)
                append(t, body, (size_t)(star - body));
        } else {
            char byte = (char)strtol(body, NULL, 16);
            append(t, &byte, 1);
        }
        i = (size_t)(close - line) + 1;
    }
}

typedef struct malformed {
    const char *file, *title;
    int line; /* of the title in its file */
    text whole, old, new;
    bool is_whole;
    rfy_setting setting[4];
    size_t n_settings;
    const char *says[8];
    size_t n_says;
    size_t n; /* errors expected */
} malformed;

static char *base;
static size_t n_cases, n_failed, n_run;

/* Takes the mark out; line and column of where it stood, 0 when there was none. */
static void take_mark(text *t, int *line, int *column) {
    *line = *column = 0;
    for (size_t i = 0; i + 1 < t->length; i++) {
        if (memcmp(t->data + i, MARK, 2) != 0)
            continue;
        size_t begin = i;
        while (begin > 0 && t->data[begin - 1] != '\n')
            begin--;
        *line = 1;
        for (size_t k = 0; k < begin; k++)
            *line += t->data[k] == '\n';
        if (begin == 0 && t->length >= 3 && memcmp(t->data, "\xEF\xBB\xBF", 3) == 0)
            begin = 3; /* a byte order mark has no column */
        *column = 1 + (int)rfy_utf8_count(t->data + begin, i - begin);
        memmove(t->data + i, t->data + i + 2, t->length - i - 1);
        t->length -= 2;
        return;
    }
}

static void complain(const malformed *c, const char *what, const rfy_problems *problems) {
    fprintf(stderr, "tests/malformed/%s.txt:%d: %s: %s\n", c->file, c->line, c->title, what);
    if (problems)
        rfy_write_problems(stderr, problems);
    n_failed++;
}

/* The program on the same text: exit status 3, the message on stderr, nothing on stdout. */
static void run_program(const malformed *c, const text *t) {
    char name[] = "/tmp/rarefy-malformed-XXXXXX", command[4096];
    int fd = mkstemp(name);
    assert_true(fd >= 0);
    FILE *file = fdopen(fd, "wb");
    assert_non_null(file);
    fwrite(t->data, 1, t->length, file);
    fclose(file);
    text out = {0};
    int status[2];
    for (int i = 0; i < 2; i++) { /* what comes on stdout alone, then on stderr alone */
        snprintf(command, sizeof command, "'%s' run '%s' %s", RAREFY_PROGRAM, name,
                 i ? "2>&1 >/dev/null" : "2>/dev/null");
        FILE *pipe = popen(command, "r");
        assert_non_null(pipe);
        char buffer[4096];
        out.length = 0;
        append(&out, "", 0);
        for (size_t n; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;)
            append(&out, buffer, n);
        status[i] = pclose(pipe);
        if (!WIFEXITED(status[i]) || WEXITSTATUS(status[i]) != RFY_BAD_INPUT)
            complain(c, "the program did not exit with status 3", NULL);
        if (i == 0 && out.length)
            complain(c, "the program wrote to stdout", NULL);
        char *semicolon = strstr(c->says[0], "; "), says[400];
        snprintf(says, sizeof says, "%.*s",
                 semicolon ? (int)(semicolon - c->says[0]) : (int)strlen(c->says[0]), c->says[0]);
        if (i == 1 && (!strstr(out.data, ": error: ") || !strstr(out.data, says)))
            complain(c, "the program's message is not the expected one", NULL);
    }
    free(out.data);
    unlink(name);
    n_run++;
}

static void check(malformed *c) {
    text t = {0};
    n_cases++;
    if (c->n_says == 0) {
        complain(c, "the case says nothing", NULL);
        return;
    }
    if (c->is_whole) {
        append(&t, c->whole.data, c->whole.length);
    } else {
        append(&t, base, strlen(base));
        if (c->old.length) {
            char *at = strstr(base, c->old.data);
            if (!at || strstr(at + 1, c->old.data)) {
                complain(c, "the text to replace does not stand in bench.json exactly once", NULL);
                free(t.data);
                return;
            }
            t.length = 0;
            append(&t, base, (size_t)(at - base));
            append(&t, c->new.data ? c->new.data : "", c->new.length);
            append(&t, at + c->old.length, strlen(at + c->old.length));
        }
    }
    int line = 0, column = c->n_settings ? 1 : 0;
    if (!c->n_settings)
        take_mark(&t, &line, &column);

    rfy_problems *problems = rfy_problems_new("bench.json");
    rfy_system *system = NULL;
    rfy_status status =
        rfy_system_read(&system, t.data, t.length, c->setting, c->n_settings, problems);
    const rfy_problem *first = NULL;
    for (size_t i = 0; i < rfy_problems_kept(problems) && !first; i++)
        if (rfy_problems_at(problems, i)->severity == RFY_ERROR)
            first = rfy_problems_at(problems, i);
    if (status != RFY_BAD_INPUT || system || !first) {
        complain(c, "the description was accepted", problems);
    } else {
        char message[2000], wanted[80];
        snprintf(message, sizeof message, "%s: %s; %s; %s", first->path, first->what,
                 first->allowed ? first->allowed : "", first->hint ? first->hint : "");
        snprintf(wanted, sizeof wanted, "wanted %zu errors, the first at %d:%d", c->n, line,
                 column);
        if (rfy_problems_errors(problems) != c->n || first->line != line || first->column != column)
            complain(c, wanted, problems);
        for (size_t i = 0; i < c->n_says; i++)
            if (!strstr(message, c->says[i]))
                complain(c, c->says[i], problems);
        /* Printing must work, whatever is in the text. */
        FILE *nowhere = fopen("/dev/null", "w");
        assert_non_null(nowhere);
        rfy_write_problems(nowhere, problems);
        fclose(nowhere);
    }
    rfy_system_free(system);
    rfy_problems_free(problems);
    if (n_cases % EVERY == 0 && c->n_settings == 0)
        run_program(c, &t);
    free(t.data);
}

static void clear(malformed *c) {
    free(c->whole.data);
    free(c->old.data);
    free(c->new.data);
    *c = (malformed){.n = 1};
}

static void check_file(const char *file) {
    char path[200];
    snprintf(path, sizeof path, "tests/malformed/%s.txt", file);
    char *cases = test_read_file(path, NULL);
    malformed c = {.n = 1};
    int number = 0;
    for (char *line = cases, *next; line && *line; line = next) {
        number++;
        next = strchr(line, '\n');
        if (next)
            *next++ = '\0';
        char *rest = line + (line[0] && line[1] == ' ' ? 2 : 1);
        switch (line[0]) {
        case '=':
            if (c.title)
                check(&c);
            clear(&c);
            c.file = file;
            c.title = rest;
            c.line = number;
            break;
        case '|':
            c.is_whole = true;
            append_case(&c.whole, rest, strlen(rest));
            append(&c.whole, "\n", 1);
            break;
        case '&': /* the same without the end of the line */
            c.is_whole = true;
            append_case(&c.whole, rest, strlen(rest));
            break;
        case '-':
            append(&c.old, rest, strlen(rest));
            break;
        case '+':
            append_case(&c.new, rest, strlen(rest));
            break;
        case 's': {
            char *equals = strchr(rest, '=');
            assert_non_null(equals);
            assert_true(c.n_settings < 4);
            *equals = '\0';
            c.setting[c.n_settings++] = (rfy_setting){rest, equals + 1};
            break;
        }
        case '!':
            assert_true(c.n_says < 8);
            c.says[c.n_says++] = rest;
            break;
        case 'n':
            c.n = (size_t)strtol(rest, NULL, 10);
            break;
        case 'j': /* caught by the JSON Schema too: tests/schema/check.py */
        case '#':
        case '\0':
            break;
        default:
            fail_msg("%s:%d: a line begins with \"%c\"", path, number, line[0]);
        }
    }
    if (c.title)
        check(&c);
    clear(&c);
    free(cases);
}

static void test_base_is_sound(void **state) {
    (void)state;
    rfy_problems *problems = rfy_problems_new("bench.json");
    rfy_system *system = NULL;
    rfy_status status = rfy_system_read(&system, base, strlen(base), NULL, 0, problems);
    if (status != RFY_OK || rfy_problems_total(problems)) {
        rfy_write_problems(stderr, problems);
        fail_msg("bench.json is not sound");
    }
    rfy_system_free(system);
    rfy_problems_free(problems);
}

static void test_cases(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        check_file(files[i]);
    fprintf(stderr, "%zu cases, %zu of them through the program too\n", n_cases, n_run);
    assert_int_equal(n_failed, 0);
    assert_true(n_cases >= 220);
    assert_true(n_run >= 10);
}

int main(void) {
    base = test_read_file("tests/malformed/bench.json", NULL);
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_base_is_sound),
                                       cmocka_unit_test(test_cases)};
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    free(base);
    return failed;
}
