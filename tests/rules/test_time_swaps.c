/*
 * time.*, part four: swaps, resets of data, collision avoidance. Just inside and just outside each limit; what is expected is typed
 * from the catalogue's rows. The bench: "Harbor 96", a power bank with a dual-role port, and another dual-role port.
 */
#include "tests/rules/time_words.h"

#include "rules/judge.h"

enum { POWER_BIT = 1 << 8 };

void time_stand_in_check(struct judge *j, const struct event *e)
{
    (void)j;
    (void)e;
}

/* A message of the old source, or of the new one, whose role bit has turned. */
static uint64_t turned(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .flip = POWER_BIT,
                                       .goodcrc_flip = side == SIDE_SINK ? POWER_BIT : 0 });
}

static void ask_swap(struct lines *l, unsigned type)
{
    lines_control(l, SIDE_SINK, type);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
}

/* PR_Swap with its steps at these times after the GoodCRC before; frames of the three steps. */
static struct lines *swap(void **state, const int64_t *ns, uint64_t *frame, unsigned lost_before)
{
    struct lines *l = time_contract(state, 2);

    ask_swap(l, CONTROL_PR_SWAP);
    for (unsigned k = 0; k < 3; k++) {
        if (lost_before == k + 1)
            lines_lost(l, 1);
        time_after(l, ns[k]);
        if (k == 0) {
            frame[0] = turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        } else if (k == 1) {
            frame[1] = turned(l, SIDE_SINK, CONTROL_PS_RDY);
            lines_ids_reset(l);
            l->source_is_ufp = true;
        } else {
            frame[2] = lines_caps(l, 3, time_offer());
        }
    }
    lines_run(l, NULL);
    return l;
}

static const char *const steps[] = { "time.pr-swap-off", "time.pr-swap-on", "time.pr-swap-start" };

static void the_steps_of_a_power_swap_come_in_time(void **state)
{
    static const struct { int64_t ns[3]; int fails; } cases[] = {
        { { MS(750), MS(390), MS(20) }, -1 },
        { { MS(750) + NS_MORE, MS(390), MS(20) }, 0 },
        { { MS(750), MS(390) + NS_MORE, MS(20) }, 1 },
        { { MS(750), MS(390), MS(20) - NS_MORE }, 2 },
    };

    for (unsigned k = 0; k < 4; k++) {
        uint64_t      frame[3];
        struct lines *l = swap(state, cases[k].ns, frame, 0);

        for (int s = 0; s < 3; s++) {
            if (s == cases[k].fails)
                expect_fail(l, steps[s], frame[s], WHO_SOURCE);
            else
                expect_counts(l, steps[s], 1, 0, 0);
        }
        time_again(state);
    }
}

static void a_step_beside_a_gap_is_undecided_where_the_gap_matters(void **state)
{
    static const int64_t ns[] = { MS(800), MS(400), MS(25) };

    for (unsigned s = 0; s < 3; s++) {
        uint64_t      frame[3];
        struct lines *l = swap(state, ns, frame, s + 1);

        expect_undecided(l, steps[s], frame[s], CAUSE_LOST);
        time_again(state);
    }
}

static void a_step_after_2_s_is_another_rule_s_matter(void **state)
{
    static const struct { int64_t ns[3]; unsigned step; unsigned verdict; } cases[] = {
        { { MS(2000), MS(100), MS(25) }, 0, VERDICT_FAIL }, { { MS(2000) + NS_MORE, MS(100), MS(25) }, 0, VERDICT_NOT_SEEN },
        { { MS(100), MS(2000), MS(25) }, 1, VERDICT_FAIL }, { { MS(100), MS(2000) + NS_MORE, MS(25) }, 1, VERDICT_NOT_SEEN },
    };

    for (unsigned k = 0; k < 4; k++) {
        uint64_t      frame[3];
        struct lines *l = swap(state, cases[k].ns, frame, 0);

        expect_verdict(l, steps[cases[k].step], cases[k].verdict);
        time_again(state);
    }
}

/* The trace begins in the middle: it may be EPR mode, where the old source has 1120 ms. */
static void where_the_mode_is_not_known_the_old_source_has_1120_ms(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = *state;

        lines_negotiate(l, 3, time_offer(), word_ask_fixed(2, 3000, 3000));
        ask_swap(l, CONTROL_PR_SWAP);
        time_after(l, MS(1120) + k);
        turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        lines_run(l, NULL);
        expect_verdict(l, "time.pr-swap-off", k ? VERDICT_FAIL : VERDICT_PASS);
        time_again(state);
    }
}

static void a_swap_that_was_refused_has_no_steps(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_run(l, NULL);
    for (unsigned s = 0; s < 3; s++)
        expect_verdict(l, steps[s], VERDICT_NOT_SEEN);
    expect_verdict(l, "time.fr-swap", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.vconn-on", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.data-reset", VERDICT_NOT_SEEN);
}

static void a_fast_swap_is_off_within_30_ms(void **state)
{
    for (unsigned k = 0; k < 5; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        ask_swap(l, CONTROL_FR_SWAP);
        if (k == 2)
            lines_lost(l, 1);
        time_after(l, k == 4 ? MS(2000) + NS_MORE : k == 3 ? MS(2000) : MS(30) + (k ? NS_MORE : 0));
        frame = turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.fr-swap", 1, 0, 0);
        else if (k == 2)
            expect_undecided(l, "time.fr-swap", frame, CAUSE_LOST);
        else if (k == 4)
            expect_verdict(l, "time.fr-swap", VERDICT_NOT_SEEN); /* swap.fr-order's matter */
        else
            expect_fail(l, "time.fr-swap", frame, WHO_SOURCE);
        time_again(state);
    }
}

