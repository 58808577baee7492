/*
 * How often the rules about voltages and currents are wrong, where the instrument is as good as it says. Each trace has a gain and an
 * offset of its own, drawn from normal distributions with the standard uncertainties that its ABOUT states, and noise anew for every
 * reading; the true value is drawn evenly from the limit - 3 U to the limit + 3 U. Of devices truly inside less than 2.5 % may fail, of
 * those truly outside less than 2.5 % may pass (k = 2: ILAC-G8, ISO 14253-1); the same where the true value is at the limit but for U / 20.
 *
 * Limits are typed from the catalogue. U here is worked out apart from the rules: the root of the squares of twice gain and offset and of
 * k_n times the noise, phi(k_n) = 1 - 0.0228 / n for n values; it only says from where truths are drawn.
 *
 * STATISTICS_TRACES: traces for each limit and seed, 5000 for the whole of it. The table is printed.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = 4, SEEDS = 3, TRACES_SHORT = 30, METERS = 3, POWER_BIT = 1 << 8 };
static const double allowed = 0.025;

/* Standard uncertainties: noise above all, gain and offset above all, about the same of each. */
struct stated { double volt_gain, volt_mv, volt_noise_mv, amp_gain, amp_ma, amp_noise_ma; };
static const struct stated meters[METERS] = {
    { 0, 0.5, 8, 0, 0.5, 20 },
    { 1000e-6, 4, 0.5, 1000e-6, 4, 0.5 },
    { 300e-6, 2, 8, 500e-6, 2, 20 },
};
static const uint64_t seeds[SEEDS] = { UINT64_C(20260131), UINT64_C(271828182845), UINT64_C(1618033988749) };

static void make_caps(uint32_t caps[OBJECTS])
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_fixed(20000, 3000);
    caps[3] = word_pps(3300, 11000, 3000);
}

/* One trace in the making: s plays; about is what its instrument states. */
struct trial { struct played_supply s; struct meter meter; uint32_t caps[OBJECTS]; const char *about; };

static void begin(struct trial *t, struct lines *l)
{
    supply_attach(&t->s, l, t->about);
    t->s.w.meter = &t->meter;
}

static void fixed(struct trial *t, struct lines *l, unsigned position, double mv)
{
    begin(t, l);
    supply_contract(&t->s, OBJECTS, t->caps, word_ask_fixed(position, 3000, 3000), mv);
}

static void then(struct trial *t, double mv, double ma, int64_t ns)
{
    wave_step(&t->s.w, t->s.l->now_ns, mv, ma);
    supply_hold(&t->s, ns);
}

/* What is played, x being the true value (mV, mA, mV/us). */
static void before_a_contract(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    wave_step(&t->s.w, l->now_ns - MS(40), x, 0);
    supply_hold(&t->s, MS(100));
    supply_contract(&t->s, OBJECTS, t->caps, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(&t->s, MS(60));
}

static void in_a_contract(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    then(t, x, 0, MS(300));
}

/* VBUS is measured at the sink: 100 mOhm +- 5 mOhm (k = 1) and 2 A lie between. */
static void behind_a_cable(struct trial *t, struct lines *l, double x)
{
    double drop_mv = 2 * (100 + 5 * meter_normal(&t->meter));

    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    then(t, x - drop_mv, 2000, MS(300));
}

static void for_a_moment(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(120));
    wave_step(&t->s.w, l->now_ns, x, 0);
    wave_step(&t->s.w, l->now_ns + MS(1), 9000, 0);
    supply_hold(&t->s, MS(120));
}

/* Every other reading is at x, the rest so that the mean is in W. */
static void again_and_again(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    t->s.w.ripple.from_ns = l->now_ns;
    t->s.w.ripple.high_mv = x;
    t->s.w.ripple.low_mv = x > 9000 ? 8300 : 9700;
    supply_hold(&t->s, MS(300));
    t->s.w.ripple.to_ns = l->now_ns;
}

