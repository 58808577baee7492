/*
 * What VBUS did, in numbers: each is worked out here by hand from the lines that VBUS and IBUS are drawn along. 9 V fixed: window 8.55
 * to 9.45 V, with vSrcValid 8.05 to 9.95 V (the catalogue, volt.*). The straight line: the first of the four sets of F. J. Anscombe,
 * Graphs in Statistical Analysis, 1973, with the slope and the standard error printed there.
 */
#include "rules/volt_table_inside.h"
#include "tests/rules/wave.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = 3, KEPT = 16 };

static struct kept_volts {
    unsigned         lines, steps;
    struct volt_line line[KEPT];
    struct volt_step step[KEPT];
} kept;

static void take_line(void *context, const struct volt_line *l)
{
    (void)context;
    assert_true(kept.lines < KEPT);
    kept.line[kept.lines++] = *l;
}

static void take_step(void *context, const struct volt_step *s)
{
    (void)context;
    assert_true(kept.steps < KEPT);
    kept.step[kept.steps++] = *s;
}

static void make_caps(uint32_t *caps)
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_pps(3300, 11000, 3000);
}

static void attach_and_ask(struct played_supply *s, void **state, const char *about, int64_t interval_ns)
{
    uint32_t caps[OBJECTS];

    make_caps(caps);
    supply_attach(s, *state, about);
    s->interval_ns = interval_ns;
    supply_ask(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
}

/* Writes the readings and plays the trace, for the numbers. */
static void play(struct played_supply *s, int64_t since_ns, int64_t until_ns)
{
    struct engine_options options = { .since_ns = since_ns, .until_ns = until_ns, .volts = take_line, .load_step = take_step };

    memset(&kept, 0, sizeof kept);
    supply_end_with(s, &options);
}

static void play_all(struct played_supply *s)
{
    play(s, INT64_MIN, INT64_MAX);
}

/* An attach and a contract for 9 V; 9 V from then on, 60 ms in. */
static void nine_volts(struct played_supply *s, void **state, const char *about, int64_t interval_ns)
{
    attach_and_ask(s, state, about, interval_ns);
    supply_move(s, 9000, MS(30), MS(2), MS(60));
    supply_hold(s, MS(60));
}

static void holds(const struct volt_time *t, int64_t ns, int64_t width_ns)
{
    if (t->least_ns > ns || t->most_ns < ns || t->most_ns - t->least_ns > width_ns)
        fail_msg("%lld .. %lld is not %lld to within %lld", (long long)t->least_ns, (long long)t->most_ns, (long long)ns, (long long)width_ns);
}

static void static_values_have_a_median_extremes_and_a_margin(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    wave_step(&s.w, s.l->now_ns, 9010, 0);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 9020, 0);
    supply_hold(&s, MS(100));
    play_all(&s);
    assert_int_equal(kept.lines, 1);
    const struct volt_line *l = &kept.line[0];

    assert_true(l->agreed);
    assert_int_equal(l->contract.mv, 9000);
    assert_int_equal(l->contract.ended_by, CONTRACT_TRACE_END);
    assert_in_range(l->statics, 39, 42);
    assert_true(l->median_known);
    assert_int_equal(l->median_uv, 9010000); /* more than half of them */
    assert_in_range(l->least.uv, 9000000, 9010000);
    assert_int_equal(l->most.uv, 9020000);
    assert_true(l->margin.known);
    assert_false(l->margin.low);
    assert_int_equal(l->margin.uv, 430000);            /* 9.45 less 9.02 V */
    assert_in_range(l->margin.u_uv, 1999, 2001);       /* 2 x an offset of 1 mV */
    assert_int_equal(l->outside.most_ns, 0);
    assert_int_equal(l->spacing_ns, MS(1));
}

static void a_margin_beyond_the_window_is_negative_and_time_outside_is_counted(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    wave_step(&s.w, s.l->now_ns, 8500, 0);
    supply_hold(&s, MS(40));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 9500, 0);
    supply_hold(&s, MS(20));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(100));
    play_all(&s);
    const struct volt_line *l = &kept.line[0];

    assert_true(l->margin.low || l->margin.uv == -50000);
    assert_int_equal(l->margin.uv, -50000);
    holds(&l->outside, MS(60), 4 * MS(1));
    assert_int_equal(l->outside_count, 2);
    assert_int_equal(l->lowest.uv, 8500000);
    assert_int_equal(l->highest.uv, 9500000);
}

