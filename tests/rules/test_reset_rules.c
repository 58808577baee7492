/*
 * reset.*: every rule passed, failed, left undecided and not seen; just inside and just outside each limit. What is expected is typed
 * from the catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "rules/parameter.h"
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

/* 5 V 3 A, 9 V 3 A, 15 V 3 A, 20 V 3.25 A; object 2 asked for. */
static const uint32_t caps[] = { 0x0001912c, 0x0002d12c, 0x0004b12c, 0x00064145 };
static const uint32_t ask_9v = 0x2004b12c;

static struct lines *negotiated(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 4, caps, ask_9v);
    lines_wait(l, MS(50));
    return l;
}

/* A message that nobody can read: CRC wrong, no copy after it. */
static void spoilt(struct lines *l, unsigned side)
{
    lines_say(l, &(struct say){ .side = (uint8_t)side, .type = CONTROL_ACCEPT, .spoilt = true });
    lines_wait(l, MS(5));
}

/* reset.restart-with-caps */

static void a_source_that_begins_anew_passes(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1500));
    lines_negotiate(l, 4, caps, ask_9v);
    lines_run(l, NULL);
    expect_counts(l, "reset.restart-with-caps", 1, 0, 0);
    expect_counts(l, "reset.contract-after-reset", 1, 0, 0);
    expect_counts(l, "reset.repeated", 1, 0, 0);
    expect_only(l, "reset.", NULL);
}

static void a_source_that_goes_on_as_if_nothing_had_been_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      frame;

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(500));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_wait(l, MS(6000));
    lines_run(l, NULL);
    expect_fail(l, "reset.restart-with-caps", frame, WHO_SOURCE);
    expect_verdict(l, "reset.contract-after-reset", VERDICT_NOT_SEEN); /* the same fault */
}

/* Section 6: where it does not begin anew, its MessageID and data role, which go on too, are no second fault. */
static void a_source_that_goes_on_as_if_nothing_had_been_is_one_fault(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(200));
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .id_given = true, .id = 5, .flip = 1 << 5 });

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_STATUS, .flip = 1 << 5 }); /* and the data role of before */
    lines_run(l, NULL);
    expect_fail(l, "reset.restart-with-caps", frame, WHO_SOURCE);
    assert_int_equal(lines_result(l, "message.id-after-reset").counts.failed, 0);
    assert_int_equal(lines_result(l, "message.data-role").counts.failed, 0);
}

/* Limit: 2 s + 1425 ms from the end of the reset signal. */
static void capabilities_after_a_hard_reset_have_3425_ms(void **state)
{
    static const struct { int64_t after_ns; unsigned verdict; } cases[] = { { MS(3424), VERDICT_PASS }, { MS(3426), VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = negotiated(state);

        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, cases[k].after_ns);
        uint64_t frame = lines_caps(l, 4, caps);

        lines_run(l, NULL);
        expect_verdict(l, "reset.restart-with-caps", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "reset.restart-with-caps", frame, WHO_SOURCE);
    }
}

static void a_contract_after_a_hard_reset_has_5_s(void **state)
{
    static const struct { int64_t after_ns; unsigned verdict; } cases[] = { { MS(1890), VERDICT_PASS }, { MS(1910), VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = negotiated(state);

        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(1000));
        lines_caps(l, 4, caps);
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        lines_wait(l, MS(2000));
        l->now_ns += cases[k].after_ns; /* 100 ms before PS_RDY, and some ms of messages */
        lines_request(l, ask_9v);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(90));
        uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

        lines_run(l, NULL);
        expect_verdict(l, "reset.contract-after-reset", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "reset.contract-after-reset", frame, WHO_LINK);
    }
}

static void a_source_that_is_silent_after_a_hard_reset_fails_where_the_sink_is_there(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      reset = lines_reset(l, RECORD_HARD_RESET);

    lines_wait(l, MS(4000));
    lines_run(l, NULL);
    expect_fail(l, "reset.restart-with-caps", reset, WHO_SOURCE);
}

