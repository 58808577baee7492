/*
 * Faults of VBUS and the current. Windows: a fixed or adjustable voltage 5 %, a variable or battery object 0.95 times its least to 1.05
 * times its greatest voltage, half a volt more for a moment (vSrcNew, vSrcValid: voltage table, notes on PD R3.2 V1.2, secondary, and
 * Linux drivers/usb/typec/tcpm). Readings show these faults: without them there is no place for one.
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, VALID_UV = 500000, VSAFE0V_UV = 800000, VSAFE5V_LEAST_UV = 4750000, VSAFE5V_MOST_UV = 5500000, MOVED_UV = 200000,
       LEVEL_UV = 1000000, EPR_MOST_NS = 220 * MS_NS };

#define V(id) "volt." id
const struct synth_fault synth_faults_volt[] = {
    { V("safe5v-before-contract"), NULL, "source", "Before the first contract VBUS stands at the amount given, 5.8 V if none is, for 35 ms.", V("safe5v-before-contract") },
    { V("contract-window"), NULL, "source", "In a contract VBUS stands at the amount given, 7 % too low if none is, for 400 ms.", V("contract-window") },
    { V("contract-window"), "up", "source", "In a contract VBUS stands 7 % too high for 400 ms.", V("contract-window") },
    { V("transient-window"), NULL, "source", "In a contract VBUS dips to the amount given, below its window and half a volt if none is, for 2 ms.", V("transient-window") },
    { V("transient-window"), "up", "source", "In a contract VBUS peaks above its window and half a volt for 2 ms.", V("transient-window") },
    { V("ready-inside-window"), NULL, "source", "PS_RDY comes while VBUS stands at the amount given in mV, or so many ms before VBUS is in its window; 60 ms if none is.", V("ready-inside-window") },
    { V("level-not-reached"), NULL, "source", "PS_RDY comes, and VBUS stays at the amount given in mV, where it was if none is; for the amount given in ms, else for good.", V("level-not-reached") },
    { V("overshoot"), NULL, "source", "On its way up VBUS overshoots to the amount given, for 2 ms; by 0.8 V beyond its window if none is.", V("overshoot") },
    { V("overshoot"), "turn-on", "source", "Coming up VBUS overshoots to the amount given, for 2 ms; to 6.3 V if none is.", V("overshoot") },
    { V("undershoot"), NULL, "source", "On its way down VBUS undershoots to the amount given, for 2 ms; by 0.8 V beyond its window if none is.", V("undershoot") },
    { V("slew-up"), NULL, "source", "VBUS rises by the amount given, in mV, each us; by 45 mV if none is.", V("slew-up") },
    { V("slew-up"), "turn-on", "source", "Coming up VBUS rises by the amount given, in mV, each us, from 2 V to 4 V; by 45 mV if none is.", V("slew-up") },
    { V("slew-down"), NULL, "source", "VBUS falls by the amount given, in mV, each us; by 45 mV if none is.", V("slew-down") },
    { V("slew-down"), "detach", "source", "After a detach VBUS falls by the amount given, in mV, each us; by 45 mV if none is.", V("slew-down") },
    { V("monotonic"), NULL, "source", "On its way VBUS turns back by the amount given, 0.5 V if none is, for 3 ms.", V("monotonic") },
    { V("negative"), NULL, "source", "After a detach VBUS goes to the amount given, -0.5 V if none is, for 3 ms.", V("negative") },
    { V("safe0v-after-hard-reset"), NULL, "source", "VBUS stays after a Hard Reset, and the source starts anew by its offer; given an amount in mV it goes down to that, in ms it passes 0.8 V so late.", V("safe0v-after-hard-reset") },
    { V("safe0v-after-detach"), NULL, "source", "After a detach VBUS stays at the amount given in mV, 3 V if none is, and passes 0.8 V after the amount in ms, 2.3 s if none is.", V("safe0v-after-detach") },
    { V("cold-socket"), NULL, "source", "VBUS stands at the amount given in mV, 1.2 V if none is, for 300 ms, to the amount given in ms after a detach, 1.7 s if none is.", V("cold-socket") },
    { V("unasked-change"), NULL, "source", "In a contract VBUS goes to the amount given in mV, far below its window if none is, for the amount in ms, 300 ms if none is.", V("unasked-change") },
    { V("unasked-change"), "unsteady", "source", "The same, and every 40 ms it goes up or down by the amount given in mV, 50 mV if none is.", V("unasked-change") },
    { V("unasked-change"), "early", "source", "VBUS moves between Request and Accept, by the amount given, or all the way.", V("unasked-change") },
    { V("drop-under-load"), NULL, "source", "At the amount of current given in mA, 70 % of the contract's if none is, VBUS folds to the amount in mV for the amount in ms; 30 ms, far below, if none is.", V("drop-under-load") },
    { V("sink-over-contract"), NULL, "sink", "The sink takes the amount of current given, 200 mA more than was agreed on if none is, for 250 ms.", V("sink-over-contract") },
    { V("reverse-current"), NULL, "source", "The amount of current given, 300 mA if none is, flows into the source for 250 ms.", V("reverse-current") },
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

/*
 * A change of contract counts as under way for 50 ms more; then the next block of readings, and 15 ms of it. In EPR mode the sink has
 * just shown that it is alive, which holds for no more than half a second.
 */
