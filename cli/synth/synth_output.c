/* How a port's source makes its VBUS: the keys of it, ones drawn, and the course of a ramp. */
#include "cli/synth/synth_read.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stddef.h>
#include <string.h>

enum { VSAFE0V_UV = 800000, VSAFE5V_LEAST_UV = 4750000, MOVED_UV = 200000, LOAD_NS = 2000000 };

const struct output output_none = { .off_ppm = INT64_MIN };

static const char *const shapes[] = { [RAMP_STRAIGHT] = "straight", [RAMP_EXPONENTIAL] = "exponential", [RAMP_S] = "S", NULL };

#define O(member) offsetof(struct output, member)
static const struct key_row output_keys[] = {
    { "ramp", KEY_CHOICE, O(ramp), shapes, 0, 0 },
    { "off_ppm", KEY_LONG, O(off_ppm), NULL, -200000, 200000 },
    { "slew_uv_us", KEY_LONG, O(slew_uv_us), NULL, 1, 1000000 },
    { "noise_uv", KEY_LONG, O(noise_uv), NULL, 0, 1000000 },
    { "regulation_mohm", KEY_LONG, O(regulation_mohm), NULL, 0, 10000 },
    { "dip_mohm", KEY_LONG, O(dip_mohm), NULL, 0, 10000 },
    { "recovery_us", KEY_LONG, O(recovery_us), NULL, 1, 1000000 },
    { "load_us", KEY_LONG, O(load_us), NULL, 1, 1000000 },
    { "overshoot_percent", KEY_LONG, O(overshoot_percent), NULL, 0, 100 },
    { "overshoot_us", KEY_LONG, O(overshoot_us), NULL, 1, 100000 },
    { "discharge_us", KEY_LONG, O(discharge_us), NULL, 1, 10000000 },
    { "bleed_us", KEY_LONG, O(bleed_us), NULL, 1, 10000000 },
    { "hold_up_ms", KEY_LONG, O(hold_up_ms), NULL, 0, 100000 },
    { NULL, KEY_OTHER, 0, NULL, 0, 0 },
};

bool output_read(struct reading *r, const struct cJSON *from, struct output *o, bool *drawn)
{
    const cJSON   *item = cJSON_GetObjectItemCaseSensitive(from, "output");
    struct reading own = reading_into(r, "output", -1);

    if (!item)
        return true;
    *drawn = cJSON_IsString(item) && strcmp(item->valuestring, "random") == 0;
    if (*drawn)
        return true;
    if (!cJSON_IsObject(item))
        return reading_no(r, "output", "an object, or \"random\"");
    *o = output_none;
    o->given = true;
    o->recovery_us = o->overshoot_us = 1000;
    return reading_keys(&own, item, output_keys, o);
}

/* One that keeps within every window, at every voltage and current that a port may offer. */
static void output_draw(struct output *o, struct chance *c)
{
    *o = output_none;
    o->given = true;
    o->ramp = chance_below(c, 3);
    o->slew_uv_us = chance_between(c, 300, 10000);
    o->noise_uv = chance_between(c, 0, 3000);
    o->regulation_mohm = chance_between(c, 0, 12);
    o->dip_mohm = chance_between(c, 0, 12);
    o->recovery_us = chance_between(c, 100, 2000);
    o->load_us = chance_between(c, 100, 2000);
    o->overshoot_percent = chance_between(c, 0, 1);
    o->overshoot_us = chance_between(c, 100, 1000);
    o->discharge_us = chance_between(c, 5000, 100000);
    o->bleed_us = chance_between(c, 5000, 200000);
    o->hold_up_ms = chance_between(c, 0, 300);
}

void outputs_draw(struct plan *p)
{
    for (unsigned k = 0; k < p->port_count; k++) {
        struct port_plan *port = &p->ports[k];
        struct chance     c = chance_of(p->seed, UINT64_C(4) << 32 | k);

        if (!port->output_drawn)
            continue;
        output_draw(&port->output, &c);
        if (port->path_mohm < 0 && chance_in(&c, 1, 2)) {
            port->path_mohm = chance_between(&c, 20, 150);
            port->path_mohm_u = chance_between(&c, 1, 5);
        }
    }
}

static const struct output *output_of(const struct life *l)
{
    return &l->plan->ports[l->index].output;
}

/* The part of the time after which this share of the way is behind; of 3 x^2 - 2 x^3 the inverse. */
static double when(unsigned shape, double share)
{
    switch ((enum ramp_shape)shape) {
    case RAMP_STRAIGHT: return share;
    case RAMP_EXPONENTIAL: return -log(1 - share) / RAMP_TAUS;
    case RAMP_S: return 0.5 - sin(asin(1 - 2 * share) / 3);
    }
    return share;
}

void synth_vbus_shape(struct life *l)
{
    struct ramp *r = &l->vbus.ramps[l->vbus.count - 1];

    if (!l->modelled)
        return;
    r->shape = (enum ramp_shape)output_of(l)->ramp;
    r->aim = r->to;
    r->tau_ns = (r->until_ns - r->from_ns) / RAMP_TAUS;
    if (r->tau_ns < 1)
        r->shape = RAMP_STRAIGHT;
}

