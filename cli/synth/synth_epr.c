/* Extended power range: in, alive in it, and out. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

enum { PPS_MOST_MV = 21000 }; /* the most that there is outside EPR mode */

static bool mode_message(struct life *l, unsigned player, unsigned action, unsigned data)
{
    uint32_t word = (uint32_t)action << 24 | (uint32_t)data << 16;

    return synth_say_data(l, player, D_EPR_MODE, 1, &word);
}

static bool can_enter(struct life *l)
{
    const struct partner *source = &l->partner[l->source], *sink = &l->partner[sink_of(l)];

    if (!l->contract || l->epr_mode || !revision_3(l) || !synth_both(l, EDITION_3_1) || !source->epr_w || !source->epr_count || !sink->epr_w ||
        !(l->offer[0] & PDO_EPR) || !(l->request & RDO_EPR))
        return false;
    return (l->plug_known && l->plug.epr && l->plug.max_volt == 3) || l->plan->ports[l->index].captive || faults_epr_takes_plug(l);
}

/* SinkTxNG for long enough, before the source speaks unasked. */
static void hold_line(struct life *l)
{
    synth_idle(l, 1000);
    if (l->rp != RP_1_5)
        synth_rp(l, RP_1_5);
    l->rp_ok_ns = INT64_MAX;
    synth_wait_from(l, l->rp_since_ns, TIMER_SINK_TX, l->source);
}

static bool enter_answered(struct life *l)
{
    l->entry_ns = l->now_ns;
    if (faults_epr_silent(l))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, l->source);
    if (!faults_epr_unacknowledged(l)) {
        if (!mode_message(l, l->source, EPR_ENTER_ACKNOWLEDGED, 0))
            return false;
        synth_idle(l, chance_between(&l->chance, 500, 100000));
    }
    faults_epr_late(l);
    faults_epr_succeeds(l);
    return mode_message(l, l->source, EPR_ENTER_SUCCEEDED, 0);
}

/* A source that has not said that it can begins all the same, and breaks off: for no cause that is told. */
static bool enter_fails(struct life *l)
{
    const struct injected *f = l->flag_fault;

    l->flag_fault = NULL;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, l->source);
    synth_blame_next(l, f, l->source);
    if (!mode_message(l, l->source, EPR_ENTER_ACKNOWLEDGED, 0))
        return false;
    synth_idle(l, chance_between(&l->chance, 500, 100000));
    if (!mode_message(l, l->source, EPR_ENTER_FAILED, 0))
        return false;
    synth_open_exchange(l, l->source); /* what was hidden is told again */
    return synth_negotiate(l, 0);
}

/* A source that cannot just now says so, at once or after it has begun: EPR_Mode Enter Failed, 4: unable at this time (Chromium EC usb_pd.h). */
static bool enter_refused(struct life *l)
{
    enum { UNABLE_NOW = 4 };

    synth_wait(l, TIMER_RECEIVER_RESPONSE, l->source);
    if (chance_in(&l->chance, 1, 2)) {
        if (!mode_message(l, l->source, EPR_ENTER_ACKNOWLEDGED, 0))
            return false;
        synth_idle(l, chance_between(&l->chance, 500, 100000));
    }
    return mode_message(l, l->source, EPR_ENTER_FAILED, UNABLE_NOW);
}

bool synth_epr_enter(struct life *l, const struct step *s)
{
    unsigned sink = sink_of(l);

    if (!can_enter(l))
        return true;
    if (!faults_epr_before_entry(l) || !faults_caps_before_entry(l))
        return false;
    synth_open_exchange(l, sink);
    if (!mode_message(l, sink, EPR_ENTER, l->partner[sink].epr_w))
        return false;
    if (l->flag_fault)
        return enter_fails(l);
    if (s->answer == ANSWER_REJECT)
        return enter_refused(l);
    if (!enter_answered(l))
        return false;
    l->epr_mode = true;
    hold_line(l);
    if (!faults_caps_in_mode(l))
        return false;
    faults_epr_offer(l);
    return synth_negotiate(l, 0);
}

bool synth_keep_alive(struct life *l)
{
    const uint8_t ask[2] = { EC_EPR_KEEPALIVE, 0 }, answer[2] = { EC_EPR_KEEPALIVE_ACK, 0 };

    synth_to(l, l->done_ns + 1000000); /* it does not follow on the heels of what just ended */
    if (l->rp != RP_3_0) {
        synth_rp(l, RP_3_0);
        synth_idle(l, 9000);
    }
    if (!synth_say_extended(l, sink_of(l), SET_SOP, E_EXTENDED_CONTROL, ask, 2) || faults_epr_keep_alive(l))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, l->source);
    return synth_say_extended(l, l->source, SET_SOP, E_EXTENDED_CONTROL, answer, 2);
}

bool synth_epr_request(struct life *l, const struct step *s)
{
    return l->epr_mode ? synth_request_step(l, s) : true;
}

bool synth_epr_exit(struct life *l, unsigned player)
{
    struct step            low = { .position = 1 };
    const struct injected *f;

    if (!l->epr_mode)
        return true;
    f = faults_epr_exit(l);
    if (!f && (l->position > SPR_MAX || l->contract_mv > PPS_MOST_MV) && !synth_request_step(l, &low))
        return false;
    synth_open_exchange(l, player);
    if (!mode_message(l, player, EPR_EXIT, 0))
        return false;
    if (f)
        synth_blame_sent(l, f, l->source);
    l->epr_mode = false;
    hold_line(l);
    faults_epr_after_exit(l);
    return synth_negotiate(l, 0);
}
