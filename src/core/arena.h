/* Arena: memory that is freed all at once.
 *
 * A description, a network or a result lives in one arena; freeing it is one call. Blocks are
 * zeroed and aligned for any type (32 bytes). When memory runs out the program ends with a message
 * and exit status 1: a calculator with no memory left has no useful answer to give. */
#ifndef RFY_CORE_ARENA_H
#define RFY_CORE_ARENA_H

#include <stdarg.h>
#include <stddef.h>

typedef struct rfy_arena rfy_arena;

rfy_arena *rfy_arena_new(void);
void rfy_arena_free(rfy_arena *arena); /* NULL is fine */
/* Everything in it is gone, and its memory serves for what comes next. */
void rfy_arena_reset(rfy_arena *arena);

/* n * size zeroed bytes; n or size may be 0 (a valid, unusable pointer comes back). */
void *rfy_arena_alloc(rfy_arena *arena, size_t n, size_t size);
/* A copy of a block grown from old_n to new_n elements (the rest zeroed); the old block stays
 * valid. */
void *rfy_arena_grow(rfy_arena *arena, const void *old, size_t old_n, size_t new_n, size_t size);
char *rfy_arena_strdup(rfy_arena *arena, const char *text);
char *rfy_arena_strndup(rfy_arena *arena, const char *text, size_t length);
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
char *
rfy_arena_printf(rfy_arena *arena, const char *format, ...);
#if defined(__GNUC__)
__attribute__((format(printf, 2, 0), nonnull(2)))
#endif
char *
rfy_arena_vprintf(rfy_arena *arena, const char *format, va_list args);

#define RFY_NEW(arena, n, type) ((type *)rfy_arena_alloc((arena), (n), sizeof(type)))

/* malloc family with the same policy on failure. */
void *rfy_xcalloc(size_t n, size_t size);
void *rfy_xrealloc(void *old, size_t n, size_t size);

#endif
