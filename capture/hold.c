#include "capture/hold_inside.h"

#include <stdlib.h>
#include <string.h>

/*
 * What may be held, one record more, and an eighth of gaps fit the largest buffer. A small buffer is at most half full after its
 * bytes were moved together, a large one four fifths: memory is worth more there than moving less often.
 */
enum { BUFFER_LEAST = 32 * 1024, BUFFER_LARGE = 2 << 20, BUFFER_MOST = 8 << 20, GAPS_SHARE = 8 };

/* Where a record stands. */
enum place {
    PLACE_LINE,  /* in the buffer's order: it starts no earlier than the one in line before it */
    PLACE_HEAP,
    PLACE_LATER, /* behind a step back in time */
    PLACE_GONE,  /* given out; its room is free once all before it are gone, or at the next clearing of gaps */
};

/* A struct held stands in front of the bytes of each record. */

/* A later record has a greater position; moving all of the buffer's bytes changes none. */
struct late { int64_t t_ns; uint64_t at; };

struct hold {
    char    *buffer;
    size_t   capacity;
    uint64_t base;       /* position of the buffer's first byte */
    uint64_t tail, head; /* what lies in it */
    uint64_t line;       /* no record in line lies before it */
    int64_t  line_last_ns;
    uint64_t later;      /* the one behind a step back */
    bool     has_given, has_later;

    struct late *heap;
    size_t       heap_length, heap_capacity;

    size_t  power_bytes, other_bytes, others;
    int64_t spilled_ns;

    struct late first; /* the earliest of line and heap; worked out once for each record given out */
    bool        first_known;

    bool in_order; /* all that is held stands in line: the first in the buffer is the earliest. Mostly so */
};

struct hold *hold_new(void)
{
    struct hold *h = calloc(1, sizeof *h);

    if (h) {
        h->spilled_ns = INT64_MIN;
        h->in_order = true;
    }
    return h;
}

void hold_free(struct hold *h)
{
    if (!h)
        return;
    free(h->buffer);
    free(h->heap);
    free(h);
}

bool hold_waits(const struct hold *h)
{
    return h->has_later;
}

int64_t hold_spilled_ns(const struct hold *h)
{
    return h->spilled_ns;
}

static struct held *entry_at(const struct hold *h, uint64_t at)
{
    return (struct held *)(void *)(h->buffer + (at - h->base));
}

static size_t entry_size(uint32_t length)
{
    return (sizeof(struct held) + length + 7) & ~(size_t)7;
}

static bool before(const struct late *a, const struct late *b)
{
    return a->t_ns != b->t_ns ? a->t_ns < b->t_ns : a->at < b->at;
}

static bool heap_push(struct hold *h, struct late item)
{
    size_t i = h->heap_length;

    if (i == h->heap_capacity) {
        size_t       capacity = h->heap_capacity == 0 ? 64 : h->heap_capacity * 2;
        struct late *larger = realloc(h->heap, capacity * sizeof *larger);

        if (!larger)
            return false;
        h->heap = larger;
        h->heap_capacity = capacity;
    }
    h->heap_length++;
    for (; i > 0 && before(&item, &h->heap[(i - 1) / 2]); i = (i - 1) / 2)
        h->heap[i] = h->heap[(i - 1) / 2];
    h->heap[i] = item;
    return true;
}

static void heap_pop(struct hold *h)
{
    struct late last = h->heap[--h->heap_length];
    size_t      i = 0;

    for (;;) {
        size_t child = 2 * i + 1;

        if (child >= h->heap_length)
            break;
        if (child + 1 < h->heap_length && before(&h->heap[child + 1], &h->heap[child]))
            child++;
        if (!before(&h->heap[child], &last))
            break;
        h->heap[i] = h->heap[child];
        i = child;
    }
    h->heap[i] = last;
}

/*
 * A record behind the one that stands first for long leaves a gap when it goes out. Moves the others together. None of them
 * is behind a step back, for then nothing comes in that would need room.
 */
