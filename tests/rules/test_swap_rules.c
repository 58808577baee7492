/*
 * swap.*: every rule passed, failed, left undecided and not seen. What is expected is typed from the catalogue's rows. The bench:
 * "Harbor 96", a power bank with a dual-role port, and another dual-role port.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { POWER_BIT = 1 << 8, DATA_BIT = 1 << 5 };

static const uint32_t dual[] = { 0x2001912c };  /* 5 V 3 A, Dual-Role Power */
static const uint32_t plain[] = { 0x0001912c };
static const uint32_t ask_5v = 0x1004b12c;

static struct lines *negotiated_with(void **state, const uint32_t *caps)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 1, caps, ask_5v);
    lines_wait(l, MS(50));
    return l;
}

static struct lines *negotiated(void **state)
{
    return negotiated_with(state, dual);
}

static struct lines *again(void **state)
{
    lines_teardown(state);
    lines_setup(state);
    return negotiated(state);
}

/* A message of the old source, or of the new one, whose role bit has turned. */
static uint64_t turned(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .flip = POWER_BIT,
                                       .goodcrc_flip = side == SIDE_SINK ? POWER_BIT : 0 });
}

static uint64_t ask_swap(struct lines *l, unsigned side, unsigned type)
{
    lines_control(l, side, type);
    return lines_control(l, side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, CONTROL_ACCEPT);
}

/* Once the roles have turned: who was the sink speaks as source. */
static void turn(struct lines *l)
{
    lines_ids_reset(l);
    l->source_is_ufp = !l->source_is_ufp;
}

/* swap.pr-order */

static void a_whole_swap_of_power_roles_passes(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_wait(l, MS(50));
    turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, MS(50));
    turned(l, SIDE_SINK, CONTROL_PS_RDY);
    turn(l);
    lines_wait(l, MS(30));
    lines_negotiate(l, 1, dual, ask_5v);
    lines_run(l, NULL);
    expect_counts(l, "swap.pr-order", 1, 0, 0);
    expect_counts(l, "swap.dual-role-flag", 1, 0, 0);
    expect_only(l, "swap.", NULL);
}

/* Stops the swap after so many steps; frame of the last one. */
static uint64_t swap_until(struct lines *l, unsigned steps)
{
    uint64_t frame = ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);

    lines_wait(l, MS(20));
    if (steps >= 1)
        frame = turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, MS(20));
    if (steps >= 2) {
        frame = turned(l, SIDE_SINK, CONTROL_PS_RDY);
        turn(l);
    }
    return frame;
}

static void a_step_of_a_power_swap_that_never_comes_is_laid_to_whose_turn_it_was(void **state)
{
    for (unsigned steps = 0; steps < 3; steps++) {
        struct lines *l = again(state);
        uint64_t      frame = swap_until(l, steps);

        lines_wait(l, MS(2100));
        lines_run(l, NULL);
        expect_fail(l, "swap.pr-order", frame, WHO_SOURCE);
        /* Player A, the device, was the source: the first step was its own, the others are the partner's. */
        assert_int_equal(lines_finding(l, "swap.pr-order", VERDICT_FAIL, 0)->party, steps == 0 ? PARTY_DEVICE : PARTY_PARTNER);
    }
}

