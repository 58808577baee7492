/* Offers, requests and contracts. */
#include "decode/port_inside.h"

#include "capture/base/cursor.h"

#include <stddef.h>
#include <string.h>

#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

/* Words of the message in hand; false where its length does not fit what it says (no offer can be read from it). */
static bool offer_words(const struct port *p, bool epr, uint32_t *words, unsigned *count)
{
    const struct speech *s = &p->speech;
    size_t               bytes = epr ? s->size : s->m.body_length;
    struct cursor        c = cursor_over(epr ? s->data : s->m.body, bytes);

    *count = (unsigned)(bytes / 4);
    if (bytes % 4 != 0 || *count == 0 || *count > (epr ? PDO_MAX : PDO_SPR_MAX))
        return false;
    if (!epr && *count != s->m.objects)
        return false;
    for (unsigned k = 0; k < *count; k++)
        words[k] = cursor_u32le(&c);
    return !c.short_read;
}

static void offer_fill(struct offer *o, const struct port *p, const uint32_t *words, unsigned count, unsigned side)
{
    if (!o->same_as_last) {
        o->count = (uint8_t)count;
        for (unsigned k = 0; k < count; k++) {
            if (o->words[k] == words[k] && o->pdos[k].position == k + 1)
                continue; /* read already: this slot holds objects of one side alone */
            o->words[k] = words[k];
            o->pdos[k] = side == SIDE_SINK ? pdo_read_sink(words[k], k + 1) : pdo_read_source(words[k], k + 1);
        }
    }
    o->known = true;
    o->frame = p->speech.frame;
    o->first_frame = p->speech.first_frame;
    o->t_ns = p->speech.start_ns;
    o->end_ns = p->speech.end_ns;
    o->side = (uint8_t)side;
    o->player = p->speech.player;
    o->revision = p->speech.m.revision;
    o->delivered = false;
    o->in_contract = p->contract.held;
    o->other_occupied = bench_other_occupied(p->bench, p->number);
}

static void note_edition(struct port *p, const struct offer *o)
{
    struct edition *e = o->player <= PLAYER_CABLE ? &p->edition[o->player] : NULL;
    uint8_t         least = o->epr || o->pdos[0].epr_capable ? SINCE_R31 : SINCE_R30;

    for (unsigned k = 0; k < o->count; k++)
        if (o->pdos[k].supply == SUPPLY_SPR_AVS)
            least = SINCE_R32;
    if (e && e->at_least < least)
        e->at_least = least;
}

void port_take_offer(struct port *p, bool epr, unsigned side)
{
    uint32_t      words[PDO_MAX];
    unsigned      count;
    struct offer *o = side == SIDE_SINK ? &p->sink_announced[epr] : &p->announced[epr];

    if (!offer_words(p, epr, words, &count))
        return;
    if (side != SIDE_SINK)
        port_settle_offer(p, epr);
    o->first_of_attach = !p->announced[0].known && !p->announced[1].known;
    o->epr = epr;
    o->same_as_last = o->known && o->count == count && memcmp(o->words, words, count * sizeof words[0]) == 0;
    offer_fill(o, p, words, count, side);
    if (!o->same_as_last)
        note_edition(p, o);
    o->after_soft_reset = p->offer_owed;
    if (side != SIDE_SINK) {
        p->offer_owed = false;
        p->offer_open[epr] = true;
        if (!epr) {
            p->caps_revision = (uint8_t)(p->speech.m.revision + 1);
            p->dual_role = o->pdos[0].dual_role_power;
        }
    }
    struct event e = port_event(p, EVENT_ANNOUNCED);

    e.speech = &p->speech;
    e.offer = o;

    port_tell(&e);
}

/* The offer becomes the one that requests refer to. Unchanged words are not copied again. */
static void offer_stands(struct port *p, unsigned k)
{
    struct offer *from = &p->announced[k];
    struct offer *to = k ? &p->epr_offer : &p->offer;
    bool          same = to->count == from->count && memcmp(to->words, from->words, from->count * sizeof from->words[0]) == 0;

    memcpy(to, from, offsetof(struct offer, words));
    for (unsigned i = 0; !same && i < from->count; i++) {
        if (to->words[i] == from->words[i] && to->pdos[i].position == i + 1)
            continue;
        to->words[i] = from->words[i];
        to->pdos[i] = from->pdos[i];
    }
    if (from->frame > p->offer_gap_frame)
        p->offer_uncertain = false; /* else another may have come since it was sent */
    struct event e = port_event(p, EVENT_OFFER);

    e.offer = to;

    port_tell(&e);
}

void port_offer_delivered(struct port *p, const struct sent *m)
{
    for (unsigned k = 0; k < 2; k++)
        if (p->offer_open[k] && p->announced[k].frame == m->frame) {
            p->offer_open[k] = false;
            p->announced[k].delivered = true;
            offer_stands(p, k);
        }
}

/* An offer that nobody acknowledged stands all the same while nobody has spoken: a charger alone. */
void port_settle_offer(struct port *p, unsigned k)
{
    struct offer *o = &p->announced[k];

    if (!p->offer_open[k])
        return;
    p->offer_open[k] = false;
    if (o->player <= PLAYER_B && !p->spoken[o->player == PLAYER_A ? PLAYER_B : PLAYER_A])
        offer_stands(p, k);
}

