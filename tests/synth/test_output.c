/*
 * The electrical model: each key of output, path and instrument shows in the readings as its definition says (portassay-synth(1)), reckoned here
 * by itself: closed forms of exponentials and straight lines, and statistics of many draws. All INVENTED.
 */
#include "tests/synth/trace_of.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cjson/cJSON.h>
#include <cmocka.h>

/* An instrument without any error, and one port whose source is set exactly: VBUS is what the output makes of it. */
#define EXACT "\"power\":true,\"errors\":true,\"gain_ppm\":0,\"offset_uv\":0,\"noise_uv\":0,\"amp_gain_ppm\":0,\"amp_offset_ua\":0," \
              "\"amp_noise_ua\":0,\"clock_ppm\":0,\"time_ns\":0"
#define PORT "\"sink\":{\"policy\":\"least_voltage\"},\"cable\":{\"kind\":\"passive\"},"
#define UP_15V "{\"do\":\"attach\"},{\"do\":\"request\",\"position\":3,\"ma\":3000}"

static void play(struct trace_of *t, int64_t seed, const char *instrument, const char *output, const char *steps)
{
    char text[2000];
    int  n = snprintf(text, sizeof text, "{\"schema\":1,\"instrument\":{%s},\"ports\":[{" PORT "%s,\"steps\":[%s]}]}", instrument, output, steps);

    assert_true(n > 0 && (size_t)n < sizeof text);
    trace_play(t, text, seed);
}

static int64_t truth_ns(const struct trace_of *t, const char *path)
{
    return (int64_t)truth_number(t, path);
}

/* Every reading within the second contract's change, beside what is reckoned; how many there were. */
static unsigned follow(const struct trace_of *t, double (*share)(double, double), double parameter, double within_uv)
{
    int64_t  begin = truth_ns(t, "contracts.1.change.begin_ns"), end = truth_ns(t, "contracts.1.change.end_ns");
    unsigned n = 0;

    for (unsigned k = 0; k < t->row_count; k++) {
        const struct row *r = &t->rows[k];
        double            due = 5e6 + 10e6 * share((double)(r->t_ns - begin), r->t_ns < end ? parameter : 0);

        if (r->t_ns <= begin || r->t_ns >= end)
            continue;
        assert_near(r->uv, due, within_uv);
        n++;
    }
    return n;
}

static double exponential(double ns, double tau_ns) { return 1 - exp(-ns / tau_ns); }
static double straight(double ns, double whole_ns) { return ns / whole_ns; }
static double s_shaped(double ns, double whole_ns) { return 3 * pow(ns / whole_ns, 2) - 2 * pow(ns / whole_ns, 3); }

/* 10 V at 10 V/ms: 1 ms of time constant; 63.2 % after one of them, and ten of them in all. */
static void an_exponential_ramp_is_e_fold_nearer_after_each_time_constant(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, EXACT ",\"power_interval_us\":50", "\"output\":{\"ramp\":\"exponential\",\"slew_uv_us\":10000,\"off_ppm\":0}", UP_15V);
    int64_t begin = truth_ns(&t, "contracts.1.change.begin_ns");

    assert_int_equal(truth_ns(&t, "contracts.1.change.end_ns") - begin, 10000000);
    assert_true(follow(&t, exponential, 1e6, 600) > 150); /* stamps are whole nanoseconds, 10 mV/us */
    assert_near(trace_row(&t, begin + 1000000)->uv, 5e6 + 10e6 * 0.6321, 200000); /* up to 50 us later */
    /* 95 % of 15 V: a fourteenth part of the way is left; ln(10 / 0.75) = 2.5903. */
    assert_near((double)(truth_ns(&t, "contracts.1.change.window_ns") - begin), 2590267, 100);
    trace_free(&t);
}

