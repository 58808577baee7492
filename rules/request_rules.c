/*
 * The rules about what a sink asks for, and how the source answers it.
 *
 * A Request is held against each demand by one small pure function; the sink's rules tell the outcome of one of them, the
 * source's rules go by all together.
 */
#include "rules/groups.h"
#include "rules/judge.h"

#include "decode/sources.h"
#include "rules/parameter.h"

#include <stddef.h>

enum {
    CURRENT_STEP_MA = 50,      /* operating current of a PPS or AVS request: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h */
    CURRENT_MOST_MA = 5000,    /* no cable carries more: cable VDO current field, Linux include/linux/usb/pd_vdo.h */
    AVS_STEP_MV = 100,         /* SPR AVS patches on the linux-usb list; Infineon cy_pdstack_common.h */
    SPR_AVS_LOWER_MV = 15000,  /* the first current of an SPR AVS object holds up to here: SPR AVS patches on the linux-usb list */
    RESERVED_PLAIN = 3 << 20,  /* bits 21:20 of a fixed, variable or battery request: Zephyr usbc_pd.h */
    RESERVED_PLAIN_R2 = 15 << 20,
    RESERVED_PROGRAMMABLE = 1 << 27 | 1 << 21 | 3 << 7, /* Zephyr usbc_pd.h, Infineon cy_pdstack_common.h */
    GIVE_BACK = 1 << 27,       /* reserved from 3.1 on: from memory */
    MILLI = 1000,
    NS_OF_MILLI_MS = 1000,     /* a thousandth of a millisecond */
    NS_OF_MILLI_S = 1000000,   /* a thousandth of a second */
    REJECTS_MAX = 16,          /* refusals that wait for a changed offer at a time */
};

/* One bit for each demand on a Request. */
enum request_fault {
    FAULT_POSITION = 1, FAULT_CURRENT = 2, FAULT_CURRENT_ORDER = 4, FAULT_POWER = 8, FAULT_PPS_RANGE = 16, FAULT_AVS_RANGE = 32,
    FAULT_AVS_STEP = 64, FAULT_RESERVED = 128, FAULT_COPY = 256,
    /* those that the object asked for cannot meet: to be refused */
    FAULTS_TO_REFUSE = FAULT_POSITION | FAULT_CURRENT | FAULT_POWER | FAULT_PPS_RANGE | FAULT_AVS_RANGE | FAULT_COPY,
};

/* Under what a Request is judged. */
struct request_ground {
    const struct request *request;
    unsigned              agreed;   /* enum agreed_revision */
    enum answer           from_31;  /* is the sink's edition 3.1 or later? */
};

static struct request_ground ground_of(const struct judge *j, const struct port *p, const struct request *q)
{
    static const struct rule    from_31 = { .applies = APPLIES_R31 };
    static const struct edition unknown;
    unsigned                    standard = judge_standard(j);
    struct request_ground       g = { .request = q, .agreed = p->agreed };

    if (standard)
        g.agreed = standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    g.from_31 = rule_applies(&from_31, p->agreed, q->player <= PLAYER_B ? &p->edition[q->player] : &unknown, standard);
    return g;
}

static bool asks_avs(const struct request *q)
{
    return q->rdo.form == REQUEST_AVS;
}

static bool asks_plain(const struct request *q)
{
    return q->rdo.form == REQUEST_FIXED_VARIABLE || q->rdo.form == REQUEST_BATTERY;
}

static bool avs_in_range(const struct request *q)
{
    return q->rdo.mv >= q->asked.min_mv && q->rdo.mv <= q->asked.max_mv;
}

/* What the AVS object can give at the voltage asked for; of an EPR object's power rounded up to a whole step. */
static int32_t avs_current(const struct request *q)
{
    int64_t step_mw = (int64_t)q->rdo.mv * CURRENT_STEP_MA; /* thousandths of mW a step */
    int64_t ma;

    if (q->asked.supply == SUPPLY_SPR_AVS)
        return q->rdo.mv <= SPR_AVS_LOWER_MV ? q->asked.max_ma : q->asked.max_ma_20v;
    ma = step_mw > 0 ? ((int64_t)q->asked.max_mw * MILLI + step_mw - 1) / step_mw * CURRENT_STEP_MA : CURRENT_MOST_MA;
    return ma < CURRENT_MOST_MA ? (int32_t)ma : CURRENT_MOST_MA;
}

