/* More current than the contract gives: the source says so, and goes off until it is unplugged. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

/* Alert: over-current, bit 26; Status, event flags: OCP, bit 1. Linux include/linux/usb/pd_ado.h, pd_ext_sdb.h. */
#define ALERT_OCP (UINT32_C(1) << 26)
enum { MS_NS = 1000000, STATUS_OCP = 1 << 1, OFF_IN_BLOCK_MS = 20, FALL_MS = 10 };

/* PPS and AVS hold the current instead of going off. */
static bool goes_off(const struct life *l)
{
    enum supply kind = l->contract && l->position ? pdo_supply(l->offer[l->position - 1]) : SUPPLY_RESERVED;

    return !l->epr_mode && l->contract_ma > 0 && (kind == SUPPLY_FIXED || kind == SUPPLY_VARIABLE || kind == SUPPLY_BATTERY);
}

static bool alert_of_overload(struct life *l)
{
    struct step ask = { .from = WHO_SINK };
    uint32_t    word = ALERT_OCP;

    if (!synth_say_data(l, l->source, D_ALERT, 1, &word))
        return false;
    synth_close_exchange(l);
    synth_question_find("Get_Status", &ask.message);
    l->events = STATUS_OCP;
    return synth_get(l, &ask);
}

bool synth_overload(struct life *l, const struct step *s)
{
    const struct injected *f;
    int64_t                off_ns;

    if (!goes_off(l))
        return true;
    synth_open_exchange(l, l->source);
    synth_load(l, s->ma > l->contract_ma ? (int32_t)s->ma : l->contract_ma * 13 / 10);
    synth_idle(l, 5000);
    f = revision_3(l) ? synth_fault(l, "ext.trip-announced") : NULL;
    if (revision_3(l) && !f && !alert_of_overload(l))
        return false;
    /* Well inside a block of readings: the last of the overload and the fall stand in one record. */
    synth_close_exchange(l);
    off_ns = l->now_ns + 50 * MS_NS;
    if (l->plan->instrument.power)
        off_ns = l->power_from_ns + l->plan->instrument.power_rows * l->plan->instrument.power_interval_us * 1000 + OFF_IN_BLOCK_MS * MS_NS;
    if (f)
        synth_blame_reading(l, f, l->source, off_ns, false, l->contract_mv * 500);
    wave_set(&l->vbus, off_ns, off_ns + FALL_MS * MS_NS, 0);
    synth_to(l, off_ns + FALL_MS * MS_NS);
    synth_load(l, 0);
    l->contract = false;
    l->position = 0;
    synth_idle(l, chance_between(&l->chance, 2600000, 4000000));
    l->events = 0;
    synth_detach(l);
    return true;
}
