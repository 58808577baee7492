/*
 * How fast the BMC decoder is: bench_bmc [SECONDS_OF_LINE]. A line at 300 kbit/s of which 90 % is packets, as a logic analyser of 24 MS/s
 * and other instruments see it: what a change costs, and how many times faster than the line it is read. Beside it the least that can be
 * done with the changes: to add up their spacings.
 */
#include "decode/bmc.h"
#include "tests/decode/bmc_line.h"
#include "tests/decode/testing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

enum { PIECE = 4096, PACKETS = 400 };

struct heard { uint64_t right, frames; };

static double seconds_used(void)
{
    struct rusage r;

    getrusage(RUSAGE_SELF, &r);
    return (double)r.ru_utime.tv_sec + (double)r.ru_utime.tv_usec * 1e-6;
}

static void found(void *context, const struct bmc_frame *f)
{
    struct heard *h = context;

    h->frames++;
    h->right += f->crc_good && f->end == BMC_EOP;
}

/* Source_Capabilities, Requests and the like, each followed by its GoodCRC, with pauses for a tenth of the time. */
static void talk(struct wave *w, uint64_t *seed)
{
    uint8_t bytes[2 + 28 + 4];

    for (unsigned k = 0; k < PACKETS; k++) {
        size_t             length = k % 2 ? 2 : 2 + 4 * (random_word(seed) % 8);
        struct wave_packet p;
        double             from = w->now_ps;

        for (size_t j = 0; j < length; j++)
            bytes[j] = (uint8_t)random_word(seed);
        length = wave_crc_add(bytes, length);
        p = wave_packet_of(WAVE_SOP, bytes, length);
        (void)wave_send(w, &p);
        wave_wait(w, (w->now_ps - from) / 9);
    }
}

static double spacings_add(const struct wave_ticks *t, unsigned rounds, int64_t *sum)
{
    double from = seconds_used();

    for (unsigned r = 0; r < rounds; r++)
        for (size_t k = 1; k < t->count; k++)
            *sum += (t->at[k] - t->at[k - 1]) ^ r;
    return seconds_used() - from;
}

static void line_read(const struct wave_ticks *t, int64_t shift, struct bmc *b, int64_t *at)
{
    for (size_t k = 0; k < t->count; k += PIECE) {
        size_t count = t->count - k < PIECE ? t->count - k : PIECE;

        for (size_t j = 0; j < count; j++)
            at[j] = t->at[k + j] + shift;
        bmc_take(b, at, count, t->level != (k % 2 != 0));
    }
}

static void point(double sample_hz, double jitter_percent, double line_s)
{
    struct wave            w;
    struct wave_instrument i = { .tick_ps = 1e12 / sample_hz, .jitter_ps = 1e12 / 600e3 * jitter_percent / 100, .seed = 3 };
    struct bmc_options     o = { .tick_ps = i.tick_ps };
    struct heard           h = { 0 };
    struct bmc            *b = bmc_new(&o, found, &h);
    struct wave_ticks      t;
    int64_t               *at = malloc(PIECE * sizeof *at), sum = 0, whole;
    uint64_t               seed = 1;
    double                 used, least;
    volatile int64_t       kept; /* so that the sum is worked out */
    unsigned               rounds;

    wave_begin(&w, false);
    wave_wait(&w, 1e6);
    talk(&w, &seed);
    wave_wait(&w, 100e6);
    if (w.count % 2)
        wave_change(&w); /* the next round begins with the same level */
    wave_wait(&w, 100e6);
    t = wave_see(&w, &i);
    if (!b || !at || t.count % 2)
        abort();
    whole = (int64_t)(w.now_ps / i.tick_ps);
    rounds = (unsigned)(line_s * 1e12 / w.now_ps) + 1;
    used = seconds_used();
    for (unsigned r = 0; r < rounds; r++)
        line_read(&t, whole * r, b, at);
    bmc_finish(b);
    used = seconds_used() - used;
    least = spacings_add(&t, rounds, &sum);
    kept = sum;
    (void)kept;
    printf("%8g %7g %% %12.2f %10.2f %14.0f %13.2f %%\n", sample_hz / 1e6, jitter_percent, used * 1e9 / rounds / (double)t.count,
           least * 1e9 / rounds / (double)t.count, w.now_ps * 1e-12 * rounds / used, 100.0 * (double)h.right / rounds / PACKETS);
    bmc_free(b);
    free(at);
    free(t.at);
    wave_free(&w);
}

int main(int argc, char **argv)
{
    double line_s = argc > 1 ? strtod(argv[1], NULL) : 60;

    if (argc > 2 || !(line_s > 0) || line_s > 1e5) {
        fprintf(stderr, "usage: bench_bmc [SECONDS_OF_LINE]\n");
        return 2;
    }
    printf("BMC at 300 kbit/s, 90 %% of the time packets, %g s of it\n", line_s);
    printf("    MS/s    jitter  ns a change  spacings    times as fast    packets right\n");
    point(24e6, 0, line_s);
    point(24e6, 2, line_s);
    point(24e6, 5, line_s);
    point(6e6, 2, line_s);
    point(2.4e6, 0, line_s);
    point(1000e6, 2, line_s);
    return 0;
}
