/* The strict JSON scan and the places it notes.
 *
 * What JSON is: RFC 8259 (grammar, sections 2 to 7); what UTF-8 is: the Unicode Standard. That
 * depth, size and number of values are bounded is this project's own rule. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "io/json_places.h"
#include "support/support.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static rfy_problems *problems;

static int setup(void **state) {
    (void)state;
    problems = rfy_problems_new("t.json");
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_problems_free(problems);
    return 0;
}

static void one_problem(const char *source, int line, int column, const char *what,
                        const char *allowed) {
    const rfy_problem *p = rfy_problems_at(problems, 0);
    if (rfy_problems_total(problems) != 1 || p->line != line || p->column != column || *p->path ||
        !strstr(p->what, what) || !strstr(p->allowed ? p->allowed : "", allowed)) {
        rfy_write_problems(stderr, problems);
        fail_msg("wanted one problem for %.200s at %d:%d: %s", source, line, column, what);
    }
    rfy_problems_free(problems);
    problems = rfy_problems_new("t.json");
}

static void test_strict_json(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int line, column;
        const char *what;
    } cases[] = {
        {"", 0, 0, "nothing in it"},
        {" \n\t ", 0, 0, "nothing in it"},
        {"{", 1, 2, "ends where a key"},
        {"{\"many\": 1", 1, 11, "ends before the \"{\" of line 1"},
        {"[1", 1, 3, "ends before the \"[\""},
        {"{\"many\": }", 1, 10, "where a value is expected"},
        {"{\"many\" 1}", 1, 9, "\":\" after a key"},
        {"{\"many\": 1 \"yes\": 2}", 1, 12, "a comma is missing"},
        {"{\"many\": 1,}", 1, 11, "a comma stands before the closing \"}\""},
        {"[1,]", 1, 3, "a comma stands before the closing \"]\""},
        {"{,}", 1, 2, "a key in double quotes"},
        {"{many: 1}", 1, 2, "the word many"},
        {"{'many': 1}", 1, 2, "\"'\" stands where"},
        {"{\"many\": 01}", 1, 10, "needless zero"},
        {"{\"many\": -01}", 1, 10, "needless zero"},
        {"{\"many\": +1}", 1, 10, "begins with a digit"},
        {"{\"many\": .5}", 1, 10, "begins with a digit"},
        {"{\"many\": 1.}", 1, 12, "a digit after the point"},
        {"{\"many\": 1e}", 1, 12, "a digit of the exponent"},
        {"{\"many\": -}", 1, 11, "a digit"},
        {"{\"many\": 0x1}", 1, 11, "follows a number"},
        {"{\"many\": 1e999}", 1, 10, "too large"},
        {"{\"many\": NaN}", 1, 10, "the word NaN is not JSON"},
        {"{\"many\": Infinity}", 1, 10, "the word Infinity is not JSON"},
        {"{\"yes\": True}", 1, 9, "the word True is not JSON"},
        {"{\"many\": 1} x", 1, 13, "text follows the end"},
        {"{} {}", 1, 4, "text follows the end"},
        {"{\"many\": 1 // x\n}", 1, 12, "stands where a comma"},
        {"/* x */ {}", 1, 1, "where a value"},
        {"{\"bore\": 0.4 mm}", 1, 14, "a unit or a word follows a number"},
        {"{\"text\": \"a\nb\"}", 1, 10, "not closed on its line"},
        {"{\"text\": \"a", 1, 10, "not closed on its line"},
        {"{\"text\": \"a\tb\"}", 1, 12, "control character (code 9)"},
        {"{\"text\": \"\\x\"}", 1, 11, "backslash"},
        {"{\"text\": \"\\u12g4\"}", 1, 11, "four hexadecimal digits"},
        {"{\"text\": \"\\u0000\"}", 1, 11, "\\u0000"},
        {"{\"text\": \"\\ud800\"}", 1, 11, "surrogate"},
        {"{\"text\": \"\\udc00\"}", 1, 11, "surrogate"},
        {"{\"text\": \"\\ud800\\u0041\"}", 1, 11, "surrogate"},
        {"{\"text\": \"\xC3\"}", 1, 11, "0xC3 is not UTF-8"},
        {"\xFF\xFE{\x00}\x00", 0, 0, "UTF-16"},
        {"{\"many\":\v1}", 1, 9, "control character (code 11)"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        rfy_json json;
        assert_false(rfy_json_read(&json, cases[i].text, strlen(cases[i].text), problems));
        one_problem(cases[i].text, cases[i].line, cases[i].column, cases[i].what, "");
    }
    rfy_json json;
    assert_false(rfy_json_read(&json, "{}\0", 3, problems));
    one_problem("{} NUL", 1, 3, "NUL byte", "");
    /* What is JSON, though unusual. */
    const char *good = "{\"text\": \"\\ud83d\\udca7\\/\\b\\f\\n\\r\\t\", \"share\": 1.0E-0 }\n";
    assert_true(rfy_json_read(&json, good, strlen(good), problems));
    assert_string_equal(rfy_json_get(json.root, "text")->valuestring,
                        "\xF0\x9F\x92\xA7/\b\f\n\r\t");
    assert_close(rfy_json_get(json.root, "share")->valuedouble, 1, 0, 0, "number");
    assert_null(rfy_json_get(json.root, "Share")); /* case matters */
    rfy_json_free(&json);
}

