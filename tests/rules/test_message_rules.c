/*
 * message.*: every rule passed, failed, left undecided where it can be, and not seen. What is expected is typed from the
 * catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { POWER_BIT = 1 << 8, DATA_BIT = 1 << 5 };
#define DUAL_ROLE (UINT32_C(1) << 29)
#define SOURCE_UNCHUNKED (UINT32_C(1) << 24)
#define SINK_UNCHUNKED (UINT32_C(1) << 23)

/* 5 V 3 A, 9 V 3 A, 15 V 3 A, 20 V 3.25 A; object 2 asked for. */
static const uint32_t caps[] = { 0x0001912c, 0x0002d12c, 0x0004b12c, 0x00064145 };
static const uint32_t ask_9v = 0x2004b12c;
static const uint32_t dual_caps[] = { 0x2001912c }; /* 5 V 3 A, dual-role power */

static struct lines *negotiated(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 4, caps, ask_9v);
    return l;
}

/* Under 2.0. */
static struct lines *negotiated_r2(void **state)
{
    struct lines *l = *state;

    l->revision = HEADER_R2;
    return negotiated(state);
}

/* A message from anybody with something wrong in its header. */
static uint64_t control_with(struct lines *l, unsigned side, unsigned type, uint16_t flip)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .flip = flip });
}

static uint64_t control_with_id(struct lines *l, unsigned side, unsigned type, unsigned id)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .id_given = true, .id = (uint8_t)id });
}

static uint64_t data_with(struct lines *l, unsigned side, unsigned type, unsigned count)
{
    const uint32_t words[7] = { 0 };

    return lines_data(l, side, type, count, words);
}

/* One chunk as it is: header bits 15:10 and Data Size given, n bytes of it. */
static uint64_t chunk(struct lines *l, unsigned side, unsigned type, unsigned number, unsigned data_size, unsigned bytes)
{
    static const uint8_t zeros[260];

    return lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
        .block = zeros, .size = (uint16_t)bytes, .extended_header = (uint16_t)(0x8000 | number << 11 | data_size) });
}

static uint64_t chunk_request(struct lines *l, unsigned side, unsigned type, unsigned number)
{
    static const uint8_t zeros[2];

    return lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
        .block = zeros, .size = 2, .extended_header = (uint16_t)(0x8400 | number << 11) });
}

static uint64_t unchunked(struct lines *l, unsigned side, unsigned type, unsigned size)
{
    static const uint8_t zeros[260];

    return lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = (uint8_t)type,
        .block = zeros, .size = (uint16_t)size, .unchunked = true });
}

/* PR_Swap as it should be, asked for by the sink; who spoke as source speaks as sink from here on. */
static void swap_power(struct lines *l)
{
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(50));
    control_with(l, SIDE_SOURCE, CONTROL_PS_RDY, POWER_BIT);
    lines_wait(l, MS(50));
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_BIT, .goodcrc_flip = POWER_BIT });
    lines_ids_reset(l);
    l->source_is_ufp = !l->source_is_ufp;
    lines_wait(l, MS(30));
}

/* What holds for all */

static void a_sound_negotiation_passes_every_rule_that_has_an_occasion(void **state)
{
    static const char *const seen[] = {
        "message.reserved-type", "message.reserved-bits", "message.object-count", "message.length", "message.power-role",
        "message.data-role", "message.header-revision", "message.id-sequence", "message.id-after-reset", "message.direction",
        "message.allowed-in-revision",
    };
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    for (unsigned i = 0; i < sizeof seen / sizeof seen[0]; i++)
        expect_verdict(l, seen[i], VERDICT_PASS);
    assert_int_equal(engine_verdict(l->engine), VERDICT_PASS);
}

static void where_nothing_is_said_no_rule_has_an_occasion(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++)
        if (strncmp(engine_result(l->engine, i).rule->id, "message.", 8) == 0)
            expect_verdict(l, engine_result(l->engine, i).rule->id, VERDICT_NOT_SEEN);
}

static void every_row_says_all_that_a_row_has_to_say(void **state)
{
    struct lines *l = *state;
    unsigned      rows = 0;

    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++) {
        const struct rule *r = engine_result(l->engine, i).rule;

        if (strncmp(r->id, "message.", 8) != 0)
            continue;
        rows++;
        assert_true(r->title && r->requirement && r->source && r->why && r->undecided && r->bench);
        assert_true(r->basis && r->wakes && r->check && r->sentences && r->sentences[0]);
        assert_int_equal(r->whom, WHO_EACH);
        assert_int_equal(r->level, strcmp(r->id, "message.power-role") == 0 || strcmp(r->id, "message.deprecated") == 0
                                       ? LEVEL_SHOULD : LEVEL_MUST);
    }
    assert_int_equal(rows, 17);
}

static void bad_packets_copies_and_goodcrc_are_no_messages(void **state)
{
    struct lines *l = negotiated(state);
    struct counts before, after;

    lines_run(l, NULL);
    before = lines_result(l, "message.length").counts;
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .spoilt = true });
    l->now_ns -= MS(1);
    l->pause_ns = US(1000);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .quiet = true });
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .again = true });
    lines_run(l, NULL);
    after = lines_result(l, "message.length").counts;
    assert_int_equal(after.passed, before.passed + 1);
    expect_only(l, "message.", NULL);
}

/* message.reserved-type */

static void a_reserved_type_fails_and_nothing_else_is_said_of_it(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_control(l, SIDE_SOURCE, 25);

    lines_run(l, NULL);
    expect_fail(l, "message.reserved-type", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.reserved-type");
}

static void reserved_types_are_found_in_all_three_classes(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SOURCE, 31);
    data_with(l, SIDE_SOURCE, 13, 1);
    data_with(l, SIDE_SOURCE, 16, 2);
    chunk(l, SIDE_SOURCE, 19, 0, 4, 4);
    lines_run(l, NULL);
    assert_int_equal(lines_result(l, "message.reserved-type").counts.failed, 4);
    expect_only(l, "message.", "message.reserved-type");
}

static void the_highest_defined_types_pass(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, 24);   /* Get_Revision */
    data_with(l, SIDE_SOURCE, 12, 1);  /* Revision */
    chunk(l, SIDE_SOURCE, 30, 0, 4, 4); /* Vendor_Defined_Extended */
    lines_run(l, NULL);
    expect_verdict(l, "message.reserved-type", VERDICT_PASS);
}

/* message.reserved-bits */

static void header_bit_5_is_reserved_on_cable_sets(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA,
                                                 .type = DATA_VENDOR_DEFINED, .count = 1, .words = { 0xff00a001 }, .flip = DATA_BIT });

    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.reserved-bits");
}

static void a_plug_keeps_to_the_reserved_bits_as_well(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP2, .message_class = CLASS_DATA,
                                                 .type = DATA_VENDOR_DEFINED, .count = 1, .words = { 0xff00a041 }, .flip = DATA_BIT });

    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_CABLE);
}

static void under_2_0_type_bit_4_and_the_extended_bit_are_reserved(void **state)
{
    struct lines *l = negotiated_r2(state);
    uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED); /* type 17 */

    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_SINK);
    lines_extended(l, SIDE_SOURCE, EXTENDED_PPS_STATUS, "\0\0\0", 4);
    lines_run(l, NULL);
    assert_int_equal(lines_result(l, "message.reserved-bits").counts.failed, 2);
}

static void under_3_x_the_same_bits_pass(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
    lines_extended(l, SIDE_SOURCE, EXTENDED_PPS_STATUS, "\0\0\0", 4);
    lines_run(l, NULL);
    expect_verdict(l, "message.reserved-bits", VERDICT_PASS);
}

static void bit_9_of_an_extended_header_is_reserved(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_PPS_STATUS,
                                                 .block = "\0\0\0", .size = 4, .extended_header = 0x8200 | 4 });

    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.reserved-bits");
}

