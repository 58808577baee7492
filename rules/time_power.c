/* From Accept to PS_RDY. */
#include "rules/time_checks.h"

/* How far it is to an adjustable voltage. LOST: what stood before is not known. */
enum ready_kind { READY_KIND_SMALL, READY_KIND_LARGE, READY_KIND_ENTRY, READY_KIND_LOST };

/* The Request that the PS_RDY in hand fulfils, or NULL. */
static const struct request *ready_request(const struct event *e)
{
    const struct port *p = e->port;

    if (!p->request.held || p->request.state != REQUEST_ACCEPTED || p->swap != SWAP_NONE || e->speech->player > PLAYER_B ||
        e->speech->player != player_source(p))
        return NULL;
    return &p->request;
}

static bool request_known(const struct request *q)
{
    return q->offer_known && q->position_valid && q->asked.supply != SUPPLY_RESERVED;
}

static bool supply_plain(unsigned supply)
{
    return supply == SUPPLY_FIXED || supply == SUPPLY_VARIABLE || supply == SUPPLY_BATTERY;
}

static bool supply_avs(unsigned supply)
{
    return supply == SUPPLY_EPR_AVS || supply == SUPPLY_SPR_AVS;
}

/* What stood before may be another operating point than the one that is known. */
static bool contract_uncertain(const struct port *p)
{
    const struct contract *c = &p->contract;

    if (!c->held)
        return p->attach_seen == ATTACH_UNSEEN && p->hard_reset_frame == 0;
    return c->supply == SUPPLY_RESERVED || sequence_gap(p, c->frame, c->t_ns) != CAUSE_NONE;
}

static int32_t distance_mv(int32_t one, int32_t other)
{
    return one < other ? other - one : one - other;
}

/* PPS and AVS: how far the voltage has to go. */
static enum ready_kind step_kind(const struct judge *j, const struct port *p, const struct request *q)
{
    const struct contract *c = &p->contract;

    if (contract_uncertain(p))
        return READY_KIND_LOST;
    if (!c->held || c->supply != q->asked.supply)
        return READY_KIND_ENTRY;
    if (c->pdo_word != q->asked.word || c->position != q->rdo.position)
        return supply_avs(q->asked.supply) ? READY_KIND_ENTRY : READY_KIND_LARGE;
    return distance_mv(c->mv, q->rdo.mv) <= judge_parameter(j, STEP_SIZE)->max ? READY_KIND_SMALL : READY_KIND_LARGE;
}

static bool ready_span(const struct judge *j, const struct event *e, const struct request *q, struct span *span)
{
    const struct sent *accept = judge_sent(j, SET_SOP, q->answer_frame);

    if (!accept)
        return false;
    *span = span_between(e->port, edge_done(e->port, accept), heard_start(e->port, e->speech));
    return true;
}

static struct outcome ready_outcome(const struct judge *j, const struct event *e, const struct request *q)
{
    struct outcome o = judge_outcome(j, e);

    o.sentence = READY_LATE;
    o.values[0] = q->asked.supply;
    o.values[1] = q->rdo.mv;
    o.values[2] = e->port->contract.held ? e->port->contract.mv : 0;
    outcome_evidence(&o, q->frame);
    return o;
}

/* Between the two limits it depends on what is not known. */
static void ready_unknown(struct judge *j, const struct event *e, const struct request *q, unsigned cause, const struct window *sure)
{
    struct span span;

    if (!ready_span(j, e, q, &span))
        return;
    struct outcome o = ready_outcome(j, e, q);

    if (span.low_ns > sure->high_ns) {
        time_at_most(j, &o, &span, sure, sequence_gap(e->port, q->answer_frame, q->answer_ns));
        return;
    }
    o.sentence = READY_UNKNOWN;
    judge_undecided(j, &o, (enum cause)cause);
}

static void ready_judge(struct judge *j, const struct event *e, const struct request *q, const struct window *w)
{
    const struct sent *accept = judge_sent(j, SET_SOP, q->answer_frame);
    struct wire        heard = heard_wire(e->speech);
    struct span        span;

    if (accept && judge_plainly_passed(j, accept, &heard, w))
        return;
    if (!ready_span(j, e, q, &span) || judge_time_passed(j, &span, w))
        return;
    struct outcome o = ready_outcome(j, e, q);

    time_at_most(j, &o, &span, w, sequence_gap(e->port, q->answer_frame, q->answer_ns));
}

/* Does what the rule's revision says hold, and is nothing settled by what failed before? */
static bool ready_applies(const struct judge *j, const struct event *e)
{
    return !time_silenced(j) && (judge_rule(j)->applies == APPLIES_ALL || sequence_applies(j, e->port, e->speech->player));
}

