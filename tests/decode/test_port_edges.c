/*
 * What the edges of the CC line show of packets, beside the records of those packets: which is which, and that every one is told once, whatever
 * the records look like. Times are those of the line that was made.
 */
#include "tests/decode/bmc_line.h"
#include "tests/decode/testing.h"

#include "decode/port.h"

#include <stdlib.h>
#include <string.h>

#define START_NS INT64_C(1770000000000000000)
enum { TICK_PS = 41667, US = 1000, MS = 1000000, RECORD_MAX = RECORD_BYTES_MAX, KEPT = 2048, CRC = 4, GOODCRC = 0x161 };

/* A line under way, and what was told of it. */
struct scene {
    struct bench     *bench;
    uint64_t          frame;
    struct wave       wave;
    unsigned          told;
    struct edge_frame it[KEPT];
    uint64_t          named[KEPT]; /* the event's frame */
    bool              spoken[KEPT];
};

static void watch(void *context, const struct event *e)
{
    struct scene *s = context;

    assert_int_equal(e->kind, EVENT_FRAME);
    assert_non_null(e->port->edge_frame);
    assert_true(s->told < KEPT);
    assert_true(e->t_ns == e->port->edge_frame->start_ns);
    s->it[s->told] = *e->port->edge_frame;
    s->named[s->told] = e->frame;
    s->spoken[s->told++] = e->speech != NULL;
}

static int set_up(void **state)
{
    struct scene *s = calloc(1, sizeof *s);

    if (!s || !(s->bench = bench_new()))
        return -1;
    bench_observe(s->bench, EVENT_BIT(EVENT_FRAME), watch, s);
    wave_begin(&s->wave, false);
    *state = s;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *s = *state;

    bench_free(s->bench);
    wave_free(&s->wave);
    free(s);
    return 0;
}

static uint64_t feed(struct scene *s, int64_t t_ns, const uint8_t *bytes, size_t length)
{
    struct record r;

    record_read(bytes, length, false, t_ns, ++s->frame, &r);
    assert_int_equal(r.soundness, RECORD_SOUND);
    assert_true(bench_feed(s->bench, &r, false));
    return s->frame;
}

/* A GoodCRC, at so many us of the line. */
static void send(struct scene *s, double at_us)
{
    uint8_t            bytes[2 + CRC] = { GOODCRC & 0xff, GOODCRC >> 8 };
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, wave_crc_add(bytes, 2));

    s->wave.now_ps = at_us * 1e6;
    wave_send(&s->wave, &p);
}

static uint64_t packet(struct scene *s, double at_us, unsigned flags, bool measured)
{
    uint8_t bytes[2 + CRC] = { GOODCRC & 0xff, GOODCRC >> 8 }, record[64];

    wave_crc_add(bytes, 2);
    return feed(s, START_NS + (int64_t)(at_us * US), record,
                record_put_packet(record, sizeof record, 0, (uint8_t)flags, measured ? 496667 : 0, SET_SOP, 0, bytes, sizeof bytes));
}

static size_t put_changes(uint8_t *out, size_t cap, const int64_t *at, size_t count, int64_t from)
{
    size_t used = 0;

    for (size_t k = 0; k < count; k++) {
        uint64_t step = (uint64_t)(at[k] - from);

        from = at[k];
        do {
            assert_true(used < cap);
            out[used++] = (uint8_t)((step & 0x7f) | (step > 0x7f ? 0x80 : 0));
            step >>= 7;
        } while (step > 0);
    }
    return used;
}

/* Changes from..to-1 of those that were seen, in a record that begins at tick `begin`. */
static uint64_t edges(struct scene *s, const struct wave_ticks *t, size_t from, size_t to, int64_t begin, uint32_t duration_ns, bool level)
{
    static uint8_t body[RECORD_MAX], record[RECORD_MAX];
    size_t         used = 8 + put_changes(body + 8, sizeof body - 8, t->at + from, to - from, begin);

    memset(body, 0, 8);
    for (unsigned k = 0; k < 4; k++)
        body[k] = (uint8_t)((uint32_t)TICK_PS >> 8 * k);
    body[4] = level;
    return feed(s, START_NS + begin * TICK_PS / 1000, record,
                record_put(record, sizeof record, RECORD_CC_EDGES, 0, 0, duration_ns, body, used));
}

