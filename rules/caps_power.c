/* The power of an offer: what it owes for its rating, and what it must not claim. */
#include "rules/caps_checks.h"
#include "rules/rating.h"

#include <stddef.h>
#include <stdlib.h>

static struct rating floor_of(struct judge *j, const struct held_offer *h, const struct event *e)
{
    return rating_floor(h, &e->port->ratings, judge_about(j, e->port));
}

static int64_t mw_of(int64_t uw)
{
    return uw / 1000;
}

/* Whole coding steps of the smaller of 3 A and P over the nominal voltage, rounded down. */
static int32_t pps_current_owed(const struct pps_family *f, const struct rating *r)
{
    int64_t ma = r->uw / f->nominal_mv;

    ma = ma < CABLE_PLAIN_MA ? ma : CABLE_PLAIN_MA;
    return (int32_t)(ma - ma % PROGRAMMABLE_STEP_MA);
}

static void judge_pps_current(struct judge *j, const struct offer *o, const struct pdo *p, const struct rating *r)
{
    const struct pps_family *f = pps_family_find(p->max_mv);
    struct outcome out;
    int32_t owed_ma;

    /* The smallest family has no current of its own. */
    if (!f || f == &pps_families[0])
        return;
    owed_ma = pps_current_owed(f, r);
    if (p->max_ma >= owed_ma) {
        caps_pass(j, o);
        return;
    }
    out = caps_outcome(j, o, r->declared ? PPS_CURRENT_DECLARED : PPS_CURRENT_INFERRED);
    out.position = (uint8_t)(p - o->pdos + 1);
    out.values[0] = out.position;
    out.values[1] = p->max_mv;
    out.values[2] = p->max_ma;
    out.values[3] = owed_ma;
    out.values[4] = mw_of(r->uw);
    caps_measured(&out, "mA", INT64_C(1000) * p->max_ma, INT64_C(1000) * owed_ma, PARAMETER_NONE);
    outcome_evidence(&out, r->frame);
    judge_fail(j, &out);
}

void check_pps_current(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    struct rating r;

    if (!h)
        return;
    r = floor_of(j, h, e);
    for (unsigned k = 0; k < offer_objects(&h->offer); k++)
        if (h->offer.pdos[k].supply == SUPPLY_PPS && !judge_silenced(j, k + 1))
            judge_pps_current(j, &h->offer, &h->offer.pdos[k], &r);
}

/* The flag set is right for any rating; the flag clear is wrong only if the rating is sure. */
static void judge_pps_limited(struct judge *j, const struct offer *o, const struct pdo *p, const struct rating *r)
{
    struct outcome out;

    if (pdo_power_uw(p) <= r->uw + pdo_slack_uw(p))
        return;
    if (p->limited) {
        caps_pass(j, o);
        return;
    }
    out = caps_outcome(j, o, r->declared ? PPS_LIMITED_CLEAR : PPS_LIMITED_UNKNOWN);
    out.position = (uint8_t)(p - o->pdos + 1);
    out.values[0] = out.position;
    out.values[1] = p->max_mv;
    out.values[2] = p->max_ma;
    out.values[3] = mw_of(pdo_power_uw(p));
    out.values[4] = mw_of(r->uw);
    outcome_evidence(&out, r->frame);
    if (r->declared)
        judge_fail(j, &out);
    else
        judge_undecided(j, &out, CAUSE_INFERRED_RATING);
}

void check_pps_power_limited(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    struct rating r;

    if (!h)
        return;
    r = floor_of(j, h, e);
    for (unsigned k = 0; k < offer_objects(&h->offer); k++)
        if (h->offer.pdos[k].supply == SUPPLY_PPS && !judge_silenced(j, k + 1))
            judge_pps_limited(j, &h->offer, &h->offer.pdos[k], &r);
}

/* Was this offer made under R2.0, where the first power rules are good as well? */
static enum answer under_r2(struct judge *j, const struct held_offer *h)
{
    if (judge_standard(j))
        return judge_standard(j) <= SINCE_R2 ? ANSWER_YES : ANSWER_NO;
    if (h->agreed == AGREED_R2 || h->offer.revision <= HEADER_R2)
        return ANSWER_YES;
    return h->agreed == AGREED_UNKNOWN ? ANSWER_UNKNOWN : ANSWER_NO;
}

/* Does the offer follow the first power rules: 5 V, 12 V and perhaps 20 V? */
static bool follows_profiles(const struct offer *o)
{
    for (unsigned k = 0; k < power_profile_count; k++)
        if (!offer_fixed_at(o, power_profile_mv[k]))
            return false;
    return true;
}

static unsigned missing_voltages(const struct offer *o, const struct power_tier *t,
                                 int32_t missing_mv[POWER_TIER_VOLTAGES])
{
    unsigned n = 0;

    for (unsigned k = 0; k < t->count; k++)
        if (!offer_fixed_at(o, t->mv[k]))
            missing_mv[n++] = t->mv[k];
    return n;
}

