/* Swaps of power role, data role and VCONN, message by message. */
#include "rules/swap_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

static void tell(struct judge *j, const struct outcome *o, enum cause gap)
{
    if (gap != CAUSE_NONE)
        judge_undecided(j, o, gap);
    else
        judge_fail(j, o);
}

static bool swap_accepted(const struct ask *ask)
{
    return ask->end == ASK_ANSWERED && ask->answer_index == CONTROL(ACCEPT);
}

/* Something may have been missed between the question and its Accept, which then may belong to that. */
static enum cause asked_gap(const struct ask *ask)
{
    return ask->gap ? (enum cause)ask->cause : CAUSE_NONE;
}

/* swap.pr-order, swap.fr-order */

static void power_stop(struct judge *j, const struct port *p, struct power_swap *s)
{
    s->step = STEP_NONE;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

/* The step was taken by the message in hand; the next one is waited for. */
static void power_step(struct judge *j, const struct event *e, struct power_swap *s, enum swap_step next)
{
    s->step = (uint8_t)next;
    kept_begin(&s->last, e->speech);
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, e->speech->end_ns + judge_window(j, ORDER_STEP).high_ns);
}

static void power_begin(struct judge *j, const struct event *e, struct power_swap *s)
{
    const struct ask *ask = judge_ask(j);

    if (!swap_accepted(ask) || (judge_rule(j)->applies == APPLIES_R3 && !sequence_applies(j, e->port, ask->player)))
        return;
    s->old_source = (uint8_t)player_source(e->port);
    s->asked_frame = ask->sent.frame;
    s->t_ns = e->t_ns;
    s->gap = (uint8_t)asked_gap(ask);
    s->epr = e->port->epr_mode && e->port->epr_mode_known;
    s->epr_unknown = !e->port->epr_mode_known && e->port->agreed != AGREED_R2;
    power_step(j, e, s, STEP_OLD_OFF);
}

/* Whose turn it is: it was the source, or it is going to be. */
static unsigned power_turn(const struct power_swap *s)
{
    return s->step == STEP_OLD_OFF ? s->old_source : player_other(s->old_source);
}

static enum cause power_gap(const struct port *p, const struct power_swap *s)
{
    return s->gap != CAUSE_NONE ? (enum cause)s->gap : sequence_gap(p, s->last.frame, s->last.sent.end_ns);
}

static void power_missing(struct judge *j, const struct port *p, struct power_swap *s, enum cause doubt)
{
    enum cause     gap = power_gap(p, s);
    struct outcome o = judge_outcome_at(j, kept_last_frame(&s->last), s->last.sent.start_ns);

    outcome_by(&o, SIDE_SOURCE, power_turn(s));
    o.sentence = s->step == STEP_OLD_OFF ? ORDER_OLD_MISSING : s->step == STEP_NEW_ON ? ORDER_NEW_MISSING : ORDER_CAPS_MISSING;
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, s->last.frame);
    tell(j, &o, gap != CAUSE_NONE ? gap : doubt);
    power_stop(j, p, s);
}

/* How long the partner waits for this step at the least. */
static int64_t power_patience_ns(struct judge *j, const struct power_swap *s)
{
    switch ((enum swap_step)s->step) {
    case STEP_OLD_OFF:
        return judge_window(j, s->epr ? ORDER_OFF_EPR : ORDER_OFF_SPR).high_ns;
    case STEP_NEW_ON:
        return judge_window(j, ORDER_ON).high_ns;
    case STEP_NONE:
    case STEP_CAPS:
        break;
    }
    return judge_window(j, ORDER_CAPS).low_ns;
}

/* A Hard Reset ends a swap by right; where the step was overdue already, it is what was missing that brought it about. */
static void power_reset(struct judge *j, const struct event *e, struct power_swap *s)
{
    const struct port *p = e->port;
    struct wire        reset = record_wire(e->record);
    struct span        span = span_between(p, kept_done(&s->last, p), edge_start(p, &reset));
    bool               unsure = s->step == STEP_OLD_OFF && s->epr_unknown && span.low_ns < judge_window(j, ORDER_OFF_EPR).high_ns;

    if (span.low_ns >= power_patience_ns(j, s)) {
        power_missing(j, p, s, unsure ? CAUSE_BEGINNING : CAUSE_NONE);
        return;
    }
    judge_pass_at(j, s->t_ns);
    power_stop(j, p, s);
}

static bool power_fits(const struct power_swap *s, const struct speech *speech)
{
    if (speech->player <= PLAYER_B && speech->player != power_turn(s))
        return false;
    return speech->m.index == (s->step == STEP_CAPS ? DATA(SOURCE_CAPABILITIES) : CONTROL(PS_RDY));
}

