/*
 * Faults of VBUS and the current. Windows: a fixed or adjustable voltage 5 %, a variable or battery object 0.95 times its least to 1.05
 * times its greatest voltage, half a volt more for a moment (vSrcNew, vSrcValid: voltage table, notes on PD R3.2 V1.2, secondary, and
 * Linux drivers/usb/typec/tcpm). Readings show these faults: without them there is no place for one.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, VALID_UV = 500000, VSAFE0V_UV = 800000, VSAFE5V_LEAST_UV = 4750000, VSAFE5V_MOST_UV = 5500000, MOVED_UV = 200000 };

#define V(id) "volt." id
const struct synth_fault synth_faults_volt[] = {
    { V("safe5v-before-contract"), NULL, "source", "Before the first contract VBUS stands at 5.8 V for 35 ms.", V("safe5v-before-contract") },
    { V("contract-window"), NULL, "source", "In a contract VBUS stands 7 % too low for 400 ms.", V("contract-window") },
    { V("contract-window"), "up", "source", "In a contract VBUS stands 7 % too high for 400 ms.", V("contract-window") },
    { V("transient-window"), NULL, "source", "In a contract VBUS dips below its window and half a volt for 2 ms.", V("transient-window") },
    { V("transient-window"), "up", "source", "In a contract VBUS peaks above its window and half a volt for 2 ms.", V("transient-window") },
    { V("ready-inside-window"), NULL, "source", "PS_RDY comes 60 ms before VBUS is in its window.", V("ready-inside-window") },
    { V("level-not-reached"), NULL, "source", "PS_RDY comes, and VBUS stays where it was.", V("level-not-reached") },
    { V("overshoot"), NULL, "source", "On its way up VBUS overshoots by 0.8 V beyond its window, for 2 ms.", V("overshoot") },
    { V("undershoot"), NULL, "source", "On its way down VBUS undershoots by 0.8 V beyond its window, for 2 ms.", V("undershoot") },
    { V("slew-up"), NULL, "source", "VBUS rises by 45 mV/us.", V("slew-up") },
    { V("slew-down"), NULL, "source", "VBUS falls by 45 mV/us.", V("slew-down") },
    { V("monotonic"), NULL, "source", "On its way VBUS turns back by half a volt for 2 ms.", V("monotonic") },
    { V("negative"), NULL, "source", "After a detach VBUS goes to -0.5 V for 3 ms.", V("negative") },
    { V("safe0v-after-hard-reset"), NULL, "source", "VBUS stays after a Hard Reset, and the source starts anew by its offer.", V("safe0v-after-hard-reset") },
    { V("safe0v-after-detach"), NULL, "source", "After a detach VBUS stays at 3 V for 2.3 s.", V("safe0v-after-detach") },
    { V("cold-socket"), NULL, "source", "1.4 s after a detach VBUS stands at 1.2 V for 300 ms.", V("cold-socket") },
    { V("unasked-change"), NULL, "source", "In a contract VBUS goes to another level for 300 ms.", V("unasked-change") },
    { V("unasked-change"), "early", "source", "VBUS moves between Request and Accept.", V("unasked-change") },
    { V("drop-under-load"), NULL, "source", "At 70 % of the contract's current VBUS folds for 30 ms.", V("drop-under-load") },
    { V("sink-over-contract"), NULL, "sink", "The sink takes 200 mA more than was agreed on for 250 ms.", V("sink-over-contract") },
    { V("reverse-current"), NULL, "source", "300 mA flow into the source for 250 ms.", V("reverse-current") },
    { NULL, NULL, NULL, NULL, NULL },
};

/* The contract's window; false: none is known. */
static bool window(const struct life *l, int32_t *low_uv, int32_t *high_uv)
{
    uint32_t pdo;

    if (!l->contract || !l->position || l->position > l->offer_count)
        return false;
    pdo = l->offer[l->position - 1];
    *low_uv = *high_uv = l->contract_mv * 1000;
    if (pdo_supply(pdo) == SUPPLY_VARIABLE || pdo_supply(pdo) == SUPPLY_BATTERY) {
        *low_uv = (int32_t)pdo_min_mv(pdo) * 1000;
        *high_uv = (int32_t)pdo_max_mv(pdo) * 1000;
    }
    *low_uv = *low_uv / 100 * 95;
    *high_uv = *high_uv / 100 * 105;
    return pdo_supply(pdo) != SUPPLY_PPS && pdo_supply(pdo) != SUPPLY_RESERVED;
}

/* A change of contract counts as under way for 50 ms more; then the next block of readings, and 15 ms of it. */
static void settle(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;

    synth_idle(l, 60000);
    synth_to(l, l->power_from_ns + i->power_rows * i->power_interval_us * 1000 + 15 * MS_NS);
}