static uint64_t edges_all(struct scene *s, uint32_t duration_ns)
{
    struct wave_ticks t = wave_see(&s->wave, &(struct wave_instrument){ .tick_ps = TICK_PS });
    uint64_t          frame = edges(s, &t, 0, t.count, 0, duration_ns, t.level);

    free(t.at);
    return frame;
}

static void a_packet_is_told_with_its_record(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    uint64_t first = edges_all(s, 1 * MS);

    assert_int_equal(s->told, 0); /* its record may come yet */
    uint64_t frame = packet(s, 100, 0, true);

    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].frame, frame);
    assert_int_equal(s->named[0], frame);
    assert_int_equal(s->it[0].edges_frame, first);
    assert_true(s->spoken[0]);
    assert_true(llabs(s->it[0].start_ns - (START_NS + 100 * US)) <= TICK_PS / 1000 + 1);
    assert_true(llabs(s->it[0].end_ns - s->it[0].start_ns - 496667) <= TICK_PS / 1000 + 1); /* 149 bits of 300 kbit/s */
    assert_int_equal(s->it[0].header, GOODCRC);
    assert_false(s->it[0].f.reset);
    bench_end(s->bench, START_NS + 10 * MS);
    assert_int_equal(s->told, 1);
}

static void without_a_record_it_is_told_once_none_can_come(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    uint64_t first = edges_all(s, 1 * MS);
    uint64_t later = packet(s, 40 * 1000, 0, true);

    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].frame, 0);
    assert_int_equal(s->named[0], first);
    assert_int_equal(s->it[0].side, SIDE_SOURCE); /* bit 8 of 0x161 */
    assert_false(s->spoken[0]);
    assert_int_not_equal(later, first);
}

static void the_end_of_the_trace_tells_what_is_left(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    edges_all(s, 0);
    bench_end(s->bench, START_NS + 1 * MS);
    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].frame, 0);
}

/* A host stamps to 1 ms (k = 1) where ABOUT says nothing: a record that is 1.5 ms late is the same packet. */
static void stamps_of_a_host_may_be_late(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    edges_all(s, 1 * MS);
    uint64_t frame = packet(s, 1600, RECORD_HOST_TIME, true);

    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].frame, frame);
}

static void a_record_may_be_stamped_at_its_end_and_have_no_length(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    edges_all(s, 1 * MS);
    uint64_t frame = packet(s, 596, RECORD_END_TIME, false);

    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].frame, frame);
}

static void two_packets_have_a_record_each(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    send(s, 700);
    send(s, 1300);
    edges_all(s, 2 * MS);
    uint64_t first = packet(s, 100, 0, true), third = packet(s, 1300, 0, true);

    assert_int_equal(s->told, 3);
    assert_int_equal(s->it[0].frame, first);
    assert_int_equal(s->it[1].frame, 0);
    assert_int_equal(s->it[2].frame, third);
}

static void a_line_whose_level_does_not_fit_is_another_one(void **state)
{
    struct scene *s = *state;

    for (unsigned fits = 0; fits < 2; fits++) {
        s->wave.count = 0;
        s->told = 0;
        send(s, 100);
        struct wave_ticks t = wave_see(&s->wave, &(struct wave_instrument){ .tick_ps = TICK_PS });

        edges(s, &t, 0, 150, 0, 0, false);
        edges(s, &t, 150, t.count, t.at[149], 1 * MS, fits ? false : true); /* 150 changes: low again */
        packet(s, 50 * 1000, 0, true);
        assert_int_equal(s->told, 1);
        assert_int_equal(s->it[0].f.end, fits ? BMC_EOP : BMC_NO_EOP);
        assert_int_equal(s->it[0].hole, !fits);
        free(t.at);
        bench_free(s->bench);
        s->bench = bench_new();
        bench_observe(s->bench, EVENT_BIT(EVENT_FRAME), watch, s);
    }
}