static void power_wrong(struct judge *j, const struct event *e, struct power_swap *s)
{
    struct outcome o = judge_outcome_at(j, e->frame, e->t_ns);
    unsigned       player = e->speech->player;

    outcome_by(&o, player > PLAYER_B || player == power_turn(s) ? SIDE_SOURCE : SIDE_SINK, player);
    o.sentence = ORDER_WRONG;
    o.values[0] = e->speech->m.index;
    o.values[1] = s->step == STEP_CAPS ? DATA(SOURCE_CAPABILITIES) : CONTROL(PS_RDY);
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, s->last.frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, player > PLAYER_B ? CAUSE_ROLES : power_gap(e->port, s));
    power_stop(j, e->port, s);
}

/* strict: nothing else on SOP may come in between. last: the step that ends it. */
static void power_heard(struct judge *j, const struct event *e, struct power_swap *s, bool strict, enum swap_step last)
{
    enum cause gap = power_gap(e->port, s);

    if (e->speech->m.set != SET_SOP || e->frame == s->last.frame)
        return;
    if (!power_fits(s, e->speech)) {
        if (strict || e->speech->m.index == CONTROL(SOFT_RESET))
            power_wrong(j, e, s);
        return;
    }
    if (gap != CAUSE_NONE) {
        struct outcome o = judge_outcome_at(j, e->frame, s->t_ns);

        outcome_by(&o, SIDE_SOURCE, power_turn(s));
        o.sentence = ORDER_WRONG;
        o.values[0] = o.values[1] = e->speech->m.index;
        judge_undecided(j, &o, gap);
        power_stop(j, e->port, s);
    } else if (s->step == last) {
        judge_pass_at(j, s->t_ns);
        power_stop(j, e->port, s);
    } else {
        power_step(j, e, s, s->step == STEP_OLD_OFF ? STEP_NEW_ON : STEP_CAPS);
    }
}

static void power_follow(struct judge *j, const struct event *e, struct power_swap *s, bool strict, enum swap_step last)
{
    if (s->step != STEP_NONE)
        kept_look(&s->last, e->port);
    if (e->kind == (enum event_kind)WAKE_ASK)
        power_begin(j, e, s);
    else if (s->step == STEP_NONE)
        return;
    else if (e->kind == (enum event_kind)WAKE_HEARD)
        power_heard(j, e, s, strict, last);
    else if (e->kind == (enum event_kind)WAKE_TIME)
        power_missing(j, e->port, s, CAUSE_NONE);
    else if (e->kind == EVENT_HARD_RESET)
        power_reset(j, e, s);
    else
        power_stop(j, e->port, s); /* attach, detach */
}

void swap_check_pr_order(struct judge *j, const struct event *e)
{
    power_follow(j, e, judge_state(j, e->port), true, STEP_CAPS);
}

void swap_check_fr_order(struct judge *j, const struct event *e)
{
    if (e->kind == (enum event_kind)WAKE_TALK && e->speech->side == SIDE_SOURCE && sequence_applies(j, e->port, e->speech->player)) {
        struct outcome o = judge_outcome(j, e);

        o.sentence = ORDER_BY_SOURCE;
        outcome_evidence(&o, e->frame);
        judge_fail(j, &o);
    } else if (e->kind != (enum event_kind)WAKE_TALK && !(e->kind == (enum event_kind)WAKE_ASK && judge_ask(j)->side == SIDE_SOURCE)) {
        power_follow(j, e, judge_state(j, e->port), false, STEP_NEW_ON);
    }
}

/* swap.dr-order */

enum { HEADER_DATA_ROLE = 5 }; /* Port Data Role: Linux include/linux/usb/pd.h */

static void data_stop(struct judge *j, const struct port *p, struct data_swap *s)
{
    if (s->open && !s->failed && (s->seen[PLAYER_A] || s->seen[PLAYER_B]))
        judge_pass_at(j, s->t_ns);
    s->open = false;
    judge_listen(j, p, false);
}

/* What both sides showed in DR_Swap and Accept is what they have to turn over. */
static void data_begin(struct judge *j, const struct event *e, struct data_swap *s)
{
    const struct ask *ask = judge_ask(j);

    if (!swap_accepted(ask))
        return;
    data_stop(j, e->port, s);
    /* A role that one of the two shows wrongly there is message.data-role's. */
    if (ask->player > PLAYER_B || e->speech->player > PLAYER_B || judge_silenced_on(j, e->frame))
        return;
    *s = (struct data_swap){ .open = true, .asked_frame = ask->sent.frame, .accept_frame = e->frame, .t_ns = e->t_ns,
                             .end_ns = e->speech->end_ns, .gap = (uint8_t)asked_gap(ask) };
    s->dfp[ask->player] = !(ask->sent.header >> HEADER_DATA_ROLE & 1);
    s->dfp[e->speech->player] = !e->speech->m.data_bit;
    judge_listen(j, e->port, true);
}

