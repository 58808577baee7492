/* The form of an offer: what stands where, and which bits may be set. */
#include "rules/caps_checks.h"

#include <stddef.h>

bool caps_applies(const struct judge *j, unsigned agreed, const struct edition *edition, bool epr_message)
{
    const struct rule *r = judge_rule(j);

    switch (rule_applies(r, agreed, edition, judge_standard(j))) {
    case ANSWER_YES:
        return true;
    case ANSWER_NO:
        return false;
    case ANSWER_UNKNOWN:
        return epr_message && r->applies != APPLIES_R32;
    }
    return false;
}

const struct held_offer *caps_held(struct judge *j)
{
    const struct held_offer *h = judge_held(j);

    if (!h || judge_silenced(j, 0) || !caps_applies(j, h->agreed, &h->edition, h->offer.epr))
        return NULL;
    return h;
}

struct outcome caps_outcome(const struct judge *j, const struct offer *o, unsigned sentence)
{
    struct outcome out = judge_outcome_at(j, o->frame, o->t_ns);

    outcome_by(&out, o->side == SIDE_SINK ? SIDE_SINK : SIDE_SOURCE, o->player);
    out.sentence = (uint8_t)sentence;
    outcome_evidence(&out, o->first_frame);
    outcome_evidence(&out, o->frame);
    return out;
}

void caps_pass(struct judge *j, const struct offer *o)
{
    judge_pass_at(j, o->t_ns);
}

void caps_measured(struct outcome *o, const char *unit, int64_t measured, int64_t low, int64_t high)
{
    o->unit = unit;
    o->has_measured = true;
    o->measured = measured;
    o->has_low = low != PARAMETER_NONE;
    o->low = o->has_low ? low : 0;
    o->has_high = high != PARAMETER_NONE;
    o->high = o->has_high ? high : 0;
}

/* A filler, or an offer of nothing: caps.zero-object and the rules of EPR speak of it. */
static bool pdo_is_filler(const struct pdo *p)
{
    return p->word == 0;
}

static void judge_first_5v(struct judge *j, const struct offer *o)
{
    const struct pdo *p = &o->pdos[0];
    struct outcome out;

    if (judge_hole(j, p))
        return;
    if (p->supply == SUPPLY_FIXED && p->max_mv == VSAFE5V_MV) {
        caps_pass(j, o);
        return;
    }
    out = caps_outcome(j, o, p->supply == SUPPLY_FIXED ? FIRST_OTHER_VOLTAGE : FIRST_OTHER_KIND);
    out.values[0] = p->supply == SUPPLY_FIXED ? p->max_mv : p->supply;
    out.values[1] = VSAFE5V_MV;
    if (p->supply == SUPPLY_FIXED)
        caps_measured(&out, "V", p->max_mv, VSAFE5V_MV, VSAFE5V_MV);
    judge_fail(j, &out);
}

void check_first_5v(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (h)
        judge_first_5v(j, &h->offer);
}

void check_sink_first_5v(struct judge *j, const struct event *e)
{
    if (e->offer->side == SIDE_SINK && !e->offer->epr)
        judge_first_5v(j, e->offer);
}

/*
 * A message with too many objects never becomes an offer, so it is caught as it comes. Source_Capabilities cannot say
 * more than 7: its header has no room for it.
 */
void check_count(struct judge *j, const struct event *e)
{
    const struct held_offer *h = judge_held(j);
    struct outcome out;
    unsigned count;

    if (h) {
        caps_pass(j, &h->offer);
        return;
    }
    count = e->speech->size / (unsigned)sizeof(uint32_t);
    if (e->speech->news != CHUNK_COMPLETE || count <= PDO_MAX)
        return;
    out = judge_outcome(j, e);
    outcome_by(&out, SIDE_SOURCE, e->speech->player);
    outcome_evidence(&out, e->speech->first_frame);
    outcome_evidence(&out, e->frame);
    out.values[0] = count;
    out.values[1] = PDO_MAX;
    judge_fail(j, &out);
}

