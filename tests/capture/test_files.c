/*
 * Traces in every kind of file. Captures are put together by hand from the IETF drafts "PCAP Capture File Format" and "PCAP
 * Next Generation Capture File Format"; packed ones by zlib and libzstd themselves.
 */
#define _GNU_SOURCE /* mkstemp, pipe */
#include "tests/capture/made.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>
#include <zstd.h>

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])
enum { USER0 = 147, WATCHDOG_SECONDS = 20 };

static struct made hard_reset(void)
{
    return made_record(0x02, 0, 0, 0, "00 000000");
}

static void classic_captures_of_either_byte_order_and_resolution_are_read(void **state)
{
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        bool        nano = kind & 1;
        struct made m = { .big_endian = kind >> 1 }, record = hard_reset();
        struct seen s;

        pcap_begin(&m, nano ? NANO_MAGIC : MICRO_MAGIC, USER0);
        pcap_packet(&m, 1000, 123456, &record);
        pcap_packet(&m, 1001, 999999, &record);
        seen_of(&m, false, &s);
        assert_int_equal(s.count, 2);
        assert_int_equal(s.soundness[0], RECORD_SOUND);
        assert_int_equal(s.t_ns[0], nano ? 123456 : 123456000);
        assert_int_equal(s.t_ns[1], nano ? 1000999999 : 1999999000);
        assert_int_equal(s.facts.form, TRACE_PCAP);
        assert_int_equal(s.facts.default_time_ns, nano ? 0 : 1000);
        made_free(&m);
        made_free(&record);
    }
}

static void seconds_of_a_classic_capture_have_no_sign(void **state)
{
    (void)state;
    struct made m = { 0 }, record = hard_reset();
    struct seen s;

    pcap_begin(&m, NANO_MAGIC, USER0);
    pcap_packet(&m, 0x7FFFFFFF, 999999999, &record);
    pcap_packet(&m, 0x80000000, 0, &record); /* 2038-01-19 03:14:08 */
    seen_of(&m, false, &s);
    assert_int_equal(s.t_ns[1] - s.t_ns[0], 1);
    assert_int_equal(s.facts.time_steps, 0);
    made_free(&m);
    made_free(&record);
}

/* A resolution as it stands in if_tsresol, the ticks of second 1000.25, and what is taken for the uncertainty. */
static const struct { int tsresol; uint64_t ticks; int64_t t_ns, unit_ns; } resolutions_all[] = {
    { -1, 1000250000, 250000000, 1000 }, /* no option: microseconds */
    { 6, 1000250000, 250000000, 1000 },
    { 9, UINT64_C(1000250000000), 250000000, 0 },
    { 3, 1000250, 250000000, 1000000 },
    { 0, 1000, 0, 1000000000 },
    { 12, UINT64_C(1000250000000000), 250000000, 0 },
    { 0x80 | 20, UINT64_C(1048838144), 250000000, 953 }, /* 1000.25 x 2^20; 2^-20 s is 953.67 ns */
    { 0x80 | 30, UINT64_C(1074010259456), 250000000, 0 },
};

static void times_of_pcapng_go_by_the_resolution_of_the_interface(void **state)
{
    (void)state;
    for (size_t i = 0; i < 2 * LENGTH(resolutions_all); i++) {
        int         tsresol = resolutions_all[i / 2].tsresol;
        struct made m = { .big_endian = i & 1 }, record = hard_reset(), options = { .big_endian = i & 1 };
        uint8_t     value = (uint8_t)tsresol;
        struct seen s;

        if (tsresol >= 0)
            ng_option(&options, 9, &value, 1);
        ng_option(&options, 0, NULL, 0);
        ng_section(&m, NULL);
        ng_interface(&m, USER0, &options);
        ng_packet(&m, 0, resolutions_all[i / 2].ticks, &record, NULL);
        seen_of(&m, false, &s);
        assert_int_equal(s.count, 1);
        assert_int_equal(s.t_ns[0], resolutions_all[i / 2].t_ns);
        assert_int_equal(s.facts.form, TRACE_PCAPNG);
        assert_int_equal(s.facts.default_time_ns, resolutions_all[i / 2].unit_ns);
        made_free(&m);
        made_free(&record);
        made_free(&options);
    }
}