static void padding_after_the_data_is_zero(void **state)
{
    static const uint8_t clean[10] = { 1, 2, 3, 4, 5, 6, 7 }, dirty[10] = { 1, 2, 3, 4, 5, 6, 7, 0, 0, 9 };
    struct lines *l = negotiated(state);
    /* Status of 7 bytes: 9 with the extended header, filled up to 12. */
    struct say status = { .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS, .block = clean, .size = 10,
                          .extended_header = 0x8000 | 7 };
    uint64_t frame;

    lines_say(l, &status);
    status.block = dirty;
    frame = lines_say(l, &status);
    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.reserved-bits");
}

static void padding_of_a_request_chunk_is_zero(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 30, 26);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_SECURITY_RESPONSE,
                                        .block = "\1", .size = 2, .extended_header = 0x8400 | 1 << 11 });
    lines_run(l, NULL);
    expect_fail(l, "message.reserved-bits", frame, WHO_SINK);
    expect_only(l, "message.", "message.reserved-bits");
}

/* message.object-count */

static void data_messages_carry_the_objects_of_their_type(void **state)
{
    /* Counts from the catalogue: allowed, and not allowed. */
    static const struct { uint8_t side, type, good[2], bad[2]; } rows[] = {
        { SIDE_SOURCE, DATA_BIST, { 1, 7 }, { 2, 6 } },
        { SIDE_SOURCE, DATA_SOURCE_INFO, { 1, 2 }, { 3, 7 } },
        { SIDE_SINK, DATA_BATTERY_STATUS, { 1, 1 }, { 2, 7 } },
        { SIDE_SOURCE, DATA_ALERT, { 1, 1 }, { 2, 7 } },
        { SIDE_SINK, DATA_GET_COUNTRY_INFO, { 1, 1 }, { 2, 7 } },
        { SIDE_SOURCE, DATA_ENTER_USB, { 1, 1 }, { 2, 7 } },
        { SIDE_SINK, DATA_EPR_REQUEST, { 2, 2 }, { 1, 3 } },
        { SIDE_SINK, DATA_EPR_MODE, { 1, 1 }, { 2, 7 } },
        { SIDE_SINK, DATA_REVISION, { 1, 1 }, { 2, 7 } },
        { SIDE_SINK, DATA_REQUEST, { 1, 1 }, { 2, 7 } },
    };

    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lines *l = lines_new();
        void    *own = l;
        uint64_t good;

        (void)state;
        negotiated(&own);
        lines_run(l, NULL);
        good = lines_result(l, "message.object-count").counts.passed;
        for (unsigned k = 0; k < 2; k++) {
            data_with(l, rows[i].side, rows[i].type, rows[i].good[k]);
            data_with(l, rows[i].side, rows[i].type, rows[i].bad[k]);
        }
        lines_run(l, NULL);
        expect_counts(l, "message.object-count", (unsigned)good + 2, 2, 0);
        lines_free(l);
    }
}

static void capabilities_and_vdms_may_have_one_to_seven_objects(void **state)
{
    struct lines *l = negotiated(state);

    for (unsigned n = 1; n <= 7; n++) {
        data_with(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, n);
        data_with(l, SIDE_SINK, DATA_SINK_CAPABILITIES, n);
        data_with(l, SIDE_SINK, DATA_VENDOR_DEFINED, n);
    }
    lines_run(l, NULL);
    expect_verdict(l, "message.object-count", VERDICT_PASS);
}

static void a_wrong_count_is_found_where_it_stands(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = data_with(l, SIDE_SINK, DATA_REQUEST, 2);

    lines_run(l, NULL);
    expect_fail(l, "message.object-count", frame, WHO_SINK);
    expect_only(l, "message.", "message.object-count");
    expect_only(l, "request.", NULL); /* nothing is said of what such a Request asks for */
}

static void a_chunk_counts_the_words_that_its_bytes_fill(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 30, 26);   /* 7 objects */
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);     /* 1 */
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 30, 10); /* 3 objects for 4 bytes that fill 2 */
    lines_run(l, NULL);
    expect_fail(l, "message.object-count", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.object-count");
}

static void a_request_chunk_has_one_object(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 30, 26);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_SECURITY_RESPONSE,
                                        .block = "\0\0\0\0\0", .size = 6, .extended_header = 0x8400 | 1 << 11 });
    lines_run(l, NULL);
    expect_fail(l, "message.object-count", frame, WHO_SINK);
    expect_only(l, "message.", "message.object-count");
}

/* message.length */

static void a_control_message_with_bytes_behind_its_header_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .bytes_off = 4 });

    lines_run(l, NULL);
    expect_fail(l, "message.length", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.length");
    assert_int_equal(lines_finding(l, "message.length", VERDICT_FAIL, 0)->measured, 4000);
    assert_int_equal(lines_finding(l, "message.length", VERDICT_FAIL, 0)->high, 0);
}

static void one_byte_too_many_or_too_few_fails(void **state)
{
    struct lines *l = negotiated(state);
    struct say    alert = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1, .bytes_off = 1 };

    lines_say(l, &alert);
    alert.bytes_off = -1;
    lines_say(l, &alert);
    alert.bytes_off = 0;
    lines_say(l, &alert);
    lines_run(l, NULL);
    assert_int_equal(lines_result(l, "message.length").counts.failed, 2);
    expect_only(l, "message.", "message.length");
}

static void a_malformed_request_is_not_judged_by_what_it_asks_for(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_caps(l, 4, caps);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                        .words = { 0 }, .bytes_off = 4 }); /* position 0 */
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_fail(l, "message.length", frame, WHO_SINK);
    expect_only(l, "request.", NULL);
    expect_verdict(l, "request.position", VERDICT_NOT_SEEN);
    expect_verdict(l, "request.invalid-refused", VERDICT_NOT_SEEN);
}

static void an_unchunked_message_is_as_long_as_its_data_size_or_filled_up(void **state)
{
    struct lines *l = negotiated(state);
    struct say    status = { .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS, .block = "\0\0\0\0\0\0",
                             .size = 7, .unchunked = true };
    uint64_t frame;

    lines_say(l, &status);  /* 2 + 7, filled up to 12 */
    status.bytes_off = -3;  /* 9 */
    lines_say(l, &status);
    lines_run(l, NULL);
    expect_verdict(l, "message.length", VERDICT_PASS);
    status.bytes_off = -2;  /* 10: neither */
    frame = lines_say(l, &status);
    lines_run(l, NULL);
    expect_fail(l, "message.length", frame, WHO_SOURCE);
}

static void an_unchunked_message_counts_no_objects(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS,
                                                 .block = "\0\0\0\0\0\0", .size = 7, .unchunked = true, .objects_off = 3 });

    lines_run(l, NULL);
    expect_fail(l, "message.length", frame, WHO_SOURCE);
}

static void an_extended_message_has_room_for_its_extended_header(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS,
                                                 .block = "", .size = 0, .bytes_off = -4 });

    lines_run(l, NULL);
    expect_fail(l, "message.length", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.length");
}

static void where_the_length_is_wrong_the_contents_are_not_judged(void **state)
{
    struct lines *l = negotiated(state);

    /* Unchunked, Data Size 30, which is no size of Status, and 8 bytes of it. */
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS,
                                .block = "\0\0\0\0\0\0\0", .size = 8, .extended_header = 30 });
    lines_run(l, NULL);
    expect_only(l, "message.", "message.length");
    expect_verdict(l, "message.extended-size", VERDICT_NOT_SEEN);
    expect_verdict(l, "message.unchunked-agreed", VERDICT_NOT_SEEN);
}

/* message.power-role */

static void the_role_bit_of_what_one_side_alone_sends_is_judged(void **state)
{
    for (unsigned wrong = 0; wrong < 4; wrong++) {
        struct lines *l = lines_new();
        uint64_t frame[4];

        (void)state;
        lines_attach(l);
        frame[0] = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
            .count = 2, .words = { 0x0001912c, 0x0002d12c }, .flip = wrong == 0 ? POWER_BIT : 0 });
        frame[1] = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
            .words = { ask_9v }, .flip = wrong == 1 ? POWER_BIT : 0 });
        frame[2] = control_with(l, SIDE_SOURCE, CONTROL_ACCEPT, wrong == 2 ? POWER_BIT : 0);
        frame[3] = control_with(l, SIDE_SOURCE, CONTROL_PS_RDY, wrong == 3 ? POWER_BIT : 0);
        lines_run(l, NULL);
        expect_fail(l, "message.power-role", frame[wrong], wrong == 1 ? WHO_SINK : WHO_SOURCE);
        expect_only(l, "message.", "message.power-role");
        lines_free(l);
    }
}

