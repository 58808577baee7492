/*
 * epr.*: every rule passed, failed, left undecided and not seen; just inside and just outside each limit. What is expected is typed
 * from the catalogue's rows. The bench: "Lumenbrick 65" with a sister of 140 W, and a load that speaks USB PD.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define SINK_EPR_CAPABLE (UINT32_C(1) << 22)
#define SOURCE_EPR_CAPABLE (UINT32_C(1) << 23)
/* EPRMDO: bits 31:24. */
#define ENTER UINT32_C(0x018c0000)
#define ACKNOWLEDGED UINT32_C(0x02000000)
#define SUCCEEDED UINT32_C(0x03000000)
#define FAILED UINT32_C(0x04010000)
#define EXIT UINT32_C(0x05000000)

/* 5, 9, 15 V 3 A, 20 V 5 A, three fillers; 28 V 5 A at position 8. */
static const uint32_t epr_words[] = { 0x0001912c | SOURCE_EPR_CAPABLE, 0x0002d12c, 0x0004b12c, 0x000641f4, 0, 0, 0, 0x0008c1f4 };
static const uint32_t ask_9v = 0x2004b12c | SINK_EPR_CAPABLE;

static uint64_t mode(struct lines *l, unsigned side, uint32_t word)
{
    return lines_data(l, side, DATA_EPR_MODE, 1, &word);
}

static uint64_t extended_control(struct lines *l, unsigned side, unsigned type)
{
    const uint8_t block[2] = { (uint8_t)type, 0 };

    return lines_extended(l, side, EXTENDED_CONTROL, block, 2);
}

static struct lines *again(void **state)
{
    lines_teardown(state);
    lines_setup(state);
    return *state;
}

/* A contract over a cable that may carry EPR (50 V, 5 A, EPR), or that says what it is told to say. */
static struct lines *ready_with(struct lines *l, unsigned current, unsigned volts, bool epr, uint32_t object_1, uint32_t request)
{
    uint32_t words[4];

    memcpy(words, epr_words, sizeof words);
    words[0] = object_1;
    lines_attach(l);
    if (current)
        lines_cable_identity(l, current, volts, epr);
    lines_negotiate(l, 4, words, request);
    lines_wait(l, MS(50));
    return l;
}

static struct lines *ready(void **state)
{
    return ready_with(again(state), 2, 3, true, epr_words[0], ask_9v);
}

static struct lines *entered(void **state)
{
    struct lines *l = ready(state);

    lines_enter_epr(l);
    lines_epr_caps(l, 8, epr_words);
    lines_epr_request(l, word_ask_fixed(8, 5000, 5000) | SINK_EPR_CAPABLE, epr_words[7]);
    lines_accept_and_ready(l);
    lines_wait(l, MS(20));
    return l;
}

static void a_sound_stay_in_epr_mode_passes_every_rule(void **state)
{
    static const char *const seen[] = {
        "epr.entry-order", "epr.entry-needs-cable", "epr.entry-needs-capable", "epr.caps-in-mode", "epr.request-kind",
        "epr.keepalive-ack", "epr.spr-caps-in-mode", "epr.exit",
    };
    struct lines *l = entered(state);

    extended_control(l, SIDE_SINK, 3);
    extended_control(l, SIDE_SOURCE, 4);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 4, epr_words);
    lines_epr_request(l, word_ask_fixed(4, 3000, 3000) | SINK_EPR_CAPABLE, epr_words[3]);
    lines_accept_and_ready(l);
    mode(l, SIDE_SINK, EXIT);
    lines_negotiate(l, 4, epr_words, ask_9v);
    lines_run(l, NULL);
    expect_only(l, "epr.", NULL);
    for (unsigned k = 0; k < sizeof seen / sizeof seen[0]; k++)
        expect_verdict(l, seen[k], VERDICT_PASS);
}

static void where_nobody_enters_epr_mode_nothing_of_it_is_seen(void **state)
{
    struct lines *l = ready_with(*state, 1, 0, false, 0x0001912c, 0x2004b12c);

    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++)
        if (strncmp(engine_result(l->engine, i).rule->id, "epr.", 4) == 0)
            expect_verdict(l, engine_result(l->engine, i).rule->id, VERDICT_NOT_SEEN);
}

