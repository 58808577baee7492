/* How soon answers come, and how long they are waited for. */
#include "rules/time_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)

enum { VDM_REQ = 0, VDM_BUSY_KIND = 3, COMMAND_ENTER = 4, COMMAND_EXIT = 5 }; /* Linux include/linux/usb/pd_vdo.h */
/* Of a VDM header: SVID, Structured, object position, command type and command; what is left out are versions. */
#define VDM_SAME UINT32_C(0xffff87df)

void time_at_most(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause gap)
{
    judge_time(j, o, s, w, gap, false);
}

void time_at_least(struct judge *j, struct outcome *o, const struct span *s, const struct window *w, enum cause gap)
{
    judge_time(j, o, s, w, span_fit(s, w) == FIT_BELOW ? CAUSE_NONE : gap, true);
}

enum cause time_gap(const struct port *p, unsigned set, uint64_t frame, int64_t end_ns)
{
    if (set == SET_SOP)
        return sequence_gap(p, frame, end_ns);
    if (p->loss_frame > frame)
        return CAUSE_LOST;
    return p->bad_frame > frame && p->bad_set == set ? CAUSE_BAD_PACKET : CAUSE_NONE;
}

bool time_silenced(const struct judge *j)
{
    return judge_silenced_since(j, judge_anew_ns(j));
}

/* The question in hand and its answer, which is the message in hand. */
static void answer_judge(struct judge *j, const struct event *e, const struct window *w, unsigned patience)
{
    const struct ask *a = judge_ask(j);

    if (judge_plainly_passed(j, &a->sent, &a->answer, w))
        return;
    struct span span = span_between(e->port, edge_done(e->port, &a->sent), edge_start(e->port, &a->answer));

    if (judge_time_passed(j, &span, w))
        return;
    struct outcome o = judge_outcome(j, e);

    o.values[0] = a->answer_index;
    o.values[1] = a->index;
    if (patience) {
        struct window wait = judge_sender_response(j, e->port, a->player, patience);

        o.values[2] = wait.high_ns;
        o.sentence = span.low_ns > wait.high_ns ? ANSWER_LATE_RESET : ANSWER_LATE;
    }
    time_at_most(j, &o, &span, w, a->gap ? a->cause : CAUSE_NONE);
}

void time_check_receiver_response(struct judge *j, const struct event *e)
{
    struct window w = judge_window(j, ANSWER_MOST);

    if (judge_ask(j)->end == ASK_ANSWERED)
        answer_judge(j, e, &w, 0);
}

void time_check_source_response(struct judge *j, const struct event *e)
{
    struct window w = judge_window(j, ANSWER_MOST);

    if (judge_ask(j)->end == ASK_ANSWERED && !time_silenced(j))
        answer_judge(j, e, &w, ANSWER_PATIENCE);
}

/* The first Request itself settles the revision. */
static unsigned revision_by_request(const struct port *p, const struct speech *s)
{
    unsigned source = p->caps_revision ? (unsigned)(p->caps_revision - 1) : s->m.revision;
    unsigned lower = source < s->m.revision ? source : s->m.revision;

    if (p->agreed != AGREED_UNKNOWN)
        return p->agreed;
    return lower <= HEADER_R2 ? AGREED_R2 : lower == HEADER_R3 && p->caps_revision ? AGREED_R3 : AGREED_UNKNOWN;
}

void time_check_first_request(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    bool              request = a->answer_index == DATA(REQUEST) || a->answer_index == DATA(EPR_REQUEST);
    struct window     w;

    if (a->end != ASK_ANSWERED || !request || (a->asked && a->in_contract && !a->owed) || time_silenced(j))
        return;
    w = judge_sender_response_agreed(j, e->port, e->speech->player, 0, revision_by_request(e->port, e->speech));
    w.has_low = false;
    answer_judge(j, e, &w, 0);
}

/* Has anybody said anything since, but the reset in hand? */
static bool spoken_since(const struct port *p, const struct ask *a)
{
    unsigned stream = stream_index(a->set, a->player);

    return p->streams[stream].last.frame != a->sent.frame || p->streams[stream ^ 1u].last.frame > a->sent.frame;
}

static void patience_judge(struct judge *j, const struct event *e, const struct ask *a, struct edge reset)
{
    const struct port *p = e->port;
    unsigned           side = a->player <= PLAYER_B ? p->role[a->player] : a->side;
    bool               hard = a->end == ASK_HARD_RESET;
    enum reset_origin  origin = hard ? judge_reset_origin(j) : ORIGIN_UNKNOWN;
    enum cause         doubt = a->gap ? a->cause : CAUSE_NONE;

    if (origin != ORIGIN_UNKNOWN && (origin == ORIGIN_SOURCE) != (side == SIDE_SOURCE))
        return;
    struct window  w = judge_sender_response_agreed(j, p, a->player, 0, a->agreed);
    struct span    span = span_between(p, edge_done(p, &a->sent), reset);
    struct outcome o = judge_outcome_at(j, e->frame, e->t_ns);

    outcome_by(&o, side, a->player);
    o.sentence = PATIENCE_ENDED;
    o.values[0] = a->index;
    w.has_high = false;
    judge_time(j, &o, &span, &w, hard && origin == ORIGIN_UNKNOWN ? CAUSE_ORIGIN : doubt, true);
}

