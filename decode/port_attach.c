/* Attach, detach, CC, VBUS, marks and losses: what the port model knows without reading a message. */
#include "decode/port_inside.h"

#include <string.h>

void port_end_contract(struct port *p, enum contract_end why, int64_t t_ns)
{
    if (!p->contract.held)
        return;
    struct event e = port_event(p, EVENT_CONTRACT_END);

    e.contract = &p->contract;

    p->contract.held = false;
    p->contract.until_ns = t_ns;
    p->contract.ended_by = (uint8_t)why;
    port_tell(&e);
}

/*
 * What belongs to an attach goes with it. known: a new one begins, and the standard says how; else nothing is attached, and
 * what is still said (a source that has not noticed yet) belongs to nothing.
 */
void port_begin_anew(struct port *p, bool known)
{
    port_forget_negotiation(p);
    port_clear_doubt(p);
    p->missed = !known;
    p->sides_lost = false;
    p->roles_known = known;
    p->role[PLAYER_A] = SIDE_SOURCE;
    p->role[PLAYER_B] = SIDE_SINK;
    p->dfp[PLAYER_A] = true;
    p->dfp[PLAYER_B] = false;
    p->data_roles_known[PLAYER_A] = p->data_roles_known[PLAYER_B] = known;
    p->vconn = PLAYER_A;
    p->vconn_known = known;
    p->epr_mode_known = known;
    memset(p->spoken, 0, sizeof p->spoken);
    memset(p->edition, 0, sizeof p->edition);
    memset(p->identity, 0, sizeof p->identity);
    memset(&p->ratings, 0, sizeof p->ratings);
    p->dual_role = false;
    p->offer.known = p->epr_offer.known = false;
    for (unsigned k = 0; k < 2; k++)
        p->announced[k].known = p->sink_announced[k].known = false;
    for (unsigned k = 0; k < STREAMS; k++) {
        p->streams[k] = (struct stream){ .reset_pending = known, .reset_frame = known ? p->attach_frame : 0 };
    }
    memset(p->last_stream, 0, sizeof p->last_stream);
}

void port_attach(struct port *p, enum attach_by by, uint64_t frame)
{
    p->attached = true;
    p->attach_seen = (uint8_t)by;
    p->attach_frame = frame;
    p->attach_ns = p->bench->now_ns;
    p->attaches++;
    port_begin_anew(p, true);
    port_tell_plain(p, EVENT_ATTACH);
}

void port_detach(struct port *p, int64_t t_ns)
{
    port_settle_offer(p, 0);
    port_settle_offer(p, 1);
    port_end_contract(p, CONTRACT_DETACHED, t_ns);
    port_tell_plain(p, EVENT_DETACH);
    p->data_unshown = 0;
    p->attached = false;
    p->cc_open_ns = INT64_MIN;
    p->cc_open_spoke = 0;
    port_begin_anew(p, false);
    p->attach_seen = ATTACH_UNSEEN;
}

static bool port_swapping_power(const struct port *p)
{
    return p->swap == SWAP_PR || p->swap == SWAP_FR;
}

/*
 * While the power roles are exchanged, and as long as they stay so, the port under test shows Rd and its
 * CC state speaks of the partner's Rp: attach 0 with an Rp is no detach then.
 */
static bool port_cc_open(const struct port *p, const struct record *r)
{
    if (r->cc.attach != 0 || port_swapping_power(p))
        return false;
    return p->role[PLAYER_A] == SIDE_SOURCE || r->cc.rp == 0;
}

enum { BOTH_SPOKE = 1 << PLAYER_A | 1 << PLAYER_B };

/* No two have talked to each other since CC was open: it was no missed swap. */
bool port_maybe_open(const struct port *p)
{
    return p->cc_open_ns != INT64_MIN && p->cc_open_spoke != BOTH_SPOKE;
}

/* How far apart readings and packets may be (expanded), where they go by clocks of their own. */
static int64_t port_apart_ns(const struct port *p)
{
    const struct about_instrument *i = about_instrument(bench_about(p->bench), p->number);

    return i->given & ABOUT_ALIGN_NS && i->align_ns < 1e15 ? (int64_t)(2 * i->align_ns + 0.5) : 0;
}

bool port_plug_unseen(const struct port *p)
{
    return !p->cc_seen && (!p->vbus_seen || port_apart_ns(p) >= PORT_ATTACH_NS);
}

