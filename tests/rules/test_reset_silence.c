/*
 * reset.unexplained beside time.pps-timeout, vdm.survives, power swaps and PS_RDY: resets whose reason another rule tells. What is expected
 * is typed from the catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/time_words.h"

#include "rules/judge.h"

#define S(n) MS(1000 * INT64_C(n))

void time_stand_in_check(struct judge *j, const struct event *e)
{
    (void)j;
    (void)e;
}

/* A Request, so much silence, a Hard Reset, and a contract again; frame of the reset. */
static uint64_t reset_after_silence(struct lines *l, int64_t ns)
{
    uint64_t frame;

    lines_request(l, word_ask_pps(3, 9000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, ns);
    frame = lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_negotiate(l, 3, time_offer(), word_ask_pps(3, 9000, 3000));
    lines_wait(l, MS(50));
    return frame;
}

static void an_early_reset_that_stays_alone_fails_when_the_trace_ends(void **state)
{
    struct lines *l = time_contract(state, 3);
    uint64_t      frame = reset_after_silence(l, S(9));

    lines_wait(l, S(5));
    lines_run(l, NULL);
    expect_undecided(l, "time.pps-timeout", frame, CAUSE_ONCE);
    expect_fail(l, "reset.unexplained", frame, WHO_LINK);
    expect_counts(l, "reset.unexplained", 0, 1, 0);
}

static void two_early_resets_after_the_same_silence_are_one_fault_of_the_timer(void **state)
{
    static const struct { int64_t first, second; unsigned timer, unexplained; } cases[] = {
        { S(9), S(9), 1, 0 }, { S(9), S(9) - MS(490), 1, 0 }, { S(9), S(9) + MS(490), 1, 0 }, { S(9), S(9) + MS(510), 0, 2 }, { S(3), S(9), 0, 2 },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = time_contract(state, 3);

        reset_after_silence(l, cases[k].first);
        reset_after_silence(l, cases[k].second);
        lines_wait(l, S(5));
        lines_run(l, NULL);
        expect_counts(l, "time.pps-timeout", 0, cases[k].timer, 2 - cases[k].timer);
        expect_counts(l, "reset.unexplained", 0, cases[k].unexplained, 0);
        time_again(state);
    }
}

/* Less than a second of silence is none: two such resets are two, told at once. */
static void two_resets_after_less_than_a_second_have_nothing_to_do_with_the_timer(void **state)
{
    static const struct { int64_t ns; unsigned unexplained; } cases[] = { { MS(990), 2 }, { MS(1010), 0 } };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = time_contract(state, 3);

        reset_after_silence(l, cases[k].ns);
        for (unsigned n = 0; n < 4; n++) { /* so that the first is no reason for the second */
            lines_wait(l, S(5));
            lines_request(l, word_ask_pps(3, 9000, 3000));
            lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
            lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
        }
        reset_after_silence(l, cases[k].ns);
        lines_wait(l, S(5));
        lines_run(l, NULL);
        expect_counts(l, "reset.unexplained", 0, cases[k].unexplained, 0);
        time_again(state);
    }
}

/* Of three the one of its own remains without a reason. */
static void an_early_reset_after_another_silence_stays_unexplained(void **state)
{
    struct lines *l = time_contract(state, 3);
    uint64_t      odd = reset_after_silence(l, S(3));

    reset_after_silence(l, S(9));
    reset_after_silence(l, S(9));
    lines_run(l, NULL);
    expect_counts(l, "time.pps-timeout", 0, 1, 2);
    expect_counts(l, "reset.unexplained", 0, 1, 0);
    expect_fail(l, "reset.unexplained", odd, WHO_LINK);
}

