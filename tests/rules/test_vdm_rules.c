/*
 * vdm.*: Vendor_Defined messages. Expectations typed from the catalogue of rules. The bench: the "Lumenbrick 65" and a load that
 * asks who is there.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* Structured VDM headers, version 2.0 (bits 14:13 01): bits 7:6 REQ, ACK, NAK, BUSY; 4:0 the command. */
#define VDM(svid, position, type, command) \
    ((uint32_t)(svid) << 16 | 0xA000u | (uint32_t)(position) << 8 | (uint32_t)(type) << 6 | (uint32_t)(command))
enum { REQ, ACK, NAK, BUSY };
#define PD_SID 0xff00u
#define A_SVID 0x1234u

static const uint32_t caps[] = { 0x0001912c, 0x0002d12c };
static const uint32_t ask_9v = 0x2004b12c;

static struct lines *negotiated(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 2, caps, ask_9v);
    return l;
}

static uint64_t vdm_longer(struct lines *l, unsigned set, unsigned side, unsigned count, const uint32_t *words, int bytes_off)
{
    struct say s = { .side = (uint8_t)side, .set = (uint8_t)set, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                     .count = (uint8_t)count, .bytes_off = bytes_off };

    memcpy(s.words, words, count * sizeof *words);
    return lines_say(l, &s);
}

static uint64_t vdm_on(struct lines *l, unsigned set, unsigned side, unsigned count, const uint32_t *words)
{
    return vdm_longer(l, set, side, count, words, 0);
}

#define SAY(l, side, ...)                                                                                                          \
    vdm_on(l, SET_SOP, side, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })
#define SAY_ON(l, set, side, ...)                                                                                                  \
    vdm_on(l, set, side, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })

/* A question of the sink and the source's answer; which rule of vdm.* fails, and about which of the two messages. */
struct pair_row {
    const char *name;
    uint32_t    ask[4];
    uint8_t     asks;   /* objects of the request; 0: nobody asked */
    uint32_t    answer[7];
    uint8_t     answers;
    const char *fails;  /* NULL: nothing */
    bool        by_asker;
};

#define IDENTITY_ASK { VDM(PD_SID, 0, REQ, 1) }, 1
/* A plain sink: ID Header type 2 (peripheral), Cert Stat, Product, UFP VDO. */
#define IDENTITY(id) VDM(PD_SID, 0, ACK, 1), id, 0, 0x00010000

