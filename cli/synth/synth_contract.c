/* From the attach to a contract, and from one contract to the next. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

#include "capture/record.h"

#include <string.h>

enum { MS_NS = 1000000, UNMARKED_MA = 3000, TRUSTED_MA = 5000, FULL_5V_MV = 4750, MOVED_UV = 200000, VSAFE0V_UV = 800000, VSAFE5V_LEAST_UV = 4750000 };

static int32_t cable_ma(const struct life *l)
{
    if (l->plan->ports[l->index].captive)
        return 5000;
    if (l->strong_fault)
        return TRUSTED_MA;
    return l->plug_known ? (int32_t)l->plug.max_ma : l->plug_trusted ? TRUSTED_MA : UNMARKED_MA;
}

void synth_offer_make(struct life *l)
{
    const struct partner *q = &l->partner[l->source];
    int32_t               most = cable_ma(l);
    unsigned              count = 0;
    bool                  r2 = l->agreed == REV_2 || !q->edition;

    memset(l->offer, 0, sizeof l->offer);
    if (l->epr_mode) {
        memcpy(l->offer, l->spr, l->spr_count * sizeof l->spr[0]);
        memcpy(l->offer + SPR_MAX, q->epr, q->epr_count * sizeof q->epr[0]);
        l->offer_count = q->epr_count ? SPR_MAX + q->epr_count : l->spr_count;
        return;
    }
    for (unsigned k = 0; k < q->source_count; k++) {
        uint32_t word = pdo_capped(q->source[k], most);

        if (r2 && word >> 30 == 3)
            continue;
        l->offer[count++] = word;
    }
    if (r2)
        l->offer[0] &= ~(PDO_UNCHUNKED | PDO_EPR);
    if (l->no_dual_power)
        l->offer[0] &= ~PDO_DUAL_POWER;
    l->offer_count = count;
}

static bool say_offer(struct life *l)
{
    uint8_t block[4 * OFFER_ROOM];

    if (!l->epr_mode)
        return synth_say_data(l, l->source, D_SOURCE_CAPABILITIES, l->offer_count, l->offer);
    for (unsigned k = 0; k < 4 * l->offer_count; k++)
        block[k] = (uint8_t)(l->offer[k / 4] >> 8 * (k % 4));
    return synth_say_extended(l, l->source, SET_SOP, E_EPR_SOURCE_CAPABILITIES, block, 4 * l->offer_count);
}

bool synth_tell_offer(struct life *l)
{
    bool heard;

    synth_offer_make(l);
    faults_caps_offer(l);
    if (!l->epr_mode) {
        l->spr_count = l->offer_count;
        memcpy(l->spr, l->offer, sizeof l->spr);
    }
    heard = say_offer(l);
    synth_offer_told(l);
    l->offers++;
    l->offer_ns = l->now_ns;
    if (l->contract && !l->asked)
        l->unasked_ns = l->now_ns;
    return heard;
}

static uint32_t request_flags(const struct life *l)
{
    const struct partner *q = &l->partner[sink_of(l)];
    uint32_t              flags = q->usb_comm ? RDO_USB_COMM : 0;

    if (!q->edition || l->agreed == REV_2 || !l->partner[l->source].edition)
        return flags;
    if (q->unchunked)
        flags |= RDO_UNCHUNKED;
    if (q->epr_w && q->edition >= EDITION_3_1 && (l->offer[0] & PDO_EPR))
        flags |= RDO_EPR;
    return flags;
}

/* A word that asks for this object within its limits; mv, ma 0: drawn. */
static uint32_t word_for(struct life *l, unsigned position, int32_t mv, int32_t ma)
{
    uint32_t    pdo = l->offer[position - 1], flags = request_flags(l);
    enum supply kind = pdo_supply(pdo);
    int32_t     low = pdo_min_mv(pdo), high = pdo_max_mv(pdo), step = kind == SUPPLY_PPS ? 20 : 100, most;

    if (mv == 0)
        mv = low + (int32_t)chance_between(&l->chance, 0, (high - low) / step) * step;
    mv = mv < low ? low : mv > high ? high : mv;
    most = pdo_max_ma(pdo, mv);
    if (ma == 0)
        ma = (int32_t)chance_between(&l->chance, most / 4, most);
    if (ma > most)
        ma = most; /* the step asks for more than is offered now */
    switch (kind) {
    case SUPPLY_FIXED: case SUPPLY_VARIABLE: return flags | asking_fixed(position, ma, most);
    case SUPPLY_BATTERY: return flags | asking_battery(position, pdo_max_mw(pdo) / 2, pdo_max_mw(pdo));
    case SUPPLY_PPS: return flags | asking_pps(position, mv, ma);
    case SUPPLY_EPR_AVS: case SUPPLY_SPR_AVS: return flags | asking_avs(position, mv, ma);
    case SUPPLY_RESERVED: break;
    }
    return flags | asking_fixed(1, 100, 100);
}