static void fail_voltages(struct judge *j, const struct held_offer *h, const struct rating *r, unsigned n,
                          const int32_t missing_mv[POWER_TIER_VOLTAGES])
{
    static const uint8_t sentences[] = { VOLTAGES_ONE, VOLTAGES_TWO, VOLTAGES_THREE };
    struct outcome out;

    /* 5 V is there (caps.first-5v speaks for it), so at most three are not. */
    n = n < sizeof sentences ? n : (unsigned)sizeof sentences;
    out = caps_outcome(j, &h->offer, sentences[n - 1]);
    out.values[0] = mw_of(r->uw);
    for (unsigned k = 0; k < n; k++)
        out.values[1 + k] = missing_mv[k];
    outcome_evidence(&out, r->frame);
    judge_fail(j, &out);
}

/* What was not told may be what is owed. */
static bool has_hole(const struct judge *j, const struct offer *o)
{
    for (unsigned k = 0; k < offer_objects(o); k++)
        if (judge_hole(j, &o->pdos[k]))
            return true;
    return false;
}

void check_power_rules_voltages(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct power_tier *tier;
    int32_t missing_mv[POWER_TIER_VOLTAGES] = { 0 };
    struct rating r;
    enum answer r2;
    unsigned n;

    if (!h || has_hole(j, &h->offer))
        return;
    r = floor_of(j, h, e);
    tier = power_tier_find(r.uw, r.slack_uw);
    if (tier == &power_tiers[0])
        return;
    n = missing_voltages(&h->offer, tier, missing_mv);
    r2 = n && follows_profiles(&h->offer) ? under_r2(j, h) : ANSWER_NO;
    if (n == 0 || r2 == ANSWER_YES)
        caps_pass(j, &h->offer);
    else if (r2 == ANSWER_NO)
        fail_voltages(j, h, &r, n, missing_mv);
}

static void fail_currents(struct judge *j, const struct held_offer *h, const struct rating *r, const struct pdo *p,
                          int32_t owed_ma)
{
    struct outcome out = caps_outcome(j, &h->offer, r->declared ? CURRENTS_DECLARED : CURRENTS_INFERRED);

    out.values[0] = p - h->offer.pdos + 1;
    out.values[1] = p->max_mv;
    out.values[2] = p->max_ma;
    out.values[3] = owed_ma;
    out.values[4] = mw_of(r->uw);
    caps_measured(&out, "mA", INT64_C(1000) * p->max_ma, INT64_C(1000) * owed_ma, PARAMETER_NONE);
    outcome_evidence(&out, r->frame);
    outcome_evidence(&out, h->cable.frame);
    judge_fail(j, &out);
}

void check_power_rules_currents(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct power_tier *tier;
    struct rating r;
    int32_t missing_mv[POWER_TIER_VOLTAGES];

    if (!h)
        return;
    r = floor_of(j, h, e);
    tier = power_tier_find(r.uw, r.slack_uw);
    /* The first power rules have other currents; none of them is judged here. */
    if (missing_voltages(&h->offer, tier, missing_mv) && follows_profiles(&h->offer) && under_r2(j, h) != ANSWER_NO)
        return;
    for (unsigned k = 0; k < tier->count; k++) {
        const struct pdo *p = offer_fixed_at(&h->offer, tier->mv[k]);
        int32_t owed_ma = power_tier_current(tier, k, r.uw, cable_marks_read(&h->cable).five_ampere);

        /* A missing voltage is caps.power-rules-voltages' affair; what gave the inferred rating lives up to it. */
        if (!p || p - h->offer.pdos + 1 == r.position || p->max_ma >= owed_ma)
            continue;
        fail_currents(j, h, &r, p, owed_ma);
        return;
    }
    caps_pass(j, &h->offer);
}

static void judge_over_rating(struct judge *j, const struct offer *o, const struct pdo *p, int64_t most_uw,
                              uint64_t frame)
{
    unsigned position = (unsigned)(p - o->pdos + 1);
    struct outcome out;

    if (pdo_power_uw(p) <= most_uw + pdo_slack_uw(p)) {
        caps_pass(j, o);
        return;
    }
    out = caps_outcome(j, o, position < PDO_EPR_FIRST ? OVER_RATING_SPR : OVER_RATING_EPR);
    out.position = (uint8_t)position;
    out.values[0] = position;
    out.values[1] = p->max_mv;
    out.values[2] = mw_of(pdo_power_uw(p));
    out.values[3] = mw_of(most_uw);
    caps_measured(&out, "W", mw_of(pdo_power_uw(p)), PARAMETER_NONE, mw_of(most_uw + pdo_slack_uw(p)));
    outcome_evidence(&out, frame);
    judge_fail(j, &out);
}

void check_over_rating(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    int64_t epr_uw;
    struct rating spr;

    if (!h)
        return;
    epr_uw = INT64_C(1000) * rating_extended_epr_mw(&e->port->ratings, h->offer.player);
    spr = rating_ceiling(h, &e->port->ratings, judge_about(j, e->port));
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        const struct pdo *p = &h->offer.pdos[k];

        if (p->word == 0 || judge_silenced(j, k + 1) ||
            (p->supply != SUPPLY_FIXED && p->supply != SUPPLY_VARIABLE && p->supply != SUPPLY_BATTERY))
            continue;
        if (k + 1 < PDO_EPR_FIRST && spr.declared)
            judge_over_rating(j, &h->offer, p, spr.uw, spr.frame);
        else if (k + 1 >= PDO_EPR_FIRST && epr_uw)
            judge_over_rating(j, &h->offer, p, epr_uw, rating_extended_frame(&e->port->ratings, h->offer.player));
    }
}

