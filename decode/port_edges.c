/*
 * What the changes of level of the CC line show of each packet: CC_EDGES records go through a decoder (decode/bmc.h), and what it finds
 * waits until it is known which record of a packet or reset is the same, and who sent it. Records of edges are as long as their writer
 * likes, so the packets that they hold come after them, and some before.
 */
#include "decode/port_inside.h"

#include "capture/base/leb128.h"

#include <stdlib.h>

enum { EDGES_HELD = 512, PACKETS_KEPT = 8, PIECES_KEPT = 32, TICKS_AT_ONCE = 512 };
/* Ticks are counted anew from here on: the decoder counts 256 parts of each in 63 bits. */
#define TICKS_MOST (INT64_C(1) << 52)
/* Stamps of a record that goes on where the last one ended may be off by so much, whatever the instrument says of them: ours, a bit and a half. */
#define EDGES_JOIN_NS INT64_C(5000)
/* A bad packet waits so long for the copy that makes it good: two more copies of the longest message. Ours. */
#define EDGES_SENDER_NS INT64_C(30000000)

/* A packet or reset of which there is a record: the last few. */
struct edge_record {
    uint64_t frame;
    int64_t  from_ns, to_ns; /* its earliest start and latest end */
    uint16_t header;         /* 0: not read */
    uint8_t  side, player;
    bool     reset, good;
};

struct held_frame {
    struct edge_frame it;
    int64_t           middle_ns;
    bool              settled; /* its record is known, or that there is none */
    bool              waits;   /* for its sender */
};

struct port_edges {
    struct bmc        *bmc;
    uint32_t           tick_ps;
    int64_t            base_tick, base_ns;   /* start of the record in hand */
    int64_t            known_tick, known_ns; /* the line is known up to here */
    struct { int64_t tick; uint64_t frame; } pieces[PIECES_KEPT]; /* a ring: where the last records began */
    unsigned           piece_count;
    int64_t            stamp_ns;             /* how far the stamp of the record in hand may be off */
    bool               level, hole;
    struct held_frame  held[EDGES_HELD];     /* a ring */
    unsigned           head, count;
    struct edge_record records[PACKETS_KEPT]; /* a ring */
    unsigned           record_count;
    int64_t            ticks[TICKS_AT_ONCE];
    size_t             tick_count;
    bool               first_level;          /* before ticks[0] */
    int64_t            given_tick;           /* the last one that the decoder was given */
};

static struct held_frame *held_at(struct port_edges *x, unsigned k)
{
    return &x->held[(x->head + k) % EDGES_HELD];
}

/* The first of those that are held. */
static void tell_first(struct port *p)
{
    struct port_edges *x = p->edges;
    struct edge_frame  it = held_at(x, 0)->it;
    struct event       e = port_event(p, EVENT_FRAME);

    x->head = (x->head + 1) % EDGES_HELD;
    x->count--;
    e.t_ns = it.start_ns;
    e.frame = it.frame ? it.frame : it.edges_frame;
    if (p->bench->speech && p->bench->speech == &p->speech && p->speech.frame == it.frame && it.frame)
        e.speech = &p->speech;
    p->edge_frame = &it;
    port_tell(&e);
    p->edge_frame = NULL;
}

/* Nothing is known of its packet but what the line shows. */
static void settle_alone(const struct port *p, struct held_frame *h)
{
    struct edge_frame *it = &h->it;
    bool               bit = it->header >> 8 & 1;

    h->settled = true;
    if (it->f.reset || !it->f.crc_good || it->header == 0)
        return;
    if (it->f.which != SET_SOP) {
        it->side = bit ? SIDE_CABLE : SIDE_UNKNOWN;
        it->player = bit ? PLAYER_CABLE : PLAYER_UNKNOWN;
        return;
    }
    it->side = bit ? SIDE_SOURCE : SIDE_SINK;
    it->player = p->role[PLAYER_A] == p->role[PLAYER_B] ? PLAYER_UNKNOWN : p->role[PLAYER_A] == it->side ? PLAYER_A : PLAYER_B;
}

static void tell_settled(struct port *p)
{
    struct port_edges *x = p->edges;

    while (x->count > 0 && held_at(x, 0)->settled && !held_at(x, 0)->waits)
        tell_first(p);
}

