/* Means of VBUS and of the current while nothing changes: against the windows and limits of what holds. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"
#include "rules/uncertainty.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { PERCENT_MILLI = 100000, UV_OF_MV = 1000 };
/* Static values with more load than this above the contract are not used, %: the catalogue, volt.contract-window. */
enum { OVERLOAD_SHARE = 5000 };
/* A current from here on is one, whatever the instrument's offset: the catalogue, volt.reverse-current. */
enum { SURELY_BACK_UA = 200000 };
/* Two static values that differ by less than this part of them are the same level. */
enum { STANDS_SHARE = 50 };

/* What a mean of n readings of the current is worth, as the worst of many: half the width of where it lies. */
static int64_t amp_uncertainty_ua(const struct rail *r, int32_t ua, uint32_t n, unsigned step)
{
    const struct amp_trust *a = &r->amp;

    if (a->assumed)
        return (int64_t)(a->gain * fabs((double)ua) + a->offset_ua);
    const struct uncertain parts[] = { { ua, 2 * a->gain }, { 1, 2 * a->offset_ua } };

    return (int64_t)ceil(volt_expanded(uncertainty_combined(parts, 2, NULL), volt_noise(step, a->noise_ua, n)));
}

static struct amp_trust amp_trust(struct engine *e, const struct port *p)
{
    const struct about_instrument *i = about_instrument(bench_about(e->bench), p->number);
    struct amp_trust t = { .offset_known = i->given & ABOUT_AMP_OFFSET };

    t.assumed = !(i->given & (ABOUT_AMP_GAIN | ABOUT_AMP_OFFSET | ABOUT_AMP_NOISE));
    t.gain = t.assumed ? e->rail_limits.share : i->given & ABOUT_AMP_GAIN ? i->amp.gain_ppm * 1e-6 : 0;
    t.offset_ua = t.assumed ? e->rail_limits.plus_ua : i->given & ABOUT_AMP_OFFSET ? i->amp.offset_ua : 0;
    t.noise_ua = i->given & ABOUT_AMP_NOISE ? i->amp.noise_ua : 0;
    return t;
}

void rail_trust(struct engine *e, struct port_book *b)
{
    b->rail.trust = engine_volt_trust(e, b->port);
    volt_trust_rows(&b->rail.trust, &b->readings.record);
    b->rail.amp = amp_trust(e, b->port);
    b->rail.plain.known = false;
    b->rail.trusted = true;
    b->rail.about = about_generation(bench_about(e->bench));
}

void rail_trust_now(struct engine *e, struct port_book *b)
{
    if (!b->rail.trusted || b->rail.about != about_generation(bench_about(e->bench)))
        rail_trust(e, b);
    else
        volt_trust_rows(&b->rail.trust, &b->readings.record);
}

/* Which way a mean of the current lies to a limit: RAIL_UNSURE within its uncertainty. */
static enum rail_side amp_side(const struct rail *r, const struct rail_value *v, int64_t limit_ua, unsigned step)
{
    int64_t u = amp_uncertainty_ua(r, v->ua, v->n, step);

    return v->ua - u > limit_ua ? RAIL_ABOVE : v->ua + u < limit_ua ? RAIL_BELOW : RAIL_UNSURE;
}

/* What was agreed on: a current; of a battery object a power, and the voltage just then. 0: not known. */
static int64_t current_ua(const struct rail *r, int32_t ma, int32_t mw)
{
    if (mw <= 0)
        return (int64_t)ma * 1000;
    return r->statics[0].frame && r->statics[0].uv >= UV_OF_MV ? (int64_t)mw * 1000000 / (r->statics[0].uv / UV_OF_MV) : 0;
}

int64_t rail_agreed_ua(const struct rail *r)
{
    const struct contract *c = &r->steady.contract;

    return c->mw <= 0 ? (int64_t)c->ma * 1000 : r->steady.settled_uv >= UV_OF_MV ? (int64_t)c->mw * 1000000 / (r->steady.settled_uv / UV_OF_MV) : 0;
}