/*
 * Where neither CC nor VBUS is recorded, or VBUS by a clock that is too far off, nobody sees a plug pulled. A source whose first words after a silence count from 0
 * again has most likely been attached anew.
 */
bool port_begins_unseen(const struct port *p, const struct speech *s)
{
    if (!port_plug_unseen(p) || s->m.set != SET_SOP || s->m.index != MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES) || s->m.id != 0 ||
        !s->m.power_bit || p->last_good_ns == INT64_MIN || (s->start_ns - p->last_good_ns < PORT_ATTACH_NS && !p->cable_first))
        return false;
    return !p->streams[0].reset_pending || !p->streams[1].reset_pending;
}

bool port_counts_unseen(const struct port *p, const struct speech *s)
{
    return s->m.set != SET_SOP && s->m.id == 0 && port_plug_unseen(p) && p->last_good_ns != INT64_MIN &&
           s->start_ns - p->last_good_ns >= PORT_ATTACH_NS;
}

void port_forget_cable(struct port *p)
{
    for (unsigned set = SET_SOP1; set <= SET_SOP2; set++)
        for (unsigned player = PLAYER_A; player <= PLAYER_CABLE; player += PLAYER_CABLE - PLAYER_A)
            p->streams[stream_index(set, player)].id_known = false;
    p->cable_first = true;
}

void port_hear(struct port *p, unsigned player, bool goodcrc)
{
    p->cc_open_spoke |= (uint8_t)(goodcrc ? BOTH_SPOKE : 1u << player);
    /* Two that talk are attached, whatever CC shows of a port that is the sink by a swap before the trace. */
    if (!p->attached && p->cc_open_spoke == BOTH_SPOKE && !port_sides_certain(p))
        p->attached = true;
}

/* CC shows a partner where none was known. Where messages or records were missed, it may be a swap as well. */
static void port_cc_attach(struct port *p, int64_t t_ns, bool from_zero)
{
    bool swap = !port_sides_certain(p) && p->cc_open_spoke != 0;

    if (from_zero)
        port_attach(p, ATTACH_BY_CC, p->bench->record->frame);
    p->attached = true;
    if (from_zero && swap)
        port_miss_attach(p, t_ns);
}

void port_take_cc(struct port *p, const struct record *r)
{
    bool attach = r->cc.attach == 1 || r->cc.attach == 2;
    bool from_zero = p->cc_seen ? p->cc_attach == 0 : p->vbus_state == VBUS_SAFE_0V && !p->any_packet;
    bool open = p->attached && port_cc_open(p, r);

    if (attach && port_maybe_open(p)) {
        if (p->missed && p->missed_ns >= p->cc_open_ns)
            port_miss_attach(p, r->t_ns); /* whoever talked may be what was missed */
        else
            port_detach(p, p->cc_open_ns);
    }
    if (attach && !p->attached)
        port_cc_attach(p, r->t_ns, from_zero);
    else if (attach && !p->cc_seen)
        port_miss_attach(p, r->t_ns);
    else if (open && port_sides_certain(p))
        port_detach(p, r->t_ns);
    if (!open || !p->attached) {
        p->cc_open_ns = INT64_MIN;
    } else if (p->cc_open_ns == INT64_MIN) {
        p->cc_open_ns = r->t_ns;
        p->cc_open_spoke = 0;
    }
    p->cc_seen = true;
    p->cc_attach = r->cc.attach;
    p->cc_rp = r->cc.rp;
    port_tell_plain(p, EVENT_CC);
}

/* VBUS rose, by a clock that is too far from that of the packets: when in the talk somebody was plugged in is not known. */
static void port_rise_untied(struct port *p, int64_t t_ns, int64_t apart_ns)
{
    p->rise_untied_until_ns = t_ns + apart_ns;
    p->attached = p->attached || p->any_packet;
    if (p->any_packet)
        port_miss_attach(p, t_ns);
}

static bool port_spoke_within(const struct port *p, int64_t t_ns, int64_t within_ns)
{
    return p->last_packet_ns != INT64_MIN && t_ns - p->last_packet_ns < within_ns;
}

