/*
 * volt.*, while nothing changes: passed, failed, undecided, not seen, and just inside and outside of each limit. Limits typed from the
 * catalogue: vSafe5V 4.75 to 5.50 V; W of 9 V fixed 8.55 to 9.45 V, of 5 V 4.75 to 5.25 V, of a variable or battery object 0.95 times
 * its least to 1.05 times its greatest voltage; wide window 0.5 V more; 500 ms to the level; another level: 1 V and 10 % beyond the
 * window, steady within 3 % for 100 ms; 0.8 V from 1 s on.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = SUPPLY_KINDS };
static uint32_t caps[OBJECTS];

/* An attach, and a contract for 9 V and 3 A with no load; VBUS stands at 9 V. */
static void nine_volts(struct played_supply *s, void **state, const char *about)
{
    supply_attach(s, *state, about);
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
}

/* ... at another voltage all the time from 50 ms after PS_RDY on, for 600 ms. */
static void stands_at(void **state, double mv, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(60));
    wave_step(&s.w, s.l->now_ns, mv, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", verdict);
    expect_only(s.l, "volt.", verdict == VERDICT_PASS ? NULL : "volt.contract-window");
}

static void in_its_window_a_fixed_9_v_passes(void **state)
{
    stands_at(state, 8553, VERDICT_PASS);
}

static void below_its_window_a_fixed_9_v_fails(void **state)
{
    stands_at(state, 8547, VERDICT_FAIL);
}

static void at_the_top_of_its_window_a_fixed_9_v_passes(void **state)
{
    stands_at(state, 9447, VERDICT_PASS);
}

static void above_its_window_a_fixed_9_v_fails(void **state)
{
    stands_at(state, 9453, VERDICT_FAIL);
}

static void at_the_limit_itself_the_uncertainty_decides_nothing(void **state)
{
    stands_at(state, 8550, VERDICT_UNDECIDED);
}

static void the_window_of_every_kind_of_supply(void **state)
{
    static const struct { unsigned position; double nominal_mv, inside_mv[2], outside_mv[2]; const char *rule; } cases[] = {
        { 1, 5000, { 4753, 5247 }, { 4747, 5253 }, "volt.contract-window" },   /* 5 V: 5 % */
        { 3, 20000, { 19003, 20997 }, { 18997, 21003 }, "volt.contract-window" },
        { 4, 7000, { 4753, 9447 }, { 4747, 9453 }, "volt.contract-window" },   /* battery 5 to 9 V */
        { 5, 7000, { 4753, 9447 }, { 4747, 9453 }, "volt.contract-window" },   /* variable 5 to 9 V */
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++)
        for (unsigned n = 0; n < 4; n++) {
            struct played_supply s;
            double        mv = n < 2 ? cases[k].inside_mv[n] : cases[k].outside_mv[n - 2];
            uint32_t      word = cases[k].position == 4 ? word_ask_battery(4, 20000, 20000) : word_ask_fixed(cases[k].position, 3000, 3000);

            supply_attach(&s, *state, NULL);
            supply_contract(&s, OBJECTS, caps, word, cases[k].nominal_mv);
            supply_hold(&s, MS(100));
            wave_step(&s.w, s.l->now_ns, mv, 0);
            supply_hold(&s, MS(600));
            supply_end(&s);
            expect_verdict(s.l, cases[k].rule, n < 2 ? VERDICT_PASS : VERDICT_FAIL);
            lines_teardown(state);
            lines_setup(state);
        }
}

static void a_contract_read_twice_alone_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    s.interval_ns = MS(400);
    supply_hold(&s, MS(900));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", VERDICT_UNDECIDED);
}

static void what_happens_under_too_much_load_is_not_held_against_the_source(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(60));
    wave_step(&s.w, s.l->now_ns, 8300, 3400); /* 13 % too much */
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 9000, 1000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", VERDICT_PASS);
}

static void after_a_loss_a_voltage_out_of_the_window_may_be_a_contract_that_was_missed(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(200));
    lines_lost(s.l, 5);
    supply_hold(&s, MS(10));
    wave_step(&s.w, s.l->now_ns, 8300, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", VERDICT_UNDECIDED);
}

/* From the packet before a loss on: VBUS left its window before the record that tells of the loss. */
static void what_moved_before_the_loss_was_told_may_be_a_contract_that_was_missed_too(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(200));
    wave_step(&s.w, s.l->now_ns, 5000, 0);
    supply_hold(&s, MS(200));
    lines_lost(s.l, 5);
    supply_hold(&s, MS(400));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", VERDICT_UNDECIDED);
    expect_verdict(s.l, "volt.transient-window", VERDICT_UNDECIDED);
    expect_verdict(s.l, "volt.unasked-change", VERDICT_UNDECIDED);
}

