/*
 * time.*, where VBUS is an edge: passed, failed, undecided, not seen, and just inside and outside of each limit. A crossing is known
 * between two readings, here 1 ms apart. Limits typed from the catalogue, in ms: tSrcTransition 25 to 35, tFirstSourceCap 250,
 * tPSHardReset 25 to 35, tSafe0V 650, tSrcRecover 660 to 1000, tSrcTurnOn 275, tCCDebounce + tVBUSON 475, tSRCDisconnect + tVBUSOFF 670.
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

/* time.src-transition: VBUS jumps so long after the Accept was heard. */
static struct lines *begins(void **state, int64_t ns, int64_t interval_ns)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&s, 9000, ns, US(10), ns > MS(55) ? ns + MS(5) : MS(60));
    supply_hold(&s, MS(600));
    s.interval_ns = interval_ns;
    supply_end(&s);
    return s.l;
}

static void a_move_26_5_to_33_5_ms_after_accept_passes(void **state)
{
    expect_verdict(begins(state, MS(26) + US(500), MS(1)), "time.src-transition", VERDICT_PASS);
    lines_again(state);
    expect_verdict(begins(state, MS(33) + US(500), MS(1)), "time.src-transition", VERDICT_PASS);
}

static void a_move_before_25_or_after_35_ms_fails(void **state)
{
    struct lines *l = begins(state, MS(23) + US(500), MS(1));

    expect_verdict(l, "time.src-transition", VERDICT_FAIL);
    assert_int_equal(lines_finding(l, "time.src-transition", VERDICT_FAIL, 0)->whom, WHO_SOURCE);
    lines_again(state);
    expect_verdict(begins(state, MS(36) + US(500), MS(1)), "time.src-transition", VERDICT_FAIL);
}

static void a_move_between_two_readings_about_the_limit_is_undecided(void **state)
{
    expect_verdict(begins(state, MS(35), MS(4)), "time.src-transition", VERDICT_UNDECIDED);
}

static void a_load_that_steps_before_the_move_leaves_it_undecided(void **state)
{
    static const int64_t moves_ns[] = { MS(40), MS(30) }; /* too late, and in time: either may be the load's doing */

    for (unsigned k = 0; k < 2; k++) {
        struct played_supply s;

        if (k > 0)
            lines_again(state);
        supply_attach(&s, *state, NULL);
        supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
        wave_load(&s.w, s.done_ns + MS(10), 1500);
        supply_move(&s, 9000, moves_ns[k], US(10), MS(60));
        supply_hold(&s, MS(600));
        supply_end(&s);
        expect_counts(s.l, "time.src-transition", 0, 0, 1);
        assert_int_equal(lines_finding(s.l, "time.src-transition", VERDICT_UNDECIDED, 0)->cause, CAUSE_LOAD);
    }
}

/* Before it jumps VBUS stands a little toward the new level from some time after the Accept on. */
static struct lines *creeps(void **state, double by_mv, int64_t from_ns, int64_t jump_ns)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    wave_step(&s.w, s.done_ns + from_ns, 5000 + by_mv, 0);
    supply_move(&s, 9000, jump_ns, US(10), MS(60));
    supply_hold(&s, MS(600));
    supply_end(&s);
    return s.l;
}

/* still_mv 20, move_mv 200. */
static void a_move_begins_between_20_mv_and_200_mv(void **state)
{
    static const struct { double mv; int64_t from_ns, jump_ns; unsigned verdict; } cases[] = {
        { 18, MS(20), MS(36) + US(500), VERDICT_FAIL },           /* 18 mV: it stands still until it jumps */
        { 22, MS(20), MS(36) + US(500), VERDICT_UNDECIDED },
        { 180, MS(23) + US(500), MS(30), VERDICT_UNDECIDED },     /* 180 mV: it may move, or not yet */
        { 205, MS(23) + US(500), MS(30), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(creeps(state, cases[k].mv, cases[k].from_ns, cases[k].jump_ns), "time.src-transition", cases[k].verdict);
        lines_again(state);
    }
}

static void a_programmable_supply_may_move_when_it_likes(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_pps(4, 9000, 2000));
    supply_move(&s, 9000, MS(5), US(10), MS(60));
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "time.src-transition", VERDICT_NOT_SEEN);
}

