#include "capture/cc_line.h"

#include <math.h>

static const uint64_t second_ps = 1000000000000, numbers_most = 1000000000000000;

static uint64_t divisor_of(uint64_t a, uint64_t b)
{
    while (b != 0) {
        uint64_t rest = a % b;

        a = b;
        b = rest;
    }
    return a;
}

static struct cc_tick tick_shortened(uint64_t ps, uint64_t per)
{
    uint64_t common = divisor_of(ps, per);

    return (struct cc_tick){ ps / common, per / common };
}

bool cc_tick_of_rate(double rate_hz, struct cc_tick *tick)
{
    if (!(rate_hz >= 0.001 && rate_hz <= 1e12))
        return false;
    if (rate_hz == floor(rate_hz))
        *tick = tick_shortened(second_ps, (uint64_t)rate_hz);
    else
        *tick = tick_shortened(numbers_most, (uint64_t)llround(rate_hz * 1000));
    return true;
}

/* a * b / c and the half that rounds, one bit of b after the other: the product may not fit 64 bits. a < c, c at most 2^62; held at INT64_MAX / 2. */
static uint64_t share_rounded(uint64_t a, uint64_t b, uint64_t c)
{
    uint64_t whole = 0, rest = 0;

    for (int bit = 63; bit >= 0; bit--) {
        if (whole > (uint64_t)INT64_MAX / 2)
            return INT64_MAX / 2;
        whole = whole * 2 + (rest >= c - rest);
        rest = rest >= c - rest ? rest - (c - rest) : rest * 2;
        if ((b >> bit & 1) == 0)
            continue;
        whole += rest >= c - a;
        rest = rest >= c - a ? rest - (c - a) : rest + a;
    }
    return whole + (rest >= c - rest);
}

int64_t cc_ticks_ns(struct cc_tick tick, int64_t ticks)
{
    const uint64_t most = INT64_MAX / 2;
    uint64_t       n = ticks < 0 ? 0 - (uint64_t)ticks : (uint64_t)ticks, per = tick.per * 1000;
    uint64_t       whole = n / per, part = share_rounded(n % per, tick.ps, per), ns;

    if (whole > 0 && tick.ps > (most - (part < most ? part : most)) / whole)
        ns = most;
    else
        ns = whole * tick.ps + part;
    if (ns > most)
        ns = most;
    return ticks < 0 ? -(int64_t)ns : (int64_t)ns;
}

uint32_t cc_tick_ps(struct cc_tick tick)
{
    uint64_t ps = (tick.ps + tick.per / 2) / tick.per;

    if (ps < 1)
        return 1;
    return ps < UINT32_MAX ? (uint32_t)ps : UINT32_MAX;
}
