/*
 * Any trace, of records of every kind drawn at random, sound or not: show --text, then import of that text, gives the same records with the same
 * times, byte for byte; from a file, through a pipe, and merged with another trace. Draws are the test's own.
 */
#include "capture/trace.h"
#include "capture/writer.h"
#include "tests/cli/program.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ROUNDS = 6, RECORDS = 1500, BYTES_MAX = 700 };
#define START_NS INT64_C(1769853600000000000)

struct drawing { uint64_t state; };

static uint32_t draw(struct drawing *d, uint32_t below)
{
    d->state ^= d->state << 13;
    d->state ^= d->state >> 7;
    d->state ^= d->state << 17;
    return (uint32_t)(d->state >> 32) % below;
}

static size_t bytes_draw(struct drawing *d, uint8_t *out, size_t most)
{
    size_t length = draw(d, (uint32_t)most + 1);

    for (size_t k = 0; k < length; k++)
        out[k] = (uint8_t)draw(d, 256);
    return length;
}

/* Words with blanks, quotes and letters of two bytes. */
static size_t text_draw(struct drawing *d, uint8_t *out)
{
    static const char *const words[] = { "plug", " ", "\"", "é", "1.5", "#", "  ", "#=", "until", "\t" };
    size_t length = 0;

    for (unsigned n = draw(d, 8); n > 0; n--) {
        const char *word = words[draw(d, sizeof words / sizeof words[0])];

        memcpy(out + length, word, strlen(word));
        length += strlen(word);
    }
    return length;
}

static void u32_put(uint8_t *out, uint32_t value)
{
    for (unsigned k = 0; k < 4; k++)
        out[k] = (uint8_t)(value >> 8 * k);
}

static size_t power_draw(struct drawing *d, uint8_t *body)
{
    uint32_t rows = 1 + draw(d, 12), columns = 1 + draw(d, 7), width = (columns & 1) + (columns >> 1 & 1) + (columns >> 2 & 1);
    size_t   at = 8;

    u32_put(body, rows == 1 && draw(d, 2) ? 0 : 1 + draw(d, 4000000));
    u32_put(body + 4, rows | columns << 16);
    for (uint32_t k = 0; k < rows * width; k++, at += 4)
        u32_put(body + at, draw(d, 10) == 0 ? 0x80000000u : (uint32_t)((int32_t)draw(d, 50000000) - 1000000));
    return at;
}

static size_t edges_draw(struct drawing *d, uint8_t *body)
{
    size_t at = 8;

    u32_put(body, 1 + draw(d, 100000));
    u32_put(body + 4, draw(d, 2));
    for (unsigned n = draw(d, 60); n > 0; n--) {
        uint32_t ticks = draw(d, draw(d, 20) ? 200 : 5000000);

        for (; ticks > 0x7F; ticks >>= 7)
            body[at++] = (uint8_t)(ticks | 0x80);
        body[at++] = (uint8_t)ticks;
    }
    return at;
}

/* A body of the kind; sound but where something is drawn that is not. */
static size_t body_draw(struct drawing *d, uint8_t kind, uint8_t *body)
{
    switch (kind) {
    case RECORD_PD_PACKET:
        u32_put(body, draw(d, 5) | draw(d, 8) << 8);
        return 4 + bytes_draw(d, body + 4, 300);
    case RECORD_RESET_SIGNAL:
        u32_put(body, draw(d, 2));
        return 4;
    case RECORD_POWER:
        return power_draw(d, body);
    case RECORD_CC_STATE:
        u32_put(body, draw(d, 5) | draw(d, 4) << 8 | draw(d, 65536) << 16);
        u32_put(body + 4, draw(d, 2) ? 0xFFFF : draw(d, 65536));
        return 8;
    case RECORD_MARK:
        u32_put(body, draw(d, 7) | draw(d, 256) << 8);
        u32_put(body + 4, draw(d, 5000));
        return 8 + text_draw(d, body + 8);
    case RECORD_LOST:
        u32_put(body, draw(d, 3) ? draw(d, 100) : 0xFFFFFFFFu);
        u32_put(body + 4, draw(d, 4));
        return 8;
    case RECORD_TEMPERATURE:
        u32_put(body, draw(d, 256));
        u32_put(body + 4, (uint32_t)((int32_t)draw(d, 200000) - 50000));
        return 8 + text_draw(d, body + 8);
    case RECORD_ABOUT:
        return (size_t)snprintf((char *)body, BYTES_MAX, "{\"note\":\"é \\\"%" PRIu32 "\\\"\",\"n\":[%" PRIu32 ",1.5e-3]}", draw(d, 1000), draw(d, 100));
    case RECORD_CC_EDGES:
        return edges_draw(d, body);
    default:
        return bytes_draw(d, body, 40);
    }
}

