/*
 * Faults of programmable supplies: their voltage at each operating point, small steps, the current limit. Window 5 %, limit 150 mA up to
 * 3 A (vPpsNew, iPpsCLNew: notes on PD R3.2 V1.2, secondary; onsemi PD firmware pd_types.h). Readings show these faults.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, NEAR_END_MV = 100, LIMIT_FLAG = 0x08 };

#define P(id) "pps." id
const struct synth_fault synth_faults_pps[] = {
    { P("window"), NULL, "source", "At an operating point VBUS stands 7 % too low for 400 ms, without a load.", P("window") },
    { P("window"), "up", "source", "At an operating point VBUS stands 7 % too high for 400 ms.", P("window") },
    { P("min-voltage"), NULL, "source", "At the low end of its range VBUS stands 9 % below the object's least voltage for 400 ms.", P("min-voltage") },
    { P("max-voltage"), NULL, "source", "At the high end of its range VBUS stands 7 % above the object's greatest voltage for 400 ms.", P("max-voltage") },
    { P("step-accuracy"), NULL, "source", "From a small step on VBUS stands 35 mV too high.", P("step-accuracy") },
    { P("monotonic"), NULL, "source", "A small step upward takes VBUS down by 25 mV.", P("monotonic") },
    { P("current-limit"), NULL, "source", "The current is limited 250 mA above what was asked for.", P("current-limit") },
    { P("limits-early"), NULL, "source", "VBUS sags by 8 % at half of the current that was asked for.", P("limits-early") },
    { P("limit-no-reset"), NULL, "source", "While its current is limited the source gives up, and resets.", P("limit-no-reset") },
    { P("limit-flag"), NULL, "source", "PPS_Status says of the current limit what is not so.", P("limit-flag") },
    { P("timeout-action"), NULL, "source", "The source ends a silence by Soft_Reset, after the amount given; 13 s if none is.", P("timeout-action") " time.pps-keepalive" },
    { NULL, NULL, NULL, NULL, NULL },
};

/* The next block of readings has begun 10 ms ago. */
static void next_block(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;

    synth_to(l, l->power_from_ns + i->power_rows * i->power_interval_us * 1000 + 10 * MS_NS);
}

/* VBUS at uv for so long, and back. */
static void stand(struct life *l, int32_t uv, int64_t ns)
{
    int32_t level = wave_end(&l->vbus);

    wave_set(&l->vbus, l->now_ns + 1000, l->now_ns + 2000, uv);
    wave_set(&l->vbus, l->now_ns + ns, l->now_ns + ns + 1000, level);
    synth_idle(l, ns / 1000 + 60000);
}

static void wrong_voltage(struct life *l, const char *name, int32_t low_uv, int32_t high_uv, bool up, int32_t by_uv)
{
    const struct injected *f = synth_fault(l, name);

    if (!f)
        return;
    up = up || synth_variant(f, "up");
    synth_load(l, 0);
    next_block(l);
    synth_blame_reading(l, f, l->source, l->now_ns, up, up ? high_uv : low_uv);
    stand(l, up ? high_uv + by_uv : low_uv - by_uv, 400 * (int64_t)MS_NS);
}

static void voltage(struct life *l)
{
    uint32_t pdo = l->offer[l->position - 1];
    int32_t  uv = l->contract_mv * 1000, least = (int32_t)pdo_min_mv(pdo), most = (int32_t)pdo_max_mv(pdo);

    if (l->contract_mv - least <= NEAR_END_MV)
        wrong_voltage(l, "pps.min-voltage", least * 950, uv / 100 * 105, false, least * 40);
    else if (most - l->contract_mv <= NEAR_END_MV)
        wrong_voltage(l, "pps.max-voltage", uv / 100 * 95, most * 1050, true, most * 20);
    else if (l->contract_ma >= 1000)
        wrong_voltage(l, "pps.window", uv / 100 * 95, uv / 100 * 105, false, uv / 50);
}

