/*
 * The rules about one message by itself: its type, its header, its length, its sender, its place in the count.
 *
 * They wake on the first good copy of a message (EVENT_MESSAGE). At that moment the port model still stands where it stood
 * before the message.
 */
#include "rules/groups.h"
#include "rules/judge.h"

#include "capture/base/cursor.h"
#include "decode/sources.h"
#include "rules/parameter.h"

#define C(type) (UINT32_C(1) << CONTROL_##type)
#define D(type) (UINT32_C(1) << DATA_##type)
#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED_ALL .messages = { .extended = UINT32_MAX }

enum {
    HEADER_DATA_BIT = 1 << 5,      /* reserved on SOP' and SOP'' */
    HEADER_TYPE_BIT_4 = 1 << 4,    /* reserved in 2.0, whose type field has four bits (width from memory) */
    HEADER_EXTENDED_BIT = 1 << 15, /* reserved in 2.0 */
    EXTENDED_RESERVED_BIT = 1 << 9,
    EXTENDED_HEADER_BYTES = 2,
    WORD_BYTES = 4,
    ID_MASK = 7,
    MILLI = 1000,          /* findings and parameters count in thousandths */
    MICROSECOND_NS = 1000, /* a thousandth of a millisecond */
};

static const struct edition edition_unknown;

/* Index into the identities of a port: the plug that answers on this ordered set, 0 for none. */
static unsigned plug_slot(unsigned set)
{
    return set == SET_SOP1 ? 2 : set == SET_SOP2 ? 3 : 0;
}

/* SOP' and SOP'': the lower of the plug's revision, known from its identity, and the asker's. */
static unsigned agreed_with_plug(const struct port *p, const struct message *m)
{
    unsigned slot = plug_slot(m->set);
    unsigned asker = m->power_bit ? p->streams[m->set * 2u].last.header >> 6 & 3u : m->revision;

    if (slot == 0 || p->identity[slot].frame == 0)
        return AGREED_UNKNOWN;
    if (m->power_bit && !p->streams[m->set * 2u].last.held)
        asker = HEADER_R3;
    return p->identity[slot].revision <= HEADER_R2 || asker <= HEADER_R2 ? AGREED_R2 : AGREED_R3;
}

static unsigned agreed_on(const struct judge *j, const struct port *p, const struct message *m)
{
    unsigned standard = judge_standard(j);

    if (standard)
        return standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    return m->set == SET_SOP ? p->agreed : agreed_with_plug(p, m);
}

static const struct edition *edition_of(const struct port *p, unsigned player)
{
    return player <= PLAYER_CABLE ? &p->edition[player] : &edition_unknown;
}

/* Rows of one revision are judged only where it is known to be that one: in the others they have no occasion. */
static bool applies_here(const struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;

    return rule_applies(judge_rule(j), agreed_on(j, e->port, m), edition_of(e->port, e->speech->player),
                        judge_standard(j)) == ANSWER_YES;
}

static const struct stream *stream_of(const struct port *p, const struct speech *s)
{
    return &p->streams[s->m.set * 2u + (s->player == PLAYER_B || s->player == PLAYER_CABLE ? 1 : 0)];
}

/* The other sender on that ordered set. */
static const struct stream *partner_of(const struct port *p, const struct speech *s)
{
    return &p->streams[s->m.set * 2u + (s->player == PLAYER_B || s->player == PLAYER_CABLE ? 0 : 1)];
}

static void outcome_count(struct outcome *o, int64_t measured, int64_t low, int64_t high)
{
    o->has_measured = o->has_low = o->has_high = true;
    o->measured = measured * MILLI;
    o->low = low * MILLI;
    o->high = high * MILLI;
    o->unit = "";
}

/* Bytes that this chunk should carry; -1 if it starts behind the end of the message. */
static int chunk_bytes(const struct message *m)
{
    int left = (int)m->data_size - CHUNK_BYTES * m->chunk;

    if (m->request_chunk)
        return 0;
    if (left < 0 || (left == 0 && m->chunk > 0))
        return -1;
    return left < CHUNK_BYTES ? left : CHUNK_BYTES;
}

/* message.reserved-type */
static void check_reserved_type(struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;

    if (message_kind(m->index)->name) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = m->message_class;
    o.values[0] = m->type;
    o.values[1] = m->set;
    judge_fail(j, &o);
}

enum reserved_bit { RESERVED_CABLE_BIT, RESERVED_TYPE_BIT, RESERVED_EXTENDED_BIT, RESERVED_EXTENDED_HEADER, RESERVED_PADDING, RESERVED_CLEAR };

/* Anything but zero between the last data byte and the next multiple of 4. */
static bool padding_dirty(const struct message *m)
{
    int           carried = m->chunked || m->request_chunk ? chunk_bytes(m) : m->data_size;
    struct cursor c = cursor_over(m->body, m->body_length);
    unsigned      padding;

    if (carried < 0)
        return false;
    padding = (unsigned)-(carried + EXTENDED_HEADER_BYTES) & (WORD_BYTES - 1u);
    cursor_take(&c, (size_t)carried);
    for (; padding > 0; padding--)
        if (cursor_u8(&c) != 0)
            return true;
    return false; /* too few bytes: message.length or message.chunk-size */
}

static enum reserved_bit reserved_bit_set(const struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;

    if ((m->header & HEADER_DATA_BIT) && (m->set == SET_SOP1 || m->set == SET_SOP2))
        return RESERVED_CABLE_BIT;
    if ((m->header & (HEADER_EXTENDED_BIT | HEADER_TYPE_BIT_4)) && agreed_on(j, e->port, m) == AGREED_R2)
        return m->header & HEADER_EXTENDED_BIT ? RESERVED_EXTENDED_BIT : RESERVED_TYPE_BIT;
    if (m->has_extended_header) {
        if (m->extended_header & EXTENDED_RESERVED_BIT)
            return RESERVED_EXTENDED_HEADER;
        if (padding_dirty(m))
            return RESERVED_PADDING;
    }
    return RESERVED_CLEAR;
}

