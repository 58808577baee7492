/* Programmable supplies: voltage at each operating point, steps, the current limit. */
#include "rules/pps_checks.h"
#include "rules/engine_inside.h"
#include "rules/uncertainty.h"

#include <math.h>
#include <stdlib.h>

enum { UV_OF_MV = 1000, UA_A_MA = 1000, UA_A_A = 1000000, STEP_LEAST_MV = 20, STEP_MOST_MV = 100, STEADY_UA = 100000,
       CLEAR_UA = 300000, STATUS_BYTES = 4, VOLT_UNIT_MV = 20, AMP_UNIT_MA = 50, VOLT_UNKNOWN = 0xffff, AMP_UNKNOWN = 0xff,
       LIMIT_FLAG = 0x08, FLAG_NS = 50000000, FLAG_VALUES = 4, TOLD_MV = 40, TOLD_MA = 200,
       MEAN_NS = 100000000 /* currents */ };

static const struct volt_says window_says = { WINDOW_BELOW, WINDOW_ABOVE, WINDOW_UNSURE, WINDOW_FEW };

/* An operating point of a PPS, or NULL. */
static const struct rail_steady *point(const struct judge *j)
{
    const struct rail_steady *s = judge_section(j)->steady;

    return s->contract.supply == SUPPLY_PPS && s->window.known ? s : NULL;
}

static void window_judge(struct judge *j, enum pps_end end)
{
    const struct rail_steady *s = point(j);

    if (!s || s->end != end || judge_silenced_since(j, s->from_ns))
        return;
    if (s->values.count == 0 && (s->limitings || s->limit.sag_count || s->to_ns - s->from_ns < judge_window(j, PPS_TRANSITION).high_ns + FLAG_NS))
        return; /* at its limit all the time, or too short to be read */
    volt_judge_fit(j, volt_values(j, s), s, &window_says, s->window.parameter, CAUSE_NONE, 1);
}

void pps_check_window(struct judge *j, const struct event *e)
{
    (void)e;
    window_judge(j, PPS_INSIDE);
}

void pps_check_min(struct judge *j, const struct event *e)
{
    (void)e;
    window_judge(j, PPS_AT_MIN);
}

void pps_check_max(struct judge *j, const struct event *e)
{
    (void)e;
    window_judge(j, PPS_AT_MAX);
}

/* Steps. */

static struct operating_point point_of(const struct judge *j, const struct rail_steady *s)
{
    const struct volt_trust *t = &j->book->rail.trust;
    /* Noise alone, the less the more readings; where nothing is known of the instrument, nothing is known of how much less. */
    double noise_uv = t->assumed ? (t->share * s->contract.mv * UV_OF_MV + t->plus_uv) / sqrt((double)s->statics)
                                 : 2 * t->noise_uv / sqrt((double)s->static_rows);

    return (struct operating_point){ .frame = s->contract.frame, .pdo_word = s->contract.pdo_word, .position = s->contract.position,
                                     .mv = s->contract.mv, .mean_uv = s->sum_uv / (double)s->statics,
                                     .u_uv = (int64_t)noise_uv, .least_ua = s->static_least_ua,
                                     .most_ua = s->static_most_ua, .amps = s->statics_ua > 0 };
}

/* From one operating point to the next of the same object, the current being steady: the step in mV, or 0. */
static int32_t step_mv(const struct operating_point *a, const struct operating_point *b)
{
    int32_t least = a->least_ua < b->least_ua ? a->least_ua : b->least_ua, most = a->most_ua > b->most_ua ? a->most_ua : b->most_ua;

    if (a->frame == 0 || a->pdo_word != b->pdo_word || a->position != b->position)
        return 0;
    return a->amps && b->amps && most - least > 2 * STEADY_UA ? 0 : b->mv - a->mv;
}

static int64_t pair_u_uv(const struct operating_point *a, const struct operating_point *b)
{
    const struct uncertain parts[] = { { 1, (double)b->u_uv }, { -1, (double)a->u_uv } };

    return (int64_t)uncertainty_combined(parts, 2, NULL);
}

/* Into the mean of an operating point goes what may be of the one before or after it. */
static bool means_untied(const struct port *p)
{
    return rail_align_ns(p) > 0;
}

