/* What VBUS did in each contract, put into numbers while the supply line is followed (rail*.c). */
#include "rules/engine_inside.h"
#include "rules/uncertainty.h"
#include "rules/volt_table_inside.h"

#include <math.h>
#include <stdlib.h>

/* Readings closer than this show the extremes of a change that keeps the slew rate where its voltage step is small: as the slew rules. */
#define CLOSE_NS INT64_C(20000)
/* ... of a larger one: a fifth of the time that it takes at the steepest. Common practice, no source. */
enum { RISE_PARTS = 5, SLEW_UV_PER_US = 30000 };

struct volt_table *volt_table_new(unsigned *pieces)
{
    struct volt_table *t = calloc(1, sizeof *t);

    if (t) {
        t->pieces = pieces;
        t->watch.ref_ns = INT64_MIN;
    }
    return t;
}

void volt_table_free(struct volt_table *t)
{
    if (t)
        volt_bins_free(&t->bins);
    free(t);
}

/* Values. */

struct volt_value volt_value_of(const struct volt_trust *t, const struct rail_value *v)
{
    double path_uv = t->at_sink && t->path_known && v->ua != RECORD_NO_READING ? v->ua * t->path_ohm : 0;

    return (struct volt_value){ .uv = v->uv + llround(path_uv), .ua = v->ua, .t_ns = v->t_ns, .frame = v->frame, .n = v->n };
}

static struct volt_range range_of(const struct rail *r, const struct rail_value *v, unsigned step)
{
    const struct reading one = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    return volt_range_noise(&r->trust, &one, r->ma, volt_noise(step, r->trust.noise_uv, v->n));
}

static bool keep_least(struct volt_value *least, const struct volt_value *v)
{
    bool less = least->frame == 0 || v->uv < least->uv;

    if (less)
        *least = *v;
    return less;
}

static bool keep_most(struct volt_value *most, const struct volt_value *v)
{
    bool more = most->frame == 0 || v->uv > most->uv;

    if (more)
        *most = *v;
    return more;
}

void volt_spell_take(struct volt_spell *s, int64_t t_ns, bool sure, bool maybe)
{
    if (s->any && sure && s->sure)
        s->time.least_ns += t_ns - s->last_ns;
    if (s->any && (maybe || s->maybe))
        s->time.most_ns += t_ns - s->last_ns;
    s->count += sure && !(s->any && s->sure);
    s->any = true;
    s->sure = sure;
    s->maybe = maybe;
    s->last_ns = t_ns;
}

/* From the Accept, when its GoodCRC was over, to a moment between two readings. */
static struct volt_time since_accept(const struct port_book *b, const struct rail_moment *m)
{
    const struct rail_change  *c = &b->rail.change;
    bool                       read = m->before_ns > c->request.start_ns;
    const struct volt_crossing x = { .done = true, .after_ns = m->after_ns, .frame = m->after_frame, .row = m->after_row,
                                     .before_ns = read ? m->before_ns : c->request.start_ns,
                                     .before_row = read ? m->before_row : m->after_row };
    struct span                s = span_between(b->port, c->accepted, volt_crossing_edge(b->port, &x, true));

    return (struct volt_time){ .least_ns = s.low_ns, .most_ns = s.high_ns };
}

/* The contract in force. */

void volt_table_begin(struct engine *e, struct port_book *b, bool contract)
{
    struct volt_table        *t = b->volts;
    const struct rail        *r = &b->rail;
    const struct rail_steady *s = &r->steady;

    (void)e;
    t->on = contract;
    if (!contract)
        return;
    t->line = (struct volt_line){ .port = b->port->number, .agreed = true, .contract = s->contract, .window = s->window,
                                  .high_only = s->high_only, .assumed = r->trust.assumed, .at_sink = r->trust.at_sink,
                                  .path_known = r->trust.path_known };
    t->awaits_change = true;
    t->late_open = false;
    volt_bins_clear(&t->bins);
    t->sums = (struct volt_sums){ .n = 0 };
    t->outside = (struct volt_spell){ .any = false };
    t->watch.open = false;
    t->watch.ref_ns = INT64_MIN;
}

void volt_table_pause(struct engine *e, struct port_book *b)
{
    struct volt_table *t = b->volts;

    if (!t->on)
        return;
    volt_watch_close(e, b);
    t->watch.ref_ns = INT64_MIN;
    t->outside.any = false; /* what comes next is no neighbour */
}

