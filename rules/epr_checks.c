/* Into EPR mode, in it, and out of it again. */
#include "rules/epr_checks.h"

#include "rules/exchange_checks.h"
#include "rules/power_rules.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

/* EPRMDO: Chromium EC include/usb_pd.h, Infineon. ECDB: Zephyr usbc_pd.h. */
enum { ACTION_AT = 24, ACTION_ENTER = 1, ACTION_ACKNOWLEDGED, ACTION_SUCCEEDED, ACTION_FAILED, ACTION_EXIT };
enum { CONTROL_KEEP_ALIVE = 3 };

static void tell(struct judge *j, const struct outcome *o, enum cause gap)
{
    if (gap != CAUSE_NONE)
        judge_undecided(j, o, gap);
    else
        judge_fail(j, o);
}

/* Of a message on SOP; 0: it is no EPR_Mode. */
static unsigned epr_action(const struct speech *s)
{
    return s->m.index == DATA(EPR_MODE) ? message_word(&s->m, 0) >> ACTION_AT : 0;
}

/* epr.entry-order */

static void entry_stop(struct judge *j, const struct port *p, struct entry_state *s)
{
    s->enter.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static void entry_begin(struct judge *j, const struct event *e, struct entry_state *s)
{
    if (epr_action(e->speech) != ACTION_ENTER || e->speech->side != SIDE_SINK || !sequence_applies(j, e->port, e->speech->player))
        return;
    *s = (struct entry_state){ .t_ns = e->t_ns };
    kept_begin(&s->enter, e->speech);
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, kept_done(&s->enter, e->port).late_ns + judge_window(j, ENTRY_WAIT).high_ns + 1);
}

/* An Enter that nobody heard obliges nobody. */
static bool entry_heard_by_source(const struct entry_state *s)
{
    return s->enter.sent.delivery != DELIVERY_OPEN;
}

static void entry_missing(struct judge *j, const struct port *p, struct entry_state *s)
{
    if (entry_heard_by_source(s)) {
        struct outcome o = judge_outcome_at(j, kept_last_frame(&s->enter), s->t_ns);

        o.player = (uint8_t)player_other(s->enter.sent.player);
        o.sentence = s->acknowledged ? ENTRY_MISSING : ENTRY_UNACKNOWLEDGED;
        o.values[5] = judge_window(j, ENTRY_WAIT).high_ns;
        outcome_evidence(&o, s->enter.frame);
        outcome_evidence(&o, s->acknowledged);
        tell(j, &o, sequence_gap(p, s->enter.frame, s->enter.sent.end_ns));
    }
    entry_stop(j, p, s);
}

/* The sink may give up from its shortest patience on: then it was what was missing. */
static void entry_reset(struct judge *j, const struct port *p, struct entry_state *s, struct edge reset)
{
    struct span span = span_between(p, kept_done(&s->enter, p), reset);

    if (span.low_ns >= judge_window(j, ENTRY_WAIT).low_ns)
        entry_missing(j, p, s);
    else
        entry_stop(j, p, s);
}

static bool entry_allowed_between(const struct entry_state *s, unsigned index)
{
    return index == CONTROL(VCONN_SWAP) || (s->vconn_swap && (index == CONTROL(PS_RDY) || index == CONTROL(ACCEPT) ||
                                                              index == CONTROL(REJECT) || index == CONTROL(WAIT)));
}

static void entry_ends(struct judge *j, const struct event *e, struct entry_state *s, bool wrong)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome(j, e);
    enum cause         gap = sequence_gap(p, s->enter.frame, s->enter.sent.end_ns);

    o.values[0] = e->speech->m.index;
    o.values[1] = epr_action(e->speech);
    outcome_evidence(&o, s->enter.frame);
    outcome_evidence(&o, s->acknowledged);
    outcome_evidence(&o, e->frame);
    if (wrong) {
        o.sentence = ENTRY_WRONG;
        tell(j, &o, gap);
    } else {
        struct span   span = span_between(p, kept_done(&s->enter, p), heard_start(p, e->speech));
        struct window w = judge_window(j, ENTRY_WAIT);

        w.has_low = false;
        judge_time(j, &o, &span, &w, gap, true);
    }
    entry_stop(j, p, s);
}

