/* What is said again, or instead, after nobody heard or the partner asked for patience. */
#include "rules/time_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

enum { COMMAND_IDENTITY = 1, SVID_PD = 0xff00 }; /* Linux include/linux/usb/pd_vdo.h */
enum { PARAMETER_ONE = 1000 };                   /* parameters count in thousandths */

/* The sender's message before the one in hand, or NULL unless it was that message and nobody heard it. */
static const struct sent *unheard_before(const struct port *p, const struct speech *s, unsigned index)
{
    const struct sent *last = &p->streams[stream_index(s->m.set, s->player)].last;

    return last->held && last->index == index && last->delivery == DELIVERY_OPEN ? last : NULL;
}

static bool lost_since(const struct port *p, const struct sent *m)
{
    return p->loss_frame > m->last_frame;
}

/* Has the line been quiet since, as far as it was recorded? */
static bool quiet_since(const struct port *p, const struct sent *m)
{
    return p->last_packet_ns == m->last_start_ns || (lost_since(p, m) && p->last_packet_ns == p->loss_to_ns);
}

void time_check_caps_interval(struct judge *j, const struct event *e)
{
    const struct port *p = e->port;
    const struct sent *before = unheard_before(p, e->speech, DATA(SOURCE_CAPABILITIES));

    if (!before || !quiet_since(p, before))
        return;
    struct wire    last = sent_last(before);
    struct span    span = span_between(p, edge_end(p, &last), heard_start(p, e->speech));
    struct window  w = judge_window(j, 0);
    struct outcome o = judge_outcome(j, e);

    judge_time(j, &o, &span, &w, lost_since(p, before) ? CAUSE_LOST : CAUSE_NONE, true);
}

static void give_up_stop(struct judge *j, const struct port *p, struct give_up *s)
{
    s->open = s->fresh = false;
    judge_wake_at(j, p, INT64_MAX);
}

static void give_up_count(struct judge *j, const struct event *e, struct give_up *s)
{
    const struct port *p = e->port;
    const struct sent *before = unheard_before(p, e->speech, DATA(SOURCE_CAPABILITIES));

    if (!s->fresh && (!s->open || !before || before->frame != s->frame || !quiet_since(p, before))) {
        if (s->open)
            give_up_stop(j, p, s);
        return;
    }
    s->gap = !s->fresh && (s->gap || lost_since(p, before));
    s->count = s->fresh ? 1 : s->count + 1;
    s->open = true;
    s->fresh = false;
    s->frame = e->frame;
    if (s->count >= judge_parameter(j, GIVE_UP_COUNT)->min / PARAMETER_ONE) {
        judge_pass(j);
        give_up_stop(j, p, s);
        return;
    }
    judge_wake_at(j, p, e->speech->end_ns + judge_window(j, GIVE_UP_END).high_ns);
}

/* A source that still supplies a partner. */
static bool attach_lasts(const struct port *p)
{
    if (!p->cc_seen && !p->vbus_seen)
        return false;
    return p->attached && (!p->cc_seen || p->cc_attach == 1 || p->cc_attach == 2) && (!p->vbus_seen || p->vbus_state == VBUS_PRESENT);
}

static void give_up_end(struct judge *j, const struct event *e, struct give_up *s)
{
    const struct port *p = e->port;
    unsigned           source = player_source(p);
    const struct sent *last = source <= PLAYER_B ? &p->streams[stream_index(SET_SOP, source)].last : NULL;
    bool open = s->open && last && last->held && last->frame == s->frame && last->delivery == DELIVERY_OPEN && quiet_since(p, last);

    if (open && attach_lasts(p)) {
        struct outcome o = judge_outcome_at(j, last->last_frame, last->start_ns);

        o.player = (uint8_t)source;
        o.sentence = GAVE_UP;
        o.values[0] = s->count;
        o.values[1] = judge_parameter(j, GIVE_UP_COUNT)->min / PARAMETER_ONE;
        o.parameter = judge_parameter(j, GIVE_UP_COUNT);
        o.has_measured = o.has_low = true;
        o.measured = o.values[0] * PARAMETER_ONE;
        o.low = o.values[1] * PARAMETER_ONE;
        outcome_evidence(&o, last->last_frame);
        if (s->gap || lost_since(p, last))
            judge_undecided(j, &o, CAUSE_LOST);
        else
            judge_fail(j, &o);
    }
    s->open = false;
}

