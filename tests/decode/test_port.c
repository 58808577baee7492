/*
 * The port model: attach, offers, requests, contracts, swaps, resets, EPR, who speaks.
 * Expectations are typed from the definitions in DEVELOPERS.md ("The port model"); words of objects from published
 * examples are named where they stand.
 */
#include "decode/port.h"

#include <stdarg.h>
#include <setjmp.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include <cmocka.h>

#define MS INT64_C(1000000)
enum { CLASS_STEP = 32 };

struct scene {
    struct bench *bench;
    int64_t       now_ns;
    uint64_t      frame;
    unsigned      seen[EVENT_KINDS];
    struct contract begun, ended;
    unsigned      renewed;
    struct offer  offer;
    struct request request;
    enum swap     swapped;
};

static void watch(void *context, const struct event *e)
{
    struct scene *s = context;

    s->seen[e->kind]++;
    if (e->kind == EVENT_CONTRACT)
        s->begun = *e->contract;
    if (e->kind == EVENT_CONTRACT_END)
        s->ended = *e->contract;
    if (e->kind == EVENT_OFFER)
        s->offer = *e->offer;
    if (e->kind == EVENT_REQUEST || e->kind == EVENT_ANSWERED)
        s->request = *e->request;
    if (e->kind == EVENT_SWAPPED)
        s->swapped = e->swap;
}

static int set_up(void **state)
{
    struct scene *s = calloc(1, sizeof *s);

    if (!s)
        return -1;
    s->bench = bench_new();
    bench_observe(s->bench, UINT32_MAX, watch, s);
    *state = s;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *s = *state;

    bench_free(s->bench);
    free(s);
    return 0;
}

static void feed(struct scene *s, const uint8_t *bytes, size_t length)
{
    struct record r;

    record_read(bytes, length, false, s->now_ns, ++s->frame, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_true(bench_feed(s->bench, &r, false));
}

static void cc(struct scene *s, uint8_t attach, uint8_t rp)
{
    const uint8_t body[] = { attach, rp, 0xFF, 0xFF, 0xFF, 0xFF, 0, 0 };
    uint8_t       bytes[32];

    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_CC_STATE, 0, 0, 0, body, sizeof body));
}

static void vbus(struct scene *s, int32_t uv)
{
    uint8_t bytes[64];

    feed(s, bytes, record_put_power(bytes, sizeof bytes, 0, 0, 0, 0, 1, RECORD_VBUS, &uv));
}

/* A packet of header and bytes, CRC by zlib, 0.1 ms after what came before. */
static const struct speech *packet(struct scene *s, uint8_t set, uint16_t header, const uint8_t *data, size_t n)
{
    uint8_t  wire[280] = { (uint8_t)header, (uint8_t)(header >> 8) };
    uint8_t  bytes[320];
    uint32_t crc;
    size_t   length = n + 2;

    if (n)
        memcpy(wire + 2, data, n);
    crc = (uint32_t)crc32(crc32(0, NULL, 0), wire, (unsigned)length);
    for (unsigned k = 0; k < 4; k++)
        wire[length++] = (uint8_t)(crc >> 8 * k);
    uint32_t duration = (uint32_t)((89 + 10 * length) * 10000 / 3);

    feed(s, bytes, record_put_packet(bytes, sizeof bytes, 0, 0, duration, set, 0, wire, length));
    s->now_ns += duration + MS / 10;
    return bench_speech(s->bench);
}

static uint16_t header_of(unsigned index, unsigned objects, unsigned id, bool power, bool data)
{
    return (uint16_t)((index / CLASS_STEP == CLASS_EXTENDED ? 1u << 15 : 0) | objects << 12 | id << 9 |
                      (power ? 1u << 8 : 0) | 2u << 6 | (data ? 1u << 5 : 0) | index % CLASS_STEP);
}

/* A message and its GoodCRC. power, data: role bits of the sender; other_power: of the one that acknowledges. */
static const struct speech *say_bits(struct scene *s, unsigned index, unsigned id, bool power, bool data,
                                     bool other_power, const uint32_t *words, unsigned n)
{
    static struct speech said;
    uint8_t              bytes[28];

    for (unsigned k = 0; k < n * 4; k++)
        bytes[k] = (uint8_t)(words[k / 4] >> 8 * (k % 4));
    said = *packet(s, SET_SOP, header_of(index, n, id, power, data), bytes, n * 4);
    packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, id, other_power, !data), NULL, 0);
    s->now_ns += MS;
    return &said;
}

static const struct speech *source_says(struct scene *s, unsigned index, unsigned id, const uint32_t *words, unsigned n)
{
    return say_bits(s, index, id, true, true, false, words, n);
}

