/* Load steps: how deep VBUS dips, and when it is back. */
#include "rules/engine_inside.h"
#include "rules/volt_table_inside.h"

#include <math.h>
#include <stdlib.h>

/* How long a step is watched: common practice, no source. A final value: within 1 % of it. */
#define WATCH_NS INT64_C(100000000)
enum { BAND_PARTS = 100, BIN_PARTS = 1000, BIN_MIDDLE = STEP_BINS / 2 };

static void since_ref(struct volt_watch *w, const struct volt_value *v)
{
    if (w->low.frame == 0 || v->uv < w->low.uv)
        w->low = *v;
    if (w->high.frame == 0 || v->uv > w->high.uv)
        w->high = *v;
}

/* Where the voltage lies, in 0.1 % of what it was before the step. */
static int64_t bin_width_uv(const struct volt_watch *w)
{
    int64_t width_uv = llabs(w->step.before_uv) / BIN_PARTS;

    return width_uv < 1000 ? 1000 : width_uv;
}

static unsigned bin_of(const struct volt_watch *w, int64_t uv)
{
    int64_t width_uv = bin_width_uv(w), by_uv = uv - w->step.before_uv;
    int64_t bin = (by_uv >= 0 ? by_uv + width_uv / 2 : by_uv - width_uv / 2) / width_uv + BIN_MIDDLE;

    return bin < 0 ? 0 : bin >= STEP_BINS ? STEP_BINS - 1 : (unsigned)bin;
}

static void note_reading(struct volt_watch *w, const struct volt_value *v)
{
    struct volt_step *s = &w->step;
    unsigned          bin = bin_of(w, v->uv);

    if (w->last_ns != INT64_MIN) {
        int64_t apart_ns = v->t_ns - w->last_ns;

        if (w->bins[w->last_bin].next_ns == 0)
            w->bins[w->last_bin].next_ns = v->t_ns;
        s->spacing_ns = apart_ns > s->spacing_ns ? apart_ns : s->spacing_ns;
    }
    w->bins[bin].last_ns = v->t_ns;
    w->bins[bin].next_ns = 0;
    w->last_bin = bin;
    w->readings++;
    w->last_ns = v->t_ns;
    if (s->extreme.frame == 0 || (s->up ? v->uv < s->extreme.uv : v->uv > s->extreme.uv))
        s->extreme = *v;
    s->watched_ns = v->t_ns - s->from_ns;
}

/* The static value before it; where the load stepped a moment ago, what came of that step, else the last reading. */
static struct volt_value value_before(const struct rail *r, const struct volt_watch *w, const struct rail_value *last)
{
    if (w->open && w->final_ns != INT64_MIN)
        return (struct volt_value){ .uv = w->step.final_uv, .ua = w->step.to_ua };
    return volt_value_of(&r->trust, !w->open && r->statics[0].frame ? &r->statics[0] : last);
}

static void open_step(struct port_book *b, const struct volt_value *v, const struct volt_value *before, bool up)
{
    struct volt_watch *w = &b->volts->watch;
    struct volt_step   s = { .port = b->port->number, .contract_frame = b->volts->line.contract.frame, .frame = v->frame, .from_ns = w->still_ns,
                             .to_ns = v->t_ns, .up = up, .from_ua = before->ua == RECORD_NO_READING ? w->ref_ua : before->ua, .to_ua = v->ua,
                             .before_uv = before->uv };
    struct volt_value  first = w->low, second = w->high;

    *w = (struct volt_watch){ .open = true, .step = s, .ref_ns = w->ref_ns, .ref_ua = w->ref_ua, .still_ns = w->still_ns,
                              .last_ns = INT64_MIN, .final_ns = INT64_MIN, .block_ns = INT64_MIN };
    if (first.t_ns > second.t_ns) {
        first = w->high;
        second = w->low;
    }
    if (first.frame && first.t_ns < v->t_ns)
        note_reading(w, &first);
    if (second.frame && second.t_ns > first.t_ns && second.t_ns < v->t_ns)
        note_reading(w, &second);
}

static void block_take(const struct rail_limits *l, struct volt_watch *w, const struct volt_value *v)
{
    if (v->t_ns < w->step.to_ns + l->values.transient_ns)
        return;
    if (w->count && v->t_ns - w->block_ns >= l->values.static_ns) {
        w->step.final_uv = llround(w->sum_uv / w->count);
        w->step.to_ua = w->amps ? (int32_t)lround(w->sum_ua / w->amps) : w->step.to_ua;
        w->final_ns = v->t_ns;
        w->count = w->amps = 0;
        w->sum_uv = w->sum_ua = 0;
    }
    if (w->count == 0)
        w->block_ns = v->t_ns;
    w->sum_uv += (double)v->uv;
    w->count++;
    if (v->ua != RECORD_NO_READING) {
        w->sum_ua += v->ua;
        w->amps++;
    }
}

/* The last reading that was beyond 1 % of the final value, and the one after it. */
static void settle_recovery(const struct rail_limits *l, struct volt_watch *w)
{
    struct volt_step *s = &w->step;
    int64_t band_uv = llabs(s->final_uv) / BAND_PARTS, last_ns = INT64_MIN, next_ns = 0;

    for (unsigned k = 0; k < STEP_BINS; k++) {
        int64_t middle_uv = s->before_uv + ((int64_t)k - BIN_MIDDLE) * bin_width_uv(w);
        bool    end = k == 0 || k == STEP_BINS - 1;

        if (w->bins[k].last_ns && (end || llabs(middle_uv - s->final_uv) > band_uv) && w->bins[k].last_ns > last_ns) {
            last_ns = w->bins[k].last_ns;
            next_ns = w->bins[k].next_ns;
        }
    }
    s->in_band = last_ns == INT64_MIN;
    s->recovered = s->in_band || (next_ns && w->last_ns - next_ns >= l->values.transient_ns);
    s->recovery.least_ns = s->in_band || last_ns < s->to_ns ? 0 : last_ns - s->to_ns;
    s->recovery.most_ns = !s->recovered ? INT64_MAX : s->in_band ? s->spacing_ns : next_ns - s->from_ns;
}

