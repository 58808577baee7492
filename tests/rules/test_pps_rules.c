/*
 * pps.*: passed, failed, undecided, not seen, and just inside and outside of each limit. Limits typed from the catalogue: 5 % of the
 * voltage asked for; at the ends of the object 0.95 times its least and 1.05 times its greatest voltage; iPpsCLNew 150 mA up to 3 A,
 * 5 % above; 0.85 times the least voltage; steps of 20 to 100 mV within 20 mV; a reset within 1 s; PPS_Status: bit 3 of byte 3, 5 % and
 * 40 mV, 200 mA; 12 s of silence.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = 2 };
static uint32_t caps[OBJECTS];

static void make_caps(void)
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_pps(3300, 11000, 5000);
}

/* A PPS contract at mv and ma; a load of load_ma. */
static void point(struct played_supply *s, void **state, unsigned mv, unsigned ma, double load_ma)
{
    supply_attach(s, *state, NULL);
    supply_ask(s, OBJECTS, caps, word_ask_pps(2, mv, ma));
    supply_move(s, mv, MS(30), MS(2), MS(60));
    supply_load(s, load_ma);
    supply_hold(s, MS(60));
}

/* The operating point asked for, VBUS and current as given. */
static struct lines *stands(void **state, unsigned ask_mv, unsigned ask_ma, double mv, double ma)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_pps(2, ask_mv, ask_ma));
    supply_move(&s, ask_mv, MS(30), MS(2), MS(60));
    supply_hold(&s, MS(20)); /* still on its way */
    wave_step(&s.w, s.l->now_ns, mv, ma);
    supply_hold(&s, MS(600));
    supply_end(&s);
    return s.l;
}

static void the_voltage_asked_for_within_5_percent(void **state)
{
    static const struct { unsigned ask_mv; double mv; const char *rule; unsigned verdict; } cases[] = {
        { 9000, 8553, "pps.window", VERDICT_PASS }, { 9000, 8547, "pps.window", VERDICT_FAIL },
        { 9000, 9447, "pps.window", VERDICT_PASS }, { 9000, 9453, "pps.window", VERDICT_FAIL },
        { 9000, 9450, "pps.window", VERDICT_UNDECIDED },
        /* 3.36 V is within 100 mV of 3.3 V: 3.135 to 3.528 V */
        { 3360, 3138, "pps.min-voltage", VERDICT_PASS }, { 3360, 3132, "pps.min-voltage", VERDICT_FAIL },
        { 3360, 3525, "pps.min-voltage", VERDICT_PASS }, { 3360, 3531, "pps.min-voltage", VERDICT_FAIL },
        { 3360, 3528, "pps.min-voltage", VERDICT_UNDECIDED },
        /* 10.94 V is within 100 mV of 11 V: 10.393 to 11.55 V */
        { 10940, 10396, "pps.max-voltage", VERDICT_PASS }, { 10940, 10390, "pps.max-voltage", VERDICT_FAIL },
        { 10940, 11547, "pps.max-voltage", VERDICT_PASS }, { 10940, 11553, "pps.max-voltage", VERDICT_FAIL },
        { 10940, 11550, "pps.max-voltage", VERDICT_UNDECIDED },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        static const char *const all[] = { "pps.window", "pps.min-voltage", "pps.max-voltage" };
        struct lines *l = stands(state, cases[k].ask_mv, 3000, cases[k].mv, 100);

        for (unsigned n = 0; n < 3; n++)
            expect_verdict(l, all[n], strcmp(all[n], cases[k].rule) == 0 ? cases[k].verdict : VERDICT_NOT_SEEN);
        lines_again(state);
    }
}

static void while_it_limits_the_low_side_is_not_judged(void **state)
{
    struct lines *l = stands(state, 9000, 2000, 8000, 1990);

    expect_verdict(l, "pps.window", VERDICT_NOT_SEEN);
    expect_verdict(l, "pps.current-limit", VERDICT_PASS);
    expect_verdict(l, "pps.limits-early", VERDICT_PASS);
}

/* Below the window under a load it sags before its limit; without one its voltage is wrong. One finding for one fault. */
static void a_voltage_too_low_is_told_once(void **state)
{
    struct lines *l = stands(state, 9000, 2000, 8500, 250);

    expect_only(l, "pps.", "pps.limits-early");
    lines_again(state);
    l = stands(state, 9000, 2000, 8500, 150);
    expect_only(l, "pps.", "pps.window");
}

