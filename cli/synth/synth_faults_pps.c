/*
 * Faults of programmable supplies: their voltage at each operating point, small steps, the current limit. Window 5 %, limit 150 mA up to
 * 3 A (vPpsNew, iPpsCLNew: notes on PD R3.2 V1.2, secondary; onsemi PD firmware pd_types.h). Readings show these faults.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, NEAR_END_MV = 100, LIMIT_FLAG = 0x08, LAST_NS = 40 * MS_NS };

#define P(id) "pps." id
const struct synth_fault synth_faults_pps[] = {
    { P("window"), NULL, "source", "At an operating point VBUS stands at the amount given for 400 ms, 7 % too low if none is, without a load.", P("window") },
    { P("window"), "up", "source", "At an operating point VBUS stands 7 % too high for 400 ms.", P("window") },
    { P("window"), "late", "source", "VBUS leaves its window 5 ms after PS_RDY, until the amount given after it; 70 ms if none is.", P("window") },
    { P("min-voltage"), NULL, "source", "At the low end of its range VBUS stands at the amount given for 400 ms, 9 % below the object's least voltage if none is.", P("min-voltage") },
    { P("max-voltage"), NULL, "source", "At the high end of its range VBUS stands at the amount given for 400 ms, 7 % above the object's greatest voltage if none is.", P("max-voltage") },
    { P("step-accuracy"), NULL, "source", "From a small step on VBUS stands too high by the amount given, 35 mV if none is.", P("step-accuracy") },
    { P("monotonic"), NULL, "source", "A small step upward takes VBUS up by the amount given, down by 25 mV if none is.", P("monotonic") },
    { P("current-limit"), NULL, "source", "The current is limited above what was asked for by the amount given (VBUS at the amount given), 100 mA beyond the tolerance if none is.", P("current-limit") },
    { P("limits-early"), NULL, "source", "VBUS sags (to the amount given, by 8 % if none is) at the current given, half of what was asked for if none is.", P("limits-early") },
    { P("limit-no-reset"), NULL, "source", "The amount given after its current was limited the source goes below what it may switch off at, and resets; 40 ms if none is.", P("limit-no-reset") },
    { P("limit-no-reset"), "off", "source", "The amount given after its current was limited the source is off, without a reset; 40 ms if none is.", P("limit-no-reset") },
    { P("limit-flag"), NULL, "source", "PPS_Status says of the current limit what is not so.", P("limit-flag") },
    { P("limit-flag"), "volts", "source", "PPS_Status tells a voltage too high by the amount given, 1 V if none is.", P("limit-flag") },
    { P("limit-flag"), "amps", "source", "PPS_Status tells a current too high by the amount given, 400 mA if none is.", P("limit-flag") },
    { P("timeout-action"), NULL, "source", "The source ends a silence by Soft_Reset, after the amount given; 13 s if none is.", P("timeout-action") " time.pps-keepalive" },
    { P("timeout-action"), "offer", "source", "The source ends a silence by an offer, after the amount given; 13 s if none is.", P("timeout-action") " time.pps-keepalive" },
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

/* uv: where it stands unless the fault says so, or that it is too high. */
static void wrong_voltage(struct life *l, const struct injected *f, int32_t low_uv, int32_t high_uv, int32_t uv)
{
    bool up;

    if (!f)
        return;
    uv = synth_amount_uv(f, synth_variant(f, "up") ? high_uv / 105 * 107 : uv);
    up = uv > l->contract_mv * 1000;
    synth_load(l, 0);
    synth_idle(l, 150000);
    next_block(l);
    synth_blame_reading(l, f, l->source, l->now_ns, up, up ? high_uv : low_uv);
    stand(l, uv, 400 * (int64_t)MS_NS);
}

static const struct injected *usual_or_up(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "pps.window", "");

    return f ? f : synth_fault_just(l, "pps.window", "up");
}

