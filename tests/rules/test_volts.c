/*
 * What VBUS and the current have to do with resets, swaps, EPR mode and trips: passed, failed, undecided, not seen, and just inside
 * and outside of each limit. Limits typed from the catalogue: 1425 + 275 + 300 ms after VBUS left 0.8 V; the wide window of 9 V,
 * 9 x 0.95 - 0.5 = 8.05 V to 9 x 1.05 + 0.5 = 9.95 V; vSafe0V 0.8 V; 4.75 V for 5 ms; 21 V x 1.05 = 22.05 V; 10 % above the contract.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define POWER_BIT 0x0100
#define STEP_NS MS(5)

/* Dual-role ports: 5, 9, 15, 20 V at 3 A. */
static const uint32_t caps[] = { 0x2001912c, 0x0002d12c, 0x0004b12c, 0x0006412c };
static const uint32_t sink_caps[] = { 0x2001912c };

static void hold(struct lines *l, int32_t mv, int32_t ma, int64_t ns)
{
    for (int64_t t = 0; t < ns; t += STEP_NS) {
        lines_power(l, mv * 1000, ma * 1000);
        lines_wait(l, STEP_NS);
    }
}

static const char exact[] = "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0},"
                            "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}";

static struct lines *contract(void **state, unsigned position, int32_t mv)
{
    struct lines *l = *state;

    lines_about(l, 255, exact);
    hold(l, 0, 0, MS(20));
    lines_attach(l);
    hold(l, 5000, 0, MS(20));
    lines_negotiate(l, 4, caps, word_ask_fixed(position, 3000, 3000));
    hold(l, mv, 1000, MS(50));
    return l;
}

/* reset.hard-reset-vbus-cycle: after a Hard Reset VBUS is off for so long, then back at `back_mv`. */
static void cycle(struct lines *l, int64_t off_ns, int32_t back_mv)
{
    lines_reset(l, RECORD_HARD_RESET);
    hold(l, 9000, 0, MS(30));
    hold(l, 0, 0, off_ns);
    hold(l, back_mv, 0, MS(100));
    lines_negotiate(l, 4, caps, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
}

static void vbus_that_comes_back_in_2_s_passes(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    cycle(l, MS(1980), 5000);
    expect_counts(l, "reset.hard-reset-vbus-cycle", 1, 0, 0);
}

static void vbus_that_comes_back_after_2_s_fails(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    cycle(l, MS(2020), 5000);
    expect_verdict(l, "reset.hard-reset-vbus-cycle", VERDICT_FAIL);
    assert_int_equal(lines_finding(l, "reset.hard-reset-vbus-cycle", VERDICT_FAIL, 0)->whom, WHO_SOURCE);
}

static void vbus_that_stays_below_vsafe5v_fails(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_reset(l, RECORD_HARD_RESET);
    hold(l, 9000, 0, MS(30));
    hold(l, 0, 0, MS(300));
    hold(l, 4600, 0, MS(2200));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "reset.hard-reset-vbus-cycle", VERDICT_FAIL);
}

/* vSafe0V: 0.8 V. */
static void vbus_that_does_not_go_off_has_nowhere_to_come_back_from(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_reset(l, RECORD_HARD_RESET);
    hold(l, 850, 0, MS(2500));
    lines_run(l, NULL);
    expect_verdict(l, "reset.hard-reset-vbus-cycle", VERDICT_NOT_SEEN);
}

/* Section 6: a supply that does not come back is told once. With the supply, or without: capabilities never, or a contract never. */
static void a_supply_that_stays_away_speaks_for_what_is_said_no_more(void **state)
{
    static const char *const ids[] = { "reset.restart-with-caps", "reset.contract-after-reset" };

    for (unsigned k = 0; k < 4; k++) {
        bool          offers = k / 2, back = k % 2;
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = contract(state, 2, 9000);
        lines_reset(l, RECORD_HARD_RESET);
        for (unsigned n = 0; n < 400; n++) { /* 12 s */
            lines_power(l, back && n > 10 ? 5000000 : 0, 0);
            lines_wait(l, MS(30));
            if (offers && n == 40) {
                lines_caps(l, 4, caps);
                lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
            }
        }
        lines_run(l, NULL);
        expect_verdict(l, "reset.hard-reset-vbus-cycle", back ? VERDICT_PASS : VERDICT_FAIL);
        assert_int_equal(lines_result(l, ids[offers]).counts.failed, back);
    }
}

