#include "tests/bench/story.h"

#include "decode/message.h"

#include <stdlib.h>
#include <string.h>

const char story_about[] =
    "{\"device\":\"Lumenbrick 200\",\"note\":\"made up for the benchmark\",\"ports\":["
    "{\"port\":0,\"name\":\"C1\",\"kind\":\"source\",\"volt_at\":\"source\",\"rated_w\":100},"
    "{\"port\":1,\"name\":\"C2\",\"kind\":\"source\",\"volt_at\":\"source\",\"rated_w\":65},"
    "{\"port\":2,\"name\":\"C3\",\"kind\":\"source\",\"volt_at\":\"source\",\"rated_w\":27}],"
    "\"instrument\":{\"model\":\"made up\",\"clock_ppm\":5,\"time_ns\":20,\"power_time_ns\":100,"
    "\"volt\":{\"gain_ppm\":200,\"offset_uv\":500,\"noise_uv\":800,\"bandwidth_hz\":5000},"
    "\"amp\":{\"gain_ppm\":500,\"offset_ua\":300,\"noise_ua\":400,\"bandwidth_hz\":5000}}}";

enum { NEGOTIATIONS_PER_PLUG = 200, SETS = 2, OBJECTS_MAX = 7 };

/* Objects by the tables of the standard: volts in 50 mV (PPS 100 mV), amperes in 10 mA (PPS 50 mA), power in 250 mW. */
#define FIXED(mv, ma) ((uint32_t)(mv) / 50 << 10 | (uint32_t)(ma) / 10)
#define BATTERY(min_mv, max_mv, mw) \
    (UINT32_C(1) << 30 | (uint32_t)(max_mv) / 50 << 20 | (uint32_t)(min_mv) / 50 << 10 | (uint32_t)(mw) / 250)
#define VARIABLE(min_mv, max_mv, ma) \
    (UINT32_C(2) << 30 | (uint32_t)(max_mv) / 50 << 20 | (uint32_t)(min_mv) / 50 << 10 | (uint32_t)(ma) / 10)
#define PPS(min_mv, max_mv, ma) \
    (UINT32_C(3) << 30 | (uint32_t)(max_mv) / 100 << 17 | (uint32_t)(min_mv) / 100 << 8 | (uint32_t)(ma) / 50)
#define PPS_LIMITED (UINT32_C(1) << 27)
#define SPR_AVS(ma_15v, ma_20v) (UINT32_C(14) << 28 | (uint32_t)(ma_15v) / 10 << 10 | (uint32_t)(ma_20v) / 10)
#define EPR_AVS(min_mv, max_mv, watts) \
    (UINT32_C(13) << 28 | (uint32_t)(max_mv) / 100 << 17 | (uint32_t)(min_mv) / 100 << 8 | (uint32_t)(watts))
/* Flags of the first object: unconstrained power, USB data, dual-role data, unchunked messages, EPR. */
enum { UNCONSTRAINED = 1 << 27, USB_DATA = 1 << 26, DUAL_DATA = 1 << 25, UNCHUNKED = 1 << 24, EPR_CAPABLE = 1 << 23, PEAK_1 = 1 << 20 };

/* What each port offers, in two ways that are worth the same power: an offer told again must not be the same words. */
static const struct { unsigned count; uint32_t words[OBJECTS_MAX]; } offers[STORY_PORTS][SETS] = {
    { { 6, { FIXED(5000, 3000) | UNCONSTRAINED | EPR_CAPABLE | PEAK_1, FIXED(9000, 3000), FIXED(15000, 3000), FIXED(20000, 5000),
             SPR_AVS(5000, 5000), PPS(3300, 21000, 4750) } },
      { 6, { FIXED(5000, 3000) | UNCONSTRAINED | EPR_CAPABLE | PEAK_1, FIXED(9000, 3000), FIXED(15000, 3000), FIXED(20000, 5000),
             SPR_AVS(5000, 5000), PPS(5000, 21000, 4700) } } },
    { { 6, { FIXED(5000, 3000) | UNCONSTRAINED | USB_DATA | DUAL_DATA | UNCHUNKED, FIXED(9000, 3000), FIXED(15000, 3000),
             FIXED(20000, 3250), SPR_AVS(3250, 3250), PPS(3300, 21000, 3050) } },
      { 6, { FIXED(5000, 3000) | UNCONSTRAINED | USB_DATA | DUAL_DATA | UNCHUNKED, FIXED(9000, 3000), FIXED(15000, 3000),
             FIXED(20000, 3250), SPR_AVS(3250, 3250), PPS(3300, 16000, 4000) } } },
    { { 5, { FIXED(5000, 3000) | UNCONSTRAINED, FIXED(9000, 3000), BATTERY(5000, 9000, 20000), VARIABLE(5000, 9000, 2500),
             PPS_LIMITED | PPS(3300, 11000, 3000) } },
      { 4, { FIXED(5000, 3000) | UNCONSTRAINED, FIXED(9000, 3000), BATTERY(5000, 9000, 12000), VARIABLE(5000, 9000, 1500) } } },
};