static void check_reserved_bits(struct judge *j, const struct event *e)
{
    enum reserved_bit bit = reserved_bit_set(j, e);

    if (bit == RESERVED_CLEAR) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)bit;
    o.values[0] = e->speech->m.index;
    judge_fail(j, &o);
}

/* message.object-count */
static void chunk_count_judge(struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;
    int                   owed = chunk_bytes(m);
    unsigned              carried = owed >= 0 && owed < m->body_length ? (unsigned)owed : m->body_length;
    unsigned              words = (EXTENDED_HEADER_BYTES + carried + WORD_BYTES - 1) / WORD_BYTES;

    if (m->objects == words) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = 3;
    o.values[0] = m->index;
    o.values[1] = m->objects;
    o.values[2] = words;
    outcome_count(&o, m->objects, words, words);
    judge_fail(j, &o);
}

static void check_object_count(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind = message_kind(m->index);

    if (m->message_class == CLASS_EXTENDED) {
        if (m->has_extended_header && m->chunked)
            chunk_count_judge(j, e);
        return;
    }
    if (!kind->name)
        return; /* message.reserved-type: nothing is known of it */
    if (m->message_class == CLASS_CONTROL || message_objects_allowed(kind, m->objects)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = kind->objects_min == kind->objects_max ? 0 : kind->objects_step ? 1 : 2;
    o.values[0] = m->index;
    o.values[1] = m->objects;
    o.values[2] = kind->objects_min;
    o.values[3] = kind->objects_max;
    outcome_count(&o, m->objects, kind->objects_min, kind->objects_max);
    judge_fail(j, &o);
}

/* message.length */
static void length_fail(struct judge *j, const struct event *e, unsigned sentence, unsigned owed)
{
    const struct message *m = &e->speech->m;
    struct outcome        o = judge_outcome(j, e);

    o.sentence = (uint8_t)sentence;
    o.values[0] = m->index;
    o.values[1] = m->length;
    o.values[2] = owed;
    o.values[3] = m->objects;
    outcome_count(&o, m->length, owed, owed);
    judge_fail(j, &o);
}

static void check_length(struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;
    unsigned              owed = (unsigned)WORD_BYTES * m->objects;

    if (m->message_class == CLASS_EXTENDED && !m->chunked) {
        owed = (unsigned)EXTENDED_HEADER_BYTES + m->data_size;
        if (!m->has_extended_header)
            length_fail(j, e, 3, EXTENDED_HEADER_BYTES);
        else if (m->objects != 0)
            length_fail(j, e, 2, owed);
        else if (m->length != owed && m->length != ((owed + WORD_BYTES - 1) & ~(WORD_BYTES - 1u)))
            length_fail(j, e, 1, owed);
        else
            judge_pass(j);
        return;
    }
    if (m->length != owed)
        length_fail(j, e, 0, owed);
    else
        judge_pass(j);
}

/* message.power-role */
struct power_role_state {
    uint64_t failed_frame; /* of the last message that failed: its GoodCRC proves nothing */
    int64_t  quiet_ns;     /* role_quiet_ms, looked up once */
};

/* Who the source is was shown in this attach: by CC, or by capabilities, or by a Request answered. */
static bool source_known(const struct port *p)
{
    return p->attach_seen != ATTACH_UNSEEN || p->agreed != AGREED_UNKNOWN || p->offer.known;
}

static bool role_unsettled(struct power_role_state *state, const struct port *p, int64_t t_ns)
{
    if (p->swap == SWAP_PR || p->swap == SWAP_FR)
        return true;
    if (!p->hard_reset_frame)
        return false;
    if (!state->quiet_ns)
        state->quiet_ns = parameter_find("role_quiet_ms")->max * MICROSECOND_NS;
    return t_ns - p->hard_reset_ns <= state->quiet_ns;
}

/* Types that in this state only one side may send. */
static bool sender_certain(const struct port *p, const struct speech *s)
{
    bool power = p->request.held && s->player == (p->request.player ^ 1u);

    switch (s->m.index) {
    case DATA(REQUEST):
    case DATA(EPR_REQUEST):
        return s->side == SIDE_SINK;
    case DATA(SOURCE_CAPABILITIES):
        return s->side == SIDE_SOURCE;
    case CONTROL(ACCEPT):
        return power && p->request.state == REQUEST_SENT && p->swap_asked == SWAP_NONE;
    case CONTROL(PS_RDY):
        return power && p->request.state == REQUEST_ACCEPTED && p->swap == SWAP_NONE;
    default:
        return false;
    }
}

static void power_role_fail(struct judge *j, const struct event *e, struct power_role_state *state, unsigned sentence)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)sentence;
    o.values[0] = e->speech->m.index;
    o.values[1] = e->speech->m.power_bit;
    o.values[2] = e->speech->side;
    if (e->speech->acknowledged)
        outcome_evidence(&o, e->speech->acknowledged->last_frame);
    outcome_evidence(&o, e->frame);
    state->failed_frame = e->frame;
    judge_fail(j, &o);
}

static void check_power_role(struct judge *j, const struct event *e)
{
    struct power_role_state *state = judge_state(j, e->port);
    const struct port       *p = e->port;
    const struct speech     *s = e->speech;

    if (s->m.set != SET_SOP || !source_known(p) || role_unsettled(state, p, s->start_ns))
        return;
    if (e->kind == EVENT_GOODCRC) {
        if (!s->acknowledged || s->acknowledged->frame == state->failed_frame)
            return;
        if (s->m.power_bit == (s->acknowledged->header >> 8 & 1))
            power_role_fail(j, e, state, 1);
        else
            judge_pass(j);
        return;
    }
    if (!sender_certain(p, s))
        return;
    if (s->m.power_bit != (s->side == SIDE_SOURCE))
        power_role_fail(j, e, state, 0);
    else
        judge_pass(j);
}

/* message.data-role */
struct data_role_state { uint8_t unsettled; }; /* players whose next message after a DR_Swap is let pass */

