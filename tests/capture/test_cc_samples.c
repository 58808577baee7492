/* CC lines as 16-bit samples: what an analogue instrument would have read of lines whose driver is known to the nanosecond. */
#include "tests/capture/cc_played.h"
#include "tests/capture/cc_wave.h"
#include "tests/capture/made.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SCALE_UV = 250 };

struct scene {
    double   rate_hz, noise_mv, rest_mv, low_mv, high_mv, tau_ns;
    unsigned packets, bits;
    double   step_mv, lifted_mv; /* of the instrument; 0: none that matters. Ground of every second speaker */
};
static const struct scene usual = { 6e6, 10, 918, 0, 1125, 200, 8, 120, 0, 0 };

static struct cc_drive drive_of(const struct scene *s)
{
    return (struct cc_drive){ s->low_mv, s->high_mv, s->rest_mv, s->tau_ns, 400, 1e9 / 300000 };
}

/* Packets with gaps of 30 to 90 us and bit rates of 270 to 330 kbit/s, a rest of 300 us before and behind. Returns its end. */
static double life_make(const struct scene *s, struct cc_wave *w, uint64_t *seed)
{
    struct cc_drive d = drive_of(s);
    double          t = 300000;

    *w = (struct cc_wave){ .start_mv = s->rest_mv };
    for (unsigned k = 0; k < s->packets; k++) {
        d.low_mv = s->low_mv + (k % 2 ? s->lifted_mv : 0);
        d.high_mv = s->high_mv + (k % 2 ? s->lifted_mv : 0);
        d.cell_ns = 1e9 / (270000 + (double)(cc_wave_word(seed) % 60001));
        t = cc_wave_drawn(w, t, &d, s->bits, seed) + 30000 + (double)(cc_wave_word(seed) % 60000);
    }
    return t + 300000;
}

static uint8_t *samples_of(const struct cc_wave *w, double end_ns, double rate_hz, double noise_mv, double step_mv, uint64_t *seed, size_t *length)
{
    size_t   count = (size_t)(end_ns * rate_hz / 1e9);
    double  *mv = malloc(count * sizeof *mv);
    uint8_t *bytes = malloc(2 * count);

    assert_true(mv && bytes);
    cc_wave_read(w, 1e9 / rate_hz, noise_mv, seed, mv, count);
    for (size_t k = 0; k < count; k++) {
        double read_mv = step_mv > 0 ? floor(mv[k] / step_mv + 0.5) * step_mv : mv[k];
        int    step = (int)lround(read_mv * 1000 / SCALE_UV);

        bytes[2 * k] = (uint8_t)(step & 255);
        bytes[2 * k + 1] = (uint8_t)(step >> 8 & 255);
    }
    free(mv);
    *length = 2 * count;
    return bytes;
}

static struct cc_options options_of(double rate_hz)
{
    return (struct cc_options){ .lines = 1, .rate_hz = rate_hz, .scale_uv = SCALE_UV };
}

/* What was heard of a scene, and how it fits. */
static struct played_match scene_play(const struct scene *s, const struct cc_options *told, struct played **kept)
{
    uint64_t           seed = 11;
    struct cc_wave     w;
    double             end = life_make(s, &w, &seed);
    size_t             length;
    uint8_t           *bytes = samples_of(&w, end, s->rate_hz, s->noise_mv, s->step_mv, &seed, &length);
    struct cc_options  o = told ? *told : options_of(s->rate_hz);
    struct played      *h = played_of(&cc_samples_kind, bytes, length, &o);
    struct played_match m = played_match(&h->line[0], w.edges, w.edge_count);

    assert_int_equal(h->fault.code, FAULT_NONE);
    assert_int_equal(m.found + m.missed, w.edge_count);
    free(bytes);
    cc_wave_free(&w);
    if (kept)
        *kept = h;
    else
        played_free(h);
    return m;
}

/*
 * Beside its own edges a packet has two more where the line rests high: it is pulled low before the first, and let go after the last. A
 * rest amid the swing may be seen as either.
 */
static void every_edge_is_found_once_whatever_the_rest(void **state)
{
    static const double rests[] = { 0, 408, 610, 918, 1683, 2500 };
    static const double rates[] = { 2e6, 6e6, 24e6, 100e6 };

    (void)state;
    for (unsigned r = 0; r < sizeof rests / sizeof rests[0]; r++) {
        for (unsigned k = 0; k < sizeof rates / sizeof rates[0]; k++) {
            struct scene s = usual;

            s.rest_mv = rests[r];
            s.rate_hz = rates[k];
            s.tau_ns = 150;
            struct played_match m = scene_play(&s, NULL, NULL);

            assert_int_equal(m.missed, 0);
            if (rests[r] > 700)
                assert_int_equal(m.extra, 2 * s.packets);
            else
                assert_true(m.extra <= (rests[r] > 500 ? s.packets : 0));
        }
    }
}