void synth_rise_by_shape(const struct life *l, int32_t level_uv, int64_t at_0v8_ns, int64_t at_4v75_ns, int64_t *from_ns, int64_t *until_ns)
{
    unsigned shape = output_of(l)->ramp;
    double   first = when(shape, (double)VSAFE0V_UV / level_uv);
    double   other = when(shape, level_uv > VSAFE5V_LEAST_UV ? (double)VSAFE5V_LEAST_UV / level_uv : 0.95);
    double   whole_ns = (double)(at_4v75_ns - at_0v8_ns) / (other - first);

    *from_ns = at_0v8_ns - (int64_t)(first * whole_ns);
    *until_ns = *from_ns + (int64_t)whole_ns;
}

int64_t synth_move_ns(const struct life *l, int32_t from_uv, int32_t to_uv, int64_t most_ns)
{
    const struct output *o = output_of(l);
    /* Steepest, a ramp is so many times as steep as a straight one of the same time. */
    static const double  steep[] = { [RAMP_STRAIGHT] = 1, [RAMP_EXPONENTIAL] = RAMP_TAUS, [RAMP_S] = 1.5 };
    int64_t              ns = (int64_t)(fabs((double)to_uv - from_uv) * steep[o->ramp] * 1000 / (double)o->slew_uv_us);

    /* The last part of an exponential one may come after PS_RDY: it is less than a hundredth of the way. */
    if (o->ramp == RAMP_EXPONENTIAL)
        most_ns *= 2;
    return ns < most_ns ? ns : most_ns;
}

int64_t synth_move_lag_ns(const struct life *l, int32_t by_uv, int64_t ramp_ns)
{
    unsigned shape = output_of(l)->ramp;
    double   share = by_uv > MOVED_UV ? (double)MOVED_UV / by_uv : 0;

    return l->modelled && shape == RAMP_S ? (int64_t)((when(shape, share) - share) * (double)ramp_ns) : 0;
}

/* When the ramp comes to the nearer end of the window; the source may be set too far off to come there at all. */
static int64_t window_ns(const struct ramp *r, int32_t from_uv, int32_t low_uv, int32_t high_uv)
{
    int32_t limit_uv = r->to > from_uv ? low_uv : high_uv;

    if (r->to < low_uv || r->to > high_uv)
        return 0;
    if (from_uv >= low_uv && from_uv <= high_uv)
        return r->from_ns;
    double share = ((double)limit_uv - from_uv) / ((double)r->to - from_uv);

    return r->from_ns + (int64_t)(when(r->shape, share) * (double)(r->until_ns - r->from_ns));
}

void synth_move_truth(struct life *l, int32_t from_uv, struct move_truth *m)
{
    const struct output *o = output_of(l);
    struct ramp         *r = &l->vbus.ramps[l->vbus.count - 1];

    m->begin_ns = r->from_ns;
    m->window_ns = window_ns(r, from_uv, m->low_uv, m->high_uv);
    m->end_ns = r->until_ns;
    m->from_uv = from_uv;
    if (l->modelled && o->overshoot_percent) {
        r->over_uv = (int32_t)((r->to - (int64_t)from_uv) * o->overshoot_percent / 100);
        m->over_uv = r->over_uv;
        m->over_ns = r->until_ns + o->overshoot_us * 1000;
    }
}

int64_t synth_load_ns(const struct life *l)
{
    return l->modelled && output_of(l)->load_us ? output_of(l)->load_us * 1000 : LOAD_NS;
}

int64_t synth_discharge_ns(const struct life *l, int32_t from_uv)
{
    if (!l->modelled || from_uv <= VSAFE0V_UV)
        return 0;
    return (int64_t)((double)output_of(l)->discharge_us * 1000 * log((double)from_uv / VSAFE0V_UV));
}

void synth_vbus_discharge(struct life *l, int64_t from_ns, int32_t from_uv, int64_t at_0v8_ns)
{
    const struct output *o = output_of(l);
    struct ramp         *r;
    int64_t              tau_ns = (int64_t)((double)(at_0v8_ns - from_ns) / log((double)from_uv / VSAFE0V_UV));

    wave_set(&l->vbus, from_ns, at_0v8_ns, VSAFE0V_UV);
    r = &l->vbus.ramps[l->vbus.count - 1];
    r->shape = RAMP_EXPONENTIAL;
    r->tau_ns = tau_ns;
    tau_ns = o->bleed_us ? o->bleed_us * 1000 : tau_ns;
    wave_set(&l->vbus, at_0v8_ns, at_0v8_ns + RAMP_TAUS * tau_ns, 0);
    r = &l->vbus.ramps[l->vbus.count - 1];
    r->shape = RAMP_EXPONENTIAL;
    r->tau_ns = tau_ns;
}