static const struct pair_row pairs[] = {
    { "Discover Identity and its answer are sound", IDENTITY_ASK, { IDENTITY(0x10001209), 0x60000000 }, 5, NULL, false },
    { "Discover SVIDs is sound", { VDM(PD_SID, 0, REQ, 2) }, 1, { VDM(PD_SID, 0, ACK, 2), 0x12340000 }, 2, NULL, false },
    { "Discover Modes of a vendor is sound", { VDM(A_SVID, 0, REQ, 3) }, 1, { VDM(A_SVID, 0, ACK, 3), 1 }, 2, NULL, false },
    { "Enter Mode with one object is sound", { VDM(A_SVID, 1, REQ, 4) }, 1, { VDM(A_SVID, 1, ACK, 4) }, 1, NULL, false },
    { "Enter Mode with two objects is sound", { VDM(A_SVID, 1, REQ, 4), 7 }, 2, { VDM(A_SVID, 1, NAK, 4) }, 1, NULL, false },
    { "Exit Mode is sound", { VDM(A_SVID, 7, REQ, 5) }, 1, { VDM(A_SVID, 7, ACK, 5) }, 1, NULL, false },
    { "a vendor's command 16 is sound", { VDM(A_SVID, 1, REQ, 16), 5 }, 2, { VDM(A_SVID, 1, ACK, 16), 6 }, 2, NULL, false },
    { "a vendor's command 31 is sound", { VDM(A_SVID, 1, REQ, 31), 5 }, 2, { VDM(A_SVID, 1, BUSY, 31) }, 1, NULL, false },
    { "bit 5 of a request is reserved", { VDM(PD_SID, 0, REQ, 1) | 0x20 }, 1, { VDM(PD_SID, 0, NAK, 1) }, 1, "vdm.header", true },
    { "bit 5 of an answer is reserved", IDENTITY_ASK, { VDM(PD_SID, 0, NAK, 1) | 0x20 }, 1, "vdm.header", false },
    { "command 0 is none", { VDM(PD_SID, 0, REQ, 0) }, 1, { VDM(PD_SID, 0, NAK, 0) }, 1, "vdm.header", true },
    { "command 7 is none", { VDM(A_SVID, 0, REQ, 7) }, 1, { VDM(A_SVID, 0, NAK, 7) }, 1, "vdm.header", true },
    { "command 15 is none", { VDM(A_SVID, 0, REQ, 15) }, 1, { VDM(A_SVID, 0, NAK, 15) }, 1, "vdm.header", true },
    { "Discover Identity is PD's", { VDM(A_SVID, 0, REQ, 1) }, 1, { VDM(A_SVID, 0, NAK, 1) }, 1, "vdm.header", true },
    { "Discover SVIDs is PD's", { VDM(A_SVID, 0, REQ, 2) }, 1, { VDM(A_SVID, 0, NAK, 2) }, 1, "vdm.header", true },
    { "Discover Identity has no position", { VDM(PD_SID, 1, REQ, 1) }, 1, { VDM(PD_SID, 1, NAK, 1) }, 1, "vdm.header", true },
    { "nor has its answer", IDENTITY_ASK, { VDM(PD_SID, 2, NAK, 1) }, 1, "vdm.header", false },
    { "Discover SVIDs is one object", { VDM(PD_SID, 0, REQ, 2), 0 }, 2, { VDM(PD_SID, 0, NAK, 2) }, 1, "vdm.header", true },
    { "Discover Modes is one object", { VDM(A_SVID, 0, REQ, 3), 0 }, 2, { VDM(A_SVID, 0, NAK, 3) }, 1, "vdm.header", true },
    { "Exit Mode is one object", { VDM(A_SVID, 1, REQ, 5), 0 }, 2, { VDM(A_SVID, 1, NAK, 5) }, 1, "vdm.header", true },
    { "Enter Mode is no three objects", { VDM(A_SVID, 1, REQ, 4), 0, 0 }, 3, { VDM(A_SVID, 1, NAK, 4) }, 1, "vdm.header", true },
    { "Attention is no answer", { 0 }, 0, { VDM(A_SVID, 1, ACK, 6) }, 1, "vdm.header", false },
    { "an answer about another SVID", { VDM(A_SVID, 0, REQ, 3) }, 1, { VDM(0x4321, 0, ACK, 3), 1 }, 2, "vdm.answer-fields", false },
    { "an identity about another SVID", IDENTITY_ASK, { VDM(A_SVID, 0, NAK, 1) }, 1, "vdm.answer-fields", false },
    { "an answer to another command", { VDM(A_SVID, 0, REQ, 3) }, 1, { VDM(A_SVID, 0, NAK, 4) }, 1, "vdm.answer-fields", false },
    { "an answer to a command that is none", { VDM(A_SVID, 0, REQ, 3) }, 1, { VDM(A_SVID, 0, NAK, 9) }, 1, "vdm.answer-fields", false },
    { "Enter Mode answered for another position", { VDM(A_SVID, 1, REQ, 4) }, 1, { VDM(A_SVID, 2, ACK, 4) }, 1, "vdm.answer-fields", false },
    { "Exit Mode answered for another position", { VDM(A_SVID, 7, REQ, 5) }, 1, { VDM(A_SVID, 1, ACK, 5) }, 1, "vdm.answer-fields", false },
    { "a vendor's position may differ", { VDM(A_SVID, 1, REQ, 16) }, 1, { VDM(A_SVID, 2, ACK, 16) }, 1, NULL, false },
    { "NAK with an object behind it", IDENTITY_ASK, { VDM(PD_SID, 0, NAK, 1), 0 }, 2, "vdm.answer-fields", false },
    { "BUSY with an object behind it", IDENTITY_ASK, { VDM(PD_SID, 0, BUSY, 1), 0 }, 2, "vdm.answer-fields", false },
    { "an identity of three objects", IDENTITY_ASK, { VDM(PD_SID, 0, ACK, 1), 0, 0 }, 3, "vdm.identity-fields", false },
    { "an identity of a header alone", IDENTITY_ASK, { VDM(PD_SID, 0, ACK, 1) }, 1, "vdm.identity-fields", false },
    { "bit 20 of the ID Header", IDENTITY_ASK, { IDENTITY(0x10101209), 0 }, 5, "vdm.identity-fields", false },
    { "bit 16 of the ID Header", IDENTITY_ASK, { IDENTITY(0x10011209), 0 }, 5, "vdm.identity-fields", false },
    { "UFP type 4", IDENTITY_ASK, { IDENTITY(0x20001209), 0 }, 5, "vdm.identity-fields", false },
    { "UFP type 7", IDENTITY_ASK, { IDENTITY(0x38001209), 0 }, 5, "vdm.identity-fields", false },
    { "DFP type 4", IDENTITY_ASK, { IDENTITY(0x02001209), 0 }, 5, "vdm.identity-fields", false },
    { "no type and an object", IDENTITY_ASK, { IDENTITY(0x00001209), 0 }, 5, "vdm.identity-fields", false },
    { "no type and no object", IDENTITY_ASK, { IDENTITY(0x00001209) }, 4, NULL, false },
    { "a peripheral without its object", IDENTITY_ASK, { IDENTITY(0x10001209) }, 4, "vdm.identity-fields", false },
    { "a hub with two", IDENTITY_ASK, { IDENTITY(0x08001209), 0, 0 }, 6, "vdm.identity-fields", false },
    { "an adapter with one", IDENTITY_ASK, { IDENTITY(0x28001209), 0 }, 5, NULL, false },
    { "a power sink device without", IDENTITY_ASK, { IDENTITY(0x18001209) }, 4, NULL, false },
    { "a power sink device with one", IDENTITY_ASK, { IDENTITY(0x18001209), 0 }, 5, NULL, false },
    { "a power brick with its object", IDENTITY_ASK, { IDENTITY(0x01801209), 0 }, 5, NULL, false },
    { "a power brick without", IDENTITY_ASK, { IDENTITY(0x01801209) }, 4, "vdm.identity-fields", false },
    { "peripheral and host with a filler between", IDENTITY_ASK, { IDENTITY(0x11001209), 0, 0, 0 }, 7, NULL, false },
    { "peripheral and host without a filler", IDENTITY_ASK, { IDENTITY(0x11001209), 0, 0 }, 6, NULL, false },
    { "peripheral and host with one object", IDENTITY_ASK, { IDENTITY(0x11001209), 0 }, 5, "vdm.identity-fields", false },
};