static const struct speech *sink_says(struct scene *s, unsigned index, unsigned id, const uint32_t *words, unsigned n)
{
    return say_bits(s, index, id, false, false, true, words, n);
}

#define CONTROL(x) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##x)
#define DATA(x) MESSAGE_INDEX(CLASS_DATA, DATA_##x)

/* 5 V 3 A, 9 V 3 A, 12 V, 15 V, 20 V 5 A: console log in the documentation of Zephyr's USB-C sample; PPS 3.3 to 21 V 5 A: the same log. */
static const uint32_t offered[] = { 0x0A01912C, 0x0002D12C, 0x0003C12C, 0x0004B12C, 0x000641F4, 0xC1A42164 };

static void attach(struct scene *s)
{
    cc(s, 0, 0);
    s->now_ns += MS;
    cc(s, 1, 3);
    s->now_ns += 200 * MS;
}

static uint32_t fixed_request(unsigned position, unsigned op_10ma)
{
    return position << 28 | op_10ma << 10 | op_10ma;
}

static void negotiate(struct scene *s, unsigned source_id, unsigned sink_id, uint32_t rdo)
{
    source_says(s, DATA(SOURCE_CAPABILITIES), source_id, offered, 6);
    sink_says(s, DATA(REQUEST), sink_id, &rdo, 1);
    source_says(s, CONTROL(ACCEPT), source_id + 1, NULL, 0);
    source_says(s, CONTROL(PS_RDY), source_id + 2, NULL, 0);
}

static void ps_rdy_after_accept_begins_a_contract(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    assert_int_equal(s->seen[EVENT_ATTACH], 1);
    assert_int_equal(s->seen[EVENT_OFFER], 1);
    assert_true(s->offer.delivered);
    assert_int_equal(s->offer.count, 6);
    assert_int_equal(s->seen[EVENT_CONTRACT], 1);
    assert_int_equal(s->begun.position, 2);
    assert_int_equal(s->begun.supply, SUPPLY_FIXED);
    assert_int_equal(s->begun.mv, 9000);
    assert_int_equal(s->begun.ma, 3000);
    assert_int_equal(bench_port(s->bench, 0)->agreed, AGREED_R3);
}

static void an_accept_without_a_request_begins_nothing(void **state)
{
    struct scene *s = *state;

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, offered, 6);
    source_says(s, CONTROL(ACCEPT), 1, NULL, 0);
    source_says(s, CONTROL(PS_RDY), 2, NULL, 0);
    assert_int_equal(s->seen[EVENT_CONTRACT], 0);
}

static void the_same_operating_point_again_renews_a_contract(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    negotiate(s, 3, 1, fixed_request(2, 300));
    assert_int_equal(s->seen[EVENT_CONTRACT], 1);
    assert_int_equal(s->seen[EVENT_RENEWED], 1);
    assert_int_equal(bench_port(s->bench, 0)->contract.renewed, 1);
    assert_true(s->offer.same_as_last);
}

static void another_operating_point_ends_the_old_contract_as_renegotiated(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    negotiate(s, 3, 1, fixed_request(5, 325));
    assert_int_equal(s->seen[EVENT_CONTRACT], 2);
    assert_int_equal(s->ended.mv, 9000);
    assert_int_equal(s->ended.ended_by, CONTRACT_RENEGOTIATED);
    assert_int_equal(s->begun.mv, 20000);
    assert_int_equal(s->begun.ma, 3250);
    assert_true(s->ended.until_ns == s->begun.t_ns);
}

static void a_programmable_contract_has_the_voltage_asked_for(void **state)
{
    struct scene *s = *state;
    uint32_t      rdo = 6u << 28 | (8400 / 20) << 9 | 3000 / 50;

    attach(s);
    negotiate(s, 0, 0, rdo);
    assert_int_equal(s->begun.supply, SUPPLY_PPS);
    assert_int_equal(s->begun.mv, 8400);
    assert_int_equal(s->begun.ma, 3000);
}

static void a_request_is_read_against_the_last_delivered_offer(void **state)
{
    struct scene *s = *state;
    uint32_t      only_5v = 0x0801912C; /* published: a kernel mailing list mail of 2021, partner PDO 1 */
    uint32_t      rdo = fixed_request(2, 300);
    uint8_t       bytes[4] = { 0x2C, 0x91, 0x01, 0x08 };

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, offered, 6);
    sink_says(s, DATA(REQUEST), 0, &rdo, 1);
    source_says(s, CONTROL(REJECT), 1, NULL, 0);
    /* A new offer whose GoodCRC never comes: not delivered, the sink still goes by the old one. */
    packet(s, SET_SOP, header_of(DATA(SOURCE_CAPABILITIES), 1, 2, true, true), bytes, 4);
    s->now_ns += 300 * MS;
    source_says(s, CONTROL(PING), 3, NULL, 0);
    sink_says(s, DATA(REQUEST), 1, &rdo, 1);
    assert_true(s->request.offer_known);
    assert_true(s->request.position_valid);
    assert_int_equal(s->request.offer_count, 6);
    (void)only_5v;
}

