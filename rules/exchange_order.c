/* Whose turn it is: messages that nobody waits for, questions that come too early, and a sink that must not begin. */
#include "rules/exchange_checks.h"
#include "rules/message_checks.h"

#include "decode/exchange.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

enum { EPR_ACKNOWLEDGED = 2, EPR_SUCCEEDED, EPR_FAILED };  /* EPRMDO actions: Chromium EC usb_pd.h */
enum { KEEP_ALIVE_ACK = 4 };                               /* ECDB: Zephyr usbc_pd.h */
enum { VDM_REQ = 0 };                                      /* Linux include/linux/usb/pd_vdo.h */
#define SWAP_WATCH_NS INT64_C(2000000000) /* longer than any swap or entry takes: ours */

/* exchange.unexpected-message */

static unsigned epr_action(const struct speech *s)
{
    return s->m.index == DATA(EPR_MODE) ? message_word(&s->m, 0) >> 24 : 0;
}

/* Is it of a kind that only ever answers, or ends what was begun? The row's mask has let through a little more. */
static bool only_answers(const struct speech *s)
{
    uint32_t header = message_word(&s->m, 0);

    switch (s->m.index) {
    case DATA(VENDOR_DEFINED):
        return (header >> 15 & 1) && (header >> 6 & 3) != VDM_REQ;
    case DATA(EPR_MODE):
        return epr_action(s) >= EPR_ACKNOWLEDGED && epr_action(s) <= EPR_FAILED;
    case EXTENDED(CONTROL):
        return s->m.body_length > 0 && s->m.body[0] == KEEP_ALIVE_ACK;
    default:
        return true;
    }
}

static const struct stream *partner_stream(const struct port *p, const struct speech *s)
{
    return &p->streams[stream_index(s->m.set, s->player) ^ 1u];
}

/* A message that a port may know nothing of: not one that only answers. */
static bool may_be_refused(unsigned index)
{
    switch (index) {
    case DATA(VENDOR_DEFINED):
    case DATA(ALERT):
    case DATA(BIST):
    case CONTROL(PING):
    case CONTROL(GOTOMIN):
        return true;
    default:
        return index / 32 == CLASS_EXTENDED || exchange_kind(index) || !message_has_name(index);
    }
}

/* A refusal of whatever the partner said last, and nobody has answered since. */
static bool refuses(const struct judge *j, const struct port *p, const struct speech *s)
{
    const struct stream *partner = partner_stream(p, s);
    bool                 reject = s->m.index == CONTROL(REJECT) && message_agreed(j, p, &s->m) != AGREED_R3;

    return (s->m.index == CONTROL(NOT_SUPPORTED) || reject) && partner->last.held && may_be_refused(partner->last.index) &&
           p->last_stream[s->m.set] == (uint8_t)(partner - p->streams + 1) &&
           s->start_ns - partner->last.end_ns <= judge_window(j, UNEXPECTED_NONE).high_ns;
}

/* The answer to a question that ended otherwise, less than 100 ms after its asker's patience at the latest. */
static bool answers_late(const struct judge *j, const struct port *p, const struct speech *s)
{
    unsigned          partner = s->m.set == SET_SOP ? player_other(s->player) : s->player == PLAYER_CABLE ? PLAYER_UNKNOWN : PLAYER_CABLE;
    int64_t           settled_ns;
    const struct ask *a = judge_last_ask(j, s->m.set, partner, &settled_ns);

    if (!a || a->end == ASK_ANSWERED || a->end == ASK_HARD_RESET || !ask_may_answer(a, s))
        return false;
    struct span span = span_between(p, edge_done(p, &a->sent), heard_start(p, s));

    return span.low_ns <= judge_window(j, UNEXPECTED_PATIENCE).high_ns + judge_window(j, UNEXPECTED_NONE).high_ns;
}

/* Does it carry on what the two agreed on before? */
static bool carries_on(const struct port *p, const struct speech *s, const struct unexpected_state *state)
{
    switch (s->m.index) {
    case CONTROL(PS_RDY):
        return p->swap != SWAP_NONE;
    case CONTROL(DATA_RESET_COMPLETE):
        return state->data_reset_frame != 0;
    case DATA(EPR_MODE):
        return state->entry_frame != 0;
    case DATA(SINK_CAPABILITIES):
        return s->player <= PLAYER_B && !state->sink_caps_seen[s->player];
    default:
        return false;
    }
}