static void a_goodcrc_carries_the_other_role(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_SOURCE_CAP, .goodcrc_flip = POWER_BIT });

    lines_run(l, NULL);
    expect_fail(l, "message.power-role", frame + 1, WHO_SOURCE);
    expect_only(l, "message.", "message.power-role");
}

static void after_a_hard_reset_roles_are_judged_once_100_ms_have_gone(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_reset(l, RECORD_HARD_RESET);
    l->now_ns = l->line[l->count - 1].t_ns + MS(100);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                                .words = { 0x0001912c }, .flip = POWER_BIT, .quiet = true });
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    lines_reset(l, RECORD_HARD_RESET);
    l->now_ns = l->line[l->count - 1].t_ns + MS(100) + 1;
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                        .count = 1, .words = { 0x0001912c }, .flip = POWER_BIT, .quiet = true });
    lines_run(l, NULL);
    expect_fail(l, "message.power-role", frame, WHO_SOURCE);
}

static void the_turning_role_bits_of_a_power_swap_pass(void **state)
{
    struct lines *l = negotiated(state);

    swap_power(l);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    expect_verdict(l, "message.power-role", VERDICT_PASS);
}

static void before_the_source_is_known_no_role_is_judged(void **state)
{
    struct lines *l = *state;

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_extended(l, SIDE_SOURCE, EXTENDED_STATUS, "\0\0\0\0\0\0", 7);
    lines_run(l, NULL);
    expect_verdict(l, "message.power-role", VERDICT_NOT_SEEN);
}

/* message.data-role */

static void a_source_that_says_ufp_without_a_swap_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = control_with(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP, DATA_BIT);

    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.data-role");
}

static void after_a_data_swap_the_roles_are_the_other_way_round(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    l->source_is_ufp = true;
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 4, caps);
    lines_request(l, ask_9v);
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    frame = control_with(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, DATA_BIT);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SINK);
}

static void who_says_ps_rdy_in_a_vconn_swap_is_told_by_the_power_role(void **state)
{
    struct lines *l = negotiated(state);

    /* The source did not source VCONN until now: nobody needed it. */
    lines_control(l, SIDE_SINK, CONTROL_VCONN_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void the_next_message_of_each_side_after_a_data_swap_is_let_pass(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP); /* still as before */
    data_with(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SOURCE);
}

static void a_refused_data_swap_changes_nothing(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    l->source_is_ufp = true;
    frame = lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SINK);
}

static void a_hard_reset_restores_the_data_roles(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    expect_verdict(l, "message.data-role", VERDICT_PASS);
}

static void without_the_attach_the_first_message_of_each_side_sets_its_data_role(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    l->source_is_ufp = true; /* swapped before the trace began */
    lines_caps(l, 4, caps);
    lines_request(l, ask_9v);
    lines_run(l, NULL);
    expect_verdict(l, "message.data-role", VERDICT_NOT_SEEN);
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_verdict(l, "message.data-role", VERDICT_PASS);
    frame = control_with(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, DATA_BIT);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SINK);
}

/* message.header-revision */

static void revision_bits_of_3_fail_on_every_set(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA,
        .type = DATA_VENDOR_DEFINED, .count = 1, .words = { 0xff00a041 }, .revision_given = true, .revision = HEADER_RESERVED });

    lines_run(l, NULL);
    expect_fail(l, "message.header-revision", frame, WHO_CABLE);
    expect_only(l, "message.", "message.header-revision");
}

static void after_the_first_request_the_agreed_revision_is_shown(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_caps(l, 4, caps);   /* shows 3.x, its highest */
    l->revision = HEADER_R2;
    lines_request(l, ask_9v); /* 2.0 is what both know */
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    expect_verdict(l, "message.header-revision", VERDICT_PASS);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .revision_given = true, .revision = HEADER_R3 });
    lines_run(l, NULL);
    expect_fail(l, "message.header-revision", frame, WHO_SOURCE);
    assert_int_equal(lines_finding(l, "message.header-revision", VERDICT_FAIL, 0)->values[1], HEADER_R3);
    assert_int_equal(lines_finding(l, "message.header-revision", VERDICT_FAIL, 0)->values[2], HEADER_R2);
    expect_only(l, "message.", "message.header-revision");
}

static void revision_1_0_counts_as_2_0(void **state)
{
    struct lines *l = negotiated_r2(state);

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .revision_given = true, .revision = HEADER_R1 });
    lines_run(l, NULL);
    expect_verdict(l, "message.header-revision", VERDICT_PASS);
}

static void a_plug_may_have_a_revision_of_its_own(void **state)
{
    struct lines *l = negotiated(state);

    l->revision = HEADER_R2;
    lines_cable_identity(l, 2, 0, false);
    lines_run(l, NULL);
    expect_verdict(l, "message.header-revision", VERDICT_PASS);
}

static void what_was_agreed_before_the_trace_leaves_it_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

    lines_run(l, NULL);
    expect_undecided(l, "message.header-revision", frame, CAUSE_REVISION);
}

static void capabilities_before_any_request_may_show_any_revision(void **state)
{
    struct lines *l = *state;

    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_verdict(l, "message.header-revision", VERDICT_PASS);
}

/* The order of a real wire: the source hears no Request, and offers again with an older revision. */
static void a_request_that_nobody_heard_agrees_on_no_revision(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_caps(l, 4, caps);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                .words = { ask_9v }, .quiet = true });
    lines_wait(l, MS(56));
    l->revision = HEADER_R2;
    lines_caps(l, 4, caps);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                .words = { ask_9v }, .again = true });
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void a_request_that_was_answered_agrees_though_its_goodcrc_is_missing(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_caps(l, 4, caps);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                .words = { ask_9v }, .quiet = true });
    lines_accept_and_ready(l);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .revision_given = true, .revision = HEADER_R2 });
    lines_run(l, NULL);
    expect_fail(l, "message.header-revision", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.header-revision");
}

static void a_hard_reset_opens_the_revision_again(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    l->revision = HEADER_R2;
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

/* message.id-sequence */

static void numbers_wrap_from_7_to_0(void **state)
{
    struct lines *l = negotiated(state);

    for (unsigned k = 0; k < 10; k++) {
        lines_request(l, ask_9v);
        lines_accept_and_ready(l);
    }
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    expect_verdict(l, "message.id-sequence", VERDICT_PASS);
}

static void a_jump_by_three_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = control_with_id(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, (l->next_id[SET_SOP][SIDE_SINK] + 2u) & 7);

    lines_run(l, NULL);
    expect_fail(l, "message.id-sequence", frame, WHO_SINK);
    expect_only(l, "message.", "message.id-sequence");
}

static void a_jump_by_two_passes_only_if_the_partner_spoke_between(void **state)
{
    struct lines *l = negotiated(state); /* the source spoke last */
    uint64_t frame;

    control_with_id(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, (l->next_id[SET_SOP][SIDE_SINK] + 1u) & 7);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    frame = control_with_id(l, SIDE_SINK, CONTROL_GET_STATUS, (l->next_id[SET_SOP][SIDE_SINK] + 1u) & 7);
    lines_run(l, NULL);
    expect_fail(l, "message.id-sequence", frame, WHO_SINK);
}

static void the_same_number_again_fails_after_an_acknowledged_message(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .again = true });

    lines_run(l, NULL);
    expect_fail(l, "message.id-sequence", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-sequence");
}

