/*
 * Fuzz target: a CC line as 16-bit samples. The first byte says the rate, the scale, whether thresholds are told, and how many bytes are read
 * at once.
 */
#include "capture/base/cursor.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/check_cc.h"

enum { HOW_RATES = 7, HOW_SCALE_SHIFT = 3, HOW_TOLD = 32, HOW_PIECE_SHIFT = 6 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    static const double rates[HOW_RATES + 1] = { 6e6, 24e6, 2e6, 1e6, 100e6, 1, 1e12, 4e6 };
    static const double scales_uv[4] = { 250, 0, -1000, 1e12 };
    struct cursor       c = cursor_over(bytes, length);
    uint8_t             how = cursor_u8(&c);
    struct cc_options   options = { .lines = 1, .rate_hz = rates[how & HOW_RATES], .scale_uv = scales_uv[how >> HOW_SCALE_SHIFT & 3] };

    if (how & HOW_TOLD) {
        options.low_mv = 300;
        options.high_mv = 800;
    }
    if (!c.short_read)
        check_cc(&cc_samples_kind, c.at, c.left, options, 1 + (size_t)(how >> HOW_PIECE_SHIFT) * 333);
    return 0;
}
