#include "io/log_lines.h"
#include <string.h>

void rfy_log_lines_begin(rfy_log_lines *lines, FILE *in) {
    memset(lines, 0, sizeof *lines);
    lines->in = in;
    lines->filled = fread(lines->block, 1, sizeof lines->block, in);
    const unsigned char *b = lines->block;
    if (lines->filled >= 3 && b[0] == 0xEF && b[1] == 0xBB && b[2] == 0xBF)
        lines->at = 3;
    else if (lines->filled >= 2 &&
             ((b[0] == 0xFF && b[1] == 0xFE) || (b[0] == 0xFE && b[1] == 0xFF)))
        lines->wide = true;
}

static bool refill(rfy_log_lines *lines) {
    if (lines->at < lines->filled)
        return true;
    lines->at = 0;
    lines->filled = fread(lines->block, 1, sizeof lines->block, lines->in);
    return lines->filled > 0;
}

bool rfy_log_lines_next(rfy_log_lines *lines) {
    lines->text_size = 0;
    lines->long_line = lines->nul = false;
    if (!refill(lines))
        return false;
    if (lines->after_cr && lines->block[lines->at] == '\n') {
        lines->at++;
        lines->after_cr = false;
        if (!refill(lines))
            return false;
    }
    lines->after_cr = false;
    lines->line++;
    do {
        unsigned char c = lines->block[lines->at++];
        if (c == '\n' || c == '\r') {
            lines->after_cr = c == '\r';
            break;
        }
        if (lines->text_size == RFY_LOG_LINE_MOST) {
            lines->long_line = true;
            continue;
        }
        if (c == 0)
            lines->nul = true;
        lines->text[lines->text_size++] = c ? (char)c : ' ';
    } while (refill(lines));
    lines->text[lines->text_size] = '\0';
    return true;
}