/* Low and high of both drivers lie elsewhere: ground lifted by 250 mV (the most that a cable may do, from memory) either way, swings of 1.05 and 1.2 V. */
static void levels_of_another_partner_are_followed(void **state)
{
    static const struct { double low, high; } drivers[] = { { -250, 800 }, { 250, 1450 }, { 0, 1050 }, { 0, 1200 } };

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        struct scene s = usual;

        s.low_mv = drivers[k].low;
        s.high_mv = drivers[k].high;
        struct played *h;
        struct played_match m = scene_play(&s, NULL, &h);

        assert_int_equal(m.missed, 0);
        assert_true(m.spread_ns < 25);
        assert_int_equal(played_news(h, CC_THRESHOLDS), 1);
        /* A fifth of the swing from the middle; what is found of the levels lies within the edges. */
        double middle = (s.low_mv + s.high_mv) / 2, swing = s.high_mv - s.low_mv;

        assert_true(fabs(h->notices[0].low_mv - (middle - swing / 5)) < swing / 12);
        assert_true(fabs(h->notices[0].high_mv - (middle + swing / 5)) < swing / 12);
        played_free(h);
    }
}

/* A source at 0 V and a sink whose ground current has lifted by 250 mV, in turns. */
static void partners_of_different_levels_take_turns(void **state)
{
    static const double rests[] = { 408, 918, 1683 };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct scene s = usual;

        s.rest_mv = rests[k];
        s.lifted_mv = 250;
        s.packets = 20;
        struct played      *h;
        struct played_match m = scene_play(&s, NULL, &h);

        assert_int_equal(m.missed, 0);
        assert_true(m.extra <= 2 * s.packets);
        assert_true(m.spread_ns < 25);
        assert_int_equal(played_news(h, CC_THRESHOLDS), 2); /* once for each */
        played_free(h);
    }
}

/* 8 bits over 10 V: steps of 39 mV, between two of which a line at rest flickers. */
static void coarse_steps_are_borne(void **state)
{
    static const double rests[] = { 408, 585.9, 918, 1683 }; /* 585.9 is 15 steps: half of the readings on either side of a step next to it */
    static const double rates[] = { 2e6, 6e6, 24e6 };

    (void)state;
    for (unsigned r = 0; r < 4; r++) {
        for (unsigned k = 0; k < 3; k++) {
            struct scene s = usual;

            s.step_mv = 10000.0 / 256;
            s.rate_hz = rates[k];
            s.rest_mv = rests[r] + s.step_mv / 2;
            s.tau_ns = 150;
            struct played      *h;
            struct played_match m = scene_play(&s, NULL, &h);

            assert_int_equal(m.missed, 0);
            assert_true(m.extra <= 2 * s.packets);
            assert_int_equal(played_news(h, CC_THRESHOLDS), 1);
            assert_true(h->line[0].level_count > 0);
            for (size_t j = 0; j < h->line[0].level_count; j++)
                assert_true(fabs(h->line[0].levels[j].mv - s.rest_mv) < 12);
            played_free(h);
        }
    }
}

/* A probe of 10 : 1 that nobody told of: a tenth of everything. */
static void a_swing_of_a_tenth_is_found_as_well(void **state)
{
    struct scene s = usual;

    (void)state;
    s.low_mv = 0;
    s.high_mv = 112.5;
    s.rest_mv = 91.8;
    s.noise_mv = 2;
    struct played_match m = scene_play(&s, NULL, NULL);

    assert_int_equal(m.missed, 0);
}

static void scale_and_offset_need_not_be_known(void **state)
{
    struct cc_options o = options_of(6e6);
    struct played     *h;

    (void)state;
    o.scale_uv = 0;
    struct played_match m = scene_play(&usual, &o, &h);

    assert_int_equal(m.missed, 0);
    assert_int_equal(h->line[0].level_count, 0);
    played_free(h);
}

static void offset_and_turned_scale_are_taken_into_account(void **state)
{
    /* Steps of -1 mV around 1000 mV: the line at 918 mV is step 82. */
    enum { COUNT = 4000 };
    struct cc_options o = { .lines = 1, .rate_hz = 1e6, .scale_uv = -1000, .offset_mv = 1000 };
    uint8_t           bytes[2 * COUNT];

    (void)state;
    for (unsigned k = 0; k < COUNT; k++) {
        bytes[2 * k] = 82;
        bytes[2 * k + 1] = 0;
    }
    struct played *h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);

    assert_int_equal(h->line[0].edges, 0);
    assert_true(h->line[0].level_count >= 1);
    assert_int_equal(h->line[0].levels[0].mv, 918);
    assert_true(h->line[0].first_level);
    played_free(h);
}

