#define _POSIX_C_SOURCE 200809L
#include "busy.h"
#include <errno.h>
#include <pthread.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t over; /* on the monotonic clock */
static pthread_t watcher;
static bool running, ending;
static const char *counted;
static size_t count_done, count_all;

static void show(const struct timespec *begun) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    fprintf(stderr, "\rcomputing, %ld s", (long)(now.tv_sec - begun->tv_sec));
    if (counted)
        fprintf(stderr, ": %zu of %zu %s", count_done, count_all, counted);
    fputs(" (Ctrl-C keeps what is done)\033[K", stderr);
}

static void *watch(void *unused) {
    (void)unused;
    struct timespec begun, next;
    bool shown = false;
    clock_gettime(CLOCK_MONOTONIC, &begun);
    next = begun;
    next.tv_sec++;
    pthread_mutex_lock(&lock);
    while (!ending) {
        if (pthread_cond_timedwait(&over, &lock, &next) != ETIMEDOUT)
            continue;
        show(&begun);
        shown = true;
        next.tv_nsec += 250000000;
        next.tv_sec += next.tv_nsec / 1000000000;
        next.tv_nsec %= 1000000000;
    }
    if (shown)
        fputs("\r\033[K", stderr);
    pthread_mutex_unlock(&lock);
    return NULL;
}

void cli_busy_begin(void) {
    const char *term = getenv("TERM");
    if (running || isatty(STDERR_FILENO) != 1 || !term || strcmp(term, "dumb") == 0)
        return;
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&over, &clock);
    pthread_condattr_destroy(&clock);
    ending = false;
    running = pthread_create(&watcher, NULL, watch, NULL) == 0;
}

void cli_busy_count(void *what, size_t done, size_t all) {
    pthread_mutex_lock(&lock);
    counted = what;
    count_done = done;
    count_all = all;
    pthread_mutex_unlock(&lock);
}

void cli_busy_end(void) {
    if (!running)
        return;
    pthread_mutex_lock(&lock);
    ending = true;
    pthread_cond_signal(&over);
    pthread_mutex_unlock(&lock);
    pthread_join(watcher, NULL);
    pthread_cond_destroy(&over);
    running = false;
}