/* As a tool writes it that has a lot to say: comments and names everywhere, statistics, a name table, a block of its own. */
static void talkative(struct made *m)
{
    struct made options = { .big_endian = m->big_endian }, record = hard_reset(), body = { .big_endian = m->big_endian };
    uint8_t     nano = 9;

    ng_option(&options, 1, "bench three", 11);      /* opt_comment */
    ng_option(&options, 2, "a board", 7);           /* shb_hardware */
    ng_option(&options, 4, "the application", 15);  /* shb_userappl */
    ng_option(&options, 0, NULL, 0);
    ng_section(m, &options);
    options.length = 0;
    ng_option(&options, 2, "usbc0", 5);             /* if_name */
    ng_option(&options, 3, "the left port", 13);    /* if_description */
    ng_option(&options, 9, &nano, 1);               /* if_tsresol */
    ng_option(&options, 0, NULL, 0);
    made_hex(&body, "00000000");
    ng_block(m, 4, &body);                          /* Name Resolution Block, before any interface */
    ng_interface(m, USER0, &options);
    ng_interface(m, USER0, &options);
    options.length = 0;
    ng_option(&options, 1, "look here", 9);
    ng_option(&options, 0, NULL, 0);
    ng_packet(m, 0, UINT64_C(1000000000001), &record, &options);
    body.length = 0;
    made_u32(&body, 0x12345678);                    /* some enterprise's number */
    made_bytes(&body, "whatever", 8);
    ng_block(m, 0x00000BAD, &body);                 /* Custom Block */
    ng_packet(m, 1, UINT64_C(1000000000002), &record, NULL);
    body.length = 0;
    made_u32(&body, 0);
    made_u32(&body, 232);
    made_u32(&body, 3567587328);
    ng_block(m, 5, &body);                          /* Interface Statistics Block */
    made_free(&options);
    made_free(&record);
    made_free(&body);
}

static void pcapng_with_options_several_interfaces_and_sections_is_read(void **state)
{
    (void)state;
    for (int big = 0; big < 2; big++) {
        struct made m = { .big_endian = big };
        struct seen s;

        talkative(&m);
        talkative(&m);
        seen_of(&m, false, &s);
        assert_int_equal(s.count, 4);
        for (unsigned i = 0; i < 4; i++)
            assert_int_equal(s.soundness[i], RECORD_SOUND);
        assert_int_equal(s.t_ns[0], 1);
        assert_int_equal(s.facts.default_time_ns, 0);
        assert_int_equal(s.facts.time_steps, 1); /* the second section begins where the first did */
        assert_false(s.facts.cut_off);
        made_free(&m);
    }
}

static void an_interface_of_another_link_type_ends_the_trace_there(void **state)
{
    (void)state;
    struct made m = { 0 }, record = hard_reset();
    struct seen s;

    ng_section(&m, NULL);
    ng_interface(&m, USER0, NULL);
    ng_packet(&m, 0, 1000000000, &record, NULL);
    ng_interface(&m, 1, NULL);
    ng_packet(&m, 1, 1000000001, &record, NULL);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 1);
    assert_true(s.facts.cut_off);
    assert_int_equal(s.notice[0].code, TRACE_CUT_OFF);
    assert_true(strlen(s.words) > 0);
    made_free(&m);
    made_free(&record);
}

static void another_link_type_is_refused_by_number_and_name(void **state)
{
    (void)state;
    for (int kind = 0; kind < 3; kind++) {
        struct made  m = { .big_endian = kind & 1 };
        struct fault f;

        if (kind < 2) {
            pcap_begin(&m, NANO_MAGIC, 1); /* LINKTYPE_ETHERNET */
        } else {
            ng_section(&m, NULL);
            ng_interface(&m, 1, NULL);
        }
        f = fault_of(m.bytes, m.length);
        assert_int_equal(f.code, FAULT_LINK_TYPE);
        assert_int_equal(f.number, 1);
        assert_string_equal(f.detail, "EN10MB");
        made_free(&m);
    }
}