static void after_an_unacknowledged_message_the_same_number_and_the_next_pass(void **state)
{
    struct lines *l = negotiated(state);

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .quiet = true });
    lines_wait(l, MS(50));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .again = true, .quiet = true });
    lines_wait(l, MS(50));
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void a_bad_packet_between_leaves_a_jump_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_STATUS, .spoilt = true });
    frame = control_with_id(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP, (l->next_id[SET_SOP][SIDE_SOURCE] + 1u) & 7);
    lines_run(l, NULL);
    expect_undecided(l, "message.id-sequence", frame, CAUSE_BAD_PACKET);
    expect_only(l, "message.", "message.id-sequence");
}

static void after_a_loss_the_count_starts_anew(void **state)
{
    struct lines *l = negotiated(state);

    lines_lost(l, 3);
    control_with_id(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, (l->next_id[SET_SOP][SIDE_SINK] + 4u) & 7);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

/* What a gap hides is not held against anybody. */

static void a_data_role_swap_in_the_gap_is_no_fault(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_lost(l, 4);
    l->source_is_ufp = true;
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    l->source_is_ufp = false; /* and back without a swap */
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SOURCE);
}

static void an_accept_to_what_was_missed_may_turn_the_data_roles(void **state)
{
    struct lines *l = negotiated(state);

    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_DR_SWAP, .spoilt = true });
    control_with_id(l, SIDE_SOURCE, CONTROL_ACCEPT, l->next_id[SET_SOP][SIDE_SOURCE]);
    l->source_is_ufp = true;
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_only(l, "message.data-role", NULL);
}

/* missing: which of PR_Swap, Accept, first and second PS_RDY is among the lost records. */
static void swap_power_without(struct lines *l, unsigned missing)
{
    for (unsigned k = 0; k < 4; k++) {
        if (k == missing)
            lines_lost(l, 2);
        else if (k == 0)
            lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
        else if (k == 1)
            lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        else if (k == 2)
            control_with(l, SIDE_SOURCE, CONTROL_PS_RDY, POWER_BIT);
        else
            lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_BIT, .goodcrc_flip = POWER_BIT });
        lines_wait(l, MS(100));
    }
    lines_ids_reset(l);
    l->source_is_ufp = !l->source_is_ufp;
}

static void a_power_swap_of_which_a_part_is_lost_is_no_fault(void **state)
{
    for (unsigned missing = 0; missing < 4; missing++) {
        struct lines *l = lines_new();

        lines_attach(l);
        lines_negotiate(l, 1, dual_caps, 0x1001912c);
        swap_power_without(l, missing);
        lines_negotiate(l, 1, dual_caps, 0x1001912c);
        lines_run(l, NULL);
        expect_only(l, "message.", NULL);
        lines_free(l);
    }
    (void)state;
}

static void without_cc_and_vbus_a_new_attach_is_seen_by_capabilities_that_count_from_0(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_negotiate(l, 4, caps, ask_9v);
    lines_wait(l, MS(1500));
    lines_ids_reset(l);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    frame = control_with_id(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP, 0); /* no capabilities: not so */
    lines_run(l, NULL);
    expect_fail(l, "message.id-sequence", frame, WHO_SOURCE);
}

static void without_cc_a_short_loss_of_vbus_may_be_a_new_attach(void **state)
{
    struct lines *l = *state;

    lines_power(l, 0, 0);
    lines_power(l, 5000000, 0);
    lines_wait(l, MS(150));
    lines_negotiate(l, 4, caps, ask_9v);
    lines_wait(l, MS(500));
    lines_power(l, 0, 0);
    lines_wait(l, MS(500));
    lines_power(l, 5000000, 0);
    lines_wait(l, MS(150));
    lines_ids_reset(l);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void another_revision_after_a_loss_is_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_lost(l, 3);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .revision_given = true, .revision = HEADER_R2 });
    lines_run(l, NULL);
    expect_undecided(l, "message.header-revision", frame, CAUSE_LOST);
}

static void in_the_middle_of_a_power_swap_nobody_is_counted_for_the_other(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(50));
    control_with(l, SIDE_SOURCE, CONTROL_PS_RDY, POWER_BIT);
    control_with_id(l, SIDE_SINK, CONTROL_GET_STATUS, 1); /* both are sinks now: the header does not tell whose it is */
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void what_was_next_stands_in_the_finding(void **state)
{
    struct lines *l = negotiated(state); /* the sink's Request had MessageID 0 */
    const struct finding *f;

    control_with_id(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP, 5);
    lines_run(l, NULL);
    f = lines_finding(l, "message.id-sequence", VERDICT_FAIL, 0);
    assert_int_equal(f->measured, 5000);
    assert_int_equal(f->low, 1000);
    assert_int_equal(f->high, 1000);
}

static void each_ordered_set_counts_by_itself(void **state)
{
    struct lines *l = negotiated(state);

    lines_cable_identity(l, 2, 0, false);
    lines_cable_identity(l, 2, 0, false);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

/* message.id-after-reset */

static void the_first_message_after_an_attach_has_number_0(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                        .count = 1, .words = { 0x0001912c }, .id_given = true, .id = 3 });
    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-after-reset");
}

static void soft_reset_its_accept_and_what_follows_count_from_0(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void a_soft_reset_with_another_number_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = control_with_id(l, SIDE_SINK, CONTROL_SOFT_RESET, 5);

    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SINK);
    expect_only(l, "message.", "message.id-after-reset");
}

static void an_accept_of_soft_reset_with_another_number_fails(void **state)
{
    struct lines *l = negotiated(state);
    unsigned next = l->next_id[SET_SOP][SIDE_SOURCE];
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    frame = control_with_id(l, SIDE_SOURCE, CONTROL_ACCEPT, next); /* goes on as if nothing had been */
    lines_run(l, NULL);
    assert_int_not_equal(next, 0);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-after-reset");
}

static void a_soft_reset_that_nobody_heard_resets_nobody_else(void **state)
{
    struct lines *l = negotiated(state);
    unsigned next = l->next_id[SET_SOP][SIDE_SOURCE];

    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_SOFT_RESET, .quiet = true });
    control_with_id(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP, next);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void two_soft_resets_in_a_row_have_two_accepts(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    l->pause_ns = US(300);
    frame = control_with_id(l, SIDE_SOURCE, CONTROL_SOFT_RESET, 5); /* a fault, but it resets the sink */
    l->next_id[SET_SOP][SIDE_SINK] = 0;
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT); /* the same bytes as the one before, and no copy of it */
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-after-reset");
}

/* The order of a real wire: each side sends Soft_Reset and only then accepts the other's. */
static void the_accepts_of_crossing_soft_resets_have_number_0_too(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    control_with_id(l, SIDE_SOURCE, CONTROL_ACCEPT, 0);
    control_with_id(l, SIDE_SINK, CONTROL_ACCEPT, 0);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void an_accept_between_crossing_soft_resets_may_count_on(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    control_with_id(l, SIDE_SOURCE, CONTROL_ACCEPT, 1);
    control_with_id(l, SIDE_SINK, CONTROL_ACCEPT, 0);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void after_crossing_soft_resets_another_message_may_not_have_number_0_again(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    frame = control_with_id(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP, 0);
    lines_run(l, NULL);
    expect_fail(l, "message.id-sequence", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-sequence");
}

static void both_sides_begin_at_0_after_a_hard_reset(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_caps(l, 4, caps);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                        .words = { ask_9v }, .id_given = true, .id = 1 });
    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SINK);
    expect_only(l, "message.", "message.id-after-reset");
}

static void both_sides_begin_at_0_after_a_power_swap(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    swap_power(l);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                        .count = 1, .words = { 0x0001912c }, .id_given = true, .id = 2 });
    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-after-reset");
}

static void a_plug_begins_at_0_after_a_cable_reset(void **state)
{
    struct lines *l = negotiated(state);
    struct say    ask = { .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                          .words = { 0xff00a001 }, .id_given = true, .id = 1 };
    uint64_t frame;

    lines_cable_identity(l, 2, 0, false);
    lines_reset(l, RECORD_CABLE_RESET);
    lines_wait(l, MS(5));
    frame = lines_say(l, &ask);
    lines_run(l, NULL);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.id-after-reset");
}

