/* From a JSON tree to structs, by the field tables of core/record.h. */
#ifndef RFY_IO_READ_RECORD_H
#define RFY_IO_READ_RECORD_H

#include "core/record.h"
#include "gas/catalog.h"
#include "io/json_places.h"

/* Where the single quantity or number that a setting gives has gone, so that it can be changed
 * there without reading all again. */
typedef struct rfy_slot {
    int n; /* values that came from this setting: only with one of them `at` may be used */
    double *at;
    const rfy_field *field;
} rfy_slot;

typedef struct rfy_reader {
    rfy_arena *arena; /* owns everything that is read */
    const rfy_catalog *catalog;
    rfy_problems *problems;
    rfy_json json;
    rfy_slot *slot; /* by number of setting less 1; NULL = not asked for */
    size_t n_slots;
    rfy_spreads *spreads; /* quantities with a factor; NULL = there is no place to note them */
    int fixed;            /* > 0 inside ranges and curves, whose values have no spread */
} rfy_reader;

/* Fills `out` (record->size zeroed bytes) from an object. Every problem is added to
 * reader->problems; fields with a problem stay absent. Short piece texts in the tree are replaced
 * by their long form. `path` is "" for the whole description; elements of its own lists then go by
 * their names. */
void rfy_read_object(rfy_reader *reader, cJSON *node, const rfy_record *record, const char *path,
                     void *out);

/* One value that is not built of other records; `dest` as in rfy_field_type. */
void rfy_read_value(rfy_reader *reader, const cJSON *node, const rfy_field *field, const char *path,
                    void *dest);
/* Marks a field's value as absent. */
void rfy_set_absent(const rfy_field *field, void *dest);

/* "path/key", or key alone under the root. Long keys are cut. */
const char *rfy_join(rfy_arena *arena, const char *path, const char *key);
const char *rfy_join_index(rfy_arena *arena, const char *path, size_t index);
/* «a list stands here», with what is allowed. */
void rfy_wrong_type(rfy_reader *reader, const cJSON *node, const char *path, const char *allowed);
/* «"open" or "closed"», in the arena. */
const char *rfy_alternatives(rfy_arena *arena, const char *const *names, size_t n);
/* «did you mean "…"?» in the arena, or NULL. */
const char *rfy_did_you_mean(rfy_arena *arena, const char *text, const char *const *names,
                             size_t n);
/* Index of a variant by name, -1 if there is none; the names of all, in the arena. */
int rfy_variant_find(const rfy_variants *variants, const char *name);
const char *const *rfy_variant_names(rfy_arena *arena, const rfy_variants *variants);
/* Says what is wrong with a name of a part ("may not be empty"), or NULL. */
const char *rfy_name_fault(const char *name);

#endif
