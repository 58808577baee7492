/*
 * Fuzz target: samples. The first byte says whether they are bits or bytes, in which order, and how many are read at once. What comes out is
 * held against the samples, one by one.
 */
#include "capture/base/cursor.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/check_cc.h"

enum { HOW_BYTES = 1, HOW_MOST_FIRST = 2, HOW_PIECE_SHIFT = 2 };

static bool sample(const uint8_t *bytes, size_t k, unsigned how, unsigned bit)
{
    if (how & HOW_BYTES)
        return bytes[k] >> bit & 1;
    return bytes[k / 8] >> (how & HOW_MOST_FIRST ? 7 - k % 8 : k % 8) & 1;
}

static void check_samples(const struct cc_kind *kind, const uint8_t *bytes, size_t length, const struct cc_options *options, unsigned how)
{
    struct fault    f = { .code = FAULT_NONE };
    struct cc_file *c = kind->open_memory(bytes, length, options, &f);
    struct cc_block b;
    size_t          at[CC_LINES_MAX] = { 0 }, samples = how & HOW_BYTES ? length : length * 8;

    while (c && kind->next(c, &b, &f)) {
        unsigned bit = options->names[b.line] ? (unsigned)(options->names[b.line][0] - '0') : 0;
        bool     level = b.level;

        MUST(!b.broken && (size_t)b.until <= samples && (size_t)b.from == at[b.line]);
        for (size_t k = 0; at[b.line] < (size_t)b.until; at[b.line]++) {
            if (k < b.count && at[b.line] == (size_t)b.at[k]) {
                level = !level;
                k++;
            }
            MUST(sample(bytes, at[b.line], how, bit) == level);
        }
    }
    MUST(f.code == (c ? FAULT_NONE : FAULT_EMPTY) || f.code == FAULT_COMPRESSION);
    for (unsigned k = 0; c && k < options->lines && f.code == FAULT_NONE; k++)
        MUST(at[k] == samples);
    if (c)
        kind->close(c);
}

/* gzip and zstd are taken off, so the samples of such a file are not its bytes. */
static bool is_packed(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    unsigned      low = cursor_u16le(&c), high = cursor_u16le(&c);

    return (length >= 2 && low == 0x8B1F) || (low == 0xB528 && high == 0xFD2F) || ((low & 0xFFF0) == 0x2A50 && high == 0x184D);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    struct cursor         c = cursor_over(bytes, length);
    uint8_t               how = cursor_u8(&c);
    const struct cc_kind *kind = how & HOW_BYTES ? &cc_bytes_kind : &cc_bits_kind;
    struct cc_options     options = { .lines = how & HOW_BYTES ? 3 : 1, .names = { NULL, "7", "3" }, .rate_hz = 24e6, .most_first = how & HOW_MOST_FIRST };

    if (c.short_read)
        return 0;
    check_cc(kind, c.at, c.left, options, 1 + (size_t)(how >> HOW_PIECE_SHIFT));
    if (!is_packed(c.at, c.left))
        check_samples(kind, c.at, c.left, &options, how);
    return 0;
}