static void near_a_limit_the_time_outside_is_open(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    wave_step(&s.w, s.l->now_ns, 9451, 0); /* 1 mV beyond, known to 2 mV */
    supply_hold(&s, MS(50));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(50));
    play_all(&s);
    assert_int_equal(kept.line[0].outside.least_ns, 0);
    assert_in_range(kept.line[0].outside.most_ns, MS(50), MS(52));
    assert_int_equal(kept.line[0].outside_count, 0);
}

static void a_change_has_its_times(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    supply_hold(&s, MS(100));
    play_all(&s);
    const struct volt_change *v = &kept.line[0].change;

    assert_true(v->seen && v->level && v->first && v->timed && v->moved && v->reached && !v->inside);
    assert_int_equal(v->accept_frame, s.accept_frame);
    assert_int_equal(v->ready_frame, s.ready_frame);
    holds(&v->ready, MS(60), US(10));
    holds(&v->move, MS(30) + US(10), 2 * MS(1));     /* 20 mV to 200 mV of 4 V in 2 ms: 10 to 100 us after 30 ms */
    holds(&v->reach, MS(30) + US(1775), 2 * MS(1));  /* 3.55 of 4 V in 2 ms */
    assert_int_equal(v->highest.uv, 9000000);
    assert_int_equal(v->lowest.uv, 5000000);
    assert_int_equal(v->over_uv, 0);
    assert_int_equal(v->under_uv, 0);
    assert_true(v->slow); /* a fifth of 4 V at 30 mV/us is 27 us */
}

static void an_overshoot_is_a_least_amount_until_readings_are_close(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct played_supply s;
        int64_t              interval_ns = k ? US(20) : US(100);

        attach_and_ask(&s, state, NULL, interval_ns);
        supply_move(&s, 9000, MS(30), MS(2), MS(60));
        wave_step(&s.w, s.done_ns + MS(35), 9600, 0);
        wave_step(&s.w, s.done_ns + MS(35) + US(500), 9000, 0);
        supply_hold(&s, MS(100));
        play_all(&s);
        const struct volt_change *v = &kept.line[0].change;

        assert_int_equal(v->over_uv, 150000);
        holds(&v->over, US(500), 2 * interval_ns + US(1));
        assert_int_equal(v->slow, k == 0);
        assert_int_equal(v->under_uv, 0);
        holds(&v->reach, MS(35) + US(500), 2 * interval_ns + US(10)); /* before, it did not stay */
        lines_teardown(state);
        lines_setup(state);
    }
}

static void what_arrives_late_is_told_all_the_same(void **state)
{
    struct played_supply s;

    attach_and_ask(&s, state, NULL, MS(1));
    supply_move(&s, 9000, MS(105), MS(2), MS(35));
    supply_hold(&s, MS(300));
    play_all(&s);
    const struct volt_change *v = &kept.line[0].change;

    assert_true(v->moved && v->reached && v->late && !v->inside);
    holds(&v->move, MS(105) + US(10), 2 * MS(1));
    holds(&v->reach, MS(105) + US(1775), 2 * MS(1));
    holds(&kept.line[0].outside, MS(105 - 35 - 50) + US(1775), 4 * MS(1)); /* from 50 ms after PS_RDY on */
}

static void what_never_arrives_is_not_reached(void **state)
{
    struct played_supply s;

    attach_and_ask(&s, state, NULL, MS(1));
    supply_move(&s, 8000, MS(30), MS(2), MS(60));
    supply_hold(&s, MS(300));
    play_all(&s);
    assert_true(kept.line[0].change.moved);
    assert_false(kept.line[0].change.reached);
}

static void an_accept_without_ps_rdy_is_told_by_itself(void **state)
{
    struct played_supply s;

    attach_and_ask(&s, state, NULL, MS(1));
    wave_ramp(&s.w, s.done_ns + MS(30), s.done_ns + MS(32), 9000);
    supply_hold(&s, MS(1500));
    play_all(&s);
    assert_int_equal(kept.lines, 1);
    assert_false(kept.line[0].agreed);
    assert_int_equal(kept.line[0].change.ready_frame, 0);
    assert_int_equal(kept.line[0].change.asked.mv, 9000);
    assert_true(kept.line[0].change.moved);
}