/* Of the fixed objects: every offer begins with one. */
static unsigned position_by_policy(const struct life *l, unsigned policy)
{
    unsigned best = 0;
    int64_t  most = -1;

    for (unsigned k = 0; k < l->offer_count; k++) {
        int64_t mv = pdo_max_mv(l->offer[k]), worth = policy == POLICY_MOST_VOLTAGE || mv == 0 ? mv : mv * pdo_max_ma(l->offer[k], (int32_t)mv);

        if (l->offer[k] && pdo_supply(l->offer[k]) == SUPPLY_FIXED && !synth_shunned(l, k + 1) && policy != POLICY_LEAST_VOLTAGE && worth > most) {
            most = worth;
            best = k;
        }
    }
    return best + 1;
}

/* Is this object there, does the sink know its kind, and does it reach so much? mv 0: any. */
static bool can_be_asked(const struct life *l, unsigned position, int32_t mv)
{
    uint32_t pdo = position <= l->offer_count ? l->offer[position - 1] : 0;

    if (pdo == 0 || synth_shunned(l, position) || (pdo_supply(pdo) >= SUPPLY_PPS && !synth_both(l, EDITION_3_0)))
        return false;
    return mv == 0 || pdo_supply(pdo) < SUPPLY_PPS || (mv >= pdo_min_mv(pdo) && mv <= pdo_max_mv(pdo));
}

uint32_t synth_any_request(struct life *l)
{
    unsigned policy = l->partner[sink_of(l)].policy, position;

    if (policy != POLICY_DRAWN) {
        position = position_by_policy(l, policy);
        return word_for(l, position, 0, pdo_max_ma(l->offer[position - 1], 0));
    }
    position = 1 + chance_below(&l->chance, l->offer_count);
    while (!can_be_asked(l, position, 0))
        position = 1 + chance_below(&l->chance, l->offer_count);
    return word_for(l, position, 0, 0);
}

/* Which time of the supply ends with PS_RDY. */
static enum synth_timer ready_timer(const struct life *l, uint32_t word, uint32_t pdo, bool same_object)
{
    int32_t step = asking_mv(word, pdo) - l->contract_mv;

    step = step < 0 ? -step : step;
    switch (pdo_supply(pdo)) {
    case SUPPLY_PPS:
        return same_object ? (step <= 500 ? TIMER_PPS_SMALL : TIMER_PPS_LARGE) : TIMER_PPS_ENTRY;
    case SUPPLY_SPR_AVS: case SUPPLY_EPR_AVS:
        return same_object ? (step <= 1000 ? TIMER_AVS_SMALL : TIMER_AVS_LARGE) : TIMER_AVS_ENTRY;
    case SUPPLY_FIXED: case SUPPLY_BATTERY: case SUPPLY_VARIABLE: case SUPPLY_RESERVED: break;
    }
    return l->epr_mode ? TIMER_READY_EPR : TIMER_READY_SPR;
}

