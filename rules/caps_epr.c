/* What needs a marked cable, the extended power range, and peak current. */
#include "rules/caps_checks.h"
#include "rules/rating.h"

#include <stddef.h>

static bool is_captive(struct judge *j, const struct event *e)
{
    const struct about_port *about = judge_about(j, e->port);

    return about && about->plug == ABOUT_CAPTIVE;
}

/* Records that are missing since the identity may have held another one. */
static void tell_of_cable(struct judge *j, const struct held_offer *h, const struct outcome *out)
{
    if (h->cable_gap != CAUSE_NONE)
        judge_undecided(j, out, (enum cause)h->cable_gap);
    else
        judge_fail(j, out);
}

void check_over_3a_needs_cable(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct pdo *p = h ? offer_over_plain_cable(&h->offer) : NULL;
    struct cable_marks marks;
    struct outcome out;

    if (!p || is_captive(j, e) || judge_silenced_since(j, e->port->attach_ns))
        return;
    marks = cable_marks_read(&h->cable);
    if (!marks.known)
        return;
    if (marks.five_ampere) {
        caps_pass(j, &h->offer);
        return;
    }
    out = caps_outcome(j, &h->offer, OVER_3A_CABLE);
    out.values[0] = p - h->offer.pdos + 1;
    out.values[1] = p->max_ma > p->max_ma_20v ? p->max_ma : p->max_ma_20v;
    out.values[2] = marks.current;
    caps_measured(&out, "mA", INT64_C(1000) * out.values[1], PARAMETER_NONE, INT64_C(1000) * CABLE_PLAIN_MA);
    outcome_evidence(&out, h->cable.frame);
    tell_of_cable(j, h, &out);
}

void check_epr_needs_cable(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    struct cable_marks marks;
    struct outcome out;

    if (!h || !h->offer.epr || !offer_has_epr_object(&h->offer) || is_captive(j, e) ||
        judge_silenced_since(j, e->port->attach_ns))
        return;
    marks = cable_marks_read(&h->cable);
    if (marks.epr_capable && marks.fifty_volt && marks.five_ampere) {
        caps_pass(j, &h->offer);
        return;
    }
    out = caps_outcome(j, &h->offer, marks.known ? EPR_CABLE_MARKS : EPR_CABLE_UNKNOWN);
    if (!marks.known) {
        judge_undecided(j, &out, CAUSE_UNKNOWN_CABLE);
        return;
    }
    out.values[0] = marks.epr_capable;
    out.values[1] = marks.volts;
    out.values[2] = marks.current;
    outcome_evidence(&out, h->cable.frame);
    tell_of_cable(j, h, &out);
}

static const struct edition *edition_of(const struct port *p, unsigned player)
{
    static const struct edition none = { 0 };

    return player <= PLAYER_CABLE ? &p->edition[player] : &none;
}

/* Position of the first object among 1 to 7 that belongs above; 0: none. */
static unsigned epr_object_low(const struct offer *o)
{
    for (unsigned k = 0; k < offer_objects(o) && k < PDO_SPR_MAX; k++)
        if (pdo_is_epr(&o->pdos[k]))
            return k + 1;
    return 0;
}

static unsigned spr_object_high(const struct offer *o)
{
    for (unsigned k = PDO_SPR_MAX; k < offer_objects(o); k++)
        if (o->words[k] && !pdo_is_epr(&o->pdos[k]))
            return k + 1;
    return 0;
}

static uint32_t word_at(const struct offer *o, unsigned k)
{
    return k < offer_objects(o) ? o->words[k] : 0;
}

/* Position of the first of 1 to 7 that is not what Source_Capabilities says; 0: none. */
static unsigned spr_object_changed(const struct offer *o, const struct offer *spr)
{
    for (unsigned k = 0; k < PDO_SPR_MAX; k++)
        if (word_at(o, k) != word_at(spr, k))
            return k + 1;
    return 0;
}

void check_epr_positions(struct judge *j, const struct event *e)
{
    const struct offer *o = e->offer, *spr = &e->port->offer;
    unsigned position, sentence = EPR_POSITION_LOW;
    struct outcome out;

    if (!o->epr || o->same_as_last || judge_silenced(j, 0) ||
        !caps_applies(j, e->port->agreed, edition_of(e->port, o->player), true))
        return;
    position = epr_object_low(o);
    if (!position) {
        position = spr_object_high(o);
        sentence = EPR_POSITION_HIGH;
    }
    if (!position && spr->known && !e->port->offer_uncertain) {
        position = spr_object_changed(o, spr);
        sentence = EPR_POSITION_CHANGED;
    }
    if (!position) {
        caps_pass(j, o);
        return;
    }
    out = caps_outcome(j, o, sentence);
    out.position = (uint8_t)position;
    out.values[0] = position;
    out.values[1] = word_at(o, position - 1);
    out.values[2] = word_at(spr, position - 1);
    if (sentence == EPR_POSITION_CHANGED)
        outcome_evidence(&out, spr->frame);
    judge_fail(j, &out);
}