/* VBUS at uv for so long, and back; the load as it is. */
static void stand(struct life *l, int32_t uv, int64_t ns)
{
    int32_t level = wave_end(&l->vbus);
    int64_t at_ns = l->now_ns;

    wave_set(&l->vbus, at_ns, at_ns + 1000, uv);
    wave_set(&l->vbus, at_ns + ns, at_ns + ns + 1000, level);
    synth_idle(l, (at_ns + ns - l->now_ns) / 1000 + 60000);
}

static void low_or_high(struct life *l, const char *name, int32_t low_uv, int32_t high_uv, int32_t by_uv, int64_t ns)
{
    const struct injected *f = synth_fault(l, name);

    if (!f)
        return;
    bool up = synth_variant(f, "up");

    settle(l);
    synth_blame_reading(l, f, l->source, l->now_ns, up, up ? high_uv : low_uv);
    stand(l, up ? high_uv + by_uv : low_uv - by_uv, ns);
}

/* So much current for so long, all of it in one block of readings. */
static void flow(struct life *l, const struct injected *f, unsigned player, int32_t ma)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t span_ns = i->power_rows * i->power_interval_us * 1000;

    synth_to(l, l->power_from_ns + span_ns + 10 * MS_NS);
    synth_blame_reading(l, f, player, l->power_from_ns, true, -1000000);
    synth_load(l, ma);
    synth_idle(l, 250000);
    synth_load(l, l->contract_ma / 2);
    synth_idle(l, 150000);
}

static void fold(struct life *l, int32_t low_uv)
{
    const struct injected *f = l->contract_ma >= 500 ? synth_fault(l, "volt.drop-under-load") : NULL;

    if (!f)
        return;
    synth_load(l, l->contract_ma * 7 / 10);
    settle(l);
    synth_blame_reading(l, f, l->source, l->now_ns, false, low_uv - VALID_UV);
    stand(l, low_uv - VALID_UV - 300000, 30 * MS_NS);
    synth_load(l, 0);
    synth_idle(l, 30000);
}

static void another_level(struct life *l, int32_t low_uv)
{
    const struct injected *f = synth_fault_just(l, "volt.unasked-change", "");
    int32_t                by_uv = low_uv / 10 > 1000000 ? low_uv / 10 : 1000000;

    if (!f)
        return;
    settle(l);
    synth_blame_reading(l, f, l->source, l->now_ns, false, low_uv - by_uv);
    stand(l, low_uv - by_uv - 400000, 300 * MS_NS);
}

static void currents(struct life *l)
{
    const struct injected *f;

    if (l->contract_ma < 500)
        return;
    if ((f = synth_fault(l, "volt.sink-over-contract")) != NULL)
        flow(l, f, sink_of(l), l->contract_ma + 200);
    if ((f = synth_fault(l, "volt.reverse-current")) != NULL)
        flow(l, f, l->source, -300);
}

bool faults_volt_idle(struct life *l)
{
    int32_t low_uv, high_uv;

    if (!l->plan->instrument.power || l->epr_mode || !window(l, &low_uv, &high_uv))
        return true;
    low_or_high(l, "volt.contract-window", low_uv, high_uv, l->contract_mv * 20, 400 * (int64_t)MS_NS);
    low_or_high(l, "volt.transient-window", low_uv - VALID_UV, high_uv + VALID_UV, 200000, 2 * MS_NS);
    another_level(l, low_uv);
    fold(l, low_uv);
    currents(l);
    return true;
}

void faults_volt_first(struct life *l)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, "volt.safe5v-before-contract") : NULL;

    if (!f)
        return;
    /* A mean over 10 ms that begins in one block of readings ends in it. */
    const struct instrument *i = &l->plan->instrument;
    int64_t span_ns = i->power_rows * i->power_interval_us * 1000, at_ns = l->now_ns + 5 * MS_NS;

    if ((at_ns - l->power_from_ns) % span_ns < 12 * MS_NS)
        at_ns += 12 * MS_NS;
    synth_blame_reading(l, f, l->source, l->now_ns, true, VSAFE5V_MOST_UV);
    wave_set(&l->vbus, at_ns, at_ns + 1000, 5800000);
    wave_set(&l->vbus, at_ns + 35 * MS_NS, at_ns + 35 * MS_NS + 1000, 5000000);
    synth_to(l, at_ns + 40 * MS_NS);
}