static struct outcome step_outcome(const struct judge *j, uint64_t frame, int64_t t_ns, unsigned player, uint64_t before)
{
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player;
    outcome_evidence(&o, before);
    outcome_evidence(&o, frame);
    return o;
}

static void run_over(struct judge *j, struct steps *s)
{
    if (s->count >= STEP_RUN) {
        int64_t        tolerance_uv = judge_parameter(j, 0)->max;
        struct outcome o = step_outcome(j, s->run.frame, s->run.t_ns, s->player, s->run.before_frame);

        o.values[0] = s->run.seen_uv / UV_OF_MV;
        o.values[1] = s->run.asked_uv / UV_OF_MV;
        o.has_measured = o.has_low = o.has_high = o.has_uncertainty = true;
        o.measured = s->run.seen_uv;
        o.low = s->run.asked_uv - tolerance_uv;
        o.high = s->run.asked_uv + tolerance_uv;
        o.uncertainty = s->run.u_uv;
        o.per_unit = UA_A_A;
        o.unit = "V";
        o.parameter = judge_parameter(j, 0);
        o.sentence = s->run.off ? STEP_OFF : s->run.u_uv > tolerance_uv ? STEP_BLUNT : STEP_UNSURE;
        if (s->run.off && s->untied)
            judge_undecided(j, &o, CAUSE_TIE);
        else if (s->run.off)
            judge_fail(j, &o);
        else if (s->run.blunt)
            judge_undecided(j, &o, CAUSE_UNCERTAINTY);
        else
            judge_pass_at(j, s->from_ns);
    }
    s->count = 0;
    s->run.off = s->run.blunt = s->untied = false;
}

static void step_seen(struct judge *j, struct steps *s, const struct operating_point *now, const struct rail_steady *steady, int32_t by_mv)
{
    int64_t tolerance_uv = judge_parameter(j, 0)->max, u_uv = pair_u_uv(&s->last, now);
    int64_t seen_uv = (int64_t)(now->mean_uv - s->last.mean_uv), off_uv = llabs(seen_uv - (int64_t)by_mv * UV_OF_MV);
    bool    blunt = u_uv > tolerance_uv, off = off_uv - u_uv > tolerance_uv && !blunt;

    s->count++;
    if (s->run.off || (s->run.blunt && !off))
        return;
    if (!off && !blunt && off_uv + u_uv <= tolerance_uv)
        return;
    s->run.off = off;
    s->run.blunt = !off;
    s->run.frame = now->frame;
    s->run.before_frame = s->last.frame;
    s->run.t_ns = steady->from_ns;
    s->run.asked_uv = (int64_t)by_mv * UV_OF_MV;
    s->run.seen_uv = seen_uv;
    s->run.u_uv = u_uv;
}

void pps_check_step(struct judge *j, const struct event *e)
{
    struct steps             *s = judge_state(j, e->port);
    const struct rail_steady *steady = e->kind == (enum event_kind)WAKE_SECTION ? point(j) : NULL;

    if (!steady || steady->statics == 0 || steady->limitings || judge_silenced_since(j, steady->from_ns)) {
        run_over(j, s);
        s->last.frame = 0;
        return;
    }
    struct operating_point now = point_of(j, steady);
    int32_t                by_mv = step_mv(&s->last, &now);
    int                    way = by_mv > 0 ? 1 : -1;

    if (abs(by_mv) < STEP_LEAST_MV || abs(by_mv) > STEP_MOST_MV || (s->count && way != s->way))
        run_over(j, s);
    if (abs(by_mv) >= STEP_LEAST_MV && abs(by_mv) <= STEP_MOST_MV) {
        s->from_ns = s->count ? s->from_ns : steady->from_ns;
        s->way = way;
        s->player = steady->player;
        s->untied = means_untied(e->port);
        step_seen(j, s, &now, steady, by_mv);
    }
    s->last = now;
}