static void check_data_role(struct judge *j, const struct event *e)
{
    struct data_role_state *state = judge_state(j, e->port);
    const struct port      *p = e->port;
    const struct speech    *s = e->speech;

    if (e->kind == EVENT_SWAPPED) {
        if (e->swap == SWAP_DR)
            state->unsettled = 1 << PLAYER_A | 1 << PLAYER_B;
        return;
    }
    if (e->kind == EVENT_HARD_RESET || e->kind == EVENT_DETACH) {
        state->unsettled = 0;
        return;
    }
    if (s->m.set != SET_SOP || s->player > PLAYER_B)
        return;
    if (state->unsettled >> s->player & 1) {
        state->unsettled &= (uint8_t)~(1u << s->player);
        return;
    }
    if (!p->data_roles_known[PLAYER_A] || !p->data_roles_known[PLAYER_B])
        return;
    if (s->m.data_bit == p->dfp[s->player]) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = p->dfp[s->player] ? 0 : 1;
    o.values[0] = s->m.index;
    o.values[1] = s->side;
    judge_fail(j, &o);
}

/* message.header-revision */
static bool revision_as_agreed(unsigned revision, unsigned agreed)
{
    return (revision <= HEADER_R2 ? AGREED_R2 : AGREED_R3) == agreed;
}

/* No Request has been seen, and it cannot be told whether there was one before the trace began. */
static bool beginning_unseen(const struct port *p)
{
    return p->attach_seen == ATTACH_UNSEEN && !p->hard_reset_frame && !p->caps_revision;
}

static void check_header_revision(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct message *m = &e->speech->m;
    struct outcome        o;

    if (m->revision != HEADER_RESERVED) {
        if (m->set != SET_SOP || revision_as_agreed(m->revision, p->agreed)) {
            judge_pass(j);
            return;
        }
        if (p->agreed == AGREED_UNKNOWN && (m->index == DATA(SOURCE_CAPABILITIES) || !beginning_unseen(p))) {
            judge_pass(j);
            return;
        }
    }
    o = judge_outcome(j, e);
    o.values[0] = m->index;
    o.values[1] = m->revision;
    o.values[2] = p->agreed == AGREED_R2 ? HEADER_R2 : HEADER_R3;
    o.sentence = m->revision == HEADER_RESERVED ? 1 : p->agreed == AGREED_UNKNOWN ? 2 : 0;
    if (m->revision != HEADER_RESERVED && p->agreed == AGREED_UNKNOWN)
        judge_undecided(j, &o, CAUSE_REVISION);
    else
        judge_fail(j, &o);
}

/* message.id-sequence */
static bool id_follows(const struct stream *t, unsigned id)
{
    unsigned step = (id - t->id) & ID_MASK;

    if (step == 1)
        return true;
    if (step == 2)
        return t->partner_between; /* a message that waited was discarded when the partner's came in */
    return step == 0 && t->last_unacknowledged;
}

