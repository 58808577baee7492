/*
 * What may have been missed: the beginning of the trace, lost records, bad packets that no copy made good. What a message in
 * the gap could have changed is not known until the wire shows it again.
 */
#include "decode/exchange.h"
#include "decode/port_inside.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

/* Whatever was under way at the gap is over after this time: a power-role swap, the longest, takes below 1.5 s. Ours. */
#define PORT_DOUBT_NS INT64_C(2000000000)

void port_clear_doubt(struct port *p)
{
    p->missed = false;
    p->doubt_until_ns = 0;
    p->agreed_doubt = false;
}

void port_miss(struct port *p, int64_t t_ns)
{
    p->missed = true;
    p->missed_ns = t_ns;
    if (p->swap == SWAP_PR || p->swap == SWAP_FR || p->swap_asked == SWAP_PR || p->swap_asked == SWAP_FR)
        p->doubt_until_ns = t_ns + PORT_DOUBT_NS;
    if (p->agreement_open)
        p->agreed = AGREED_UNKNOWN;
    p->agreement_open = false;
    p->sides_lost = true;
    p->data_roles_known[PLAYER_A] = p->data_roles_known[PLAYER_B] = false;
    if (p->swap == SWAP_VCONN || p->swap_asked == SWAP_VCONN)
        p->vconn_known = false;
    p->swap = p->swap_asked = SWAP_NONE;
    p->swap_phase = 0;
    p->asked_index = 0;
    if (p->role[PLAYER_A] != p->role[PLAYER_B])
        return;
    p->role[PLAYER_A] = SIDE_SOURCE; /* whoever speaks as source from here on */
    p->role[PLAYER_B] = SIDE_SINK;
}

/* An Accept or PS_RDY whose cause is not seen since the gap: a swap may be under way, of which the rest was missed. */
static bool cause_missed(const struct port *p, const struct stream *t, const struct speech *s)
{
    const struct request *q = &p->request;
    bool asked_since = q->held && q->t_ns > p->missed_ns;

    if (s->m.index == CONTROL(ACCEPT)) {
        const struct exchange_kind *k = p->asked_index ? exchange_kind(p->asked_index) : NULL;

        return !(asked_since && q->state == REQUEST_SENT) && p->swap_asked == SWAP_NONE && !t->accept_owed &&
               !(k && p->asked_player != s->player && exchange_answers(k, s->m.index));
    }
    return s->m.index == CONTROL(PS_RDY) && !(asked_since && q->state == REQUEST_ACCEPTED) && p->swap == SWAP_NONE;
}

/* Who is who, and what each counts and is, has to be learnt anew. */
static void forget_players(struct port *p)
{
    for (unsigned k = 0; k < 2; k++) {
        p->data_roles_known[k] = false;
        p->streams[stream_index(SET_SOP, k)].id_known = false;
        p->streams[stream_index(SET_SOP, k)].reset_pending = false;
    }
}

void port_miss_attach(struct port *p, int64_t t_ns)
{
    port_miss(p, t_ns);
    forget_players(p);
    p->agreed_doubt = p->agreed != AGREED_UNKNOWN;
    p->caps_revision = 0;
}

bool port_sides_certain(const struct port *p)
{
    return !p->sides_lost || (p->announced[0].known && !p->dual_role);
}

void port_weigh_doubt(struct port *p, const struct stream *t, const struct speech *s)
{
    /* No swap is under way where power is offered or asked for. */
    bool settles = s->m.index == DATA(REQUEST) || s->m.index == DATA(EPR_REQUEST) ||
                   (s->m.index == DATA(SOURCE_CAPABILITIES) && s->m.power_bit);

    if (!p->missed && !p->doubt_until_ns)
        return;
    if (p->missed && cause_missed(p, t, s)) {
        /* Ports that cannot swap power: whatever was accepted, the next message shows it. */
        p->doubt_until_ns = s->end_ns + (port_sides_certain(p) ? 0 : PORT_DOUBT_NS);
        p->vconn_known = p->vconn_known && s->m.index != CONTROL(PS_RDY);
    }
    if (p->doubt_until_ns)
        forget_players(p);
    if (p->doubt_until_ns && s->start_ns > p->doubt_until_ns)
        p->doubt_until_ns = 0;
    if (settles) {
        p->missed = false;
        p->doubt_until_ns = 0;
    }
}
