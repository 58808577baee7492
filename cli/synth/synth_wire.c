/* A message on the wire: its packets, their repeats and the GoodCRC. What can go wrong with a packet is asked for here. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_signal.h"
#include "cli/synth/synth_words.h"

#include <string.h>
#include <zlib.h>

enum { PACKET_MAX = SAY_BYTES + 8 };

struct packet { uint8_t bytes[PACKET_MAX]; size_t used; };

static void put_le(struct packet *p, uint32_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes && p->used < PACKET_MAX; k++)
        p->bytes[p->used++] = (uint8_t)(value >> 8 * k);
}

struct say say_control(unsigned player, unsigned type)
{
    return (struct say){ .from = (uint8_t)player, .type = (uint8_t)type, .count = SAY_COUNT_BY_LENGTH };
}

void say_word(struct say *m, uint32_t word)
{
    for (unsigned k = 0; k < 4 && m->length < SAY_BYTES; k++)
        m->body[m->length++] = (uint8_t)(word >> 8 * k);
}

struct say say_data(unsigned player, unsigned type, unsigned count, const uint32_t *words)
{
    struct say m = say_control(player, type);

    for (unsigned k = 0; k < count; k++)
        say_word(&m, words[k]);
    return m;
}

/* Revision bits of a message: what was agreed on, before that the sender's own, on SOP' what the plug knows. */
static unsigned revision_of(const struct life *l, unsigned player, unsigned set)
{
    unsigned own = player == PLAYER_PLUG ? (l->plug.edition ? REV_3 : REV_2) : l->partner[player].edition ? REV_3 : REV_2;

    if (set != SET_SOP)
        return l->plug_agreed && l->plug_agreed < own ? l->plug_agreed : own;
    return l->agreed && l->agreed < own ? l->agreed : own;
}

static uint16_t header_of(const struct life *l, unsigned player, unsigned set, unsigned type, unsigned id)
{
    unsigned h = type | revision_of(l, player, set) << 6 | id << 9;

    if (set != SET_SOP)
        return (uint16_t)(h | (player == PLAYER_PLUG ? 1u : 0u) << 8);
    return (uint16_t)(h | (player == l->source ? 1u : 0u) << 8 | (player == l->dfp ? 1u : 0u) << 5);
}

/* From now to the end of its EOP; spoil: the CRC is wrong. */
static void send(struct life *l, unsigned set, struct packet *p, bool spoil, const struct signal *g)
{
    uint32_t crc = (uint32_t)crc32(0, p->bytes, (uInt)p->used);
    size_t   length = p->used;

    put_le(p, spoil ? crc ^ 0x00010000u : crc, 4);
    int64_t span_ns = signal_span_ps(g, p->used) / 1000;

    synth_put_packet(l, l->now_ns, g, (uint8_t)set, p->bytes, p->used);
    p->used = length;
    synth_to(l, l->now_ns + span_ns);
}

static unsigned hearer(const struct life *l, const struct say *m)
{
    if (m->set == SET_SOP)
        return other_of(m->from);
    return m->from == PLAYER_PLUG ? l->vconn : (unsigned)PLAYER_PLUG;
}

/* The time to the GoodCRC: above the least gap, below tTransmit. */
static void turn_round(struct life *l, unsigned player)
{
    const struct injected *f = player == l->source && l->contract ? synth_fault(l, "wire.inter-frame-gap") : NULL;

    if (!f) {
        synth_wait(l, TIMER_GOODCRC, player);
        return;
    }
    synth_blame_next(l, f, player);
    synth_to(l, l->now_ns + synth_amount_ns(f, 12000));
}

static void acknowledge(struct life *l, const struct say *m, unsigned player, unsigned id, int wrong_id)
{
    struct packet p = { .used = 0 };
    struct signal g = signal_usual(l->bit_ps[player]);

    turn_round(l, player);
    put_le(&p, header_of(l, player, m->set, C_GOODCRC, (id + (unsigned)wrong_id) % 8), 2);
    send(l, m->set, &p, false, &g);
}

static unsigned repeats_of(const struct life *l, const struct say *m)
{
    return m->from == PLAYER_PLUG ? 0 : revision_of(l, m->from, m->set) == REV_2 ? 3 : 2;
}