static void check_id_sequence(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct stream *t = stream_of(e->port, s);

    if (!t->id_known || t->reset_pending || s->m.index == CONTROL(SOFT_RESET) ||
        (s->m.set == SET_SOP && s->player > PLAYER_B))
        return;
    if (id_follows(t, s->m.id)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = s->m.id == t->id ? 1 : 0;
    o.values[0] = s->m.index;
    o.values[1] = s->m.id;
    o.values[2] = t->id;
    o.values[3] = (t->id + 1) & ID_MASK;
    outcome_count(&o, s->m.id, (t->id + 1) & ID_MASK, (t->id + 1) & ID_MASK);
    outcome_evidence(&o, t->last.last_frame);
    outcome_evidence(&o, e->frame);
    if (t->bad_between)
        judge_undecided(j, &o, CAUSE_BAD_PACKET);
    else
        judge_fail(j, &o);
}

/* message.id-after-reset */

/* A Soft_Reset that never arrived resets nobody but its sender. */
static bool reset_unheard(const struct port *p, const struct speech *s, const struct stream *t)
{
    const struct stream *other = partner_of(p, s);

    return other->last.held && other->last.frame == t->reset_frame && other->last.index == CONTROL(SOFT_RESET) &&
           other->last.delivery == DELIVERY_OPEN;
}

static void check_id_after_reset(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct stream *t = stream_of(e->port, s);
    bool                 soft_reset = s->m.index == CONTROL(SOFT_RESET);

    if (!t->reset_pending && !soft_reset)
        return;
    if ((s->m.set == SET_SOP && s->player > PLAYER_B) || (!soft_reset && reset_unheard(e->port, s, t)))
        return;
    bool blurred = !soft_reset && (t->bad_between || t->lost_between);

    if (s->m.id == 0 && !blurred) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = soft_reset ? 1 : 0;
    o.values[0] = s->m.index;
    o.values[1] = s->m.id;
    outcome_count(&o, s->m.id, 0, 0);
    outcome_evidence(&o, t->reset_pending ? t->reset_frame : 0);
    outcome_evidence(&o, e->frame);
    if (blurred)
        judge_undecided(j, &o, t->lost_between ? CAUSE_LOST : CAUSE_BAD_PACKET);
    else
        judge_fail(j, &o);
}

/* message.direction */

/* Is this player a dual-role power port? Both kinds of first object say so in the same flag. */
static enum answer player_dual_role(const struct port *p, unsigned player)
{
    const struct offer *as_source = &p->announced[0];
    const struct offer *as_sink = &p->sink_announced[0];
    enum answer         answer = ANSWER_UNKNOWN;

    if (as_source->known && as_source->player == player)
        answer = as_source->pdos[0].dual_role_power ? ANSWER_YES : ANSWER_NO;
    if (answer != ANSWER_YES && as_sink->known && as_sink->player == player)
        answer = as_sink->pdos[0].dual_role_power ? ANSWER_YES : ANSWER_NO;
    return answer;
}

static enum answer sender_allowed(const struct port *p, const struct speech *s, unsigned senders)
{
    unsigned own = s->side == SIDE_SOURCE ? SENDER_SOURCE : SENDER_SINK;
    unsigned other = s->side == SIDE_SOURCE ? SENDER_SOURCE_DRP : SENDER_SINK_DRP;

    if (senders & own)
        return ANSWER_YES;
    if (senders & SENDER_DFP) {
        if (!p->data_roles_known[s->player])
            return ANSWER_UNKNOWN;
        return p->dfp[s->player] ? ANSWER_YES : ANSWER_NO;
    }
    return senders & other ? player_dual_role(p, s->player) : ANSWER_NO;
}

static void check_direction(struct judge *j, const struct event *e)
{
    const struct speech       *s = e->speech;
    const struct message_kind *kind = message_kind(s->m.index);
    enum answer                allowed;

    /* A request chunk bears the type of the message that it wants. */
    if (s->m.set != SET_SOP || !kind->name || s->player > PLAYER_B || s->m.request_chunk)
        return;
    allowed = sender_allowed(e->port, s, kind->senders);
    if (allowed == ANSWER_YES) {
        judge_pass(j);
        return;
    }
    if (allowed == ANSWER_UNKNOWN && !(kind->senders & SENDER_DFP))
        return; /* whether the port is dual-role was never said */
    struct outcome o = judge_outcome(j, e);

    o.sentence = kind->senders & SENDER_DFP ? 1 : 0;
    o.values[0] = s->m.index;
    o.values[1] = s->side;
    if (allowed == ANSWER_UNKNOWN)
        judge_undecided(j, &o, CAUSE_BEGINNING);
    else
        judge_fail(j, &o);
}

/* message.set-allowed */
static void check_set_allowed(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind;

    if (m->set != SET_SOP1 && m->set != SET_SOP2)
        return;
    kind = message_kind(m->index);
    if (!kind->name)
        return;
    if (kind->on_cable) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.values[0] = m->index;
    o.values[1] = m->set;
    judge_fail(j, &o);
}

/* message.allowed-in-revision */
static bool said_older(const struct judge *j, const struct event *e, unsigned since)
{
    unsigned              standard = judge_standard(j);
    const struct edition *edition = edition_of(e->port, e->speech->player);

    if (since < SINCE_R31)
        return false;
    if (standard)
        return standard < since;
    return edition->major == 3 && edition->minor + (unsigned)SINCE_R30 < since;
}

static void check_allowed_in_revision(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind = message_kind(m->index);
    unsigned                   agreed = agreed_on(j, e->port, m);

    if (agreed == AGREED_UNKNOWN || !kind->name)
        return;
    if (agreed == AGREED_R2 ? kind->since <= SINCE_R2 : !said_older(j, e, kind->since)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = agreed == AGREED_R2 ? 0 : 1;
    o.values[0] = m->index;
    judge_fail(j, &o);
}

/* message.deprecated */
static enum answer edition_is_32(const struct judge *j, const struct event *e)
{
    static const struct rule from_32 = { .applies = APPLIES_R32 };

    return rule_applies(&from_32, agreed_on(j, e->port, &e->speech->m), edition_of(e->port, e->speech->player),
                        judge_standard(j));
}

static void check_deprecated(struct judge *j, const struct event *e)
{
    bool goto_min = e->speech->m.index == CONTROL(GOTOMIN);

    if (!applies_here(j, e) || (goto_min && edition_is_32(j, e) != ANSWER_YES))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = goto_min ? 1 : 0;
    judge_fail(j, &o);
}

/* The assembly that a chunk of this sender belongs to. */
static unsigned assembly_of(const struct speech *s, bool partner)
{
    unsigned set = s->m.set > SET_SOP2 ? SET_SOP2 : s->m.set;
    bool     second = s->player == PLAYER_B || s->player == PLAYER_CABLE;

    return set * 2 + (second != partner ? 1 : 0);
}

/* message.chunk-size */
static void check_chunk_size(struct judge *j, const struct event *e)
{
    const struct speech  *s = e->speech;
    const struct message *m = &s->m;
    const struct chunks  *assembly = &e->port->chunks[assembly_of(s, false)];
    int                   owed = chunk_bytes(m);
    struct outcome        o;

    if (!m->has_extended_header || !m->chunked || m->request_chunk || !applies_here(j, e))
        return;
    /* A chunk of another size ends the assembly, but what chunk 0 said is still there. */
    bool differs = s->news == CHUNK_BAD_SIZE && m->chunk > 0 && assembly->size != m->data_size;

    if (m->data_size <= EXTENDED_BYTES_MAX && owed >= 0 && m->body_length >= owed && !differs) {
        judge_pass(j);
        return;
    }
    o = judge_outcome(j, e);
    o.sentence = m->data_size > EXTENDED_BYTES_MAX ? 2 : differs ? 1 : owed < 0 ? 3 : 0;
    o.values[0] = m->index;
    o.values[1] = m->chunk;
    o.values[2] = m->body_length;
    o.values[3] = owed;
    o.values[4] = m->data_size;
    o.values[5] = assembly->size;
    if (differs)
        outcome_evidence(&o, assembly->first_frame);
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

/* message.chunk-order */
struct chunk_order {
    bool     known;             /* chunk 0 was seen, and all since */
    bool     lost;              /* ... not, because records are missing */
    bool     asked;             /* the chunk `wanted` was asked for and has not come */
    uint8_t  type, last, wanted;
    uint64_t frame;             /* of the last chunk or request of it */
};
struct chunk_order_state { struct chunk_order order[6]; };

static void chunk_order_outcome(struct judge *j, const struct event *e, const struct chunk_order *c, unsigned sentence,
                                unsigned owed, bool passed)
{
    struct outcome o;

    if (passed) {
        judge_pass(j);
        return;
    }
    o = judge_outcome(j, e);
    o.sentence = (uint8_t)sentence;
    o.values[0] = e->speech->m.index;
    o.values[1] = e->speech->m.chunk;
    o.values[2] = owed;
    outcome_evidence(&o, c->frame);
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

static void chunk_order_unknown(struct judge *j, const struct event *e, const struct chunk_order *c)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = 4;
    o.values[0] = e->speech->m.index;
    o.values[1] = e->speech->m.chunk;
    judge_undecided(j, &o, c->lost ? CAUSE_LOST : CAUSE_BEGINNING);
}

/* c: the assembly of the side that is asked. */
static void chunk_request_judge(struct judge *j, const struct event *e, struct chunk_order *c)
{
    const struct message *m = &e->speech->m;
    unsigned              owed = c->last + 1u;

    if (!c->known || c->type != m->type) {
        chunk_order_unknown(j, e, c);
        return;
    }
    chunk_order_outcome(j, e, c, m->chunk != owed ? 0 : 1, owed, m->chunk == owed && m->chunked && m->data_size == 0);
    c->asked = true;
    c->wanted = m->chunk;
    c->frame = e->frame;
}

static void chunk_judge(struct judge *j, const struct event *e, struct chunk_order *c)
{
    const struct message *m = &e->speech->m;

    if (!c->known || c->type != m->type) {
        chunk_order_unknown(j, e, c);
    } else if (!c->asked && partner_of(e->port, e->speech)->bad_between) {
        struct outcome o = judge_outcome(j, e);

        o.sentence = 4;
        o.values[0] = m->index;
        o.values[1] = m->chunk;
        judge_undecided(j, &o, CAUSE_BAD_PACKET);
    } else {
        bool passed = c->asked && m->chunk == c->wanted && !m->request_chunk;

        chunk_order_outcome(j, e, c, !c->asked ? 3 : m->request_chunk ? 5 : 2, c->wanted, passed);
    }
    c->last = m->chunk;
    c->asked = false;
    c->frame = e->frame;
}

static void check_chunk_order(struct judge *j, const struct event *e)
{
    struct chunk_order_state *state = judge_state(j, e->port);
    const struct speech      *s = e->speech;

    if (e->kind != EVENT_MESSAGE) { /* a loss, a reset, a detach: nothing is known any more */
        *state = (struct chunk_order_state){ .order[0].lost = false };
        for (unsigned k = 0; k < 6 && e->kind == EVENT_LOSS; k++)
            state->order[k].lost = true;
        return;
    }
    struct chunk_order *own = &state->order[assembly_of(s, false)];

    if (!s->m.has_extended_header || (!s->m.chunked && !s->m.request_chunk) || !applies_here(j, e))
        return;
    /* With data in it, it is a chunk, whatever its Request Chunk bit says. */
    bool data_with_request = s->m.request_chunk && s->m.data_size > 0 && own->asked && own->type == s->m.type;

    if (s->m.request_chunk && !data_with_request)
        chunk_request_judge(j, e, &state->order[assembly_of(s, true)]);
    else if (s->m.chunk == 0)
        *own = (struct chunk_order){ .known = true, .type = s->m.type, .frame = e->frame };
    else
        chunk_judge(j, e, own);
}

/* message.unchunked-agreed */
static void check_unchunked_agreed(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct message *m = &e->speech->m;
    const struct offer   *caps = p->announced[0].known ? &p->announced[0] : &p->offer;
    bool                  asked, refused;

    if (m->set != SET_SOP || !m->has_extended_header || m->chunked || m->data_size <= CHUNK_BYTES || !applies_here(j, e))
        return;
    /* An agreed revision means that a Request came since the attach or the last Hard Reset. */
    asked = p->agreed != AGREED_UNKNOWN && p->request.frame && p->role[p->request.player & 1] == SIDE_SINK;
    refused = (caps->known && !caps->pdos[0].unchunked) || (asked && !p->request.rdo.unchunked);
    if (caps->known && asked && !refused) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = refused ? 0 : 1;
    o.values[0] = m->index;
    o.values[1] = m->data_size;
    outcome_evidence(&o, caps->known ? caps->frame : 0);
    outcome_evidence(&o, asked ? p->request.frame : 0);
    outcome_evidence(&o, e->frame);
    if (refused)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, CAUSE_UNSEEN_WORDS);
}

/* message.extended-size */
static void check_extended_size(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind = message_kind(m->index);
    bool                       on_cable = m->set != SET_SOP;

    if (!m->has_extended_header || m->request_chunk || (m->chunked && m->chunk > 0) || !kind->name || !applies_here(j, e))
        return;
    if (message_size_allowed(kind, m->data_size, on_cable)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);
    unsigned       least = on_cable && kind->cable_size ? kind->cable_size : kind->size_min;
    unsigned       most = on_cable && kind->cable_size ? kind->cable_size : kind->size_max;

    o.sentence = least == most ? 0 : kind->size_step > 1 ? 2 : 1;
    o.values[0] = m->index;
    o.values[1] = m->data_size;
    o.values[2] = least;
    o.values[3] = most;
    o.values[4] = kind->size_step;
    outcome_count(&o, m->data_size, least, most);
    judge_fail(j, &o);
}

/* The rows */
static const char *const whole_form[] = { "message.object-count", "message.length", NULL };
static const char *const own_revision[] = { "message.header-revision", NULL };
static const char *const role_parameters[] = { "role_quiet_ms", NULL };

static const char *const says_reserved_type[] = {
    [CLASS_CONTROL] = "Control message of type {0} on {1:set}: that number is reserved.",
    [CLASS_DATA] = "Data message of type {0} on {1:set}: that number is reserved.",
    [CLASS_EXTENDED] = "Extended message of type {0} on {1:set}: that number is reserved.",
};
static const char *const says_reserved_bits[] = {
    [RESERVED_CABLE_BIT] = "{0:m}: header bit 5 is 1, reserved where a cable plug is spoken to.",
    [RESERVED_TYPE_BIT] = "{0:m}: header bit 4 is 1, reserved in the revision 2.0 that was agreed on.",
    [RESERVED_EXTENDED_BIT] = "{0:m}: header bit 15 is 1, reserved in the revision 2.0 that was agreed on.",
    [RESERVED_EXTENDED_HEADER] = "{0:m}: bit 9 of the extended header is 1, but reserved.",
    [RESERVED_PADDING] = "{0:m}: the bytes that fill up the last data object are not 0.",
};
static const char *const says_object_count[] = {
    "{0:m} counts {1} data objects in its header; {2} is what it has.",
    "{0:m} counts {1} data objects in its header; {2} or {3} is what it has.",
    "{0:m} counts {1} data objects in its header; {2} to {3} is what it has.",
    "{0:m}: the header counts {1} data objects, the bytes of this chunk fill {2}.",
};
static const char *const says_length[] = {
    "{0:m} is {1} bytes long behind its header; {3} data objects make {2}.",
    "{0:m}, unchunked, is {1} bytes long behind its header; extended header and Data Size make {2}.",
    "{0:m}, unchunked, counts {3} data objects in its header instead of 0.",
    "{0:m} has {1} bytes behind its header: no room for the extended header of {2} bytes.",
};
static const char *const says_power_role[] = {
    "{0:m} from the {2:side} has Port Power Role {1}.",
    "GoodCRC has Port Power Role {1}, the same as the message that it acknowledges.",
};
static const char *const says_data_role[] = {
    "{0:m} from the {1:side} says UFP, but this port is the DFP.",
    "{0:m} from the {1:side} says DFP, but this port is the UFP.",
};
static const char *const says_header_revision[] = {
    "{0:m} says revision {1:r}; {2:r} was agreed on.",
    "{0:m} has the reserved value 3 for its revision.",
    "{0:m} says revision {1:r}; which one was agreed on lies before the trace.",
};
static const char *const says_id_sequence[] = {
    "{0:m} has MessageID {1} after {2}; {3} was next.",
    "{0:m} has MessageID {1} again, although the message before it was acknowledged; {3} was next.",
};
static const char *const says_id_after_reset[] = {
    "{0:m} has MessageID {1}; it is the first of its sender since a reset.",
    "{0:m} has MessageID {1} itself.",
};
static const char *const says_direction[] = {
    "{0:m} is not for a {1:side} to send.",
    "{0:m} is for the DFP to send, whatever its power role.",
};
static const char *const says_set_allowed[] = { "{0:m} on {1:set}: no message for a cable plug." };
static const char *const says_allowed_in_revision[] = {
    "{0:m} came with revision 3.0; 2.0 was agreed on.",
    "{0:m} is newer than the revision that its sender says it keeps.",
};
static const char *const says_deprecated[] = { "Ping under revision 3.x.", "GotoMin from a port of revision 3.2." };
static const char *const says_chunk_size[] = {
    "{0:m}, chunk {1}: {2} bytes, {3} belong into it.",
    "{0:m}, chunk {1}: Data Size {4}, chunk 0 said {5}.",
    "{0:m}, chunk {1}: Data Size {4}, more than an extended message can have.",
    "{0:m}, chunk {1}: lies behind the end, Data Size is {4}.",
};
static const char *const says_chunk_order[] = {
    "{0:m}: chunk {1} asked for, {2} was next.",
    "{0:m}: the request for chunk {1} has Chunked 0 or a Data Size.",
    "{0:m}: chunk {1} sent, {2} was asked for.",
    "{0:m}: chunk {1} sent, but nobody asked for it.",
    "{0:m}: what came before chunk {1} is not in the trace.",
    "{0:m}: chunk {1} is sent with Request Chunk 1.",
};
static const char *const says_unchunked[] = {
    "{0:m}: {1} bytes unchunked, and the two ports did not both announce that they support it.",
    "{0:m}: {1} bytes unchunked; what the two ports announced is not in the trace.",
};
static const char *const says_extended_size[] = {
    "{0:m}: Data Size {1}, {2} is right.",
    "{0:m}: Data Size {1}, {2} to {3} is right.",
    "{0:m}: Data Size {1}, {2} to {3} in steps of {4} is right.",
};

#define NOTHING_MORE "Nothing beyond what holds for every rule."
#define NEGOTIATE "Attach any partner that speaks USB PD and let the two agree on a contract."
#define HEADER_LAYOUT "layout seen in " FROM_LINUX " and " FROM_ZEPHYR
#define TYPE_TABLES "types seen in " FROM_LINUX ", " FROM_ZEPHYR " and " FROM_CHROMIUM

const struct rule message_rules[] = {
    {
        .id = "message.reserved-type",
        .title = "A message has a type that is defined",
        .requirement = "The message type in the header, read with its class (control, data, extended), is not reserved in the newest "
                       "table of message types.",
        .source = "USB PD, message types; " TYPE_TABLES ".",
        .why = "A receiver can only answer a number that nobody defined with a refusal, and some answer with a reset.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_reserved_type, .check = check_reserved_type,
    },
    {
        .id = "message.reserved-bits",
        .title = "Reserved bits and padding of a message are 0",
        .requirement = "On SOP' and SOP'' header bit 5 is 0. Where revision 2.0 was agreed on, header bits 15 and 4 are 0. Bit 9 of "
                       "an extended header is 0. The bytes from the end of the data to a multiple of 4 are 0.",
        .source = "USB PD, message header and extended message header; " HEADER_LAYOUT "; the four-bit type of 2.0 and the padding "
                  "from memory.",
        .why = "A later revision gives such a bit a meaning, and then an old product says what it never meant.",
        .undecided = "The part about 2.0 is only judged where the agreed revision is known.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_reserved_bits, .check = check_reserved_bits,
    },
    {
        .id = "message.object-count",
        .title = "The number of data objects fits the message type",
        .requirement = "A data message counts as many data objects as its type has (BIST 1 or 7, Source_Info 1 or 2, EPR_Request 2, "
                       "capabilities and Vendor_Defined 1 to 7, the others 1), a chunk as many as its extended header and its bytes fill, "
                       "a request chunk 1.",
        .source = "USB PD, data messages and chunking; " TYPE_TABLES "; the counts of BIST and EPR_Request from memory, the second "
                  "object of Source_Info secondary.",
        .why = "A receiver that reads by the table misses objects, or takes what is not there for one.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_object_count, .check = check_object_count,
    },
    {
        .id = "message.length",
        .title = "A message is as long as its header says",
        .requirement = "Behind the header, CRC not counted, stand 4 bytes for each data object that it counts. An unchunked extended "
                       "message counts 0 objects and has 2 bytes of extended header and Data Size bytes, or those filled up to a "
                       "multiple of 4.",
        .source = "USB PD, message header and extended message header; " HEADER_LAYOUT ".",
        .why = "Receivers cut off or run over the end of a message whose length belies its header.",
        .undecided = NOTHING_MORE, .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_length, .check = check_length,
    },
    {
        .id = "message.power-role",
        .title = "The header shows the sender's power role",
        .requirement = "Port Power Role (header bit 8) is 1 in what only a source sends (Source_Capabilities, Accept of a Request, PS_RDY "
                       "that ends it), 0 in what only a sink sends (Request, EPR_Request), and in a GoodCRC the other value than in "
                       "the message that it acknowledges. Not judged from the Accept of a PR_Swap or FR_Swap to the end of that swap, nor "
                       "for 100 ms after a Hard Reset.",
        .source = "USB PD, Port Power Role; " HEADER_LAYOUT "; notes on PD R3.2 V1.2 say that a receiver must not verify it, hence no must.",
        .why = "Analysers and some controllers tell the two ports apart by this bit.",
        .undecided = "Not judged before it is known which port is the source.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_SHOULD, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_GOODCRC),
        .messages = { .control = C(ACCEPT) | C(PS_RDY), .data = D(SOURCE_CAPABILITIES) | D(REQUEST) | D(EPR_REQUEST) },
        .parameters = role_parameters, .sentences = says_power_role,
        .state_size = sizeof(struct power_role_state), .check = check_power_role,
    },
    {
        .id = "message.data-role",
        .title = "The header shows the sender's data role",
        .requirement = "Port Data Role (header bit 5) of a message on SOP is 1 from the DFP and 0 from the UFP. The source begins as DFP, "
                       "the sink as UFP; only an accepted DR_Swap changes that, and a Hard Reset restores it. After a DR_Swap the next message "
                       "of each side is not judged.",
        .source = "USB PD, Port Data Role; " HEADER_LAYOUT "; the roles at attach and after Hard Reset as in notes on PD R3.2 V1.2.",
        .why = "A port that sees its own data role in its partner's message starts Type-C error recovery, and power is cut.",
        .undecided = "Without the attach or a DR_Swap in the trace the first message of each side sets its role and only later ones are "
                     "judged.",
        .bench = "Attach, negotiate, and let the two ports swap data roles once if they can.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_SWAPPED) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_DETACH),
        .messages = MESSAGES_ALL, .sentences = says_data_role,
        .state_size = sizeof(struct data_role_state), .check = check_data_role,
    },
    {
        .id = "message.header-revision",
        .title = "After the first Request the header shows the revision agreed on",
        .requirement = "Specification Revision (header bits 7:6) is never 3. From the first Request to a detach or Hard Reset every "
                       "message on SOP shows the lower one of what Source_Capabilities and Request showed; before it a port may show "
                       "its highest. GoodCRC is not judged. 1.0 counts as 2.0.",
        .source = "USB PD, Specification Revision; " HEADER_LAYOUT "; the agreement as in notes on PD R3.2 V1.2.",
        .why = "The partner goes by these two bits in its retries, its timing and in what it dares to send.",
        .undecided = "The trace begins in a contract: what was agreed on lies before it.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_header_revision, .check = check_header_revision,
    },
    {
        .id = "message.id-sequence",
        .title = "MessageID counts up by one, message by message",
        .requirement = "MessageID is that of the same sender's last message on the same ordered set plus 1, modulo 8. Plus 2 passes where "
                       "a message of the partner came between (a message that waited was discarded). After a message that was never acknowledged "
                       "the same number passes too.",
        .source = "USB PD, MessageID; " HEADER_LAYOUT "; the discarded message as in notes on PD R3.2 V1.2.",
        .why = "A receiver takes a repeated number for a retry: it acknowledges the message and does nothing.",
        .undecided = "A bad packet since the last message may have been the one that is missing.", .bench = NEGOTIATE,
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_id_sequence, .check = check_id_sequence,
    },
    {
        .id = "message.id-after-reset",
        .title = "After a reset MessageID begins at 0",
        .requirement = "The first message of each sender on an ordered set has MessageID 0 after an attach, a Soft_Reset, a Hard Reset, a completed "
                       "PR_Swap or FR_Swap, and on SOP' and SOP'' after a Cable Reset. Soft_Reset and the Accept of it have 0 themselves.",
        .source = "USB PD, MessageID; notes on PD R3.2 V1.2; three bits as in " FROM_LINUX ".",
        .why = "A partner that counts from 0 drops the message as a repeat, or answers one that it never got.",
        .undecided = "Records are missing, or a packet is bad, between the reset and the message.",
        .bench = "Attach; provoke a Soft_Reset and a Hard Reset; negotiate after each.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_id_after_reset, .check = check_id_after_reset,
    },
    {
        .id = "message.direction",
        .title = "A message comes from a port that may send it",
        .requirement = "On SOP a source sends only what the tables give to a source, a sink what they give to a sink; Data_Reset_Complete and "
                       "Enter_USB come from the DFP. A dual-role power port (bit 29 of its first object) may also send what its other role is "
                       "asked for. Request chunks are not judged.",
        .source = "USB PD, message types; the sender columns are from memory.",
        .why = "The partner treats it as a protocol error, and mostly resets.",
        .undecided = "A message of the DFP while it is not known which port that is. Where a port never said whether it is dual-role, messages "
                     "of the other role are not judged.",
        .bench = NEGOTIATE,
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_direction, .check = check_direction,
    },
    {
        .id = "message.set-allowed",
        .title = "On SOP' and SOP'' stand only messages for cable plugs",
        .requirement = "A message on SOP' or SOP'' is one of Accept, Soft_Reset, Not_Supported, Get_Status, Status, Get_Revision, Revision, "
                       "Get_Manufacturer_Info, Manufacturer_Info, Security and Firmware_Update messages, Vendor_Defined, "
                       "Vendor_Defined_Extended, Enter_USB, Data_Reset, BIST.",
        .source = "USB PD, SOP* communication; from memory, the list kept wide.",
        .why = "A cable plug cannot make sense of power messages; one that tries may stop answering.",
        .undecided = NOTHING_MORE, .bench = "Attach with an electronically marked cable.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .sentences = says_set_allowed, .check = check_set_allowed,
    },
    {
        .id = "message.allowed-in-revision",
        .title = "A message exists in the revision agreed on",
        .requirement = "Under 2.0 only message types of 1.0 and 2.0 are sent. Under 3.x any defined type, but those that came with 3.1 (EPR, "
                       "Source_Info, Revision, Extended_Control, Get_Source_Info, Get_Revision) not from a port whose Revision message says "
                       "3.0. On SOP' and SOP'' the plug's revision counts, known from its identity.",
        .source = "USB PD, message types and the revision that brought each; " TYPE_TABLES ".",
        .why = "An older partner does not know the message: it ignores it, or resets.",
        .undecided = "Not judged before a revision was agreed on.",
        .bench = "Negotiate once with a partner of revision 2.0 and once with one of 3.x.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = MESSAGES_ALL,
        .silenced_by = own_revision, .sentences = says_allowed_in_revision, .check = check_allowed_in_revision,
    },
    {
        .id = "message.deprecated",
        .title = "Ping and GotoMin are no longer sent",
        .requirement = "Under revision 3.x no Ping is sent, and no GotoMin by a port known to be of 3.2.",
        .source = "USB PD, deprecated control messages; from memory.",
        .why = "Newer partners answer it with Not_Supported at best.",
        .undecided = "Not judged where revision or edition is unknown.",
        .bench = "Record a long contract under revision 3.x; the message shows by itself.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), .messages = { .control = C(PING) | C(GOTOMIN) },
        .sentences = says_deprecated, .check = check_deprecated,
    },
    {
        .id = "message.chunk-size",
        .title = "Chunks carry 26 bytes each, the last one what is left",
        .requirement = "Every chunk but the last carries 26 bytes, the last Data Size less 26 times its number. Data Size is at most 260 and the "
                       "same in all chunks of a message. Request chunks are not judged.",
        .source = "USB PD, chunking; 26 and 260 bytes seen in " FROM_ZEPHYR " and " FROM_ONSEMI ".",
        .why = "A receiver puts the pieces together by these numbers and loses or invents data where they are wrong.",
        .undecided = NOTHING_MORE, .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_form, .sentences = says_chunk_size, .check = check_chunk_size,
    },
    {
        .id = "message.chunk-order",
        .title = "Chunks are asked for one after the other, and the one asked for comes",
        .requirement = "After a chunk the receiver asks for the next number, with Request Chunk 1, Chunked 1 and Data Size 0. The chunk sent then "
                       "has that number and Request Chunk 0.",
        .source = "USB PD, chunking; the bits seen in " FROM_LINUX " and " FROM_ZEPHYR ", the order from memory.",
        .why = "A transfer that loses step is given up, and the information never arrives.",
        .undecided = "The exchange is not in the trace from chunk 0 on, or a bad packet may have been the request.",
        .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE) | EVENT_BIT(EVENT_LOSS) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SOFT_RESET) |
                 EVENT_BIT(EVENT_CABLE_RESET) | EVENT_BIT(EVENT_DETACH),
        EXTENDED_ALL, .silenced_by = whole_form, .sentences = says_chunk_order,
        .state_size = sizeof(struct chunk_order_state), .check = check_chunk_order,
    },
    {
        .id = "message.unchunked-agreed",
        .title = "Long messages go unchunked only if both ports support it",
        .requirement = "An extended message on SOP with Chunked 0 and a Data Size above 26 is sent only if bit 24 of the source's first object and "
                       "bit 23 of the sink's last Request are both 1.",
        .source = "USB PD, Unchunked Extended Messages Supported; the bits seen in " FROM_LINUX " and " FROM_ZEPHYR ", the rule from memory.",
        .why = "A port without room for it loses the message and cannot say so.",
        .undecided = "One of the two words is not in the trace since the attach, and the other one agrees.",
        .bench = "Ask for a long extended message, for instance EPR_Source_Capabilities or Security.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_form, .sentences = says_unchunked, .check = check_unchunked_agreed,
    },
    {
        .id = "message.extended-size",
        .title = "The Data Size of an extended message fits its type",
        .requirement = "Data Size is 24 or 25 in Source_Capabilities_Extended, 5 to 7 in Status (2 from a plug), 1 in Get_Battery_Cap and "
                       "Get_Battery_Status, 9 in Battery_Capabilities, 2 in Get_Manufacturer_Info, 5 to 26 in Manufacturer_Info, 4 to 260 in "
                       "Security, Firmware_Update and Vendor_Defined_Extended messages, 4 in PPS_Status, 4 to 26 in Country_Info and "
                       "Country_Codes, 21 or 24 in Sink_Capabilities_Extended, 2 in Extended_Control, a multiple of 4 from 4 to 52 in EPR "
                       "capabilities. All editions' sizes pass.",
        .source = "USB PD, extended messages; sizes seen in the headers named with each message type, those of request messages from memory.",
        .why = "A block of another size is read wrongly, or refused as a whole.",
        .undecided = NOTHING_MORE, .bench = "Ask for Status, Source_Capabilities_Extended and Manufacturer_Info.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_EACH, .applies = APPLIES_R3,
        .wakes = EVENT_BIT(EVENT_MESSAGE), EXTENDED_ALL,
        .silenced_by = whole_form, .sentences = says_extended_size, .check = check_extended_size,
    },
    { .id = NULL },
};
