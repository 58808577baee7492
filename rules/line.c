/* The line watcher: what is plainly in order is counted here, the rest looked at piece by piece. */
#include "rules/engine_inside.h"
#include "rules/line_checks.h"

#include <string.h>

enum {
    PACKET_BITS = 89,      /* preamble 64, ordered set 20, EOP 5 */
    BYTE_BITS = 10,        /* 4b5b */
    CRC_BYTES = 4,
    STAMPED_OTHERWISE = RECORD_HOST_TIME | RECORD_END_TIME,
};

void line_start(struct line *l)
{
    memset(l, 0, sizeof *l);
    l->careful = true;
    l->due_ns = INT64_MAX;
}

/* How far a span of this length between two edges stamped by the instrument may be off. */
static int64_t unsure_ns(const struct port *p, int64_t length_ns)
{
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);
    int64_t                        unsure = 2 * bench_stamp_ns(p->bench, p->number, 0);
    double clock_ns = i->given & ABOUT_CLOCK_PPM ? 2e-6 * i->clock_ppm * (double)(length_ns + unsure) : 0;

    return unsure + (clock_ns < 1e15 ? (int64_t)clock_ns + 1 : INT64_C(1000000000000000));
}

/* Windows inside of which nobody needs to look twice. */
static void line_measure(const struct engine *e, struct line *l, const struct port *p)
{
    const struct parameter *rate = line_parameter(e, LINE_BIT_RATE, 0, "fBitRate");
    struct window           gap = line_window(e, LINE_FRAME_GAP, 0, "tInterFrameGap");
    struct window           answer = line_window(e, LINE_TURNAROUND, 0, "tTransmit");

    l->generation = about_generation(bench_about(p->bench));
    l->measured = true;
    l->gap_least_ns = (gap.has_low ? gap.low_ns : 0) + unsure_ns(p, gap.low_ns);
    l->answer_most_ns = answer.has_high ? answer.high_ns - unsure_ns(p, answer.high_ns) : bench_limits(p->bench)->receive_most_ns;
    for (unsigned n = 0; n < LINE_TABLE; n++) {
        struct window length = line_length_window(rate, PACKET_BITS + BYTE_BITS * n);
        int64_t       unsure = unsure_ns(p, length.high_ns);

        l->shortest_ns[n] = length.low_ns + unsure;
        l->longest_ns[n] = length.high_ns - unsure;
    }
}

/* Measured by the instrument, whole, its CRC fits, and as long as it should be. */
static inline bool plain(const struct line *l, const struct speech *s, const struct record *r)
{
    size_t n = r->packet.length;

    return s->good && s->m.crc == CRC_GOOD && s->measured && !(s->flags & STAMPED_OTHERWISE) && n < LINE_TABLE &&
           (int64_t)r->duration_ns >= l->shortest_ns[n] && (int64_t)r->duration_ns <= l->longest_ns[n];
}

static inline void line_set_before(struct line *l, enum line_before what, const struct speech *s)
{
    l->before = (uint8_t)what;
    l->before_player = s->player;
    l->before_wire.frame = s->frame;
    l->before_wire.start_ns = s->start_ns;
    l->before_wire.end_ns = s->end_ns;
    l->before_wire.flags = s->flags;
    l->before_wire.measured = s->measured;
}

/* The GoodCRC to the message just before. */
static inline bool plain_goodcrc(const struct engine *e, struct line *l, const struct port *p, const struct speech *s, int64_t gap_ns)
{
    unsigned stream = l->last_message - 1u;

    if (l->before != BEFORE_MESSAGE || s->acknowledged == NULL || l->last_message == 0 || gap_ns > l->answer_most_ns)
        return false;
    struct line_message *m = &l->message[stream];

    if (s->acknowledged != &p->streams[stream].last || m->copies != 1)
        return false;
    m->acknowledged = m->last_acknowledged = m->first_acknowledged = true;
    l->open = 0;
    l->due_ns = INT64_MAX;
    l->goodcrc_seen = true;
    l->spoken |= (uint16_t)(1u << (stream ^ 1u));
    if (engine_inside_window(e, s->start_ns))
        l->plain_goodcrcs++;
    line_set_before(l, BEFORE_GOODCRC, s);
    return true;
}

