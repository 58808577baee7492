/*
 * From the voltage of a CC line to packets: drivers with slow edges, noise and a level at rest, read as 16-bit samples, sliced, decoded. What
 * comes out is held against what was sent. CC_CHAIN_TABLE=1 in the environment prints how many packets of thousands come through.
 */
#include "tests/decode/testing.h"

#include "capture/cc_line.h"
#include "decode/bmc.h"
#include "tests/capture/cc_wave.h"
#include "tests/decode/bmc_line.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SCALE_UV = 250, BYTES_MOST = 40, PACKETS_MOST = 400 };

struct scene { double rate_hz, noise_mv, tau_ns, rest_mv, offset_mv, bit_rate_off; unsigned packets; };
struct sent { uint8_t bytes[BYTES_MOST]; size_t length; double start_ns, end_ns; };
struct chain {
    struct sent sent[PACKETS_MOST];
    unsigned    count, next; /* next: to be found */
    unsigned    found, false_ones;
    double      tick_ns, start_most_ns, span_most_ns;
};

static void packet_draw(struct sent *s, uint64_t *seed)
{
    unsigned objects = random_word(seed) % 4;

    s->length = 2 + 4 * objects;
    for (size_t k = 0; k < s->length; k++)
        s->bytes[k] = (uint8_t)random_word(seed);
    s->length = wave_crc_add(s->bytes, s->length);
}

/* The wave's changes as turns of a driver, the line at rest around them. */
static double turns_add(struct cc_wave *to, const struct wave *w, double at_ns, const struct scene *s)
{
    bool high = w->begins_high;

    cc_wave_turn(to, at_ns - 700, s->offset_mv, s->tau_ns);
    for (size_t k = 0; k < w->count; k++) {
        high = !high;
        cc_wave_turn(to, at_ns + w->at_ps[k] / 1000, s->offset_mv + (high ? 1125 : 0), s->tau_ns);
    }
    cc_wave_turn(to, at_ns + w->at_ps[w->count - 1] / 1000 + 1500, s->rest_mv, 400);
    return at_ns + w->now_ps / 1000;
}

static double life_make(const struct scene *s, struct cc_wave *to, struct chain *c, uint64_t *seed)
{
    double t = 200000;

    for (; c->count < s->packets; c->count++) {
        struct sent       *p = &c->sent[c->count];
        struct wave        w = { 0 };

        packet_draw(p, seed);
        struct wave_packet packet = wave_packet_of(WAVE_SOP, p->bytes, p->length);

        packet.rate_hz = 300000 * (1 + s->bit_rate_off * ((double)random_word(seed) / 2147483648.0 - 1));
        packet.hold_low = true;
        wave_begin(&w, false);
        struct wave_truth truth = wave_send(&w, &packet);

        p->start_ns = t + truth.start_ps / 1000;
        p->end_ns = t + truth.end_ps / 1000;
        t = turns_add(to, &w, t, s) + 30000 + random_word(seed) % 60000;
        wave_free(&w);
    }
    return t + 200000;
}

/* A packet that is none of those sent, or not where one was, is a false one. */
static void take_frame(void *context, const struct bmc_frame *f)
{
    struct chain *c = context;
    double        start_ns = (double)f->start_tick * c->tick_ns, span_ns = (double)f->span_parts / BMC_PARTS * c->tick_ns;

    if (!f->crc_good)
        return;
    for (unsigned k = c->next; k < c->count; k++) {
        const struct sent *p = &c->sent[k];

        if (fabs(p->start_ns - start_ns) > 8000 || p->length != f->length || memcmp(p->bytes, f->bytes, f->length) != 0)
            continue;
        c->next = k + 1;
        c->found++;
        c->start_most_ns = fmax(c->start_most_ns, fabs(start_ns - p->start_ns));
        c->span_most_ns = fmax(c->span_most_ns, fabs(span_ns - (p->end_ns - p->start_ns)));
        return;
    }
    c->false_ones++;
}

static uint8_t *samples_of(const struct cc_wave *w, double end_ns, const struct scene *s, uint64_t *seed, size_t *length)
{
    size_t   count = (size_t)(end_ns * s->rate_hz / 1e9);
    double  *mv = malloc(count * sizeof *mv);
    uint8_t *bytes = malloc(2 * count);

    assert_true(mv && bytes);
    cc_wave_read(w, 1e9 / s->rate_hz, s->noise_mv, seed, mv, count);
    for (size_t k = 0; k < count; k++) {
        unsigned step = (unsigned)(int)lround(mv[k] * 1000 / SCALE_UV);

        bytes[2 * k] = (uint8_t)(step & 255);
        bytes[2 * k + 1] = (uint8_t)(step >> 8 & 255);
    }
    free(mv);
    *length = 2 * count;
    return bytes;
}

