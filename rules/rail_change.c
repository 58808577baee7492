/* VBUS on its way from one contract to the next, row by row. */
#include "rules/rail_inside.h"
#include "rules/engine_inside.h"
#include "rules/sequence.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

enum { UV_OF_MV = 1000, RAIL_LOOSE_NS = 2000000000, OLD_BLOCKS = 3, NOMINAL_5V_UV = 5000000 };

/* What is asked for, as the contract that it will be. */
static struct contract contract_asked(const struct request *q)
{
    return (struct contract){ .position = q->rdo.position, .supply = q->position_valid ? q->asked.supply : SUPPLY_RESERVED,
                              .mv = q->rdo.mv ? q->rdo.mv : q->asked.max_mv, .ma = q->rdo.op_ma, .mw = q->rdo.op_mw,
                              .pdo_word = q->asked.word, .epr = q->epr };
}

struct volt_window rail_window(struct rail *r, const struct rail_limits *l, const struct contract *c)
{
    struct rail_window *w = &r->window;

    if (!w->any || w->pdo_word != c->pdo_word || w->mv != c->mv || w->position != c->position || w->supply != c->supply)
        *w = (struct rail_window){ .any = true, .pdo_word = c->pdo_word, .mv = c->mv, .position = c->position, .supply = c->supply,
                                   .window = volt_window_by(l->window, c, false) };
    return w->window;
}

/* The static value of the 10 ms before: the block in hand if it is long enough, else the one before, else a lone reading. */
struct rail_value rail_value_before(const struct rail *r, const struct rail_limits *l, int64_t t_ns)
{
    const struct rail_sum  *s = &r->block;
    struct rail_value       v = r->statics[0];

    if (r->steady_on && s->count && (v.frame == 0 || t_ns - s->from_ns >= l->values.static_ns / 2 || t_ns - v.t_ns > 2 * l->values.static_ns))
        return (struct rail_value){ .t_ns = s->from_ns, .frame = s->frame, .n = s->count, .uv = (int32_t)(s->sum_uv / s->count),
                                    .ua = s->amps ? (int32_t)(s->sum_ua / s->amps) : RECORD_NO_READING };
    /* A static value that readings came after is of the past, but for those that belong to no block yet. */
    if (v.frame && t_ns - v.t_ns <= RAIL_LOOSE_NS && r->loose.t_ns - v.t_ns <= 3 * l->values.static_ns)
        return v;
    return r->loose.frame && t_ns - r->loose.t_ns <= RAIL_LOOSE_NS ? r->loose : (struct rail_value){ .frame = 0 };
}

static struct volt_window window_5v(const struct rail_limits *l)
{
    return (struct volt_window){ .low_uv = l->safe_5v->min * UV_OF_MV, .high_uv = l->safe_5v->max * UV_OF_MV, .known = true,
                                 .parameter = l->safe_5v };
}

void rail_row_start(struct rail *r, const struct rail_value *before)
{
    r->row.any = before->frame != 0;
    r->row.last = *before;
    r->row.load_known = before->frame && before->ua != RECORD_NO_READING;
    r->row.load_ua = before->ua;
    r->row.moving_ns = INT64_MIN;
}

/* Where the change goes: 1 up, -1 down, 0 nowhere to speak of. */
static int way_of(const struct rail_change *c)
{
    int64_t from = c->first ? NOMINAL_5V_UV : (c->old_window.low_uv + c->old_window.high_uv) / 2, to = (c->new_window.low_uv + c->new_window.high_uv) / 2;

    return !c->old_window.known || !c->new_window.known || from == to ? 0 : to > from ? 1 : -1;
}

int rail_change_way(const struct rail_change *c)
{
    return c->way;
}

static int64_t more_of(int64_t least_uv, double noise_uv)
{
    return (double)least_uv > noise_uv ? least_uv : (int64_t)noise_uv;
}