static void voltage(struct life *l)
{
    uint32_t pdo = l->offer[l->position - 1];
    int32_t  uv = l->contract_mv * 1000, least = (int32_t)pdo_min_mv(pdo), most = (int32_t)pdo_max_mv(pdo);

    if (l->contract_mv - least <= NEAR_END_MV)
        wrong_voltage(l, synth_fault(l, "pps.min-voltage"), least * 950, uv / 100 * 105, least * 910);
    else if (most - l->contract_mv <= NEAR_END_MV)
        wrong_voltage(l, synth_fault(l, "pps.max-voltage"), uv / 100 * 95, most * 1050, most * 1070);
    else if (l->contract_ma >= 1000)
        wrong_voltage(l, usual_or_up(l), uv / 100 * 95, uv / 100 * 105, uv / 100 * 93);
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

/* Unplugged after a while. */
static bool goes_off(struct life *l, const struct injected *f, int64_t after_ns)
{
    synth_blame_reading(l, f, l->source, l->now_ns - 60 * MS_NS, false, l->contract_mv * 950);
    wave_set(&l->vbus, l->now_ns, l->now_ns + 1000, l->unlimited_uv);
    synth_idle(l, after_ns / 1000);
    wave_set(&l->vbus, l->now_ns, l->now_ns + 5 * MS_NS, 0);
    wave_set(&l->ibus, l->now_ns, l->now_ns + 5 * MS_NS, 0);
    l->contract = l->limiting = false;
    l->position = 0;
    synth_idle(l, 3000000);
    synth_detach(l);
    return false;
}

/* It goes below what it may switch off at, which shows whose reset it is; or off, without one. */
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
    if (synth_variant(f, "off"))
        return goes_off(l, f, after_ns);
    if (after_ns > LAST_NS) {
        wave_set(&l->vbus, l->now_ns + 1000, l->now_ns + 2000, l->unlimited_uv);
        synth_load(l, l->contract_ma / 2);
        synth_idle(l, (after_ns - LAST_NS) / 1000);
        after_ns = LAST_NS;
    }
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
    if (synth_variant(f, "offer"))
        synth_rp(l, RP_1_5);
    synth_to(l, l->request_done_ns + synth_amount_ns(f, INT64_C(13000) * MS_NS));
    synth_blame_next(l, f, l->source);
    return synth_variant(f, "offer") ? synth_negotiate(l, 0) : synth_soft_reset(l, l->source);
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

/* Voltage in steps of 20 mV, current of 50 mA. */
void faults_pps_status(struct life *l, uint8_t *status)
{
    const struct injected *f = synth_in_pps(l) && l->plan->instrument.power ? synth_fault(l, "pps.limit-flag") : NULL;
    int32_t                steps;

    if (!f)
        return;
    synth_blame_next(l, f, l->source);
    if (synth_variant(f, "volts")) {
        steps = (wave_at(&l->vbus, l->now_ns) + synth_amount_uv(f, 1000000)) / 20000;
        status[0] = (uint8_t)steps;
        status[1] = (uint8_t)(steps >> 8);
    } else if (synth_variant(f, "amps")) {
        status[2] = (uint8_t)((wave_at(&l->ibus, l->now_ns) / 1000 + synth_amount_ma(f, 400)) / 50);
    } else {
        status[3] ^= LIMIT_FLAG;
    }
}

/* A small step of VBUS is about to be made: by how much it is off. */
int32_t faults_pps_step(struct life *l, int32_t by_mv)
{
    const struct injected *f;

    if (!synth_in_pps(l) || !l->plan->instrument.power || by_mv < 20 || by_mv > 100)
        return 0;
    if ((f = synth_fault(l, "pps.step-accuracy")) != NULL) {
        synth_blame_next(l, f, l->source); /* PS_RDY of the step */
        return synth_amount_uv(f, 35000);
    }
    if ((f = synth_fault(l, "pps.monotonic")) != NULL) {
        synth_blame_next(l, f, l->source);
        return synth_amount_uv(f, -25000) - by_mv * 1000;
    }
    return 0;
}

/* PS_RDY was said, beginning at ready_ns. */
void faults_pps_ready(struct life *l, int64_t ready_ns)
{
    bool                   can = synth_in_pps(l) && l->plan->instrument.power && l->contract_ma >= 1000;
    uint32_t               pdo = can ? l->offer[l->position - 1] : 0;
    const struct injected *f = NULL;
    int32_t                level = wave_end(&l->vbus);
    int64_t                from_ns = ready_ns + 5 * MS_NS;

    if (can && l->contract_mv - pdo_min_mv(pdo) > NEAR_END_MV && pdo_max_mv(pdo) - l->contract_mv > NEAR_END_MV)
        f = synth_fault_just(l, "pps.window", "late");
    if (!f)
        return;
    synth_blame_reading(l, f, l->source, ready_ns + 50 * MS_NS, false, l->contract_mv * 950);
    wave_set(&l->vbus, from_ns, from_ns + 1000, l->contract_mv * 930);
    ready_ns += synth_amount_ns(f, 70 * MS_NS);
    wave_set(&l->vbus, ready_ns, ready_ns + 1000, level);
    synth_to(l, ready_ns + 60 * MS_NS);
}