static void decode_all(struct chain *c, const uint8_t *bytes, size_t length, const struct scene *s)
{
    const struct cc_options o = { .lines = 1, .rate_hz = s->rate_hz, .scale_uv = SCALE_UV };
    struct fault            f = { 0 };
    struct cc_file         *file = cc_samples_kind.open_memory(bytes, length, &o, &f);
    struct cc_block         b;

    assert_non_null(file);
    struct cc_tick     tick = cc_samples_kind.tick(file);
    struct bmc_options options = { .tick_ps = (double)tick.ps / (double)tick.per };
    struct bmc        *bmc = bmc_new(&options, take_frame, c);

    assert_non_null(bmc);
    c->tick_ns = options.tick_ps / 1000;
    while (cc_samples_kind.next(file, &b, &f)) {
        bmc_take(bmc, b.at, b.count, b.level);
        bmc_reached(bmc, b.until);
    }
    bmc_finish(bmc);
    bmc_free(bmc);
    cc_samples_kind.close(file);
}

static struct chain *scene_play(const struct scene *s)
{
    struct chain  *c = calloc(1, sizeof *c);
    struct cc_wave w = { .start_mv = s->rest_mv };
    uint64_t       seed = 77;
    size_t         length;

    assert_non_null(c);
    double   end = life_make(s, &w, c, &seed);
    uint8_t *bytes = samples_of(&w, end, s, &seed, &length);

    decode_all(c, bytes, length, s);
    free(bytes);
    cc_wave_free(&w);
    return c;
}

static void every_packet_comes_through(void **state)
{
    static const double rests[] = { 0, 408, 918, 1683, 2500 };
    static const struct { double rate_hz, noise_mv; } points[] = { { 2e6, 10 }, { 4e6, 40 }, { 6e6, 60 }, { 24e6, 60 } };

    (void)state;
    for (unsigned r = 0; r < LENGTH(rests); r++) {
        for (unsigned k = 0; k < LENGTH(points); k++) {
            const struct scene s = { points[k].rate_hz, points[k].noise_mv, 150, rests[r], 0, 0.1, 60 };
            struct chain      *c = scene_play(&s);

            assert_int_equal(c->found, s.packets);
            assert_int_equal(c->false_ones, 0);
            free(c);
        }
    }
}

/* Start and length: all edges are late alike (tau x ln 2 = 104 ns), and each as unsure as noise makes it. */
static void starts_and_lengths_are_measured(void **state)
{
    const struct scene s = { 12e6, 10, 150, 408, 0, 0.1, 60 };
    struct chain      *c = scene_play(&s);

    (void)state;
    assert_int_equal(c->found, s.packets);
    assert_true(c->start_most_ns < 104 + 50);
    assert_true(c->span_most_ns < 50);
    free(c);
}

static void a_lifted_ground_is_borne(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        const struct scene s = { 6e6, 30, 200, 918, 250.0 * sign, 0.1, 60 };
        struct chain      *c = scene_play(&s);

        assert_int_equal(c->found, s.packets);
        free(c);
    }
}

static void table_print(void)
{
    static const double rates[] = { 1e6, 1.2e6, 1.5e6, 2e6, 3e6, 6e6, 12e6, 24e6, 100e6 }, noises[] = { 0, 20, 50, 100, 150, 200 };

    printf("rate \\ noise");
    for (unsigned n = 0; n < LENGTH(noises); n++)
        printf(" %7.0f mV", noises[n]);
    for (unsigned r = 0; r < LENGTH(rates); r++) {
        printf("\n%6.1f MS/s", rates[r] / 1e6);
        for (unsigned n = 0; n < LENGTH(noises); n++) {
            const struct scene s = { rates[r], noises[n], 150, 918, 0, 0.1, PACKETS_MOST };
            struct chain      *c = scene_play(&s);

            printf("   %6.2f %%", 100.0 * c->found / s.packets);
            fflush(stdout);
            free(c);
        }
    }
    printf("\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_packet_comes_through),
        cmocka_unit_test(starts_and_lengths_are_measured),
        cmocka_unit_test(a_lifted_ground_is_borne),
    };

    if (getenv("CC_CHAIN_TABLE"))
        table_print();
    return cmocka_run_group_tests_name("cc_chain", tests, NULL, NULL);
}