/* A filler with an object of its part behind it, among indexes first to last - 1; 0: none. */
static unsigned gap_position(const struct offer *o, unsigned first, unsigned last, bool open_end)
{
    unsigned gap = 0;

    for (unsigned k = first; k < last; k++) {
        if (o->words[k] == 0 && !gap)
            gap = k + 1;
        if (gap && (open_end || o->words[k] != 0))
            return gap;
    }
    return 0;
}

void check_epr_padding(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    unsigned gap, sentence = EPR_PADDING_BETWEEN;
    struct outcome out;

    (void)e;
    if (!h || !h->offer.epr || offer_objects(&h->offer) < PDO_EPR_FIRST)
        return;
    gap = gap_position(&h->offer, 0, PDO_SPR_MAX, false);
    if (!gap) {
        gap = gap_position(&h->offer, PDO_SPR_MAX, offer_objects(&h->offer), true);
        sentence = EPR_PADDING_EPR;
    }
    if (!gap) {
        caps_pass(j, &h->offer);
        return;
    }
    out = caps_outcome(j, &h->offer, sentence);
    out.position = (uint8_t)gap;
    out.values[0] = gap;
    judge_fail(j, &out);
}

static int32_t highest_epr_fixed_mv(const struct offer *o)
{
    int32_t mv = 0;

    for (unsigned k = PDO_SPR_MAX; k < offer_objects(o); k++)
        if (o->words[k] && o->pdos[k].supply == SUPPLY_FIXED && o->pdos[k].max_mv > mv)
            mv = o->pdos[k].max_mv;
    return mv;
}

/* Sentence of what is wrong with an EPR AVS object, -1 if nothing; value and limit of it. */
static int epr_avs_fault(const struct offer *o, const struct pdo *p, int32_t rating_mw, int64_t *value, int64_t *limit)
{
    int32_t top_mv = highest_epr_fixed_mv(o);

    *value = p->min_mv;
    *limit = EPR_AVS_MIN_MV;
    if (p->min_mv != EPR_AVS_MIN_MV)
        return AVS_EPR_MIN;
    *value = p->max_mv;
    *limit = top_mv;
    if (top_mv && p->max_mv != top_mv)
        return AVS_EPR_MAX;
    *value = p->max_mw;
    *limit = rating_mw;
    return rating_mw && p->max_mw != rating_mw ? AVS_EPR_PDP : -1;
}

static int spr_avs_fault(const struct pdo *p, const struct rating *r, int64_t *value, int64_t *limit)
{
    *value = p->max_ma_20v;
    *limit = p->max_ma;
    if (p->max_ma > 0 && p->max_ma_20v > p->max_ma)
        return AVS_SPR_RISING;
    *limit = r->uw / 1000;
    return p->max_ma_20v == 0 && r->uw > INT64_C(1000) * SPR_AVS_20V_OWED_MW + r->slack_uw ? AVS_SPR_20V : -1;
}

void check_avs_range(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct ratings *seen = &e->port->ratings;
    struct rating r;

    if (!h)
        return;
    r = rating_floor(h, seen, judge_about(j, e->port));
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        const struct pdo *p = &h->offer.pdos[k];
        int64_t value, limit;
        int sentence;
        struct outcome out;

        if (p->supply != SUPPLY_EPR_AVS && p->supply != SUPPLY_SPR_AVS)
            continue;
        sentence = p->supply == SUPPLY_EPR_AVS
                       ? epr_avs_fault(&h->offer, p, rating_extended_epr_mw(seen, h->offer.player), &value, &limit)
                       : spr_avs_fault(p, &r, &value, &limit);
        if (sentence < 0) {
            caps_pass(j, &h->offer);
            continue;
        }
        out = caps_outcome(j, &h->offer, (unsigned)sentence);
        out.position = (uint8_t)(k + 1);
        out.values[0] = k + 1;
        out.values[1] = value;
        out.values[2] = limit;
        if (sentence == AVS_EPR_PDP)
            outcome_evidence(&out, rating_extended_frame(seen, h->offer.player));
        judge_fail(j, &out);
    }
}

