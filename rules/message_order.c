/* The place of a message in the count: MessageIDs, and the chunks of an extended message. */
#include "rules/message_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)

enum { ID_MASK = 7 };

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

/* Where two Soft_Resets crossed, the Accept may count from 0 once more after the sender's own Soft_Reset. */
static bool accepts_soft_reset(const struct stream *t, const struct speech *s)
{
    return t->accept_owed && s->m.index == CONTROL(ACCEPT) && s->m.id == 0;
}

void message_check_id_sequence(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct stream *t = message_stream(e->port, s);

    if (!t->id_known || t->reset_pending || s->m.index == CONTROL(SOFT_RESET) || accepts_soft_reset(t, s) ||
        (s->m.set == SET_SOP && s->player > PLAYER_B))
        return;
    if (id_follows(t, s->m.id)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = s->m.id == t->id ? SAYS_ID_AGAIN : SAYS_ID_JUMPS;
    o.values[0] = s->m.index;
    o.values[1] = s->m.id;
    o.values[2] = t->id;
    o.values[3] = (t->id + 1) & ID_MASK;
    message_outcome_count(&o, s->m.id, (t->id + 1) & ID_MASK, (t->id + 1) & ID_MASK);
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
    const struct stream *other = message_partner_stream(p, s);

    return other->last.held && other->last.frame == t->reset_frame && other->last.index == CONTROL(SOFT_RESET) &&
           other->last.delivery == DELIVERY_OPEN;
}

bool message_goes_on(const struct port *p, const struct speech *s)
{
    const struct stream *t = message_stream(p, s);

    return t->reset_pending && p->hard_reset_frame && t->reset_frame == p->hard_reset_frame && s->m.set == SET_SOP &&
           s->side == SIDE_SOURCE && s->m.index != MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES);
}

void message_check_id_after_reset(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct stream *t = message_stream(e->port, s);
    bool                 soft_reset = s->m.index == CONTROL(SOFT_RESET);

    if (!t->reset_pending && !soft_reset && !accepts_soft_reset(t, s))
        return;
    if ((s->m.set == SET_SOP && s->player > PLAYER_B) || (!soft_reset && reset_unheard(e->port, s, t)))
        return;
    bool blurred = !soft_reset && (t->bad_between || t->lost_between);

    if (s->m.id == 0 && !blurred) {
        judge_pass(j);
        return;
    }
    if (message_goes_on(e->port, s))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = soft_reset ? SAYS_ID_OF_SOFT_RESET : SAYS_ID_FIRST;
    o.values[0] = s->m.index;
    o.values[1] = s->m.id;
    message_outcome_count(&o, s->m.id, 0, 0);
    outcome_evidence(&o, t->reset_pending ? t->reset_frame : 0);
    outcome_evidence(&o, e->frame);
    if (blurred)
        judge_undecided(j, &o, t->lost_between ? CAUSE_LOST : CAUSE_BAD_PACKET);
    else
        judge_fail(j, &o);
}

/* The assembly that a chunk of this sender belongs to. */
static unsigned assembly_of(const struct speech *s, bool partner)
{
    unsigned set = s->m.set > SET_SOP2 ? SET_SOP2 : s->m.set;

    return stream_index(set, s->player) ^ (partner ? 1u : 0);
}

/* message.chunk-size */
void message_check_chunk_size(struct judge *j, const struct event *e)
{
    const struct speech  *s = e->speech;
    const struct message *m = &s->m;
    const struct chunks  *assembly = &e->port->chunks[assembly_of(s, false)];
    int                   owed = message_chunk_bytes(m);
    struct outcome        o;

    if (!m->has_extended_header || !m->chunked || m->request_chunk || !message_applies(j, e))
        return;
    /* A chunk of another size ends the assembly, but what chunk 0 said is still there. */
    bool differs = s->news == CHUNK_BAD_SIZE && m->chunk > 0 && assembly->size != m->data_size;

    if (m->data_size <= EXTENDED_BYTES_MAX && owed >= 0 && m->body_length >= owed && !differs) {
        judge_pass(j);
        return;
    }
    o = judge_outcome(j, e);
    o.sentence = m->data_size > EXTENDED_BYTES_MAX ? SAYS_CHUNK_TOO_LONG
                 : differs                         ? SAYS_CHUNK_DIFFERS
                 : owed < 0                        ? SAYS_CHUNK_BEHIND
                                                   : SAYS_CHUNK_SHORT;
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

    o.sentence = SAYS_ORDER_UNSEEN;
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
    chunk_order_outcome(j, e, c, m->chunk != owed ? SAYS_ORDER_ASKED : SAYS_ORDER_REQUEST_FORM, owed,
                        m->chunk == owed && m->chunked && m->data_size == 0);
    c->asked = true;
    c->wanted = m->chunk;
    c->frame = e->frame;
}

static void chunk_judge(struct judge *j, const struct event *e, struct chunk_order *c)
{
    const struct message *m = &e->speech->m;

    if (!c->known || c->type != m->type) {
        chunk_order_unknown(j, e, c);
    } else if (!c->asked && message_partner_stream(e->port, e->speech)->bad_between) {
        struct outcome o = judge_outcome(j, e);

        o.sentence = SAYS_ORDER_UNSEEN;
        o.values[0] = m->index;
        o.values[1] = m->chunk;
        judge_undecided(j, &o, CAUSE_BAD_PACKET);
    } else {
        unsigned sentence = !c->asked          ? SAYS_ORDER_UNASKED
                            : m->request_chunk ? SAYS_ORDER_REQUEST_BIT
                                               : SAYS_ORDER_SENT;

        chunk_order_outcome(j, e, c, sentence, c->wanted,
                            c->asked && m->chunk == c->wanted && !m->request_chunk);
    }
    c->last = m->chunk;
    c->asked = false;
    c->frame = e->frame;
}

void message_check_chunk_order(struct judge *j, const struct event *e)
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

    if (!s->m.has_extended_header || (!s->m.chunked && !s->m.request_chunk) || !message_applies(j, e))
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
void message_check_unchunked_agreed(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct message *m = &e->speech->m;
    const struct offer   *caps = p->announced[0].known ? &p->announced[0] : &p->offer;
    bool                  asked, refused;

    if (m->set != SET_SOP || !m->has_extended_header || m->chunked || m->data_size <= CHUNK_BYTES ||
        !message_applies(j, e))
        return;
    /* An agreed revision means that a Request came since the attach or the last Hard Reset. */
    asked = p->agreed != AGREED_UNKNOWN && p->request.frame && p->role[p->request.player & 1] == SIDE_SINK;
    refused = (caps->known && !caps->pdos[0].unchunked) || (asked && !p->request.rdo.unchunked);
    if (caps->known && asked && !refused) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = refused ? SAYS_UNCHUNKED_REFUSED : SAYS_UNCHUNKED_UNSEEN;
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