static void settle(struct life *l)
{
    const struct instrument *i = &l->plan->instrument;

    if (l->epr_mode)
        (void)synth_keep_alive(l);
    synth_idle(l, 60000);
    synth_to(l, l->power_from_ns + i->power_rows * i->power_interval_us * 1000 + 15 * MS_NS);
}

/* VBUS at uv for so long, and back; the load as it is. */
static void stand(struct life *l, int32_t uv, int64_t ns)
{
    int32_t level = wave_end(&l->vbus);
    int64_t at_ns = l->now_ns;

    ns = l->epr_mode && ns > EPR_MOST_NS ? EPR_MOST_NS : ns;
    wave_set(&l->vbus, at_ns, at_ns + 1000, uv);
    wave_set(&l->vbus, at_ns + ns, at_ns + ns + 1000, level);
    synth_idle(l, (at_ns + ns - l->now_ns) / 1000 + 60000);
}

/* Which side of the middle between two limits a level shows a fault on: above its upper one, or below its lower one. */
static void blame_level(struct life *l, const struct injected *f, int64_t from_ns, int32_t uv, int32_t low_uv, int32_t high_uv)
{
    bool above = uv > low_uv / 2 + high_uv / 2;

    synth_blame_reading(l, f, l->source, from_ns, above, above ? high_uv : low_uv);
}

static void low_or_high(struct life *l, const char *name, int32_t low_uv, int32_t high_uv, int32_t by_uv, int64_t ns)
{
    const struct injected *f = synth_fault(l, name);

    if (!f)
        return;
    int32_t uv = synth_amount_uv(f, synth_variant(f, "up") ? high_uv + by_uv : low_uv - by_uv);

    settle(l);
    blame_level(l, f, l->now_ns, uv, low_uv, high_uv);
    stand(l, uv, ns);
}

/* What the sink may take: a contract for a battery object is one for a power. */
static int32_t agreed_ma(const struct life *l, bool most)
{
    uint32_t pdo = l->offer[l->position - 1];
    int32_t  ma = most ? asking_most_ma(l->request, pdo) : l->contract_ma;

    return pdo_supply(pdo) == SUPPLY_BATTERY ? (int32_t)((int64_t)ma * pdo_max_mv(pdo) / l->contract_mv) : ma;
}

/* So much current for so long, all of it in one block of readings where they are long: so are the means that it shows in. */
static void flow(struct life *l, const struct injected *f, unsigned player, int32_t ma)
{
    const struct instrument *i = &l->plan->instrument;
    int64_t span_ns = i->power_rows * i->power_interval_us * 1000;

    synth_to(l, l->power_from_ns + span_ns + (span_ns < 400 * (int64_t)MS_NS ? 10 : 110) * MS_NS);
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
    int32_t uv = synth_amount_uv(f, low_uv - VALID_UV - 300000);

    synth_load(l, synth_amount_ma(f, agreed_ma(l, false) * 7 / 10));
    settle(l);
    synth_blame_reading(l, f, l->source, l->now_ns, false, low_uv - VALID_UV);
    stand(l, uv, synth_amount_ns(f, 30 * MS_NS));
    synth_load(l, 0);
    synth_idle(l, 30000);
}