static void packet_of(const struct life *l, const struct say *m, unsigned id, struct packet *p)
{
    int      count = m->count == SAY_COUNT_BY_LENGTH ? (int)(m->length / 4) : m->count;
    uint16_t header = (uint16_t)(header_of(l, m->from, m->set, m->type, id) | (unsigned)(count & 7) << 12 | (m->extended ? 0x8000u : 0u));

    p->used = 0;
    put_le(p, header ^ m->flip, 2);
    memcpy(p->bytes + p->used, m->body, m->length);
    p->used += m->length;
}

/* What became of the first copies by a fault, before the one that is heard. */
enum mishap { MISHAP_NONE, MISHAP_CRC, MISHAP_CRC_ALL, MISHAP_DEAF, MISHAP_DEAF_ONCE, MISHAP_WRONG_ID, MISHAP_MANY, MISHAP_NOT_SAME, MISHAP_RETRY, MISHAP_RESERVED };
static const struct { const char *fault; enum mishap mishap; bool of_sink; } mishaps[] = {
    { "wire.crc", MISHAP_CRC, false }, { "wire.crc-repeated", MISHAP_CRC_ALL, false }, { "exchange.goodcrc", MISHAP_DEAF, true },
    { "time.soft-reset", MISHAP_DEAF, true }, { "exchange.first-try", MISHAP_DEAF_ONCE, false }, { "exchange.goodcrc-id", MISHAP_WRONG_ID, false },
    { "exchange.retry-count", MISHAP_MANY, false }, { "exchange.retry-same", MISHAP_NOT_SAME, false }, { "time.retry", MISHAP_RETRY, false },
};

/* Only in a contract, on SOP, of the side that the fault is about; of capabilities where the bytes are to differ. */
static enum mishap mishap_of(struct life *l, const struct say *m, const struct injected **f)
{
    if (!l->contract || m->set != SET_SOP || m->extended || m->type == C_SOFT_RESET)
        return MISHAP_NONE;
    for (unsigned k = 0; k < sizeof mishaps / sizeof mishaps[0]; k++) {
        if ((m->from == sink_of(l)) != mishaps[k].of_sink)
            continue;
        if (mishaps[k].mishap == MISHAP_NOT_SAME && !(m->type == D_SOURCE_CAPABILITIES && m->length > 0))
            continue;
        if (mishaps[k].mishap == MISHAP_DEAF && m->length == 0 && (m->type == C_ACCEPT || m->type == C_REJECT))
            continue;
        /* No Soft_Reset in the middle of a swap of power roles. */
        if ((mishaps[k].mishap == MISHAP_DEAF || mishaps[k].mishap == MISHAP_CRC_ALL) && m->length == 0 && m->type == C_PS_RDY)
            continue;
        *f = synth_fault(l, mishaps[k].fault);
        if (*f)
            return mishaps[k].mishap;
    }
    if (l->plan->instrument.edges && m->from == l->source && (*f = synth_fault_just(l, "wire.end-of-packet", "reserved")))
        return MISHAP_RESERVED;
    return MISHAP_NONE;
}

static void wait_for_retry(struct life *l, const struct say *m, const struct injected *f, enum mishap mishap)
{
    if (mishap == MISHAP_RETRY && f) {
        synth_blame_next(l, f, m->from);
        synth_to(l, l->sent_end_ns + synth_amount_ns(f, 1400000));
        return;
    }
    synth_wait_from(l, l->sent_end_ns, TIMER_RETRY, m->from);
}

