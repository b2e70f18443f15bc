/* Lines of a stream in bounded memory, whatever the stream holds. */
#ifndef RFY_IO_LOG_LINES_H
#define RFY_IO_LOG_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { RFY_LOG_LINE_MOST = 4096 }; /* bytes of a line that are kept */

typedef struct rfy_log_lines {
    FILE *in;
    unsigned char block[1 << 16];
    size_t at, filled;
    long line;        /* of the last line given, from 1 */
    bool after_cr;    /* the last line ended in CR: an LF that follows belongs to it */
    bool long_line;   /* the last line was longer than is kept */
    bool nul;         /* the last line held a NUL byte; it is kept as a blank */
    bool wide;        /* the stream begins as UTF-16 or UTF-32 does */
    size_t text_size; /* bytes in text */
    char text[RFY_LOG_LINE_MOST + 1];
} rfy_log_lines;

void rfy_log_lines_begin(rfy_log_lines *lines, FILE *in);
/* The next line into `text`, NUL-terminated, without its end (LF, CRLF or CR). False at the end. */
bool rfy_log_lines_next(rfy_log_lines *lines);

#endif