static void where_nobody_is_there_after_a_hard_reset_nothing_is_judged(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(100));
    lines_detach(l);
    lines_wait(l, MS(8000));
    lines_run(l, NULL);
    expect_verdict(l, "reset.restart-with-caps", VERDICT_NOT_SEEN);
    expect_verdict(l, "reset.contract-after-reset", VERDICT_NOT_SEEN);
}

static void of_a_source_that_never_spoke_no_restart_is_asked(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(4000));
    lines_run(l, NULL);
    expect_verdict(l, "reset.restart-with-caps", VERDICT_NOT_SEEN);
}

static void what_is_lost_after_a_hard_reset_leaves_the_restart_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      reset = lines_reset(l, RECORD_HARD_RESET);

    lines_wait(l, MS(500));
    lines_lost(l, 3);
    lines_wait(l, MS(6000));
    lines_run(l, NULL);
    expect_undecided(l, "reset.restart-with-caps", reset, CAUSE_LOST);
}

static void a_trace_that_ends_too_early_has_no_occasion(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_verdict(l, "reset.restart-with-caps", VERDICT_NOT_SEEN);
    expect_verdict(l, "reset.contract-after-reset", VERDICT_NOT_SEEN);
}

/* reset.soft-reset-renegotiates */

static uint64_t soft_reset(struct lines *l, unsigned side)
{
    lines_control(l, side, CONTROL_SOFT_RESET);
    return lines_control(l, side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, CONTROL_ACCEPT);
}

static void a_soft_reset_is_followed_by_an_offer_within_310_ms_of_either_side(void **state)
{
    /* From the end of the Accept's GoodCRC; pause_ns, 2 ms, lies after it already. */
    static const struct { unsigned side; int64_t wait_ns; unsigned verdict; } cases[] = {
        { SIDE_SINK, MS(10), VERDICT_PASS },    { SIDE_SOURCE, MS(10), VERDICT_PASS }, { SIDE_SINK, MS(307), VERDICT_PASS },
        { SIDE_SINK, MS(309), VERDICT_FAIL },   { SIDE_SOURCE, MS(309), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = negotiated(state);

        soft_reset(l, cases[k].side);
        lines_wait(l, cases[k].wait_ns);
        uint64_t frame = lines_caps(l, 4, caps);

        lines_request(l, ask_9v);
        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "reset.soft-reset-renegotiates", frame, WHO_SOURCE);
        else
            expect_counts(l, "reset.soft-reset-renegotiates", 1, 0, 0);
    }
}

/* An offer that comes late is told where it comes, up to 310 + 620 ms after the Accept; then it never came, and that is told at the Accept. */
static void an_offer_long_after_a_soft_reset_never_came(void **state)
{
    static const struct { int64_t wait_ns; bool came; } cases[] = { { MS(920), true }, { MS(935), false } };

    for (unsigned k = 0; k < 2; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = negotiated(state);
        uint64_t      accept = soft_reset(l, SIDE_SINK);

        lines_wait(l, cases[k].wait_ns);
        uint64_t frame = lines_caps(l, 4, caps);

        lines_run(l, NULL);
        expect_fail(l, "reset.soft-reset-renegotiates", cases[k].came ? frame : accept, WHO_SOURCE);
    }
}

static void anything_else_after_a_soft_reset_fails(void **state)
{
    struct lines *l = negotiated(state);

    soft_reset(l, SIDE_SINK);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);

    lines_run(l, NULL);
    expect_fail(l, "reset.soft-reset-renegotiates", frame, WHO_SOURCE);
}

static void no_offer_at_all_after_a_soft_reset_fails_at_its_accept(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      accept = soft_reset(l, SIDE_SINK);

    lines_wait(l, MS(500)); /* tTypeCSinkWaitCap: 310 to 620 ms */
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_fail(l, "reset.soft-reset-renegotiates", accept, WHO_SOURCE);
}

