#include "capture/cc_slicer_inside.h"

#include <math.h>

enum { POINTS = 64, PIECE = 16 };

/* Common practice, no source: a line that swings is never far from one of its two levels for long; noise about one level is. */
static const float   apart_least = 4;          /* distance of the two levels in standard deviations about them */
static const unsigned changes_least = 5, changes_most = 26; /* in eight bit cells: 8 to 16, and what noise adds */

struct halves { float low, high, within; unsigned below; };

/* Points below and above the middle, each by its mean. */
static struct halves halves_of(const int16_t *points, unsigned count, float middle)
{
    struct halves h = { 0 };
    double        sums[2] = { 0 }, squares = 0;
    unsigned      above;

    for (unsigned k = 0; k < count; k++) {
        bool high = (float)points[k] > middle;

        sums[high] += points[k];
        squares += (double)points[k] * points[k];
        h.below += !high;
    }
    above = count - h.below;
    if (h.below == 0 || above == 0)
        return h;
    h.low = (float)(sums[0] / h.below);
    h.high = (float)(sums[1] / above);
    squares = squares / count - (sums[0] * sums[0] / h.below + sums[1] * sums[1] / above) / count;
    h.within = squares > 0 ? (float)sqrt(squares) : 0;
    return h;
}

static unsigned changes_of(const int16_t *points, unsigned count, const struct halves *h)
{
    float    middle = (h->low + h->high) / 2, band = (h->high - h->low) / 6;
    bool     high = (float)points[0] > middle;
    unsigned changes = 0;

    for (unsigned k = 1; k < count; k++) {
        if (high ? (float)points[k] >= middle - band : (float)points[k] <= middle + band)
            continue;
        high = !high;
        changes++;
    }
    return changes;
}

static void judge_busy(const int16_t *points, unsigned count, struct cc_window *w)
{
    struct halves h = { 0 };
    float         middle = w->mean;

    for (unsigned k = 0; k < 3; k++) {
        h = halves_of(points, count, middle);
        middle = (h.low + h.high) / 2;
    }
    if (h.below < count / 5 || count - h.below < count / 5 || h.high - h.low < apart_least * h.within)
        return;
    unsigned changes = changes_of(points, count, &h);

    w->busy = changes >= changes_least && changes <= changes_most;
    w->low = h.low;
    w->high = h.high;
}

struct cc_window cc_window_of(const int16_t *readings, size_t count)
{
    struct cc_window w = { .there = true };
    int16_t          points[POINTS];
    unsigned         taken = count < POINTS ? (unsigned)count : POINTS;
    int64_t          sum = 0, squares = 0;

    if (count == 0)
        return (struct cc_window){ 0 };
    for (unsigned k = 0; k < taken; k++) {
        points[k] = readings[k * count / taken];
        sum += points[k];
        squares += (int32_t)points[k] * points[k];
    }
    w.mean = (float)sum / (float)taken;
    w.spread = (float)sqrt((double)(squares - sum * sum / (int64_t)taken) / taken);
    if (w.spread > 0)
        judge_busy(points, taken, &w);
    return w;
}

/* A piece at a time without a branch inside, which compilers turn into wide compares. */
size_t cc_readings_below(const int16_t *readings, size_t from, size_t to, int16_t limit)
{
    for (; to - from >= PIECE; from += PIECE) {
        const int16_t *piece = readings + from;
        int16_t        any = 0;

        for (unsigned k = 0; k < PIECE; k++)
            any |= (int16_t)-(piece[k] < limit);
        if (any)
            break;
    }
    while (from < to && readings[from] >= limit)
        from++;
    return from;
}

size_t cc_readings_above(const int16_t *readings, size_t from, size_t to, int16_t limit)
{
    for (; to - from >= PIECE; from += PIECE) {
        const int16_t *piece = readings + from;
        int16_t        any = 0;

        for (unsigned k = 0; k < PIECE; k++)
            any |= (int16_t)-(piece[k] > limit);
        if (any)
            break;
    }
    while (from < to && readings[from] <= limit)
        from++;
    return from;
}