/* epr.entry-order */

static void an_entry_may_fail_at_either_place(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = ready(state);

        mode(l, SIDE_SINK, ENTER);
        if (k)
            mode(l, SIDE_SOURCE, ACKNOWLEDGED);
        mode(l, SIDE_SOURCE, FAILED);
        lines_run(l, NULL);
        expect_counts(l, "epr.entry-order", 1, 0, 0);
        expect_verdict(l, "epr.entry-needs-cable", VERDICT_NOT_SEEN);
    }
}

static void a_source_without_epr_mode_says_not_supported(void **state)
{
    struct lines *l = ready(state);

    mode(l, SIDE_SINK, ENTER);
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_run(l, NULL);
    expect_counts(l, "epr.entry-order", 1, 0, 0);
}

static void a_swap_of_vconn_may_come_into_an_entry(void **state)
{
    struct lines *l = ready(state);

    mode(l, SIDE_SINK, ENTER);
    mode(l, SIDE_SOURCE, ACKNOWLEDGED);
    lines_control(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    mode(l, SIDE_SOURCE, SUCCEEDED);
    lines_run(l, NULL);
    expect_counts(l, "epr.entry-order", 1, 0, 0);
}

static void succeeded_without_acknowledged_is_one_fault(void **state)
{
    struct lines *l = ready_with(again(state), 1, 0, false, 0x0001912c, 0x2004b12c); /* neither cable nor flags fit */

    mode(l, SIDE_SINK, ENTER);
    uint64_t frame = mode(l, SIDE_SOURCE, SUCCEEDED);

    lines_wait(l, MS(1000));
    lines_run(l, NULL);
    expect_fail(l, "epr.entry-order", frame, WHO_SOURCE);
    expect_only(l, "epr.", "epr.entry-order");
    assert_int_equal(lines_result(l, "exchange.unexpected-message").counts.failed, 0);
}

/* Section 6: an entry that went wrong speaks for that entry, for tEnterEPR, 550 ms, at the longest; the next one is judged by itself. */
static void an_entry_that_went_wrong_does_not_speak_for_the_next_one(void **state)
{
    static const struct { int64_t wait_ns; bool judged; } cases[] = { { MS(500), false }, { MS(545), true } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = ready_with(again(state), 1, 0, false, 0x0001912c, 0x2004b12c); /* neither cable nor flags fit */

        mode(l, SIDE_SINK, ENTER);
        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        lines_wait(l, cases[k].wait_ns);
        lines_enter_epr(l);
        lines_wait(l, MS(1000));
        lines_run(l, NULL);
        expect_counts(l, "epr.entry-order", 1, 1, 0);
        expect_only(l, "epr.", cases[k].judged ? "epr.entry-order epr.entry-needs-cable epr.entry-needs-capable epr.caps-in-mode" : "epr.entry-order");
    }
}

static void another_message_of_the_source_inside_an_entry_fails(void **state)
{
    struct lines *l = ready(state);

    mode(l, SIDE_SINK, ENTER);
    mode(l, SIDE_SOURCE, ACKNOWLEDGED);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);

    lines_run(l, NULL);
    expect_fail(l, "epr.entry-order", frame, WHO_SOURCE);
}

static void an_entry_has_550_ms(void **state)
{
    /* From the end of Enter's GoodCRC; Acknowledged and its GoodCRC take 0.6 + 0.1 + 0.5 ms, two pauses 4 ms. */
    static const struct { int64_t wait_ns; unsigned verdict; } cases[] = { { MS(540), VERDICT_PASS }, { MS(548), VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = ready(state);

        mode(l, SIDE_SINK, ENTER);
        mode(l, SIDE_SOURCE, ACKNOWLEDGED);
        lines_wait(l, cases[k].wait_ns);
        uint64_t frame = mode(l, SIDE_SOURCE, SUCCEEDED);

        lines_epr_caps(l, 8, epr_words);
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "epr.entry-order", frame, WHO_SOURCE);
        else
            expect_counts(l, "epr.entry-order", 1, 0, 0);
    }
}

