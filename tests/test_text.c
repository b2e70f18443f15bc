/* Names, numbers and UTF-8 of core/text.h. */
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "core/decimal.h"
#include "core/text.h"
#include "support/support.h"

static int nearest(const char *text, const char *names) {
    static char copy[400];
    const char *list[32];
    size_t n = 0;
    snprintf(copy, sizeof copy, "%s", names);
    for (char *at = copy; at; n++) {
        list[n] = at;
        at = strchr(at, ' ');
        if (at)
            *at++ = '\0';
    }
    return rfy_nearest(text, list, n);
}

/* Edits counted by hand: one insertion, deletion, substitution or transposition each. */
static void test_nearest(void **state) {
    (void)state;
    assert_int_equal(nearest("volum", "bore volume walls"), 1);
    assert_int_equal(nearest("volumes", "bore volume walls"), 1);
    assert_int_equal(nearest("vloume", "bore volume walls"), 1); /* transposed: one edit */
    assert_int_equal(nearest("VOLUME", "bore volume walls"), 1);
    assert_int_equal(nearest("length", "bore volume walls"), -1);
    assert_int_equal(nearest("roughing vlave", "foreline_valve roughing"), -1);
    assert_int_equal(nearest("", "bore volume"), -1);
    assert_int_equal(nearest("xyzzy", "bore volume"), -1);
    /* The case of the letters decides between equally near names. */
    assert_int_equal(nearest("mpa", "MPa mPa Pa"), 1);
    assert_int_equal(nearest("Mpa", "mPa MPa Pa"), 1);
    /* Of equally near names the one of the same length and beginning. */
    assert_int_equal(nearest("mn", "m nm mm"), 2);
    /* A single letter is no misspelling of another one. */
    assert_int_equal(nearest("q", "h s"), -1);
    assert_int_equal(nearest("H", "h s"), 0);
    /* A part of one name alone. */
    assert_int_equal(nearest("turbo", "scroll turbomolecular diffusion"), 1);
    assert_int_equal(nearest("Vane", "piston rotary_vane"), 1);
    assert_int_equal(nearest("valve", "inlet_valve outlet_valve"), -1);
    assert_int_equal(nearest("tu", "scroll turbomolecular"), -1);
}

/* "ca" and "abc": two edits when the pair may be swapped with a letter put between (Lowrance and
 * Wagner 1975 give this kind of case), three without; a limit of two for six letters tells them
 * apart. */
static void test_nearest_free_transposition(void **state) {
    (void)state;
    assert_int_equal(nearest("caxxxx", "abcxxxx"), 0);
    assert_int_equal(nearest("caxxx", "bacdxxx"), -1);
}

static void test_nearest_long(void **state) {
    (void)state;
    char *text = malloc(1000001);
    memset(text, 'a', 1000000);
    text[1000000] = '\0';
    const char *names[] = {"aaaa", text};
    assert_int_equal(rfy_nearest(text, names, 2), -1); /* and at once */
    free(text);
}

static void check_number(const char *text, double wanted, size_t used) {
    double value = -12345;
    size_t n = rfy_read_number(text, &value);
    if (n != used || (n && (value < wanted || value > wanted)))
        fail_msg("\"%.40s\": %.17g and %zu bytes, wanted %.17g and %zu", text, value, n, wanted,
                 used);
}

static void test_read_number(void **state) {
    (void)state;
    check_number("0", 0, 1);
    check_number("12.5 mm", 12.5, 4);
    check_number("-3e-2x", -0.03, 5);
    check_number("+1.5E+3", 1500, 7);
    check_number(".5", 0.5, 2);
    check_number("5.", 5, 1);
    check_number("1e", 1, 1);
    check_number("1e+", 1, 1);
    check_number("007", 7, 3);
    check_number("0.1.2", 0.1, 3);
    check_number("", 0, 0);
    check_number("abc", 0, 0);
    check_number("nan", 0, 0);
    check_number("inf", 0, 0);
    check_number("0x10", 0, 1);
    check_number("-", 0, 0);
    check_number("- 1", 0, 0);
    check_number("1,5", 1, 1);
    check_number("1e400", (double)INFINITY, 5);
    check_number("1e99999999999999999999", (double)INFINITY, 22);
    check_number("1e-99999999999999999999", 0, 23);
    check_number("0e99999999999999999999", 0, 22);
}

/* Hard cases of decimal conversion, known from the literature (Clinger 1990, Gay 1990; from memory)
 * and settled by the hexadecimal constants the compiler converts itself. */
