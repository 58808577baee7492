/* What VBUS does while power roles are swapped. */
#include "rules/swap_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)

enum {
    UV_A_MILLI = 1000,      /* thousandths of a volt */
    NEAR_NS = 5000000,      /* a reading farther from PS_RDY says nothing of it: ours */
};

/* swap.pr-vbus-off */

static void off_stop(struct judge *j, const struct port *p, struct vbus_off *s)
{
    s->phase = OFF_IDLE;
    judge_listen(j, p, false);
    judge_read(j, p, false);
}

static void off_begin(struct judge *j, const struct event *e, struct vbus_off *s)
{
    const struct ask *ask = judge_ask(j);

    if (ask->end != ASK_ANSWERED || ask->answer_index != CONTROL(ACCEPT) || !e->port->vbus_seen)
        return;
    *s = (struct vbus_off){ .phase = OFF_ACCEPTED, .player = (uint8_t)player_source(e->port), .asked_frame = ask->sent.frame };
    judge_listen(j, e->port, true);
    judge_read(j, e->port, true);
}

static void off_outcome(struct judge *j, const struct port *p, struct vbus_off *s, unsigned sentence, enum cause cause)
{
    struct outcome o = judge_outcome_at(j, s->before.frame && sentence == OFF_STILL_ON ? s->before.frame : s->ready_frame, s->ready_ns);

    o.player = s->player;
    o.sentence = (uint8_t)sentence;
    o.values[0] = s->before.uv / 1000;
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, s->ready_frame);
    outcome_evidence(&o, s->before.frame);
    if (sentence == OFF_STILL_ON) {
        o.has_measured = o.has_high = true;
        o.measured = s->before.uv;
        o.high = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;
        o.per_unit = 1000000;
        o.unit = "V";
        o.parameter = judge_parameter(j, OFF_LEVEL);
    }
    if (cause == CAUSE_NONE)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, cause);
    off_stop(j, p, s);
}

/* The readings around PS_RDY; after: NULL where none came any more. */
static void off_decide(struct judge *j, const struct port *p, struct vbus_off *s, const struct volt_trust *t, const struct reading *after)
{
    int64_t level_uv = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;
    bool    near_before = s->before.frame && s->ready_ns - s->before.t_ns <= NEAR_NS;
    bool    near_after = after && after->t_ns - s->ready_ns <= NEAR_NS;

    if ((!near_before && !near_after) || !after || !s->before.frame) {
        off_outcome(j, p, s, OFF_UNREAD, CAUSE_NO_READING);
        return;
    }
    struct volt_range before = volt_mean_range(t, &s->before, 0, 1), behind = volt_mean_range(t, after, 0, 1);

    if (before.high_uv < level_uv && behind.high_uv < level_uv) {
        judge_pass_at(j, s->ready_ns);
        off_stop(j, p, s);
    } else if (before.low_uv > level_uv && behind.low_uv > level_uv && !s->was_low) {
        off_outcome(j, p, s, OFF_STILL_ON, CAUSE_NONE);
    } else {
        off_outcome(j, p, s, OFF_UNSURE, s->was_low ? CAUSE_CROSSING : CAUSE_UNCERTAINTY);
    }
}

static void off_rows(struct judge *j, const struct port *p, struct vbus_off *s)
{
    struct volt_trust t = volt_trust(j, p);
    int64_t           level_uv = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;

    for (unsigned k = 0; k < judge_readings(j) && s->phase != OFF_IDLE; k++) {
        struct reading r = judge_reading(j, k);

        if (r.uv == RECORD_NO_READING)
            continue;
        if (s->phase == OFF_READY && r.t_ns >= s->ready_ns) {
            off_decide(j, p, s, &t, &r);
        } else {
            s->before = r;
            s->was_low = s->was_low || volt_mean_range(&t, &r, 0, 1).high_uv < level_uv;
        }
    }
}

static void off_heard(struct judge *j, const struct event *e, struct vbus_off *s)
{
    if (e->speech->m.set != SET_SOP || s->phase != OFF_ACCEPTED || e->speech->m.index == CONTROL(ACCEPT))
        return;
    if (e->speech->m.index != CONTROL(PS_RDY)) {
        off_stop(j, e->port, s); /* the swap went wrong: another rule's */
        return;
    }
    struct reading r;

    if (judge_reading_before(j, &r) && (!s->before.frame || r.t_ns > s->before.t_ns))
        s->before = r;
    s->phase = OFF_READY;
    s->ready_frame = e->frame;
    s->ready_ns = e->speech->start_ns;
    judge_listen(j, e->port, false);
}

