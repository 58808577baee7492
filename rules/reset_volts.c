/* What VBUS does at a reset, and what may have brought a reset about. */
#include "rules/engine_inside.h"
#include "rules/reset_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)

enum { UV_A_MILLI = 1000 }; /* thousandths of a volt */

static void tell(struct judge *j, const struct outcome *o, enum cause gap)
{
    if (gap != CAUSE_NONE)
        judge_undecided(j, o, gap);
    else
        judge_fail(j, o);
}

/* reset.hard-reset-vbus-cycle */

static void cycle_stop(struct judge *j, const struct port *p, struct cycle_state *s)
{
    s->phase = CYCLE_IDLE;
    judge_read(j, p, false);
}

static void cycle_begin(struct judge *j, const struct event *e, struct cycle_state *s)
{
    const struct port *p = e->port;

    cycle_stop(j, p, s);
    if (p->vbus_state != VBUS_PRESENT || (p->cc_seen && p->cc_attach == 0 && p->cc_rp == 0))
        return;
    s->phase = CYCLE_FALLING;
    s->reset = record_wire(e->record);
    volt_crossing_start(&s->off, judge_parameter(j, CYCLE_OFF)->max * UV_A_MILLI, false);
    judge_read(j, p, true);
}

static struct window cycle_limit(struct judge *j)
{
    struct window w = judge_window(j, CYCLE_WATCH);

    w.has_low = false;
    w.high_ns += judge_window(j, CYCLE_RECOVER).high_ns + judge_window(j, CYCLE_TURN_ON).high_ns;
    return w;
}

/* VBUS fell so soon after the reset that it may have been before it. */
static bool cycle_untied(const struct port *p, const struct cycle_state *s)
{
    int64_t apart_ns = rail_align_ns(p);

    return apart_ns > 0 && s->off.before_ns < s->reset.end_ns + apart_ns;
}

static void cycle_returned(struct judge *j, const struct port *p, struct cycle_state *s)
{
    struct outcome o = judge_outcome_at(j, s->on.frame, s->reset.start_ns);
    struct span    span = span_between(p, s->off_edge, volt_crossing_edge(p, &s->on, false));
    struct window  w = cycle_limit(j);

    o.sentence = CYCLE_LATE;
    o.values[0] = judge_parameter(j, CYCLE_ON)->min;
    o.values[1] = judge_parameter(j, CYCLE_OFF)->max;
    outcome_evidence(&o, s->reset.frame);
    if (!judge_silenced_since(j, s->reset.start_ns))
        judge_time(j, &o, &span, &w, cycle_untied(p, s) ? CAUSE_TIE : CAUSE_NONE, false);
    cycle_stop(j, p, s);
}

static void cycle_missing(struct judge *j, const struct port *p, struct cycle_state *s, enum cause cause)
{
    struct outcome o = judge_outcome_at(j, s->reset.frame, s->reset.start_ns);

    o.sentence = CYCLE_MISSING;
    o.values[5] = cycle_limit(j).high_ns;
    outcome_evidence(&o, s->reset.frame);
    outcome_evidence(&o, s->off.frame);
    if (!judge_silenced_since(j, s->reset.start_ns))
        tell(j, &o, cause == CAUSE_NONE && cycle_untied(p, s) ? CAUSE_TIE : cause);
    cycle_stop(j, p, s);
}

/* How long the fall is waited for: whether it comes at all is for another rule. */
static int64_t fall_due_ns(const struct cycle_state *s)
{
    return s->reset.end_ns + INT64_C(2000000000);
}