static void a_message_that_is_answered_was_delivered_though_its_goodcrc_is_missing(void **state)
{
    struct scene *s = *state;
    uint8_t       bytes[4] = { 0x2C, 0x91, 0x01, 0x08 };
    uint32_t      rdo = fixed_request(1, 300);

    attach(s);
    packet(s, SET_SOP, header_of(DATA(SOURCE_CAPABILITIES), 1, 0, true, true), bytes, 4);
    s->now_ns += 5 * MS;
    sink_says(s, DATA(REQUEST), 0, &rdo, 1);
    assert_int_equal(s->seen[EVENT_OFFER], 1);
    assert_true(s->request.position_valid);
    assert_int_equal(s->request.asked.max_mv, 5000);
}

static void an_offer_to_nobody_stands_all_the_same(void **state)
{
    struct scene *s = *state;
    uint8_t       bytes[4] = { 0x2C, 0x91, 0x01, 0x08 };

    attach(s);
    packet(s, SET_SOP, header_of(DATA(SOURCE_CAPABILITIES), 1, 0, true, true), bytes, 4);
    s->now_ns += 150 * MS;
    packet(s, SET_SOP, header_of(DATA(SOURCE_CAPABILITIES), 1, 1, true, true), bytes, 4);
    assert_int_equal(s->seen[EVENT_OFFER], 1);
    assert_false(s->offer.delivered);
    bench_end(s->bench, s->now_ns);
    assert_int_equal(s->seen[EVENT_OFFER], 2);
}

static void a_retry_is_a_copy_and_no_new_message(void **state)
{
    struct scene *s = *state;
    uint16_t      h = header_of(CONTROL(GET_SINK_CAP), 0, 0, true, true);

    attach(s);
    assert_false(packet(s, SET_SOP, h, NULL, 0)->copy);
    s->now_ns += MS;
    assert_true(packet(s, SET_SOP, h, NULL, 0)->copy);
    assert_int_equal(s->seen[EVENT_MESSAGE], 1);
    assert_int_equal(bench_port(s->bench, 0)->streams[0].last.copies, 2);
}

static void a_hard_reset_ends_the_contract_and_the_ids(void **state)
{
    struct scene *s = *state;
    const uint8_t which[] = { 0, 0, 0, 0 };
    uint8_t       bytes[16];

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_RESET_SIGNAL, 0, 0, 280000, which, sizeof which));
    assert_int_equal(s->ended.ended_by, CONTRACT_HARD_RESET);
    assert_true(bench_port(s->bench, 0)->streams[0].reset_pending);
    assert_int_equal(bench_port(s->bench, 0)->agreed, AGREED_UNKNOWN);
}

static void cc_open_is_a_detach(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    cc(s, 0, 0);
    assert_int_equal(s->seen[EVENT_DETACH], 1);
    assert_int_equal(s->ended.ended_by, CONTRACT_DETACHED);
    assert_false(bench_port(s->bench, 0)->attached);
}

static void vbus_tells_attach_and_detach_where_cc_is_not_recorded(void **state)
{
    struct scene *s = *state;

    vbus(s, 0);
    s->now_ns += MS;
    vbus(s, 5000000);
    assert_int_equal(s->seen[EVENT_ATTACH], 1);
    negotiate(s, 0, 0, fixed_request(1, 300));
    s->now_ns += 100 * MS;
    vbus(s, 100000);
    assert_int_equal(s->ended.ended_by, CONTRACT_SUPPLY_LOST);
    assert_int_equal(s->seen[EVENT_DETACH], 0);
    s->now_ns += 2001 * MS;
    vbus(s, 0);
    assert_int_equal(s->seen[EVENT_DETACH], 1);
}

static void vbus_that_returns_after_a_hard_reset_is_no_attach(void **state)
{
    struct scene *s = *state;
    const uint8_t which[] = { 0, 0, 0, 0 };
    uint8_t       bytes[16];

    vbus(s, 0);
    s->now_ns += MS;
    vbus(s, 5000000);
    negotiate(s, 0, 0, fixed_request(1, 300));
    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_RESET_SIGNAL, 0, 0, 280000, which, sizeof which));
    s->now_ns += 100 * MS;
    vbus(s, 0);
    s->now_ns += 900 * MS;
    vbus(s, 5000000);
    assert_int_equal(s->seen[EVENT_ATTACH], 1);
}

