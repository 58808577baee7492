/* The byte stream of a sniffer: frames put together by hand from the contract, with garbage, gaps, and in any pieces. */
#include "tests/capture/made.h"

#include "capture/usb_frames.h"

#include <stdlib.h>
#include <string.h>

static const int64_t ms = 1000000;

/* A frame with an event of CC (16 bytes): version 1, kind 4, port, attach 1, Rp 3. */
static void put_frame(struct made *m, uint32_t sequence, uint64_t time_ns, unsigned port)
{
    made_u16(m, 0x5044);
    made_u16(m, 16);
    made_u32(m, sequence);
    made_u32(m, (uint32_t)time_ns);
    made_u32(m, (uint32_t)(time_ns >> 32));
    made_u8(m, 1);
    made_u8(m, 4);
    made_u8(m, port);
    made_u8(m, 0);
    made_u32(m, 0);
    made_hex(m, "01 03 ff ff ff ff 00 00");
}

struct heard { unsigned frames; uint32_t last, missing; uint64_t last_ns; };

static void drain(struct usb_frames *f, int64_t now_ns, struct heard *h)
{
    struct usb_frame frame;

    while (usb_frames_next(f, now_ns, &frame)) {
        h->frames++;
        h->last = frame.sequence;
        h->missing += frame.missing;
        h->last_ns = frame.time_ns;
        assert_int_equal(frame.length, 16);
        assert_int_equal(frame.record[1], 4);
    }
}

static struct heard hear(struct usb_frames *f, const struct made *m, size_t piece)
{
    struct heard h = { 0 };

    for (size_t at = 0; at < m->length;) {
        size_t n = m->length - at < piece ? m->length - at : piece, taken = usb_frames_feed(f, m->bytes + at, n, ms);

        drain(f, ms, &h);
        at += taken;
    }
    drain(f, 30 * ms, &h); /* nothing more for 29 ms */
    return h;
}

/* Byte by byte as in the contract: magic 44 50, length 10 00, sequence, time since START, the record. */
static void one_frame_by_hand(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct usb_frames *f = usb_frames_new(2);
    struct usb_frame   frame;

    made_hex(&m, "44 50 10 00 00 00 00 00 15 cd 5b 07 00 00 00 00"
                 " 01 04 01 00 00 00 00 00 01 03 ff ff ff ff 00 00");
    assert_int_equal(usb_frames_feed(f, m.bytes, m.length, 5 * ms), m.length);
    assert_false(usb_frames_next(f, 5 * ms, &frame)); /* no magic behind it yet, and it is not quiet yet */
    assert_true(usb_frames_wake_ns(f) == 25 * ms);
    assert_false(usb_frames_next(f, 25 * ms - 1, &frame));
    assert_true(usb_frames_next(f, 25 * ms, &frame));
    assert_int_equal(frame.sequence, 0);
    assert_int_equal(frame.missing, 0);
    assert_true(frame.time_ns == 123456789);
    assert_true(frame.arrived_ns == 5 * ms);
    assert_memory_equal(frame.record, m.bytes + 16, 16);
    assert_true(usb_frames_wake_ns(f) == INT64_MAX);
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 0);
    usb_frames_free(f);
    made_free(&m);
}

static void frames_cross_the_borders_of_transfers_at_any_place(void **state)
{
    (void)state;
    struct made m = { 0 };

    for (uint32_t k = 0; k < 5000; k++)
        put_frame(&m, k, k * 100, k % 2);
    for (size_t piece = 1; piece < 20000; piece = piece * 3 / 2 + 1) {
        struct usb_frames *f = usb_frames_new(2);
        struct heard       h = hear(f, &m, piece);

        assert_int_equal(h.frames, 5000);
        assert_int_equal(h.missing, 0);
        assert_int_equal(usb_frames_counts(f)->skipped_bytes, 0);
        usb_frames_free(f);
    }
    made_free(&m);
}

static void garbage_is_passed_over_and_counted(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct usb_frames *f = usb_frames_new(2);

    made_hex(&m, "00 44 50 03 00 11 22");          /* 7 bytes; a magic with a length below 8 */
    put_frame(&m, 0, 0, 0);                        /* 32: no magic behind it */
    made_hex(&m, "44 44 50 10 00 00 00 00 00 00"); /* 10: a magic, and then a frame of version 0x44 */
    put_frame(&m, 1, 100, 1);
    put_frame(&m, 2, 200, 2);                      /* 32: port 2 of a sniffer with two */
    put_frame(&m, 3, 300, 255);                    /* the bench */
    struct heard h = hear(f, &m, 11);

    assert_int_equal(h.frames, 2);
    assert_int_equal(h.last, 3);
    assert_int_equal(h.missing, 2);
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 7 + 32 + 10 + 32);
    assert_int_equal(usb_frames_counts(f)->skips, 2);
    usb_frames_free(f);
    made_free(&m);
}

/* Within a record anything may stand, a whole frame too. */
static void what_looks_like_a_frame_inside_a_record_is_none(void **state)
{
    (void)state;
    struct made        inner = { 0 }, m = { 0 };
    struct usb_frames *f = usb_frames_new(1);
    struct usb_frame   frame;

    put_frame(&inner, 1, 7, 0);
    made_hex(&m, "44 50 30 00 00 00 00 00 00 00 00 00 00 00 00 00 01 05 ff 00 00 00 00 00 00 ff 00 00 00 00 00 00");
    made_bytes(&m, inner.bytes, inner.length); /* the note of a MARK: 16 + 32 bytes of record */
    put_frame(&m, 1, 100, 0);
    usb_frames_feed(f, m.bytes, m.length, 0);
    assert_true(usb_frames_next(f, 0, &frame));
    assert_int_equal(frame.length, 48);
    assert_true(usb_frames_next(f, USB_FRAME_QUIET_NS, &frame));
    assert_int_equal(frame.length, 16);
    assert_int_equal(frame.missing, 0);
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 0);
    usb_frames_free(f);
    made_free(&inner);
    made_free(&m);
}

