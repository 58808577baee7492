/* How long swaps, resets of data and the way to them take. */
#include "rules/time_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

static bool accepted(const struct ask *a)
{
    return a->end == ASK_ANSWERED && a->answer_index == CONTROL(ACCEPT);
}

static void step_stop(struct judge *j, const struct port *p, struct swap_step_wait *s)
{
    s->from.frame = 0;
    judge_listen(j, p, false);
}

/* A swap is accepted by the message in hand: what comes next is listened to. */
static void step_begin(struct judge *j, const struct event *e, struct swap_step_wait *s)
{
    const struct ask *a = judge_ask(j);

    if (!accepted(a) || (judge_rule(j)->applies != APPLIES_ALL && !sequence_applies(j, e->port, a->player)))
        return;
    kept_begin(&s->from, e->speech);
    s->old_source = (uint8_t)player_source(e->port);
    s->epr = e->port->epr_mode || !e->port->epr_mode_known;
    s->second = false;
    judge_listen(j, e->port, true);
}

/* Is there anything to do with this event? Then the message that is waited for is in hand. */
static bool step_heard(struct judge *j, const struct event *e, struct swap_step_wait *s)
{
    kept_look(&s->from, e->port);
    if (e->kind == (enum event_kind)WAKE_ASK) {
        step_begin(j, e, s);
        return false;
    }
    if (!s->from.frame)
        return false;
    if (e->kind == (enum event_kind)WAKE_HEARD && e->speech->m.set == SET_SOP && e->speech->m.index != CONTROL(SOFT_RESET))
        return e->frame != s->from.frame;
    if (e->kind != (enum event_kind)WAKE_HEARD || e->speech->m.set == SET_SOP)
        step_stop(j, e->port, s); /* a Hard Reset, a Soft_Reset, an attach, a detach */
    return false;
}

/* never: the parameter after whose time it counts as never taken, which other rules tell. */
static void step_judge(struct judge *j, const struct event *e, struct swap_step_wait *s, const struct window *w, unsigned never)
{
    const struct port *p = e->port;
    struct span        span = span_between(p, kept_done(&s->from, p), heard_start(p, e->speech));
    struct outcome     o = judge_outcome(j, e);

    if (span.low_ns <= judge_window(j, never).high_ns) {
        o.sentence = SWAP_LATE;
        time_at_most(j, &o, &span, w, sequence_gap(p, s->from.frame, s->from.sent.end_ns));
    }
    step_stop(j, p, s);
}

/* A PS_RDY of the wrong side, which other rules tell; or, where something was missed, of nobody knows who, and whose turn it was. */
static void step_other(struct judge *j, const struct event *e, struct swap_step_wait *s, const struct window *w)
{
    const struct port *p = e->port;
    enum cause         gap = sequence_gap(p, s->from.frame, s->from.sent.end_ns);

    if (gap != CAUSE_NONE) {
        struct span    span = span_between(p, kept_done(&s->from, p), heard_start(p, e->speech));
        struct outcome o = judge_outcome(j, e);

        o.sentence = SWAP_LATE;
        judge_time(j, &o, &span, w, gap, true);
    }
    step_stop(j, p, s);
}

void time_check_pr_swap_off(struct judge *j, const struct event *e)
{
    struct swap_step_wait *s = judge_state(j, e->port);

    if (!step_heard(j, e, s) || e->speech->m.index != CONTROL(PS_RDY))
        return;
    struct window w = judge_window(j, s->epr ? SWAP_STEP_EPR : SWAP_STEP_SPR);

    if (e->speech->player == s->old_source)
        step_judge(j, e, s, &w, SWAP_STEP_NEVER);
    else
        step_other(j, e, s, &w);
}

void time_check_pr_swap_on(struct judge *j, const struct event *e)
{
    struct swap_step_wait *s = judge_state(j, e->port);
    struct window          w = judge_window(j, SWAP_ON);

    if (!step_heard(j, e, s) || e->speech->m.index != CONTROL(PS_RDY))
        return;
    if (!s->second && e->speech->player == s->old_source) {
        kept_begin(&s->from, e->speech);
        s->second = true;
    } else if (s->second && e->speech->player == player_other(s->old_source)) {
        step_judge(j, e, s, &w, SWAP_ON_NEVER);
    } else {
        step_other(j, e, s, &w);
    }
}

