/*
 * volt.*, on the way from one level to the next, and down: passed, failed, undecided, not seen, and just inside and outside of each
 * limit. Limits typed from the catalogue: W at PS_RDY (9 V: 8.55 to 9.45 V); overshoot: the higher window's upper limit and 0.5 V
 * (9.95 V), after turn-on 6.00 V; undershoot: the lower window's lower limit less 0.5 V (5 V before a contract: 4.75 - 0.5 = 4.25 V);
 * 30 mV/us; 200 mV back; -0.3 V; below 0.8 V in 35 + 650 + 100 ms after a Hard Reset, in 2 s after a detach.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = SUPPLY_USUAL };
static uint32_t caps[OBJECTS];

static void nine_volts(struct played_supply *s, void **state)
{
    supply_attach(s, *state, NULL);
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(s, MS(600));
}

/* volt.ready-inside-window: VBUS at mv from 30 ms after the Accept to 20 ms after PS_RDY, then 9 V. */
static void ready_at(void **state, double mv, unsigned verdict)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&s, mv, MS(30), MS(2), MS(60));
    supply_hold(&s, MS(20));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.ready-inside-window", verdict);
    expect_only(s.l, "volt.", verdict == VERDICT_PASS ? NULL : "volt.ready-inside-window");
}

static void at_ps_rdy_vbus_in_the_new_window_passes(void **state)
{
    ready_at(state, 8553, VERDICT_PASS);
}

static void at_ps_rdy_vbus_outside_fails_and_speaks_for_the_windows(void **state)
{
    ready_at(state, 8547, VERDICT_FAIL);
}

static void at_ps_rdy_vbus_on_the_limit_is_undecided(void **state)
{
    ready_at(state, 8550, VERDICT_UNDECIDED);
}

static void where_vbus_was_not_read_about_ps_rdy_it_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state); /* read every millisecond: this port could have settled it */
    int64_t until_ns = s.l->now_ns;

    wave_write(s.l, &s.w, s.begin_ns, until_ns, MS(1), 100);
    supply_contract(&s, 0, NULL, word_ask_fixed(3, 3000, 3000), 20000);
    supply_hold(&s, MS(200));
    s.begin_ns = until_ns + MS(150);
    supply_end(&s);
    expect_counts(s.l, "volt.ready-inside-window", 1, 0, 1);
}

static void two_readings_around_that_agree_decide(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    s.interval_ns = MS(4);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.ready-inside-window", VERDICT_PASS);
}

static void without_a_contract_nothing_is_ready(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.ready-inside-window", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.undershoot", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.monotonic", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.safe0v-after-hard-reset", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.safe0v-after-detach", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.contract-window", VERDICT_NOT_SEEN);
}

/* volt.overshoot, volt.undershoot: on the way from 5 to 9 V one reading at mv. */
static struct lines *shoots_to(void **state, double mv)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&s, 9000, MS(30), MS(2), MS(60));
    int64_t t = s.begin_ns + (s.done_ns + MS(36) - s.begin_ns) / MS(1) * MS(1);

    wave_step(&s.w, s.l->now_ns, 9000, 0);
    /* the wave is drawn in order: a peak after PS_RDY, within 50 ms of it */
    t = s.begin_ns + (s.l->now_ns + MS(5) - s.begin_ns) / MS(1) * MS(1);
    wave_step(&s.w, t - US(500), mv, 0);
    wave_step(&s.w, t + US(500), 9000, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    return s.l;
}

static void a_peak_up_to_9_95_v_is_no_overshoot(void **state)
{
    expect_verdict(shoots_to(state, 9947), "volt.overshoot", VERDICT_PASS);
}

static void a_peak_above_9_95_v_is_an_overshoot(void **state)
{
    struct lines *l = shoots_to(state, 9953);

    expect_verdict(l, "volt.overshoot", VERDICT_FAIL);
    expect_only(l, "volt.", "volt.overshoot");
}