/* 9 V less 42 mohm at each of these currents for 100 ms. */
static void under_loads(struct played_supply *s, double ohm, unsigned count, const double *ma)
{
    for (unsigned k = 0; k < count; k++) {
        wave_step(&s->w, s->l->now_ns, 9000 - ma[k] * ohm, ma[k]);
        supply_hold(s, MS(100));
    }
}

static void the_slope_under_load_is_told_with_its_uncertainty(void **state)
{
    static const double  ma[] = { 0, 1000, 2000, 3000 };
    static const char    gains[] = "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":1000,\"offset_uv\":50000,\"noise_uv\":0},"
                                   "\"amp\":{\"gain_ppm\":1000,\"offset_ua\":50000,\"noise_ua\":0}}}";

    for (unsigned k = 0; k < 2; k++) {
        struct played_supply s;

        nine_volts(&s, state, k ? gains : NULL, MS(1));
        under_loads(&s, 0.042, 4, ma);
        play_all(&s);
        const struct volt_slope *slope = &kept.line[0].slope;

        assert_int_equal(slope->state, SLOPE_KNOWN);
        assert_true(fabs(slope->mohm - 42) < 0.01);
        if (k == 0)
            assert_true(slope->u_mohm < 0.01);
        else /* 2 x 42 x the root of two shares of 0.1 %, offsets do not count */
            assert_true(fabs(slope->u_mohm - 0.1188) < 0.001);
        assert_int_equal(slope->lightest.ua, 0);
        assert_int_equal(slope->heaviest.ua, 3000000);
        assert_int_equal(slope->heaviest.uv, 8874000);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void loads_that_are_nearly_alike_have_no_slope(void **state)
{
    static const double  ma[] = { 100, 200, 300, 340 };
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    wave_step(&s.w, s.begin_ns + MS(20), 0, 100);
    under_loads(&s, 0.042, 4, ma);
    play_all(&s);
    assert_int_equal(kept.line[0].slope.state, SLOPE_NARROW);
}

static void without_a_current_there_is_no_slope_and_no_step(void **state)
{
    static const double  ma[] = { 0, 2000 };
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    under_loads(&s, 0.042, 2, ma);
    s.ibus_missing = true;
    play_all(&s);
    assert_int_equal(kept.line[0].slope.state, SLOPE_NO_CURRENT);
    assert_int_equal(kept.steps, 0);
    assert_true(kept.line[0].statics > 15);
}

static void what_is_read_at_the_sink_is_told_for_the_source(void **state)
{
    static const double  ma[] = { 0, 1500, 3000 };
    static const char    known[] = "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0},"
                                   "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}},"
                                   "\"ports\":[{\"port\":0,\"volt_at\":\"sink\",\"path_mohm\":100,\"path_mohm_u\":5}]}";
    struct played_supply s;

    nine_volts(&s, state, known, MS(1));
    under_loads(&s, 0.100, 3, ma); /* all of it in the path */
    play_all(&s);
    const struct volt_line *l = &kept.line[0];

    assert_true(l->at_sink && l->path_known);
    assert_int_equal(l->least.uv, 9000000);
    assert_int_equal(l->most.uv, 9000000);
    assert_int_equal(l->slope.state, SLOPE_KNOWN);
    assert_true(fabs(l->slope.mohm) < 0.01);
    assert_true(fabs(l->slope.u_mohm - 10) < 0.1); /* 2 x 5 */
}

static void a_path_that_is_not_known_has_no_slope(void **state)
{
    static const double  ma[] = { 0, 1500, 3000 };
    static const char    unknown[] = "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0}},"
                                     "\"ports\":[{\"port\":0,\"volt_at\":\"sink\"}]}";
    struct played_supply s;

    nine_volts(&s, state, unknown, MS(1));
    under_loads(&s, 0.100, 3, ma);
    play_all(&s);
    assert_int_equal(kept.line[0].slope.state, SLOPE_PATH);
    assert_int_equal(kept.line[0].least.uv, 8700000); /* nothing is added */
}

/* From no load to 2 A; VBUS at dip_mv for so long, then 8.95 V. */
static void step_up(struct played_supply *s, void **state, double dip_mv, int64_t dip_ns, int64_t *at_ns)
{
    nine_volts(s, state, NULL, US(100));
    supply_hold(s, MS(50));
    *at_ns = s->l->now_ns;
    wave_step(&s->w, *at_ns, dip_mv, 2000);
    wave_step(&s->w, *at_ns + dip_ns, 8950, 2000);
    supply_hold(s, MS(200));
    play_all(s);
    assert_int_equal(kept.steps, 1);
}

static void a_load_step_has_a_dip_and_a_recovery(void **state)
{
    struct played_supply s;
    int64_t              at_ns;

    step_up(&s, state, 8700, MS(2), &at_ns);
    const struct volt_step *step = &kept.step[0];

    assert_true(step->up && step->settled && step->recovered && !step->in_band);
    assert_true(step->from_ns < at_ns && at_ns <= step->to_ns && step->to_ns - step->from_ns <= US(101));
    assert_int_equal(step->from_ua, 0);
    assert_int_equal(step->to_ua, 2000000);
    assert_int_equal(step->before_uv, 9000000);
    assert_int_equal(step->final_uv, 8950000);
    assert_int_equal(step->extreme.uv, 8700000);
    assert_int_equal(step->depth_uv, 250000);  /* below the lower one of before and after */
    holds(&step->recovery, MS(2), US(301));
    assert_int_equal(step->outside.most_ns, 0);
    assert_int_equal(step->contract_frame, s.ready_frame);
    assert_int_equal(kept.line[0].steps.up, 1);
    assert_int_equal(kept.line[0].steps.deepest.depth_uv, 250000);
}

static void a_deep_dip_counts_its_time_outside_of_both_windows(void **state)
{
    struct played_supply s;
    int64_t              at_ns;

    step_up(&s, state, 8000, MS(3), &at_ns);
    assert_int_equal(kept.step[0].depth_uv, 950000);
    holds(&kept.step[0].outside, MS(3), US(200) + 1);
    holds(&kept.step[0].beyond, MS(3), US(200) + 1);
    lines_teardown(state);
    lines_setup(state);
    step_up(&s, state, 8400, MS(1), &at_ns);
    holds(&kept.step[0].outside, MS(1), US(200) + 1);
    assert_int_equal(kept.step[0].beyond.most_ns, 0);
}

static void a_step_without_a_dip_says_so(void **state)
{
    struct played_supply s;
    int64_t              at_ns;

    step_up(&s, state, 8950, MS(1), &at_ns);
    assert_int_equal(kept.step[0].depth_uv, 0);
    assert_true(kept.step[0].in_band && kept.step[0].recovered);
    assert_int_equal(kept.step[0].spacing_ns, US(100));
}

static void a_load_that_goes_makes_vbus_rise(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, US(100));
    wave_step(&s.w, s.l->now_ns - MS(30), 8950, 2000);
    supply_hold(&s, MS(50));
    int64_t at_ns = s.l->now_ns;

    wave_step(&s.w, at_ns, 9300, 100);
    wave_step(&s.w, at_ns + MS(4), 9000, 100);
    supply_hold(&s, MS(200));
    play_all(&s);
    assert_int_equal(kept.steps, 1); /* the first one came before 50 ms after PS_RDY */
    assert_false(kept.step[0].up);
    assert_int_equal(kept.step[0].depth_uv, 300000);
    assert_int_equal(kept.step[0].from_ua, 2000000);
    assert_int_equal(kept.step[0].to_ua, 100000);
    holds(&kept.step[0].recovery, MS(4), US(301));
    assert_int_equal(kept.line[0].steps.down, 1);
}

static void a_step_cut_short_by_the_next_did_not_settle(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, US(100));
    supply_hold(&s, MS(50));
    wave_step(&s.w, s.l->now_ns, 8900, 2000);
    supply_hold(&s, MS(8));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(200));
    play_all(&s);
    assert_int_equal(kept.steps, 2);
    assert_false(kept.step[0].settled);
    assert_true(kept.step[1].settled);
    assert_int_equal(kept.step[1].before_uv, 8900000);
    assert_int_equal(kept.line[0].steps.unsettled, 1);
}