static void where_nobody_read_vbus_its_return_is_undecided(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_reset(l, RECORD_HARD_RESET);
    hold(l, 9000, 0, MS(30));
    hold(l, 0, 0, MS(300));
    lines_wait(l, MS(2500)); /* no readings */
    hold(l, 5000, 0, MS(50));
    lines_negotiate(l, 4, caps, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_counts(l, "reset.hard-reset-vbus-cycle", 0, 0, 1);
}

/* 4.74 V with 30 mV of offset, k = 2: vSafe5V, 4.75 V and more, or not. */
static void a_supply_that_may_be_back_or_not_is_undecided(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_about(l, 255, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":30000,\"noise_uv\":0}}}");
    lines_reset(l, RECORD_HARD_RESET);
    hold(l, 9000, 0, MS(30));
    hold(l, 0, 0, MS(300));
    hold(l, 4740, 0, MS(4500));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_counts(l, "reset.hard-reset-vbus-cycle", 0, 0, 1);
}

static void without_a_hard_reset_there_is_no_cycle(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_run(l, NULL);
    expect_verdict(l, "reset.hard-reset-vbus-cycle", VERDICT_NOT_SEEN);
    expect_verdict(l, "reset.soft-reset-keeps-vbus", VERDICT_NOT_SEEN);
    expect_verdict(l, "swap.pr-vbus-off", VERDICT_NOT_SEEN);
    expect_verdict(l, "swap.fr-vbus", VERDICT_NOT_SEEN);
    expect_verdict(l, "ext.trip-announced", VERDICT_NOT_SEEN);
}

/* reset.soft-reset-keeps-vbus: what VBUS does from the Accept to the next one. */
static void soft_reset_at(void **state, int32_t mv, unsigned verdict)
{
    struct lines *l = contract(state, 2, 9000);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    hold(l, mv, 1000, MS(60));
    lines_negotiate(l, 4, caps, word_ask_fixed(2, 3000, 3000));
    hold(l, 9000, 1000, MS(60));
    lines_run(l, NULL);
    expect_verdict(l, "reset.soft-reset-keeps-vbus", verdict);
    if (verdict == VERDICT_FAIL)
        assert_int_equal(lines_finding(l, "reset.soft-reset-keeps-vbus", verdict, 0)->whom, WHO_SOURCE);
}

static void after_a_soft_reset_9_v_stays_above_8050_mv(void **state)
{
    soft_reset_at(state, 8070, VERDICT_PASS);
}

static void after_a_soft_reset_9_v_below_8050_mv_fails(void **state)
{
    soft_reset_at(state, 8030, VERDICT_FAIL);
}

static void after_a_soft_reset_9_v_stays_below_9950_mv(void **state)
{
    soft_reset_at(state, 9930, VERDICT_PASS);
}

static void after_a_soft_reset_9_v_above_9950_mv_fails(void **state)
{
    soft_reset_at(state, 9970, VERDICT_FAIL);
}

static void at_the_limit_the_reading_decides_nothing(void **state)
{
    soft_reset_at(state, 8050, VERDICT_UNDECIDED);
}

/* The Request after a Soft_Reset was refused; then power roles are swapped, and VBUS goes down by right. */
static void what_vbus_does_in_a_swap_is_not_laid_at_the_soft_reset(void **state)
{
    struct lines *l = contract(state, 2, 9000);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    hold(l, 9000, 1000, MS(30));
    lines_caps(l, 4, caps);
    lines_request(l, word_ask_fixed(1, 3100, 3100));
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    hold(l, 9000, 1000, MS(30));
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    hold(l, 300, 0, MS(60));
    lines_run(l, NULL);
    expect_counts(l, "reset.soft-reset-keeps-vbus", 1, 0, 0);
}

/* swap.pr-vbus-off: VBUS when the old source says PS_RDY. */
static void power_swap_at(void **state, int32_t mv, unsigned verdict)
{
    struct lines *l = contract(state, 1, 5000);

    lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, sink_caps);
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    hold(l, mv, 0, MS(40));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    hold(l, mv, 0, MS(10));
    lines_run(l, NULL);
    expect_verdict(l, "swap.pr-vbus-off", verdict);
}

static void the_old_source_is_off_below_0_8_v(void **state)
{
    power_swap_at(state, 780, VERDICT_PASS);
}

