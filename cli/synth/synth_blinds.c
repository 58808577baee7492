/* Evidence taken away: what happened is the same, the trace shows less of it. */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_words.h"

#include <string.h>

enum { GAP_NS = 10000000 };

static const struct synth_blind blinds[] = {
    { "lost-records", "The n-th packet (of the message named) and those after it, as many as count says, are missing; a LOST record says so." },
    { "bad-crc-neighbour", "The n-th packet (of the message named) was caught with a bad CRC." },
    { "trace-cut", "The trace ends before the n-th packet (of the message named)." },
    { "host-time", "Every time was stamped by the host." },
    { "no-durations", "No packet's length was measured." },
    { "no-vbus", "No readings of VBUS." },
    { "vbus-gap", "From the n-th packet (of the message named) on nobody reads VBUS and its current, for so many times 10 ms as count says." },
    { "no-edges", "The changes of level of the CC line were not recorded." },
    { "coarse-vbus", "Readings of VBUS every 20 ms." },
    { "starts-in-contract", "The trace begins when a contract is there already." },
};

const struct synth_blind *synth_blind_row(unsigned k)
{
    return k < sizeof blinds / sizeof blinds[0] ? &blinds[k] : NULL;
}

enum form { FORM_CONTROL, FORM_DATA, FORM_EXTENDED };
static const struct { const char *name; enum form form; unsigned type; } names[] = {
    { "GoodCRC", FORM_CONTROL, C_GOODCRC }, { "Accept", FORM_CONTROL, C_ACCEPT }, { "Reject", FORM_CONTROL, C_REJECT },
    { "Wait", FORM_CONTROL, C_WAIT }, { "PS_RDY", FORM_CONTROL, C_PS_RDY }, { "Soft_Reset", FORM_CONTROL, C_SOFT_RESET },
    { "Not_Supported", FORM_CONTROL, C_NOT_SUPPORTED }, { "PR_Swap", FORM_CONTROL, C_PR_SWAP }, { "DR_Swap", FORM_CONTROL, C_DR_SWAP },
    { "VCONN_Swap", FORM_CONTROL, C_VCONN_SWAP }, { "FR_Swap", FORM_CONTROL, C_FR_SWAP }, { "Data_Reset", FORM_CONTROL, C_DATA_RESET },
    { "Data_Reset_Complete", FORM_CONTROL, C_DATA_RESET_COMPLETE }, { "Get_Source_Cap", FORM_CONTROL, C_GET_SOURCE_CAP },
    { "Get_Sink_Cap", FORM_CONTROL, C_GET_SINK_CAP }, { "Get_Status", FORM_CONTROL, C_GET_STATUS },
    { "Source_Capabilities", FORM_DATA, D_SOURCE_CAPABILITIES }, { "Request", FORM_DATA, D_REQUEST },
    { "Sink_Capabilities", FORM_DATA, D_SINK_CAPABILITIES }, { "Alert", FORM_DATA, D_ALERT }, { "EPR_Request", FORM_DATA, D_EPR_REQUEST },
    { "EPR_Mode", FORM_DATA, D_EPR_MODE }, { "Source_Info", FORM_DATA, D_SOURCE_INFO }, { "Revision", FORM_DATA, D_REVISION },
    { "Vendor_Defined", FORM_DATA, D_VENDOR_DEFINED }, { "Status", FORM_EXTENDED, E_STATUS },
    { "Source_Capabilities_Extended", FORM_EXTENDED, E_SOURCE_CAPABILITIES_EXTENDED },
    { "Security_Request", FORM_EXTENDED, E_SECURITY_REQUEST }, { "Extended_Control", FORM_EXTENDED, E_EXTENDED_CONTROL },
    { "EPR_Source_Capabilities", FORM_EXTENDED, E_EPR_SOURCE_CAPABILITIES },
};

static bool is_message(const char *name, const uint8_t *bytes, size_t length)
{
    unsigned  header = length >= 2 ? bytes[0] | (unsigned)bytes[1] << 8 : 0;
    enum form form = header & 0x8000 ? FORM_EXTENDED : header & 0x7000 ? FORM_DATA : FORM_CONTROL;

    if (name[0] == '\0')
        return header && !(form == FORM_CONTROL && (header & 31) == C_GOODCRC);
    for (unsigned k = 0; k < sizeof names / sizeof names[0]; k++)
        if (strcmp(names[k].name, name) == 0)
            return names[k].form == form && (header & 31) == names[k].type;
    return false;
}

static enum blind_act act_of(const struct injection *i)
{
    return strcmp(i->fault, "lost-records") == 0 ? BLIND_LOSE : strcmp(i->fault, "bad-crc-neighbour") == 0 ? BLIND_BAD
         : strcmp(i->fault, "trace-cut") == 0 ? BLIND_CUT : strcmp(i->fault, "vbus-gap") == 0 ? BLIND_GAP : BLIND_NOT;
}

enum blind_act synth_blind(struct life *l, uint8_t set, const uint8_t *bytes, size_t length)
{
    struct synth  *s = l->s;
    enum blind_act act = l->lose ? BLIND_LOSE : BLIND_NOT;

    (void)set;
    l->lose -= l->lose > 0;
    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        struct injected *f = &s->injected[k];

        if (!f->plan->blind || f->fired || f->plan->port != l->port || !is_message(f->plan->message, bytes, length))
            continue;
        f->seen++;
        if (act != BLIND_NOT || s->counting || f->seen != f->at)
            continue;
        f->fired = true;
        act = act_of(f->plan);
        if (act == BLIND_GAP) {
            l->gap_from_ns = l->now_ns;
            l->gap_to_ns = l->now_ns + f->plan->count * GAP_NS;
            act = BLIND_NOT;
        }
        if (act == BLIND_LOSE)
            l->lose = (unsigned)f->plan->count - 1;
        if (act == BLIND_CUT)
            s->cut = false;
    }
    return act;
}

/* Blinds that hold for the whole trace change the plan before it is played. */
void blinds_apply(struct plan *p)
{
    for (unsigned k = 0; k < p->injection_count; k++) {
        const struct injection *i = &p->injections[k];

        if (!i->blind)
            continue;
        if (strcmp(i->fault, "host-time") == 0) {
            p->instrument.host_time = true;
        } else if (strcmp(i->fault, "no-durations") == 0) {
            p->instrument.durations = false;
        } else if (strcmp(i->fault, "no-edges") == 0) {
            p->instrument.edges = false;
        } else if (strcmp(i->fault, "no-vbus") == 0) {
            p->instrument.power = false;
        } else if (strcmp(i->fault, "coarse-vbus") == 0) {
            p->instrument.power_interval_us = 20000;
            p->instrument.power_rows = p->instrument.power_rows < 50 ? p->instrument.power_rows : 50; /* a second at the most */
        }
        for (unsigned n = 0; strcmp(i->fault, "starts-in-contract") == 0 && n < p->port_count; n++)
            if (p->ports[n].port == i->port)
                p->ports[n].in_contract = true;
    }
}
