/* A step of a scenario, and the steps of a random life. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

enum { MS_NS = 1000000 };

static unsigned from_of(struct life *l, const struct step *s)
{
    return s->from == WHO_SOURCE ? l->source : s->from == WHO_SINK ? (unsigned)sink_of(l) : chance_below(&l->chance, 2);
}

/* A reset that the bench asks for, and says so: a cause that the trace shows. */
static void told(struct life *l, const struct step *s, const char *text)
{
    if (s->unexplained)
        return;
    /* Long enough after anything that it could be thought to answer, vendor defined messages above all. */
    synth_live_until(l, l->now_ns + chance_between(&l->chance, 1200, 1500) * MS_NS);
    /* In a PPS contract the last Request must not lie far back, or the reset would look like the end of patience. */
    if (l->contract && l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS) {
        synth_open_exchange(l, sink_of(l));
        (void)synth_repeat_request(l);
    }
    synth_put_mark(l, RECORD_NOTE, 0, text);
    synth_live_until(l, l->now_ns + chance_between(&l->chance, 5, 200) * MS_NS);
}

static bool alone(struct life *l, const struct step *s)
{
    int64_t                rise, count = s->count ? s->count : 52;
    const struct injected *f;

    if (l->attached)
        return true;
    synth_idle(l, 50000);
    l->attached = true;
    l->rp_since_ns = l->now_ns;
    synth_rp(l, RP_3_0);
    rise = l->now_ns + synth_draw_ns(l, TIMER_VBUS_ON, l->source);
    synth_vbus(l, rise, rise + 50 * MS_NS, 5000);
    synth_to(l, rise + 100 * MS_NS);
    f = faults_caps_given_up(l, &count);
    for (int64_t k = 0; k < count; k++) {
        struct say m;

        synth_offer_make(l);
        m = say_data(l->source, 1, l->offer_count, l->offer);
        synth_say_unheard(l, &m);
        synth_wait_from(l, l->sent_end_ns, TIMER_CAPS_INTERVAL, l->source);
    }
    if (f)
        synth_blame_sent(l, f, l->source);
    synth_idle(l, 1500000);
    synth_detach(l);
    return true;
}

static bool reset_step(struct life *l, const struct step *s)
{
    if (s->act == DO_SOFT_RESET && s->set != SET_SOP)
        return synth_soft_reset_plug(l, s->set);
    if (s->act == DO_CABLE_RESET)
        return synth_cable_reset(l);
    if (!l->contract)
        return true;
    told(l, s, s->act == DO_HARD_RESET ? "hard reset by the bench" : "soft reset by the bench");
    if (s->act == DO_HARD_RESET) {
        synth_close_exchange(l);
        return synth_hard_reset(l, from_of(l, s));
    }
    unsigned player = from_of(l, s);

    synth_open_exchange(l, player);
    return synth_soft_reset(l, player);
}

static bool bench_step(struct life *l, const struct step *s)
{
    switch (s->act) {
    case DO_WAIT:
        l->idle_until_ns = l->now_ns + s->ms * MS_NS;
        return true;
    case DO_MARK:
        synth_put_mark(l, RECORD_NOTE, 0, s->text);
        return true;
    case DO_LOAD:
        synth_put_mark(l, RECORD_LOAD_SET, (int32_t)s->ma, "");
        l->load_ma = (int32_t)s->ma;
        synth_load(l, l->contract && l->load_ma > l->contract_ma ? l->contract_ma : l->load_ma);
        return true;
    case DO_INPUT_OFF:
        return l->attached ? synth_input_off(l) : true;
    case DO_DETACH:
        if (l->attached)
            synth_detach(l);
        return true;
    case DO_CAPS_ALONE:
        return alone(l, s);
    default:
        return l->attached ? true : synth_attach(l);
    }
}

bool synth_step_do(struct life *l, const struct step *s)
{
    switch ((enum step_do)s->act) {
    case DO_ATTACH: case DO_WAIT: case DO_MARK: case DO_LOAD: case DO_DETACH: case DO_INPUT_OFF: case DO_CAPS_ALONE: return bench_step(l, s);
    case DO_HARD_RESET: case DO_SOFT_RESET: case DO_CABLE_RESET: return reset_step(l, s);
    case DO_REQUEST: return l->contract ? synth_request_step(l, s) : true;
    case DO_RENEGOTIATE: return l->contract && !l->epr_mode ? synth_renegotiate(l, s) : true;
    case DO_GET: return synth_get(l, s);
    case DO_PR_SWAP: return synth_pr_swap(l, s);
    case DO_DR_SWAP: return synth_dr_swap(l, s);
    case DO_VCONN_SWAP: return synth_vconn_swap(l, s);
    case DO_FR_SWAP: return synth_fr_swap(l, s);
    case DO_DATA_RESET: return synth_data_reset(l, s);
    case DO_ENTER_USB: return synth_enter_usb(l, s);
    case DO_VDM: return synth_vdm(l, s);
    case DO_SECURITY: case DO_FIRMWARE: return synth_long_message(l, s);
    case DO_DISCOVER_CABLE:
        if (!l->contract || l->plug.kind < CABLE_PASSIVE)
            return true;
        if (s->set == SET_SOP2 && !plug_far(l))
            return true;
        synth_open_exchange(l, l->vconn);
        return s->set == SET_SOP2 ? synth_discover_far(l, l->vconn) : synth_discover_cable(l, l->vconn);
    case DO_EPR_ENTER: return synth_epr_enter(l, s);
    case DO_EPR_REQUEST: return synth_epr_request(l, s);
    case DO_EPR_KEEPALIVE: return l->epr_mode ? synth_live_until(l, l->now_ns + (s->ms ? s->ms : 1000) * MS_NS) : true;
    case DO_EPR_EXIT: return synth_epr_exit(l, from_of(l, s));
    case DO_PPS_KEEPALIVE: return l->contract ? synth_live_until(l, l->now_ns + (s->ms ? s->ms : 11000) * MS_NS) : true;
    case DO_ALERT: return synth_alert(l, s);
    case DO_OVERLOAD: return synth_overload(l, s);
    case DO_LIMIT: case DO_FOLD: return synth_limit(l, s);
    case STEP_DOS: break;
    }
    return true;
}

