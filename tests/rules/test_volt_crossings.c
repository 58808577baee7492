/*
 * Crossings of VBUS as ranges of time (the catalogue's section 2): from the last reading surely on the old side to the first surely on
 * the new one, by at least the reading's expanded uncertainty U; and what stamps, clocks and their tie add on each side: a stamp
 * 2 x time_ns (readings power_time_ns, stamped by the host host_time_ns, 1 ms where it is not given), a clock 2 x clock_ppm of the
 * interval (readings power_clock_ppm), two streams 2 x align_ns. Readings come every ms; what each range has to be is worked out by hand.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

/* U of a reading: 2 mV; further members of "instrument" follow a comma. */
#define INSTRUMENT(more) "{\"instrument\":{\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0}" more "}}"
#define EXACT INSTRUMENT(",\"time_ns\":0")

/*
 * 130.4 ms after the beginning VBUS jumps to 1 V (or first to step_mv, for 10 ms), and at 430.7 ms to 5 V: 0.8 V is crossed between the
 * readings at 130 and 131 ms, 4.75 V between those at 430 and 431. The time allowed, tSrcTurnOn, is 275 ms.
 */
static const struct span *turns_on(void **state, const char *about, double step_mv, uint8_t flags)
{
    struct played_supply s = { .l = *state, .interval_ns = MS(1) };

    s.l->power_flags = flags;
    s.begin_ns = s.l->now_ns;
    lines_about(s.l, 255, about);
    lines_wait(s.l, MS(20));
    lines_attach(s.l);
    wave_step(&s.w, s.begin_ns + MS(130) + US(400), step_mv, 0);
    wave_step(&s.w, s.begin_ns + MS(140) + US(400), 1000, 0);
    wave_step(&s.w, s.begin_ns + MS(430) + US(700), 5000, 0);
    supply_hold(&s, MS(600));
    supply_end(&s);

    const struct finding *f = lines_finding(s.l, "time.turn-on", VERDICT_FAIL, 0);

    assert_non_null(f);
    assert_true(f->has_span);
    return &f->span;
}

#define assert_range(span, low, high)               \
    do {                                            \
        assert_int_equal((span)->low_ns, (low));    \
        assert_int_equal((span)->high_ns, (high));  \
    } while (0)

static void a_crossing_lies_between_two_readings(void **state)
{
    const struct span *s = turns_on(state, EXACT, 1000, 0);

    assert_range(s, MS(299), MS(301));
    assert_int_equal(s->from.early_ns, START_NS + MS(130));
    assert_int_equal(s->from.late_ns, START_NS + MS(131));
    assert_int_equal(s->to.early_ns, START_NS + MS(430));
    assert_int_equal(s->to.late_ns, START_NS + MS(431));
}

static void a_reading_within_its_uncertainty_is_on_neither_side(void **state)
{
    static const struct { double mv; int64_t low_ns, high_ns; } cases[] = {
        { 801, MS(289), MS(301) },   /* neither: until the reading at 141 ms */
        { 803, MS(299), MS(301) },   /* above */
        { 797, MS(289), MS(291) },   /* below: from the reading at 140 ms on */
        { 799, MS(289), MS(301) },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        assert_range(turns_on(state, EXACT, cases[k].mv, 0), cases[k].low_ns, cases[k].high_ns);
        lines_again(state);
    }
}

static void each_edge_adds_its_stamp(void **state)
{
    static const struct { const char *about; uint8_t flags; int64_t each_ns; } cases[] = {
        { INSTRUMENT(",\"time_ns\":1000"), 0, US(2) },
        { INSTRUMENT(",\"time_ns\":1000,\"power_time_ns\":50000"), 0, US(100) },
        { INSTRUMENT(",\"time_ns\":1000,\"host_time_ns\":100000"), 0, US(2) },
        { INSTRUMENT(",\"time_ns\":1000,\"host_time_ns\":100000"), RECORD_HOST_TIME, US(200) },
        { INSTRUMENT(",\"power_time_ns\":50000"), RECORD_HOST_TIME, MS(2) },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        assert_range(turns_on(state, cases[k].about, 1000, cases[k].flags), MS(299) - 2 * cases[k].each_ns,
                     MS(301) + 2 * cases[k].each_ns);
        lines_again(state);
    }
}

/* Twice the standard uncertainty, of 301 ms. */
static void readings_go_by_their_own_clock(void **state)
{
    static const struct { const char *about; int64_t ns; } cases[] = {
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":100"), 60200 },
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":100,\"power_clock_ppm\":500"), 301000 },
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":500,\"power_clock_ppm\":100"), 60200 },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        const struct span *s = turns_on(state, cases[k].about, 1000, 0);

        assert_range(s, MS(299) - cases[k].ns, MS(301) + cases[k].ns);
        assert_true(s->has_clock);
        lines_again(state);
    }
    assert_false(turns_on(state, EXACT, 1000, 0)->has_clock);
}