static void half_a_volt_is_no_change_to_speak_of(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "time.src-transition", VERDICT_NOT_SEEN);
}

/* A Hard Reset in the 9 V contract: VBUS begins to fall, is below 0.8 V, rises again and is up so long after what comes before. */
static struct lines *cycle(void **state, int64_t begin_ns, int64_t fall_ns, int64_t off_ns, int64_t rise_ns, double load_ma)
{
    struct played_supply s;
    int64_t              reset_ns, low_ns;

    nine_volts(&s, state);
    supply_load(&s, load_ma);
    supply_hold(&s, MS(100));
    lines_reset(s.l, RECORD_HARD_RESET);
    reset_ns = s.l->now_ns;
    low_ns = reset_ns + begin_ns + fall_ns;
    wave_step(&s.w, reset_ns + begin_ns, fall_ns > MS(5) ? 8700 : 700, load_ma);
    if (fall_ns > MS(5)) {
        wave_ramp(&s.w, low_ns - MS(3), low_ns - MS(2), 900);
        wave_step(&s.w, low_ns, 700, 0);
    }
    wave_step(&s.w, low_ns + MS(10), 0, 0);
    wave_step(&s.w, low_ns + off_ns, 900, 0);
    wave_step(&s.w, low_ns + off_ns + rise_ns, 5000, 0);
    supply_hold(&s, begin_ns + fall_ns + off_ns + rise_ns + MS(200));
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    return s.l;
}

static void a_cycle_as_it_should_be_passes_everywhere(void **state)
{
    struct lines *l = cycle(state, MS(30), MS(200), MS(800), MS(100), 1000);

    expect_verdict(l, "time.hard-reset-response", VERDICT_PASS);
    expect_verdict(l, "time.safe0v", VERDICT_PASS);
    expect_verdict(l, "time.src-recover", VERDICT_PASS);
    expect_verdict(l, "time.turn-on", VERDICT_PASS);
    expect_verdict(l, "time.first-caps", VERDICT_PASS);
    expect_only(l, "time.", NULL);
}

static void vbus_begins_to_fall_25_to_35_ms_after_a_hard_reset(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(26) + US(500), VERDICT_PASS }, { MS(33) + US(500), VERDICT_PASS },
        { MS(23) + US(500), VERDICT_FAIL }, { MS(36) + US(500), VERDICT_FAIL }, { MS(35), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(cycle(state, cases[k].ns, MS(200), MS(800), MS(100), 1000), "time.hard-reset-response", cases[k].verdict);
        lines_again(state);
    }
}