static void at_ps_rdy(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    supply_ask(&t->s, OBJECTS, t->caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&t->s, x, MS(30), MS(2), MS(60));
    supply_hold(&t->s, MS(20));
    then(t, 9000, 0, MS(300));
}

static void on_the_way_up(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    supply_ask(&t->s, OBJECTS, t->caps, word_ask_fixed(2, 3000, 3000));
    wave_ramp(&t->s.w, t->s.done_ns + MS(30), t->s.done_ns + MS(32), x);
    wave_step(&t->s.w, t->s.done_ns + MS(37), 9000, 0);
    lines_wait(l, t->s.done_ns + MS(60) - l->now_ns);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    supply_hold(&t->s, MS(200));
}

static void on_the_way_down(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(100));
    supply_ask(&t->s, 0, NULL, word_ask_fixed(1, 3000, 3000));
    wave_ramp(&t->s.w, t->s.done_ns + MS(30), t->s.done_ns + MS(32), x);
    wave_step(&t->s.w, t->s.done_ns + MS(37), 5000, 0);
    lines_wait(l, t->s.done_ns + MS(60) - l->now_ns);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    supply_hold(&t->s, MS(200));
}

static void at_turn_on(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    wave_step(&t->s.w, l->now_ns - MS(44), x, 0);
    wave_step(&t->s.w, l->now_ns - MS(34), 5000, 0);
    supply_hold(&t->s, MS(60));
    supply_contract(&t->s, OBJECTS, t->caps, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(&t->s, MS(60));
}

/* Readings every 20 us about the change, 4 V at x mV/us. */
static void slope(struct trial *t, struct lines *l, bool up, double x)
{
    if (up)
        begin(t, l);
    else
        fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    wave_write(l, &t->s.w, t->s.begin_ns, l->now_ns, MS(1), 100);
    t->s.begin_ns = l->now_ns;
    t->s.interval_ns = US(20);
    supply_ask(&t->s, up ? OBJECTS : 0, up ? t->caps : NULL, word_ask_fixed(up ? 2 : 1, 3000, 3000));
    supply_move(&t->s, up ? 9000 : 5000, MS(26), (int64_t)(4e6 / x), MS(28));
    supply_hold(&t->s, MS(52));
}

static void rises(struct trial *t, struct lines *l, double x)
{
    slope(t, l, true, x);
}

static void falls(struct trial *t, struct lines *l, double x)
{
    slope(t, l, false, x);
}

static void below_nothing(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 1, 5000);
    supply_hold(&t->s, MS(60));
    lines_detach(l);
    wave_ramp(&t->s.w, l->now_ns + MS(20), l->now_ns + MS(22), x);
    supply_hold(&t->s, MS(70));
    then(t, 0, 0, MS(200));
}

static void nothing_attached(struct trial *t, struct lines *l, double x)
{
    t->s = (struct played_supply){ .l = l, .begin_ns = l->now_ns, .interval_ns = MS(10), .w.meter = &t->meter };
    lines_about(l, 255, t->about);
    wave_step(&t->s.w, l->now_ns, x, 0);
    lines_cc(l, 0, 3);
    supply_hold(&t->s, MS(1500));
}

static void twenty_volts(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 3, 20000);
    supply_hold(&t->s, MS(60));
    then(t, x, 0, MS(300));
}

static void after_a_soft_reset(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(100));
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    then(t, x, 0, MS(60));
    wave_step(&t->s.w, l->now_ns, 9000, 0);
    supply_contract(&t->s, OBJECTS, t->caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&t->s, MS(60));
}

/* The level that was agreed on never comes; it stays at x. */
static void stays_away(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    supply_ask(&t->s, OBJECTS, t->caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&t->s, x, MS(30), MS(2), MS(60));
    supply_hold(&t->s, MS(700));
}

static void gives_in(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    then(t, 9000, 2000, MS(100));
    then(t, x, 2000, MS(30));
    then(t, 9000, 2000, MS(100));
}

static void another_level(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(120));
    then(t, x, 0, MS(400));
}

static void takes(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    then(t, 9000, x, MS(1000));
}