/* Section 6: the length of a message speaks for what is in it. */
static void length_speaks(const struct pair_row *row)
{
    struct lines *l = lines_new();
    void         *fixture = l;

    negotiated(&fixture);
    if (row->asks)
        vdm_longer(l, SET_SOP, SIDE_SINK, row->asks, row->ask, row->by_asker ? 4 : 0);
    vdm_longer(l, SET_SOP, SIDE_SOURCE, row->answers, row->answer, row->by_asker ? 0 : 4);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_only(l, "message.", "message.length");
    if (lines_finding(l, row->fails, VERDICT_FAIL, 0))
        fail_msg("%s fails beside the length", row->fails);
    lines_free(l);
}

static void pair_row_holds(void **state)
{
    const struct pair_row *row = *state;
    struct lines *l = lines_new();
    void         *fixture = l;
    uint64_t      ask = 0, answer;

    negotiated(&fixture);
    if (row->asks)
        ask = vdm_on(l, SET_SOP, SIDE_SINK, row->asks, row->ask);
    answer = vdm_on(l, SET_SOP, SIDE_SOURCE, row->answers, row->answer);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_only(l, "vdm.", row->fails);
    if (row->fails) {
        expect_fail(l, row->fails, row->by_asker ? ask : answer, row->by_asker ? WHO_SINK : WHO_SOURCE);
        length_speaks(row);
    }
    lines_free(l);
}