/* The same numbers, toward 0 V. */
static void a_fall_begins_between_20_mv_and_200_mv(void **state)
{
    static const struct { double mv; int64_t from_ns, jump_ns; unsigned verdict; } cases[] = {
        { 18, MS(20), MS(36) + US(500), VERDICT_FAIL },
        { 22, MS(20), MS(36) + US(500), VERDICT_UNDECIDED },
        { 180, MS(23) + US(500), MS(30), VERDICT_UNDECIDED },
        { 205, MS(23) + US(500), MS(30), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;

        nine_volts(&s, state);
        supply_load(&s, 1000);
        supply_hold(&s, MS(100));
        lines_reset(s.l, RECORD_HARD_RESET);
        wave_step(&s.w, s.l->now_ns + cases[k].from_ns, 9000 - cases[k].mv, 1000);
        wave_step(&s.w, s.l->now_ns + cases[k].jump_ns, 0, 0);
        supply_hold(&s, MS(600));
        supply_end(&s);
        expect_verdict(s.l, "time.hard-reset-response", cases[k].verdict);
        lines_again(state);
    }
}

/* Not down 35 + 650 + 100 ms after the reset; what it does later would be wrong as well: 0.9 s to go down, 0.4 s down, 0.3 s to come up. */
static void vbus_that_stays_after_a_reset_is_one_finding(void **state)
{
    struct lines *l = cycle(state, MS(30), MS(900), MS(400), MS(300), 1000);

    expect_verdict(l, "volt.safe0v-after-hard-reset", VERDICT_FAIL);
    expect_only(l, "time.", NULL);
    expect_verdict(l, "time.safe0v", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.src-recover", VERDICT_NOT_SEEN);
    expect_counts(l, "time.turn-on", 1, 0, 0); /* that of the attach */
}

/* Back 2.1 s after it was down, 2.0 s are allowed; down for 1.8 s, up in 0.3 s. */
static void vbus_that_is_not_back_in_time_is_one_finding(void **state)
{
    struct lines *l = cycle(state, MS(30), MS(200), MS(1800), MS(300), 1000);

    expect_verdict(l, "reset.hard-reset-vbus-cycle", VERDICT_FAIL);
    expect_only(l, "time.", NULL);
    expect_verdict(l, "time.src-recover", VERDICT_NOT_SEEN);
    expect_counts(l, "time.turn-on", 1, 0, 0);
}

/* Without a load the fall is so slow that its beginning does not show. */
static void a_slow_fall_without_load_is_not_called_late(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_reset(s.l, RECORD_HARD_RESET);
    wave_ramp(&s.w, s.l->now_ns + MS(30), s.l->now_ns + MS(630), 0);
    supply_hold(&s, MS(900));
    supply_end(&s);
    expect_verdict(s.l, "time.hard-reset-response", VERDICT_UNDECIDED);
}

/* 9 V falls by 13 V/s from 45 ms after the reset on; IBUS is 0 or not recorded; the trace may end before VBUS is down. */
static struct lines *falls_slowly(void **state, double load_ma, bool ibus_missing, int64_t watch_ns)
{
    struct played_supply s;

    nine_volts(&s, state);
    supply_load(&s, load_ma);
    supply_hold(&s, MS(100));
    s.ibus_missing = ibus_missing;
    lines_reset(s.l, RECORD_HARD_RESET);
    wave_ramp(&s.w, s.l->now_ns + MS(45), s.l->now_ns + MS(745), 0);
    supply_hold(&s, watch_ns);
    supply_end(&s);
    return s.l;
}

static void how_slow_the_fall_is_shows_before_it_is_over(void **state)
{
    expect_verdict(falls_slowly(state, 0, false, MS(300)), "time.hard-reset-response", VERDICT_UNDECIDED);
    lines_again(state);
    expect_verdict(falls_slowly(state, 1000, false, MS(300)), "time.hard-reset-response", VERDICT_FAIL);
}

static void a_load_that_nobody_measured_may_be_none(void **state)
{
    expect_verdict(falls_slowly(state, 1000, true, MS(600)), "time.hard-reset-response", VERDICT_UNDECIDED);
    lines_again(state);
    expect_verdict(falls_slowly(state, 1000, false, MS(600)), "time.hard-reset-response", VERDICT_FAIL);
}

static void vbus_falls_in_650_ms(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(648) + US(500), VERDICT_PASS }, { MS(652) + US(500), VERDICT_FAIL }, { MS(650), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = cycle(state, MS(30), cases[k].ns, MS(800), MS(100), 1000);

        expect_verdict(l, "time.safe0v", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_only(l, "time.", "time.safe0v");
        lines_again(state);
    }
}

static void vbus_stays_down_660_to_1000_ms(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(662), VERDICT_PASS }, { MS(998), VERDICT_PASS }, { MS(657), VERDICT_FAIL }, { MS(1003), VERDICT_FAIL },
        { MS(660), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(cycle(state, MS(30), MS(200), cases[k].ns, MS(100), 1000), "time.src-recover", cases[k].verdict);
        lines_again(state);
    }
}

/*
 * VBUS sinks through 0.8 V by 0.2 V/s and is noisy by 10 mV, far more than the instrument: so it is above and below again and again for
 * 100 ms. It rises 800 ms later. A jump to 3 V and back is no noise.
 */
static void noise_about_0v8_is_no_rise_and_a_jump_is_one(void **state)
{
    for (unsigned jump = 0; jump < 2; jump++) {
        struct played_supply s;

        nine_volts(&s, state);
        supply_load(&s, 1000);
        supply_hold(&s, MS(100));
        lines_reset(s.l, RECORD_HARD_RESET);
        int64_t low_ns = s.l->now_ns + MS(100);

        wave_step(&s.w, s.l->now_ns + MS(30), 700, 0);
        for (unsigned k = 0; k < 40; k++)
            wave_step(&s.w, low_ns + MS(2) * k, 804 - 0.4 * k + (k % 2 ? 10 : -10), 0);
        wave_step(&s.w, low_ns + MS(100), jump ? 3000 : 0, 0);
        wave_step(&s.w, low_ns + MS(105), 0, 0);
        wave_step(&s.w, low_ns + MS(800), 5000, 0);
        supply_hold(&s, MS(1100));
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "time.src-recover", jump ? VERDICT_FAIL : VERDICT_PASS);
        if (!jump)
            expect_only(s.l, "time.", NULL);
        lines_again(state);
    }
}