static void entry_by_source(struct judge *j, const struct event *e, struct entry_state *s)
{
    unsigned index = e->speech->m.index, action = epr_action(e->speech);

    if (!entry_heard_by_source(s)) {
        entry_stop(j, e->port, s);
    } else if (action == ACTION_ACKNOWLEDGED && !s->acknowledged) {
        s->acknowledged = e->frame;
    } else if (action == ACTION_FAILED || (action == ACTION_SUCCEEDED && s->acknowledged) ||
               (index == CONTROL(NOT_SUPPORTED) && !s->acknowledged)) {
        entry_ends(j, e, s, false);
    } else if (!entry_allowed_between(s, index)) {
        entry_ends(j, e, s, true);
    }
}

static void entry_heard(struct judge *j, const struct event *e, struct entry_state *s)
{
    const struct speech *speech = e->speech;

    if (speech->m.set != SET_SOP)
        return;
    s->vconn_swap = s->vconn_swap || speech->m.index == CONTROL(VCONN_SWAP);
    if (speech->m.index == CONTROL(SOFT_RESET))
        entry_reset(j, e->port, s, heard_start(e->port, speech));
    else if (speech->side == SIDE_SOURCE)
        entry_by_source(j, e, s);
    else if (epr_action(speech) == ACTION_EXIT)
        entry_stop(j, e->port, s);
}

static void entry_time(struct judge *j, const struct event *e, struct entry_state *s)
{
    int64_t wait_ns = judge_window(j, ENTRY_WAIT).high_ns;
    int64_t due_ns = kept_done(&s->enter, e->port).late_ns + wait_ns + 1;

    if (s->overdue)
        entry_missing(j, e->port, s);
    else
        judge_wake_at(j, e->port, e->t_ns < due_ns ? due_ns : due_ns + wait_ns);
    s->overdue = e->t_ns >= due_ns;
}

void epr_check_entry_order(struct judge *j, const struct event *e)
{
    struct entry_state *s = judge_state(j, e->port);

    if (s->enter.frame)
        kept_look(&s->enter, e->port);
    if (e->kind == (enum event_kind)WAKE_TALK) {
        entry_begin(j, e, s);
    } else if (!s->enter.frame) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        entry_heard(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        entry_time(j, e, s);
    } else if (e->kind == EVENT_HARD_RESET) {
        struct wire reset = record_wire(e->record);

        entry_reset(j, e->port, s, edge_start(e->port, &reset));
    } else if (e->kind == EVENT_END && s->overdue) {
        entry_missing(j, e->port, s);
    } else {
        entry_stop(j, e->port, s);
    }
}

/* An Enter Succeeded to be judged: not of an entry that went wrong already. */
static bool entry_succeeds(struct judge *j, const struct event *e, unsigned wait)
{
    return epr_action(e->speech) == ACTION_SUCCEEDED && e->speech->side == SIDE_SOURCE &&
           sequence_applies(j, e->port, e->speech->player) && !judge_silenced_since(j, e->t_ns - judge_window(j, wait).high_ns);
}

/* epr.entry-needs-cable */

static enum cause cable_unseen(const struct port *p)
{
    if (p->attach_seen == ATTACH_UNSEEN)
        return CAUSE_BEGINNING;
    if (p->loss_frame > p->attach_frame)
        return CAUSE_LOST;
    return p->bad_frame > p->attach_frame ? CAUSE_BAD_PACKET : CAUSE_NONE;
}

void epr_check_entry_needs_cable(struct judge *j, const struct event *e)
{
    const struct port       *p = e->port;
    const struct identity   *cable = &p->identity[PLAYER_CABLE];
    const struct about_port *about = judge_about(j, p);
    struct cable_marks       marks = cable_marks_read(cable);

    if (!entry_succeeds(j, e, NEEDS_ENTRY) || (about && about->plug == ABOUT_CAPTIVE))
        return;
    if (marks.epr_capable && marks.fifty_volt && marks.five_ampere) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = cable->frame ? NEEDS_CABLE_MARKS : NEEDS_CABLE_UNSEEN;
    o.values[0] = marks.epr_capable;
    o.values[1] = marks.volts;
    o.values[2] = marks.current;
    o.subjects[0] = p->epr_offer.known ? p->epr_offer.frame : 0;
    outcome_evidence(&o, cable->frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, cable->frame ? CAUSE_NONE : cable_unseen(p));
}

/* epr.entry-needs-capable */

/* The last Request of this connection is known: one came since the attach or Hard Reset, of who is the sink now, and none was missed. */
static bool request_known(const struct port *p)
{
    const struct request *q = &p->request;

    return p->agreed != AGREED_UNKNOWN && q->frame && q->player <= PLAYER_B && p->role[q->player] == SIDE_SINK &&
           sequence_gap(p, q->frame, q->end_ns) == CAUSE_NONE;
}

