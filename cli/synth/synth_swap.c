/* Swaps of power role, data role and VCONN; Data_Reset and Enter_USB. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000 };

static unsigned opener(struct life *l, const struct step *s)
{
    return s->from == WHO_SOURCE ? l->source : s->from == WHO_SINK ? sink_of(l) : chance_below(&l->chance, 2);
}

/* The question and its answer; *go_on: it was accepted. */
static bool asked(struct life *l, const struct step *s, unsigned player, unsigned type, bool able, bool *go_on)
{
    unsigned no = revision_3(l) ? C_NOT_SUPPORTED : C_REJECT, answer = able ? C_ACCEPT : no;

    *go_on = false;
    synth_open_exchange(l, player);
    if (!synth_say_control(l, player, type))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, other_of(player));
    if (s->answer == ANSWER_REJECT || (s->answer == ANSWER_WAIT && type != C_DATA_RESET) || (s->answer == ANSWER_NOT_SUPPORTED && revision_3(l)))
        answer = s->answer == ANSWER_REJECT ? C_REJECT : s->answer == ANSWER_WAIT ? C_WAIT : C_NOT_SUPPORTED;
    *go_on = answer == C_ACCEPT;
    return synth_say_control(l, other_of(player), answer);
}

static void roles_exchanged(struct life *l)
{
    l->source = sink_of(l);
    l->contract = false;
    l->position = 0;
    synth_ids_reset(l, SET_SOP);
}

bool synth_pr_swap(struct life *l, const struct step *s)
{
    bool        go_on, accepted, able = l->partner[0].dual_power && l->partner[1].dual_power;
    unsigned    old = l->source;
    struct step own = *s;

    if (!l->contract || l->epr_mode || !able)
        return true;
    if (!faults_swap_hidden_flag(l, &accepted))
        return false;
    if (accepted)
        own.answer = ANSWER_ACCEPT;
    if (!asked(l, &own, opener(l, s), C_PR_SWAP, able, &go_on) || !go_on)
        return go_on;
    synth_load(l, 0);
    if (faults_swap_never_off(l) || !faults_swap_other_first(l))
        return false;
    int64_t off = l->now_ns + synth_draw_ns(l, TIMER_PR_SWAP_OFF, old);

    if (!faults_swap_vbus_stays(l, off))
        wave_set(&l->vbus, l->now_ns + 2 * MS_NS, l->now_ns + (off - l->now_ns) * 3 / 4, 0);
    synth_to(l, off);
    l->source = other_of(old); /* the old source speaks as a sink already */
    if (!synth_say_control(l, old, C_PS_RDY))
        return false;
    int64_t on = l->now_ns + synth_draw_ns(l, TIMER_PR_SWAP_ON, l->source);

    synth_vbus(l, l->now_ns + MS_NS, l->now_ns + (on - l->now_ns) * 3 / 4, 5000);
    synth_to(l, on);
    if (!synth_say_control(l, l->source, C_PS_RDY))
        return false;
    l->source = old;
    roles_exchanged(l);
    l->contract_mv = 5000;
    synth_rp(l, RP_3_0);
    synth_wait(l, TIMER_PR_SWAP_START, l->source);
    return synth_negotiate(l, 0);
}

bool synth_fr_swap(struct life *l, const struct step *s)
{
    unsigned old = l->source;

    (void)s;
    if (!l->contract || l->epr_mode || l->contract_mv < 5000 || !revision_3(l) || !l->partner[0].dual_power || !l->partner[1].dual_power ||
        !l->partner[old].fast_swap)
        return true;
    synth_open_exchange(l, sink_of(l));
    if (!synth_say_control(l, sink_of(l), C_FR_SWAP))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, old);
    if (!synth_say_control(l, old, C_ACCEPT))
        return false;
    synth_load(l, 0);
    if (faults_swap_never_off_fast(l))
        return false;
    synth_vbus(l, l->now_ns, l->now_ns + 10 * MS_NS, 5000);
    faults_swap_dip(l);
    synth_wait(l, TIMER_FR_SWAP, old);
    l->source = other_of(old);
    if (!synth_say_control(l, old, C_PS_RDY))
        return false;
    synth_idle(l, chance_between(&l->chance, 1000, 10000));
    if (!synth_say_control(l, l->source, C_PS_RDY))
        return false;
    l->source = old;
    roles_exchanged(l);
    l->contract_mv = 5000;
    synth_rp(l, RP_3_0);
    synth_wait(l, TIMER_PR_SWAP_START, l->source);
    return synth_negotiate(l, 0);
}

bool synth_dr_swap(struct life *l, const struct step *s)
{
    bool go_on;

    if (!l->contract || l->in_mode)
        return true;
    if (!asked(l, s, opener(l, s), C_DR_SWAP, l->partner[0].dual_data && l->partner[1].dual_data, &go_on))
        return false;
    if (!go_on)
        return true;
    l->dfp = other_of(l->dfp);
    l->role_settling = 1u << PLAYER_FIRST | 1u << PLAYER_SECOND;
    return faults_swap_keeps_data_role(l);
}

bool synth_vconn_swap(struct life *l, const struct step *s)
{
    bool                   go_on;
    unsigned               player = opener(l, s), old;
    int64_t                accepted;
    const struct injected *f;

    if (!l->contract)
        return true;
    if (!asked(l, s, player, C_VCONN_SWAP, l->partner[other_of(player)].supports & SUPPORT_VCONN_SWAP, &go_on))
        return false;
    if (!go_on)
        return true;
    accepted = l->now_ns;
    f = faults_swap_wrong_vconn(l);
    old = l->vconn;
    l->vconn = other_of(l->vconn);
    l->plug_new_host = l->far_new_host = true;
    synth_wait(l, synth_both(l, EDITION_3_1) ? TIMER_VCONN_ON_R31 : TIMER_VCONN_ON, l->vconn);
    faults_swap_late_vconn(l, accepted);
    if (f)
        synth_blame_next(l, f, old);
    return synth_say_control(l, f ? old : l->vconn, C_PS_RDY);
}

bool synth_data_reset(struct life *l, const struct step *s)
{
    bool     go_on;
    unsigned player = opener(l, s);

    if (!l->contract || l->epr_mode || !revision_3(l) || l->dfp != l->vconn)
        return true;
    if (!asked(l, s, player, C_DATA_RESET, l->partner[other_of(player)].supports & SUPPORT_DATA_RESET, &go_on))
        return false;
    if (!go_on)
        return true;
    l->in_mode = false;
    synth_wait(l, TIMER_DATA_RESET, l->dfp);
    return synth_say_control(l, l->dfp, C_DATA_RESET_COMPLETE);
}

bool synth_enter_usb(struct life *l, const struct step *s)
{
    uint32_t word = UINT32_C(2) << 28 | UINT32_C(2) << 21 | UINT32_C(2) << 17;
    unsigned who = other_of(l->dfp);

    if (!l->contract || !revision_3(l))
        return true;
    synth_open_exchange(l, l->dfp);
    if (!synth_say_data(l, l->dfp, D_ENTER_USB, 1, &word))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, who);
    if (s->answer == ANSWER_REJECT || s->answer == ANSWER_WAIT)
        return synth_say_control(l, who, s->answer == ANSWER_REJECT ? C_REJECT : C_WAIT);
    return synth_say_control(l, who, l->partner[who].supports & SUPPORT_ENTER_USB ? C_ACCEPT : C_NOT_SUPPORTED);
}
