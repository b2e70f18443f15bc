/* JSON in, with the place of every key and value.
 *
 * cJSON builds the tree but keeps no places and is lax (trailing text, 01, 1e999, lone NUL, numbers
 * cut at 63 characters). So the text is first scanned strictly (RFC 8259, UTF-8), which also notes
 * line and column of each key and value in document order; the tree is then walked in the same
 * order and each node's `valueint`, which this program has no other use for, becomes the index of
 * its place. cJSON copies that number with the node, so a copy made for "like" still knows where it
 * was written. */
#ifndef RFY_IO_JSON_PLACES_H
#define RFY_IO_JSON_PLACES_H

#include <cjson/cJSON.h>
#include <stdbool.h>
#include <stddef.h>
#include "core/problem.h"

#define RFY_JSON_MAX_BYTES  ((size_t)16 << 20)
#define RFY_JSON_MAX_DEPTH  64
#define RFY_JSON_MAX_VALUES ((size_t)500000)

typedef struct rfy_json_place { /* line 0: column is the number of a setting, from 1 */
    int line, column;
    int key_line, key_column; /* of the key; of the value itself in a list */
    int like;                 /* place of the "like" an object was completed by, 0 = none */
} rfy_json_place;

typedef struct rfy_json {
    cJSON *root;
    size_t n, capacity, n_values;
    rfy_json_place *place; /* [0] stands for the whole file */
} rfy_json;

/* False after adding one problem; *json is then empty. Free with rfy_json_free. */
bool rfy_json_read(rfy_json *json, const char *text, size_t length, rfy_problems *problems);
void rfy_json_free(rfy_json *json);

/* A value from outside the file: JSON if the text is JSON, else a string. All its nodes get the
 * place of setting `number` (from 1). NULL when the text is not UTF-8. The caller attaches or
 * deletes it. */
cJSON *rfy_json_setting(rfy_json *json, const char *text, int number);

rfy_place rfy_json_value_place(const rfy_json *json, const cJSON *node, const char *path);
rfy_place rfy_json_key_place(const rfy_json *json, const cJSON *node, const char *path);

/* The node and all below it count as coming from that setting. */
void rfy_json_mark(rfy_json *json, cJSON *node, int number);
/* The number of the setting a value comes from, from 1; 0 = it stands in the text. */
int rfy_json_setting_of(const rfy_json *json, const cJSON *node);

/* Case matters (cJSON's own default look-up ignores it). NULL if absent or if object is not one. */
cJSON *rfy_json_get(const cJSON *object, const char *key);
/* Keys that begin with "//" are comments. */
bool rfy_json_is_comment(const cJSON *node);
/* "the number 0.4", "the text \"abc\"", "a list", … for messages; returns buffer. */
char *rfy_json_found(char *buffer, size_t size, const cJSON *node);
/* Copies text for a message, cut at `most` bytes between code points. */
char *rfy_clip(char *buffer, size_t size, const char *text, size_t most);

#endif