/* The old source's PS_RDY already shows Sink, the new one's Source; GoodCRC comes from the other side. */
static void roles_turn_within_a_power_role_swap(void **state)
{
    struct scene *s = *state;
    const uint32_t dual = 0x2A01912C; /* 5 V 3 A with Dual-Role Power */

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, &dual, 1);
    source_says(s, CONTROL(PR_SWAP), 1, NULL, 0);
    sink_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    cc(s, 0, 2);
    assert_int_equal(s->seen[EVENT_DETACH], 0);
    const struct speech *off = say_bits(s, CONTROL(PS_RDY), 2, false, true, false, NULL, 0);

    assert_int_equal(off->side, SIDE_SINK);
    assert_int_equal(off->player, PLAYER_A);
    assert_int_equal(bench_speech(s->bench)->player, PLAYER_B);
    const struct speech *on = say_bits(s, CONTROL(PS_RDY), 1, true, false, false, NULL, 0);

    assert_int_equal(on->side, SIDE_SOURCE);
    assert_int_equal(on->player, PLAYER_B);
    assert_int_equal(s->swapped, SWAP_PR);
    assert_int_equal(bench_port(s->bench, 0)->role[PLAYER_B], SIDE_SOURCE);
    /* Afterwards the role bits tell again: what shows Source is player B. */
    assert_int_equal(say_bits(s, DATA(SOURCE_CAPABILITIES), 0, true, false, false, &dual, 1)->player, PLAYER_B);
}

static void a_repeated_ps_rdy_does_not_run_through_the_swap(void **state)
{
    struct scene *s = *state;
    const uint32_t dual = 0x2A01912C;
    uint16_t       ready = header_of(CONTROL(PS_RDY), 0, 2, false, true);

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, &dual, 1);
    source_says(s, CONTROL(PR_SWAP), 1, NULL, 0);
    sink_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    packet(s, SET_SOP, ready, NULL, 0);
    s->now_ns += MS;
    const struct speech *again = packet(s, SET_SOP, ready, NULL, 0);

    assert_true(again->copy);
    assert_int_equal(again->player, PLAYER_A);
    assert_int_equal(s->seen[EVENT_SWAPPED], 0);
    assert_int_equal(bench_port(s->bench, 0)->swap_phase, 2);
}

static void a_data_role_swap_turns_the_data_roles(void **state)
{
    struct scene *s = *state;

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, offered, 6);
    sink_says(s, CONTROL(DR_SWAP), 0, NULL, 0);
    source_says(s, CONTROL(ACCEPT), 1, NULL, 0);
    assert_int_equal(s->swapped, SWAP_DR);
    assert_false(bench_port(s->bench, 0)->dfp[PLAYER_A]);
    assert_true(bench_port(s->bench, 0)->dfp[PLAYER_B]);
}

static void on_sop1_the_port_that_sources_vconn_speaks(void **state)
{
    struct scene *s = *state;
    const uint8_t ask[] = { 0x01, 0xA0, 0x00, 0xFF };

    /* Beginning unknown: nobody can tell. */
    assert_int_equal(packet(s, SET_SOP1, header_of(DATA(VENDOR_DEFINED), 1, 0, false, false), ask, 4)->side, SIDE_UNKNOWN);
    assert_int_equal(packet(s, SET_SOP1, header_of(CONTROL_GOODCRC, 0, 0, true, false), NULL, 0)->side, SIDE_CABLE);
    s->now_ns += 10 * MS;
    attach(s);
    assert_int_equal(packet(s, SET_SOP1, header_of(DATA(VENDOR_DEFINED), 1, 0, false, false), ask, 4)->side, SIDE_SOURCE);
    source_says(s, CONTROL(VCONN_SWAP), 0, NULL, 0);
    sink_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    sink_says(s, CONTROL(PS_RDY), 1, NULL, 0);
    assert_int_equal(s->swapped, SWAP_VCONN);
    assert_int_equal(packet(s, SET_SOP1, header_of(DATA(VENDOR_DEFINED), 1, 1, false, false), ask, 4)->side, SIDE_SINK);
}

static void extended_chunk(struct scene *s, unsigned id, unsigned chunk, unsigned size, const uint8_t *data, unsigned n)
{
    uint8_t  body[28] = { 0 };
    unsigned ext = 1u << 15 | chunk << 11 | size;

    body[0] = (uint8_t)ext;
    body[1] = (uint8_t)(ext >> 8);
    memcpy(body + 2, data, n);
    packet(s, SET_SOP, header_of(MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_EPR_SOURCE_CAPABILITIES), (n + 5) / 4, id, true, true),
           body, (n + 5) / 4 * 4);
    packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, id, false, false), NULL, 0);
    s->now_ns += MS;
}