static void an_entry_that_comes_to_nothing_fails_at_enter(void **state)
{
    static const struct { int64_t wait_ns; bool spoilt; unsigned verdict; } cases[] = {
        /* tEnterEPR from 450 ms; a pause of 2 ms, or that and the bad packet, goes before. */
        { MS(449), false, VERDICT_FAIL }, { MS(447), false, VERDICT_NOT_SEEN }, { MS(500), true, VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = ready(state);
        uint64_t      frame = mode(l, SIDE_SINK, ENTER);

        if (cases[k].spoilt)
            lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_ACCEPT, .spoilt = true });
        lines_wait(l, cases[k].wait_ns);
        lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
        lines_run(l, NULL);
        expect_verdict(l, "epr.entry-order", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "epr.entry-order", frame, WHO_SOURCE);
    }
}

static void an_enter_that_nobody_heard_obliges_nobody(void **state)
{
    struct lines *l = ready(state);

    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_EPR_MODE, .count = 1,
                                .words = { ENTER }, .quiet = true });
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_verdict(l, "epr.entry-order", VERDICT_NOT_SEEN);
}

/* epr.entry-needs-cable, epr.entry-needs-capable */

static void a_cable_that_is_not_made_for_epr_fails(void **state)
{
    static const struct { unsigned current, volts; bool epr; } cables[] = {
        { 1, 3, true }, { 2, 0, true }, { 2, 3, false }, { 0, 0, false } /* not asked at all */,
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = ready_with(again(state), cables[k].current, cables[k].volts, cables[k].epr, epr_words[0], ask_9v);
        uint64_t      frame = lines_enter_epr(l);

        lines_epr_caps(l, 8, epr_words);
        lines_run(l, NULL);
        expect_fail(l, "epr.entry-needs-cable", frame, WHO_SOURCE);
        expect_only(l, "epr.", "epr.entry-needs-cable");
        expect_verdict(l, "caps.epr-needs-cable", VERDICT_NOT_SEEN);
    }
}

static void a_captive_cable_needs_no_plug_that_speaks(void **state)
{
    struct lines *l = *state;

    lines_about(l, 255, "{\"ports\":[{\"port\":0,\"kind\":\"source\",\"plug\":\"captive\"}]}");
    ready_with(l, 0, 0, false, epr_words[0], ask_9v);
    lines_enter_epr(l);
    lines_run(l, NULL);
    expect_verdict(l, "epr.entry-needs-cable", VERDICT_NOT_SEEN);
}

static void without_the_attach_the_cable_is_undecided(void **state)
{
    struct lines *l = *state;

    lines_negotiate(l, 4, epr_words, ask_9v);
    uint64_t frame = lines_enter_epr(l);

    lines_run(l, NULL);
    expect_undecided(l, "epr.entry-needs-cable", frame, CAUSE_BEGINNING);
    expect_counts(l, "epr.entry-needs-capable", 1, 0, 0);
}

static void a_flag_that_is_missing_on_either_side_fails(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = ready_with(again(state), 2, 3, true, k ? epr_words[0] : epr_words[0] & ~SOURCE_EPR_CAPABLE,
                                     k ? ask_9v & ~SINK_EPR_CAPABLE : ask_9v);
        uint64_t frame = lines_enter_epr(l);

        lines_epr_caps(l, 8, epr_words);
        lines_run(l, NULL);
        expect_fail(l, "epr.entry-needs-capable", frame, WHO_SOURCE);
        expect_only(l, "epr.", "epr.entry-needs-capable");
        expect_verdict(l, "caps.epr-flag", VERDICT_NOT_SEEN);
    }
}

static void an_offer_that_was_not_seen_leaves_the_flags_undecided(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    lines_lost(l, 2);
    lines_wait(l, MS(10));
    uint64_t frame = lines_enter_epr(l);

    lines_run(l, NULL);
    expect_undecided(l, "epr.entry-needs-capable", frame, CAUSE_LOST);
}

