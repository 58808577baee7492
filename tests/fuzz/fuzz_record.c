/*
 * Fuzz target: records and traces from memory.
 *
 * An input that starts with a zero byte is one record: the zero, how it was stored (bit 0: captured shorter than it was),
 * eight bytes of time, then header and body. Any other input is a whole trace, as it might stand in a file: pcap, pcapng,
 * gzip, zstd or text.
 */
#include "capture/base/cursor.h"
#include "capture/trace.h"
#include "tests/fuzz/check.h"

enum { ROUND_TRIPS = 32 };

static void one_record(struct cursor *c)
{
    bool     cut = cursor_u8(c) & 1;
    uint64_t low = cursor_u32le(c);
    uint64_t high = cursor_u32le(c);
    /* From 1970 on, up to the year 2115: what a capture file can say, and then some. */
    int64_t       stamp_ns = (int64_t)((high << 32 | low) & (UINT64_MAX >> 2));
    struct record r;

    if (c->short_read)
        return;
    record_read(c->at, c->left, cut, stamp_ns, 1, &r);
    MUST(r.frame == 1 && r.bytes == c->at && r.length == c->left);
    check_record(&r);
    if (r.soundness == RECORD_SOUND)
        check_text_round_trip(&r);
}

static void check_facts(const struct trace_facts *f, uint64_t seen, const uint64_t unsound[4])
{
    MUST(f->records == seen);
    MUST(f->damaged == unsound[RECORD_DAMAGED]);
    MUST(f->unreadable == unsound[RECORD_UNREADABLE]);
    MUST(f->unknown == unsound[RECORD_UNKNOWN]);
}

static void whole_trace(const uint8_t *bytes, size_t length)
{
    const struct trace_options options = { 0 };
    struct fault               fault = { 0 };
    struct trace              *t = trace_open_memory(bytes, length, &options, &fault);
    const struct record       *r;
    uint64_t                   seen = 0, unsound[4] = { 0 };
    unsigned                   round_trips = 0;

    MUST((t == NULL) == (fault.code != FAULT_NONE));
    if (!t)
        return;
    while (trace_next(t, &r, &fault)) {
        seen++;
        unsound[r->soundness]++;
        MUST(r->frame > 0);
        check_record(r);
        if (r->soundness == RECORD_SOUND && round_trips++ < ROUND_TRIPS)
            check_text_round_trip(r);
    }
    MUST(fault.code == FAULT_NONE || fault.code == FAULT_NO_MEMORY);
    check_facts(trace_facts(t), seen, unsound);
    trace_close(t);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);

    if (length > 0 && cursor_u8(&c) == 0)
        one_record(&c);
    else
        whole_trace(bytes, length);
    return 0;
}