static void begins_to_move(const struct rail_limits *l, struct rail *r, struct rail_change *c, const struct rail_value *v)
{
    int64_t by_uv = (int64_t)v->uv - c->before.uv;
    int     way = rail_change_way(c);

    if (c->moved.after_ns != INT64_MIN || c->before.frame == 0 || way == 0)
        return;
    if (llabs(by_uv) <= more_of(l->still_uv, 2 * r->trust.noise_uv)) {
        rail_moment_before(&c->moved, r, v);
    } else if (by_uv * way > more_of(l->move_uv, 4 * r->trust.noise_uv)) {
        rail_moment_after(&c->moved, r, v);
    }
}

/* The last static value that ends before an answer to a Request could begin; frame 0: none. */
static const struct rail_value *static_before(const struct rail *r, const struct rail_limits *l, int64_t request_ns)
{
    const struct rail_value *then = r->statics;

    while (then < r->statics + RAIL_STATICS - 1 && then->t_ns + l->values.static_ns > request_ns + l->values.static_ns / 2)
        then++;
    return then;
}

void rail_stray_rows(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail              *r = &b->rail;
    const struct request     *q = &b->port->request;
    const struct rail_value  *then = static_before(r, l, q->t_ns);
    int64_t                   moved_uv = more_of(l->move_uv, 4 * r->trust.noise_uv);

    if (rail_row_ns(&b->readings.record, from) > q->t_ns + RAIL_LOOSE_NS)
        return; /* no answer will come */
    if (r->stray.request_frame != q->frame) {
        r->stray.request_frame = q->frame;
        r->stray.way = 0;
    }
    for (unsigned k = from; k < to && then->frame; k++) {
        struct rail_value v = rail_row(&b->readings.record, k);
        int64_t           by_uv = (int64_t)v.uv - then->uv;
        int               way = by_uv > moved_uv ? 1 : by_uv < -moved_uv ? -1 : 0;

        if (v.uv == RECORD_NO_READING || v.t_ns <= q->t_ns)
            continue;
        if (way != 0 && way != r->stray.way)
            r->stray.first = v;
        r->stray.way = way;
    }
}

/* VBUS went toward the new level before the Request was accepted, the load being steady: the contract in force is not kept. */
static void moved_early(const struct rail_limits *l, struct rail *r, struct rail_change *c)
{
    const struct rail_value *then = static_before(r, l, c->request.start_ns), *now = &r->loose;
    struct rail_steady      *s = &r->steady;
    int                      way = rail_change_way(c);

    if (!r->steady_on || r->steady_kind != SECTION_CONTRACT || way == 0 || then->frame == 0 || now->t_ns <= c->request.start_ns)
        return;
    if (then->ua != RECORD_NO_READING && now->ua != RECORD_NO_READING && llabs((int64_t)then->ua - now->ua) > l->values.step_ua)
        return;
    if (((int64_t)now->uv - then->uv) * way <= more_of(l->move_uv, 4 * r->trust.noise_uv) || s->level.found)
        return;
    s->level.found = s->level.early = true;
    s->level.first = r->stray.way == way && r->stray.request_frame == c->request.frame ? r->stray.first : *now;
    s->level.to_ns = c->accept.start_ns;
    c->before = *then;
}

int64_t rail_align_ns(const struct port *p)
{
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);

    return i->given & ABOUT_ALIGN_NS && i->align_ns < 1e15 ? (int64_t)(2 * i->align_ns + 0.5) : 0;
}

/* The same, beyond what is taken together at PS_RDY anyway. */
static int64_t align_ns(const struct port *p)
{
    int64_t ns = rail_align_ns(p);

    return ns > RAIL_NEAR_NS ? ns : 0;
}