/* Stamps of packets and of edges may be off by so much from each other. */
static int64_t apart_ns(const struct port *p, unsigned flags)
{
    return p->edges->stamp_ns + bench_stamp_ns(p->bench, p->number, flags);
}

/* No record of a packet that began before t_ns will come any more. */
void port_edges_pass_time(struct port *p, int64_t t_ns)
{
    struct port_edges *x = p->edges;

    if (!x || x->count == 0)
        return;
    int64_t wait_ns = apart_ns(p, p->instrument_time_seen ? 0 : RECORD_HOST_TIME);

    for (unsigned k = 0; k < x->count; k++) {
        struct held_frame *h = held_at(x, k);

        if (!h->settled && t_ns - h->middle_ns > wait_ns)
            settle_alone(p, h);
        if (h->waits && t_ns - h->middle_ns > EDGES_SENDER_NS)
            h->waits = false;
    }
    tell_settled(p);
}

/* They are the same if one lies in the middle of the other: two of one line never overlap. */
static bool same_packet(const struct held_frame *h, const struct edge_record *q)
{
    const struct edge_frame *it = &h->it;

    if (it->f.reset != q->reset || h->middle_ns < q->from_ns || h->middle_ns > q->to_ns)
        return false;
    return !it->f.crc_good || !q->header || it->header == q->header;
}

static void settle_with(const struct port *p, struct held_frame *h, const struct edge_record *q)
{
    settle_alone(p, h);
    h->it.frame = q->frame;
    h->it.received = q->good;
    h->waits = !q->reset && !q->good && h->it.side == SIDE_UNKNOWN;
    if (!q->good)
        return; /* what its bytes say of the sender holds, where the line shows more than the instrument told */
    h->it.side = q->side;
    h->it.player = q->player;
}

/* The record in hand among those that are held; what comes before it in time has no record. */
static void match_record(struct port *p, const struct edge_record *q)
{
    struct port_edges *x = p->edges;

    for (unsigned k = 0; k < x->count; k++) {
        if (held_at(x, k)->settled || !same_packet(held_at(x, k), q))
            continue;
        settle_with(p, held_at(x, k), q);
        for (unsigned n = 0; n < k; n++)
            if (!held_at(x, n)->settled)
                settle_alone(p, held_at(x, n));
        return;
    }
}

/* Bad packets of which this good one is a copy are its sender's; others that came before stay without. */
static void settle_senders(struct port *p, const struct speech *s)
{
    struct port_edges *x = p->edges;

    for (unsigned k = 0; k < x->count; k++) {
        struct held_frame *h = held_at(x, k);

        if (!h->waits || h->it.frame >= s->frame)
            continue;
        h->waits = false;
        if (s->spoilt.frame == 0 || h->it.frame < s->spoilt.frame)
            continue;
        h->it.side = s->side;
        h->it.player = s->player;
    }
}

static struct edge_record record_of(const struct port *p, const struct record *r, const struct speech *s)
{
    int64_t off_ns = apart_ns(p, r->flags);

    return (struct edge_record){
        .frame = r->frame, .from_ns = r->t_ns - off_ns, .to_ns = r->t_ns + record_span_ns(r) + off_ns, .reset = !s, .good = s && s->good,
        .header = s && s->good ? s->m.header : 0, .side = s ? s->side : SIDE_UNKNOWN, .player = s ? s->player : PLAYER_UNKNOWN,
    };
}

void port_edges_meet(struct port *p, const struct record *r, const struct speech *s)
{
    struct port_edges *x = p->edges;

    if (!x)
        return;
    struct edge_record q = record_of(p, r, s);

    x->records[x->record_count++ % PACKETS_KEPT] = q;
    if (x->count == 0)
        return;
    if (s && s->good)
        settle_senders(p, s);
    match_record(p, &q);
    port_edges_pass_time(p, r->t_ns);
}

/* Is its record one of the last few? */
static void match_past(const struct port *p, struct held_frame *h)
{
    const struct port_edges *x = p->edges;
    unsigned                 n = x->record_count < PACKETS_KEPT ? x->record_count : PACKETS_KEPT;

    for (unsigned k = 0; k < n && !h->settled; k++)
        if (same_packet(h, &x->records[k]))
            settle_with(p, h, &x->records[k]);
}