static void port_vbus_rose(struct port *p, int64_t t_ns, uint64_t frame)
{
    bool    was_safe = p->vbus_state == VBUS_SAFE_0V || p->vbus_state == VBUS_BETWEEN;
    bool    first = p->vbus_high_ns == INT64_MIN && !p->any_packet; /* nobody was there before, by any clock */
    int64_t apart_ns = port_apart_ns(p);

    p->vbus_state = VBUS_PRESENT;
    if (was_safe)
        p->vbus_high_ns = t_ns;
    if (p->cc_seen || !was_safe)
        return;
    if (apart_ns >= PORT_ATTACH_NS && !first) {
        port_rise_untied(p, t_ns, apart_ns);
        return;
    }
    if (port_swapping_power(p) || (p->hard_reset_ns != INT64_MIN && t_ns - p->hard_reset_ns < PORT_RESET_QUIET_NS))
        return;
    /* No attach is that quick: whoever spoke was attached already, and VBUS was on its way. */
    if (p->attached && port_spoke_within(p, t_ns, PORT_ATTACH_NS - apart_ns))
        return;
    /* It may have been before what was said last. */
    if (apart_ns > 0 && port_spoke_within(p, t_ns, PORT_ATTACH_NS)) {
        port_miss_attach(p, t_ns);
        return;
    }
    if (p->attached && p->missed) {
        port_miss_attach(p, t_ns); /* a missed swap or reset takes VBUS away as well */
        return;
    }
    if (p->attached)
        port_detach(p, p->vbus_low_ns);
    port_attach(p, ATTACH_BY_VBUS, frame);
}

static void port_vbus_fell(struct port *p, int64_t t_ns)
{
    p->vbus_state = VBUS_SAFE_0V;
    p->vbus_low_ns = t_ns;
    p->fall_untied = port_apart_ns(p) > 0; /* what explains it, a reset, a swap, may come later: port_pass_time */
    if (!p->fall_untied && !port_swapping_power(p))
        port_end_contract(p, CONTRACT_SUPPLY_LOST, t_ns);
}

static void port_cross(struct port *p)
{
    struct crossing c = p->crossings[0];
    int64_t         now_ns = p->bench->now_ns;

    p->crossing_count--;
    memmove(p->crossings, p->crossings + 1, p->crossing_count * sizeof p->crossings[0]);
    p->bench->now_ns = c.t_ns;
    if (c.state == VBUS_SAFE_0V)
        port_vbus_fell(p, c.t_ns);
    else if (c.state == VBUS_PRESENT)
        port_vbus_rose(p, c.t_ns, c.frame);
    else
        p->vbus_state = c.state;
    p->bench->now_ns = now_ns;
}

void port_cross_until(struct port *p, int64_t t_ns)
{
    while (p->crossing_count > 0 && p->crossings[0].t_ns < t_ns)
        port_cross(p);
}

/* State after a reading. Between 0.8 V and 4.0 V after 0 V it is on its way up; on its way down it is still there. */
static unsigned vbus_state_after(unsigned before, int32_t uv)
{
    if (uv < PORT_SAFE_0V_UV)
        return VBUS_SAFE_0V;
    if (uv > PORT_PRESENT_UV)
        return VBUS_PRESENT;
    return before == VBUS_SAFE_0V ? VBUS_BETWEEN : before;
}

static void port_see_vbus(struct port *p, int32_t uv, int64_t t_ns, uint64_t frame)
{
    unsigned state = vbus_state_after(p->vbus_ahead, uv);

    if (state == p->vbus_ahead)
        return;
    if (p->crossing_count == CROSSINGS_MAX)
        port_cross(p);
    p->crossings[p->crossing_count++] = (struct crossing){ .t_ns = t_ns, .frame = frame, .state = (uint8_t)state };
    p->vbus_ahead = (uint8_t)state;
}

static void port_scan_vbus(struct port *p, const struct record *r)
{
    int32_t least = p->volts.least, greatest = p->volts.greatest;

    if (!p->volts.any)
        return;
    p->vbus_seen = true;
    /* The whole block says what is known already: nothing to look for. */
    if (p->vbus_ahead == VBUS_PRESENT && least >= PORT_SAFE_0V_UV)
        return;
    if (p->vbus_ahead == VBUS_SAFE_0V && greatest < PORT_SAFE_0V_UV)
        return;
    for (unsigned k = 0; k < r->power.rows; k++) {
        int32_t uv = record_cell(r, k, 0);

        if (uv != RECORD_NO_READING)
            port_see_vbus(p, uv, r->t_ns + (int64_t)k * r->power.interval_ns, r->frame);
    }
}