static void keep_first(struct rail_amps *a, struct rail_value *slot, const struct rail_value *v)
{
    a->marked = true;
    if (slot->frame == 0)
        *slot = *v;
}

/* One more current, which has to lie on that side (RAIL_BELOW, RAIL_ABOVE) of the limit. */
static void take_amps(const struct rail *r, struct rail_amps *a, const struct rail_value *v, int64_t limit_ua, enum rail_side inside)
{
    if (amp_side(r, v, limit_ua, FIT_STEPS - 1) == inside)
        return;
    for (unsigned s = 0; s < FIT_STEPS; s++) {
        enum rail_side side = amp_side(r, v, limit_ua, s);

        if (side != inside)
            keep_first(a, side == RAIL_UNSURE ? &a->unsure[s] : &a->beyond[s], v);
    }
}

/* A current that flows back, and may be nothing at all: the offset is not known. */
static void take_small(const struct rail *r, struct rail_amps *a, const struct rail_value *v, int64_t limit_ua)
{
    for (unsigned s = 0; s < FIT_STEPS; s++)
        if (amp_side(r, v, limit_ua, s) != RAIL_ABOVE)
            keep_first(a, &a->unsure[s], v);
}

enum rail_side rail_amps_side(const struct rail_amps *a, uint64_t count, const struct rail_value **value)
{
    if (!a->marked) {
        *value = a->unsure;
        return RAIL_INSIDE;
    }
    unsigned s = volt_noise_step(count);

    *value = a->beyond[s].frame ? &a->beyond[s] : &a->unsure[s];
    return a->beyond[s].frame ? RAIL_ABOVE : a->unsure[s].frame ? RAIL_UNSURE : RAIL_INSIDE;
}

/* Static values. */

/* iPpsCLNew about the current asked for; below 1 A as about 1 A. */
int64_t rail_limit_tolerance_ua(const struct rail_limits *l, int32_t ma)
{
    return ma > 3000 ? (int64_t)ma * 1000 / 1000 * l->cl_large->max / 100 : l->cl_small->max;
}

/* A PPS at its current limit: the current has come to it, and VBUS is below its window. */
static bool limiting(const struct engine *e, struct rail *r, const struct rail_value *v)
{
    const struct contract *c = &r->steady.contract;

    return c->supply == SUPPLY_PPS && v->ua != RECORD_NO_READING &&
           v->ua >= (int64_t)c->ma * 1000 - rail_limit_tolerance_ua(&e->rail_limits, c->ma) &&
           rail_against(r, v, r->steady.window.low_uv) != RAIL_ABOVE;
}

/* Below its window with a load worth the name: that is for pps.limits-early; without one it is for the window. */
static bool under_load(const struct contract *c, const struct rail_value *v)
{
    return c->supply == SUPPLY_PPS && v->ua != RECORD_NO_READING && v->ua >= (int64_t)c->ma * 100;
}

/*
 * Two static values after each other with the same current, both below the window: one alone may hold the moment at which the
 * limit sets in, half of it at less current, half at less voltage.
 */
static void take_sag(struct rail *r, const struct rail_value *v, int64_t limit_ua)
{
    struct rail_steady *s = &r->steady;

    s->limit.sag_pairs++;
    take_amps(r, &s->limit.under, &r->statics[1], limit_ua, RAIL_ABOVE);
    take_amps(r, &s->limit.under, v, limit_ua, RAIL_ABOVE);
}