/* Another level speaks for the window from then on; what was wrong half a second before is told beside it. */
static void what_was_wrong_before_another_level_stands_for_itself(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 8400, 0);
    supply_hold(&s, MS(200));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 5000, 0);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.contract-window", VERDICT_FAIL);
    expect_verdict(s.l, "volt.unasked-change", VERDICT_FAIL);
}

/* volt.transient-window: one reading at mv. */
static void peaks_at(void **state, const char *about, double mv, unsigned readings, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, about);
    supply_hold(&s, MS(200));
    wave_step(&s.w, s.begin_ns + (s.l->now_ns - s.begin_ns) / MS(1) * MS(1) - US(500), mv, 0);
    supply_hold(&s, (int64_t)readings * MS(1));
    wave_step(&s.w, s.begin_ns + (s.l->now_ns - s.begin_ns) / MS(1) * MS(1) - US(500), 9000, 0);
    supply_hold(&s, MS(400));
    supply_end(&s);
    expect_verdict(s.l, "volt.transient-window", verdict);
}

static void a_dip_within_the_wide_window_passes(void **state)
{
    peaks_at(state, NULL, 8053, 1, VERDICT_PASS);
}

static void a_dip_below_the_wide_window_fails(void **state)
{
    peaks_at(state, NULL, 8047, 1, VERDICT_FAIL);
}

static void a_peak_within_the_wide_window_passes(void **state)
{
    peaks_at(state, NULL, 9947, 1, VERDICT_PASS);
}

static void a_peak_above_the_wide_window_fails(void **state)
{
    peaks_at(state, NULL, 9953, 1, VERDICT_FAIL);
}

static void a_dip_beside_static_values_outside_is_told_too_and_one_in_them_is_not(void **state)
{
    /* 8.50 V is outside W, 8.55 V to 9.45 V, for 100 ms; one reading at 7.5 V is below the wide window, 8.05 V: apart from it, or in it. */
    static const struct { int64_t dip_ns; unsigned verdict; } cases[] = {
        { MS(150), VERDICT_FAIL }, { MS(350), VERDICT_NOT_SEEN }, { MS(600), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;
        int64_t              at_ns;

        nine_volts(&s, state, NULL);
        at_ns = s.begin_ns + (s.l->now_ns - s.begin_ns) / MS(1) * MS(1) - US(500);
        for (unsigned ms = 100; ms <= 600; ms += 50) {
            bool outside = ms >= 300 && ms < 400, dips = MS(ms) == cases[k].dip_ns;

            if (dips)
                wave_step(&s.w, at_ns + MS(ms), 7500, 0);
            wave_step(&s.w, at_ns + MS(ms) + (dips ? MS(1) : 0), outside ? 8500 : 9000, 0);
        }
        supply_hold(&s, MS(1000));
        supply_end(&s);
        expect_verdict(s.l, "volt.contract-window", VERDICT_FAIL);
        expect_verdict(s.l, "volt.transient-window", cases[k].verdict);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void at_the_sink_without_current_an_unknown_path_takes_nothing(void **state)
{
    static const char about[] = "{\"ports\":[{\"port\":0,\"volt_at\":\"sink\"}],\"instrument\":{\"time_ns\":0,"
                                "\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0},"
                                "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}";
    struct played_supply s;

    nine_volts(&s, state, about);
    supply_hold(&s, MS(500));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe5v-before-contract", VERDICT_PASS);
    expect_verdict(s.l, "volt.contract-window", VERDICT_PASS);
}

#define NOISE_UNKNOWN "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000}}}"
static void where_the_noise_is_not_known_one_reading_proves_nothing_and_two_do(void **state)
{
    peaks_at(state, NOISE_UNKNOWN, 8040, 1, VERDICT_UNDECIDED);
    lines_teardown(state);
    lines_setup(state);
    peaks_at(state, NOISE_UNKNOWN, 8040, 2, VERDICT_FAIL);
}

/* 900 readings: the noise counts with k = 4.08 (the catalogue's k_n for a thousand), offset with 2. 10 mV: 40.8 mV and 2 mV. */
#define NOISY "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":10000}}}"
static void of_many_readings_the_worst_has_to_be_farther_out(void **state)
{
    peaks_at(state, NOISY, 8012, 1, VERDICT_UNDECIDED);
    lines_teardown(state);
    lines_setup(state);
    peaks_at(state, NOISY, 8007, 1, VERDICT_FAIL);
}

/* volt.level-not-reached */
static void reaches_after(void **state, int64_t ns, unsigned verdict)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    lines_wait(s.l, s.done_ns + MS(60) - s.l->now_ns);
    s.ready_ns = s.l->now_ns;
    lines_control(s.l, SIDE_SOURCE, CONTROL_PS_RDY);
    if (ns)
        wave_step(&s.w, s.ready_ns + ns, 9000, 0);
    supply_hold(&s, MS(900));
    supply_end(&s);
    expect_verdict(s.l, "volt.level-not-reached", verdict);
    if (verdict == VERDICT_FAIL)
        expect_only(s.l, "volt.", "volt.level-not-reached");
}

static void a_level_that_comes_within_500_ms_passes(void **state)
{
    reaches_after(state, MS(470), VERDICT_PASS);
}

static void a_level_that_never_comes_fails_and_speaks_for_all_else(void **state)
{
    reaches_after(state, 0, VERDICT_FAIL);
}

static void a_level_that_comes_after_500_ms_fails(void **state)
{
    reaches_after(state, MS(530), VERDICT_FAIL);
}

static void a_contract_shorter_than_500_ms_need_not_reach_its_level(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.level-not-reached", VERDICT_NOT_SEEN);
}

static void a_level_that_nobody_read_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    s.interval_ns = MS(2000);
    supply_hold(&s, MS(1500));
    supply_end(&s);
    expect_verdict(s.l, "volt.level-not-reached", VERDICT_UNDECIDED);
}

/* volt.unasked-change: another level from 300 ms on, for so long. */
static void goes_to(void **state, double mv, int64_t ns, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, mv, 0);
    supply_hold(&s, ns);
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.unasked-change", verdict);
    if (verdict == VERDICT_FAIL)
        expect_only(s.l, "volt.", "volt.unasked-change");
}

