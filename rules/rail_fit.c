/* Where many values lie against two limits, whatever number of them the verdict will rest on. */
#include "rules/rail_inside.h"
#include "rules/uncertainty.h"

#include <string.h>

void rail_fit_start(struct rail_fit *f, int64_t low_uv, int64_t high_uv, bool peaks)
{
    if (f->marked) {
        memset(f->below, 0, sizeof f->below);
        memset(f->above, 0, sizeof f->above);
        memset(f->unsure, 0, sizeof f->unsure);
    }
    f->low_uv = low_uv;
    f->high_uv = high_uv;
    f->peaks = peaks;
    f->count = 0;
    f->marked = false;
    f->lone = RAIL_INSIDE;
    f->least.frame = f->most.frame = f->lone_value.frame = 0;
}

static void extremes(struct rail_fit *f, const struct rail_value *v)
{
    if (f->least.frame == 0 || v->uv < f->least.uv)
        f->least = *v;
    if (f->most.frame == 0 || v->uv > f->most.uv)
        f->most = *v;
}

static struct volt_range range_at(const struct volt_trust *t, const struct rail_value *v, int32_t ma, unsigned step)
{
    const struct reading r = { .t_ns = v->t_ns, .frame = v->frame, .uv = v->uv, .ua = v->ua };

    return volt_range_noise(t, &r, ma, volt_noise(step, t->noise_uv, v->n));
}

static enum rail_side side_at(const struct rail_fit *f, const struct volt_range *r)
{
    switch (range_fit(r->low_uv, r->high_uv, f->low_uv, f->high_uv)) {
    case FIT_INSIDE: return RAIL_INSIDE;
    case FIT_BELOW: return RAIL_BELOW;
    case FIT_ABOVE: return RAIL_ABOVE;
    case FIT_UNSURE: return RAIL_UNSURE;
    }
    return RAIL_UNSURE;
}

bool rail_fit_plain(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *least,
                    const struct rail_value *most)
{
    if (least->uv - volt_far_uv(t, least->uv, least->ua) > f->low_uv && most->uv + volt_far_uv(t, most->uv, most->ua) < f->high_uv)
        return true;
    struct volt_range low = range_at(t, least, ma, FIT_STEPS - 1), high = range_at(t, most, ma, FIT_STEPS - 1);

    return side_at(f, &low) == RAIL_INSIDE && side_at(f, &high) == RAIL_INSIDE;
}

void rail_fit_bulk(struct rail_fit *f, uint64_t count, const struct rail_value *least, const struct rail_value *most)
{
    f->count += count;
    f->lone = RAIL_INSIDE;
    extremes(f, least);
    extremes(f, most);
}

static void remember(struct rail_fit *f, struct rail_value *slot, const struct rail_value *v)
{
    f->marked = true;
    if (slot->frame == 0)
        *slot = *v;
}

static void beyond(struct rail_fit *f, unsigned step, enum rail_side side, const struct rail_value *v)
{
    if (side == RAIL_UNSURE)
        remember(f, &f->unsure[step], v);
    else if (side == RAIL_BELOW)
        remember(f, &f->below[step], v);
    else if (side == RAIL_ABOVE)
        remember(f, &f->above[step], v);
}

void rail_fit_take(struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v, bool in_doubt)
{
    int64_t far_uv = volt_far_uv(t, v->uv, v->ua);
    bool    single = f->peaks && !t->noise_known;

    f->count++;
    extremes(f, v);
    if (v->uv - far_uv > f->low_uv && v->uv + far_uv < f->high_uv) {
        f->lone = RAIL_INSIDE;
        return;
    }
    struct volt_range r = range_at(t, v, ma, FIT_STEPS - 1);
    enum rail_side    side = side_at(f, &r);

    if (side == RAIL_INSIDE) {
        f->lone = RAIL_INSIDE;
        return;
    }
    if (in_doubt || (single && (side == RAIL_UNSURE || f->lone != side))) {
        /* One reading of an unknown noise alone proves nothing; the next may. */
        f->lone = (uint8_t)side;
        f->lone_value = *v;
        for (unsigned s = 0; s < FIT_STEPS; s++)
            remember(f, &f->unsure[s], v);
        return;
    }
    for (unsigned s = 0; s < FIT_STEPS; s++) {
        r = range_at(t, v, ma, s);
        beyond(f, s, side_at(f, &r), single ? &f->lone_value : v);
    }
}

bool rail_fit_outside(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v)
{
    struct volt_range r = range_at(t, v, ma, FIT_STEPS - 1);
    enum rail_side    side = side_at(f, &r);

    return side == RAIL_BELOW || side == RAIL_ABOVE;
}

bool rail_fit_forget(struct rail_fit *f, int64_t from_ns)
{
    bool any = false;

    for (unsigned s = 0; f->marked && s < FIT_STEPS; s++) {
        struct rail_value *of[] = { &f->below[s], &f->above[s], &f->unsure[s] };

        for (unsigned k = 0; k < 3; k++)
            if (of[k]->frame && of[k]->t_ns >= from_ns) {
                of[k]->frame = 0;
                any = true;
            }
    }
    return any;
}

void rail_fit_doubt(struct rail_fit *f, int64_t from_ns)
{
    for (unsigned s = 0; s < FIT_STEPS; s++) {
        struct rail_value *of[] = { &f->below[s], &f->above[s] };

        for (unsigned k = 0; k < 2; k++)
            if (of[k]->frame && of[k]->t_ns >= from_ns) {
                remember(f, &f->unsure[s], of[k]);
                of[k]->frame = 0;
            }
    }
}

/* The first beyond, if there is one, else the first unsure one. */
static enum rail_side first_of(const struct rail_value *low, const struct rail_value *high, const struct rail_value *unsure,
                               const struct rail_value **value)
{
    if (low && low->frame && (!high || !high->frame || low->t_ns <= high->t_ns)) {
        *value = low;
        return RAIL_BELOW;
    }
    if (high && high->frame) {
        *value = high;
        return RAIL_ABOVE;
    }
    *value = unsure;
    return unsure->frame ? RAIL_UNSURE : RAIL_INSIDE;
}

enum rail_side rail_fit_side(const struct rail_fit *f, const struct rail_value **value)
{
    if (!f->marked) { /* mostly; nothing of what is large has to be fetched then */
        *value = f->unsure;
        return RAIL_INSIDE;
    }
    unsigned s = volt_noise_step(f->count);

    return first_of(&f->below[s], &f->above[s], &f->unsure[s], value);
}

enum rail_side rail_fit_side_of(const struct rail_fit *f, bool high, const struct rail_value **value)
{
    unsigned s = volt_noise_step(f->count);

    return first_of(high ? NULL : &f->below[s], high ? &f->above[s] : NULL, &f->unsure[s], value);
}

int64_t rail_fit_uncertainty_uv(const struct rail_fit *f, const struct volt_trust *t, int32_t ma, const struct rail_value *v)
{
    struct volt_range r = range_at(t, v, ma, volt_noise_step(f->count));

    return (r.high_uv - r.low_uv) / 2;
}