static void another_level(struct life *l, int32_t low_uv, int32_t high_uv)
{
    const struct injected *f = synth_fault_just(l, "volt.unasked-change", "");
    int32_t low_by_uv = low_uv / 10 > LEVEL_UV ? low_uv / 10 : LEVEL_UV, high_by_uv = high_uv / 10 > LEVEL_UV ? high_uv / 10 : LEVEL_UV;

    if (!f)
        return;
    int32_t uv = synth_amount_uv(f, low_uv - low_by_uv - 400000);

    settle(l);
    blame_level(l, f, l->now_ns, uv, low_uv - low_by_uv, high_uv + high_by_uv);
    stand(l, uv, synth_amount_ns(f, 300 * MS_NS));
}

static void unsteady_level(struct life *l, int32_t low_uv)
{
    const struct injected *f = synth_fault_just(l, "volt.unasked-change", "unsteady");
    int32_t                by_uv = low_uv / 10 > LEVEL_UV ? low_uv / 10 : LEVEL_UV, level = wave_end(&l->vbus);

    if (!f)
        return;
    int32_t uv = low_uv - by_uv - 800000, swing_uv = synth_amount_uv(f, 50000);

    settle(l);
    synth_blame_reading(l, f, l->source, l->now_ns, false, low_uv - by_uv);
    for (unsigned k = 0; k < 8; k++) {
        wave_set(&l->vbus, l->now_ns, l->now_ns + 1000, k % 2 ? uv - swing_uv : uv);
        synth_idle(l, 40000);
    }
    wave_set(&l->vbus, l->now_ns, l->now_ns + 1000, level);
    synth_idle(l, 60000);
}

static void currents(struct life *l)
{
    const struct injected *f;

    if (l->contract_ma < 500)
        return;
    if ((f = synth_fault(l, "volt.sink-over-contract")) != NULL)
        flow(l, f, sink_of(l), synth_amount_ma(f, agreed_ma(l, true) + 200));
    if ((f = synth_fault(l, "volt.reverse-current")) != NULL)
        flow(l, f, l->source, -synth_amount_ma(f, 300));
}

bool faults_volt_idle(struct life *l)
{
    int32_t low_uv, high_uv;

    if (!l->plan->instrument.power || !window(l, &low_uv, &high_uv))
        return true;
    low_or_high(l, "volt.contract-window", low_uv, high_uv, l->contract_mv * 20, 400 * (int64_t)MS_NS);
    low_or_high(l, "volt.transient-window", low_uv - VALID_UV, high_uv + VALID_UV, 200000, 2 * MS_NS);
    another_level(l, low_uv, high_uv);
    fold(l, low_uv);
    if (l->epr_mode)
        return true; /* the others take longer than the sink may be silent */
    unsteady_level(l, low_uv);
    currents(l);
    return true;
}

void faults_volt_first(struct life *l)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, "volt.safe5v-before-contract") : NULL;

    if (!f)
        return;
    /* A mean over 10 ms that begins in one block of readings ends in it, and so does the one before. */
    const struct instrument *i = &l->plan->instrument;
    int64_t span_ns = i->power_rows * i->power_interval_us * 1000, at_ns = l->now_ns + 5 * MS_NS, into_ns = (at_ns - l->power_from_ns) % span_ns;
    int32_t uv = synth_amount_uv(f, 5800000);

    if (into_ns < 12 * MS_NS)
        at_ns += 12 * MS_NS - into_ns;
    else if (span_ns > 24 * MS_NS && into_ns > span_ns - 12 * MS_NS)
        at_ns += span_ns - into_ns + 12 * MS_NS;
    blame_level(l, f, l->now_ns, uv, VSAFE5V_LEAST_UV, VSAFE5V_MOST_UV);
    wave_set(&l->vbus, at_ns, at_ns + 1000, uv);
    wave_set(&l->vbus, at_ns + 35 * MS_NS, at_ns + 35 * MS_NS + 1000, 5000000);
    synth_to(l, at_ns + 40 * MS_NS);
}