static uint32_t ask(unsigned position, uint32_t rest)
{
    return (uint32_t)position << 28 | rest;
}

/* One of the objects of the offer, asked for within its limits. */
static uint32_t any_request(struct story *s, unsigned port)
{
    unsigned position = 1 + talk_chance(&s->talk, offers[port][s->set].count);
    uint32_t word = offers[port][s->set].words[position - 1], least = 20 + talk_chance(&s->talk, 20);

    if (word >> 28 == 14) { /* SPR AVS: 9 to 15 V in steps of 100 mV, 25 mV a count */
        uint32_t tenths = 90 + talk_chance(&s->talk, 60);

        s->mv = (int32_t)tenths * 100;
        s->ma = (int32_t)least * 50;
        return ask(position, tenths * 4 << 9 | least);
    }
    if (word >> 30 == 3) { /* PPS: 20 mV a count */
        uint32_t low = word >> 8 & 255, high = word >> 17 & 255, tenths = low + talk_chance(&s->talk, high - low + 1);

        s->mv = (int32_t)tenths * 100;
        s->ma = (int32_t)least * 50;
        return ask(position, tenths * 5 << 9 | least);
    }
    if (word >> 30 == 1) {
        uint32_t quarters = 8 + talk_chance(&s->talk, 30);

        s->mv = (int32_t)(word >> 10 & 1023) * 50;
        s->ma = (int32_t)quarters * 250 / 10;
        return ask(position, quarters << 10 | quarters);
    }
    uint32_t most = word & 1023, now = 10 + talk_chance(&s->talk, most - 10);

    s->mv = (int32_t)(word >> 10 & 1023) * 50;
    s->ma = (int32_t)now * 10;
    /* Now and then it wants more than there is, and says so: Capability Mismatch, maximum above the object's. */
    if (talk_chance(&s->talk, 200) == 0)
        return ask(position, UINT32_C(1) << 26 | now << 10 | (most + 20 < 1023 ? most + 20 : 1023));
    return ask(position, now << 10 | most);
}

/* An adjustable voltage may be but a small step away: 25 ms for PPS, 50 ms for AVS. */
static bool adjustable(const struct story *s, uint32_t request)
{
    unsigned position = request >> 28;

    return position > OBJECTS_MAX || offers[s->talk.port][s->set].words[position - 1] >> 30 == 3;
}

static void accept_and_ready(struct story *s, uint32_t request)
{
    uint32_t least_us = adjustable(s, request) ? 12000 : 40000, spread_us = adjustable(s, request) ? 8000 : 60000;

    talk_control(&s->talk, FROM_SOURCE, CONTROL_ACCEPT);
    talk_wait_us(&s->talk, least_us + talk_chance(&s->talk, spread_us));
    talk_control(&s->talk, FROM_SOURCE, CONTROL_PS_RDY);
}

/* Readings are as rare as one record in twenty. */
static bool reading_due(const struct story *s)
{
    return s->powers * 20 < s->records;
}

static void take_readings(struct story *s)
{
    talk_power(&s->talk, s->mv, s->ma);
    s->powers++;
    s->unread = false;
}

/* Once its voltage stands. */
static void read_contract(struct story *s)
{
    if (!s->unread)
        return;
    talk_wait_us(&s->talk, 60000);
    take_readings(s);
}

/* What the source offers anew is mostly no reason to take anything else: the operating point changes when it is read next. */
static uint32_t choose(struct story *s)
{
    unsigned position = s->request >> 28;
    bool     stays = position >= 1 && position <= offers[s->talk.port][s->set].count &&
                 offers[s->talk.port][s->set].words[position - 1] == s->object;

    if (!stays || reading_due(s)) {
        s->request = any_request(s, s->talk.port);
        s->object = offers[s->talk.port][s->set].words[(s->request >> 28) - 1];
        s->unread = true;
    }
    return s->request;
}

static void contract_lost(struct story *s)
{
    s->request = 0;
    s->unread = false;
}

static void announce(struct story *s)
{
    talk_data(&s->talk, FROM_SOURCE, DATA_SOURCE_CAPABILITIES, offers[s->talk.port][s->set].count, offers[s->talk.port][s->set].words);
}