bool faults_volt_early(struct life *l, int32_t mv)
{
    bool                   far = l->contract && l->plan->instrument.power && (mv > l->contract_mv + 1000 || mv < l->contract_mv - 1000);
    const struct injected *f = far ? synth_fault_just(l, "volt.unasked-change", "early") : NULL;
    int32_t                level = wave_end(&l->vbus);

    if (!f)
        return false;
    /* Two readings at the least before the Accept. */
    synth_blame_reading(l, f, l->source, l->now_ns, mv > l->contract_mv, mv > l->contract_mv ? level + MOVED_UV : level - MOVED_UV);
    wave_set(&l->vbus, l->now_ns + MS_NS, l->now_ns + 2 * MS_NS, mv * 1000);
    synth_idle(l, 6000);
    return true;
}

/* Up and down: VBUS on its way from one level to another, far enough apart. */
void faults_volt_move(struct life *l, int64_t ready_ns, int32_t mv, struct move *m)
{
    int32_t from_uv = wave_end(&l->vbus), to_uv = mv * 1000, low_uv = to_uv / 100 * 95, high_uv = to_uv / 100 * 105;
    bool    up = to_uv > from_uv, far = up ? to_uv - from_uv > 2000000 : from_uv - to_uv > 2000000;
    const struct injected *f;

    if (!l->plan->instrument.power || !far || l->epr_mode || m->begin_ns + m->ramp_ns + 25 * MS_NS > ready_ns)
        return;
    if ((f = synth_fault(l, "volt.ready-inside-window")) != NULL) {
        synth_blame_reading(l, f, l->source, ready_ns - MS_NS, !up, up ? low_uv : high_uv);
        m->late_ns = ready_ns + 60 * MS_NS;
    } else if (l->contract && (f = synth_fault(l, "volt.level-not-reached")) != NULL) {
        synth_blame_reading(l, f, l->source, ready_ns + 50 * MS_NS, !up, up ? low_uv - VALID_UV : high_uv + VALID_UV);
        m->stays = true;
    } else if (up && (f = synth_fault(l, "volt.overshoot")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, true, high_uv + VALID_UV);
        m->peak_uv = high_uv + VALID_UV + 300000;
    } else if (!up && (f = synth_fault(l, "volt.undershoot")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, false, low_uv - VALID_UV);
        m->peak_uv = low_uv - VALID_UV - 300000;
    } else if ((f = synth_fault(l, up ? "volt.slew-up" : "volt.slew-down")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, up, up ? from_uv + MOVED_UV : from_uv - MOVED_UV);
        m->ramp_ns = (int64_t)(up ? to_uv - from_uv : from_uv - to_uv) / 45; /* 45 uV/ns */
    } else if ((f = synth_fault(l, "volt.monotonic")) != NULL) {
        m->back = f;
    }
}

void faults_volt_detach(struct life *l, int64_t off_ns)
{
    const struct injected *f;

    if (!l->plan->instrument.power)
        return;
    if ((f = synth_fault(l, "volt.negative")) != NULL) {
        synth_blame_reading(l, f, l->source, off_ns, false, -300000);
        wave_set(&l->vbus, off_ns + 10 * MS_NS, off_ns + 10 * MS_NS + 1000, -500000);
        wave_set(&l->vbus, off_ns + 13 * MS_NS, off_ns + 13 * MS_NS + 1000, 0);
    }
    if ((f = synth_fault(l, "volt.cold-socket")) != NULL) {
        int64_t at_ns = l->now_ns + 1400 * (int64_t)MS_NS;

        synth_blame_reading(l, f, l->source, at_ns, true, VSAFE0V_UV);
        wave_set(&l->vbus, at_ns, at_ns + 1000, 1200000);
        wave_set(&l->vbus, at_ns + 300 * MS_NS, at_ns + 300 * MS_NS + 1000, 0);
    }
}

bool faults_volt_stays_attached(struct life *l)
{
    const struct injected *f = l->plan->instrument.power && wave_end(&l->vbus) > 3500000 ? synth_fault(l, "volt.safe0v-after-detach") : NULL;

    if (!f)
        return false;
    synth_blame_put(l, f, l->source);
    wave_set(&l->vbus, l->now_ns + MS_NS, l->now_ns + 100 * MS_NS, 3000000);
    wave_set(&l->vbus, l->now_ns + 2300 * (int64_t)MS_NS, l->now_ns + 2310 * (int64_t)MS_NS, 0);
    return true;
}

bool faults_volt_stays_on(struct life *l)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, "volt.safe0v-after-hard-reset") : NULL;

    if (!f)
        return false;
    synth_blame_last(l, f, l->source);
    int64_t move_ns = l->now_ns + synth_draw_vbus_ns(l, TIMER_HARD_RESET_RESPONSE, l->now_ns, false, wave_end(&l->vbus) - MOVED_UV);

    wave_set(&l->vbus, move_ns, move_ns + 2 * MS_NS, 5000000);
    synth_to(l, l->now_ns + 1000 * (int64_t)MS_NS);
    l->vsafe5v_ns = l->now_ns;
    return true;
}