bool faults_volt_early(struct life *l, int32_t mv)
{
    bool                   far = l->contract && l->plan->instrument.power && (mv > l->contract_mv + 1000 || mv < l->contract_mv - 1000);
    const struct injected *f = far ? synth_fault_just(l, "volt.unasked-change", "early") : NULL;
    int32_t                level = wave_end(&l->vbus);
    bool                   up = mv > l->contract_mv;

    if (!f)
        return false;
    int32_t by_uv = synth_amount_uv(f, up ? mv * 1000 - level : level - mv * 1000);

    /* Two readings at the least before the Accept. */
    synth_blame_reading(l, f, l->source, l->now_ns, up, up ? level + MOVED_UV : level - MOVED_UV);
    wave_set(&l->vbus, l->now_ns + MS_NS, l->now_ns + 2 * MS_NS, up ? level + by_uv : level - by_uv);
    synth_idle(l, 6000);
    return true;
}

/* A steep slope begins with a reading: lines are drawn by the us. */
static int64_t with_reading_ns(const struct life *l, int64_t at_ns)
{
    int64_t interval_ns = l->plan->instrument.power_interval_us * 1000, past_ns = (at_ns - l->power_from_ns) % interval_ns;

    return at_ns + (past_ns ? interval_ns - past_ns : 0);
}

bool faults_volt_rise(struct life *l, int64_t rise_ns, int64_t up_ns)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault_just(l, "volt.slew-up", "turn-on") : NULL;

    if (!f)
        return false;
    int64_t at_ns = with_reading_ns(l, up_ns - 3 * MS_NS);

    synth_blame_reading(l, f, l->source, at_ns, true, 2000000 + MOVED_UV);
    wave_set(&l->vbus, rise_ns, at_ns, 2000000);
    wave_set(&l->vbus, at_ns, at_ns + INT64_C(2000000) * 1000 / synth_amount_uv(f, 45000), 4000000);
    /* 4.75 V at up_ns */
    synth_vbus(l, up_ns - 2 * MS_NS, up_ns + 2 * MS_NS / 3, 5000);
    return true;
}

void faults_volt_on(struct life *l, int64_t up_ns)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault_just(l, "volt.overshoot", "turn-on") : NULL;
    int64_t                at_ns = up_ns + 10 * MS_NS;
    int32_t                level = wave_end(&l->vbus);

    if (!f)
        return;
    synth_blame_reading(l, f, l->source, l->now_ns, true, VSAFE5V_MOST_UV + VALID_UV);
    wave_set(&l->vbus, at_ns, at_ns + 1000, synth_amount_uv(f, VSAFE5V_MOST_UV + VALID_UV + 300000));
    wave_set(&l->vbus, at_ns + 2 * MS_NS, at_ns + 2 * MS_NS + 1000, level);
}

/* Where VBUS stands at PS_RDY, and how long it takes from there. */
static void not_ready(struct life *l, const struct injected *f, int64_t ready_ns, int32_t from_uv, int32_t to_uv, struct move *m)
{
    int32_t low_uv = to_uv / 100 * 95, high_uv = to_uv / 100 * 105, near_uv = to_uv > from_uv ? low_uv : high_uv;

    if (f->plan->has_mv) {
        m->wrong_uv = synth_amount_uv(f, 0);
        m->wrong_ns = ready_ns + 60 * MS_NS;
        blame_level(l, f, ready_ns - MS_NS, m->wrong_uv, low_uv, high_uv);
    } else {
        /* A straight line that comes to the window when it is said. */
        m->late_ns = ready_ns + synth_amount_ns(f, 60 * MS_NS);
        m->late_uv = near_uv;
        synth_blame_reading(l, f, l->source, ready_ns - MS_NS, to_uv < from_uv, near_uv);
    }
}

