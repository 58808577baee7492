/* Samples without a head: eight to a byte, or one bit of each byte. */
#include "tests/capture/cc_heard.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct cc_options at_rate(double rate_hz)
{
    return (struct cc_options){ .lines = 1, .rate_hz = rate_hz };
}

static void the_first_sample_is_the_least_significant_bit(void **state)
{
    (void)state;
    static const uint8_t bytes[] = { 0xE1, 0x07 }; /* 1 0000 111 | 111 00000 */
    struct heard         h;

    heard_same(&cc_bits_kind, bytes, sizeof bytes, at_rate(24e6), &h);
    assert_string_equal(h.line[0], "high@0 1 5 11 until 16");
    assert_true(cc_ticks_ns(h.tick, 24) == 1000);
    assert_int_equal(cc_tick_ps(h.tick), 41667); /* 41666.7 ps */
}

static void or_the_most_significant_if_that_is_said(void **state)
{
    (void)state;
    static const uint8_t bytes[] = { 0xE1, 0x07 }; /* 111 0000 1 | 00000 111 */
    struct cc_options    options = at_rate(1e6);
    struct heard         h;

    options.most_first = true;
    heard_same(&cc_bits_kind, bytes, sizeof bytes, options, &h);
    assert_string_equal(h.line[0], "high@0 3 7 8 13 until 16");
}

static void a_bit_of_each_byte_is_a_line(void **state)
{
    (void)state;
    static const uint8_t bytes[] = { 0x00, 0x01, 0x81, 0x80, 0xFE, 0x01, 0x00 };
    struct cc_options    options = at_rate(1000);
    struct heard         h;

    options.names[1] = "7";
    options.names[2] = "3";
    options.lines = 3;
    heard_same(&cc_bytes_kind, bytes, sizeof bytes, options, &h);
    assert_string_equal(h.line[0], "low@0 1 3 5 6 until 7"); /* bit 0 where none is named */
    assert_string_equal(h.line[1], "low@0 2 5 until 7");
    assert_string_equal(h.line[2], "low@0 4 5 until 7");
    assert_true(cc_ticks_ns(h.tick, 1) == 1000000);
}

static void what_is_asked_wrongly_is_refused(void **state)
{
    (void)state;
    static const char *const names[] = { "8", "cc1", "", "00", "-1" };
    uint8_t                  byte = 0;

    for (size_t k = 0; k < sizeof names / sizeof names[0]; k++) {
        struct cc_options options = { .lines = 1, .rate_hz = 1e6, .names = { names[k] } };

        assert_int_equal(heard_fault(&cc_bytes_kind, &byte, 1, options).code, FAULT_NOT_THERE);
        assert_int_equal(heard_fault(&cc_bits_kind, &byte, 1, options).code, FAULT_NOT_THERE);
    }
    struct cc_options two = { .lines = 2, .rate_hz = 1e6 };
    struct fault      f = heard_fault(&cc_bits_kind, &byte, 1, two);

    assert_int_equal(f.code, FAULT_NOT_THERE);
    assert_int_equal(f.number, 1);
    assert_int_equal(heard_fault(&cc_bits_kind, &byte, 1, at_rate(0)).code, FAULT_RATE);
    assert_int_equal(heard_fault(&cc_bytes_kind, &byte, 1, at_rate(-24e6)).code, FAULT_RATE);
    assert_int_equal(heard_fault(&cc_bits_kind, &byte, 0, at_rate(24e6)).code, FAULT_EMPTY);
}

/* A level for each sample, from a generator of our own; what is packed from it has to come back. */
struct samples { size_t count; uint8_t *level; };

static uint32_t drawn(uint32_t *seed)
{
    *seed = *seed * 1664525 + 1013904223;
    return *seed >> 8;
}

static struct samples samples_drawn(size_t count, unsigned longest, uint32_t seed)
{
    struct samples s = { count, malloc(count) };
    uint8_t        level = drawn(&seed) & 1;

    assert_non_null(s.level);
    for (size_t k = 0; k < count; level ^= 1)
        for (size_t n = 1 + drawn(&seed) % longest; n > 0 && k < count; n--)
            s.level[k++] = level;
    return s;
}