/* EPR_Mode: Chromium EC include/usb_pd.h, Infineon. */
enum { EPR_MODE_ACTION_BIT = 24, EPR_MODE_ACKNOWLEDGED = 2 };

static bool enters_epr(const struct event *e)
{
    return e->kind == EVENT_MESSAGE && e->speech->side == SIDE_SOURCE &&
           message_word(&e->speech->m, 0) >> EPR_MODE_ACTION_BIT == EPR_MODE_ACKNOWLEDGED;
}

/* What the flag was worth when it was needed; told at the end of the attach. */
static void note_epr_flag(struct judge *j, const struct event *e, struct epr_flag_state *s, unsigned player)
{
    const struct port *p = e->port;

    s->out = e->kind == EVENT_OFFER ? caps_outcome(j, e->offer, EPR_FLAG_OFFER) : judge_outcome(j, e);
    s->verdict = VERDICT_FAIL;
    outcome_by(&s->out, SIDE_SOURCE, player);
    if (e->kind == EVENT_MESSAGE)
        outcome_evidence(&s->out, e->frame);
    if (!p->offer.known || p->offer_uncertain) {
        s->out.sentence = EPR_FLAG_UNKNOWN;
        s->verdict = VERDICT_UNDECIDED;
        s->cause = (uint8_t)(p->offer.known ? judge_gap_cause(p, CAUSE_LOST) : CAUSE_UNKNOWN_OFFER);
        return;
    }
    if (p->offer.pdos[0].epr_capable) {
        s->verdict = VERDICT_PASS;
        return;
    }
    if (e->kind == EVENT_MESSAGE)
        s->out.sentence = EPR_FLAG_ENTRY;
    s->out.values[0] = p->offer.words[0];
    outcome_evidence(&s->out, p->offer.frame);
}

static void tell_epr_flag(struct judge *j, const struct port *p, struct epr_flag_state *s)
{
    s->done = false;
    if (!s->noted)
        return;
    s->noted = false;
    if (judge_silenced_since(j, p->attach_ns))
        return;
    if (s->verdict == VERDICT_PASS)
        judge_pass_at(j, s->out.t_ns);
    else if (s->verdict == VERDICT_FAIL)
        judge_fail(j, &s->out);
    else
        judge_undecided(j, &s->out, (enum cause)s->cause);
}

void check_epr_flag(struct judge *j, const struct event *e)
{
    struct epr_flag_state *s = judge_state(j, e->port);
    unsigned player;

    if (e->kind == (enum event_kind)WAKE_ATTACH_END) {
        tell_epr_flag(j, e->port, s);
        return;
    }
    if (s->done || !(e->kind == EVENT_OFFER ? e->offer->epr && offer_has_epr_object(e->offer) : enters_epr(e)))
        return;
    s->done = true;
    player = e->kind == EVENT_OFFER ? e->offer->player : e->speech->player;
    s->noted = !judge_silenced(j, 0) && caps_applies(j, e->port->agreed, edition_of(e->port, player), true);
    if (s->noted)
        note_epr_flag(j, e, s, player);
}

/* Source_Capabilities_Extended: three peak currents of two bytes: from memory. */
enum { PEAK_BLOCK_BYTE = 14, PEAK_BLOCK_BYTES = 6 };

static bool peak_block_set(const struct ratings *seen, unsigned player)
{
    for (unsigned k = PEAK_BLOCK_BYTE; k < PEAK_BLOCK_BYTE + PEAK_BLOCK_BYTES && k < seen->source_ext_size[player]; k++)
        if (seen->source_ext[player][k])
            return true;
    return false;
}

void check_peak_current(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct ratings *seen = &e->port->ratings;

    if (!h || rating_extended_frame(seen, h->offer.player) == 0)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        struct outcome out;

        if (h->offer.pdos[k].peak == 0)
            continue;
        if (peak_block_set(seen, h->offer.player)) {
            caps_pass(j, &h->offer);
            continue;
        }
        out = caps_outcome(j, &h->offer, PEAK_BLOCK_ZERO);
        out.position = (uint8_t)(k + 1);
        out.values[0] = k + 1;
        out.values[1] = h->offer.pdos[k].peak;
        outcome_evidence(&out, rating_extended_frame(seen, h->offer.player));
        judge_fail(j, &out);
    }
}
