/*
 * Who most likely sent a Hard Reset: it has no sender on the wire, but each side has its own reasons, and each reason its own time.
 * Exactly one reason that fits names its side; several, none, or one that fits only perhaps: nobody is named.
 */
#include "rules/engine_inside.h"

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)
#define MS(n) (INT64_C(1000000) * (n))

enum fitting { FITS_NOT, FITS_PERHAPS, FITS };

/* The timers that end in a Hard Reset, and how much sooner and later than their windows it still is laid to them: ours. */
enum reason { REASON_ANSWER, REASON_READY_SPR, REASON_READY_EPR, REASON_CAPABILITIES, REASON_PPS, REASON_KEEP_ALIVE };
static const struct { const char *parameter; int64_t sooner_ns, later_ns; } timers[] = {
    [REASON_ANSWER] = { "tSenderResponse", 0, MS(7) },
    [REASON_READY_SPR] = { "tPSTransition@spr", 0, MS(10) },
    [REASON_READY_EPR] = { "tPSTransition@epr", 0, MS(10) },
    [REASON_CAPABILITIES] = { "tTypeCSinkWaitCap", 0, MS(10) },
    [REASON_PPS] = { "tPPSTimeout", MS(100), MS(100) },
    [REASON_KEEP_ALIVE] = { "tSourceEPRKeepAlive", MS(5), MS(10) },
};

/* How old a reading may be: ours. */
enum { UV_A_MV = 1000, THOUSANDTHS = 1000, READING_AGE_MS = 100 };

struct reset_scene {
    struct port_book  *book;
    const struct port *port;
    struct edge        reset;
    int64_t            t_ns;
    unsigned           found[2], perhaps; /* found by enum side */
};

static void add(struct reset_scene *s, unsigned side, enum fitting fits)
{
    s->perhaps += fits == FITS_PERHAPS;
    s->found[side] += fits == FITS;
}

/* gap: something may have been missed since, that would take the reason away. */
static enum fitting in_window(const struct reset_scene *s, enum reason reason, struct edge from, bool gap)
{
    struct span   span = span_between(s->port, from, s->reset);
    struct window w = window_of(parameter_in(s->book->parameters, timers[reason].parameter));

    w.low_ns -= timers[reason].sooner_ns;
    w.high_ns += timers[reason].later_ns;
    switch (span_fit(&span, &w)) {
    case FIT_INSIDE:
        return gap ? FITS_PERHAPS : FITS;
    case FIT_UNSURE:
        return FITS_PERHAPS;
    case FIT_BELOW:
    case FIT_ABOVE:
        break;
    }
    return FITS_NOT;
}

static bool missed_since(const struct port *p, uint64_t frame)
{
    return p->loss_frame > frame || p->bad_missed_frame > frame || (p->bad_fresh && p->bad_set == SET_SOP && p->bad_frame > frame);
}

static struct edge moment(const struct port *p, int64_t t_ns)
{
    return edge_moment(p, EDGE_STATE, 0, t_ns, 0);
}

/* A question that the partner has heard and not answered. */
static void look_for_unanswered(struct reset_scene *s, unsigned player)
{
    struct talk       *t = &s->book->talk;
    unsigned           stream = stream_index(SET_SOP, player);
    const struct ask  *ask = talk_open(t, stream);
    const struct sent *sent = t->frozen[stream] ? &ask->sent : &s->port->streams[stream].last;
    unsigned           side;

    if (!t->is_open[stream] || sent->delivery == DELIVERY_OPEN)
        return;
    if (ask->index == DATA(REQUEST) || ask->index == EXTENDED(EPR_SOURCE_CAPABILITIES) || ask->index == DATA(EPR_REQUEST) ||
        ask->index == DATA(SOURCE_CAPABILITIES)) {
        side = ask->index == DATA(REQUEST) || ask->index == DATA(EPR_REQUEST) ? SIDE_SINK : SIDE_SOURCE;
        add(s, side, in_window(s, REASON_ANSWER, edge_done(s->port, sent), missed_since(s->port, sent->last_frame)));
    }
}

static const struct sent *accept_of(const struct reset_scene *s, uint64_t frame)
{
    const struct port *p = s->port;

    for (unsigned k = 2 * SET_SOP; k < 2 * SET_SOP + 2; k++)
        if (p->streams[k].last.held && p->streams[k].last.frame == frame)
            return &p->streams[k].last;
    return s->book->talk.accept.frame == frame ? &s->book->talk.accept : NULL;
}

