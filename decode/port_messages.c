/* What each message means for the port. */
#include "decode/exchange.h"
#include "decode/port_inside.h"

#include <string.h>

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

static void note_at_least(struct port *p, unsigned player, unsigned since)
{
    if (player <= PLAYER_CABLE && p->edition[player].at_least < since)
        p->edition[player].at_least = (uint8_t)since;
}

static void take_soft_reset(struct port *p)
{
    struct stream *own = port_stream(p, p->speech.m.set, p->speech.player);
    struct stream *other = &p->streams[(unsigned)(own - p->streams) ^ 1u];

    other->id_known = false;
    other->reset_pending = true;
    other->reset_frame = p->speech.frame;
    other->accept_owed = true;
    if (p->speech.m.set == SET_SOP) {
        p->request.held = false;
        p->offer_owed = true;
        p->swap = p->swap_asked = SWAP_NONE;
        chunks_drop(&p->chunks[0]);
        chunks_drop(&p->chunks[1]);
    }
    struct event e = port_event(p, EVENT_SOFT_RESET);

    e.speech = &p->speech;

    port_tell(&e);
}

static void tell_swapped(struct port *p, enum swap swap)
{
    struct event e = port_event(p, EVENT_SWAPPED);

    e.speech = &p->speech;
    e.swap = swap;

    port_tell(&e);
}

static void accept_swap(struct port *p)
{
    enum swap swap = p->swap_asked;

    p->swap_asked = SWAP_NONE;
    p->swap_ns = p->speech.end_ns;
    if (swap == SWAP_DR) {
        if (p->data_roles_known[0] && p->data_roles_known[1]) {
            p->dfp[0] = !p->dfp[0];
            p->dfp[1] = !p->dfp[1];
        }
        p->data_unshown = 1 << PLAYER_A | 1 << PLAYER_B;
        tell_swapped(p, SWAP_DR);
        return;
    }
    p->swap = (uint8_t)swap;
    p->swap_phase = 1;
    p->swap_source = p->role[PLAYER_A] == SIDE_SOURCE ? PLAYER_A : PLAYER_B;
}

/* Both sides start their policy anew: ids, offers and the contract are gone, the revision stays. */
static void complete_power_swap(struct port *p, enum swap swap)
{
    p->swap = SWAP_NONE;
    port_settle_offer(p, 0);
    port_settle_offer(p, 1);
    port_end_contract(p, CONTRACT_SWAP, p->speech.start_ns);
    p->offer.known = p->epr_offer.known = false;
    p->announced[0].known = p->announced[1].known = false;
    p->request.held = false;
    p->epr_mode = false;
    for (unsigned k = 0; k < 2; k++)
        p->streams[k] = (struct stream){ .reset_pending = true, .reset_frame = p->speech.frame,
                                         .last = p->streams[k].last };
    tell_swapped(p, swap);
}

static void take_ps_rdy(struct port *p)
{
    if (p->swap == SWAP_PR || p->swap == SWAP_FR) {
        if (p->swap_phase == 1)
            p->swap_phase = 2;
        else
            complete_power_swap(p, p->swap);
    } else if (p->swap == SWAP_VCONN) {
        p->swap = SWAP_NONE;
        p->vconn = p->speech.player;
        p->vconn_known = p->speech.player <= PLAYER_B;
        tell_swapped(p, SWAP_VCONN);
    } else {
        port_take_ready(p);
    }
}

/* A Request that stayed without an answer does not get the one to a later question. */
static void take_answer(struct port *p, enum request_state state, unsigned answered)
{
    if (answered == 0 || answered == DATA(REQUEST) || answered == DATA(EPR_REQUEST))
        port_take_answer(p, state);
}

static void take_accept(struct port *p, unsigned answered)
{
    if (p->swap_asked != SWAP_NONE && p->speech.player != p->swap_asker && answered != 0)
        accept_swap(p);
    else
        take_answer(p, REQUEST_ACCEPTED, answered);
}

static void ask_swap(struct port *p, enum swap swap)
{
    p->swap_asked = (uint8_t)swap;
    p->swap_asker = p->speech.player;
}

static void refuse(struct port *p, enum request_state state, unsigned answered)
{
    if (p->swap_asked != SWAP_NONE && p->speech.player != p->swap_asker)
        p->swap_asked = SWAP_NONE;
    else
        take_answer(p, state, answered);
}