static void test_sizes(void **state) {
    (void)state;
    /* Nesting: as deep as allowed, and one more. */
    char text[200];
    for (int more = 0; more < 2; more++) {
        int depth = RFY_JSON_MAX_DEPTH + more;
        memset(text, '[', (size_t)depth);
        memset(text + depth, ']', (size_t)depth);
        text[2 * depth] = '\0';
        rfy_json json;
        assert_int_equal(rfy_json_read(&json, text, (size_t)(2 * depth), problems), more == 0);
        if (more == 0)
            rfy_json_free(&json);
    }
    one_problem("nested", 1, RFY_JSON_MAX_DEPTH + 1, "nested deeper than 64 levels", "");
    size_t length = RFY_JSON_MAX_BYTES + 1;
    char *large = malloc(length + 1);
    memset(large, ' ', length);
    large[length] = '\0';
    rfy_json json;
    assert_false(rfy_json_read(&json, large, length, problems));
    one_problem("large", 0, 0, "the description has 16.0 MiB", "16 MiB at most");
    large[0] = '[';
    for (size_t i = 1; i + 1 < length; i += 2)
        memcpy(large + i, "1,", 2);
    assert_false(rfy_json_read(&json, large, length - 1, problems));
    one_problem("values", 1, 1000000, "more than 500000 values", "");
    free(large);
}

static void test_places(void **state) {
    (void)state;
    const char *text = "[ {\"a\" :\n  [1, \"é\", 2 ],\"b\":\tnull}\n, 3]";
    rfy_json json;
    assert_true(rfy_json_read(&json, text, strlen(text), problems));
    const cJSON *object = json.root->child, *a = rfy_json_get(object, "a"),
                *b = rfy_json_get(object, "b");
    const struct {
        const cJSON *node;
        int line, column, key_line, key_column;
    } cases[] = {
        {json.root, 1, 1, 1, 1}, {object, 1, 3, 1, 3},         {a, 2, 3, 1, 4},
        {a->child, 2, 4, 2, 4},  {a->child->next, 2, 7, 2, 7}, {a->child->next->next, 2, 12, 2, 12},
        {b, 2, 21, 2, 16},       {object->next, 3, 3, 3, 3}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        rfy_place at = rfy_json_value_place(&json, cases[i].node, "p");
        rfy_place key = rfy_json_key_place(&json, cases[i].node, "p");
        if (at.line != cases[i].line || at.column != cases[i].column ||
            key.line != cases[i].key_line || key.column != cases[i].key_column)
            fail_msg("node %zu: value at %d:%d, key at %d:%d", i, at.line, at.column, key.line,
                     key.column);
    }
    rfy_json_free(&json);
}

/* A setting is JSON when it can be, else a text; its place is its number. */
static void test_setting_values(void **state) {
    (void)state;
    rfy_json json;
    assert_true(rfy_json_read(&json, "{}", 2, problems));
    static const struct {
        const char *text;
        int type;
    } cases[] = {{"0.5", cJSON_Number},  {"25 mm", cJSON_String}, {"\"25 mm\"", cJSON_String},
                 {"true", cJSON_True},   {"[1, 2]", cJSON_Array}, {"{\"a\": 1}", cJSON_Object},
                 {"", cJSON_String},     {"[1, 2", cJSON_String}, {"01", cJSON_String},
                 {"1e999", cJSON_String}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        cJSON *node = rfy_json_setting(&json, cases[i].text, 7);
        assert_non_null(node);
        assert_int_equal(node->type & 0xFF, cases[i].type);
        rfy_place at = rfy_json_value_place(&json, node->child ? node->child : node, "");
        assert_int_equal(at.line, 0);
        assert_int_equal(at.column, 7);
        cJSON_Delete(node);
    }
    assert_null(rfy_json_setting(&json, "\xC3", 1));
    rfy_json_free(&json);
}

int main(void) {
#define TEST(t) cmocka_unit_test_setup_teardown(t, setup, teardown)
    const struct CMUnitTest tests[] = {TEST(test_strict_json), TEST(test_sizes), TEST(test_places),
                                       TEST(test_setting_values)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