static void another_level_for_120_ms_fails_and_speaks_for_the_windows(void **state)
{
    goes_to(state, 5000, MS(125), VERDICT_FAIL);
}

static void another_level_for_80_ms_is_none(void **state)
{
    goes_to(state, 5000, MS(85), VERDICT_PASS);
}

static void less_than_1_v_beyond_the_window_is_no_other_level(void **state)
{
    goes_to(state, 7560, MS(200), VERDICT_PASS); /* 8.55 V less 1 V is 7.55 V */
}

static void more_than_1_v_beyond_the_window_is_another_level(void **state)
{
    goes_to(state, 7540, MS(200), VERDICT_FAIL);
}

static void vbus_that_moves_before_the_accept_fails(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(600));
    lines_request(s.l, word_ask_fixed(3, 3000, 3000));
    wave_ramp(&s.w, s.l->now_ns - MS(1), s.l->now_ns + MS(8), 20000);
    lines_wait(s.l, MS(8));
    lines_control(s.l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(s.l, MS(60));
    lines_control(s.l, SIDE_SOURCE, CONTROL_PS_RDY);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.unasked-change", VERDICT_FAIL);
    expect_counts(s.l, "time.src-transition", 1, 0, 0); /* of the first contract */
}

static void another_level_under_too_much_load_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 5000, 3400);
    supply_hold(&s, MS(60));
    wave_step(&s.w, s.l->now_ns, 5000, 0);
    supply_hold(&s, MS(200));
    supply_end(&s);
    expect_verdict(s.l, "volt.unasked-change", VERDICT_UNDECIDED);
}

/* volt.safe5v-before-contract: VBUS stands at mv before the first contract. */
static void before_at(void **state, double mv, unsigned verdict)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    wave_step(&s.w, s.l->now_ns - MS(40), mv, 0);
    supply_hold(&s, MS(100));
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe5v-before-contract", verdict);
}

static void before_a_contract_4_75_to_5_50_v_pass(void **state)
{
    before_at(state, 4753, VERDICT_PASS);
    lines_teardown(state);
    lines_setup(state);
    before_at(state, 5497, VERDICT_PASS);
}

static void before_a_contract_less_than_4_75_and_more_than_5_50_v_fail(void **state)
{
    before_at(state, 4747, VERDICT_FAIL);
    lines_teardown(state);
    lines_setup(state);
    before_at(state, 5503, VERDICT_FAIL);
}

static void before_a_contract_at_the_limit_nothing_is_decided(void **state)
{
    before_at(state, 5500, VERDICT_UNDECIDED);
}

static void where_the_attach_was_not_seen_there_is_no_time_before_a_contract(void **state)
{
    struct played_supply s = { .l = *state };

    s.begin_ns = s.l->now_ns;
    s.interval_ns = MS(1);
    lines_about(s.l, 255, PRECISE);
    wave_step(&s.w, s.l->now_ns, 5600, 0);
    supply_hold(&s, MS(100));
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe5v-before-contract", VERDICT_NOT_SEEN);
}