/* Common practice, no source: an instrument of 8 bits at 500 mV a division shows some 15 mV of noise; six times as much is borne. */
static void noise_up_to_90_mv_costs_no_edge(void **state)
{
    static const struct { double rate_hz, noise_mv, spread_ns; } rows[] = {
        { 6e6, 30, 25 }, { 6e6, 90, 45 }, { 24e6, 30, 15 }, { 24e6, 90, 40 }, { 2e6, 60, 100 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        struct scene s = usual;

        s.rate_hz = rows[k].rate_hz;
        s.noise_mv = rows[k].noise_mv;
        struct played *h;
        struct played_match m = scene_play(&s, NULL, &h);

        assert_int_equal(m.missed, 0);
        assert_true(m.extra <= 2 * s.packets);
        assert_true(m.spread_ns < rows[k].spread_ns);
        /* What it says of its own sureness is right to within a factor of 2.5. */
        assert_true(h->facts.edge_ns < 2.5 * m.spread_ns && h->facts.edge_ns > m.spread_ns / 2.5);
        played_free(h);
    }
}

/* At 12 MS/s a sample lasts 83 ns; were a change put at a sample, that alone would leave 24 ns (83 / sqrt 12). */
static void changes_lie_between_samples(void **state)
{
    struct scene s = usual;

    (void)state;
    s.rate_hz = 12e6;
    s.noise_mv = 5;
    struct played_match m = scene_play(&s, NULL, NULL);

    assert_true(m.spread_ns < 8);
    /* Half of the way is gone after tau x ln 2 = 139 ns. */
    assert_true(fabs(m.late_ns - 200 * log(2)) < 10);
}

static void rest_is_told_as_levels(void **state)
{
    struct played *h;

    (void)state;
    scene_play(&usual, NULL, &h);
    const struct played_line *l = &h->line[0];

    assert_true(l->level_count >= 2);
    for (size_t k = 0; k < l->level_count; k++)
        assert_true(labs(l->levels[k].mv - 918) <= 5);
    assert_true(l->levels[0].from_ns < 1);
    assert_true(l->levels[0].until_ns > 230000 && l->levels[0].until_ns < 300000); /* the first packet begins at 300 us */
    assert_true(l->levels[l->level_count - 1].until_ns > (double)l->until * (double)h->tick.ps / 1000 - 1);
    played_free(h);
}

/* Open, a partner with Rd at three currents, gone again: a second long, sampled slowly. */
static void steps_of_the_rest_are_told(void **state)
{
    static const double levels[] = { 3300, 408, 918, 1683, 3300 };
    struct cc_wave      w = { .start_mv = 3300 };
    uint64_t            seed = 5;
    size_t              length, seen = 0;

    (void)state;
    for (unsigned k = 1; k < 5; k++)
        cc_wave_turn(&w, 200e6 * k, levels[k], 20000);
    uint8_t          *bytes = samples_of(&w, 1e9, 500e3, 20, 0, &seed, &length);
    struct cc_options o = options_of(500e3);
    struct played     *h = played_of(&cc_samples_kind, bytes, length, &o);

    for (size_t k = 0; k < h->line[0].level_count; k++) {
        const struct played_level *l = &h->line[0].levels[k];
        unsigned                  part = (unsigned)(l->from_ns / 200e6);

        assert_true(part < 5);
        if (l->from_ns > 200e6 * part + 300000) { /* the exponential has come within a thousandth */
            assert_true(fabs(l->mv - levels[part]) <= 12);
            seen |= 1u << part;
        }
    }
    assert_int_equal(seen, 31);
    free(bytes);
    cc_wave_free(&w);
    played_free(h);
}

static void noise_at_a_rest_between_the_thresholds_makes_no_edges(void **state)
{
    struct cc_wave w = { .start_mv = 562 }; /* the middle of the nominal swing */
    uint64_t       seed = 3;
    size_t         length;

    (void)state;
    uint8_t          *bytes = samples_of(&w, 20e6, 6e6, 60, 0, &seed, &length);
    struct cc_options o = options_of(6e6);
    struct played     *h = played_of(&cc_samples_kind, bytes, length, &o);

    assert_int_equal(h->line[0].edges, 0);
    free(bytes);
    played_free(h);
}

static void told_thresholds_are_kept_to(void **state)
{
    struct cc_options o = options_of(6e6);
    struct played     *h;

    (void)state;
    o.low_mv = 300;
    o.high_mv = 800;
    struct played_match m = scene_play(&usual, &o, &h);

    assert_int_equal(m.missed, 0);
    assert_int_equal(played_news(h, CC_THRESHOLDS), 0);
    played_free(h);
}

static void blocks_cut_elsewhere_say_the_same(void **state)
{
    uint64_t         seed = 11;
    struct cc_wave   w;
    double           end = life_make(&usual, &w, &seed);
    size_t           length;
    uint8_t         *bytes = samples_of(&w, end, 6e6, 20, 0, &seed, &length);
    struct cc_options o = options_of(6e6);
    struct played    *whole = played_of(&cc_samples_kind, bytes, length, &o);

    (void)state;
    o.read_bytes = 777;
    struct played *cut = played_of(&cc_samples_kind, bytes, length, &o);

    assert_true(cut->line[0].blocks > whole->line[0].blocks);
    assert_int_equal(cut->line[0].edges, whole->line[0].edges);
    assert_memory_equal(cut->line[0].edges_ns, whole->line[0].edges_ns, whole->line[0].edges * sizeof(double));
    played_free(whole);
    played_free(cut);
    free(bytes);
    cc_wave_free(&w);
}

static void half_a_sample_at_the_end_is_told(void **state)
{
    const uint8_t     bytes[] = { 0, 0, 1, 0, 7 };
    struct cc_options o = options_of(6e6);
    struct played     *h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);

    (void)state;
    assert_int_equal(played_news(h, CC_CUT_OFF), 1);
    assert_int_equal(h->notices[0].number, 3);
    assert_int_equal(h->facts.unreadable, 1);
    assert_int_equal(h->facts.bytes, 5);
    assert_int_equal(h->facts.bytes_total, 5);
    played_free(h);
}