static void what_is_no_trace_says_what_it_is_not(void **state)
{
    (void)state;
    struct made m = { 0 };

    assert_int_equal(fault_of("", 0).code, FAULT_EMPTY);
    assert_int_equal(fault_of("\x7f" "ELF\2\1\1", 7).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("MZ", 2).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("\n\n", 2).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("time,volt\n0.1,5.0\n", 18).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("{\"a\":1}", 7).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("# a comment\nset -e\n", 19).code, FAULT_NOT_A_CAPTURE);
    assert_int_equal(fault_of("\xa1\xb2\xc3\xd4\0\2", 6).code, FAULT_CAPTURE);
    assert_int_equal(fault_of("\x1f\x8b\x08\0\0\0\0\0\0\3garbage garbage", 25).code, FAULT_COMPRESSION);
    assert_int_equal(fault_of("\x28\xb5\x2f\xfd\xff\xff\xff\xff\xff", 9).code, FAULT_COMPRESSION);
    pcap_begin(&m, MICRO_MAGIC, USER0);
    m.bytes[4] = 9; /* version 9.4 */
    struct fault f = fault_of(m.bytes, m.length);

    assert_int_equal(f.code, FAULT_CAPTURE);
    assert_true(strlen(f.detail) > 0);
    made_free(&m);
}

static void a_capture_without_a_packet_is_a_trace_of_nothing(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    pcap_begin(&m, NANO_MAGIC, USER0);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 0);
    assert_int_equal(s.notices, 0);
    assert_false(s.facts.has_zero);
    made_free(&m);
    ng_section(&m, NULL);
    ng_interface(&m, USER0, NULL);
    seen_of(&m, false, &s);
    assert_int_equal(s.count, 0);
    made_free(&m);
}

/* Three records of 12, 10 and 17 bytes. */
static void three_records(struct made *m)
{
    trace_add(m, 0, 0x02, 0, 0, 0, "00 000000");
    trace_add(m, 10, 0x08, 255, 0, 0, "7b7d");
    trace_add(m, 20, 0x05, 255, 0, 0, "00 ff 0000 00000000 78");
}

static void a_file_cut_anywhere_loses_only_what_was_cut(void **state)
{
    (void)state;
    const size_t ends[] = { 24, 24 + 16 + 12, 24 + 16 + 12 + 16 + 10, 24 + 16 + 12 + 16 + 10 + 16 + 17 };
    struct made  m = { 0 };
    struct seen  s;

    three_records(&m);
    assert_int_equal(m.length, ends[3]);
    for (size_t length = 1; length < 24; length++) {
        enum fault_code code = fault_of(m.bytes, length).code;

        assert_int_equal(code, length < 4 ? FAULT_NOT_A_CAPTURE : FAULT_CAPTURE);
    }
    for (size_t length = 24; length <= ends[3]; length++) {
        struct made part = { .bytes = m.bytes, .length = length };
        unsigned    whole = 0;
        bool        between = length == ends[0];

        for (unsigned i = 1; i < 4; i++) {
            whole += length >= ends[i];
            between = between || length == ends[i];
        }
        seen_of(&part, false, &s);
        assert_int_equal(s.count, whole);
        assert_int_equal(s.facts.cut_off, !between);
        assert_int_equal(s.notices, between ? 0 : 1);
        if (!between)
            assert_true(strlen(s.words) > 0);
    }
    made_free(&m);
}

static void a_pcapng_file_cut_anywhere_loses_only_what_was_cut(void **state)
{
    (void)state;
    struct made m = { 0 }, record = hard_reset();
    size_t      ends[4];
    struct seen s;

    ng_section(&m, NULL);
    ng_interface(&m, USER0, NULL);
    ends[0] = m.length;
    for (unsigned i = 1; i < 4; i++) {
        ng_packet(&m, 0, 1000000000 + i, &record, NULL);
        ends[i] = m.length;
    }
    for (size_t length = ends[0]; length <= ends[3]; length++) {
        struct made part = { .bytes = m.bytes, .length = length };
        unsigned    whole = 0;

        for (unsigned i = 1; i < 4; i++)
            whole += length >= ends[i];
        seen_of(&part, false, &s);
        assert_int_equal(s.count, whole);
        assert_int_equal(s.facts.cut_off, length != ends[whole]);
    }
    for (size_t length = 1; length < ends[0]; length++)
        assert_int_not_equal(fault_of(m.bytes, length).code, FAULT_NONE);
    made_free(&m);
    made_free(&record);
}

/* Packed with the libraries themselves. */