/* How long VBUS takes to its new level: 0.5 to 10 mV/us, and no longer than there is time for. */
static int64_t ramp_ns(struct life *l, int64_t most_ns, int32_t mv)
{
    int64_t by_uv = (int64_t)mv * 1000 - wave_end(&l->vbus);
    int64_t ns = (by_uv < 0 ? -by_uv : by_uv) * 1000 / chance_between(&l->chance, 500, 10000);

    /* As steep as is said, to where this source puts it. */
    if (l->plan->ports[l->index].output.slew_uv_us)
        return synth_move_ns(l, 0, (int32_t)(by_uv + mv * l->vbus_ppm / 1000), most_ns);
    return ns < most_ns ? ns : most_ns;
}

/* What begins slowly begins earlier, so that it is seen to move when it should. */
static void begin_earlier(const struct life *l, struct move *m, int32_t mv)
{
    m->begin_ns -= synth_move_lag_ns(l, (mv > l->contract_mv ? mv - l->contract_mv : l->contract_mv - mv) * 1000, m->ramp_ns);
    if (m->begin_ns < l->now_ns)
        m->begin_ns = l->now_ns;
}

/* VBUS goes to where it was asked to, and PS_RDY says so: in a straight line, or as a fault has it. */
static void move_to(struct life *l, int64_t start_ns, int64_t ready_ns, int32_t mv, bool same, struct move_truth *truth)
{
    struct move m = { .begin_ns = start_ns, .ramp_ns = ramp_ns(l, (ready_ns - start_ns) * 2 / 3, mv) };
    int32_t     from_uv = wave_end(&l->vbus);

    begin_earlier(l, &m, mv);
    l->vbus_off_uv = same ? l->vbus_off_uv + faults_pps_step(l, mv - l->contract_mv) : 0;
    faults_volt_move(l, ready_ns, mv, &m);
    if (faults_volt_wave(l, &m, from_uv, mv))
        return;
    synth_vbus(l, m.begin_ns, m.begin_ns + m.ramp_ns, mv);
    synth_move_truth(l, from_uv, truth);
    if (m.peak_uv) {
        int64_t at_ns = m.begin_ns + m.ramp_ns + 5 * MS_NS;
        int32_t level = wave_end(&l->vbus);

        wave_set(&l->vbus, at_ns, at_ns + 100000, m.peak_uv);
        wave_set(&l->vbus, at_ns + 2 * MS_NS, at_ns + 2 * MS_NS + 100000, level);
    }
}

/* Within 5 % of what was asked for; of a variable or battery object anywhere between its ends, and 5 %. */
static void truth_window(uint32_t pdo, int32_t mv, struct move_truth *truth)
{
    bool wide = pdo_supply(pdo) == SUPPLY_VARIABLE || pdo_supply(pdo) == SUPPLY_BATTERY;

    truth->low_uv = (wide ? pdo_min_mv(pdo) : mv) * 950;
    truth->high_uv = (wide ? pdo_max_mv(pdo) : mv) * 1050;
}