static void data_heard(struct judge *j, const struct event *e, struct data_swap *s)
{
    const struct speech *speech = e->speech;

    if (speech->m.set != SET_SOP || speech->player > PLAYER_B || s->seen[speech->player] || e->frame == s->accept_frame)
        return;
    s->seen[speech->player] = true;
    if (speech->m.data_bit != s->dfp[speech->player]) {
        struct outcome o = judge_outcome(j, e);

        s->failed = true;
        o.sentence = DATA_ROLE_KEPT;
        o.values[0] = speech->m.index;
        o.values[1] = speech->side;
        outcome_evidence(&o, s->asked_frame);
        outcome_evidence(&o, s->accept_frame);
        outcome_evidence(&o, e->frame);
        tell(j, &o, s->gap != CAUSE_NONE ? (enum cause)s->gap : sequence_gap(e->port, s->accept_frame, s->end_ns));
    }
    if (s->seen[PLAYER_A] && s->seen[PLAYER_B])
        data_stop(j, e->port, s);
}

void swap_check_dr_order(struct judge *j, const struct event *e)
{
    struct data_swap *s = judge_state(j, e->port);

    if (e->kind == (enum event_kind)WAKE_ASK)
        data_begin(j, e, s);
    else if (s->open && e->kind == (enum event_kind)WAKE_HEARD)
        data_heard(j, e, s);
    else if (s->open)
        data_stop(j, e->port, s); /* a Hard Reset, a detach, the end */
}

/* swap.vconn-order */

static void vconn_stop(struct judge *j, const struct port *p, struct vconn_swap *s)
{
    s->accept.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

/*
 * The source starts as the VCONN source, but one that sees no plug with electronics does not switch it on, and may not count itself
 * as that. Known is it where the plug has spoken, or a swap was seen, and none can have been missed since.
 */
static bool vconn_source_seen(const struct port *p, const struct vconn_swap *s)
{
    if (!p->vconn_known || p->vconn > PLAYER_B)
        return false;
    return (p->spoken[PLAYER_CABLE] && p->loss_frame <= p->attach_frame) || (s->swapped_frame && p->loss_frame < s->swapped_frame);
}

static void vconn_begin(struct judge *j, const struct event *e, struct vconn_swap *s)
{
    const struct port *p = e->port;

    if (!swap_accepted(judge_ask(j)))
        return;
    kept_begin(&s->accept, e->speech);
    s->asked_frame = judge_ask(j)->sent.frame;
    s->t_ns = e->t_ns;
    s->overdue = false;
    s->new_player = (uint8_t)(vconn_source_seen(p, s) ? player_other(p->vconn) : PLAYER_UNKNOWN);
    judge_listen(j, p, true);
    judge_wake_at(j, p, kept_done(&s->accept, p).late_ns + judge_window(j, VCONN_WAIT).high_ns + 1);
}

static struct outcome vconn_outcome(const struct judge *j, const struct port *p, const struct vconn_swap *s, uint64_t frame,
                                    int64_t t_ns, unsigned player)
{
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    outcome_by(&o, player <= PLAYER_B ? p->role[player] : SIDE_UNKNOWN, player);
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, s->accept.frame);
    return o;
}

static void vconn_missing(struct judge *j, const struct port *p, struct vconn_swap *s)
{
    struct outcome o = vconn_outcome(j, p, s, kept_last_frame(&s->accept), s->t_ns, s->new_player);

    o.sentence = VCONN_MISSING;
    o.values[5] = judge_window(j, VCONN_WAIT).high_ns;
    tell(j, &o, sequence_gap(p, s->accept.frame, s->accept.sent.end_ns));
    vconn_stop(j, p, s);
}

static void vconn_ready(struct judge *j, const struct event *e, struct vconn_swap *s)
{
    const struct port *p = e->port;
    unsigned           player = e->speech->player;
    enum cause         gap = sequence_gap(p, s->accept.frame, s->accept.sent.end_ns);
    struct outcome     o = vconn_outcome(j, p, s, e->frame, e->t_ns, player);

    if (s->new_player <= PLAYER_B && player != s->new_player) {
        o.sentence = VCONN_WRONG;
        outcome_evidence(&o, e->frame);
        tell(j, &o, gap);
    } else {
        struct span   span = span_between(p, kept_done(&s->accept, p), heard_start(p, e->speech));
        struct window w = judge_window(j, VCONN_WAIT);

        w.has_low = false;
        judge_time(j, &o, &span, &w, gap, false);
    }
    vconn_stop(j, p, s);
}