static void not_reached(struct life *l, const struct injected *f, int64_t ready_ns, int32_t from_uv, int32_t to_uv, struct move *m)
{
    int32_t low_uv = to_uv / 100 * 95, high_uv = to_uv / 100 * 105;

    /* What comes late begins in time. */
    m->wrong_uv = synth_amount_uv(f, f->plan->has_amount ? from_uv + (to_uv - from_uv) / 3 : from_uv);
    m->wrong_ns = f->plan->has_amount ? ready_ns + synth_amount_ns(f, 0) : INT64_MAX;
    blame_level(l, f, ready_ns + 50 * MS_NS, m->wrong_uv, low_uv - VALID_UV, high_uv + VALID_UV);
}

static void turns_back(struct life *l, const struct injected *f, int32_t from_uv, int32_t to_uv, struct move *m)
{
    int32_t half_uv = from_uv / 2 + to_uv / 2, by_uv = synth_amount_uv(f, 500000);

    m->back_uv = to_uv > from_uv ? half_uv - by_uv : half_uv + by_uv;
    m->half_uv = half_uv;
    m->back = true;
    synth_blame_reading(l, f, l->source, m->begin_ns + 6 * MS_NS, to_uv < from_uv, to_uv > from_uv ? half_uv - MOVED_UV : half_uv + MOVED_UV);
}

/* Up and down: VBUS on its way from one level to another, far enough apart. */
void faults_volt_move(struct life *l, int64_t ready_ns, int32_t mv, struct move *m)
{
    int32_t from_uv = wave_end(&l->vbus), to_uv = mv * 1000, low_uv = to_uv / 100 * 95, high_uv = to_uv / 100 * 105;
    bool    up = to_uv > from_uv, far = up ? to_uv - from_uv > 2000000 : from_uv - to_uv > 2000000;
    const struct injected *f;

    if (!l->plan->instrument.power || !far || m->begin_ns + m->ramp_ns + 25 * MS_NS > ready_ns)
        return;
    if ((f = synth_fault(l, "volt.ready-inside-window")) != NULL) {
        not_ready(l, f, ready_ns, from_uv, to_uv, m);
    } else if (l->contract && (f = synth_fault(l, "volt.level-not-reached")) != NULL) {
        not_reached(l, f, ready_ns, from_uv, to_uv, m);
    } else if (up && (f = synth_fault_just(l, "volt.overshoot", "")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, true, high_uv + VALID_UV);
        m->peak_uv = synth_amount_uv(f, high_uv + VALID_UV + 300000);
    } else if (!up && (f = synth_fault(l, "volt.undershoot")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, false, low_uv - VALID_UV);
        m->peak_uv = synth_amount_uv(f, low_uv - VALID_UV - 300000);
    } else if ((f = synth_fault_just(l, up ? "volt.slew-up" : "volt.slew-down", "")) != NULL) {
        synth_blame_reading(l, f, l->source, m->begin_ns, up, up ? from_uv + MOVED_UV : from_uv - MOVED_UV);
        m->begin_ns = with_reading_ns(l, m->begin_ns);
        m->ramp_ns = (int64_t)(up ? to_uv - from_uv : from_uv - to_uv) * 1000 / synth_amount_uv(f, 45000);
    } else if ((f = synth_fault(l, "volt.monotonic")) != NULL) {
        turns_back(l, f, from_uv, to_uv, m);
    }
}

bool faults_volt_wave(struct life *l, const struct move *m, int32_t from_uv, int32_t mv)
{
    int64_t at_ns = m->begin_ns + 3 * MS_NS;

    if (m->wrong_ns) {
        wave_set(&l->vbus, m->begin_ns, m->begin_ns + m->ramp_ns / 2, m->wrong_uv);
        if (m->wrong_ns < INT64_MAX)
            synth_vbus(l, m->wrong_ns, m->wrong_ns + 1000, mv);
        return true;
    }
    if (m->late_ns) {
        wave_set(&l->vbus, m->begin_ns, m->begin_ns + MS_NS, from_uv + (mv * 1000 - from_uv) / 3);
        wave_set(&l->vbus, m->begin_ns + MS_NS, m->late_ns, m->late_uv);
        synth_vbus(l, m->late_ns, m->late_ns + MS_NS, mv);
        return true;
    }
    if (!m->back)
        return false;
    wave_set(&l->vbus, m->begin_ns, at_ns, m->half_uv);
    wave_set(&l->vbus, at_ns + 3 * MS_NS, at_ns + 3 * MS_NS + 1000, m->back_uv);
    synth_vbus(l, at_ns + 6 * MS_NS, at_ns + 10 * MS_NS, mv);
    return true;
}

