/* How a source answers what a sink asks for. */
#include "rules/engine_inside.h"
#include "rules/request_demands.h"

enum { REJECT_OFFER }; /* the parameter of request.valid-accepted: reject_offer_s */
enum { OFFER_RECENT }; /* the parameter of request.invalid-refused: tSenderResponse */

static struct open_request open_of(struct judge *j, const struct event *e)
{
    struct open_request *noted = &j->book->noted; /* two rules ask for the same */

    if (noted->frame != e->request->frame) {
        struct request_ground g = request_ground_of(j, e->port, e->request);

        *noted = (struct open_request){ .frame = e->request->frame, .known = e->request->offer_known,
                                        .faults = e->request->offer_known ? request_faults(&g) : 0 };
    }
    return *noted;
}

/* Is this event the answer to the Request that was noted? */
static bool answers(const struct open_request *open, const struct event *e)
{
    return open->frame != 0 && open->frame == e->request->frame;
}

static struct outcome reject_outcome(struct judge *j, const struct reject *r)
{
    struct outcome o = judge_outcome_at(j, r->frame, r->t_ns);

    o.player = r->player;
    o.sentence = SAYS_REJECTED;
    o.values[0] = r->position;
    outcome_evidence(&o, r->request_frame);
    outcome_evidence(&o, r->frame);
    return o;
}

static void reject_fail(struct judge *j, const struct port *p, const struct reject *r)
{
    struct outcome o = reject_outcome(j, r);

    /* A bad packet since then may have been the changed offer. */
    if (p->bad_frame > r->frame)
        judge_undecided(j, &o, CAUSE_BAD_PACKET);
    else
        judge_fail(j, &o);
}

/* Those whose time has run out fail. */
static void rejects_expire(struct judge *j, const struct event *e, struct valid_accepted *state)
{
    unsigned kept = 0;

    for (unsigned k = 0; k < state->count; k++) {
        if (state->waiting[k].late_ns <= e->t_ns)
            reject_fail(j, e->port, &state->waiting[k]);
        else
            state->waiting[kept++] = state->waiting[k];
    }
    state->count = kept;
    if (kept)
        judge_wake_at(j, e->port, state->waiting[0].late_ns);
}

static void rejects_explained(struct judge *j, struct valid_accepted *state)
{
    for (unsigned k = 0; k < state->count; k++)
        judge_pass_at(j, state->waiting[k].t_ns);
    state->count = 0;
}

static void rejects_lost(struct judge *j, struct valid_accepted *state)
{
    for (unsigned k = 0; k < state->count; k++) {
        struct outcome o = reject_outcome(j, &state->waiting[k]);

        judge_undecided(j, &o, CAUSE_LOST);
    }
    state->count = 0;
}

static uint8_t source_player(const struct request *q)
{
    return q->player == PLAYER_A ? PLAYER_B : PLAYER_A;
}

static void reject_note(struct judge *j, const struct event *e, struct valid_accepted *state)
{
    int64_t patience_ns = judge_window(j, REJECT_OFFER).high_ns;

    if (state->count == REJECTS_MAX)
        return; /* one of many in a row: those before it tell the same */
    state->waiting[state->count++] = (struct reject){
        .frame = e->frame, .request_frame = e->request->frame, .t_ns = e->t_ns, .late_ns = e->t_ns + patience_ns + 1,
        .player = source_player(e->request), .position = e->request->rdo.position,
    };
    judge_wake_at(j, e->port, state->waiting[0].late_ns);
}

static void valid_answered(struct judge *j, const struct event *e, struct valid_accepted *state)
{
    struct open_request open = state->open;

    state->open.frame = 0;
    if (!answers(&open, e))
        return;
    if (!open.known) {
        struct outcome o = request_outcome(j, e);

        o.player = source_player(e->request);
        o.sentence = SAYS_OFFER_UNKNOWN;
        judge_undecided(j, &o, judge_gap_cause(e->port, CAUSE_UNKNOWN_OFFER));
    } else if (open.faults == 0) {
        if (e->request->state == REQUEST_REJECTED)
            reject_note(j, e, state);
        else
            judge_pass(j);
    }
}