/* The window is that of the contract, 14.25 to 15.75 V, and of 5 V 4.75 to 5.25 V, wherever the source is set. */
static void vbus_is_in_the_window_of_what_was_agreed_on_wherever_the_source_ends(void **state)
{
    struct trace_of t;
    int64_t         begin;

    (void)state;
    /* 4 % too high: up from 5.2 to 15.6 V in 10.4 ms, 14.25 V after 9.05 ms; down again to 5.2 V, 5.25 V after 10.35 ms. */
    play(&t, 1, EXACT, "\"output\":{\"slew_uv_us\":1000,\"off_ppm\":40000}", UP_15V ",{\"do\":\"request\",\"position\":1}");
    begin = truth_ns(&t, "contracts.1.change.begin_ns");
    assert_near((double)(truth_ns(&t, "contracts.1.change.end_ns") - begin), 10.4e6, 2000);
    assert_near((double)(truth_ns(&t, "contracts.1.change.window_ns") - begin), 9.05e6, 2000);
    begin = truth_ns(&t, "contracts.2.change.begin_ns");
    assert_near((double)(truth_ns(&t, "contracts.2.change.window_ns") - begin), 10.35e6, 2000);
    trace_free(&t);
    /* 4 % too low: from 4.8 to 14.4 V in 9.6 ms, 14.25 V after 9.45 ms. */
    play(&t, 1, EXACT, "\"output\":{\"slew_uv_us\":1000,\"off_ppm\":-40000}", UP_15V);
    begin = truth_ns(&t, "contracts.1.change.begin_ns");
    assert_near((double)(truth_ns(&t, "contracts.1.change.window_ns") - begin), 9.45e6, 2000);
    trace_free(&t);
}

/* 6 % off VBUS never comes there: nothing is said. */
static void a_source_set_too_far_off_has_no_time_in_the_window(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, EXACT, "\"output\":{\"slew_uv_us\":1000,\"off_ppm\":-60000}", UP_15V);
    assert_true(truth_ns(&t, "contracts.1.change.end_ns") > 0);
    assert_false(truth_has(&t, "contracts.1.change.window_ns"));
    trace_free(&t);
}

/* At 2 V/ms straight: 5 ms. S: 1.5 times as long, where it is steepest as steep. */
static void a_straight_and_an_s_shaped_ramp_are_as_steep_as_the_slew(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, EXACT ",\"power_interval_us\":50", "\"output\":{\"slew_uv_us\":2000,\"off_ppm\":0}", UP_15V);
    assert_int_equal(truth_ns(&t, "contracts.1.change.end_ns") - truth_ns(&t, "contracts.1.change.begin_ns"), 5000000);
    assert_true(follow(&t, straight, 5e6, 4000) > 90); /* the model reckons straight lines in microseconds: 2 mV each */
    trace_free(&t);
    play(&t, 1, EXACT ",\"power_interval_us\":50", "\"output\":{\"ramp\":\"S\",\"slew_uv_us\":2000,\"off_ppm\":0}", UP_15V);
    assert_int_equal(truth_ns(&t, "contracts.1.change.end_ns") - truth_ns(&t, "contracts.1.change.begin_ns"), 7500000);
    assert_true(follow(&t, s_shaped, 7.5e6, 10) > 140);
    trace_free(&t);
}

/* x e^(1 - x) is 1 at x = 1, and 2/e at x = 2. 3 % of 10 V: 0.3 V. Downward it goes below. */
static void an_overshoot_is_its_part_of_the_change_one_time_constant_after_the_end(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 2, EXACT ",\"power_interval_us\":10,\"power_rows\":400",
         "\"output\":{\"slew_uv_us\":5000,\"off_ppm\":0,\"overshoot_percent\":3,\"overshoot_us\":2000}", UP_15V ",{\"do\":\"request\",\"position\":1}");
    int64_t peak = truth_ns(&t, "contracts.1.change.overshoot_ns"), down = truth_ns(&t, "contracts.2.change.overshoot_ns");

    assert_int_equal(peak - truth_ns(&t, "contracts.1.change.end_ns"), 2000000);
    assert_near(truth_number(&t, "contracts.1.change.overshoot_uv"), 300000, 0.5);
    assert_near(trace_row(&t, peak)->uv, 15300000, 10);
    assert_near(trace_row(&t, peak + 2000000)->uv, 15e6 + 3e5 * 2 * exp(-1), 1500);
    assert_near(trace_row(&t, down)->uv, 5e6 - 3e5, 10);
    trace_free(&t);
}