static void a_peak_at_9_95_v_is_undecided(void **state)
{
    expect_verdict(shoots_to(state, 9950), "volt.overshoot", VERDICT_UNDECIDED);
}

static void down_to_4_25_v_it_is_no_undershoot(void **state)
{
    expect_verdict(shoots_to(state, 4253), "volt.undershoot", VERDICT_PASS);
}

static void below_4_25_v_it_is_an_undershoot(void **state)
{
    struct lines *l = shoots_to(state, 4247);

    expect_verdict(l, "volt.undershoot", VERDICT_FAIL);
    expect_only(l, "volt.", "volt.undershoot");
}

static void at_4_25_v_it_is_undecided(void **state)
{
    expect_verdict(shoots_to(state, 4250), "volt.undershoot", VERDICT_UNDECIDED);
}

/* When VBUS comes up: 5.50 V and 0.5 V. */
static void comes_up_to(void **state, double mv, unsigned verdict)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    wave_step(&s.w, s.l->now_ns - MS(40), mv, 0);
    wave_step(&s.w, s.l->now_ns - MS(39), 5000, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.overshoot", verdict);
}

static void coming_up_vbus_peaks_at_6_v_at_most(void **state)
{
    comes_up_to(state, 5997, VERDICT_PASS);
    lines_again(state);
    comes_up_to(state, 6003, VERDICT_FAIL);
}

/* Readings 5 ms apart can show an overshoot, but not that there was none; where all are so far apart it is not judged at all. */
static void sparse_readings_fail_but_do_not_pass(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    s.interval_ns = MS(5);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.overshoot", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.slew-up", VERDICT_NOT_SEEN);

    struct unjudged u;
    unsigned        slews = 0, peaks = 0;

    for (unsigned k = 0; engine_unjudged(s.l->engine, NULL, k, &u); k++)
        if (u.missing == EVIDENCE_VBUS_RATE) {
            assert_true(u.has_ns == MS(5));
            slews += u.needs_ns == US(20) ? u.rules : 0;
            peaks += u.needs_ns == MS(1) ? u.rules : 0;
        }
    assert_int_equal(slews, 1); /* up: VBUS did not come down */
    assert_int_equal(peaks, 2);
    lines_again(state);
    supply_attach(&s, *state, NULL);
    s.interval_ns = MS(5);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    wave_step(&s.w, s.l->now_ns, 10500, 0);
    wave_step(&s.w, s.l->now_ns + MS(12), 9000, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.overshoot", VERDICT_FAIL);
}

/* Catalogue, extremes: a pass needs a bandwidth of 0.35 / the shortest event, here 350 Hz for 1 ms. */
static void an_instrument_too_slow_for_a_peak_does_not_let_it_pass(void **state)
{
    static const struct { const char *hz; unsigned verdict; int64_t has_ns; } cases[] = {
        { "351", VERDICT_PASS, 0 }, { "100", VERDICT_NOT_SEEN, US(3500) }, { "0", VERDICT_NOT_SEEN, 0 }, { "1e-300", VERDICT_NOT_SEEN, 0 },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;
        struct unjudged      u;
        char                 about[200];

        if (k > 0)
            lines_again(state);
        snprintf(about, sizeof about, "{\"instrument\":{\"volt\":{\"gain_ppm\":100,\"offset_uv\":500,\"noise_uv\":500,\"bandwidth_hz\":%s}}}", cases[k].hz);
        supply_attach(&s, *state, about);
        s.interval_ns = US(500);
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(600));
        supply_end(&s);
        expect_verdict(s.l, "volt.overshoot", cases[k].verdict);
        for (unsigned n = 0; engine_unjudged(s.l->engine, NULL, n, &u); n++)
            if (cases[k].has_ns && u.missing == EVIDENCE_VBUS_RATE)
                assert_true(u.has_ns == cases[k].has_ns);
    }
}