/* What another rule tells of is not told again: another level, a voltage that belongs to EPR mode, VBUS after a Soft_Reset. */
static void what_another_rule_tells_of_is_told_once(void **state)
{
    static const struct { unsigned ask_mv; double mv; const char *rule; } cases[] = {
        { 9000, 7000, "volt.unasked-change" }, { 20000, 22200, "epr.high-voltage-outside" }, { 21000, 22200, "epr.high-voltage-outside" },
    };
    const uint32_t wide[OBJECTS] = { caps[0], word_pps(3300, 21000, 3000) };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;

        supply_attach(&s, *state, NULL);
        supply_ask(&s, OBJECTS, wide, word_ask_pps(2, cases[k].ask_mv, 3000));
        supply_move(&s, cases[k].ask_mv, MS(30), MS(20), MS(60));
        supply_hold(&s, MS(200));
        wave_step(&s.w, s.l->now_ns, cases[k].mv, 0);
        supply_hold(&s, MS(600));
        supply_end(&s);
        expect_verdict(s.l, cases[k].rule, VERDICT_FAIL);
        expect_only(s.l, "pps.", NULL);
        lines_again(state);
    }
}

/* ... at either end of the range and between. */
static void what_the_soft_reset_rule_tells_of_is_told_once(void **state)
{
    static const unsigned points[] = { 9000, 3360, 10940 };

    for (unsigned k = 0; k < 3; k++) {
        struct played_supply s;

        point(&s, state, points[k], 2000, 0);
        supply_hold(&s, MS(100));
        lines_control(s.l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_control(s.l, SIDE_SINK, CONTROL_ACCEPT);
        wave_step(&s.w, s.l->now_ns, points[k] * 0.75, 0);
        supply_hold(&s, MS(40));
        wave_step(&s.w, s.l->now_ns, points[k], 0);
        supply_ask(&s, OBJECTS, caps, word_ask_fixed(1, 3000, 3000));
        supply_move(&s, 5000, MS(30), MS(2), MS(60));
        supply_hold(&s, MS(200));
        supply_end(&s);
        expect_verdict(s.l, "reset.soft-reset-keeps-vbus", VERDICT_FAIL);
        expect_only(s.l, "pps.", NULL);
        lines_again(state);
    }
}

static void below_1_a_the_low_side_is_not_judged(void **state)
{
    expect_verdict(stands(state, 9000, 900, 8500, 50), "pps.window", VERDICT_PASS);
    lines_again(state);
    expect_verdict(stands(state, 9000, 900, 9500, 50), "pps.window", VERDICT_FAIL);
}

static void without_a_current_the_low_side_is_not_judged(void **state)
{
    struct played_supply s;

    point(&s, state, 9000, 3000, 0);
    wave_step(&s.w, s.l->now_ns, 8500, 0);
    s.ibus_missing = true;
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "pps.window", VERDICT_PASS);
    expect_verdict(s.l, "pps.current-limit", VERDICT_NOT_SEEN);
}

static void a_fixed_contract_is_none_of_theirs(void **state)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_contract(&s, OBJECTS, caps, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_only(s.l, "pps.", NULL);
    expect_verdict(s.l, "pps.window", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "pps.step-accuracy", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "pps.monotonic", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "pps.limit-no-reset", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "pps.limit-flag", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "pps.timeout-action", VERDICT_NOT_SEEN);
}

/* pps.current-limit: 2 A and 150 mA; 4 A and 5 %: 200 mA. */
static void the_current_stays_at_its_limit(void **state)
{
    static const struct { unsigned ask_ma; double ma; unsigned verdict; } cases[] = {
        { 2000, 2145, VERDICT_PASS }, { 2000, 2155, VERDICT_FAIL }, { 2000, 2150, VERDICT_UNDECIDED },
        { 4000, 4195, VERDICT_PASS }, { 4000, 4205, VERDICT_FAIL },
        { 2000, 1800, VERDICT_NOT_SEEN }, /* it has not come to it */
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(stands(state, 9000, cases[k].ask_ma, cases[k].ma > cases[k].ask_ma ? 7000 : 9000, cases[k].ma), "pps.current-limit",
                       cases[k].verdict);
        lines_again(state);
    }
}