static void take_limit(const struct engine *e, struct rail *r, const struct rail_value *v)
{
    struct rail_steady       *s = &r->steady;
    const struct rail_limits *l = &e->rail_limits;
    const struct contract    *c = &s->contract;
    int64_t                   asked_ua = (int64_t)c->ma * 1000, tolerance_ua = rail_limit_tolerance_ua(l, c->ma);
    bool                      was_sagging = s->limit.sagging;

    s->limit.sagging = false;
    if (c->supply != SUPPLY_PPS || v->ua == RECORD_NO_READING ||
        (r->stepped_ns != INT64_MIN && v->t_ns < r->stepped_ns + l->after_ready_ns))
        return;
    struct pdo pdo = pdo_read_source(c->pdo_word, c->position);

    if (c->ma >= 1000 && v->ua >= asked_ua - tolerance_ua &&
        rail_against(r, v, (int64_t)pdo.min_mv * l->shutdown->min) == RAIL_ABOVE) {
        s->limit.count++;
        take_amps(r, &s->limit.over, v, asked_ua + tolerance_ua, RAIL_BELOW);
    }
    if (under_load(c, v) && rail_against(r, v, s->window.low_uv) == RAIL_BELOW && rail_against(r, v, (int64_t)pdo.min_mv * UV_OF_MV) == RAIL_ABOVE) {
        s->limit.sag_count++;
        s->limit.sagging = true;
        if (was_sagging && llabs((int64_t)v->ua - r->statics[1].ua) <= RAIL_STEP_UA)
            take_sag(r, v, asked_ua - tolerance_ua);
    }
}

/* One more static value toward another level; beyond: is it one? */
static void level_value(const struct rail_limits *l, struct rail_level *a, const struct rail_value *v, bool beyond)
{
    if (a->found)
        return;
    if (!beyond) {
        a->running = false;
        return;
    }
    int32_t least_uv = a->running && a->least_uv < v->uv ? a->least_uv : v->uv;
    int32_t most_uv = a->running && a->most_uv > v->uv ? a->most_uv : v->uv;
    int64_t spread_uv = (int64_t)(most_uv > -least_uv ? most_uv : -least_uv) * l->level_spread / PERCENT_MILLI;

    if (!a->running || most_uv - least_uv > spread_uv) {
        a->running = true;
        a->first = *v;
        least_uv = most_uv = v->uv;
    }
    a->least_uv = least_uv;
    a->most_uv = most_uv;
    a->to_ns = v->t_ns + l->values.static_ns;
    a->found = a->to_ns - a->first.t_ns >= l->level_hold_ns;
}

/* VBUS stands at another level that nobody asked for. */
static void take_level(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_steady *s = &r->steady;
    bool    low = v->uv < s->window.low_uv;
    int64_t limit_uv = low ? s->window.low_uv : s->window.high_uv;
    int64_t step_uv = limit_uv / PERCENT_MILLI * l->level_share;

    if (step_uv < l->level_uv)
        step_uv = l->level_uv;
    enum rail_side side = rail_against(r, v, low ? limit_uv - step_uv : limit_uv + step_uv);

    level_value(l, &s->level, v, side == (low ? RAIL_BELOW : RAIL_ABOVE));
    level_value(l, &s->level_may, v, side != (low ? RAIL_ABOVE : RAIL_BELOW));
}

/* It limits, and VBUS is not so low yet that it may switch off. */
static void take_trip(struct rail *r, const struct rail_value *v)
{
    struct pdo pdo = pdo_read_source(r->steady.contract.pdo_word, r->steady.contract.position);

    if (rail_against(r, v, (int64_t)pdo.min_mv * UV_OF_MV / 100 * 95) != RAIL_ABOVE)
        return;
    r->steady.trip.limiting_ns = v->t_ns;
    r->steady.trip.frame = v->frame;
}

/* In W and what vSrcValid adds, or too near to tell: it has come to that level. Before a contract: in vSafe5V. */
static bool in_wide(const struct rail_steady *s, const struct rail *r, const struct rail_value *v)
{
    bool contract = r->steady_kind == SECTION_CONTRACT;

    return rail_against(r, v, contract ? s->peaks.low_uv : s->window.low_uv) != RAIL_BELOW &&
           rail_against(r, v, contract ? s->peaks.high_uv : s->window.high_uv) != RAIL_ABOVE;
}

/* The same, without working out how near. */
static bool far_inside(const struct rail_steady *s, const struct rail *r, const struct rail_value *v)
{
    int64_t far_uv = volt_far_uv(&r->trust, v->uv, v->ua);

    return v->uv - far_uv > s->peaks.low_uv && v->uv + far_uv < s->peaks.high_uv;
}