static void under_2_0_bits_25_to_16_of_the_id_header_are_reserved(void **state)
{
    static const struct { uint32_t id; bool fails; } rows[] = {
        { 0x10001209, false }, { 0x12001209, true }, { 0x10201209, true }, { 0x10011209, true },
    };

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = lines_new();
        void         *fixture = l;
        uint64_t      answer;

        l->revision = HEADER_R2;
        negotiated(&fixture);
        SAY(l, SIDE_SINK, 0xff008001);
        answer = SAY(l, SIDE_SOURCE, 0xff008041, rows[k].id, 0, 0);
        lines_run(l, NULL);
        if (rows[k].fails)
            expect_fail(l, "vdm.identity-fields", answer, WHO_SOURCE);
        else
            expect_counts(l, "vdm.identity-fields", 1, 0, 0);
        lines_free(l);
    }
}

static void where_nobody_says_a_vdm_nothing_is_judged(void **state)
{
    static const char *const ids[] = { "vdm.header", "vdm.answer", "vdm.answer-fields", "vdm.identity-fields", "vdm.busy-count", "vdm.survives" };
    struct lines *l = negotiated(state);

    lines_run(l, NULL);
    for (unsigned k = 0; k < 6; k++)
        expect_verdict(l, ids[k], VERDICT_NOT_SEEN);
}

static void unstructured_vdms_and_attention_ask_for_nothing(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SINK, 0x12340000, 1, 2);
    SAY(l, SIDE_SINK, VDM(A_SVID, 1, REQ, 6));
    lines_wait(l, MS(1200));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
    expect_counts(l, "vdm.header", 1, 0, 0);
    expect_counts(l, "vdm.survives", 2, 0, 0);
}

static void vdms_of_the_wrong_length_are_judged_by_their_length_alone(void **state)
{
    struct lines *l = negotiated(state);
    struct say ask = { .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                       .words = { VDM(A_SVID, 1, REQ, 7) }, .objects_off = 1 };

    lines_say(l, &ask);
    lines_wait(l, MS(200));
    lines_run(l, NULL);
    expect_verdict(l, "message.length", VERDICT_FAIL);
    expect_verdict(l, "vdm.header", VERDICT_NOT_SEEN);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
}

/* vdm.answer */

static void silence_to_a_structured_vdm_fails_the_one_that_was_asked(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = SAY(l, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));

    lines_wait(l, MS(97)); /* 2 ms have passed */
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN); /* the trace ends within the time */
    lines_wait(l, MS(10));
    lines_run(l, NULL);
    expect_fail(l, "vdm.answer", frame, WHO_SINK);
    assert_int_equal(lines_finding(l, "vdm.answer", VERDICT_FAIL, 0)->parameter->max, 100000); /* the limit that is told: 100 ms */
    expect_only(l, "vdm.", "vdm.answer");
}

static void not_supported_answers_under_3_x(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));
    lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
    lines_run(l, NULL);
    expect_counts(l, "vdm.answer", 1, 0, 0);
}

static void silence_is_allowed_under_2_0_and_before_a_contract(void **state)
{
    struct lines *l = *state;

    l->revision = HEADER_R2;
    lines_attach(l);
    SAY(l, SIDE_SOURCE, 0xff008001);
    lines_wait(l, MS(150));
    lines_negotiate(l, 2, caps, ask_9v);
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
    SAY(l, SIDE_SOURCE, 0xff008001);
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_counts(l, "vdm.answer", 1, 0, 0);
}