static void a_hard_reset_before_310_ms_leaves_nothing_to_judge(void **state)
{
    struct lines *l = negotiated(state);

    soft_reset(l, SIDE_SINK);
    lines_wait(l, MS(200));
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1000));
    lines_run(l, NULL);
    expect_verdict(l, "reset.soft-reset-renegotiates", VERDICT_NOT_SEEN);
}

static void a_bad_packet_after_a_soft_reset_may_have_been_the_offer(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      accept = soft_reset(l, SIDE_SINK);

    spoilt(l, SIDE_SOURCE);
    lines_wait(l, MS(1500));
    lines_run(l, NULL);
    expect_undecided(l, "reset.soft-reset-renegotiates", accept, CAUSE_BAD_PACKET);
}

static void where_the_sink_asks_first_it_is_not_said_what_the_source_owes(void **state)
{
    struct lines *l = negotiated(state);

    soft_reset(l, SIDE_SINK);
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);

    lines_run(l, NULL);
    expect_undecided(l, "reset.soft-reset-renegotiates", frame, CAUSE_CROSSING);
}

/* reset.contract-after-reset, reset.repeated */

static void a_sink_that_spoke_has_a_contract_within_5_s(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      reset = lines_reset(l, RECORD_HARD_RESET);

    lines_wait(l, MS(1000));
    lines_caps(l, 4, caps);
    lines_request(l, ask_9v);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_wait(l, MS(5000));
    lines_run(l, NULL);
    expect_fail(l, "reset.contract-after-reset", reset, WHO_LINK);
}

static void of_a_sink_that_is_silent_no_contract_is_asked(void **state)
{
    struct lines *l = negotiated(state);

    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1000));
    lines_caps(l, 4, caps);
    lines_wait(l, MS(5000));
    lines_run(l, NULL);
    expect_verdict(l, "reset.contract-after-reset", VERDICT_NOT_SEEN);
}

static void what_is_lost_after_a_hard_reset_may_have_been_the_contract(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      reset = lines_reset(l, RECORD_HARD_RESET);

    lines_wait(l, MS(1000));
    lines_caps(l, 4, caps);
    lines_request(l, ask_9v);
    lines_lost(l, 1);
    lines_wait(l, MS(5000));
    lines_run(l, NULL);
    expect_undecided(l, "reset.contract-after-reset", reset, CAUSE_LOST);
}

/* nHardResetCount 2, and the first: three are allowed. */
static void the_fourth_hard_reset_in_a_row_fails(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      frame = 0;

    for (unsigned k = 0; k < 5; k++) {
        uint64_t reset = lines_reset(l, RECORD_HARD_RESET);

        if (k == 3)
            frame = reset;
        lines_wait(l, MS(1000));
        lines_caps(l, 4, caps);
    }
    lines_run(l, NULL);
    expect_fail(l, "reset.repeated", frame, WHO_LINK);
}

static void three_hard_resets_in_a_row_and_a_contract_pass(void **state)
{
    struct lines *l = negotiated(state);

    for (unsigned k = 0; k < 6; k++) {
        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(1000));
        if (k == 2)
            lines_negotiate(l, 4, caps, ask_9v);
    }
    lines_run(l, NULL);
    expect_counts(l, "reset.repeated", 2, 0, 0);
}

static void a_contract_may_have_been_lost_among_hard_resets(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      frame = 0;

    for (unsigned k = 0; k < 4; k++) {
        frame = lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(1000));
        if (k == 1)
            lines_lost(l, 2);
    }
    lines_run(l, NULL);
    expect_undecided(l, "reset.repeated", frame, CAUSE_LOST);
}

static void without_a_hard_reset_nothing_of_it_is_seen(void **state)
{
    struct lines *l = negotiated(state);

    lines_wait(l, MS(8000));
    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++)
        if (strncmp(engine_result(l->engine, i).rule->id, "reset.", 6) == 0)
            expect_verdict(l, engine_result(l->engine, i).rule->id, VERDICT_NOT_SEEN);
}

/* reset.cable-reset */

