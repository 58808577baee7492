/*
 * Fuzz target: value change dumps. The first byte says how many bytes are read at once, and which signals are asked for.
 */
#include "capture/base/cursor.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/check_cc.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    static const struct cc_options asked[] = {
        { .lines = 1 },
        { .lines = 1, .names = { "cc1" } },
        { .lines = 2, .names = { "cc1", "cc2" } },
        { .lines = 4, .names = { "cc1", "top.probe.cc1", "cc2", "twin" }, .rate_hz = 24e6 },
    };
    struct cursor c = cursor_over(bytes, length);
    uint8_t       how = cursor_u8(&c);

    if (!c.short_read)
        check_cc(&cc_vcd_kind, c.at, c.left, asked[how & 3], 1 + (size_t)(how >> 2 & 31));
    return 0;
}
