/*
 * VBUS of adjustable supplies and of the extended range: windows of SPR AVS, of 28, 36 and 48 V and of EPR AVS in EPR mode, and what
 * VBUS may be outside that mode. Limits typed from the catalogue: 5 % of the voltage asked for, half a volt more for a moment,
 * 21 V and 5 % outside EPR mode. Readings are exact to 2 mV.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { SPR_OBJECTS = 6, EPR_OBJECTS = 11, PPS_AT = 5, SPR_AVS_AT = 6, EPR_AVS_AT = 11 };
enum { EPR_EXIT = 0x05000000 }; /* EPR_Mode, action 5 */

static uint32_t caps[EPR_OBJECTS];

static void make_caps(void)
{
    static const unsigned mv[] = { 5000, 9000, 15000, 20000 }, epr_mv[] = { 28000, 36000, 48000 };

    for (unsigned k = 0; k < 4; k++)
        caps[k] = word_fixed(mv[k], 3000);
    caps[0] |= 1u << 23; /* EPR Capable */
    caps[PPS_AT - 1] = word_pps(3300, 21000, 3000);
    caps[SPR_AVS_AT - 1] = word_spr_avs(3000, 3000);
    caps[6] = 0;
    for (unsigned k = 0; k < 3; k++)
        caps[7 + k] = word_fixed(epr_mv[k], 5000);
    caps[EPR_AVS_AT - 1] = word_epr_avs(15000, 48000, 240);
}

/* An object of the standard range, at the voltage that it is asked for. */
static void in_spr(struct played_supply *s, void **state, uint32_t word, double mv)
{
    supply_attach(s, *state, NULL);
    supply_contract(s, SPR_OBJECTS, caps, word, mv);
}

/* ... of the extended range: first 5 V, then into the mode. */
static void in_epr(struct played_supply *s, void **state, unsigned position, uint32_t word, double mv)
{
    in_spr(s, state, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(s, MS(100));
    lines_enter_epr(s->l);
    lines_epr_caps(s->l, EPR_OBJECTS, caps);
    lines_epr_request(s->l, word, caps[position - 1]);
    s->accept_frame = lines_control(s->l, SIDE_SOURCE, CONTROL_ACCEPT);
    s->done_ns = s->l->now_ns - s->l->pause_ns;
    supply_move(s, mv, MS(30), MS(40), MS(100));
}

static uint32_t asked(unsigned position, unsigned mv)
{
    return position == SPR_AVS_AT || position == EPR_AVS_AT ? word_ask_avs(position, mv, 3000) : word_ask_fixed(position, 3000, 3000);
}

static void begin(struct played_supply *s, void **state, unsigned position, unsigned mv)
{
    if (position > 7)
        in_epr(s, state, position, asked(position, mv), mv);
    else
        in_spr(s, state, asked(position, mv), mv);
    supply_hold(s, MS(100));
}

static const struct { unsigned position, mv; double low_mv, high_mv; } windows[] = {
    { SPR_AVS_AT, 9000, 8550, 9450 },    { SPR_AVS_AT, 12300, 11685, 12915 }, { SPR_AVS_AT, 20000, 19000, 21000 },
    { 8, 28000, 26600, 29400 },          { 9, 36000, 34200, 37800 },          { 10, 48000, 45600, 50400 },
    { EPR_AVS_AT, 15000, 14250, 15750 }, { EPR_AVS_AT, 15100, 14345, 15855 }, { EPR_AVS_AT, 48000, 45600, 50400 },
};
enum { WINDOWS = sizeof windows / sizeof windows[0], NEAR_MV = 3, WIDE_MV = 500, PEAK_NEAR_MV = 6 };

/* The contract of windows[k] with VBUS at mv for ns; what this rule says of it, and no other of volt.* and epr.high-voltage-outside. */
static void stands(void **state, unsigned k, double mv, int64_t ns, const char *rule, bool inside)
{
    struct played_supply s;

    begin(&s, state, windows[k].position, windows[k].mv);
    wave_step(&s.w, s.l->now_ns, mv, 0);
    wave_step(&s.w, s.l->now_ns + ns, windows[k].mv, 0);
    supply_hold(&s, MS(400));
    supply_end(&s);
    expect_verdict(s.l, rule, inside ? VERDICT_PASS : VERDICT_FAIL);
    expect_only(s.l, "volt.", inside ? NULL : rule);
    expect_verdict(s.l, "epr.high-voltage-outside", VERDICT_PASS); /* of the contract before the mode, or of this one */
    lines_again(state);
}

static void static_values_of_adjustable_supplies_and_of_the_extended_range_within_5_percent(void **state)
{
    for (unsigned k = 0; k < WINDOWS; k++) {
        stands(state, k, windows[k].low_mv + NEAR_MV, MS(300), "volt.contract-window", true);
        stands(state, k, windows[k].low_mv - NEAR_MV, MS(300), "volt.contract-window", false);
        stands(state, k, windows[k].high_mv - NEAR_MV, MS(300), "volt.contract-window", true);
        stands(state, k, windows[k].high_mv + NEAR_MV, MS(300), "volt.contract-window", false);
    }
}

static void peaks_of_them_half_a_volt_beyond(void **state)
{
    for (unsigned k = 0; k < WINDOWS; k++) {
        stands(state, k, windows[k].low_mv - WIDE_MV + PEAK_NEAR_MV, MS(2), "volt.transient-window", true);
        stands(state, k, windows[k].low_mv - WIDE_MV - PEAK_NEAR_MV, MS(2), "volt.transient-window", false);
        stands(state, k, windows[k].high_mv + WIDE_MV - PEAK_NEAR_MV, MS(2), "volt.transient-window", true);
        stands(state, k, windows[k].high_mv + WIDE_MV + PEAK_NEAR_MV, MS(2), "volt.transient-window", false);
    }
}

/* PS_RDY while VBUS is a little short of its window, or just in it. */
static void ps_rdy_of_them_comes_with_vbus_in_its_window(void **state)
{
    for (unsigned k = 0; k < 2 * WINDOWS; k++) {
        struct played_supply s;
        double               mv = windows[k / 2].low_mv + (k % 2 ? NEAR_MV : -NEAR_MV);

        if (windows[k / 2].position > 7)
            in_epr(&s, state, windows[k / 2].position, asked(windows[k / 2].position, windows[k / 2].mv), mv);
        else
            in_spr(&s, state, asked(windows[k / 2].position, windows[k / 2].mv), mv);
        wave_ramp(&s.w, s.ready_ns + MS(10), s.ready_ns + MS(12), windows[k / 2].mv);
        supply_hold(&s, MS(700));
        supply_end(&s);
        expect_verdict(s.l, "volt.ready-inside-window", k % 2 ? VERDICT_PASS : VERDICT_FAIL);
        lines_again(state);
    }
}

/* epr.high-voltage-outside: 22.05 V, asked for as 21 V of a programmable supply before the mode, as 20 V after it. */
static void before_epr_mode_vbus_is_at_most_22_05_v(void **state)
{
    for (unsigned high = 0; high < 2; high++) {
        struct played_supply s;

        in_spr(&s, state, word_ask_pps(PPS_AT, 21000, 3000), 21000);
        supply_hold(&s, MS(100));
        wave_step(&s.w, s.l->now_ns, high ? 22053 : 22047, 0);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "epr.high-voltage-outside", high ? VERDICT_FAIL : VERDICT_PASS);
        expect_only(s.l, "pps.", NULL); /* one finding for one fault */
        lines_again(state);
    }
}

