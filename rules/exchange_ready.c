/* What comes of a Request once it is answered, and what comes of it if nothing does. */
#include "rules/exchange_checks.h"
#include "rules/message_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

static void tell(struct judge *j, const struct outcome *o, enum cause gap)
{
    if (gap != CAUSE_NONE)
        judge_undecided(j, o, gap);
    else
        judge_fail(j, o);
}

/* An accepted Request whose PS_RDY is waited for. */

/*
 * Outside EPR mode too an adjustable supply has more time for a large step (tAvsSrcTransLarge, 700 ms) than the SPR value of
 * tPSTransition leaves: how long the sink has to wait there is not settled, nor where it is unknown what was asked for.
 */
static bool may_be_slow(const struct request *q)
{
    return !q->position_valid || q->asked.supply == SUPPLY_SPR_AVS || q->asked.supply == SUPPLY_EPR_AVS;
}

/* Does the message in hand accept a Request? Then it is the one that is waited on from here. */
static bool ready_begins(const struct judge *j, const struct event *e, struct ready_state *s)
{
    const struct ask  *a = judge_ask(j);
    const struct port *p = e->port;

    if (!a || a->end != ASK_ANSWERED || (a->index != DATA(REQUEST) && a->index != DATA(EPR_REQUEST)) ||
        e->speech->m.index != CONTROL(ACCEPT))
        return false;
    s->accept_frame = e->frame;
    s->request_frame = a->sent.frame;
    s->t_ns = e->t_ns;
    s->end_ns = e->speech->end_ns;
    s->epr_unknown = !p->epr_mode_known || (!p->epr_mode && may_be_slow(&p->request));
    s->epr = p->epr_mode || s->epr_unknown;
    return true;
}

/* done(Accept) */
static struct edge ready_from(const struct judge *j, const struct port *p, const struct ready_state *s)
{
    const struct sent *sent = judge_sent(j, SET_SOP, s->accept_frame);

    return sent ? edge_done(p, sent) : edge_moment(p, EDGE_DONE_UNSEEN, s->accept_frame, s->end_ns, 0);
}

static uint64_t ready_last_frame(const struct judge *j, const struct ready_state *s)
{
    const struct sent *sent = judge_sent(j, SET_SOP, s->accept_frame);

    return sent ? sent->last_frame : s->accept_frame;
}

/* exchange.ready-after-accept */

static void ready_stop(struct judge *j, const struct port *p, struct ready_state *s)
{
    if (s->accept_frame)
        judge_wake_at(j, p, INT64_MAX);
    s->accept_frame = 0;
}

static struct outcome ready_outcome(const struct judge *j, const struct ready_state *s, uint64_t frame)
{
    struct outcome o = judge_outcome_at(j, frame, s->t_ns);

    outcome_evidence(&o, s->request_frame);
    outcome_evidence(&o, s->accept_frame);
    return o;
}

static void ready_missing(struct judge *j, const struct port *p, struct ready_state *s, enum cause doubt)
{
    struct outcome o = ready_outcome(j, s, ready_last_frame(j, s));
    enum cause     gap = sequence_gap(p, s->accept_frame, s->end_ns);

    o.sentence = SAYS_READY_MISSING;
    o.parameter = judge_parameter(j, s->epr ? READY_EPR : READY_SPR);
    o.values[5] = judge_window(j, s->epr ? READY_EPR : READY_SPR).high_ns;
    o.subjects[0] = s->request_frame;
    tell(j, &o, gap != CAUSE_NONE ? gap : doubt);
    ready_stop(j, p, s);
}

static void ready_came_slowly(struct judge *j, const struct event *e, const struct ready_state *s, const struct window *w)
{
    const struct port *p = e->port;
    struct span        span = span_between(p, ready_from(j, p, s), heard_start(p, e->speech));

    if (judge_time_passed(j, &span, w))
        return;
    struct outcome o = ready_outcome(j, s, e->frame);

    o.sentence = SAYS_READY_LATE;
    judge_time(j, &o, &span, w, sequence_gap(p, s->accept_frame, s->end_ns), false);
}

static void ready_came(struct judge *j, const struct event *e, struct ready_state *s)
{
    const struct port *p = e->port;
    const struct sent *accept = judge_sent(j, SET_SOP, s->accept_frame);
    struct wire        heard = heard_wire(e->speech);
    struct window      w = judge_window(j, s->epr ? READY_EPR : READY_SPR);

    w.has_low = false;
    if (!accept || !judge_plainly_passed(j, accept, &heard, &w))
        ready_came_slowly(j, e, s, &w);
    ready_stop(j, p, s);
}