/* Seven SPR positions (unused ones zero), then 28 V 5 A and EPR AVS 15 to 28 V 140 W. */
static void an_epr_offer_is_put_together_from_its_chunks(void **state)
{
    struct scene *s = *state;
    const uint32_t words[9] = { 0x0881912C, 0x0002D12C, 0x0004B12C, 0x000641F4, 0, 0, 0, 0x0008C1F4, 0xD230968C };
    uint8_t        bytes[36];

    for (unsigned k = 0; k < sizeof bytes; k++)
        bytes[k] = (uint8_t)(words[k / 4] >> 8 * (k % 4));
    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, words, 4);
    extended_chunk(s, 1, 0, 36, bytes, 26);
    assert_int_equal(bench_port(s->bench, 0)->speech.m.index, CONTROL_GOODCRC);
    assert_int_equal(s->seen[EVENT_OFFER], 1);
    extended_chunk(s, 2, 1, 36, bytes + 26, 10);
    assert_int_equal(s->seen[EVENT_OFFER], 2);
    assert_true(s->offer.epr);
    assert_int_equal(s->offer.count, 9);
    assert_int_equal(s->offer.pdos[7].position, 8);
    assert_int_equal(s->offer.pdos[7].max_mv, 28000);
    assert_int_equal(s->offer.pdos[8].supply, SUPPLY_EPR_AVS);
    assert_int_equal(s->offer.pdos[8].max_mw, 140000);
}

static void a_missing_chunk_gives_the_message_up(void **state)
{
    struct scene *s = *state;
    const uint8_t bytes[52] = { 0 };

    attach(s);
    extended_chunk(s, 0, 1, 52, bytes, 26);
    assert_int_equal(s->seen[EVENT_OFFER], 0);
    extended_chunk(s, 1, 0, 60, bytes, 26);
    extended_chunk(s, 2, 2, 60, bytes, 8);
    assert_int_equal(s->seen[EVENT_ANNOUNCED], 0);
}

static void epr_mode_begins_with_enter_succeeded_and_ends_with_exit(void **state)
{
    struct scene *s = *state;
    const uint32_t enter = 1u << 24, acknowledged = 2u << 24, succeeded = 3u << 24, leave = 5u << 24;

    attach(s);
    negotiate(s, 0, 0, fixed_request(5, 300));
    sink_says(s, DATA(EPR_MODE), 1, &enter, 1);
    source_says(s, DATA(EPR_MODE), 3, &acknowledged, 1);
    assert_false(bench_port(s->bench, 0)->epr_mode);
    source_says(s, DATA(EPR_MODE), 4, &succeeded, 1);
    assert_true(bench_port(s->bench, 0)->epr_mode);
    assert_true(bench_port(s->bench, 0)->contract.held);
    sink_says(s, DATA(EPR_MODE), 2, &leave, 1);
    assert_false(bench_port(s->bench, 0)->epr_mode);
    assert_int_equal(s->ended.ended_by, CONTRACT_EPR_EXIT);
}

/* After a VCONN_Swap the sink speaks to the plug: its own MessageIDs and the plug's are counted apart. */
static void the_plug_and_the_sink_that_speaks_to_it_are_two_senders(void **state)
{
    struct scene *s = *state;

    attach(s);
    source_says(s, CONTROL(VCONN_SWAP), 0, NULL, 0);
    sink_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    sink_says(s, CONTROL(PS_RDY), 1, NULL, 0);
    packet(s, SET_SOP1, header_of(CONTROL(SOFT_RESET), 0, 0, false, false), NULL, 0);
    packet(s, SET_SOP1, header_of(CONTROL_GOODCRC, 0, 0, true, false), NULL, 0);
    assert_true(bench_port(s->bench, 0)->streams[stream_index(SET_SOP1, PLAYER_CABLE)].reset_pending);
    packet(s, SET_SOP1, header_of(CONTROL(ACCEPT), 0, 0, true, false), NULL, 0);
    assert_int_equal(bench_port(s->bench, 0)->streams[stream_index(SET_SOP1, PLAYER_CABLE)].last.index, CONTROL(ACCEPT));
    assert_int_equal(bench_port(s->bench, 0)->streams[stream_index(SET_SOP1, PLAYER_B)].last.index, CONTROL(SOFT_RESET));
}

/* The source has not noticed yet that nothing is attached and says one more thing: no attach, nothing owed. */
static void what_is_said_after_a_detach_belongs_to_no_attach(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    cc(s, 0, 0);
    assert_false(bench_port(s->bench, 0)->streams[0].reset_pending);
    source_says(s, CONTROL(GET_SINK_CAP), 3, NULL, 0);
    assert_false(bench_port(s->bench, 0)->attached);
    attach(s);
    assert_true(bench_port(s->bench, 0)->streams[0].reset_pending);
}