static bool supply_and_ready(struct life *l, uint32_t word, uint32_t pdo, bool same_object)
{
    enum synth_timer timer = ready_timer(l, word, pdo, same_object);
    int64_t          accepted = l->now_ns, ready, start;
    int32_t          mv = asking_mv(word, pdo);
    struct move_truth truth = { 0 };

    synth_load(l, 0);
    if (l->limiting) /* what broke off led here */
        wave_set(&l->vbus, accepted, accepted + 100000, l->unlimited_uv);
    l->limiting = false;
    if (timer == TIMER_PPS_SMALL || timer == TIMER_PPS_LARGE || timer == TIMER_AVS_SMALL || timer == TIMER_AVS_LARGE || timer == TIMER_PPS_ENTRY ||
        timer == TIMER_AVS_ENTRY)
        start = accepted + 100000;
    else
        start = accepted + (mv == l->contract_mv ? 30 * MS_NS : synth_draw_vbus_ns(l, TIMER_SRC_TRANSITION, accepted, mv > l->contract_mv,
                                                                      wave_end(&l->vbus) + (mv > l->contract_mv ? MOVED_UV : -MOVED_UV)));
    ready = l->ready_at_ns ? l->ready_at_ns : accepted + synth_draw_ns(l, timer, l->source);
    l->ready_at_ns = 0;
    truth_window(pdo, mv, &truth);
    mv = faults_epr_level(l, mv, ready);
    if (ready > start && mv != l->contract_mv)
        move_to(l, start, ready, mv, same_object, &truth);
    synth_to(l, ready);
    l->contract_mv = mv;
    l->contract_ma = asking_ma(word, pdo);
    if (!synth_say_control(l, l->source, C_PS_RDY))
        return false;
    l->request = word;
    l->position = asking_position(word);
    l->contract = true;
    truth_contract(l, &truth);
    faults_pps_ready(l, ready);
    synth_idle(l, 20000);
    if (mv != asking_mv(word, pdo))
        synth_idle(l, 200000); /* long enough to be seen */
    synth_load(l, l->load_ma < l->contract_ma ? l->load_ma : l->contract_ma * 9 / 10);
    return true;
}

static bool supplied(struct life *l, uint32_t word, uint32_t pdo, bool same_object)
{
    bool done;

    l->powering = true;
    done = supply_and_ready(l, word, pdo, same_object);
    l->powering = false;
    return done;
}

bool synth_request(struct life *l, uint32_t word)
{
    uint32_t      pdo = l->offer[(asking_position(word) + OFFER_MAX - 1) % OFFER_MAX];
    struct asking a = { .words = { word, pdo }, .supply = word };
    unsigned      before = l->contract ? l->position : 0;
    bool          plain = !l->epr_mode || faults_epr_plain_request(l, asking_position(word));

    if (!l->agreed)
        l->agreed = l->partner[0].edition && l->partner[1].edition ? REV_3 : REV_2;
    faults_request_words(l, !plain, &a);
    if (!synth_say_data(l, sink_of(l), plain ? D_REQUEST : D_EPR_REQUEST, plain ? 1 : 2, a.words))
        return false;
    l->request_end_ns = l->sent_end_ns;
    l->request_done_ns = l->now_ns;
    if (faults_request_answer(l))
        return false;
    if (a.as == ASKED_REFUSED || !faults_volt_early(l, asking_mv(a.supply, pdo)))
        synth_wait(l, TIMER_SOURCE_RESPONSE, l->source);
    if (a.fault)
        synth_blame_next(l, a.fault, l->source);
    if (!synth_say_control(l, l->source, a.as == ASKED_REFUSED ? C_REJECT : C_ACCEPT) || a.as == ASKED_REFUSED || faults_ready(l) ||
        !supplied(l, a.supply, pdo, before == asking_position(word)))
        return false;
    l->request = word;
    return true;
}

bool synth_negotiate(struct life *l, uint32_t want)
{
    if (!synth_tell_offer(l))
        return false;
    if (faults_no_request(l))
        return false;
    synth_wait(l, TIMER_FIRST_REQUEST, sink_of(l));
    if (!synth_request(l, want ? want : synth_any_request(l)))
        return false;
    synth_close_exchange(l);
    return true;
}

/* Discover Identity, as this player puts it to a plug. */
static uint32_t discover(const struct life *l, unsigned player)
{
    return 0xff000001u | (l->partner[player].edition && l->plug_agreed != REV_2 ? 0xa000u : 0x8000u);
}

enum { PLUG_OBJECTS = 6 };