static void readings_of_one_stream_are_tied_to_nothing(void **state)
{
    assert_range(turns_on(state, INSTRUMENT(",\"time_ns\":0,\"align_ns\":100000"), 1000, 0), MS(299), MS(301));
}

/* Of means over a ms each, the first one beyond may hold the crossing anywhere in its ms. */
static void a_mean_lasts_as_long_as_its_interval(void **state)
{
    assert_range(turns_on(state, INSTRUMENT(",\"time_ns\":0,\"sampling\":\"mean\""), 1000, 0), MS(298), MS(302));
    lines_again(state);
    assert_range(turns_on(state, INSTRUMENT(",\"time_ns\":0,\"sampling\":\"point\""), 1000, 0), MS(299), MS(301));
}

/* VBUS is up between the readings at 150 and 151 ms, the capabilities come at 450 ms: tFirstSourceCap is 250 ms. */
static const struct span *first_caps(void **state, const char *about, uint8_t flags)
{
    static const uint32_t caps[] = { 0x0a01912c }; /* 5 V, 3 A */
    struct played_supply  s = { .l = *state, .interval_ns = MS(1) };

    s.l->power_flags = flags;
    s.begin_ns = s.l->now_ns;
    lines_about(s.l, 255, about);
    lines_wait(s.l, MS(20));
    lines_attach(s.l);
    wave_step(&s.w, s.begin_ns + MS(150) + US(400), 5000, 0);
    lines_wait(s.l, s.begin_ns + MS(450) - s.l->now_ns);
    lines_caps(s.l, 1, caps);
    supply_hold(&s, MS(100));
    supply_end(&s);

    const struct finding *f = lines_finding(s.l, "time.first-caps", VERDICT_FAIL, 0);

    assert_non_null(f);
    return &f->span;
}

static void between_a_reading_and_a_packet_both_streams_count(void **state)
{
    static const struct { const char *about; uint8_t flags; int64_t ns; } cases[] = {
        { EXACT, 0, 0 },
        { INSTRUMENT(",\"time_ns\":1000"), 0, US(4) },
        { INSTRUMENT(",\"time_ns\":1000,\"power_time_ns\":50000"), 0, US(102) },
        { INSTRUMENT(",\"time_ns\":1000"), RECORD_HOST_TIME, US(2002) },
        { INSTRUMENT(",\"time_ns\":0,\"align_ns\":100000"), 0, US(200) },
        { INSTRUMENT(",\"time_ns\":0,\"power_time_ns\":50000,\"align_ns\":100000"), 0, US(300) },
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":100"), 0, US(60) },
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":100,\"power_clock_ppm\":500"), 0, US(300) },
        { INSTRUMENT(",\"time_ns\":0,\"clock_ppm\":500,\"power_clock_ppm\":100"), 0, US(300) },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        assert_range(first_caps(state, cases[k].about, cases[k].flags), MS(299) - cases[k].ns, MS(300) + cases[k].ns);
        lines_again(state);
    }
}

/* VBUS jumps to 9 V 40.4 ms after the end of the GoodCRC to the Accept, or up to 1 ms sooner; tSrcTransition is 35 ms at the most. */
static void a_move_is_counted_from_the_end_of_the_goodcrc(void **state)
{
    static const uint32_t caps[] = { 0x0a01912c, 0x0002d12c }; /* 5 V, 9 V, 3 A each */
    struct played_supply  s;

    supply_attach(&s, *state, EXACT);
    supply_contract(&s, 2, caps, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(&s, MS(300));
    supply_ask(&s, 2, caps, word_ask_fixed(2, 3000, 3000));
    /* Readings come at whole milliseconds from the beginning on: the last one before it jumps. */
    int64_t before_ns = (s.done_ns + MS(40) - s.begin_ns) / MS(1) * MS(1) + s.begin_ns;

    supply_move(&s, 9000, before_ns + US(400) - s.done_ns, US(10), MS(60));
    supply_hold(&s, MS(300));
    supply_end(&s);

    const struct finding *f = lines_finding(s.l, "time.src-transition", VERDICT_FAIL, 0);

    assert_non_null(f);
    assert_range(&f->span, before_ns - s.done_ns, before_ns + MS(1) - s.done_ns);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(a_crossing_lies_between_two_readings),
        TEST(a_reading_within_its_uncertainty_is_on_neither_side),
        TEST(each_edge_adds_its_stamp),
        TEST(readings_go_by_their_own_clock),
        TEST(readings_of_one_stream_are_tied_to_nothing),
        TEST(a_mean_lasts_as_long_as_its_interval),
        TEST(between_a_reading_and_a_packet_both_streams_count),
        TEST(a_move_is_counted_from_the_end_of_the_goodcrc),
    };

    return cmocka_run_group_tests_name("crossings of VBUS", tests, NULL, NULL);
}