static void test_read_number_exact(void **state) {
    (void)state;
    check_number("2.2250738585072011e-308", 0x0.fffffffffffffp-1022, 23);
    check_number("4.9406564584124654e-324", 0x0.0000000000001p-1022, 23);
    check_number("1.7976931348623157e308", 0x1.fffffffffffffp1023, 22);
    check_number("9007199254740993", 0x1p53, 16); /* half-way: to even */
    check_number("9007199254740993.0000000000000000000000000000000000001", 0x1.0000000000001p53,
                 54);
    /* The same with the deciding digit far beyond what any buffer keeps. */
    char text[2002];
    memset(text, '0', sizeof text);
    memcpy(text, "9007199254740993.", 17);
    text[2000] = '1';
    text[2001] = '\0';
    check_number(text, 0x1.0000000000001p53, 2001);
}

static void test_numbers_in_other_locales(void **state) {
    (void)state;
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "cs_CZ.UTF-8"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (setlocale(LC_ALL, names[i]))
            break;
    char buffer[32];
    check_number("12.5", 12.5, 4);
    assert_string_equal(rfy_write_number(buffer, 0.25), "0.25");
    assert_string_equal(rfy_format_number(buffer, 1234.5, 5), "1234.5");
    setlocale(LC_ALL, "C");
}

static void test_write_number(void **state) {
    (void)state;
    static const struct {
        double value;
        const char *text;
    } cases[] = {{0, "0"},
                 {1, "1"},
                 {-1.5, "-1.5"},
                 {0.1, "0.1"},
                 {1e-8, "1e-08"},
                 {1e22, "1e+22"},
                 {123456789, "123456789"},
                 {0.00012, "0.00012"},
                 {1.0 / 3, "0.3333333333333333"},
                 {5e-324, "5e-324"},
                 {1e100, "1e+100"},
                 {100000, "100000"},
                 {0x1p53, "9007199254740992"}};
    char buffer[32];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        assert_string_equal(rfy_write_number(buffer, cases[i].value), cases[i].text);
    assert_string_equal(rfy_write_number(buffer, (double)NAN), "null");
    assert_string_equal(rfy_write_number(buffer, -(double)INFINITY), "null");
}

/* Any double comes back bit for bit, through this reader and through the C library's. */
static void test_round_trip(void **state) {
    (void)state;
    uint64_t x = 88172645463325252u; /* xorshift, Marsaglia 2003 */
    for (int i = 0; i < 200000; i++) {
        x ^= x << 13;
        x ^= x >> 7;
        x ^= x << 17;
        double value, back = 0;
        memcpy(&value, &x, sizeof value);
        if (!isfinite(value))
            continue;
        char buffer[32];
        rfy_write_number(buffer, value);
        size_t used = rfy_read_number(buffer, &back);
        double library = strtod(buffer, NULL);
        if (used != strlen(buffer) || memcmp(&back, &value, sizeof value) != 0 ||
            memcmp(&library, &value, sizeof value) != 0)
            fail_msg("%.17g became \"%s\"", value, buffer);
    }
}