static int32_t current_limit(const struct request *q)
{
    return asks_avs(q) ? avs_current(q) : q->asked.max_ma;
}

/* Is there a current to hold the request against? Outside its range an AVS object names none. */
static bool current_limited(const struct request *q)
{
    return q->rdo.form == REQUEST_FIXED_VARIABLE || q->rdo.form == REQUEST_PPS || (asks_avs(q) && avs_in_range(q));
}

/* No offer whatever has an object at such a position. */
static bool position_impossible(const struct request *q)
{
    return q->rdo.position == 0 || q->rdo.position > (q->epr ? PDO_MAX : PDO_SPR_MAX);
}

static bool position_broken(const struct request_ground *g)
{
    return !g->request->position_valid;
}

static bool current_broken(const struct request_ground *g)
{
    return current_limited(g->request) && g->request->rdo.op_ma > current_limit(g->request);
}

static bool current_order_broken(const struct request_ground *g)
{
    const struct rdo *r = &g->request->rdo;

    return asks_plain(g->request) && !r->give_back && (r->op_ma > r->max_ma || r->op_mw > r->max_mw);
}

static bool power_broken(const struct request_ground *g)
{
    return g->request->rdo.form == REQUEST_BATTERY && g->request->rdo.op_mw > g->request->asked.max_mw;
}

static bool pps_range_broken(const struct request_ground *g)
{
    const struct request *q = g->request;

    return q->rdo.form == REQUEST_PPS && g->agreed == AGREED_R3 &&
           (q->rdo.mv < q->asked.min_mv || q->rdo.mv > q->asked.max_mv);
}

static bool avs_range_broken(const struct request_ground *g)
{
    return asks_avs(g->request) && g->from_31 != ANSWER_NO && !avs_in_range(g->request);
}

static bool avs_step_broken(const struct request_ground *g)
{
    return asks_avs(g->request) && g->from_31 != ANSWER_NO && g->request->rdo.mv % AVS_STEP_MV != 0;
}

/* Reserved bits that are set, of those that are reserved in every revision that this may be. */
static uint32_t reserved_set(const struct request_ground *g)
{
    const struct rdo *r = &g->request->rdo;
    uint32_t          reserved = 0;

    if (asks_plain(g->request)) {
        reserved = g->agreed == AGREED_R2 ? RESERVED_PLAIN_R2 : RESERVED_PLAIN;
        if (g->from_31 == ANSWER_YES)
            reserved |= GIVE_BACK;
    } else if (r->form == REQUEST_PPS || r->form == REQUEST_AVS) {
        reserved = RESERVED_PROGRAMMABLE;
    }
    return r->word & reserved;
}

static bool reserved_broken(const struct request_ground *g)
{
    return reserved_set(g) != 0;
}

static bool copy_broken(const struct request_ground *g)
{
    return g->request->epr && g->from_31 != ANSWER_NO && g->request->copy_word != g->request->asked.word;
}

/* All demands that this Request breaks. The offer must be known. */
static unsigned request_faults(const struct request_ground *g)
{
    static const struct { unsigned fault; bool (*broken)(const struct request_ground *); } demands[] = {
        { FAULT_CURRENT, current_broken },     { FAULT_CURRENT_ORDER, current_order_broken }, { FAULT_POWER, power_broken },
        { FAULT_PPS_RANGE, pps_range_broken }, { FAULT_AVS_RANGE, avs_range_broken },         { FAULT_AVS_STEP, avs_step_broken },
        { FAULT_RESERVED, reserved_broken },   { FAULT_COPY, copy_broken },
    };
    unsigned faults = 0;

    if (position_broken(g))
        return FAULT_POSITION; /* there is no object to hold the rest against */
    for (unsigned k = 0; k < sizeof demands / sizeof demands[0]; k++)
        if (demands[k].broken(g))
            faults |= demands[k].fault;
    return faults;
}

/* The sink's rules */

static struct outcome request_outcome(const struct judge *j, const struct event *e)
{
    const struct request *q = e->request;
    struct outcome        o = judge_outcome(j, e);