static void programmable(struct trial *t, struct lines *l, unsigned mv, unsigned ma, double vbus_mv, double ibus_ma)
{
    begin(t, l);
    supply_ask(&t->s, OBJECTS, t->caps, word_ask_pps(4, mv, ma));
    supply_move(&t->s, mv, MS(30), MS(2), MS(60));
    supply_hold(&t->s, MS(20)); /* still on its way */
    then(t, vbus_mv, ibus_ma, MS(400));
}

static void programmed_9_v(struct trial *t, struct lines *l, double x)
{
    programmable(t, l, 9000, 3000, x, 100);
}

static void programmed_3_36_v(struct trial *t, struct lines *l, double x)
{
    programmable(t, l, 3360, 3000, x, 100);
}

static void programmed_10_94_v(struct trial *t, struct lines *l, double x)
{
    programmable(t, l, 10940, 3000, x, 100);
}

static void at_its_current_limit(struct trial *t, struct lines *l, double x)
{
    programmable(t, l, 9000, 2000, 7000, x);
}

static void below_its_voltage(struct trial *t, struct lines *l, double x)
{
    programmable(t, l, 9000, 2000, 7500, x);
}

/* From 5 to 20 V VBUS turns back by x at 12 V. */
static void turns_back(struct trial *t, struct lines *l, double x)
{
    begin(t, l);
    supply_ask(&t->s, OBJECTS, t->caps, word_ask_fixed(3, 3000, 3000));
    int64_t at_ns = t->s.done_ns + MS(30);

    wave_ramp(&t->s.w, at_ns, at_ns + MS(8), 12000);
    wave_ramp(&t->s.w, at_ns + MS(10), at_ns + MS(12), 12000 - x);
    wave_ramp(&t->s.w, at_ns + MS(14), at_ns + MS(24), 20000);
    lines_wait(l, t->s.done_ns + MS(70) - l->now_ns);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    supply_hold(&t->s, MS(150));
}

/* Six steps of 40 mV were asked for; the fourth is one of x. */
static void makes_a_step_of(struct trial *t, struct lines *l, double x)
{
    unsigned mv = 9000;

    programmable(t, l, mv, 3000, mv, 100);
    for (unsigned k = 0; k < 6; k++) {
        mv += 40;
        supply_ask(&t->s, 0, NULL, word_ask_pps(4, mv, 3000));
        supply_move(&t->s, k >= 3 ? mv - 40 + x : mv, MS(2), MS(2), MS(15));
        supply_hold(&t->s, MS(100));
    }
    lines_detach(l);
    supply_hold(&t->s, MS(50));
}

static void says_status(struct trial *t, struct lines *l, double mv, double ma, unsigned told_mv, unsigned told_ma)
{
    const uint8_t status[4] = { (uint8_t)(told_mv / 20), (uint8_t)(told_mv / 20 >> 8), (uint8_t)(told_ma / 50), 0 };

    programmable(t, l, 9000, 2000, mv, ma);
    lines_control(l, SIDE_SINK, CONTROL_GET_PPS_STATUS);
    lines_extended(l, SIDE_SOURCE, EXTENDED_PPS_STATUS, status, sizeof status);
    supply_hold(&t->s, MS(100));
}

/* 9.48 V is told: 5 % and 40 mV more than 8990.48 mV, less than 9978.9 mV. */
static void says_9_48_v(struct trial *t, struct lines *l, double x)
{
    says_status(t, l, x, 1000, 9480, 1000);
}

/* 1.25 A is told, 200 mA more than 1.05 A. */
static void says_1_25_a(struct trial *t, struct lines *l, double x)
{
    says_status(t, l, 9000, x, 9000, 1250);
}

/* VBUS stands at x from 100 ms after a detach, or a Hard Reset, on. */
static void after_a_detach(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 1, 5000);
    supply_hold(&t->s, MS(60));
    lines_detach(l);
    t->s.interval_ns = MS(10);
    wave_ramp(&t->s.w, l->now_ns + MS(20), l->now_ns + MS(100), x);
    supply_hold(&t->s, MS(2300));
}