/* What answers a chunk: the partner's last message has more of them. */
static bool chunk_expected(const struct port *p, const struct speech *s)
{
    const struct sent *last = &partner_stream(p, s)->last;

    return last->held && last->index == s->m.index && !last->chunk_request;
}

/* What this message begins or ends that later ones carry on. */
static void unexpected_note(const struct event *e, const struct ask *a, struct unexpected_state *state)
{
    const struct speech *s = e->speech;

    if (s->m.index == CONTROL(ACCEPT) && a && a->index == CONTROL(DATA_RESET))
        state->data_reset_frame = e->frame;
    if (s->m.index == CONTROL(DATA_RESET_COMPLETE))
        state->data_reset_frame = 0;
    if (s->m.index == DATA(EPR_MODE))
        state->entry_frame = epr_action(s) == EPR_ACKNOWLEDGED ? e->frame : 0;
    if (s->m.index == DATA(SINK_CAPABILITIES) && !a && s->player <= PLAYER_B)
        state->sink_caps_seen[s->player] = true;
}

static void unexpected_tell(struct judge *j, const struct event *e, bool long_ago)
{
    const struct port   *p = e->port;
    const struct speech *s = e->speech;
    int64_t              within_ns = long_ago ? SWAP_WATCH_NS : judge_window(j, UNEXPECTED_NONE).high_ns;
    enum cause           gap = sequence_gap_before(p, s->m.set, s->start_ns, within_ns);
    struct outcome       o = judge_outcome(j, e);

    o.sentence = s->m.request_chunk ? SAYS_UNEXPECTED_CHUNK : s->m.index == DATA(SINK_CAPABILITIES) ? SAYS_UNEXPECTED_TWICE : SAYS_UNEXPECTED;
    o.values[0] = s->m.index;
    outcome_evidence(&o, partner_stream(p, s)->last.held ? partner_stream(p, s)->last.frame : 0);
    outcome_evidence(&o, e->frame);
    if (gap == CAUSE_NONE && s->m.set == SET_SOP && (s->player > PLAYER_B || p->doubt_until_ns > s->start_ns))
        gap = CAUSE_ROLES;
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

static void unexpected_judge(struct judge *j, const struct event *e, const struct ask *a, const struct unexpected_state *state)
{
    const struct port   *p = e->port;
    const struct speech *s = e->speech;
    bool                 swap = s->m.index == CONTROL(PS_RDY), entry = s->m.index == DATA(EPR_MODE);

    if (swap && p->swap == SWAP_NONE && s->side != SIDE_SINK)
        return; /* exchange.no-ready-without-accept */
    if (a && a->end == ASK_OTHER)
        return; /* exchange.answer-kind, and what stands with the question */
    if (entry && a && a->index == DATA(EPR_MODE) && a->end != ASK_ANSWERED)
        return; /* epr.entry-order */
    if ((s->m.index == CONTROL(NOT_SUPPORTED) || s->m.index == CONTROL(REJECT)) && judge_silenced_on(j, partner_stream(p, s)->last.frame))
        return;
    if ((a && a->end == ASK_ANSWERED) || (s->m.request_chunk && chunk_expected(p, s)) || carries_on(p, s, state) ||
        (!s->m.request_chunk && (refuses(j, p, s) || answers_late(j, p, s))))
        judge_pass(j);
    else
        unexpected_tell(j, e, swap || entry || s->m.index == CONTROL(DATA_RESET_COMPLETE));
}

void exchange_check_unexpected(struct judge *j, const struct event *e)
{
    struct unexpected_state *state = judge_state(j, e->port);
    const struct ask        *a = judge_ask(j);

    if (e->kind != (enum event_kind)WAKE_TALK) { /* a reset, an attach, a detach, a swap of power roles */
        if (e->kind != EVENT_SOFT_RESET && e->kind != EVENT_SWAPPED)
            *state = (struct unexpected_state){ .data_reset_frame = 0 };
        else if (e->kind == EVENT_SOFT_RESET)
            state->data_reset_frame = state->entry_frame = 0;
        return;
    }
    /* Later chunks carry on with the first. */
    if ((e->speech->m.chunked && e->speech->m.chunk > 0 && !e->speech->m.request_chunk) || (!e->speech->m.request_chunk && !only_answers(e->speech)))
        return;
    unexpected_judge(j, e, a, state);
    if (e->speech->m.set == SET_SOP)
        unexpected_note(e, a, state);
}

/* exchange.one-at-a-time */

/* A question that is still open, as it was sent; NULL: none that keeps others back. */
static const struct ask *ask_in_force(const struct judge *j, unsigned player, const struct sent **sent)
{
    const struct ask *a = player <= PLAYER_B ? judge_open_ask(j, SET_SOP, player) : NULL;

    if (!a || a->index == DATA(VENDOR_DEFINED) || a->index == CONTROL(SOFT_RESET) || a->asked || a->reserved)
        return NULL;
    *sent = judge_open_sent(j, SET_SOP, player);
    return (*sent)->delivery == DELIVERY_OPEN ? NULL : a;
}

/* Its asker cannot have given up yet. */
static bool still_waits(const struct judge *j, const struct port *p, const struct sent *sent, const struct speech *s)
{
    struct span span = span_between(p, edge_done(p, sent), heard_start(p, s));

    return span.high_ns < judge_window(j, ONE_PATIENCE).low_ns;
}

static bool crossing(const struct judge *j, const struct port *p, const struct sent *sent, const struct speech *s)
{
    struct wire last = sent_last(sent);
    struct span span = span_between(p, edge_end(p, &last), heard_start(p, s));

    return span.low_ns < judge_window(j, ONE_CROSSING).high_ns;
}

/* limit: the parameter whose most says how long the other exchange may stay open. */
static void one_tell(struct judge *j, const struct event *e, unsigned sentence, unsigned other, unsigned limit, uint64_t frame,
                     enum cause doubt)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = (uint8_t)sentence;
    o.values[0] = e->speech->m.index;
    o.values[1] = other;
    o.values[2] = judge_window(j, limit).high_ns;
    outcome_evidence(&o, frame);
    outcome_evidence(&o, e->frame);
    if (doubt != CAUSE_NONE)
        judge_undecided(j, &o, doubt);
    else
        judge_fail(j, &o);
}