/* volt.cold-socket: nothing attached for 2 s, VBUS at mv. */
static void empty_at(void **state, const char *about, double mv, int64_t ns, unsigned verdict)
{
    struct played_supply s = { .l = *state };

    s.begin_ns = s.l->now_ns;
    s.interval_ns = MS(10);
    lines_about(s.l, 255, PRECISE);
    if (about)
        lines_about(s.l, 255, about);
    wave_step(&s.w, s.l->now_ns, mv, 0);
    lines_cc(s.l, 0, 3);
    supply_hold(&s, ns);
    supply_end(&s);
    expect_verdict(s.l, "volt.cold-socket", verdict);
}

static void an_empty_socket_below_0_8_v_passes(void **state)
{
    empty_at(state, NULL, 797, MS(2000), VERDICT_PASS);
}

static void an_empty_socket_above_0_8_v_fails(void **state)
{
    empty_at(state, NULL, 803, MS(2000), VERDICT_FAIL);
}

static void an_empty_socket_at_0_8_v_is_undecided(void **state)
{
    empty_at(state, NULL, 800, MS(2000), VERDICT_UNDECIDED);
}

static void for_a_second_an_empty_socket_may_be_warm(void **state)
{
    empty_at(state, NULL, 5000, MS(990), VERDICT_NOT_SEEN);
}

static void a_plug_of_another_kind_may_be_hot(void **state)
{
    empty_at(state, "{\"ports\":[{\"port\":0,\"plug\":\"captive\"}]}", 5000, MS(2000), VERDICT_NOT_SEEN);
}

/* The conformance probability: 8.553 V, u = 1 mV, against 8.55 to 9.45 V is phi(3) (domain.md's table: 0.99865); fails: 8.547 V 0.00135. */
static void a_finding_tells_the_probability_of_conformance(void **state)
{
    const struct finding *f;

    stands_at(state, 8547, VERDICT_FAIL);
    f = lines_finding(*state, "volt.contract-window", VERDICT_FAIL, 0);
    assert_true(f->has_probability && f->probability > 0.0013 && f->probability < 0.0014);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(in_its_window_a_fixed_9_v_passes),
        TEST(below_its_window_a_fixed_9_v_fails),
        TEST(at_the_top_of_its_window_a_fixed_9_v_passes),
        TEST(above_its_window_a_fixed_9_v_fails),
        TEST(at_the_limit_itself_the_uncertainty_decides_nothing),
        TEST(the_window_of_every_kind_of_supply),
        TEST(a_contract_read_twice_alone_is_undecided),
        TEST(what_happens_under_too_much_load_is_not_held_against_the_source),
        TEST(after_a_loss_a_voltage_out_of_the_window_may_be_a_contract_that_was_missed),
        TEST(what_moved_before_the_loss_was_told_may_be_a_contract_that_was_missed_too),
        TEST(what_was_wrong_before_another_level_stands_for_itself),
        TEST(a_dip_within_the_wide_window_passes),
        TEST(a_dip_below_the_wide_window_fails),
        TEST(a_peak_within_the_wide_window_passes),
        TEST(a_peak_above_the_wide_window_fails),
        TEST(a_dip_beside_static_values_outside_is_told_too_and_one_in_them_is_not),
        TEST(at_the_sink_without_current_an_unknown_path_takes_nothing),
        TEST(where_the_noise_is_not_known_one_reading_proves_nothing_and_two_do),
        TEST(of_many_readings_the_worst_has_to_be_farther_out),
        TEST(a_level_that_comes_within_500_ms_passes),
        TEST(a_level_that_never_comes_fails_and_speaks_for_all_else),
        TEST(a_level_that_comes_after_500_ms_fails),
        TEST(a_contract_shorter_than_500_ms_need_not_reach_its_level),
        TEST(a_level_that_nobody_read_is_undecided),
        TEST(another_level_for_120_ms_fails_and_speaks_for_the_windows),
        TEST(another_level_for_80_ms_is_none),
        TEST(less_than_1_v_beyond_the_window_is_no_other_level),
        TEST(more_than_1_v_beyond_the_window_is_another_level),
        TEST(vbus_that_moves_before_the_accept_fails),
        TEST(another_level_under_too_much_load_is_undecided),
        TEST(before_a_contract_4_75_to_5_50_v_pass),
        TEST(before_a_contract_less_than_4_75_and_more_than_5_50_v_fail),
        TEST(before_a_contract_at_the_limit_nothing_is_decided),
        TEST(where_the_attach_was_not_seen_there_is_no_time_before_a_contract),
        TEST(an_empty_socket_below_0_8_v_passes),
        TEST(an_empty_socket_above_0_8_v_fails),
        TEST(an_empty_socket_at_0_8_v_is_undecided),
        TEST(for_a_second_an_empty_socket_may_be_warm),
        TEST(a_plug_of_another_kind_may_be_hot),
        TEST(a_finding_tells_the_probability_of_conformance),
    };

    supply_kinds(caps);
    return cmocka_run_group_tests_name("VBUS and current while nothing changes", tests, NULL, NULL);
}