/* One copy; true: it was acknowledged. */
static bool copy_heard(struct life *l, const struct say *m, unsigned id, unsigned copy, unsigned last, enum mishap mishap)
{
    struct packet p;
    struct signal g = signal_usual(l->bit_ps[m->from]);
    bool          spoil = mishap == MISHAP_CRC_ALL || (copy == 0 && (mishap == MISHAP_CRC || mishap == MISHAP_RESERVED));

    packet_of(l, m, id, &p);
    if (mishap == MISHAP_NOT_SAME && copy)
        p.bytes[5] ^= 0x10; /* USB Suspend Supported */
    g.reserved = mishap == MISHAP_RESERVED && copy == 0;
    faults_packet_signal(l, m, mishap == MISHAP_NONE, &g);
    send(l, m->set, &p, spoil, &g);
    l->sent_end_ns = l->now_ns;
    l->sent_serial = l->last_packet_serial;
    if (mishap == MISHAP_DEAF || spoil || (m->set != SET_SOP && m->from != PLAYER_PLUG && l->plug.kind < CABLE_PASSIVE) ||
        m->unheard)
        return false;
    if (mishap == MISHAP_WRONG_ID && copy == 0) {
        acknowledge(l, m, hearer(l, m), id, 1);
        return false;
    }
    if ((mishap == MISHAP_DEAF_ONCE || mishap == MISHAP_NOT_SAME || mishap == MISHAP_RETRY) && copy == 0)
        return false;
    if (mishap == MISHAP_MANY && copy < last)
        return false;
    acknowledge(l, m, hearer(l, m), id, 0);
    return true;
}

static void blame_mishap(struct life *l, const struct say *m, const struct injected *f, enum mishap mishap, unsigned copy, unsigned last)
{
    unsigned hears = hearer(l, m);

    switch (mishap) {
    case MISHAP_NONE: case MISHAP_RETRY: return;
    case MISHAP_CRC: if (copy == 0) synth_blame_last(l, f, PLAYER_LINE); return;
    case MISHAP_RESERVED: if (copy == 0) synth_blame_last(l, f, m->from); return;
    case MISHAP_CRC_ALL: if (copy == 0) synth_blame_last(l, f, m->from); return;
    case MISHAP_DEAF: synth_blame_last(l, f, hears); return;
    case MISHAP_DEAF_ONCE: if (copy == 0) synth_blame_last(l, f, hears); return;
    case MISHAP_WRONG_ID: if (copy == 0) synth_blame_last(l, f, hears); return;
    case MISHAP_MANY: if (copy + 1 == last) synth_blame_next(l, f, m->from); return;
    case MISHAP_NOT_SAME: if (copy == 0) synth_blame_next(l, f, m->from); return;
    }
}

/* Nobody acknowledged it in the middle of a contract: Soft_Reset, and all anew. */
static void after_silence(struct life *l, const struct say *m, const struct injected *f)
{
    int64_t wait_ns = synth_draw_ns(l, TIMER_SOFT_RESET, m->from);

    if (strcmp(f->plan->fault, "time.soft-reset") == 0) {
        wait_ns = synth_amount_ns(f, 50000000);
        synth_blame_next(l, f, m->from);
    }
    synth_to(l, l->sent_end_ns + wait_ns);
    synth_soft_reset(l, m->from);
}

static bool say_copies(struct life *l, const struct say *m, unsigned id)
{
    const struct injected *f = NULL;
    enum mishap            mishap = mishap_of(l, m, &f);
    unsigned               last = repeats_of(l, m) + (mishap == MISHAP_MANY ? 1 : 0);
    bool                   heard = false;

    for (unsigned copy = 0; !heard && copy <= last; copy++) {
        if (copy)
            wait_for_retry(l, m, f, copy == 1 ? mishap : MISHAP_NONE);
        heard = copy_heard(l, m, id, copy, last, mishap);
        if (f)
            blame_mishap(l, m, f, mishap, copy, last);
    }
    l->next_id[m->set][m->from] = (uint8_t)((id + 1) % 8);
    if (!heard && f)
        after_silence(l, m, f);
    return heard;
}

bool synth_say(struct life *l, struct say *m)
{
    unsigned id = l->next_id[m->set][m->from];

    faults_packet_message(l, m);
    faults_exchange_message(l, m);
    faults_cable_message(l, m);
    faults_vdm_message(l, m);
    faults_ext_message(l, m);
    faults_caps_message(l, m);
    faults_message_message(l, m);
    if (m->id_given)
        id = m->id;
    if (!say_copies(l, m, id))
        return false;
    l->done_ns = l->now_ns;
    if (m->from != PLAYER_PLUG && m->set == SET_SOP) {
        l->spoken[m->from] = true;
        l->role_settling &= ~(1u << m->from);
        l->spoken[other_of(m->from)] = true;
        if (m->from == sink_of(l)) {
            l->sink_end_ns = l->sent_end_ns;
            l->sink_serial = l->sent_serial;
        }
    }
    if (m->set != SET_SOP)
        l->plug_heard = true;
    return true;
}