/* From Accept to PS_RDY; after the sink's patience it is over in any case. */
static bool power_open(const struct judge *j, const struct port *p, const struct speech *s)
{
    const struct request *q = &p->request;
    struct window         w = judge_window(j, p->epr_mode ? ONE_READY_EPR : ONE_READY_SPR);

    return q->held && q->state == REQUEST_ACCEPTED && s->start_ns - q->answer_ns < w.low_ns;
}

static bool vconn_open(const struct judge *j, const struct port *p, const struct speech *s)
{
    return p->swap == SWAP_VCONN && s->start_ns - p->swap_ns < judge_window(j, ONE_VCONN).low_ns;
}

/* What the two have agreed on, and not carried through. */
static bool one_agreed_open(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;

    if (power_open(j, p, e->speech)) {
        one_tell(j, e, SAYS_POWER_OPEN, CONTROL(ACCEPT), p->epr_mode ? ONE_READY_EPR : ONE_READY_SPR, p->request.answer_frame,
                 sequence_gap(p, p->request.frame, p->request.end_ns));
        return true;
    }
    if (vconn_open(j, p, e->speech)) {
        one_tell(j, e, SAYS_VCONN_OPEN, CONTROL(VCONN_SWAP), ONE_VCONN, 0,
                 sequence_gap_before(p, SET_SOP, e->speech->start_ns, e->speech->start_ns - p->swap_ns));
        return true;
    }
    return false;
}

/* A question of either side that was heard and not answered. */
static bool one_question_open(struct judge *j, const struct event *e)
{
    const struct speech *s = e->speech;
    const struct port   *p = e->port;
    const struct sent   *sent = NULL;
    const struct ask    *a = ask_in_force(j, player_other(s->player), &sent);

    /* An entry into EPR mode: epr.entry-order says what may come between. */
    if (a && a->index != DATA(EPR_MODE) && still_waits(j, p, sent, s)) {
        enum cause gap = sequence_gap(p, sent->last_frame, sent->end_ns);

        one_tell(j, e, SAYS_PARTNER_WAITS, a->index, ONE_PATIENCE, sent->frame, gap == CAUSE_NONE && crossing(j, p, sent, s) ? CAUSE_CROSSING : gap);
        return true;
    }
    a = ask_in_force(j, s->player, &sent);
    if (!a || !still_waits(j, p, sent, s))
        return false;
    one_tell(j, e, SAYS_OWN_OPEN, a->index, ONE_PATIENCE, sent->frame, sequence_gap(p, sent->last_frame, sent->end_ns));
    return true;
}

