/* Faults of the extended power range: in, in it, and out. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_plan.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, HIGH_MV = 24000, SPR_MOST_UV = 22050000, SPR_MOST_MV = 20000 };

const struct synth_fault synth_faults_epr[] = {
    { "epr.entry-order", NULL, "source", "Enter Succeeded comes without Enter Acknowledged.", "epr.entry-order" },
    { "epr.entry-order", "late", "source", "Enter Succeeded begins the amount given after Enter was acknowledged; 600 ms if none is.", "epr.entry-order" },
    { "epr.entry-order", "silent", "source", "Enter is acknowledged, and nothing comes of it; the sink sends a Soft_Reset.", "epr.entry-order" },
    { "epr.entry-needs-cable", NULL, "source", "The plug says that it is not made for EPR mode; the source enters nevertheless.",
      "epr.entry-needs-cable" },
    { "epr.entry-needs-capable", NULL, "source", "The last Request before Enter has EPR Capable clear; the source enters nevertheless.",
      "epr.entry-needs-capable" },
    { "epr.caps-in-mode", NULL, "source", "EPR_Source_Capabilities follow Enter Succeeded after the amount given; 300 ms if none is.",
      "epr.caps-in-mode" },
    { "epr.spr-caps-in-mode", NULL, "source", "Source_Capabilities are sent in EPR mode; the sink sends a Hard Reset.", "epr.spr-caps-in-mode" },
    { "epr.request-kind", NULL, "sink", "A Request is sent in EPR mode, and accepted.", "epr.request-kind" },
    { "epr.keepalive-ack", NULL, "source", "An EPR_KeepAlive is not answered; the sink sends a Hard Reset.", "epr.keepalive-ack" },
    { "epr.exit", NULL, "source", "EPR mode is left from a contract above 20 V, and the source goes on with Source_Capabilities.", "epr.exit" },
    { "epr.exit", "late", "source", "Source_Capabilities come the amount given after Exit; 400 ms if none is.", "epr.exit" },
    { "epr.high-voltage-outside", NULL, "source", "A contract after EPR mode begins, and VBUS goes to 24 V.", "epr.high-voltage-outside" },
    { NULL, NULL, NULL, NULL, NULL },
};

/* Is EPR mode to be entered before this attach ends? */
static bool entry_ahead(const struct life *l)
{
    const struct port_plan *p = &l->plan->ports[l->index];

    for (unsigned k = l->step; k < p->step_count && p->steps[k].act != DO_DETACH; k++)
        if (p->steps[k].act == DO_EPR_ENTER)
            return true;
    return false;
}

void faults_epr_plug(struct life *l)
{
    const struct injected *f = l->plug.epr && entry_ahead(l) ? synth_fault(l, "epr.entry-needs-cable") : NULL;

    if (!f)
        return;
    l->plug.epr = false;
    l->plug_fault = f;
}

bool faults_epr_takes_plug(struct life *l)
{
    /* Another plug would be a fault of what is offered, too. */
    if (!l->plug_fault && l->plug_known && l->plug.max_ma == 5000)
        l->plug_fault = synth_fault(l, "epr.entry-needs-cable");
    return l->plug_fault != NULL;
}

bool faults_epr_before_entry(struct life *l)
{
    const struct injected *f = synth_fault(l, "epr.entry-needs-capable");

    if (!f)
        return true;
    synth_open_exchange(l, sink_of(l));
    if (!synth_request(l, l->request & ~RDO_EPR))
        return false;
    l->entry_fault = f;
    return true;
}

bool faults_epr_unacknowledged(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "epr.entry-order", "");

    if (f)
        synth_blame_next(l, f, l->source);
    return f != NULL;
}

void faults_epr_late(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "epr.entry-order", "late");

    if (!f)
        return;
    synth_to(l, l->entry_ns + synth_amount_ns(f, 600 * MS_NS));
    synth_blame_next(l, f, l->source);
}

/* The sink gives up when tEnterEPR has run out. */
bool faults_epr_silent(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "epr.entry-order", "silent");

    if (!f)
        return false;
    synth_blame_sent(l, f, l->source);
    synth_wait(l, TIMER_ENTER_EPR, sink_of(l));
    (void)synth_soft_reset(l, sink_of(l));
    return true;
}

void faults_epr_succeeds(struct life *l)
{
    if (l->entry_fault)
        synth_blame_next(l, l->entry_fault, l->source);
    if (l->plug_fault && !l->plug_fault->who)
        synth_blame_next(l, l->plug_fault, l->source);
    l->entry_fault = NULL;
}

void faults_epr_offer(struct life *l)
{
    const struct injected *f = synth_fault(l, "epr.caps-in-mode");

    if (!f)
        return;
    synth_to(l, l->done_ns + synth_amount_ns(f, 300 * MS_NS));
    synth_blame_next(l, f, l->source);
}

const struct injected *faults_epr_exit(struct life *l)
{
    return l->position > SPR_MAX && l->contract_mv > SPR_MOST_MV ? synth_fault_just(l, "epr.exit", "") : NULL;
}

void faults_epr_after_exit(struct life *l)
{
    const struct injected *f = synth_fault_just(l, "epr.exit", "late");

    if (!f)
        return;
    synth_to(l, l->done_ns + synth_amount_ns(f, 400 * MS_NS));
    synth_blame_next(l, f, l->source);
}

bool faults_epr_plain_request(struct life *l, unsigned position)
{
    const struct injected *f = l->epr_mode && l->contract && position <= SPR_MAX ? synth_fault(l, "epr.request-kind") : NULL;

    if (f)
        synth_blame_next(l, f, sink_of(l));
    return f != NULL;
}

/* Only while the story waits: what it wanted to do next needs the contract that the reset ends. */
bool faults_epr_keep_alive(struct life *l)
{
    const struct injected *f = l->idle_until_ns > l->now_ns ? synth_fault(l, "epr.keepalive-ack") : NULL;

    if (!f)
        return false;
    synth_blame_sent(l, f, l->source);
    synth_wait(l, TIMER_PATIENCE_R32, sink_of(l));
    synth_hard_reset(l, sink_of(l));
    return true;
}

int32_t faults_epr_level(struct life *l, int32_t mv, int64_t ready_ns)
{
    bool                   able = l->partner[0].epr_w && l->partner[1].epr_w && l->plan->instrument.power;
    const struct injected *f = able && l->contract && !l->epr_mode && mv != l->contract_mv ? synth_fault(l, "epr.high-voltage-outside") : NULL;

    if (!f)
        return mv;
    /* A change counts as under way for another 50 ms. */
    synth_blame_reading(l, f, l->source, ready_ns + 50 * MS_NS, true, SPR_MOST_UV);
    if (f->plan->has_mv)
        l->vbus_ppm = 0; /* just that */
    return synth_amount_uv(f, HIGH_MV * 1000) / 1000;
}

bool faults_epr_idle(struct life *l)
{
    const struct injected *f = l->epr_mode ? synth_fault(l, "epr.spr-caps-in-mode") : NULL;

    if (!f)
        return true;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    if (!synth_say_data(l, l->source, D_SOURCE_CAPABILITIES, l->partner[l->source].source_count, l->offer))
        return false;
    synth_idle(l, 5000);
    synth_hard_reset(l, sink_of(l));
    return false;
}
