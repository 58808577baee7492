/* Contracts that have to be kept alive: PPS by Requests, EPR mode by messages of the sink. */
#include "rules/rail.h"
#include "rules/time_checks.h"

static bool asks_pps(const struct port *p)
{
    return p->request.offer_known && p->request.position_valid && p->request.asked.supply == SUPPLY_PPS;
}

/* Nearly all Requests have nothing to do with PPS: told by what the port model knows. */
static bool pps_concerned(const struct event *e)
{
    const struct port *p = e->port;

    return asks_pps(p) || (p->contract.held && p->contract.supply == SUPPLY_PPS);
}

/* Where a contract ended: the edge that shows it. */
static struct edge contract_end_edge(const struct event *e)
{
    const struct record *r = e->record;

    if (r && r->kind == RECORD_RESET_SIGNAL) {
        struct wire reset = record_wire(r);

        return edge_start(e->port, &reset);
    }
    return edge_moment(e->port, EDGE_STATE, r ? r->frame : 0, e->contract->until_ns, r ? r->flags : 0);
}

/* time.pps-keepalive */

static void keepalive_pair(struct judge *j, const struct event *e, struct pps_alive *s)
{
    struct span   span = span_between(e->port, s->end, heard_start(e->port, e->speech));
    struct window w = judge_window(j, 0);

    if (judge_silenced_since(j, s->anew_ns) || judge_time_passed(j, &span, &w))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = ALIVE_LATE;
    time_at_most(j, &o, &span, &w, sequence_gap(e->port, s->frame, s->end.late_ns));
}

static void keepalive_request(struct judge *j, const struct event *e, struct pps_alive *s)
{
    struct wire w = speech_wire(e->speech);

    if (!s->active)
        return;
    if (s->have && sequence_applies(j, e->port, e->speech->player))
        keepalive_pair(j, e, s);
    s->have = true;
    s->end = edge_end(e->port, &w);
    s->frame = e->frame;
    s->t_ns = e->t_ns;
    s->anew_ns = judge_anew_ns(j);
}

/* What became of a Request is known: when its last copy ended. */
static void keepalive_answered(struct judge *j, const struct event *e, struct pps_alive *s)
{
    const struct ask *a = judge_ask(j);
    struct wire       last = sent_last(&a->sent);

    if (!s->active && !asks_pps(e->port))
        return;
    s->have = true;
    s->end = edge_end(e->port, &last);
    s->frame = a->sent.last_frame;
    s->t_ns = a->sent.start_ns;
    s->anew_ns = judge_anew_ns(j);
}

static void keepalive_ended(struct judge *j, const struct event *e, struct pps_alive *s)
{
    const struct port *p = e->port;
    struct window      w = judge_window(j, 0);
    bool               open = s->active && s->have && e->contract->ended_by != CONTRACT_RENEGOTIATED;

    s->active = false;
    if (!open || !sequence_applies(j, p, p->request.player) || judge_silenced_since(j, s->anew_ns))
        return;
    struct span span = span_between(p, s->end, contract_end_edge(e));

    if (e->contract->ended_by == CONTRACT_TRACE_END && span_fit(&span, &w) != FIT_ABOVE)
        return;
    struct outcome o = judge_outcome_at(j, s->frame, s->t_ns);

    o.player = p->request.player;
    o.sentence = ALIVE_NEVER;
    time_at_most(j, &o, &span, &w, sequence_gap(p, s->frame, s->end.late_ns));
}

void time_check_pps_keepalive(struct judge *j, const struct event *e)
{
    struct pps_alive *s = judge_state(j, e->port);
    bool              request = e->kind == (enum event_kind)WAKE_TALK || e->kind == (enum event_kind)WAKE_ASK;

    if (request && !pps_concerned(e))
        return;
    switch ((int)e->kind) {
    case WAKE_TALK:
        keepalive_request(j, e, s);
        break;
    case WAKE_ASK:
        keepalive_answered(j, e, s);
        break;
    case EVENT_CONTRACT:
        s->active = e->contract->supply == SUPPLY_PPS;
        break;
    default: /* EVENT_CONTRACT_END */
        keepalive_ended(j, e, s);
        break;
    }
}