/* A trace that begins in a contract: VBUS stands at 9 V, and who knows in which mode. */
static void begins_in_contract(struct played_supply *s, void **state)
{
    *s = (struct played_supply){ .l = *state, .interval_ns = MS(1) };
    s->begin_ns = s->l->now_ns;
    lines_about(s->l, 255, PRECISE);
    wave_step(&s->w, s->l->now_ns - US(1), 9000, 1000);
    lines_wait(s->l, MS(200));
}

static void where_the_mode_is_not_known_both_windows_count(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(800), VERDICT_PASS }, { MS(1200), VERDICT_UNDECIDED }, { MS(1422), VERDICT_UNDECIDED }, { MS(1425), VERDICT_UNDECIDED },
        { MS(1428), VERDICT_FAIL }, { MS(657), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;

        begins_in_contract(&s, state);
        lines_reset(s.l, RECORD_HARD_RESET);
        wave_step(&s.w, s.l->now_ns + MS(30), 0, 0);
        wave_step(&s.w, s.l->now_ns + MS(30) + cases[k].ns, 5000, 0);
        supply_hold(&s, MS(50) + cases[k].ns);
        lines_caps(s.l, OBJECTS, caps);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "time.src-recover", cases[k].verdict);
        lines_again(state);
    }
}

/* 5 V, not 9: what the first Request seen changes from is not known by messages. */
static void an_early_move_from_an_unknown_contract_may_be_an_older_one(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(30), VERDICT_PASS }, { MS(20), VERDICT_UNDECIDED }, { MS(38), VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s = { .l = *state, .interval_ns = MS(1) };

        s.begin_ns = s.l->now_ns;
        lines_about(s.l, 255, PRECISE);
        wave_step(&s.w, s.l->now_ns - US(1), 5000, 0);
        lines_wait(s.l, MS(200));
        supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
        supply_move(&s, 9000, cases[k].ns + US(500), US(10), MS(60));
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "time.src-transition", cases[k].verdict);
        lines_again(state);
    }
}

static void vbus_comes_up_in_275_ms(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(273), VERDICT_PASS }, { MS(277) + US(500), VERDICT_FAIL }, { MS(275), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(cycle(state, MS(30), MS(200), MS(800), cases[k].ns, 1000), "time.turn-on", cases[k].verdict);
        lines_again(state);
    }
}

static void without_a_hard_reset_there_is_no_such_time(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    supply_end(&s);
    expect_verdict(s.l, "time.hard-reset-response", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "time.safe0v", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "time.src-recover", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "time.vbus-off-detach", VERDICT_NOT_SEEN);
}

