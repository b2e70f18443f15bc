/* Independent pieces of work shared by some threads. */
#ifndef RFY_STUDY_JOBS_H
#define RFY_STUDY_JOBS_H

#include <stddef.h>

/* Calls work(context, i) once for each i below n, from `threads` threads (0 = one a core), and
 * after each of them done(context, number done so far) from one thread at a time (NULL = not).
 * What work writes must depend on i alone, so that the result does not depend on the threads. */
void rfy_jobs_run(int threads, size_t n, void (*work)(void *context, size_t i),
                  void (*done)(void *context, size_t n_done), void *context);

#endif