static void after_a_hard_reset(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 2, 9000);
    supply_hold(&t->s, MS(60));
    lines_reset(l, RECORD_HARD_RESET);
    wave_ramp(&t->s.w, l->now_ns + MS(30), l->now_ns + MS(100), x);
    supply_hold(&t->s, MS(1200));
}

/* The old source's PS_RDY in a swap of power roles: VBUS is at x. */
static void power_swap(struct trial *t, struct lines *l, double x)
{
    const uint32_t sink_caps[] = { word_fixed(5000, 1000) | UINT32_C(1) << 29 };

    t->caps[0] |= UINT32_C(1) << 29; /* dual-role power */
    fixed(t, l, 1, 5000);
    t->caps[0] &= ~(UINT32_C(1) << 29);
    lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, sink_caps);
    lines_control(l, SIDE_SINK, CONTROL_PR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    wave_ramp(&t->s.w, l->now_ns + MS(5), l->now_ns + MS(20), x);
    lines_wait(l, MS(40));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    supply_hold(&t->s, MS(10));
}

/* ... in a fast one: for 9 ms. */
static void fast_swap(struct trial *t, struct lines *l, double x)
{
    fixed(t, l, 1, 5000);
    supply_hold(&t->s, MS(60));
    lines_control(l, SIDE_SINK, CONTROL_FR_SWAP);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    wave_step(&t->s.w, l->now_ns + MS(2), x, 0);
    wave_step(&t->s.w, l->now_ns + MS(11), 5000, 0);
    supply_hold(&t->s, MS(20));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_PS_RDY, .flip = POWER_BIT });
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_PS_RDY, .flip = POWER_BIT, .goodcrc_flip = POWER_BIT });
    supply_hold(&t->s, MS(10));
}

