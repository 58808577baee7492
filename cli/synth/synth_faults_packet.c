/* Faults of the line and of one message by itself. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_signal.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_packet[] = {
    { "wire.crc", NULL, "link", "The first copy's CRC is wrong and nobody acknowledges it; the second is good.", "wire.crc" },
    { "wire.crc-repeated", NULL, NULL, "Every copy's CRC is wrong; then Soft_Reset.", "wire.crc-repeated" },
    { "wire.bit-rate", NULL, NULL, "A packet is sent so that 1000 bits last the amount given; at 351 kbit/s if none is.", "wire.bit-rate" },
    { "wire.inter-frame-gap", NULL, NULL, "A GoodCRC begins the amount given after the packet; 12 us if none is.", "wire.inter-frame-gap" },
    { "wire.bit-drift", NULL, NULL, "After a preamble at 300 kbit/s the packet goes on so that 1000 bits last the amount given; 3.36 ms if none is. Where edges are recorded.", "wire.bit-drift" },
    { "wire.preamble", NULL, NULL, "A preamble has 60 bits. Where edges are recorded.", "wire.preamble" },
    { "wire.preamble", "one-less", NULL, "A preamble has 63 bits. Where edges are recorded.", "wire.preamble" },
    { "wire.preamble", "one-more", NULL, "A preamble has 65 bits. Where edges are recorded.", "wire.preamble" },
    { "wire.preamble", "begins-1", NULL, "A preamble begins with a 1, and ends with a 0. Where edges are recorded.", "wire.preamble" },
    { "wire.ordered-set", NULL, NULL, "RST-1 stands where the third K-code of SOP should. Where edges are recorded.", "wire.ordered-set" },
    { "wire.ordered-set", "last", NULL, "RST-1 stands where the last K-code of SOP should. Where edges are recorded.", "wire.ordered-set" },
    { "wire.ordered-set", "blurred", NULL, "The same in the third place, but where one of its bits ends cannot be told: too blurred to be held against it. Where edges are recorded.", "" },
    { "wire.end-of-packet", NULL, NULL, "Sync-3 stands where EOP should; the receiver does not mind. Where edges are recorded.", "wire.end-of-packet" },
    { "wire.end-of-packet", "missing", NULL, "A packet has no EOP; the receiver does not mind. Where edges are recorded.", "wire.end-of-packet" },
    { "wire.end-of-packet", "reserved", NULL, "A reserved symbol stands in the first copy, which nobody acknowledges; the second is good. Where edges are recorded.", "wire.end-of-packet wire.crc" },
    { "message.reserved-bits", NULL, "source", "Bit 5 of the header is set on SOP'.", "message.reserved-bits" },
    { "message.object-count", NULL, "sink", "A Request has two objects.", "message.object-count" },
    { "message.power-role", NULL, NULL, "A message that one side alone may send carries the other's power role.", "message.power-role" },
    { "message.data-role", NULL, NULL, "A message carries the other's data role.", "message.data-role" },
    { "message.header-revision", NULL, NULL, "A message after the agreement carries another revision.", "message.header-revision" },
    { "message.id-sequence", NULL, NULL, "A MessageID jumps by three.", "message.id-sequence" },
    { "message.id-after-reset", NULL, "source", "Accept of a Soft_Reset has MessageID 5.", "message.id-after-reset" },
    { "message.reserved-type", NULL, "sink", "A control message of type 27 is sent; it is answered by Not_Supported.", "message.reserved-type" },
    { "message.deprecated", NULL, "source", "A Ping is sent.", "message.deprecated" },
    { "exchange.goodcrc", NULL, "source", "No copy of a message of the sink is acknowledged; the sink sends Soft_Reset.", "exchange.goodcrc" },
    { "exchange.first-try", NULL, NULL, "The first copy alone is not acknowledged.", "exchange.first-try" },
    { "exchange.goodcrc-id", NULL, NULL, "A GoodCRC carries the next MessageID.", "exchange.goodcrc-id" },
    { "exchange.goodcrc-unprompted", NULL, "source", "A GoodCRC comes out of nothing.", "exchange.goodcrc-unprompted" },
    { "exchange.retry-count", NULL, NULL, "One copy more than there may be.", "exchange.retry-count exchange.first-try" },
    { "exchange.retry-same", NULL, NULL, "The second copy of Source_Capabilities differs in a bit.", "exchange.retry-same exchange.first-try" },
    { "exchange.sink-tx", NULL, "sink", "The sink asks while Rp is at 1.5 A.", "exchange.sink-tx" },
    { "exchange.sink-tx", "at-once", "sink", "The sink begins the amount given after Rp rose to 3.0 A; 3 ms if none is. Too soon to be held against it.", "" },
    { NULL, NULL, NULL, NULL, NULL },
};

const struct synth_fault synth_faults_time[] = {
    { "time.retry", NULL, NULL, "The repeat begins after the amount given; 1.4 ms if none is.", "time.retry exchange.first-try" },
    { "time.soft-reset", NULL, "sink", "Nobody acknowledges, and Soft_Reset comes after the amount given; 50 ms if none is.", "time.soft-reset exchange.goodcrc" },
    { NULL, NULL, NULL, NULL, NULL },
};

static bool one_sided(const struct life *l, const struct say *m)
{
    return m->from == l->source && (m->length ? m->type == D_SOURCE_CAPABILITIES : m->type == C_PS_RDY && l->powering);
}

static void flip(struct life *l, struct say *m, const char *fault, uint16_t bits)
{
    const struct injected *f = synth_fault_just(l, fault, "");

    if (!f)
        return;
    m->flip ^= bits;
    synth_blame_next(l, f, m->from);
}

void faults_packet_message(struct life *l, struct say *m)
{
    const struct injected *f;

    if (m->set == SET_SOP1 && m->from != PLAYER_PLUG)
        flip(l, m, "message.reserved-bits", 1 << 5);
    if (m->set != SET_SOP || m->extended || !l->contract)
        return;
    if (one_sided(l, m))
        flip(l, m, "message.power-role", 1 << 8);
    if (m->from == l->source) {
        if (!(l->role_settling >> m->from & 1))
            flip(l, m, "message.data-role", 1 << 5);
        flip(l, m, "message.header-revision", 3 << 6);
        if (l->next_id[SET_SOP][m->from] && (f = synth_fault(l, "message.id-sequence"))) {
            m->id_given = true;
            m->id = (uint8_t)((l->next_id[SET_SOP][m->from] + 3) % 8);
            synth_blame_next(l, f, m->from);
        }
    }
    if (m->type == D_REQUEST && m->length == 4 && (f = synth_fault(l, "message.object-count"))) {
        say_word(m, 0);
        synth_blame_next(l, f, m->from);
    }
}

static void preamble_fault(struct signal *g, const struct injected *f)
{
    g->preamble_bits = synth_variant(f, "one-less") ? 63 : synth_variant(f, "one-more") ? 65 : synth_variant(f, "begins-1") ? 64 : 60;
    /* The last bit is a 1 all the same, but where the first alone is meant. */
    g->begins_1 = g->preamble_bits % 2 || synth_variant(f, "begins-1");
}