/* A reset by right ends the wait from the sink's shortest patience on: then PS_RDY was missing. */
static void ready_reset(struct judge *j, const struct port *p, struct ready_state *s, struct edge reset)
{
    struct span   span = span_between(p, ready_from(j, p, s), reset);
    struct window w = judge_window(j, s->epr && !s->epr_unknown ? READY_EPR : READY_SPR);
    bool          long_enough = span.low_ns >= judge_window(j, s->epr ? READY_EPR : READY_SPR).low_ns;

    if (span.high_ns < w.low_ns)
        ready_stop(j, p, s);
    else
        ready_missing(j, p, s, long_enough ? CAUSE_NONE : CAUSE_UNCERTAINTY);
}

static void ready_time(struct judge *j, const struct event *e, struct ready_state *s)
{
    const struct port *p = e->port;
    int64_t            due_ns = ready_from(j, p, s).late_ns + judge_window(j, s->epr ? READY_EPR : READY_SPR).high_ns + 1;

    if (e->t_ns < due_ns)
        judge_wake_at(j, p, due_ns); /* copies of the Accept, or its GoodCRC, came later */
    else if (p->request.frame != s->request_frame)
        ready_stop(j, p, s); /* the sink asked anew */
    else
        ready_missing(j, p, s, CAUSE_NONE);
}

void exchange_check_ready(struct judge *j, const struct event *e)
{
    struct ready_state *s = judge_state(j, e->port);
    struct wire         reset;

    switch ((int)e->kind) {
    case WAKE_TALK:
        if (ready_begins(j, e, s))
            judge_wake_at(j, e->port, s->end_ns + judge_window(j, s->epr ? READY_EPR : READY_SPR).high_ns);
        else if (s->accept_frame && e->speech->m.index == CONTROL(PS_RDY) && e->port->swap == SWAP_NONE)
            ready_came(j, e, s);
        break;
    case WAKE_TIME:
        if (s->accept_frame)
            ready_time(j, e, s);
        break;
    case EVENT_HARD_RESET:
        reset = record_wire(e->record);
        if (s->accept_frame)
            ready_reset(j, e->port, s, edge_start(e->port, &reset));
        break;
    case EVENT_SOFT_RESET:
        if (s->accept_frame && e->speech->m.set == SET_SOP)
            ready_reset(j, e->port, s, heard_start(e->port, e->speech));
        break;
    default: /* an attach, a detach */
        ready_stop(j, e->port, s);
        break;
    }
}

/* exchange.no-ready-without-accept */

/* Within this time a message may have been repeated, also one whose first copy was missed: a few copies of the length of a Request. Ours. */
#define REPEATS_NS INT64_C(10000000)

static enum cause unasked_gap(const struct port *p, const struct ready_unasked_state *s)
{
    uint64_t since = s->ready_frame > p->request.frame ? s->ready_frame : p->request.frame;

    if (p->loss_frame > since)
        return CAUSE_LOST;
    if (p->bad_missed_frame > since || (p->bad_fresh && p->bad_set == SET_SOP && p->bad_frame > since))
        return CAUSE_BAD_PACKET;
    if (since == 0 && p->attach_seen == ATTACH_UNSEEN)
        return CAUSE_BEGINNING;
    if (p->doubt_until_ns)
        return CAUSE_ROLES;
    /* A Request just after a gap may repeat one that was accepted since. */
    return p->request.held ? sequence_gap_before(p, SET_SOP, p->request.t_ns, REPEATS_NS) : CAUSE_NONE;
}

static void ready_unasked(struct judge *j, const struct event *e, const struct ready_unasked_state *s)
{
    const struct port *p = e->port;
    bool goto_min = s->goto_min_frame && message_agreed(j, p, &e->speech->m) != AGREED_R3;

    if (e->speech->side == SIDE_SINK || p->swap != SWAP_NONE)
        return; /* exchange.unexpected-message */
    if ((p->request.held && p->request.state == REQUEST_ACCEPTED) || goto_min) {
        judge_pass(j);
        return;
    }
    struct outcome o = judge_outcome(j, e);

    o.player = e->speech->player;
    outcome_evidence(&o, p->request.frame);
    outcome_evidence(&o, e->frame);
    tell(j, &o, e->speech->player > PLAYER_B ? CAUSE_ROLES : unasked_gap(p, s));
}

void exchange_check_ready_unasked(struct judge *j, const struct event *e)
{
    struct ready_unasked_state *s = judge_state(j, e->port);

    if (e->speech->m.index == CONTROL(GOTOMIN)) {
        s->goto_min_frame = e->frame;
        return;
    }
    ready_unasked(j, e, s);
    s->ready_frame = e->frame;
    s->goto_min_frame = 0;
}

/* exchange.wait-endless */

static struct outcome waits_outcome(const struct judge *j, const struct waits_state *s, unsigned most)
{
    struct outcome o = judge_outcome_at(j, s->last_frame, s->last_ns);

