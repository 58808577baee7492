/* Soft_Reset, Hard Reset, Cable Reset, and how all begins anew. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

enum { MS_NS = 1000000, MOVED_UV = 200000, VSAFE0V_UV = 800000, VSAFE5V_LEAST_UV = 4750000, STEP_FROM_UV = 2000000, STEP_UV = 400000, STEP_NS = 100000 };

bool synth_soft_reset(struct life *l, unsigned player)
{
    bool                   contract = l->contract;
    const struct injected *f;

    synth_ids_reset(l, SET_SOP);
    if (!synth_say_control(l, player, C_SOFT_RESET))
        return false;
    if (faults_soft_reset_refused(l, player))
        return l->contract;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, other_of(player));
    if (other_of(player) == l->source && (f = synth_fault(l, "message.id-after-reset"))) {
        l->next_id[SET_SOP][l->source] = 5;
        synth_blame_next(l, f, l->source);
    }
    if (!synth_say_control(l, other_of(player), C_ACCEPT))
        return false;
    faults_reset_dip(l);
    if (faults_reset_anew(l))
        return synth_negotiate(l, 0);
    if (contract && revision_3(l)) {
        int64_t accepted = l->now_ns;

        synth_idle(l, 1000);
        if (l->rp != RP_1_5)
            synth_rp(l, RP_1_5);
        l->rp_ok_ns = INT64_MAX;
        synth_wait_from(l, l->rp_since_ns, TIMER_SINK_TX, l->source);
        if (l->now_ns < accepted)
            l->now_ns = accepted;
    } else {
        synth_wait(l, TIMER_SOFT_RESET_CAPS, l->source);
    }
    return synth_negotiate(l, 0);
}

bool synth_soft_reset_plug(struct life *l, unsigned set)
{
    struct say m = say_control(l->vconn, C_SOFT_RESET), reply = say_control(PLAYER_PLUG, C_ACCEPT);

    if (!(set == SET_SOP1 ? l->plug_known : l->far_known))
        return true;
    synth_open_exchange(l, l->vconn);
    m = say_control(l->vconn, C_SOFT_RESET);
    *(set == SET_SOP1 ? &l->plug_new_host : &l->far_new_host) = false;
    synth_ids_reset(l, set);
    m.set = reply.set = (uint8_t)set;
    if (!synth_say(l, &m))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, PLAYER_PLUG);
    return synth_say(l, &reply);
}

bool synth_cable_reset(struct life *l)
{
    if (!l->plug_known || l->dfp != l->vconn)
        return true;
    synth_open_exchange(l, l->vconn);
    synth_signal(l, l->vconn, RECORD_CABLE_RESET);
    synth_ids_reset(l, SET_SOP1);
    synth_ids_reset(l, SET_SOP2);
    l->plug_new_host = l->far_new_host = false;
    synth_idle(l, 20000);
    return synth_discover_cable(l, l->vconn);
}

/* What a Hard Reset leaves of the state. */
static void forget(struct life *l)
{
    for (unsigned set = 0; set < 3; set++)
        synth_ids_reset(l, set);
    l->contract = l->epr_mode = l->in_mode = l->limiting = false;
    l->agreed = l->position = 0;
    l->dfp = l->vconn = l->source;
    l->plug_new_host = l->far_new_host = false;
    l->spoken[0] = l->spoken[1] = true;
}

bool synth_hard_reset(struct life *l, unsigned player)
{
    bool    epr = l->epr_mode;
    int32_t from_uv;
    int64_t end, fall, zero, rise, natural;

    synth_signal(l, player, RECORD_HARD_RESET);
    if (faults_reset_ignored(l, player))
        return false;
    faults_reset_again(l, player);
    end = l->now_ns;
    from_uv = wave_end(&l->vbus);
    natural = synth_discharge_ns(l, from_uv > STEP_FROM_UV ? from_uv - STEP_UV : from_uv);
    natural += natural && from_uv > STEP_FROM_UV ? STEP_NS : 0;
    synth_load(l, natural ? 0 : 200); /* it takes a load to bring VBUS down, or the source does it */
    forget(l);
    if (faults_volt_stays_on(l)) {
        l->contract_mv = 5000;
        return synth_first_offer(l);
    }
    fall = end + synth_draw_vbus_ns(l, TIMER_HARD_RESET_RESPONSE, end, false, from_uv - MOVED_UV);
    zero = fall + synth_draw_off_ns(l, TIMER_SAFE_0V, fall, false, VSAFE0V_UV, natural);
    int32_t floor_uv = faults_volt_off(l, end, &zero);

    /* zero is where VBUS crosses 0.8 V; it goes on to 0 V. */
    /* It begins by a step, so that it shows when. */
    if (from_uv > STEP_FROM_UV) {
        from_uv -= STEP_UV;
        wave_set(&l->vbus, fall, fall + STEP_NS, from_uv);
        fall += STEP_NS;
    }
    if (natural && floor_uv == 0)
        synth_vbus_discharge(l, fall, from_uv, zero);
    else
        wave_set(&l->vbus, fall, fall + (zero - fall) / 1000 * (from_uv - floor_uv) / (from_uv > 1000000 ? from_uv - 800000 : from_uv) * 1000, floor_uv);
    rise = zero + synth_draw_vbus_ns(l, epr ? TIMER_SRC_RECOVER_EPR : TIMER_SRC_RECOVER_SPR, zero, true, VSAFE0V_UV);
    l->vsafe5v_ns = rise + synth_draw_vbus_ns(l, TIMER_TURN_ON, rise, true, VSAFE5V_LEAST_UV);
    faults_reset_return(l, zero, &rise);
    wave_set(&l->ibus, zero, zero + MS_NS, 0);
    synth_to(l, rise - (l->vsafe5v_ns - rise) / 4);
    synth_vbus_rise(l, rise, l->vsafe5v_ns);
    synth_rp(l, RP_3_0);
    synth_to(l, l->vsafe5v_ns + chance_between(&l->chance, 2, 150) * MS_NS);
    l->contract_mv = 5000;
    if (!faults_reset_restart(l, end))
        return false;
    return faults_reset_contract(l, end) ? l->contract : synth_first_offer(l);
}