/* A sender that hears the partner's next message instead of its GoodCRC can repeat itself only after that. */
static void a_retry_that_had_to_wait_for_the_partner_is_still_a_copy(void **state)
{
    struct scene *s = *state;
    uint16_t      ask = header_of(CONTROL(GET_SINK_CAP), 0, 0, true, true);

    attach(s);
    packet(s, SET_SOP, ask, NULL, 0);
    packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, 0, false, false), NULL, 0);
    packet(s, SET_SOP, header_of(CONTROL(NOT_SUPPORTED), 0, 0, false, false), NULL, 0);
    packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, 0, true, true), NULL, 0);
    s->now_ns += MS / 2;
    assert_true(packet(s, SET_SOP, ask, NULL, 0)->copy);
    s->now_ns += 3 * MS;
    assert_false(packet(s, SET_SOP, ask, NULL, 0)->copy);
}

/* Every Soft_Reset has MessageID 0: an Accept in between tells two of them from one that was repeated. */
static void a_soft_reset_after_the_accept_of_the_last_one_is_a_new_message(void **state)
{
    struct scene *s = *state;
    uint16_t      reset = header_of(CONTROL(SOFT_RESET), 0, 0, false, false);

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    sink_says(s, CONTROL(SOFT_RESET), 0, NULL, 0);
    assert_true(packet(s, SET_SOP, reset, NULL, 0)->copy);
    packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, 0, true, true), NULL, 0);
    source_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    assert_false(packet(s, SET_SOP, reset, NULL, 0)->copy);
    assert_int_equal(s->seen[EVENT_SOFT_RESET], 2);
    assert_true(bench_port(s->bench, 0)->streams[0].reset_pending);
}

static void lose(struct scene *s)
{
    const uint8_t lost[] = { 3, 0, 0, 0, 1, 0, 0, 0 };
    uint8_t       bytes[16];

    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_LOST, 0, 0, 0, lost, sizeof lost));
}

/* A dual-role port that became the sink in the gap shows Rd: its CC state is that of a port without partner. */
static void after_a_loss_cc_without_partner_is_a_detach_only_if_nobody_talks(void **state)
{
    struct scene *s = *state;
    const uint32_t dual[] = { 0x2001912c };

    attach(s);
    source_says(s, DATA(SOURCE_CAPABILITIES), 0, dual, 1);
    lose(s);
    cc(s, 0, 2);
    s->now_ns += 100 * MS;
    sink_says(s, CONTROL(GET_SOURCE_CAP), 3, NULL, 0);
    s->now_ns += 100 * MS;
    cc(s, 1, 3);
    assert_int_equal(s->seen[EVENT_DETACH], 0);
    assert_int_equal(s->seen[EVENT_ATTACH], 1);
    cc(s, 0, 3);
    s->now_ns += 500 * MS;
    cc(s, 1, 3);
    assert_int_equal(s->seen[EVENT_DETACH], 1);
    assert_int_equal(s->seen[EVENT_ATTACH], 2);
}

static void after_a_loss_cc_without_partner_of_a_port_that_cannot_swap_is_a_detach(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    lose(s);
    cc(s, 0, 3);
    assert_int_equal(s->seen[EVENT_DETACH], 1);
}

static void an_offer_after_a_soft_reset_is_owed(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    assert_false(s->offer.after_soft_reset);
    sink_says(s, CONTROL(SOFT_RESET), 0, NULL, 0);
    source_says(s, CONTROL(ACCEPT), 0, NULL, 0);
    negotiate(s, 1, 1, fixed_request(2, 300));
    assert_true(s->offer.after_soft_reset);
    negotiate(s, 4, 2, fixed_request(2, 300));
    assert_false(s->offer.after_soft_reset);
}

/* 100 rows of 1 ms: at volts for the first `rows` of them, then at 0 V. Stands in the trace at its start. */
static void vbus_block(struct scene *s, int32_t uv, unsigned rows)
{
    int32_t cells[100];
    uint8_t bytes[512];

    for (unsigned k = 0; k < 100; k++)
        cells[k] = k < rows ? uv : 0;
    feed(s, bytes, record_put_power(bytes, sizeof bytes, 0, 0, 0, 1000000, 100, RECORD_VBUS, cells));
}

static void vbus_that_falls_after_the_unplug_ends_no_contract_before_it(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    vbus_block(s, 9000000, 60);
    s->now_ns += 50 * MS;
    cc(s, 0, 0);
    assert_int_equal(s->ended.ended_by, CONTRACT_DETACHED);
    assert_true(s->ended.until_ns == s->now_ns);
}