/* epr.caps-in-mode */

static void epr_source_capabilities_have_250_ms(void **state)
{
    static const struct { int64_t wait_ns; unsigned verdict; } cases[] = { { MS(246), VERDICT_PASS }, { MS(250), VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = ready(state);

        lines_enter_epr(l);
        lines_wait(l, cases[k].wait_ns);
        unsigned before = l->count;

        lines_epr_caps(l, 8, epr_words);
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "epr.caps-in-mode", before + 1, WHO_SOURCE);
        else
            expect_counts(l, "epr.caps-in-mode", 1, 0, 0);
    }
}

static void what_the_sink_asks_by_extended_control_first_is_let_pass(void **state)
{
    struct lines *l = ready(state);

    lines_enter_epr(l);
    extended_control(l, SIDE_SINK, 3);
    extended_control(l, SIDE_SOURCE, 4);
    lines_epr_caps(l, 8, epr_words);
    lines_run(l, NULL);
    expect_counts(l, "epr.caps-in-mode", 1, 0, 0);
}

static void another_message_than_epr_source_capabilities_fails(void **state)
{
    struct lines *l = ready(state);

    lines_enter_epr(l);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);

    lines_run(l, NULL);
    expect_fail(l, "epr.caps-in-mode", frame, WHO_SOURCE);
}

static void no_epr_source_capabilities_fail_at_succeeded(void **state)
{
    struct lines *l = ready(state);
    uint64_t      frame = lines_enter_epr(l);

    lines_wait(l, MS(1000));
    lines_run(l, NULL);
    expect_fail(l, "epr.caps-in-mode", frame, WHO_SOURCE);

    l = ready(state);
    frame = lines_enter_epr(l);
    lines_lost(l, 3);
    lines_wait(l, MS(1000));
    lines_run(l, NULL);
    expect_undecided(l, "epr.caps-in-mode", frame, CAUSE_LOST);
}

/* epr.spr-caps-in-mode */

static void source_capabilities_in_epr_mode_have_to_be_asked_for(void **state)
{
    struct lines *l = entered(state);
    uint64_t      frame = lines_caps(l, 4, epr_words);

    lines_run(l, NULL);
    expect_fail(l, "epr.spr-caps-in-mode", frame, WHO_SOURCE);

    l = entered(state);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_SOURCE_CAP, .spoilt = true });
    frame = lines_caps(l, 4, epr_words);
    lines_run(l, NULL);
    expect_undecided(l, "epr.spr-caps-in-mode", frame, CAUSE_BAD_PACKET);
}

/* epr.request-kind */

static void the_request_has_to_fit_the_mode(void **state)
{
    struct lines *l = entered(state);
    uint64_t      frame = lines_request(l, ask_9v);

    lines_run(l, NULL);
    expect_fail(l, "epr.request-kind", frame, WHO_SINK);

    l = ready(state);
    frame = lines_epr_request(l, ask_9v, epr_words[1]);
    lines_run(l, NULL);
    expect_fail(l, "epr.request-kind", frame, WHO_SINK);
    expect_verdict(l, "request.epr-copy", VERDICT_NOT_SEEN);
}

static void a_mode_that_is_not_known_leaves_the_request_undecided(void **state)
{
    struct lines *l = again(state);
    uint64_t      frame = lines_epr_request(l, ask_9v, epr_words[1]);

    lines_run(l, NULL);
    expect_undecided(l, "epr.request-kind", frame, CAUSE_BEGINNING);

    l = entered(state);
    lines_lost(l, 2);
    lines_wait(l, MS(10));
    frame = lines_request(l, ask_9v);
    lines_run(l, NULL);
    expect_undecided(l, "epr.request-kind", frame, CAUSE_LOST);
}

/* epr.keepalive-ack */