static void cycle_row(struct judge *j, const struct port *p, struct cycle_state *s, const struct volt_trust *t, const struct reading *r)
{
    if (r->t_ns < s->reset.start_ns || r->uv == RECORD_NO_READING)
        return;
    if (s->phase == CYCLE_FALLING && r->t_ns > fall_due_ns(s)) {
        cycle_stop(j, p, s);
    } else if (s->phase == CYCLE_FALLING && volt_crossing_take(&s->off, t, r, s->reset.start_ns)) {
        s->phase = CYCLE_RETURNING;
        s->unsure = false;
        s->off_edge = volt_crossing_edge(p, &s->off, false);
        volt_crossing_start(&s->on, judge_parameter(j, CYCLE_ON)->min * UV_A_MILLI, true);
    } else if (s->phase == CYCLE_RETURNING) {
        s->unsure = s->unsure || volt_mean_range(t, r, 0, 1).high_uv >= judge_parameter(j, CYCLE_ON)->min * UV_A_MILLI;
        if (volt_crossing_take(&s->on, t, r, s->off.before_ns))
            cycle_returned(j, p, s);
        else if (r->t_ns > s->off_edge.late_ns + 2 * cycle_limit(j).high_ns)
            cycle_missing(j, p, s, s->unsure ? CAUSE_UNCERTAINTY : CAUSE_NONE);
    }
}

/* Readings ended, or nobody is there any more. */
static void cycle_end(struct judge *j, const struct event *e, struct cycle_state *s)
{
    const struct port *p = e->port;
    int64_t            due_ns = s->off_edge.late_ns + cycle_limit(j).high_ns;

    if (s->phase != CYCLE_RETURNING || e->kind == EVENT_DETACH || e->kind == EVENT_ATTACH || e->t_ns <= due_ns)
        cycle_stop(j, p, s);
    else
        cycle_missing(j, p, s, s->unsure ? CAUSE_UNCERTAINTY : s->on.before_ns > due_ns ? CAUSE_NONE : CAUSE_NO_READING);
}

void reset_check_cycle(struct judge *j, const struct event *e)
{
    struct cycle_state *s = judge_state(j, e->port);

    if (s->phase != CYCLE_IDLE && e->kind == (enum event_kind)WAKE_READINGS) {
        struct volt_trust t = volt_trust(j, e->port);

        for (unsigned k = 0; k < judge_readings(j) && s->phase != CYCLE_IDLE; k++) {
            struct reading r = judge_reading(j, k);

            cycle_row(j, e->port, s, &t, &r);
        }
    } else if (s->phase != CYCLE_IDLE) {
        cycle_end(j, e, s);
    }
    if (e->kind == EVENT_HARD_RESET)
        cycle_begin(j, e, s);
}

/* reset.soft-reset-keeps-vbus */

static void keeps_stop(struct judge *j, const struct port *p, struct keeps_state *s)
{
    s->accept_frame = 0;
    judge_read(j, p, false);
}

static void keeps_begin(struct judge *j, const struct event *e, struct keeps_state *s)
{
    const struct port *p = e->port;

    if (judge_ask(j)->end != ASK_ANSWERED || !p->contract.held || !p->vbus_seen)
        return;
    *s = (struct keeps_state){ .accept_frame = e->frame, .reset_frame = judge_ask(j)->sent.frame, .t_ns = e->t_ns,
                               .window = volt_window(j, &p->contract, KEEPS_WINDOW, true), .ma = p->contract.ma };
    /* Where VBUS had not come to the contract's level yet, that is another matter. */
    struct volt_trust t = volt_trust(j, p);
    struct reading    r;

    if (judge_reading_before(j, &r)) {
        struct volt_range v = volt_peak_range(&t, &r, s->ma, 1);

        s->window.known = s->window.known && v.high_uv >= s->window.low_uv && v.low_uv <= s->window.high_uv;
    }
    if (!s->window.known || p->epr_mode != p->contract.epr)
        s->accept_frame = 0;
    else
        judge_read(j, p, true);
}

/* Where the noise is not known, one reading alone proves nothing, two in a row do. */
static void keeps_row(struct keeps_state *s, const struct volt_trust *t, const struct reading *r)
{
    struct volt_range v;

    if (r->uv == RECORD_NO_READING || s->failed || r->t_ns < s->t_ns)
        return;
    v = volt_peak_range(t, r, s->ma, ++s->readings);
    if (v.low_uv >= s->window.low_uv && v.high_uv <= s->window.high_uv) {
        s->previous.frame = 0;
    } else if (v.high_uv >= s->window.low_uv && v.low_uv <= s->window.high_uv) {
        s->unsure = true;
        s->previous.frame = 0;
    } else if (t->noise_known || s->previous.frame) {
        s->failed = true;
        s->beyond = s->previous.frame ? s->previous : *r;
    } else {
        s->previous = *r;
        s->unsure = true;
    }
}