/* What either plug answers to it; how many objects. */
static unsigned plug_identity(const struct life *l, uint32_t answer[PLUG_OBJECTS])
{
    static const unsigned type_of[] = { [CABLE_PASSIVE] = 3, [CABLE_ACTIVE] = 4 };
    bool                  r3 = l->plug_agreed == REV_3, active = l->plug.kind == CABLE_ACTIVE;

    answer[0] = 0xff000041u | (r3 ? 0xa000u : 0x8000u);
    answer[1] = (uint32_t)type_of[l->plug.kind] << 27 | l->plug.vid;
    answer[2] = 0;
    answer[3] = 0x00010100u;
    answer[4] = 2u << 18 | 1u << 13 | (active ? 2u : 0u) << 11 | (l->plug.edition ? l->plug.max_volt : 0u) << 9 | (l->plug.max_ma > 3000 ? 2u : 1u) << 5 | 1u |
                (l->plug.edition && l->plug.epr ? 1u << 17 : 0u) | (active ? 1u << 4 : 0u) | (active && l->plug.far ? 1u << 3 : 0u) |
                (active && r3 ? 3u << 21 : 0u);
    answer[5] = 70u << 24 | 80u << 16;
    return active && r3 ? 6 : 5;
}

bool synth_discover_cable(struct life *l, unsigned player)
{
    uint32_t   ask = discover(l, player), answer[PLUG_OBJECTS];
    struct say m = say_data(player, D_VENDOR_DEFINED, 1, &ask), reply;

    /* Whoever takes VCONN over begins with the plug anew. */
    if (l->plug_new_host && l->plug_known) {
        if (!synth_soft_reset_plug(l, SET_SOP1))
            return false;
        synth_idle(l, chance_between(&l->chance, 1000, 5000));
    }
    m.set = SET_SOP1;
    if (!synth_say(l, &m)) {
        synth_wait_from(l, l->sent_end_ns, TIMER_DISCOVER_IDENTITY, player);
        return true;
    }
    faults_epr_plug(l);
    faults_caps_plug(l, player);
    l->plug_agreed = l->plug.edition && l->partner[player].edition ? REV_3 : REV_2;
    reply = say_data(PLAYER_PLUG, D_VENDOR_DEFINED, plug_identity(l, answer), answer);
    reply.set = SET_SOP1;
    synth_wait(l, TIMER_VDM_RESPONSE, PLAYER_PLUG);
    if (!synth_say(l, &reply))
        return false;
    l->plug_known = true;
    return true;
}

bool synth_discover_far(struct life *l, unsigned player)
{
    uint32_t   ask = discover(l, player), answer[PLUG_OBJECTS];
    struct say m = say_data(player, D_VENDOR_DEFINED, 1, &ask), reply = say_data(PLAYER_PLUG, D_VENDOR_DEFINED, plug_identity(l, answer), answer);

    if (l->far_new_host && l->far_known) {
        if (!synth_soft_reset_plug(l, SET_SOP2))
            return false;
        synth_idle(l, chance_between(&l->chance, 1000, 5000));
    }
    m.set = reply.set = SET_SOP2;
    if (!synth_say(l, &m))
        return false;
    synth_wait(l, TIMER_VDM_RESPONSE, PLAYER_PLUG);
    if (!synth_say(l, &reply))
        return false;
    l->far_known = true;
    l->far_new_host = false;
    return true;
}

/* Before the first offer: the cable is asked; a plug without a marker, several times in vain. */
static bool ask_cable_first(struct life *l)
{
    unsigned tries = l->plug.kind >= CABLE_PASSIVE ? 1 : 2 + chance_below(&l->chance, 3);

    if (l->plan->ports[l->index].captive || faults_cable_trusted(l))
        return true;
    for (unsigned k = 0; k < tries; k++)
        if (!synth_discover_cable(l, l->vconn))
            return false;
    synth_idle(l, chance_between(&l->chance, 1000, 10000));
    if (!plug_far(l) || chance_in(&l->chance, 1, 2))
        return true;
    if (!synth_discover_far(l, l->vconn))
        return false;
    synth_idle(l, chance_between(&l->chance, 1000, 10000));
    return true;
}