/* So many parts of a tick after the start of the record in hand. */
static int64_t time_of(const struct port_edges *x, int64_t parts)
{
    double off_ns = (double)parts / BMC_PARTS * x->tick_ps / 1000;

    if (off_ns > 1e18 || off_ns < -1e18)
        return x->base_ns;
    int64_t t_ns = x->base_ns + (int64_t)(off_ns < 0 ? off_ns - 0.5 : off_ns + 0.5);

    return t_ns > RECORD_TIME_LIMIT ? RECORD_TIME_LIMIT : t_ns < -RECORD_TIME_LIMIT ? -RECORD_TIME_LIMIT : t_ns;
}

/* The record that this tick lies in; if it is one of long ago, the oldest that is known. */
static uint64_t record_at(const struct port_edges *x, int64_t tick)
{
    unsigned n = x->piece_count < PIECES_KEPT ? x->piece_count : PIECES_KEPT, k = 1;

    while (k < n && x->pieces[(x->piece_count - k) % PIECES_KEPT].tick > tick)
        k++;
    return x->pieces[(x->piece_count - k) % PIECES_KEPT].frame;
}

/* 0: too few bytes were read. */
static uint16_t header_read(const struct bmc_frame *f)
{
    struct cursor c = cursor_over(f->bytes, f->bytes ? f->length : 0);

    return cursor_u16le(&c);
}

static void take_frame(void *context, const struct bmc_frame *f)
{
    struct port       *p = context;
    struct port_edges *x = p->edges;

    if (x->count == EDGES_HELD) {
        if (!held_at(x, 0)->settled)
            settle_alone(p, held_at(x, 0));
        tell_first(p);
    }
    struct held_frame *h = held_at(x, x->count++);

    *h = (struct held_frame){ .it = { .f = *f, .tick_ps = x->tick_ps, .side = SIDE_UNKNOWN, .player = PLAYER_UNKNOWN } };
    h->it.f.bytes = NULL;
    h->it.header = header_read(f);
    int64_t start_parts = (f->start_tick - x->base_tick) * BMC_PARTS;

    h->it.start_ns = time_of(x, start_parts);
    h->it.end_ns = time_of(x, start_parts + f->span_parts);
    h->it.edges_frame = record_at(x, f->start_tick);
    h->it.hole = x->hole;
    h->middle_ns = h->it.start_ns + (h->it.end_ns - h->it.start_ns) / 2;
    match_past(p, h);
}

/* What is under way ends, and what follows is another piece of the line. */
static void break_line(struct port_edges *x, int64_t until_tick)
{
    x->hole = true;
    bmc_broken(x->bmc, until_tick);
    x->hole = false;
}

static void drop_decoder(struct port_edges *x)
{
    if (!x->bmc)
        return;
    x->hole = true;
    bmc_finish(x->bmc);
    bmc_free(x->bmc);
    x->bmc = NULL;
    x->hole = false;
}

/* A decoder for ticks of this length, from 0 on. */
static bool make_decoder(struct port *p, uint32_t tick_ps)
{
    struct port_edges *x = p->edges;

    drop_decoder(x);
    x->tick_ps = tick_ps;
    x->base_tick = x->known_tick = 0;
    x->given_tick = -1;
    x->piece_count = 0;
    x->bmc = bmc_new(&(struct bmc_options){ .tick_ps = tick_ps }, take_frame, p);
    p->bench->no_memory = p->bench->no_memory || !x->bmc;
    return x->bmc != NULL;
}

static bool begins_where_it_ended(const struct port_edges *x, const struct record *r)
{
    int64_t off_ns = 2 * x->stamp_ns + x->tick_ps / 1000 + 1, wait_ns = r->t_ns - x->known_ns;

    off_ns = off_ns < EDGES_JOIN_NS ? off_ns : EDGES_JOIN_NS;
    return wait_ns >= -off_ns && wait_ns <= off_ns && x->level == (r->edges.level == 1);
}

