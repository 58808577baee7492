/* ext.trip-announced: a source that switches off an overload says so. */
#include "rules/ext_trip.h"

#include "rules/engine_inside.h"
#include "rules/sequence.h"

/* Alert Data Object: OVP, OTP, OCP: Linux include/linux/usb/pd_ado.h. */
#define ALERT_OF_A_TRIP (UINT32_C(1) << 30 | UINT32_C(1) << 27 | UINT32_C(1) << 26)

static void trip_settle(struct judge *j, const struct port *p, struct trip_state *s)
{
    struct outcome o = judge_outcome_at(j, s->frame, s->t_ns);
    enum cause     gap = p->loss_frame && p->loss_to_ns >= s->t_ns - judge_window(j, TRIP_ALERT).high_ns ? CAUSE_LOST
                         : p->bad_ns >= s->t_ns - judge_window(j, TRIP_ALERT).high_ns                     ? CAUSE_BAD_PACKET
                         : rail_align_ns(p) > 0                                                           ? CAUSE_TIE
                                                                                                          : CAUSE_NONE;

    o.player = s->player;
    o.sentence = TRIP_UNANNOUNCED;
    outcome_evidence(&o, s->contract_frame);
    outcome_evidence(&o, s->frame);
    s->frame = 0;
    if (gap != CAUSE_NONE)
        judge_undecided(j, &o, gap);
    else
        judge_fail(j, &o);
}

/* The contract is over because VBUS went off: was it an overload, and was it told? */
static void trip_off(struct judge *j, const struct event *e, struct trip_state *s)
{
    const struct port *p = e->port;
    int64_t            within_ns = judge_window(j, TRIP_ALERT).high_ns, off_ns = e->contract->until_ns;

    judge_read(j, p, false);
    if (e->contract->ended_by != CONTRACT_SUPPLY_LOST || !s->overload.last_ns || s->overload.last_ns < off_ns - within_ns ||
        !sequence_applies(j, p, player_source(p)))
        return;
    if (s->alert_ns && s->alert_ns >= off_ns - within_ns) {
        judge_pass_at(j, off_ns);
        return;
    }
    s->frame = s->overload.frame;
    s->contract_frame = e->contract->frame;
    s->t_ns = off_ns;
    s->player = (uint8_t)player_source(p);
    judge_wake_at(j, p, off_ns + within_ns);
}

static void trip_alert(struct judge *j, const struct event *e, struct trip_state *s)
{
    if (e->speech->side != SIDE_SOURCE || !(message_word(&e->speech->m, 0) & ALERT_OF_A_TRIP))
        return;
    s->alert_ns = e->t_ns;
    s->alert_frame = e->frame;
    if (!s->frame)
        return;
    s->frame = 0;
    judge_wake_at(j, e->port, INT64_MAX);
    judge_pass_at(j, s->t_ns);
}

static bool marked_between(const struct engine *e, int64_t from_ns, int64_t to_ns)
{
    for (unsigned k = 0; k < MARKS_KEPT && k < e->mark_count; k++)
        if (e->marks_ns[k] >= from_ns && e->marks_ns[k] <= to_ns)
            return true;
    return false;
}

/* Nothing was said, and CC does not tell: it may have been unplugged. A mark tells that somebody did something. */
static bool may_be_pulled(const struct judge *j, const struct port *p, const struct trip_state *s)
{
    int64_t within_ns = judge_window(j, TRIP_ALERT).high_ns;

    return (!p->cc_seen && p->last_packet_ns < s->t_ns) || (p->cc_seen && p->cc_attach == 0) ||
           marked_between(j->engine, s->t_ns - within_ns, s->t_ns + within_ns);
}

void ext_check_trip_announced(struct judge *j, const struct event *e)
{
    struct trip_state *s = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_POWER:
        judge_read(j, e->port, overload_possible(j, e, TRIP_OVERLOAD));
        break;
    case WAKE_READINGS:
        overload_take(j, e, TRIP_OVERLOAD, &s->overload);
        break;
    case EVENT_MESSAGE:
        trip_alert(j, e, s);
        break;
    case EVENT_CONTRACT_END:
        trip_off(j, e, s);
        break;
    case WAKE_TIME:
        if (s->frame && !may_be_pulled(j, e->port, s))
            trip_settle(j, e->port, s);
        s->frame = 0;
        break;
    default: /* a Hard Reset, an attach, a detach */
        s->frame = 0;
        judge_wake_at(j, e->port, INT64_MAX);
        break;
    }
}