void time_check_pr_swap_start(struct judge *j, const struct event *e)
{
    struct swap_step_wait *s = judge_state(j, e->port);
    const struct port     *p = e->port;

    if (e->kind == EVENT_SWAPPED) {
        if (e->swap != SWAP_PR)
            return;
        kept_begin(&s->from, e->speech);
        judge_listen(j, p, true);
        return;
    }
    if (!step_heard(j, e, s) || e->speech->m.index != DATA(SOURCE_CAPABILITIES))
        return;
    struct span    span = span_between(p, kept_done(&s->from, p), heard_start(p, e->speech));
    struct window  w = judge_window(j, 0);
    struct outcome o = judge_outcome(j, e);

    o.sentence = START_NONE; /* judge_time turns it into START_EARLY */
    time_at_least(j, &o, &span, &w, sequence_gap(p, s->from.frame, s->from.sent.end_ns));
    step_stop(j, p, s);
}

void time_check_fr_swap(struct judge *j, const struct event *e)
{
    struct swap_step_wait *s = judge_state(j, e->port);
    struct window          w = judge_window(j, FR_STEP);

    w.high_ns += judge_window(j, FR_COMPLETE).high_ns;
    if (!step_heard(j, e, s) || e->speech->m.index != CONTROL(PS_RDY))
        return;
    if (e->speech->player == s->old_source)
        step_judge(j, e, s, &w, FR_NEVER);
    else
        step_other(j, e, s, &w);
}

void time_check_vconn_on(struct judge *j, const struct event *e)
{
    struct swap_step_wait *s = judge_state(j, e->port);
    const struct port     *p = e->port;
    struct window          w = judge_window(j, VCONN_ON);

    if (!step_heard(j, e, s) || e->speech->m.index != CONTROL(PS_RDY))
        return;
    if (p->vconn_known && p->vconn == e->speech->player)
        step_stop(j, p, s); /* it had VCONN on all the time, or says so at the wrong end: another rule's matter */
    else
        step_judge(j, e, s, &w, VCONN_NEVER);
}

/* time.data-reset */