static void what_does_not_come_back_is_not_called_recovered(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    supply_hold(&s, MS(50));
    wave_step(&s.w, s.l->now_ns, 8600, 2000);
    for (unsigned k = 0; k < 20; k++) { /* 300 mV up and down every 4 ms */
        supply_hold(&s, MS(4));
        wave_step(&s.w, s.l->now_ns, 8900, 2000);
        supply_hold(&s, MS(4));
        wave_step(&s.w, s.l->now_ns, 8600, 2000);
    }
    supply_hold(&s, MS(50));
    play_all(&s);
    assert_int_equal(kept.steps, 1);
    assert_true(kept.step[0].settled);
    assert_false(kept.step[0].recovered);
    assert_int_equal(kept.line[0].steps.unrecovered, 1);
}

static void between_readings_too_far_apart_no_step_is_told(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(20));
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 8900, 2000);
    supply_hold(&s, MS(200));
    play_all(&s);
    assert_int_equal(kept.steps, 0);
    assert_int_equal(kept.line[0].steps.coarse, 1);
    assert_int_equal(kept.line[0].thinnest, 1);
}

static void overloads_are_left_out(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    wave_step(&s.w, s.l->now_ns, 8300, 3400);
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 9000, 1000);
    supply_hold(&s, MS(100));
    play_all(&s);
    assert_in_range(kept.line[0].left_out, 8, 10);
    assert_int_equal(kept.line[0].least.uv, 9000000);
    assert_int_equal(kept.line[0].lowest.uv, 8300000);
}