/* reset.unexplained: 8 s into a quiet contract something happens, so long before a Hard Reset. */
enum happens { NOTHING, A_MARK, A_LOAD, A_DIP, LESS_LOAD, A_SILENCE, A_LOSS, A_REPEAT };

static void happen(struct lines *l, enum happens what)
{
    switch (what) {
    case NOTHING:
        break;
    case A_MARK:
        lines_mark(l, RECORD_NOTE, 0);
        break;
    case A_LOAD: /* 3 A and more than 10 % */
        lines_power(l, 9000000, 3310000);
        break;
    case LESS_LOAD:
        lines_power(l, 9000000, 3290000);
        break;
    case A_DIP: /* 9 V - 5 % = 8.55 V */
        lines_power(l, 8300000, 1000000);
        break;
    case A_SILENCE:
        lines_control(l, SIDE_SINK, CONTROL_GET_SINK_CAP_EXTENDED);
        lines_wait(l, MS(200));
        break;
    case A_LOSS:
        lines_lost(l, 3);
        break;
    case A_REPEAT:
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_ALERT, .count = 1,
                                    .words = { UINT32_C(1) << 27 }, .quiet = true });
        break;
    }
}

static struct lines *reset_after(void **state, enum happens what, int64_t before_ns)
{
    struct lines *l = negotiated(state);

    lines_power(l, 9000000, 1000000);
    lines_wait(l, MS(8000));
    lines_power(l, 9000000, 1000000);
    lines_wait(l, MS(8000));
    happen(l, what);
    lines_power(l, 9000000, 1000000);
    lines_wait(l, before_ns);
    lines_power(l, 9000000, 1000000);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1000));
    lines_negotiate(l, 4, caps, ask_9v);
    lines_wait(l, MS(3000));
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    return l;
}

static void a_reset_out_of_the_blue_fails_about_the_link(void **state)
{
    struct lines *l = reset_after(state, NOTHING, MS(3000));

    expect_verdict(l, "reset.unexplained", VERDICT_FAIL);
    assert_int_equal(lines_finding(l, "reset.unexplained", VERDICT_FAIL, 0)->whom, WHO_LINK);
}

static void what_happened_in_the_6_s_before_explains_a_reset(void **state)
{
    static const struct { enum happens what; int64_t before_ns; bool explains; } cases[] = {
        { A_MARK, MS(5900), true },    { A_MARK, MS(6100), false },  { A_LOAD, MS(3000), true }, { LESS_LOAD, MS(3000), false },
        { A_DIP, MS(3000), true },     { A_LOAD, MS(6100), false },  { A_REPEAT, MS(3000), true }, { A_SILENCE, MS(3000), true },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = reset_after(state, cases[k].what, cases[k].before_ns);
        if ((lines_result(l, "reset.unexplained").counts.failed == 0) != cases[k].explains)
            fail_msg("case %u: %s", k, cases[k].explains ? "fails" : "does not fail");
    }
}

static void what_is_lost_before_a_reset_may_explain_it(void **state)
{
    struct lines *l = reset_after(state, A_LOSS, MS(3000));

    expect_verdict(l, "reset.unexplained", VERDICT_UNDECIDED);
}

static void a_reset_without_contract_needs_no_reason(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_caps(l, 4, caps);
    lines_wait(l, MS(20000));
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1000));
    lines_caps(l, 4, caps);
    lines_run(l, NULL);
    expect_verdict(l, "reset.unexplained", VERDICT_NOT_SEEN);
}

static void a_cable_reset_followed_by_the_source_passes_and_by_the_sink_within_1_ms_fails(void **state)
{
    static const struct { unsigned side; int64_t wait_ns; unsigned verdict; } cases[] = {
        { SIDE_SOURCE, US(100), VERDICT_PASS }, { SIDE_SINK, US(900), VERDICT_FAIL }, { SIDE_SINK, US(1100), VERDICT_PASS },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = negotiated(state);
        uint64_t      frame = lines_reset(l, RECORD_CABLE_RESET);

        /* The reset's length is not measured: nominal 280 us, at most 1/9 longer. */
        lines_wait(l, cases[k].wait_ns);
        lines_control(l, cases[k].side, CONTROL_GET_STATUS);
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "reset.cable-reset", frame, WHO_LINK);
        else
            expect_counts(l, "reset.cable-reset", 1, 0, 0);
    }
}

