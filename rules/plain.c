/*
 * Plain messages: on SOP, from a partner that is known, and in order by everything that a header and its length say. Nearly all are.
 * What the rules of message.* demand stands here once more, together and only where it is simple: whatever is not plainly in order is
 * theirs to judge. Rows with `plain` are counted for a plain message, and not called. Plain Requests: the same for request.*, where what
 * is asked of a fixed, variable, battery or PPS object that is known lies within it.
 */
#include "rules/engine_inside.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

enum { WORD_BYTES = 4, ID_MASK = 7, BITS_NOT_IN_2 = 1 << 15 | 1 << 4 }; /* message_form.c */
/* Reserved bits of a Request, GiveBack counted with them; as in request_demands.c. */
enum { REQUEST_BITS = 3 << 20 | 1 << 27, REQUEST_BITS_R2 = 15 << 20 | 1 << 27, REQUEST_BITS_PPS = 1 << 27 | 1 << 21 | 3 << 7 };

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

/* request.current, request.current-order, request.power, request.mismatch-flag */
static bool amount_plain(const struct rdo *r, const struct pdo *asked)
{
    return !r->give_back && r->op_ma <= r->max_ma && r->op_mw <= r->max_mw && r->max_ma <= asked->max_ma && r->max_mw <= asked->max_mw;
}

/* The same for PPS; request.pps-range */
static bool pps_plain(const struct rdo *r, const struct pdo *asked)
{
    return r->form == REQUEST_PPS && r->op_ma <= asked->max_ma && r->mv >= asked->min_mv && r->mv <= asked->max_mv;
}

bool request_plain(const struct engine *e, const struct port *p, const struct request *q)
{
    const uint32_t reserved = p->agreed == AGREED_R2 ? REQUEST_BITS_R2 : REQUEST_BITS;

    if (e->any_failed || !q->offer_known || !q->position_valid || q->epr || p->agreed == AGREED_UNKNOWN)
        return false;
    switch ((enum supply)q->asked.supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
        return q->rdo.form == REQUEST_FIXED_VARIABLE && amount_plain(&q->rdo, &q->asked) && !(q->rdo.word & reserved);
    case SUPPLY_BATTERY:
        return q->rdo.form == REQUEST_BATTERY && amount_plain(&q->rdo, &q->asked) && !(q->rdo.word & reserved);
    case SUPPLY_PPS:
        return p->agreed == AGREED_R3 && pps_plain(&q->rdo, &q->asked) && !(q->rdo.word & REQUEST_BITS_PPS);
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:
    case SUPPLY_RESERVED:
        break;
    }
    return false;
}

uint64_t plain_passes(const struct port_book *b, const struct rule *r)
{
    uint64_t n = 0;

    if (r->plain != PLAIN_PASSES)
        return 0;
    if (r->wakes & EVENT_BIT(EVENT_REQUEST)) {
        for (unsigned supply = 0; supply < SUPPLIES; supply++)
            n += !r->supplies || r->supplies >> supply & 1 ? b->plain_requests[supply] : 0;
        return n;
    }
    for (unsigned index = 0; index < MESSAGE_INDEXES; index++)
        n += wakes_on_index(r, index) ? b->plain[index] : 0;
    return n;
}