static void what_cannot_be_read_is_a_fault(void **state)
{
    const uint8_t     bytes[] = { 0, 0, 1, 0 };
    struct cc_options o = options_of(0);
    struct played     *h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);

    (void)state;
    assert_int_equal(h->fault.code, FAULT_RATE);
    played_free(h);
    o = options_of(NAN);
    h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);
    assert_int_equal(h->fault.code, FAULT_RATE);
    played_free(h);
    o = options_of(1e6);
    h = played_of(&cc_samples_kind, bytes, 0, &o);
    assert_int_equal(h->fault.code, FAULT_EMPTY);
    played_free(h);
    o.names[0] = "CC1";
    h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);
    assert_int_equal(h->fault.code, FAULT_NOT_THERE);
    played_free(h);
    o = options_of(1e6);
    h = played_of_file(&cc_samples_kind, "/nowhere/at/all.s16", &o);
    assert_int_equal(h->fault.code, FAULT_OPEN);
    played_free(h);
}

static void any_rate_and_any_bytes_are_borne(void **state)
{
    static const double rates[] = { 0.001, 1, 1000, 1e9, 1e12 };
    uint8_t             bytes[20000];
    uint64_t            seed = 9;

    (void)state;
    for (size_t k = 0; k < sizeof bytes; k++)
        bytes[k] = (uint8_t)cc_wave_word(&seed);
    for (unsigned k = 0; k < sizeof rates / sizeof rates[0]; k++) {
        struct cc_options o = options_of(rates[k]);
        struct played     *h = played_of(&cc_samples_kind, bytes, sizeof bytes, &o);

        assert_int_equal(h->fault.code, FAULT_NONE);
        assert_true(h->line[0].blocks > 0);
        played_free(h);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_edge_is_found_once_whatever_the_rest),
        cmocka_unit_test(levels_of_another_partner_are_followed),
        cmocka_unit_test(partners_of_different_levels_take_turns),
        cmocka_unit_test(coarse_steps_are_borne),
        cmocka_unit_test(a_swing_of_a_tenth_is_found_as_well),
        cmocka_unit_test(scale_and_offset_need_not_be_known),
        cmocka_unit_test(offset_and_turned_scale_are_taken_into_account),
        cmocka_unit_test(noise_up_to_90_mv_costs_no_edge),
        cmocka_unit_test(changes_lie_between_samples),
        cmocka_unit_test(rest_is_told_as_levels),
        cmocka_unit_test(steps_of_the_rest_are_told),
        cmocka_unit_test(noise_at_a_rest_between_the_thresholds_makes_no_edges),
        cmocka_unit_test(told_thresholds_are_kept_to),
        cmocka_unit_test(blocks_cut_elsewhere_say_the_same),
        cmocka_unit_test(half_a_sample_at_the_end_is_told),
        cmocka_unit_test(what_cannot_be_read_is_a_fault),
        cmocka_unit_test(any_rate_and_any_bytes_are_borne),
    };

    return cmocka_run_group_tests_name("cc_samples", tests, NULL, NULL);
}
