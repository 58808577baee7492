#include "tests/rules/line_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include <zlib.h>

static const char *const twelve[] = {
    "wire.crc", "wire.crc-repeated", "wire.bit-rate", "wire.inter-frame-gap", "exchange.goodcrc", "exchange.first-try",
    "exchange.goodcrc-id", "exchange.goodcrc-unprompted", "exchange.retry-count", "exchange.retry-same", "time.goodcrc-turnaround",
    "time.retry",
};
enum { TWELVE = 12 };

void line_begin(struct lines *l)
{
    const uint32_t caps[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };

    lines_attach(l);
    lines_negotiate(l, 2, caps, word_ask_fixed(2, 2000, 3000));
    lines_wait(l, MS(5));
    l->pause_ns = 0;
}

static void put_le(uint8_t *out, uint32_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        out[k] = (uint8_t)(value >> 8 * k);
}

uint64_t line_put(struct lines *l, const struct one *o)
{
    uint8_t  bytes[2 + 4 * 7 + 4];
    size_t   length = 2u + 4u * o->words;
    unsigned header = o->type | (unsigned)l->revision << 6 | (unsigned)o->id << 9 | (unsigned)o->words << 12;

    if (o->set == SET_SOP)
        header |= o->side == SIDE_SOURCE ? 0x120u : 0;
    else
        header |= o->side == SIDE_CABLE ? 0x100u : 0;
    put_le(bytes, header, 2);
    for (unsigned k = 0; k < o->words; k++)
        put_le(bytes + 2 + 4 * k, 0x01000000u + k + (k == 0 ? o->other : 0), 4);
    put_le(bytes + length, (uint32_t)crc32(0, bytes, (uInt)length) ^ (o->bad ? 0x10u : 0), 4);
    return lines_raw(l, o->set, o->state, bytes, o->state & RECORD_NO_CRC ? length : length + 4);
}

static unsigned other(unsigned side)
{
    return side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE;
}

uint64_t line_alert(struct lines *l, unsigned side)
{
    uint8_t *id = &l->next_id[SET_SOP][side];
    uint64_t frame = line_put(l, &(struct one){ .side = (uint8_t)side, .type = DATA_ALERT, .id = *id, .words = 1 });

    *id = (uint8_t)((*id + 1) & 7);
    return frame;
}

uint64_t line_alert_again(struct lines *l, unsigned side)
{
    return line_put(l, &(struct one){ .side = (uint8_t)side, .type = DATA_ALERT, .id = (l->next_id[SET_SOP][side] + 7) & 7, .words = 1 });
}

uint64_t line_alert_bad(struct lines *l, unsigned side)
{
    return line_put(l, &(struct one){ .side = (uint8_t)side, .type = DATA_ALERT, .id = l->next_id[SET_SOP][side], .words = 1, .bad = true });
}

uint64_t line_goodcrc(struct lines *l, unsigned side)
{
    return line_put(l, &(struct one){ .side = (uint8_t)side, .type = CONTROL_GOODCRC, .id = (l->next_id[SET_SOP][other(side)] + 7) & 7 });
}

uint64_t line_exchange(struct lines *l, unsigned side)
{
    uint64_t frame = line_alert(l, side);

    lines_wait(l, US(60));
    line_goodcrc(l, other(side));
    lines_wait(l, MS(2));
    return frame;
}

static void timing_unused(void *context, unsigned port, unsigned rule, const struct span *span, const struct window *window)
{
    (void)context;
    (void)port;
    (void)rule;
    (void)span;
    (void)window;
}

void line_play(struct lines *l)
{
    struct engine_options slow = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .timing = timing_unused };
    struct counts         counts[TWELVE];
    unsigned              findings;

    lines_run(l, &slow);
    findings = l->findings;
    for (unsigned k = 0; k < TWELVE; k++)
        counts[k] = lines_result(l, twelve[k]).counts;
    lines_run(l, NULL);
    assert_int_equal(l->findings, findings);
    for (unsigned k = 0; k < TWELVE; k++)
        expect_counts(l, twelve[k], (unsigned)counts[k].passed, (unsigned)counts[k].failed, (unsigned)counts[k].undecided);
}

void line_expect_only(const struct lines *l, const char *ids)
{
    for (unsigned k = 0; k < TWELVE; k++)
        expect_only(l, twelve[k], ids);
}
