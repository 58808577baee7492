/* VBUS going down and coming up: after a detach, a Hard Reset, an attach. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"
#include "rules/sequence.h"

#include <stdlib.h>

enum { UV_OF_MV = 1000, LIGHT_LOAD_UA = 50000 };
#define GIVE_UP_NS INT64_C(5000000000)

static const struct rail_moment never = { .before_ns = INT64_MIN, .after_ns = INT64_MIN };

static bool happened(const struct rail_moment *m)
{
    return m->after_ns != INT64_MIN;
}

bool rail_cycle_waits(const struct rail *r)
{
    const struct rail_cycle *c = &r->cycle;

    return r->cycle_on && !happened(&c->on) && (happened(&c->off) || c->by == CYCLE_BY_NOTHING || c->by == CYCLE_BY_ATTACH);
}

static void start(struct engine *e, struct port_book *b, enum cycle_by by, int64_t t_ns, uint64_t frame)
{
    struct rail       *r = &b->rail;
    struct rail_cycle *c = &r->cycle;

    *c = (struct rail_cycle){ .by = (uint8_t)by, .player = (uint8_t)player_source(b->port), .t_ns = t_ns, .frame = frame, .fell = never,
                              .off = never, .on = never, .up = never, .down_uv = e->rail_limits.safe_0v->max * UV_OF_MV,
                              .last_ns = INT64_MIN };
    rail_fit_start(&c->floor, e->rail_limits.floor_uv, INT64_MAX, true);
    rail_fit_start(&c->turn_on, INT64_MIN, (e->rail_limits.safe_5v->max + e->rail_limits.window[VOLT_VALID]->max) * UV_OF_MV, true);
    rail_trust(e, b);
    r->ma = 0;
    r->cycle_on = true;
    rail_row_start(r, &r->loose);
}

/* How far a mark that was made by hand may be off: ABOUT's standard uncertainty, or the usual one, twice. */
static int64_t mark_time_ns(const struct engine *e, const struct port *p)
{
    const struct about_instrument *i = about_instrument(bench_about(e->bench), p->number);

    return i->given & ABOUT_MARK_TIME_NS && i->mark_time_ns < 1e15 ? (int64_t)(2 * i->mark_time_ns + 0.5) : 2 * e->rail_limits.mark_ns;
}

static void widen(struct edge *edge, int64_t by_ns)
{
    edge->early_ns -= by_ns;
    edge->late_ns += by_ns;
}

static bool crossed_lately(const struct port *p, int64_t t_ns)
{
    int64_t apart_ns = rail_align_ns(p);

    return apart_ns > 0 && p->vbus_seen && ((p->vbus_high_ns != INT64_MIN && t_ns - p->vbus_high_ns <= apart_ns) ||
                                            (p->vbus_state == VBUS_SAFE_0V && t_ns - p->vbus_low_ns <= apart_ns));
}

void rail_cycle_begin(struct engine *e, struct port_book *b, const struct event *event, enum cycle_by by)
{
    const struct port *p = b->port;
    struct rail       *r = &b->rail;
    struct rail_cycle *c = &r->cycle;
    struct rail_value  before = rail_value_before(r, &e->rail_limits, event->t_ns);

    if (by == CYCLE_BY_ATTACH && r->cycle_on && c->by == CYCLE_BY_NOTHING && p->attach_seen == ATTACH_BY_VBUS) {
        c->by = CYCLE_BY_ATTACH; /* VBUS came up, and that is how the attach was seen */
        c->by_vbus = true;
        c->frame = event->frame;
        c->t_ns = event->t_ns;
        c->opened = edge_moment(p, EDGE_ROW, event->frame, event->t_ns, 0);
        return;
    }
    if (r->cycle_on)
        rail_cycle_end(e, b, event->t_ns, event->frame);
    start(e, b, by, event->t_ns, event->frame);
    c->before = before;
    c->crossed = crossed_lately(p, event->t_ns);
    c->epr = p->epr_mode;
    c->epr_known = p->epr_mode_known;
    if (by == CYCLE_BY_HARD_RESET) {
        struct wire w = record_wire(event->record);

        c->opened = edge_end(p, &w);
        c->in_contract = p->contract.frame && !p->contract.held && p->contract.until_ns == event->t_ns;
    } else {
        c->by_mark = event->record && event->record->kind == RECORD_MARK;
        c->opened = edge_moment(p, EDGE_STATE, event->frame, event->t_ns, event->record && !c->by_mark ? event->record->flags : 0);
        if (c->by_mark && event->record->flags & RECORD_HOST_TIME)
            widen(&c->opened, mark_time_ns(e, p));
    }
}

bool rail_cycle_untied(const struct port *p, const struct rail_cycle *c, const struct rail_moment *m)
{
    int64_t apart_ns = rail_align_ns(p);

    return apart_ns > 0 && (c->crossed || m->before_ns < c->t_ns + apart_ns);
}

static void begins_to_fall(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_cycle *c = &r->cycle;
    int64_t            by_uv = (int64_t)c->before.uv - v->uv;
    int64_t            still = (int64_t)(2 * r->trust.noise_uv), move = (int64_t)(4 * r->trust.noise_uv);

    if (happened(&c->fell) || c->before.frame == 0)
        return;
    if (llabs(by_uv) <= (still > l->still_uv ? still : l->still_uv)) {
        rail_moment_before(&c->fell, r, v);
    } else if (by_uv > (move > l->move_uv ? move : l->move_uv)) {
        rail_moment_after(&c->fell, r, v);
        c->fell_uv = v->uv;
        c->fell_ua = v->ua;
    }
}

