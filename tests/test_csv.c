/* The CSV reader: RFC 4180, sections 2.1 to 2.7, and what it adds. */
#include <stdlib.h>
#include <string.h>
#include "core/csv.h"
#include "support/support.h"

static rfy_arena *arena;

static int setup(void **state) {
    (void)state;
    arena = rfy_arena_new();
    return 0;
}

static int teardown(void **state) {
    (void)state;
    rfy_arena_free(arena);
    return 0;
}

static rfy_csv sound(const char *text) {
    rfy_csv csv;
    rfy_csv_error error;
    if (!rfy_csv_read(arena, text, strlen(text), &csv, &error))
        fail_msg("line %d: %s", error.line, error.what);
    return csv;
}

static void broken(const char *text, size_t length, int line, const char *what) {
    rfy_csv csv;
    rfy_csv_error error;
    assert_false(rfy_csv_read(arena, text, length, &csv, &error));
    assert_int_equal(error.line, line);
    assert_non_null(strstr(error.what, what));
    assert_int_equal(csv.n_rows, 0);
}

static void test_rfc_examples(void **state) {
    (void)state;
    /* 2.1 and 2.2: the last line may lack its end; 2.3: a header. */
    for (int ends = 0; ends < 2; ends++) {
        rfy_csv csv = sound(ends ? "a,b,c\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"
                                 : "a,b,c\r\naaa,bbb,ccc\r\nzzz,yyy,xxx");
        assert_int_equal(csv.n_columns, 3);
        assert_int_equal(csv.n_rows, 2);
        assert_string_equal(csv.cell[5], "xxx");
        assert_int_equal(rfy_csv_column(&csv, "c"), 2);
        assert_int_equal(rfy_csv_column(&csv, "d"), -1);
    }
    /* 2.6: line breaks, quotes and commas inside quotes; 2.7: a quote is doubled. */
    rfy_csv csv = sound("\"a\",\"b\"\n\"b\r\nbb\",\"c,\"\"cc\"\n");
    assert_int_equal(csv.n_rows, 1);
    assert_string_equal(csv.cell[0], "b\r\nbb");
    assert_string_equal(csv.cell[1], "c,\"cc");
}

static void test_additions(void **state) {
    (void)state;
    rfy_csv csv =
        sound("\xEF\xBB\xBF# about\n\n  \ntime , pressure\n# more\n 1 ,\t2\r3,\n\" 4 \",\n");
    assert_string_equal(csv.column[0], "time");
    assert_string_equal(csv.column[1], "pressure");
    assert_int_equal(csv.n_rows, 3);
    assert_string_equal(csv.cell[0], "1");
    assert_string_equal(csv.cell[1], "2");
    assert_string_equal(csv.cell[3], "");
    assert_string_equal(csv.cell[4], " 4 ");
    assert_int_equal(csv.line[0], 6);
    assert_int_equal(csv.line[1], 7);
    assert_int_equal(csv.line[2], 8);
    /* '#' is a comment only at the beginning of a line. */
    csv = sound("a,b\nx,#y\n\"#z\",1\n");
    assert_int_equal(csv.n_rows, 2);
    assert_string_equal(csv.cell[1], "#y");
    assert_string_equal(csv.cell[2], "#z");
    csv = sound("a\n");
    assert_int_equal(csv.n_rows, 0);
}

static void test_faults(void **state) {
    (void)state;
    broken("", 0, 0, "names the columns");
    broken("# only\n", 7, 0, "names the columns");
    broken("a,b\n1\n", 6, 2, "1 cells");
    broken("a,b\n1,2,3\n", 10, 2, "3 cells");
    broken("a,b\n1,\"2\n3,4\n", 13, 2, "never closed");
    broken("a,b\n1,\"2\"x\n", 11, 2, "closing quote");
    broken("a,b\n1,2\"3\n", 10, 2, "quote stands inside");
    broken("a\n\xFF\n", 4, 0, "UTF-8");
    broken("a\n1\0\n", 5, 0, "NUL");
}

static void test_many_rows(void **state) {
    (void)state;
    enum { N = 200000 };
    char *text = malloc(8 * N + 16), *to = text;
    to += sprintf(to, "t,p\n");
    for (int i = 0; i < N; i++)
        to += sprintf(to, "%d,%d\n", i % 1000, i % 10);
    rfy_csv csv = sound(text);
    assert_int_equal(csv.n_rows, N);
    assert_string_equal(csv.cell[2 * (N - 1)], "999");
    assert_int_equal(csv.line[N - 1], N + 1);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_rfc_examples, setup, teardown),
        cmocka_unit_test_setup_teardown(test_additions, setup, teardown),
        cmocka_unit_test_setup_teardown(test_faults, setup, teardown),
        cmocka_unit_test_setup_teardown(test_many_rows, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
