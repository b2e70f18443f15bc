#define _POSIX_C_SOURCE 200809L
#include "study/jobs.h"
#include <pthread.h>
#include <stdbool.h>
#include <unistd.h>

enum { MOST_THREADS = 64 };

typedef struct pool {
    pthread_mutex_t lock;
    size_t n, next, finished;
    void (*work)(void *context, size_t i);
    void (*done)(void *context, size_t n_done);
    void *context;
} pool;

static void *labour(void *argument) {
    pool *p = argument;
    for (;;) {
        pthread_mutex_lock(&p->lock);
        size_t i = p->next < p->n ? p->next++ : p->n;
        pthread_mutex_unlock(&p->lock);
        if (i == p->n)
            return NULL;
        p->work(p->context, i);
        pthread_mutex_lock(&p->lock);
        p->finished++;
        if (p->done)
            p->done(p->context, p->finished);
        pthread_mutex_unlock(&p->lock);
    }
}

static int cores(void) {
    long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > MOST_THREADS ? MOST_THREADS : (int)n;
}

void rfy_jobs_run(int threads, size_t n, void (*work)(void *context, size_t i),
                  void (*done)(void *context, size_t n_done), void *context) {
    pool p = {.n = n, .work = work, .done = done, .context = context};
    pthread_t helper[MOST_THREADS];
    int helpers = threads > 0 ? threads : cores(), started = 0;
    helpers = helpers > MOST_THREADS ? MOST_THREADS : helpers;
    helpers = (size_t)helpers > n ? (int)n : helpers;
    pthread_mutex_init(&p.lock, NULL);
    /* this thread is one of them; where no more can be had it does all the work */
    while (started + 1 < helpers && pthread_create(&helper[started], NULL, labour, &p) == 0)
        started++;
    labour(&p);
    for (int i = 0; i < started; i++)
        pthread_join(helper[i], NULL);
    pthread_mutex_destroy(&p.lock);
}