static void a_gap_in_close_readings_leaves_an_overshoot_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    int64_t until_ns = s.l->now_ns + MS(40);

    supply_contract(&s, 0, NULL, word_ask_fixed(3, 3000, 3000), 20000);
    wave_write(s.l, &s.w, s.begin_ns, until_ns, MS(1), 100);
    supply_hold(&s, MS(300));
    s.begin_ns = until_ns + MS(20);
    supply_end(&s);
    expect_counts(s.l, "volt.overshoot", 2, 0, 1); /* coming up, the first contract; the second */
}

/* volt.slew-up, -down: readings every 10 us about the change; 4 V in ramp_ns. */
static struct lines *moves_in(void **state, bool up, int64_t ramp_ns, int64_t interval_ns)
{
    struct played_supply s;
    int64_t              fine_ns;

    supply_attach(&s, *state, NULL);
    if (!up) {
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(300));
    }
    fine_ns = s.l->now_ns;
    wave_write(s.l, &s.w, s.begin_ns, fine_ns, MS(1), 100);
    supply_ask(&s, OBJECTS, up ? caps : NULL, word_ask_fixed(up ? 2 : 1, 3000, 3000));
    supply_move(&s, up ? 9000 : 5000, MS(30), ramp_ns, MS(60));
    supply_hold(&s, MS(100));
    s.begin_ns = fine_ns;
    s.interval_ns = interval_ns;
    supply_end(&s);
    return s.l;
}

static void a_rise_of_27_mv_a_us_passes(void **state)
{
    /* When VBUS came up it was read every millisecond: undecided. */
    expect_counts(moves_in(state, true, US(148), US(10)), "volt.slew-up", 1, 0, 1);
}

static void a_rise_of_33_mv_a_us_fails(void **state)
{
    struct lines *l = moves_in(state, true, US(121), US(10));

    expect_verdict(l, "volt.slew-up", VERDICT_FAIL);
    expect_only(l, "volt.", "volt.slew-up");
}

static void a_fall_of_27_mv_a_us_passes(void **state)
{
    expect_verdict(moves_in(state, false, US(148), US(10)), "volt.slew-down", VERDICT_PASS);
}

static void a_fall_of_33_mv_a_us_fails(void **state)
{
    expect_verdict(moves_in(state, false, US(121), US(10)), "volt.slew-down", VERDICT_FAIL);
}

static void readings_50_us_apart_show_a_steep_rise_but_no_gentle_one(void **state)
{
    expect_verdict(moves_in(state, true, US(400), US(50)), "volt.slew-up", VERDICT_NOT_SEEN);
    lines_again(state);
    expect_verdict(moves_in(state, true, US(60), US(50)), "volt.slew-up", VERDICT_FAIL); /* 4 V in 60 us */
}

static void an_upward_change_says_nothing_of_the_fall(void **state)
{
    expect_verdict(moves_in(state, true, US(200), US(10)), "volt.slew-down", VERDICT_NOT_SEEN);
}

/* volt.monotonic: on its way from 5 to 20 V VBUS turns back by mv at 12 V. */
static struct lines *turns_back(void **state, double back_mv, double load_ma, int64_t interval_ns)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(3, 3000, 3000));
    int64_t t = s.done_ns + MS(30);

    wave_ramp(&s.w, t, t + MS(8), 12000);
    if (load_ma > 0)
        wave_load(&s.w, t + MS(8), load_ma);
    wave_ramp(&s.w, t + MS(8), t + MS(12), 12000 - back_mv);
    wave_ramp(&s.w, t + MS(14), t + MS(24), 20000);
    lines_wait(s.l, s.done_ns + MS(70) - s.l->now_ns);
    lines_control(s.l, SIDE_SOURCE, CONTROL_PS_RDY);
    supply_hold(&s, MS(600));
    s.interval_ns = interval_ns;
    supply_end(&s);
    return s.l;
}