static void gaps_clear(struct hold *h)
{
    uint64_t to = h->tail, line = h->head;

    h->first_known = false;
    h->heap_length = 0; /* filled again with the new positions: there is room, for nothing comes in */
    for (uint64_t at = h->tail; at < h->head;) {
        struct held *e = entry_at(h, at);
        size_t        size = entry_size(e->length);
        uint64_t      from = at;

        at += size;
        if (e->place == PLACE_GONE)
            continue;
        if (e->place == PLACE_LINE && from >= h->line && line == h->head)
            line = to;
        if (e->place == PLACE_HEAP)
            heap_push(h, (struct late){ e->t_ns, to });
        memmove(entry_at(h, to), e, size);
        to += size;
    }
    h->line = line == h->head ? to : line;
    h->head = to;
}

/* Moves what is held to the buffer's front, or makes the buffer larger; each byte moves a few times at most. */
static bool room_make(struct hold *h, size_t size)
{
    size_t held = h->power_bytes + h->other_bytes, capacity = h->capacity;

    if (h->head - h->tail - held > (h->head - h->tail) / GAPS_SHARE)
        gaps_clear(h);
    size_t span = (size_t)(h->head - h->tail);

    if (span > 0)
        memmove(h->buffer, h->buffer + (h->tail - h->base), span);
    h->base = h->tail;
    while (capacity < BUFFER_LARGE && span + size > capacity / 2)
        capacity = capacity == 0 ? BUFFER_LEAST : capacity * 2;
    while (capacity < BUFFER_MOST && span + size > capacity / 5 * 4)
        capacity += BUFFER_LARGE / 4;
    if (capacity == h->capacity)
        return span + size <= capacity;
    char *larger = realloc(h->buffer, capacity);

    if (!larger)
        return false;
    h->buffer = larger;
    h->capacity = capacity;
    return true;
}

static void count(struct hold *h, const struct held *e, bool in)
{
    size_t  size = entry_size(e->length);
    size_t *bytes = e->kind == RECORD_POWER ? &h->power_bytes : &h->other_bytes;

    *bytes = in ? *bytes + size : *bytes - size;
    if (e->kind != RECORD_POWER)
        h->others = in ? h->others + 1 : h->others - 1;
}

static bool too_much(const struct hold *h)
{
    if (h->head - h->tail < HOLD_OTHER_RECORDS) /* bytes: fewer than records would be too many, whatever their kind */
        return false;
    return h->power_bytes > HOLD_POWER_BYTES || h->other_bytes > HOLD_OTHER_BYTES || h->others > HOLD_OTHER_RECORDS;
}

/* The first in line, or head if there is none. Each entry is stepped over once. */
static uint64_t line_first(struct hold *h)
{
    while (h->line < h->head && entry_at(h, h->line)->place != PLACE_LINE)
        h->line += entry_size(entry_at(h, h->line)->length);
    return h->line;
}

/* Where a record goes that comes in now. False: no memory. */
static bool place_choose(struct hold *h, struct held *e, uint64_t at)
{
    if (e->marks & HELD_STEPPED_BACK) {
        h->in_order = false;
        e->place = PLACE_LATER;
        h->later = at;
        h->has_later = true;
        return true;
    }
    if (e->t_ns >= h->line_last_ns || line_first(h) == at) { /* it comes behind the last in line, or the line is empty */
        e->place = PLACE_LINE;
        h->line_last_ns = e->t_ns;
        return true;
    }
    h->in_order = false;
    e->place = PLACE_HEAP;
    return heap_push(h, (struct late){ e->t_ns, at });
}

/* What was given out last may now be forgotten. */
static void given_drop(struct hold *h)
{
    if (!h->has_given)
        return;
    h->has_given = false;
    while (h->tail < h->head && entry_at(h, h->tail)->place == PLACE_GONE)
        h->tail += entry_size(entry_at(h, h->tail)->length);
    if (h->line < h->tail)
        h->line = h->tail;
    if (h->tail == h->head) { /* empty: begin at the front again, where the caches are warm */
        h->base = h->tail;
        h->in_order = !h->has_later;
    }
}