/* Where the change was over before VBUS came there. */
static void take_late(struct port_book *b, const struct rail_value *v, bool outside, bool maybe)
{
    struct volt_table  *t = b->volts;
    struct volt_change *c = &t->line.change;

    if (outside)
        rail_moment_before(&t->change.reach, &b->rail, v);
    if (maybe)
        return;
    rail_moment_after(&t->change.reach, &b->rail, v);
    c->reach = since_accept(b, &t->change.reach);
    c->reached = c->late = true;
    t->late_open = false;
}

void volt_table_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct volt_table        *t = b->volts;
    const struct volt_window *w = &t->line.window;
    struct volt_value         at = volt_value_of(&b->rail.trust, v);
    struct volt_range         r;

    if (!t->on)
        return;
    if (!engine_inside_window(e, v->t_ns)) {
        t->watch.ref_ns = INT64_MIN;
        return;
    }
    t->line.readings++;
    keep_least(&t->line.lowest, &at);
    keep_most(&t->line.highest, &at);
    r = range_of(&b->rail, v, VOLT_ANY_NUMBER);
    if (w->known) {
        bool outside = r.high_uv < w->low_uv || r.low_uv > w->high_uv, maybe = r.low_uv < w->low_uv || r.high_uv > w->high_uv;

        volt_spell_take(&t->outside, v->t_ns, outside, maybe);
        if (t->late_open)
            take_late(b, v, outside, maybe);
    }
    volt_watch_row(e, b, v, &r);
}

bool volt_table_plain(struct engine *e, struct port_book *b, const struct rail_value *least, const struct rail_value *most, int64_t first_ns,
                      int64_t last_ns, unsigned rows)
{
    struct volt_table        *t = b->volts;
    const struct volt_window *w = &t->line.window;

    if (!t->on)
        return true;
    if (t->watch.open || t->late_open || !w->known || !engine_inside_window(e, first_ns) || !engine_inside_window(e, last_ns) || t->line.readings == 0)
        return false;
    /* Least and greatest voltage with least and greatest current: no reading lies beyond them. */
    struct rail_value low = *least, high = *most;
    struct volt_range from = range_of(&b->rail, &low, VOLT_ANY_NUMBER), to = range_of(&b->rail, &high, VOLT_ANY_NUMBER);

    if (from.low_uv < w->low_uv || to.high_uv > w->high_uv || volt_value_of(&b->rail.trust, &low).uv < t->line.lowest.uv ||
        volt_value_of(&b->rail.trust, &high).uv > t->line.highest.uv)
        return false;
    t->line.readings += rows;
    volt_spell_take(&t->outside, first_ns, false, false);
    volt_spell_take(&t->outside, last_ns, false, false);
    return true;
}

/* Static values. */

static void take_margins(struct volt_table *t, const struct rail *r, const struct rail_value *v, const struct volt_value *at)
{
    struct volt_range range = range_of(r, v, 0);
    int64_t           mid_uv = range.low_uv + (range.high_uv - range.low_uv) / 2;

    if (t->lowest.value.frame == 0 || mid_uv < t->lowest.mid_uv) {
        t->lowest.value = *at;
        t->lowest.mid_uv = mid_uv;
    }
    if (t->highest.value.frame == 0 || mid_uv > t->highest.mid_uv) {
        t->highest.value = *at;
        t->highest.mid_uv = mid_uv;
    }
}

static void take_load(struct volt_table *t, const struct volt_value *at)
{
    struct volt_slope *s = &t->line.slope;

    if (at->ua == RECORD_NO_READING)
        return;
    volt_sums_take(&t->sums, at);
    if (s->lightest.frame == 0 || at->ua < s->lightest.ua)
        s->lightest = *at;
    if (s->heaviest.frame == 0 || at->ua > s->heaviest.ua)
        s->heaviest = *at;
}

void volt_table_static(struct engine *e, struct port_book *b, const struct rail_value *v, bool used)
{
    struct volt_table *t = b->volts;
    struct volt_value  at = volt_value_of(&b->rail.trust, v);

    if (!t->on || !engine_inside_window(e, v->t_ns))
        return;
    if (!used) {
        t->line.left_out++;
        return;
    }
    if (t->line.statics++ == 0)
        t->lowest.value.frame = t->highest.value.frame = 0;
    keep_least(&t->line.least, &at);
    keep_most(&t->line.most, &at);
    t->line.thinnest = t->line.thinnest == 0 || v->n < t->line.thinnest ? v->n : t->line.thinnest;
    volt_bins_take(&t->bins, t->pieces, at.uv);
    take_margins(t, &b->rail, v, &at);
    take_load(t, &at);
}