static void an_old_source_above_0_8_v_fails(void **state)
{
    power_swap_at(state, 820, VERDICT_FAIL);
}

static void an_old_source_at_0_8_v_is_undecided(void **state)
{
    power_swap_at(state, 800, VERDICT_UNDECIDED);
}

/*
 * The catalogue: the mean of the readings within 1 ms of PS_RDY, else the two around, the nearest at most 5 ms away; both sides of the
 * limit, or a new source that drives already: undecided. Readings of VBUS, each so long before (-) or after PS_RDY.
 */
static void the_mean_about_ps_rdy_counts_else_the_two_readings_around(void **state)
{
    static const struct { struct { int64_t us; int32_t mv; } at[8]; unsigned count, verdict; } cases[] = {
        { { { -1000, 400 }, { -500, 700 }, { 0, 1000 }, { 500, 700 }, { 1000, 1100 }, { 1001, 5000 } }, 6, VERDICT_PASS },   /* mean 780 */
        { { { -1000, 1300 }, { -500, 1000 }, { 0, 700 }, { 500, 700 }, { 1000, 400 }, { 1001, 0 } }, 6, VERDICT_FAIL },      /* mean 820 */
        { { { -1001, 5000 }, { -900, 780 }, { 2000, 5000 } }, 3, VERDICT_PASS },
        { { { -30000, 900 }, { -900, 820 }, { 1100, 0 } }, 3, VERDICT_FAIL },
        { { { -1001, 700 }, { 1001, 700 } }, 2, VERDICT_PASS },      /* none within 1 ms: the two around */
        { { { -1001, 900 }, { 1001, 900 } }, 2, VERDICT_FAIL },
        { { { -1001, 900 }, { 1001, 700 } }, 2, VERDICT_UNDECIDED }, /* on both sides of the limit */
        { { { -4900, 700 }, { 9000, 700 } }, 2, VERDICT_PASS },
        { { { -5100, 700 }, { 5100, 700 } }, 2, VERDICT_UNDECIDED }, /* both more than 5 ms away */
        { { { -3000, 100 }, { -200, 3000 }, { 2000, 5000 } }, 3, VERDICT_UNDECIDED }, /* off, and raised again */
        { { { -200, 3000 }, { 100, 1000 }, { 900, 700 }, { 1200, 100 } }, 4, VERDICT_FAIL }, /* goes off behind its PS_RDY */
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = contract(state, 1, 5000);

        lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, sink_caps);
        lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(40));

        int64_t ready_ns = l->now_ns;

        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
        for (unsigned n = 0; n < cases[k].count; n++) {
            l->now_ns = ready_ns + US(cases[k].at[n].us);
            lines_power(l, cases[k].at[n].mv * 1000, 0);
        }
        l->now_ns = ready_ns + MS(30);
        lines_power(l, 5000000, 0);
        lines_run(l, NULL);
        expect_verdict(l, "swap.pr-vbus-off", cases[k].verdict);
        lines_teardown(state);
        lines_setup(state);
    }
}

/* Many readings: those more than 1 ms away do not count, however many there are. */
static void readings_at_a_high_rate_are_averaged_about_ps_rdy(void **state)
{
    struct lines *l = contract(state, 1, 5000);

    lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, sink_caps);
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(40));

    int64_t ready_ns = l->now_ns;

    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    for (int64_t us = -4000; us < 4000; us += 20) {
        l->now_ns = ready_ns + US(us);
        lines_power(l, us < -1000 || us > 1000 ? 5000000 : us % 40 ? 1100000 : 440000, 0); /* mean 0.77 V */
    }
    lines_run(l, NULL);
    expect_verdict(l, "swap.pr-vbus-off", VERDICT_PASS);
}

/* swap.fr-vbus: VBUS dips for so many readings of 1 ms. */
static void fast_swap_dips(void **state, unsigned low, int32_t mv, unsigned verdict)
{
    struct lines *l = contract(state, 1, 5000);

    lines_control(l, SIDE_SINK, CONTROL_FR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    for (unsigned k = 0; k < 20; k++) {
        lines_power(l, k > 0 && k <= low ? mv * 1000 : 5000000, 0);
        lines_wait(l, MS(1));
    }
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    lines_power(l, 5000000, 0);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_BIT, .goodcrc_flip = POWER_BIT });
    lines_power(l, 5000000, 0);
    lines_run(l, NULL);
    expect_verdict(l, "swap.fr-vbus", verdict);
}