/* 40 mOhm: 1 A takes 40 mV, 2.5 A 100 mV. */
static void the_regulation_shows_between_two_loads(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, EXACT, "\"output\":{\"off_ppm\":2000,\"regulation_mohm\":40}",
         UP_15V ",{\"do\":\"load\",\"ma\":1000},{\"do\":\"wait\",\"ms\":300},{\"do\":\"load\",\"ma\":2500},{\"do\":\"wait\",\"ms\":300}");
    const struct row *one = trace_row(&t, truth_ns(&t, "contracts.1.loads.0.t_ns") + 100000000);
    const struct row *two = trace_row(&t, truth_ns(&t, "contracts.1.loads.1.t_ns") + 100000000);

    assert_int_equal(one->ua, 1000000);
    assert_int_equal(two->ua, 2500000);
    assert_int_equal(one->uv, 15030000 - 40000); /* 2000 ppm of 15 V: 30 mV */
    assert_int_equal(two->uv, 15030000 - 100000);
    assert_near((double)(one->uv - two->uv) / (two->ua - one->ua), 0.040, 1e-6);
    assert_near(truth_number(&t, "contracts.1.set_uv"), 15030000, 0.5);
    assert_near(truth_number(&t, "contracts.1.loads.1.from_uv"), 14990000, 0.5);
    assert_near(truth_number(&t, "contracts.1.loads.1.to_uv"), 14930000, 0.5);
    assert_near(truth_number(&t, "contracts.1.vbus_min_uv"), 14930000, 0.5);
    assert_near(truth_number(&t, "contracts.1.vbus_max_uv"), 15030000, 0.5);
    assert_near(truth_number(&t, "contracts.1.ibus_max_ua"), 2500000, 0.5);
    trace_free(&t);
}

/* 2 A through 200 mOhm is 0.4 V; the step takes as long as the recovery: (1 - 1/e) of it is left at its end, 1/e of that a time constant later. */
static void a_load_step_dips_and_recovers(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, EXACT ",\"power_interval_us\":10,\"power_rows\":400", "\"output\":{\"off_ppm\":0,\"dip_mohm\":200,\"recovery_us\":1000,\"load_us\":1000}",
         UP_15V ",{\"do\":\"load\",\"ma\":2000},{\"do\":\"wait\",\"ms\":100}");
    int64_t from = truth_ns(&t, "contracts.1.loads.0.t_ns"), deep = truth_ns(&t, "contracts.1.loads.0.dip_ns");
    double  dip = 400000 * (1 - exp(-1));

    assert_int_equal(deep - from, 1000000);
    assert_near(truth_number(&t, "contracts.1.loads.0.dip_uv"), dip, 1);
    assert_near(trace_row(&t, deep)->uv, 15e6 - dip, 3000); /* up to 10 us later: 1 % of the dip */
    assert_near(trace_row(&t, deep + 1000000)->uv, 15e6 - dip * exp(-1), 1500);
    assert_near(trace_row(&t, from + 500000)->ua, 1000000, 20001); /* half-way up: 2 A in 1 ms */
    assert_near(trace_row(&t, deep + 20000000)->uv, 15e6, 1);
    trace_free(&t);
}

/* The falling edge after this time: the first readings at or below so much. */
static const struct row *first_below(const struct trace_of *t, int64_t from_ns, int32_t uv)
{
    for (unsigned k = 0; k < t->row_count; k++)
        if (t->rows[k].t_ns >= from_ns && t->rows[k].uv <= uv)
            return &t->rows[k];
    fail_msg("VBUS is never at %d uV", uv);
    return NULL;
}

static void discharges(const struct trace_of *t, int64_t from_ns, double tau_ns, double bleed_ns)
{
    const struct row *a = first_below(t, from_ns, 4000000), *b = first_below(t, from_ns, 1000000), *c = first_below(t, from_ns, 700000),
                     *d = first_below(t, from_ns, 300000);

    assert_near((double)(b->t_ns - a->t_ns) / log((double)a->uv / b->uv), tau_ns, tau_ns / 1000);
    assert_near((double)(d->t_ns - c->t_ns) / log((double)c->uv / d->uv), bleed_ns, bleed_ns / 1000);
}

