/* VBUS on its way, up or down. */
#include "rules/engine_inside.h"
#include "rules/volt_checks.h"

#include <math.h>
#include <stdlib.h>

enum { UV_OF_MV = 1000, NEAR_NS = 5000000, PEAK_SPACING_NS = 1000000, SLEW_SPACING_NS = 20000, MONOTONIC_SPACING_NS = 5000000,
       MONOTONIC_LEVELS_UV = 1000000, SAFE0V_SPACING_NS = 100000000 };

static bool change_known(const struct rail_change *c)
{
    return c->old_window.known && c->new_window.known;
}

/* volt.ready-inside-window */

/* PPS at its current limit: VBUS may be lower than asked for. */
static bool may_limit(const struct rail_change *c, const struct rail_value *v)
{
    return c->now.supply == SUPPLY_PPS && (v->ua == RECORD_NO_READING || v->ua >= ((int64_t)c->now.ma - 150) * 1000);
}

static void ready_tell(struct judge *j, const struct rail_change *c, const struct rail_value *v, enum rail_side side, bool agreed)
{
    const struct volt_window *w = &c->new_window;
    struct outcome            o = volt_outcome(j, v, w->low_uv, w->high_uv, judge_value_uncertainty(j, NULL, v), c->player, c->accept_frame);

    outcome_evidence(&o, c->ready.frame);
    o.parameter = w->parameter;
    o.sentence = READY_OUTSIDE;
    if (side == RAIL_UNSURE || !agreed) {
        o.sentence = READY_UNSURE;
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    } else if (c->doubt != CAUSE_NONE) {
        judge_undecided(j, &o, c->doubt);
    } else {
        volt_hold(j, j->event->port, &o, c->ready.start_ns);
    }
}

/* Inside W, surely below, surely above, or neither. */
static enum rail_side side_of(const struct judge *j, const struct rail_change *c, const struct rail_value *v)
{
    enum rail_side low = judge_against(j, v, c->new_window.low_uv), high = judge_against(j, v, c->new_window.high_uv);

    if (high == RAIL_ABOVE)
        return RAIL_ABOVE;
    if (low == RAIL_BELOW)
        return may_limit(c, v) ? RAIL_INSIDE : RAIL_BELOW;
    return (low == RAIL_ABOVE || may_limit(c, v)) && high == RAIL_BELOW ? RAIL_INSIDE : RAIL_UNSURE;
}

static bool near_ready(const struct rail_change *c, const struct rail_value *v)
{
    return v->frame && llabs(v->t_ns - c->ready.start_ns) <= NEAR_NS;
}

/* Was it otherwise at a time that may have been that of PS_RDY? */
static bool may_be_otherwise(const struct rail_change *c, enum rail_side side)
{
    int64_t from_ns = c->ready.start_ns - c->align_ns, to_ns = c->ready.start_ns + c->align_ns;

    if (c->align_ns == 0 || side == RAIL_UNSURE)
        return false;
    if (c->to_ns - c->ready.start_ns < c->align_ns)
        return true; /* not followed for so long */
    return side == RAIL_INSIDE ? c->beside.outside_before_ns >= from_ns || c->beside.outside_after_ns <= to_ns
                               : c->beside.inside_before_ns >= from_ns || c->beside.inside_after_ns <= to_ns;
}

static void ready_judge(struct judge *j, const struct rail_change *c)
{
    const struct rail_value *mean = &c->at_ready.mean, *before = &c->at_ready.around[0], *after = &c->at_ready.around[1];

    if (!c->done || !c->new_window.known || judge_silenced_since(j, c->ready.start_ns))
        return;
    if (mean->n) {
        enum rail_side side = side_of(j, c, mean);
        bool           agreed = !may_be_otherwise(c, side);

        if (side == RAIL_INSIDE && agreed)
            judge_pass_at(j, c->ready.start_ns);
        else
            ready_tell(j, c, mean, side, agreed);
        return;
    }
    if (!near_ready(c, before) || !near_ready(c, after)) {
        volt_undecided(j, c->ready.frame, c->ready.start_ns, c->player, READY_UNREAD, CAUSE_NO_READING);
        return;
    }
    enum rail_side one = side_of(j, c, before), other = side_of(j, c, after);

    if (one == other && may_be_otherwise(c, one))
        ready_tell(j, c, before, one, false);
    else if (one == RAIL_INSIDE && other == RAIL_INSIDE)
        judge_pass_at(j, c->ready.start_ns);
    else
        ready_tell(j, c, one == RAIL_INSIDE ? after : before, one == RAIL_INSIDE ? other : one, one == other);
}

