/*
 * A plain file of some size is read ahead in a thread: it gives what the same bytes give from memory, where nothing reads
 * ahead, also when it is cut off, holds records of all sizes, or is closed halfway.
 */
#define _POSIX_C_SOURCE 200809L /* mkstemp, fdopen */
#include "tests/capture/made.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PACKETS = 30000, LARGE_EVERY = 5000, LARGE_ROWS = 16000 };

/* Well over the size from which on a thread reads: packets 1 ms apart, and now and then a POWER record larger than a batch. */
static struct made large_capture(void)
{
    struct made m = { 0 };

    pcap_begin(&m, NANO_MAGIC, 147);
    for (unsigned k = 0; k < PACKETS; k++) {
        struct made r;

        if (k % LARGE_EVERY == LARGE_EVERY - 1) {
            r = made_record(RECORD_POWER, 0, 0, 0, "E8 03 00 00 80 3E 01 00"); /* 1 us, 16,000 rows of VBUS */
            for (unsigned row = 0; row < LARGE_ROWS; row++)
                made_i32(&r, 5000000 + (int32_t)row);
        } else {
            r = made_record(RECORD_PD_PACKET, 0, 0, 500000, "00 00 00 00 01 01 28 13 C5 2F");
        }
        pcap_packet(&m, 1000 + k / 1000, k % 1000 * 1000000, &r);
        made_free(&r);
    }
    return m;
}

static void write_file(char *path, const struct made *m, size_t length)
{
    int fd;

    strcpy(path, "/tmp/portassay-ahead-XXXXXX");
    fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *f = fdopen(fd, "wb");

    assert_non_null(f);
    assert_int_equal(fwrite(m->bytes, 1, length, f), length);
    assert_int_equal(fclose(f), 0);
}

/* Both give the same records, byte for byte, and know the same of the file. */
static void compare(const char *path, const struct made *m, size_t length)
{
    struct fault         f;
    struct trace_options options = { 0 };
    struct trace        *file = trace_open(path, &options, &f);
    struct trace        *memory = trace_open_memory(m->bytes, length, &options, &f);
    const struct record *a, *b;

    assert_non_null(file);
    assert_non_null(memory);
    for (;;) {
        bool more = trace_next(memory, &b, &f);

        assert_int_equal(trace_next(file, &a, &f), more);
        if (!more)
            break;
        assert_int_equal(a->frame, b->frame);
        assert_true(a->t_ns == b->t_ns);
        assert_int_equal(a->length, b->length);
        assert_memory_equal(a->bytes, b->bytes, a->length);
    }
    assert_int_equal(trace_facts(file)->records, trace_facts(memory)->records);
    assert_int_equal(trace_facts(file)->cut_off, trace_facts(memory)->cut_off);
    assert_false(trace_next(file, &a, &f)); /* the end stays the end */
    trace_close(file);
    trace_close(memory);
}

static void a_large_file_gives_what_its_bytes_give(void **state)
{
    struct made m = large_capture();
    char        path[64];

    (void)state;
    assert_true(m.length > 1 << 20);
    write_file(path, &m, m.length);
    compare(path, &m, m.length);
    unlink(path);
    made_free(&m);
}

static void a_large_file_that_is_cut_off_is_read_as_far_as_it_goes(void **state)
{
    struct made          m = large_capture();
    char                 path[64];
    struct fault         f;
    const struct record *r;
    uint64_t             n = 0;

    (void)state;
    write_file(path, &m, m.length - 3);
    compare(path, &m, m.length - 3);
    struct trace *t = trace_open(path, NULL, &f);

    assert_non_null(t);
    while (trace_next(t, &r, &f))
        n++;
    assert_int_equal(n, PACKETS - 1);
    assert_true(trace_facts(t)->cut_off);
    trace_close(t);
    unlink(path);
    made_free(&m);
}

static void a_large_file_can_be_closed_at_any_record(void **state)
{
    struct made m = large_capture();
    char        path[64];

    (void)state;
    write_file(path, &m, m.length);
    for (unsigned stop = 0; stop < 4000; stop += 500) {
        struct fault         f;
        const struct record *r;
        struct trace        *t = trace_open(path, NULL, &f);

        assert_non_null(t);
        for (unsigned k = 0; k < stop; k++)
            assert_true(trace_next(t, &r, &f));
        trace_close(t);
    }
    unlink(path);
    made_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_large_file_gives_what_its_bytes_give),
        cmocka_unit_test(a_large_file_that_is_cut_off_is_read_as_far_as_it_goes),
        cmocka_unit_test(a_large_file_can_be_closed_at_any_record),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
