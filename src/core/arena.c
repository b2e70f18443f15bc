#include "core/arena.h"
#include <stdalign.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Under AddressSanitizer every block is a malloc of its own, so overruns are seen. */
#if defined(__SANITIZE_ADDRESS__)
#define SINGLE_BLOCKS 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SINGLE_BLOCKS 1
#endif
#endif
#ifndef SINGLE_BLOCKS
#define SINGLE_BLOCKS 0
#endif

#define CHUNK ((size_t)32768)
#define ALIGN 32 /* for the vectors of core/lanes.h as well */

typedef struct chunk {
    struct chunk *next;
    size_t used, size;
    alignas(ALIGN) unsigned char data[];
} chunk;

struct rfy_arena {
    chunk *first; /* the one being filled */
    chunk *spare; /* of CHUNK bytes, kept by a reset */
};

static void out_of_memory(void) {
    fputs("rarefy: out of memory\n", stderr);
    exit(1);
}

void *rfy_xcalloc(size_t n, size_t size) {
    void *block = calloc(n ? n : 1, size ? size : 1);
    if (!block)
        out_of_memory();
    return block;
}

void *rfy_xrealloc(void *old, size_t n, size_t size) {
    if (size && n > SIZE_MAX / size)
        out_of_memory();
    size_t bytes = n * size;
    void *block = realloc(old, bytes ? bytes : 1);
    if (!block)
        out_of_memory();
    return block;
}

rfy_arena *rfy_arena_new(void) {
    return rfy_xcalloc(1, sizeof(rfy_arena));
}

void rfy_arena_free(rfy_arena *arena) {
    if (!arena)
        return;
    chunk *const lists[2] = {arena->first, arena->spare};
    for (int i = 0; i < 2; i++)
        for (chunk *c = lists[i], *next; c; c = next) {
            next = c->next;
            free(c);
        }
    free(arena);
}

void rfy_arena_reset(rfy_arena *arena) {
    for (chunk *c = arena->first, *next; c; c = next) {
        next = c->next;
        if (!SINGLE_BLOCKS && c->size == CHUNK) {
            c->used = 0;
            c->next = arena->spare;
            arena->spare = c;
        } else {
            free(c);
        }
    }
    arena->first = NULL;
}

static chunk *new_chunk(size_t size) {
    if (size > SIZE_MAX - sizeof(chunk) - ALIGN)
        out_of_memory();
    chunk *c = aligned_alloc(ALIGN, (sizeof(chunk) + size + ALIGN - 1) / ALIGN * ALIGN);
    if (!c)
        out_of_memory();
    *c = (chunk){.size = size};
    return c;
}

/* The same without zeros. */
static void *take(rfy_arena *arena, size_t n, size_t size) {
    const size_t align = ALIGN;
    if (size && n > (SIZE_MAX - align) / size)
        out_of_memory();
    size_t bytes = n * size;
    size_t rounded = (bytes + align - 1) / align * align;
    if (SINGLE_BLOCKS || rounded > CHUNK / 4) {
        /* A block of its own goes behind the chunk being filled, which keeps its free room. */
        chunk *c = new_chunk(bytes);
        c->used = bytes;
        if (arena->first) {
            c->next = arena->first->next;
            arena->first->next = c;
        } else {
            arena->first = c;
        }
        return c->data;
    }
    if (!arena->first || arena->first->size - arena->first->used < rounded) {
        chunk *c = arena->spare;
        if (c)
            arena->spare = c->next;
        else
            c = new_chunk(CHUNK);
        c->next = arena->first;
        arena->first = c;
    }
    void *block = arena->first->data + arena->first->used;
    arena->first->used += rounded;
    return block;
}

void *rfy_arena_alloc(rfy_arena *arena, size_t n, size_t size) {
    return memset(take(arena, n, size), 0, n * size);
}

void *rfy_arena_grow(rfy_arena *arena, const void *old, size_t old_n, size_t new_n, size_t size) {
    char *block = take(arena, new_n, size);
    const size_t kept = (old_n < new_n ? old_n : new_n) * size;
    if (kept)
        memcpy(block, old, kept);
    memset(block + kept, 0, new_n * size - kept);
    return block;
}

char *rfy_arena_strndup(rfy_arena *arena, const char *text, size_t length) {
    if (length == SIZE_MAX)
        out_of_memory();
    char *copy = take(arena, length + 1, 1);
    if (length)
        memcpy(copy, text, length);
    copy[length] = '\0';
    return copy;
}

char *rfy_arena_strdup(rfy_arena *arena, const char *text) {
    return rfy_arena_strndup(arena, text, strlen(text));
}

char *rfy_arena_vprintf(rfy_arena *arena, const char *format, va_list args) {
    char small[256]; /* as most are */
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(small, sizeof small, format, again);
    va_end(again);
    if (n < 0)
        out_of_memory();
    if ((size_t)n < sizeof small)
        return rfy_arena_strndup(arena, small, (size_t)n);
    char *text = rfy_arena_alloc(arena, (size_t)n + 1, 1);
    vsnprintf(text, (size_t)n + 1, format, args);
    return text;
}

char *rfy_arena_printf(rfy_arena *arena, const char *format, ...) {
    va_list args;
    va_start(args, format);
    char *text = rfy_arena_vprintf(arena, format, args);
    va_end(args);
    return text;
}