static void negotiate(struct story *s)
{
    uint32_t request = choose(s);

    announce(s);
    /* Both take messages whole where they can, and say so. */
    if (offers[s->talk.port][s->set].words[0] & UNCHUNKED)
        request |= UINT32_C(1) << 23;
    if (offers[s->talk.port][s->set].words[0] & EPR_CAPABLE)
        request |= UINT32_C(1) << 22;
    talk_data(&s->talk, FROM_SINK, DATA_REQUEST, 1, &request);
    accept_and_ready(s, request);
}

/* Discover Identity of a passive cable: 5 A, 50 V, EPR. */
static void discover_cable(struct story *s)
{
    static const uint32_t command[] = { 0xff00a001 };
    static const uint32_t answer[] = { 0xff00a041, 0x18000000, 0, 0x00010000, 0x000c2000 | 1 << 17 | 3 << 9 | 2 << 5 };

    talk_cable(&s->talk, FROM_SOURCE, DATA_VENDOR_DEFINED, 1, command);
    talk_cable(&s->talk, FROM_PLUG, DATA_VENDOR_DEFINED, 5, answer);
}

static const uint32_t sink_offer[] = { FIXED(5000, 3000), FIXED(9000, 3000), FIXED(15000, 3000) };

/* Who are you: ratings, edition, status, what the sink takes; the contract stays. */
static void ask_around(struct story *s)
{
    static const uint32_t info[STORY_PORTS] = { 0x00646464, 0x00414141, 0x001b1b1b }; /* maximum, present, reported PDP */
    static const uint32_t revision[] = { 0x32110000 }; /* 3.2, version 1.1 */
    static const uint8_t  status[7] = { 40, 6 }; /* 40 degrees, external AC power */
    uint8_t               extended[25] = { 0x09, 0x12, 0x01, 0x00 };

    memset(extended + 12, 1, 3); /* peak currents */
    extended[23] = (uint8_t)(info[s->talk.port] >> 16);
    extended[24] = s->talk.port == 0 ? 140 : 0;
    talk_control(&s->talk, FROM_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
    talk_extended(&s->talk, FROM_SOURCE, EXTENDED_SOURCE_CAPABILITIES, extended, sizeof extended);
    talk_control(&s->talk, FROM_SINK, CONTROL_GET_REVISION);
    talk_data(&s->talk, FROM_SOURCE, DATA_REVISION, 1, revision);
    talk_control(&s->talk, FROM_SINK, CONTROL_GET_SOURCE_INFO);
    talk_data(&s->talk, FROM_SOURCE, DATA_SOURCE_INFO, 1, &info[s->talk.port]);
    talk_control(&s->talk, FROM_SINK, CONTROL_GET_STATUS);
    talk_extended(&s->talk, FROM_SOURCE, EXTENDED_STATUS, status, sizeof status);
    talk_control(&s->talk, FROM_SOURCE, CONTROL_GET_SINK_CAP);
    talk_data(&s->talk, FROM_SINK, DATA_SINK_CAPABILITIES, 3, sink_offer);
    talk_retried(&s->talk, FROM_SINK, CONTROL_GET_SOURCE_CAP);
    announce(s);
    talk_data(&s->talk, FROM_SINK, DATA_REQUEST, 1, &s->request);
    accept_and_ready(s, s->request);
}

/* Long messages: in chunks, or whole where both take that. */
static void long_messages(struct story *s)
{
    uint8_t block[60];

    for (unsigned k = 0; k < sizeof block; k++)
        block[k] = (uint8_t)(k * 7);
    if (offers[s->talk.port][s->set].words[0] & UNCHUNKED) {
        talk_unchunked(&s->talk, FROM_SINK, EXTENDED_SECURITY_REQUEST, block, sizeof block);
        talk_unchunked(&s->talk, FROM_SOURCE, EXTENDED_SECURITY_RESPONSE, block, sizeof block);
        return;
    }
    talk_extended(&s->talk, FROM_SINK, EXTENDED_SECURITY_REQUEST, block, sizeof block);
    talk_extended(&s->talk, FROM_SOURCE, EXTENDED_SECURITY_RESPONSE, block, sizeof block);
}

static void swaps(struct story *s)
{
    for (unsigned there_and_back = 0; there_and_back < 2; there_and_back++) {
        talk_control(&s->talk, FROM_SINK, CONTROL_DR_SWAP);
        talk_control(&s->talk, FROM_SOURCE, CONTROL_ACCEPT);
        s->talk.source_is_ufp = !s->talk.source_is_ufp;
        talk_wait_us(&s->talk, 200000);
    }
    talk_control(&s->talk, FROM_SINK, CONTROL_GET_COUNTRY_CODES);
    talk_control(&s->talk, FROM_SOURCE, CONTROL_NOT_SUPPORTED);
}

/* A message that had to be said twice: who resets has a reason. */
static void disturbance(struct story *s)
{
    talk_retried(&s->talk, FROM_SOURCE, CONTROL_GET_SINK_CAP);
    talk_data(&s->talk, FROM_SINK, DATA_SINK_CAPABILITIES, 3, sink_offer);
}

static void soft_reset(struct story *s)
{
    disturbance(s);
    s->talk.next_id[0][FROM_SINK] = s->talk.next_id[0][FROM_SOURCE] = 0;
    talk_control(&s->talk, FROM_SINK, CONTROL_SOFT_RESET);
    talk_control(&s->talk, FROM_SOURCE, CONTROL_ACCEPT);
    take_readings(s);
    negotiate(s);
}

static void hard_reset(struct story *s)
{
    disturbance(s);
    talk_hard_reset(&s->talk);
    contract_lost(s);
    negotiate(s);
}

static void epr_request(struct story *s, uint32_t request, uint32_t copy)
{
    const uint32_t words[] = { request, copy };

    talk_data(&s->talk, FROM_SINK, DATA_EPR_REQUEST, 2, words);
    accept_and_ready(s, request);
}

/* Into the extended range, up to 28 V, a few adjustable steps, and back. */
static void epr(struct story *s)
{
    enum { SPR = 6, ALL = 9 };
    static const uint32_t enter[] = { 0x018c0000 }, acknowledged[] = { 0x02000000 }, succeeded[] = { 0x03000000 }, leave[] = { 0x05000000 };
    uint32_t              words[ALL] = { 0 };
    uint8_t               block[4 * ALL];

    memcpy(words, offers[0][s->set].words, sizeof words[0] * SPR);
    words[7] = FIXED(28000, 5000);
    words[8] = EPR_AVS(15000, 28000, 140);
    for (unsigned k = 0; k < 4 * ALL; k++)
        block[k] = (uint8_t)(words[k / 4] >> 8 * (k % 4));
    talk_data(&s->talk, FROM_SINK, DATA_EPR_MODE, 1, enter);
    talk_data(&s->talk, FROM_SOURCE, DATA_EPR_MODE, 1, acknowledged);
    talk_data(&s->talk, FROM_SOURCE, DATA_EPR_MODE, 1, succeeded);
    talk_extended(&s->talk, FROM_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, sizeof block);
    epr_request(s, ask(8, 1 << 22 | 300 << 10 | 500), words[7]);
    epr_request(s, ask(9, 1 << 22 | 240 * 4 << 9 | 50), words[8]);
    epr_request(s, ask(2, 1 << 22 | 200 << 10 | 300), words[1]);
    talk_data(&s->talk, FROM_SINK, DATA_EPR_MODE, 1, leave);
    contract_lost(s);
    negotiate(s);
}

static void plug_in(struct story *s)
{
    s->negotiations = NEGOTIATIONS_PER_PLUG;
    s->set = 0;
    talk_attach(&s->talk);
    discover_cable(s);
    negotiate(s);
}

/* What happens now and then between two negotiations. */
static void something_else(struct story *s)
{
    switch (talk_chance(&s->talk, 6)) {
    case 0:
        ask_around(s);
        return;
    case 1:
        long_messages(s);
        return;
    case 2:
        swaps(s);
        return;
    case 3:
        soft_reset(s);
        return;
    case 4:
        if (s->talk.port == 0)
            epr(s);
        return;
    default:
        hard_reset(s);
        return;
    }
}

void story_start(struct story *s, unsigned port, int64_t at_ns)
{
    memset(s, 0, sizeof *s);
    s->talk.port = (uint8_t)port;
    s->talk.now_ns = at_ns;
    s->talk.chance = 12345 + port;
}

void story_go_on(struct story *s)
{
    talk_clear(&s->talk);
    if (s->negotiations == 0) {
        plug_in(s);
        if (talk_chance(&s->talk, 4) == 0)
            ask_around(s);
    } else if (--s->negotiations == 0) {
        talk_detach(&s->talk);
        contract_lost(s);
    } else {
        if (talk_chance(&s->talk, 300) == 0) {
            something_else(s);
            read_contract(s);
        }
        s->set = !s->set;
        negotiate(s);
    }
    read_contract(s);
    s->records += s->talk.count;
    talk_wait_us(&s->talk, 200000 + talk_chance(&s->talk, 600000));
}
