/* What has to follow a reset. */
#include "rules/reset_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

/* Only the upper side of a parameter's window, or only the value of its lower side as the most that is allowed. */
static struct window at_most(struct judge *j, unsigned k, bool least)
{
    struct window w = judge_window(j, k);

    w.high_ns = least ? w.low_ns : w.high_ns;
    w.has_low = false;
    w.has_high = true;
    return w;
}

/* reset.restart-with-caps */

static void restart_stop(struct judge *j, const struct port *p, struct restart_state *s)
{
    s->reset.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static int64_t restart_due_ns(struct judge *j, const struct port *p, const struct restart_state *s)
{
    return edge_end(p, &s->reset).late_ns + at_most(j, RESTART_LIMIT, false).high_ns + 1;
}

static void restart_begin(struct judge *j, const struct event *e, struct restart_state *s)
{
    unsigned source = player_source(e->port);

    restart_stop(j, e->port, s);
    /* A source that has never said anything may not speak USB PD at all. */
    if (source == PLAYER_UNKNOWN || !e->port->spoken[source])
        return;
    s->reset = record_wire(e->record);
    s->sink_spoke = s->overdue = false;
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, restart_due_ns(j, e->port, s));
}

static void restart_heard(struct judge *j, const struct event *e, struct restart_state *s)
{
    const struct speech *speech = e->speech;
    const struct port   *p = e->port;
    struct outcome       o = judge_outcome(j, e);
    enum cause           gap = sequence_gap(p, s->reset.frame, s->reset.end_ns);

    if (speech->m.set != SET_SOP || speech->side != SIDE_SOURCE) {
        s->sink_spoke = s->sink_spoke || (speech->m.set == SET_SOP && speech->side == SIDE_SINK);
        return;
    }
    outcome_evidence(&o, s->reset.frame);
    outcome_evidence(&o, e->frame);
    o.values[0] = speech->m.index;
    if (judge_silenced_since(j, s->reset.start_ns)) {
        /* What went wrong is told. */
    } else if (speech->m.index == DATA(SOURCE_CAPABILITIES)) {
        struct span   span = span_between(p, edge_end(p, &s->reset), heard_start(p, speech));
        struct window w = at_most(j, RESTART_LIMIT, false);

        judge_time(j, &o, &span, &w, gap, true);
    } else {
        o.sentence = RESTART_WRONG;
        if (gap != CAUSE_NONE)
            judge_undecided(j, &o, gap);
        else
            judge_fail(j, &o);
    }
    restart_stop(j, p, s);
}

static void restart_missing(struct judge *j, const struct event *e, struct restart_state *s)
{
    const struct port *p = e->port;
    enum cause         gap = sequence_gap(p, s->reset.frame, s->reset.end_ns);

    if (!judge_silenced_since(j, s->reset.start_ns)) {
        struct outcome o = judge_outcome_at(j, s->reset.frame, s->reset.start_ns);

        o.sentence = RESTART_MISSING;
        o.values[5] = at_most(j, RESTART_LIMIT, false).high_ns;
        outcome_evidence(&o, s->reset.frame);
        if (gap != CAUSE_NONE)
            judge_undecided(j, &o, gap);
        else
            judge_fail(j, &o);
    }
    restart_stop(j, p, s);
}

/* The time is up. Where the sink is still there, what comes late is told where it comes, but not for ever. */
static void restart_time(struct judge *j, const struct event *e, struct restart_state *s)
{
    const struct port *p = e->port;
    bool               sink_there = s->sink_spoke || (p->cc_seen && (p->cc_attach == 1 || p->cc_attach == 2));

    if (s->overdue) {
        restart_missing(j, e, s);
    } else if (!sink_there) {
        restart_stop(j, p, s);
    } else {
        s->overdue = true;
        judge_wake_at(j, p, restart_due_ns(j, p, s) + at_most(j, RESTART_LIMIT, false).high_ns);
    }
}

void reset_check_restart(struct judge *j, const struct event *e)
{
    struct restart_state *s = judge_state(j, e->port);

    if (s->reset.frame && e->kind == (enum event_kind)WAKE_HEARD)
        restart_heard(j, e, s);
    else if (s->reset.frame && e->kind == (enum event_kind)WAKE_TIME)
        restart_time(j, e, s);
    else if (s->reset.frame && s->overdue)
        restart_missing(j, e, s);
    else
        restart_stop(j, e->port, s);
    if (e->kind == EVENT_HARD_RESET)
        restart_begin(j, e, s);
}