/* time.vbus-on: VBUS jumps up so long after CC showed a partner; the first capabilities so long after that. */
static struct lines *comes_up(void **state, int64_t on_ns, int64_t caps_ns)
{
    struct played_supply s = { .l = *state, .interval_ns = MS(1) };
    int64_t              cc_ns;

    s.begin_ns = s.l->now_ns;
    lines_about(s.l, 255, PRECISE);
    lines_wait(s.l, MS(20));
    cc_ns = s.l->now_ns + MS(10);
    lines_attach(s.l);
    wave_step(&s.w, cc_ns + on_ns, 5000, 0);
    if (cc_ns + on_ns + caps_ns > s.l->now_ns)
        lines_wait(s.l, cc_ns + on_ns + caps_ns - s.l->now_ns);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    return s.l;
}

static void vbus_is_up_475_ms_after_the_attach(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(473), VERDICT_PASS }, { MS(477), VERDICT_FAIL }, { MS(475) + US(500), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(comes_up(state, cases[k].ns, MS(100)), "time.vbus-on", cases[k].verdict);
        lines_again(state);
    }
}

static void vbus_that_never_comes_after_an_attach_fails(void **state)
{
    struct played_supply s = { .l = *state, .interval_ns = MS(1) };

    s.begin_ns = s.l->now_ns;
    lines_about(s.l, 255, PRECISE);
    lines_wait(s.l, MS(20));
    lines_attach(s.l);
    supply_hold(&s, MS(800));
    lines_detach(s.l);
    supply_hold(&s, MS(100));
    supply_end(&s);
    expect_verdict(s.l, "time.vbus-on", VERDICT_FAIL);
}

static void the_first_capabilities_come_250_ms_after_vbus(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(248), VERDICT_PASS }, { MS(252), VERDICT_FAIL }, { MS(250), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(comes_up(state, MS(120), cases[k].ns), "time.first-caps", cases[k].verdict);
        lines_again(state);
    }
}

static void a_source_that_spoke_before_may_not_stay_silent(void **state)
{
    struct played_supply s;

    nine_volts(&s, state);
    lines_detach(s.l);
    wave_step(&s.w, s.l->now_ns + MS(100), 0, 0);
    supply_hold(&s, MS(500));
    int64_t cc_ns = s.l->now_ns + MS(10);

    lines_attach(s.l);
    wave_step(&s.w, cc_ns + MS(120), 5000, 0);
    supply_hold(&s, MS(1000));
    lines_detach(s.l);
    wave_step(&s.w, s.l->now_ns + MS(100), 0, 0);
    supply_hold(&s, MS(500));
    supply_end(&s);
    expect_counts(s.l, "time.first-caps", 1, 1, 0);
}

static void a_port_that_never_speaks_owes_no_capabilities(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_hold(&s, MS(1000));
    lines_detach(s.l);
    supply_hold(&s, MS(100));
    supply_end(&s);
    expect_verdict(s.l, "time.first-caps", VERDICT_NOT_SEEN);
}

/* time.vbus-off-detach */
static struct lines *goes_off(void **state, int64_t ns, bool by_mark)
{
    struct played_supply s;
    int64_t              t;

    if (by_mark) {
        s = (struct played_supply){ .l = *state, .interval_ns = MS(1) };
        s.begin_ns = s.l->now_ns;
        lines_about(s.l, 255, PRECISE);
        lines_wait(s.l, MS(20));
        wave_step(&s.w, s.l->now_ns + MS(10), 5000, 0);
        lines_wait(s.l, MS(100));
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(600));
        t = s.l->now_ns;
        lines_mark_by_hand(s.l, RECORD_UNPLUGGED, 0);
    } else {
        nine_volts(&s, state);
        t = s.l->now_ns;
        lines_detach(s.l);
    }
    wave_step(&s.w, t + ns, 0, 0);
    supply_hold(&s, ns + MS(800));
    supply_end(&s);
    return s.l;
}

static void vbus_is_off_670_ms_after_the_detach(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(668), VERDICT_PASS }, { MS(672), VERDICT_FAIL }, { MS(670), VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(goes_off(state, cases[k].ns, false), "time.vbus-off-detach", cases[k].verdict);
        lines_again(state);
    }
}