void rail_change_begin(struct engine *e, struct port_book *b, const struct event *event)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail              *r = &b->rail;
    const struct port        *p = b->port;
    struct rail_change       *c = &r->change;
    const struct sent        *accept = &p->streams[stream_index(SET_SOP, player_source(p))].last;

    memset(c, 0, offsetof(struct rail_change, slew));
    rail_fit_start(&c->peaks, INT64_MIN, INT64_MAX, true);
    c->now = contract_asked(event->request);
    c->player = (uint8_t)player_source(p);
    c->first = !p->contract.held;
    if (p->contract.held)
        c->old = p->contract;
    c->old_window = p->contract.held ? rail_window(r, l, &c->old) : window_5v(l);
    c->new_window = rail_window(r, l, &c->now);
    c->way = (int8_t)way_of(c);
    c->request = (struct wire){ .frame = event->request->frame, .start_ns = event->request->t_ns, .end_ns = event->request->end_ns };
    c->accept = event->speech ? speech_wire(event->speech) : sent_last(accept);
    c->accept_frame = event->frame;
    c->moved = (struct rail_moment){ .before_ns = INT64_MIN, .after_ns = INT64_MIN };
    c->spacing_least_ns = INT64_MAX;
    c->align_ns = align_ns(p);
    c->beside.inside_before_ns = c->beside.outside_before_ns = INT64_MIN;
    c->beside.inside_after_ns = c->beside.outside_after_ns = INT64_MAX;
    if (!r->steady_on || r->steady_kind != SECTION_CONTRACT) {
        rail_trust_now(e, b);
        r->ma = 0;
    }
    c->before = rail_value_before(r, l, event->t_ns);
    if (c->before.frame && event->t_ns - c->before.t_ns > OLD_BLOCKS * l->values.static_ns && c->old_window.known &&
        (rail_against(r, &c->before, c->old_window.low_uv) == RAIL_BELOW || rail_against(r, &c->before, c->old_window.high_uv) == RAIL_ABOVE))
        c->before.frame = 0; /* a reading from long before, of another level: what VBUS was at just now is not known */
    rail_row_start(r, &r->loose);
    r->row.any = r->row.any && r->followed; /* else there were readings since that nobody looked at */
    if (c->old_window.known && c->new_window.known) {
        int64_t valid_low = l->window[VOLT_VALID]->min * UV_OF_MV, valid_high = l->window[VOLT_VALID]->max * UV_OF_MV;
        int64_t low = c->old_window.low_uv < c->new_window.low_uv ? c->old_window.low_uv : c->new_window.low_uv;
        int64_t high = c->old_window.high_uv > c->new_window.high_uv ? c->old_window.high_uv : c->new_window.high_uv;

        rail_fit_start(&c->peaks, low + valid_low, high + valid_high, true);
    }
    rail_fit_start(&c->floor, l->floor_uv, INT64_MAX, true);
    moved_early(l, r, c);
    c->reversal.extreme_uv = c->before.uv;
    begins_to_move(l, r, c, &r->loose);
    r->change_on = true;
    if (b->volts)
        volt_table_change_begin(e, b);
}

void rail_change_accept(struct port_book *b)
{
    struct rail_change *c = &b->rail.change;

    if (rail_change_way(c) == 0 && !b->volts)
        return; /* nobody asks */
    const struct judge j = { .book = b };
    const struct sent *accept = c->accepted.kind == EDGE_NONE ? judge_sent(&j, SET_SOP, c->accept_frame) : NULL;

    if (accept)
        c->accepted = edge_done(b->port, accept);
}

void rail_change_ready(struct engine *e, struct port_book *b, const struct event *event)
{
    struct rail        *r = &b->rail;
    struct rail_change *c = &r->change;
    int64_t             sum_uv = 0, sum_ua = 0;

    (void)e;
    c->done = true;
    c->ready = event->speech ? speech_wire(event->speech) : (struct wire){ .frame = event->frame, .start_ns = event->t_ns, .end_ns = event->t_ns };
    c->at_ready.mean = (struct rail_value){ .n = 0 };
    unsigned first = r->near_count;

    while (first > 0 && r->near_[first - 1].t_ns >= c->ready.start_ns - RAIL_NEAR_NS)
        first--;
    for (unsigned k = first; k < r->near_count; k++) {
        const struct rail_value *v = &r->near_[k];

        if (v->t_ns > c->ready.start_ns)
            continue;
        if (c->at_ready.mean.n == 0)
            c->at_ready.mean = (struct rail_value){ .t_ns = v->t_ns, .frame = v->frame };
        sum_uv += v->uv;
        sum_ua += v->ua == RECORD_NO_READING ? 0 : v->ua;
        c->at_ready.mean.n++;
    }
    c->at_ready.sum_uv = sum_uv;
    c->at_ready.sum_ua = sum_ua;
    c->at_ready.around[0] = r->loose;
}

