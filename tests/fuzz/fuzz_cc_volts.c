/*
 * Fuzz target: CSV files of volts over time. The first byte says which columns are asked for and what else is told, and what is
 * looked at: blocks, or that no row is passed over without a notice.
 */
#include "capture/base/cursor.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/check_cc.h"

enum { HOW_ASKED = 3, HOW_COUNTS = 4 };

static void count_notice(void *context, const struct cc_notice *n)
{
    uint64_t *count = context;

    *count += n->news == CC_UNREADABLE || n->news == CC_TIME_BACK;
}

static void check_counts(const uint8_t *bytes, size_t length, struct cc_options options)
{
    struct fault    f = { .code = FAULT_NONE };
    struct cc_block b;
    uint64_t        told = 0, lines = 1, changes = 0;

    options.notice = count_notice;
    options.context = &told;
    struct cc_file *c = cc_volts_kind.open_memory(bytes, length, &options, &f);

    if (!c)
        return;
    for (size_t k = 0; k < length; k++)
        lines += bytes[k] == '\n';
    while (cc_volts_kind.next(c, &b, &f))
        changes += b.count;
    MUST(cc_volts_kind.facts(c).unreadable == told);
    if (f.code == FAULT_NONE && cc_volts_kind.facts(c).bytes <= length) { /* it was not packed */
        MUST(told <= lines);
        MUST(changes <= lines * options.lines);
    }
    cc_volts_kind.close(c);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    static const struct cc_options asked[] = {
        { .lines = 1 },
        { .lines = 1, .rate_hz = 1e6 },
        { .lines = 2, .names = { "cc1", "cc2" } },
        { .lines = 2, .names = { "2", "3" }, .low_mv = 300, .high_mv = 800 },
    };
    struct cursor c = cursor_over(bytes, length);
    uint8_t       how = cursor_u8(&c);

    if (c.short_read)
        return 0;
    if (how & HOW_COUNTS)
        check_counts(c.at, c.left, asked[how & HOW_ASKED]);
    else
        check_cc(&cc_volts_kind, c.at, c.left, asked[how & HOW_ASKED], 1);
    return 0;
}
