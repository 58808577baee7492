/* What is measured of a frame, what a glitch is, and that pieces make no difference. */
#include "tests/decode/bmc_heard.h"

#include "decode/line_code.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what is measured ---- */

static void drift_is_measured_against_the_last_32_bits_of_the_preamble(void **state)
{
    (void)state;
    static const double drifts[] = { 0, 0.001, -0.001, 0.0025, -0.0025, 0.01, -0.01, 0.02 };
    uint8_t             bytes[34] = { 0 };
    size_t              length = wave_crc_add(bytes, 30);

    for (size_t k = 0; k < LENGTH(drifts); k++) {
        struct heard       h;
        struct wave        w;
        struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, length);
        double             tick_error = 2e6 / (32 * 80);

        p.drift = drifts[k];
        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        (void)wave_send(&w, &p);
        listen_plainly(&h, &w);
        assert_is(&h, 0, WAVE_SOP, bytes, length);
        assert_int_equal(h.frames[0].drift_runs, (20 + 340 + 5) / 32);
        assert_near(h.frames[0].drift_ppm_least, drifts[k] * 1e6, tick_error);
        assert_near(h.frames[0].drift_ppm_most, drifts[k] * 1e6, tick_error);
        assert_near(h.frames[0].preamble_cell_ticks, 80, 1.0 / 32);
    }
}

/* Together with what the ticks add: a twelfth of a tick squared. The clock goes along a little with each change. */
static void jitter_is_measured_to_within_a_tenth(void **state)
{
    (void)state;
    uint8_t bytes[34] = { 1, 2, 3 };
    size_t  length = wave_crc_add(bytes, 30);

    for (double percent = 1; percent <= 6; percent++) {
        struct wave_instrument i = { .tick_ps = 10 * ns, .jitter_ps = cell_ps / 2 * percent / 100, .seed = (uint64_t)percent };
        struct wave_packet     p = wave_packet_of(WAVE_SOP, bytes, length);
        struct heard           h;
        struct wave            w;
        double                 sum = 0;

        wave_begin(&w, false);
        for (unsigned k = 0; k < 20; k++) {
            wave_wait(&w, 50 * us);
            (void)wave_send(&w, &p);
        }
        wave_wait(&w, 100 * us);
        listen_to(&h, &w, &i);
        wave_free(&w);
        assert_int_equal(h.count, 20);
        for (unsigned k = 0; k < 20; k++)
            sum += h.frames[k].jitter_ticks * h.frames[k].jitter_ticks / 20;
        assert_near(sqrt(sum), sqrt(pow(i.jitter_ps / i.tick_ps, 2) + 1.0 / 12), 0.1 * i.jitter_ps / i.tick_ps);
    }
}

static void unequal_edges_change_nothing_of_what_is_measured(void **state)
{
    (void)state;
    for (int k = -4; k <= 4; k++) {
        struct wave_instrument i = { .tick_ps = 10 * ns, .skew_ps = k * 150 * ns };
        struct wave_packet     p = wave_packet_of(WAVE_SOP, goodcrc, sizeof goodcrc);
        struct heard           h;
        struct wave            w;
        struct wave_truth      t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        t = wave_send(&w, &p);
        wave_wait(&w, 100 * us);
        listen_to(&h, &w, &i);
        wave_free(&w);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_near((double)h.frames[0].span_parts / BMC_PARTS, (t.end_ps - t.start_ps) / i.tick_ps, 1.5);
        assert_near(h.frames[0].drift_ppm_least, 0, 2e6 / (32 * 333));
        assert_near(h.frames[0].drift_ppm_most, 0, 2e6 / (32 * 333));
        assert_true(h.frames[0].jitter_ticks < 1);
        assert_near(h.frames[0].cell_ticks, 1e8 / 300e3, 0.01);
    }
}