static void below_0_85_of_its_least_voltage_it_may_do_as_it_likes(void **state)
{
    expect_verdict(stands(state, 9000, 2000, 2795, 3000), "pps.current-limit", VERDICT_NOT_SEEN); /* 2.805 V */
    lines_again(state);
    expect_verdict(stands(state, 9000, 2000, 2815, 3000), "pps.current-limit", VERDICT_FAIL);
}

/* pps.limits-early: VBUS sags although less than 2 A less 150 mA flow. */
static void it_does_not_sag_before_its_limit(void **state)
{
    static const struct { double mv, ma; unsigned verdict; } cases[] = {
        { 8200, 1855, VERDICT_PASS }, { 8200, 1845, VERDICT_FAIL }, { 8200, 1850, VERDICT_UNDECIDED }, { 8800, 1500, VERDICT_NOT_SEEN },
        { 8000, 1845, VERDICT_NOT_SEEN }, /* not even in the wide window: volt.level-not-reached tells of it */
        { 3200, 1500, VERDICT_NOT_SEEN }, /* below the object's least voltage */
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(stands(state, 9000, 2000, cases[k].mv, cases[k].ma), "pps.limits-early", cases[k].verdict);
        lines_again(state);
    }
}

/* From 240 mA below the limit to it, somewhere through the 10 ms of a static value: it holds both, and is no sag. */
static void the_moment_at_which_the_limit_sets_in_is_no_sag(void **state)
{
    struct played_supply s;

    for (int ms = 1; ms < 20; ms++) {
        point(&s, state, 9000, 2000, 1760);
        supply_hold(&s, MS(200 + ms));
        wave_step(&s.w, s.l->now_ns, 7000, 2000);
        supply_hold(&s, MS(300));
        wave_step(&s.w, s.l->now_ns, 9000, 1760);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "pps.limits-early", VERDICT_PASS);
        lines_again(state);
    }
}

/* Ten steps of step_mv; the k-th is off by off_mv. */
static struct lines *steps(void **state, const char *about, unsigned count, int step_mv, double off_mv, double load_ma)
{
    struct played_supply s;
    unsigned             mv = 9000;

    supply_attach(&s, *state, about);
    supply_ask(&s, OBJECTS, caps, word_ask_pps(2, mv, 3000));
    supply_move(&s, mv, MS(30), MS(2), MS(60));
    supply_hold(&s, MS(200));
    for (unsigned k = 0; k < count; k++) {
        mv = (unsigned)((int)mv + step_mv);
        supply_ask(&s, 0, NULL, word_ask_pps(2, mv, 3000));
        supply_move(&s, mv + (k >= 3 ? off_mv : 0), MS(2), MS(2), MS(15));
        if (k == 3)
            supply_load(&s, load_ma);
        supply_hold(&s, MS(200));
    }
    lines_detach(s.l);
    supply_hold(&s, MS(50));
    supply_end(&s);
    return s.l;
}

static void small_steps_have_the_size_that_was_asked_for(void **state)
{
    expect_counts(steps(state, NULL, 8, 20, 0, 0), "pps.step-accuracy", 1, 0, 0);
    lines_again(state);
    expect_counts(steps(state, NULL, 8, 20, 18, 0), "pps.step-accuracy", 1, 0, 0);
    lines_again(state);
    expect_counts(steps(state, NULL, 8, 20, 22, 0), "pps.step-accuracy", 0, 1, 0);
    lines_again(state);
    expect_counts(steps(state, NULL, 8, -20, -22, 0), "pps.step-accuracy", 0, 1, 0);
}

static void four_steps_are_no_run_and_five_are(void **state)
{
    expect_verdict(steps(state, NULL, 4, 20, 0, 0), "pps.step-accuracy", VERDICT_NOT_SEEN);
    lines_again(state);
    expect_verdict(steps(state, NULL, 5, 20, 0, 0), "pps.step-accuracy", VERDICT_PASS);
    lines_again(state);
    expect_verdict(steps(state, NULL, 8, 120, 0, 0), "pps.step-accuracy", VERDICT_NOT_SEEN); /* too large */
}