static uint64_t next(uint64_t *x) {
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

/* Digits as the C library rounds them, and never more than are needed; of random numbers, short
 * ones, halves and powers, where rounding is decided late. */
static void test_digits_of_the_library(void **state) {
    (void)state;
    uint64_t x = 0x9E3779B97F4A7C15u;
    for (int i = 0; i < 200000; i++) {
        double value = ldexp((double)(next(&x) >> 11), (int)(next(&x) % 1600) - 850);
        char wanted[40], mine[40];
        if (i % 4 == 1) /* short */
            value = (double)(next(&x) % 100000) * pow(10, (double)(next(&x) % 40) - 20);
        else if (i % 4 == 2) /* exact halves of a digit */
            value = ((double)(next(&x) % 1000000) + 0.5) / 8;
        else if (i % 8 == 3) /* next to a power of ten or of two */
            value = nextafter(i % 16 == 3 ? pow(10, (double)(next(&x) % 300) - 150)
                                          : ldexp(1, (int)(next(&x) % 600) - 300),
                              next(&x) % 2 ? 0 : HUGE_VAL);
        if (!(value > 0) || !isfinite(value))
            continue;
        const int digits = 1 + (int)(next(&x) % 17);
        const rfy_decimal d = rfy_decimal_of(value, digits);
        snprintf(wanted, sizeof wanted, "%.*e", digits - 1, value);
        snprintf(mine, sizeof mine, "%c%s%.*s%.*se%c%02d", d.digit[0], digits > 1 ? "." : "",
                 d.n - 1, d.digit + 1, digits - d.n, "0000000000000000", d.exponent < 0 ? '-' : '+',
                 abs(d.exponent));
        if (strcmp(wanted, mine) != 0)
            fail_msg("%.17g to %d digits: %s, wanted %s", value, digits, mine, wanted);
        /* as short as 15, 16 or 17 digits allow */
        int needed = 15;
        for (; needed < 17; needed++) {
            snprintf(wanted, sizeof wanted, "%.*e", needed - 1, value);
            if (memcmp(&(double){strtod(wanted, NULL)}, &value, sizeof value) == 0)
                break;
        }
        snprintf(wanted, sizeof wanted, "%.*e", needed - 1, value);
        rfy_write_number(mine, value);
        int shown = 0, zeros = 0;
        for (const char *c = mine; *c && *c != 'e'; c++)
            if (*c != '.' && (shown > 0 || *c != '0')) {
                shown++;
                zeros = *c == '0' ? zeros + 1 : 0;
            }
        if (shown - zeros > needed || memcmp(&(double){strtod(mine, NULL)}, &value, sizeof value))
            fail_msg("%.17g written as %s, %d digits are enough", value, mine, needed);
    }
}

/* Short decimal numbers are read by one multiplication or division. */
static void test_short_numbers(void **state) {
    (void)state;
    uint64_t x = 0x2545F4914F6CDD1Du;
    for (int i = 0; i < 200000; i++) {
        char text[48];
        const unsigned long long digits = next(&x) >> (next(&x) % 60);
        snprintf(text, sizeof text, "%llue%d", digits, (int)(next(&x) % 60) - 30);
        check_number(text, strtod(text, NULL), strlen(text));
    }
}

static void test_format_number(void **state) {
    (void)state;
    char b[32];
    assert_string_equal(rfy_format_number(b, 0.00123456, 3), "0.00123");
    assert_string_equal(rfy_format_number(b, 12.3456, 3), "12.3");
    assert_string_equal(rfy_format_number(b, 4.5611e-7, 3), "4.56e-7");
    assert_string_equal(rfy_format_number(b, 1234, 3), "1230");
    assert_string_equal(rfy_format_number(b, 101325, 6), "101325");
    assert_string_equal(rfy_format_number(b, 1013250, 4), "1.013e+6");
    assert_string_equal(rfy_format_number(b, 0.9999, 3), "1");
    assert_string_equal(rfy_format_number(b, -5, 3), "-5");
    assert_string_equal(rfy_format_number(b, 0, 3), "0");
    assert_string_equal(rfy_format_number(b, (double)NAN, 3), "null");
}

/* Well-formed and ill-formed sequences: the Unicode Standard, table 3-7 and section 3.9 (from
 * memory). */
static void test_utf8(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int bad; /* -1 = well-formed */
    } cases[] = {{"", -1},
                 {"abc", -1},
                 {"\xC2\xB5m \xE2\x82\xAC \xF0\x9F\x92\xA7", -1},
                 {"\xEF\xBF\xBD", -1},
                 {"\xF4\x8F\xBF\xBF", -1},
                 {"a\x80", 1},
                 {"\xC0\xAF", 0}, /* overlong "/" */
                 {"\xC1\xBF", 0},
                 {"ab\xE0\x80\xAF", 2},   /* overlong */
                 {"\xED\xA0\x80", 0},     /* surrogate */
                 {"\xF4\x90\x80\x80", 0}, /* above U+10FFFF */
                 {"\xF5\x80\x80\x80", 0},
                 {"\xF0\x8F\xBF\xBF", 0},
                 {"x\xE2\x82", 1}, /* cut short */
                 {"\xFF", 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        size_t bad = 999;
        bool good = rfy_utf8_valid(cases[i].text, strlen(cases[i].text), &bad);
        assert_int_equal(good, cases[i].bad < 0);
        if (!good)
            assert_int_equal(bad, cases[i].bad);
    }
    assert_int_equal(rfy_utf8_count("\xC2\xB5m\xE2\x82\xAC", 6), 3);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nearest),           cmocka_unit_test(test_nearest_free_transposition),
        cmocka_unit_test(test_nearest_long),      cmocka_unit_test(test_read_number),
        cmocka_unit_test(test_read_number_exact), cmocka_unit_test(test_numbers_in_other_locales),
        cmocka_unit_test(test_write_number),      cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_short_numbers),     cmocka_unit_test(test_digits_of_the_library),
        cmocka_unit_test(test_format_number),     cmocka_unit_test(test_utf8),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