static void set_fault(struct signal *g, const struct injected *f)
{
    g->wrong_code = synth_variant(f, "last") ? 4 : 3;
    g->blurred = synth_variant(f, "blurred");
}

static void end_fault(struct signal *g, const struct injected *f)
{
    g->end = synth_variant(f, "missing") ? SIGNAL_NO_EOP : SIGNAL_OTHER_KCODE;
}

static void drift_fault(struct signal *g, const struct injected *f)
{
    g->bit_ps = 3333333;
    g->later_bit_ps = synth_amount_ns(f, 3360000); /* as many ps a bit as ns for 1000 bits */
}

void faults_packet_signal(struct life *l, const struct say *m, bool alone, struct signal *g)
{
    static const struct { const char *fault, *variant; void (*make)(struct signal *g, const struct injected *f); } makers[] = {
        { "wire.bit-drift", NULL, drift_fault },    { "wire.preamble", NULL, preamble_fault }, { "wire.ordered-set", NULL, set_fault },
        { "wire.end-of-packet", "", end_fault }, { "wire.end-of-packet", "missing", end_fault },
    };
    const struct injected *f;

    if (m->set != SET_SOP || !l->contract || m->from != l->source)
        return;
    if ((f = synth_fault(l, "wire.bit-rate"))) {
        synth_blame_next(l, f, m->from);
        g->bit_ps = g->later_bit_ps = synth_amount_ns(f, 2850000);
    }
    for (unsigned k = 0; alone && l->plan->instrument.edges && k < sizeof makers / sizeof makers[0]; k++) {
        f = makers[k].variant ? synth_fault_just(l, makers[k].fault, makers[k].variant) : synth_fault(l, makers[k].fault);
        if (!f)
            continue;
        synth_blame_next(l, f, m->from);
        makers[k].make(g, f);
    }
}

static bool reserved_type(struct life *l)
{
    const struct injected *f = revision_3(l) ? synth_fault(l, "message.reserved-type") : NULL;
    unsigned               sink = sink_of(l);

    if (!f)
        return true;
    synth_open_exchange(l, sink);
    synth_blame_next(l, f, sink);
    if (!synth_say_control(l, sink, 27))
        return false;
    synth_wait(l, TIMER_RECEIVER_RESPONSE, l->source);
    return synth_say_control(l, l->source, C_NOT_SUPPORTED);
}

void faults_packet_sink_begins(struct life *l)
{
    const struct injected *f = l->plan->instrument.cc ? synth_fault_just(l, "exchange.sink-tx", "at-once") : NULL;

    if (!f)
        return;
    synth_rp(l, RP_1_5);
    synth_idle(l, 30000);
    synth_rp(l, RP_3_0);
    synth_to(l, l->rp_since_ns + synth_amount_ns(f, 3000000));
    synth_blame_next(l, f, sink_of(l));
}

bool faults_packet_idle(struct life *l)
{
    const struct injected *f;

    if (!reserved_type(l))
        return false;
    if (revision_3(l) && (f = synth_fault(l, "message.deprecated"))) {
        synth_open_exchange(l, l->source);
        synth_blame_next(l, f, l->source);
        if (!synth_say_control(l, l->source, C_PING))
            return false;
        synth_close_exchange(l);
    }
    if ((f = synth_fault(l, "exchange.goodcrc-unprompted"))) {
        synth_idle(l, 30000);
        synth_blame_next(l, f, l->source);
        synth_goodcrc_alone(l, l->source);
    }
    return true;
}

void faults_exchange_message(struct life *l, struct say *m) { (void)l; (void)m; }