    o.player = q->player;
    o.values[0] = q->rdo.position;
    outcome_evidence(&o, q->offer_frame);
    outcome_evidence(&o, q->frame);
    return o;
}

static void outcome_limit(struct outcome *o, int64_t measured, int64_t low, int64_t high, const char *unit)
{
    o->has_measured = true;
    o->has_low = low >= 0;
    o->has_high = true;
    o->measured = measured;
    o->low = low >= 0 ? low : 0;
    o->high = high;
    o->unit = unit;
}

/* The offer is unknown, so it cannot be said whether the demand is met. Last sentence of every row. */
static void request_unknown(struct judge *j, const struct event *e)
{
    const char *const *sentences = judge_rule(j)->sentences;
    struct outcome     o = request_outcome(j, e);

    while (sentences[o.sentence + 1])
        o.sentence++;
    judge_undecided(j, &o, e->port->offer_uncertain ? CAUSE_LOST : CAUSE_UNKNOWN_OFFER);
}

/* True if the row is to be judged on; otherwise what had to be said was said. */
static bool request_judged(struct judge *j, const struct event *e, const struct request_ground *g)
{
    enum answer applies = judge_rule(j)->applies == APPLIES_R31 ? g->from_31 : ANSWER_YES;

    if (judge_rule(j)->applies == APPLIES_R3 && g->agreed != AGREED_R3)
        return false;
    if (e->request->offer_known)
        return applies != ANSWER_NO && e->request->position_valid;
    if (applies == ANSWER_YES)
        request_unknown(j, e);
    return false;
}

static void check_position(struct judge *j, const struct event *e)
{
    const struct request *q = e->request;
    struct outcome        o;

    if (!q->offer_known && !position_impossible(q)) {
        request_unknown(j, e);
        return;
    }
    if (q->offer_known && q->position_valid) {
        judge_pass(j);
        return;
    }
    o = request_outcome(j, e);
    o.values[1] = q->offer_count;
    o.sentence = position_impossible(q) || !q->offer_known ? 0 : q->rdo.position <= q->offer_count ? 2 : 1;
    outcome_limit(&o, q->rdo.position * INT64_C(1000), MILLI, (q->offer_known ? q->offer_count : PDO_SPR_MAX) * INT64_C(1000), "");
    judge_fail(j, &o);
}

static void check_current(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || !current_limited(e->request))
        return;
    if (!current_broken(&g)) {
        judge_pass(j);
        return;
    }
    const struct request *q = e->request;
    struct outcome        o = request_outcome(j, e);

    o.values[1] = q->rdo.op_ma;
    o.values[2] = current_limit(q);
    o.values[3] = q->rdo.mv;
    o.sentence = asks_avs(q) ? 1 : 0;
    outcome_limit(&o, q->rdo.op_ma * INT64_C(1000), -1, current_limit(q) * INT64_C(1000), "mA");
    judge_fail(j, &o);
}

static void check_current_order(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    if (!request_judged(j, e, &g) || !asks_plain(q) || q->rdo.give_back)
        return;
    if (!current_order_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);
    bool           battery = q->rdo.form == REQUEST_BATTERY;

    o.sentence = battery ? 1 : 0;
    o.values[1] = battery ? q->rdo.op_mw : q->rdo.op_ma;
    o.values[2] = battery ? q->rdo.max_mw : q->rdo.max_ma;
    /* A thousandth of a watt is a milliwatt. */
    outcome_limit(&o, battery ? o.values[1] : o.values[1] * MILLI, -1, battery ? o.values[2] : o.values[2] * MILLI,
                  battery ? "W" : "mA");
    judge_fail(j, &o);
}

