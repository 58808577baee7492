/* VBUS and its current as straight lines, the readings of it, and Rp on the CC line. */
#include "cli/synth/synth_life.h"

#include "cli/synth/synth_plan.h"

#include "capture/record.h"

#include <math.h>

/* Ramps whose end has passed become the base. */
static void wave_settle(struct wave *w, unsigned keep)
{
    while (w->count > keep) {
        w->base = w->ramps[0].to;
        w->count--;
        for (unsigned k = 0; k < w->count; k++)
            w->ramps[k] = w->ramps[k + 1];
    }
}

void wave_set(struct wave *w, int64_t from_ns, int64_t until_ns, int32_t to)
{
    wave_settle(w, WAVE_RAMPS - 1);
    w->ramps[w->count++] = (struct ramp){ .from_ns = from_ns, .until_ns = until_ns, .to = to };
}

/* On the way from level, t_ns within it. */
static int32_t ramp_at(const struct ramp *r, int32_t level, int64_t t_ns)
{
    int64_t gone = t_ns - r->from_ns, whole = r->until_ns - r->from_ns;
    double  x = (double)gone / (double)whole;

    switch (r->shape) {
    case RAMP_STRAIGHT:
        return level + (int32_t)((int64_t)(r->to - level) * (gone / 1000) / (whole / 1000 + 1));
    case RAMP_EXPONENTIAL:
        return r->aim + (int32_t)lround((level - r->aim) * exp(-(double)gone / (double)r->tau_ns));
    case RAMP_S:
        return level + (int32_t)lround((r->to - level) * x * x * (3 - 2 * x));
    }
    return level;
}

int32_t wave_at(const struct wave *w, int64_t t_ns)
{
    int32_t level = w->base;

    for (unsigned k = 0; k < w->count && t_ns > w->ramps[k].from_ns; k++)
        level = t_ns >= w->ramps[k].until_ns ? w->ramps[k].to : ramp_at(&w->ramps[k], level, t_ns);
    return level;
}

int32_t wave_end(const struct wave *w)
{
    return w->count ? w->ramps[w->count - 1].to : w->base;
}

/* Rows of a block that a blind leaves without readings. */
static void leave_gap(const struct life *l, int32_t *cells, unsigned rows)
{
    int64_t step = l->plan->instrument.power_interval_us * 1000, t = l->power_from_ns;

    for (unsigned row = 0; row < rows; row++, t += step)
        if (t >= l->gap_from_ns && t < l->gap_to_ns)
            cells[2 * row] = cells[2 * row + 1] = RECORD_NO_READING;
}

static void block_modelled(struct life *l)
{
    leave_gap(l, l->cells, l->rows);
    synth_put_power(l, l->power_from_ns, l->rows, l->cells, RECORD_VBUS | RECORD_IBUS);
    l->power_from_ns += l->rows * l->plan->instrument.power_interval_us * 1000;
    l->rows = 0;
}

/* Rows are read as time passes, before what they show is forgotten; a mean is known at its end, and stamps may be late. */
static void rows_to(struct life *l, int64_t t_ns)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  step = i->power_interval_us * 1000, wait = (i->mean ? step : 0) + 5 * i->jitter_ns;

    while (l->power_from_ns + l->rows * step + (wait > step ? wait : step) <= t_ns) {
        volts_row(l, l->power_from_ns + l->rows * step, &l->cells[(size_t)2 * l->rows]);
        if (++l->rows >= i->power_rows)
            block_modelled(l);
    }
}

static void block(struct life *l, unsigned rows)
{
    const struct instrument *i = &l->plan->instrument;
    int32_t                  cells[POWER_ROWS_MAX * 2];
    int64_t                  t = l->power_from_ns;

    for (unsigned row = 0; row < rows; row++, t += i->power_interval_us * 1000) {
        cells[2 * row] = wave_at(&l->vbus, t) + (int32_t)chance_between(&l->chance, -i->noise_uv, i->noise_uv);
        cells[2 * row + 1] = wave_at(&l->ibus, t) + (int32_t)chance_between(&l->chance, -300, 300);
    }
    leave_gap(l, cells, rows);
    synth_put_power(l, l->power_from_ns, rows, cells, RECORD_VBUS | RECORD_IBUS);
    l->power_from_ns = t;
}

void synth_power_to(struct life *l, int64_t t_ns)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  span = i->power_rows * i->power_interval_us * 1000;

    if (i->power && !l->over && l->modelled)
        rows_to(l, t_ns);
    while (i->power && !l->over && !l->modelled && l->power_from_ns + span <= t_ns)
        block(l, (unsigned)i->power_rows);
}

void synth_power_close(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;

    if (!i->power || l->now_ns <= l->power_from_ns)
        return;
    if (l->modelled) {
        rows_to(l, l->now_ns);
        if (l->rows > 0)
            block_modelled(l);
        return;
    }
    int64_t rows = (l->now_ns - l->power_from_ns) / (i->power_interval_us * 1000);

    if (rows > 0 && rows <= POWER_ROWS_MAX)
        block(l, (unsigned)rows);
}

/* Within one percent of what is asked for, and always to the same side. */
static int32_t vbus_uv(const struct life *l, int32_t mv)
{
    return mv * 1000 + (int32_t)(mv * l->vbus_ppm / 1000) + l->vbus_off_uv;
}

void synth_vbus(struct life *l, int64_t from_ns, int64_t until_ns, int32_t mv)
{
    wave_set(&l->vbus, from_ns, until_ns, vbus_uv(l, mv));
    synth_vbus_shape(l);
}

/* A rise from 0 V to 5 V that crosses 0.8 V at the first of the two times and 4.75 V at the other. */
void synth_vbus_rise(struct life *l, int64_t at_0v8_ns, int64_t at_4v75_ns)
{
    int64_t span_ns = at_4v75_ns - at_0v8_ns, from_uv = wave_end(&l->vbus) < 800000 ? wave_end(&l->vbus) : 0;
    int64_t begin_ns = at_0v8_ns - span_ns * ((800000 - from_uv) / 1000) / 3950, until_ns;

    if (l->modelled) {
        synth_rise_by_shape(l, vbus_uv(l, 5000), at_0v8_ns, at_4v75_ns, &begin_ns, &until_ns);
        synth_vbus(l, begin_ns, until_ns, 5000);
        return;
    }
    synth_vbus(l, begin_ns, begin_ns + span_ns * ((vbus_uv(l, 5000) - from_uv) / 100) / 39500, 5000);
}

void synth_load(struct life *l, int32_t ma)
{
    truth_load(l, ma * 1000);
    wave_set(&l->ibus, l->now_ns, l->now_ns + synth_load_ns(l), ma * 1000);
}

void synth_rp(struct life *l, uint8_t rp)
{
    l->rp_ok_ns = INT64_MAX;
    if (l->rp == rp)
        return;
    l->rp = rp;
    l->rp_since_ns = l->now_ns;
    synth_put_cc(l, l->attached ? 1 : 0, rp);
}