static void vbus_that_is_lost_ends_the_contract_at_its_row(void **state)
{
    struct scene *s = *state;
    int64_t       start_ns;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    start_ns = s->now_ns;
    vbus_block(s, 9000000, 60);
    assert_int_equal(s->seen[EVENT_CONTRACT_END], 0);
    s->now_ns += 70 * MS;
    source_says(s, CONTROL(GET_SINK_CAP), 3, NULL, 0);
    assert_int_equal(s->ended.ended_by, CONTRACT_SUPPLY_LOST);
    assert_true(s->ended.until_ns == start_ns + 60 * MS);
}

static void what_the_last_power_record_showed_counts_at_the_end(void **state)
{
    struct scene *s = *state;

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    vbus_block(s, 9000000, 60);
    bench_end(s->bench, s->now_ns + 100 * MS);
    assert_int_equal(s->ended.ended_by, CONTRACT_SUPPLY_LOST);
}

/* Neither CC nor a mark: VBUS alone shows a plug pulled and put back within the 2 s of a detach. */
static void a_quick_replug_seen_by_vbus_alone_is_an_attach(void **state)
{
    struct scene *s = *state;

    vbus(s, 0);
    s->now_ns += MS;
    vbus(s, 5000000);
    negotiate(s, 0, 0, fixed_request(1, 300));
    s->now_ns += 100 * MS;
    vbus(s, 0);
    s->now_ns += 300 * MS;
    vbus(s, 5000000);
    assert_int_equal(s->seen[EVENT_ATTACH], 2);
    assert_int_equal(s->seen[EVENT_DETACH], 1);
}

/* The source repeats what was acknowledged: it did not hear that, and may use the number again. */
static void a_sender_that_repeats_what_was_acknowledged_did_not_hear_it(void **state)
{
    struct scene *s = *state;
    uint16_t      ask = header_of(CONTROL(GET_SINK_CAP), 0, 0, true, true);

    attach(s);
    for (unsigned k = 0; k < 2; k++) {
        packet(s, SET_SOP, ask, NULL, 0);
        packet(s, SET_SOP, header_of(CONTROL_GOODCRC, 0, 0, false, false), NULL, 0);
        s->now_ns += MS / 2;
    }
    assert_int_equal(bench_port(s->bench, 0)->streams[0].last.copies, 2);
    s->now_ns += 20 * MS;
    packet(s, SET_SOP, header_of(CONTROL(PING), 0, 0, true, true), NULL, 0);
    assert_true(bench_port(s->bench, 0)->streams[0].last_unacknowledged);
}

static void ordinary_goodcrcs_are_counted_and_odd_ones_told(void **state)
{
    struct scene *s = *state;
    const uint8_t which[] = { 0, 0, 0, 0 };
    uint8_t       bytes[16];

    attach(s);
    negotiate(s, 0, 0, fixed_request(2, 300));
    assert_int_equal(bench_port(s->bench, 0)->ordinary_goodcrcs, 4);
    assert_int_equal(s->seen[EVENT_GOODCRC], 4);
    assert_int_equal(s->seen[EVENT_GOODCRC_ODD], 0);
    /* The sink acknowledges as if it were the source. */
    say_bits(s, CONTROL(GET_SINK_CAP), 3, true, true, true, NULL, 0);
    assert_int_equal(s->seen[EVENT_GOODCRC_ODD], 1);
    /* A second after a Hard Reset roles may still be on their way back. */
    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_RESET_SIGNAL, 0, 0, 280000, which, sizeof which));
    s->now_ns += 999 * MS;
    source_says(s, CONTROL(PING), 0, NULL, 0);
    assert_int_equal(s->seen[EVENT_GOODCRC_ODD], 2);
    s->now_ns += 2 * MS;
    source_says(s, DATA(SOURCE_CAPABILITIES), 1, offered, 6);
    assert_int_equal(s->seen[EVENT_GOODCRC_ODD], 2);
    assert_int_equal(bench_port(s->bench, 0)->ordinary_goodcrcs, 5);
}

static void counts_are_of_the_window_alone(void **state)
{
    struct scene *s = *state;

    attach(s);
    bench_count_between(s->bench, s->now_ns + 2 * MS, s->now_ns + 5 * MS);
    negotiate(s, 0, 0, fixed_request(2, 300));
    assert_true(bench_port(s->bench, 0)->ordinary_goodcrcs > 0);
    assert_true(bench_port(s->bench, 0)->ordinary_goodcrcs < 4);
}