static void patience_ended(struct judge *j, const struct event *e, unsigned set, unsigned player, enum ask_end end)
{
    int64_t           settled_ns;
    const struct ask *a = judge_last_ask(j, set, player, &settled_ns);

    if (!a || settled_ns != e->t_ns || a->end != end || !a->delivered || (a->asked && a->in_contract) || spoken_since(e->port, a) ||
        judge_silenced_on(j, a->sent.frame))
        return;
    struct wire reset = a->answer;

    patience_judge(j, e, a, edge_start(e->port, &reset));
}

void time_check_sender_patience(struct judge *j, const struct event *e)
{
    if (e->kind != EVENT_HARD_RESET) {
        patience_ended(j, e, e->speech->m.set, e->speech->player, ASK_SOFT_RESET);
        return;
    }
    patience_ended(j, e, SET_SOP, PLAYER_A, ASK_HARD_RESET);
    patience_ended(j, e, SET_SOP, PLAYER_B, ASK_HARD_RESET);
}

/* Chunks: the partner's last message is what is answered. */
static void chunk_judge(struct judge *j, const struct event *e, const struct sent *before)
{
    const struct speech *s = e->speech;
    struct span          span = span_between(e->port, edge_done(e->port, before), heard_start(e->port, s));
    struct window        w = judge_window(j, 0);

    if (!sequence_applies(j, e->port, s->player) || judge_time_passed(j, &span, &w))
        return;
    struct outcome o = judge_outcome(j, e);

    o.values[0] = s->m.chunk;
    o.values[1] = s->m.index;
    time_at_most(j, &o, &span, &w, time_gap(e->port, s->m.set, before->last_frame, before->end_ns));
}

static const struct sent *partner_last(const struct event *e)
{
    return &e->port->streams[stream_index(e->speech->m.set, e->speech->player) ^ 1u].last;
}

void time_check_chunk_request(struct judge *j, const struct event *e)
{
    const struct sent *before = partner_last(e);

    if (e->speech->m.request_chunk && before->held && before->index == e->speech->m.index && !before->chunk_request &&
        before->chunk + 1 == e->speech->m.chunk)
        chunk_judge(j, e, before);
}

void time_check_chunk_response(struct judge *j, const struct event *e)
{
    const struct sent *before = partner_last(e);

    if (e->speech->m.chunked && !e->speech->m.request_chunk && e->speech->m.chunk > 0 && before->held &&
        before->index == e->speech->m.index && before->chunk_request && before->chunk == e->speech->m.chunk)
        chunk_judge(j, e, before);
}

void time_check_vdm_response(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);

    if (a->end != ASK_ANSWERED || a->answer_index != DATA(VENDOR_DEFINED))
        return;
    struct window w = judge_window(j, a->detail == COMMAND_ENTER ? VDM_ENTER : a->detail == COMMAND_EXIT ? VDM_EXIT : VDM_ANSWER);

    answer_judge(j, e, &w, 0);
}

static unsigned vdm_command_type(uint32_t header)
{
    return header >> 6 & 3;
}

static void busy_stop(struct judge *j, const struct port *p, struct vdm_busy *s)
{
    for (unsigned k = 0; k < BUSY_SLOTS; k++)
        if (s->slot[k].kept.frame)
            return;
    judge_listen(j, p, false);
}

static void busy_begin(struct judge *j, const struct event *e, struct vdm_busy *s)
{
    const struct ask *a = judge_ask(j);

    if (a->end != ASK_ANSWERED || a->answer_index != DATA(VENDOR_DEFINED) || a->set >= BUSY_SLOTS ||
        vdm_command_type(a->answer_word) != VDM_BUSY_KIND)
        return;
    kept_begin(&s->slot[a->set].kept, e->speech);
    s->slot[a->set].word = a->word & VDM_SAME;
    s->slot[a->set].set = a->set;
    s->slot[a->set].player = a->player;
    judge_listen(j, e->port, true);
}

static void busy_again(struct judge *j, const struct event *e, struct busy *b)
{
    const struct port *p = e->port;
    struct span        span = span_between(p, kept_done(&b->kept, p), heard_start(p, e->speech));
    struct window      w = judge_window(j, 0);
    struct outcome     o = judge_outcome(j, e);

    time_at_least(j, &o, &span, &w, time_gap(p, b->set, b->kept.frame, b->kept.sent.end_ns));
    b->kept.frame = 0;
}

static void busy_heard(struct judge *j, const struct event *e, struct vdm_busy *s)
{
    const struct speech *speech = e->speech;
    struct busy         *b = speech->m.set < BUSY_SLOTS ? &s->slot[speech->m.set] : NULL;

    if (!b || !b->kept.frame || b->kept.frame == e->frame)
        return;
    if (speech->m.index == CONTROL(SOFT_RESET))
        b->kept.frame = 0;
    else if (speech->m.index == DATA(VENDOR_DEFINED) && speech->player == b->player &&
             (message_word(&speech->m, 0) & VDM_SAME) == b->word)
        busy_again(j, e, b);
    busy_stop(j, e->port, s);
}

void time_check_vdm_busy(struct judge *j, const struct event *e)
{
    struct vdm_busy *s = judge_state(j, e->port);

    for (unsigned k = 0; k < BUSY_SLOTS; k++)
        kept_look(&s->slot[k].kept, e->port);
    if (e->kind == (enum event_kind)WAKE_ASK) {
        busy_begin(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        busy_heard(j, e, s);
    } else { /* a Hard Reset, an attach, a detach */
        for (unsigned k = 0; k < BUSY_SLOTS; k++)
            s->slot[k].kept.frame = 0;
        busy_stop(j, e->port, s);
    }
}