/* Place of a kind in the order of an offer. */
static unsigned kind_rank(const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
        return 0;
    case SUPPLY_BATTERY:
        return 1;
    case SUPPLY_VARIABLE:
        return 2;
    case SUPPLY_PPS:
    case SUPPLY_EPR_AVS:
    case SUPPLY_SPR_AVS:
    case SUPPLY_RESERVED:
        return 3;
    }
    return 3;
}

static bool pdo_is_augmented(const struct pdo *p)
{
    return p->supply == SUPPLY_PPS || p->supply == SUPPLY_EPR_AVS || p->supply == SUPPLY_SPR_AVS ||
           p->supply == SUPPLY_RESERVED;
}

/* The next object of positions 1 to 7 that is no filler, and told, from index k on; NULL: none. */
static const struct pdo *next_spr(const struct judge *j, const struct offer *o, unsigned k)
{
    for (; k < offer_objects(o) && k < PDO_SPR_MAX; k++)
        if (!pdo_is_filler(&o->pdos[k]) && !judge_hole(j, &o->pdos[k]))
            return &o->pdos[k];
    return NULL;
}

static void fail_order(struct judge *j, const struct offer *o, const struct pdo *before, const struct pdo *p,
                       unsigned sentence)
{
    struct outcome out = caps_outcome(j, o, sentence);

    out.values[0] = p - o->pdos + 1;
    out.values[1] = p->supply;
    out.values[2] = p->min_mv;
    out.values[3] = before - o->pdos + 1;
    out.values[4] = before->supply;
    out.values[5] = before->min_mv;
    judge_fail(j, &out);
}

/* Equal voltages are left to caps.unique-voltage. */
static void judge_order(struct judge *j, const struct offer *o)
{
    const struct pdo *before = NULL;

    for (const struct pdo *p = next_spr(j, o, 0); p; p = next_spr(j, o, (unsigned)(p - o->pdos) + 1)) {
        if (before && kind_rank(p) < kind_rank(before)) {
            fail_order(j, o, before, p, ORDER_KIND);
            return;
        }
        if (before && p->supply == before->supply && !pdo_is_augmented(p) && p->min_mv < before->min_mv) {
            fail_order(j, o, before, p, ORDER_VOLTAGE);
            return;
        }
        before = p;
    }
    caps_pass(j, o);
}

void check_order(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (h)
        judge_order(j, &h->offer);
}

void check_sink_order(struct judge *j, const struct event *e)
{
    if (e->offer->side == SIDE_SINK && !e->offer->epr && !judge_silenced(j, 0))
        judge_order(j, e->offer);
}

static void fail_apdo_order(struct judge *j, const struct offer *o, const struct pdo *before, const struct pdo *p)
{
    struct outcome out = caps_outcome(j, o, p->supply == SUPPLY_SPR_AVS ? APDO_ORDER_KIND : APDO_ORDER_VOLTAGE);

    out.values[0] = p - o->pdos + 1;
    out.values[1] = p->max_mv;
    out.values[2] = before - o->pdos + 1;
    out.values[3] = before->max_mv;
    judge_fail(j, &out);
}

void check_apdo_order(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);
    const struct pdo *pps = NULL;
    unsigned seen = 0;

    (void)e;
    if (!h)
        return;
    for (const struct pdo *p = next_spr(j, &h->offer, 0); p; p = next_spr(j, &h->offer, (unsigned)(p - h->offer.pdos) + 1)) {
        if (p->supply != SUPPLY_PPS && p->supply != SUPPLY_SPR_AVS)
            continue;
        seen++;
        if (pps && (p->supply == SUPPLY_SPR_AVS || p->max_mv < pps->max_mv)) {
            fail_apdo_order(j, &h->offer, pps, p);
            return;
        }
        if (p->supply == SUPPLY_PPS)
            pps = p;
    }
    if (seen > 1)
        caps_pass(j, &h->offer);
}

/* The earlier Fixed object of the same voltage, or NULL. */
static const struct pdo *fixed_twin(const struct offer *o, const struct pdo *p)
{
    for (const struct pdo *before = o->pdos; before < p; before++)
        if (before->supply == SUPPLY_FIXED && !pdo_is_filler(before) && before->max_mv == p->max_mv)
            return before;
    return NULL;
}