static void assert_changes(const struct samples *s, const struct cc_kind *kind, const uint8_t *bytes, size_t length, const struct cc_options *options,
                           unsigned line, unsigned turned)
{
    struct fault    f = { 0 };
    struct cc_file *c = kind->open_memory(bytes, length, options, &f);
    struct cc_block b;
    size_t          at = 0;

    assert_non_null(c);
    while (kind->next(c, &b, &f)) {
        if (b.line != line)
            continue;
        assert_true(b.from == (int64_t)at && b.until > b.from && !b.broken && (size_t)b.until <= s->count);
        assert_int_equal(b.level ^ turned, at > 0 ? s->level[at - 1] : s->level[0]);
        for (size_t k = 0; k < b.count; k++) {
            for (; (int64_t)at < b.at[k]; at++)
                assert_true(at == 0 || s->level[at] == s->level[at - 1]);
            assert_true(s->level[at] != s->level[at - 1]);
            at++;
        }
        for (; (int64_t)at < b.until; at++)
            assert_true(at == 0 || s->level[at] == s->level[at - 1]);
    }
    assert_int_equal(f.code, FAULT_NONE);
    assert_true(at == s->count);
    kind->close(c);
}

static void try_samples(size_t count, unsigned longest, uint32_t seed)
{
    struct samples s = samples_drawn(count, longest, seed);
    uint8_t       *least = calloc(count / 8, 1), *most = calloc(count / 8, 1), *whole = calloc(count, 1);
    static const size_t pieces[] = { 0, 1, 8, 13, 4096 };

    assert_true(least && most && whole);
    for (size_t k = 0; k < count; k++) {
        least[k / 8] |= (uint8_t)(s.level[k] << k % 8);
        most[k / 8] |= (uint8_t)(s.level[k] << (7 - k % 8));
        whole[k] = (uint8_t)((unsigned)s.level[k] << 5 | (unsigned)!s.level[k] << 2 | (unsigned)(k * 37 & 0x81));
    }
    for (size_t p = 0; p < sizeof pieces / sizeof pieces[0]; p++) {
        struct cc_options options = { .lines = 1, .rate_hz = 24e6, .read_bytes = pieces[p] };

        assert_changes(&s, &cc_bits_kind, least, count / 8, &options, 0, 0);
        options.most_first = true;
        assert_changes(&s, &cc_bits_kind, most, count / 8, &options, 0, 0);
        options.names[0] = "5";
        options.names[1] = "2";
        options.lines = 2;
        assert_changes(&s, &cc_bytes_kind, whole, count, &options, 0, 0);
        assert_changes(&s, &cc_bytes_kind, whole, count, &options, 1, 1);
    }
    free(least);
    free(most);
    free(whole);
    free(s.level);
}

static void every_change_comes_and_none_beside(void **state)
{
    (void)state;
    for (size_t bytes = 1; bytes < 40; bytes++) /* every length about a word, and about a stretch that is looked through at once */
        for (unsigned longest = 1; longest <= 200; longest += 33)
            try_samples(8 * bytes, longest, (uint32_t)(bytes * 1000 + longest));
    try_samples(8 * 1031, 40, 1);
    try_samples(8 * 4099, 5000, 2);
    try_samples(8 * 9001, 1, 3); /* a change at every sample */
    try_samples(8 * 40000, 3, 4);
}

static void a_still_line_is_known_to_its_end(void **state)
{
    (void)state;
    const size_t length = 3 * CC_READ_BYTES + 5;
    uint8_t     *bytes = malloc(length);

    assert_non_null(bytes);
    for (unsigned level = 0; level < 2; level++) {
        struct heard h;
        struct fault f;

        memset(bytes, level ? 0xFF : 0, length);
        assert_true(heard_of(&cc_bits_kind, bytes, length, at_rate(24e6), &h, &f));
        assert_string_equal(h.line[0], level ? "high@0 until 6291496" : "low@0 until 6291496"); /* 8 x 786437 */
        bytes[length - 1] ^= 0x80;
        assert_true(heard_of(&cc_bits_kind, bytes, length, at_rate(24e6), &h, &f));
        assert_string_equal(h.line[0], level ? "high@0 6291495 until 6291496" : "low@0 6291495 until 6291496");
    }
    free(bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_sample_is_the_least_significant_bit),
        cmocka_unit_test(or_the_most_significant_if_that_is_said),
        cmocka_unit_test(a_bit_of_each_byte_is_a_line),
        cmocka_unit_test(what_is_asked_wrongly_is_refused),
        cmocka_unit_test(every_change_comes_and_none_beside),
        cmocka_unit_test(a_still_line_is_known_to_its_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