static void a_hard_reset_ends_a_power_swap_unless_the_step_was_overdue(void **state)
{
    /* tPSSourceOff from 750 ms, tPSSourceOn from 390 ms, tTypeCSinkWaitCap from 310 ms. */
    static const struct { unsigned steps; int64_t wait_ns; unsigned verdict; } cases[] = {
        { 0, MS(700), VERDICT_PASS }, { 0, MS(760), VERDICT_FAIL }, { 1, MS(350), VERDICT_PASS },
        { 1, MS(400), VERDICT_FAIL }, { 2, MS(280), VERDICT_PASS }, { 2, MS(320), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = again(state);
        uint64_t      frame = swap_until(l, cases[k].steps);

        lines_wait(l, cases[k].wait_ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "swap.pr-order", frame, WHO_SOURCE);
        else
            expect_counts(l, "swap.pr-order", 1, 0, 0);
    }
}

/* In EPR mode tPSSourceOff is 1120 ms at the least; where the trace begins too late to know, a reset before that tells nothing. */
static void where_epr_mode_is_not_known_its_patience_counts(void **state)
{
    static const struct { int64_t wait_ns; bool fails; } cases[] = { { MS(760), false }, { MS(1130), true } };

    for (unsigned k = 0; k < 2; k++) {
        lines_teardown(state);
        lines_setup(state);
        struct lines *l = *state;

        lines_negotiate(l, 1, dual, ask_5v);
        lines_wait(l, MS(50));
        uint64_t frame = swap_until(l, 0);

        lines_wait(l, cases[k].wait_ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        if (cases[k].fails)
            expect_fail(l, "swap.pr-order", frame, WHO_SOURCE);
        else
            expect_undecided(l, "swap.pr-order", frame, CAUSE_BEGINNING);
    }
}

/* Swaps of either kind go by the same times. */
static const struct { uint8_t type; const char *id; } swaps[] = { { CONTROL_PR_SWAP, "swap.pr-order" }, { CONTROL_FR_SWAP, "swap.fr-order" } };

static void expect_swap(const struct lines *l, const char *id, bool passes, uint64_t frame)
{
    if (passes)
        expect_counts(l, id, 1, 0, 0);
    else
        expect_fail(l, id, frame, WHO_SOURCE);
}

/* A contract for 5 V of dual-role ports, in EPR mode. */
static struct lines *entered(void **state)
{
    static const uint32_t caps[] = { 0x2001912c | UINT32_C(1) << 23 };
    static const uint32_t ask = 0x1004b12c | UINT32_C(1) << 22;
    struct lines *l;

    lines_teardown(state);
    lines_setup(state);
    l = *state;
    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    lines_negotiate(l, 1, caps, ask);
    lines_wait(l, MS(50));
    lines_enter_epr(l);
    lines_epr_caps(l, 1, caps);
    lines_epr_request(l, ask, caps[0]);
    lines_accept_and_ready(l);
    lines_wait(l, MS(20));
    return l;
}

/* Known to be in EPR mode: tPSSourceOff from 1120 ms. Else 750 ms, and tPSSourceOn 390 ms for the second step. */
static void a_hard_reset_ends_a_swap_of_either_kind_unless_the_step_was_overdue(void **state)
{
    /* From the GoodCRC of the last step, which a pause of 2 ms follows. */
    static const struct { bool epr; unsigned steps; int64_t ns; bool passes; } cases[] = {
        { true, 0, MS(1115), true }, { true, 0, MS(1125), false }, { false, 0, MS(745), true },
        { false, 0, MS(755), false }, { false, 1, MS(385), true }, { false, 1, MS(395), false },
    };

    for (unsigned k = 0; k < 2 * sizeof cases / sizeof cases[0]; k++) {
        unsigned      n = k / 2;
        struct lines *l = cases[n].epr ? entered(state) : again(state);
        uint64_t      frame = ask_swap(l, SIDE_SINK, swaps[k % 2].type);

        if (cases[n].steps)
            frame = turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        lines_wait(l, cases[n].ns - l->pause_ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        expect_swap(l, swaps[k % 2].id, cases[n].passes, frame);
    }
}

/* A step has 2 s: within them another rule tells that it is late. */
static void a_step_of_a_swap_of_either_kind_that_comes_within_2_s_is_taken(void **state)
{
    static const struct { int64_t ns; bool taken; } cases[] = { { MS(1990), true }, { MS(2010), false } };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = again(state);
        uint64_t      frame = ask_swap(l, SIDE_SINK, swaps[k % 2].type);

        lines_wait(l, cases[k / 2].ns - l->pause_ns);
        turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
        lines_wait(l, MS(50));
        turned(l, SIDE_SINK, CONTROL_PS_RDY);
        turn(l);
        lines_wait(l, MS(30));
        lines_negotiate(l, 1, dual, ask_5v);
        lines_run(l, NULL);
        expect_swap(l, swaps[k % 2].id, cases[k / 2].taken, frame);
    }
}

static void another_message_inside_a_power_swap_fails(void **state)
{
    struct lines *l = negotiated(state);

    swap_until(l, 0);
    uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

    lines_run(l, NULL);
    expect_fail(l, "swap.pr-order", frame, WHO_SINK);

    l = again(state);
    swap_until(l, 2);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_fail(l, "swap.pr-order", frame, WHO_SOURCE);
}

static void what_is_lost_inside_a_power_swap_leaves_it_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      frame = swap_until(l, 0);

    lines_lost(l, 2);
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_undecided(l, "swap.pr-order", frame, CAUSE_LOST);
}

static void a_swap_that_is_refused_or_too_near_the_end_has_no_occasion(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_WAIT);
    lines_control(l, SIDE_SINK, CONTROL_VCONN_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_wait(l, MS(100));
    swap_until(l, 0);
    lines_run(l, NULL);
    expect_verdict(l, "swap.pr-order", VERDICT_NOT_SEEN);
    expect_verdict(l, "swap.dr-order", VERDICT_NOT_SEEN);
    expect_verdict(l, "swap.vconn-order", VERDICT_NOT_SEEN);
    expect_verdict(l, "swap.fr-order", VERDICT_NOT_SEEN);
}

/* swap.dual-role-flag */

static void a_source_that_said_it_has_one_role_alone_fails_where_it_swaps(void **state)
{
    struct lines *l = negotiated_with(state, plain);

    ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_run(l, NULL);
    expect_verdict(l, "swap.dual-role-flag", VERDICT_FAIL);
    assert_int_equal(lines_finding(l, "swap.dual-role-flag", VERDICT_FAIL, 0)->whom, WHO_SOURCE);
    assert_int_equal(lines_finding(l, "swap.dual-role-flag", VERDICT_FAIL, 0)->frame, 3); /* CC, CC, Source_Capabilities */
}

static void a_sink_that_said_it_has_one_role_alone_fails_where_it_swaps(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    uint64_t frame = lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, plain);

    ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_run(l, NULL);
    expect_fail(l, "swap.dual-role-flag", frame, WHO_SINK);
}

