/* Messages, their copies and their GoodCRCs, as the rules about them see it. */
#include "rules/engine_inside.h"
#include "rules/line_checks.h"

#include "capture/base/cursor.h"
#include "decode/exchange.h"

enum { CRC_BYTES = 4 };

static unsigned stream_set(unsigned stream)
{
    return stream / 2;
}

/* Who sends on this stream, and who on the other one of its ordered set. */
static unsigned stream_player(const struct line_look *k, unsigned stream)
{
    if (stream_set(stream) == SET_SOP)
        return stream & 1 ? PLAYER_B : PLAYER_A;
    if (stream & 1)
        return PLAYER_CABLE;
    return k->port->vconn_known ? k->port->vconn : PLAYER_UNKNOWN;
}

static struct span since(const struct line_look *k, const struct wire *before)
{
    return span_between(k->port, edge_end(k->port, before), edge_start(k->port, &k->wire));
}

bool line_soon_after(const struct line_look *k, const struct wire *w, int64_t most_ns)
{
    if (w->frame == 0)
        return false;
    struct span s = since(k, w);

    return s.low_ns <= most_ns && s.high_ns >= 0;
}

/* Where no CRC was kept: a digest of the bytes themselves (FNV-1a). */
static uint64_t digest_of_bytes(const struct message *m)
{
    struct cursor c = cursor_over(m->raw, m->raw_length);
    uint64_t      digest = UINT64_C(14695981039346656037);

    while (c.left)
        digest = (digest ^ cursor_u8(&c)) * UINT64_C(1099511628211);
    return digest | UINT64_C(1) << 63;
}

uint64_t line_digest(const struct message *m, const struct record *r)
{
    if (m->crc != CRC_GOOD)
        return digest_of_bytes(m);
    struct cursor c = cursor_over(r->packet.bytes, r->packet.length);

    cursor_take(&c, r->packet.length - CRC_BYTES);
    return (uint64_t)m->raw_length << 32 | cursor_u32le(&c);
}

int64_t line_limit_ns(const struct line_look *k, unsigned stream)
{
    const struct line         *l = k->line;
    const struct line_message *m = &l->message[stream];
    const struct stream       *t = &k->port->streams[stream];
    struct edge                end = edge_end(k->port, &m->last);
    int64_t                    copy_ns = end.late_ns + LINE_COPY_NS + t->busy_ns;

    /* What could not be read may be a copy, and another one may come after it. */
    if (l->bad_count && l->bad_set == stream / 2 && l->bad[l->bad_count - 1u].start_ns < copy_ns)
        copy_ns += l->bad[l->bad_count - 1u].end_ns - m->last.end_ns;

    /* One that was sent once only may still turn out to have been heard: by the answer. */
    if (m->acknowledged || m->copies > 1 || !exchange_kind(t->last.index))
        return copy_ns;
    return end.late_ns + k->engine->answer_none_ns > copy_ns ? end.late_ns + k->engine->answer_none_ns : copy_ns;
}

void line_look_for_due(struct line *l, const struct line_look *k)
{
    l->due_ns = line_held_due_ns(k);
    for (unsigned stream = 0; stream < STREAMS; stream++) {
        if (!(l->open >> stream & 1))
            continue;
        int64_t limit_ns = line_limit_ns(k, stream);

        if (limit_ns < l->due_ns)
            l->due_ns = limit_ns;
    }
}

/* Every copy that could be read. */
static void copies_evidence(const struct line_message *m, struct line_case *c)
{
    for (unsigned n = 0; n < m->frame_count; n++)
        if (m->frames[n] != c->frame)
            line_evidence(c, m->frames[n]);
}

/* The receiver's, about a message that is done with. */
static struct line_case receiver_case(const struct line_look *k, unsigned stream, const struct wire *w)
{
    const struct line_message *m = &k->line->message[stream];
    const struct sent         *sent = &k->port->streams[stream].last;
    struct line_case           c = line_case_of(k, w);

    line_case_by(k, &c, stream_player(k, stream ^ 1u), stream_set(stream));
    c.index = sent->index;
    c.id = sent->id;
    c.count = m->copies;
    c.subjects[0] = sent->frame;
    c.subjects[1] = m->last.frame;
    return c;
}