static void a_gap_is_counted_and_a_jump_is_a_false_frame(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct usb_frames *f = usb_frames_new(1);

    put_frame(&m, 0, 0, 0);
    put_frame(&m, 5, 0, 0);                 /* 4 are missing */
    put_frame(&m, 4, 0, 0);                 /* back */
    put_frame(&m, 7 + (1 << 20), 0, 0);     /* ahead by more than 2^20 */
    put_frame(&m, 6 + (1 << 20), 0, 0);     /* ahead by 2^20: that may be */
    struct heard h = hear(f, &m, 1000);

    assert_int_equal(h.frames, 3);
    assert_int_equal(h.missing, 4 + (1 << 20));
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 64);
    assert_false(usb_frames_counts(f)->restarted);
    usb_frames_free(f);
    made_free(&m);
}

static void the_sequence_wraps(void **state)
{
    (void)state;
    struct usb_frames *f = usb_frames_new(1);
    uint32_t           sequence = 0;

    for (unsigned k = 0; k < 4100; k++) { /* in steps of 2^20 once round */
        struct made      m = { 0 };
        struct usb_frame frame;

        put_frame(&m, sequence, 0, 0);
        usb_frames_feed(f, m.bytes, m.length, 0);
        assert_true(usb_frames_next(f, USB_FRAME_QUIET_NS, &frame));
        assert_int_equal(frame.missing, k ? (1 << 20) - 1 : 0);
        sequence += 1 << 20;
        made_free(&m);
    }
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 0);
    usb_frames_free(f);
}

static void a_sniffer_that_begins_anew_is_noticed(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct usb_frames *f = usb_frames_new(1);

    for (uint32_t k = 0; k < 100; k++)
        put_frame(&m, k, k, 0);
    for (uint32_t k = 0; k < 7; k++)
        put_frame(&m, k, k, 0);
    assert_int_equal(hear(f, &m, 4096).frames, 100);
    assert_false(usb_frames_counts(f)->restarted);
    made_free(&m);
    m = (struct made){ 0 };
    put_frame(&m, 7, 7, 0);
    assert_int_equal(hear(f, &m, 4096).frames, 0);
    assert_true(usb_frames_counts(f)->restarted);
    usb_frames_reset(f);
    made_free(&m);
    m = (struct made){ 0 };
    put_frame(&m, 0, 0, 0);
    assert_int_equal(hear(f, &m, 4096).frames, 1);
    assert_false(usb_frames_counts(f)->restarted);
    usb_frames_free(f);
    made_free(&m);
}

/* Half a frame, and then nothing: it does not hold back what comes a second later. */
static void a_frame_that_never_ends_is_given_up(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct usb_frames *f = usb_frames_new(1);
    struct usb_frame   frame;

    made_hex(&m, "44 50 ff ff 00 00 00 00 00 00 00 00 00 00 00 00 01 03 00 00 00 00 00 00");
    put_frame(&m, 0, 0, 0);
    usb_frames_feed(f, m.bytes, m.length, 0);
    assert_false(usb_frames_next(f, 500 * ms, &frame));
    assert_true(usb_frames_wake_ns(f) == USB_FRAME_STUCK_NS);
    assert_true(usb_frames_next(f, USB_FRAME_STUCK_NS, &frame));
    assert_int_equal(usb_frames_counts(f)->skipped_bytes, 24);
    usb_frames_free(f);
    made_free(&m);
}

/* Frames with hostile bytes between: every sound one comes out, in order, whatever the pieces. */
static void any_garbage_between_loses_no_sound_frame(void **state)
{
    (void)state;
    uint64_t s = 88172645463325252; /* xorshift64 */

    for (unsigned round = 0; round < 50; round++) {
        struct made        m = { 0 };
        struct usb_frames *f = usb_frames_new(3);
        size_t             garbage = 0;

        for (uint32_t k = 0; k < 200; k++) {
            for (unsigned g = (unsigned)(s >> 20) % 12; g > 0 && k % 3 == 0; g--, garbage++) {
                s ^= s << 13, s ^= s >> 7, s ^= s << 17;
                made_u8(&m, (s & 0xFF) == 0x44 ? 0 : (unsigned)(s & 0xFF)); /* no first byte of a magic */
            }
            put_frame(&m, k, k, k % 3);
        }
        struct heard h = hear(f, &m, 1 + round * 7);

        /* A frame with garbage behind it cannot be told from a false one: it is passed over too. */
        assert_true(h.frames + h.missing >= 199 && h.frames >= 130);
        assert_true(usb_frames_counts(f)->skipped_bytes == garbage + (200 - h.frames) * 32u);
        usb_frames_free(f);
        made_free(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_frame_by_hand),
        cmocka_unit_test(frames_cross_the_borders_of_transfers_at_any_place),
        cmocka_unit_test(garbage_is_passed_over_and_counted),
        cmocka_unit_test(what_looks_like_a_frame_inside_a_record_is_none),
        cmocka_unit_test(a_gap_is_counted_and_a_jump_is_a_false_frame),
        cmocka_unit_test(the_sequence_wraps),
        cmocka_unit_test(a_sniffer_that_begins_anew_is_noticed),
        cmocka_unit_test(a_frame_that_never_ends_is_given_up),
        cmocka_unit_test(any_garbage_between_loses_no_sound_frame),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