void volt_check_ready(struct judge *j, const struct event *e)
{
    volt_release(j, e->port);
    if (judge_section(j)->kind == SECTION_CHANGE)
        ready_judge(j, judge_section(j)->change);
}

/* volt.overshoot, volt.undershoot */

enum { SLOWEST_S = 1000000 }; /* no instrument is called slower than that, whatever bandwidth ABOUT gives */

/* The shortest event that readings so far apart, and such an instrument, show. */
static int64_t event_spacing(const struct judge *j, const struct port *p, int64_t spacing_ns)
{
    const struct about_instrument *i = about_instrument(bench_about(j->engine->bench), p->number);
    double                         slowest_ns = SLOWEST_S * 1e9, event_ns = 0;

    if (i->given & ABOUT_VOLT_BANDWIDTH)
        event_ns = i->volt.bandwidth_hz * slowest_ns > 0.35e9 ? ceil(0.35e9 / i->volt.bandwidth_hz) : slowest_ns;
    return event_ns > (double)spacing_ns ? (int64_t)event_ns : spacing_ns;
}

/* ABOUT gives a bandwidth, and it is too low for events as short as that. */
static bool slow_instrument(const struct judge *j, const struct port *p, int64_t event_ns)
{
    return event_spacing(j, p, 0) > event_ns;
}

static void peak_tell(struct judge *j, const struct event *e, const struct rail_change *c, bool high)
{
    const struct rail_fit   *f = &c->peaks;
    const struct rail_value *v;

    if (!change_known(c) || c->readings == 0 || judge_silenced_since(j, c->accept.start_ns))
        return;
    /* Where VBUS had not come to the old level, it is no undershoot of that. */
    if (c->before.frame && (judge_against(j, &c->before, f->low_uv) == RAIL_BELOW || judge_against(j, &c->before, f->high_uv) == RAIL_ABOVE))
        return;
    enum rail_side side = rail_fit_side_of(f, high, &v);

    if (side == RAIL_UNSURE && (high ? v->uv < f->low_uv / 2 + f->high_uv / 2 : v->uv > f->low_uv / 2 + f->high_uv / 2))
        side = RAIL_INSIDE; /* near the other limit */
    if (side == RAIL_INSIDE) {
        if (c->spacing_most_ns > PEAK_SPACING_NS || slow_instrument(j, e->port, PEAK_SPACING_NS))
            volt_sparse(j, c->accept_frame, c->accept.start_ns, c->player, PEAK_SPARSE, event_spacing(j, e->port, c->spacing_most_ns));
        else
            judge_pass_at(j, c->accept.start_ns);
        return;
    }
    struct outcome o = volt_outcome(j, v, high ? INT64_MIN : f->low_uv, high ? f->high_uv : INT64_MAX, judge_value_uncertainty(j, f, v),
                                    c->player, c->accept_frame);

    o.sentence = side == RAIL_UNSURE ? PEAK_UNSURE : PEAK_BEYOND;
    o.parameter = judge_parameter(j, PEAK_VALID);
    if (side == RAIL_UNSURE)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (c->doubt != CAUSE_NONE)
        judge_undecided(j, &o, c->doubt);
    else if (c->align_ns > 0) /* the readings may be of another change */
        judge_undecided(j, &o, CAUSE_TIE);
    else
        volt_hold(j, e->port, &o, c->accept.start_ns);
}