void pps_check_monotonic(struct judge *j, const struct event *e)
{
    struct steps             *s = judge_state(j, e->port);
    const struct rail_steady *steady = point(j);

    if (!steady || steady->statics == 0 || steady->limitings) {
        s->last.frame = 0;
        return;
    }
    struct operating_point now = point_of(j, steady);
    int32_t                by_mv = step_mv(&s->last, &now);
    int64_t                u_uv = pair_u_uv(&s->last, &now), seen_uv = (int64_t)(now.mean_uv - s->last.mean_uv);
    struct outcome         o = step_outcome(j, now.frame, steady->from_ns, steady->player, s->last.frame);

    s->last = now;
    if (by_mv == 0 || judge_silenced_since(j, steady->from_ns))
        return;
    o.values[0] = seen_uv / UV_OF_MV;
    o.values[1] = by_mv;
    o.has_measured = o.has_uncertainty = true;
    o.measured = seen_uv;
    o.uncertainty = u_uv;
    o.per_unit = UA_A_A;
    o.unit = "V";
    o.sentence = TURN_WRONG;
    if (by_mv > 0 ? seen_uv < -u_uv : seen_uv > u_uv) {
        if (means_untied(e->port))
            judge_undecided(j, &o, CAUSE_TIE);
        else
            judge_fail(j, &o);
    } else if (u_uv > (int64_t)abs(by_mv) * UV_OF_MV) {
        o.sentence = TURN_BLUNT;
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    } else {
        judge_pass_at(j, steady->from_ns);
    }
}

/* The current limit. */