static void a_loss_after_the_reset_leaves_it_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_lost(l, 2);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                        .count = 1, .words = { 0x0001912c }, .id_given = true, .id = 2 });
    lines_run(l, NULL);
    expect_undecided(l, "message.id-after-reset", frame, CAUSE_LOST);
}

static void a_bad_packet_after_the_reset_leaves_it_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .spoilt = true });
    lines_wait(l, MS(100));
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                        .count = 1, .words = { 0x0001912c }, .id_given = true, .id = 1 });
    lines_run(l, NULL);
    expect_undecided(l, "message.id-after-reset", frame, CAUSE_BAD_PACKET);
}

/* message.direction */

static void a_sink_that_sends_what_only_a_source_may_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_GOTOMIN);

    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SINK);
    expect_only(l, "message.", "message.direction");
}

static void a_source_that_sends_what_only_a_sink_may_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_PPS_STATUS);

    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.direction");
}

static void a_dual_role_source_may_ask_for_source_capabilities(void **state)
{
    const uint32_t dual[] = { 0x0001912c | DUAL_ROLE, 0x0002d12c };
    struct lines  *l = *state;

    lines_attach(l);
    lines_negotiate(l, 2, dual, ask_9v);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_verdict(l, "message.direction", VERDICT_PASS);
}

static void a_source_that_is_no_sink_may_not_ask_for_source_capabilities(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SOURCE_CAP);

    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SOURCE);
}

static void where_a_sink_never_said_whether_it_is_dual_role_it_is_not_judged(void **state)
{
    struct lines *l = negotiated(state);
    struct counts before;
    uint64_t      frame;

    lines_run(l, NULL);
    before = lines_result(l, "message.direction").counts;
    lines_control(l, SIDE_SINK, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_counts(l, "message.direction", (unsigned)before.passed, 0, 0);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, caps); /* not dual-role */
    frame = lines_control(l, SIDE_SINK, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SINK);
}

static void enter_usb_is_for_the_dfp_whatever_its_power_role(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    data_with(l, SIDE_SOURCE, DATA_ENTER_USB, 1);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
    frame = data_with(l, SIDE_SINK, DATA_ENTER_USB, 1);
    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SINK);
}

static void a_message_of_the_dfp_is_undecided_while_the_data_roles_are_unknown(void **state)
{
    struct lines *l = *state;
    uint64_t frame = data_with(l, SIDE_SINK, DATA_ENTER_USB, 1);

    lines_run(l, NULL);
    expect_undecided(l, "message.direction", frame, CAUSE_BEGINNING);
}

static void a_request_chunk_bears_the_type_of_what_it_wants(void **state)
{
    static const uint8_t block[44];
    struct lines *l = negotiated(state);

    lines_chunks(l, SIDE_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, sizeof block); /* the sink asks for chunk 1 */
    lines_run(l, NULL);
    expect_only(l, "message.", NULL);
}

static void roles_follow_a_power_swap(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    swap_power(l);
    lines_negotiate(l, 4, caps, ask_9v);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_PPS_STATUS); /* the port that was the sink */
    lines_run(l, NULL);
    expect_fail(l, "message.direction", frame, WHO_SOURCE);
    assert_int_equal(lines_finding(l, "message.direction", VERDICT_FAIL, 0)->party, PARTY_PARTNER);
}

/* message.set-allowed */

static void power_messages_have_no_place_on_cable_sets(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .type = CONTROL_GET_SOURCE_CAP });

    lines_run(l, NULL);
    expect_fail(l, "message.set-allowed", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.set-allowed");
}

static void messages_for_plugs_pass_on_cable_sets(void **state)
{
    struct lines *l = negotiated(state);

    lines_cable_identity(l, 2, 0, false);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP2, .type = CONTROL_SOFT_RESET });
    lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP2, .type = CONTROL_ACCEPT });
    lines_run(l, NULL);
    expect_counts(l, "message.set-allowed", 4, 0, 0);
    expect_only(l, "message.", NULL);
}

static void a_trace_without_cable_messages_shows_nothing_of_it(void **state)
{
    struct lines *l = negotiated(state);

    lines_run(l, NULL);
    expect_verdict(l, "message.set-allowed", VERDICT_NOT_SEEN);
}

/* message.allowed-in-revision */

static void messages_of_3_0_are_not_for_2_0(void **state)
{
    struct lines *l = negotiated_r2(state);
    uint64_t frame = data_with(l, SIDE_SOURCE, DATA_ALERT, 1);

    lines_run(l, NULL);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.allowed-in-revision");
}

static void vconn_swap_came_with_2_0(void **state)
{
    struct lines *l = negotiated_r2(state);

    lines_control(l, SIDE_SINK, CONTROL_VCONN_SWAP);
    lines_run(l, NULL);
    expect_verdict(l, "message.allowed-in-revision", VERDICT_PASS);
}

static void messages_of_3_1_are_not_for_a_port_that_says_3_0(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    lines_run(l, NULL);
    expect_only(l, "message.", NULL); /* 3.x, edition unknown */
    lines_data(l, SIDE_SINK, DATA_REVISION, 1, (const uint32_t[]){ 0x30000000 });
    frame = lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    lines_run(l, NULL);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SINK);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION); /* the other side said nothing of the kind */
    lines_run(l, NULL);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SINK);
}

static void on_cable_sets_the_revision_of_the_plug_counts(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    l->revision = HEADER_R2;
    lines_cable_identity(l, 2, 0, false);
    l->revision = HEADER_R3;
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .type = CONTROL_GET_STATUS });
    lines_run(l, NULL);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SOURCE);
}

static void before_the_agreement_no_message_is_too_new(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_caps(l, 4, caps);
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "message.allowed-in-revision", VERDICT_NOT_SEEN);
}

static void a_message_that_shows_the_wrong_revision_is_not_also_too_new(void **state)
{
    struct lines *l = negotiated_r2(state);

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1,
                                .revision_given = true, .revision = HEADER_R3 });
    lines_run(l, NULL);
    expect_only(l, "message.", "message.header-revision");
}

static void a_given_standard_overrides_what_was_agreed(void **state)
{
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = SINCE_R2 };
    struct lines *l = negotiated(state);
    uint64_t frame = data_with(l, SIDE_SOURCE, DATA_ALERT, 1);

    lines_run(l, &o);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SOURCE);
}

/* message.deprecated */

static void ping_is_deprecated_under_3_x(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PING);

    lines_run(l, NULL);
    expect_fail(l, "message.deprecated", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.deprecated");
}

static void ping_under_2_0_is_no_occasion(void **state)
{
    struct lines *l = negotiated_r2(state);

    lines_control(l, SIDE_SOURCE, CONTROL_PING);
    lines_run(l, NULL);
    expect_verdict(l, "message.deprecated", VERDICT_NOT_SEEN);
}

static void goto_min_is_deprecated_from_3_2_on(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    lines_control(l, SIDE_SOURCE, CONTROL_GOTOMIN); /* edition unknown */
    lines_run(l, NULL);
    expect_verdict(l, "message.deprecated", VERDICT_NOT_SEEN);
    lines_data(l, SIDE_SOURCE, DATA_REVISION, 1, (const uint32_t[]){ 0x32100000 }); /* 3.2 */
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GOTOMIN);
    lines_run(l, NULL);
    expect_fail(l, "message.deprecated", frame, WHO_SOURCE);
}

static void an_offer_of_spr_avs_shows_3_2(void **state)
{
    const uint32_t avs[] = { 0x0001912c, 0x0002d12c, 0xe004b000 };
    struct lines  *l = *state;
    uint64_t frame;

    lines_attach(l);
    lines_negotiate(l, 3, avs, ask_9v);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GOTOMIN);
    lines_run(l, NULL);
    expect_fail(l, "message.deprecated", frame, WHO_SOURCE);
}