static void add_up(struct volt_steps *all, const struct volt_step *s)
{
    all->up += s->up;
    all->down += !s->up;
    all->limiting += s->limiting;
    if (s->limiting)
        return;
    all->unsettled += !s->settled;
    all->unrecovered += s->settled && !s->recovered;
    if (s->up && (all->deepest.frame == 0 || s->depth_uv > all->deepest.depth_uv))
        all->deepest = *s;
    if (!s->up && (all->highest.frame == 0 || s->depth_uv > all->highest.depth_uv))
        all->highest = *s;
    if (s->settled && s->recovered && (all->slowest.frame == 0 || s->recovery.most_ns > all->slowest.recovery.most_ns))
        all->slowest = *s;
}

static bool comes_to_limit(const struct rail_limits *l, const struct contract *c, const struct volt_step *s)
{
    int32_t most_ua = s->from_ua > s->to_ua ? s->from_ua : s->to_ua;

    return c->supply == SUPPLY_PPS && most_ua >= (int64_t)c->ma * 1000 - rail_limit_tolerance_ua(l, c->ma);
}

void volt_watch_close(struct engine *e, struct port_book *b)
{
    struct volt_watch *w = &b->volts->watch;
    struct volt_step  *s = &w->step;

    if (!w->open)
        return;
    w->open = false;
    s->settled = w->final_ns != INT64_MIN;
    int64_t other_uv = s->settled ? s->final_uv : s->before_uv;
    int64_t level_uv = (s->before_uv < other_uv) == s->up ? s->before_uv : other_uv; /* the lower one of an up step */
    int64_t depth_uv = s->up ? level_uv - s->extreme.uv : s->extreme.uv - level_uv;

    s->depth_uv = s->extreme.frame && depth_uv > 0 ? depth_uv : 0;
    s->noise_uv = llround(volt_expanded(0, volt_noise(volt_noise_step(w->readings > 0 ? w->readings : 1), b->rail.trust.noise_uv, 1)));
    s->outside = w->outside.time;
    s->beyond = w->beyond.time;
    s->limiting = comes_to_limit(&e->rail_limits, &b->volts->line.contract, s);
    if (s->settled)
        settle_recovery(&e->rail_limits, w);
    add_up(&b->volts->line.steps, s);
    if (e->options.load_step)
        e->options.load_step(e->options.context, s);
}

static bool steps_now(const struct rail *r, const struct volt_watch *w, const struct rail_value *v)
{
    return r->stepped_ns == v->t_ns && w->ref_ns != INT64_MIN && v->ua != RECORD_NO_READING;
}

/* What the next step is told against: the rail knows. Where the load is nearly as it was there, it has not begun to change. */
static void follow_ref(const struct rail *r, struct volt_watch *w, const struct volt_value *v)
{
    if (v->ua == RECORD_NO_READING ||
        (r->step_seen_ns == w->ref_ns && llabs((int64_t)v->ua - w->ref_ua) > RAIL_STEP_UA)) {
        since_ref(w, v);
        return;
    }
    w->ref_ns = r->step_seen_ns;
    w->ref_ua = r->step_seen_ua;
    w->still_ns = v->t_ns;
    w->low = w->high = (struct volt_value){ .frame = 0 };
}

void volt_watch_row(struct engine *e, struct port_book *b, const struct rail_value *v, const struct volt_range *range)
{
    struct volt_watch        *w = &b->volts->watch;
    const struct rail        *r = &b->rail;
    const struct volt_window *win = &b->volts->line.window;
    struct volt_value         at = volt_value_of(&r->trust, v);
    bool                      up = v->ua > w->ref_ua;

    if (steps_now(r, w, v) && !(w->open && up == w->step.up && v->t_ns < w->step.to_ns + e->rail_limits.values.transient_ns)) {
        const struct volt_value before = value_before(r, w, r->loose.frame ? &r->loose : v);

        volt_watch_close(e, b);
        if (v->t_ns - w->still_ns > e->rail_limits.values.transient_ns)
            b->volts->line.steps.coarse++;
        else
            open_step(b, &at, &before, up);
    }
    if (w->open) {
        note_reading(w, &at);
        block_take(&e->rail_limits, w, &at);
        if (win->known) {
            int64_t low_uv = r->steady.peaks.low_uv, high_uv = r->steady.peaks.high_uv;

            volt_spell_take(&w->outside, v->t_ns, range->high_uv < win->low_uv || range->low_uv > win->high_uv,
                            range->low_uv < win->low_uv || range->high_uv > win->high_uv);
            volt_spell_take(&w->beyond, v->t_ns, range->high_uv < low_uv || range->low_uv > high_uv,
                            range->low_uv < low_uv || range->high_uv > high_uv);
        }
        if (v->t_ns - w->step.to_ns >= WATCH_NS)
            volt_watch_close(e, b);
    }
    follow_ref(r, w, &at);
}

void volt_watch_skip(struct port_book *b)
{
    struct volt_watch *w = &b->volts->watch;

    w->ref_ns = w->still_ns = b->rail.step_seen_ns;
    w->ref_ua = b->rail.step_seen_ua;
    w->low = w->high = (struct volt_value){ .frame = 0 };
}
