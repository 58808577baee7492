/* From what happened to records: stamps as the instrument makes them, and the queue of a port. */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_signal.h"

#include "capture/record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RECORD_ROOM = 16384, BODY_ROOM = 512 };

/* Where its errors are drawn, the clock goes wrong by as much for readings too: there is one. */
static int64_t clock_off_ns(const struct life *l, int64_t t_ns)
{
    return llround((double)(t_ns - SYNTH_BEGIN_NS) * l->s->drawn.clock_ppm * 1e-6);
}

/* What the instrument's clock shows: a small constant error of rate, and a small error of each stamp. */
static int64_t shown_ns(struct life *l, int64_t t_ns)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  since = t_ns - SYNTH_BEGIN_NS, error = i->host_time ? i->host_time_ns : i->time_ns;
    int64_t                  step = i->step_ns > 1 ? i->step_ns : 1;

    if (i->errors) {
        since += clock_off_ns(l, t_ns);
        since += llround((double)error * chance_normal(&l->noise));
    } else {
        since += since / 1000000 * i->clock_ppm / 2;
        since += chance_between(&l->chance, -error / 2, error / 2);
    }
    return (SYNTH_BEGIN_NS + since) / step * step;
}

/* In the stream of packets and CC, stamps never go back. */
static int64_t stream_ns(struct life *l, int64_t t_ns)
{
    int64_t stamp = shown_ns(l, t_ns);

    if (stamp < l->last_stamp_ns)
        stamp = l->last_stamp_ns;
    l->last_stamp_ns = stamp;
    return stamp;
}

static uint8_t flags_of(const struct life *l)
{
    return (uint8_t)(RECORD_INVENTED | (l->plan->instrument.host_time ? RECORD_HOST_TIME : 0));
}

/* Room for one more record; NULL: no memory, and the life is over. */
static uint8_t *room(struct life *l)
{
    if (l->count == l->queue_cap) {
        size_t               cap = l->queue_cap ? l->queue_cap * 2 : 64;
        struct record_entry *queue = realloc(l->queue, cap * sizeof *queue);

        if (!queue)
            goto full;
        l->queue = queue;
        l->queue_cap = cap;
    }
    if (l->bytes_cap - l->used < RECORD_ROOM) {
        size_t   cap = l->bytes_cap ? l->bytes_cap * 2 : 4 * (size_t)RECORD_ROOM;
        uint8_t *bytes = realloc(l->bytes, cap);

        if (!bytes)
            goto full;
        l->bytes = bytes;
        l->bytes_cap = cap;
    }
    return l->bytes + l->used;
full:
    l->failed = l->over = true;
    return NULL;
}

static void enqueue(struct life *l, int64_t sort_ns, int64_t stamp_ns, size_t length)
{
    size_t at = l->count++;

    /* Readings are known only when their block is full, and stand before what came meanwhile. */
    for (; at > l->head && l->queue[at - 1].sort_ns > sort_ns; at--)
        l->queue[at] = l->queue[at - 1];
    l->queue[at] = (struct record_entry){ sort_ns, stamp_ns, l->used, length, l->serial };
    l->used += length;
}

void synth_queue_tidy(struct life *l)
{
    size_t from = l->used;

    if (l->head == 0)
        return;
    l->count -= l->head;
    memmove(l->queue, l->queue + l->head, l->count * sizeof *l->queue);
    l->head = 0;
    for (size_t k = 0; k < l->count; k++)
        from = l->queue[k].at < from ? l->queue[k].at : from;
    if (from > 0 && l->used > from)
        memmove(l->bytes, l->bytes + from, l->used - from);
    for (size_t k = 0; k < l->count; k++)
        l->queue[k].at -= from;
    l->used -= from;
    l->edges_at -= from;
}

/* A record that may be what a fault is about: gets a serial, and the blame that waits for it. */
static void number(struct life *l)
{
    l->last_packet_serial = ++l->serial;
    for (unsigned k = 0; l->blame_next && k < SYNTH_INJECTIONS; k++)
        if (l->blame_next >> k & 1)
            l->s->injected[k].serial = l->serial;
    l->blame_next = 0;
}

/* What is missing lies between the record before and this one, so it comes before anything else of the port. */
static void put_lost(struct life *l, int64_t at_ns)
{
    uint8_t  body[8] = { (uint8_t)l->lost, (uint8_t)(l->lost >> 8), 0, 0, 1 };
    uint8_t *out;

    if (l->lost == 0 || !(out = room(l)))
        return;
    l->serial++;
    enqueue(l, at_ns, stream_ns(l, at_ns), record_put(out, RECORD_ROOM, RECORD_LOST, l->port, flags_of(l), 0, body, sizeof body));
    l->lost = 0;
}

