/* Faults of resets: what brings them about, and what follows them. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

enum { MS_NS = 1000000, SECOND_NS = 1000000000 };

const struct synth_fault synth_faults_reset[] = {
    { "reset.restart-with-caps", NULL, "source", "After a Hard Reset the source asks Get_Sink_Cap before it offers anything.", "reset.restart-with-caps" },
    { "reset.restart-with-caps", "late", "source", "After a Hard Reset Source_Capabilities come after the amount given; 4 s if none is.",
      "reset.restart-with-caps" },
    { "hard-reset-ignored", NULL, "source", "The source takes no notice of a Hard Reset and asks Get_Sink_Cap; the sink sends another one.",
      "reset.restart-with-caps" },
    { "reset.soft-reset-renegotiates", NULL, "source",
      "After the Accept of a Soft_Reset Source_Capabilities come after the amount given; 400 ms if none is.", "reset.soft-reset-renegotiates" },
    { "reset.contract-after-reset", NULL, "link",
      "After a Hard Reset the Request is answered by Wait; the next one leads to a contract after the amount given; 5.5 s if none is.",
      "reset.contract-after-reset" },
    { "reset.repeated", NULL, "link", "Three more Hard Resets follow a Hard Reset.", "reset.repeated" },
    { "reset.unexplained", NULL, "link", "In a contract in which nothing happened for the amount given, 7 s (programmable supply: 17 s) if none is, the sink sends a Hard Reset.", "reset.unexplained" },
    { "reset.cable-reset", NULL, "link", "A sink that is not the DFP and does not source VCONN sends a Cable Reset, and its Request the amount given later; 0.4 ms if none is.",
      "reset.cable-reset" },
    { "reset.hard-reset-vbus-cycle", NULL, "source", "After a Hard Reset VBUS comes back after the amount given; 2.1 s if none is.", "reset.hard-reset-vbus-cycle" },
    { "reset.soft-reset-keeps-vbus", NULL, "source", "After the Accept of a Soft_Reset VBUS falls by a quarter for 40 ms.", "reset.soft-reset-keeps-vbus" },
    { NULL, NULL, NULL, NULL, NULL },
};

static bool ask_sink(struct life *l, const struct injected *f)
{
    const struct partner *sink = &l->partner[sink_of(l)];

    synth_blame_next(l, f, l->source);
    if (!synth_say_control(l, l->source, C_GET_SINK_CAP))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, sink_of(l));
    return synth_say_data(l, sink_of(l), D_SINK_CAPABILITIES, sink->sink_count, sink->sink);
}

bool faults_reset_ignored(struct life *l, unsigned player)
{
    const struct injected *f = player == sink_of(l) ? synth_fault(l, "hard-reset-ignored") : NULL;

    if (!f)
        return false;
    l->next_id[SET_SOP][player] = 0;
    synth_idle(l, 200000);
    if (ask_sink(l, f)) {
        synth_idle(l, 300000);
        synth_hard_reset(l, player);
    }
    return true;
}

void faults_reset_again(struct life *l, unsigned player)
{
    const struct injected *f = synth_fault(l, "reset.repeated");

    for (unsigned k = 0; f && k < 3; k++) {
        synth_idle(l, 150000);
        if (k == 2)
            synth_blame_next(l, f, PLAYER_LINE);
        synth_signal(l, player, RECORD_HARD_RESET);
    }
}

void faults_reset_return(struct life *l, int64_t zero_ns, int64_t *rise_ns)
{
    const struct instrument *i = &l->plan->instrument;
    const struct injected   *f = i->power && i->cc ? synth_fault(l, "reset.hard-reset-vbus-cycle") : NULL;

    /* Without CC so long a time without VBUS is a detach. */
    if (!f)
        return;
    /* vSafe5V begins at 4.75 V. */
    synth_blame_reading(l, f, l->source, zero_ns, true, 4750000);
    l->vsafe5v_ns = zero_ns + synth_amount_ns(f, INT64_C(2100) * MS_NS);
    *rise_ns = l->vsafe5v_ns - 5 * MS_NS;
}