static void a_dip_of_3_ms_in_a_fast_swap_passes(void **state)
{
    fast_swap_dips(state, 3, 4000, VERDICT_PASS);
}

/* 5 ms: readings 1 ms apart, six of them last 5 ms from the first to the last, seven 6 ms, and 8 from above to above. */
static void a_dip_of_6_ms_in_a_fast_swap_fails(void **state)
{
    fast_swap_dips(state, 4, 4000, VERDICT_PASS);
    lines_teardown(state);
    lines_setup(state);
    fast_swap_dips(state, 7, 4000, VERDICT_FAIL);
}

static void a_dip_of_9_ms_in_a_fast_swap_fails(void **state)
{
    fast_swap_dips(state, 9, 4000, VERDICT_FAIL);
}

static void above_4750_mv_nothing_dips(void **state)
{
    fast_swap_dips(state, 9, 4770, VERDICT_PASS);
}

/* Readings every 20 ms: the swap is over before the second one. */
static void one_reading_in_a_fast_swap_decides_nothing(void **state)
{
    struct lines *l = contract(state, 1, 5000);

    lines_control(l, SIDE_SINK, CONTROL_FR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(3));
    lines_power(l, 5000000, 0);
    lines_wait(l, MS(3));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_BIT, .goodcrc_flip = POWER_BIT });
    lines_wait(l, MS(14));
    lines_power(l, 5000000, 0);
    lines_run(l, NULL);
    expect_counts(l, "swap.fr-vbus", 0, 0, 1);
}

/* epr.high-voltage-outside */
static void contract_at(void **state, int32_t mv, unsigned verdict)
{
    struct lines *l = contract(state, 4, 20000);

    lines_wait(l, MS(60));
    hold(l, mv, 1000, MS(100));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "epr.high-voltage-outside", verdict);
}

static void outside_epr_mode_22_04_v_pass(void **state)
{
    contract_at(state, 22040, VERDICT_PASS);
}

static void outside_epr_mode_22_06_v_fail(void **state)
{
    contract_at(state, 22060, VERDICT_FAIL);
}

static void outside_epr_mode_22_05_v_decide_nothing(void **state)
{
    contract_at(state, 22050, VERDICT_UNDECIDED);
}

/*
 * What is static: blocks of 10 ms from 50 ms after PS_RDY on, begun anew 5 ms after the current has changed by more than 250 mA in 1 ms.
 * Readings 1 ms apart, of 21 V where nothing else is said; row 0 lies so long after the start of PS_RDY.
 */
struct rows { int64_t first_ns; unsigned count; int32_t mv[32]; int32_t ma[2]; unsigned step_at; };

static void rows_outside_epr_mode(void **state, const struct rows *r, unsigned verdict)
{
    struct lines *l;
    int64_t       ready_ns;

    lines_teardown(state);
    lines_setup(state);
    l = *state;
    lines_about(l, 255, exact);
    lines_attach(l);
    lines_caps(l, 4, caps);
    lines_request(l, word_ask_fixed(4, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(100));
    ready_ns = l->now_ns;
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    for (unsigned k = 0; k < r->count; k++) {
        l->now_ns = ready_ns + r->first_ns + MS(k);
        lines_power(l, (r->mv[k] ? r->mv[k] : 21000) * 1000, r->ma[k >= r->step_at] * 1000);
    }
    lines_wait(l, MS(5));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "epr.high-voltage-outside", verdict);
}

#define EIGHT 22200, 22200, 22200, 22200, 22200, 22200, 22200, 22200

static void a_static_value_outside_epr_mode_is_a_mean_over_10_ms(void **state)
{
    const struct rows eight_of_ten = { MS(60), 31, { EIGHT, 21000, 21000, EIGHT, 21000, 21000, EIGHT, 21000, 21000 }, { 1000, 1000 }, 32 };
    const struct rows ten = { MS(60), 12, { EIGHT, 22200, 22200 }, { 1000, 1000 }, 32 };

    rows_outside_epr_mode(state, &eight_of_ten, VERDICT_PASS); /* mean 21.96 V */
    rows_outside_epr_mode(state, &ten, VERDICT_FAIL);
}