static void keeps_end(struct judge *j, const struct port *p, struct keeps_state *s)
{
    struct outcome o = judge_outcome_at(j, s->accept_frame, s->t_ns);
    int64_t        apart_ns = rail_align_ns(p);

    o.player = (uint8_t)player_source(p);
    o.values[0] = s->beyond.uv / 1000;
    o.values[1] = s->window.low_uv / 1000;
    o.values[2] = s->window.high_uv / 1000;
    outcome_evidence(&o, s->reset_frame);
    outcome_evidence(&o, s->accept_frame);
    if (judge_silenced_since(j, s->t_ns)) {
        /* What went wrong is told. */
    } else if (s->failed) {
        o.frame = s->beyond.frame;
        o.t_ns = s->beyond.t_ns;
        o.sentence = s->beyond.uv < s->window.low_uv ? KEEPS_BELOW : KEEPS_ABOVE;
        o.has_measured = o.has_low = o.has_high = true;
        o.measured = s->beyond.uv;
        o.low = s->window.low_uv;
        o.high = s->window.high_uv;
        o.per_unit = 1000000;
        o.unit = "V";
        o.parameter = s->window.parameter;
        outcome_evidence(&o, s->beyond.frame);
        if (apart_ns > 0 && (s->beyond.t_ns < s->t_ns + apart_ns || s->beyond.t_ns > j->event->t_ns - apart_ns))
            judge_undecided(j, &o, CAUSE_TIE);
        else
            judge_fail(j, &o);
    } else if (s->unsure || s->readings == 0) {
        o.sentence = s->unsure ? KEEPS_UNSURE : KEEPS_UNREAD;
        judge_undecided(j, &o, s->unsure ? CAUSE_UNCERTAINTY : CAUSE_NO_READING);
    } else {
        judge_pass_at(j, s->t_ns);
    }
    keeps_stop(j, p, s);
}

void reset_check_keeps_vbus(struct judge *j, const struct event *e)
{
    struct keeps_state *s = judge_state(j, e->port);
    const struct port  *p = e->port;

    if (s->accept_frame && e->kind == (enum event_kind)WAKE_READINGS) {
        struct volt_trust t = volt_trust(j, p);

        for (unsigned k = 0; k < judge_readings(j); k++) {
            struct reading r = judge_reading(j, k);

            keeps_row(s, &t, &r);
        }
        return;
    }
    /* From an accepted swap of power roles on VBUS has another master. */
    if (e->kind == (enum event_kind)WAKE_ASK && judge_ask(j)->index != CONTROL(SOFT_RESET)) {
        if (s->accept_frame && judge_ask(j)->end == ASK_ANSWERED && judge_ask(j)->answer_index == CONTROL(ACCEPT))
            keeps_end(j, p, s);
        return;
    }
    if (s->accept_frame && e->kind == EVENT_ANSWERED && e->request->state != REQUEST_ACCEPTED)
        return;
    /* Pulled out, or nothing was said any more after VBUS went: nobody knows that it was not unplugged. */
    if (s->accept_frame && (e->kind == EVENT_DETACH || (e->kind == EVENT_END && s->failed && p->last_packet_ns < s->beyond.t_ns)))
        keeps_stop(j, p, s);
    else if (s->accept_frame)
        keeps_end(j, p, s);
    if (e->kind == (enum event_kind)WAKE_ASK)
        keeps_begin(j, e, s);
}

/* reset.unexplained */

/* Looks into the readings only where they may show a cause. */
static void unexplained_power(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    struct volt_window w;
    int32_t            least_uv, most_uv;
    bool               look = false;

    if (p->contract.held) {
        w = volt_window(j, &p->contract, UNEXPLAINED_WINDOW, false);
        look = overload_possible(j, e, UNEXPLAINED_OVERLOAD) ||
               (w.known && judge_volts_range(j, &least_uv, &most_uv) && (least_uv < w.low_uv || most_uv > w.high_uv));
    }
    judge_read(j, p, look);
}

