/*
 * Plain messages: on SOP, from a partner that is known, and in order by everything that a header and its length say. Nearly all are.
 * What the rules of message.* demand stands here once more, together and only where it is simple: whatever is not plainly in order is
 * theirs to judge. Rows with `plain` are counted for a plain message, and not called.
 */
#include "rules/engine_inside.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

enum { WORD_BYTES = 4, ID_MASK = 7, BITS_NOT_IN_2 = 1 << 15 | 1 << 4 }; /* message_form.c */

/* message.power-role, for those types that name their sender in this state. */
static bool role_plain(const struct engine *e, const struct port *p, const struct speech *s)
{
    const struct request *q = &p->request;
    bool                  other = q->held && s->player == (q->player ^ 1u);
    bool                  certain;

    switch (s->m.index) {
    case DATA(REQUEST):
    case DATA(EPR_REQUEST):
        certain = s->side == SIDE_SINK;
        break;
    case DATA(SOURCE_CAPABILITIES):
        certain = s->side == SIDE_SOURCE;
        break;
    case CONTROL(ACCEPT):
        certain = other && q->state == REQUEST_SENT && p->swap_asked == SWAP_NONE;
        break;
    case CONTROL(PS_RDY):
        certain = other && q->state == REQUEST_ACCEPTED;
        break;
    default:
        return true;
    }
    return certain && s->m.power_bit == (s->side == SIDE_SOURCE) && p->swap == SWAP_NONE && !p->doubt_until_ns &&
           (!p->hard_reset_frame || s->start_ns - p->hard_reset_ns > e->role_quiet_ns);
}

/* message.reserved-bits, message.header-revision, message.allowed-in-revision */
static bool revision_plain(const struct port *p, const struct message *m, unsigned since)
{
    if (p->agreed == AGREED_R3)
        return m->revision == HEADER_R3 && since <= SINCE_R30;
    return p->agreed == AGREED_R2 && m->revision <= HEADER_R2 && since <= SINCE_R2 && !(m->header & BITS_NOT_IN_2);
}

/* message.object-count, message.length */
static bool length_plain(const struct message *m, const struct message_kind *kind)
{
    return m->length == WORD_BYTES * m->objects && (m->message_class == CLASS_CONTROL || message_objects_allowed(kind, m->objects));
}

/* message.id-sequence; and there is no occasion for message.id-after-reset. */
static bool id_plain(const struct stream *t, const struct message *m)
{
    return t->id_known && !t->reset_pending && !t->accept_owed && m->index != CONTROL(SOFT_RESET) && ((m->id - t->id) & ID_MASK) == 1;
}

bool message_plain(const struct engine *e, const struct port *p, const struct speech *s)
{
    const struct message      *m = &s->m;
    const struct message_kind *kind = message_kind(m->index);

    if (m->set != SET_SOP || m->message_class == CLASS_EXTENDED || s->player > PLAYER_B || !p->attached || !kind->name)
        return false;
    return revision_plain(p, m, kind->since) && length_plain(m, kind) && id_plain(&p->streams[stream_index(SET_SOP, s->player)], m) &&
           /* message.data-role, message.direction */
           p->data_roles_known[PLAYER_A] && p->data_roles_known[PLAYER_B] && !p->data_unshown && m->data_bit == p->dfp[s->player] &&
           (kind->senders & (s->side == SIDE_SOURCE ? SENDER_SOURCE : SENDER_SINK)) && role_plain(e, p, s);
}

uint64_t plain_passes(const struct port_book *b, const struct rule *r)
{
    uint64_t n = 0;

    for (unsigned index = 0; r->plain == PLAIN_PASSES && index < MESSAGE_INDEXES; index++)
        n += wakes_on_index(r, index) ? b->plain[index] : 0;
    return n;
}
