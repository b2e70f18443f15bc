#include "surface/getter.h"

typedef struct getter {
    double speed, capacity;
} getter;

static void law(const rfy_store *store, const rfy_store_state *at, rfy_store_law *out) {
    const getter *s = store->data;
    out->g[0] = at->active ? s->speed / (RFY_R * at->gas) : 0;
    out->h[0] = out->g[0] / (s->capacity * at->scale);
}

const rfy_store_kind rfy_store_getter = {
    .name = "getter", .exchanges = true, .pumps = true, .law = law};

void rfy_getter_new(rfy_arena *arena, double speed, double capacity, rfy_store *store) {
    getter *s = RFY_NEW(arena, 1, getter);
    *s = (getter){speed, capacity};
    store->kind = &rfy_store_getter;
    store->data = s;
    store->n = 1;
    store->start = RFY_NEW(arena, 1, double);
    store->grain = RFY_NEW(arena, 1, double);
    double *weight = RFY_NEW(arena, 1, double);
    weight[0] = 1;
    store->grain[0] = 1e-9 * capacity;
    store->weight = weight;
}