/* The first offer after VBUS came, which a fault may hold back: counted from where VBUS crosses 4.75 V. */
bool synth_first_offer(struct life *l)
{
    const struct injected *f = synth_fault(l, synth_timer_rows[TIMER_FIRST_CAPS].number.timer);

    if (f && f->plan->has_amount && l->vbus.count) {
        int64_t from_ns = l->vbus.ramps[l->vbus.count - 1].from_ns, until_ns = l->vbus.ramps[l->vbus.count - 1].until_ns;
        int64_t crossed_ns = from_ns + (until_ns - from_ns) * FULL_5V_MV / (wave_end(&l->vbus) / 1000);

        synth_to(l, (l->modelled ? l->vsafe5v_ns : crossed_ns) + f->plan->amount_ns);
        synth_blame_next(l, f, l->source);
    }
    return synth_negotiate(l, 0);
}

bool synth_attach(struct life *l)
{
    int64_t rise;

    synth_idle(l, chance_between(&l->chance, 20000, 60000));
    l->attached = true;
    l->rp = RP_3_0;
    l->rp_since_ns = l->now_ns;
    synth_put_mark(l, l->no_input ? RECORD_INPUT_ON : RECORD_PLUGGED, 0, "");
    l->no_input = false;
    synth_put_cc(l, 1, RP_3_0);
    /* To its 4.75 V; how long it takes from 0.8 V is another time. */
    int64_t up_ns = l->now_ns + synth_draw_vbus_ns(l, TIMER_VBUS_ON, l->now_ns, true, VSAFE5V_LEAST_UV);

    rise = up_ns - chance_between(&l->chance, 5, 60) * MS_NS;
    l->vsafe5v_ns = up_ns;
    if (!faults_volt_rise(l, rise, up_ns))
        synth_vbus_rise(l, rise, up_ns);
    faults_volt_on(l, up_ns);
    l->contract_mv = 5000;
    synth_to(l, l->vsafe5v_ns + chance_between(&l->chance, 1, 20) * MS_NS);
    if (!ask_cable_first(l))
        return false;
    if (l->now_ns < l->vsafe5v_ns + 100 * MS_NS)
        synth_idle(l, chance_between(&l->chance, 1000, 80000));
    faults_volt_first(l);
    return synth_first_offer(l);
}

/* No Rp and no VBUS any more. */
static void fall_apart(struct life *l)
{
    l->attached = l->contract = l->epr_mode = l->plug_heard = l->plug_known = l->plug_trusted = l->plug_new_host = l->far_known = l->far_new_host = l->in_mode =
        false;
    l->spoken[0] = l->spoken[1] = l->limiting = false;
    l->offers = 0;
    l->strong_fault = NULL;
    l->peak_untold = false;
    l->rp_ok_ns = INT64_MAX;
    l->rp = 0;
    synth_put_cc(l, 0, 0);
    synth_load(l, 0);
    if (!faults_volt_stays_attached(l)) {
        int32_t level = wave_end(&l->vbus);
        int64_t natural = synth_discharge_ns(l, level);
        int64_t off = l->now_ns + synth_draw_off_ns(l, TIMER_VBUS_OFF, l->now_ns, false, VSAFE0V_UV - 2000, natural);

        /* off is where VBUS crosses 0.8 V. */
        if (natural)
            synth_vbus_discharge(l, l->now_ns, level, off);
        else
            wave_set(&l->vbus, l->now_ns + MS_NS, level > 1000000 ? l->now_ns + MS_NS + (off - l->now_ns - MS_NS) / 1000 * level / (level - VSAFE0V_UV) * 1000 : off, 0);
        faults_volt_detach(l, off);
    }
    l->vconn = l->dfp = l->source = PLAYER_FIRST;
    l->agreed = l->plug_agreed = l->position = 0;
    l->contract_mv = l->contract_ma = 0;
    memset(l->next_id, 0, sizeof l->next_id);
    synth_idle(l, chance_between(&l->chance, 2500000, 4000000));
}