/* VBUS came up: no higher than vSafe5V and what a transient may add. */
static void turn_on_peak(struct judge *j, const struct event *e, const struct rail_cycle *c)
{
    const struct rail_fit   *f = &c->turn_on;
    const struct rail_value *v;
    enum rail_side           side = rail_fit_side(f, &v);

    if (c->up.after_ns == INT64_MIN || f->count < 2)
        return;
    if (side == RAIL_INSIDE && (c->spacing_most_ns > PEAK_SPACING_NS || slow_instrument(j, e->port, PEAK_SPACING_NS))) {
        volt_sparse(j, c->frame, c->t_ns, c->player, PEAK_SPARSE, event_spacing(j, e->port, c->spacing_most_ns));
        return;
    }
    if (side == RAIL_INSIDE) {
        judge_pass_at(j, c->t_ns);
        return;
    }
    struct outcome o = volt_outcome(j, v, INT64_MIN, f->high_uv, judge_value_uncertainty(j, f, v), c->player, c->frame);

    o.sentence = side == RAIL_UNSURE ? PEAK_UNSURE : PEAK_BEYOND;
    o.parameter = judge_parameter(j, PEAK_VALID);
    if (side == RAIL_UNSURE)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (e->t_ns - v->t_ns < rail_align_ns(e->port)) /* it may be the next contract's */
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

void volt_check_overshoot(struct judge *j, const struct event *e)
{
    const struct section *s = judge_section(j);

    volt_release(j, e->port);
    if (s->kind == SECTION_CHANGE)
        peak_tell(j, e, s->change, true);
    else if (s->kind == SECTION_CYCLE)
        turn_on_peak(j, e, s->cycle);
}

void volt_check_undershoot(struct judge *j, const struct event *e)
{
    volt_release(j, e->port);
    if (judge_section(j)->kind == SECTION_CHANGE)
        peak_tell(j, e, judge_section(j)->change, false);
}

/* volt.slew-up, volt.slew-down */

/* One way of a change or a turn-on. */
struct slope {
    double                   uv_ns, most_uv_ns;
    const struct rail_value *at, *most_at;
    int64_t                  spacing_ns, t_ns;
    uint64_t                 frame, readings;
    unsigned                 player;
};

static struct slope slope_of(const struct rail_slew *s, bool up)
{
    return up ? (struct slope){ .uv_ns = s->up, .most_uv_ns = s->up_most, .at = &s->up_at, .most_at = &s->up_most_at }
              : (struct slope){ .uv_ns = s->down, .most_uv_ns = s->down_most, .at = &s->down_at, .most_at = &s->down_most_at };
}

static struct slope slope_of_change(const struct rail_change *c, bool up)
{
    struct slope s = slope_of(&c->slew, up);

    s.spacing_ns = c->spacing_most_ns;
    s.t_ns = c->accept.start_ns;
    s.frame = c->accept_frame;
    s.player = c->player;
    s.readings = c->readings;
    return s;
}

static struct slope slope_of_cycle(const struct rail_cycle *c, bool up)
{
    struct slope s = slope_of(&c->slew, up);

    s.spacing_ns = c->spacing_most_ns;
    s.t_ns = c->t_ns;
    s.frame = c->frame;
    s.player = c->player;
    s.readings = c->readings;
    return s;
}

static struct outcome slew_outcome(const struct judge *j, const struct slope *s, double uv_ns, const struct rail_value *at, int64_t limit)
{
    struct outcome o = judge_outcome_at(j, at->frame, at->t_ns);

    o.player = (uint8_t)s->player;
    o.values[0] = (int64_t)(uv_ns + 0.5);
    o.values[1] = limit / 1000;
    o.has_measured = true;
    o.measured = (int64_t)(uv_ns * 1000) * (limit < 0 ? -1 : 1);
    o.has_high = limit > 0;
    o.has_low = limit < 0;
    o.high = o.low = limit;
    o.unit = "mV/us";
    o.parameter = judge_parameter(j, SLEW_LIMIT);
    outcome_evidence(&o, s->frame);
    outcome_evidence(&o, at->frame);
    return o;
}

static void slew_tell(struct judge *j, const struct event *e, const struct slope *s, int64_t limit)
{
    double limit_uv_ns = (double)(limit < 0 ? -limit : limit) / 1000; /* thousandths of mV/us = uV/ns / 1000 */

    if (s->readings < 2)
        return;
    if (s->uv_ns > limit_uv_ns) {
        struct outcome o = slew_outcome(j, s, s->uv_ns, s->at, limit);

        o.sentence = SLEW_FAST;
        judge_fail(j, &o);
    } else if (s->spacing_ns > SLEW_SPACING_NS || slow_instrument(j, e->port, SLEW_SPACING_NS)) {
        volt_sparse(j, s->frame, s->t_ns, s->player, SLEW_SPARSE, event_spacing(j, e->port, s->spacing_ns));
    } else if (s->most_uv_ns > limit_uv_ns) {
        struct outcome o = slew_outcome(j, s, s->most_uv_ns, s->most_at, limit);

        o.sentence = SLEW_UNSURE;
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    } else {
        judge_pass_at(j, s->t_ns);
    }
}

void volt_check_slew_up(struct judge *j, const struct event *e)
{
    const struct section *s = judge_section(j);
    struct slope          up;

    if (s->kind == SECTION_CHANGE)
        up = slope_of_change(s->change, true);
    else if (s->cycle->up.after_ns != INT64_MIN)
        up = slope_of_cycle(s->cycle, true);
    else
        return;
    slew_tell(j, e, &up, judge_parameter(j, SLEW_LIMIT)->max);
}

void volt_check_slew_down(struct judge *j, const struct event *e)
{
    const struct section *s = judge_section(j);
    struct slope          down;

    if (s->kind == SECTION_CHANGE && rail_change_way(s->change) < 0)
        down = slope_of_change(s->change, false);
    else if (s->kind == SECTION_CYCLE && s->cycle->by != CYCLE_BY_ATTACH && s->cycle->off.after_ns != INT64_MIN)
        down = slope_of_cycle(s->cycle, false);
    else
        return;
    slew_tell(j, e, &down, judge_parameter(j, SLEW_LIMIT)->min);
}

/* volt.monotonic */

static struct outcome back_outcome(const struct judge *j, const struct rail_change *c, int64_t limit_uv, int64_t u_uv)
{
    struct outcome o = judge_outcome_at(j, c->reversal.at.frame, c->reversal.at.t_ns);

    o.player = c->player;
    o.values[0] = c->reversal.by_uv / UV_OF_MV;
    o.values[1] = c->reversal.at.uv / UV_OF_MV;
    o.values[2] = limit_uv / UV_OF_MV;
    o.has_measured = o.has_high = o.has_uncertainty = true;
    o.measured = c->reversal.by_uv;
    o.high = limit_uv;
    o.uncertainty = u_uv;
    o.per_unit = 1000000;
    o.unit = "V";
    o.parameter = judge_parameter(j, 0);
    outcome_evidence(&o, c->accept_frame);
    outcome_evidence(&o, c->reversal.at.frame);
    return o;
}

/*
 * The greatest step back of all that were read is more by the noise than VBUS made, and never less but for the noise of two readings: it
 * has to be beyond by what the worst of so many may be, and to be inside by less.
 */
static void monotonic_judge(struct judge *j, const struct port *p, const struct rail_change *c)
{
    if (!change_known(c) || c->load_moves || c->moved.after_ns == INT64_MIN || judge_silenced_since(j, c->accept.start_ns) ||
        llabs((c->new_window.low_uv + c->new_window.high_uv) / 2 - (c->old_window.low_uv + c->old_window.high_uv) / 2) <= MONOTONIC_LEVELS_UV)
        return;
    const struct volt_trust *t = &j->book->rail.trust;
    double  by_uv = c->reversal.at.frame ? c->reversal.by_uv : 0;
    int64_t noise_uv = (int64_t)(4 * t->noise_uv), limit_uv = judge_parameter(j, 0)->max > noise_uv ? judge_parameter(j, 0)->max : noise_uv;
    int64_t more_uv = (int64_t)rail_difference_uv(t, by_uv, c->readings), less_uv = (int64_t)rail_difference_uv(t, by_uv, 1);

    if ((int64_t)by_uv + less_uv <= limit_uv) {
        if (c->spacing_most_ns > MONOTONIC_SPACING_NS)
            volt_sparse(j, c->accept_frame, c->accept.start_ns, c->player, MONOTONIC_SPARSE, c->spacing_most_ns);
        else
            judge_pass_at(j, c->accept.start_ns);
        return;
    }
    bool           beyond = (int64_t)by_uv - more_uv > limit_uv;
    struct outcome o = back_outcome(j, c, limit_uv, beyond ? more_uv : less_uv);

    o.sentence = beyond ? MONOTONIC_BACK : MONOTONIC_UNSURE;
    if (!beyond)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (c->align_ns > 0)
        judge_undecided(j, &o, CAUSE_TIE);
    else if (c->done)
        volt_hold(j, p, &o, c->accept.start_ns); /* a peak of the same change speaks for it, and is told at its contract's end */
    else
        judge_fail(j, &o);
}

void volt_check_monotonic(struct judge *j, const struct event *e)
{
    volt_release(j, e->port);
    if (judge_section(j)->kind == SECTION_CHANGE)
        monotonic_judge(j, e->port, judge_section(j)->change);
}

/* volt.negative */

void volt_check_negative(struct judge *j, const struct event *e)
{
    const struct section    *s = judge_section(j);
    bool                     change = s->kind == SECTION_CHANGE;
    const struct rail_fit   *f = change ? &s->change->floor : &s->cycle->floor;
    int64_t                  t_ns = change ? s->change->accept.start_ns : s->cycle->t_ns;
    const struct rail_value *v;
    enum rail_side           side = rail_fit_side(f, &v);

    (void)e;
    if (f->count == 0 || (!change && s->cycle->by == CYCLE_BY_ATTACH))
        return;
    if (side == RAIL_INSIDE) {
        judge_pass_at(j, t_ns);
        return;
    }
    struct outcome o = volt_outcome(j, v, f->low_uv, INT64_MAX, judge_value_uncertainty(j, f, v), change ? s->change->player : s->cycle->player,
                                    change ? s->change->accept_frame : s->cycle->frame);

    o.sentence = side == RAIL_BELOW ? NEGATIVE_BELOW : NEGATIVE_UNSURE;
    o.parameter = judge_parameter(j, NEGATIVE_LIMIT);
    if (side == RAIL_BELOW)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
}

/* volt.safe0v-after-hard-reset, volt.safe0v-after-detach */

/* How long after the reset or the detach it has to have happened, the earliest and the latest that this may be. */
struct due { int64_t early_ns, late_ns; };

/* Above 0.8 V all the time: as far as readings every 100 ms show. */
static void safe0v_never(struct judge *j, const struct rail_cycle *c, const struct due *due)
{
    struct outcome o = volt_outcome(j, &c->above, INT64_MIN, c->down_uv, judge_value_uncertainty(j, NULL, &c->above), c->player, c->frame);

    o.sentence = SAFE0V_NEVER;
    o.frame = c->frame;
    o.t_ns = c->t_ns;
    o.values[5] = due->late_ns - c->opened.late_ns;
    o.parameter = judge_parameter(j, SAFE0V_LEVEL);
    if (c->spacing_most_ns > SAFE0V_SPACING_NS)
        volt_undecided(j, c->frame, c->t_ns, c->player, SAFE0V_UNREAD, CAUSE_NO_READING);
    else if (c->doubt != CAUSE_NONE)
        judge_undecided(j, &o, c->doubt);
    else if (c->crossed || c->above.t_ns < due->late_ns + rail_align_ns(j->event->port))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

/* Of many readings just above 0.8 V one is below it by noise: the least of all is to be surely below, as the worst of so many. */
static bool down_surely(const struct judge *j, const struct rail_cycle *c)
{
    const struct rail       *r = &j->book->rail;
    const struct rail_value *v = &c->floor.least;
    const struct reading     one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    return c->floor.count && volt_peak_range(&r->trust, &one, r->ma, c->floor.count).high_uv < c->down_uv;
}

static void safe0v_unsure(struct judge *j, const struct rail_cycle *c, const struct rail_value *v)
{
    struct outcome o = volt_outcome(j, v, INT64_MIN, c->down_uv, judge_value_uncertainty(j, NULL, v), c->player, c->frame);

    o.sentence = SAFE0V_UNSURE;
    o.frame = c->frame;
    o.t_ns = c->t_ns;
    o.parameter = judge_parameter(j, SAFE0V_LEVEL);
    judge_undecided(j, &o, CAUSE_UNCERTAINTY);
}

static void safe0v_tell(struct judge *j, const struct rail_cycle *c, const struct due *due)
{
    if (c->off.after_ns != INT64_MIN && c->off.after_ns <= due->early_ns) {
        if (down_surely(j, c))
            judge_pass_at(j, c->t_ns);
        else
            safe0v_unsure(j, c, &c->floor.least);
    } else if (c->above.frame && c->above.t_ns >= due->late_ns) {
        safe0v_never(j, c, due);
    } else if (c->off.after_ns != INT64_MIN || (c->to_ns > due->late_ns && (c->last_ns == INT64_MIN || c->last_ns < due->late_ns))) {
        volt_undecided(j, c->frame, c->t_ns, c->player, SAFE0V_UNREAD, CAUSE_NO_READING);
    } else if (c->last_ns != INT64_MIN && c->last_ns >= due->late_ns) {
        safe0v_unsure(j, c, &c->last);
    } /* else the trace ended, or something else came in between */
}

static bool was_up(const struct judge *j, const struct rail_cycle *c)
{
    return c->before.frame && judge_against(j, &c->before, c->down_uv) == RAIL_ABOVE;
}

void volt_check_safe0v_reset(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;

    if (c->by != CYCLE_BY_HARD_RESET || !was_up(j, c) || judge_about(j, e->port)->kind == ABOUT_INPUT)
        return;
    int64_t    ns = judge_window(j, SAFE0V_RESPONSE).high_ns + judge_window(j, SAFE0V_FALL).high_ns + judge_window(j, SAFE0V_WATCH).high_ns;
    struct due due = { .early_ns = c->opened.early_ns + ns, .late_ns = c->opened.late_ns + ns };

    safe0v_tell(j, c, &due);
}

void volt_check_safe0v_detach(struct judge *j, const struct event *e)
{
    const struct rail_cycle *c = judge_section(j)->cycle;

    (void)e;
    int64_t    ns = judge_window(j, SAFE0V_RESPONSE).high_ns;
    struct due due = { .early_ns = c->opened.early_ns + ns, .late_ns = c->opened.late_ns + ns };

    if (c->by == CYCLE_BY_DETACH && was_up(j, c))
        safe0v_tell(j, c, &due);
}