/* It has come to its level: any one of the static values until then may show it, so that the noise counts as of so many. */
static void take_reached(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_steady  *s = &r->steady;
    const struct reading one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    if (s->reached_surely.frame == 0 && r->steady_kind == SECTION_CONTRACT && far_inside(s, r, v)) {
        s->reached = s->reached.frame ? s->reached : *v;
        s->reached_surely = *v;
        return;
    }
    if (s->reached.frame == 0 && in_wide(s, r, v))
        s->reached = *v;
    if (r->steady_kind != SECTION_CONTRACT || s->reached_surely.frame)
        return;
    unsigned          step = volt_noise_step((uint64_t)(l->reach_ns / l->values.static_ns));
    struct volt_range at = volt_range_noise(&r->trust, &one, r->ma, volt_noise(step, r->trust.noise_uv, v->n));

    if (at.low_uv >= s->peaks.low_uv && at.high_uv <= s->peaks.high_uv)
        s->reached_surely = *v;
}

/* Inside its window, and where it was before. */
static bool stands(const struct rail_steady *s, const struct rail *r, const struct rail_value *v)
{
    return s->window.known && r->statics[1].frame && llabs((int64_t)v->uv - r->statics[1].uv) <= v->uv / STANDS_SHARE &&
           rail_against(r, v, s->window.low_uv) != RAIL_BELOW && rail_against(r, v, s->window.high_uv) != RAIL_ABOVE;
}

void rail_static_note(struct rail *r, const struct rail_value *v)
{
    struct rail_steady *s = &r->steady;

    if (s->contract.mw > 0 && stands(s, r, v))
        s->settled_uv = v->uv;
    int64_t agreed_ua = r->steady_kind == SECTION_CONTRACT ? rail_agreed_ua(r) : 0;

    if (s->statics++ == 0)
        s->first_static = *v;
    s->sum_uv += v->uv;
    s->static_rows += v->n;
    if (v->ua == RECORD_NO_READING)
        return;
    s->static_least_ua = s->statics_ua && s->static_least_ua < v->ua ? s->static_least_ua : v->ua;
    s->static_most_ua = s->statics_ua && s->static_most_ua > v->ua ? s->static_most_ua : v->ua;
    s->statics_ua++;
    s->loaded = s->loaded || (agreed_ua > 0 && v->ua >= agreed_ua / 10 && v->ua <= agreed_ua);
}

void rail_amps_start(struct rail_amps *a)
{
    if (a->marked)
        memset(a, 0, sizeof *a);
}

/*
 * The readings of a static value that is outside W, and those of the ones beside it, are no peaks of their own: volt.contract-window
 * speaks for them. What comes earlier or later in the contract stands for itself.
 */
static void readings_failed(const struct rail_limits *l, struct rail_steady *s, const struct rail_value *v)
{
    int64_t from_ns = v->t_ns - l->values.static_ns;

    if (rail_fit_forget(&s->peaks, from_ns))
        s->peaks_left_out = true;
    rail_fit_forget(&s->peaks_later, from_ns);
    s->failed_until_ns = v->t_ns + 2 * l->values.static_ns;
}

/*
 * For values that are surely inside rail_run.c does the same many at a time: the two have to agree. False: the load was too much, or a
 * PPS limits its current.
 */