static void gzip_add(struct made *out, const uint8_t *bytes, size_t length)
{
    z_stream z = { 0 };
    uint8_t  room[65536];

    assert_int_equal(deflateInit2(&z, 6, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY), Z_OK);
    z.next_in = (Bytef *)(uintptr_t)bytes;
    z.avail_in = (uInt)length;
    z.next_out = room;
    z.avail_out = sizeof room;
    assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
    made_bytes(out, room, sizeof room - z.avail_out);
    deflateEnd(&z);
}

static void zstd_add(struct made *out, const uint8_t *bytes, size_t length)
{
    uint8_t room[65536];
    size_t  n = ZSTD_compress(room, sizeof room, bytes, length, 3);

    assert_false(ZSTD_isError(n));
    made_bytes(out, room, n);
}

static void (*const packers[])(struct made *, const uint8_t *, size_t) = { gzip_add, zstd_add };

static void packed_traces_are_read_also_in_several_pieces(void **state)
{
    (void)state;
    for (size_t p = 0; p < LENGTH(packers); p++) {
        struct made m = { 0 }, packed = { 0 };
        struct seen s;

        three_records(&m);
        packers[p](&packed, m.bytes, m.length);
        seen_of(&packed, false, &s);
        assert_int_equal(s.count, 3);
        assert_false(s.facts.cut_off);
        packed.length = 0;
        packers[p](&packed, m.bytes, 3); /* pieces that end inside the head and inside a record */
        packers[p](&packed, m.bytes + 3, 40);
        packers[p](&packed, m.bytes + 43, m.length - 43);
        seen_of(&packed, false, &s);
        assert_int_equal(s.count, 3);
        assert_int_equal(s.t_ns[2], 20);
        assert_false(s.facts.cut_off);
        made_free(&packed);
        made_free(&m);
    }
}

static void zeros_behind_a_gzip_file_and_skippable_frames_of_zstd_are_no_harm(void **state)
{
    (void)state;
    struct made m = { 0 }, packed = { 0 };
    struct seen s;

    three_records(&m);
    gzip_add(&packed, m.bytes, m.length);
    for (int i = 0; i < 600; i++)
        made_u8(&packed, 0);
    seen_of(&packed, false, &s);
    assert_int_equal(s.count, 3);
    assert_false(s.facts.cut_off);
    packed.length = 0;
    made_hex(&packed, "502a4d18 04000000 01020304"); /* RFC 8878, 3.1.2 */
    zstd_add(&packed, m.bytes, m.length);
    made_hex(&packed, "5f2a4d18 00000000");
    seen_of(&packed, false, &s);
    assert_int_equal(s.count, 3);
    assert_false(s.facts.cut_off);
    made_free(&packed);
    made_free(&m);
}

static void a_packed_trace_cut_anywhere_or_spoilt_is_read_as_far_as_it_goes(void **state)
{
    (void)state;
    for (size_t p = 0; p < LENGTH(packers); p++) {
        struct made m = { 0 }, packed = { 0 };
        struct seen s;

        three_records(&m);
        packers[p](&packed, m.bytes, 52);            /* head and first record */
        size_t first = packed.length;

        packers[p](&packed, m.bytes + 52, m.length - 52);
        for (size_t length = first; length < packed.length; length++) {
            struct made part = { .bytes = packed.bytes, .length = length };

            seen_of(&part, false, &s);
            assert_in_range(s.count, 1, 3);
            assert_int_equal(s.facts.cut_off, length > first);
        }
        for (size_t at = first; at < packed.length; at++) {
            packed.bytes[at] ^= 0x55;
            seen_of(&packed, false, &s);
            assert_true(s.count >= 1);
            packed.bytes[at] ^= 0x55;
        }
        made_free(&packed);
        made_free(&m);
    }
}

static void a_large_packed_trace_comes_through_whole(void **state)
{
    (void)state;
    for (size_t p = 0; p < LENGTH(packers); p++) {
        struct made   m = { 0 }, packed = { 0 };
        struct fault  f;
        const struct record *r;
        unsigned      count = 0;

        for (int i = 0; i < 100000; i++)
            trace_add(&m, i * INT64_C(1000000), 0x02, 0, 0, 0, "00 000000");
        for (size_t at = 0; at < m.length; at += 60000)
            packers[p](&packed, m.bytes + at, m.length - at < 60000 ? m.length - at : 60000);
        struct trace *t = trace_open_memory(packed.bytes, packed.length, NULL, &f);

        assert_non_null(t);
        while (trace_next(t, &r, &f)) {
            assert_int_equal(r->t_ns, 1000 * INT64_C(1000000000) + count * INT64_C(1000000));
            count++;
        }
        assert_int_equal(count, 100000);
        assert_false(trace_facts(t)->cut_off);
        trace_close(t);
        made_free(&packed);
        made_free(&m);
    }
}

