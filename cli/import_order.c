#include "cli/import_order.h"

#include <stdlib.h>
#include <string.h>

enum { FIRST_ROOM = 256, SMALL_BYTES = 64, SPARES = 1024 };

/* A heap: the parent of place k is place (k - 1) / 2, and never comes after it. */
struct import_order {
    struct import_held *heap;
    size_t              count, room;
    uint64_t            sequence;
    struct import_held  taken;
    uint8_t            *spares[SPARES]; /* small blocks, to be used again: most records are packets */
    size_t              spare_count;
};

struct import_order *import_order_new(void)
{
    return calloc(1, sizeof(struct import_order));
}

static uint8_t *block_new(struct import_order *o, size_t length)
{
    if (length <= SMALL_BYTES && o->spare_count > 0)
        return o->spares[--o->spare_count];
    return malloc(length <= SMALL_BYTES ? SMALL_BYTES : length);
}

static void block_free(struct import_order *o, uint8_t *block, size_t length)
{
    if (block && length <= SMALL_BYTES && o->spare_count < SPARES)
        o->spares[o->spare_count++] = block;
    else
        free(block);
}

void import_order_free(struct import_order *o)
{
    if (!o)
        return;
    for (size_t k = 0; k < o->count; k++)
        free(o->heap[k].bytes);
    for (size_t k = 0; k < o->spare_count; k++)
        free(o->spares[k]);
    free(o->taken.bytes);
    free(o->heap);
    free(o);
}

static bool before(const struct import_held *a, const struct import_held *b)
{
    if (a->t_ns != b->t_ns)
        return a->t_ns < b->t_ns;
    if (a->input != b->input)
        return a->input < b->input;
    return a->sequence < b->sequence;
}

static bool room_make(struct import_order *o)
{
    size_t              room = o->room == 0 ? FIRST_ROOM : o->room * 2;
    struct import_held *larger;

    if (o->count < o->room)
        return true;
    larger = realloc(o->heap, room * sizeof *larger);
    if (!larger)
        return false;
    o->heap = larger;
    o->room = room;
    return true;
}

bool import_order_put(struct import_order *o, int64_t t_ns, int64_t stamp_ns, unsigned input, const uint8_t *bytes, size_t length)
{
    struct import_held h = { .t_ns = t_ns, .stamp_ns = stamp_ns, .sequence = o->sequence++, .length = (uint32_t)length, .input = input };
    size_t             at = o->count;

    if (!room_make(o) || !(h.bytes = block_new(o, length)))
        return false;
    if (length > 0)
        memcpy(h.bytes, bytes, length);
    for (o->count++; at > 0 && before(&h, &o->heap[(at - 1) / 2]); at = (at - 1) / 2)
        o->heap[at] = o->heap[(at - 1) / 2];
    o->heap[at] = h;
    return true;
}

const struct import_held *import_order_take(struct import_order *o, int64_t until_ns)
{
    size_t at = 0;

    block_free(o, o->taken.bytes, o->taken.length);
    o->taken.bytes = NULL;
    if (o->count == 0 || o->heap[0].t_ns > until_ns)
        return NULL;
    o->taken = o->heap[0];
    struct import_held last = o->heap[--o->count];

    for (;;) {
        size_t child = 2 * at + 1;

        if (child + 1 < o->count && before(&o->heap[child + 1], &o->heap[child]))
            child++;
        if (child >= o->count || !before(&o->heap[child], &last))
            break;
        o->heap[at] = o->heap[child];
        at = child;
    }
    if (o->count > 0)
        o->heap[at] = last;
    return &o->taken;
}