void swap_check_vbus_off(struct judge *j, const struct event *e)
{
    struct vbus_off *s = judge_state(j, e->port);

    if (e->kind == (enum event_kind)WAKE_ASK) {
        off_begin(j, e, s);
    } else if (s->phase == OFF_IDLE) {
        return;
    } else if (e->kind == (enum event_kind)WAKE_READINGS) {
        off_rows(j, e->port, s);
    } else if (e->kind == (enum event_kind)WAKE_HEARD) {
        off_heard(j, e, s);
    } else if (s->phase == OFF_READY) {
        struct volt_trust t = volt_trust(j, e->port);

        off_decide(j, e->port, s, &t, NULL);
    } else {
        off_stop(j, e->port, s);
    }
}

/* swap.fr-vbus */

static void dip_stop(struct judge *j, const struct port *p, struct fr_dip *s)
{
    s->asked_frame = 0;
    judge_read(j, p, false);
}

static void dip_begin(struct judge *j, const struct event *e, struct fr_dip *s)
{
    const struct ask *ask = judge_ask(j);

    if (ask->end != ASK_ANSWERED || ask->side != SIDE_SINK || !e->port->vbus_seen || !sequence_applies(j, e->port, ask->player))
        return;
    *s = (struct fr_dip){ .asked_frame = ask->sent.frame, .t_ns = e->t_ns, .player = ask->player, .above_ns = INT64_MIN,
                          .below_ns = INT64_MIN, .last_ns = INT64_MIN };
    judge_read(j, e->port, true);
}

static struct outcome dip_outcome(struct judge *j, const struct fr_dip *s, uint64_t frame)
{
    struct outcome o = judge_outcome_at(j, frame, s->t_ns);

    o.player = s->player;
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, frame);
    return o;
}

/* Surely as long as from its first to its last reading below. */
static void dip_below(struct judge *j, const struct port *p, struct fr_dip *s, const struct reading *r)
{
    int64_t most_ns = judge_window(j, DIP_MOST).high_ns;

    if (s->below_ns == INT64_MIN) {
        s->below_ns = r->t_ns;
        s->below_frame = r->frame;
    }
    s->below_last_ns = r->t_ns;
    if (r->t_ns - s->below_ns <= most_ns)
        return;
    struct outcome o = dip_outcome(j, s, s->below_frame);

    o.t_ns = s->below_ns;
    o.sentence = DIP_LONG;
    o.values[5] = most_ns;
    judge_fail(j, &o);
    dip_stop(j, p, s);
}

/* ... and at most from the last reading above before it to the first one after it. */
static void dip_above(struct judge *j, struct fr_dip *s, const struct reading *r)
{
    int64_t from_ns = s->above_ns != INT64_MIN ? s->above_ns : s->t_ns;

    if (s->below_ns != INT64_MIN && r->t_ns - from_ns > judge_window(j, DIP_MOST).high_ns)
        s->unsure = true;
    s->above_ns = r->t_ns;
    s->below_ns = INT64_MIN;
}

static void dip_rows(struct judge *j, const struct port *p, struct fr_dip *s)
{
    struct volt_trust t = volt_trust(j, p);
    int64_t           level_uv = judge_parameter(j, DIP_LEVEL)->min * UV_A_MILLI;

    for (unsigned k = 0; k < judge_readings(j) && s->asked_frame; k++) {
        struct reading    r = judge_reading(j, k);
        struct volt_range v = volt_mean_range(&t, &r, 0, 1);

        if (r.uv == RECORD_NO_READING)
            continue;
        s->unsure = s->unsure || (s->last_ns != INT64_MIN && r.t_ns - s->last_ns > judge_window(j, DIP_MOST).high_ns);
        s->read = true;
        s->last_ns = r.t_ns;
        if (v.high_uv < level_uv)
            dip_below(j, p, s, &r);
        else if (v.low_uv > level_uv)
            dip_above(j, s, &r);
    }
}

static void dip_end(struct judge *j, const struct port *p, struct fr_dip *s)
{
    struct outcome o = dip_outcome(j, s, s->asked_frame);

    if (s->read && !s->unsure) {
        judge_pass_at(j, s->t_ns);
    } else {
        o.sentence = s->read ? DIP_UNSURE : DIP_UNREAD;
        judge_undecided(j, &o, s->read ? CAUSE_UNCERTAINTY : CAUSE_NO_READING);
    }
    dip_stop(j, p, s);
}

void swap_check_fr_vbus(struct judge *j, const struct event *e)
{
    struct fr_dip *s = judge_state(j, e->port);

    if (e->kind == (enum event_kind)WAKE_ASK)
        dip_begin(j, e, s);
    else if (!s->asked_frame)
        return;
    else if (e->kind == (enum event_kind)WAKE_READINGS)
        dip_rows(j, e->port, s);
    else if (e->kind == EVENT_SWAPPED && e->swap == SWAP_FR)
        dip_end(j, e->port, s);
    else if (e->kind != EVENT_SWAPPED)
        dip_stop(j, e->port, s); /* a reset, a detach, the end: the swap did not come about */
}
