/* Evidence taken away: what happened is the same, the trace shows less of it. */
#include "cli/synth/synth_inside.h"
#include "cli/synth/synth_words.h"

#include <string.h>

static const struct synth_blind blinds[] = {
    { "lost-records", "The n-th packet (of the message named) and those after it, as many as count says, are missing; a LOST record says so." },
    { "bad-crc-neighbour", "The n-th packet (of the message named) was caught with a bad CRC." },
    { "trace-cut", "The trace ends before the n-th packet (of the message named)." },
    { "host-time", "Every time was stamped by the host." },
    { "no-durations", "No packet's length was measured." },
    { "no-vbus", "No readings of VBUS." },
    { "coarse-vbus", "Readings of VBUS every 20 ms." },
    { "starts-in-contract", "The trace begins when a contract is there already." },
};

const struct synth_blind *synth_blind_row(unsigned k)
{
    return k < sizeof blinds / sizeof blinds[0] ? &blinds[k] : NULL;
}

static bool is_message(const char *name, const uint8_t *bytes, size_t length)
{
    static const struct { const char *name; unsigned type; bool control; } names[] = {
        { "GoodCRC", C_GOODCRC, true }, { "Accept", C_ACCEPT, true }, { "PS_RDY", C_PS_RDY, true }, { "Soft_Reset", C_SOFT_RESET, true },
        { "Request", D_REQUEST, false }, { "Source_Capabilities", D_SOURCE_CAPABILITIES, false }, { "Vendor_Defined", D_VENDOR_DEFINED, false },
        { "Not_Supported", C_NOT_SUPPORTED, true }, { "Wait", C_WAIT, true }, { "PR_Swap", C_PR_SWAP, true }, { "DR_Swap", C_DR_SWAP, true },
    };
    unsigned header = length >= 2 ? bytes[0] | (unsigned)bytes[1] << 8 : 0;
    bool     control = (header & 0xf000) == 0;

    if (name[0] == '\0')
        return header && !(control && (header & 31) == C_GOODCRC);
    for (unsigned k = 0; k < sizeof names / sizeof names[0]; k++)
        if (strcmp(names[k].name, name) == 0)
            return !(header & 0x8000) && names[k].control == control && (header & 31) == names[k].type;
    return false;
}

enum blind_act synth_blind(struct life *l, uint8_t set, const uint8_t *bytes, size_t length)
{
    struct synth *s = l->s;

    (void)set;
    if (l->lose) {
        l->lose--;
        return BLIND_LOSE;
    }
    for (unsigned k = 0; k < s->plan.injection_count; k++) {
        struct injected *f = &s->injected[k];

        if (!f->plan->blind || f->fired || f->plan->port != l->port || !is_message(f->plan->message, bytes, length))
            continue;
        f->seen++;
        if (s->counting || f->seen != f->at)
            continue;
        f->fired = true;
        if (strcmp(f->plan->fault, "lost-records") == 0) {
            l->lose = (unsigned)f->plan->count - 1;
            return BLIND_LOSE;
        }
        if (strcmp(f->plan->fault, "bad-crc-neighbour") == 0)
            return BLIND_BAD;
        if (strcmp(f->plan->fault, "trace-cut") == 0) {
            s->cut = false;
            return BLIND_CUT;
        }
    }
    return BLIND_NOT;
}

/* Blinds that hold for the whole trace change the plan before it is played. */
void blinds_apply(struct plan *p)
{
    for (unsigned k = 0; k < p->injection_count; k++) {
        const struct injection *i = &p->injections[k];

        if (!i->blind)
            continue;
        if (strcmp(i->fault, "host-time") == 0)
            p->instrument.host_time = true;
        else if (strcmp(i->fault, "no-durations") == 0)
            p->instrument.durations = false;
        else if (strcmp(i->fault, "no-vbus") == 0)
            p->instrument.power = false;
        else if (strcmp(i->fault, "coarse-vbus") == 0)
            p->instrument.power_interval_us = 20000;
        for (unsigned n = 0; strcmp(i->fault, "starts-in-contract") == 0 && n < p->port_count; n++)
            if (p->ports[n].port == i->port)
                p->ports[n].in_contract = true;
    }
}