/* reset.soft-reset-renegotiates */

static void anew_stop(struct judge *j, const struct port *p, struct anew_state *s)
{
    s->accept.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static void anew_begin(struct judge *j, const struct event *e, struct anew_state *s)
{
    const struct ask *ask = judge_ask(j);

    if (ask->end != ASK_ANSWERED)
        return;
    anew_stop(j, e->port, s);
    kept_begin(&s->accept, e->speech);
    s->reset_frame = ask->sent.frame;
    s->t_ns = e->t_ns;
    s->overdue = s->sink_asked = false;
    s->gap = ask->gap ? ask->cause : CAUSE_NONE;
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, kept_done(&s->accept, e->port).late_ns + at_most(j, ANEW_WAIT, true).high_ns + 1);
}

static enum cause anew_gap(const struct port *p, const struct anew_state *s)
{
    return s->gap != CAUSE_NONE ? (enum cause)s->gap : sequence_gap(p, s->accept.frame, s->accept.sent.end_ns);
}

static void anew_missing(struct judge *j, const struct event *e, struct anew_state *s)
{
    struct outcome o = judge_outcome_at(j, kept_last_frame(&s->accept), s->t_ns);
    enum cause     gap = anew_gap(e->port, s);

    o.sentence = ANEW_MISSING;
    o.values[5] = at_most(j, ANEW_WAIT, true).high_ns;
    outcome_evidence(&o, s->reset_frame);
    outcome_evidence(&o, s->accept.frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
    anew_stop(j, e->port, s);
}

/* The time is up; what comes late is told where it comes, but not for ever. */
static void anew_time(struct judge *j, const struct event *e, struct anew_state *s)
{
    struct window wait = judge_window(j, ANEW_WAIT);
    int64_t       due_ns = kept_done(&s->accept, e->port).late_ns + wait.low_ns + 1;

    if (e->t_ns < due_ns) {
        judge_wake_at(j, e->port, due_ns);
    } else if (!s->overdue) {
        s->overdue = true;
        judge_wake_at(j, e->port, due_ns + wait.high_ns);
    } else {
        anew_missing(j, e, s);
    }
}

static void anew_by_source(struct judge *j, const struct event *e, struct anew_state *s)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome(j, e);
    enum cause         gap = anew_gap(p, s);
    unsigned           index = e->speech->m.index;
    bool               epr = p->epr_mode || !p->epr_mode_known;

    outcome_evidence(&o, s->reset_frame);
    o.values[0] = index;
    if (index == DATA(SOURCE_CAPABILITIES) || (epr && index == EXTENDED(EPR_SOURCE_CAPABILITIES))) {
        struct span   span = span_between(p, kept_done(&s->accept, p), heard_start(p, e->speech));
        struct window w = at_most(j, ANEW_WAIT, true);

        judge_time(j, &o, &span, &w, gap, true);
    } else {
        o.sentence = ANEW_WRONG;
        outcome_evidence(&o, s->accept.frame);
        outcome_evidence(&o, e->frame);
        if (gap != CAUSE_NONE || s->sink_asked)
            judge_undecided(j, &o, gap != CAUSE_NONE ? gap : CAUSE_CROSSING);
        else
            judge_fail(j, &o);
    }
    anew_stop(j, p, s);
}

/* A reset before the capabilities: the sink's patience may have run out, or nothing was owed yet. */
static void anew_reset(struct judge *j, const struct event *e, struct anew_state *s)
{
    if (s->overdue)
        anew_missing(j, e, s);
    else
        anew_stop(j, e->port, s);
}

static void anew_heard(struct judge *j, const struct event *e, struct anew_state *s)
{
    const struct speech *speech = e->speech;

    if (speech->m.set != SET_SOP || e->frame == s->accept.frame)
        return;
    if (speech->m.index == CONTROL(SOFT_RESET))
        anew_reset(j, e, s);
    else if (speech->side == SIDE_SOURCE)
        anew_by_source(j, e, s);
    else
        s->sink_asked = true;
}

