/* The form of a message: its type, its bits, its length; and whether it may be said there and under that revision. */
#include "rules/message_checks.h"

#include "capture/base/cursor.h"

enum {
    HEADER_DATA_BIT = 1 << 5,      /* reserved on SOP' and SOP'' */
    HEADER_TYPE_BIT_4 = 1 << 4,    /* reserved in 2.0, whose type field has four bits (width from memory) */
    HEADER_EXTENDED_BIT = 1 << 15, /* reserved in 2.0 */
    EXTENDED_RESERVED_BIT = 1 << 9,
    EXTENDED_HEADER_BYTES = 2,
    WORD_BYTES = 4,
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

unsigned message_agreed(const struct judge *j, const struct port *p, const struct message *m)
{
    unsigned standard = judge_standard(j);

    if (standard)
        return standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    return m->set == SET_SOP ? p->agreed : agreed_with_plug(p, m);
}

const struct edition *message_edition(const struct port *p, unsigned player)
{
    return player <= PLAYER_CABLE ? &p->edition[player] : &edition_unknown;
}

bool message_applies(const struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;

    return rule_applies(judge_rule(j), message_agreed(j, e->port, m), message_edition(e->port, e->speech->player),
                        judge_standard(j)) == ANSWER_YES;
}

const struct stream *message_stream(const struct port *p, const struct speech *s)
{
    return &p->streams[stream_index(s->m.set, s->player)];
}

const struct stream *message_partner_stream(const struct port *p, const struct speech *s)
{
    return &p->streams[stream_index(s->m.set, s->player) ^ 1u];
}

void message_outcome_count(struct outcome *o, int64_t measured, int64_t low, int64_t high)
{
    o->has_measured = o->has_low = o->has_high = true;
    o->measured = measured * MILLI;
    o->low = low * MILLI;
    o->high = high * MILLI;
    o->unit = "";
}

int message_chunk_bytes(const struct message *m)
{
    int left = (int)m->data_size - CHUNK_BYTES * m->chunk;

    if (m->request_chunk && m->data_size == 0)
        return 0;
    if (left < 0 || (left == 0 && m->chunk > 0))
        return -1;
    return left < CHUNK_BYTES ? left : CHUNK_BYTES;
}

/* message.reserved-type */
bool message_has_name(unsigned index)
{
    return message_kind(index)->name != NULL;
}

void message_check_reserved_type(struct judge *j, const struct event *e)
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

/* Anything but zero between the last data byte and the next multiple of 4. */
static bool padding_dirty(const struct message *m)
{
    int           carried = m->chunked || m->request_chunk ? message_chunk_bytes(m) : m->data_size;
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
    if ((m->header & (HEADER_EXTENDED_BIT | HEADER_TYPE_BIT_4)) && message_agreed(j, e->port, m) == AGREED_R2)
        return m->header & HEADER_EXTENDED_BIT ? RESERVED_EXTENDED_BIT : RESERVED_TYPE_BIT;
    if (m->has_extended_header) {
        if (m->extended_header & EXTENDED_RESERVED_BIT)
            return RESERVED_EXTENDED_HEADER;
        if (padding_dirty(m))
            return RESERVED_PADDING;
    }
    return RESERVED_CLEAR;
}

void message_check_reserved_bits(struct judge *j, const struct event *e)
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
    int                   owed = message_chunk_bytes(m);
    unsigned              carried = owed >= 0 && owed < m->body_length ? (unsigned)owed : m->body_length;
    unsigned              words = (EXTENDED_HEADER_BYTES + carried + WORD_BYTES - 1) / WORD_BYTES;

    if (m->objects == words) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = SAYS_COUNT_CHUNK;
    o.values[0] = m->index;
    o.values[1] = m->objects;
    o.values[2] = words;
    message_outcome_count(&o, m->objects, words, words);
    judge_fail(j, &o);
}

void message_check_object_count(struct judge *j, const struct event *e)
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

    o.sentence = kind->objects_min == kind->objects_max ? SAYS_COUNT_ONE
                 : kind->objects_step                   ? SAYS_COUNT_TWO
                                                        : SAYS_COUNT_RANGE;
    o.values[0] = m->index;
    o.values[1] = m->objects;
    o.values[2] = kind->objects_min;
    o.values[3] = kind->objects_max;
    message_outcome_count(&o, m->objects, kind->objects_min, kind->objects_max);
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
    message_outcome_count(&o, m->length, owed, owed);
    judge_fail(j, &o);
}

