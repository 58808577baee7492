#include "tests/decode/bmc_line.h"

#include "tests/decode/testing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Typed from Chromium EC include/usb_pd.h and the files beside it: b4 to b0; the last character is sent first. */
static const char *const data_symbols[16] = {
    "11110", "01001", "10100", "10101", "01010", "01011", "01110", "01111",
    "10010", "10011", "10110", "10111", "11010", "11011", "11100", "11101",
};
#define SYNC_1 "11000"
#define SYNC_2 "10001"
#define SYNC_3 "00110"
#define RST_1 "00111"
#define RST_2 "11001"
#define EOP "01101"

static const char *const sets[WAVE_SETS][4] = {
    [WAVE_SOP] = { SYNC_1, SYNC_1, SYNC_1, SYNC_2 },
    [WAVE_SOP1] = { SYNC_1, SYNC_1, SYNC_3, SYNC_3 },
    [WAVE_SOP2] = { SYNC_1, SYNC_3, SYNC_1, SYNC_3 },
    [WAVE_SOP1_DEBUG] = { SYNC_1, RST_2, RST_2, SYNC_3 },
    [WAVE_SOP2_DEBUG] = { SYNC_1, RST_2, SYNC_3, SYNC_2 },
    [WAVE_HARD_RESET] = { RST_1, RST_1, RST_1, RST_2 },
    [WAVE_CABLE_RESET] = { RST_1, SYNC_1, RST_1, SYNC_3 },
};

const char *wave_symbol(unsigned nibble)
{
    return data_symbols[nibble & 15];
}

struct wave_packet wave_packet_of(enum wave_set set, const uint8_t *bytes, size_t length)
{
    struct wave_packet p = { .rate_hz = 300e3, .preamble_bits = 64, .bytes = bytes, .length = length, .bad_symbol_at = SIZE_MAX };

    memcpy(p.codes, sets[set], sizeof p.codes);
    p.reset = set == WAVE_HARD_RESET || set == WAVE_CABLE_RESET;
    p.hold_low = true;
    return p;
}

/* The register of the standard's annex: most significant bit first, fed with bit 0 of each byte first; sent complemented, bit 31 first. */
size_t wave_crc_add(uint8_t *bytes, size_t length)
{
    uint32_t crc = UINT32_MAX;

    for (size_t k = 0; k < length * 8; k++) {
        unsigned bit = bytes[k / 8] >> k % 8 & 1;

        crc = (crc >> 31 ^ bit) ? crc << 1 ^ UINT32_C(0x04C11DB7) : crc << 1;
    }
    memset(bytes + length, 0, 4);
    for (unsigned k = 0; k < 32; k++)
        bytes[length + k / 8] |= (uint8_t)((~crc >> (31 - k) & 1) << k % 8);
    return length + 4;
}

void wave_begin(struct wave *w, bool high)
{
    *w = (struct wave){ .begins_high = high };
}

void wave_free(struct wave *w)
{
    free(w->at_ps);
    w->at_ps = NULL;
}

void wave_wait(struct wave *w, double ps)
{
    w->now_ps += ps;
}

void wave_change(struct wave *w)
{
    if (w->count == w->room) {
        w->room = w->room * 2 + 1024;
        w->at_ps = realloc(w->at_ps, w->room * sizeof *w->at_ps);
        if (!w->at_ps)
            abort();
    }
    w->at_ps[w->count++] = w->now_ps;
}

bool wave_high(const struct wave *w)
{
    return w->begins_high != (w->count % 2 != 0);
}

void wave_cut(struct wave *w, double at_ps)
{
    while (w->count && w->at_ps[w->count - 1] >= at_ps)
        w->count--;
    w->now_ps = at_ps;
}

/* A change where each cell begins, and one in the middle of a 1. */
static void bit_send(struct wave *w, bool one, double cell_ps)
{
    wave_change(w);
    wave_wait(w, cell_ps / 2);
    if (one)
        wave_change(w);
    wave_wait(w, cell_ps / 2);
}