static void where_no_capabilities_were_seen_the_flag_is_not_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_run(l, NULL);
    expect_verdict(l, "swap.dual-role-flag", VERDICT_NOT_SEEN);
}

static void other_capabilities_may_have_been_lost(void **state)
{
    struct lines *l = negotiated_with(state, plain);

    lines_lost(l, 2);
    lines_wait(l, MS(10));
    ask_swap(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_run(l, NULL);
    expect_undecided(l, "swap.dual-role-flag", 3, CAUSE_LOST);
}

/* swap.dr-order */

static void after_a_swap_of_data_roles_both_show_the_other(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_DR_SWAP);
    l->source_is_ufp = true;
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_run(l, NULL);
    expect_counts(l, "swap.dr-order", 1, 0, 0);
}

static void a_side_that_keeps_its_data_role_fails(void **state)
{
    for (unsigned side = SIDE_SOURCE; side <= SIDE_SINK; side++) {
        struct lines *l = again(state);

        ask_swap(l, SIDE_SINK, CONTROL_DR_SWAP);
        l->source_is_ufp = true;
        uint64_t frame = lines_say(l, &(struct say){ .side = (uint8_t)side, .type = CONTROL_GET_STATUS, .flip = DATA_BIT });

        lines_control(l, SIDE_SOURCE + SIDE_SINK - side, CONTROL_NOT_SUPPORTED);
        lines_run(l, NULL);
        expect_fail(l, "swap.dr-order", frame, side == SIDE_SOURCE ? WHO_SOURCE : WHO_SINK);
    }
}

/* The role in the Accept is wrong, and is told: what the source shows after the swap is right. */
static void a_wrong_data_role_in_the_accept_is_one_fault(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_ACCEPT, .flip = DATA_BIT });

    l->source_is_ufp = true;
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, dual);
    lines_run(l, NULL);
    expect_fail(l, "message.data-role", frame, WHO_SOURCE);
    expect_verdict(l, "swap.dr-order", VERDICT_NOT_SEEN);
}

static void a_side_that_is_silent_after_a_swap_of_data_roles_is_not_judged(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_DR_SWAP);
    l->source_is_ufp = true;
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_counts(l, "swap.dr-order", 1, 0, 0);
}

static void the_data_roles_may_have_been_swapped_back_in_a_gap(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_lost(l, 2);
    lines_wait(l, MS(10));
    uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);

    lines_run(l, NULL);
    expect_undecided(l, "swap.dr-order", frame, CAUSE_LOST);
}

/* swap.vconn-order */

/* The plug has spoken, so the source is the VCONN source. */
static struct lines *with_plug(void **state)
{
    struct lines *l;

    lines_teardown(state);
    lines_setup(state);
    l = *state;
    lines_attach(l);
    lines_cable_identity(l, 1, 0, false);
    lines_negotiate(l, 1, dual, ask_5v);
    lines_wait(l, MS(50));
    return l;
}

static void ps_rdy_of_the_new_vconn_source_has_200_ms(void **state)
{
    /* Counted from the end of the Accept's GoodCRC; pause_ns, 2 ms, lies after it already. */
    static const struct { int64_t wait_ns; unsigned verdict; } cases[] = { { MS(197), VERDICT_PASS }, { MS(199), VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = with_plug(state);

        ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
        lines_wait(l, cases[k].wait_ns);
        uint64_t frame = lines_control(l, SIDE_SINK, CONTROL_PS_RDY);

        lines_run(l, NULL);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "swap.vconn-order", frame, WHO_SINK);
        else
            expect_counts(l, "swap.vconn-order", 1, 0, 0);
    }
}

static void ps_rdy_of_the_old_vconn_source_fails(void **state)
{
    struct lines *l = with_plug(state);

    ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    uint64_t frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

    lines_run(l, NULL);
    expect_fail(l, "swap.vconn-order", frame, WHO_SOURCE);
}

static void without_a_plug_that_spoke_either_ps_rdy_passes(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, NULL);
    expect_counts(l, "swap.vconn-order", 1, 0, 0);
}