static void ticks_of_a_femtosecond_and_times_near_the_ends_of_their_range_are_taken(void **state)
{
    (void)state;
    static const double  tick_ps[] = { 0.001, 1, 1000 };
    static const int64_t offsets[] = { 0, INT64_MIN / 2, INT64_MAX / 2, INT64_MAX - 1000000000000 };

    for (unsigned k = 0; k < 12; k++) {
        struct bmc_options o = { .tick_ps = tick_ps[k / 4], .known_from = offsets[k % 4] };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, heard_take, &h);
        struct wave        w;
        struct wave_ticks  t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        one_packet(&w, WAVE_SOP);
        t = wave_see(&w, &(struct wave_instrument){ .tick_ps = o.tick_ps });
        for (size_t j = 0; j < t.count; j++)
            t.at[j] += offsets[k % 4];
        bmc_take(b, t.at, t.count, t.level);
        bmc_finish(b);
        assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        assert_int_equal(h.frames[0].start_tick, t.at[0]);
        assert_near(h.frames[0].cell_ticks * o.tick_ps, cell_ps, o.tick_ps);
        bmc_free(b);
        free(t.at);
        wave_free(&w);
    }
}

/* ---- glitches ---- */

/* Pulses of that length in the middle of every fifth spacing. */
static struct wave pulsed(const struct wave *w, double length_ps)
{
    struct wave p;

    wave_begin(&p, w->begins_high);
    for (size_t k = 0; k < w->count; k++) {
        p.now_ps = w->at_ps[k];
        wave_change(&p);
        if (k % 5 || k + 1 == w->count)
            continue;
        p.now_ps = (w->at_ps[k] + w->at_ps[k + 1]) / 2;
        wave_change(&p);
        wave_wait(&p, length_ps);
        wave_change(&p);
    }
    p.now_ps = w->now_ps;
    return p;
}

static void pulses_shorter_than_the_filter_are_not_there_and_its_width_can_be_set(void **state)
{
    (void)state;
    struct { double pulse_ns; uint64_t filter_ps; bool gone; } cases[] = {
        { 240, 0, true }, { 30, 0, true }, { 260, 0, false }, { 240, 100000, false }, { 90, 100000, true }, { 390, 400000, true },
    };

    for (size_t k = 0; k < LENGTH(cases); k++) {
        struct bmc_options o = { .tick_ps = 10 * ns, .glitch_ps = cases[k].filter_ps };
        struct heard       h = { 0 };
        struct bmc        *b = bmc_new(&o, heard_take, &h);
        struct wave        w, p;
        struct wave_ticks  t;

        wave_begin(&w, false);
        wave_wait(&w, 50 * us);
        one_packet(&w, WAVE_SOP);
        p = pulsed(&w, cases[k].pulse_ns * ns);
        t = wave_see(&p, &(struct wave_instrument){ .tick_ps = 10 * ns });
        bmc_take(b, t.at, t.count, t.level);
        bmc_finish(b);
        assert_int_equal(h.count == 1 && !h.frames[0].kcode_unsure && h.frames[0].crc_good, cases[k].gone);
        bmc_free(b);
        free(t.at);
        wave_free(&w);
        wave_free(&p);
    }
    assert_int_equal(BMC_GLITCH_PS, 250000);
}

static void a_longer_pulse_inside_a_cell_is_seen_to_be_no_part_of_it(void **state)
{
    (void)state;
    for (double length_ns = 260; length_ns < 800; length_ns += 60) {
        for (size_t change = 0; change < 200; change += 3) {
            struct heard h;
            struct wave  w, p;

            wave_begin(&w, false);
            wave_wait(&w, 50 * us);
            one_packet(&w, WAVE_SOP);
            wave_begin(&p, false);
            for (size_t k = 0; k < w.count; k++) {
                p.now_ps = w.at_ps[k];
                wave_change(&p);
                if (k != change)
                    continue;
                wave_wait(&p, 300 * ns);
                wave_change(&p);
                wave_wait(&p, length_ns * ns);
                wave_change(&p);
            }
            listen_plainly(&h, &p);
            wave_free(&w);
            assert_is(&h, 0, WAVE_SOP, goodcrc, sizeof goodcrc);
        }
    }
}

/* ---- pieces ---- */