void reset_check_anew(struct judge *j, const struct event *e)
{
    struct anew_state *s = judge_state(j, e->port);

    if (s->accept.frame)
        kept_look(&s->accept, e->port);
    if (e->kind == (enum event_kind)WAKE_ASK)
        anew_begin(j, e, s);
    else if (!s->accept.frame)
        return;
    else if (e->kind == (enum event_kind)WAKE_HEARD)
        anew_heard(j, e, s);
    else if (e->kind == (enum event_kind)WAKE_TIME)
        anew_time(j, e, s);
    else if (e->kind == EVENT_HARD_RESET || e->kind == EVENT_END)
        anew_reset(j, e, s);
    else
        anew_stop(j, e->port, s); /* a detach */
}

/* reset.contract-after-reset */

static void contract_stop(struct judge *j, const struct port *p, struct contract_state *s)
{
    s->reset.frame = 0;
    judge_wake_at(j, p, INT64_MAX);
}

/* The sink's last message, as the port model keeps it. */
static bool sink_spoke_since(const struct port *p, uint64_t frame)
{
    for (unsigned k = PLAYER_A; k <= PLAYER_B; k++) {
        const struct sent *last = &p->streams[stream_index(SET_SOP, k)].last;

        if (p->role[k] == SIDE_SINK && last->held && last->frame > frame)
            return true;
    }
    return false;
}

static int64_t contract_due_ns(struct judge *j, const struct port *p, const struct contract_state *s)
{
    return edge_end(p, &s->reset).late_ns + at_most(j, CONTRACT_LIMIT, false).high_ns + 1;
}

static void contract_begin(struct judge *j, const struct event *e, struct contract_state *s)
{
    if (s->reset.frame) {
        s->sink_spoke = s->sink_spoke || sink_spoke_since(e->port, s->reset.frame);
        return; /* one more of a run: the first one counts */
    }
    s->reset = record_wire(e->record);
    s->sink_spoke = s->overdue = false;
    judge_wake_at(j, e->port, contract_due_ns(j, e->port, s));
}

static void contract_made(struct judge *j, const struct event *e, struct contract_state *s)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome_at(j, e->frame, e->t_ns);
    struct window      w = at_most(j, CONTRACT_LIMIT, false);
    struct span        span = span_between(p, edge_end(p, &s->reset), heard_start(p, e->speech));

    if (!judge_silenced_since(j, s->reset.start_ns))
        judge_time(j, &o, &span, &w, sequence_gap(p, s->reset.frame, s->reset.end_ns), false);
    contract_stop(j, p, s);
}

static void contract_missing(struct judge *j, const struct event *e, struct contract_state *s)
{
    const struct port *p = e->port;
    enum cause         gap = sequence_gap(p, s->reset.frame, s->reset.end_ns);

    if (!judge_silenced_since(j, s->reset.start_ns)) {
        struct outcome o = judge_outcome_at(j, s->reset.frame, s->reset.start_ns);

        o.sentence = CONTRACT_MISSING;
        o.values[5] = at_most(j, CONTRACT_LIMIT, false).high_ns;
        outcome_evidence(&o, s->reset.frame);
        if (gap != CAUSE_NONE)
            judge_undecided(j, &o, gap);
        else
            judge_fail(j, &o);
    }
    contract_stop(j, p, s);
}

static void contract_time(struct judge *j, const struct event *e, struct contract_state *s)
{
    const struct port *p = e->port;

    if (s->overdue) {
        contract_missing(j, e, s);
    } else if (!s->sink_spoke && !sink_spoke_since(p, s->reset.frame)) {
        contract_stop(j, p, s);
    } else {
        s->overdue = true;
        judge_wake_at(j, p, contract_due_ns(j, p, s) + at_most(j, CONTRACT_LIMIT, false).high_ns);
    }
}

void reset_check_contract(struct judge *j, const struct event *e)
{
    struct contract_state *s = judge_state(j, e->port);

    if (s->reset.frame && e->kind == EVENT_CONTRACT)
        contract_made(j, e, s);
    else if (s->reset.frame && e->kind == (enum event_kind)WAKE_TIME)
        contract_time(j, e, s);
    else if (s->reset.frame && s->overdue)
        contract_missing(j, e, s);
    else if (e->kind == EVENT_ATTACH || e->kind == EVENT_DETACH || e->kind == EVENT_END)
        contract_stop(j, e->port, s);
    if (e->kind == EVENT_HARD_RESET)
        contract_begin(j, e, s);
}