/* A new message after one that was acknowledged. */
static inline bool plain_message(const struct engine *e, struct line *l, const struct port *p, const struct speech *s,
                                 const struct record *r)
{
    if (l->before != BEFORE_GOODCRC || l->open || s->copy || s->spoilt.frame || s->player > PLAYER_CABLE)
        return false;
    unsigned             stream = stream_index(s->m.set, s->player);
    struct line_message *m = &l->message[stream];

    if (engine_inside_window(e, s->start_ns)) {
        l->plain_messages++;
        l->plain_gaps += s->player == l->before_player;
    }
    line_set_before(l, BEFORE_MESSAGE, s);
    m->last = l->before_wire;
    m->digest = line_digest(&s->m, r);
    m->copies = 1;
    m->frame_count = 0;
    m->spoilt = m->doubt = m->first_doubt = 0;
    m->partner_there = line_partner_there(l, p, s, stream);
    m->acknowledged = m->first_acknowledged = m->last_acknowledged = m->tried = m->counted = false;
    l->spoken |= (uint16_t)(1u << stream);
    l->open = (uint16_t)(1u << stream);
    l->due_ns = s->end_ns + LINE_COPY_NS;
    l->last_message = (uint8_t)(stream + 1);
    l->bad_since = false;
    return true;
}

static bool is_goodcrc(const struct speech *s)
{
    return s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC);
}

/* wire.crc of a packet that has one, and it fits. */
static void look_at_crc(const struct line_look *k)
{
    struct line_case c = line_case_of(k, &k->wire);

    if (k->speech->m.crc == CRC_GOOD)
        line_tell(k, LINE_CRC, &c);
}

/* wire.bit-rate */
static void look_at_rate(const struct line_look *k)
{
    const struct record *r = k->record;
    struct line_case     c = line_case_of(k, &k->wire);

    if (!k->wire.measured || k->speech->m.truncated)
        return;
    c.bytes = (uint32_t)r->packet.length + (r->packet.state & RECORD_NO_CRC ? CRC_BYTES : 0u);
    c.bits = PACKET_BITS + BYTE_BITS * c.bytes;
    c.from = c.to = k->wire;
    c.cause = k->speech->good ? CAUSE_NONE : CAUSE_BAD_PACKET;
    line_tell(k, LINE_BIT_RATE, &c);
}

/* wire.inter-frame-gap */
static void look_at_gap(const struct line_look *k)
{
    const struct line   *l = k->line;
    const struct speech *s = k->speech;
    bool                 same = l->before != BEFORE_BAD && s->player == l->before_player && s->player <= PLAYER_CABLE;
    struct line_case     c = line_case_of(k, &k->wire);

    if (l->before == BEFORE_NONE || !s->good || (!same && !is_goodcrc(s)))
        return;
    c.from = l->before_wire;
    c.to = k->wire;
    line_tell(k, LINE_FRAME_GAP, &c);
}

/* A bad packet soon after a message may have been its GoodCRC. */
static void doubt_open(const struct line_look *k)
{
    struct line *l = k->line;

    l->bad_since = true;
    for (unsigned stream = 0; stream < STREAMS; stream++) {
        struct line_message *m = &l->message[stream];

        if (m->copies == 0 || !line_soon_after(k, &m->last, LINE_ANSWER_NS))
            continue;
        if (m->copies == 1 && m->first_doubt == CAUSE_NONE) {
            m->first_doubt = CAUSE_BAD_PACKET;
            m->first_doubt_frame = k->wire.frame;
        }
        if (m->doubt == CAUSE_NONE) {
            m->doubt = CAUSE_BAD_PACKET;
            m->doubt_frame = k->wire.frame;
        }
    }
}

/* Does the next packet need a close look whatever it is? */
static bool look_on(const struct line *l)
{
    bool stamped = l->before_wire.measured && !(l->before_wire.flags & STAMPED_OTHERWISE);
    bool repeated = l->open && l->message[l->last_message ? l->last_message - 1u : 0].copies != 1;

    return !stamped || l->before == BEFORE_NONE || l->before == BEFORE_BAD || l->bad_count || l->held_count || repeated ||
           (l->open & (l->open - 1)) != 0 || l->last_message == 0;
}