/* A small step of the programmable voltage in force: its timer is another. */
static void small_step_draw(struct life *l, struct step *s)
{
    unsigned supply = l->contract && l->position ? pdo_supply(l->offer[l->position - 1]) : SUPPLY_FIXED;
    int      grid = supply == SUPPLY_PPS ? 20 : 100;

    if (s->act != DO_REQUEST || supply < SUPPLY_PPS || !chance_in(&l->chance, 1, 2))
        return;
    s->position = l->position;
    s->mv = l->contract_mv + grid * (int64_t)chance_between(&l->chance, -5, 5);
}

/*
 * What only readings show, and by a stream of chance of its own: a programmable supply at its limit, or at an end of its range; a source
 * that loses its input.
 */
static void volt_step_draw(struct life *l, struct step *s)
{
    unsigned position = 0;

    /* Where CC is not recorded, a contract seems to go on while its VBUS falls. */
    if (s->act == DO_DETACH && l->plan->instrument.cc && l->plan->ports[l->index].output.given && chance_in(&l->volts, 1, 2))
        s->act = DO_INPUT_OFF;
    if (!l->plan->instrument.power || s->act == DO_INPUT_OFF || !l->contract || l->epr_mode || s->act == DO_DETACH)
        return;
    if (synth_in_pps(l) && chance_in(&l->volts, 1, 5)) {
        *s = (struct step){ .act = DO_LIMIT, .ms = chance_between(&l->volts, 200, 900), .asks = chance_in(&l->volts, 1, 2) };
        return;
    }
    for (unsigned k = 0; k < l->offer_count; k++)
        if (pdo_supply(l->offer[k]) == SUPPLY_PPS)
            position = k + 1;
    if (s->act != DO_REQUEST || s->position || !position || !chance_in(&l->volts, 1, 4))
        return;
    s->position = position;
    s->mv = chance_between(&l->volts, 0, 5) * 20;
    s->mv = chance_in(&l->volts, 1, 2) ? pdo_min_mv(l->offer[position - 1]) + s->mv : pdo_max_mv(l->offer[position - 1]) - s->mv;
}

bool synth_step_draw(struct life *l, struct step *s)
{
    static const unsigned acts[] = { DO_WAIT, DO_REQUEST, DO_REQUEST, DO_REQUEST, DO_RENEGOTIATE, DO_GET, DO_GET, DO_GET, DO_GET, DO_HARD_RESET, DO_SOFT_RESET, DO_CABLE_RESET,
                                     DO_PR_SWAP, DO_DR_SWAP, DO_VCONN_SWAP, DO_FR_SWAP, DO_DATA_RESET, DO_ENTER_USB, DO_VDM, DO_VDM, DO_SECURITY,
                                     DO_FIRMWARE, DO_DISCOVER_CABLE, DO_EPR_ENTER, DO_EPR_ENTER, DO_EPR_REQUEST, DO_EPR_EXIT,
                                     DO_EPR_EXIT, DO_ALERT, DO_LOAD, DO_DETACH };

    if ((int64_t)l->step >= l->plan->ports[l->index].random_count)
        return false;
    *s = (struct step){ .act = l->step == 0 || !l->attached ? (chance_in(&l->chance, 1, 12) ? DO_CAPS_ALONE : DO_ATTACH) : acts[chance_below(&l->chance, sizeof acts / sizeof acts[0])] };
    l->step++;
    s->ms = chance_between(&l->chance, 100, 4000);
    s->ma = s->act == DO_LOAD ? chance_between(&l->chance, 50, 3000) : 0;
    s->message = chance_below(&l->chance, synth_questions());
    s->command = 1 + chance_below(&l->chance, 7);
    s->waits = s->act == DO_REQUEST && !l->epr_mode && chance_in(&l->chance, 1, 5) ? 1 : 0;
    s->busy = s->act == DO_VDM && s->command <= 3 && chance_in(&l->chance, 1, 4) ? 1 : 0;
    s->set = s->act == DO_SOFT_RESET ? chance_below(&l->chance, 3) : s->act == DO_DISCOVER_CABLE && chance_in(&l->chance, 1, 2) ? SET_SOP2 : SET_SOP;
    small_step_draw(l, s);
    if (chance_in(&l->chance, 1, 6))
        s->answer = chance_in(&l->chance, 1, 2) ? ANSWER_REJECT : ANSWER_WAIT;
    volt_step_draw(l, s);
    return true;
}