static void what_is_known_of_a_line_decides_when_a_frame_comes_out_and_not_what_it_is(void **state)
{
    (void)state;
    struct wave        w;
    struct wave_ticks  t;
    struct bmc_options o = { .tick_ps = plain.tick_ps };
    struct heard       whole = { 0 };
    struct wave_packet p = wave_packet_of(WAVE_HARD_RESET, NULL, 0);
    struct bmc        *b;

    wave_begin(&w, true);
    wave_wait(&w, 50 * us);
    for (unsigned k = 0; k < 5; k++) {
        one_packet(&w, k);
        wave_wait(&w, 40 * us);
    }
    (void)wave_send(&w, &p);
    wave_wait(&w, 100 * us);
    listen_to(&whole, &w, &plain);
    assert_int_equal(whole.count, 6);
    t = wave_see(&w, &plain);
    for (size_t piece = 1; piece < 400; piece += 1 + piece / 3) {
        struct heard h = { 0 };
        int64_t      settled = INT64_MIN;

        b = bmc_new(&o, heard_take, &h);
        for (size_t k = 0; k < t.count; k += piece) {
            size_t count = t.count - k < piece ? t.count - k : piece, before = h.count;

            bmc_take(b, t.at + k, count, t.level != (k % 2 != 0));
            for (size_t j = before; j < h.count; j++)
                assert_true(h.frames[j].start_tick >= settled);
            assert_true(bmc_settled(b) >= settled);
            settled = bmc_settled(b);
        }
        bmc_reached(b, t.at[t.count - 1] + 2400);
        assert_int_equal(h.count, 6); /* nothing waits for the end */
        assert_int_equal(bmc_settled(b), t.at[t.count - 1] + 2400);
        bmc_finish(b);
        assert_int_equal(h.count, 6);
        bmc_free(b);
        for (size_t k = 0; k < 6; k++) {
            h.frames[k].bytes = whole.frames[k].bytes;
            assert_memory_equal(&h.frames[k], &whole.frames[k], sizeof h.frames[k]);
        }
    }
    free(t.at);
    wave_free(&w);
}

static void a_level_that_is_not_what_the_changes_make_it_is_a_hole(void **state)
{
    (void)state;
    struct wave        w;
    struct wave_ticks  t;
    struct bmc_options o = { .tick_ps = plain.tick_ps };
    struct heard       h = { 0 };
    struct bmc        *b = bmc_new(&o, heard_take, &h);

    wave_begin(&w, false);
    wave_wait(&w, 50 * us);
    one_packet(&w, WAVE_SOP);
    wave_wait(&w, 40 * us);
    one_packet(&w, WAVE_SOP);
    t = wave_see(&w, &plain);
    bmc_take(b, t.at, 150, t.level);
    bmc_take(b, t.at + 151, t.count - 151, t.level != (151 % 2 != 0));
    bmc_finish(b);
    assert_int_equal(h.count, 2);
    assert_int_equal(h.frames[0].end, BMC_NO_EOP);
    assert_is(&h, 1, WAVE_SOP, goodcrc, sizeof goodcrc);
    assert_int_equal(h.frames[1].gap_parts, -1);
    bmc_free(b);
    free(t.at);
    wave_free(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drift_is_measured_against_the_last_32_bits_of_the_preamble),
        cmocka_unit_test(jitter_is_measured_to_within_a_tenth),
        cmocka_unit_test(unequal_edges_change_nothing_of_what_is_measured),
        cmocka_unit_test(ticks_of_a_femtosecond_and_times_near_the_ends_of_their_range_are_taken),
        cmocka_unit_test(pulses_shorter_than_the_filter_are_not_there_and_its_width_can_be_set),
        cmocka_unit_test(a_longer_pulse_inside_a_cell_is_seen_to_be_no_part_of_it),
        cmocka_unit_test(what_is_known_of_a_line_decides_when_a_frame_comes_out_and_not_what_it_is),
        cmocka_unit_test(a_level_that_is_not_what_the_changes_make_it_is_a_hole),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