void check_unique_voltage(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        const struct pdo *p = &h->offer.pdos[k], *twin;

        if (p->supply != SUPPLY_FIXED || pdo_is_filler(p))
            continue;
        twin = fixed_twin(&h->offer, p);
        if (twin) {
            struct outcome out = caps_outcome(j, &h->offer, UNIQUE_TWICE);

            out.values[0] = twin - h->offer.pdos + 1;
            out.values[1] = k + 1;
            out.values[2] = p->max_mv;
            judge_fail(j, &out);
            return;
        }
    }
    caps_pass(j, &h->offer);
}

/* What is zero in an object that offers nothing, or -1. */
static int zero_part(const struct pdo *p)
{
    if (p->word == 0)
        return ZERO_WORD;
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
    case SUPPLY_VARIABLE:
    case SUPPLY_PPS:
        return p->max_mv == 0 ? ZERO_VOLTAGE : p->max_ma == 0 ? ZERO_AMOUNT : -1;
    case SUPPLY_BATTERY:
    case SUPPLY_EPR_AVS:
        return p->max_mv == 0 ? ZERO_VOLTAGE : p->max_mw == 0 ? ZERO_AMOUNT : -1;
    case SUPPLY_SPR_AVS:
        return p->max_ma == 0 ? ZERO_AMOUNT : -1;
    case SUPPLY_RESERVED:
        return -1;
    }
    return -1;
}

void check_zero_object(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h || h->offer.epr)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        int part = zero_part(&h->offer.pdos[k]);

        if (part >= 0) {
            struct outcome out = caps_outcome(j, &h->offer, (unsigned)part);

            out.values[0] = k + 1;
            out.values[1] = h->offer.words[k];
            judge_fail(j, &out);
            return;
        }
    }
    caps_pass(j, &h->offer);
}

/* One verdict for an object: the bits of mask must be clear. */
static void judge_clear_bits(struct judge *j, const struct offer *o, unsigned k, uint32_t mask, unsigned sentence)
{
    if (o->words[k] & mask) {
        struct outcome out = caps_outcome(j, o, sentence);

        out.position = (uint8_t)(k + 1);
        out.values[0] = k + 1;
        out.values[1] = o->words[k];
        out.values[2] = o->words[k] & mask;
        judge_fail(j, &out);
        return;
    }
    caps_pass(j, o);
}

void check_first_only_flags(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h)
        return;
    for (unsigned k = 1; k < offer_objects(&h->offer) && k < PDO_SPR_MAX; k++)
        if (h->offer.pdos[k].supply == SUPPLY_FIXED && !pdo_is_filler(&h->offer.pdos[k]))
            judge_clear_bits(j, &h->offer, k, pdo_first_only_flags, FIRST_ONLY_SET);
}

void check_reserved_bits(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        const struct pdo *p = &h->offer.pdos[k];

        if (!pdo_is_filler(p))
            judge_clear_bits(j, &h->offer, k, pdo_reserved_bits[p->supply].mask,
                             p->supply == SUPPLY_RESERVED ? RESERVED_TYPE : RESERVED_SET);
    }
}

void check_apdo_in_revision(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h || h->offer.revision > HEADER_R2)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        if (pdo_is_augmented(&h->offer.pdos[k])) {
            struct outcome out = caps_outcome(j, &h->offer, REVISION_AUGMENTED);

            out.values[0] = k + 1;
            out.values[1] = h->offer.words[k];
            out.values[2] = h->offer.revision;
            judge_fail(j, &out);
            return;
        }
    }
    caps_pass(j, &h->offer);
}