/* values: how many of them, each the mean of so many readings, the verdict rests on. outside: 1 above the limit, -1 below. */
enum { VOLT, AMP, SLEW, TURN, STEP }; /* TURN, STEP: a difference of two values, in which an offset has no part */
struct scene {
    const char *rule, *words;
    double limit;
    int outside;
    unsigned unit, values, readings;
    void (*play)(struct trial *t, struct lines *l, double x);
    double path_mv; /* standard uncertainty of what the cable takes */
};
static const struct scene scenes[] = {
    { "volt.safe5v-before-contract", "4.75 V", 4750, -1, VOLT, 13, 10, before_a_contract, 0 },
    { "volt.safe5v-before-contract", "5.50 V", 5500, 1, VOLT, 13, 10, before_a_contract, 0 },
    { "volt.contract-window", "8.55 V", 8550, -1, VOLT, 30, 10, in_a_contract, 0 },
    { "volt.contract-window", "9.45 V", 9450, 1, VOLT, 30, 10, in_a_contract, 0 },
    { "volt.contract-window", "8.55 V at the sink", 8550, -1, VOLT, 30, 10, behind_a_cable, 10 },
    { "volt.transient-window", "8.05 V, once", 8050, -1, VOLT, 240, 1, for_a_moment, 0 },
    { "volt.transient-window", "9.95 V, once", 9950, 1, VOLT, 240, 1, for_a_moment, 0 },
    { "volt.transient-window", "8.05 V, often", 8050, -1, VOLT, 300, 1, again_and_again, 0 },
    { "volt.transient-window", "9.95 V, often", 9950, 1, VOLT, 300, 1, again_and_again, 0 },
    { "volt.ready-inside-window", "8.55 V", 8550, -1, VOLT, 1, 2, at_ps_rdy, 0 },
    { "volt.ready-inside-window", "9.45 V", 9450, 1, VOLT, 1, 2, at_ps_rdy, 0 },
    { "volt.level-not-reached", "8.05 V", 8050, -1, VOLT, 45, 10, stays_away, 0 },
    { "volt.level-not-reached", "9.95 V", 9950, 1, VOLT, 45, 10, stays_away, 0 },
    { "volt.overshoot", "9.95 V", 9950, 1, VOLT, 110, 1, on_the_way_up, 0 },
    { "volt.overshoot", "6.00 V, turn-on", 6000, 1, VOLT, 50, 1, at_turn_on, 0 },
    { "volt.undershoot", "4.25 V", 4250, -1, VOLT, 110, 1, on_the_way_down, 0 },
    { "volt.slew-up", "30 mV/us", 30, 1, SLEW, 7, 1, rises, 0 },
    { "volt.slew-down", "30 mV/us", 30, 1, SLEW, 7, 1, falls, 0 },
    { "volt.negative", "-0.30 V", -300, -1, VOLT, 50, 1, below_nothing, 0 },
    { "volt.cold-socket", "0.80 V", 800, 1, VOLT, 50, 1, nothing_attached, 0 },
    { "volt.unasked-change", "7.55 V", 7550, -1, VOLT, 1, 10, another_level, 0 },
    { "volt.drop-under-load", "8.05 V", 8050, -1, VOLT, 1, 1, gives_in, 0 },
    { "volt.sink-over-contract", "3.05 A", 3050, 1, AMP, 10, 100, takes, 0 },
    { "volt.reverse-current", "-50 mA", -50, -1, AMP, 10, 100, takes, 0 },
    { "pps.window", "8.55 V", 8550, -1, VOLT, 35, 10, programmed_9_v, 0 },
    { "pps.window", "9.45 V", 9450, 1, VOLT, 35, 10, programmed_9_v, 0 },
    { "pps.min-voltage", "3.135 V", 3135, -1, VOLT, 35, 10, programmed_3_36_v, 0 },
    { "pps.min-voltage", "3.528 V", 3528, 1, VOLT, 35, 10, programmed_3_36_v, 0 },
    { "pps.max-voltage", "10.393 V", 10393, -1, VOLT, 35, 10, programmed_10_94_v, 0 },
    { "pps.max-voltage", "11.55 V", 11550, 1, VOLT, 35, 10, programmed_10_94_v, 0 },
    { "pps.current-limit", "2.15 A", 2150, 1, AMP, 35, 10, at_its_current_limit, 0 },
    { "pps.limits-early", "1.85 A", 1850, -1, AMP, 35, 10, below_its_voltage, 0 },
    { "epr.high-voltage-outside", "22.05 V", 22050, 1, VOLT, 30, 10, twenty_volts, 0 },
    { "reset.soft-reset-keeps-vbus", "8.05 V", 8050, -1, VOLT, 65, 1, after_a_soft_reset, 0 },
    { "reset.soft-reset-keeps-vbus", "9.95 V", 9950, 1, VOLT, 65, 1, after_a_soft_reset, 0 },
    { "volt.monotonic", "200 mV", 200, 1, TURN, 120, 1, turns_back, 0 },
    { "pps.step-accuracy", "60 mV for 40 mV", 60, 1, STEP, 1, 90, makes_a_step_of, 0 },
    { "pps.step-accuracy", "20 mV for 40 mV", 20, -1, STEP, 1, 90, makes_a_step_of, 0 },
    { "pps.limit-flag", "9.48 V told", 9440 / 1.05, -1, VOLT, 6, 10, says_9_48_v, 0 },
    { "pps.limit-flag", "1.25 A told", 1050, -1, AMP, 6, 10, says_1_25_a, 0 },
    { "volt.safe0v-after-detach", "0.80 V", 800, 1, VOLT, 200, 1, after_a_detach, 0 },
    { "volt.safe0v-after-hard-reset", "0.80 V", 800, 1, VOLT, 700, 1, after_a_hard_reset, 0 },
    { "swap.pr-vbus-off", "0.80 V", 800, 1, VOLT, 1, 2, power_swap, 0 },
    { "swap.fr-vbus", "4.75 V", 4750, -1, VOLT, 9, 1, fast_swap, 0 },
};
enum { SCENES = sizeof scenes / sizeof scenes[0] };

/* phi(k) = 1 - 0.0228 / n, by halving. */
static double k_of(unsigned n)
{
    double low = 0, high = 10;

    for (unsigned step = 0; step < 60; step++) {
        double k = (low + high) / 2;

        if (0.5 * erfc(k / sqrt(2.0)) > 0.0228 / n)
            low = k;
        else
            high = k;
    }
    return low;
}