/* time.pps-timeout */

static struct window timeout_window(const struct judge *j, unsigned timeout, unsigned reset)
{
    struct window w = judge_window(j, timeout);

    w.high_ns += judge_window(j, reset).high_ns;
    return w;
}

/* A moment from which on even the worst case of all edges is too late. */
static int64_t surely_over_ns(const struct port *p, struct edge from, const struct window *w)
{
    int64_t     due_ns = from.late_ns + w->high_ns;
    struct span span = span_between(p, from, edge_moment(p, EDGE_STATE, 0, due_ns, 0));

    return due_ns + (w->high_ns - span.low_ns) + 1;
}

static void silence_asked(struct judge *j, const struct event *e, struct pps_timeout *s)
{
    if (!s->active)
        return;
    s->have = false; /* until it is known when it was acknowledged */
    judge_wake_at(j, e->port, INT64_MAX);
}

static void silence_begins(struct judge *j, const struct event *e, struct pps_timeout *s)
{
    const struct ask *a = judge_ask(j);
    struct window     w;

    if (a->end == ASK_HARD_RESET || (!s->active && !asks_pps(e->port)))
        return;
    w = timeout_window(j, PPS_TIMEOUT, PPS_RESET);
    s->have = true;
    s->told = false;
    s->done = edge_done(e->port, &a->sent);
    s->frame = a->sent.last_frame;
    s->t_ns = a->sent.start_ns;
    s->anew_ns = judge_anew_ns(j);
    judge_wake_at(j, e->port, surely_over_ns(e->port, s->done, &w));
}

static struct outcome silence_outcome(const struct judge *j, const struct port *p, uint64_t frame, int64_t t_ns)
{
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = (uint8_t)player_source(p);
    return o;
}

static bool silence_judged(const struct judge *j, const struct port *p, const struct pps_timeout *s)
{
    return s->active && s->have && !s->told && sequence_applies(j, p, player_source(p)) && !judge_silenced_since(j, s->anew_ns);
}