void time_check_ready_spr(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct request *q = ready_request(e);
    struct window         w;

    if (!q || (p->epr_mode_known && p->epr_mode) || (request_known(q) && !supply_plain(q->asked.supply)) || !ready_applies(j, e))
        return;
    w = judge_window(j, READY_MOST_OTHER);
    if (!request_known(q)) {
        ready_unknown(j, e, q, judge_gap_cause(p, CAUSE_UNKNOWN_OFFER), &w);
        return;
    }
    struct window spr = judge_window(j, READY_MOST);
    struct span   span;

    if (p->epr_mode_known || (ready_span(j, e, q, &span) && span_fit(&span, &spr) == FIT_INSIDE))
        ready_judge(j, e, q, &spr);
    else
        ready_unknown(j, e, q, judge_gap_cause(p, CAUSE_BEGINNING), &w);
}

void time_check_ready_epr(struct judge *j, const struct event *e)
{
    const struct request *q = ready_request(e);
    struct window         w = judge_window(j, READY_MOST);

    if (q && e->port->epr_mode_known && e->port->epr_mode && request_known(q) && supply_plain(q->asked.supply) && ready_applies(j, e))
        ready_judge(j, e, q, &w);
}

/* A step inside the same object, small as this rule's parameters say. */
static void small_judge(struct judge *j, const struct event *e, bool avs)
{
    const struct request *q = ready_request(e);
    struct window         w = judge_window(j, STEP_MOST);

    if (q && request_known(q) && (avs ? supply_avs(q->asked.supply) : q->asked.supply == SUPPLY_PPS) &&
        step_kind(j, e->port, q) == READY_KIND_SMALL && ready_applies(j, e))
        ready_judge(j, e, q, &w);
}

/* A large step, or the way in; where it is not known which, only what is too long for both is held against the source. */
static void large_judge(struct judge *j, const struct event *e, bool avs)
{
    const struct request *q = ready_request(e);

    if (!q || !request_known(q) || !(avs ? supply_avs(q->asked.supply) : q->asked.supply == SUPPLY_PPS))
        return;
    enum ready_kind kind = step_kind(j, e->port, q);
    struct window   w = judge_window(j, kind == READY_KIND_LARGE ? STEP_MOST : STEP_MOST_ENTRY);
    struct span     span;

    if (kind == READY_KIND_SMALL || !ready_applies(j, e))
        return;
    if (kind == READY_KIND_LOST && !(ready_span(j, e, q, &span) && span_fit(&span, &w) == FIT_ABOVE))
        return;
    ready_judge(j, e, q, &w);
}

void time_check_pps_small(struct judge *j, const struct event *e)
{
    small_judge(j, e, false);
}

void time_check_pps_large(struct judge *j, const struct event *e)
{
    large_judge(j, e, false);
}

void time_check_avs_small(struct judge *j, const struct event *e)
{
    small_judge(j, e, true);
}

void time_check_avs_large(struct judge *j, const struct event *e)
{
    large_judge(j, e, true);
}

/* How long the sink waits for PS_RDY, and then for its own reset to be sent. */
static struct window transition_window(const struct judge *j, const struct port *p)
{
    struct window w = judge_window(j, p->epr_mode ? WAIT_EPR : WAIT_SPR);

    if (!p->epr_mode_known) {
        w.high_ns = judge_window(j, WAIT_EPR).high_ns;
        w.low_ns = judge_window(j, WAIT_SPR).low_ns;
    }
    w.high_ns += judge_window(j, WAIT_RESET).high_ns;
    return w;
}

void time_check_ps_transition(struct judge *j, const struct event *e)
{
    const struct port    *p = e->port;
    const struct request *q = &p->request;
    const struct sent    *accept;

    if (!q->held || q->state != REQUEST_ACCEPTED || p->swap != SWAP_NONE || !(accept = judge_sent(j, SET_SOP, q->answer_frame)) ||
        accept->delivery == DELIVERY_OPEN)
        return;
    struct wire    reset = record_wire(e->record);
    struct span    span = span_between(p, edge_done(p, accept), edge_start(p, &reset));
    struct window  w = transition_window(j, p);
    struct outcome o = judge_outcome(j, e);
    enum cause     gap = sequence_gap(p, q->answer_frame, q->answer_ns);

    o.player = q->player;
    o.sentence = RESET_LATE;
    judge_time(j, &o, &span, &w, judge_reset_origin(j) == ORIGIN_SINK ? gap : CAUSE_ORIGIN, true);
}
