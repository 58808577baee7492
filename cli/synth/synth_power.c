/* VBUS and its current as straight lines, the readings of it, and Rp on the CC line. */
#include "cli/synth/synth_life.h"

#include "cli/synth/synth_plan.h"

#include "capture/record.h"

enum { POWER_ROWS_MAX = 400 };

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
    w->ramps[w->count].from_ns = from_ns;
    w->ramps[w->count].until_ns = until_ns;
    w->ramps[w->count++].to = to;
}

int32_t wave_at(const struct wave *w, int64_t t_ns)
{
    int32_t level = w->base;

    for (unsigned k = 0; k < w->count && t_ns > w->ramps[k].from_ns; k++) {
        int64_t from = w->ramps[k].from_ns, until = w->ramps[k].until_ns;

        if (t_ns >= until)
            level = w->ramps[k].to;
        else
            level += (int32_t)((int64_t)(w->ramps[k].to - level) * ((t_ns - from) / 1000) / ((until - from) / 1000 + 1));
    }
    return level;
}

int32_t wave_end(const struct wave *w)
{
    return w->count ? w->ramps[w->count - 1].to : w->base;
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
    synth_put_power(l, l->power_from_ns, rows, cells, RECORD_VBUS | RECORD_IBUS);
    l->power_from_ns = t;
}

void synth_power_to(struct life *l, int64_t t_ns)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t                  span = i->power_rows * i->power_interval_us * 1000;

    while (i->power && !l->over && l->power_from_ns + span <= t_ns)
        block(l, (unsigned)i->power_rows);
}

void synth_power_close(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;

    if (!i->power || l->now_ns <= l->power_from_ns)
        return;
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
}

/* A straight rise from 0 V to 5 V that crosses 0.8 V at the first of the two times and 4.75 V at the other. */
void synth_vbus_rise(struct life *l, int64_t at_0v8_ns, int64_t at_4v75_ns)
{
    int64_t span_ns = at_4v75_ns - at_0v8_ns, begin_ns = at_0v8_ns - span_ns * 800 / 3950;

    synth_vbus(l, begin_ns, begin_ns + span_ns * (vbus_uv(l, 5000) / 100) / 39500, 5000);
}

void synth_load(struct life *l, int32_t ma)
{
    wave_set(&l->ibus, l->now_ns, l->now_ns + 2000000, ma * 1000);
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