static void discharge_has_its_time_constant_down_to_0v8_and_the_bleed_from_there_on(void **state)
{
    static const char output[] = "\"output\":{\"off_ppm\":0,\"discharge_us\":40000,\"bleed_us\":90000}";
    struct trace_of   t;

    (void)state;
    play(&t, 1, EXACT ",\"power_interval_us\":100", output, UP_15V ",{\"do\":\"detach\"}");
    discharges(&t, truth_ns(&t, "contracts.1.t_ns"), 40e6, 90e6);
    trace_free(&t);
    play(&t, 1, EXACT ",\"power_interval_us\":100", output, UP_15V ",{\"do\":\"hard_reset\"}");
    discharges(&t, truth_ns(&t, "contracts.1.t_ns"), 40e6, 90e6);
    trace_free(&t);
}

static void a_source_without_input_lives_on_for_its_hold_up(void **state)
{
    struct trace_of t;
    int64_t         off_ns = 0, on_ns = 0;

    (void)state;
    play(&t, 1, EXACT, "\"output\":{\"off_ppm\":0,\"hold_up_ms\":150,\"discharge_us\":20000}",
         UP_15V ",{\"do\":\"load\",\"ma\":1000},{\"do\":\"wait\",\"ms\":200},{\"do\":\"input_off\"},{\"do\":\"attach\"}");
    for (unsigned k = 0; k < t.mark_count; k++) {
        off_ns = t.marks[k].action == RECORD_INPUT_OFF ? t.marks[k].t_ns : off_ns;
        on_ns = t.marks[k].action == RECORD_INPUT_ON ? t.marks[k].t_ns : on_ns;
    }
    assert_true(off_ns > 0 && on_ns > off_ns);
    assert_int_equal(trace_row(&t, off_ns + 148000000)->uv, 15000000);
    const struct row *fallen = first_below(&t, off_ns, 14900000);

    assert_true(fallen->t_ns > off_ns + 150000000 && fallen->t_ns <= off_ns + 152000000);
    assert_true(trace_row(&t, on_ns)->uv < 1000);
    assert_true(first_below(&t, on_ns + 500000000, 9000000)->uv > 4900000);
    trace_free(&t);
}

/* 120 mOhm, known to 0: 2 A take 240 mV on the way to the sink; ABOUT says where VBUS was read. */
static void the_path_takes_its_part_away_and_about_tells_it(void **state)
{
    struct trace_of t;
    double          x[300];

    (void)state;
    play(&t, 1, EXACT, "\"path_mohm\":120,\"output\":{\"off_ppm\":0}", UP_15V ",{\"do\":\"load\",\"ma\":2000},{\"do\":\"wait\",\"ms\":200}");
    assert_int_equal(trace_row(&t, truth_ns(&t, "contracts.1.loads.0.t_ns") + 100000000)->uv, 15000000 - 240000);
    assert_non_null(strstr(t.about, "\"volt_at\":\"sink\",\"path_mohm\":120,\"path_mohm_u\":0"));
    assert_near(truth_number(&t, "contracts.1.vbus_min_uv"), 15000000, 0.5); /* at the source's receptacle */
    trace_free(&t);
    for (unsigned k = 0; k < 300; k++) {
        play(&t, 1000 + k, "\"power\":false", "\"path_mohm\":120,\"path_mohm_u\":6", "{\"do\":\"mark\",\"text\":\"nothing\"}");
        x[k] = truth_number(&t, "ports.0.path_mohm");
        trace_free(&t);
    }
    assert_near(spread_of(x, 300).mean, 120, 3 * 6 / sqrt(300));
    assert_near(spread_of(x, 300).deviation, 6, 3 * 6 / sqrt(600));
}

/* Of an exponential fall the mean over an interval d is its value at the beginning times (1 - e^(-d/tau)) tau/d. */
static void a_mean_is_the_mean_over_the_interval_that_follows(void **state)
{
    static const char output[] = "\"output\":{\"off_ppm\":0,\"discharge_us\":5000}", steps[] = UP_15V ",{\"do\":\"detach\"}";
    struct trace_of   point, mean;
    double            part = 1 / 5e0;
    unsigned          seen = 0;

    (void)state;
    play(&point, 1, EXACT, output, steps);
    play(&mean, 1, EXACT ",\"sampling\":\"mean\"", output, steps);
    assert_non_null(strstr(mean.about, "\"sampling\":\"mean\""));
    assert_null(strstr(point.about, "sampling"));
    int64_t from = first_below(&point, truth_ns(&point, "contracts.1.t_ns"), 14500000)->t_ns;

    for (unsigned k = 0; k < mean.row_count && mean.rows[k].t_ns < from + 12000000; k++) {
        if (mean.rows[k].t_ns < from || mean.rows[k].t_ns > from + 10000000)
            continue;
        const struct row *p = trace_row(&point, mean.rows[k].t_ns);

        assert_int_equal(p->t_ns, mean.rows[k].t_ns);
        /* Sixteen instants stand for the interval: (1/16)^2 / 24 of the curvature, below 1e-5. */
        assert_near(mean.rows[k].uv / (p->uv * (1 - exp(-part)) / part), 1, 2e-5);
        seen++;
    }
    assert_true(seen >= 10);
    trace_free(&point);
    trace_free(&mean);
}