bool hold_put(struct hold *h, const struct held *r)
{
    size_t size = entry_size(r->length);

    given_drop(h);
    if (r->length > HOLD_RECORD_BYTES_MAX)
        return false;
    if (h->capacity - (size_t)(h->head - h->base) < size && !room_make(h, size))
        return false;
    uint64_t      at = h->head;
    struct held *e = entry_at(h, at);

    *e = *r;
    if (r->length > 0)
        memcpy(e + 1, r->bytes, r->length);
    if (!place_choose(h, e, at))
        return false;
    h->head += size;
    count(h, e, true);
    h->first_known = h->first_known && e->t_ns >= h->first.t_ns;
    return true;
}

/* The earliest of line and heap; false if both are empty. */
static bool earliest(struct hold *h)
{
    if (h->first_known)
        return true;
    uint64_t line = line_first(h);
    bool     in_line = line < h->head;

    if (in_line)
        h->first = (struct late){ entry_at(h, line)->t_ns, line };
    if (h->heap_length > 0 && (!in_line || before(&h->heap[0], &h->first)))
        h->first = h->heap[0];
    h->first_known = in_line || h->heap_length > 0;
    return h->first_known;
}

/* All before the step back have gone out: what came behind it is next. */
static void later_admit(struct hold *h)
{
    struct held *e = entry_at(h, h->later);

    e->place = PLACE_LINE;
    h->line = h->later;
    h->line_last_ns = e->t_ns;
    h->has_later = false;
    h->spilled_ns = INT64_MIN;
}

/* The earliest, given out; spilled: it might have waited for an earlier one. */
static const struct held *give(struct hold *h, bool spilled)
{
    struct held *e = entry_at(h, h->first.at);

    if (e->place == PLACE_HEAP)
        heap_pop(h);
    e->place = PLACE_GONE; /* its bytes stay until the next call */
    if (spilled && h->first.t_ns > h->spilled_ns)
        h->spilled_ns = h->first.t_ns;
    count(h, e, false);
    h->first_known = false;
    h->has_given = true;
    e->bytes = (const uint8_t *)(e + 1);
    return e;
}

/* What goes out next came in long ago: it is fetched while this one is worked on. */
static void prefetch_after(const struct hold *h, const struct held *e)
{
    uint64_t next = h->tail + entry_size(e->length);

    if (next < h->head) {
        __builtin_prefetch(entry_at(h, next));
        __builtin_prefetch(entry_at(h, next) + 1); /* its first bytes, which may lie in the next line of the cache */
    }
}

/* The same where all is in order: what lies first goes out first. */
static const struct held *take_in_order(struct hold *h, int64_t until_ns)
{
    if (h->has_given) {
        h->has_given = false;
        h->tail += entry_size(entry_at(h, h->tail)->length);
        h->line = h->tail;
    }
    if (h->tail == h->head) {
        h->base = h->tail;
        return NULL;
    }
    struct held *e = entry_at(h, h->tail);

    if (e->t_ns > until_ns)
        return NULL;
    e->place = PLACE_GONE;
    count(h, e, false);
    h->has_given = true;
    e->bytes = (const uint8_t *)(e + 1);
    prefetch_after(h, e);
    return e;
}

const struct held *hold_take(struct hold *h, int64_t until_ns)
{
    if (h->in_order && !too_much(h))
        return take_in_order(h, until_ns);
    given_drop(h);

    bool spill = too_much(h);

    if (!earliest(h)) {
        if (!h->has_later)
            return NULL;
        later_admit(h);
        earliest(h);
    }
    if (h->first.t_ns > until_ns && !spill && !h->has_later)
        return NULL;
    return give(h, spill);
}

int64_t hold_first_ns(struct hold *h)
{
    given_drop(h);
    bool    any = earliest(h);
    int64_t first_ns = any ? h->first.t_ns : INT64_MAX;

    h->first_known = false; /* what goes out in order does not keep it up */
    return first_ns;
}