static void lost_records_leave_the_offer_in_doubt_until_it_comes_again(void **state)
{
    struct scene *s = *state;
    const uint8_t lost[] = { 3, 0, 0, 0, 1, 0, 0, 0 };
    uint8_t       bytes[16];
    uint32_t      rdo = fixed_request(2, 300);

    attach(s);
    negotiate(s, 0, 0, rdo);
    feed(s, bytes, record_put(bytes, sizeof bytes, RECORD_LOST, 0, 0, 0, lost, sizeof lost));
    assert_int_equal(s->seen[EVENT_LOSS], 1);
    assert_true(bench_port(s->bench, 0)->contract.held);
    sink_says(s, DATA(REQUEST), 1, &rdo, 1);
    assert_false(s->request.offer_known);
    source_says(s, CONTROL(ACCEPT), 3, NULL, 0);
    source_says(s, CONTROL(PS_RDY), 4, NULL, 0);
    negotiate(s, 5, 2, rdo);
    assert_true(s->request.offer_known);
}

static void what_a_cable_says_of_itself_is_kept(void **state)
{
    struct scene *s = *state;
    /* Discover Identity ACK on SOP': passive cable, 5 A, no vendor. Layout: Linux include/linux/usb/pd_vdo.h. */
    const uint8_t ack[] = { 0x41, 0xA0, 0x00, 0xFF, 0, 0, 0, 0x18, 0, 0, 0, 0, 0, 0, 0, 0, 0x42, 0x26, 0x08, 0 };

    attach(s);
    packet(s, SET_SOP1, header_of(DATA(VENDOR_DEFINED), 5, 0, true, false), ack, sizeof ack);
    assert_true(bench_port(s->bench, 0)->identity[PLAYER_CABLE].frame != 0);
    assert_int_equal(bench_port(s->bench, 0)->identity[PLAYER_CABLE].count, 4);
    assert_int_equal(bench_port(s->bench, 0)->identity[PLAYER_CABLE].words[4], 0x00082642);
    cc(s, 0, 0);
    assert_int_equal(bench_port(s->bench, 0)->identity[PLAYER_CABLE].frame, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(ps_rdy_after_accept_begins_a_contract, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_accept_without_a_request_begins_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_same_operating_point_again_renews_a_contract, set_up, tear_down),
        cmocka_unit_test_setup_teardown(another_operating_point_ends_the_old_contract_as_renegotiated, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_programmable_contract_has_the_voltage_asked_for, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_request_is_read_against_the_last_delivered_offer, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_message_that_is_answered_was_delivered_though_its_goodcrc_is_missing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_offer_to_nobody_stands_all_the_same, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_retry_is_a_copy_and_no_new_message, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_hard_reset_ends_the_contract_and_the_ids, set_up, tear_down),
        cmocka_unit_test_setup_teardown(cc_open_is_a_detach, set_up, tear_down),
        cmocka_unit_test_setup_teardown(vbus_tells_attach_and_detach_where_cc_is_not_recorded, set_up, tear_down),
        cmocka_unit_test_setup_teardown(vbus_that_returns_after_a_hard_reset_is_no_attach, set_up, tear_down),
        cmocka_unit_test_setup_teardown(roles_turn_within_a_power_role_swap, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_repeated_ps_rdy_does_not_run_through_the_swap, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_data_role_swap_turns_the_data_roles, set_up, tear_down),
        cmocka_unit_test_setup_teardown(on_sop1_the_port_that_sources_vconn_speaks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_epr_offer_is_put_together_from_its_chunks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_missing_chunk_gives_the_message_up, set_up, tear_down),
        cmocka_unit_test_setup_teardown(epr_mode_begins_with_enter_succeeded_and_ends_with_exit, set_up, tear_down),
        cmocka_unit_test_setup_teardown(vbus_that_falls_after_the_unplug_ends_no_contract_before_it, set_up, tear_down),
        cmocka_unit_test_setup_teardown(vbus_that_is_lost_ends_the_contract_at_its_row, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_the_last_power_record_showed_counts_at_the_end, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_quick_replug_seen_by_vbus_alone_is_an_attach, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_sender_that_repeats_what_was_acknowledged_did_not_hear_it, set_up, tear_down),
        cmocka_unit_test_setup_teardown(ordinary_goodcrcs_are_counted_and_odd_ones_told, set_up, tear_down),
        cmocka_unit_test_setup_teardown(counts_are_of_the_window_alone, set_up, tear_down),
        cmocka_unit_test_setup_teardown(lost_records_leave_the_offer_in_doubt_until_it_comes_again, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_plug_and_the_sink_that_speaks_to_it_are_two_senders, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_said_after_a_detach_belongs_to_no_attach, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_retry_that_had_to_wait_for_the_partner_is_still_a_copy, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_soft_reset_after_the_accept_of_the_last_one_is_a_new_message, set_up, tear_down),
        cmocka_unit_test_setup_teardown(after_a_loss_cc_without_partner_is_a_detach_only_if_nobody_talks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(after_a_loss_cc_without_partner_of_a_port_that_cannot_swap_is_a_detach, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_offer_after_a_soft_reset_is_owed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_a_cable_says_of_itself_is_kept, set_up, tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