/* However late: the silence, which the sink is to blame for, is what the reset comes from. */
static void a_reset_that_ends_a_silence_for_which_the_sink_is_to_blame_has_its_reason(void **state)
{
    static const struct { int64_t ns; unsigned timer; } cases[] = { { S(13), 0 }, { S(16), 1 }, { S(40), 1 } };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = time_contract(state, 3);

        reset_after_silence(l, cases[k].ns);
        lines_wait(l, S(5));
        lines_run(l, NULL);
        expect_counts(l, "time.pps-timeout", !cases[k].timer, cases[k].timer, 0);
        expect_verdict(l, "time.pps-keepalive", VERDICT_FAIL);
        assert_int_equal(lines_result(l, "reset.unexplained").counts.failed, 0);
        time_again(state);
    }
}

/* The same silence in a contract that needs no Requests is no reason. */
static void a_reset_in_a_quiet_fixed_contract_fails_at_once(void **state)
{
    struct lines *l = time_contract(state, 2);

    for (unsigned k = 0; k < 2; k++) {
        lines_wait(l, S(9));
        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(900));
        lines_negotiate(l, 3, time_offer(), word_ask_fixed(2, 3000, 3000));
    }
    lines_wait(l, S(5));
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_counts(l, "reset.unexplained", 0, 2, 0);
}

/* The rule about vendor defined messages tells of it: once is enough. */
static void a_soft_reset_after_a_vendor_defined_message_is_told_once(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);

        lines_wait(l, S(9));
        if (k == 0)
            time_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 0x1d5a0011); /* unstructured */
        lines_wait(l, MS(30));
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_ids_reset(l);
        lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
        lines_negotiate(l, 3, time_offer(), word_ask_fixed(2, 3000, 3000));
        lines_wait(l, S(3));
        lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
        lines_run(l, NULL);
        assert_int_equal(lines_result(l, "vdm.survives").counts.failed, k == 0);
        expect_counts(l, "reset.unexplained", 0, k == 1, 0);
        time_again(state);
    }
}

/* PR_Swap was accepted and the old source's PS_RDY does not come: the new source gives up. */
static void a_hard_reset_in_half_a_power_swap_has_its_reason(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_wait(l, S(9));
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(740));
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_negotiate(l, 3, time_offer(), word_ask_fixed(2, 3000, 3000));
    lines_wait(l, S(3));
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_run(l, NULL);
    expect_counts(l, "reset.unexplained", 1, 0, 0);
}

/*
 * An AVS object outside EPR mode, accepted, and no PS_RDY: how long the sink has to wait is not settled (exchange.ready-after-accept is
 * undecided), but from its shortest patience on, 450 ms, the reset is no riddle.
 */
static void a_hard_reset_while_ready_is_waited_for_has_its_reason(void **state)
{
    static const struct { int64_t ns; bool explained; } cases[] = { { MS(440), false }, { MS(460), true }, { MS(540), true } };
    const uint32_t offer[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), word_spr_avs(3000, 2250) };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = *state;
        lines_attach(l);
        lines_negotiate(l, 3, offer, word_ask_fixed(2, 3000, 3000));
        lines_wait(l, S(9));
        lines_request(l, word_ask_avs(3, 12000, 2000));
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, cases[k].ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(900));
        lines_negotiate(l, 3, offer, word_ask_fixed(2, 3000, 3000));
        lines_wait(l, S(3));
        lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
        lines_run(l, NULL);
        expect_counts(l, "reset.unexplained", cases[k].explained, !cases[k].explained, 0);
        assert_int_equal(lines_result(l, "exchange.ready-after-accept").counts.failed, 0);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(an_early_reset_that_stays_alone_fails_when_the_trace_ends),
        TEST(two_early_resets_after_the_same_silence_are_one_fault_of_the_timer),
        TEST(two_resets_after_less_than_a_second_have_nothing_to_do_with_the_timer),
        TEST(an_early_reset_after_another_silence_stays_unexplained),
        TEST(a_reset_that_ends_a_silence_for_which_the_sink_is_to_blame_has_its_reason),
        TEST(a_reset_in_a_quiet_fixed_contract_fails_at_once),
        TEST(a_soft_reset_after_a_vendor_defined_message_is_told_once),
        TEST(a_hard_reset_in_half_a_power_swap_has_its_reason),
        TEST(a_hard_reset_while_ready_is_waited_for_has_its_reason),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