static double expanded(const struct scene *s, const struct stated *m)
{
    bool   amps = s->unit == AMP;
    double at = s->unit == SLEW ? 9000 : s->limit;
    double gain = 2 * at * (amps ? m->amp_gain : m->volt_gain), offset = 2 * (amps ? m->amp_ma : m->volt_mv);
    double noise = k_of(s->values) * (amps ? m->amp_noise_ma : m->volt_noise_mv) / sqrt(s->readings);
    double u = sqrt(gain * gain + offset * offset + noise * noise + 4 * s->path_mv * s->path_mv);

    if (s->unit == TURN) /* both of them picked */
        return sqrt(gain * gain + 4 * noise * noise);
    if (s->unit == STEP)
        return noise * sqrt(2) + 0.2; /* never nothing: 0.2 mV */
    return s->unit == SLEW ? 2 * u / 20 : u; /* of two readings 20 us apart */
}

/* Traces and wrong verdicts, truly inside and truly outside; far: by more than 2 U, and how many of those were decided rightly. */
struct tally { unsigned traces[2], wrong[2], far, right; };
struct row { struct tally even, edge; };

static void about_of(const struct scene *s, const struct stated *m, char *out, size_t room)
{
    snprintf(out, room, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":%.0f,\"offset_uv\":%.0f,\"noise_uv\":%.0f},"
                        "\"amp\":{\"gain_ppm\":%.0f,\"offset_ua\":%.0f,\"noise_ua\":%.0f}}%s}",
             m->volt_gain * 1e6, m->volt_mv * 1e3, m->volt_noise_mv * 1e3, m->amp_gain * 1e6, m->amp_ma * 1e3, m->amp_noise_ma * 1e3,
             s->path_mv > 0 ? ",\"ports\":[{\"port\":0,\"volt_at\":\"sink\",\"path_mohm\":100,\"path_mohm_u\":5}]" : "");
}

/* A change is judged apart from what came before it: any pass counts, where nothing failed. */
static unsigned verdict_of(const struct scene *s, const struct lines *l)
{
    struct result r = lines_result(l, s->rule);

    return s->unit == SLEW && r.counts.failed == 0 && r.counts.passed ? VERDICT_PASS : r.verdict;
}

static void one_trace(const struct scene *s, const struct stated *m, struct lines *l, struct trial *t, double x_u, struct tally *c)
{
    bool   outside = x_u * s->outside > 0;
    double x = s->limit + x_u * expanded(s, m);

    /* A step is one of the instrument's own volts: by the rule its gain does not count. */
    t->meter.volt_gain = s->unit == STEP ? 0 : m->volt_gain * meter_normal(&t->meter);
    t->meter.volt_mv = m->volt_mv * meter_normal(&t->meter);
    t->meter.amp_gain = m->amp_gain * meter_normal(&t->meter);
    t->meter.amp_ma = m->amp_ma * meter_normal(&t->meter);
    t->meter.volt_noise_mv = m->volt_noise_mv;
    t->meter.amp_noise_ma = m->amp_noise_ma;
    lines_clear(l);
    s->play(t, l, x);
    supply_end(&t->s);

    unsigned verdict = verdict_of(s, l);

    c->traces[outside]++;
    c->wrong[outside] += verdict == (outside ? VERDICT_PASS : VERDICT_FAIL);
    if (fabs(x_u) > 2) {
        c->far++;
        c->right += verdict == (outside ? VERDICT_FAIL : VERDICT_PASS);
    }
}

static void play_scene(const struct scene *s, struct lines *l, unsigned traces, struct row rows[METERS])
{
    for (unsigned seed = 0; seed < SEEDS; seed++) {
        struct trial t = { .meter.random = seeds[seed] ^ (uint64_t)(s - scenes + 1) << 32 };
        char         about[400];

        make_caps(t.caps);
        t.about = about;
        for (unsigned n = 0; n < traces; n++) {
            unsigned m = n % METERS;

            about_of(s, &meters[m], about, sizeof about);
            one_trace(s, &meters[m], l, &t, 6 * meter_even(&t.meter) - 3, &rows[m].even);
            one_trace(s, &meters[m], l, &t, n / METERS % 2 ? 0.05 : -0.05, &rows[m].edge);
        }
    }
}

