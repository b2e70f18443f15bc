#define _POSIX_C_SOURCE 200809L
#include "study/stream.h"
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>
#include "core/arena.h"

enum { SLOTS_A_THREAD = 64 };

typedef struct slot {
    void *item;
    char *line;
    size_t length;
    bool done;
} slot;

typedef struct pool {
    const rfy_stream *stream;
    pthread_mutex_t lock;
    pthread_cond_t room;
    size_t next, taken, n_slots;
    slot *slot;
    size_t end; /* no item from here on */
    bool ended, handing_on;
    int workers; /* numbered so far */
} pool;

/* Hands on what is ready. Under the lock, which is open while a line is taken, so that a slow
 * receiver does not keep the others from computing. */
static void hand_on(pool *p) {
    if (p->handing_on)
        return;
    p->handing_on = true;
    for (;;) {
        slot *s = &p->slot[p->taken % p->n_slots];
        if (p->taken >= p->end || !s->done)
            break;
        size_t i = p->taken;
        pthread_mutex_unlock(&p->lock);
        bool more = p->stream->take(p->stream->context, i, s->line, s->length);
        pthread_mutex_lock(&p->lock);
        free(s->line);
        s->line = NULL;
        s->done = false;
        if (more) {
            p->taken++;
        } else {
            p->end = p->taken;
            p->ended = true;
        }
        pthread_cond_broadcast(&p->room);
    }
    p->handing_on = false;
}

static void cut(pool *p, size_t i) {
    if (i < p->end)
        p->end = i;
    p->ended = true;
    pthread_cond_broadcast(&p->room);
}

static bool stopped(const pool *p) {
    return p->stream->stop && *p->stream->stop;
}

static void *labour(void *argument) {
    pool *p = argument;
    const rfy_stream *st = p->stream;
    pthread_mutex_lock(&p->lock);
    int worker = p->workers++;
    for (;;) {
        while (!p->ended && !stopped(p) && p->next >= p->taken + p->n_slots)
            pthread_cond_wait(&p->room, &p->lock);
        if (!p->ended && stopped(p))
            cut(p, p->next);
        if (p->ended)
            break;
        size_t i = p->next;
        slot *s = &p->slot[i % p->n_slots];
        if (!st->next(st->context, i, s->item)) {
            cut(p, i);
            break;
        }
        p->next++;
        pthread_mutex_unlock(&p->lock);
        char *line = NULL;
        size_t length = 0;
        FILE *file = open_memstream(&line, &length);
        bool good = file && st->work(st->context, worker, i, s->item, file);
        good = file && fclose(file) == 0 && good;
        pthread_mutex_lock(&p->lock);
        s->line = line;
        s->length = length;
        s->done = good;
        if (!good) {
            free(line);
            s->line = NULL;
            cut(p, i);
        }
        hand_on(p);
    }
    pthread_mutex_unlock(&p->lock);
    return NULL;
}

int rfy_stream_threads(int threads) {
    long n = threads > 0 ? threads : sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > RFY_STREAM_WORKERS ? RFY_STREAM_WORKERS : (int)n;
}

size_t rfy_stream_run(const rfy_stream *stream, bool *whole) {
    int threads = rfy_stream_threads(stream->threads), started = 0;
    pool p = {.stream = stream, .end = SIZE_MAX, .n_slots = (size_t)threads * SLOTS_A_THREAD};
    pthread_t helper[RFY_STREAM_WORKERS];
    p.slot = rfy_xcalloc(p.n_slots, sizeof *p.slot);
    for (size_t i = 0; i < p.n_slots; i++)
        p.slot[i].item = rfy_xcalloc(1, stream->item_size);
    pthread_mutex_init(&p.lock, NULL);
    pthread_cond_init(&p.room, NULL);
    while (started + 1 < threads && pthread_create(&helper[started], NULL, labour, &p) == 0)
        started++;
    labour(&p);
    for (int i = 0; i < started; i++)
        pthread_join(helper[i], NULL);
    hand_on(&p);
    *whole = p.ended && p.taken == p.end && !stopped(&p);
    size_t taken = p.taken;
    for (size_t i = 0; i < p.n_slots; i++) {
        free(p.slot[i].line);
        free(p.slot[i].item);
    }
    free(p.slot);
    pthread_cond_destroy(&p.room);
    pthread_mutex_destroy(&p.lock);
    return taken;
}
