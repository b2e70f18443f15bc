#include "io/log_time.h"
#include <ctype.h>
#include <string.h>
#include <strings.h>

/* Up to `most` digits; the number of them, 0 = none. */
static size_t digits(const char *text, size_t most, int *value) {
    size_t n = 0;
    *value = 0;
    while (n < most && isdigit((unsigned char)text[n]))
        *value = 10 * *value + (text[n++] - '0');
    return n;
}

/* Days since 1970-01-01 in the Gregorian calendar (Richards, in the Explanatory Supplement to the
 * Astronomical Almanac, 3rd ed. 2013, section 15.11, from memory; tested against known dates). */
static long day_number(int year, int month, int day) {
    long a = (14 - month) / 12, y = year + 4800L - a, m = month + 12 * a - 3;
    return day + (153 * m + 2) / 5 + 365 * y + y / 4 - y / 100 + y / 400 - 32045 - 2440588;
}

static bool is_date(int year, int month, int day) {
    static const int length[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (month < 1 || month > 12 || day < 1 || year < 1 || year > 9999)
        return false;
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return day <= length[month - 1] + (month == 2 && leap);
}

static int full_year(int year, size_t written) {
    return written > 2 ? year : year < 70 ? 2000 + year : 1900 + year;
}

int rfy_log_month_place(const char *text) {
    int a, b;
    size_t n = digits(text, 2, &a);
    if (n == 0 || text[n] != '/')
        return 0;
    if (digits(text + n + 1, 2, &b) == 0)
        return 0;
    return a > 12 ? -1 : b > 12 ? 1 : 0;
}

/* 2026-11-26, 2026/11/26, 26.11.2026, 26/11/2026, 11/26/2026: bytes used, 0 = no date. */
static size_t read_date(const char *text, rfy_log_date_order *order, double *seconds) {
    int a, b, c;
    size_t na = digits(text, 4, &a), at = na;
    char mark = text[at];
    if (na == 0 || !(mark == '-' || mark == '/' || mark == '.'))
        return 0;
    at++;
    size_t nb = digits(text + at, 2, &b);
    at += nb;
    if (nb == 0 || text[at] != mark)
        return 0;
    at++;
    size_t nc = digits(text + at, 4, &c);
    at += nc;
    if (nc == 0)
        return 0;
    int year = a, month = b, day = c;
    if (na != 4) {
        if (nc != 4 && nc != 2)
            return 0;
        year = full_year(c, nc);
        bool month_first = mark == '/' && order->month_first;
        month = month_first ? a : b;
        day = month_first ? b : a;
        if (mark == '/' && a <= 12 && b <= 12 && a != b)
            order->ambiguous = true;
    }
    if (!is_date(year, month, day))
        return 0;
    *seconds = 86400.0 * (double)day_number(year, month, day);
    return at;
}

/* 09:15, 09:15:30, 09:15:30.25, with AM or PM: bytes used, 0 = no clock time. */
static size_t read_clock(const char *text, const rfy_log_date_order *order, double *seconds) {
    int h, m, s = 0;
    double part = 0;
    size_t n = digits(text, 4, &h), at = n;
    if (n == 0 || text[at] != ':')
        return 0;
    n = digits(text + ++at, 2, &m);
    at += n;
    if (n == 0 || m > 59)
        return 0;
    bool has_seconds = text[at] == ':';
    if (has_seconds) {
        n = digits(text + ++at, 2, &s);
        at += n;
        if (n == 0 || s > 60) /* a leap second */
            return 0;
    }
    if ((text[at] == '.' || text[at] == ',') && isdigit((unsigned char)text[at + 1])) {
        double scale = 0.1;
        for (at++; isdigit((unsigned char)text[at]); at++, scale /= 10)
            part += scale * (text[at] - '0');
    }
    if (!has_seconds && order->minutes_only) {
        *seconds = 60.0 * h + m + part;
        return at;
    }
    size_t blank = text[at] == ' ' ? 1 : 0;
    if (strncasecmp(text + at + blank, "am", 2) == 0 ||
        strncasecmp(text + at + blank, "pm", 2) == 0) {
        bool pm = tolower((unsigned char)text[at + blank]) == 'p';
        if (h < 1 || h > 12)
            return 0;
        h = h % 12 + (pm ? 12 : 0);
        at += blank + 2;
    }
    *seconds = 3600.0 * h + 60.0 * m + s + (has_seconds ? part : 60 * part);
    return at;
}

/* Z, +01:00, +0100, +01: bytes used. */
static size_t read_zone(const char *text, double *shift) {
    int h, m = 0;
    *shift = 0;
    if (*text == 'Z' || *text == 'z')
        return 1;
    if (*text != '+' && *text != '-')
        return 0;
    size_t at = 1, n = digits(text + at, 2, &h);
    at += n;
    if (n != 2)
        return 0;
    if (text[at] == ':')
        at++;
    at += digits(text + at, 2, &m);
    *shift = (*text == '-' ? 1 : -1) * (3600.0 * h + 60.0 * m);
    return at;
}

rfy_log_time_kind rfy_log_time(const char *text, rfy_log_date_order *order, double *seconds) {
    double date = 0, clock = 0, shift = 0;
    size_t at = read_date(text, order, &date);
    if (at == 0) {
        at = read_clock(text, order, &clock);
        *seconds = clock;
        return at > 0 && !text[at] ? RFY_TIME_CLOCK : RFY_TIME_NONE;
    }
    *seconds = date;
    if (!text[at])
        return RFY_TIME_DATE;
    if (text[at] != 'T' && text[at] != 't' && text[at] != ' ' && text[at] != '_')
        return RFY_TIME_NONE;
    at++;
    while (text[at] == ' ')
        at++;
    size_t n = read_clock(text + at, order, &clock);
    if (n == 0)
        return RFY_TIME_NONE;
    at += n;
    while (text[at] == ' ')
        at++;
    at += read_zone(text + at, &shift);
    *seconds = date + clock + shift;
    return text[at] ? RFY_TIME_NONE : RFY_TIME_DATE_CLOCK;
}
