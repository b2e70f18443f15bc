#include "core/record.h"
#include <string.h>

static const rfy_place *find(const rfy_record *record, const rfy_place *field, const char *key) {
    if (!record || !field)
        return NULL;
    for (size_t i = 0; i < record->n; i++)
        if (field[i].path && strcmp(record->field[i].key, key) == 0)
            return &field[i];
    return NULL;
}

rfy_place rfy_place_of(const rfy_origin *origin, const char *key) {
    const rfy_place *at = find(origin->record, origin->field, key);
    if (!at)
        at = find(origin->extra, origin->extra_field, key);
    return at ? *at : origin->at;
}

int rfy_field_find(const rfy_record *record, const char *key) {
    for (size_t i = 0; record && i < record->n; i++)
        if (strcmp(record->field[i].key, key) == 0)
            return (int)i;
    return -1;
}