#define NOISY "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":300000}," \
              "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}"
static void steps_below_the_noise_are_undecided(void **state)
{
    struct lines *l = steps(state, NOISY, 8, 20, 0, 0);

    expect_verdict(l, "pps.step-accuracy", VERDICT_UNDECIDED);
    expect_verdict(l, "pps.monotonic", VERDICT_UNDECIDED);
}

static void more_asked_for_is_not_less_given(void **state)
{
    expect_verdict(steps(state, NULL, 8, 20, 0, 0), "pps.monotonic", VERDICT_PASS);
    lines_again(state);
    expect_verdict(steps(state, NULL, 8, 20, -25, 0), "pps.monotonic", VERDICT_FAIL);
    lines_again(state);
    expect_verdict(steps(state, NULL, 8, -20, 25, 0), "pps.monotonic", VERDICT_FAIL);
}

static void a_load_that_changes_explains_a_step(void **state)
{
    expect_counts(steps(state, NULL, 8, 20, -25, 1000), "pps.monotonic", 7, 0, 0);
}

/* pps.limit-no-reset */
static struct lines *trips(void **state, double mv, double ma, int64_t wait_ns, bool reset, bool sink)
{
    struct played_supply s;

    point(&s, state, 9000, 2000, ma);
    wave_step(&s.w, s.l->now_ns, mv, ma);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 9000, 500);
    supply_hold(&s, wait_ns);
    if (sink)
        lines_request(s.l, word_ask_pps(2, 9000, 2000));
    if (sink)
        supply_hold(&s, MS(24));
    if (reset) {
        lines_reset(s.l, RECORD_HARD_RESET);
        wave_step(&s.w, s.l->now_ns + MS(30), 0, 0);
    }
    supply_hold(&s, MS(600));
    supply_end(&s);
    return s.l;
}

static void a_supply_that_limits_and_goes_on_passes(void **state)
{
    expect_verdict(trips(state, 7000, 2000, MS(300), false, false), "pps.limit-no-reset", VERDICT_PASS);
}

static void a_reset_while_it_limits_whose_sender_is_not_known_is_undecided(void **state)
{
    expect_verdict(trips(state, 7000, 2000, MS(300), true, false), "pps.limit-no-reset", VERDICT_UNDECIDED);
}

static void a_reset_a_second_after_it_limited_has_nothing_to_do_with_it(void **state)
{
    expect_verdict(trips(state, 7000, 2000, MS(960), true, false), "pps.limit-no-reset", VERDICT_UNDECIDED);
    lines_again(state);
    expect_verdict(trips(state, 7000, 2000, MS(1005), true, false), "pps.limit-no-reset", VERDICT_PASS);
}

static void a_reset_of_the_sink_is_not_held_against_the_source(void **state)
{
    expect_verdict(trips(state, 7000, 2000, MS(300), true, true), "pps.limit-no-reset", VERDICT_NOT_SEEN);
}

/* VBUS below 0.85 times its least voltage just before: the source itself (the catalogue's section 6). */
static void a_source_that_gives_up_while_it_limits_fails(void **state)
{
    struct played_supply s;

    point(&s, state, 9000, 2000, 2000);
    wave_step(&s.w, s.l->now_ns, 7000, 2000);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 2000, 500);
    supply_hold(&s, MS(40));
    lines_reset(s.l, RECORD_HARD_RESET);
    wave_step(&s.w, s.l->now_ns + MS(30), 0, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "pps.limit-no-reset", VERDICT_FAIL);
}

/* One finding for one fault: what the current did is not told beside it. */
static void a_source_that_gives_up_while_it_limits_is_told_of_once(void **state)
{
    struct played_supply s;

    point(&s, state, 9000, 2000, 2500);
    wave_step(&s.w, s.l->now_ns, 7000, 2500);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 2000, 500);
    supply_hold(&s, MS(40));
    lines_reset(s.l, RECORD_HARD_RESET);
    wave_step(&s.w, s.l->now_ns + MS(30), 0, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_only(s.l, "pps.", "pps.limit-no-reset");
}

/* The reset is the sink's: what the current did before it counts. */
static void too_much_current_before_a_reset_of_the_sink_fails(void **state)
{
    expect_verdict(trips(state, 7000, 2500, MS(300), true, true), "pps.current-limit", VERDICT_FAIL);
}