static void check_power(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    if (!request_judged(j, e, &g) || q->rdo.form != REQUEST_BATTERY)
        return;
    if (!power_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = q->rdo.op_mw;
    o.values[2] = q->asked.max_mw;
    outcome_limit(&o, q->rdo.op_mw, -1, q->asked.max_mw, "W");
    judge_fail(j, &o);
}

static void check_mismatch_flag(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);
    const struct request *q = e->request;

    /* With GiveBack the field is a least current, no greatest one. */
    if (!request_judged(j, e, &g) || !asks_plain(q) || q->rdo.give_back)
        return;
    if (q->rdo.max_ma <= q->asked.max_ma && q->rdo.max_mw <= q->asked.max_mw)
        return;
    if (q->rdo.mismatch) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);
    bool           battery = q->rdo.form == REQUEST_BATTERY;

    o.sentence = battery ? 1 : 0;
    o.values[1] = battery ? q->rdo.max_mw : q->rdo.max_ma;
    o.values[2] = battery ? q->asked.max_mw : q->asked.max_ma;
    judge_fail(j, &o);
}

static void range_outcome(struct judge *j, const struct event *e, bool broken)
{
    const struct request *q = e->request;
    struct outcome        o;

    if (!broken) {
        judge_pass(j);
        return;
    }
    o = request_outcome(j, e);
    o.values[1] = q->rdo.mv;
    o.values[2] = q->asked.min_mv;
    o.values[3] = q->asked.max_mv;
    outcome_limit(&o, q->rdo.mv, q->asked.min_mv, q->asked.max_mv, "V");
    judge_fail(j, &o);
}

static void check_pps_range(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (request_judged(j, e, &g) && e->request->rdo.form == REQUEST_PPS)
        range_outcome(j, e, pps_range_broken(&g));
}

static void check_avs_range(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (request_judged(j, e, &g) && asks_avs(e->request))
        range_outcome(j, e, avs_range_broken(&g));
}

static void check_avs_step(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || !asks_avs(e->request))
        return;
    if (!avs_step_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->rdo.mv;
    judge_fail(j, &o);
}

static void check_reserved(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (!request_judged(j, e, &g) || e->request->rdo.form == REQUEST_FORM_UNKNOWN)
        return;
    if (!reserved_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->rdo.word;
    o.values[2] = reserved_set(&g);
    judge_fail(j, &o);
}

static void check_epr_copy(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    if (!e->request->epr || !request_judged(j, e, &g))
        return;
    if (!copy_broken(&g)) {
        judge_pass(j);
        return;
    }
    struct outcome o = request_outcome(j, e);

    o.values[1] = e->request->copy_word;
    o.values[2] = e->request->asked.word;
    judge_fail(j, &o);
}

/* The source's rules */

/* A Request that waits for its answer, as it was judged when it came. */
struct open_request {
    uint64_t frame;  /* 0: none, or a malformed one that no rule judges */
    unsigned faults;
    bool     known;  /* the offer was */
};

static struct open_request open_of(struct judge *j, const struct event *e)
{
    struct request_ground g = ground_of(j, e->port, e->request);

    return (struct open_request){ .frame = e->request->frame, .known = e->request->offer_known,
                                  .faults = e->request->offer_known ? request_faults(&g) : 0 };
}

/* Is this event the answer to the Request that was noted? */
static bool answers(const struct open_request *open, const struct event *e)
{
    return open->frame != 0 && open->frame == e->request->frame;
}

struct reject { uint64_t frame, request_frame; int64_t t_ns, late_ns; uint8_t player, position; }; /* late_ns: too late from here on */
struct valid_accepted {
    struct open_request open;
    struct reject       waiting[REJECTS_MAX]; /* oldest first */
    unsigned            count;
};

enum { SAYS_REJECTED, SAYS_OFFER_UNKNOWN };

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
    int64_t patience_ns = parameter_find("reject_offer_s")->max * NS_OF_MILLI_S;

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
        judge_undecided(j, &o, e->port->offer_uncertain ? CAUSE_LOST : CAUSE_UNKNOWN_OFFER);
    } else if (open.faults == 0) {
        if (e->request->state == REQUEST_REJECTED)
            reject_note(j, e, state);
        else
            judge_pass(j);
    }
}

static void check_valid_accepted(struct judge *j, const struct event *e)
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

/* The offers that Requests refer to, and those that EPR_Requests do. */
struct offer_change {
    bool    offered;    /* one stood before, since the attach or reset */
    bool    changed;
    int64_t changed_ns; /* when another one took its place */
};
struct invalid_refused {
    struct open_request open;
    struct offer_change offers[2]; /* [1]: EPR */
};