/* Where the clocks of packets and of readings may be far apart: VBUS at PS_RDY is what it was at any time about it. */
static void about_ready(struct rail *r, struct rail_change *c, const struct rail_value *v)
{
    if (c->align_ns == 0 || !c->new_window.known)
        return;
    enum rail_side low = rail_against(r, v, c->new_window.low_uv), high = rail_against(r, v, c->new_window.high_uv);
    bool inside = low == RAIL_ABOVE && high == RAIL_BELOW, after = c->done && v->t_ns >= c->ready.start_ns;

    if (!inside && low != RAIL_BELOW && high != RAIL_ABOVE)
        return;
    int64_t *at = inside ? (after ? &c->beside.inside_after_ns : &c->beside.inside_before_ns)
                         : (after ? &c->beside.outside_after_ns : &c->beside.outside_before_ns);

    if (!after || *at == INT64_MAX)
        *at = v->t_ns;
}

/* A step back on the way to the new level. */
static void step_back(struct rail_change *c, const struct rail_value *v)
{
    int way = rail_change_way(c);

    if (way == 0 || c->moved.after_ns == INT64_MIN || c->reversal.entered)
        return;
    if ((v->uv - c->reversal.extreme_uv) * way > 0)
        c->reversal.extreme_uv = v->uv;
    int32_t back_uv = (c->reversal.extreme_uv - v->uv) * way;

    if (back_uv > c->reversal.by_uv) {
        c->reversal.by_uv = back_uv;
        c->reversal.at = *v;
    }
    c->reversal.entered = way > 0 ? v->uv >= c->new_window.low_uv : v->uv <= c->new_window.high_uv;
}

static void load_row(const struct rail_limits *l, struct rail *r, struct rail_change *c, const struct rail_value *v)
{
    if (v->ua == RECORD_NO_READING)
        return;
    if (r->row.load_known && llabs((int64_t)v->ua - r->row.load_ua) > l->values.step_ua) {
        c->load_moves = true;
        c->load_step = c->load_step || c->moved.after_ns == INT64_MIN;
    }
    if (!r->row.load_known) {
        r->row.load_known = true;
        r->row.load_ua = v->ua;
    }
}

static void at_ready(struct rail_change *c, const struct rail_value *v)
{
    if (!c->done || v->t_ns < c->ready.start_ns)
        return;
    if (c->at_ready.around[1].frame == 0)
        c->at_ready.around[1] = *v;
    if (v->t_ns > c->ready.start_ns + RAIL_NEAR_NS)
        return;
    if (c->at_ready.mean.n == 0)
        c->at_ready.mean = (struct rail_value){ .t_ns = v->t_ns, .frame = v->frame };
    c->at_ready.mean.n++;
    c->at_ready.sum_uv += v->uv;
    c->at_ready.sum_ua += v->ua == RECORD_NO_READING ? 0 : v->ua;
}

/* Nothing was read in between. */
static void unread(struct rail_change *c, int64_t from_ns, int64_t to_ns)
{
    if (to_ns - from_ns > c->spacing_most_ns)
        c->spacing_most_ns = to_ns - from_ns;
}

bool rail_change_over(const struct rail_limits *l, const struct rail_change *c, int64_t t_ns)
{
    if (t_ns > c->accept.end_ns + l->never_ready_ns)
        return true;
    return c->done && t_ns > c->ready.start_ns + l->after_ready_ns && (rail_change_way(c) == 0 || c->moved.after_ns != INT64_MIN);
}