/* Section 6: length and object count speak for the contents. With form: one fault of form more; failures of the rule. */
static uint64_t chunk_failures(const char *id, unsigned number, unsigned data_size, unsigned bytes, unsigned type, int bytes_off,
                               int objects_off)
{
    static const uint8_t zeros[260];
    void         *state = lines_new();
    struct lines *l = negotiated(&state);
    uint64_t      failed;

    if (number > 0) {
        chunk(l, SIDE_SOURCE, type, 0, data_size, 26);
        chunk_request(l, SIDE_SINK, type, 1);
    }
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = (uint8_t)type, .block = zeros,
                                .size = (uint16_t)bytes, .extended_header = (uint16_t)(0x8000 | number << 11 | data_size),
                                .bytes_off = bytes_off, .objects_off = objects_off });
    lines_run(l, NULL);
    failed = lines_result(l, id).counts.failed;
    if (bytes_off)
        expect_verdict(l, "message.length", objects_off ? VERDICT_PASS : VERDICT_FAIL);
    if (bytes_off && !objects_off)
        expect_verdict(l, "message.object-count", VERDICT_PASS);
    if (objects_off)
        expect_verdict(l, "message.object-count", VERDICT_FAIL);
    lines_free(l);
    return failed;
}

static void the_form_of_a_chunk_speaks_for_its_contents(void **state)
{
    /* length_off: a length that leaves the count of objects right. count_off: what the object more holds, so that the length is right. */
    static const struct { const char *id; uint8_t number, size, bytes, type; int length_off, count_off; } wrong[] = {
        { "message.chunk-size", 0, 44, 22, EXTENDED_SECURITY_RESPONSE, -2, 0 },
        { "message.chunk-order", 2, 80, 26, EXTENDED_SECURITY_RESPONSE, 4, 0 },
        { "message.extended-size", 0, 10, 10, EXTENDED_STATUS, 4, 4 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
        assert_int_equal(chunk_failures(wrong[k].id, wrong[k].number, wrong[k].size, wrong[k].bytes, wrong[k].type, 0, 0), 1);
        assert_int_equal(chunk_failures(wrong[k].id, wrong[k].number, wrong[k].size, wrong[k].bytes, wrong[k].type,
                                         wrong[k].length_off, 0), 0);
        assert_int_equal(chunk_failures(wrong[k].id, wrong[k].number, wrong[k].size, wrong[k].bytes, wrong[k].type,
                                         wrong[k].count_off, 1), 0);
    }
}

/* message.chunk-size */

static void chunks_of_26_bytes_and_a_shorter_last_one_pass(void **state)
{
    static const uint8_t block[260];
    struct lines *l = negotiated(state);

    lines_chunks(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, block, 44);
    lines_chunks(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, block, 260);
    lines_run(l, NULL);
    expect_counts(l, "message.chunk-size", 2 + 10, 0, 0);
    expect_only(l, "message.", NULL);
}

static void a_first_chunk_that_is_too_short_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 22);

    lines_run(l, NULL);
    expect_fail(l, "message.chunk-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-size");
}

static void a_last_chunk_that_is_too_short_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 14); /* of 18 */
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-size");
}

static void a_data_size_that_changes_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 40, 14);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-size");
}

static void a_data_size_of_260_passes_and_261_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 260, 26);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 261, 26);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-size message.extended-size");
}

static void a_chunk_is_not_held_against_a_message_that_is_over(void **state)
{
    static const uint8_t block[44];
    struct lines *l = negotiated(state);

    lines_chunks(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, block, 44);
    lines_lost(l, 4);
    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 80, 26); /* of another one */
    lines_run(l, NULL);
    expect_verdict(l, "message.chunk-size", VERDICT_PASS);
    expect_only(l, "message.", "message.chunk-order"); /* undecided: chunk 0 is lost */
}

static void a_chunk_behind_the_end_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 26, 26);
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 26, 2);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-size", frame, WHO_SOURCE);
}

static void chunks_with_a_wrong_count_of_objects_are_not_judged_by_size_or_order(void **state)
{
    struct lines *l = negotiated(state);

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 30, 10); /* 3 objects for 4 bytes; and what came before is not there */
    lines_run(l, NULL);
    expect_only(l, "message.", "message.object-count");
    expect_verdict(l, "message.chunk-size", VERDICT_NOT_SEEN);
    expect_verdict(l, "message.chunk-order", VERDICT_NOT_SEEN);
}

static void before_the_agreement_chunks_are_not_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 22);
    lines_run(l, NULL);
    expect_verdict(l, "message.chunk-size", VERDICT_NOT_SEEN);
    expect_verdict(l, "message.extended-size", VERDICT_NOT_SEEN);
}

/* message.chunk-order */

static void chunks_asked_for_one_after_the_other_pass(void **state)
{
    static const uint8_t block[80];
    struct lines *l = negotiated(state);

    lines_chunks(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, block, 80); /* 4 chunks, 3 requests */
    lines_run(l, NULL);
    expect_counts(l, "message.chunk-order", 6, 0, 0);
}

static void a_request_for_the_wrong_chunk_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 80, 26);
    frame = chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 2);
    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 2, 80, 26); /* what was asked for */
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SINK);
    expect_only(l, "message.", "message.chunk-order");
}

static void a_chunk_that_was_not_the_one_asked_for_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 80, 26);
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 2, 80, 26);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-order");
}

static void a_chunk_that_nobody_asked_for_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 18);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-order");
}

static void a_request_chunk_with_a_data_size_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_SECURITY_RESPONSE,
                                        .block = "\0", .size = 2, .extended_header = 0x8400 | 1 << 11 | 44 });
    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 18);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SINK);
    expect_only(l, "message.", "message.chunk-order");
}

static void a_request_chunk_with_chunked_0_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_SECURITY_RESPONSE,
                                        .block = "\0", .size = 2, .extended_header = 0x0400 | 1 << 11 });
    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 18);
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SINK);
    expect_only(l, "message.", "message.chunk-order");
}

static void a_chunk_with_the_request_bit_set_fails(void **state)
{
    static const uint8_t block[18];
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);
    frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_SECURITY_RESPONSE,
                                        .block = block, .size = 18, .extended_header = 0x8400 | 1 << 11 | 44 });
    lines_run(l, NULL);
    expect_fail(l, "message.chunk-order", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.chunk-order");
}

static void chunks_whose_beginning_is_not_in_the_trace_are_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = chunk_request(l, SIDE_SINK, EXTENDED_SECURITY_RESPONSE, 1);

    lines_run(l, NULL);
    expect_undecided(l, "message.chunk-order", frame, CAUSE_BEGINNING);
}

static void chunks_with_a_loss_between_are_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    lines_lost(l, 2);
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 18);
    lines_run(l, NULL);
    expect_undecided(l, "message.chunk-order", frame, CAUSE_LOST);
}

static void a_bad_packet_may_have_been_the_request(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 0, 44, 26);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .spoilt = true });
    frame = chunk(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 1, 44, 18);
    lines_run(l, NULL);
    expect_undecided(l, "message.chunk-order", frame, CAUSE_BAD_PACKET);
}

/* message.unchunked-agreed */

static struct lines *negotiated_unchunked(void **state, uint32_t source_bit, uint32_t sink_bit)
{
    const uint32_t words[] = { caps[0] | source_bit, caps[1] };
    struct lines  *l = *state;

    lines_attach(l);
    lines_negotiate(l, 2, words, ask_9v | sink_bit);
    return l;
}

static void long_unchunked_messages_need_both_ports_support(void **state)
{
    struct lines *l = negotiated_unchunked(state, SOURCE_UNCHUNKED, SINK_UNCHUNKED);

    unchunked(l, SIDE_SINK, EXTENDED_SECURITY_REQUEST, 27);
    lines_run(l, NULL);
    expect_counts(l, "message.unchunked-agreed", 1, 0, 0);
    expect_only(l, "message.", NULL);
}

static void a_long_unchunked_message_without_the_sources_support_fails(void **state)
{
    struct lines *l = negotiated_unchunked(state, 0, SINK_UNCHUNKED);
    uint64_t frame = unchunked(l, SIDE_SINK, EXTENDED_SECURITY_REQUEST, 27);

    lines_run(l, NULL);
    expect_fail(l, "message.unchunked-agreed", frame, WHO_SINK);
    expect_only(l, "message.", "message.unchunked-agreed");
}