/* The nearer limit, with what the value there is worth as the worst of all. */
static void settle_margin(struct volt_table *t, const struct rail *r)
{
    struct volt_line         *l = &t->line;
    const struct volt_window *w = &l->window;
    int64_t                   low_uv = t->lowest.mid_uv - w->low_uv, high_uv = w->high_uv - t->highest.mid_uv;

    if (!w->known || l->statics == 0)
        return;
    l->margin.known = true;
    l->margin.low = !l->high_only && low_uv < high_uv;
    l->margin.uv = l->margin.low ? low_uv : high_uv;
    l->margin.value = l->margin.low ? t->lowest.value : t->highest.value;
    const struct volt_value *v = &l->margin.value;
    /* As it was read: what the path takes is added once more. */
    struct rail_value  read = { .t_ns = v->t_ns, .frame = v->frame, .ua = v->ua, .n = v->n,
                                .uv = (int32_t)(2 * v->uv - volt_value_of(&r->trust, &(struct rail_value){ .uv = (int32_t)v->uv, .ua = v->ua }).uv) };
    struct volt_range  range = range_of(r, &read, volt_noise_step(l->statics));

    l->margin.u_uv = (range.high_uv - range.low_uv) / 2;
}

static void settle_slope(struct engine *e, struct volt_table *t, const struct rail *r)
{
    struct volt_slope       *s = &t->line.slope;
    const struct volt_trust *q = &r->trust;
    double volt_gain = q->assumed ? q->share / 2 : q->gain, amp_gain = r->amp.assumed ? r->amp.gain / 2 : r->amp.gain;
    double ohm = 0, u_ohm = 0, path_ohm = q->at_sink && q->path_known ? q->path_ohm : 0;

    s->values = t->sums.n;
    if (t->sums.n < 3)
        s->state = t->sums.n == 0 ? SLOPE_NO_CURRENT : SLOPE_FEW;
    else if (q->at_sink && !q->path_known)
        s->state = SLOPE_PATH;
    else if ((int64_t)s->heaviest.ua - s->lightest.ua <= e->rail_limits.values.step_ua ||
             !volt_sums_slope(&t->sums, q->noise_uv / volt_root(t->line.thinnest), &ohm, &u_ohm))
        s->state = SLOPE_NARROW;
    else
        s->state = SLOPE_KNOWN;
    if (s->state != SLOPE_KNOWN)
        return;
    s->mohm = ohm * 1000;
    /* Gains turn the measured slope, which the path was taken out of; offsets do not. */
    const struct uncertain parts[] = {
        { 1, u_ohm }, { ohm + path_ohm, 2 * volt_gain }, { -(ohm + path_ohm), 2 * amp_gain }, { -1, path_ohm > 0 ? 2 * q->path_u_ohm : 0 },
    };

    s->u_mohm = 1000 * uncertainty_combined(parts, sizeof parts / sizeof parts[0], NULL);
}

static bool overlaps(const struct engine *e, int64_t from_ns, int64_t to_ns)
{
    return to_ns >= e->options.since_ns && from_ns <= e->options.until_ns;
}

void volt_table_end(struct engine *e, struct port_book *b)
{
    struct volt_table        *t = b->volts;
    struct volt_line         *l = &t->line;
    const struct rail_steady *s = &b->rail.steady;

    if (!t->on)
        return;
    t->on = false;
    l->contract = s->contract;
    if (b->port->contract.frame == l->contract.frame)
        l->contract = b->port->contract;
    l->to_ns = s->to_ns;
    l->median_known = volt_bins_median(&t->bins, &l->median_uv);
    if (l->median_known) /* never outside of what was read */
        l->median_uv = l->median_uv < l->least.uv ? l->least.uv : l->median_uv > l->most.uv ? l->most.uv : l->median_uv;
    settle_margin(t, &b->rail);
    settle_slope(e, t, &b->rail);
    l->outside = t->outside.time;
    l->outside_count = t->outside.count;
    l->spacing_ns = s->spacing_most_ns;
    l->doubt = s->doubt;
    if (overlaps(e, s->from_ns, s->to_ns))
        e->options.volts(e->options.context, l);
}

/* Changes. */

static int64_t apart_uv(const struct rail_change *c)
{
    return (c->new_window.low_uv + c->new_window.high_uv) / 2 - (c->old_window.low_uv + c->old_window.high_uv) / 2;
}