static void a_vdm_that_nobody_heard_wants_no_answer(void **state)
{
    struct lines *l = negotiated(state);

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                                .words = { VDM(PD_SID, 0, REQ, 1) }, .quiet = true });
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
}

static void another_exchange_may_come_between(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 2, caps);
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
}

static void lost_records_and_bad_packets_may_be_the_answer(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = SAY(l, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));

    lines_lost(l, 1);
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_undecided(l, "vdm.answer", frame, CAUSE_LOST);

    struct lines *other = lines_new();
    void         *fixture = other;

    negotiated(&fixture);
    frame = SAY(other, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));
    lines_say(other, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                                    .words = { VDM(PD_SID, 0, NAK, 1) }, .spoilt = true });
    lines_wait(other, MS(150));
    lines_control(other, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(other, NULL);
    expect_undecided(other, "vdm.answer", frame, CAUSE_BAD_PACKET);
    lines_free(other);
}

static void a_plug_that_never_answered_may_not_be_there(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    SAY_ON(l, SET_SOP1, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 1));
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.answer", VERDICT_NOT_SEEN);
    lines_cable_identity(l, 1, 0, false);
    frame = SAY_ON(l, SET_SOP1, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 2));
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_fail(l, "vdm.answer", frame, WHO_CABLE);
    assert_int_equal(lines_result(l, "vdm.answer").counts.passed, 1);
}

static void a_plug_of_another_attach_may_be_another_plug(void **state)
{
    struct lines *l = negotiated(state);

    lines_cable_identity(l, 1, 0, false);
    lines_detach(l);
    lines_attach(l);
    SAY_ON(l, SET_SOP1, SIDE_SOURCE, VDM(PD_SID, 0, REQ, 2));
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_counts(l, "vdm.answer", 1, 0, 0);
}

/* vdm.busy-count */

static void the_sixth_busy_in_a_row_is_one_too_many(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t sixth = 0;

    for (unsigned k = 0; k < 8; k++) {
        uint64_t frame;

        SAY(l, SIDE_SOURCE, VDM(A_SVID, 1, REQ, 4));
        frame = SAY(l, SIDE_SINK, VDM(A_SVID, 1, BUSY, 4));
        sixth = k == 5 ? frame : sixth;
        lines_wait(l, MS(50));
        if (k == 4) {
            lines_run(l, NULL);
            expect_counts(l, "vdm.busy-count", 5, 0, 0);
        }
    }
    lines_run(l, NULL);
    expect_fail(l, "vdm.busy-count", sixth, WHO_SINK);
    expect_only(l, "vdm.", "vdm.busy-count");
}

static void another_answer_another_request_or_a_loss_begins_a_new_run(void **state)
{
    (void)state;
    for (unsigned between = 0; between < 3; between++) {
        struct lines *l = lines_new();
        void         *fixture = l;

        negotiated(&fixture);
        for (unsigned k = 0; k < 8; k++) {
            if (k == 4 && between == 0) {
                SAY(l, SIDE_SOURCE, VDM(A_SVID, 1, REQ, 4));
                SAY(l, SIDE_SINK, VDM(A_SVID, 1, NAK, 4));
            } else if (k == 4 && between == 1) {
                SAY(l, SIDE_SOURCE, VDM(A_SVID, 2, REQ, 4));
                SAY(l, SIDE_SINK, VDM(A_SVID, 2, BUSY, 4));
            }
            SAY(l, SIDE_SOURCE, VDM(A_SVID, 1, REQ, 4));
            if (k == 4 && between == 2) {
                lines_lost(l, 1);
                lines_wait(l, MS(2));
            }
            SAY(l, SIDE_SINK, VDM(A_SVID, 1, BUSY, 4));
            lines_wait(l, MS(50));
        }
        lines_run(l, NULL);
        expect_verdict(l, "vdm.busy-count", VERDICT_PASS);
        lines_free(l);
    }
}