static void port_scan_current(struct port *p, const struct record *r)
{
    unsigned column = r->power.columns & RECORD_VBUS ? 1 : 0;

    for (unsigned k = r->power.rows; k-- > 0;) {
        int32_t ua = record_cell(r, k, column);

        if (ua == RECORD_NO_READING)
            continue;
        p->ibus_seen = true;
        p->current_flows = ua > PORT_OCCUPIED_UA || ua < -PORT_OCCUPIED_UA;
        return;
    }
}

void port_take_power(struct port *p, const struct record *r)
{
    record_power_ranges(r, &p->volts, &p->amps);
    if (r->power.columns & RECORD_VBUS) {
        port_scan_vbus(p, r);
        port_cross_until(p, r->t_ns + 1); /* what its first row shows is so now */
    }
    if (r->power.columns & RECORD_IBUS)
        port_scan_current(p, r);
    port_tell_plain(p, EVENT_POWER);
}

void port_take_mark(struct port *p, const struct record *r)
{
    if (r->mark.action == RECORD_PLUGGED)
        p->plugged_mark = true;
    if (r->mark.action == RECORD_UNPLUGGED) {
        p->plugged_mark = false;
        if (!p->cc_seen && p->any_packet)
            port_detach(p, r->t_ns);
    }
    port_tell_plain(p, EVENT_MARK);
}

/* What only the passing of time shows: a detach told by VBUS alone, and a last packet that nobody acknowledged. */
/* VBUS is gone, and has been for so long that no clock explains it. */
static void port_fall_tied(struct port *p, int64_t t_ns, int64_t apart_ns)
{
    if (p->vbus_state != VBUS_SAFE_0V || t_ns - p->vbus_low_ns <= 2 * apart_ns)
        return;
    p->fall_untied = false;
    if (p->contract.held && p->contract.t_ns < p->vbus_low_ns + apart_ns && !port_swapping_power(p))
        port_end_contract(p, CONTRACT_SUPPLY_LOST, p->contract.t_ns > p->vbus_low_ns ? p->contract.t_ns : p->vbus_low_ns);
}

void port_pass_time(struct port *p, int64_t t_ns)
{
    int64_t apart_ns;

    if (p->crossing_count > 0)
        port_cross_until(p, t_ns);
    if (p->rise_untied_until_ns != INT64_MIN) {
        if (p->any_packet && !p->cc_seen)
            port_miss_attach(p, t_ns);
        if (t_ns > p->rise_untied_until_ns || p->cc_seen)
            p->rise_untied_until_ns = INT64_MIN;
    }
    apart_ns = p->vbus_state == VBUS_SAFE_0V ? port_apart_ns(p) : 0;
    if (p->fall_untied)
        port_fall_tied(p, t_ns, apart_ns);
    if (p->vbus_state == VBUS_SAFE_0V && p->attached && !p->cc_seen && t_ns - p->vbus_low_ns > PORT_DETACH_NS + apart_ns &&
        (p->last_packet_ns == INT64_MIN || p->last_packet_ns < p->vbus_low_ns + apart_ns))
        port_detach(p, p->last_packet_ns > p->vbus_low_ns ? p->last_packet_ns : p->vbus_low_ns);
    if (port_maybe_open(p) && p->vbus_state == VBUS_SAFE_0V && t_ns - p->vbus_low_ns > PORT_DETACH_NS &&
        t_ns - p->cc_open_ns > PORT_DETACH_NS)
        port_detach(p, p->cc_open_ns);
}

void port_take_loss(struct port *p, const struct record *r)
{
    p->loss_from_ns = p->last_packet_ns == INT64_MIN ? p->first_ns : p->last_packet_ns;
    p->loss_to_ns = r->t_ns;
    p->loss_frame = r->frame;
    p->last_packet_ns = r->t_ns;
    p->offer_uncertain = true;
    p->offer_gap_frame = r->frame;
    p->agreed_doubt = p->agreed != AGREED_UNKNOWN;
    p->caps_revision = 0;
    p->cc_rp = 0;
    p->bad_fresh = false;
    if (p->request.held)
        p->request.offer_known = false;
    for (unsigned k = 0; k < STREAMS; k++) {
        p->streams[k].id_known = false;
        p->streams[k].lost_between = p->streams[k].reset_pending;
        p->streams[k].bad_between = false;
    }
    for (unsigned k = 0; k < 6; k++)
        chunks_drop(&p->chunks[k]);
    port_miss(p, r->t_ns);
    port_tell_plain(p, EVENT_LOSS);
}