/* Files, pipes, standard input. */

/* Leaves a file of what is in m, and its path. */
static void file_of(const struct made *m, char path[32])
{
    strcpy(path, "portassay-test-XXXXXX");
    int fd = mkstemp(path);

    assert_true(fd >= 0);
    assert_int_equal(write(fd, m->bytes, m->length), (ssize_t)m->length);
    close(fd);
}

static void a_file_is_opened_by_its_path(void **state)
{
    (void)state;
    char         path[32];
    struct made  m = { 0 };
    struct fault f;
    const struct record *r;

    three_records(&m);
    file_of(&m, path);
    struct trace *t = trace_open(path, NULL, &f);

    assert_non_null(t);
    assert_true(trace_next(t, &r, &f));
    trace_close(t);
    unlink(path);
    made_free(&m);
    assert_null(trace_open(path, NULL, &f));
    assert_int_equal(f.code, FAULT_OPEN);
    assert_int_equal(f.sys, 2); /* ENOENT */
    assert_null(trace_open(".", NULL, &f));
    assert_int_equal(f.code, FAULT_READ);
    assert_int_equal(f.sys, 21); /* EISDIR */
}

static unsigned count_of(struct trace *t)
{
    const struct record *r;
    struct fault         f;
    unsigned             count = 0;

    assert_non_null(t);
    while (trace_next(t, &r, &f))
        count++;
    return count;
}

/* A plain file goes another way to libpcap than what comes from memory or is packed; it must come to the same. */
static void plain_packed_and_cut_files_tell_the_same_as_bytes_in_memory(void **state)
{
    (void)state;
    char         path[32];
    struct made  m = { 0 }, packed = { 0 }, record = hard_reset(), options = { 0 };
    uint8_t      milli = 3;
    struct fault f;

    ng_option(&options, 9, &milli, 1);
    ng_option(&options, 0, NULL, 0);
    ng_section(&m, NULL);
    ng_interface(&m, USER0, &options);
    for (unsigned i = 0; i < 1000; i++)
        ng_packet(&m, 0, 1000000 + i, &record, NULL);
    gzip_add(&packed, m.bytes, m.length);
    for (int kind = 0; kind < 3; kind++) {
        if (kind == 1)
            m.length -= 5;
        file_of(kind == 2 ? &packed : &m, path);
        struct trace *t = trace_open(path, NULL, &f);

        assert_int_equal(count_of(t), kind == 1 ? 999 : 1000);
        assert_int_equal(trace_facts(t)->form, TRACE_PCAPNG);
        assert_int_equal(trace_facts(t)->default_time_ns, 1000000);
        assert_int_equal(trace_facts(t)->cut_off, kind == 1);
        trace_close(t);
        unlink(path);
    }
    made_free(&m);
    ng_section(&m, NULL);
    ng_interface(&m, 113, NULL); /* LINKTYPE_LINUX_SLL */
    file_of(&m, path);
    assert_null(trace_open(path, NULL, &f));
    assert_int_equal(f.code, FAULT_LINK_TYPE);
    assert_int_equal(f.number, 113);
    assert_string_equal(f.detail, "LINUX_SLL");
    unlink(path);
    made_free(&m);
    made_free(&packed);
    made_free(&record);
    made_free(&options);
}

/* Puts what is in m into a pipe as standard input; the writing end stays open and is returned. */
static int pipe_as_stdin(const struct made *m, int *saved_stdin)
{
    int ends[2];

    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], m->bytes, m->length), (ssize_t)m->length);
    *saved_stdin = dup(STDIN_FILENO);
    dup2(ends[0], STDIN_FILENO);
    close(ends[0]);
    return ends[1];
}

static void stdin_restore(int saved)
{
    dup2(saved, STDIN_FILENO);
    close(saved);
}