static void take_control(struct port *p, unsigned answered)
{
    switch (p->speech.m.type) {
    case CONTROL_ACCEPT:
        take_accept(p, answered);
        break;
    case CONTROL_REJECT:
        refuse(p, REQUEST_REJECTED, answered);
        break;
    case CONTROL_NOT_SUPPORTED:
        p->swap_asked = SWAP_NONE;
        break;
    case CONTROL_WAIT:
        refuse(p, REQUEST_WAIT, answered);
        break;
    case CONTROL_PS_RDY:
        take_ps_rdy(p);
        break;
    case CONTROL_SOFT_RESET:
        take_soft_reset(p);
        break;
    case CONTROL_DR_SWAP:
        ask_swap(p, SWAP_DR);
        break;
    case CONTROL_PR_SWAP:
        ask_swap(p, SWAP_PR);
        break;
    case CONTROL_FR_SWAP:
        ask_swap(p, SWAP_FR);
        break;
    case CONTROL_VCONN_SWAP:
        ask_swap(p, SWAP_VCONN);
        break;
    default:
        break;
    }
}

enum { EPR_ACTION_SUCCEEDED = 3, EPR_ACTION_EXIT = 5 }; /* EPRMDO actions: Chromium EC usb_pd.h */

static void take_epr_mode(struct port *p)
{
    unsigned action = message_word(&p->speech.m, 0) >> 24;

    if (action == EPR_ACTION_SUCCEEDED) {
        p->epr_mode = true;
        p->epr_mode_known = true;
        p->epr_since_ns = p->speech.end_ns;
        port_tell_plain(p, EVENT_EPR_ENTERED);
    } else if (action == EPR_ACTION_EXIT) {
        p->epr_mode = false;
        p->epr_mode_known = true;
        port_end_contract(p, CONTRACT_EPR_EXIT, p->speech.start_ns);
        port_tell_plain(p, EVENT_EPR_LEFT);
    }
}

static void take_revision(struct port *p)
{
    uint32_t        word = message_word(&p->speech.m, 0);
    struct edition *e;

    if (p->speech.player > PLAYER_CABLE)
        return;
    p->ratings.revision[p->speech.player] = word;
    p->ratings.revision_frame[p->speech.player] = p->speech.frame;
    e = &p->edition[p->speech.player];
    e->major = (uint8_t)(word >> 28);
    e->minor = (uint8_t)(word >> 24 & 15);
    e->version = (uint8_t)(word >> 16 & 255);
}

static void take_source_info(struct port *p)
{
    unsigned player = p->speech.player;

    if (player > PLAYER_B)
        return;
    p->ratings.source_info[player] = message_word(&p->speech.m, 0);
    p->ratings.source_info_frame[player] = p->speech.frame;
}

enum { SVID_PD = 0xFF00, VDM_STRUCTURED = 1 << 15, VDM_ACK = 1, VDM_DISCOVER_IDENTITY = 1 };

static void take_vdm(struct port *p)
{
    const struct speech *s = &p->speech;
    unsigned             count = message_words(&s->m);
    uint32_t             header = message_word(&s->m, 0);
    unsigned             slot = s->m.set == SET_SOP2 ? 3 : s->player;

    if (count < 2 || count > 7 || header >> 16 != SVID_PD || !(header & VDM_STRUCTURED) ||
        (header >> 6 & 3) != VDM_ACK || (header & 31) != VDM_DISCOVER_IDENTITY || slot > 3)
        return;
    struct identity *i = &p->identity[slot];

    i->frame = s->frame;
    i->t_ns = s->start_ns;
    i->count = (uint8_t)(count - 1);
    i->revision = s->m.revision;
    i->set = s->m.set;
    memset(i->words, 0, sizeof i->words);
    for (unsigned k = 0; k < count; k++)
        i->words[k] = message_word(&s->m, k);
}

static void take_data(struct port *p)
{
    unsigned side = p->speech.side;

    switch (p->speech.m.type) {
    case DATA_SOURCE_CAPABILITIES:
        if (side == SIDE_SOURCE || side == SIDE_UNKNOWN)
            port_take_offer(p, false, SIDE_SOURCE);
        break;
    case DATA_SINK_CAPABILITIES:
        port_take_offer(p, false, SIDE_SINK);
        break;
    case DATA_REQUEST:
        port_take_request(p, false);
        break;
    case DATA_EPR_REQUEST:
        port_take_request(p, true);
        break;
    case DATA_EPR_MODE:
        take_epr_mode(p);
        break;
    case DATA_SOURCE_INFO:
        take_source_info(p);
        break;
    case DATA_REVISION:
        take_revision(p);
        break;
    case DATA_VENDOR_DEFINED:
        take_vdm(p);
        break;
    default:
        break;
    }
}

/* Keeps the first `most` bytes of a complete data block. */
static void keep_block(const struct port *p, uint8_t *out, size_t most, uint8_t *size, uint64_t *frame)
{
    size_t n = p->speech.size < most ? p->speech.size : most;

    memset(out, 0, most);
    if (n)
        memcpy(out, p->speech.data, n);
    if (size)
        *size = (uint8_t)n;
    *frame = p->speech.frame;
}