/* So high above the least voltage of its object, and so much asked for, that all about its limit can be seen. */
static bool can_limit(const struct life *l)
{
    return l->contract_ma >= 1000 && l->contract_mv >= (int32_t)pdo_min_mv(l->offer[l->position - 1]) * 13 / 10;
}

static void limit(struct life *l)
{
    const struct injected *f;
    int32_t                uv = l->contract_mv * 1000;

    if (!can_limit(l))
        return;
    if ((f = synth_fault(l, "pps.current-limit")) != NULL) {
        /* Of the first 50 ms after a load step nothing is said; the source rests for 100 ms first. */
        synth_to(l, l->power_from_ns + l->plan->instrument.power_rows * l->plan->instrument.power_interval_us * 1000 + 10 * MS_NS);
        synth_limit_begin(l, l->contract_ma + synth_amount_ma(f, 100 + synth_limit_by_ma(l)), synth_amount_uv(f, uv / 100 * 90));
        synth_blame_reading(l, f, l->source, l->now_ns + 52 * MS_NS, false, uv / 100 * 95);
        synth_idle(l, 300000);
        synth_limit_end(l);
    }
    if ((f = synth_fault(l, "pps.limits-early")) != NULL) {
        synth_load(l, synth_amount_ma(f, l->contract_ma / 2));
        synth_idle(l, 150000);
        next_block(l);
        synth_blame_reading(l, f, l->source, l->now_ns, false, uv / 100 * 95);
        stand(l, synth_amount_uv(f, uv / 100 * 92), 300 * (int64_t)MS_NS);
        synth_load(l, l->contract_ma / 2);
    }
}

/* It goes below what it may switch off at for a moment, which shows whose reset it is; or off at once. */
static bool gives_up(struct life *l)
{
    const struct injected *f;
    int32_t                least = (int32_t)pdo_min_mv(l->offer[l->position - 1]);
    int64_t                after_ns;

    if (!can_limit(l) || !(f = synth_fault(l, "pps.limit-no-reset")))
        return true;
    after_ns = synth_amount_ns(f, 40 * MS_NS);
    synth_limit_begin(l, l->contract_ma, l->contract_mv * 900);
    synth_idle(l, 300000);
    wave_set(&l->vbus, l->now_ns + 1000, l->now_ns + 2000, least * 700);
    synth_idle(l, after_ns / 1000);
    synth_blame_next(l, f, l->source);
    return synth_hard_reset(l, l->source);
}

static bool falls_silent(struct life *l)
{
    const struct injected *f = synth_fault(l, "pps.timeout-action");

    if (!f)
        return true;
    synth_open_exchange(l, sink_of(l));
    if (!synth_repeat_request(l))
        return false;
    synth_to(l, l->request_done_ns + synth_amount_ns(f, INT64_C(13000) * MS_NS));
    synth_blame_next(l, f, l->source);
    return synth_soft_reset(l, l->source);
}

bool faults_pps_idle(struct life *l)
{
    if (!synth_in_pps(l))
        return true;
    if (l->plan->instrument.power) {
        voltage(l);
        limit(l);
        if (!gives_up(l))
            return false;
    }
    return falls_silent(l);
}

void faults_pps_status(struct life *l, uint8_t *status)
{
    const struct injected *f = synth_in_pps(l) && l->plan->instrument.power ? synth_fault(l, "pps.limit-flag") : NULL;

    if (!f)
        return;
    status[3] ^= LIMIT_FLAG;
    synth_blame_next(l, f, l->source);
}

/* A small step of VBUS is about to be made: by how much it is off. */
int32_t faults_pps_step(struct life *l, int32_t by_mv)
{
    const struct injected *f;

    if (!synth_in_pps(l) || !l->plan->instrument.power || by_mv < 20 || by_mv > 100)
        return 0;
    if ((f = synth_fault(l, "pps.step-accuracy")) != NULL) {
        synth_blame_next(l, f, l->source); /* PS_RDY of the step */
        return 35000;
    }
    if ((f = synth_fault(l, "pps.monotonic")) != NULL) {
        synth_blame_next(l, f, l->source);
        return -by_mv * 1000 - 25000;
    }
    return 0;
}