/* reset.repeated */

static void repeated_end(struct judge *j, struct repeated_state *s)
{
    if (s->count > 0 && !s->told)
        judge_pass_at(j, s->first_ns);
    s->count = 0;
    s->told = false;
}

static void repeated_reset(struct judge *j, const struct event *e, struct repeated_state *s)
{
    unsigned most = (unsigned)(judge_parameter(j, REPEATED_COUNT)->max / 1000) + 1;

    if (s->count == 0) {
        s->first_frame = e->frame;
        s->first_ns = e->t_ns;
    }
    s->count++;
    if (s->count != most + 1) {
        if (s->count >= 2 && s->count < 5)
            s->frames[s->count - 2] = e->frame;
        return;
    }
    struct outcome o = judge_outcome_at(j, e->frame, e->t_ns);
    enum cause     gap = sequence_gap(e->port, s->first_frame, s->first_ns);

    s->told = true;
    o.values[0] = s->count;
    o.values[1] = most;
    o.has_measured = o.has_high = true;
    o.measured = INT64_C(1000) * s->count;
    o.high = INT64_C(1000) * most;
    o.unit = "";
    o.parameter = judge_parameter(j, REPEATED_COUNT);
    outcome_evidence(&o, s->first_frame);
    for (unsigned k = 0; k < 3 && k + 2 < s->count; k++)
        outcome_evidence(&o, s->frames[k]);
    outcome_evidence(&o, e->frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

void reset_check_repeated(struct judge *j, const struct event *e)
{
    struct repeated_state *s = judge_state(j, e->port);

    if (e->kind == EVENT_HARD_RESET)
        repeated_reset(j, e, s);
    else
        repeated_end(j, s); /* a contract, an attach, a detach, the end */
}

/* reset.cable-reset */

static void cable_stop(struct judge *j, const struct port *p, struct cable_reset_state *s)
{
    s->reset.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static void cable_begin(struct judge *j, const struct event *e, struct cable_reset_state *s)
{
    if (s->reset.frame)
        judge_pass_at(j, s->reset.start_ns); /* nobody spoke after the one before */
    s->reset = record_wire(e->record);
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, edge_end(e->port, &s->reset).late_ns + judge_window(j, CABLE_RESET_AFTER).low_ns + 1);
}

/* May the sender of this message reset the cable? It has to be the DFP or source VCONN. */
static enum answer may_reset_cable(const struct port *p, const struct speech *s)
{
    unsigned player = s->player;

    if (player > PLAYER_B)
        return s->side == SIDE_CABLE ? ANSWER_YES : ANSWER_UNKNOWN; /* the plug tells nothing of who reset it */
    if (p->role[player] == SIDE_SOURCE || (p->data_roles_known[player] && p->dfp[player]) || (p->vconn_known && p->vconn == player))
        return ANSWER_YES;
    return p->data_roles_known[player] && p->vconn_known ? ANSWER_NO : ANSWER_UNKNOWN;
}

static void cable_heard(struct judge *j, const struct event *e, struct cable_reset_state *s)
{
    const struct port *p = e->port;
    enum answer        may = may_reset_cable(p, e->speech);

    if (may == ANSWER_YES) {
        judge_pass_at(j, s->reset.start_ns);
    } else {
        struct outcome o = judge_outcome_at(j, s->reset.frame, s->reset.start_ns);
        struct window  w = judge_window(j, CABLE_RESET_AFTER);
        struct span    span = span_between(p, edge_end(p, &s->reset), heard_start(p, e->speech));

        o.sentence = CABLE_RESET_UNSURE;
        o.values[0] = e->speech->m.index;
        judge_time(j, &o, &span, &w, may == ANSWER_UNKNOWN ? CAUSE_ROLES : CAUSE_NONE, false);
    }
    cable_stop(j, p, s);
}

void reset_check_cable(struct judge *j, const struct event *e)
{
    struct cable_reset_state *s = judge_state(j, e->port);

    if (e->kind == EVENT_CABLE_RESET) {
        cable_begin(j, e, s);
    } else if (s->reset.frame && e->kind == (enum event_kind)WAKE_HEARD) {
        cable_heard(j, e, s);
    } else if (s->reset.frame) { /* time, detach, end */
        judge_pass_at(j, s->reset.start_ns);
        cable_stop(j, e->port, s);
    }
}