void rail_change_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail              *r = &b->rail;
    struct rail_change       *c = &r->change;

    if (rail_change_over(l, c, v->t_ns)) {
        rail_change_end(e, b, v->t_ns, v->frame);
        return;
    }
    if (c->done && v->t_ns > c->ready.start_ns + l->after_ready_ns) {
        begins_to_move(l, r, c, v); /* whenever that is */
        return;
    }
    if (c->readings++ == 0)
        c->slew = (struct rail_slew){ .up = 0 };
    if (r->row.any) {
        int64_t apart_ns = v->t_ns - r->row.last.t_ns;

        unread(c, r->row.last.t_ns, v->t_ns);
        c->spacing_least_ns = apart_ns < c->spacing_least_ns ? apart_ns : c->spacing_least_ns;
        rail_slope(r, &r->row.last, v, c->readings, &c->slew);
    } else {
        unread(c, c->accept.start_ns, v->t_ns);
    }
    if (c->old_window.known && c->new_window.known)
        rail_fit_take(&c->peaks, &r->trust, r->ma, v, c->doubt != CAUSE_NONE);
    rail_fit_take(&c->floor, &r->trust, r->ma, v, false);
    load_row(l, r, c, v);
    begins_to_move(l, r, c, v);
    step_back(c, v);
    at_ready(c, v);
    about_ready(r, c, v);
    r->row.last = *v;
    r->row.any = true;
    if (b->volts)
        volt_table_change_row(e, b, v);
}

bool rail_change_moves(struct engine *e, struct port_book *b, const struct rail_value *v, int64_t next_ns)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail_change       *c = &b->rail.change;

    if (!c->done || v->t_ns <= c->ready.start_ns + l->after_ready_ns || next_ns > c->accept.end_ns + l->never_ready_ns ||
        rail_change_way(c) == 0 || c->moved.after_ns != INT64_MIN)
        return false;
    begins_to_move(l, &b->rail, c, v);
    return c->moved.after_ns != INT64_MIN;
}

bool rail_change_waits(struct engine *e, struct port_book *b, unsigned from, unsigned to)
{
    const struct rail_limits *l = &e->rail_limits;
    struct rail              *r = &b->rail;
    const struct record      *rec = &b->readings.record;
    struct rail_change       *c = &r->change;
    int64_t                   first_ns = rail_row_ns(rec, from);
    int64_t                   still_uv = more_of(l->still_uv, 2 * r->trust.noise_uv);
    const struct record_range *volts = &b->readings.volts; /* of the whole record */

    if (!c->done || !r->steady_on || first_ns < r->steady_from_ns || first_ns <= c->ready.start_ns + l->after_ready_ns ||
        rail_row_ns(rec, to - 1) > c->accept.end_ns + l->never_ready_ns || rail_change_way(c) == 0 || c->moved.after_ns != INT64_MIN)
        return false;
    if (!volts->all)
        return false;
    if (c->before.frame == 0)
        return true; /* what it moved from is not known */
    if (volts->least < c->before.uv - still_uv || volts->greatest > c->before.uv + still_uv)
        return false;
    struct rail_value last = rail_row(rec, to - 1);

    rail_moment_before(&c->moved, r, &last);
    return true;
}

void rail_change_end(struct engine *e, struct port_book *b, int64_t t_ns, uint64_t frame)
{
    struct rail         *r = &b->rail;
    struct rail_change  *c = &r->change;
    const struct section s = { .kind = SECTION_CHANGE, .change = c };
    struct rail_value   *m = &c->at_ready.mean;

    if (m->n) {
        m->uv = (int32_t)(c->at_ready.sum_uv / m->n);
        m->ua = (int32_t)(c->at_ready.sum_ua / m->n);
    }
    rail_change_accept(b);
    c->to_ns = t_ns;
    if (r->row.any && c->done && t_ns > c->ready.start_ns + e->rail_limits.after_ready_ns)
        t_ns = c->ready.start_ns + e->rail_limits.after_ready_ns;
    if (r->row.any)
        unread(c, r->row.last.t_ns, t_ns);
    r->change_on = false;
    if (b->volts)
        volt_table_change_end(e, b);
    rail_tell(e, b, &s, c->to_ns, frame);
}
