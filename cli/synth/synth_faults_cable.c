/* Faults of what the plug says of its cable, and of sources that do not go by it. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_cable[] = {
    { "cable.discovered-before-5a", NULL, "source", "More than 3 A is offered, and the plug was not asked.", "cable.discovered-before-5a" },
    { "cable.identity-valid", NULL, "cable", "The plug gives itself a plug type that there is not.", "cable.identity-valid" },
    { "cable.rating-agrees", NULL, "cable", "The plug says another maximum voltage than the time before.", "cable.rating-agrees" },
    { "cable.epr-rating", NULL, "cable", "The plug calls itself EPR capable, and its cable one for 20 V.", "cable.epr-rating" },
    { "cable.current-over-rating", NULL, "source",
      "The plug says 3 A when it is asked again, and a Request for more is accepted all the same.", "cable.current-over-rating cable.rating-agrees" },
    { NULL, NULL, NULL, NULL, NULL },
};

/*
 * Answer to Discover Identity under structured VDM 2.x; the cable's own object is word 4: bits 19:18 plug, 17 EPR Capable, 10:9
 * maximum voltage. Linux include/linux/usb/pd_vdo.h; EPR Capable: one public field table.
 */
#define IDENTITY 0xe0df, 0xa041
enum { CABLE_AT = 16, PLAIN_MA = 3000 };
static const struct twist valid[] = {
    { "cable.identity-valid", BY_PLUG, SET_SOP1, false, D_VENDOR_DEFINED, CABLE_AT, 2u << 18, 0, IDENTITY },
    { NULL, 0, 0, false, 0, 0, 0, 0, 0, 0 },
};

static bool is_identity(const struct say *m)
{
    return m->set == SET_SOP1 && m->from == PLAYER_PLUG && m->type == D_VENDOR_DEFINED && m->length > CABLE_AT && m->body[0] == 0x41 &&
           (m->body[1] & 0xe0) == 0xa0;
}

void faults_cable_message(struct life *l, struct say *m)
{
    const struct injected *f;

    if (!is_identity(m))
        return;
    faults_twist(l, m, valid);
    if (l->plug_known && !l->plug.epr && (f = synth_fault(l, "cable.rating-agrees"))) {
        m->body[CABLE_AT + 1] ^= 2;
        synth_blame_next(l, f, m->from);
    }
    /* A plug sticks to what it says, and the source does not enter EPR mode with it. */
    if (!l->plug_known && l->plug.epr && l->plug.max_volt && (f = synth_fault(l, "cable.epr-rating"))) {
        l->plug.max_volt = 0;
        m->body[CABLE_AT + 1] &= 0xf9;
        synth_blame_next(l, f, m->from);
    }
}

/* A battery object tells of no current. */
static bool more_than_plain(uint32_t word)
{
    return pdo_supply(word) != SUPPLY_BATTERY && pdo_capped(word, PLAIN_MA) != word;
}

/* What a cable may carry counts from the attach: the trace has to show it. */
static bool attach_shown(const struct life *l)
{
    return l->plan->instrument.cc || l->plan->instrument.power;
}

bool faults_cable_trusted(struct life *l)
{
    const struct partner  *q = &l->partner[l->source];
    const struct injected *f;
    bool                   strong = false;

    for (unsigned k = 0; k < q->source_count; k++)
        strong = strong || more_than_plain(q->source[k]);
    if (!strong || !attach_shown(l) || !(f = synth_fault(l, "cable.discovered-before-5a")))
        return false;
    l->plug_trusted = true;
    synth_blame_next(l, f, l->source);
    return true;
}

/* A fixed object of the offer with more than 3 A; 0: none. */
static unsigned strong_position(const struct life *l)
{
    for (unsigned k = 0; k < l->offer_count; k++)
        if (l->offer[k] && pdo_supply(l->offer[k]) == SUPPLY_FIXED && more_than_plain(l->offer[k]))
            return k + 1;
    return 0;
}

/* Nothing but the contract may be wrong with the source: the offer was in order when it was made. */
bool faults_cable_idle(struct life *l)
{
    unsigned               position = strong_position(l);
    const struct injected *f;
    int32_t                ma;

    if (!position || !attach_shown(l) || l->epr_mode || !l->plug_known || l->plug.epr || !(f = synth_fault(l, "cable.current-over-rating")))
        return true;
    l->plug.max_ma = PLAIN_MA;
    synth_open_exchange(l, l->vconn);
    if (!synth_discover_cable(l, l->vconn))
        return false;
    synth_close_exchange(l);
    ma = pdo_max_ma(l->offer[position - 1], 0);
    synth_open_exchange(l, sink_of(l));
    if (!synth_request(l, asking_fixed(position, ma, ma)))
        return false;
    synth_blame_sent(l, f, l->source);
    /* Then it offers what the cable carries. */
    synth_idle(l, 300000);
    synth_open_exchange(l, l->source);
    return synth_negotiate(l, 0);
}