static void a_pps_at_its_limit_is_left_out(void **state)
{
    struct played_supply s;
    uint32_t             caps[OBJECTS];

    make_caps(caps);
    supply_attach(&s, *state, NULL);
    supply_contract(&s, OBJECTS, caps, word_ask_pps(3, 9000, 2000), 9000);
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 7000, 2000);
    supply_hold(&s, MS(100));
    play_all(&s);
    assert_in_range(kept.line[0].left_out, 8, 10);
    assert_int_equal(kept.line[0].least.uv, 9000000);
}

static void renewals_do_not_part_a_contract(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    for (unsigned k = 0; k < 3; k++) {
        supply_hold(&s, MS(100));
        supply_contract(&s, 0, NULL, word_ask_fixed(2, 3000, 3000), 9000);
    }
    supply_hold(&s, MS(100));
    play_all(&s);
    assert_int_equal(kept.lines, 1);
    assert_int_equal(kept.line[0].contract.renewed, 3);
    assert_true(kept.line[0].change.first); /* of the first Request */
}

static void outside_of_since_and_until_nothing_counts(void **state)
{
    struct played_supply s;
    int64_t              split_ns;

    nine_volts(&s, state, NULL, MS(1));
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 9500, 0);
    supply_hold(&s, MS(100));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(50));
    split_ns = s.l->now_ns;
    supply_hold(&s, MS(100));
    play(&s, split_ns, INT64_MAX);
    assert_int_equal(kept.lines, 1);
    assert_false(kept.line[0].change.seen);
    assert_int_equal(kept.line[0].most.uv, 9000000);
    assert_int_equal(kept.line[0].outside.most_ns, 0);
    assert_in_range(kept.line[0].readings, 98, 102);
}

static void readings_beyond_all_reason_do_no_harm(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    for (unsigned k = 0; k < 12; k++) {
        wave_step(&s.w, s.l->now_ns, k % 2 ? 2147483 : 900, k % 3 ? 2147483 : -2147483);
        supply_hold(&s, MS(13));
    }
    play_all(&s);
    assert_int_equal(kept.lines, 1);
    assert_int_equal(kept.steps, 8); /* each time the current turns */
    assert_int_equal(kept.line[0].highest.uv, 2147483000);
}

static void where_nobody_asks_nothing_is_told(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL, MS(1));
    memset(&kept, 0, sizeof kept);
    supply_end(&s);
    assert_int_equal(kept.lines, 0);
}

/* The parts alone. */

static void medians_are_right_to_half_a_millivolt(void **state)
{
    (void)state;
    static struct volt_bins b;
    unsigned made = 0;
    int64_t  uv = 0;

    assert_false(volt_bins_median(&b, &uv));
    for (int64_t k = 1; k <= 1001; k++)
        volt_bins_take(&b, &made, 4000000 + k * 1300);
    assert_true(volt_bins_median(&b, &uv));
    assert_in_range(uv, 4000000 + 501 * 1300 - 500, 4000000 + 501 * 1300 + 500);
    volt_bins_clear(&b);
    volt_bins_take(&b, &made, 5000000);
    volt_bins_take(&b, &made, 9000000);
    assert_true(volt_bins_median(&b, &uv));
    assert_int_equal(uv, 7000000); /* of two the middle */
    volt_bins_clear(&b);
    volt_bins_take(&b, &made, -300400);
    assert_true(volt_bins_median(&b, &uv));
    assert_int_equal(uv, -300000);
    volt_bins_free(&b);
}

