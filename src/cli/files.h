/* Reading descriptions, and writing results so that nothing half-written is left behind. */
#ifndef RFY_CLI_FILES_H
#define RFY_CLI_FILES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include "rarefy/rarefy.h"

#define CLI_LARGEST_FILE ((size_t)16 << 20) /* bytes */

/* The whole of a file, or of standard input for "-": NUL-terminated, to be freed. RFY_IO_FAILED
 * with a message on stderr when it cannot be read or is larger than CLI_LARGEST_FILE. */
rfy_status cli_read_file(const char *path, char **text, size_t *length);

typedef struct cli_output {
    FILE *stream;
    const char *name;     /* for messages */
    char *target, *draft; /* regular file: written to draft, then renamed; NULL otherwise */
} cli_output;

/* path NULL or "-" is standard output. RFY_IO_FAILED with a message on stderr. */
rfy_status cli_output_open(cli_output *output, const char *path);
/* Ends writing: flushes, checks and, for a file, puts it in place. `status` is what the writer
 * said: on RFY_IO_FAILED or with any stream error the file is left as it was and a message stands
 * on stderr. */
rfy_status cli_output_close(cli_output *output, rfy_status status);
/* Whether the stream is a pipe that no one reads any more. */
bool cli_reader_left(FILE *stream);
/* The errno of a stream that failed earlier, when that is no longer known: a line end more is
 * refused for the same reason. 0 = it is not. */
int cli_why_not(FILE *stream);
/* Leaves everything as it was. */
void cli_output_abandon(cli_output *output);
/* The same when a study gave no result at all: says so, and returns the exit code, which is never
 * RFY_OK. */
rfy_status cli_output_without_result(cli_output *output, rfy_status status);

/* Options for text on that stream: colour only on a terminal, unless NO_COLOR is set; width of the
 * terminal, or of COLUMNS, at most 100. */
rfy_write_options cli_write_options(FILE *stream, const char *pressure_unit);

/* At the start: SIGTERM and SIGHUP end the program without leaving a half-written file; a closed
 * pipe becomes a write error. */
void cli_watch_signals(void);
/* Before computing: the first Ctrl-C asks the run to stop (cli_stop becomes 1), the second ends the
 * program, without leaving a half-written file. */
void cli_watch_interrupt(void);
extern volatile int cli_stop;

#endif