static void a_long_unchunked_message_without_the_sinks_support_fails(void **state)
{
    struct lines *l = negotiated_unchunked(state, SOURCE_UNCHUNKED, 0);
    uint64_t frame = unchunked(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 27);

    lines_run(l, NULL);
    expect_fail(l, "message.unchunked-agreed", frame, WHO_SOURCE);
}

static void up_to_26_bytes_may_always_go_unchunked(void **state)
{
    struct lines *l = negotiated(state);

    unchunked(l, SIDE_SINK, EXTENDED_SECURITY_REQUEST, 26);
    lines_run(l, NULL);
    expect_verdict(l, "message.unchunked-agreed", VERDICT_NOT_SEEN);
    expect_only(l, "message.", NULL);
}

static void words_before_the_trace_leave_unchunked_messages_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_request(l, ask_9v | SINK_UNCHUNKED); /* the offer lies before the trace */
    lines_accept_and_ready(l);
    frame = unchunked(l, SIDE_SOURCE, EXTENDED_SECURITY_RESPONSE, 27);
    lines_run(l, NULL);
    expect_undecided(l, "message.unchunked-agreed", frame, CAUSE_UNSEEN_WORDS);
}

/* message.extended-size */

static void data_sizes_fit_the_type(void **state)
{
    /* Sizes from the catalogue: allowed ones, then ones that are not; 0 ends a list. */
    static const struct { uint8_t set, type; uint16_t good[4], bad[5]; } rows[] = {
        { SET_SOP, EXTENDED_SOURCE_CAPABILITIES, { 24, 25 }, { 23, 26 } },
        { SET_SOP, EXTENDED_STATUS, { 5, 6, 7 }, { 2, 4, 8 } },
        { SET_SOP1, EXTENDED_STATUS, { 2 }, { 1, 3, 5, 7 } },
        { SET_SOP, EXTENDED_GET_BATTERY_CAP, { 1 }, { 2 } },
        { SET_SOP, EXTENDED_GET_BATTERY_STATUS, { 1 }, { 2 } },
        { SET_SOP, EXTENDED_BATTERY_CAPABILITIES, { 9 }, { 8, 10 } },
        { SET_SOP, EXTENDED_GET_MANUFACTURER_INFO, { 2 }, { 1, 3 } },
        { SET_SOP, EXTENDED_MANUFACTURER_INFO, { 5, 26 }, { 4, 27 } },
        { SET_SOP, EXTENDED_SECURITY_REQUEST, { 4, 260 }, { 3 } },
        { SET_SOP, EXTENDED_SECURITY_RESPONSE, { 4, 260 }, { 3 } },
        { SET_SOP, EXTENDED_FIRMWARE_UPDATE_REQUEST, { 4, 260 }, { 3 } },
        { SET_SOP, EXTENDED_FIRMWARE_UPDATE_RESPONSE, { 4, 260 }, { 3 } },
        { SET_SOP, EXTENDED_PPS_STATUS, { 4 }, { 3, 5 } },
        { SET_SOP, EXTENDED_COUNTRY_INFO, { 4, 26 }, { 3, 27 } },
        { SET_SOP, EXTENDED_COUNTRY_CODES, { 4, 26 }, { 3, 27 } },
        { SET_SOP, EXTENDED_SINK_CAPABILITIES, { 21, 24 }, { 20, 22, 23, 25 } },
        { SET_SOP, EXTENDED_CONTROL, { 2 }, { 1, 3 } },
        { SET_SOP, EXTENDED_EPR_SOURCE_CAPABILITIES, { 4, 44, 52 }, { 2, 6, 54, 58 } }, /* 56: caps.count */
        { SET_SOP, EXTENDED_EPR_SINK_CAPABILITIES, { 4, 44, 52 }, { 2, 6, 54, 56 } },
        { SET_SOP, EXTENDED_VENDOR_DEFINED, { 4, 260 }, { 3 } },
    };
    static const uint8_t zeros[26];

    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lines *l = lines_new();
        void    *own = l;
        unsigned good = 0, bad = 0;

        (void)state;
        negotiated(&own);
        lines_cable_identity(l, 2, 0, false); /* a plug of 3.x */
        for (unsigned k = 0; k < 9; k++) {
            unsigned size = k < 4 ? rows[i].good[k] : rows[i].bad[k - 4];

            if (size == 0)
                continue;
            lines_say(l, &(struct say){ .side = rows[i].set == SET_SOP ? SIDE_SOURCE : SIDE_CABLE, .set = rows[i].set,
                .message_class = CLASS_EXTENDED, .type = rows[i].type, .block = zeros, .size = (uint16_t)(size < 26 ? size : 26),
                .extended_header = (uint16_t)(0x8000 | size) });
            good += k < 4;
            bad += k >= 4;
        }
        lines_run(l, NULL);
        expect_counts(l, "message.extended-size", good, bad, 0);
        lines_free(l);
    }
}

static void a_wrong_data_size_is_found_where_it_stands(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = chunk(l, SIDE_SOURCE, EXTENDED_PPS_STATUS, 0, 5, 5);

    lines_run(l, NULL);
    expect_fail(l, "message.extended-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.extended-size");
}

static void an_extended_message_of_no_bytes_has_the_wrong_size(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = chunk(l, SIDE_SOURCE, EXTENDED_PPS_STATUS, 0, 0, 0);

    lines_run(l, NULL);
    expect_fail(l, "message.extended-size", frame, WHO_SOURCE);
    expect_only(l, "message.", "message.extended-size");
}

static void the_sizes_that_were_right_stand_in_the_finding(void **state)
{
    struct lines *l = negotiated(state);
    const struct finding *f;

    lines_cable_identity(l, 2, 0, false);
    lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS,
                                .block = "\0\0\0\0", .size = 5 });
    chunk(l, SIDE_SOURCE, EXTENDED_STATUS, 0, 8, 8);
    lines_run(l, NULL);
    f = lines_finding(l, "message.extended-size", VERDICT_FAIL, 0);
    assert_int_equal(f->whom, WHO_CABLE);
    assert_int_equal(f->low, 2000);
    assert_int_equal(f->high, 2000);
    f = lines_finding(l, "message.extended-size", VERDICT_FAIL, 1);
    assert_int_equal(f->measured, 8000);
    assert_int_equal(f->low, 5000);
    assert_int_equal(f->high, 7000);
}