static void what_lies_within_50_ms_of_ps_rdy_is_not_static(void **state)
{
    const struct rows before = { MS(39), 32, { EIGHT, 22200, 22200, 22200 }, { 1000, 1000 }, 32 }; /* to 49 ms */
    const struct rows after = { MS(50), 32, { EIGHT, 22200, 22200 }, { 1000, 1000 }, 32 };

    rows_outside_epr_mode(state, &before, VERDICT_PASS);
    rows_outside_epr_mode(state, &after, VERDICT_FAIL);
}

static void what_lies_within_5_ms_of_a_load_step_is_not_static(void **state)
{
    /* The step is in row 5; row 9 lies 4 ms after it, row 10 5 ms: a block of nine times 21 V and 41 V has a mean of 23 V. */
    const struct rows within = { MS(60), 32, { [9] = 41000 }, { 1000, 2000 }, 5 };
    const struct rows after = { MS(60), 32, { [10] = 41000 }, { 1000, 2000 }, 5 };

    rows_outside_epr_mode(state, &within, VERDICT_PASS);
    rows_outside_epr_mode(state, &after, VERDICT_FAIL);
}

static void a_change_of_240_ma_is_no_load_step_and_one_of_260_ma_is(void **state)
{
    const struct rows small = { MS(60), 32, { [6] = 41000 }, { 1000, 1240 }, 5 };
    const struct rows large = { MS(60), 32, { [6] = 41000 }, { 1000, 1260 }, 5 };

    rows_outside_epr_mode(state, &small, VERDICT_FAIL);
    rows_outside_epr_mode(state, &large, VERDICT_PASS);
}

/* Section 6: a source that has to leave EPR mode and does not is told once, whatever VBUS is. */
static void a_source_that_stays_in_epr_mode_is_not_judged_by_its_voltage(void **state)
{
    for (unsigned silent = 0; silent < 2; silent++) {
        uint32_t      words[4];
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = *state;
        memcpy(words, caps, sizeof words);
        words[0] |= UINT32_C(1) << 23;
        lines_about(l, 255, exact);
        lines_attach(l);
        lines_cable_identity(l, 2, 3, true);
        lines_negotiate(l, 4, words, word_ask_fixed(4, 3000, 3000) | UINT32_C(1) << 22);
        lines_wait(l, MS(100));
        if (silent) {
            lines_enter_epr(l);
            lines_epr_caps(l, 4, words);
            lines_wait(l, MS(2000));
            lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP); /* which the sink does not answer */
            lines_wait(l, MS(200));
        }
        hold(l, 24000, 1000, MS(50));
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        lines_run(l, NULL);
        if (silent)
            expect_verdict(l, "time.epr-timeout", VERDICT_FAIL);
        assert_int_equal(lines_result(l, "epr.high-voltage-outside").counts.failed, !silent);
    }
}

/* ext.trip-announced: so much current, then the supply goes, with or without an Alert. */
static void trip(void **state, int32_t ma, uint32_t alert, unsigned verdict)
{
    struct lines *l = contract(state, 2, 9000);

    hold(l, 9000, ma, MS(200));
    if (alert)
        lines_data(l, SIDE_SOURCE, DATA_ALERT, 1, &alert);
    hold(l, 0, 0, MS(2600));
    lines_run(l, NULL);
    expect_verdict(l, "ext.trip-announced", verdict);
}

/* The time is over when the next packet comes; what somebody does between the two has nothing to do with it. */
static void a_mark_tells_why_the_supply_went_only_within_2_s(void **state)
{
    static const struct { int64_t after_ns; unsigned verdict; } cases[] = {
        { MS(1900), VERDICT_NOT_SEEN }, { MS(2200), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = contract(state, 2, 9000);
        hold(l, 9000, 3400, MS(200));
        hold(l, 0, 0, cases[k].after_ns);
        lines_mark(l, RECORD_NOTE, 0);
        hold(l, 0, 0, MS(500));
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        expect_verdict(l, "ext.trip-announced", cases[k].verdict);
    }
}

/* 5 % of gain, k = 2: 20 V may be 22. */
static void a_coarse_instrument_at_20_5_v_decides_nothing(void **state)
{
    struct lines *l = contract(state, 4, 20000);

    lines_about(l, 255, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":50000,\"offset_uv\":0,\"noise_uv\":0}}}");
    lines_wait(l, MS(60));
    hold(l, 20500, 1000, MS(100));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "epr.high-voltage-outside", VERDICT_UNDECIDED);
}

static void a_trip_with_an_alert_of_overcurrent_passes(void **state)
{
    trip(state, 3400, UINT32_C(1) << 26, VERDICT_PASS); /* OCP event: bit 26 */
}