/* exchange.goodcrc of a message that nobody acknowledged. */
static void tell_unacknowledged(struct line_look *k, unsigned stream)
{
    const struct line_message *m = &k->line->message[stream];
    const struct sent         *sent = &k->port->streams[stream].last;
    struct line_case           c = receiver_case(k, stream, &m->last);

    if (!m->partner_there)
        return; /* nobody may be there */
    if (!k->line->goodcrc_seen)
        return; /* two have spoken, and there is not one GoodCRC: whoever recorded it left them out */
    c.fault = true;
    copies_evidence(m, &c);
    c.cause = sent->delivery == DELIVERY_UNPROVEN ? CAUSE_NO_GOODCRC : m->doubt;
    if (c.cause == CAUSE_NONE && c.side == SIDE_UNKNOWN)
        c.cause = CAUSE_ROLES;
    c.says = m->copies > 1 ? SAYS_NEVER_HEARD : SAYS_NOT_HEARD;
    line_hold(k, &c);
}

/* exchange.retry-count of a message that was repeated often enough, and no more than that. */
static void tell_count_kept(const struct line_look *k, unsigned stream)
{
    const struct line_message *m = &k->line->message[stream];
    struct line_case           c = line_case_of(k, &m->last);

    if (m->copies < 2 || m->counted)
        return;
    line_case_by(k, &c, stream_player(k, stream), stream_set(stream));
    c.subjects[0] = m->first.frame;
    line_tell(k, LINE_RETRY_COUNT, &c);
}

void line_close(struct line_look *k, unsigned stream)
{
    struct line         *l = k->line;
    struct line_message *m = &l->message[stream];

    l->open &= (uint16_t)~(1u << stream);
    if (m->copies == 0 || !k->port->streams[stream].last.held)
        return;
    tell_count_kept(k, stream);
    if (!m->acknowledged)
        tell_unacknowledged(k, stream);
}

/* exchange.first-try, once a later copy was acknowledged. */
static void tell_first_try(const struct line_look *k, unsigned stream)
{
    struct line_message *m = &k->line->message[stream];

    if (m->tried)
        return;
    struct line_case c = receiver_case(k, stream, &m->first);

    m->tried = true;
    c.fault = !m->first_acknowledged;
    c.cause = m->first_doubt;
    line_evidence(&c, m->last.frame);
    line_evidence(&c, k->wire.frame);
    line_tell(k, LINE_FIRST_TRY, &c);
}

/* time.goodcrc-turnaround */
static void tell_turnaround(const struct line_look *k, unsigned stream)
{
    const struct line_message *m = &k->line->message[stream];
    const struct sent         *sent = &k->port->streams[stream].last;
    struct line_case           c = line_case_of(k, &k->wire);

    c.index = sent->index;
    c.from = m->last;
    c.to = k->wire;
    c.subjects[0] = sent->frame;
    c.subjects[1] = m->last.frame;
    c.cause = k->line->bad_since ? CAUSE_BAD_PACKET : CAUSE_NONE;
    line_tell(k, LINE_TURNAROUND, &c);
}

/* exchange.goodcrc of a message that was just acknowledged. */
static void tell_acknowledged(const struct line_look *k, unsigned stream)
{
    struct line_case c = receiver_case(k, stream, &k->line->message[stream].last);

    line_tell(k, LINE_GOODCRC, &c);
}

static void acknowledge(struct line_look *k, unsigned stream)
{
    struct line         *l = k->line;
    struct line_message *m = &l->message[stream];

    l->spoken |= (uint16_t)(1u << (stream ^ 1u));
    if (m->copies == 0 || m->last_acknowledged)
        return;
    tell_turnaround(k, stream);
    if (!m->acknowledged)
        tell_acknowledged(k, stream);
    m->acknowledged = m->last_acknowledged = true;
    if (m->copies == 1) {
        m->first_acknowledged = true;
        l->open &= (uint16_t)~(1u << stream);
    } else {
        tell_first_try(k, stream);
    }
}

/* The message that this GoodCRC answers; STREAMS: none. */
static unsigned answered_stream(const struct line_look *k)
{
    const struct line   *l = k->line;
    const struct speech *s = k->speech;
    unsigned             last = l->last_message ? l->last_message - 1u : STREAMS;

    for (unsigned n = 0; n <= STREAMS; n++) {
        unsigned                   stream = n == 0 ? last : n - 1u;
        const struct line_message *m = stream < STREAMS ? &l->message[stream] : NULL;

        if (!m || m->copies == 0 || (n && !(l->open >> stream & 1)) || stream_set(stream) != s->m.set)
            continue;
        const struct sent *sent = &k->port->streams[stream].last;
        bool               plug = stream_set(stream) != SET_SOP && (stream & 1) == s->m.power_bit; /* from its own sender */
        bool               same = n && stream_set(stream) == SET_SOP && (sent->header >> 8 & 1) == s->m.power_bit;

        if (sent->held && sent->id == s->m.id && !plug && !same && line_soon_after(k, &m->last, LINE_ANSWER_NS))
            return stream;
    }
    return STREAMS;
}