static void current_tell(struct judge *j, const struct rail_steady *s, const struct rail_amps *amps, uint64_t count, int64_t limit_ua, bool high)
{
    const struct rail_value *v;
    enum rail_side           side = rail_amps_side(amps, count, &v);

    if (side == RAIL_INSIDE) {
        judge_pass_at(j, s->from_ns);
        return;
    }
    struct outcome o = step_outcome(j, v->frame, v->t_ns, s->player, s->contract.frame);

    o.sentence = side == RAIL_ABOVE ? CURRENT_BEYOND : CURRENT_UNSURE;
    o.values[0] = v->ua / UA_A_MA;
    o.values[1] = limit_ua / UA_A_MA;
    o.values[2] = v->uv / UV_OF_MV;
    o.values[3] = s->contract.ma;
    o.has_measured = o.has_uncertainty = true;
    o.has_high = high;
    o.has_low = !high;
    o.measured = v->ua;
    o.low = o.high = limit_ua;
    o.uncertainty = judge_amp_uncertainty(j, v, count);
    o.per_unit = UA_A_A;
    o.unit = "A";
    o.parameter = judge_parameter(j, s->contract.ma > 3000 ? 1 : 0);
    if (side != RAIL_ABOVE)
        judge_undecided(j, &o, CAUSE_UNCERTAINTY);
    else if (s->doubt != CAUSE_NONE && v->t_ns >= s->doubt_ns)
        judge_undecided(j, &o, s->doubt);
    else if (volt_untied(j, s, v->t_ns, v->t_ns + MEAN_NS))
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

static int64_t tolerance_ua(const struct judge *j, int32_t ma)
{
    return ma > 3000 ? (int64_t)ma * judge_parameter(j, 1)->max / 100 : judge_parameter(j, 0)->max;
}

static void limit_tell(struct judge *j, const struct rail_steady *s)
{
    if (!judge_silenced_since(j, s->from_ns))
        current_tell(j, s, &s->limit.over, s->limit.count, (int64_t)s->contract.ma * UA_A_MA + tolerance_ua(j, s->contract.ma), true);
}

/* Where a reset ended it, not before it is known what that was. */
void pps_check_limit(struct judge *j, const struct event *e)
{
    struct limited           *kept = judge_state(j, e->port);
    const struct rail_steady *s;

    if (e->kind == (enum event_kind)WAKE_TIME) {
        if (kept->waits)
            limit_tell(j, &kept->steady);
        kept->waits = false;
        return;
    }
    s = point(j);
    if (!s || !s->limit.count)
        return;
    if (s->contract.ended_by != CONTRACT_HARD_RESET) {
        limit_tell(j, s);
        return;
    }
    kept->waits = true;
    kept->steady = *s;
    judge_wake_at(j, e->port, e->t_ns);
}

void pps_check_early(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = point(j);

    (void)e;
    if (s && s->limit.sag_pairs && !judge_silenced_since(j, s->from_ns))
        current_tell(j, s, &s->limit.under, s->limit.sag_pairs + 1, (int64_t)s->contract.ma * UA_A_MA - tolerance_ua(j, s->contract.ma), false);
}

/* pps.limit-no-reset */

static void trip_tell(struct judge *j, const struct trip *t, uint64_t frame, int64_t t_ns, unsigned sentence, enum cause doubt)
{
    struct outcome o = step_outcome(j, frame, t_ns, t->player, t->contract_frame);

    if (doubt == CAUSE_NONE && rail_align_ns(j->event->port) > 0)
        doubt = CAUSE_TIE; /* it may have limited after that, or long before */
    o.sentence = (uint8_t)sentence;
    o.values[5] = t_ns - t->t_ns;
    outcome_evidence(&o, t->frame);
    if (doubt != CAUSE_NONE)
        judge_undecided(j, &o, doubt);
    else
        judge_fail(j, &o);
}

void pps_check_trip(struct judge *j, const struct event *e)
{
    struct trip *t = judge_state(j, e->port);

    if (e->kind == EVENT_HARD_RESET) {
        enum reset_origin origin = t->limiting ? judge_reset_origin(j) : ORIGIN_SINK;

        if (t->limiting && e->t_ns - t->t_ns <= judge_window(j, TRIP_WITHIN).high_ns && origin != ORIGIN_SINK)
            trip_tell(j, t, e->frame, e->t_ns, TRIP_RESET, origin == ORIGIN_UNKNOWN ? CAUSE_ORIGIN : CAUSE_NONE);
        else if (t->limiting && origin != ORIGIN_SINK)
            judge_pass_at(j, t->t_ns);
        t->limiting = false;
        return;
    }
    const struct rail_steady *s = point(j);

    t->limiting = false;
    if (!s || s->trip.limiting_ns == INT64_MIN)
        return;
    *t = (struct trip){ .limiting = true, .t_ns = s->trip.limiting_ns, .frame = s->trip.frame, .contract_frame = s->contract.frame, .player = s->player };
    if (s->contract.ended_by == CONTRACT_HARD_RESET)
        return; /* told with the reset */
    t->limiting = false;
    if (s->contract.ended_by == CONTRACT_SUPPLY_LOST && s->to_ns - t->t_ns <= judge_window(j, TRIP_WITHIN).high_ns)
        trip_tell(j, t, t->frame, t->t_ns, TRIP_OFF, s->doubt);
    else
        judge_pass_at(j, t->t_ns);
}

/* pps.limit-flag */

/* What the 50 ms before showed, and in what range. */
enum lately { LATELY_BETWEEN, LATELY_CLEAR, LATELY_LIMITING, LATELY_UNREAD };
/* Where the least and the greatest value lie at the least and at the most. */
struct extent { int64_t least_low, least_high, most_low, most_high; };
struct shown { struct extent uv, ua; int64_t sum_uv, sum_ua; unsigned count; };
enum { SHOWN_MOST = 8 }; /* values of 70 ms */

static void extend(struct extent *e, bool any, int64_t low, int64_t high)
{
    e->least_low = any && e->least_low < low ? e->least_low : low;
    e->least_high = any && e->least_high < high ? e->least_high : high;
    e->most_low = any && e->most_low > low ? e->most_low : low;
    e->most_high = any && e->most_high > high ? e->most_high : high;
}

/* One of so many, at the source's receptacle: of that it tells. */
static struct volt_range shown_range(const struct judge *j, const struct rail_value *v)
{
    const struct rail   *r = &j->book->rail;
    const struct reading one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    return volt_range_noise(&r->trust, &one, r->ma, volt_noise(volt_noise_step(SHOWN_MOST), r->trust.noise_uv, v->n));
}

static void show(const struct judge *j, struct shown *s, const struct rail_value *v)
{
    struct volt_range at = shown_range(j, v);
    int64_t           u_ua = judge_amp_uncertainty(j, v, SHOWN_MOST);

    extend(&s->uv, s->count, at.low_uv, at.high_uv);
    extend(&s->ua, s->count, v->ua - u_ua, v->ua + u_ua);
    s->sum_uv += (at.low_uv + at.high_uv) / 2;
    s->sum_ua += v->ua;
    s->count++;
}

/* A single reading, taken after the last mean began, that is surely something else. */
static bool changed_just_now(const struct judge *j, const struct shown *s, const struct rail_value *v)
{
    struct volt_range at = shown_range(j, v);
    int64_t           u_ua = judge_amp_uncertainty(j, v, SHOWN_MOST);

    return at.high_uv < s->uv.least_low || at.low_uv > s->uv.most_high || v->ua + u_ua < s->ua.least_low || v->ua - u_ua > s->ua.most_high;
}

static enum lately lately(struct judge *j, const struct contract *c, struct shown *s)
{
    unsigned                 count, limiting = 0, clear = 0;
    const struct rail_value *v = judge_statics(j, &count), *last = &j->book->rail.loose;
    int64_t                  low_uv = j->book->rail.steady.window.low_uv;

    *s = (struct shown){ .count = 0 };
    for (unsigned n = 0; n < count && j->event->t_ns - v[n].t_ns <= FLAG_NS + 2 * FLAG_NS / 5; n++) {
        if (v[n].ua == RECORD_NO_READING)
            return LATELY_UNREAD;
        limiting += v[n].ua >= (int64_t)c->ma * UA_A_MA - tolerance_ua(j, c->ma) && judge_against(j, &v[n], low_uv) == RAIL_BELOW;
        clear += v[n].ua < (int64_t)c->ma * UA_A_MA - CLEAR_UA;
        show(j, s, &v[n]);
    }
    if (s->count < FLAG_VALUES)
        return LATELY_UNREAD;
    count = s->count;
    if (last->frame && last->ua != RECORD_NO_READING && last->t_ns > v[0].t_ns && changed_just_now(j, s, last))
        show(j, s, last);
    return limiting == count ? LATELY_LIMITING : clear == count ? LATELY_CLEAR : LATELY_BETWEEN;
}

/* What was told may be of any moment: inside where it is surely no further than this from what was between the least and the greatest. */
static enum fit told_fit(int64_t told, const struct extent *e, int64_t within)
{
    if (told < e->least_low - within)
        return FIT_BELOW;
    if (told > e->most_high + within)
        return FIT_ABOVE;
    return told >= e->least_high - within && told <= e->most_low + within ? FIT_INSIDE : FIT_UNSURE;
}

/* What was read just before the message is what VBUS did then, where both go by one clock. */
static void flag_fail(struct judge *j, const struct outcome *o)
{
    if (rail_align_ns(j->event->port) > 0)
        judge_undecided(j, o, CAUSE_TIE);
    else
        judge_fail(j, o);
}

static void flag_tell(struct judge *j, struct outcome *o, const struct shown *shown, bool volts, bool amps)
{
    enum fit mv = volts ? told_fit(o->values[0] * UV_OF_MV, &shown->uv, (o->values[1] / 20 + TOLD_MV) * UV_OF_MV) : FIT_INSIDE;
    enum fit ma = amps ? told_fit(o->values[2] * UA_A_MA, &shown->ua, TOLD_MA * UA_A_MA) : FIT_INSIDE;

    o->sentence = mv == FIT_BELOW || mv == FIT_ABOVE ? FLAG_VOLTS : ma == FIT_BELOW || ma == FIT_ABOVE ? FLAG_AMPS : FLAG_UNSURE;
    if (o->sentence != FLAG_UNSURE)
        flag_fail(j, o);
    else if (mv == FIT_UNSURE || ma == FIT_UNSURE)
        judge_undecided(j, o, CAUSE_UNCERTAINTY);
    else
        judge_pass(j);
}

void pps_check_flag(struct judge *j, const struct event *e)
{
    const struct speech   *s = e->speech;
    const struct contract *c = &e->port->contract;
    struct shown           shown;

    if (!c->held || c->supply != SUPPLY_PPS || s->side != SIDE_SOURCE || !s->data || s->size < STATUS_BYTES)
        return;
    enum lately state = lately(j, c, &shown);

    if (state == LATELY_BETWEEN)
        return;
    struct outcome o = judge_outcome(j, e);
    int32_t        told_mv = s->data[0] | s->data[1] << 8, told_ma = s->data[2];
    bool           flag = s->data[3] & LIMIT_FLAG;

    outcome_evidence(&o, c->frame);
    outcome_evidence(&o, e->frame);
    if (state == LATELY_UNREAD) {
        o.sentence = FLAG_UNREAD;
        judge_undecided(j, &o, CAUSE_NO_READING);
        return;
    }
    o.values[0] = (int64_t)told_mv * VOLT_UNIT_MV;
    o.values[1] = shown.sum_uv / shown.count / UV_OF_MV;
    o.values[2] = (int64_t)told_ma * AMP_UNIT_MA;
    o.values[3] = shown.sum_ua / shown.count / UA_A_MA;
    if (flag != (state == LATELY_LIMITING)) {
        o.sentence = flag ? FLAG_SET : FLAG_CLEAR;
        flag_fail(j, &o);
    } else {
        flag_tell(j, &o, &shown, told_mv != VOLT_UNKNOWN, told_ma != AMP_UNKNOWN);
    }
}

/* pps.timeout-action */

static bool ends_silence(const struct event *e)
{
    return e->speech->player == player_source(e->port) &&
           (e->speech->m.index == MESSAGE_INDEX(CLASS_CONTROL, CONTROL_SOFT_RESET) ||
            e->speech->m.index == MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES));
}