/* vdm.survives */

static uint64_t stumble(struct lines *l, int64_t after_ns)
{
    uint64_t frame;

    SAY(l, SIDE_SINK, 0x12340000);
    /* A packet or not, the VDM ended 2 ms and a GoodCRC before now. */
    lines_wait(l, after_ns);
    frame = lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(6000));
    return frame;
}

static void a_hard_reset_of_nobody_after_a_vdm_counts_the_second_time(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t first, second;

    lines_wait(l, MS(6000));
    first = stumble(l, MS(300));
    lines_run(l, NULL);
    expect_undecided(l, "vdm.survives", first, CAUSE_ORIGIN);
    second = stumble(l, MS(300));
    lines_run(l, NULL);
    expect_counts(l, "vdm.survives", 0, 1, 1);
    assert_int_equal(lines_finding(l, "vdm.survives", VERDICT_FAIL, 0)->frame, second);
    assert_int_equal(lines_finding(l, "vdm.survives", VERDICT_FAIL, 0)->whom, WHO_SOURCE);
}

static void a_reset_later_than_a_second_is_another_matter(void **state)
{
    struct lines *l = negotiated(state);

    lines_wait(l, MS(6000));
    stumble(l, MS(1000));
    stumble(l, MS(1000));
    lines_run(l, NULL);
    expect_counts(l, "vdm.survives", 2, 0, 0);
}

static void a_soft_reset_of_the_source_after_a_vdm_fails_at_once(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame;

    SAY(l, SIDE_SINK, 0x12340000);
    SAY(l, SIDE_SINK, 0x12340000);
    lines_wait(l, MS(50));
    frame = lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_fail(l, "vdm.survives", frame, WHO_SOURCE);
    expect_counts(l, "vdm.survives", 0, 1, 0);
    assert_int_equal(lines_result(l, "reset.unexplained").counts.failed, 0); /* it is explained */
}

static void a_soft_reset_of_the_sink_is_its_own(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SINK, 0x12340000);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.survives", VERDICT_NOT_SEEN);
}

static void a_soft_reset_that_an_unheard_message_calls_for_is_no_stumbling(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SINK, 0x12340000);
    l->pause_ns = US(1000);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .quiet = true });
    for (unsigned k = 0; k < 2; k++)
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .quiet = true, .again = true });
    l->pause_ns = MS(2);
    lines_wait(l, MS(2));
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.survives", VERDICT_NOT_SEEN);
}

static void a_soft_reset_after_copies_that_nobody_could_read_is_no_stumbling(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SINK, 0x12340000);
    l->pause_ns = US(1000);
    for (unsigned k = 0; k < 3; k++)
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .spoilt = true });
    l->pause_ns = MS(2);
    lines_wait(l, MS(2));
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);

    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_verdict(l, "wire.crc-repeated", VERDICT_FAIL);
    expect_undecided(l, "vdm.survives", frame, CAUSE_BAD_PACKET);
}

static void vbus_that_goes_after_a_vdm_fails_unless_the_plug_is_pulled(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t fall;

    lines_power(l, 9000000, 1000000);
    lines_wait(l, MS(10));
    SAY(l, SIDE_SINK, 0x12340000);
    lines_wait(l, MS(400));
    fall = lines_power(l, 0, 0);
    lines_wait(l, MS(700));
    lines_run(l, NULL);
    expect_fail(l, "vdm.survives", fall, WHO_SOURCE);

    struct lines *other = lines_new();
    void         *fixture = other;

    negotiated(&fixture);
    lines_power(other, 9000000, 1000000);
    lines_wait(other, MS(10));
    SAY(other, SIDE_SINK, 0x12340000);
    lines_wait(other, MS(400));
    lines_power(other, 0, 0);
    lines_wait(other, MS(20));
    lines_detach(other);
    lines_wait(other, MS(1100));
    lines_run(other, NULL);
    expect_verdict(other, "vdm.survives", VERDICT_NOT_SEEN);
    lines_free(other);
}