static double share(unsigned wrong, unsigned of)
{
    return of ? (double)wrong / of : 0;
}

/* More wrong than chance makes of a true rate of 2.5 %, at three standard deviations. */
static bool too_many(unsigned wrong, unsigned of)
{
    return wrong > allowed * of + 3 * sqrt(allowed * (1 - allowed) * of);
}

static struct tally sum(const struct row rows[METERS], bool edge)
{
    struct tally all = { .far = 0 };

    for (unsigned m = 0; m < METERS; m++) {
        const struct tally *c = edge ? &rows[m].edge : &rows[m].even;

        for (unsigned side = 0; side < 2; side++) {
            all.traces[side] += c->traces[side];
            all.wrong[side] += c->wrong[side];
        }
        all.far += c->far;
        all.right += c->right;
    }
    return all;
}

static bool scene_is_right(const struct scene *s, const struct row rows[METERS], bool whole)
{
    struct tally even = sum(rows, false), edge = sum(rows, true);
    bool         right = true;

    printf("%-28s %-19s %6u %5.2f %6u %5.2f %6u %5.2f %6u %5.2f %5.1f\n", s->rule, s->words, even.traces[0],
           100 * share(even.wrong[0], even.traces[0]), even.traces[1], 100 * share(even.wrong[1], even.traces[1]), edge.traces[0],
           100 * share(edge.wrong[0], edge.traces[0]), edge.traces[1], 100 * share(edge.wrong[1], edge.traces[1]),
           100 * share(even.right, even.far));
    for (unsigned side = 0; side < 2; side++) {
        right = right && !too_many(even.wrong[side], even.traces[side]) && !too_many(edge.wrong[side], edge.traces[side]);
        if (whole)
            right = right && share(even.wrong[side], even.traces[side]) < allowed && share(edge.wrong[side], edge.traces[side]) < allowed;
        for (unsigned m = 0; m < METERS; m++)
            if (too_many(rows[m].even.wrong[side], rows[m].even.traces[side]) || too_many(rows[m].edge.wrong[side], rows[m].edge.traces[side])) {
                printf("    instrument %u, truly %s: %u of %u wrong, at the limit %u of %u\n", m, side ? "outside" : "inside",
                       rows[m].even.wrong[side], rows[m].even.traces[side], rows[m].edge.wrong[side], rows[m].edge.traces[side]);
                right = false;
            }
    }
    return right && even.right >= 0.9 * even.far; /* and beyond 2 U it does decide */
}

static void wrong_verdicts_are_rarer_than_2_5_percent(void **state)
{
    const char *asked = getenv("STATISTICS_TRACES"), *only = getenv("STATISTICS_RULE");
    unsigned    traces = asked ? (unsigned)atoi(asked) : TRACES_SHORT, bad = 0;

    printf("%-28s %-19s %-12s %-12s %-12s %-12s %s\n", "", "", "truly inside", "truly outside", "just inside", "just outside", "right");
    printf("%-28s %-19s %12s %12s %12s %12s %s\n", "rule", "limit", "% failed", "% passed", "% failed", "% passed", "beyond 2 U");
    for (unsigned k = 0; k < SCENES; k++) {
        struct row rows[METERS] = { { .even.far = 0 } };

        if (only && !strstr(scenes[k].rule, only))
            continue;
        play_scene(&scenes[k], *state, traces, rows);
        bad += !scene_is_right(&scenes[k], rows, traces >= 5000);
    }
    assert_int_equal(bad, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(wrong_verdicts_are_rarer_than_2_5_percent),
    };

    return cmocka_run_group_tests_name("How often the rules about VBUS and current are wrong", tests, NULL, NULL);
}