/* The source ended it, but not by a Hard Reset. */
static void action_tell(struct judge *j, const struct event *e, struct silence *s, unsigned sentence)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome(j, e);

    s->held = false;
    if (judge_silenced_since(j, s->begin_ns))
        return;
    o.sentence = (uint8_t)sentence;
    o.values[0] = sentence == ACTION_WRONG ? e->speech->m.index : 0;
    o.values[5] = e->t_ns - s->t_ns;
    outcome_evidence(&o, s->frame);
    outcome_evidence(&o, e->frame);
    if (p->loss_frame && p->loss_to_ns >= e->t_ns - INT64_C(1000000000))
        judge_undecided(j, &o, CAUSE_LOST);
    else if (sentence == ACTION_OFF && rail_align_ns(p) > 0) /* the Hard Reset may be yet to come */
        judge_undecided(j, &o, CAUSE_TIE);
    else
        judge_fail(j, &o);
}

/* VBUS is gone: without CC it may have been unplugged. */
static void action_contract_ended(struct judge *j, const struct event *e, struct silence *s)
{
    bool off = e->contract->ended_by == CONTRACT_SUPPLY_LOST && e->port->cc_seen && e->port->attached;

    if (s->held && off && e->t_ns - s->t_ns > judge_window(j, ACTION_AFTER).low_ns)
        action_tell(j, e, s, ACTION_OFF);
    else
        s->held = s->held && e->contract->ended_by == CONTRACT_HARD_RESET;
}