void epr_check_entry_needs_capable(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    bool               offer_known = p->offer.known && !p->offer_uncertain, asked_known = request_known(p);

    if (!entry_succeeds(j, e, NEEDS_ENTRY))
        return;
    struct outcome o = judge_outcome(j, e);

    outcome_evidence(&o, p->offer.known ? p->offer.frame : 0);
    outcome_evidence(&o, asked_known ? p->request.frame : 0);
    outcome_evidence(&o, e->frame);
    if (offer_known && !p->offer.pdos[0].epr_capable) {
        o.sentence = NEEDS_OFFER_FLAG;
        o.values[0] = p->offer.words[0];
        judge_fail(j, &o);
    } else if (asked_known && !p->request.rdo.epr_capable) {
        o.sentence = NEEDS_REQUEST_FLAG;
        o.values[0] = p->request.rdo.word;
        judge_fail(j, &o);
    } else if (offer_known && asked_known) {
        judge_pass(j);
    } else {
        o.sentence = NEEDS_UNKNOWN;
        judge_undecided(j, &o, judge_gap_cause(p, p->loss_frame > p->attach_frame ? CAUSE_LOST : CAUSE_BEGINNING));
    }
}

/* epr.caps-in-mode, epr.exit */

static void owed_stop(struct judge *j, const struct port *p, struct owed_caps *s)
{
    s->since.frame = 0;
    judge_listen(j, p, false);
    judge_wake_at(j, p, INT64_MAX);
}

static void owed_begin(struct judge *j, const struct event *e, struct owed_caps *s)
{
    *s = (struct owed_caps){ .t_ns = e->t_ns };
    kept_begin(&s->since, e->speech);
    judge_listen(j, e->port, true);
    judge_wake_at(j, e->port, kept_done(&s->since, e->port).late_ns + judge_window(j, OWED_LIMIT).high_ns + 1);
}

static enum cause owed_gap(const struct port *p, const struct owed_caps *s)
{
    return sequence_gap(p, s->since.frame, s->since.sent.end_ns);
}

static void owed_missing(struct judge *j, const struct port *p, struct owed_caps *s)
{
    struct outcome o = judge_outcome_at(j, kept_last_frame(&s->since), s->t_ns);

    o.player = (uint8_t)player_source(p);
    o.sentence = OWED_MISSING;
    o.values[5] = judge_window(j, OWED_LIMIT).high_ns;
    outcome_evidence(&o, s->since.frame);
    if (s->since.sent.delivery != DELIVERY_OPEN)
        tell(j, &o, owed_gap(p, s));
    owed_stop(j, p, s);
}

static void owed_wrong(struct judge *j, const struct event *e, struct owed_caps *s)
{
    struct outcome o = judge_outcome(j, e);
    enum cause     gap = owed_gap(e->port, s);

    o.sentence = OWED_WRONG;
    o.values[0] = e->speech->m.index;
    outcome_evidence(&o, s->since.frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, gap != CAUSE_NONE ? gap : s->sink_asked ? CAUSE_CROSSING : CAUSE_NONE);
    owed_stop(j, e->port, s);
}

static void owed_came(struct judge *j, const struct event *e, struct owed_caps *s)
{
    const struct port *p = e->port;
    struct outcome     o = judge_outcome(j, e);
    struct span        span = span_between(p, kept_done(&s->since, p), heard_start(p, e->speech));
    struct window      w = judge_window(j, OWED_LIMIT);

    o.values[0] = e->speech->m.index;
    judge_time(j, &o, &span, &w, owed_gap(p, s), true);
    owed_stop(j, p, s);
}

/* What comes late is told where it comes, but not for ever. */
static void owed_time(struct judge *j, const struct event *e, struct owed_caps *s)
{
    int64_t limit_ns = judge_window(j, OWED_LIMIT).high_ns;
    int64_t due_ns = kept_done(&s->since, e->port).late_ns + limit_ns + 1;

    if (s->overdue)
        owed_missing(j, e->port, s);
    else
        judge_wake_at(j, e->port, e->t_ns < due_ns ? due_ns : due_ns + 2 * limit_ns);
    s->overdue = e->t_ns >= due_ns;
}