/* 2 s after a detach at the latest VBUS is down. */
static void vbus_that_stays_after_a_detach_is_one_finding(void **state)
{
    struct lines *l = goes_off(state, MS(2300), false);

    expect_verdict(l, "volt.safe0v-after-detach", VERDICT_FAIL);
    expect_verdict(l, "time.vbus-off-detach", VERDICT_NOT_SEEN);
}

static void a_mark_made_by_hand_does_not_say_when_the_plug_was_pulled(void **state)
{
    expect_verdict(goes_off(state, MS(1000), true), "time.vbus-off-detach", VERDICT_UNDECIDED);
}

static void what_is_read_at_the_sink_after_the_plug_was_pulled_says_nothing(void **state)
{
    static const struct { const char *where; unsigned verdict; } cases[] = { { "source", VERDICT_FAIL }, { "sink", VERDICT_UNDECIDED } };

    for (unsigned k = 0; k < 2; k++) {
        struct played_supply s;
        char                 about[200];

        snprintf(about, sizeof about, "{\"ports\":[{\"port\":0,\"volt_at\":\"%s\",\"path_mohm\":0}],\"instrument\":{\"time_ns\":0,"
                 "\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0}}}", cases[k].where);
        supply_attach(&s, *state, about);
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(600));
        wave_step(&s.w, s.l->now_ns + MS(900), 0, 0);
        lines_detach(s.l);
        supply_hold(&s, MS(1500));
        supply_end(&s);
        expect_verdict(s.l, "time.vbus-off-detach", cases[k].verdict);
        lines_again(state);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(a_move_26_5_to_33_5_ms_after_accept_passes),
        TEST(a_move_before_25_or_after_35_ms_fails),
        TEST(a_move_between_two_readings_about_the_limit_is_undecided),
        TEST(a_load_that_steps_before_the_move_leaves_it_undecided),
        TEST(a_move_begins_between_20_mv_and_200_mv),
        TEST(a_programmable_supply_may_move_when_it_likes),
        TEST(half_a_volt_is_no_change_to_speak_of),
        TEST(a_cycle_as_it_should_be_passes_everywhere),
        TEST(vbus_begins_to_fall_25_to_35_ms_after_a_hard_reset),
        TEST(a_fall_begins_between_20_mv_and_200_mv),
        TEST(vbus_that_stays_after_a_reset_is_one_finding),
        TEST(vbus_that_is_not_back_in_time_is_one_finding),
        TEST(a_slow_fall_without_load_is_not_called_late),
        TEST(how_slow_the_fall_is_shows_before_it_is_over),
        TEST(a_load_that_nobody_measured_may_be_none),
        TEST(vbus_falls_in_650_ms),
        TEST(vbus_stays_down_660_to_1000_ms),
        TEST(noise_about_0v8_is_no_rise_and_a_jump_is_one),
        TEST(where_the_mode_is_not_known_both_windows_count),
        TEST(an_early_move_from_an_unknown_contract_may_be_an_older_one),
        TEST(vbus_comes_up_in_275_ms),
        TEST(without_a_hard_reset_there_is_no_such_time),
        TEST(vbus_is_up_475_ms_after_the_attach),
        TEST(vbus_that_never_comes_after_an_attach_fails),
        TEST(the_first_capabilities_come_250_ms_after_vbus),
        TEST(a_source_that_spoke_before_may_not_stay_silent),
        TEST(a_port_that_never_speaks_owes_no_capabilities),
        TEST(vbus_is_off_670_ms_after_the_detach),
        TEST(vbus_that_stays_after_a_detach_is_one_finding),
        TEST(a_mark_made_by_hand_does_not_say_when_the_plug_was_pulled),
        TEST(what_is_read_at_the_sink_after_the_plug_was_pulled_says_nothing),
    };

    supply_usual(caps);
    return cmocka_run_group_tests_name("times with VBUS for an edge", tests, NULL, NULL);
}