static void a_keepalive_is_acknowledged(void **state)
{
    static const struct { bool spoilt; unsigned answer, verdict; } cases[] = {
        { false, 0, VERDICT_FAIL },
        { false, CONTROL_NOT_SUPPORTED, VERDICT_FAIL },
        { false, CONTROL_REJECT, VERDICT_FAIL },
        { true, 0, VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = entered(state);
        uint64_t      frame = extended_control(l, SIDE_SINK, 3);

        if (cases[k].answer)
            lines_control(l, SIDE_SOURCE, cases[k].answer);
        if (cases[k].spoilt)
            lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_ACCEPT, .spoilt = true });
        lines_wait(l, MS(150));
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "epr.keepalive-ack", frame, WHO_SOURCE);
        else
            expect_undecided(l, "epr.keepalive-ack", frame, CAUSE_BAD_PACKET);
    }
}

/* tSenderResponse is 24 ms at the least (Zephyr usbc_pd.h): a sink that resets then has waited for its answer. */
static void a_hard_reset_for_want_of_an_acknowledgement_tells_of_it(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = entered(state);
        uint64_t      frame = extended_control(l, SIDE_SINK, 3);

        lines_wait(l, (k ? US(24100) : US(23900)) - l->pause_ns); /* from the end of the GoodCRC */
        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(150));
        lines_run(l, NULL);
        if (k)
            expect_fail(l, "epr.keepalive-ack", frame, WHO_SOURCE);
        else
            expect_undecided(l, "epr.keepalive-ack", frame, CAUSE_RESET);
    }
}

static void a_keepalive_that_nobody_heard_needs_no_answer(void **state)
{
    static const uint8_t block[2] = { 3, 0 };
    struct lines *l = entered(state);

    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_CONTROL, .block = block,
                                .size = 2, .quiet = true });
    lines_wait(l, MS(150));
    lines_run(l, NULL);
    expect_verdict(l, "epr.keepalive-ack", VERDICT_NOT_SEEN);
}

/* epr.exit */

static void an_exit_from_28_v_wants_a_hard_reset(void **state)
{
    struct lines *l = entered(state); /* 28 V */
    uint64_t      frame = mode(l, SIDE_SINK, EXIT);

    lines_caps(l, 4, epr_words);
    lines_run(l, NULL);
    expect_fail(l, "epr.exit", frame, WHO_SOURCE);

    l = entered(state);
    mode(l, SIDE_SINK, EXIT);
    lines_wait(l, MS(10));
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_counts(l, "epr.exit", 1, 0, 0);
}

static void source_capabilities_after_an_exit_have_250_ms(void **state)
{
    static const struct { int64_t wait_ns; unsigned verdict; } cases[] = {
        { MS(246), VERDICT_PASS }, { MS(250), VERDICT_FAIL }, { 0, VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = ready(state);

        lines_enter_epr(l);
        lines_epr_caps(l, 8, epr_words);
        lines_epr_request(l, word_ask_fixed(4, 3000, 3000) | SINK_EPR_CAPABLE, epr_words[3]);
        lines_accept_and_ready(l);
        uint64_t exit = mode(l, SIDE_SOURCE, EXIT);

        if (cases[k].verdict == VERDICT_UNDECIDED)
            lines_lost(l, 2);
        lines_wait(l, cases[k].wait_ns ? cases[k].wait_ns : MS(1000));
        uint64_t frame = cases[k].wait_ns ? lines_caps(l, 4, epr_words) : exit;

        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "epr.exit", frame, WHO_SOURCE);
        else if (cases[k].verdict == VERDICT_UNDECIDED)
            expect_undecided(l, "epr.exit", frame, CAUSE_LOST);
        else
            expect_counts(l, "epr.exit", 1, 0, 0);
    }
}