static size_t record_draw(struct drawing *d, uint8_t *out)
{
    uint8_t body[BYTES_MAX], kind = (uint8_t)(1 + draw(d, 9)), flags = (uint8_t)(draw(d, 3) ? draw(d, 8) & (RECORD_HOST_TIME | RECORD_INVENTED) : draw(d, 256));
    uint8_t port = (uint8_t)(draw(d, 5) ? draw(d, 3) : 255);

    if (draw(d, 12) == 0)
        kind = (uint8_t)(draw(d, 2) ? 0x80 + draw(d, 128) : 10 + draw(d, 20));
    size_t length = body_draw(d, kind, body);

    if (draw(d, 30) == 0 && length > 0)
        length = draw(d, (uint32_t)length); /* damaged, mostly */
    size_t whole = record_put(out, BYTES_MAX + RECORD_HEADER_BYTES, kind, port, flags, draw(d, 2) ? draw(d, 3000000) : 0, body, length);

    if (draw(d, 100) == 0)
        out[0] = 2; /* another version */
    return draw(d, 200) == 0 ? draw(d, RECORD_HEADER_BYTES) : whole;
}

static void trace_make(struct drawing *d, const char *path)
{
    struct fault         f = { .code = FAULT_NONE };
    struct trace_writer *w = trace_writer_open(path, &f);
    int64_t              t_ns = START_NS;
    uint8_t              bytes[BYTES_MAX + RECORD_HEADER_BYTES];

    assert_non_null(w);
    for (unsigned n = 0; n < RECORDS; n++) {
        size_t length = record_draw(d, bytes);

        t_ns += draw(d, draw(d, 4) ? 1000000 : 1);
        assert_true(trace_writer_put(w, t_ns, bytes, length, &f));
    }
    assert_true(trace_writer_close(w, &f));
}

static struct trace *trace_over(const char *path, bool file_order)
{
    struct trace_options options = { .file_order = file_order };
    struct fault         f = { .code = FAULT_NONE };
    struct trace        *t = trace_open(path, &options, &f);

    assert_non_null(t);
    return t;
}

/* `show` puts a by start time; b stands so. seen: how many records of each kind there were, of those that cannot be used at 0. */
static void same_records(const char *path_a, const char *path_b, unsigned seen[256])
{
    struct trace        *a = trace_over(path_a, false), *b = trace_over(path_b, true);
    const struct record *ra, *rb;
    struct fault         f;

    while (trace_next(a, &ra, &f)) {
        assert_true(trace_next(b, &rb, &f));
        if (ra->stamp_ns != rb->stamp_ns || ra->length != rb->length || (ra->length > 0 && memcmp(ra->bytes, rb->bytes, ra->length) != 0))
            fail_msg("frame %" PRIu64 " of kind %u came back otherwise", ra->frame, ra->kind);
        assert_int_equal(ra->soundness, rb->soundness);
        seen[ra->soundness == RECORD_SOUND ? ra->kind : 0]++;
    }
    assert_false(trace_next(b, &rb, &f));
    trace_close(a);
    trace_close(b);
}

static void run_ok(const char *output, const char *const *arguments)
{
    struct run r = program_run_to(output, NULL, arguments);

    if (r.status != 0)
        fail_msg("%s", r.err);
    run_free(&r);
}

static void text_and_import_give_the_same_records(void **state)
{
    (void)state;
    struct drawing d = { .state = 88172645463325252u };
    unsigned       seen[256] = { 0 };

    for (unsigned round = 0; round < ROUNDS; round++) {
        trace_make(&d, file_path("a.pcap"));
        run_ok(file_path("a.txt"), (const char *const[]){ "show", "-q", "--text", file_path("a.pcap"), NULL });
        run_ok(NULL, (const char *const[]){ "import", "-q", "--overwrite", "-o", file_path("b.pcap"), file_path("a.txt"), NULL });
        same_records(file_path("a.pcap"), file_path("b.pcap"), seen);
    }
    assert_true(seen[0] > 100);
    for (unsigned kind = RECORD_PD_PACKET; kind <= RECORD_CC_EDGES; kind++)
        assert_true(seen[kind] > 300);
}

/* Merged with nothing but a mark at the end: sorted by start, so only what starts where it stands is drawn here. */
static void merged_with_another_trace_they_are_the_same_too(void **state)
{
    (void)state;
    struct drawing d = { .state = 7 };
    unsigned       seen[256] = { 0 };

    trace_make(&d, file_path("a.pcap"));
    run_ok(file_path("a.txt"), (const char *const[]){ "show", "-q", "--text", file_path("a.pcap"), NULL });
    file_write("none.txt", "# no record\n", 12);
    run_ok(NULL, (const char *const[]){ "import", "-q", "--overwrite", "-o", file_path("b.pcap"), file_path("a.pcap"), file_path("none.txt"), NULL });
    run_ok(NULL, (const char *const[]){ "import", "-q", "--overwrite", "-o", file_path("c.pcap"), file_path("a.txt"), file_path("none.txt"), NULL });
    same_records(file_path("b.pcap"), file_path("c.pcap"), seen);
    assert_true(seen[RECORD_PD_PACKET] > 50);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_and_import_give_the_same_records),
        cmocka_unit_test(merged_with_another_trace_they_are_the_same_too),
    };

    return cmocka_run_group_tests(tests, NULL, files_remove);
}