static bool take_static(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail           *r = &b->rail;
    struct rail_steady    *s = &r->steady;
    const struct contract *c = &s->contract;
    bool in_doubt = s->doubt != CAUSE_NONE && v->t_ns >= s->doubt_ns;

    for (unsigned k = RAIL_STATICS - 1; k > 0; k--)
        r->statics[k] = r->statics[k - 1];
    r->statics[0] = *v;
    rail_static_note(r, v);
    if (r->steady_kind == SECTION_CONTRACT)
        rail_fit_take(&s->ceiling, &r->trust, r->ma, v, in_doubt);
    int64_t agreed_ua = r->steady_kind == SECTION_CONTRACT ? rail_agreed_ua(r) : 0;

    if (agreed_ua > 0 && v->ua != RECORD_NO_READING) {
        /* A programmable supply limits its current: that is for pps.* */
        if (c->supply != SUPPLY_PPS && v->ua > agreed_ua + agreed_ua / PERCENT_MILLI * OVERLOAD_SHARE) {
            s->overloads++;
            return false;
        }
    }
    if (!s->window.known)
        return true;
    take_limit(e, r, v);
    if (limiting(e, r, v)) {
        s->limitings++;
        take_trip(r, v);
        return false;
    }
    if (!under_load(c, v) || rail_against(r, v, s->window.low_uv) != RAIL_BELOW) {
        rail_fit_take(&s->values, &r->trust, r->ma, v, in_doubt);
        if (!in_doubt && rail_fit_outside(&s->values, &r->trust, r->ma, v))
            readings_failed(&e->rail_limits, s, v);
    }
    if (v->t_ns >= s->from_ns + e->rail_limits.reach_ns)
        rail_fit_take(&s->later, &r->trust, r->ma, v, in_doubt);
    take_reached(&e->rail_limits, r, v);
    if (s->reached.frame)
        take_level(&e->rail_limits, r, v);
    return true;
}

/* Blocks. */

int32_t rail_mean_of(int64_t sum, uint32_t count)
{
    return (int32_t)((sum + (sum < 0 ? -(int64_t)(count / 2) : (int64_t)(count / 2))) / count);
}

bool rail_amps_plain(const struct engine *e, const struct rail *r, const struct rail_value *least, const struct rail_value *most)
{
    const struct rail_limits *l = &e->rail_limits;
    const struct contract    *c = &r->steady.contract;
    int64_t                   limit_ua = (int64_t)c->ma * 1000;

    if (c->mw > 0 || c->ma <= 0)
        return false;
    if (most->ua >= limit_ua + (int64_t)c->ma * OVERLOAD_SHARE / 100 ||
        (c->supply == SUPPLY_PPS && most->ua >= limit_ua - rail_limit_tolerance_ua(l, c->ma)))
        return false;
    return amp_side(r, most, (int64_t)c->most_ma * 1000 + l->over_ua, FIT_STEPS - 1) == RAIL_BELOW &&
           amp_side(r, least, -l->back_ua, FIT_STEPS - 1) == RAIL_ABOVE;
}

void rail_block_done(struct engine *e, struct port_book *b)
{
    struct rail_sum *s = &b->rail.block;
    struct rail_value v = { .t_ns = s->from_ns, .frame = s->frame, .n = s->count, .uv = rail_mean_of(s->sum_uv, s->count),
                            .ua = s->amps ? rail_mean_of(s->sum_ua, s->amps) : RECORD_NO_READING };

    s->count = s->amps = 0;
    s->sum_uv = s->sum_ua = 0;
    bool used = take_static(e, b, &v);

    if (b->volts)
        volt_table_static(e, b, &v, used);
}

/* 100 ms of current are over. */
void rail_mean_done(struct engine *e, struct port_book *b)
{
    struct rail        *r = &b->rail;
    struct rail_steady *s = &r->steady;
    struct rail_sum    *m = &r->mean;
    const struct contract *c = &s->contract;
    struct rail_value   v = { .t_ns = m->from_ns, .frame = m->frame, .n = m->amps, .uv = RECORD_NO_READING };

    if (m->amps) {
        v.ua = rail_mean_of(m->sum_ua, m->amps);
        v.uv = c->mw > 0 ? r->statics[0].uv : RECORD_NO_READING;
        s->load.count++;
        take_amps(r, &s->load.over, &v, current_ua(r, c->most_ma, c->most_mw) + e->rail_limits.over_ua, RAIL_BELOW);
        if (r->amp.offset_known || v.ua <= -SURELY_BACK_UA)
            take_amps(r, &s->load.back, &v, -e->rail_limits.back_ua, RAIL_ABOVE);
        else
            take_small(r, &s->load.back, &v, -e->rail_limits.back_ua);
    }
    m->amps = m->count = 0;
    m->sum_ua = 0;
}

int64_t judge_amp_uncertainty(const struct judge *j, const struct rail_value *v, uint64_t count)
{
    return amp_uncertainty_ua(&j->book->rail, v->ua, v->n, volt_noise_step(count));
}

