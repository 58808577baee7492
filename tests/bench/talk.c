#include "tests/bench/talk.h"

#include "capture/record.h"
#include "decode/message.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { GAP_US = 60, GOODCRC_US = 497, ROWS = 100, ROW_NS = 100000 };

struct packet { uint8_t bytes[2 + 2 + 260 + 4]; size_t used; };

void talk_clear(struct talk *t)
{
    t->head = t->count = 0;
    t->used = 0;
}

void talk_wait_us(struct talk *t, int64_t us)
{
    t->now_ns += us * 1000;
}

unsigned talk_chance(struct talk *t, unsigned below)
{
    /* Linear congruential, the upper bits of it: a trace of the same length is the same trace. */
    t->chance = t->chance * 1664525u + 1013904223u;
    return (t->chance >> 8) % below;
}

/* The record that was put at the end of the bytes joins the queue. */
static void enqueue(struct talk *t, size_t length)
{
    if (length == 0 || t->count == TALK_RECORDS)
        abort();
    t->queue[t->count].t_ns = t->now_ns;
    t->queue[t->count].at = t->used;
    t->queue[t->count].length = length;
    t->count++;
    t->used += length;
}

static void put_le(struct packet *p, uint32_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        p->bytes[p->used++] = (uint8_t)(value >> 8 * k);
}

static uint32_t header(const struct talk *t, unsigned set, enum talker from, unsigned type, unsigned id)
{
    uint32_t h = type | HEADER_R3 << 6 | id << 9;

    if (set == SET_SOP)
        return h | (from == FROM_SOURCE ? 1u : 0u) << 8 | ((from == FROM_SOURCE) != t->source_is_ufp ? 1u : 0u) << 5;
    return h | (from == FROM_PLUG ? 1u : 0u) << 8;
}

/* Sends p as it is and moves the clock to its end. */
static void send(struct talk *t, unsigned set, struct packet *p)
{
    put_le(p, (uint32_t)crc32(0, p->bytes, (uInt)p->used), 4);
    int64_t span_ns = record_nominal_ns(p->used);

    enqueue(t, record_put_packet(t->bytes + t->used, sizeof t->bytes - t->used, t->port, RECORD_INVENTED, (uint32_t)span_ns,
                                 (uint8_t)set, 0, p->bytes, p->used));
    t->now_ns += span_ns;
}

static void acknowledge(struct talk *t, unsigned set, enum talker from, unsigned id)
{
    struct packet p = { .used = 0 };

    talk_wait_us(t, GAP_US);
    put_le(&p, header(t, set, from, CONTROL_GOODCRC, id), 2);
    send(t, set, &p);
}

static enum talker partner(unsigned set, enum talker from)
{
    if (set == SET_SOP)
        return from == FROM_SOURCE ? FROM_SINK : FROM_SOURCE;
    return from == FROM_SOURCE ? FROM_PLUG : FROM_SOURCE;
}

/* rest: what follows the message header; more: header bits beside role, revision, id and type. */
static void say(struct talk *t, unsigned set, enum talker from, unsigned type, uint32_t more, const struct packet *rest,
                unsigned copies)
{
    unsigned id = t->next_id[set][from];

    for (unsigned copy = 0; copy < copies; copy++) {
        struct packet p = { .used = 0 };

        /* Heard already the first time, but its sender did not hear that: CRCReceiveTimer, 0.9 .. 1.1 ms. */
        if (copy) {
            acknowledge(t, set, partner(set, from), id);
            talk_wait_us(t, 1050 - GAP_US - GOODCRC_US);
        }
        put_le(&p, header(t, set, from, type, id) | more, 2);
        memcpy(p.bytes + p.used, rest->bytes, rest->used);
        p.used += rest->used;
        send(t, set, &p);
    }
    acknowledge(t, set, partner(set, from), id);
    t->next_id[set][from] = (uint8_t)((id + 1) % 8);
    talk_wait_us(t, 1500 + talk_chance(t, 2500));
}

void talk_control(struct talk *t, enum talker from, unsigned type)
{
    say(t, SET_SOP, from, type, 0, &(struct packet){ .used = 0 }, 1);
}

void talk_retried(struct talk *t, enum talker from, unsigned type)
{
    say(t, SET_SOP, from, type, 0, &(struct packet){ .used = 0 }, 2);
}