/* Stands at the start of this record: the one before goes on in it, or is over. */
static bool begin_record(struct port *p, const struct record *r)
{
    struct port_edges *x = p->edges;

    x->stamp_ns = bench_stamp_ns(p->bench, p->number, r->flags);
    if (!x->bmc || x->tick_ps != r->edges.tick_ps || x->known_tick > TICKS_MOST) {
        if (!make_decoder(p, r->edges.tick_ps))
            return false;
    } else if (!begins_where_it_ended(x, r)) {
        break_line(x, x->known_tick + 1);
        x->known_tick++;
    }
    x->base_tick = x->known_tick;
    x->pieces[x->piece_count % PIECES_KEPT].tick = x->base_tick;
    x->pieces[x->piece_count++ % PIECES_KEPT].frame = r->frame;
    x->base_ns = r->t_ns;
    x->level = r->edges.level == 1;
    return true;
}

static void flush_ticks(struct port_edges *x)
{
    if (x->tick_count == 0)
        return;
    bmc_take(x->bmc, x->ticks, x->tick_count, x->first_level);
    x->given_tick = x->ticks[x->tick_count - 1];
    x->tick_count = 0;
}

/* All but the last one, which another at the same tick may take back. */
static void flush_but_last(struct port_edges *x)
{
    int64_t kept = x->ticks[--x->tick_count];
    bool    level = x->tick_count % 2 ? !x->first_level : x->first_level;

    flush_ticks(x);
    x->ticks[x->tick_count++] = kept;
    x->first_level = level;
}

/* A change of level; two at the same tick are none. */
static void put_tick(struct port_edges *x, int64_t tick)
{
    int64_t last = x->tick_count > 0 ? x->ticks[x->tick_count - 1] : x->given_tick;

    x->level = !x->level;
    if (tick <= last && x->tick_count > 0) {
        x->tick_count--;
        return;
    }
    if (x->tick_count == TICKS_AT_ONCE)
        flush_but_last(x);
    if (x->tick_count == 0)
        x->first_level = !x->level;
    x->ticks[x->tick_count++] = tick > last ? tick : last + 1;
}

static void take_ticks(struct port_edges *x, const struct record *r)
{
    struct cursor c = cursor_over(r->edges.leb, r->edges.length);
    int64_t       tick = x->base_tick;
    uint64_t      step;

    while (c.left > 0 && leb128_read(&c, &step) && step < (uint64_t)(TICKS_MOST + TICKS_MOST / 2 - tick)) {
        tick += (int64_t)step;
        put_tick(x, tick);
    }
    flush_ticks(x);
    x->known_tick = tick > x->given_tick ? tick : x->given_tick;
}

/* Beyond its last change the record may say that the line is still. */
static void reach_end(struct port_edges *x, const struct record *r)
{
    int64_t end = x->base_tick + (int64_t)((double)r->duration_ns * 1000 / r->edges.tick_ps + 0.5);

    if (end > x->known_tick) {
        x->known_tick = end;
        bmc_reached(x->bmc, end);
    }
    x->known_ns = time_of(x, (x->known_tick - x->base_tick) * BMC_PARTS);
}

void port_take_edges(struct port *p, const struct record *r)
{
    p->edges_seen = true;
    if (!port_heard(p, EVENT_FRAME))
        return;
    if (!p->edges) {
        p->edges = calloc(1, sizeof *p->edges);
        p->bench->no_memory = p->bench->no_memory || !p->edges;
        if (!p->edges)
            return;
        if (p->any_packet && p->speech.frame)
            p->edges->records[p->edges->record_count++] = (struct edge_record){
                .frame = p->speech.frame, .from_ns = p->speech.start_ns, .to_ns = p->speech.end_ns, .good = p->speech.good,
                .header = p->speech.good ? p->speech.m.header : 0, .side = p->speech.side, .player = p->speech.player,
            };
    }
    if (!begin_record(p, r))
        return;
    take_ticks(p->edges, r);
    reach_end(p->edges, r);
    tell_settled(p);
}

void port_edges_end(struct port *p)
{
    struct port_edges *x = p->edges;

    if (!x)
        return;
    drop_decoder(x);
    for (unsigned k = 0; k < x->count; k++) {
        if (!held_at(x, k)->settled)
            settle_alone(p, held_at(x, k));
        held_at(x, k)->waits = false;
    }
    tell_settled(p);
}

void port_edges_free(struct port *p)
{
    if (!p->edges)
        return;
    if (p->edges->bmc)
        bmc_free(p->edges->bmc);
    free(p->edges);
    p->edges = NULL;
}