/* On a straight ramp of 200 uV/us a jitter of 5 us is a deviation of 1 mV. */
static void jitter_is_a_deviation_of_time(void **state)
{
    struct trace_of t;
    double          x[4000];
    unsigned        n = 0;

    (void)state;
    play(&t, 1, EXACT ",\"power_interval_us\":10,\"power_rows\":400,\"jitter_ns\":5000", "\"output\":{\"slew_uv_us\":200,\"off_ppm\":0}", UP_15V);
    int64_t begin = truth_ns(&t, "contracts.1.change.begin_ns"), end = truth_ns(&t, "contracts.1.change.end_ns");
    double  slope = 10e6 / (double)(end - begin);

    for (unsigned k = 0; k < t.row_count && n < 4000; k++)
        if (t.rows[k].t_ns > begin + 100000 && t.rows[k].t_ns < end - 100000)
            x[n++] = (t.rows[k].uv - 5e6) / slope - (double)(t.rows[k].t_ns - begin);
    assert_true(n > 1000);
    assert_near(spread_of(x, n).deviation, 5000, 3 * 5000 / sqrt(2.0 * n));
    assert_near(spread_of(x, n).mean, 0, 3 * 5000 / sqrt(n) + 1000);
    assert_non_null(strstr(t.about, "\"power_time_ns\":5000"));
    trace_free(&t);
}

/* Steps of 12 mV: 12 / root of 12 = 3.464 mV; with 2 mV of noise 4 mV. Of 6 mA: 1.732 mA. */
static void readings_are_multiples_of_the_resolution_and_about_tells_what_it_adds(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 1, "\"power\":true,\"errors\":true,\"noise_uv\":2000,\"amp_noise_ua\":0,\"resolution_uv\":12000,\"resolution_ua\":6000",
         "\"output\":{\"noise_uv\":1000}", UP_15V ",{\"do\":\"load\",\"ma\":1000},{\"do\":\"wait\",\"ms\":200}");
    for (unsigned k = 0; k < t.row_count; k++) {
        assert_int_equal(t.rows[k].uv % 12000, 0);
        assert_int_equal(t.rows[k].ua % 6000, 0);
    }
    assert_non_null(strstr(t.about, "\"noise_uv\":4000"));
    assert_non_null(strstr(t.about, "\"noise_ua\":1732"));
    trace_free(&t);
}

/* Noise of VBUS is true of it, noise of the instrument is not; one reading of the other, both of readings: root of squares. */
static void noise_is_normal_and_has_its_root_mean_square(void **state)
{
    struct trace_of t;
    static double   x[10000];
    unsigned        n = 0, beyond = 0;

    (void)state;
    play(&t, 1, "\"power\":true,\"errors\":true,\"gain_ppm\":0,\"offset_uv\":0,\"noise_uv\":3000,\"power_interval_us\":100",
         "\"output\":{\"off_ppm\":0,\"noise_uv\":4000}", UP_15V ",{\"do\":\"wait\",\"ms\":1100}");
    int64_t from = truth_ns(&t, "contracts.1.t_ns") + 1000000;

    for (unsigned k = 0; k < t.row_count && n < 10000; k++)
        if (t.rows[k].t_ns >= from)
            x[n++] = t.rows[k].uv - 15e6;
    assert_int_equal(n, 10000);
    for (unsigned k = 0; k < n; k++)
        beyond += fabs(x[k]) > 2 * 5000;
    assert_near(spread_of(x, n).mean, 0, 3 * 5000 / sqrt(n));
    assert_near(spread_of(x, n).deviation, 5000, 3 * 5000 / sqrt(2.0 * n));
    assert_near(beyond, 0.0455 * n, 3 * sqrt(0.0455 * 0.9545 * n)); /* of a normal one, outside of two deviations */
    /* Of 10,000 and more true instants the extremes lie between 3 and 5.5 deviations of 4 mV. */
    assert_in_range((int64_t)truth_number(&t, "contracts.1.vbus_max_uv") - 15000000, 12000, 22000);
    assert_in_range(15000000 - (int64_t)truth_number(&t, "contracts.1.vbus_min_uv"), 12000, 22000);
    trace_free(&t);
}

