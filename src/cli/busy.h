/* "computing, 3 s" on a terminal's stderr for all that takes more than a second. */
#ifndef RFY_CLI_BUSY_H
#define RFY_CLI_BUSY_H

#include <stddef.h>

/* Begins to count; nothing is shown in the first second, nor where stderr is no terminal. */
void cli_busy_begin(void);
/* How far it came, for the line: "40 of 128 cases". Any thread; fits the progress calls of the
 * library, `what` being their context. */
void cli_busy_count(void *what, size_t done, size_t all);
/* Takes the line away, before anything else is written; more than once is fine. */
void cli_busy_end(void);

#endif