static void no_ps_rdy_after_a_vconn_swap_fails_at_its_accept(void **state)
{
    struct lines *l = with_plug(state);
    uint64_t      frame = ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);

    lines_wait(l, MS(150)); /* tVCONNSourceTimeout: 100 to 200 ms */
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_fail(l, "swap.vconn-order", frame, WHO_SINK);

    l = with_plug(state);
    ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    lines_wait(l, MS(90));
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "swap.vconn-order", VERDICT_NOT_SEEN);

    l = with_plug(state);
    frame = ask_swap(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .spoilt = true });
    lines_wait(l, MS(500));
    lines_run(l, NULL);
    expect_undecided(l, "swap.vconn-order", frame, CAUSE_BAD_PACKET);
}

/* swap.fr-order */

static void a_whole_fast_swap_passes(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_FR_SWAP);
    turned(l, SIDE_SOURCE, CONTROL_PS_RDY);
    turned(l, SIDE_SINK, CONTROL_PS_RDY);
    turn(l);
    lines_run(l, NULL);
    expect_counts(l, "swap.fr-order", 1, 0, 0);
}

static void a_step_of_a_fast_swap_that_never_comes_fails(void **state)
{
    struct lines *l = negotiated(state);

    ask_swap(l, SIDE_SINK, CONTROL_FR_SWAP);
    uint64_t frame = turned(l, SIDE_SOURCE, CONTROL_PS_RDY);

    lines_wait(l, MS(2100));
    lines_run(l, NULL);
    expect_fail(l, "swap.fr-order", frame, WHO_SOURCE);
}

static void what_is_lost_inside_a_fast_swap_leaves_it_undecided(void **state)
{
    struct lines *l = negotiated(state);
    uint64_t      frame = ask_swap(l, SIDE_SINK, CONTROL_FR_SWAP);

    lines_lost(l, 2);
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_undecided(l, "swap.fr-order", frame, CAUSE_LOST);
}

static void under_2_0_there_is_no_fast_swap_to_judge(void **state)
{
    struct lines *l = *state;

    l->revision = HEADER_R2;
    negotiated(state);
    ask_swap(l, SIDE_SINK, CONTROL_FR_SWAP);
    lines_wait(l, MS(2100));
    lines_run(l, NULL);
    expect_verdict(l, "swap.fr-order", VERDICT_NOT_SEEN);
}

static void fr_swap_of_the_source_is_told_once(void **state)
{
    struct lines *l = negotiated(state);

    lines_control(l, SIDE_SOURCE, CONTROL_FR_SWAP);
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_verdict(l, "message.direction", VERDICT_FAIL);
    expect_verdict(l, "swap.fr-order", VERDICT_NOT_SEEN);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_whole_swap_of_power_roles_passes),
        TEST(a_step_of_a_power_swap_that_never_comes_is_laid_to_whose_turn_it_was),
        TEST(a_hard_reset_ends_a_power_swap_unless_the_step_was_overdue),
        TEST(where_epr_mode_is_not_known_its_patience_counts),
        TEST(a_hard_reset_ends_a_swap_of_either_kind_unless_the_step_was_overdue),
        TEST(a_step_of_a_swap_of_either_kind_that_comes_within_2_s_is_taken),
        TEST(another_message_inside_a_power_swap_fails),
        TEST(what_is_lost_inside_a_power_swap_leaves_it_undecided),
        TEST(a_swap_that_is_refused_or_too_near_the_end_has_no_occasion),
        TEST(a_source_that_said_it_has_one_role_alone_fails_where_it_swaps),
        TEST(a_sink_that_said_it_has_one_role_alone_fails_where_it_swaps),
        TEST(where_no_capabilities_were_seen_the_flag_is_not_judged),
        TEST(other_capabilities_may_have_been_lost),
        TEST(after_a_swap_of_data_roles_both_show_the_other),
        TEST(a_side_that_keeps_its_data_role_fails),
        TEST(a_wrong_data_role_in_the_accept_is_one_fault),
        TEST(a_side_that_is_silent_after_a_swap_of_data_roles_is_not_judged),
        TEST(the_data_roles_may_have_been_swapped_back_in_a_gap),
        TEST(ps_rdy_of_the_new_vconn_source_has_200_ms),
        TEST(ps_rdy_of_the_old_vconn_source_fails),
        TEST(without_a_plug_that_spoke_either_ps_rdy_passes),
        TEST(no_ps_rdy_after_a_vconn_swap_fails_at_its_accept),
        TEST(a_whole_fast_swap_passes),
        TEST(a_step_of_a_fast_swap_that_never_comes_fails),
        TEST(what_is_lost_inside_a_fast_swap_leaves_it_undecided),
        TEST(under_2_0_there_is_no_fast_swap_to_judge),
        TEST(fr_swap_of_the_source_is_told_once),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