static void data_reset_stop(struct judge *j, const struct port *p, struct data_reset_wait *s)
{
    s->accept.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static void data_reset_begin(struct judge *j, const struct event *e, struct data_reset_wait *s)
{
    const struct port *p = e->port;

    if (!accepted(judge_ask(j)) || !sequence_applies(j, p, judge_ask(j)->player))
        return;
    kept_begin(&s->accept, e->speech);
    s->dfp = (uint8_t)(p->dfp[PLAYER_A] == p->dfp[PLAYER_B] ? PLAYER_UNKNOWN : p->dfp[PLAYER_A] ? PLAYER_A : PLAYER_B);
    judge_listen(j, p, true);
    judge_wake_at(j, p, kept_done(&s->accept, p).late_ns + judge_window(j, DATA_RESET_FAIL).high_ns);
}

static void data_reset_complete(struct judge *j, const struct event *e, struct data_reset_wait *s)
{
    const struct port *p = e->port;
    struct span        span = span_between(p, kept_done(&s->accept, p), heard_start(p, e->speech));
    struct window      w = judge_window(j, DATA_RESET_MOST);
    struct outcome     o = judge_outcome(j, e);

    w.has_low = false;
    o.sentence = DATA_RESET_LATE;
    time_at_most(j, &o, &span, &w, sequence_gap(p, s->accept.frame, s->accept.sent.end_ns));
}

static void data_reset_missing(struct judge *j, const struct port *p, const struct data_reset_wait *s)
{
    struct outcome o = judge_outcome_at(j, kept_last_frame(&s->accept), s->accept.sent.start_ns);
    enum cause     gap = sequence_gap(p, s->accept.frame, s->accept.sent.end_ns);

    outcome_by(&o, s->dfp <= PLAYER_B ? p->role[s->dfp] : SIDE_UNKNOWN, s->dfp);
    o.sentence = DATA_RESET_NEVER;
    o.values[5] = judge_window(j, DATA_RESET_FAIL).high_ns;
    o.parameter = judge_parameter(j, DATA_RESET_FAIL);
    outcome_evidence(&o, s->accept.frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

/* The wait began when the GoodCRC to Accept was not yet known. */
static void data_reset_time(struct judge *j, const struct event *e, struct data_reset_wait *s)
{
    int64_t over_ns = kept_done(&s->accept, e->port).late_ns + judge_window(j, DATA_RESET_FAIL).high_ns + 1;

    if (over_ns > e->t_ns) {
        judge_wake_at(j, e->port, over_ns);
        return;
    }
    data_reset_missing(j, e->port, s);
    data_reset_stop(j, e->port, s);
}

void time_check_data_reset(struct judge *j, const struct event *e)
{
    struct data_reset_wait *s = judge_state(j, e->port);

    kept_look(&s->accept, e->port);
    if (e->kind == (enum event_kind)WAKE_ASK) {
        data_reset_begin(j, e, s);
    } else if (!s->accept.frame) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        data_reset_time(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        if (e->speech->m.set != SET_SOP || e->speech->m.index != CONTROL(DATA_RESET_COMPLETE))
            return;
        data_reset_complete(j, e, s);
        data_reset_stop(j, e->port, s);
    } else { /* a Hard Reset, an attach, a detach */
        data_reset_stop(j, e->port, s);
    }
}

/* time.sink-tx */

enum { RP_UNKNOWN = 0, RP_1_5A = 2 }; /* CC_STATE: traces/FORMAT.md */

static void tx_note(const struct event *e, struct sink_tx *s)
{
    uint8_t rp = e->kind == EVENT_CC ? e->record->cc.rp : RP_UNKNOWN;

    if (s->seen && s->rp == rp)
        return;
    s->changed = s->seen && rp != RP_UNKNOWN;
    s->seen = e->kind == EVENT_CC;
    s->rp = rp;
    s->since = edge_moment(e->port, EDGE_STATE, e->frame, e->t_ns, e->record ? e->record->flags : 0);
}

/* Does the message in hand open an exchange of the source's own? */
static bool tx_opens(const struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct ask    *a = s->player <= PLAYER_B ? judge_open_ask(j, SET_SOP, s->player) : NULL;

    return a && a->start_ns == s->start_ns && !a->asked && !a->owed && !(s->m.chunked && s->m.chunk > 0);
}

static bool tx_applies(const struct judge *j, const struct port *p, unsigned player)
{
    return player <= PLAYER_B && rule_applies(judge_rule(j), p->agreed, &p->edition[player], judge_standard(j)) == ANSWER_YES;
}

/* Capabilities may have been asked for by what was missed just before. */
static enum cause tx_gap(const struct judge *j, const struct port *p, const struct speech *s)
{
    if (s->m.index != MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES))
        return CAUSE_NONE;
    return sequence_gap_before(p, SET_SOP, s->start_ns, judge_window(j, TX_ANSWER).high_ns);
}

static void tx_judge(struct judge *j, const struct event *e, const struct sink_tx *s)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome(j, e);
    struct span        span = span_between(p, s->since, heard_start(p, e->speech));
    struct window      w = judge_window(j, TX_TIME);
    enum cause         gap = tx_gap(j, p, e->speech);

    w.has_high = false;
    o.values[0] = e->speech->m.index;
    o.sentence = TX_LATE; /* judge_time turns it into TX_EARLY */
    if (s->rp == RP_1_5A) {
        bool known = s->changed || span_fit(&span, &w) == FIT_INSIDE;

        judge_time(j, &o, &span, &w, !known ? CAUSE_BEGINNING : gap, false);
        return;
    }
    o.sentence = TX_ALLOWED;
    outcome_evidence(&o, s->since.frame);
    outcome_evidence(&o, e->frame);
    if (span.low_ns < 0 || gap != CAUSE_NONE)
        judge_undecided(j, &o, gap != CAUSE_NONE ? gap : CAUSE_UNCERTAINTY);
    else
        judge_fail(j, &o);
}

void time_check_sink_tx(struct judge *j, const struct event *e)
{
    struct sink_tx *s = judge_state(j, e->port);

    if (e->kind != (enum event_kind)WAKE_TALK)
        tx_note(e, s);
    else if (e->speech->side == SIDE_SOURCE && e->port->contract.held && !port_maybe_open(e->port) && s->rp != RP_UNKNOWN && tx_opens(j, e) &&
             tx_applies(j, e->port, e->speech->player))
        tx_judge(j, e, s);
}
