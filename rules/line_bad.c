/* Bad packets: one alone, copies that a good one makes good, and messages of which every copy was bad. */
#include "rules/engine_inside.h"
#include "rules/line_checks.h"
#include "rules/message_checks.h"


enum { CRC_BYTES = 4 };

/* Range from the end of one packet to the start of the one in hand. */
static struct span since(const struct line_look *k, const struct wire *before)
{
    return span_between(k->port, edge_end(k->port, before), edge_start(k->port, &k->wire));
}

static struct wire *last_bad(struct line *l)
{
    return &l->bad[l->bad_count - 1u];
}

static uint16_t bytes_of(const struct record *r)
{
    return (uint16_t)(r->packet.length + (r->packet.state & RECORD_NO_CRC ? CRC_BYTES : 0u));
}

/* The packet in hand may be one more copy of the bad ones. */
static bool repeats(const struct line_look *k)
{
    struct line *l = k->line;
    struct span  s = since(k, last_bad(l));

    return k->speech->m.set == l->bad_set && !k->speech->m.truncated && bytes_of(k->record) == l->bad_bytes &&
           s.low_ns <= LINE_BAD_MOST_NS && s.high_ns >= LINE_BAD_LEAST_NS;
}

unsigned line_copies_most(const struct line_look *k, const struct message *m, const struct parameter **parameter)
{
    struct judge j = { .engine = k->engine, .book = k->book };
    unsigned     agreed = message_agreed(&j, k->port, m);

    /* Not known: the more patient of the two. */
    *parameter = agreed == AGREED_R3 ? line_parameter(k->engine, LINE_RETRY_COUNT, 1, "nRetryCount@3.x")
                                     : line_parameter(k->engine, LINE_RETRY_COUNT, 0, "nRetryCount@2.0");
    return 1u + (unsigned)((*parameter)->max / MILLI);
}

static void tell_crc(struct line_look *k, const struct wire *w, unsigned says, enum cause cause, uint64_t by_frame)
{
    struct line_case c = line_case_of(k, w);

    c.fault = true;
    c.says = (uint8_t)says;
    c.cause = (uint8_t)cause;
    c.side = SIDE_UNKNOWN;
    c.player = PLAYER_UNKNOWN;
    c.set = k->line->bad_set;
    c.bytes = k->line->bad_bytes;
    line_evidence(&c, by_frame);
    line_tell(k, LINE_CRC, &c);
}

/* Each for itself. last: why it is not sure of the last one. */
static void tell_each(struct line_look *k, unsigned says, enum cause last)
{
    struct line *l = k->line;

    for (unsigned n = 0; n < l->bad_count; n++) {
        bool is_last = n + 1u == l->bad_count && last != CAUSE_NONE;

        tell_crc(k, &l->bad[n], is_last ? says : SAYS_CRC_WRONG, is_last ? last : CAUSE_NONE,
                 is_last && says == SAYS_CRC_ANSWERED ? k->wire.frame : 0);
    }
    l->bad_count = 0;
    l->bad_waits = false;
}

/* wire.crc-repeated */
static void tell_repeated(struct line_look *k, bool fault, enum cause cause, unsigned player)
{
    struct line     *l = k->line;
    struct message   m = { .set = l->bad_set };
    struct line_case c = line_case_of(k, &l->bad[0]);

    line_case_by(k, &c, player, l->bad_set);
    c.fault = fault;
    c.cause = (uint8_t)cause;
    c.count = l->bad_count;
    c.most = line_copies_most(k, &m, &c.parameter);
    c.says = c.count < c.most ? SAYS_REPEATED_FEWER : player == PLAYER_UNKNOWN ? SAYS_REPEATED_BY_NOBODY : SAYS_REPEATED_ALL;
    for (unsigned n = 1; n < l->bad_count; n++)
        line_evidence(&c, l->bad[n].frame);
    c.subjects[0] = l->bad_count > 1 ? l->bad[1].frame : 0;
    c.subjects[1] = l->bad_count > 2 ? l->bad[2].frame : 0;
    line_tell(k, LINE_CRC_REPEATED, &c);
}

/* No further copy came. */
static void copies_over(struct line_look *k)
{
    struct line            *l = k->line;
    struct message          m = { .set = l->bad_set };
    const struct parameter *unused;

    if (l->bad_count >= 2 && l->bad_count >= line_copies_most(k, &m, &unused)) {
        l->bad_waits = true;
        return;
    }
    if (l->bad_count >= 2)
        tell_repeated(k, true, CAUSE_LOST, PLAYER_UNKNOWN);
    tell_each(k, SAYS_CRC_WRONG, CAUSE_NONE);
}

/* The one that speaks now was waiting for an answer: the copies may have been that. */
static bool was_waiting(const struct line_look *k)
{
    struct judge      j = { .engine = k->engine, .book = k->book };
    int64_t           settled_ns;
    const struct ask *a = judge_last_ask(&j, k->speech->m.set, k->speech->player, &settled_ns);

    return a && a->end == ASK_SOFT_RESET && a->delivered && settled_ns >= k->speech->start_ns;
}

/*
 * Whose copies they were: a sender that nobody acknowledged begins anew, by a Soft_Reset, or with capabilities once more. Whoever
 * says something else may as well be the one that was spoken to.
 */
static bool gave_up(const struct line_look *k)
{
    const struct speech *s = k->speech;
    bool offer = s->m.index == MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES) && bytes_of(k->record) == k->line->bad_bytes;

    return (s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_SOFT_RESET) || offer) && s->m.set == SET_SOP && s->player <= PLAYER_B &&
           (k->port->role[s->player] == SIDE_SOURCE) == s->m.power_bit && !was_waiting(k);
}