/* Two changes at one tick are none: as many as anybody likes between two true ones. */
static void changes_at_the_same_tick_cancel_out(void **state)
{
    struct scene *s = *state;

    send(s, 100);
    struct wave_ticks t = wave_see(&s->wave, &(struct wave_instrument){ .tick_ps = TICK_PS });
    int64_t          *more = calloc(t.count * 3, sizeof *more);
    size_t            n = 0;

    assert_non_null(more);
    for (size_t k = 0; k < t.count; k++) {
        more[n++] = t.at[k];
        if (k % 2 == 0)
            continue;
        more[n++] = t.at[k] + 12;
        more[n++] = t.at[k] + 12;
    }
    struct wave_ticks twice = { .at = more, .count = n };

    edges(s, &twice, 0, n, 0, 1 * MS, false);
    bench_end(s->bench, START_NS + 2 * MS);
    assert_int_equal(s->told, 1);
    assert_int_equal(s->it[0].f.end, BMC_EOP);
    assert_true(s->it[0].f.crc_good);
    free(more);
    free(t.at);
}

/* 900 reset signals with short preambles in one record, more than can wait for their records: none is lost, and none told twice. */
static void more_than_can_wait_are_told_all_the_same(void **state)
{
    enum { SIGNALS = 900 };
    struct scene      *s = *state;
    struct wave_packet p = wave_packet_of(WAVE_HARD_RESET, NULL, 0);

    p.preamble_bits = 16;
    for (unsigned k = 0; k < SIGNALS; k++) {
        s->wave.now_ps = (100.0 + 200 * k) * 1e6;
        wave_send(&s->wave, &p);
    }
    edges_all(s, 0);
    bench_end(s->bench, START_NS + INT64_C(1000) * MS);
    assert_int_equal(s->told, SIGNALS);
    for (unsigned k = 1; k < SIGNALS; k++)
        assert_true(s->it[k].f.reset && s->it[k].start_ns > s->it[k - 1].start_ns);
}

static void watch_anything(void *context, const struct event *e)
{
    const struct edge_frame *it = e->port->edge_frame;

    (void)context;
    assert_true(it->start_ns <= it->end_ns && it->edges_frame > 0 && it->side <= SIDE_UNKNOWN);
}

/* Any bytes are some line. */
static void nothing_that_a_record_may_hold_does_harm(void **state)
{
    enum { RECORDS = 3000, BODY = 300 };
    uint64_t      seed = 77;
    int64_t       t_ns = START_NS;
    struct bench *bench = bench_new();

    (void)state;
    bench_observe(bench, EVENT_BIT(EVENT_FRAME), watch_anything, NULL);
    for (unsigned k = 1; k <= RECORDS; k++) {
        uint8_t       body[8 + BODY] = { 0 }, record[64 + BODY];
        struct record r;
        unsigned      small = random_word(&seed) % 3;
        size_t        length = 8 + random_word(&seed) % BODY;

        for (size_t n = 0; n < length; n++)
            body[n] = (uint8_t)(random_word(&seed) & (small ? 0x3f : 0xff));
        body[2] = body[3] = small == 2 ? 0xff : 0;
        body[4] &= 1;
        record_read(record, record_put(record, sizeof record, RECORD_CC_EDGES, (uint8_t)(k % 2), 0, random_word(&seed) % 8 ? random_word(&seed) : 0, body, length),
                    false, t_ns, k, &r);
        t_ns += random_word(&seed) % 2 ? record_span_ns(&r) % MS : (int64_t)random_word(&seed);
        assert_true(bench_feed(bench, &r, false));
    }
    bench_end(bench, t_ns);
    bench_free(bench);
}

static void nobody_listens_and_nothing_is_decoded(void **state)
{
    struct scene *s = *state;

    bench_free(s->bench);
    s->bench = bench_new();
    send(s, 100);
    edges_all(s, 0);
    assert_true(bench_port(s->bench, 0)->edges_seen);
    assert_null(bench_port(s->bench, 0)->edges);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_packet_is_told_with_its_record),
        TEST(without_a_record_it_is_told_once_none_can_come),
        TEST(the_end_of_the_trace_tells_what_is_left),
        TEST(stamps_of_a_host_may_be_late),
        TEST(a_record_may_be_stamped_at_its_end_and_have_no_length),
        TEST(two_packets_have_a_record_each),
        TEST(a_line_whose_level_does_not_fit_is_another_one),
        TEST(changes_at_the_same_tick_cancel_out),
        TEST(more_than_can_wait_are_told_all_the_same),
        TEST(nothing_that_a_record_may_hold_does_harm),
        TEST(nobody_listens_and_nothing_is_decoded),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