static const struct { const char *path; double deviation; } drawn[] = {
    { "instrument.volt.gain_ppm", 300 }, { "instrument.volt.offset_uv", 2000 }, { "instrument.amp.gain_ppm", 700 },
    { "instrument.amp.offset_ua", 1500 }, { "instrument.clock_ppm", 5 },
};
enum { DRAWS = 1000 };

/* Three standard errors: of a mean s / root of n, of a standard deviation s / root of 2 n (GUM E.4). Products of two tell whether they hang together. */
static void errors_are_drawn_by_what_about_states(void **state)
{
    static double   x[5][DRAWS], both[DRAWS];
    struct trace_of t;

    (void)state;
    for (unsigned k = 0; k < DRAWS; k++) {
        play(&t, k + 1, "\"errors\":true,\"gain_ppm\":300,\"offset_uv\":2000,\"amp_gain_ppm\":700,\"amp_offset_ua\":1500,\"clock_ppm\":5",
             "\"port\":0", "{\"do\":\"mark\",\"text\":\"nothing\"}");
        for (unsigned e = 0; e < 5; e++)
            x[e][k] = truth_number(&t, drawn[e].path) / drawn[e].deviation;
        trace_free(&t);
    }
    for (unsigned e = 0; e < 5; e++) {
        for (unsigned k = 0; k < DRAWS; k++)
            both[k] = x[e][k] * x[(e + 1) % 5][k];
        assert_near(spread_of(x[e], DRAWS).mean, 0, 3 / sqrt(DRAWS));
        assert_near(spread_of(x[e], DRAWS).deviation, 1, 3 / sqrt(2.0 * DRAWS));
        assert_near(spread_of(both, DRAWS).mean, 0, 3 / sqrt(DRAWS));
    }
}

/* One draw a trace: each reading is the true value, gain and offset added, and every stamp goes by the one clock. */
static void the_drawn_errors_are_those_of_the_readings(void **state)
{
    struct trace_of t;

    (void)state;
    for (int64_t seed = 1; seed <= 10; seed++) {
        play(&t, seed, "\"power\":true,\"errors\":true,\"gain_ppm\":2000,\"offset_uv\":9000,\"noise_uv\":0,\"amp_gain_ppm\":3000,\"amp_offset_ua\":4000,"
                       "\"amp_noise_ua\":0,\"clock_ppm\":1000,\"time_ns\":0",
             "\"output\":{\"off_ppm\":0}", UP_15V ",{\"do\":\"load\",\"ma\":2000},{\"do\":\"wait\",\"ms\":300}");
        double            gain = truth_number(&t, "instrument.volt.gain_ppm"), offset = truth_number(&t, "instrument.volt.offset_uv");
        double            amp_gain = truth_number(&t, "instrument.amp.gain_ppm"), amp_offset = truth_number(&t, "instrument.amp.offset_ua");
        double            clock = 1 + truth_number(&t, "instrument.clock_ppm") * 1e-6;
        const struct row *r = trace_row(&t, truth_ns(&t, "contracts.1.loads.0.t_ns") + 200000000);

        assert_near(r->uv, 15e6 * (1 + gain * 1e-6) + offset, 1);
        assert_near(r->ua, 2e6 * (1 + amp_gain * 1e-6) + amp_offset, 1);
        assert_near(t.rows[0].uv, offset, 1); /* nothing is plugged in yet */
        /* Records of 50 rows of 1 ms, the first one 3 ms after the trace's beginning. */
        assert_near((double)t.rows[0].t_ns, 3e6 * clock, 2);
        assert_near((double)t.rows[500].t_ns, 503e6 * clock, 2);
        trace_free(&t);
    }
}

