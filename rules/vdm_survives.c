/* Whether a source that gets a Vendor_Defined message goes on. */
#include "rules/vdm_checks.h"

#include "rules/rail.h"
#include "rules/vdm_words.h"

#include <string.h>

static int64_t patience_ns(const struct judge *j)
{
    return judge_window(j, 0).high_ns;
}

static void forget(struct judge *j, const struct port *p, struct survives_state *state)
{
    state->count = 0;
    state->fell_frame = 0;
    judge_wake_at(j, p, INT64_MAX);
}

/* A sender that waits for its GoodCRC says nothing else: what is not its last message was heard. */
static bool was_heard(const struct port *p, const struct survived *v)
{
    const struct sent *last = &p->streams[p->role[PLAYER_A] == SIDE_SINK ? PLAYER_A : PLAYER_B].last;

    return last->frame != v->frame || last->delivery != DELIVERY_OPEN;
}

static void note_vdm(struct judge *j, const struct event *e, struct survives_state *state)
{
    if (e->speech->side != SIDE_SINK || e->speech->player > PLAYER_B)
        return;
    if (state->count == SURVIVES_KEPT)
        state->count--;
    state->vdm[state->count++] = (struct survived){ .frame = e->frame, .t_ns = e->speech->start_ns, .end_ns = e->speech->end_ns };
    judge_wake_at(j, e->port, state->vdm[0].end_ns + patience_ns(j) + 1);
}

/* The last VDM that was heard before now and not longer ago than the time; NULL: none. */
static const struct survived *last_heard(const struct judge *j, const struct port *p, const struct survives_state *state, int64_t now_ns)
{
    for (unsigned k = state->count; k-- > 0;)
        if (now_ns >= state->vdm[k].end_ns && now_ns - state->vdm[k].end_ns <= patience_ns(j) && was_heard(p, &state->vdm[k]))
            return &state->vdm[k];
    return NULL;
}

static struct outcome ending(const struct judge *j, const struct port *p, const struct survived *v, uint64_t frame, int64_t t_ns,
                             unsigned sentence)
{
    struct outcome o = judge_outcome_at(j, frame, t_ns);

    o.player = p->role[PLAYER_A] == SIDE_SOURCE ? PLAYER_A : PLAYER_B;
    o.sentence = (uint8_t)sentence;
    o.values[0] = t_ns - v->end_ns;
    o.parameter = judge_parameter(j, 0);
    o.subjects[0] = v->frame;
    outcome_evidence(&o, v->frame);
    outcome_evidence(&o, frame);
    return o;
}

/* A Hard Reset of the sink, or one that has another reason (a timer of the source, something else that went wrong), says nothing of the VDM. */
static void end_by_hard_reset(struct judge *j, const struct event *e, struct survives_state *state)
{
    const struct survived *v = last_heard(j, e->port, state, e->t_ns);

    if (v && judge_reset_origin(j) == ORIGIN_UNKNOWN && !judge_anything_failed_between(j, v->end_ns, e->t_ns - 1)) {
        struct outcome o = ending(j, e->port, v, e->frame, e->t_ns, SURVIVES_HARD_RESET);

        if (state->resets++ > 0)
            judge_fail(j, &o);
        else
            judge_undecided(j, &o, CAUSE_ORIGIN);
    }
    forget(j, e->port, state);
}

/* The source's own, unless it had to: its message before was acknowledged by nobody, or something else went wrong. */
static void end_by_soft_reset(struct judge *j, const struct event *e, struct survives_state *state)
{
    const struct survived *v = last_heard(j, e->port, state, e->t_ns);

    if (e->speech->m.set != SET_SOP)
        return;
    if (v && e->speech->side == SIDE_SOURCE && !e->port->streams[stream_index(SET_SOP, e->speech->player)].last_unacknowledged &&
        !judge_anything_failed_between(j, v->end_ns, e->t_ns - 1)) {
        struct outcome o = ending(j, e->port, v, e->frame, e->t_ns, SURVIVES_SOFT_RESET);

        if (e->port->bad_ns > v->end_ns) /* what could not be read may have called for it */
            judge_undecided(j, &o, CAUSE_BAD_PACKET);
        else
            judge_fail(j, &o);
    }
    forget(j, e->port, state);
}

static void leave_undecided(struct judge *j, const struct survived *v, enum cause cause)
{
    struct outcome o = judge_outcome_at(j, v->frame, v->t_ns);

    o.sentence = SURVIVES_UNSEEN;
    outcome_evidence(&o, v->frame);
    judge_undecided(j, &o, cause);
}

static void lose(struct judge *j, const struct event *e, struct survives_state *state)
{
    for (unsigned k = 0; k < state->count; k++)
        if (e->t_ns - state->vdm[k].end_ns <= patience_ns(j))
            leave_undecided(j, &state->vdm[k], CAUSE_LOST);
    forget(j, e->port, state);
}

/* VBUS went, and the partner has not been unplugged since, as far as CC shows. */
static void end_by_vbus(struct judge *j, const struct event *e, struct survives_state *state)
{
    const struct survived *v = last_heard(j, e->port, state, state->fell_ns);

    if (v && e->port->cc_seen) {
        struct outcome o = ending(j, e->port, v, state->fell_frame, state->fell_ns, SURVIVES_VBUS);

        if (rail_align_ns(e->port) > 0)
            judge_undecided(j, &o, CAUSE_TIE); /* it may have been before the VDM, or long after */
        else
            judge_fail(j, &o);
    } else if (v) {
        leave_undecided(j, v, CAUSE_NO_READING);
    }
    forget(j, e->port, state);
}

/* Those whose time is over. */
static void survive(struct judge *j, const struct event *e, struct survives_state *state)
{
    const struct port *p = e->port;
    unsigned           k = 0;

    if (state->fell_frame) {
        end_by_vbus(j, e, state);
        return;
    }
    for (; k < state->count && state->vdm[k].end_ns + patience_ns(j) < e->t_ns; k++) {
        if (!was_heard(p, &state->vdm[k]))
            continue;
        if (p->bad_missed_frame > state->vdm[k].frame)
            leave_undecided(j, &state->vdm[k], CAUSE_BAD_PACKET); /* it may have been a Soft_Reset */
        else
            judge_pass_at(j, state->vdm[k].t_ns);
    }
    state->count -= k;
    memmove(state->vdm, state->vdm + k, state->count * sizeof state->vdm[0]);
    judge_wake_at(j, p, state->count ? state->vdm[0].end_ns + patience_ns(j) + 1 : INT64_MAX);
}

void vdm_check_survives(struct judge *j, const struct event *e)
{
    struct survives_state *state = judge_state(j, e->port);

    if (e->kind == EVENT_MESSAGE) {
        note_vdm(j, e, state);
        return;
    }
    if (state->count == 0)
        return;
    switch ((int)e->kind) {
    case EVENT_HARD_RESET:
        end_by_hard_reset(j, e, state);
        break;
    case EVENT_SOFT_RESET:
        end_by_soft_reset(j, e, state);
        break;
    case EVENT_CONTRACT_END:
        if (e->contract->ended_by == CONTRACT_SUPPLY_LOST) {
            state->fell_ns = e->contract->until_ns;
            state->fell_frame = e->frame;
        }
        break;
    case EVENT_LOSS:
        lose(j, e, state);
        break;
    case WAKE_TIME:
        survive(j, e, state);
        break;
    default: /* EVENT_ATTACH, WAKE_ATTACH_END: what followed has another reason */
        forget(j, e->port, state);
        break;
    }
}
