/* Faults of swaps of power role, data role and VCONN. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, OFF_UV = 800000, DIP_UV = 3000000, VSAFE5V_UV = 4750000 };

const struct synth_fault synth_faults_swap[] = {
    { "swap.pr-order", NULL, "source", "PR_Swap is accepted, and the old source's PS_RDY does not come; the sink's Hard Reset comes after the amount given; 850 ms if none is.", "swap.pr-order" },
    { "swap.pr-order", "other", "source", "PR_Swap is accepted, and the old source asks Get_Sink_Cap before its PS_RDY.", "swap.pr-order" },
    { "swap.dr-order", NULL, "source", "DR_Swap is accepted, and the source asks Get_Sink_Cap with its old data role.", "swap.dr-order" },
    { "swap.vconn-order", NULL, "source", "VCONN_Swap is accepted, and PS_RDY comes from the side that sourced VCONN.", "swap.vconn-order" },
    { "swap.vconn-order", "late", NULL, "PS_RDY of the new VCONN source comes after the amount given; 250 ms if none is.",
      "swap.vconn-order" },
    { "swap.fr-order", NULL, "source", "FR_Swap is accepted, and the old source's PS_RDY does not come; the sink's Hard Reset comes after the amount given; 850 ms if none is.", "swap.fr-order" },
    { "swap.dual-role-flag", NULL, "source", "The source offers with Dual-Role Power clear, and PR_Swap is accepted.", "swap.dual-role-flag" },
    { "swap.pr-vbus-off", NULL, "source", "The old source says PS_RDY, and VBUS is still there.", "swap.pr-vbus-off" },
    { "swap.fr-vbus", NULL, "source", "In a fast swap VBUS falls to 3 V for the amount given; 11 ms if none is.", "swap.fr-vbus" },
    { NULL, NULL, NULL, NULL, NULL },
};

/* The old source never gets ready. The sink waits 750 to 920 ms: tPSSourceOff, timer table: Zephyr usbc_pd.h. */
static bool never_off(struct life *l, const struct injected *f)
{
    if (!f)
        return false;
    synth_blame_sent(l, f, l->source);
    synth_idle(l, synth_amount_ns(f, 850 * MS_NS) / 1000);
    synth_hard_reset(l, sink_of(l));
    return true;
}

bool faults_swap_never_off(struct life *l)
{
    return never_off(l, synth_fault_just(l, "swap.pr-order", ""));
}

bool faults_swap_other_first(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "swap.pr-order", "other");
    const struct partner  *sink = &l->partner[sink_of(l)];

    if (!f)
        return true;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    if (!synth_say_control(l, l->source, C_GET_SINK_CAP))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, sink_of(l));
    return synth_say_data(l, sink_of(l), D_SINK_CAPABILITIES, sink->sink_count, sink->sink);
}

bool faults_swap_never_off_fast(struct life *l)
{
    return never_off(l, synth_fault(l, "swap.fr-order"));
}

bool faults_swap_vbus_stays(struct life *l, int64_t ready_ns)
{
    const struct instrument *i = &l->plan->instrument;
    const struct injected   *f = i->power ? synth_fault(l, "swap.pr-vbus-off") : NULL;

    if (f) /* the last reading before PS_RDY */
        synth_blame_reading(l, f, l->source, ready_ns - i->power_interval_us * 1000, true, OFF_UV);
    return f != NULL;
}

void faults_swap_dip(struct life *l)
{
    const struct injected *f = l->plan->instrument.power ? synth_fault(l, "swap.fr-vbus") : NULL;
    int64_t                up_ns;

    if (!f)
        return;
    /* Of whoever is the source when it is over. */
    synth_blame_reading(l, f, l->source, l->now_ns, false, VSAFE5V_UV);
    wave_set(&l->vbus, l->now_ns, l->now_ns + MS_NS, DIP_UV);
    up_ns = l->now_ns + MS_NS + synth_amount_ns(f, 11 * MS_NS);
    synth_vbus(l, up_ns, up_ns + MS_NS, 5000);
    synth_to(l, up_ns + 2 * MS_NS);
}

bool faults_swap_hidden_flag(struct life *l, bool *accepted)
{
    const struct injected *f = synth_fault(l, "swap.dual-role-flag");
    bool                   done;

    *accepted = f != NULL;
    if (!f)
        return true;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    l->no_dual_power = true;
    done = synth_negotiate(l, 0);
    l->no_dual_power = false;
    return done;
}

bool faults_swap_keeps_data_role(struct life *l)
{
    const struct injected *f = synth_fault(l, "swap.dr-order");
    const struct partner  *sink = &l->partner[sink_of(l)];
    struct say             m = say_control(l->source, C_GET_SINK_CAP);

    if (!f)
        return true;
    synth_open_exchange(l, l->source);
    m.flip = 1 << 5;
    synth_blame_next(l, f, l->source);
    if (!synth_say(l, &m))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, sink_of(l));
    return synth_say_data(l, sink_of(l), D_SINK_CAPABILITIES, sink->sink_count, sink->sink);
}

/* Who sources VCONN is known where the attach shows, and a plug has spoken. */
static bool vconn_told(const struct life *l)
{
    return l->plug_known && (l->plan->instrument.cc || l->plan->instrument.power);
}

const struct injected *faults_swap_wrong_vconn(struct life *l)
{
    return vconn_told(l) && l->vconn == l->source ? synth_fault_just(l, "swap.vconn-order", "") : NULL;
}

void faults_swap_late_vconn(struct life *l, int64_t accepted_ns)
{
    const struct injected *f = vconn_told(l) ? synth_fault_just(l, "swap.vconn-order", "late") : NULL;

    if (!f)
        return;
    synth_to(l, accepted_ns + synth_amount_ns(f, 250 * MS_NS));
    synth_blame_next(l, f, l->vconn);
}