/* Only the first offer of an attach: later ones may be less for reasons that no trace shows. */
void check_agrees_with_extended_rating(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    int64_t declared_mw = h ? rating_extended_spr_mw(&e->port->ratings, h->offer.player) : 0, least_uw;
    const struct pdo *p;
    struct outcome out;

    if (!h || h->offer.epr || !h->first || h->offer.other_occupied || declared_mw == 0)
        return;
    /* More than 3 A at 20 V can only be offered through a cable that is marked for it. */
    if (INT64_C(1000) * declared_mw > (int64_t)CABLE_PLAIN_MA * SPR_FIXED_MAX_MV &&
        !cable_marks_read(&h->cable).five_ampere)
        return;
    p = offer_strongest(&h->offer, 1, PDO_SPR_MAX);
    if (!p)
        return;
    least_uw = INT64_C(1000) * (declared_mw - RATING_STEP_MW / 2) - pdo_slack_uw(p);
    if (pdo_power_uw(p) >= least_uw) {
        caps_pass(j, &h->offer);
        return;
    }
    out = caps_outcome(j, &h->offer, EXTENDED_RATING_MORE);
    out.values[0] = declared_mw;
    out.values[1] = mw_of(pdo_power_uw(p));
    caps_measured(&out, "W", mw_of(pdo_power_uw(p)), mw_of(least_uw), PARAMETER_NONE);
    outcome_evidence(&out, rating_extended_frame(&e->port->ratings, h->offer.player));
    judge_fail(j, &out);
}

/* Source Info Data Object, Port Reported PDP: Chromium EC include/usb_pd.h, Infineon. */
enum { PDP_REPORTED_MASK = 0xff };

static void judge_source_info(struct judge *j, const struct event *e, const struct offer *o)
{
    const struct pdo *p = offer_strongest(o, 1, PDO_MAX);
    uint32_t word = message_word(&e->speech->m, 0);
    int64_t reported_mw = INT64_C(1000) * (word & PDP_REPORTED_MASK), offered_mw = p ? mw_of(pdo_power_uw(p)) : 0;
    struct outcome out = judge_outcome(j, e);

    if (llabs(reported_mw - offered_mw) <= RATING_STEP_MW) {
        judge_pass(j);
        return;
    }
    outcome_by(&out, SIDE_SOURCE, e->speech->player);
    outcome_evidence(&out, o->frame);
    outcome_evidence(&out, e->frame);
    out.sentence = SOURCE_INFO_REPORTED;
    out.values[0] = reported_mw;
    out.values[1] = offered_mw;
    caps_measured(&out, "W", reported_mw, offered_mw - RATING_STEP_MW, offered_mw + RATING_STEP_MW);
    judge_fail(j, &out);
}

void check_agrees_with_source_info(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    const struct speech *s = e->speech;
    const struct offer *o = p->epr_mode && p->epr_offer.known ? &p->epr_offer : &p->offer;

    if (s->side != SIDE_SOURCE || s->player > PLAYER_B || message_words(&s->m) == 0 || !o->known || o->player != s->player ||
        judge_silenced(j, 0) || !caps_applies(j, p->agreed, &p->edition[s->player], true))
        return;
    if (p->offer_uncertain) {
        struct outcome out = judge_outcome(j, e);

        outcome_by(&out, SIDE_SOURCE, s->player);
        outcome_evidence(&out, p->bad_frame > p->loss_frame ? p->bad_frame : p->loss_frame);
        outcome_evidence(&out, e->frame);
        out.sentence = SOURCE_INFO_LOST;
        judge_undecided(j, &out, judge_gap_cause(p, CAUSE_LOST));
        return;
    }
    judge_source_info(j, e, o);
}

/* An edition that only what the port uses gives away is not enough: Revision must say it, or the user. */
void check_avs_required(struct judge *j, const struct event *e)
{
    enum { NEEDS_MAJOR = 3, NEEDS_MINOR = 2 };
    const struct held_offer *h = caps_held(j);
    struct outcome out;
    struct rating r;

    if (!h || (judge_standard(j) == 0 && (h->edition.major != NEEDS_MAJOR || h->edition.minor < NEEDS_MINOR)))
        return;
    r = floor_of(j, h, e);
    if (r.uw <= INT64_C(1000) * SPR_AVS_OWED_MW + r.slack_uw)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        if (h->offer.pdos[k].supply == SUPPLY_SPR_AVS) {
            caps_pass(j, &h->offer);
            return;
        }
    }
    out = caps_outcome(j, &h->offer, AVS_MISSING);
    out.values[0] = mw_of(r.uw);
    out.values[1] = SPR_AVS_OWED_MW;
    outcome_evidence(&out, r.frame);
    judge_fail(j, &out);
}