static void a_supply_that_never_limits_is_not_judged(void **state)
{
    expect_verdict(trips(state, 9000, 1000, MS(300), false, false), "pps.limit-no-reset", VERDICT_NOT_SEEN);
}

/* pps.limit-flag: PPS_Status says volts (units of 20 mV), current (50 mA) and the flag. */
static struct lines *says_of(void **state, unsigned ask_ma, double mv, double ma, unsigned told_mv, unsigned told_ma, bool flag, int64_t interval_ns)
{
    const uint8_t status[4] = { (uint8_t)(told_mv / 20), (uint8_t)(told_mv / 20 >> 8), (uint8_t)(told_ma / 50), flag ? 0x08 : 0 };
    struct played_supply s;

    point(&s, state, 9000, ask_ma, ma);
    wave_step(&s.w, s.l->now_ns, mv, ma);
    supply_hold(&s, MS(300));
    lines_control(s.l, SIDE_SINK, CONTROL_GET_PPS_STATUS);
    lines_extended(s.l, SIDE_SOURCE, EXTENDED_PPS_STATUS, status, sizeof status);
    supply_hold(&s, MS(300));
    s.interval_ns = interval_ns;
    supply_end(&s);
    return s.l;
}

static struct lines *says(void **state, double mv, double ma, unsigned told_mv, unsigned told_ma, bool flag, int64_t interval_ns)
{
    return says_of(state, 2000, mv, ma, told_mv, told_ma, flag, interval_ns);
}

/* It limits within 150 mA of 2 A, within 5 % of 4 A. */
static void pps_status_tells_of_the_limit_within_its_tolerance(void **state)
{
    static const struct { unsigned ask_ma; double ma; unsigned verdict; } cases[] = {
        { 2000, 1852, VERDICT_FAIL }, { 2000, 1848, VERDICT_NOT_SEEN }, { 4000, 3802, VERDICT_FAIL }, { 4000, 3798, VERDICT_NOT_SEEN },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(says_of(state, cases[k].ask_ma, 7000, cases[k].ma, 7000, (unsigned)cases[k].ma, false, MS(1)), "pps.limit-flag",
                       cases[k].verdict);
        lines_again(state);
    }
}

static void pps_status_says_what_is(void **state)
{
    static const struct { double mv, ma; unsigned told_mv, told_ma; bool flag; unsigned verdict; } cases[] = {
        { 9000, 1000, 9000, 1000, false, VERDICT_PASS },
        { 9000, 1000, 9000, 1000, true, VERDICT_FAIL },   /* it does not limit */
        { 7000, 2000, 7000, 2000, true, VERDICT_PASS },
        { 7000, 2000, 7000, 2000, false, VERDICT_FAIL },
        { 7000, 1870, 7000, 1870, true, VERDICT_PASS },   /* within 150 mA of 2 A: it limits */
        { 7000, 1870, 7000, 1870, false, VERDICT_FAIL },
        { 9000, 1800, 9000, 1800, true, VERDICT_NOT_SEEN }, /* neither limiting nor clearly not */
        { 9000, 1000, 9480, 1000, false, VERDICT_PASS },  /* 5 % and 40 mV: 490 mV */
        { 9000, 1000, 9500, 1000, false, VERDICT_FAIL },
        { 9000, 1005, 9000, 1200, false, VERDICT_PASS },
        { 9000, 1000, 9000, 1200, false, VERDICT_UNDECIDED }, /* 200 mA, give or take 2 mA */
        { 9000, 1055, 9000, 1250, false, VERDICT_PASS },
        { 8990, 1000, 9480, 1000, false, VERDICT_UNDECIDED }, /* 490 mV, and 489.5 mV are allowed, give or take 2 mV */
        { 8985, 1000, 9480, 1000, false, VERDICT_FAIL },
        { 9000, 1000, 9000, 1250, false, VERDICT_FAIL },
        { 9000, 1000, 0xffff * 20, 0xff * 50, false, VERDICT_PASS }, /* it does not know */
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        expect_verdict(says(state, cases[k].mv, cases[k].ma, cases[k].told_mv, cases[k].told_ma, cases[k].flag, MS(1)), "pps.limit-flag",
                       cases[k].verdict);
        lines_again(state);
    }
}