/* By their stamps both were on the wire at once: which of them came first is not known. */
static bool overlap(const struct line_look *k, const struct wire *w)
{
    return (k->wire.flags & RECORD_HOST_TIME) && k->wire.start_ns < w->end_ns;
}

/* exchange.goodcrc-id: fault where the message just before it is another one. */
static void tell_id(struct line_look *k, bool answers)
{
    const struct line *l = k->line;
    unsigned           stream = l->last_message - 1u;
    const struct sent *sent = &k->port->streams[stream].last;
    struct line_case   c = line_case_of(k, &k->wire);

    c.fault = !answers;
    c.cause = l->bad_since ? CAUSE_BAD_PACKET : overlap(k, &l->message[stream].last) ? CAUSE_UNCERTAINTY : CAUSE_NONE;
    c.wanted_id = sent->id;
    c.wanted_set = (uint8_t)stream_set(stream);
    c.says = c.wanted_set != c.set ? SAYS_ID_OTHER_SET : SAYS_ID_OTHER;
    if (c.fault) {
        c.index = sent->index;
        c.subjects[0] = sent->frame;
        c.subjects[1] = l->message[stream].last.frame;
        line_evidence(&c, l->message[stream].last.frame);
    }
    line_tell(k, LINE_GOODCRC_ID, &c);
}

static bool prompted(const struct line_look *k, bool near)
{
    const struct line *l = k->line;

    if (near || line_soon_after(k, &l->bad_before, LINE_ANSWER_NS))
        return true;
    return l->before == BEFORE_GOODCRC && l->before_player != k->speech->player && line_soon_after(k, &l->before_wire, LINE_ANSWER_NS);
}

/* exchange.goodcrc-unprompted */
static void tell_unprompted(const struct line_look *k, bool near)
{
    const struct port *p = k->port;
    struct line_case   c = line_case_of(k, &k->wire);
    int64_t            from_ns = k->wire.start_ns - LINE_ANSWER_NS;

    c.fault = !prompted(k, near);
    /* Nothing since the loss: a packet that was damaged lasted until the GoodCRC, however long it was. */
    if (c.fault && p->loss_frame && (k->line->before == BEFORE_NONE ? p->loss_to_ns >= from_ns - LINE_LONGEST_NS : p->loss_to_ns >= from_ns))
        c.cause = CAUSE_LOST;
    else if (c.fault && p->first_ns > from_ns)
        c.cause = CAUSE_BEGINNING;
    if (c.fault && k->line->last_message) /* of a message that was at fault itself its late GoodCRC says nothing more */
        c.subjects[0] = p->streams[k->line->last_message - 1u].last.frame;
    line_tell(k, LINE_UNPROMPTED, &c);
}

void line_take_goodcrc(struct line_look *k)
{
    struct line         *l = k->line;
    const struct speech *s = k->speech;
    unsigned             stream = answered_stream(k);
    bool                 near = l->last_message && line_soon_after(k, &l->message[l->last_message - 1u].last, LINE_ANSWER_NS);

    l->goodcrc_seen = true;
    if (near)
        tell_id(k, stream < STREAMS);
    if (stream < STREAMS)
        acknowledge(k, stream);
    else
        l->spoken |= (uint16_t)(1u << stream_index(s->m.set, s->player));
    tell_unprompted(k, near || stream < STREAMS);
}

/* exchange.retry-same */
static void tell_same(const struct line_look *k, const struct line_message *m, uint64_t digest)
{
    struct line_case c = line_case_of(k, &k->wire);
    bool             comparable = (m->digest ^ digest) >> 63 == 0;
    unsigned         stream = stream_index(k->speech->m.set, k->speech->player);
    uint64_t         frame = k->line->lookalike ? m->first.frame : k->port->streams[stream].last.frame; /* the first that could be read */

    if (!comparable)
        return; /* of one the CRC was kept, of the other not */
    c.fault = m->digest != digest;
    c.says = k->line->lookalike ? SAYS_SAME_OTHER_TYPE : SAYS_SAME_OTHER_BYTES;
    c.subjects[0] = frame;
    line_evidence(&c, frame);
    line_tell(k, LINE_RETRY_SAME, &c);
}