void faults_volt_detach(struct life *l, int64_t off_ns)
{
    const struct injected *f;

    if (!l->plan->instrument.power)
        return;
    if ((f = synth_fault(l, "volt.negative")) != NULL) {
        synth_blame_reading(l, f, l->source, off_ns, false, -300000);
        wave_set(&l->vbus, off_ns + 10 * MS_NS, off_ns + 10 * MS_NS + 1000, synth_amount_uv(f, -500000));
        wave_set(&l->vbus, off_ns + 13 * MS_NS, off_ns + 13 * MS_NS + 1000, 0);
    }
    if ((f = synth_fault(l, "volt.cold-socket")) != NULL) {
        int64_t to_ns = l->now_ns + synth_amount_ns(f, 1700 * (int64_t)MS_NS), at_ns = to_ns - 300 * MS_NS;

        synth_blame_reading(l, f, l->source, l->now_ns + 1000 * (int64_t)MS_NS, true, VSAFE0V_UV);
        wave_set(&l->vbus, at_ns, at_ns + 1000, synth_amount_uv(f, 1200000));
        wave_set(&l->vbus, to_ns, to_ns + 1000, 0);
    }
}

bool faults_volt_stays_attached(struct life *l)
{
    const struct injected *f;
    int32_t                level = wave_end(&l->vbus);

    if (l->plan->instrument.power && level > 3500000 && (f = synth_fault(l, "volt.safe0v-after-detach")) != NULL) {
        int64_t off_ns = l->now_ns + synth_amount_ns(f, 2300 * (int64_t)MS_NS);

        synth_blame_put(l, f, l->source);
        wave_set(&l->vbus, l->now_ns + MS_NS, l->now_ns + 100 * MS_NS, synth_amount_uv(f, 3000000));
        wave_set(&l->vbus, off_ns, off_ns + 1000, 0);
        return true;
    }
    if (l->plan->instrument.power && level > 3500000 && (f = synth_fault_just(l, "volt.slew-down", "detach")) != NULL) {
        int64_t at_ns = with_reading_ns(l, l->now_ns + 5 * MS_NS);

        synth_blame_reading(l, f, l->source, at_ns, false, level - MOVED_UV);
        wave_set(&l->vbus, at_ns, at_ns + (int64_t)level * 1000 / synth_amount_uv(f, 45000), 0);
        return true;
    }
    return false;
}

bool faults_volt_stays_on(struct life *l)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, "volt.safe0v-after-hard-reset") : NULL;

    if (!f)
        return false;
    synth_blame_last(l, f, l->source);
    if (f->plan->has_mv || f->plan->has_amount) {
        l->slow_off = f;
        return false;
    }
    int64_t move_ns = l->now_ns + synth_draw_vbus_ns(l, TIMER_HARD_RESET_RESPONSE, l->now_ns, false, wave_end(&l->vbus) - MOVED_UV);

    wave_set(&l->vbus, move_ns, move_ns + 2 * MS_NS, 5000000);
    synth_to(l, l->now_ns + 1000 * (int64_t)MS_NS);
    l->vsafe5v_ns = l->now_ns;
    return true;
}

int32_t faults_volt_off(struct life *l, int64_t reset_ns, int64_t *off_ns)
{
    const struct injected *f = l->slow_off;
    int32_t                floor_uv = 0;

    l->slow_off = NULL;
    if (f && f->plan->has_amount)
        *off_ns = reset_ns + synth_amount_ns(f, 0);
    if (f && f->plan->has_mv)
        floor_uv = synth_amount_uv(f, 0);
    return floor_uv;
}
