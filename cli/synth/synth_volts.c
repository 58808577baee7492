/*
 * What is true of VBUS and the current of a port, and what an instrument reads of it. VBUS is the level of its source (ramps of
 * synth_power.c), less the regulation's resistance times the current, less what a load step takes away until the regulator has made it
 * good, and noise; at the sink's end less the path's resistance times the current.
 */
#include "cli/synth/synth_inside.h"

#include <math.h>

enum { PARTS = 16, LEAST_TAUS = 40 }; /* a mean is of so many instants; what is older than so many time constants is gone */

static const struct output *output_of(const struct life *l)
{
    return &l->plan->ports[l->index].output;
}

void volts_begin(struct life *l)
{
    const struct port_plan  *p = &l->plan->ports[l->index];
    const struct instrument *i = &l->plan->instrument;
    struct chance            own = chance_of(l->plan->seed, UINT64_C(2) << 32 | l->index);

    l->modelled = p->output.given || p->path_mohm >= 0 || i->errors || i->mean || i->jitter_ns || i->resolution_uv || i->resolution_ua;
    l->noise = chance_of(l->plan->seed, UINT64_C(3) << 32 | l->index);
    if (p->output.off_ppm != INT64_MIN)
        l->vbus_ppm = p->output.off_ppm;
    if (p->path_mohm >= 0)
        l->path_ohm = fmax(0, ((double)p->path_mohm + (double)p->path_mohm_u * chance_normal(&own)) / 1000);
}

/* A high pass: what a load step takes away comes with its slope, and goes with the time constant of the recovery. */
double volts_dip(const struct life *l, const struct ramp *r, int32_t from_ua, int64_t t_ns)
{
    const struct output *o = output_of(l);
    double               tau = (double)o->recovery_us * 1000, whole = (double)(r->until_ns - r->from_ns), gone = (double)(t_ns - r->from_ns);
    double               full = (double)o->dip_mohm * 1e-3 * (r->to - (double)from_ua) * 1e-6 * tau / whole;

    if (gone <= 0 || gone > whole + LEAST_TAUS * tau)
        return 0;
    return gone < whole ? full * (1 - exp(-gone / tau)) : full * (1 - exp(-whole / tau)) * exp(-(gone - whole) / tau);
}

static double dips(const struct life *l, int64_t t_ns)
{
    const struct wave *w = &l->ibus;
    int32_t            from_ua = w->base;
    double             sum = 0;

    if (!output_of(l)->dip_mohm)
        return 0;
    for (unsigned k = 0; k < w->count; from_ua = w->ramps[k++].to)
        sum += volts_dip(l, &w->ramps[k], from_ua, t_ns);
    return sum;
}

/* The peak of each change: it comes and goes as x e^(1 - x), x in its time constant, from the end of the ramp on. */
static double overshoots(const struct life *l, int64_t t_ns)
{
    double tau = (double)output_of(l)->overshoot_us * 1000, sum = 0;

    for (unsigned k = 0; k < l->vbus.count; k++) {
        const struct ramp *r = &l->vbus.ramps[k];
        double             x = (double)(t_ns - r->until_ns) / tau;

        if (r->over_uv && x > 0 && x < LEAST_TAUS)
            sum += r->over_uv * 1e-6 * x * exp(1 - x);
    }
    return sum;
}

double amps_true(const struct life *l, int64_t t_ns)
{
    return wave_at(&l->ibus, t_ns) * 1e-6;
}

double volts_true(const struct life *l, int64_t t_ns)
{
    double level = wave_at(&l->vbus, t_ns) * 1e-6, volt;

    if (!output_of(l)->given)
        return level;
    volt = level + overshoots(l, t_ns) - (double)output_of(l)->regulation_mohm * 1e-3 * amps_true(l, t_ns) - dips(l, t_ns);
    /* Without a source there is no more to take away. */
    return level >= 0 && volt < 0 ? 0 : volt;
}

struct truly { double volt, amp; };

static struct truly at_instant(struct life *l, int64_t t_ns)
{
    struct truly now = { volts_true(l, t_ns), amps_true(l, t_ns) };

    if (output_of(l)->noise_uv)
        now.volt += (double)output_of(l)->noise_uv * 1e-6 * chance_normal(&l->noise);
    truth_seen(l, t_ns, now.volt, now.amp);
    now.volt -= l->path_ohm * now.amp;
    return now;
}

static struct truly over_interval(struct life *l, int64_t t_ns)
{
    int64_t      step = l->plan->instrument.power_interval_us * 1000;
    struct truly mean = { 0, 0 };

    for (int64_t k = 0; k < PARTS; k++) {
        struct truly now = at_instant(l, t_ns + (2 * k + 1) * step / (2 * PARTS));

        mean.volt += now.volt / PARTS;
        mean.amp += now.amp / PARTS;
    }
    return mean;
}

static int32_t cell(double micro, int64_t resolution)
{
    double most = 2147000000;

    micro = micro > most ? most : micro < -most ? -most : micro;
    return resolution > 1 ? (int32_t)(llround(micro / (double)resolution) * resolution) : (int32_t)lround(micro);
}

/* Errors as drawn for the trace, and noise of each reading; or noise alone, as even as without a model. */
void volts_row(struct life *l, int64_t t_ns, int32_t cells[2])
{
    const struct instrument *i = &l->plan->instrument;
    const struct drawn      *d = &l->s->drawn;
    int64_t                  at_ns = t_ns + (i->jitter_ns ? llround((double)i->jitter_ns * chance_normal(&l->noise)) : 0);
    struct truly             now = i->mean ? over_interval(l, at_ns) : at_instant(l, at_ns);
    double                   uv = now.volt * 1e6, ua = now.amp * 1e6;

    if (i->errors) {
        uv += uv * d->gain_ppm * 1e-6 + d->offset_uv + (double)i->noise_uv * chance_normal(&l->noise);
        ua += ua * d->amp_gain_ppm * 1e-6 + d->amp_offset_ua + (double)i->amp_noise_ua * chance_normal(&l->noise);
    } else {
        uv += (double)chance_between(&l->noise, -i->noise_uv, i->noise_uv);
        ua += (double)chance_between(&l->noise, -SYNTH_AMP_NOISE_UA, SYNTH_AMP_NOISE_UA);
    }
    cells[0] = cell(uv, i->resolution_uv);
    cells[1] = cell(ua, i->resolution_ua);
}

void synth_errors_draw(struct synth *s)
{
    const struct instrument *i = &s->plan.instrument;
    struct chance            c = chance_of(s->plan.seed, 98);

    s->drawn = (struct drawn){ 0 };
    if (!i->errors)
        return;
    s->drawn.gain_ppm = (double)i->gain_ppm * chance_normal(&c);
    s->drawn.offset_uv = (double)i->offset_uv * chance_normal(&c);
    s->drawn.amp_gain_ppm = (double)i->amp_gain_ppm * chance_normal(&c);
    s->drawn.amp_offset_ua = (double)i->amp_offset_ua * chance_normal(&c);
    s->drawn.clock_ppm = (double)i->clock_ppm * chance_normal(&c);
}