/* time.retry: from the end of the copy before, a bad one too if this one makes it good. */
static void tell_retry(const struct line_look *k, const struct line_message *m)
{
    const struct line *l = k->line;
    struct line_case   c = line_case_of(k, &k->wire);
    bool               spoilt = l->last_bad.frame != 0;
    int64_t            soonest_ns = bench_limits(k->port->bench)->receive_least_ns;

    c.from = spoilt ? l->last_bad : m->last;
    c.to = k->wire;
    if (!spoilt && l->before_wire.frame != c.from.frame && l->before_wire.end_ns - c.from.end_ns > soonest_ns)
        return; /* when it was due, another packet held the line */
    /* A bad packet may be a copy, or a GoodCRC; and what was acknowledged need not have been repeated. */
    c.cause = spoilt || l->bad_since ? CAUSE_BAD_PACKET : m->last_acknowledged ? CAUSE_CAPTURE : CAUSE_NONE;
    line_tell(k, LINE_RETRY, &c);
}

/* exchange.retry-count: one copy too many. */
static void count_copy(const struct line_look *k, struct line_message *m)
{
    struct line_case c = line_case_of(k, &k->wire);

    if (m->counted)
        return;
    c.most = k->speech->player == PLAYER_CABLE ? 1 : line_copies_most(k, &k->speech->m, &c.parameter);
    c.count = m->copies;
    if (c.count <= c.most)
        return;
    m->counted = true;
    c.fault = true;
    c.cause = c.count - m->spoilt > c.most ? CAUSE_NONE : CAUSE_BAD_PACKET;
    c.says = k->speech->player == PLAYER_CABLE ? SAYS_COUNT_PLUG : SAYS_COUNT_PORT;
    c.subjects[0] = m->first.frame;
    if (m->spoilt)
        line_evidence(&c, m->first.frame);
    copies_evidence(m, &c);
    line_tell(k, LINE_RETRY_COUNT, &c);
}

static void note_copy(struct line_message *m, uint64_t frame)
{
    if (m->frame_count == 0)
        m->frames[m->frame_count++] = m->last.frame;
    if (m->frame_count < LINE_COPIES)
        m->frames[m->frame_count++] = frame;
}

static void take_copy(struct line_look *k, struct line_message *m)
{
    const struct line *l = k->line;

    if (m->copies == 1) {
        m->first = m->last;
        m->first_acknowledged = m->acknowledged;
    }
    tell_retry(k, m);
    tell_same(k, m, line_digest(&k->speech->m, k->record));
    m->spoilt = (uint8_t)(m->spoilt + l->last_bad_count);
    m->copies = (uint8_t)(m->copies < UINT8_MAX - LINE_COPIES ? m->copies + 1 + l->last_bad_count : UINT8_MAX);
    note_copy(m, k->wire.frame);
    count_copy(k, m);
    m->last = k->wire;
    m->last_acknowledged = false;
    if (m->doubt == CAUSE_CROSSING)
        m->doubt = CAUSE_NONE;
}

static void take_new(struct line_look *k, struct line_message *m, unsigned stream)
{
    const struct line *l = k->line;
    bool               spoilt = l->last_bad.frame != 0;

    if (spoilt)
        tell_retry(k, m);
    *m = (struct line_message){ .last = k->wire, .digest = line_digest(&k->speech->m, k->record), .copies = 1,
                                .partner_there = line_partner_there(l, k->port, k->speech, stream) };
    if (!spoilt)
        return;
    m->first = k->speech->spoilt.frame ? k->speech->spoilt : l->last_bad;
    m->spoilt = l->last_bad_count;
    m->copies = (uint8_t)(1 + l->last_bad_count);
    count_copy(k, m);
}

/*
 * Every Soft_Reset, and the Accept to every one, has MessageID 0: said again after it was acknowledged it is most likely a new
 * message, not a copy.
 */
static bool said_anew(const struct line_message *m, const struct speech *s)
{
    return m->last_acknowledged && s->m.id == 0 &&
           (s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_SOFT_RESET) || s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_ACCEPT));
}

void line_take_message(struct line_look *k)
{
    struct line         *l = k->line;
    const struct speech *s = k->speech;
    unsigned             stream = stream_index(s->m.set, s->player);

    if (s->m.set == SET_SOP && s->player > PLAYER_B) { /* in the middle of a swap: whose it is, is not known */
        l->last_message = 0;
        return;
    }
    struct line_message *m = &l->message[stream];

    if ((s->copy || l->lookalike) && m->copies && !said_anew(m, s))
        take_copy(k, m);
    else
        take_new(k, m, stream);
    l->lookalike = false;
    l->spoken |= (uint16_t)(1u << stream);
    l->open |= (uint16_t)(1u << stream);
    l->last_message = (uint8_t)(stream + 1);
    l->bad_since = false;
}