static struct packet words_packet(unsigned count, const uint32_t *words)
{
    struct packet p = { .used = 0 };

    for (unsigned k = 0; k < count; k++)
        put_le(&p, words[k], 4);
    return p;
}

void talk_data(struct talk *t, enum talker from, unsigned type, unsigned count, const uint32_t *words)
{
    struct packet p = words_packet(count, words);

    say(t, SET_SOP, from, type, count << 12, &p, 1);
}

void talk_cable(struct talk *t, enum talker from, unsigned type, unsigned count, const uint32_t *words)
{
    struct packet p = words_packet(count, words);

    say(t, SET_SOP1, from, type, count << 12, &p, 1);
}

/* Chunked, number in bits 14:11, Request Chunk bit 10, Data Size. */
static void chunk(struct talk *t, enum talker from, unsigned type, uint32_t extended, const uint8_t *block, unsigned bytes)
{
    struct packet p = { .used = 0 };

    put_le(&p, extended, 2);
    for (unsigned k = 0; k < bytes; k++)
        put_le(&p, block[k], 1);
    while (p.used % 4)
        put_le(&p, 0, 1);
    say(t, SET_SOP, from, type, 0x8000u | (uint32_t)(p.used / 4) << 12, &p, 1);
}

void talk_extended(struct talk *t, enum talker from, unsigned type, const uint8_t *block, unsigned size)
{
    for (unsigned number = 0; number * 26 < size; number++) {
        unsigned left = size - number * 26;

        if (number)
            chunk(t, partner(SET_SOP, from), type, 0x8400u | number << 11, NULL, 0);
        chunk(t, from, type, 0x8000u | number << 11 | size, block + (size_t)number * 26, left < 26 ? left : 26);
    }
}

void talk_unchunked(struct talk *t, enum talker from, unsigned type, const uint8_t *block, unsigned size)
{
    struct packet p = { .used = 0 };

    put_le(&p, size, 2);
    for (unsigned k = 0; k < size; k++)
        put_le(&p, block[k], 1);
    while (p.used % 4)
        put_le(&p, 0, 1);
    say(t, SET_SOP, from, type, 0x8000, &p, 1);
}

static void cc_state(struct talk *t, uint8_t attach, uint8_t rp)
{
    const uint8_t body[8] = { attach, rp, 0xff, 0xff, 0xff, 0xff };

    enqueue(t, record_put(t->bytes + t->used, sizeof t->bytes - t->used, RECORD_CC_STATE, t->port, RECORD_INVENTED, 0, body,
                          sizeof body));
}

void talk_ids_reset(struct talk *t)
{
    memset(t->next_id, 0, sizeof t->next_id);
}

void talk_attach(struct talk *t)
{
    cc_state(t, 0, 0);
    talk_wait_us(t, 20000);
    cc_state(t, 1, 0); /* Rp is not recorded: a source that offers at every turn would lower it before each */
    talk_wait_us(t, 170000);
    talk_ids_reset(t);
    t->source_is_ufp = false;
}

void talk_detach(struct talk *t)
{
    cc_state(t, 0, 0);
    talk_wait_us(t, 3000000 + talk_chance(t, 1000000));
}

void talk_hard_reset(struct talk *t)
{
    static const uint8_t body[4] = { RECORD_HARD_RESET };

    enqueue(t, record_put(t->bytes + t->used, sizeof t->bytes - t->used, RECORD_RESET_SIGNAL, t->port, RECORD_INVENTED,
                          (uint32_t)record_nominal_ns(0), body, sizeof body));
    talk_ids_reset(t);
    t->source_is_ufp = false;
    talk_wait_us(t, 1250000);
}

void talk_power(struct talk *t, int32_t mv, int32_t ma)
{
    int32_t cells[ROWS * 2];

    for (unsigned row = 0; row < ROWS; row++) {
        cells[2 * row] = mv * 1000 + (int32_t)talk_chance(t, 4000) - 2000;
        cells[2 * row + 1] = ma * 1000 + (int32_t)talk_chance(t, 2000) - 1000;
    }
    enqueue(t, record_put_power(t->bytes + t->used, sizeof t->bytes - t->used, t->port, RECORD_INVENTED, 0, ROW_NS, ROWS,
                                RECORD_VBUS | RECORD_IBUS, cells));
    talk_wait_us(t, ROWS * ROW_NS / 1000);
}