/* What is told may be of any moment of those 50 ms. */
static void pps_status_after_the_load_was_taken_away_tells_of_before_or_after(void **state)
{
    static const struct { unsigned told_ma, verdict; } cases[] = { { 0, VERDICT_PASS }, { 1000, VERDICT_PASS }, { 1250, VERDICT_FAIL } };

    for (unsigned k = 0; k < 3; k++) {
        const uint8_t status[4] = { (uint8_t)(9000 / 20 & 0xff), 9000 / 20 >> 8, (uint8_t)(cases[k].told_ma / 50), 0 };
        struct played_supply s;

        point(&s, state, 9000, 2000, 1000);
        supply_hold(&s, MS(200));
        supply_load(&s, 0);
        supply_hold(&s, MS(8));
        lines_control(s.l, SIDE_SINK, CONTROL_GET_PPS_STATUS);
        lines_extended(s.l, SIDE_SOURCE, EXTENDED_PPS_STATUS, status, sizeof status);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "pps.limit-flag", cases[k].verdict);
        lines_again(state);
    }
}

/* Read at the sink's end of 150 mOhm, 4 A away: 600 mV less than at the source, which tells what is there. */
static void pps_status_tells_of_the_sources_end_of_the_path(void **state)
{
    static const struct { unsigned told_mv, verdict; } cases[] = { { 9000, VERDICT_PASS }, { 8400, VERDICT_FAIL } };
    static const char about[] = "{\"ports\":[{\"port\":0,\"volt_at\":\"sink\",\"path_mohm\":150,\"path_mohm_u\":1}],\"instrument\":{\"time_ns\":0,"
                                "\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0},\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}";

    for (unsigned k = 0; k < 2; k++) {
        const uint8_t status[4] = { (uint8_t)(cases[k].told_mv / 20 & 0xff), (uint8_t)(cases[k].told_mv / 20 >> 8), 4000 / 50, 0 };
        struct played_supply s;

        supply_attach(&s, *state, about);
        supply_ask(&s, OBJECTS, caps, word_ask_pps(2, 9000, 5000));
        supply_move(&s, 9000, MS(30), MS(2), MS(60));
        wave_step(&s.w, s.l->now_ns, 9000 - 600, 4000);
        supply_hold(&s, MS(300));
        lines_control(s.l, SIDE_SINK, CONTROL_GET_PPS_STATUS);
        lines_extended(s.l, SIDE_SOURCE, EXTENDED_PPS_STATUS, status, sizeof status);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "pps.limit-flag", cases[k].verdict);
        lines_again(state);
    }
}

static void where_the_50_ms_before_were_not_read_pps_status_is_undecided(void **state)
{
    expect_verdict(says(state, 9000, 1000, 9000, 1000, false, MS(100)), "pps.limit-flag", VERDICT_UNDECIDED);
}

/* pps.timeout-action: after so long a silence the source says this. */
static struct lines *ends_silence(void **state, int64_t ns, unsigned what, bool lost)
{
    struct played_supply s;