void synth_detach(struct life *l)
{
    synth_live_until(l, l->now_ns + chance_between(&l->chance, 5, 80) * MS_NS);
    synth_close_exchange(l);
    synth_put_mark(l, RECORD_UNPLUGGED, 0, "");
    fall_apart(l);
}

bool synth_input_off(struct life *l)
{
    synth_close_exchange(l);
    synth_put_mark(l, RECORD_INPUT_OFF, 0, "");
    if (!synth_live_until(l, l->now_ns + l->plan->ports[l->index].output.hold_up_ms * MS_NS))
        return false;
    fall_apart(l);
    l->no_input = true;
    return true;
}

bool synth_repeat_request(struct life *l)
{
    synth_to(l, l->done_ns + MS_NS); /* it does not follow on the heels of what just ended */
    /* No new exchange of the source can be under way here; the sink waits for SinkTxOK only where that is due. */
    if (l->rp != RP_3_0 && revision_3(l)) {
        synth_rp(l, RP_3_0);
        synth_idle(l, 9000 + synth_margin_ns(l) / 300);
    }
    return synth_request(l, l->request);
}

/* The same with another maximum: what the object does not give is asked for by Capability Mismatch. */
static uint32_t with_maximum(uint32_t word, uint32_t pdo, int32_t max_ma)
{
    int32_t most = pdo_max_ma(pdo, 0), wanted = max_ma > asking_ma(word, pdo) ? max_ma : asking_ma(word, pdo);

    return (word & ~UINT32_C(0x3ff)) | ((uint32_t)(wanted / 10) & 0x3ff) | (wanted > most ? RDO_MISMATCH : 0);
}

/* In EPR mode it stays with what only that mode gives, or any other; asked for by its place. */
bool synth_request_step(struct life *l, const struct step *s)
{
    unsigned position = (unsigned)s->position;
    uint32_t word, pdo;
    int64_t  waits = s->waits;

    if (position && !can_be_asked(l, position, (int32_t)s->mv))
        return true;
    synth_open_exchange(l, sink_of(l));
    word = position ? word_for(l, position, (int32_t)s->mv, (int32_t)s->ma) : synth_any_request(l);
    pdo = l->offer[asking_position(word) - 1];
    if (s->max_ma && (pdo_supply(pdo) == SUPPLY_FIXED || pdo_supply(pdo) == SUPPLY_VARIABLE))
        word = with_maximum(word, pdo, (int32_t)s->max_ma);
    const struct injected *f = faults_request_waits(l, &waits);

    for (int64_t k = 0; k < waits; k++) {
        uint32_t words[2] = { word, pdo };

        if (!synth_say_data(l, sink_of(l), l->epr_mode ? D_EPR_REQUEST : D_REQUEST, l->epr_mode ? 2 : 1, words))
            return false;
        synth_wait(l, TIMER_SOURCE_RESPONSE, l->source);
        if (f && k + 1 == waits)
            synth_blame_next(l, f, l->source);
        if (!synth_say_control(l, l->source, C_WAIT))
            return false;
        synth_wait(l, TIMER_REQUEST_AFTER_WAIT, sink_of(l));
    }
    return synth_request(l, word);
}

bool synth_renegotiate(struct life *l, const struct step *s)
{
    struct partner *q = &l->partner[l->source];

    if (s->pdo_count) {
        uint32_t flags = q->source[0] & 0x3f800000u;

        memcpy(q->source, s->pdos, sizeof q->source);
        q->source_count = s->pdo_count;
        q->source[0] |= flags;
    }
    synth_open_exchange(l, l->source);
    return synth_negotiate(l, 0);
}