/* While a change was accepted and is not ready, VBUS is on its way. */
static void unexplained_rows(struct judge *j, const struct event *e, struct unexplained_state *s)
{
    const struct port *p = e->port;
    struct volt_window w = volt_window(j, &p->contract, UNEXPLAINED_WINDOW, false);

    if (!p->contract.held || !w.known)
        return;
    overload_take(j, e, UNEXPLAINED_OVERLOAD, &s->overload);
    if (p->request.held && p->request.state == REQUEST_ACCEPTED)
        return;
    for (unsigned k = judge_readings(j); k-- > 0;) {
        struct reading r = judge_reading(j, k);

        if (r.uv == RECORD_NO_READING || (r.uv >= w.low_uv && r.uv <= w.high_uv))
            continue;
        s->outside_ns = r.t_ns;
        return;
    }
}

static bool plugged_since(const struct unexplained_state *s, int64_t since_ns)
{
    return s->plug_ns && s->plug_ns >= since_ns;
}

/* Something was plugged or unplugged on another port. */
static bool plugged_elsewhere(struct judge *j, const struct port *p, int64_t since_ns)
{
    for (unsigned k = 0; k < ENGINE_PORTS; k++) {
        const struct port *other = bench_port(p->bench, k);

        if (other && other != p && j->engine->books[k] && plugged_since(judge_state(j, other), since_ns))
            return true;
    }
    return false;
}

/* Who may have given up waiting for PS_RDY, whichever of its timers the standard means for what was asked for. */
static bool waited_for_ready(struct judge *j, const struct event *e, int64_t since_ns)
{
    const struct request *q = &e->port->request;

    return q->held && q->state == REQUEST_ACCEPTED && q->answer_ns >= since_ns &&
           e->t_ns - q->answer_ns >= judge_window(j, UNEXPLAINED_READY).low_ns;
}

static bool explained(struct judge *j, const struct event *e, const struct unexplained_state *s, int64_t since_ns)
{
    const struct port *p = e->port;

    /* Half of a power swap: whoever waits for the other half gives up in the end. */
    return p->swap == SWAP_PR || p->swap == SWAP_FR || judge_unanswered_ns(j) >= since_ns || p->copy_ns >= since_ns || (p->bad_ns >= since_ns && p->missed_ns < since_ns) ||
           (s->overload.last_ns && s->overload.last_ns >= since_ns) || (s->outside_ns && s->outside_ns >= since_ns) ||
           j->engine->last_mark_ns >= since_ns || plugged_elsewhere(j, p, since_ns);
}

static void unexplained_tell(struct judge *j, struct causeless *r)
{
    struct outcome o = judge_outcome_at(j, r->frame, r->t_ns);

    o.sentence = r->soft ? UNEXPLAINED_SOFT : UNEXPLAINED_HARD;
    o.values[0] = r->t_ns - r->since_ns;
    outcome_evidence(&o, r->contract_frame);
    outcome_evidence(&o, r->frame);
    if (r->frame)
        tell(j, &o, (enum cause)r->gap);
    r->frame = 0;
}

/* An early reset in a PPS contract, unless another after the same silence made time.pps-timeout tell of both. */
static void impatient_tell(struct judge *j, struct unexplained_state *s)
{
    if (s->impatient_again && judge_silenced_since(j, s->impatient.t_ns + 1))
        s->impatient.frame = 0;
    unexplained_tell(j, &s->impatient);
    s->impatient_again = false;
}

/* The decision: nothing failed before it either, of what was judged until now. */
static void unexplained_settle(struct judge *j, const struct port *p, struct unexplained_state *s)
{
    struct causeless r = s->reset;

    s->reset.frame = 0;
    judge_wake_at(j, p, INT64_MAX);
    if (judge_anything_failed_between(j, r.t_ns - INT64_C(1000000000), r.t_ns - 1) || judge_silenced_since(j, r.since_ns))
        return; /* the reset is what came of it */
    if (r.waited || judge_anything_failed_between(j, r.since_ns, r.t_ns - 1)) {
        judge_pass_at(j, r.t_ns);
    } else if (r.silence_ns) {
        impatient_tell(j, s);
        s->impatient = r;
    } else {
        unexplained_tell(j, &r);
    }
}

