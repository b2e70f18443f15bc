/* Lines computed by several threads and handed on in order, with no more than a window of them in
 * memory. */
#ifndef RFY_STUDY_STREAM_H
#define RFY_STUDY_STREAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

typedef struct rfy_stream {
    int threads; /* 0 = one a core */
    size_t item_size;
    /* Fills item number i; false when there is no more. Called in order, from one thread at a time.
     */
    bool (*next)(void *context, size_t i, void *item);
    /* Writes the line (with its end) of item i. `worker` counts from 0 below the threads. False =
     * the work was interrupted: this line and all after it are left out. */
    bool (*work)(void *context, int worker, size_t i, void *item, FILE *line);
    /* Takes lines in order, one thread at a time; false ends everything. */
    bool (*take)(void *context, size_t i, const char *line, size_t length);
    volatile const int *stop; /* NULL = never */
    void *context;
} rfy_stream;

enum { RFY_STREAM_WORKERS = 64 };

/* Threads that would be used for `threads`. */
int rfy_stream_threads(int threads);
/* How many lines were taken; *whole says whether that is all of them. */
size_t rfy_stream_run(const rfy_stream *stream, bool *whole);

#endif