void request_check_valid_accepted(struct judge *j, const struct event *e)
{
    struct valid_accepted *state = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_REQUEST:
        state->open = open_of(j, e);
        break;
    case EVENT_ANSWERED:
        valid_answered(j, e, state);
        break;
    case EVENT_ANNOUNCED:
        if (state->count && e->offer->side == SIDE_SOURCE && !e->offer->same_as_last)
            rejects_explained(j, state);
        break;
    case EVENT_LOSS:
        rejects_lost(j, state);
        break;
    case EVENT_DETACH:
        state->count = 0; /* nobody is left to make another offer to */
        break;
    default: /* WAKE_TIME, EVENT_END */
        rejects_expire(j, e, state);
        break;
    }
}

static bool offer_recent(const struct judge *j, const struct invalid_refused *state, const struct request *q)
{
    const struct offer_change *change = &state->offers[q->epr];

    return change->changed && q->t_ns - change->changed_ns < judge_window(j, OFFER_RECENT).high_ns;
}

static void invalid_answered(struct judge *j, const struct event *e, struct invalid_refused *state)
{
    struct open_request open = state->open;
    struct outcome      o;

    state->open.frame = 0;
    if (!answers(&open, e) || (open.known && !(open.faults & FAULTS_TO_REFUSE)))
        return;
    o = request_outcome(j, e);
    o.player = source_player(e->request);
    outcome_evidence(&o, e->frame);
    if (!open.known) {
        o.sentence = SAYS_UNKNOWN;
        judge_undecided(j, &o, judge_gap_cause(e->port, CAUSE_UNKNOWN_OFFER));
    } else if (e->request->state != REQUEST_ACCEPTED) {
        judge_pass(j);
    } else if (offer_recent(j, state, e->request)) {
        o.sentence = SAYS_RECENT;
        judge_undecided(j, &o, CAUSE_RECENT_OFFER);
    } else {
        o.sentence = SAYS_ACCEPTED;
        judge_fail(j, &o);
    }
}

/* A reset by which the source, or nobody knows who, ended the wait for an answer. */
static void invalid_reset(struct judge *j, const struct event *e, struct invalid_refused *state)
{
    const struct port *p = e->port;
    const struct sent *sent = &p->streams[p->request.player & 1].last;
    bool               by_sink = e->speech && e->speech->player == p->request.player;

    if (state->open.frame && state->open.known && (state->open.faults & FAULTS_TO_REFUSE) && !by_sink &&
        sent->frame == state->open.frame && sent->delivery != DELIVERY_OPEN)
        judge_pass(j);
    state->open.frame = 0;
}

static void offer_note(const struct event *e, struct invalid_refused *state)
{
    struct offer_change *change = &state->offers[e->offer->epr];

    if (change->offered && !e->offer->same_as_last) {
        change->changed = true;
        change->changed_ns = e->offer->end_ns;
    }
    change->offered = true;
}

void request_check_invalid_refused(struct judge *j, const struct event *e)
{
    struct invalid_refused *state = judge_state(j, e->port);

    switch ((int)e->kind) {
    case EVENT_REQUEST:
        state->open = open_of(j, e);
        break;
    case EVENT_ANSWERED:
        invalid_answered(j, e, state);
        break;
    case EVENT_OFFER:
        offer_note(e, state);
        break;
    case EVENT_HARD_RESET:
    case EVENT_SOFT_RESET:
        if (e->kind == EVENT_HARD_RESET || e->speech->m.set == SET_SOP)
            invalid_reset(j, e, state);
        break;
    default:
        break;
    }
    if (e->kind == EVENT_HARD_RESET || e->kind == EVENT_DETACH ||
        (e->kind == EVENT_SWAPPED && (e->swap == SWAP_PR || e->swap == SWAP_FR)))
        state->offers[0] = state->offers[1] = (struct offer_change){ .offered = false };
}