static void line_look(struct line_look *k)
{
    struct line         *l = k->line;
    const struct speech *s = k->speech;

    line_meet_bad(k);
    if (l->held_count && s->good)
        line_held_meet(k);
    look_at_crc(k);
    look_at_rate(k);
    look_at_gap(k);
    if (!s->good) {
        doubt_open(k);
        line_take_bad(k);
    } else if (is_goodcrc(s)) {
        line_take_goodcrc(k);
    } else {
        line_take_message(k);
    }
    line_set_before(l, !s->good ? BEFORE_BAD : is_goodcrc(s) ? BEFORE_GOODCRC : BEFORE_MESSAGE, s);
    line_look_for_due(l, k);
    l->careful = look_on(l);
    engine_new_subject(k->engine);
}

static struct line_look look_of(struct engine *e, struct port_book *b, const struct record *r, const struct speech *s)
{
    struct line_look k = { .engine = e, .book = b, .line = &b->line, .port = b->port, .record = r, .speech = s };

    if (s)
        k.wire = speech_wire(s);
    else if (r)
        k.wire = record_wire(r);
    return k;
}

void line_take_packet(struct engine *e, struct port_book *b, const struct record *r)
{
    struct line         *l = &b->line;
    const struct port   *p = b->port;
    const struct speech *s = &p->speech;
    int64_t              gap_ns = s->start_ns - l->before_wire.end_ns;

    if (!l->measured || l->generation != about_generation(bench_about(e->bench)))
        line_measure(e, l, p);
    if (!l->careful && !e->line_careful && e->must_passed && plain(l, s, r) && gap_ns >= l->gap_least_ns &&
        (is_goodcrc(s) ? plain_goodcrc(e, l, p, s, gap_ns) : plain_message(e, l, p, s, r)))
        return;
    struct line_look k = look_of(e, b, r, s);

    line_look(&k);
}

/* A new message of this sender that should have been a copy: the last one is not acknowledged, and has the same MessageID. */
static bool looks_like_copy(const struct line_look *k, unsigned stream)
{
    const struct line_message *m = &k->line->message[stream];
    const struct stream       *t = &k->port->streams[stream];
    const struct speech       *s = k->speech;

    /* A bad packet just after it may have been its GoodCRC. */
    return m->copies && !m->acknowledged && m->doubt != CAUSE_BAD_PACKET && t->last.held && t->last.id == s->m.id && !t->reset_pending && !t->partner_between &&
           s->m.index != MESSAGE_INDEX(CLASS_CONTROL, CONTROL_SOFT_RESET) &&
           s->start_ns - m->last.end_ns < LINE_COPY_NS;
}

static void before_of_stream(struct line_look *k, unsigned stream, unsigned own)
{
    struct line_message *m = &k->line->message[stream];
    const struct sent   *sent = &k->port->streams[stream].last;
    int64_t              wait_ns = k->wire.start_ns - m->last.end_ns;

    if (stream == own) {
        k->line->lookalike = looks_like_copy(k, stream);
        if (!k->line->lookalike)
            line_close(k, stream);
    } else if (m->acknowledged) {
        if (wait_ns > LINE_COPY_NS)
            line_close(k, stream);
    } else if (sent->held && sent->delivery == DELIVERY_UNPROVEN) {
        line_close(k, stream);
    } else if (stream == (own ^ 1u) && wait_ns <= bench_limits(k->port->bench)->receive_most_ns) {
        m->doubt = m->doubt ? m->doubt : CAUSE_CROSSING;
    }
}

void line_before_message(struct engine *e, struct port_book *b, const struct event *event)
{
    struct line_look k = look_of(e, b, event->record, event->speech);
    unsigned         own = stream_index(event->speech->m.set, event->speech->player);

    for (unsigned stream = 0; stream < STREAMS; stream++)
        if (k.line->open >> stream & 1)
            before_of_stream(&k, stream, own);
    line_look_for_due(k.line, &k);
}

/* What is open is done with. cause: why a GoodCRC may be missing; CAUSE_NONE: none is. */
static void close_all(struct line_look *k, enum cause cause)
{
    for (unsigned stream = 0; stream < STREAMS; stream++) {
        struct line_message *m = &k->line->message[stream];

        if (!(k->line->open >> stream & 1))
            continue;
        if (cause != CAUSE_NONE)
            m->doubt = (uint8_t)cause;
        line_close(k, stream);
    }
}