static void lost_records_after_a_vdm_may_hold_the_reset(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = SAY(l, SIDE_SINK, 0x12340000);

    lines_wait(l, MS(500));
    lines_lost(l, 1);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_undecided(l, "vdm.survives", frame, CAUSE_LOST);
}

static void a_bad_packet_after_a_vdm_may_be_the_reset(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t frame = SAY(l, SIDE_SINK, 0x12340000);

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_SOFT_RESET, .spoilt = true });
    lines_wait(l, MS(500));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_undecided(l, "vdm.survives", frame, CAUSE_BAD_PACKET);
}

static void vdms_of_the_source_and_the_end_of_the_trace_are_no_occasion(void **state)
{
    struct lines *l = negotiated(state);

    SAY(l, SIDE_SOURCE, 0x12340000);
    lines_wait(l, MS(1100));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.survives", VERDICT_NOT_SEEN);
    SAY(l, SIDE_SINK, 0x12340000);
    lines_wait(l, MS(990));
    lines_run(l, NULL);
    expect_verdict(l, "vdm.survives", VERDICT_NOT_SEEN);
}

static const struct CMUnitTest others[] = {
    cmocka_unit_test_setup_teardown(under_2_0_bits_25_to_16_of_the_id_header_are_reserved, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(where_nobody_says_a_vdm_nothing_is_judged, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(unstructured_vdms_and_attention_ask_for_nothing, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(vdms_of_the_wrong_length_are_judged_by_their_length_alone, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(silence_to_a_structured_vdm_fails_the_one_that_was_asked, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(not_supported_answers_under_3_x, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(silence_is_allowed_under_2_0_and_before_a_contract, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_vdm_that_nobody_heard_wants_no_answer, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(another_exchange_may_come_between, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(lost_records_and_bad_packets_may_be_the_answer, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_plug_that_never_answered_may_not_be_there, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_plug_of_another_attach_may_be_another_plug, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(the_sixth_busy_in_a_row_is_one_too_many, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(another_answer_another_request_or_a_loss_begins_a_new_run, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_hard_reset_of_nobody_after_a_vdm_counts_the_second_time, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_reset_later_than_a_second_is_another_matter, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_soft_reset_of_the_source_after_a_vdm_fails_at_once, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_soft_reset_of_the_sink_is_its_own, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_soft_reset_that_an_unheard_message_calls_for_is_no_stumbling, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_soft_reset_after_copies_that_nobody_could_read_is_no_stumbling, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(vbus_that_goes_after_a_vdm_fails_unless_the_plug_is_pulled, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(lost_records_after_a_vdm_may_hold_the_reset, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(a_bad_packet_after_a_vdm_may_be_the_reset, lines_setup, lines_teardown),
    cmocka_unit_test_setup_teardown(vdms_of_the_source_and_the_end_of_the_trace_are_no_occasion, lines_setup, lines_teardown),
};

#define ROWS (sizeof pairs / sizeof pairs[0])
#define OTHERS (sizeof others / sizeof others[0])

/* cmocka calls back without const; a row is only read. */
union row_state { const struct pair_row *row; void *state; };

int main(void)
{
    static struct CMUnitTest tests[ROWS + OTHERS];

    for (unsigned k = 0; k < ROWS; k++) {
        union row_state t = { .row = &pairs[k] };

        tests[k] = (struct CMUnitTest){ .name = pairs[k].name, .test_func = pair_row_holds, .initial_state = t.state };
    }
    memcpy(tests + ROWS, others, sizeof others);
    return cmocka_run_group_tests_name("rules vdm", tests, NULL, NULL);
}
