/* Offers are judged at the end of their attach, when rating, revision and cable are known: until then they are held here. */
#include "rules/engine_inside.h"

#include <stdlib.h>
#include <string.h>

/* FNV-1a over the words and the kind of message: tells offers of one attach apart. */
static uint64_t offer_digest(const struct offer *o)
{
    uint64_t h = UINT64_C(14695981039346656037) ^ (o->epr ? 1u : 0u) ^ (uint64_t)o->player << 8;

    for (unsigned k = 0; k < o->count; k++)
        h = (h ^ o->words[k]) * UINT64_C(1099511628211);
    return h;
}

static bool offer_seen(struct port_book *b, uint64_t digest)
{
    unsigned n = b->seen_count < SEEN_OFFERS ? b->seen_count : SEEN_OFFERS;

    for (unsigned k = 0; k < n; k++)
        if (b->seen[k] == digest)
            return true;
    b->seen[b->seen_count++ % SEEN_OFFERS] = digest;
    return false;
}

/* Place of a held offer with this digest; HELD_OFFERS if it is held no more. */
static unsigned offer_find(const struct port_book *b, uint64_t digest)
{
    for (unsigned k = 0; k < b->held_count; k++)
        if (b->held[k].digest == digest)
            return k;
    return HELD_OFFERS;
}

static void settle_one(struct engine *e, struct port_book *b, const struct held *h, const struct event *cause)
{
    struct held_offer held = h->it;
    struct event      event = {
             .kind = (enum event_kind)WAKE_OFFER_SETTLED, .port = b->port, .record = cause->record,
             .t_ns = held.offer.t_ns, .frame = held.offer.frame, .offer = &held.offer,
    };

    if (held.offer.player <= PLAYER_CABLE)
        held.edition = b->port->edition[held.offer.player];
    engine_new_subject(e);
    engine_wake(e, b, &event, e->by_kind[WAKE_OFFER_SETTLED], &held);
    engine_new_subject(e);
}

/* May the plug have said something else since its last identity? */
static enum cause cable_gap(const struct port *p)
{
    uint64_t said = p->identity[PLAYER_CABLE].frame;

    return p->loss_frame > said ? CAUSE_LOST : p->bad_plug_frame > said ? CAUSE_BAD_PACKET : CAUSE_NONE;
}

void offers_hold(struct engine *e, struct port_book *b, const struct event *event)
{
    const struct offer *o = event->offer;

    uint64_t digest = offer_digest(o);

    if (b->standing < b->held_count && b->held[b->standing].digest == digest)
        return;
    if (offer_seen(b, digest)) {
        b->standing = offer_find(b, digest);
        return;
    }
    if (!b->held)
        b->held = malloc(HELD_OFFERS * sizeof *b->held);
    if (!b->held) {
        e->no_memory = true;
        return;
    }
    if (b->held_count == HELD_OFFERS) {
        offers_agree(b);
        settle_one(e, b, &b->held[0], event);
        memmove(b->held, b->held + 1, (HELD_OFFERS - 1) * sizeof *b->held);
        b->held_count--;
    }
    struct held *h = &b->held[b->held_count++];

    memset(h, 0, sizeof *h);
    h->it.offer = *o;
    h->digest = digest;
    h->it.agreed = event->port->agreed;
    h->open = h->it.agreed == AGREED_UNKNOWN;
    h->it.cable = event->port->identity[PLAYER_CABLE];
    h->it.cable_gap = (uint8_t)cable_gap(event->port);
    h->it.first = o->first_of_attach && !b->swapped;
    h->it.attach_seen = event->port->attach_seen != ATTACH_UNSEEN;
    b->any_held = true;
    b->standing = b->held_count - 1;
}

/* Source_Info speaks of the offer that stands. */
void offers_present(struct port_book *b, const struct event *event)
{
    struct held_offer *h = b->standing < b->held_count ? &b->held[b->standing].it : NULL;
    uint8_t            present = (uint8_t)(message_word(&event->speech->m, 0) >> 8); /* SIDO bits 15:8: Chromium EC usb_pd.h */

    if (!h || h->offer.player != event->speech->player)
        return;
    h->present_low_w = h->present_frame == 0 || present < h->present_low_w ? present : h->present_low_w;
    h->present_high_w = present > h->present_high_w ? present : h->present_high_w;
    h->present_frame = event->frame;
}

void offers_agree(struct port_book *b)
{
    if (b->port->agreement_open)
        return; /* the Request may turn out to have been heard by nobody */
    for (unsigned k = 0; k < b->held_count; k++)
        if (b->held[k].open) {
            b->held[k].it.agreed = b->port->agreed;
            b->held[k].open = b->port->agreed == AGREED_UNKNOWN;
        }
}

void offers_reset(struct port_book *b)
{
    offers_agree(b);
    for (unsigned k = 0; k < b->held_count; k++)
        b->held[k].open = false;
}

void offers_settle(struct engine *e, struct port_book *b, const struct event *event)
{
    offers_agree(b);
    for (unsigned k = 0; k < b->held_count; k++)
        settle_one(e, b, &b->held[k], event);
    b->held_count = b->seen_count = 0;
    b->any_held = false;
}