void pps_check_action(struct judge *j, const struct event *e)
{
    struct silence    *s = judge_state(j, e->port);
    const struct port *p = e->port;

    if (e->kind == EVENT_CONTRACT || e->kind == EVENT_RENEWED) {
        *s = (struct silence){ .held = p->contract.supply == SUPPLY_PPS, .frame = p->request.frame, .begin_ns = p->request.t_ns,
                               .t_ns = p->request.end_ns };
        return;
    }
    if (e->kind == EVENT_CONTRACT_END) {
        action_contract_ended(j, e, s);
        return;
    }
    /* Somebody else may have been plugged in since, and nobody saw it. */
    s->held = s->held && p->begun_frame <= s->frame && !(rail_align_ns(p) > 0 && !p->cc_seen && p->missed_ns > s->t_ns);
    if (!s->held)
        return;
    bool past = e->t_ns - s->t_ns > judge_window(j, ACTION_AFTER).low_ns;

    if (e->kind == EVENT_HARD_RESET) {
        if (past && judge_reset_origin(j) != ORIGIN_SINK && !judge_silenced_since(j, s->begin_ns))
            judge_pass(j);
        s->held = false;
    } else if (e->speech->side == SIDE_SINK) {
        s->held = false; /* the sink spoke, or asked */
    } else if (past && ends_silence(e)) {
        action_tell(j, e, s, ACTION_WRONG);
    }
}