enum { SAYS_ACCEPTED, SAYS_RECENT, SAYS_UNKNOWN };

static bool offer_recent(const struct invalid_refused *state, const struct request *q)
{
    const struct offer_change *change = &state->offers[q->epr];

    return change->changed && q->t_ns - change->changed_ns < parameter_find("tSenderResponse")->max * NS_OF_MILLI_MS;
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
        judge_undecided(j, &o, e->port->offer_uncertain ? CAUSE_LOST : CAUSE_UNKNOWN_OFFER);
    } else if (e->request->state != REQUEST_ACCEPTED) {
        judge_pass(j);
    } else if (offer_recent(state, e->request)) {
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

static void check_invalid_refused(struct judge *j, const struct event *e)
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

/* The rows */

#define OFFER_UNKNOWN "The offer that object {0} belongs to is not in the trace."

static const char *const broken_form[] = {
    "message.reserved-type", "message.object-count", "message.length", "message.direction", "message.set-allowed",
    "message.allowed-in-revision", NULL,
};
static const char *const broken_form_or_position[] = {
    "message.reserved-type", "message.object-count", "message.length", "message.direction", "message.set-allowed",
    "message.allowed-in-revision", "request.position", NULL,
};
static const char *const reject_parameters[] = { "reject_offer_s", NULL };
static const char *const recent_parameters[] = { "tSenderResponse", NULL };

static const char *const says_position[] = {
    "Object {0} is asked for: no offer has an object with that number.",
    "Object {0} is asked for, of an offer of {1}.",
    "Object {0} is asked for, which is only a filler.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_current[] = {
    "{1:A} asked of object {0}, which offers {2:A}.",
    "{1:A} at {3:V} asked of object {0}, which offers {2:A} there.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_current_order[] = {
    "Object {0}: operating current {1:A}, maximum operating current {2:A}.",
    "Object {0}: operating power {1:W}, maximum operating power {2:W}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_power[] = { "{1:W} asked of object {0}, which offers {2:W}.", OFFER_UNKNOWN, NULL };
static const char *const says_mismatch[] = {
    "Object {0} offers {2:A}, up to {1:A} may be wanted, and Capability Mismatch is 0.",
    "Object {0} offers {2:W}, up to {1:W} may be wanted, and Capability Mismatch is 0.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_range[] = {
    "{1:V} asked of object {0}, which offers {2:V} to {3:V}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_step[] = {
    "{1:V} asked of object {0}: no multiple of 100 mV.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_request_bits[] = { "Request {1:x} has reserved bits {2:x} set.", OFFER_UNKNOWN, NULL };
static const char *const says_copy[] = {
    "The copy of object {0} is {1:x}, the offer says {2:x}.",
    OFFER_UNKNOWN, NULL,
};
static const char *const says_valid[] = {
    [SAYS_REJECTED] = "The Request for object {0} is within the offer, but was refused, and the offer stayed as it was.",
    [SAYS_OFFER_UNKNOWN] = OFFER_UNKNOWN, NULL,
};
static const char *const says_invalid[] = {
    [SAYS_ACCEPTED] = "The Request for object {0} breaks the offer, but was accepted.",
    [SAYS_RECENT] = "The Request for object {0} breaks the offer, which had changed just before: it may have been meant for the old one.",
    [SAYS_UNKNOWN] = OFFER_UNKNOWN, NULL,
};

#define UNKNOWN_OFFER "The offer that it refers to is not in the trace, or records are missing since."
#define REQUEST_LAYOUT "layout seen in " FROM_LINUX " and " FROM_ZEPHYR
#define SINK_ROW                                                                                                       \
    .undecided = UNKNOWN_OFFER, .whom = WHO_SINK, .wakes = EVENT_BIT(EVENT_REQUEST)

const struct rule request_rules[] = {
    {
        .id = "request.position",
        .title = "A sink asks for an object that was offered",
        .requirement = "Object Position is from 1 to the number of objects in the last offer delivered, in an EPR_Request from 1 to that of the last "
                       "EPR_Source_Capabilities, and the object there is no filler of zeros.",
        .source = "USB PD, Request Data Object; " REQUEST_LAYOUT "; position 0 is invalid in " FROM_ZEPHYR ".",
        .why = "The source can only refuse; the device charges slowly or not at all.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW,
        .silenced_by = broken_form, .sentences = says_position, .check = check_position,
    },
    {
        .id = "request.current",
        .title = "A sink asks for no more current than the object offers",
        .requirement = "Operating Current is at most the object's maximum: the field of a fixed, variable or PPS object; of an SPR AVS object the "
                       "first current up to 15 V and the second one above; of an EPR AVS object its power divided by the voltage, rounded up "
                       "to 50 mA, at most 5 A.",
        .source = "USB PD, Request Data Object; the relation as cited in " FROM_FUCHSIA "; the AVS currents from memory.",
        .why = "A source that takes it at its word is overloaded, one that does not refuses.",
        .bench = "Attach the sink to a source that offers less current than it likes.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_PPS | 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_form_or_position, .sentences = says_current, .check = check_current,
    },
    {
        .id = "request.current-order",
        .title = "The operating current asked for is within the maximum asked for",
        .requirement = "Of a fixed or variable object Operating Current is at most Maximum Operating Current, of a battery object Operating Power "
                       "at most Maximum Operating Power. Not judged with GiveBack 1.",
        .source = "USB PD, Request Data Object; as cited in " FROM_FUCHSIA ".",
        .why = "The source cannot tell which of the two numbers to plan for.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form, .sentences = says_current_order, .check = check_current_order,
    },
    {
        .id = "request.power",
        .title = "A sink asks for no more power than a battery object offers",
        .requirement = "Operating Power is at most the object's maximum power.",
        .source = "USB PD, Request Data Object; as cited in " FROM_FUCHSIA ".",
        .why = "A source that takes it at its word is overloaded, one that does not refuses.",
        .bench = "Attach the sink to a source with a battery object.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, SINK_ROW, .supplies = 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form_or_position, .sentences = says_power, .check = check_power,
    },
    {
        .id = "request.mismatch-flag",
        .title = "A sink that wants more than the object offers says so",
        .requirement = "Where the maximum operating current or power of a Request for a fixed, variable or battery object is above what the object "
                       "offers, Capability Mismatch (bit 26) is 1.",
        .source = "USB PD, Request Data Object; from memory, the flag seen in " FROM_LINUX ".",
        .why = "Without the flag nobody learns that the device gets less than it needs.",
        .bench = "Attach the sink to a source that offers less than it wants.",
        .basis = BASIS_MEMORY, .level = LEVEL_SHOULD, SINK_ROW,
        .supplies = 1 << SUPPLY_FIXED | 1 << SUPPLY_VARIABLE | 1 << SUPPLY_BATTERY,
        .silenced_by = broken_form, .sentences = says_mismatch, .check = check_mismatch_flag,
    },
    {
        .id = "request.pps-range",
        .title = "A sink asks a PPS for a voltage inside its range",
        .requirement = "The voltage asked for is from the object's minimum to its maximum.",
        .source = "USB PD, programmable Request Data Object; " REQUEST_LAYOUT ".",
        .why = "The source can only refuse, or give a voltage that it never promised.",
        .bench = "Let the sink use a PPS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R3, SINK_ROW, .supplies = 1 << SUPPLY_PPS,
        .silenced_by = broken_form_or_position, .sentences = says_range, .check = check_pps_range,
    },
    {
        .id = "request.avs-range",
        .title = "A sink asks an AVS for a voltage inside its range",
        .requirement = "Of an SPR AVS object from 9 V to 15 V, or to 20 V if its second current is above 0; of an EPR AVS object from its minimum to its "
                       "maximum.",
        .source = "USB PD, adjustable voltage supplies; " FROM_LINUX_LIST "; " FROM_INFINEON ".",
        .why = "The source can only refuse, or give a voltage that it never promised.",
        .bench = "Let the sink use an AVS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .supplies = 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_form_or_position, .sentences = says_range, .check = check_avs_range,
    },
    {
        .id = "request.avs-step",
        .title = "A sink asks an AVS for a voltage in steps of 100 mV",
        .requirement = "The voltage field, in units of 25 mV, is a multiple of 4.",
        .source = "USB PD, AVS Request Data Object; " FROM_LINUX_LIST "; " FROM_INFINEON ".",
        .why = "A source rounds as it likes, and the two disagree about the voltage.",
        .bench = "Let the sink use an AVS object over its whole range.",
        .basis = BASIS_FOUND, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .supplies = 1 << SUPPLY_SPR_AVS | 1 << SUPPLY_EPR_AVS,
        .silenced_by = broken_form_or_position, .sentences = says_step, .check = check_avs_step,
    },
    {
        .id = "request.reserved-bits",
        .title = "Reserved bits of a Request are 0",
        .requirement = "Of a fixed, variable or battery object bits 21:20 are 0, under revision 2.0 bits 23:20, and bit 27 (GiveBack) from a sink known "
                       "to be of 3.1 or later; of a PPS or AVS object bits 27, 21, 8 and 7.",
        .source = "USB PD, Request Data Object; " FROM_ZEPHYR "; " FROM_INFINEON "; the end of GiveBack from memory.",
        .why = "A later revision gives such a bit a meaning, and then an old product asks for what it never meant.",
        .bench = "Attach the sink and let it negotiate.",
        .basis = BASIS_FOUND | BASIS_MEMORY, .level = LEVEL_MUST, SINK_ROW,
        .silenced_by = broken_form, .sentences = says_request_bits, .check = check_reserved,
    },
    {
        .id = "request.epr-copy",
        .title = "An EPR_Request repeats the object that it asks for",
        .requirement = "The second object of an EPR_Request equals the offer's object at that position in all 32 bits.",
        .source = "USB PD, EPR_Request; from memory.",
        .why = "The copy is what keeps a source from giving 48 V for an object that the sink misread.",
        .bench = "Let the sink enter EPR mode and negotiate.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .applies = APPLIES_R31, SINK_ROW,
        .silenced_by = broken_form_or_position, .sentences = says_copy, .check = check_epr_copy,
    },
    {
        .id = "request.valid-accepted",
        .title = "A source does not refuse what it offers",
        .requirement = "A Request that keeps every must of request.* is not answered by Reject, unless another offer follows within 2 s. Wait passes.",
        .source = "USB PD, evaluation of a Request; from memory, the 2 s are ours.",
        .why = "The offer is a promise; a sink that believes it is left at 5 V or without power.",
        .undecided = UNKNOWN_OFFER " Or records are missing, or a packet is bad, in the 2 s after a Reject.",
        .bench = "Ask for every object of the offer, one after the other.",
        .basis = BASIS_MEMORY | BASIS_OURS, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_LOSS) |
                 EVENT_BIT(EVENT_DETACH) | EVENT_BIT(WAKE_TIME) | EVENT_BIT(EVENT_END),
        .parameters = reject_parameters, .silenced_by = broken_form, .sentences = says_valid,
        .state_size = sizeof(struct valid_accepted), .check = check_valid_accepted,
    },
    {
        .id = "request.invalid-refused",
        .title = "A source refuses what it does not offer",
        .requirement = "A Request that breaks request.position, -current, -power, -pps-range, -avs-range or -epr-copy is not answered by Accept; Reject, "
                       "Wait, Soft_Reset and Hard Reset pass.",
        .source = "USB PD, evaluation of a Request; from memory.",
        .why = "A source that accepts what it cannot give overloads itself, or gives a voltage that nobody agreed on.",
        .undecided = UNKNOWN_OFFER " Or the offer had been replaced by another one less than 33 ms before the Request.",
        .bench = "Ask for an object that is not in the offer, and for more current than it says.",
        .basis = BASIS_MEMORY, .level = LEVEL_MUST, .whom = WHO_SOURCE,
        .wakes = EVENT_BIT(EVENT_REQUEST) | EVENT_BIT(EVENT_ANSWERED) | EVENT_BIT(EVENT_OFFER) | EVENT_BIT(EVENT_HARD_RESET) |
                 EVENT_BIT(EVENT_SOFT_RESET) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_SWAPPED),
        .parameters = recent_parameters, .silenced_by = broken_form, .sentences = says_invalid,
        .state_size = sizeof(struct invalid_refused), .check = check_invalid_refused,
    },
    { .id = NULL },
};