static void without_room_there_is_no_median(void **state)
{
    (void)state;
    static struct volt_bins b;
    unsigned made = BIN_PIECES_ALL;
    int64_t  uv = 0;

    volt_bins_take(&b, &made, 5000000);
    assert_false(volt_bins_median(&b, &uv));
    volt_bins_take(&b, &made, INT64_MAX / 2);
    volt_bins_take(&b, &made, INT64_MIN / 2);
    assert_false(volt_bins_median(&b, &uv));
    volt_bins_free(&b);
}

static void a_published_line_is_found_with_its_standard_error(void **state)
{
    (void)state;
    static const double x[] = { 10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5 };
    static const double y[] = { 8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68 };
    struct volt_sums    sums = { .n = 0 };
    double              ohm = 0, u_ohm = 0;

    for (unsigned k = 0; k < 11; k++) { /* falling, on top of 20 V: the slope is the same */
        const struct volt_value v = { .uv = 20000000 - (int64_t)llround(y[k] * 10000), .ua = (int32_t)(x[k] * 10000), .frame = 1, .n = 1 };

        volt_sums_take(&sums, &v);
    }
    assert_true(volt_sums_slope(&sums, 0, &ohm, &u_ohm));
    assert_true(fabs(ohm - 0.5001) < 0.00005);
    assert_true(fabs(u_ohm / 2.32 - 0.1179) < 0.0001); /* t for 9 degrees of freedom and 95.45 %: 2.32 */
}

static void two_values_make_no_line(void **state)
{
    (void)state;
    struct volt_sums        sums = { .n = 0 };
    const struct volt_value v = { .uv = 5000000, .ua = 100000, .frame = 1, .n = 1 };
    double                  ohm = 0, u_ohm = 0;

    volt_sums_take(&sums, &v);
    volt_sums_take(&sums, &v);
    assert_false(volt_sums_slope(&sums, 0, &ohm, &u_ohm));
    volt_sums_take(&sums, &v);
    assert_false(volt_sums_slope(&sums, 0, &ohm, &u_ohm)); /* one load */
}

#define OF(test) cmocka_unit_test_setup_teardown(test, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        OF(static_values_have_a_median_extremes_and_a_margin),
        OF(a_margin_beyond_the_window_is_negative_and_time_outside_is_counted),
        OF(near_a_limit_the_time_outside_is_open),
        OF(a_change_has_its_times),
        OF(an_overshoot_is_a_least_amount_until_readings_are_close),
        OF(what_arrives_late_is_told_all_the_same),
        OF(what_never_arrives_is_not_reached),
        OF(an_accept_without_ps_rdy_is_told_by_itself),
        OF(the_slope_under_load_is_told_with_its_uncertainty),
        OF(loads_that_are_nearly_alike_have_no_slope),
        OF(without_a_current_there_is_no_slope_and_no_step),
        OF(what_is_read_at_the_sink_is_told_for_the_source),
        OF(a_path_that_is_not_known_has_no_slope),
        OF(a_load_step_has_a_dip_and_a_recovery),
        OF(a_deep_dip_counts_its_time_outside_of_both_windows),
        OF(a_step_without_a_dip_says_so),
        OF(a_load_that_goes_makes_vbus_rise),
        OF(a_step_cut_short_by_the_next_did_not_settle),
        OF(what_does_not_come_back_is_not_called_recovered),
        OF(between_readings_too_far_apart_no_step_is_told),
        OF(overloads_are_left_out),
        OF(a_pps_at_its_limit_is_left_out),
        OF(renewals_do_not_part_a_contract),
        OF(outside_of_since_and_until_nothing_counts),
        OF(readings_beyond_all_reason_do_no_harm),
        OF(where_nobody_asks_nothing_is_told),
        cmocka_unit_test(medians_are_right_to_half_a_millivolt),
        cmocka_unit_test(without_room_there_is_no_median),
        cmocka_unit_test(a_published_line_is_found_with_its_standard_error),
        cmocka_unit_test(two_values_make_no_line),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