    o.player = s->player;
    message_outcome_count(&o, s->count, 0, most);
    o.has_low = false;
    o.parameter = judge_parameter(j, WAITS_MOST);
    o.values[0] = s->count;
    o.values[1] = most;
    outcome_evidence(&o, s->first_frame);
    outcome_evidence(&o, s->last_frame);
    return o;
}

static unsigned waits_most(const struct judge *j)
{
    return (unsigned)(judge_parameter(j, WAITS_MOST)->max / MILLI);
}

static void waits_end(struct judge *j, struct waits_state *s)
{
    if (s->count && !s->told && s->lost) {
        struct outcome o = waits_outcome(j, s, waits_most(j));

        judge_undecided(j, &o, CAUSE_LOST);
    } else if (s->count && !s->told) {
        judge_pass_at(j, s->first_ns);
    }
    *s = (struct waits_state){ .count = 0 };
}

static void waits_answer(struct judge *j, const struct event *e, struct waits_state *s)
{
    const struct request *q = e->request;
    const struct port    *p = e->port;

    if (q->state != REQUEST_WAIT || (s->count && q->rdo.word != s->word))
        waits_end(j, s);
    if (q->state != REQUEST_WAIT)
        return;
    if (s->count == 0) {
        s->word = q->rdo.word;
        s->first_frame = e->frame;
        s->first_ns = e->t_ns;
        s->player = (uint8_t)player_other(q->player);
    }
    s->count++;
    s->last_frame = e->frame;
    s->last_ns = e->t_ns;
    if (s->count != waits_most(j) + 1)
        return;
    struct outcome o = waits_outcome(j, s, waits_most(j));

    s->told = true;
    tell(j, &o, s->lost ? CAUSE_LOST : p->bad_missed_frame > s->first_frame ? CAUSE_BAD_PACKET : CAUSE_NONE);
}

void exchange_check_wait_endless(struct judge *j, const struct event *e)
{
    struct waits_state *s = judge_state(j, e->port);

    if (e->kind == EVENT_ANSWERED)
        waits_answer(j, e, s);
    else if (s->count == 0)
        return;
    else if (e->kind == EVENT_LOSS)
        s->lost = true;
    else if (e->kind != EVENT_ANNOUNCED || e->offer->side == SIDE_SOURCE)
        waits_end(j, s); /* another offer, a reset, a detach, the end */
}

/* exchange.hard-reset-after-timeout */

static void no_reset_wake(struct judge *j, const struct port *p, const struct no_reset_state *s)
{
    struct window w = judge_window(j, s->ready.epr ? RESET_READY_EPR : RESET_READY_SPR);
    int64_t       ready_ns = s->ready.accept_frame ? ready_from(j, p, &s->ready).late_ns + w.high_ns + 1 : INT64_MAX;
    int64_t       due_ns = s->frame ? s->due_ns : INT64_MAX;

    judge_wake_at(j, p, ready_ns < due_ns ? ready_ns : due_ns);
}

/* From here on a Hard Reset is waited for. One at a time: while one is due the first counts. */
static void no_reset_due(struct judge *j, struct no_reset_state *s, const struct sent *m, uint64_t frame, int64_t t_ns,
                         struct edge from, int64_t patience_ns)
{
    s->frame = frame;
    s->last_frame = m ? m->last_frame : frame;
    s->t_ns = t_ns;
    s->end_ns = m ? m->end_ns : t_ns;
    s->due_ns = from.late_ns + patience_ns + judge_window(j, RESET_SIGNAL).high_ns + judge_window(j, RESET_FOLLOWS).high_ns + 1;
}

/* Does this question, unanswered, call for a Hard Reset? */
static bool calls_for_reset(const struct ask *a)
{
    bool epr = a->index == EXTENDED(EPR_SOURCE_CAPABILITIES);

    if (a->index == DATA(REQUEST) || a->index == DATA(EPR_REQUEST))
        return true;
    return a->in_contract && epr == a->epr_mode && (!a->asked || a->owed);
}

static void no_reset_question(struct judge *j, const struct event *e, struct no_reset_state *s)
{
    const struct ask *a = judge_ask(j);
    struct span       waited;
    bool              by_partner = a->end == ASK_SOFT_RESET && a->answer_player != a->player;
    enum silence      silence = calls_for_reset(a) && !by_partner ? ask_silence(j, e->port, a, &waited) : SILENCE_NONE;

    if (silence == SILENCE_NONE)
        return;
    struct window patience = judge_sender_response_agreed(j, e->port, a->player, RESET_PATIENCE, a->agreed);

    if (silence == SILENCE_GIVEN_UP && waited.low_ns < patience.low_ns)
        return; /* sooner than who waits may give up */
    if (a->end == ASK_HARD_RESET) {
        judge_pass_at(j, a->sent.start_ns);
    } else if (!s->frame) {
        no_reset_due(j, s, &a->sent, a->sent.frame, a->sent.start_ns, edge_done(e->port, &a->sent), patience.high_ns);
        s->side = a->side;
        s->player = a->player;
        s->index = a->index;
    }
}

