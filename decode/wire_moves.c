#include "decode/wire_moves.h"

#include <stdlib.h>

enum { SAFE_5V_MV = 5000, WIRE_LEVEL_UNKNOWN = -1, LEAST_MV = 400 /* smaller steps are not looked for */ };
/* Longest from the beginning of VBUS to the first offer: tSrcTurnOn 275 ms and tFirstSourceCap 250 ms (Linux include/linux/usb/pd.h; an rs
 * constants file). A pin may part a little before CC does, and what a capacitor holds goes slowly: common practice, no source. */
static const int64_t turn_on_ns = INT64_C(525000000), before_pull_ns = INT64_C(50000000), fall_ns = INT64_C(1500000000);

struct wire_port {
    int64_t attach_ns;  /* CC showed a partner, and nothing was offered since; INT64_MIN: no */
    int64_t accept_ns;  /* of the request in hand; INT64_MIN: none */
    bool    offered;    /* since the attach or reset */
    bool    begun;      /* something was said or seen of it before */
    int32_t level_mv;
};

struct wire_moves {
    struct bench    *bench;
    void           (*found)(void *context, const struct wire_move *m);
    void            *context;
    struct wire_port ports[RECORD_PORT_BENCH];
};

static void tell(const struct wire_moves *w, const struct wire_move *m)
{
    if (m->to_ns > m->from_ns)
        w->found(w->context, m);
}

/* The first offer: VBUS has come to 5 V before. Where nobody saw the plug go in, an offer that begins to count says that it just did. */
static void offered(struct wire_moves *w, struct wire_port *p, const struct event *e)
{
    if (e->offer->side != SIDE_SOURCE || p->offered)
        return;
    bool             seen = p->attach_ns != INT64_MIN, begins = !p->begun && e->port->speech.m.id == 0;
    struct wire_move m = { .why = WIRE_MOVE_ON, .port = e->port->number, .to_ns = e->offer->t_ns, .to_mv = SAFE_5V_MV, .guessed = !seen && !begins };

    p->offered = true;
    m.from_ns = seen ? p->attach_ns : e->offer->t_ns - turn_on_ns;
    if (seen || !p->begun)
        tell(w, &m);
    if (seen || begins)
        p->level_mv = SAFE_5V_MV;
    p->attach_ns = INT64_MIN;
}

static void contracted(struct wire_moves *w, struct wire_port *p, const struct event *e)
{
    const struct contract *c = e->contract;
    int32_t                to_mv = c->supply == SUPPLY_BATTERY || c->supply == SUPPLY_VARIABLE || c->mv <= 0 ? WIRE_LEVEL_UNKNOWN : c->mv;
    bool                   known = p->level_mv != WIRE_LEVEL_UNKNOWN && to_mv != WIRE_LEVEL_UNKNOWN;

    if (p->accept_ns != INT64_MIN && known && abs(to_mv - p->level_mv) >= LEAST_MV)
        tell(w, &(struct wire_move){ .why = WIRE_MOVE_CONTRACT, .port = e->port->number, .from_ns = p->accept_ns, .to_ns = c->t_ns,
                                     .from_mv = p->level_mv, .to_mv = to_mv });
    p->accept_ns = INT64_MIN;
    p->level_mv = to_mv;
}

static void gone(struct wire_moves *w, struct wire_port *p, const struct event *e, enum wire_move_why why)
{
    if (p->level_mv > 0)
        tell(w, &(struct wire_move){ .why = why, .port = e->port->number, .from_ns = e->t_ns - (why == WIRE_MOVE_OFF ? before_pull_ns : 0),
                                     .to_ns = e->t_ns + fall_ns, .from_mv = p->level_mv, .to_mv = 0 });
    p->level_mv = 0;
    p->accept_ns = INT64_MIN;
    p->offered = false;
    p->attach_ns = why == WIRE_MOVE_RESET ? e->t_ns : INT64_MIN;
}

static void see(void *context, const struct event *e)
{
    struct wire_moves *w = context;
    struct wire_port  *p = &w->ports[e->port->number];

    if (e->kind == EVENT_ATTACH) {
        p->attach_ns = e->t_ns;
        p->offered = false;
        p->level_mv = 0;
    } else if (e->kind == EVENT_ANNOUNCED) {
        offered(w, p, e);
    } else if (e->kind == EVENT_ANSWERED) {
        p->accept_ns = e->request->state == REQUEST_ACCEPTED ? e->request->answer_ns : INT64_MIN;
    } else if (e->kind == EVENT_CONTRACT || e->kind == EVENT_RENEWED) {
        contracted(w, p, e);
    } else if (e->kind == EVENT_DETACH) {
        gone(w, p, e, WIRE_MOVE_OFF);
    } else if (e->kind == EVENT_HARD_RESET) {
        gone(w, p, e, WIRE_MOVE_RESET);
    } else if (e->kind != EVENT_SWAPPED || e->swap == SWAP_PR || e->swap == SWAP_FR) {
        /* A swap of power, the end of EPR, a loss: what VBUS does then is not told here. */
        p->level_mv = WIRE_LEVEL_UNKNOWN;
        p->attach_ns = p->accept_ns = INT64_MIN;
    }
    p->begun = true;
}

struct wire_moves *wire_moves_new(void (*found)(void *context, const struct wire_move *m), void *context)
{
    struct wire_moves *w = calloc(1, sizeof *w);

    if (!w)
        return NULL;
    w->bench = bench_new();
    w->found = found;
    w->context = context;
    if (!w->bench) {
        free(w);
        return NULL;
    }
    for (unsigned k = 0; k < RECORD_PORT_BENCH; k++)
        w->ports[k] = (struct wire_port){ .attach_ns = INT64_MIN, .accept_ns = INT64_MIN, .level_mv = WIRE_LEVEL_UNKNOWN };
    bench_observe(w->bench,
                  EVENT_BIT(EVENT_ATTACH) | EVENT_BIT(EVENT_DETACH) | EVENT_BIT(EVENT_ANNOUNCED) | EVENT_BIT(EVENT_ANSWERED) |
                      EVENT_BIT(EVENT_CONTRACT) | EVENT_BIT(EVENT_RENEWED) | EVENT_BIT(EVENT_HARD_RESET) | EVENT_BIT(EVENT_SWAPPED) |
                      EVENT_BIT(EVENT_EPR_LEFT) | EVENT_BIT(EVENT_LOSS),
                  see, w);
    return w;
}

bool wire_moves_feed(struct wire_moves *w, const struct record *r)
{
    if (r->kind == RECORD_POWER || r->kind == RECORD_TEMPERATURE || r->kind == RECORD_ABOUT)
        return true;
    return bench_feed(w->bench, r, false);
}

void wire_moves_end(struct wire_moves *w)
{
    bench_end(w->bench, INT64_MAX);
}

void wire_moves_free(struct wire_moves *w)
{
    if (!w)
        return;
    bench_free(w->bench);
    free(w);
}