static void a_trip_without_an_alert_fails(void **state)
{
    trip(state, 3400, 0, VERDICT_FAIL);
}

static void another_alert_does_not_announce_a_trip(void **state)
{
    trip(state, 3400, UINT32_C(1) << 25, VERDICT_FAIL); /* battery status change */
}

static void a_current_within_10_percent_is_no_overload(void **state)
{
    trip(state, 3290, 0, VERDICT_NOT_SEEN);
    lines_teardown(state);
    lines_setup(state);
    trip(state, 3310, 0, VERDICT_FAIL);
}

/* 2 s between the Alert and the switch-off; readings 20 ms apart. */
static void an_alert_long_before_does_not_announce_a_trip(void **state)
{
    static const struct { unsigned readings, verdict; } cases[] = { { 90, VERDICT_PASS }, { 110, VERDICT_FAIL } };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = contract(state, 2, 9000);
        lines_data(l, SIDE_SOURCE, DATA_ALERT, 1, (const uint32_t[]){ UINT32_C(1) << 26 });
        for (unsigned n = 0; n < cases[k].readings; n++) {
            lines_power(l, 9000000, 3400000);
            lines_wait(l, MS(20));
        }
        hold(l, 0, 0, MS(2600));
        lines_run(l, NULL);
        expect_verdict(l, "ext.trip-announced", cases[k].verdict);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(vbus_that_comes_back_in_2_s_passes),
        TEST(vbus_that_comes_back_after_2_s_fails),
        TEST(vbus_that_stays_below_vsafe5v_fails),
        TEST(vbus_that_does_not_go_off_has_nowhere_to_come_back_from),
        TEST(a_supply_that_stays_away_speaks_for_what_is_said_no_more),
        TEST(where_nobody_read_vbus_its_return_is_undecided),
        TEST(a_supply_that_may_be_back_or_not_is_undecided),
        TEST(without_a_hard_reset_there_is_no_cycle),
        TEST(after_a_soft_reset_9_v_stays_above_8050_mv),
        TEST(after_a_soft_reset_9_v_below_8050_mv_fails),
        TEST(after_a_soft_reset_9_v_stays_below_9950_mv),
        TEST(after_a_soft_reset_9_v_above_9950_mv_fails),
        TEST(at_the_limit_the_reading_decides_nothing),
        TEST(what_vbus_does_in_a_swap_is_not_laid_at_the_soft_reset),
        TEST(the_old_source_is_off_below_0_8_v),
        TEST(an_old_source_above_0_8_v_fails),
        TEST(the_mean_about_ps_rdy_counts_else_the_two_readings_around),
        TEST(readings_at_a_high_rate_are_averaged_about_ps_rdy),
        TEST(an_old_source_at_0_8_v_is_undecided),
        TEST(a_dip_of_3_ms_in_a_fast_swap_passes),
        TEST(a_dip_of_6_ms_in_a_fast_swap_fails),
        TEST(a_dip_of_9_ms_in_a_fast_swap_fails),
        TEST(above_4750_mv_nothing_dips),
        TEST(one_reading_in_a_fast_swap_decides_nothing),
        TEST(outside_epr_mode_22_04_v_pass),
        TEST(outside_epr_mode_22_06_v_fail),
        TEST(outside_epr_mode_22_05_v_decide_nothing),
        TEST(a_static_value_outside_epr_mode_is_a_mean_over_10_ms),
        TEST(what_lies_within_50_ms_of_ps_rdy_is_not_static),
        TEST(what_lies_within_5_ms_of_a_load_step_is_not_static),
        TEST(a_change_of_240_ma_is_no_load_step_and_one_of_260_ma_is),
        TEST(a_source_that_stays_in_epr_mode_is_not_judged_by_its_voltage),
        TEST(a_coarse_instrument_at_20_5_v_decides_nothing),
        TEST(a_trip_with_an_alert_of_overcurrent_passes),
        TEST(a_trip_without_an_alert_fails),
        TEST(a_mark_tells_why_the_supply_went_only_within_2_s),
        TEST(another_alert_does_not_announce_a_trip),
        TEST(a_current_within_10_percent_is_no_overload),
        TEST(an_alert_long_before_does_not_announce_a_trip),
    };

    return cmocka_run_group_tests_name("rules that read VBUS and current", tests, NULL, NULL);
}