static void silence_over(struct judge *j, const struct event *e, struct pps_timeout *s)
{
    const struct port *p = e->port;
    enum cause         gap = sequence_gap(p, s->frame, s->done.late_ns);

    if (!silence_judged(j, p, s))
        return;
    struct outcome o = silence_outcome(j, p, s->frame, s->t_ns);
    struct window  w = timeout_window(j, PPS_TIMEOUT, PPS_RESET);

    s->told = true;
    o.sentence = SILENCE_NEVER;
    o.values[5] = w.high_ns;
    o.parameter = w.parameter;
    outcome_evidence(&o, s->frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

/* Something else than silence may have brought the reset about. What is wrong with the last Request, or that it was the last, is silence. */
static bool reset_has_cause(const struct judge *j, const struct event *e, const struct pps_timeout *s)
{
    const struct port *p = e->port;
    int64_t            unanswered_ns = judge_unanswered_ns(j);

    return judge_reset_origin(j) == ORIGIN_SINK || (p->request.held && p->request.state == REQUEST_ACCEPTED) || p->swap != SWAP_NONE ||
           (unanswered_ns != INT64_MIN && unanswered_ns >= s->t_ns) || judge_anything_failed_since(j, s->t_ns + 1);
}

/* Before its time: once may be chance, or a reason that the trace does not show. */
static void silence_early(struct judge *j, const struct event *e, struct pps_timeout *s, const struct span *span, const struct window *w)
{
    int64_t        delay_ns = span->low_ns + (span->high_ns - span->low_ns) / 2;
    int64_t        same_ns = judge_window(j, PPS_SAME).high_ns;
    bool           again = false;
    struct outcome o = silence_outcome(j, e->port, e->frame, e->t_ns);
    enum cause     gap = sequence_gap(e->port, s->frame, s->done.late_ns);

    if (delay_ns < judge_window(j, PPS_SILENCE).high_ns || reset_has_cause(j, e, s))
        return;
    for (unsigned k = 0; k < EARLY_KEPT && k < s->early_count; k++)
        again = again || (delay_ns - s->early_ns[k] <= same_ns && s->early_ns[k] - delay_ns <= same_ns);
    if (gap == CAUSE_NONE)
        s->early_ns[s->early_count++ % EARLY_KEPT] = delay_ns;
    else
        again = false;
    o.sentence = SILENCE_LATE; /* judge_time turns it into SILENCE_EARLY */
    judge_time(j, &o, span, w, again ? CAUSE_NONE : gap != CAUSE_NONE ? gap : CAUSE_ONCE, true);
}

static void silence_reset(struct judge *j, const struct event *e, struct pps_timeout *s)
{
    const struct port *p = e->port;
    struct wire        reset = record_wire(e->record);
    struct window      w = timeout_window(j, PPS_TIMEOUT, PPS_RESET);
    struct span        span = span_between(p, s->done, edge_start(p, &reset));
    enum reset_origin  origin = judge_reset_origin(j);

    if (!silence_judged(j, p, s))
        return;
    if (span_fit(&span, &w) == FIT_BELOW) {
        silence_early(j, e, s, &span, &w);
    } else if (origin != ORIGIN_SINK) {
        struct outcome o = silence_outcome(j, p, e->frame, e->t_ns);
        enum cause     gap = sequence_gap(p, s->frame, s->done.late_ns);

        o.sentence = SILENCE_LATE;
        judge_time(j, &o, &span, &w, gap != CAUSE_NONE ? gap : origin == ORIGIN_UNKNOWN ? CAUSE_ORIGIN : CAUSE_NONE, true);
    }
}

/* A reset ends the contract before it is told of itself. */
static void silence_contract_ended(struct judge *j, const struct event *e, struct pps_timeout *s)
{
    if (e->contract->ended_by == CONTRACT_HARD_RESET)
        return;
    s->active = false;
    if (e->contract->ended_by != CONTRACT_RENEGOTIATED)
        judge_wake_at(j, e->port, INT64_MAX);
}

void time_check_pps_timeout(struct judge *j, const struct event *e)
{
    struct pps_timeout *s = judge_state(j, e->port);
    bool                request = e->kind == (enum event_kind)WAKE_TALK || e->kind == (enum event_kind)WAKE_ASK;

    if (request && !pps_concerned(e))
        return;
    switch ((int)e->kind) {
    case WAKE_TALK:
        silence_asked(j, e, s);
        break;
    case WAKE_ASK:
        silence_begins(j, e, s);
        break;
    case WAKE_TIME:
        silence_over(j, e, s);
        break;
    case EVENT_CONTRACT:
        s->active = e->contract->supply == SUPPLY_PPS;
        break;
    case EVENT_CONTRACT_END:
        silence_contract_ended(j, e, s);
        break;
    default: /* EVENT_HARD_RESET */
        silence_reset(j, e, s);
        s->active = s->have = false;
        judge_wake_at(j, e->port, INT64_MAX);
        break;
    }
}

/* time.epr-keepalive */

/* The last message on SOP, of either side, before the one in hand; NULL: none since a reset. */
static const struct sent *sop_last(const struct port *p)
{
    unsigned k = p->last_stream[SET_SOP];

    return k && p->streams[k - 1].last.held ? &p->streams[k - 1].last : NULL;
}

/* Both wait for a PS_RDY: nobody has to say anything. */
static bool power_moves(const struct port *p)
{
    return (p->request.held && p->request.state == REQUEST_ACCEPTED) || p->swap != SWAP_NONE;
}

static void sink_silent(struct judge *j, const struct port *p, const struct sent *last, struct edge to)
{
    struct wire   w = sent_last(last);
    struct span   span = span_between(p, edge_end(p, &w), to);
    struct window limit = judge_window(j, 0);

    if (span_fit(&span, &limit) != FIT_ABOVE)
        return;
    struct outcome o = judge_outcome_at(j, last->last_frame, last->start_ns);

    o.player = (uint8_t)player_other(player_source(p));
    o.sentence = ALIVE_NEVER;
    time_at_most(j, &o, &span, &limit, sequence_gap(p, last->last_frame, last->end_ns));
}

static void sink_heard(struct judge *j, const struct event *e, const struct sent *last)
{
    const struct port *p = e->port;
    struct wire        w = sent_last(last);
    struct span        span = span_between(p, edge_end(p, &w), heard_start(p, e->speech));
    struct window      limit = judge_window(j, 0);

    if (judge_time_passed(j, &span, &limit))
        return;
    struct outcome o = judge_outcome(j, e);

    o.sentence = ALIVE_LATE;
    o.values[0] = e->speech->m.index;
    time_at_most(j, &o, &span, &limit, sequence_gap(p, last->last_frame, last->end_ns));
}

static void alive_heard(struct judge *j, const struct event *e)
{
    const struct sent *last = sop_last(e->port);

    if (!last || power_moves(e->port) || e->speech->m.set != SET_SOP || !sequence_applies(j, e->port, e->speech->player))
        return;
    if (e->speech->side == SIDE_SINK)
        sink_heard(j, e, last);
    else
        sink_silent(j, e->port, last, heard_start(e->port, e->speech));
}

/* A Hard Reset, a detach, the end of the trace. */
static void alive_ends(struct judge *j, const struct event *e)
{
    const struct port   *p = e->port;
    const struct record *r = e->record;
    const struct sent   *last = sop_last(p);
    struct edge          to = edge_moment(p, EDGE_STATE, r ? r->frame : 0, e->t_ns, r ? r->flags : 0);

    if (!last || power_moves(p) || !sequence_applies(j, p, player_other(player_source(p))))
        return;
    if (e->kind == EVENT_END)
        to.early_ns -= rail_align_ns(p); /* the readings may have gone on for longer than the packets */
    if (e->kind == EVENT_HARD_RESET) {
        struct wire reset = record_wire(r);

        to = edge_start(p, &reset);
    }
    sink_silent(j, p, last, to);
}

/* A swap of VCONN or of data roles, which leaves EPR mode as it is. */
static bool swapped_within(const struct event *e)
{
    return e->kind == EVENT_SWAPPED && e->port->epr_mode;
}

void time_check_epr_keepalive(struct judge *j, const struct event *e)
{
    struct epr_alive *s = judge_state(j, e->port);

    if (swapped_within(e))
        return;
    if (e->kind == EVENT_EPR_ENTERED) {
        s->on = true;
        judge_listen(j, e->port, true);
        return;
    }
    if (s->on && e->port->epr_mode) {
        if (e->kind == (enum event_kind)WAKE_HEARD) {
            alive_heard(j, e);
            return;
        }
        alive_ends(j, e);
    }
    s->on = false;
    judge_listen(j, e->port, false);
}

/* time.epr-timeout */

static struct sink_wait wait_from(const struct port *p, uint64_t frame, int64_t t_ns, struct wire last)
{
    return (struct sink_wait){ .frame = frame, .t_ns = t_ns, .end_ns = last.end_ns, .end = edge_end(p, &last) };
}

/* From what on the source waits for the sink: its last message, or the end of what kept the sink waiting. */
static struct sink_wait waits_from(const struct port *p, const struct epr_timeout *s)
{
    unsigned           sink = player_other(player_source(p));
    const struct sent *last = sink <= PLAYER_B ? &p->streams[stream_index(SET_SOP, sink)].last : NULL;

    if (!last || !last->held || last->end_ns < s->since.end_ns)
        return s->since;
    return wait_from(p, last->last_frame, last->start_ns, sent_last(last));
}

static void timeout_fails(struct judge *j, const struct port *p, struct epr_timeout *s, const struct sink_wait *from, const struct window *w)
{
    struct outcome o = silence_outcome(j, p, from->frame, from->t_ns);
    enum cause     gap = sequence_gap(p, from->frame, from->end_ns);

    s->told = from->frame;
    o.sentence = SILENCE_NEVER;
    o.values[5] = w->high_ns;
    o.parameter = w->parameter;
    outcome_evidence(&o, from->frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

/* Looks whether the sink has spoken meanwhile: then the wait goes on from there. */
static void timeout_look(struct judge *j, const struct event *e, struct epr_timeout *s)
{
    const struct port *p = e->port;
    struct sink_wait   from = waits_from(p, s);
    struct window      w = timeout_window(j, EPR_TIMEOUT, EPR_RESET);
    int64_t            over_ns = power_moves(p) ? e->t_ns + w.high_ns : surely_over_ns(p, from.end, &w);

    if (!s->on || !p->epr_mode)
        return;
    if (over_ns <= e->t_ns && from.frame != s->told && sequence_applies(j, p, player_source(p)))
        timeout_fails(j, p, s, &from, &w);
    judge_wake_at(j, p, over_ns > e->t_ns ? over_ns : e->t_ns + w.high_ns);
}

static void timeout_reset(struct judge *j, const struct event *e, const struct epr_timeout *s)
{
    const struct port *p = e->port;
    struct sink_wait   from = waits_from(p, s);
    struct wire        reset = record_wire(e->record);
    enum reset_origin  origin = judge_reset_origin(j);

    if (!s->on || !p->epr_mode || from.frame == s->told || power_moves(p) || origin == ORIGIN_SINK ||
        !sequence_applies(j, p, player_source(p)))
        return;
    struct window  w = timeout_window(j, EPR_TIMEOUT, EPR_RESET);
    struct span    span = span_between(p, from.end, edge_start(p, &reset));
    struct outcome o = silence_outcome(j, p, e->frame, e->t_ns);
    enum cause     gap = sequence_gap(p, from.frame, from.end_ns);

    /* A silence that the sink may keep, or one that something else or nobody knows who ended before its time, is another matter. */
    if (span.low_ns <= judge_window(j, EPR_ALIVE).high_ns ||
        (span_fit(&span, &w) == FIT_BELOW && (origin == ORIGIN_UNKNOWN || judge_unanswered_ns(j) >= from.t_ns)))
        return;
    o.sentence = SILENCE_LATE;
    judge_time(j, &o, &span, &w, gap != CAUSE_NONE ? gap : origin == ORIGIN_UNKNOWN ? CAUSE_ORIGIN : CAUSE_NONE, true);
}

void time_check_epr_timeout(struct judge *j, const struct event *e)
{
    struct epr_timeout  *s = judge_state(j, e->port);
    const struct speech *now = &e->port->speech;

    if (swapped_within(e))
        return;
    switch ((int)e->kind) {
    case EVENT_EPR_ENTERED:
        s->on = true;
        s->told = 0;
        s->since = wait_from(e->port, now->frame, now->start_ns, speech_wire(now));
        judge_wake_at(j, e->port, s->since.end.late_ns + timeout_window(j, EPR_TIMEOUT, EPR_RESET).high_ns);
        return;
    case EVENT_CONTRACT:
    case EVENT_RENEWED:
        if (s->on)
            s->since = wait_from(e->port, now->frame, now->start_ns, speech_wire(now));
        return;
    case WAKE_TIME:
        timeout_look(j, e, s);
        return;
    case EVENT_HARD_RESET:
        timeout_reset(j, e, s);
        break;
    default: /* EPR mode left, a detach, a swap */
        break;
    }
    s->on = false;
    judge_wake_at(j, e->port, INT64_MAX);
}