static void after_epr_mode_vbus_is_at_most_22_05_v(void **state)
{
    static const struct { double mv; unsigned verdict; } cases[] = { { 22047, VERDICT_PASS }, { 22053, VERDICT_FAIL }, { 28000, VERDICT_FAIL } };

    for (unsigned k = 0; k < 3; k++) {
        struct played_supply s;

        begin(&s, state, 8, 28000);
        lines_data(s.l, SIDE_SINK, DATA_EPR_MODE, 1, (const uint32_t[]){ EPR_EXIT });
        supply_ask(&s, SPR_OBJECTS, caps, word_ask_fixed(4, 3000, 3000));
        supply_move(&s, cases[k].mv, MS(30), MS(20), MS(100));
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_verdict(s.l, "epr.high-voltage-outside", cases[k].verdict);
        lines_again(state);
    }
}

/* In the mode 28 V, 36 V and 48 V are no more than what was asked for: only the contract before it counts. */
static void in_epr_mode_the_limit_of_the_standard_range_does_not_hold(void **state)
{
    for (unsigned position = 8; position <= 10; position++) {
        struct played_supply s;

        begin(&s, state, position, position == 8 ? 28000 : position == 9 ? 36000 : 48000);
        supply_hold(&s, MS(300));
        supply_end(&s);
        expect_counts(s.l, "epr.high-voltage-outside", 1, 0, 0);
        lines_again(state);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(static_values_of_adjustable_supplies_and_of_the_extended_range_within_5_percent),
        TEST(peaks_of_them_half_a_volt_beyond),
        TEST(ps_rdy_of_them_comes_with_vbus_in_its_window),
        TEST(before_epr_mode_vbus_is_at_most_22_05_v),
        TEST(after_epr_mode_vbus_is_at_most_22_05_v),
        TEST(in_epr_mode_the_limit_of_the_standard_range_does_not_hold),
    };

    make_caps();
    return cmocka_run_group_tests_name("VBUS of adjustable supplies and of the extended range", tests, NULL, NULL);
}