static void mode_heard(struct judge *j, const struct event *e, struct owed_caps *s)
{
    const struct speech *speech = e->speech;
    unsigned             index = speech->m.index;

    if (speech->m.set != SET_SOP)
        return;
    if (index == CONTROL(SOFT_RESET) || epr_action(speech) == ACTION_EXIT)
        owed_stop(j, e->port, s);
    else if (speech->side != SIDE_SOURCE)
        s->sink_asked = s->sink_asked || index != EXTENDED(CONTROL);
    else if (index == EXTENDED(EPR_SOURCE_CAPABILITIES))
        owed_came(j, e, s);
    else if (index != EXTENDED(CONTROL)) /* which answers what the sink asked for in between */
        owed_wrong(j, e, s);
}

void epr_check_caps_in_mode(struct judge *j, const struct event *e)
{
    struct owed_caps *s = judge_state(j, e->port);

    if (s->since.frame)
        kept_look(&s->since, e->port);
    if (e->kind == (enum event_kind)WAKE_TALK) {
        if (entry_succeeds(j, e, OWED_ENTRY))
            owed_begin(j, e, s);
    } else if (!s->since.frame) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        mode_heard(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        owed_time(j, e, s);
    } else if (s->overdue && e->kind != EVENT_DETACH && e->kind != EVENT_ATTACH) {
        owed_missing(j, e->port, s); /* a Hard Reset or the end when it was overdue already */
    } else {
        owed_stop(j, e->port, s);
    }
}

/* Left with more than what a port may give outside EPR mode; a contract from before a gap is not known. */
static bool left_high(const struct port *p)
{
    const struct contract *c = &p->contract;

    return c->held && p->loss_frame < c->frame && c->mv > (c->supply == SUPPLY_PPS ? PPS_MAX_MV : SPR_FIXED_MAX_MV);
}

static void exit_begin(struct judge *j, const struct event *e, struct owed_caps *s)
{
    const struct port *p = e->port;

    if (epr_action(e->speech) != ACTION_EXIT || (p->epr_mode_known && !p->epr_mode) || !sequence_applies(j, p, e->speech->player))
        return;
    owed_begin(j, e, s);
    s->high = left_high(p);
    s->mv = p->contract.mv;
    s->contract_frame = p->contract.frame;
}

static void exit_high(struct judge *j, const struct port *p, struct owed_caps *s)
{
    struct outcome o = judge_outcome_at(j, kept_last_frame(&s->since), s->t_ns);

    o.player = (uint8_t)player_source(p);
    o.sentence = OWED_HIGH;
    o.values[0] = s->mv;
    outcome_evidence(&o, s->contract_frame);
    outcome_evidence(&o, s->since.frame);
    if (s->since.sent.delivery != DELIVERY_OPEN)
        tell(j, &o, owed_gap(p, s));
    owed_stop(j, p, s);
}

static void exit_heard(struct judge *j, const struct event *e, struct owed_caps *s)
{
    const struct speech *speech = e->speech;

    if (speech->m.set != SET_SOP)
        return;
    if (speech->m.index == CONTROL(SOFT_RESET) && !s->high) {
        owed_stop(j, e->port, s);
    } else if (speech->m.index == DATA(SOURCE_CAPABILITIES) && speech->side == SIDE_SOURCE) {
        if (s->high)
            exit_high(j, e->port, s);
        else
            owed_came(j, e, s);
    }
}

static void exit_ends(struct judge *j, const struct event *e, struct owed_caps *s)
{
    if (e->kind == EVENT_HARD_RESET && (s->high || !s->overdue)) {
        if (s->high)
            judge_pass_at(j, s->t_ns);
        owed_stop(j, e->port, s);
    } else if (s->overdue && (e->kind == EVENT_HARD_RESET || e->kind == EVENT_END)) {
        owed_missing(j, e->port, s);
    } else {
        owed_stop(j, e->port, s);
    }
}

void epr_check_exit(struct judge *j, const struct event *e)
{
    struct owed_caps *s = judge_state(j, e->port);

    if (s->since.frame)
        kept_look(&s->since, e->port);
    if (e->kind == (enum event_kind)WAKE_TALK) {
        exit_begin(j, e, s);
    } else if (!s->since.frame) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        exit_heard(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        if (s->high && s->overdue)
            exit_high(j, e->port, s);
        else
            owed_time(j, e, s);
    } else {
        exit_ends(j, e, s);
    }
}

/* epr.spr-caps-in-mode */