static void a_sink_that_is_the_dfp_may_reset_the_cable(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    l->source_is_ufp = true;
    lines_reset(l, RECORD_CABLE_RESET);
    lines_wait(l, US(200));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_counts(l, "reset.cable-reset", 1, 0, 0);
}

static void where_roles_are_not_known_a_cable_reset_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_negotiate(l, 4, caps, ask_9v); /* no attach: who sources VCONN did not show */
    frame = lines_reset(l, RECORD_CABLE_RESET);
    lines_wait(l, US(200));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_undecided(l, "reset.cable-reset", frame, CAUSE_ROLES);
}

static void every_row_says_all_that_a_row_has_to_say(void **state)
{
    struct lines *l = *state;

    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++) {
        const struct rule *r = engine_result(l->engine, i).rule;

        if (strncmp(r->id, "reset.", 6) != 0 && strncmp(r->id, "swap.", 5) != 0 && strncmp(r->id, "epr.", 4) != 0)
            continue;
        assert_true(r->title && r->requirement && r->source && r->why && r->undecided && r->bench);
        assert_true(r->basis && r->wakes && r->check && r->sentences && r->sentences[0]);
        for (const char *const *name = r->parameters; name && *name; name++)
            assert_non_null(parameter_find(*name));
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_source_that_begins_anew_passes),
        TEST(a_source_that_goes_on_as_if_nothing_had_been_fails),
        TEST(a_source_that_goes_on_as_if_nothing_had_been_is_one_fault),
        TEST(capabilities_after_a_hard_reset_have_3425_ms),
        TEST(a_contract_after_a_hard_reset_has_5_s),
        TEST(a_source_that_is_silent_after_a_hard_reset_fails_where_the_sink_is_there),
        TEST(where_nobody_is_there_after_a_hard_reset_nothing_is_judged),
        TEST(of_a_source_that_never_spoke_no_restart_is_asked),
        TEST(what_is_lost_after_a_hard_reset_leaves_the_restart_undecided),
        TEST(a_trace_that_ends_too_early_has_no_occasion),
        TEST(a_soft_reset_is_followed_by_an_offer_within_310_ms_of_either_side),
        TEST(an_offer_long_after_a_soft_reset_never_came),
        TEST(anything_else_after_a_soft_reset_fails),
        TEST(no_offer_at_all_after_a_soft_reset_fails_at_its_accept),
        TEST(a_hard_reset_before_310_ms_leaves_nothing_to_judge),
        TEST(a_bad_packet_after_a_soft_reset_may_have_been_the_offer),
        TEST(where_the_sink_asks_first_it_is_not_said_what_the_source_owes),
        TEST(a_sink_that_spoke_has_a_contract_within_5_s),
        TEST(of_a_sink_that_is_silent_no_contract_is_asked),
        TEST(what_is_lost_after_a_hard_reset_may_have_been_the_contract),
        TEST(the_fourth_hard_reset_in_a_row_fails),
        TEST(three_hard_resets_in_a_row_and_a_contract_pass),
        TEST(a_contract_may_have_been_lost_among_hard_resets),
        TEST(without_a_hard_reset_nothing_of_it_is_seen),
        TEST(a_reset_out_of_the_blue_fails_about_the_link),
        TEST(what_happened_in_the_6_s_before_explains_a_reset),
        TEST(what_is_lost_before_a_reset_may_explain_it),
        TEST(a_reset_without_contract_needs_no_reason),
        TEST(a_cable_reset_followed_by_the_source_passes_and_by_the_sink_within_1_ms_fails),
        TEST(a_sink_that_is_the_dfp_may_reset_the_cable),
        TEST(where_roles_are_not_known_a_cable_reset_is_undecided),
        TEST(every_row_says_all_that_a_row_has_to_say),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