void message_check_length(struct judge *j, const struct event *e)
{
    const struct message *m = &e->speech->m;
    unsigned              owed = (unsigned)WORD_BYTES * m->objects;

    if (m->message_class == CLASS_EXTENDED && !m->chunked) {
        owed = (unsigned)EXTENDED_HEADER_BYTES + m->data_size;
        if (!m->has_extended_header)
            length_fail(j, e, SAYS_LENGTH_NO_HEADER, EXTENDED_HEADER_BYTES);
        else if (m->objects != 0)
            length_fail(j, e, SAYS_LENGTH_COUNTS, owed);
        else if (m->length != owed && m->length != ((owed + WORD_BYTES - 1) & ~(WORD_BYTES - 1u)))
            length_fail(j, e, SAYS_LENGTH_UNCHUNKED, owed);
        else
            judge_pass(j);
        return;
    }
    if (m->length != owed)
        length_fail(j, e, SAYS_LENGTH_OBJECTS, owed);
    else
        judge_pass(j);
}

/* message.set-allowed */
void message_check_set_allowed(struct judge *j, const struct event *e)
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
    const struct edition *edition = message_edition(e->port, e->speech->player);

    if (since < SINCE_R31)
        return false;
    if (standard)
        return standard < since;
    return edition->major == 3 && edition->minor + (unsigned)SINCE_R30 < since;
}

void message_check_allowed_in_revision(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind = message_kind(m->index);
    unsigned                   agreed = message_agreed(j, e->port, m);

    if (agreed == AGREED_UNKNOWN || !kind->name)
        return;
    if (agreed == AGREED_R2 ? kind->since <= SINCE_R2 : !said_older(j, e, kind->since)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = agreed == AGREED_R2 ? SAYS_NOT_IN_2 : SAYS_NEWER;
    o.values[0] = m->index;
    judge_fail(j, &o);
}

/* message.deprecated */
static enum answer edition_is_32(const struct judge *j, const struct event *e)
{
    static const struct rule from_32 = { .applies = APPLIES_R32 };

    return rule_applies(&from_32, message_agreed(j, e->port, &e->speech->m),
                        message_edition(e->port, e->speech->player), judge_standard(j));
}

void message_check_deprecated(struct judge *j, const struct event *e)
{
    bool goto_min = e->speech->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_GOTOMIN);

    if (!message_applies(j, e) || (goto_min && edition_is_32(j, e) != ANSWER_YES))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = goto_min ? SAYS_GOTOMIN : SAYS_PING;
    judge_fail(j, &o);
}

/* message.extended-size */

/* Whole objects, only too many of them: caps.count speaks of that. */
static bool too_many_objects(const struct message *m, const struct message_kind *kind)
{
    return m->index == MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_EPR_SOURCE_CAPABILITIES) && m->data_size > kind->size_max &&
           m->data_size <= EXTENDED_BYTES_MAX && m->data_size % kind->size_step == 0;
}

void message_check_extended_size(struct judge *j, const struct event *e)
{
    const struct message      *m = &e->speech->m;
    const struct message_kind *kind = message_kind(m->index);
    bool                       on_cable = m->set != SET_SOP;

    if (!m->has_extended_header || m->request_chunk || (m->chunked && m->chunk > 0) || !kind->name ||
        too_many_objects(m, kind) || !message_applies(j, e))
        return;
    if (message_size_allowed(kind, m->data_size, on_cable)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);
    unsigned       least = on_cable && kind->cable_size ? kind->cable_size : kind->size_min;
    unsigned       most = on_cable && kind->cable_size ? kind->cable_size : kind->size_max;

    o.sentence = least == most ? SAYS_SIZE_ONE : kind->size_step > 1 ? SAYS_SIZE_STEPS : SAYS_SIZE_RANGE;
    o.values[0] = m->index;
    o.values[1] = m->data_size;
    o.values[2] = least;
    o.values[3] = most;
    o.values[4] = kind->size_step;
    message_outcome_count(&o, m->data_size, least, most);
    judge_fail(j, &o);
}