/* One limit of an object: told if it is exceeded. 0: no such limit. */
static bool over_limit(struct judge *j, const struct offer *o, const struct pdo *p, int32_t value, int32_t limit,
                       unsigned sentence)
{
    struct outcome out;

    if (limit == 0 || value <= limit)
        return false;
    out = caps_outcome(j, o, sentence);
    out.position = (uint8_t)(p - o->pdos + 1);
    out.values[0] = out.position;
    out.values[1] = p->supply;
    out.values[2] = value;
    out.values[3] = limit;
    /* Thousandths: of volts and watts they are millivolts and milliwatts; currents are given in milliamperes. */
    if (sentence == SPR_OVER_CURRENT)
        caps_measured(&out, "mA", INT64_C(1000) * value, PARAMETER_NONE, INT64_C(1000) * limit);
    else
        caps_measured(&out, sentence == SPR_OVER_VOLTAGE ? "V" : "W", value, PARAMETER_NONE, limit);
    judge_fail(j, &out);
    return true;
}

void check_spr_limits(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h)
        return;
    for (const struct pdo *p = next_spr(j, &h->offer, 0); p; p = next_spr(j, &h->offer, (unsigned)(p - h->offer.pdos) + 1)) {
        const struct spr_limit *l = &spr_limits[p->supply];
        int32_t ma = p->max_ma > p->max_ma_20v ? p->max_ma : p->max_ma_20v;

        if (!l->limited || over_limit(j, &h->offer, p, p->max_mv, l->mv, SPR_OVER_VOLTAGE) ||
            over_limit(j, &h->offer, p, ma, l->ma, SPR_OVER_CURRENT) ||
            over_limit(j, &h->offer, p, p->max_mw, l->mw, SPR_OVER_POWER))
            continue;
        caps_pass(j, &h->offer);
    }
}

/* 0 < least <= largest voltage of each object of one kind. */
static void judge_ranges(struct judge *j, enum supply kind)
{
    const struct held_offer *h = caps_held(j);

    if (!h)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++) {
        const struct pdo *p = &h->offer.pdos[k];
        struct outcome out;

        if (p->supply != kind)
            continue;
        if (p->min_mv > 0 && p->min_mv <= p->max_mv) {
            caps_pass(j, &h->offer);
            continue;
        }
        out = caps_outcome(j, &h->offer, p->min_mv == 0 ? RANGE_ZERO : RANGE_TURNED);
        out.position = (uint8_t)(k + 1);
        out.values[0] = k + 1;
        out.values[1] = p->min_mv;
        out.values[2] = p->max_mv;
        judge_fail(j, &out);
    }
}

void check_variable_range(struct judge *j, const struct event *e)
{
    (void)e;
    judge_ranges(j, SUPPLY_VARIABLE);
}

void check_battery_range(struct judge *j, const struct event *e)
{
    (void)e;
    judge_ranges(j, SUPPLY_BATTERY);
}

static void judge_pps_range(struct judge *j, const struct offer *o, const struct pdo *p)
{
    struct outcome out;
    bool family = pps_family_find(p->max_mv) != NULL;

    if (p->min_mv >= PPS_MIN_MV && p->min_mv < p->max_mv && p->max_mv <= PPS_MAX_MV) {
        caps_pass(j, o);
        return;
    }
    if (p->max_mv > PPS_MAX_MV) {
        out = caps_outcome(j, o, PPS_RANGE_HIGH);
        caps_measured(&out, "V", p->max_mv, PARAMETER_NONE, PPS_MAX_MV);
    } else if (p->min_mv < PPS_MIN_MV) {
        out = caps_outcome(j, o, family ? PPS_RANGE_LOW_FAMILY : PPS_RANGE_LOW);
        caps_measured(&out, "V", p->min_mv, PPS_MIN_MV, PARAMETER_NONE);
    } else {
        out = caps_outcome(j, o, PPS_RANGE_TURNED);
    }
    out.position = (uint8_t)(p - o->pdos + 1);
    out.values[0] = out.position;
    out.values[1] = p->min_mv;
    out.values[2] = p->max_mv;
    out.values[3] = PPS_MIN_MV;
    out.values[4] = PPS_MAX_MV;
    judge_fail(j, &out);
}

void check_pps_range(struct judge *j, const struct event *e)
{
    const struct held_offer *h = caps_held(j);

    (void)e;
    if (!h)
        return;
    for (unsigned k = 0; k < offer_objects(&h->offer); k++)
        if (h->offer.pdos[k].supply == SUPPLY_PPS)
            judge_pps_range(j, &h->offer, &h->offer.pdos[k]);
}