bool faults_reset_restart(struct life *l, int64_t reset_ns)
{
    bool                   cc = l->plan->instrument.cc; /* shows that the sink is there, although nothing is said */
    const struct injected *f = cc ? synth_fault(l, "reset.restart-with-caps") : synth_fault_as(l, "reset.restart-with-caps", "");

    if (!f)
        return true;
    if (!synth_variant(f, "late"))
        return ask_sink(l, f) && (synth_idle(l, 20000), true);
    synth_to(l, reset_ns + synth_amount_ns(f, INT64_C(4) * SECOND_NS));
    synth_blame_next(l, f, l->source);
    return true;
}

bool faults_reset_contract(struct life *l, int64_t reset_ns)
{
    const struct injected *f = synth_fault(l, "reset.contract-after-reset");
    uint32_t               word;

    if (!f)
        return false;
    if (!synth_tell_offer(l))
        return true;
    synth_wait(l, TIMER_FIRST_REQUEST, sink_of(l));
    word = synth_any_request(l);
    l->agreed = l->partner[0].edition && l->partner[1].edition ? REV_3 : REV_2;
    if (!synth_say_data(l, sink_of(l), D_REQUEST, 1, &word))
        return true;
    synth_wait(l, TIMER_SOURCE_RESPONSE, l->source);
    if (!synth_say_control(l, l->source, C_WAIT))
        return true;
    l->ready_at_ns = reset_ns + synth_amount_ns(f, INT64_C(5500) * MS_NS);
    synth_to(l, l->ready_at_ns - 150 * MS_NS);
    if (synth_request(l, word))
        synth_blame_sent(l, f, PLAYER_LINE);
    return true;
}

bool faults_reset_anew(struct life *l)
{
    const struct injected *f = synth_fault(l, "reset.soft-reset-renegotiates");

    if (!f)
        return false;
    synth_to(l, l->now_ns + synth_amount_ns(f, 400 * MS_NS));
    synth_blame_next(l, f, l->source);
    return true;
}

void faults_reset_dip(struct life *l)
{
    bool                   fixed = l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_FIXED;
    const struct injected *f = fixed && l->plan->instrument.power ? synth_fault(l, "reset.soft-reset-keeps-vbus") : NULL;
    int32_t                level = wave_end(&l->vbus);

    if (!f)
        return;
    /* The contract's window ends 5 % and half a volt below it. */
    synth_blame_reading(l, f, l->source, l->now_ns, false, level / 100 * 95 - 500000);
    wave_set(&l->vbus, l->now_ns + MS_NS, l->now_ns + 2 * MS_NS, level / 4 * 3);
    wave_set(&l->vbus, l->now_ns + 42 * MS_NS, l->now_ns + 44 * MS_NS, level);
    synth_idle(l, 50000);
}

static bool out_of_nothing(struct life *l)
{
    const struct injected *f = synth_fault(l, "reset.unexplained");
    bool pps = l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS;

    if (!f)
        return true;
    /* Whatever may explain it lies farther back than 6 s, with a programmable supply 16 s. A mark is the last of it. */
    synth_put_mark(l, RECORD_NOTE, 0, "nothing from here on");
    if (!synth_live_until(l, l->now_ns + synth_amount_ns(f, (pps ? 17 : 7) * (int64_t)SECOND_NS)))
        return false;
    synth_blame_next(l, f, PLAYER_LINE);
    return synth_hard_reset(l, sink_of(l));
}

static bool by_the_sink(struct life *l)
{
    unsigned               sink = sink_of(l);
    const struct injected *f = l->plug_known && !l->epr_mode && l->dfp != sink && l->vconn != sink ? synth_fault(l, "reset.cable-reset") : NULL;

    if (!f)
        return true;
    synth_open_exchange(l, sink);
    synth_blame_next(l, f, PLAYER_LINE);
    synth_signal(l, sink, RECORD_CABLE_RESET);
    synth_ids_reset(l, SET_SOP1);
    synth_ids_reset(l, SET_SOP2);
    synth_idle(l, synth_amount_ns(f, 400000) / 1000);
    return synth_request(l, l->request);
}

bool faults_reset_idle(struct life *l)
{
    return by_the_sink(l) && out_of_nothing(l);
}