/* The partner may give up from the shortest patience on: then it was the missing PS_RDY. */
static void vconn_reset(struct judge *j, const struct port *p, struct vconn_swap *s, struct edge reset)
{
    struct span span = span_between(p, kept_done(&s->accept, p), reset);

    if (span.low_ns >= judge_window(j, VCONN_WAIT).low_ns)
        vconn_missing(j, p, s);
    else
        vconn_stop(j, p, s);
}

/* What comes late is told where it comes, but not for ever. */
static void vconn_time(struct judge *j, const struct event *e, struct vconn_swap *s)
{
    int64_t wait_ns = judge_window(j, VCONN_WAIT).high_ns;
    int64_t due_ns = kept_done(&s->accept, e->port).late_ns + wait_ns + 1;

    if (s->overdue)
        vconn_missing(j, e->port, s);
    else
        judge_wake_at(j, e->port, e->t_ns < due_ns ? due_ns : due_ns + wait_ns);
    s->overdue = e->t_ns >= due_ns;
}

static void vconn_heard(struct judge *j, const struct event *e, struct vconn_swap *s)
{
    if (e->speech->m.set != SET_SOP || e->frame == s->accept.frame)
        return;
    if (e->speech->m.index == CONTROL(PS_RDY))
        vconn_ready(j, e, s);
    else if (e->speech->m.index == CONTROL(SOFT_RESET))
        vconn_reset(j, e->port, s, heard_start(e->port, e->speech));
}

/* From here on it is not seen any more who sources VCONN. */
static void vconn_note_end(const struct event *e, struct vconn_swap *s)
{
    if (e->kind == EVENT_HARD_RESET || e->kind == EVENT_ATTACH || e->kind == EVENT_DETACH)
        s->swapped_frame = 0;
}

void swap_check_vconn_order(struct judge *j, const struct event *e)
{
    struct vconn_swap *s = judge_state(j, e->port);

    if (s->accept.frame)
        kept_look(&s->accept, e->port);
    vconn_note_end(e, s);
    if (e->kind == EVENT_SWAPPED) {
        s->swapped_frame = e->swap == SWAP_VCONN ? e->frame : s->swapped_frame;
    } else if (e->kind == (enum event_kind)WAKE_ASK) {
        vconn_begin(j, e, s);
    } else if (!s->accept.frame) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        vconn_heard(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        vconn_time(j, e, s);
    } else if (e->kind == EVENT_HARD_RESET) {
        struct wire reset = record_wire(e->record);

        vconn_reset(j, e->port, s, edge_start(e->port, &reset));
    } else if (e->kind == EVENT_END && s->overdue) {
        vconn_missing(j, e->port, s);
    } else {
        vconn_stop(j, e->port, s);
    }
}

/* swap.dual-role-flag */

static void dual_note(const struct event *e, struct dual_role *s)
{
    const struct offer *o = e->offer;

    if (o->player > PLAYER_B || o->epr || o->pdos[0].supply != SUPPLY_FIXED)
        return;
    s->frame[o->player] = o->frame;
    s->set[o->player] = o->pdos[0].dual_role_power;
}

static void dual_judge(struct judge *j, const struct event *e, const struct dual_role *s)
{
    const struct port *p = e->port;
    bool               seen = false, failed = false;

    if (!swap_accepted(judge_ask(j)))
        return;
    for (unsigned k = PLAYER_A; k <= PLAYER_B; k++) {
        struct outcome o = judge_outcome_at(j, s->frame[k], e->t_ns);

        if (!s->frame[k] || p->role[PLAYER_A] == p->role[PLAYER_B])
            continue;
        seen = true;
        if (s->set[k])
            continue;
        failed = true;
        outcome_by(&o, p->role[k], k);
        o.sentence = p->role[k] == SIDE_SOURCE ? DUAL_ROLE_SOURCE : DUAL_ROLE_SINK;
        outcome_evidence(&o, s->frame[k]);
        outcome_evidence(&o, judge_ask(j)->sent.frame);
        outcome_evidence(&o, e->frame);
        tell(j, &o, p->loss_frame > s->frame[k] ? CAUSE_LOST : asked_gap(judge_ask(j)));
    }
    if (seen && !failed)
        judge_pass(j);
}

void swap_check_dual_role(struct judge *j, const struct event *e)
{
    struct dual_role *s = judge_state(j, e->port);

    if (e->kind == EVENT_ANNOUNCED)
        dual_note(e, s);
    else if (e->kind == (enum event_kind)WAKE_ASK)
        dual_judge(j, e, s);
    else
        *s = (struct dual_role){ .frame = { 0, 0 } };
}