static void a_step_back_of_190_mv_passes(void **state)
{
    expect_verdict(turns_back(state, 190, 0, MS(1)), "volt.monotonic", VERDICT_PASS);
}

static void a_step_back_of_210_mv_fails(void **state)
{
    expect_verdict(turns_back(state, 210, 0, MS(1)), "volt.monotonic", VERDICT_FAIL);
}

static void a_load_that_steps_explains_it(void **state)
{
    expect_verdict(turns_back(state, 1000, 1500, MS(1)), "volt.monotonic", VERDICT_NOT_SEEN);
    lines_again(state);
    expect_verdict(turns_back(state, 1000, 245, MS(1)), "volt.monotonic", VERDICT_FAIL); /* steady within 250 mA */
    lines_again(state);
    expect_verdict(turns_back(state, 1000, 255, MS(1)), "volt.monotonic", VERDICT_NOT_SEEN);
}

static void readings_8_ms_apart_do_not_tell(void **state)
{
    expect_verdict(turns_back(state, 0, 0, MS(8)), "volt.monotonic", VERDICT_NOT_SEEN); /* all of them are */
}

/* Hard Reset, detach. */
static void falls(struct played_supply *s, int64_t ns, double least_mv)
{
    wave_ramp(&s->w, s->l->now_ns + MS(30), s->l->now_ns + MS(30) + ns, least_mv);
}

static void after_reset(void **state, int64_t ns, double mv, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state);
    s.reset_frame = lines_reset(s.l, RECORD_HARD_RESET);
    falls(&s, ns, mv);
    supply_hold(&s, MS(1000));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe0v-after-hard-reset", verdict);
    if (verdict == VERDICT_FAIL)
        expect_fail(s.l, "volt.safe0v-after-hard-reset", s.reset_frame, WHO_SOURCE);
}

static void after_a_hard_reset_vbus_below_0_8_v_in_785_ms_passes(void **state)
{
    after_reset(state, MS(700), 0, VERDICT_PASS);
}

/* 35 + 650 + 100 = 785 ms; a straight fall from 9 V to 0 V is at 0.8 V after 0.911 of its time. */
static void after_a_hard_reset_vbus_below_0_8_v_after_785_ms_fails(void **state)
{
    after_reset(state, MS(823), 0, VERDICT_PASS);
    lines_again(state);
    after_reset(state, MS(835), 0, VERDICT_FAIL);
}

static void after_a_hard_reset_vbus_that_stays_fails(void **state)
{
    after_reset(state, MS(100), 803, VERDICT_FAIL);
}

static void after_a_hard_reset_vbus_at_0_8_v_is_undecided(void **state)
{
    after_reset(state, MS(100), 800, VERDICT_UNDECIDED);
}

static void after_a_hard_reset_that_ends_the_trace_nothing_is_said(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_reset(s.l, RECORD_HARD_RESET);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe0v-after-hard-reset", VERDICT_NOT_SEEN);
}

static void where_nobody_reads_after_a_hard_reset_it_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_reset(s.l, RECORD_HARD_RESET);
    int64_t until_ns = s.l->now_ns;

    wave_write(s.l, &s.w, s.begin_ns, until_ns, MS(1), 100);
    lines_wait(s.l, MS(1500));
    lines_control(s.l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(s.l, NULL);
    expect_verdict(s.l, "volt.safe0v-after-hard-reset", VERDICT_UNDECIDED);
}

static void after_detach(void **state, int64_t ns, double mv, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_detach(s.l);
    falls(&s, ns, mv);
    supply_hold(&s, MS(2300));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe0v-after-detach", verdict);
    if (verdict == VERDICT_FAIL)
        expect_only(s.l, "volt.", "volt.safe0v-after-detach");
}

static void after_a_detach_vbus_below_0_8_v_in_2_s_passes(void **state)
{
    after_detach(state, MS(1900), 0, VERDICT_PASS);
}