void volt_table_change_begin(struct engine *e, struct port_book *b)
{
    struct volt_table        *t = b->volts;
    const struct rail_change *c = &b->rail.change;
    struct volt_change       *v = &t->change.told;

    *v = (struct volt_change){ .seen = engine_inside_window(e, c->accept.start_ns), .first = c->first, .request_frame = c->request.frame,
                               .accept_frame = c->accept_frame, .accept_ns = c->accept.start_ns, .asked = c->now };
    v->limits_known = c->old_window.known && c->new_window.known;
    /* vSafe5V before the first contract and 5 V in it are one level. */
    v->level = v->limits_known && (c->first ? llabs(apart_uv(c)) > 500000 : apart_uv(c) != 0);
    if (v->limits_known) {
        v->high_uv = c->old_window.high_uv > c->new_window.high_uv ? c->old_window.high_uv : c->new_window.high_uv;
        v->low_uv = c->old_window.low_uv < c->new_window.low_uv ? c->old_window.low_uv : c->new_window.low_uv;
    }
    t->late_open = false;
    t->change.over = t->change.under = (struct volt_spell){ .any = false };
    t->change.reach = (struct rail_moment){ .before_ns = INT64_MIN, .after_ns = INT64_MIN };
}

void volt_table_change_row(struct engine *e, struct port_book *b, const struct rail_value *v)
{
    struct volt_table        *t = b->volts;
    const struct rail_change *c = &b->rail.change;
    struct volt_change       *told = &t->change.told;
    struct volt_value         at = volt_value_of(&b->rail.trust, v);
    struct volt_range         r = range_of(&b->rail, v, VOLT_ANY_NUMBER);
    const struct volt_window *w = &c->new_window;

    (void)e;
    keep_least(&told->lowest, &at);
    keep_most(&told->highest, &at);
    if (!told->limits_known)
        return;
    volt_spell_take(&t->change.over, v->t_ns, r.low_uv > told->high_uv, r.high_uv > told->high_uv);
    volt_spell_take(&t->change.under, v->t_ns, r.high_uv < told->low_uv, r.low_uv < told->low_uv);
    if (r.high_uv < w->low_uv || r.low_uv > w->high_uv)
        rail_moment_before(&t->change.reach, &b->rail, v);
    if (r.low_uv < w->low_uv || r.high_uv > w->high_uv)
        t->change.reach.after_ns = INT64_MIN;
    else if (t->change.reach.after_ns == INT64_MIN)
        rail_moment_after(&t->change.reach, &b->rail, v);
}

static void settle_change(struct port_book *b, struct volt_table *t)
{
    const struct rail_change *c = &b->rail.change;
    struct volt_change       *v = &t->change.told;
    int64_t                   close_ns = v->level ? llabs(apart_uv(c)) * 1000 / SLEW_UV_PER_US / RISE_PARTS : 0;

    v->readings = c->readings;
    v->spacing_ns = c->spacing_most_ns;
    v->slow = c->readings < 2 || c->spacing_most_ns > (close_ns > CLOSE_NS ? close_ns : CLOSE_NS);
    v->doubt = c->doubt;
    v->ready_frame = c->done ? c->ready.frame : 0;
    v->over = t->change.over.time;
    v->under = t->change.under.time;
    if (v->limits_known && v->highest.frame) {
        v->over_uv = v->highest.uv > v->high_uv ? v->highest.uv - v->high_uv : 0;
        v->under_uv = v->lowest.uv < v->low_uv ? v->low_uv - v->lowest.uv : 0;
    }
    v->inside = v->limits_known && t->change.reach.after_ns != INT64_MIN && t->change.reach.before_ns == INT64_MIN;
    v->timed = c->accepted.kind != EDGE_NONE;
    v->moved = c->moved.after_ns != INT64_MIN;
    v->reached = v->limits_known && t->change.reach.after_ns != INT64_MIN && !v->inside;
    if (!v->timed)
        return;
    if (c->done) {
        struct span ready = span_between(b->port, c->accepted, edge_start(b->port, &c->ready));

        v->ready = (struct volt_time){ .least_ns = ready.low_ns, .most_ns = ready.high_ns };
    }
    if (v->moved)
        v->move = since_accept(b, &c->moved);
    if (v->reached)
        v->reach = since_accept(b, &t->change.reach);
}

void volt_table_change_end(struct engine *e, struct port_book *b)
{
    struct volt_table  *t = b->volts;
    struct volt_change *v = &t->change.told;

    settle_change(b, t);
    if (!v->seen)
        return;
    if (!v->ready_frame) {
        const struct volt_line l = { .port = b->port->number, .change = *v, .to_ns = b->rail.change.to_ns, .assumed = b->rail.trust.assumed,
                                     .at_sink = b->rail.trust.at_sink, .path_known = b->rail.trust.path_known, .doubt = v->doubt };

        e->options.volts(e->options.context, &l);
    } else if (t->on && t->awaits_change) {
        t->line.change = *v;
        t->awaits_change = false;
        t->late_open = v->timed && v->level && !v->reached && !v->inside;
    }
}