enum { NAMED_FRAMES = 3 }; /* a failure is remembered by so many frames */

static void sender_shows(struct line_look *k)
{
    struct line *l = k->line;

    if (!gave_up(k)) {
        line_settle_bad(k, CAUSE_ROLES);
        return;
    }
    tell_repeated(k, true, CAUSE_NONE, k->speech->player);
    /* wire.crc is silenced by it; of the copies beyond the third too. */
    if (l->bad_count > NAMED_FRAMES && line_judged(k->engine, LINE_CRC_REPEATED))
        l->bad_count = NAMED_FRAMES;
    tell_each(k, SAYS_CRC_WRONG, CAUSE_NONE);
}

void line_settle_bad(struct line_look *k, unsigned cause)
{
    struct line *l = k->line;

    if (l->bad_count == 0)
        return;
    if (l->bad_count >= 2)
        tell_repeated(k, true, cause == CAUSE_NONE ? CAUSE_LOST : (enum cause)cause, PLAYER_UNKNOWN);
    /* Where records are missing a GoodCRC to the last one may be among them. */
    tell_each(k, SAYS_CRC_WRONG, cause == CAUSE_LOST && !l->bad_waits ? CAUSE_LOST : CAUSE_NONE);
}

void line_end_bad(struct line_look *k, int64_t t_ns)
{
    struct line *l = k->line;

    if (l->bad_count == 0)
        return;
    if (t_ns - last_bad(l)->end_ns < LINE_BAD_MOST_NS && !l->bad_waits)
        l->bad_count--; /* what becomes of the last one lies beyond the end */
    else if (!l->bad_waits)
        copies_over(k);
    if (l->bad_waits)
        line_settle_bad(k, CAUSE_ROLES);
    else if (l->bad_count)
        tell_each(k, SAYS_CRC_WRONG, CAUSE_NONE);
}

/* Too soon after this one for a repeat of it: a GoodCRC comes there, and one that its receiver could not read is not heard. */
static bool answers(const struct line_look *k, const struct wire *bad, const struct wire *sent)
{
    return span_between(k->port, edge_end(k->port, sent), edge_start(k->port, bad)).high_ns < LINE_BAD_LEAST_NS;
}

/* A good copy came after them: what the bad ones seemed to hide is explained. */
static void made_good(struct line_look *k)
{
    struct line *l = k->line;

    l->last_bad = *last_bad(l);
    for (unsigned n = 0; n < STREAMS; n++) {
        struct line_message *m = &l->message[n];

        if (m->doubt == CAUSE_BAD_PACKET && m->doubt_frame >= l->bad[0].frame)
            m->doubt = CAUSE_NONE;
        if (m->first_doubt == CAUSE_BAD_PACKET && m->first_doubt_frame >= l->bad[0].frame && !answers(k, &l->bad[0], &m->last))
            m->first_doubt = CAUSE_NONE;
    }
    l->last_bad_count = l->bad_count;
    tell_repeated(k, false, CAUSE_NONE, k->speech->player);
    tell_each(k, SAYS_CRC_WRONG, CAUSE_NONE);
}

void line_meet_bad(struct line_look *k)
{
    struct line         *l = k->line;
    const struct speech *s = k->speech;
    bool                 goodcrc = s->good && s->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOODCRC);
    int64_t              answer_ns = bench_limits(k->port->bench)->receive_most_ns;

    l->last_bad.frame = 0;
    l->last_bad_count = 0;
    if (l->bad_count == 0)
        return;
    if (!l->bad_waits && goodcrc && s->m.set == l->bad_set && since(k, last_bad(l)).low_ns <= answer_ns)
        tell_each(k, SAYS_CRC_ANSWERED, CAUSE_CAPTURE);
    else if (!l->bad_waits && s->good && !goodcrc && (s->spoilt.frame || repeats(k)))
        made_good(k);
    else if (!l->bad_waits && (s->good || !repeats(k)))
        copies_over(k);
    if (!l->bad_waits)
        return;
    if (s->good && !goodcrc && s->m.set == l->bad_set)
        sender_shows(k);
    else if (!s->good && !repeats(k))
        line_settle_bad(k, CAUSE_ROLES);
}

/* Does the CRC fit, although the instrument calls it bad? */
static bool fits(const struct record *r)
{
    struct message m;

    return message_read(r->packet.bytes, r->packet.length, r->packet.set, r->packet.state & (uint8_t)~RECORD_CRC_BAD, &m) &&
           m.crc == CRC_GOOD;
}

void line_take_bad(struct line_look *k)
{
    struct line          *l = k->line;
    const struct message *m = &k->speech->m;
    uint8_t               state = k->record->packet.state;
    bool                  told = m->truncated || (m->crc_flag && fits(k->record));

    l->bad_before = k->wire;
    if (state & RECORD_NO_CRC)
        return;
    if (l->bad_count == LINE_COPIES && !told)
        line_settle_bad(k, CAUSE_ROLES);
    if (l->bad_count && told)
        line_settle_bad(k, CAUSE_ROLES);
    l->bad_set = m->set;
    l->bad_bytes = bytes_of(k->record);
    if (told)
        tell_crc(k, &k->wire, m->truncated ? SAYS_CRC_CUT : SAYS_CRC_FITS, m->truncated ? CAUSE_CUT : CAUSE_CAPTURE, 0);
    else
        l->bad[l->bad_count++] = k->wire;
}