void epr_check_spr_caps(struct judge *j, const struct event *e)
{
    const struct port   *p = e->port;
    const struct speech *s = e->speech;
    const struct ask    *ask = judge_ask(j);
    const struct sent   *sink = &p->streams[stream_index(SET_SOP, player_other(s->player))].last;

    /* After a Soft_Reset the source offers anew in either form. */
    if (!p->epr_mode || !p->epr_mode_known || s->side != SIDE_SOURCE || p->offer_owed || !sequence_applies(j, p, s->player))
        return;
    if (ask && ask->index == CONTROL(GET_SOURCE_CAP)) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.sentence = SPR_CAPS_UNASKED;
    outcome_evidence(&o, sink->held ? sink->frame : 0);
    outcome_evidence(&o, e->frame);
    tell(j, &o, sink->held ? sequence_gap(p, sink->frame, sink->end_ns) : CAUSE_BEGINNING);
}

/* epr.request-kind */

static void kind_proven(const struct event *e, struct request_kind *s)
{
    s->proof_frame = e->frame;
    s->proof_ns = e->t_ns;
}

void epr_check_request_kind(struct judge *j, const struct event *e)
{
    struct request_kind *s = judge_state(j, e->port);
    const struct port   *p = e->port;

    if (e->kind != EVENT_MESSAGE) { /* attach, Hard Reset, EPR mode entered or left */
        kind_proven(e, s);
        return;
    }
    const struct speech *speech = e->speech;
    bool                 epr = speech->m.index == DATA(EPR_REQUEST);
    unsigned             player = speech->player <= PLAYER_B ? speech->player : PLAYER_A;

    /* Of a sink that is not seen to know EPR a plain Request says nothing. */
    if (speech->m.set != SET_SOP ||
        (epr ? !sequence_applies(j, p, player)
             : rule_applies(judge_rule(j), p->agreed, &p->edition[player], judge_standard(j)) != ANSWER_YES))
        return;
    if (p->epr_mode_known && p->epr_mode == epr) {
        kind_proven(e, s);
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);
    enum cause     gap = sequence_gap(p, s->proof_frame, s->proof_ns);

    o.sentence = !p->epr_mode_known ? REQUEST_KIND_UNKNOWN : epr ? REQUEST_KIND_EPR : REQUEST_KIND_PLAIN;
    outcome_evidence(&o, s->proof_frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, gap != CAUSE_NONE ? gap : p->epr_mode_known ? CAUSE_NONE : CAUSE_BEGINNING);
}

/* epr.keepalive-ack */

/* A sink that resets in good time has heard nothing; one that resets before leaves it open. */
static void keepalive_reset(struct judge *j, const struct event *e, const struct ask *ask)
{
    struct span    waited;
    bool           given_up = ask_silence(j, e->port, ask, &waited) != SILENCE_NONE;
    struct outcome o = judge_outcome_at(j, ask->sent.last_frame, ask->start_ns);

    o.player = (uint8_t)player_other(ask->player);
    o.sentence = given_up ? KEEPALIVE_GIVEN_UP : KEEPALIVE_CUT_SHORT;
    o.values[4] = waited.low_ns + (waited.high_ns - waited.low_ns) / 2;
    outcome_evidence(&o, ask->sent.frame);
    outcome_evidence(&o, ask->answer.frame);
    tell(j, &o, ask->gap ? (enum cause)ask->cause : given_up ? CAUSE_NONE : CAUSE_RESET);
}

void epr_check_keepalive(struct judge *j, const struct event *e)
{
    const struct ask *ask = judge_ask(j);
    struct outcome    o;

    if (ask->detail != CONTROL_KEEP_ALIVE || ask->side != SIDE_SINK || !ask->delivered || !sequence_applies(j, e->port, ask->player))
        return;
    if (ask->end == ASK_ANSWERED && ask->answer_index == EXTENDED(CONTROL)) {
        judge_pass_at(j, ask->start_ns);
        return;
    }
    if (ask->end == ASK_HARD_RESET)
        keepalive_reset(j, e, ask);
    if (ask->end != ASK_ANSWERED && ask->end != ASK_OTHER && ask->end != ASK_CROSSED && ask->end != ASK_SILENT)
        return; /* a detach, a Soft_Reset, or the sink itself went on */
    o = judge_outcome_at(j, ask->sent.last_frame, ask->start_ns);
    o.player = (uint8_t)player_other(ask->player);
    o.sentence = ask->end == ASK_SILENT ? KEEPALIVE_MISSING : KEEPALIVE_OTHER;
    o.values[0] = ask->answer_index;
    outcome_evidence(&o, ask->sent.frame);
    outcome_evidence(&o, ask->answer.frame);
    tell(j, &o, ask->gap ? (enum cause)ask->cause : ask->end == ASK_CROSSED ? CAUSE_CROSSING : CAUSE_NONE);
}