static void take_extended(struct port *p)
{
    struct ratings *k = &p->ratings;
    unsigned        player = p->speech.player;

    if (p->speech.news != CHUNK_COMPLETE || player > PLAYER_CABLE)
        return; /* not whole, or nobody to ascribe it to */
    switch (p->speech.m.type) {
    case EXTENDED_SOURCE_CAPABILITIES:
        if (player <= PLAYER_B)
            keep_block(p, k->source_ext[player], sizeof k->source_ext[0], &k->source_ext_size[player], &k->source_ext_frame[player]);
        break;
    case EXTENDED_SINK_CAPABILITIES:
        if (player <= PLAYER_B)
            keep_block(p, k->sink_ext[player], sizeof k->sink_ext[0], &k->sink_ext_size[player], &k->sink_ext_frame[player]);
        break;
    case EXTENDED_MANUFACTURER_INFO:
        keep_block(p, k->manufacturer[player], sizeof k->manufacturer[0], &k->manufacturer_size[player],
                   &k->manufacturer_frame[player]);
        break;
    case EXTENDED_BATTERY_CAPABILITIES:
        if (player <= PLAYER_B)
            keep_block(p, k->battery[player], sizeof k->battery[0], NULL, &k->battery_frame[player]);
        break;
    case EXTENDED_STATUS:
        if (player <= PLAYER_B)
            keep_block(p, k->status[player], sizeof k->status[0], &k->status_size[player], &k->status_frame[player]);
        break;
    case EXTENDED_EPR_SOURCE_CAPABILITIES:
    case EXTENDED_EPR_SINK_CAPABILITIES:
        if (p->speech.m.set == SET_SOP)
            port_take_offer(p, true, p->speech.m.type == EXTENDED_EPR_SOURCE_CAPABILITIES ? SIDE_SOURCE : SIDE_SINK);
        break;
    default:
        break;
    }
}

/* Closes the open exchange if this message answers it. Gives what it answered, 0 if nothing. */
static unsigned close_exchange(struct port *p)
{
    const struct speech *s = &p->speech;
    const struct exchange_kind *k = p->asked_index ? exchange_kind(p->asked_index) : NULL;
    unsigned answered = p->asked_index;

    if (!k || s->player == p->asked_player || !exchange_answers(k, s->m.index))
        return 0;
    p->asked_index = 0;
    return answered;
}

static void open_exchange(struct port *p, unsigned answered)
{
    const struct speech *s = &p->speech;

    if (answered == CONTROL(GET_SOURCE_CAP) || (answered == 0 && !exchange_kind(s->m.index)))
        return;
    if (answered != 0 && s->m.index != DATA(REQUEST) && s->m.index != DATA(EPR_REQUEST))
        return;
    p->asked_index = s->m.index;
    p->asked_player = s->player;
    p->asked_frame = s->frame;
    p->asked_ns = s->start_ns;
}

/* The message was asked for: Get_Source_Cap, Get_Sink_Cap, EPR_Get_..._Cap. */
static void note_asked(struct port *p, unsigned answered)
{
    bool asked = answered == CONTROL(GET_SOURCE_CAP) || answered == CONTROL(GET_SINK_CAP) || answered == EXTENDED(CONTROL);

    p->announced[0].asked = p->announced[1].asked = asked;
    p->sink_announced[0].asked = p->sink_announced[1].asked = asked;
}

void port_take_message(struct port *p)
{
    const struct speech *s = &p->speech;
    unsigned             answered = 0;

    if (message_kind(s->m.index)->since >= SINCE_R31)
        note_at_least(p, s->player, message_kind(s->m.index)->since);
    if (s->m.set == SET_SOP) {
        answered = close_exchange(p);
        if (s->m.index == DATA(SOURCE_CAPABILITIES) || s->m.index == DATA(SINK_CAPABILITIES) ||
            s->m.message_class == CLASS_EXTENDED)
            note_asked(p, answered);
        open_exchange(p, answered);
        if (s->player <= PLAYER_B && !p->data_roles_known[s->player]) {
            p->data_roles_known[s->player] = true;
            p->dfp[s->player] = s->m.data_bit;
        }
    }
    switch (s->m.message_class) {
    case CLASS_CONTROL:
        if (s->m.set == SET_SOP || s->m.type == CONTROL_SOFT_RESET)
            take_control(p, answered);
        break;
    case CLASS_DATA:
        if (s->m.set == SET_SOP || s->m.type == DATA_VENDOR_DEFINED || s->m.type == DATA_REVISION)
            take_data(p);
        break;
    case CLASS_EXTENDED:
        take_extended(p);
        break;
    default:
        break;
    }
}