static void look_for_missing_ready(struct reset_scene *s)
{
    const struct port    *p = s->port;
    const struct request *q = &p->request;
    enum reason           reason = p->epr_mode ? REASON_READY_EPR : REASON_READY_SPR;

    if (!q->held || q->state != REQUEST_ACCEPTED || q->answer_frame == 0)
        return;
    const struct sent *accept = accept_of(s, q->answer_frame);
    struct edge        from = accept ? edge_done(p, accept) : moment(p, q->answer_ns);

    add(s, SIDE_SINK, in_window(s, reason, from, missed_since(p, accept ? accept->last_frame : q->answer_frame)));
}

static bool offered_since(const struct port *p, int64_t t_ns)
{
    return (p->announced[0].known && p->announced[0].t_ns > t_ns) || (p->announced[1].known && p->announced[1].t_ns > t_ns);
}

static void look_for_missing_capabilities(struct reset_scene *s)
{
    const struct port *p = s->port;
    struct talk       *t = &s->book->talk;

    for (unsigned k = 2 * SET_SOP; k < 2 * SET_SOP + 2; k++) {
        const struct ask *ask = talk_last(t, k);

        if (t->last_ns[k] != INT64_MIN && ask->index == CONTROL(SOFT_RESET) && ask->end == ASK_ANSWERED &&
            !offered_since(p, ask->answer.start_ns))
            add(s, SIDE_SINK, in_window(s, REASON_CAPABILITIES, edge_end(p, &ask->answer), missed_since(p, ask->answer.frame)));
    }
    if (p->vbus_state == VBUS_PRESENT && p->vbus_high_ns != INT64_MIN && !offered_since(p, p->vbus_high_ns))
        add(s, SIDE_SINK, in_window(s, REASON_CAPABILITIES, moment(p, p->vbus_high_ns),
                                    p->loss_to_ns >= p->vbus_high_ns || p->missed_ns >= p->vbus_high_ns));
}

/* VBUS just before the reset: what the same record shows of it afterwards is what came of that. */
static bool pps_shut_down(const struct reset_scene *s)
{
    const struct port   *p = s->port;
    const struct record *r = &s->book->readings.record;
    struct pdo           pdo = pdo_read_source(p->contract.pdo_word, p->contract.position);
    int64_t              share = parameter_in(s->book->parameters, "vPpsShutdown")->min;
    unsigned             rows = s->book->readings.cells && r->power.columns & RECORD_VBUS ? readings_before(r, s->t_ns) : 0;

    while (rows-- > 0) {
        int32_t uv = record_cell(r, rows, 0);

        if (s->reset.early_ns - (r->t_ns + (int64_t)rows * r->power.interval_ns) > MS(READING_AGE_MS))
            return false;
        if (uv != RECORD_NO_READING)
            return (int64_t)uv / UV_A_MV * THOUSANDTHS < pdo.min_mv * share;
    }
    return false;
}

/* The reset has just ended the contract. */
static void look_at_pps(struct reset_scene *s)
{
    const struct port *p = s->port;

    if (p->contract.ended_by != CONTRACT_HARD_RESET || p->contract.until_ns != s->t_ns || p->contract.supply != SUPPLY_PPS)
        return;
    if (p->request.frame)
        add(s, SIDE_SOURCE, in_window(s, REASON_PPS, moment(p, p->request.end_ns), missed_since(p, p->request.frame)));
    if (pps_shut_down(s))
        add(s, SIDE_SOURCE, FITS);
}

static void look_for_silent_sink(struct reset_scene *s)
{
    const struct port *p = s->port;

    for (unsigned k = PLAYER_A; p->epr_mode && k <= PLAYER_B; k++) {
        const struct sent *last = &p->streams[stream_index(SET_SOP, k)].last;

        if (p->role[k] != SIDE_SINK || !last->held)
            continue;
        struct wire w = sent_last(last);

        add(s, SIDE_SOURCE, in_window(s, REASON_KEEP_ALIVE, edge_end(p, &w), missed_since(p, last->last_frame)));
    }
}

enum reset_origin origin_of_reset(struct port_book *b, const struct event *event)
{
    struct wire        reset = record_wire(event->record);
    struct reset_scene s = { .book = b, .port = b->port, .reset = edge_start(b->port, &reset), .t_ns = event->t_ns };

    look_for_unanswered(&s, PLAYER_A);
    look_for_unanswered(&s, PLAYER_B);
    look_for_missing_ready(&s);
    look_for_missing_capabilities(&s);
    look_at_pps(&s);
    look_for_silent_sink(&s);
    if (s.perhaps || s.found[SIDE_SOURCE] + s.found[SIDE_SINK] != 1)
        return ORIGIN_UNKNOWN;
    return s.found[SIDE_SINK] ? ORIGIN_SINK : ORIGIN_SOURCE;
}

enum reset_origin judge_reset_origin(const struct judge *j)
{
    return (enum reset_origin)j->book->talk.origin;
}