static void standard_input_gives_a_record_as_soon_as_it_may_go_out(void **state)
{
    (void)state;
    struct made  m = { 0 };
    int          saved;
    struct fault f;
    const struct record *r;

    alarm(WATCHDOG_SECONDS); /* waiting for more than has come would be for ever */
    trace_add(&m, 0, 0x02, 0, 0, 0, "00 000000");
    trace_add(&m, 1000000000, 0x02, 0, 0, 0, "00 000000");
    int           writer = pipe_as_stdin(&m, &saved);
    struct trace *t = trace_open("-", NULL, &f);

    assert_non_null(t);
    assert_true(trace_next(t, &r, &f));
    assert_int_equal(r->frame, 1);
    close(writer);
    assert_true(trace_next(t, &r, &f));
    assert_int_equal(r->frame, 2);
    assert_false(trace_next(t, &r, &f));
    trace_close(t);
    stdin_restore(saved);
    alarm(0);
    made_free(&m);
}

static void packed_standard_input_gives_what_has_come(void **state)
{
    (void)state;
    for (size_t p = 0; p < LENGTH(packers); p++) {
        struct made  m = { 0 }, packed = { 0 };
        int          saved;
        struct fault f;
        const struct record *r;

        alarm(WATCHDOG_SECONDS);
        trace_add(&m, 0, 0x02, 0, 0, 0, "00 000000");
        trace_add(&m, 1000000000, 0x02, 0, 0, 0, "00 000000");
        packers[p](&packed, m.bytes, m.length);
        int           writer = pipe_as_stdin(&packed, &saved);
        struct trace *t = trace_open("-", NULL, &f);

        assert_non_null(t);
        assert_true(trace_next(t, &r, &f));
        close(writer);
        trace_close(t);
        stdin_restore(saved);
        alarm(0);
        made_free(&packed);
        made_free(&m);
    }
}

static void the_text_form_on_standard_input_is_known_by_its_first_line(void **state)
{
    (void)state;
    struct made  m = { 0 };
    int          saved;
    struct fault f;
    const struct record *r;
    const char   text[] = "# live\n\n1 0 HARD_RESET\n2 0 HARD_RESET\n";

    alarm(WATCHDOG_SECONDS);
    made_bytes(&m, text, sizeof text - 1);
    int           writer = pipe_as_stdin(&m, &saved);
    struct trace *t = trace_open("-", NULL, &f);

    assert_non_null(t);
    assert_true(trace_next(t, &r, &f));
    assert_int_equal(r->frame, 3); /* the line */
    assert_int_equal(trace_facts(t)->form, TRACE_TEXT);
    close(writer);
    trace_close(t);
    stdin_restore(saved);
    alarm(0);
    made_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(classic_captures_of_either_byte_order_and_resolution_are_read),
        cmocka_unit_test(seconds_of_a_classic_capture_have_no_sign),
        cmocka_unit_test(times_of_pcapng_go_by_the_resolution_of_the_interface),
        cmocka_unit_test(pcapng_with_options_several_interfaces_and_sections_is_read),
        cmocka_unit_test(an_interface_of_another_link_type_ends_the_trace_there),
        cmocka_unit_test(another_link_type_is_refused_by_number_and_name),
        cmocka_unit_test(what_is_no_trace_says_what_it_is_not),
        cmocka_unit_test(a_capture_without_a_packet_is_a_trace_of_nothing),
        cmocka_unit_test(a_file_cut_anywhere_loses_only_what_was_cut),
        cmocka_unit_test(a_pcapng_file_cut_anywhere_loses_only_what_was_cut),
        cmocka_unit_test(packed_traces_are_read_also_in_several_pieces),
        cmocka_unit_test(zeros_behind_a_gzip_file_and_skippable_frames_of_zstd_are_no_harm),
        cmocka_unit_test(a_packed_trace_cut_anywhere_or_spoilt_is_read_as_far_as_it_goes),
        cmocka_unit_test(a_large_packed_trace_comes_through_whole),
        cmocka_unit_test(a_file_is_opened_by_its_path),
        cmocka_unit_test(plain_packed_and_cut_files_tell_the_same_as_bytes_in_memory),
        cmocka_unit_test(standard_input_gives_a_record_as_soon_as_it_may_go_out),
        cmocka_unit_test(packed_standard_input_gives_what_has_come),
        cmocka_unit_test(the_text_form_on_standard_input_is_known_by_its_first_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