void time_check_caps_give_up(struct judge *j, const struct event *e)
{
    struct give_up *s = judge_state(j, e->port);

    if (e->kind == (enum event_kind)WAKE_TALK) {
        give_up_count(j, e, s);
    } else if (e->kind == (enum event_kind)WAKE_TIME) {
        give_up_end(j, e, s);
    } else {
        give_up_stop(j, e->port, s);
        s->fresh = e->kind != EVENT_DETACH;
        s->gap = false;
    }
}

static void wait_stop(struct judge *j, const struct port *p, struct after_wait *s)
{
    s->wait.frame = 0;
    judge_listen(j, p, false);
}

static void wait_begin(struct judge *j, const struct event *e, struct after_wait *s)
{
    const struct ask *a = judge_ask(j);

    if (!a || a->end != ASK_ANSWERED || (a->index != DATA(REQUEST) && a->index != DATA(EPR_REQUEST)))
        return;
    kept_begin(&s->wait, e->speech);
    judge_listen(j, e->port, true);
}

static void wait_heard(struct judge *j, const struct event *e, struct after_wait *s)
{
    const struct port *p = e->port;
    unsigned           index = e->speech->m.index;

    if (e->speech->m.set != SET_SOP || e->frame == s->wait.frame)
        return;
    if (index == DATA(REQUEST) || index == DATA(EPR_REQUEST)) {
        struct span    span = span_between(p, kept_done(&s->wait, p), heard_start(p, e->speech));
        struct window  w = judge_window(j, 0);
        struct outcome o = judge_outcome(j, e);

        time_at_least(j, &o, &span, &w, sequence_gap(p, s->wait.frame, s->wait.sent.end_ns));
    } else if (index != CONTROL(SOFT_RESET) && index != DATA(SOURCE_CAPABILITIES) && index != EXTENDED(EPR_SOURCE_CAPABILITIES)) {
        return;
    }
    wait_stop(j, p, s);
}

void time_check_request_after_wait(struct judge *j, const struct event *e)
{
    struct after_wait *s = judge_state(j, e->port);

    kept_look(&s->wait, e->port);
    if (e->kind == (enum event_kind)WAKE_TALK)
        wait_begin(j, e, s);
    else if (s->wait.frame && e->kind == (enum event_kind)WAKE_HEARD)
        wait_heard(j, e, s);
    else if (s->wait.frame)
        wait_stop(j, e->port, s); /* a Hard Reset, an attach, a detach */
}

/* The wait for the GoodCRC of the last copy counts before tSoftReset does. */
void time_check_soft_reset(struct judge *j, const struct event *e)
{
    const struct port   *p = e->port;
    const struct stream *own = &p->streams[stream_index(SET_SOP, e->speech->player)];
    const struct sent   *before = &own->last;

    if (!before->held || before->delivery != DELIVERY_OPEN || own->partner_between || !p->contract.held ||
        before->index == CONTROL(SOFT_RESET))
        return;
    struct wire    last = sent_last(before);
    struct span    span = span_between(p, edge_end(p, &last), heard_start(p, e->speech));
    struct window  w = judge_window(j, SOFT_RESET_MOST);
    struct outcome o = judge_outcome(j, e);

    w.high_ns += judge_window(j, SOFT_RESET_RECEIVE).high_ns;
    o.sentence = SOFT_LATE;
    o.values[0] = before->index;
    time_at_most(j, &o, &span, &w, time_gap(p, SET_SOP, before->last_frame, before->end_ns));
}

static bool asks_identity(uint32_t header)
{
    return header >> 16 == SVID_PD && (header >> 15 & 1) && (header >> 6 & 3) == 0 && (header & 31) == COMMAND_IDENTITY;
}

void time_check_discover_identity(struct judge *j, const struct event *e)
{
    const struct port   *p = e->port;
    const struct speech *s = e->speech;
    int64_t              settled_ns;
    const struct ask    *a = judge_last_ask(j, s->m.set, s->player, &settled_ns);

    if (s->m.set != SET_SOP1 || s->player == PLAYER_CABLE || !a || !asks_identity(message_word(&s->m, 0)) || a->index != DATA(VENDOR_DEFINED) ||
        !asks_identity(a->word))
        return;
    bool again = a->end == ASK_OVERTAKEN && settled_ns == e->t_ns;

    if (!again && a->end != ASK_SILENT && a->end != ASK_UNHEARD)
        return;
    struct wire    last = sent_last(&a->sent);
    struct span    span = span_between(p, edge_end(p, &last), heard_start(p, s));
    struct window  w = judge_window(j, 0);
    struct outcome o = judge_outcome(j, e);

    judge_time(j, &o, &span, &w, time_gap(p, s->m.set, a->sent.last_frame, a->sent.end_ns), false);
}
