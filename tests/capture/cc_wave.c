#include "tests/capture/cc_wave.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void *grown(void *list, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return list;
    *room = *room ? *room * 2 : 1024;
    list = realloc(list, *room * size);
    if (!list)
        abort();
    return list;
}

void cc_wave_free(struct cc_wave *w)
{
    free(w->turns);
    free(w->edges);
    memset(w, 0, sizeof *w);
}

void cc_wave_turn(struct cc_wave *w, double at_ns, double mv, double tau_ns)
{
    w->turns = grown(w->turns, w->count, &w->room, sizeof *w->turns);
    w->turns[w->count++] = (struct cc_turn){ at_ns, mv, tau_ns };
}

static void drive_edge(struct cc_wave *w, double at_ns, const struct cc_drive *d, bool *high)
{
    *high = !*high;
    cc_wave_turn(w, at_ns, *high ? d->high_mv : d->low_mv, d->tau_ns);
    w->edges = grown(w->edges, w->edge_count, &w->edge_room, sizeof *w->edges);
    w->edges[w->edge_count++] = at_ns;
}

double cc_wave_bits(struct cc_wave *w, double at_ns, const struct cc_drive *d, const uint8_t *bits, size_t count)
{
    const double pulled_low_ns = 700, hold_low_ns = 1500;
    bool         high = false;

    cc_wave_turn(w, at_ns - pulled_low_ns, d->low_mv, d->tau_ns);
    for (size_t k = 0; k < count; k++) {
        drive_edge(w, at_ns, d, &high);
        if (bits[k])
            drive_edge(w, at_ns + d->cell_ns / 2, d, &high);
        at_ns += d->cell_ns;
    }
    drive_edge(w, at_ns, d, &high);
    if (high)
        drive_edge(w, at_ns + d->cell_ns, d, &high);
    cc_wave_turn(w, at_ns + d->cell_ns + hold_low_ns, d->rest_mv, d->release_ns);
    return at_ns;
}

double cc_wave_drawn(struct cc_wave *w, double at_ns, const struct cc_drive *d, size_t count, uint64_t *seed)
{
    uint8_t *bits = malloc(64 + count);
    double   end;

    if (!bits)
        abort();
    for (size_t k = 0; k < 64; k++)
        bits[k] = k & 1;
    for (size_t k = 0; k < count; k++)
        bits[64 + k] = cc_wave_word(seed) & 1;
    end = cc_wave_bits(w, at_ns, d, bits, 64 + count);
    free(bits);
    return end;
}

void cc_wave_read(const struct cc_wave *w, double sample_ns, double noise_mv, uint64_t *seed, double *mv, size_t count)
{
    struct cc_turn now = { .mv = w->start_mv, .tau_ns = 1 };
    double         from_mv = w->start_mv; /* where the line was when the last turn began */
    size_t         next = 0;

    for (size_t k = 0; k < count; k++) {
        double t = (double)k * sample_ns;

        for (; next < w->count && w->turns[next].at_ns <= t; next++) {
            from_mv = now.mv + (from_mv - now.mv) * exp(-(w->turns[next].at_ns - now.at_ns) / now.tau_ns);
            now = w->turns[next];
        }
        mv[k] = now.mv + (from_mv - now.mv) * exp(-(t - now.at_ns) / now.tau_ns) + noise_mv * cc_wave_normal(seed);
    }
}

/* SplitMix64 (Steele, Lea, Flood 2014). */
uint64_t cc_wave_word(uint64_t *seed)
{
    uint64_t z = *seed += UINT64_C(0x9E3779B97F4A7C15);

    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

/* Box and Muller (1958). */
double cc_wave_normal(uint64_t *seed)
{
    const double whole = 18446744073709551616.0, turn = 6.283185307179586;
    double       u = ((double)cc_wave_word(seed) + 1) / (whole + 1), v = (double)cc_wave_word(seed) / whole;

    return sqrt(-2 * log(u)) * cos(turn * v);
}