/* Is it the answer to what the partner asked? */
static bool answers_open(const struct judge *j, const struct speech *s)
{
    const struct ask *a = s->player <= PLAYER_B ? judge_open_ask(j, SET_SOP, player_other(s->player)) : NULL;

    return a && ask_may_answer(a, s);
}

void exchange_check_one_at_a_time(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    enum cause         gap;

    if (!speech_asks(e->speech) || e->speech->player > PLAYER_B || answers_open(j, e->speech) || !message_applies(j, e))
        return;
    /* A swap of power roles: swap.pr-order and swap.fr-order say what may come between. */
    if (p->swap == SWAP_PR || p->swap == SWAP_FR || one_question_open(j, e) || one_agreed_open(j, e))
        return;
    gap = sequence_gap_before(p, SET_SOP, e->speech->start_ns, judge_window(j, ONE_NONE).high_ns);
    if (gap != CAUSE_NONE)
        one_tell(j, e, SAYS_MAYBE_OPEN, 0, ONE_NONE, 0, gap);
    else
        judge_pass(j);
}

/* exchange.sink-tx */

/* Where CC shows no sink, the port does not set Rp: after a swap of power roles its partner does, unseen. */
static void sink_tx_note(const struct event *e, struct sink_tx_state *state)
{
    if (e->kind == EVENT_SWAPPED && e->swap != SWAP_PR && e->swap != SWAP_FR)
        return;
    bool sets_rp = e->kind == EVENT_CC && (e->record->cc.attach == 1 || e->record->cc.attach == 2);

    if (!sets_rp) { /* a loss, a detach, a swap */
        state->rp = 0;
    } else if (e->record->cc.rp != state->rp) {
        state->rp = e->record->cc.rp;
        state->frame = e->frame;
        state->since_ns = e->t_ns;
    }
}

static void sink_tx_tell(struct judge *j, const struct event *e, const struct sink_tx_state *state, bool unsure)
{
    struct outcome o = judge_outcome(j, e);
    bool           asked = e->speech->m.index == DATA(REQUEST) || e->speech->m.index == DATA(EPR_REQUEST);
    enum cause     gap = asked ? sequence_gap_before(e->port, SET_SOP, e->speech->start_ns, judge_window(j, SINK_TX_ANSWER).high_ns) : CAUSE_NONE;

    o.sentence = unsure ? SAYS_TX_UNSURE : SAYS_TX_NOT_OK;
    o.values[0] = e->speech->m.index;
    o.values[1] = state->rp;
    outcome_evidence(&o, state->frame);
    outcome_evidence(&o, e->frame);
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap); /* it may answer an offer that was missed */
    else if (unsure)
        judge_undecided(j, &o, CAUSE_RP);
    else
        judge_fail(j, &o);
}

void exchange_check_sink_tx(struct judge *j, const struct event *e)
{
    struct sink_tx_state *state = judge_state(j, e->port);
    const struct port    *p = e->port;
    enum { RP_3A = 3 }; /* CC_STATE: traces/FORMAT.md */

    if (e->kind != EVENT_MESSAGE) {
        sink_tx_note(e, state);
        return;
    }
    if (state->rp == 0 || e->speech->side != SIDE_SINK || !p->contract.held || !speech_asks(e->speech) || answers_open(j, e->speech) ||
        !message_applies(j, e))
        return;
    struct span span = span_between(p, edge_moment(p, EDGE_STATE, state->frame, state->since_ns, 0), heard_start(p, e->speech));
    bool        unsure = span.low_ns < judge_window(j, SINK_TX_STEADY).low_ns;

    if (state->rp == RP_3A && !unsure) {
        judge_pass(j);
        return;
    }
    sink_tx_tell(j, e, state, unsure);
}