static void the_truth_of_a_contract_names_its_ps_rdy(void **state)
{
    struct trace_of t;

    (void)state;
    play(&t, 3, EXACT, "\"output\":{\"off_ppm\":-3000}", UP_15V);
    assert_near(truth_number(&t, "contracts.1.frame"), (double)t.ready_frame, 0.1);
    assert_near(truth_number(&t, "contracts.1.t_ns"), (double)t.ready_ns, 0.1);
    assert_near(truth_number(&t, "contracts.1.mv"), 15000, 0.1);
    assert_near(truth_number(&t, "contracts.1.ma"), 3000, 0.1);
    assert_near(truth_number(&t, "contracts.1.set_uv"), 15e6 - 45000, 0.1);
    assert_near(truth_number(&t, "contracts.1.change.from_uv"), 5e6 - 15000, 0.1);
    assert_near(truth_number(&t, "ports.0.off_ppm"), -3000, 0.1);
    trace_free(&t);
}

static void the_truth_of_a_fault_tells_its_amount(void **state)
{
    static const char text[] = "{\"schema\":1,\"instrument\":{\"power\":true},\"ports\":[{" PORT "\"steps\":[" UP_15V "]}],"
                               "\"faults\":[{\"fault\":\"time.source-response\",\"amount_ms\":16.5}]}";
    struct trace_of t;

    (void)state;
    trace_play(&t, text, 1);
    assert_near(truth_number(&t, "faults.0.amount_ns"), 16500000, 0.1);
    trace_free(&t);
}

/* Noise that is even reaches to its limits, and not beyond: of 1,000 readings and more some are in the outermost 5 %. */
static void without_the_keys_readings_are_level_but_for_even_noise(void **state)
{
    struct trace_of t;
    int32_t         farthest = 0;

    (void)state;
    play(&t, 5, "\"power\":true", "\"port\":0", UP_15V ",{\"do\":\"load\",\"ma\":2000},{\"do\":\"wait\",\"ms\":1500}");
    int64_t from = truth_ns(&t, "contracts.1.loads.0.t_ns") + 10000000;
    int32_t level = (int32_t)truth_number(&t, "contracts.1.set_uv");

    for (unsigned k = 0; k < t.row_count; k++)
        if (t.rows[k].t_ns >= from) {
            assert_in_range(t.rows[k].ua, 2000000 - 300, 2000000 + 300);
            farthest = abs(t.rows[k].uv - level) > farthest ? abs(t.rows[k].uv - level) : farthest;
        }
    assert_in_range(farthest, 760, 800);
    assert_null(strstr(t.about, "\"amp\""));
    assert_null(strstr(t.about, "volt_at"));
    assert_null(strstr(t.about, "power_time_ns"));
    trace_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_exponential_ramp_is_e_fold_nearer_after_each_time_constant),
        cmocka_unit_test(vbus_is_in_the_window_of_what_was_agreed_on_wherever_the_source_ends),
        cmocka_unit_test(a_source_set_too_far_off_has_no_time_in_the_window),
        cmocka_unit_test(a_straight_and_an_s_shaped_ramp_are_as_steep_as_the_slew),
        cmocka_unit_test(an_overshoot_is_its_part_of_the_change_one_time_constant_after_the_end),
        cmocka_unit_test(the_regulation_shows_between_two_loads),
        cmocka_unit_test(a_load_step_dips_and_recovers),
        cmocka_unit_test(discharge_has_its_time_constant_down_to_0v8_and_the_bleed_from_there_on),
        cmocka_unit_test(a_source_without_input_lives_on_for_its_hold_up),
        cmocka_unit_test(the_path_takes_its_part_away_and_about_tells_it),
        cmocka_unit_test(a_mean_is_the_mean_over_the_interval_that_follows),
        cmocka_unit_test(jitter_is_a_deviation_of_time),
        cmocka_unit_test(readings_are_multiples_of_the_resolution_and_about_tells_what_it_adds),
        cmocka_unit_test(noise_is_normal_and_has_its_root_mean_square),
        cmocka_unit_test(errors_are_drawn_by_what_about_states),
        cmocka_unit_test(the_drawn_errors_are_those_of_the_readings),
        cmocka_unit_test(the_truth_of_a_contract_names_its_ps_rdy),
        cmocka_unit_test(the_truth_of_a_fault_tells_its_amount),
        cmocka_unit_test(without_the_keys_readings_are_level_but_for_even_noise),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