static void an_extended_message_is_judged_once_not_chunk_by_chunk(void **state)
{
    static const uint8_t block[44];
    struct lines *l = negotiated(state);

    lines_chunks(l, SIDE_SOURCE, EXTENDED_EPR_SOURCE_CAPABILITIES, block, 44);
    unchunked(l, SIDE_SOURCE, EXTENDED_STATUS, 7);
    lines_run(l, NULL);
    expect_counts(l, "message.extended-size", 2, 0, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_sound_negotiation_passes_every_rule_that_has_an_occasion),
        TEST(where_nothing_is_said_no_rule_has_an_occasion),
        TEST(every_row_says_all_that_a_row_has_to_say),
        TEST(bad_packets_copies_and_goodcrc_are_no_messages),
        TEST(a_reserved_type_fails_and_nothing_else_is_said_of_it),
        TEST(reserved_types_are_found_in_all_three_classes),
        TEST(the_highest_defined_types_pass),
        TEST(header_bit_5_is_reserved_on_cable_sets),
        TEST(a_plug_keeps_to_the_reserved_bits_as_well),
        TEST(under_2_0_type_bit_4_and_the_extended_bit_are_reserved),
        TEST(under_3_x_the_same_bits_pass),
        TEST(bit_9_of_an_extended_header_is_reserved),
        TEST(padding_after_the_data_is_zero),
        TEST(padding_of_a_request_chunk_is_zero),
        TEST(data_messages_carry_the_objects_of_their_type),
        TEST(capabilities_and_vdms_may_have_one_to_seven_objects),
        TEST(a_wrong_count_is_found_where_it_stands),
        TEST(a_chunk_counts_the_words_that_its_bytes_fill),
        TEST(a_request_chunk_has_one_object),
        TEST(a_control_message_with_bytes_behind_its_header_fails),
        TEST(one_byte_too_many_or_too_few_fails),
        TEST(a_malformed_request_is_not_judged_by_what_it_asks_for),
        TEST(an_unchunked_message_is_as_long_as_its_data_size_or_filled_up),
        TEST(an_unchunked_message_counts_no_objects),
        TEST(an_extended_message_has_room_for_its_extended_header),
        TEST(where_the_length_is_wrong_the_contents_are_not_judged),
        TEST(the_form_of_a_chunk_speaks_for_its_contents),
        TEST(the_role_bit_of_what_one_side_alone_sends_is_judged),
        TEST(a_goodcrc_carries_the_other_role),
        TEST(after_a_hard_reset_roles_are_judged_once_100_ms_have_gone),
        TEST(the_turning_role_bits_of_a_power_swap_pass),
        TEST(before_the_source_is_known_no_role_is_judged),
        TEST(a_source_that_says_ufp_without_a_swap_fails),
        TEST(after_a_data_swap_the_roles_are_the_other_way_round),
        TEST(who_says_ps_rdy_in_a_vconn_swap_is_told_by_the_power_role),
        TEST(the_next_message_of_each_side_after_a_data_swap_is_let_pass),
        TEST(a_refused_data_swap_changes_nothing),
        TEST(a_hard_reset_restores_the_data_roles),
        TEST(without_the_attach_the_first_message_of_each_side_sets_its_data_role),
        TEST(revision_bits_of_3_fail_on_every_set),
        TEST(after_the_first_request_the_agreed_revision_is_shown),
        TEST(revision_1_0_counts_as_2_0),
        TEST(a_plug_may_have_a_revision_of_its_own),
        TEST(what_was_agreed_before_the_trace_leaves_it_undecided),
        TEST(capabilities_before_any_request_may_show_any_revision),
        TEST(a_request_that_nobody_heard_agrees_on_no_revision),
        TEST(a_request_that_was_answered_agrees_though_its_goodcrc_is_missing),
        TEST(a_hard_reset_opens_the_revision_again),
        TEST(numbers_wrap_from_7_to_0),
        TEST(a_jump_by_three_fails),
        TEST(a_jump_by_two_passes_only_if_the_partner_spoke_between),
        TEST(the_same_number_again_fails_after_an_acknowledged_message),
        TEST(after_an_unacknowledged_message_the_same_number_and_the_next_pass),
        TEST(a_bad_packet_between_leaves_a_jump_undecided),
        TEST(after_a_loss_the_count_starts_anew),
        TEST(a_data_role_swap_in_the_gap_is_no_fault),
        TEST(an_accept_to_what_was_missed_may_turn_the_data_roles),
        TEST(a_power_swap_of_which_a_part_is_lost_is_no_fault),
        TEST(without_cc_and_vbus_a_new_attach_is_seen_by_capabilities_that_count_from_0),
        TEST(without_cc_a_short_loss_of_vbus_may_be_a_new_attach),
        TEST(another_revision_after_a_loss_is_undecided),
        TEST(in_the_middle_of_a_power_swap_nobody_is_counted_for_the_other),
        TEST(what_was_next_stands_in_the_finding),
        TEST(each_ordered_set_counts_by_itself),
        TEST(the_first_message_after_an_attach_has_number_0),
        TEST(soft_reset_its_accept_and_what_follows_count_from_0),
        TEST(a_soft_reset_with_another_number_fails),
        TEST(an_accept_of_soft_reset_with_another_number_fails),
        TEST(a_soft_reset_that_nobody_heard_resets_nobody_else),
        TEST(two_soft_resets_in_a_row_have_two_accepts),
        TEST(the_accepts_of_crossing_soft_resets_have_number_0_too),
        TEST(an_accept_between_crossing_soft_resets_may_count_on),
        TEST(after_crossing_soft_resets_another_message_may_not_have_number_0_again),
        TEST(both_sides_begin_at_0_after_a_hard_reset),
        TEST(both_sides_begin_at_0_after_a_power_swap),
        TEST(a_plug_begins_at_0_after_a_cable_reset),
        TEST(a_loss_after_the_reset_leaves_it_undecided),
        TEST(a_bad_packet_after_the_reset_leaves_it_undecided),
        TEST(a_sink_that_sends_what_only_a_source_may_fails),
        TEST(a_source_that_sends_what_only_a_sink_may_fails),
        TEST(a_dual_role_source_may_ask_for_source_capabilities),
        TEST(a_source_that_is_no_sink_may_not_ask_for_source_capabilities),
        TEST(where_a_sink_never_said_whether_it_is_dual_role_it_is_not_judged),
        TEST(enter_usb_is_for_the_dfp_whatever_its_power_role),
        TEST(a_message_of_the_dfp_is_undecided_while_the_data_roles_are_unknown),
        TEST(a_request_chunk_bears_the_type_of_what_it_wants),
        TEST(roles_follow_a_power_swap),
        TEST(power_messages_have_no_place_on_cable_sets),
        TEST(messages_for_plugs_pass_on_cable_sets),
        TEST(a_trace_without_cable_messages_shows_nothing_of_it),
        TEST(messages_of_3_0_are_not_for_2_0),
        TEST(vconn_swap_came_with_2_0),
        TEST(messages_of_3_1_are_not_for_a_port_that_says_3_0),
        TEST(on_cable_sets_the_revision_of_the_plug_counts),
        TEST(before_the_agreement_no_message_is_too_new),
        TEST(a_message_that_shows_the_wrong_revision_is_not_also_too_new),
        TEST(a_given_standard_overrides_what_was_agreed),
        TEST(ping_is_deprecated_under_3_x),
        TEST(ping_under_2_0_is_no_occasion),
        TEST(goto_min_is_deprecated_from_3_2_on),
        TEST(an_offer_of_spr_avs_shows_3_2),
        TEST(chunks_of_26_bytes_and_a_shorter_last_one_pass),
        TEST(a_first_chunk_that_is_too_short_fails),
        TEST(a_last_chunk_that_is_too_short_fails),
        TEST(a_data_size_that_changes_fails),
        TEST(a_data_size_of_260_passes_and_261_fails),
        TEST(a_chunk_is_not_held_against_a_message_that_is_over),
        TEST(a_chunk_behind_the_end_fails),
        TEST(chunks_with_a_wrong_count_of_objects_are_not_judged_by_size_or_order),
        TEST(before_the_agreement_chunks_are_not_judged),
        TEST(chunks_asked_for_one_after_the_other_pass),
        TEST(a_request_for_the_wrong_chunk_fails),
        TEST(a_chunk_that_was_not_the_one_asked_for_fails),
        TEST(a_chunk_that_nobody_asked_for_fails),
        TEST(a_request_chunk_with_a_data_size_fails),
        TEST(a_request_chunk_with_chunked_0_fails),
        TEST(a_chunk_with_the_request_bit_set_fails),
        TEST(chunks_whose_beginning_is_not_in_the_trace_are_undecided),
        TEST(chunks_with_a_loss_between_are_undecided),
        TEST(a_bad_packet_may_have_been_the_request),
        TEST(long_unchunked_messages_need_both_ports_support),
        TEST(a_long_unchunked_message_without_the_sources_support_fails),
        TEST(a_long_unchunked_message_without_the_sinks_support_fails),
        TEST(up_to_26_bytes_may_always_go_unchunked),
        TEST(words_before_the_trace_leave_unchunked_messages_undecided),
        TEST(data_sizes_fit_the_type),
        TEST(a_wrong_data_size_is_found_where_it_stands),
        TEST(an_extended_message_of_no_bytes_has_the_wrong_size),
        TEST(the_sizes_that_were_right_stand_in_the_finding),
        TEST(an_extended_message_is_judged_once_not_chunk_by_chunk),
    };

    return cmocka_run_group_tests_name("message rules", tests, NULL, NULL);
}