/* Nobody is there any more to acknowledge anything, or nothing can be told of it. */
static void forget(struct line *l)
{
    for (unsigned stream = 0; stream < STREAMS; stream++)
        l->message[stream].copies = 0;
    l->open = 0;
    l->last_message = 0;
    l->before = BEFORE_NONE;
    l->bad_since = false;
    l->careful = true;
}

/* A reset signal that came before a GoodCRC could have. */
static void drop_interrupted(struct line_look *k)
{
    struct line *l = k->line;

    for (unsigned stream = 0; stream < STREAMS; stream++)
        if ((l->open >> stream & 1) && !l->message[stream].acknowledged &&
            line_soon_after(k, &l->message[stream].last, bench_limits(k->port->bench)->receive_most_ns))
            l->open &= (uint16_t)~(1u << stream);
}

enum { RESET_BITS = 84 };

static void take_reset(struct line_look *k, bool hard)
{
    struct line_case c = line_case_of(k, &k->wire);

    line_settle_bad(k, CAUSE_ROLES);
    drop_interrupted(k);
    close_all(k, CAUSE_NONE);
    c.bits = RESET_BITS;
    c.from = c.to = k->wire;
    if (k->wire.measured)
        line_tell(k, LINE_BIT_RATE, &c);
    forget(k->line);
    unsigned kept = hard ? 0 : 1u << stream_index(SET_SOP, PLAYER_A) | 1u << stream_index(SET_SOP, PLAYER_B);

    k->line->spoken = (uint16_t)(k->line->spoken & kept);
}

/* Pulled out: what nobody acknowledged any more says nothing. */
static void take_detach(struct line_look *k)
{
    struct line *l = k->line;

    line_settle_bad(k, CAUSE_ROLES);
    l->held_count = 0;
    for (unsigned stream = 0; stream < STREAMS; stream++)
        if ((l->open >> stream & 1) && !l->message[stream].acknowledged)
            l->open &= (uint16_t)~(1u << stream);
    close_all(k, CAUSE_NONE);
    forget(l);
    l->spoken = 0;
}

void line_take_event(struct engine *e, struct port_book *b, const struct event *event)
{
    struct line_look k = look_of(e, b, event->record, NULL);

    switch ((int)event->kind) {
    case EVENT_HARD_RESET:
    case EVENT_CABLE_RESET:
        take_reset(&k, event->kind == EVENT_HARD_RESET);
        break;
    case EVENT_ATTACH:
    case EVENT_DETACH:
        take_detach(&k);
        break;
    case EVENT_LOSS:
        line_settle_bad(&k, CAUSE_LOST);
        line_held_lose(&k);
        close_all(&k, CAUSE_LOST);
        forget(&b->line);
        break;
    default:
        break;
    }
    line_look_for_due(&b->line, &k);
    engine_new_subject(e);
}

void line_pass_time(struct engine *e, struct port_book *b, int64_t t_ns, const struct record *r)
{
    struct line_look k = look_of(e, b, r, NULL);

    for (unsigned stream = 0; stream < STREAMS; stream++)
        if ((b->line.open >> stream & 1) && line_limit_ns(&k, stream) <= t_ns)
            line_close(&k, stream);
    line_held_pass_time(&k, t_ns);
    line_look_for_due(&b->line, &k);
    engine_new_subject(e);
}

void line_end(struct engine *e, struct port_book *b, int64_t t_ns)
{
    struct line_look k = look_of(e, b, NULL, NULL);

    line_pass_time(e, b, t_ns, NULL);
    line_held_pass_time(&k, INT64_MAX); /* as far as the trace shows, it was there */
    line_end_bad(&k, t_ns);
    engine_new_subject(e);
}

uint64_t line_passes(const struct line *l, unsigned rule)
{
    switch ((enum line_rule)rule) {
    case LINE_CRC:
    case LINE_BIT_RATE:
        return l->plain_messages + l->plain_goodcrcs;
    case LINE_FRAME_GAP:
        return l->plain_gaps + l->plain_goodcrcs;
    case LINE_GOODCRC:
    case LINE_GOODCRC_ID:
    case LINE_UNPROMPTED:
    case LINE_TURNAROUND:
        return l->plain_goodcrcs;
    case LINE_NONE:
    case LINE_CRC_REPEATED:
    case LINE_FIRST_TRY:
    case LINE_RETRY_COUNT:
    case LINE_RETRY_SAME:
    case LINE_RETRY:
    case LINE_RULES:
        return 0;
    }
    return 0;
}
