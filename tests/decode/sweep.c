/*
 * How bad a CC line may be: sweep [PACKETS]. Tables of the share of packets that come through right, by sample rate and by one trouble at a
 * time. Under a share that is not whole, frames that nobody sent are told behind a plus sign. The encoder is the tests' own.
 */
#include "tests/decode/bmc_trial.h"
#include "tests/decode/testing.h"

#include <stdio.h>
#include <stdlib.h>

static const double sample_mhz[] = { 1.2, 1.5, 2, 2.4, 4, 6, 12, 24, 100 };

enum { POINTS_MOST = 9 };

struct table {
    const char *title, *unit;
    double      points[POINTS_MOST];
    size_t      count;
    void (*set)(struct trial *t, double point);
};

static void jitter_set(struct trial *t, double point)
{
    t->jitter_percent = point;
}

static void skew_set(struct trial *t, double point)
{
    t->skew_percent = point;
}

static void glitch_set(struct trial *t, double point)
{
    t->glitch_percent = point;
    t->glitch_ns = 240;
}

static void noise_set(struct trial *t, double point)
{
    t->glitch_percent = point;
    t->glitch_ns = 1000;
}

static void rate_set(struct trial *t, double point)
{
    t->bit_hz = point * 1000;
}

static void rate_jitter_set(struct trial *t, double point)
{
    t->bit_hz = point * 1000;
    t->jitter_percent = 5;
}

static void all_set(struct trial *t, double point)
{
    t->jitter_percent = point;
    t->skew_percent = 2 * point;
    t->glitch_percent = point / 50;
    t->glitch_ns = 240;
    t->bit_hz = 330e3;
}

static const struct table tables[] = {
    { "Jitter, rms, of half a cell", "%", { 0, 2, 5, 8, 10, 12, 15, 20 }, 8, jitter_set },
    { "Rising changes later (or earlier) than falling ones, of half a cell", "%", { 0, 5, 10, 20, 30, 40, 50 }, 7, skew_set },
    { "Glitches of up to 240 ns, for 100 changes", "", { 0, 0.02, 0.1, 0.5, 1, 2, 5 }, 7, glitch_set },
    { "Noise, pulses of up to 1000 ns, for 100 changes", "", { 0, 0.02, 0.1, 0.5, 1, 2, 5 }, 7, noise_set },
    { "Bit rate", " k", { 150, 200, 270, 300, 330, 400, 500, 600 }, 8, rate_set },
    { "Bit rate, with 5 % of jitter", " k", { 150, 200, 270, 300, 330, 400, 500, 600 }, 8, rate_jitter_set },
    { "All at once: 330 kbit/s, so much jitter, twice as much between rising and falling, a fiftieth in glitches", "%",
      { 0, 1, 2, 3, 4, 5, 8, 10 }, 8, all_set },
};

static void cell_print(double mhz, const struct table *table, double point, unsigned packets)
{
    struct trial        t = { .sample_hz = mhz * 1e6, .bit_hz = 300e3, .packets = packets, .seed = 1 };
    struct trial_result r;
    char                text[32];

    table->set(&t, point);
    r = trial_run(&t);
    if (r.wrong)
        snprintf(text, sizeof text, "%.2f+%u", 100.0 * r.right / r.sent, r.wrong);
    else
        snprintf(text, sizeof text, r.right == r.sent ? "100" : "%.2f", 100.0 * r.right / r.sent);
    printf(" %9s", text);
}

static void table_print(const struct table *table, unsigned packets)
{
    char text[32];

    printf("%s\n%9s", table->title, "MS/s");
    for (size_t k = 0; k < table->count; k++) {
        snprintf(text, sizeof text, "%g%s", table->points[k], table->unit);
        printf(" %9s", text);
    }
    printf("\n");
    for (size_t row = 0; row < LENGTH(sample_mhz); row++) {
        printf("%9g", sample_mhz[row]);
        for (size_t k = 0; k < table->count; k++)
            cell_print(sample_mhz[row], table, table->points[k], packets);
        printf("\n");
        fflush(stdout);
    }
    printf("\n");
}

int main(int argc, char **argv)
{
    long packets = argc > 1 ? strtol(argv[1], NULL, 10) : 5000;

    if (argc > 2 || packets < 1 || packets > 1000000) {
        fprintf(stderr, "usage: sweep [PACKETS], 1 to 1000000 a point\n");
        return 2;
    }
    printf("Packets that come through right, in percent, of %ld a point at 300 kbit/s; +n: frames that nobody sent\n\n", packets);
    for (size_t k = 0; k < LENGTH(tables); k++)
        table_print(&tables[k], (unsigned)packets);
    return 0;
}
