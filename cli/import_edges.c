#include "cli/import_edges.h"

#include "capture/record.h"

#include <stdlib.h>
#include <string.h>

/*
 * A stretch begins so long before its first change, as far as the line was known and at rest: a judge of preambles asks for 20 us. It
 * ends where the line rests for so long: two packets of one exchange are 25 us apart at the least (USB PD, tInterFrameGap, from memory).
 */
enum { BEFORE_NS = 30000, REST_NS = 200000 };
enum { HEAD_BYTES = RECORD_HEADER_BYTES + 8, LEB_BYTES_MAX = 10 };

struct import_edges {
    struct cc_tick tick;
    uint32_t       unit_ps;    /* tick_ps of the records: the tick, to the picosecond */
    double         units;      /* of the record, a tick; 1 where a tick is whole picoseconds */
    uint8_t        port;
    bool         (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length);
    void          *context;
    int64_t        before, rest; /* ticks */
    int64_t        known;      /* the line is known, and at rest, from here on */
    int64_t        reached;    /* known up to here */
    bool           any, open;  /* a stretch is being gathered */
    bool           level;      /* at its start */
    int64_t        start, last; /* of it: its first tick, its last change */
    int64_t        last_units; /* its last change in units from start */
    size_t         used;
    uint8_t        bytes[RECORD_BYTES_MAX];
};

static int64_t ticks_of(struct cc_tick tick, int64_t ns)
{
    double ticks = (double)ns * 1000.0 * (double)tick.per / (double)tick.ps;

    return ticks < 1 ? 1 : (int64_t)ticks;
}

struct import_edges *import_edges_new(struct cc_tick tick, uint8_t port, bool (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length),
                                      void *context)
{
    struct import_edges *e = calloc(1, sizeof *e);

    if (!e)
        return NULL;
    e->tick = tick;
    e->unit_ps = cc_tick_ps(tick);
    e->units = tick.ps == (uint64_t)e->unit_ps * tick.per ? 1 : (double)tick.ps / (double)tick.per / (double)e->unit_ps;
    e->port = port;
    e->put = put;
    e->context = context;
    e->before = ticks_of(tick, BEFORE_NS);
    e->rest = ticks_of(tick, REST_NS);
    return e;
}

void import_edges_free(struct import_edges *e)
{
    free(e);
}

/* Ticks as units of the record, rounded; a stretch is short enough for a double. */
static int64_t units_of(const struct import_edges *e, int64_t ticks)
{
    return e->units == 1 ? ticks : (int64_t)((double)ticks * e->units + 0.5);
}

/* known: the line is, and at rest, from the last change up to here; a judge of how packets end asks for 20 us of it. */
static bool stretch_end(struct import_edges *e, int64_t known)
{
    int64_t until = known - e->last > e->before ? e->last + e->before : known, length_ns = cc_ticks_ns(e->tick, until - e->start);
    bool    rests = until > e->last && length_ns <= UINT32_MAX;
    uint8_t body[8] = { (uint8_t)e->unit_ps, (uint8_t)(e->unit_ps >> 8), (uint8_t)(e->unit_ps >> 16), (uint8_t)(e->unit_ps >> 24), e->level };

    if (!e->open)
        return true;
    e->open = false;
    record_put(e->bytes, HEAD_BYTES, RECORD_CC_EDGES, e->port, 0, rests ? (uint32_t)length_ns : 0, body, sizeof body);
    return e->put(e->context, cc_ticks_ns(e->tick, e->start), e->bytes, e->used);
}

static void stretch_begin(struct import_edges *e, int64_t start, bool level)
{
    e->open = true;
    e->level = level;
    e->start = e->last = start;
    e->last_units = 0;
    e->used = HEAD_BYTES;
}

static void number_put(struct import_edges *e, uint64_t number)
{
    do {
        e->bytes[e->used++] = (uint8_t)((number & 0x7F) | (number > 0x7F ? 0x80 : 0));
        number >>= 7;
    } while (number > 0);
}

static bool change_take(struct import_edges *e, int64_t at, bool level_before)
{
    if (e->open && at - e->last > e->rest && !stretch_end(e, at))
        return false;
    if (!e->open) {
        int64_t start = at - e->before;

        stretch_begin(e, start > e->known ? start : e->known, level_before);
    }
    if (e->used + LEB_BYTES_MAX > sizeof e->bytes) { /* it goes on in the next record, from its last change on */
        int64_t start = e->last;

        if (!stretch_end(e, start))
            return false;
        stretch_begin(e, start, level_before);
    }
    int64_t units = units_of(e, at - e->start);

    number_put(e, (uint64_t)(units - e->last_units));
    e->last_units = units;
    e->last = e->known = at;
    return true;
}

bool import_edges_take(struct import_edges *e, const struct cc_block *block)
{
    bool level = block->level;

    if (block->broken && !stretch_end(e, e->reached))
        return false;
    if (block->broken || !e->any)
        e->known = block->from;
    e->any = true;
    for (size_t k = 0; k < block->count; k++, level = !level)
        if (!change_take(e, block->at[k], level))
            return false;
    e->reached = block->until;
    if (e->open && block->until - e->last > e->rest && !stretch_end(e, block->until))
        return false;
    return true;
}

bool import_edges_finish(struct import_edges *e)
{
    bool done = stretch_end(e, e->reached);

    e->known = e->reached = INT64_MAX;
    return done;
}

int64_t import_edges_settled(const struct import_edges *e)
{
    int64_t next = e->reached - e->before;

    return e->open ? e->start : next > e->known ? next : e->known;
}