static void after_a_detach_vbus_that_stays_fails_and_speaks_for_the_empty_socket(void **state)
{
    after_detach(state, MS(100), 810, VERDICT_FAIL);
}

static void after_a_detach_vbus_at_0_8_v_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_detach(s.l);
    falls(&s, MS(100), 800);
    supply_hold(&s, MS(2300));
    supply_end(&s);
    expect_verdict(s.l, "volt.safe0v-after-detach", VERDICT_UNDECIDED);
}

/* volt.negative */
static void goes_down_to(void **state, double mv, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_detach(s.l);
    wave_step(&s.w, s.l->now_ns + MS(30), mv, 0);
    wave_step(&s.w, s.l->now_ns + MS(32), 0, 0);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.negative", verdict);
}

static void down_to_minus_300_mv_pass(void **state)
{
    goes_down_to(state, -297, VERDICT_PASS);
}

static void below_minus_300_mv_fail(void **state)
{
    goes_down_to(state, -303, VERDICT_FAIL);
}

static void at_minus_300_mv_it_is_undecided(void **state)
{
    goes_down_to(state, -300, VERDICT_UNDECIDED);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(at_ps_rdy_vbus_in_the_new_window_passes),
        TEST(at_ps_rdy_vbus_outside_fails_and_speaks_for_the_windows),
        TEST(at_ps_rdy_vbus_on_the_limit_is_undecided),
        TEST(where_vbus_was_not_read_about_ps_rdy_it_is_undecided),
        TEST(two_readings_around_that_agree_decide),
        TEST(without_a_contract_nothing_is_ready),
        TEST(a_peak_up_to_9_95_v_is_no_overshoot),
        TEST(a_peak_above_9_95_v_is_an_overshoot),
        TEST(a_peak_at_9_95_v_is_undecided),
        TEST(down_to_4_25_v_it_is_no_undershoot),
        TEST(below_4_25_v_it_is_an_undershoot),
        TEST(at_4_25_v_it_is_undecided),
        TEST(coming_up_vbus_peaks_at_6_v_at_most),
        TEST(sparse_readings_fail_but_do_not_pass),
        TEST(an_instrument_too_slow_for_a_peak_does_not_let_it_pass),
        TEST(a_gap_in_close_readings_leaves_an_overshoot_undecided),
        TEST(a_rise_of_27_mv_a_us_passes),
        TEST(a_rise_of_33_mv_a_us_fails),
        TEST(a_fall_of_27_mv_a_us_passes),
        TEST(a_fall_of_33_mv_a_us_fails),
        TEST(readings_50_us_apart_show_a_steep_rise_but_no_gentle_one),
        TEST(an_upward_change_says_nothing_of_the_fall),
        TEST(a_step_back_of_190_mv_passes),
        TEST(a_step_back_of_210_mv_fails),
        TEST(a_load_that_steps_explains_it),
        TEST(readings_8_ms_apart_do_not_tell),
        TEST(after_a_hard_reset_vbus_below_0_8_v_in_785_ms_passes),
        TEST(after_a_hard_reset_vbus_below_0_8_v_after_785_ms_fails),
        TEST(after_a_hard_reset_vbus_that_stays_fails),
        TEST(after_a_hard_reset_vbus_at_0_8_v_is_undecided),
        TEST(after_a_hard_reset_that_ends_the_trace_nothing_is_said),
        TEST(where_nobody_reads_after_a_hard_reset_it_is_undecided),
        TEST(after_a_detach_vbus_below_0_8_v_in_2_s_passes),
        TEST(after_a_detach_vbus_that_stays_fails_and_speaks_for_the_empty_socket),
        TEST(after_a_detach_vbus_at_0_8_v_is_undecided),
        TEST(down_to_minus_300_mv_pass),
        TEST(below_minus_300_mv_fail),
        TEST(at_minus_300_mv_it_is_undecided),
    };

    supply_usual(caps);
    return cmocka_run_group_tests_name("VBUS on its way", tests, NULL, NULL);
}