static enum cause unexplained_gap(const struct port *p, int64_t since_ns)
{
    if (p->loss_frame && p->loss_to_ns >= since_ns)
        return CAUSE_LOST;
    return p->bad_ns >= since_ns ? CAUSE_BAD_PACKET : p->first_ns > since_ns && p->attach_seen == ATTACH_UNSEEN ? CAUSE_BEGINNING : CAUSE_NONE;
}

/* How long the sink of a PPS contract had been silent, where that may be why the source resets; else 0. */
static int64_t pps_silence_ns(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    int64_t            silence_ns = e->t_ns - p->request.end_ns;

    return p->contract.supply == SUPPLY_PPS && p->request.frame && silence_ns >= judge_window(j, UNEXPLAINED_SILENCE).high_ns ? silence_ns : 0;
}

/* How far back a cause may lie. A silence of the sink that goes on until the reset counts as a whole. */
static int64_t unexplained_since_ns(struct judge *j, const struct event *e, bool silent)
{
    const struct port *p = e->port;
    int64_t            since_ns = e->t_ns - judge_window(j, p->contract.supply == SUPPLY_PPS ? UNEXPLAINED_CAUSE_PPS : UNEXPLAINED_CAUSE).high_ns;

    return silent && p->request.t_ns < since_ns ? p->request.t_ns : since_ns;
}

static void unexplained_reset(struct judge *j, const struct event *e, struct unexplained_state *s, bool soft)
{
    const struct port     *p = e->port;
    const struct contract *c = &p->contract;
    bool    in_contract = soft ? c->held : c->frame && !c->held && c->ended_by == CONTRACT_HARD_RESET && c->until_ns == e->t_ns;
    int64_t silence_ns = soft ? 0 : pps_silence_ns(j, e), since_ns = unexplained_since_ns(j, e, silence_ns > 0);

    if (s->reset.frame)
        unexplained_settle(j, p, s);
    if (!in_contract)
        return;
    if (explained(j, e, s, since_ns)) {
        judge_pass(j);
        return;
    }
    s->reset = (struct causeless){ .frame = e->frame, .contract_frame = c->frame, .t_ns = e->t_ns, .since_ns = since_ns,
                                   .silence_ns = silence_ns, .soft = soft,
                                   .waited = waited_for_ready(j, e, since_ns), .gap = (uint8_t)unexplained_gap(p, since_ns) };
    judge_wake_at(j, p, e->t_ns + INT64_C(1000000000));
}

/* Before the reset itself is judged: it may be the second one after the same silence. */
static void unexplained_contract_ended(struct judge *j, const struct event *e, struct unexplained_state *s)
{
    int64_t silence_ns = pps_silence_ns(j, e), same_ns = judge_window(j, UNEXPLAINED_SAME).high_ns;

    if (s->reset.frame)
        unexplained_settle(j, e->port, s);
    if (e->contract->ended_by == CONTRACT_HARD_RESET && s->impatient.frame && silence_ns &&
        silence_ns - s->impatient.silence_ns <= same_ns && s->impatient.silence_ns - silence_ns <= same_ns)
        s->impatient_again = true;
}

void reset_check_unexplained(struct judge *j, const struct event *e)
{
    struct unexplained_state *s = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_POWER:
    case EVENT_CONTRACT: /* the record in hand may go on into it */
        unexplained_power(j, e);
        break;
    case WAKE_READINGS:
        unexplained_rows(j, e, s);
        break;
    case EVENT_HARD_RESET:
        unexplained_reset(j, e, s, false);
        break;
    case WAKE_TALK:
        unexplained_reset(j, e, s, true);
        break;
    case EVENT_CONTRACT_END:
        unexplained_contract_ended(j, e, s);
        break;
    case EVENT_ATTACH:
    case EVENT_DETACH:
        s->plug_ns = e->t_ns;
        break;
    default: /* WAKE_TIME, EVENT_END */
        if (s->reset.frame)
            unexplained_settle(j, e->port, s);
        if (e->kind == EVENT_END)
            impatient_tell(j, s);
        break;
    }
}