static void no_source_capabilities_after_an_exit_fail_at_it(void **state)
{
    struct lines *l = ready(state);

    lines_enter_epr(l);
    lines_epr_caps(l, 8, epr_words);
    uint64_t frame = mode(l, SIDE_SINK, EXIT);

    lines_wait(l, MS(1000));
    lines_run(l, NULL);
    expect_fail(l, "epr.exit", frame, WHO_SOURCE);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

/* Section 6: what is wrong with the message that asks speaks for its answer, which does not come here; failures of the rule. */
static uint64_t unanswered(const char *id, bool keepalive, const char *silencer)
{
    static const uint32_t keeps_3_0 = 0x30000000; /* Revision message data object: major 3, minor 0 */
    void         *state = lines_new();
    struct lines *l = keepalive ? entered(&state) : ready(&state);
    struct say    say = { .side = SIDE_SINK, .message_class = keepalive ? CLASS_EXTENDED : CLASS_DATA,
                          .type = keepalive ? EXTENDED_CONTROL : DATA_EPR_MODE, .words = { ENTER }, .count = keepalive ? 0 : 1,
                          .block = "\3\0", .size = 2 };
    uint64_t      failed;

    if (silencer && strcmp(silencer, "message.allowed-in-revision") == 0)
        lines_data(l, SIDE_SINK, DATA_REVISION, 1, &keeps_3_0);
    if (silencer && strcmp(silencer, "message.length") == 0)
        say.bytes_off = 4;
    if (silencer && strcmp(silencer, "message.object-count") == 0) {
        say.count = keepalive ? 0 : 2;
        say.objects_off = keepalive ? 1 : 0;
        say.bytes_off = keepalive ? 4 : 0; /* the length is right: one thing is wrong */
    }
    lines_say(l, &say);
    lines_wait(l, MS(700));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_only(l, "message.", silencer);
    failed = lines_result(l, id).counts.failed;
    lines_free(l);
    return failed;
}

static void what_is_wrong_with_the_question_speaks_for_its_answer(void **state)
{
    static const char *const silencers[] = { "message.allowed-in-revision", "message.length", "message.object-count" };

    (void)state;
    assert_int_equal(unanswered("epr.entry-order", false, NULL), 1);
    assert_int_equal(unanswered("epr.keepalive-ack", true, NULL), 1);
    for (unsigned k = 0; k < sizeof silencers / sizeof silencers[0]; k++) {
        assert_int_equal(unanswered("epr.entry-order", false, silencers[k]), 0);
        assert_int_equal(unanswered("epr.keepalive-ack", true, silencers[k]), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_sound_stay_in_epr_mode_passes_every_rule),
        TEST(where_nobody_enters_epr_mode_nothing_of_it_is_seen),
        TEST(an_entry_may_fail_at_either_place),
        TEST(a_source_without_epr_mode_says_not_supported),
        TEST(a_swap_of_vconn_may_come_into_an_entry),
        TEST(succeeded_without_acknowledged_is_one_fault),
        TEST(another_message_of_the_source_inside_an_entry_fails),
        TEST(an_entry_has_550_ms),
        TEST(what_is_wrong_with_the_question_speaks_for_its_answer),
        TEST(an_entry_that_comes_to_nothing_fails_at_enter),
        TEST(an_entry_that_went_wrong_does_not_speak_for_the_next_one),
        TEST(an_enter_that_nobody_heard_obliges_nobody),
        TEST(a_cable_that_is_not_made_for_epr_fails),
        TEST(a_captive_cable_needs_no_plug_that_speaks),
        TEST(without_the_attach_the_cable_is_undecided),
        TEST(a_flag_that_is_missing_on_either_side_fails),
        TEST(an_offer_that_was_not_seen_leaves_the_flags_undecided),
        TEST(epr_source_capabilities_have_250_ms),
        TEST(what_the_sink_asks_by_extended_control_first_is_let_pass),
        TEST(another_message_than_epr_source_capabilities_fails),
        TEST(no_epr_source_capabilities_fail_at_succeeded),
        TEST(source_capabilities_in_epr_mode_have_to_be_asked_for),
        TEST(the_request_has_to_fit_the_mode),
        TEST(a_mode_that_is_not_known_leaves_the_request_undecided),
        TEST(a_keepalive_is_acknowledged),
        TEST(a_hard_reset_for_want_of_an_acknowledgement_tells_of_it),
        TEST(a_keepalive_that_nobody_heard_needs_no_answer),
        TEST(an_exit_from_28_v_wants_a_hard_reset),
        TEST(source_capabilities_after_an_exit_have_250_ms),
        TEST(no_source_capabilities_after_an_exit_fail_at_it),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