static void no_reset_came(struct judge *j, const struct event *e, struct no_reset_state *s)
{
    const struct port *p = e->port;
    struct wire        reset = record_wire(e->record);

    if (s->frame) {
        judge_pass_at(j, s->t_ns);
    } else if (s->ready.accept_frame) {
        struct span span = span_between(p, ready_from(j, p, &s->ready), edge_start(p, &reset));

        if (span.low_ns >= judge_window(j, s->ready.epr ? RESET_READY_EPR : RESET_READY_SPR).low_ns)
            judge_pass_at(j, s->ready.t_ns);
    }
    s->frame = s->ready.accept_frame = 0;
}

static void no_reset_missing(struct judge *j, const struct port *p, struct no_reset_state *s)
{
    struct outcome o = judge_outcome_at(j, s->last_frame, s->t_ns);

    outcome_by(&o, s->side, s->player);
    o.sentence = s->index == CONTROL(ACCEPT) ? SAYS_NO_RESET_READY : SAYS_NO_RESET;
    o.values[0] = s->index;
    outcome_evidence(&o, s->frame);
    tell(j, &o, sequence_gap(p, s->frame, s->end_ns));
    s->frame = 0;
}

/* The sink's patience for PS_RDY is over: it has to reset now. */
static void no_reset_ready(struct judge *j, const struct port *p, struct no_reset_state *s)
{
    struct window      w = judge_window(j, s->ready.epr ? RESET_READY_EPR : RESET_READY_SPR);
    const struct sent *m = judge_sent(j, SET_SOP, s->ready.accept_frame);
    unsigned           source = m ? m->player : player_source(p);

    if (!s->frame && p->request.frame == s->ready.request_frame) {
        no_reset_due(j, s, m, s->ready.accept_frame, s->ready.t_ns, ready_from(j, p, &s->ready), w.high_ns);
        s->side = SIDE_SINK;
        s->player = (uint8_t)player_other(source);
        s->index = CONTROL(ACCEPT);
    }
    s->ready.accept_frame = 0;
}

static void no_reset_time(struct judge *j, const struct event *e, struct no_reset_state *s)
{
    struct window w = judge_window(j, s->ready.epr ? RESET_READY_EPR : RESET_READY_SPR);

    if (s->frame && e->t_ns >= s->due_ns)
        no_reset_missing(j, e->port, s);
    if (s->ready.accept_frame && e->t_ns > ready_from(j, e->port, &s->ready).late_ns + w.high_ns)
        no_reset_ready(j, e->port, s);
}

/* The usual way: without looking at edges. */
static void no_reset_talk(struct judge *j, const struct event *e, struct no_reset_state *s)
{
    int64_t due_ns = s->frame ? s->due_ns : INT64_MAX;

    if (ready_begins(j, e, &s->ready)) {
        int64_t ready_ns = s->ready.end_ns + judge_window(j, s->ready.epr ? RESET_READY_EPR : RESET_READY_SPR).high_ns;

        judge_wake_at(j, e->port, ready_ns < due_ns ? ready_ns : due_ns);
    } else if (s->ready.accept_frame && e->speech->m.index == CONTROL(PS_RDY) && e->port->swap == SWAP_NONE) {
        s->ready.accept_frame = 0;
        judge_wake_at(j, e->port, due_ns);
    } else if (s->frame && s->index == CONTROL(ACCEPT) && e->speech->m.index == CONTROL(PS_RDY)) {
        s->frame = 0; /* it came after all: late, but nobody has to reset any more */
    }
}

void exchange_check_no_reset(struct judge *j, const struct event *e)
{
    struct no_reset_state *s = judge_state(j, e->port);

    switch ((int)e->kind) {
    case WAKE_ASK:
        if (judge_ask(j)->end == ASK_ANSWERED)
            return;
        no_reset_question(j, e, s);
        break;
    case WAKE_TALK:
        no_reset_talk(j, e, s);
        return;
    case WAKE_TIME:
        no_reset_time(j, e, s);
        break;
    case EVENT_HARD_RESET:
        no_reset_came(j, e, s);
        break;
    case EVENT_SOFT_RESET:
        if (e->speech->m.set == SET_SOP)
            s->ready.accept_frame = 0;
        break;
    default: /* an attach, a detach */
        s->frame = s->ready.accept_frame = 0;
        break;
    }
    no_reset_wake(j, e->port, s);
}