void synth_put_packet(struct life *l, int64_t start_ns, const struct signal *g, uint8_t set, const uint8_t *bytes, size_t length)
{
    int64_t        length_ns = signal_span_ps(g, length) / 1000;
    uint32_t       duration = l->plan->instrument.durations ? (uint32_t)length_ns : 0;
    uint8_t        spoiled[SAY_BYTES + 8], state = 0;
    enum blind_act act;

    number(l);
    if (l->muted)
        return;
    act = synth_blind(l, set, bytes, length);
    if (act == BLIND_LOSE) {
        l->lost++;
        if (l->lose == 0)
            put_lost(l, start_ns + length_ns);
        return;
    }
    if (act == BLIND_CUT)
        l->over = true;
    uint8_t *out = room(l);

    if (!out || act == BLIND_CUT)
        return;
    memcpy(spoiled, bytes, length);
    if (act == BLIND_BAD) {
        spoiled[length - 1] ^= 0x5a;
        spoiled[0] ^= 0x40;
        state = RECORD_CRC_BAD;
    }
    l->serial = l->last_packet_serial;
    int64_t stamp_ns = stream_ns(l, start_ns);

    enqueue(l, start_ns, stamp_ns, record_put_packet(out, RECORD_ROOM, l->port, flags_of(l), duration, set, state, spoiled, length));
    synth_put_edges(l, start_ns, stamp_ns, g, &(struct sent_bytes){ .set = set, .bytes = bytes, .length = length });
}

void synth_put_reset(struct life *l, int64_t start_ns, const struct signal *g, uint8_t which)
{
    int64_t  length_ns = signal_span_ps(g, 0) / 1000, stamp_ns;
    uint8_t  body[4] = { which };
    uint8_t *out;

    number(l);
    put_lost(l, start_ns);
    if (l->muted || !(out = room(l)))
        return;
    stamp_ns = stream_ns(l, start_ns);
    enqueue(l, start_ns, stamp_ns,
            record_put(out, RECORD_ROOM, RECORD_RESET_SIGNAL, l->port, flags_of(l),
                       l->plan->instrument.durations ? (uint32_t)length_ns : 0, body, sizeof body));
    synth_put_edges(l, start_ns, stamp_ns, g, &(struct sent_bytes){ .set = which, .reset = true });
}

/* What a fault is about is the packet's own record: this one has no number. */
void synth_enqueue_edges(struct life *l, int64_t start_ns, int64_t stamp_ns, uint32_t duration_ns, const uint8_t *body, size_t length)
{
    uint8_t *out = room(l);
    uint64_t serial = l->serial;

    if (!out)
        return;
    l->serial = 0;
    l->edges_at = l->used;
    enqueue(l, start_ns, stamp_ns, record_put(out, RECORD_ROOM, RECORD_CC_EDGES, l->port, flags_of(l), duration_ns, body, length));
    l->serial = serial;
}

void synth_put_cc(struct life *l, uint8_t attach, uint8_t rp)
{
    uint8_t  body[8] = { attach, rp, 0xff, 0xff, 0xff, 0xff };
    uint8_t *out;

    if (!l->plan->instrument.cc || l->muted)
        return;
    put_lost(l, l->now_ns);
    if (!(out = room(l)))
        return;
    l->serial++;
    enqueue(l, l->now_ns, stream_ns(l, l->now_ns),
            record_put(out, RECORD_ROOM, RECORD_CC_STATE, l->port, flags_of(l), 0, body, sizeof body));
}

void synth_put_mark(struct life *l, uint8_t action, int32_t value, const char *text)
{
    uint8_t  body[BODY_ROOM] = { action, l->port };
    size_t   length = strlen(text);
    uint8_t *out;

    if (l->muted || !(out = room(l)))
        return;
    if (length > BODY_ROOM - 8)
        length = BODY_ROOM - 8;
    for (unsigned k = 0; k < 4; k++)
        body[4 + k] = (uint8_t)((uint32_t)value >> 8 * k);
    memcpy(body + 8, text, length);
    l->serial++;
    enqueue(l, l->now_ns, l->now_ns,
            record_put(out, RECORD_ROOM, RECORD_MARK, RECORD_PORT_BENCH, RECORD_INVENTED, 0, body, 8 + length));
}

void synth_put_power(struct life *l, int64_t start_ns, unsigned rows, const int32_t *cells, unsigned columns)
{
    const struct instrument *i = &l->plan->instrument;
    uint8_t                 *out;

    if (l->muted || !(out = room(l)))
        return;
    l->serial++;
    for (unsigned row = 0; row < rows; row++)
        if (cells[row * 2] != RECORD_NO_READING)
            injections_reading(l, start_ns + row * i->power_interval_us * 1000, cells[row * 2]);
    enqueue(l, start_ns, start_ns + clock_off_ns(l, start_ns),
            record_put_power(out, RECORD_ROOM, l->port, RECORD_INVENTED, 0, (uint32_t)i->power_interval_us * 1000, (uint16_t)rows,
                             (uint8_t)columns, cells));
}

/* What comes next comes sooner than it said. It is still there: nothing is given away within an exchange. */
void synth_shorten_edges(struct life *l, int64_t until_ns)
{
    enum { DURATION_AT = 4 };
    const struct record_entry *e = NULL;
    uint64_t                   duration_ns = 0;

    for (size_t k = l->head; k < l->count; k++)
        if (l->queue[k].at == l->edges_at && l->queue[k].serial == 0)
            e = &l->queue[k];
    if (!e)
        return;
    duration_ns = (uint64_t)(until_ns - e->sort_ns);
    for (unsigned k = 0; k < 4; k++)
        l->bytes[e->at + DURATION_AT + k] = (uint8_t)(duration_ns >> 8 * k);
    l->edges_end_ns = until_ns;
}

void synth_queue_free(struct life *l)
{
    free(l->queue);
    free(l->bytes);
    l->queue = NULL;
    l->bytes = NULL;
}