static void agree_revision(struct port *p, unsigned sink)
{
    unsigned source = p->caps_revision ? (unsigned)(p->caps_revision - 1) : sink;
    unsigned lower = source < sink ? source : sink;

    if (p->agreed == AGREED_UNKNOWN && sink != HEADER_RESERVED)
        p->agreed = lower <= HEADER_R2 ? AGREED_R2 : AGREED_R3;
}

static void find_asked(struct port *p, struct request *q, uint32_t word)
{
    const struct offer *o = q->epr ? &p->epr_offer : &p->offer;
    unsigned            position = rdo_position(word);

    q->offer_known = o->known && !p->offer_uncertain;
    q->position_valid = false;
    if (o->known) {
        q->offer_frame = o->frame;
        q->offer_ns = o->end_ns;
        q->offer_count = o->count;
        q->first_of_attach = o->first_of_attach;
        if (position >= 1 && position <= o->count && o->words[position - 1] != 0) {
            q->position_valid = true;
            q->asked = o->pdos[position - 1];
        }
    }
    if (!q->position_valid)
        q->asked = (struct pdo){ 0 };
    q->rdo = rdo_read(word, q->position_valid ? &q->asked : NULL);
}

void port_take_request(struct port *p, bool epr)
{
    const struct speech *s = &p->speech;
    struct request      *q = &p->request;

    if (message_words(&s->m) == 0)
        return;
    if (p->agreed_doubt)
        p->agreed = AGREED_UNKNOWN;
    p->agreed_doubt = false;
    if (p->agreed == AGREED_UNKNOWN) {
        agree_revision(p, s->m.revision);
        p->agreement_open = true;
    }
    q->frame = s->frame;
    q->t_ns = s->start_ns;
    q->end_ns = s->end_ns;
    q->answer_frame = 0;
    q->answer_ns = 0;
    q->revision = s->m.revision;
    q->player = s->player;
    q->state = REQUEST_SENT;
    q->epr = epr;
    q->held = true;
    q->words = (uint8_t)message_words(&s->m);
    q->copy_word = message_word(&s->m, 1);
    find_asked(p, q, message_word(&s->m, 0));
    if ((epr || q->rdo.epr_capable) && s->player <= PLAYER_B && p->edition[s->player].at_least < SINCE_R31)
        p->edition[s->player].at_least = SINCE_R31;
    struct event e = port_event(p, EVENT_REQUEST);

    e.speech = s;
    e.request = q;

    port_tell(&e);
}

void port_take_answer(struct port *p, enum request_state state)
{
    struct request *q = &p->request;

    if (!q->held || q->state != REQUEST_SENT)
        return;
    q->state = (uint8_t)state;
    q->answer_frame = p->speech.frame;
    q->answer_ns = p->speech.start_ns;
    struct event e = port_event(p, EVENT_ANSWERED);

    e.speech = &p->speech;
    e.request = q;

    port_tell(&e);
}

/* Fixed: the object's voltage; PPS, AVS: the one asked for; Variable, Battery: the highest that may come. */
static int32_t contract_mv(const struct request *q)
{
    return q->rdo.mv ? q->rdo.mv : q->asked.max_mv;
}

static bool contract_renews(const struct contract *c, const struct request *q)
{
    return c->held && c->position == q->rdo.position && c->pdo_word == q->asked.word && c->mv == contract_mv(q) &&
           c->ma == q->rdo.op_ma && c->mw == q->rdo.op_mw && c->epr == q->epr;
}

static int32_t least_of(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

/* With GiveBack the sink says the least in the place of the most; with Capability Mismatch more than there is. */
static void take_most(struct contract *c, const struct request *q)
{
    const struct rdo *r = &q->rdo;

    c->most_ma = r->give_back ? r->op_ma : r->mismatch ? least_of(r->max_ma, q->asked.max_ma) : r->max_ma;
    c->most_mw = r->give_back ? r->op_mw : r->mismatch ? least_of(r->max_mw, q->asked.max_mw) : r->max_mw;
}

/* PS_RDY of the source: the contract asked for is in force from the start of this packet. */
void port_take_ready(struct port *p)
{
    struct request  *q = &p->request;
    struct contract *c = &p->contract;
    bool missed = q->held && q->state == REQUEST_SENT && (p->loss_to_ns > q->end_ns || p->bad_ns > q->end_ns);

    if (!q->held || (q->state != REQUEST_ACCEPTED && !missed))
        return;
    q->state = REQUEST_READY;
    q->held = false;
    if (contract_renews(c, q)) {
        take_most(c, q);
        struct event again = port_event(p, EVENT_RENEWED);

        again.speech = &p->speech;
        again.contract = c;

        c->renewed++;
        port_tell(&again);
        return;
    }
    port_end_contract(p, CONTRACT_RENEGOTIATED, p->speech.start_ns);
    c->held = true;
    c->frame = p->speech.frame;
    c->t_ns = p->speech.start_ns;
    c->until_ns = 0;
    c->ended_by = CONTRACT_TRACE_END;
    c->position = q->rdo.position;
    c->supply = q->position_valid ? q->asked.supply : SUPPLY_RESERVED;
    c->mv = contract_mv(q);
    c->ma = q->rdo.op_ma;
    c->mw = q->rdo.op_mw;
    take_most(c, q);
    c->renewed = 0;
    c->pdo_word = q->asked.word;
    c->epr = q->epr;
    struct event e = port_event(p, EVENT_CONTRACT);

    e.speech = &p->speech;
    e.contract = c;

    port_tell(&e);
}