void synth_say_unheard(struct life *l, struct say *m)
{
    m->unheard = true;
    say_copies(l, m, l->next_id[m->set][m->from]);
}

void synth_goodcrc_alone(struct life *l, unsigned player)
{
    struct packet p = { .used = 0 };
    struct signal g = signal_usual(l->bit_ps[player]);

    put_le(&p, header_of(l, player, SET_SOP, C_GOODCRC, l->next_id[SET_SOP][other_of(player)]), 2);
    send(l, SET_SOP, &p, false, &g);
}

bool synth_say_control(struct life *l, unsigned player, unsigned type)
{
    struct say m = say_control(player, type);

    return synth_say(l, &m);
}

bool synth_say_data(struct life *l, unsigned player, unsigned type, unsigned count, const uint32_t *words)
{
    struct say m = say_data(player, type, count, words);

    return synth_say(l, &m);
}

/* A packet of an extended message: extended header, bytes, filled up to four. */
static bool piece(struct life *l, unsigned player, unsigned set, unsigned type, uint32_t head, const uint8_t *bytes, unsigned count)
{
    struct say m = say_control(player, type);

    m.set = (uint8_t)set;
    m.extended = true;
    m.body[m.length++] = (uint8_t)head;
    m.body[m.length++] = (uint8_t)(head >> 8);
    if (count)
        memcpy(m.body + m.length, bytes, count);
    m.length += count;
    while (m.length % 4)
        m.body[m.length++] = 0;
    if (!(head & 0x8000))
        m.count = 0;
    return synth_say(l, &m);
}

static bool goes_whole(struct life *l, unsigned player, unsigned size)
{
    if (size > 26 && l->partner[0].unchunked && l->partner[1].unchunked && (l->request & RDO_UNCHUNKED) && (l->offer[0] & PDO_UNCHUNKED))
        return true;
    return faults_message_whole(l, player, size);
}

/* The next chunk is asked for; false: nothing comes of it. */
static bool chunk_asked(struct life *l, unsigned hears, unsigned set, unsigned type, unsigned number)
{
    bool wrong;

    synth_wait(l, TIMER_CHUNK_REQUEST, hears);
    wrong = set == SET_SOP && faults_message_asks(l, hears, type, &number);
    return piece(l, hears, set, type, 0x8400u | number << 11, NULL, 0) && !wrong;
}

bool synth_say_extended(struct life *l, unsigned player, unsigned set, unsigned type, const uint8_t *block, unsigned size)
{
    unsigned hears = set == SET_SOP ? other_of(player) : player == PLAYER_PLUG ? l->vconn : (unsigned)PLAYER_PLUG;

    if (set == SET_SOP)
        size = faults_message_size(l, player, type, size);
    if (set == SET_SOP && goes_whole(l, player, size))
        return piece(l, player, set, type, size, block, size);
    for (unsigned number = 0; number == 0 || number * 26 < size; number++) {
        unsigned     left = size - number * 26;
        struct chunk c = { .number = number, .carried = left < 26 ? left : 26, .size = size };

        if (number) {
            if (!chunk_asked(l, hears, set, type, number))
                return false;
            synth_wait(l, TIMER_CHUNK_RESPONSE, player);
        }
        if (set == SET_SOP)
            faults_message_chunk(l, player, type, left, &c);
        if (!piece(l, player, set, type, 0x8000u | c.number << 11 | c.size, block + (size_t)number * 26, c.carried) || c.number != number)
            return false;
    }
    return true;
}

void synth_signal(struct life *l, unsigned player, uint8_t which)
{
    struct signal g = signal_usual(l->bit_ps[player]);

    synth_put_reset(l, l->now_ns, &g, which);
    synth_to(l, l->now_ns + signal_span_ps(&g, 0) / 1000);
}

void synth_ids_reset(struct life *l, unsigned set)
{
    memset(l->next_id[set], 0, sizeof l->next_id[set]);
}