    point(&s, state, 9000, 2000, 500);
    s.interval_ns = MS(100);
    supply_hold(&s, ns);
    if (lost)
        lines_lost(s.l, 3);
    if (what == CONTROL_SOFT_RESET)
        lines_control(s.l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    else if (what == 0)
        lines_reset(s.l, RECORD_HARD_RESET);
    else
        lines_caps(s.l, OBJECTS, caps);
    supply_hold(&s, MS(500));
    supply_end(&s);
    return s.l;
}

static void a_silence_that_ends_in_a_hard_reset_passes(void **state)
{
    expect_verdict(ends_silence(state, MS(13000), 0, false), "pps.timeout-action", VERDICT_PASS);
}

static void a_silence_that_ends_in_anything_else_fails(void **state)
{
    expect_verdict(ends_silence(state, MS(13000), CONTROL_SOFT_RESET, false), "pps.timeout-action", VERDICT_FAIL);
    lines_again(state);
    expect_verdict(ends_silence(state, MS(13000), 1, false), "pps.timeout-action", VERDICT_FAIL);
}

/* VBUS goes away, and CC says that it is still attached; or it was unplugged. */
static void a_silence_that_ends_in_no_vbus_fails(void **state)
{
    for (unsigned unplugged = 0; unplugged < 2; unplugged++) {
        struct played_supply s;

        point(&s, state, 9000, 2000, 500);
        s.interval_ns = MS(20);
        supply_hold(&s, MS(13000));
        if (unplugged)
            lines_detach(s.l);
        wave_step(&s.w, s.l->now_ns, 0, 0);
        supply_hold(&s, MS(500));
        supply_end(&s);
        expect_verdict(s.l, "pps.timeout-action", unplugged ? VERDICT_NOT_SEEN : VERDICT_FAIL);
        lines_again(state);
    }
}

/* ... and none of 16 s is told of beside time.pps-timeout. */
static void a_silence_that_went_on_too_long_is_told_of_once(void **state)
{
    struct lines *l = ends_silence(state, MS(16000), CONTROL_SOFT_RESET, false);

    expect_verdict(l, "time.pps-timeout", VERDICT_FAIL);
    expect_verdict(l, "pps.timeout-action", VERDICT_NOT_SEEN);
}

static void a_silence_below_12_s_is_none(void **state)
{
    expect_verdict(ends_silence(state, MS(11800), CONTROL_SOFT_RESET, false), "pps.timeout-action", VERDICT_NOT_SEEN);
    lines_again(state);
    expect_verdict(ends_silence(state, MS(12010), CONTROL_SOFT_RESET, false), "pps.timeout-action", VERDICT_FAIL);
}

static void where_records_are_missing_just_before_it_is_undecided(void **state)
{
    expect_verdict(ends_silence(state, MS(13000), CONTROL_SOFT_RESET, true), "pps.timeout-action", VERDICT_UNDECIDED);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(the_voltage_asked_for_within_5_percent),
        TEST(while_it_limits_the_low_side_is_not_judged),
        TEST(a_voltage_too_low_is_told_once),
        TEST(what_another_rule_tells_of_is_told_once),
        TEST(what_the_soft_reset_rule_tells_of_is_told_once),
        TEST(below_1_a_the_low_side_is_not_judged),
        TEST(without_a_current_the_low_side_is_not_judged),
        TEST(a_fixed_contract_is_none_of_theirs),
        TEST(the_current_stays_at_its_limit),
        TEST(below_0_85_of_its_least_voltage_it_may_do_as_it_likes),
        TEST(it_does_not_sag_before_its_limit),
        TEST(the_moment_at_which_the_limit_sets_in_is_no_sag),
        TEST(small_steps_have_the_size_that_was_asked_for),
        TEST(four_steps_are_no_run_and_five_are),
        TEST(steps_below_the_noise_are_undecided),
        TEST(more_asked_for_is_not_less_given),
        TEST(a_load_that_changes_explains_a_step),
        TEST(a_supply_that_limits_and_goes_on_passes),
        TEST(a_reset_while_it_limits_whose_sender_is_not_known_is_undecided),
        TEST(a_reset_a_second_after_it_limited_has_nothing_to_do_with_it),
        TEST(a_reset_of_the_sink_is_not_held_against_the_source),
        TEST(a_source_that_gives_up_while_it_limits_fails),
        TEST(a_source_that_gives_up_while_it_limits_is_told_of_once),
        TEST(too_much_current_before_a_reset_of_the_sink_fails),
        TEST(a_supply_that_never_limits_is_not_judged),
        TEST(pps_status_tells_of_the_limit_within_its_tolerance),
        TEST(pps_status_says_what_is),
        TEST(pps_status_after_the_load_was_taken_away_tells_of_before_or_after),
        TEST(pps_status_tells_of_the_sources_end_of_the_path),
        TEST(where_the_50_ms_before_were_not_read_pps_status_is_undecided),
        TEST(a_silence_that_ends_in_a_hard_reset_passes),
        TEST(a_silence_that_ends_in_anything_else_fails),
        TEST(a_silence_that_ends_in_no_vbus_fails),
        TEST(a_silence_that_went_on_too_long_is_told_of_once),
        TEST(a_silence_below_12_s_is_none),
        TEST(where_records_are_missing_just_before_it_is_undecided),
    };

    make_caps();
    return cmocka_run_group_tests_name("programmable supplies", tests, NULL, NULL);
}