static unsigned symbol_send(struct wave *w, const char *symbol, double cell_ps)
{
    for (unsigned k = 5; k > 0; k--)
        bit_send(w, symbol[k - 1] == '1', cell_ps);
    return 5;
}

static void line_release(struct wave *w, const struct wave_packet *p, double cell_ps)
{
    if (!p->no_last_change)
        wave_change(w);
    if (p->hold_low && wave_high(w)) {
        wave_wait(w, cell_ps);
        wave_change(w);
    }
}

struct wave_truth wave_send(struct wave *w, const struct wave_packet *p)
{
    struct wave_truth t = { .start_ps = w->now_ps };
    double            cell_ps = 1e12 / p->rate_hz;

    for (unsigned k = p->preamble_bits; k > 0; k--)
        bit_send(w, k % 2 != 0, cell_ps);
    t.bits = p->preamble_bits;
    t.preamble_end_ps = w->now_ps;
    cell_ps /= 1 + p->drift;
    for (unsigned k = 0; k < 4; k++)
        t.bits += symbol_send(w, p->codes[k], cell_ps);
    for (size_t k = 0; !p->reset && k < p->length * 2; k++) {
        unsigned nibble = k % 2 ? p->bytes[k / 2] >> 4 : p->bytes[k / 2] & 15;

        t.bits += symbol_send(w, k == p->bad_symbol_at ? p->bad_symbol : data_symbols[nibble], cell_ps);
    }
    if (!p->reset && !p->no_eop)
        t.bits += symbol_send(w, p->bad_symbol_at == p->length * 2 ? p->bad_symbol : EOP, cell_ps);
    t.end_ps = w->now_ps;
    line_release(w, p, cell_ps);
    return t;
}

static double uniform(uint64_t *seed)
{
    return ((double)random_word(seed) + 0.5) / 4294967296.0;
}

/* Box and Muller's. */
static double normal(uint64_t *seed)
{
    double r = sqrt(-2 * log(uniform(seed)));

    return r * cos(6.283185307179586 * uniform(seed));
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* The moments as they pass the instrument's input, glitches among them, in order. */
static double *moments_see(const struct wave *w, const struct wave_instrument *i, size_t *count)
{
    uint64_t seed = i->seed;
    size_t   room = w->count + 2 * (size_t)(i->glitch_share * (double)w->count + 1), n = 0;
    double  *moments = malloc(room * sizeof *moments), end = w->count ? w->at_ps[w->count - 1] : 0;
    bool     rising = !w->begins_high;

    if (!moments)
        abort();
    for (size_t k = 0; k < w->count; k++, rising = !rising)
        moments[n++] = w->at_ps[k] + (i->jitter_ps > 0 ? i->jitter_ps * normal(&seed) : 0) + (rising ? i->skew_ps / 2 : -i->skew_ps / 2);
    for (size_t k = 0; k + 1 < (room - w->count) / 2 + (i->glitch_share > 0); k++) {
        double at = end * uniform(&seed);

        if (n + 2 > room)
            break;
        moments[n++] = at;
        moments[n++] = at + i->glitch_ps * uniform(&seed);
    }
    if (i->jitter_ps > 0 || i->glitch_share > 0)
        qsort(moments, n, sizeof *moments, compare);
    *count = n;
    return moments;
}

/* A sample shows the level at its moment: two changes between two samples show nothing. */
struct wave_ticks wave_see(const struct wave *w, const struct wave_instrument *i)
{
    struct wave_ticks t = { .level = w->begins_high };
    size_t            count = 0;
    double           *moments = moments_see(w, i, &count);

    t.at = malloc((count + 1) * sizeof *t.at);
    if (!t.at)
        abort();
    for (size_t k = 0; k < count; k++) {
        int64_t tick = (int64_t)ceil((moments[k] + i->offset_ps) / i->tick_ps);

        if (t.count && t.at[t.count - 1] == tick)
            t.count--;
        else
            t.at[t.count++] = tick;
    }
    free(moments);
    return t;
}
