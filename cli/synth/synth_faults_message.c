/* Faults of one message by itself, apart from its header and its packets (synth_faults_packet.c): what it may be, and how long. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_message[] = {
    { "message.length", NULL, "source", "A control message has four bytes that no object accounts for.", "message.length" },
    { "message.length", "unchunked", "source", "Status is sent whole, with four bytes that its Data Size leaves out.", "message.length" },
    { "message.reserved-bits", "extended-header", "source", "Bit 9 of an extended header is set.", "message.reserved-bits" },
    { "message.reserved-bits", "padding", "source", "What fills an extended message up to the next four bytes is not zero.",
      "message.reserved-bits" },
    { "message.direction", NULL, "sink", "The sink sends a message that only a source may send; it is let lie.", "message.direction" },
    { "message.set-allowed", NULL, "source", "Get_Source_Cap is sent to the plug; it is let lie.", "message.set-allowed" },
    { "message.allowed-in-revision", NULL, "sink", "An Alert is sent under revision 2.0; it is let lie.", "message.allowed-in-revision" },
    { "message.chunk-size", NULL, "source", "In the answer to a long message a chunk that is not the last has 22 bytes.", "message.chunk-size" },
    { "message.chunk-size", "data-size", "source", "In such an answer a chunk tells another Data Size than the one before.", "message.chunk-size" },
    { "message.chunk-order", NULL, "source", "In such an answer a chunk has the number after the one that was asked for; the sink lets the message be.",
      "message.chunk-order" },
    { "message.chunk-order", "request", "sink", "The sink asks for the chunk after the one that is due; the source lets the message be.",
      "message.chunk-order" },
    { "message.unchunked-agreed", NULL, "source", "A long message is sent whole, which was not agreed on.", "message.unchunked-agreed" },
    { "message.extended-size", NULL, "source", "Status has 8 bytes.", "message.extended-size" },
    { NULL, NULL, NULL, NULL, NULL },
};

enum { SHORT_CHUNK = 22, CHUNK = 26, STATUS_LONG = 8 };

/* Extended header (2.2): bit 15 Chunked, 10 Request Chunk, 8:0 Data Size, 9 reserved. */
static void extended_wrong(struct life *l, struct say *m)
{
    unsigned               head = m->body[0] | (unsigned)m->body[1] << 8, size = head & 0x1ff;
    const struct injected *f;

    if (head & 0x400)
        return;
    if (m->type == E_STATUS && (f = synth_fault_just(l, "message.length", "unchunked"))) {
        m->body[1] &= 0x7f;
        m->count = 0;
        say_word(m, 0);
        synth_blame_next(l, f, m->from);
    }
    if ((f = synth_fault_just(l, "message.reserved-bits", "extended-header"))) {
        m->body[1] |= 2;
        synth_blame_next(l, f, m->from);
    }
    if (size <= CHUNK && (size + 2) % 4 && (f = synth_fault_just(l, "message.reserved-bits", "padding"))) {
        m->body[m->length - 1] = 1;
        synth_blame_next(l, f, m->from);
    }
}

void faults_message_message(struct life *l, struct say *m)
{
    const struct injected *f;

    if (!l->contract || m->set != SET_SOP || m->from != l->source)
        return;
    if (m->extended)
        extended_wrong(l, m);
    if (m->length || m->type == C_SOFT_RESET || !(f = synth_fault_just(l, "message.length", "")))
        return;
    m->count = 0;
    say_word(m, 0);
    synth_blame_next(l, f, m->from);
}

/* Of revision 3.x a message that a source tells of itself; of 2.0 one by which it takes power back. */
static bool other_role(struct life *l)
{
    static const uint8_t   status[4] = { 0xff, 0xff, 0xff, 0 };
    unsigned               sink = sink_of(l);
    const struct injected *f = synth_fault(l, "message.direction");

    if (!f)
        return true;
    synth_open_exchange(l, sink);
    synth_blame_next(l, f, sink);
    return revision_3(l) ? synth_say_extended(l, sink, SET_SOP, E_PPS_STATUS, status, sizeof status) : synth_say_control(l, sink, C_GOTOMIN);
}

static bool wrong_set(struct life *l)
{
    const struct injected *f = l->plug_known && !l->plug_new_host && l->vconn == l->source ? synth_fault(l, "message.set-allowed") : NULL;
    struct say             m = say_control(l->source, C_GET_SOURCE_CAP);

    if (!f)
        return true;
    m.set = SET_SOP1;
    synth_open_exchange(l, l->source);
    synth_blame_next(l, f, l->source);
    if (!synth_say(l, &m))
        return false;
    synth_close_exchange(l);
    return true;
}

static bool too_new(struct life *l)
{
    const struct injected *f = l->agreed == REV_2 ? synth_fault(l, "message.allowed-in-revision") : NULL;
    const uint32_t         word = UINT32_C(1) << 28;
    unsigned               sink = sink_of(l);

    if (!f)
        return true;
    synth_open_exchange(l, sink);
    synth_blame_next(l, f, sink);
    return synth_say_data(l, sink, D_ALERT, 1, &word);
}

bool faults_message_idle(struct life *l)
{
    return other_role(l) && wrong_set(l) && too_new(l);
}

unsigned faults_message_size(struct life *l, unsigned player, unsigned type, unsigned size)
{
    const struct injected *f = player == l->source && type == E_STATUS ? synth_fault(l, "message.extended-size") : NULL;

    if (!f)
        return size;
    synth_blame_next(l, f, player);
    return STATUS_LONG;
}

bool faults_message_whole(struct life *l, unsigned player, unsigned size)
{
    const struct injected *f = player == l->source && size > CHUNK ? synth_fault(l, "message.unchunked-agreed") : NULL;

    if (f)
        synth_blame_next(l, f, player);
    return f != NULL;
}

/* Only in answers: what the other side would make of a broken question, or offer, is its own affair. */
void faults_message_chunk(struct life *l, unsigned player, unsigned type, unsigned left, struct chunk *c)
{
    const struct injected *f;

    if (player != l->source || (type != E_SECURITY_RESPONSE && type != E_FIRMWARE_RESPONSE) || left <= CHUNK)
        return;
    if ((f = synth_fault_just(l, "message.chunk-size", "")))
        c->carried = SHORT_CHUNK;
    else if (c->number && (f = synth_fault_just(l, "message.chunk-size", "data-size")))
        c->size -= 1;
    else if (c->number && left >= 2 * CHUNK && (f = synth_fault_just(l, "message.chunk-order", "")))
        c->number++;
    if (f)
        synth_blame_next(l, f, player);
}

bool faults_message_asks(struct life *l, unsigned player, unsigned type, unsigned *number)
{
    const struct injected *f = NULL;

    if (player == sink_of(l) && (type == E_SECURITY_RESPONSE || type == E_FIRMWARE_RESPONSE))
        f = synth_fault_just(l, "message.chunk-order", "request");
    if (!f)
        return false;
    ++*number;
    synth_blame_next(l, f, player);
    return true;
}