static void goes_down(const struct rail_limits *l, struct rail *r, const struct rail_value *v)
{
    struct rail_cycle *c = &r->cycle;

    begins_to_fall(l, r, v);
    if (happened(&c->off))
        return;
    if (happened(&c->fell))
        c->light_slow = (c->fell_ua == RECORD_NO_READING || c->fell_ua < LIGHT_LOAD_UA) &&
                        v->t_ns - c->fell.after_ns > c->fell_uv - v->uv; /* 1 uV/ns = 1 mV/us */
    rail_cross(&c->off, r, v, c->down_uv, false);
    /* Of what came back meanwhile, it is not known whether it was off. */
    if (c->off.before_ns != v->t_ns)
        c->left_above = true;
    else if (!c->left_above)
        c->above = *v;
}

/* VBUS is up: the time before the first contract begins once the transient is over. */
static void came_up(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail *r = &b->rail;

    if (r->cycle.by == CYCLE_BY_NOTHING || r->steady_on || b->port->contract.held || r->change_on)
        return;
    rail_steady_begin(e, b, SECTION_FIRST, NULL, v->t_ns, v->t_ns + e->rail_limits.values.transient_ns);
}

static void comes_up(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail       *r = &b->rail;
    struct rail_cycle *c = &r->cycle;

    /* Up already: it is on its way down from the last contract. */
    if (c->on.before_ns == INT64_MIN && rail_against(r, v, c->down_uv) != RAIL_BELOW)
        return;
    /* About its level VBUS crosses it many times, by its noise alone: it rises from where it was last below. */
    if (happened(&c->on) && !c->risen && rail_against(r, v, c->down_uv) == RAIL_BELOW)
        c->on = never;
    rail_cross(&c->on, r, v, c->down_uv, true);
    c->risen = c->risen || v->uv > c->down_uv + e->rail_limits.move_uv;
    if (rail_cross(&c->up, r, v, e->rail_limits.safe_5v->min * UV_OF_MV, true))
        came_up(e, b, v);
    if (!happened(&c->on))
        c->spacing_most_ns = 0; /* how closely VBUS was read while it was down says nothing of its rise */
    if (!happened(&c->up))
        return;
    rail_fit_take(&c->turn_on, &r->trust, r->ma, v, false);
}

static void pairs(struct rail *r, const struct rail_value *v)
{
    struct rail_cycle *c = &r->cycle;

    c->readings++;
    c->last_ns = v->t_ns;
    c->last = *v;
    rail_fit_take(&c->floor, &r->trust, r->ma, v, false);
    if (r->row.any) {
        int64_t apart_ns = v->t_ns - r->row.last.t_ns;

        if (apart_ns > c->spacing_most_ns)
            c->spacing_most_ns = apart_ns;
        rail_slope(r, &r->row.last, v, c->readings, &c->slew);
    }
    r->row.last = *v;
    r->row.any = true;
}

void rail_cycle_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail              *r = &b->rail;
    struct rail_cycle        *c = &r->cycle;

    if (happened(&c->up) && v->t_ns > c->up.after_ns + l->after_ready_ns) {
        rail_cycle_end(e, b, v->t_ns, v->frame);
        return;
    }
    pairs(r, v);
    if (c->by == CYCLE_BY_ATTACH || c->by == CYCLE_BY_NOTHING || (c->by == CYCLE_BY_HARD_RESET && happened(&c->off))) {
        comes_up(e, b, v);
        return;
    }
    goes_down(l, r, v);
    /* For a while after it is down it may still go below. */
    if (c->by == CYCLE_BY_DETACH ? (happened(&c->off) && v->t_ns > c->off.after_ns + l->after_ready_ns) || v->t_ns > c->opened.late_ns + l->watch_ns : v->t_ns > c->t_ns + GIVE_UP_NS) {
        bool down = happened(&c->off);

        rail_cycle_end(e, b, v->t_ns, v->frame);
        if (down) {
            start(e, b, CYCLE_BY_NOTHING, v->t_ns, v->frame);
            rail_moment_before(&r->cycle.on, r, v);
        }
    }
}

void rail_cycle_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame)
{
    struct rail         *r = &b->rail;
    const struct section s = { .kind = SECTION_CYCLE, .cycle = &r->cycle };

    r->cycle_on = false;
    r->cycle.to_ns = t_ns;
    if (r->cycle.by != CYCLE_BY_NOTHING)
        rail_tell(e, b, &s, t_ns, frame);
}

/* The first readings of a port that nobody is known to be attached to: they may show how VBUS comes up. */
void rail_cycle_idle(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct rail *r = &b->rail;

    if (!r->cycle_on && !r->steady_on && !r->change_on && rail_against(r, v, e->rail_limits.safe_0v->max * UV_OF_MV) == RAIL_BELOW)
        start(e, b, CYCLE_BY_NOTHING, v->t_ns, v->frame);
    if (r->cycle_on)
        rail_cycle_row(e, b, v);
}
