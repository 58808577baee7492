/* What VBUS does while power roles are swapped. */
#include "rules/rail.h"
#include "rules/swap_checks.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)

enum {
    UV_A_MILLI = 1000,      /* thousandths of a volt */
    NEAR_NS = 5000000,      /* a reading farther from PS_RDY says nothing of it: ours */
    MEAN_NS = 1000000,      /* the mean of what was read this near to it counts, where anything was: ours */
    HEAP_NS = 62500,
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

static void heap_take(struct vbus_off *s, const struct reading *r)
{
    struct reading_heap *h = &s->heaps[s->newest];

    if (h->count == 0 || r->t_ns - h->from_ns >= HEAP_NS) {
        s->newest = (uint8_t)((s->newest + 1) % OFF_HEAPS);
        h = &s->heaps[s->newest];
        *h = (struct reading_heap){ .from_ns = r->t_ns, .frame = r->frame };
    }
    h->sum_uv += r->uv;
    h->count++;
    if (r->ua != RECORD_NO_READING) {
        h->sum_ua += r->ua;
        h->amps++;
    }
}

/* Mean of the readings within 1 ms of PS_RDY, and how many there are; its frame is that of the first. */
static unsigned off_mean(const struct vbus_off *s, struct reading *mean)
{
    struct reading_heap all = { .count = 0 };

    for (unsigned k = 1; k <= OFF_HEAPS; k++) {
        const struct reading_heap *h = &s->heaps[(s->newest + k) % OFF_HEAPS];

        if (h->count == 0 || h->from_ns < s->ready_ns - MEAN_NS)
            continue;
        all.frame = all.count ? all.frame : h->frame;
        all.sum_uv += h->sum_uv;
        all.sum_ua += h->sum_ua;
        all.count += h->count;
        all.amps += h->amps;
    }
    if (all.count)
        *mean = (struct reading){ .t_ns = s->ready_ns, .frame = all.frame, .uv = (int32_t)(all.sum_uv / all.count),
                                  .ua = all.amps ? (int32_t)(all.sum_ua / all.amps) : RECORD_NO_READING };
    return all.count;
}

/* shown: the reading that tells, frame 0: none. */
static void off_outcome(struct judge *j, const struct port *p, struct vbus_off *s, const struct reading *shown, unsigned sentence, enum cause cause)
{
    struct outcome o = judge_outcome_at(j, shown->frame && sentence == OFF_STILL_ON ? shown->frame : s->ready_frame, s->ready_ns);

    o.player = s->player;
    o.sentence = (uint8_t)sentence;
    o.values[0] = shown->uv / 1000;
    outcome_evidence(&o, s->asked_frame);
    outcome_evidence(&o, s->ready_frame);
    outcome_evidence(&o, shown->frame);
    if (sentence == OFF_STILL_ON) {
        o.has_measured = o.has_high = true;
        o.measured = shown->uv;
        o.high = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;
        o.per_unit = 1000000;
        o.unit = "V";
        o.parameter = judge_parameter(j, OFF_LEVEL);
    }
    if (cause == CAUSE_NONE && rail_align_ns(p) > MEAN_NS)
        judge_undecided(j, &o, CAUSE_TIE); /* it may have been off before or after */
    else if (cause == CAUSE_NONE)
        judge_fail(j, &o);
    else
        judge_undecided(j, &o, cause);
    off_stop(j, p, s);
}

/* VBUS at PS_RDY lies in both ranges: that of the mean, or of the reading before and the one after. */
static void off_tell(struct judge *j, const struct port *p, struct vbus_off *s, const struct reading *shown, const struct volt_range *one,
                     const struct volt_range *other)
{
    int64_t level_uv = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;

    if (one->high_uv < level_uv && other->high_uv < level_uv) {
        judge_pass_at(j, s->ready_ns);
        off_stop(j, p, s);
    } else if (one->low_uv > level_uv && other->low_uv > level_uv && !s->raised) {
        off_outcome(j, p, s, shown, OFF_STILL_ON, CAUSE_NONE);
    } else {
        off_outcome(j, p, s, shown, OFF_UNSURE, s->raised ? CAUSE_CROSSING : CAUSE_UNCERTAINTY);
    }
}

/* All that was read near PS_RDY is there. */
static void off_decide(struct judge *j, const struct port *p, struct vbus_off *s, const struct volt_trust *t)
{
    struct reading mean = { .frame = 0 };
    unsigned       n = off_mean(s, &mean);
    bool           near_before = s->before.frame && s->ready_ns - s->before.t_ns <= NEAR_NS;
    bool           near_after = s->after.frame && s->after.t_ns - s->ready_ns <= NEAR_NS;

    if (n > 0) {
        struct volt_range range = volt_mean_range(t, &mean, 0, n);

        off_tell(j, p, s, &mean, &range, &range);
    } else if (s->before.frame && s->after.frame && (near_before || near_after)) {
        struct volt_range before = volt_mean_range(t, &s->before, 0, 1), after = volt_mean_range(t, &s->after, 0, 1);

        off_tell(j, p, s, &s->before, &before, &after);
    } else {
        off_outcome(j, p, s, &s->before, OFF_UNREAD, CAUSE_NO_READING);
    }
}

/* One more reading; true: those about PS_RDY are complete. */
static bool off_take(struct vbus_off *s, const struct reading *r)
{
    bool since = s->phase == OFF_READY && r->t_ns >= s->ready_ns;

    if (since && !s->after.frame)
        s->after = *r;
    if (since && r->t_ns > s->ready_ns + MEAN_NS)
        return true;
    if (!since)
        s->before = *r;
    heap_take(s, r);
    return false;
}

static void off_rows(struct judge *j, const struct port *p, struct vbus_off *s)
{
    struct volt_trust t = volt_trust(j, p);
    int64_t           level_uv = judge_parameter(j, OFF_LEVEL)->max * UV_A_MILLI;

    for (unsigned k = 0; k < judge_readings(j) && s->phase != OFF_IDLE; k++) {
        struct reading r = judge_reading(j, k);

        if (r.uv == RECORD_NO_READING)
            continue;
        struct volt_range v = volt_mean_range(&t, &r, 0, 1);
        bool              complete = off_take(s, &r);

        s->raised = s->raised || (s->was_low && v.low_uv > level_uv);
        s->was_low = s->was_low || v.high_uv < level_uv;
        if (complete)
            off_decide(j, p, s, &t);
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

    if (judge_reading_before(j, &r) && (!s->before.frame || r.t_ns > s->before.t_ns)) {
        s->before = r;
        heap_take(s, &r);
    }
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

        off_decide(j, e->port, s, &t);
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

    if (ask->end != ASK_ANSWERED || ask->answer_index != CONTROL(ACCEPT) || ask->side != SIDE_SINK || !e->port->vbus_seen || !sequence_applies(j, e->port, ask->player))
        return;
    *s = (struct fr_dip){ .asked_frame = ask->sent.frame, .t_ns = e->t_ns, .player = ask->player, .above_ns = INT64_MIN,
                          .below_ns = INT64_MIN, .last_ns = e->t_ns };
    judge_read(j, e->port, true);
}

static struct outcome dip_outcome(struct judge *j, const struct fr_dip *s, uint64_t frame)
{
    struct outcome o = judge_outcome_at(j, frame, s->t_ns);

    o.player = s->player;
    o.values[0] = judge_parameter(j, DIP_LEVEL)->min;
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
    if (rail_align_ns(p) > 0)
        judge_undecided(j, &o, CAUSE_TIE); /* the dip may be of another time */
    else
        judge_fail(j, &o);
    dip_stop(j, p, s);
}

/* ... and at most from the last reading surely above before it to the first one after it. */
static bool dip_may_last(const struct judge *j, const struct fr_dip *s, int64_t t_ns)
{
    return t_ns - (s->above_ns != INT64_MIN ? s->above_ns : s->t_ns) > judge_window(j, DIP_MOST).high_ns;
}

static void dip_above(struct judge *j, struct fr_dip *s, const struct reading *r)
{
    s->unsure = s->unsure || dip_may_last(j, s, r->t_ns);
    s->above_ns = r->t_ns;
    s->below_ns = INT64_MIN;
}

/* Records were lost, or the swap was broken off: its end will not be seen. */
static void dip_broken(struct judge *j, const struct port *p, struct fr_dip *s)
{
    enum cause gap = sequence_gap(p, s->asked_frame, s->t_ns);

    if (gap != CAUSE_NONE) {
        struct outcome o = dip_outcome(j, s, s->asked_frame);

        o.sentence = DIP_UNSURE;
        judge_undecided(j, &o, gap);
    }
    dip_stop(j, p, s);
}

static void dip_rows(struct judge *j, const struct port *p, struct fr_dip *s)
{
    struct volt_trust t = volt_trust(j, p);
    int64_t           level_uv = judge_parameter(j, DIP_LEVEL)->min * UV_A_MILLI;

    for (unsigned k = 0; k < judge_readings(j) && s->asked_frame; k++) {
        struct reading    r = judge_reading(j, k);
        struct volt_range v = volt_peak_range(&t, &r, 0, s->read + 1);

        if (r.uv == RECORD_NO_READING)
            continue;
        s->unsure = s->unsure || r.t_ns - s->last_ns > judge_window(j, DIP_MOST).high_ns;
        s->read++;
        s->last_ns = r.t_ns;
        if (v.high_uv < level_uv)
            dip_below(j, p, s, &r);
        else if (v.low_uv > level_uv)
            dip_above(j, s, &r);
    }
}

/* A single reading does not show how close readings lie. */
static void dip_end(struct judge *j, const struct port *p, struct fr_dip *s, int64_t end_ns)
{
    struct outcome o = dip_outcome(j, s, s->asked_frame);

    s->unsure = s->unsure || s->read == 1 || end_ns - s->last_ns > judge_window(j, DIP_MOST).high_ns || dip_may_last(j, s, end_ns);
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
    else if (e->kind == (enum event_kind)WAKE_READINGS && e->port->swap != SWAP_FR)
        dip_broken(j, e->port, s);
    else if (e->kind == (enum event_kind)WAKE_READINGS)
        dip_rows(j, e->port, s);
    else if (e->kind == EVENT_SWAPPED && e->swap == SWAP_FR)
        dip_end(j, e->port, s, e->t_ns);
    else if (e->kind != EVENT_SWAPPED)
        dip_stop(j, e->port, s); /* a reset, a detach, the end: the swap did not come about */
}