static void vconn_is_on_within_100_ms(void **state)
{
    static const struct { int64_t ns; bool lost; unsigned verdict; } cases[] = {
        { MS(100), false, VERDICT_PASS }, { MS(100) + NS_MORE, false, VERDICT_FAIL }, { MS(120), true, VERDICT_UNDECIDED },
        { MS(200) + NS_MORE, false, VERDICT_NOT_SEEN }, /* swap.vconn-order's matter */
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        ask_swap(l, CONTROL_VCONN_SWAP);
        if (cases[k].lost)
            lines_lost(l, 1);
        time_after(l, cases[k].ns);
        frame = lines_control(l, SIDE_SINK, CONTROL_PS_RDY);
        lines_run(l, NULL);
        expect_verdict(l, "time.vconn-on", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "time.vconn-on", frame, WHO_SINK);
        time_again(state);
    }
}

/* time.data-reset */

static void a_data_reset_is_complete_within_250_ms(void **state)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        ask_swap(l, CONTROL_DATA_RESET);
        if (k == 2)
            lines_lost(l, 1);
        time_after(l, MS(250) + (k ? NS_MORE : 0));
        frame = lines_control(l, SIDE_SOURCE, CONTROL_DATA_RESET_COMPLETE);
        lines_wait(l, MS(500));
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.data-reset", 1, 0, 0);
        else if (k == 1)
            expect_fail(l, "time.data-reset", frame, WHO_SOURCE);
        else
            expect_undecided(l, "time.data-reset", frame, CAUSE_LOST);
        time_again(state);
    }
}

static void a_data_reset_that_never_completes_fails_at_its_accept(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      accept;

    ask_swap(l, CONTROL_DATA_RESET);
    accept = l->count - 1; /* its GoodCRC came after it */
    lines_wait(l, MS(410));
    lines_run(l, NULL);
    expect_fail(l, "time.data-reset", accept, WHO_SOURCE); /* the DFP */

    time_again(state);
    l = time_contract(state, 2);
    ask_swap(l, CONTROL_DATA_RESET);
    lines_wait(l, MS(390)); /* the trace ends before that */
    lines_run(l, NULL);
    expect_verdict(l, "time.data-reset", VERDICT_NOT_SEEN);
}

/* time.sink-tx: CC_STATE 1 is attached on CC1; Rp 2 is 1.5 A, 3 is 3.0 A */

static void before_a_source_asks_rp_is_at_1_5_A_for_16_ms(void **state)
{
    static const struct { unsigned rp; int64_t ns; unsigned verdict; } cases[] = {
        { 2, MS(16), VERDICT_PASS }, { 2, MS(16) - NS_MORE, VERDICT_FAIL }, { 3, MS(100), VERDICT_FAIL }, { 1, MS(100), VERDICT_FAIL },
        { 0, MS(100), VERDICT_NOT_SEEN }, /* Rp not known */
    };

    for (unsigned k = 0; k < 5; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        lines_cc(l, 1, cases[k].rp);
        lines_wait(l, cases[k].ns);
        frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        lines_run(l, NULL);
        expect_verdict(l, "time.sink-tx", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "time.sink-tx", frame, WHO_SOURCE);
        time_again(state);
    }
}

static void what_the_sink_asked_for_and_what_answers_needs_no_quiet(void **state)
{
    struct lines *l = time_contract(state, 2); /* Rp at 3.0 A */

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 3, time_offer());
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "time.sink-tx", VERDICT_NOT_SEEN);
}

static void under_2_0_rp_says_nothing(void **state)
{
    struct lines *l = *state;

    l->revision = HEADER_R2;
    time_contract(state, 2);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_verdict(l, "time.sink-tx", VERDICT_NOT_SEEN);
}

static void rp_that_was_low_when_the_recording_began_may_have_been_so_for_long(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_negotiate(l, 3, time_offer(), word_ask_fixed(2, 3000, 3000));
    lines_cc(l, 1, 2);
    lines_wait(l, MS(5));
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_run(l, NULL);
    expect_undecided(l, "time.sink-tx", frame, CAUSE_BEGINNING);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_steps_of_a_power_swap_come_in_time),
        TEST(a_step_beside_a_gap_is_undecided_where_the_gap_matters),
        TEST(a_step_after_2_s_is_another_rule_s_matter),
        TEST(where_the_mode_is_not_known_the_old_source_has_1120_ms),
        TEST(a_swap_that_was_refused_has_no_steps),
        TEST(a_fast_swap_is_off_within_30_ms),
        TEST(vconn_is_on_within_100_ms),
        TEST(a_data_reset_is_complete_within_250_ms),
        TEST(a_data_reset_that_never_completes_fails_at_its_accept),
        TEST(before_a_source_asks_rp_is_at_1_5_A_for_16_ms),
        TEST(what_the_sink_asked_for_and_what_answers_needs_no_quiet),
        TEST(under_2_0_rp_says_nothing),
        TEST(rp_that_was_low_when_the_recording_began_may_have_been_so_for_long),
    };

    return cmocka_run_group_tests_name("time swaps", tests, NULL, NULL);
}
