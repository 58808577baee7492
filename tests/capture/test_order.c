/* Records come out by start time (traces/FORMAT.md, section 5). Times are after second 1000; frames count from 1. */
#include "tests/capture/made.h"

#include <stdlib.h>
#include <string.h>

#define MS INT64_C(1000000)
#define MARK_BODY "00 ff 0000 00000000"
#define RESET_BODY "00 000000"
#define LOST_BODY "01000000 00000000"
#define ONE_ROW "00000000 0100 01 00 404b4c00"
enum { HELD_RECORD_BYTES = 60000 };

static void frames_are(const struct seen *s, const uint64_t *frames, unsigned count)
{
    assert_int_equal(s->count, count);
    for (unsigned i = 0; i < count; i++)
        assert_int_equal(s->frame[i], frames[i]);
}
#define FRAMES_ARE(s, ...) frames_are(s, (const uint64_t[]){ __VA_ARGS__ }, sizeof((const uint64_t[]){ __VA_ARGS__ }) / 8)

static void a_power_record_written_when_it_ends_comes_out_where_it_starts(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    trace_add(&m, 0 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 10 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 40 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 55 * MS, 0x03, 0, RECORD_END_TIME, 50000000, ONE_ROW); /* measured: 50 ms, so from 5 ms on */
    trace_add(&m, 60 * MS, 0x02, 0, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 1, 4, 2, 3, 5);
    assert_int_equal(s.t_ns[1], 5 * MS);
    assert_int_equal(s.facts.time_steps, 0);
    assert_int_equal(s.notices, 0);
    seen_of(&m, true, &s);
    FRAMES_ARE(&s, 1, 2, 3, 4, 5);
    made_free(&m);
}

static void ports_that_were_written_one_after_the_other_are_interleaved(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    for (int k = 0; k < 4; k++)
        trace_add(&m, k * 100 * MS, 0x02, 0, 0, 0, RESET_BODY);
    for (int k = 0; k < 4; k++)
        trace_add(&m, k * 100 * MS + 50 * MS, 0x02, 1, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 1, 5, 2, 6, 3, 7, 4, 8);
    assert_int_equal(s.facts.time_steps, 0);
    made_free(&m);
}

static void records_that_start_together_keep_the_order_of_the_file(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    trace_add(&m, 20 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 20 * MS, 0x05, 255, 0, 0, MARK_BODY);
    trace_add(&m, 10 * MS, 0x03, 1, 0, 0, ONE_ROW);
    trace_add(&m, 10 * MS, 0x03, 2, 0, 0, ONE_ROW);
    trace_add(&m, 20 * MS, 0x03, 1, 0, 0, ONE_ROW);
    trace_add(&m, 20 * MS, 0x02, 0, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 3, 4, 1, 2, 5, 6);
    made_free(&m);
}

static void a_step_back_within_a_stream_is_told_and_counted_and_put_in_order(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    trace_add(&m, 10 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 30 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 20 * MS, 0x06, 0, 0, 0, LOST_BODY); /* the same stream as resets */
    trace_add(&m, 25 * MS, 0x03, 0, 0, 0, ONE_ROW);   /* another one */
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 1, 3, 4, 2);
    assert_int_equal(s.facts.time_steps, 1);
    assert_int_equal(s.notices, 1);
    assert_int_equal(s.notice[0].code, TRACE_STEP_IN_STREAM);
    assert_int_equal(s.notice[0].frame, 3);
    assert_int_equal(s.notice[0].step_ns, 10 * MS);
    assert_false(s.stepped_back[1]);
    made_free(&m);
}

static void one_second_back_between_streams_is_in_order(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    trace_add(&m, 1500 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 500 * MS, 0x02, 1, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 2, 1);
    assert_int_equal(s.facts.time_steps, 0);
    made_free(&m);
}

static void more_than_one_second_back_begins_time_anew(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    trace_add(&m, 4000 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 5000 * MS, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 3999 * MS, 0x02, 1, 0, 0, RESET_BODY); /* 1.001 s behind frame 2 */
    trace_add(&m, 4100 * MS, 0x02, 0, 0, 0, RESET_BODY); /* no step: time began anew */
    trace_add(&m, 4050 * MS, 0x03, 0, 0, 0, ONE_ROW);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 1, 2, 3, 5, 4);
    assert_int_equal(s.facts.time_steps, 1);
    assert_int_equal(s.notice[0].code, TRACE_STEP_BACK);
    assert_int_equal(s.notice[0].frame, 3);
    assert_int_equal(s.notice[0].step_ns, 1001 * MS);
    for (unsigned i = 0; i < 5; i++)
        assert_int_equal(s.stepped_back[i], i == 2);
    seen_of(&m, true, &s);
    FRAMES_ARE(&s, 1, 2, 3, 4, 5);
    assert_int_equal(s.facts.time_steps, 1);
    assert_true(s.stepped_back[2]);
    made_free(&m);
}

static void steps_back_in_a_row_lose_nothing(void **state)
{
    (void)state;
    struct made m = { 0 };
    struct seen s;

    for (int k = 0; k < 6; k++)
        trace_add(&m, (100 - 2 * k) * 1000 * MS, 0x02, 0, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 1, 2, 3, 4, 5, 6);
    assert_int_equal(s.facts.time_steps, 5);
    made_free(&m);
}

static void a_record_that_cannot_be_read_stands_at_its_own_stamp(void **state)
{
    (void)state;
    struct made m = { 0 }, other = made_record(0x02, 0, RECORD_END_TIME, 500000000, RESET_BODY), none = { 0 };
    struct seen s;

    other.bytes[0] = 2; /* a later version: its flags and duration mean nothing to us */
    trace_add(&m, 300 * MS, 0x02, 0, 0, 0, RESET_BODY);
    pcap_packet(&m, 1000, 250000000, &other);
    pcap_packet(&m, 1000, 200000000, &none);
    trace_add(&m, 400 * MS, 0x02, 0, 0, 0, RESET_BODY);
    seen_of(&m, false, &s);
    FRAMES_ARE(&s, 3, 2, 1, 4);
    assert_int_equal(s.why[0], RECORD_WHY_SHORT_HEADER);
    assert_int_equal(s.why[1], RECORD_WHY_VERSION);
    assert_int_equal(s.facts.time_steps, 0);
    made_free(&other);
    made_free(&m);
}

static void facts_sum_up_what_the_file_holds(void **state)
{
    (void)state;
    struct made m = { 0 }, none = { 0 };
    struct seen s;

    pcap_begin(&m, NANO_MAGIC, 147);
    pcap_packet(&m, 1000, 0, &none);
    trace_add(&m, 50 * MS, 0x02, 0, RECORD_INVENTED, 0, RESET_BODY);
    trace_add(&m, 40 * MS, 0x03, 0, 0, 1000000000, ONE_ROW);
    trace_add(&m, 60 * MS, 0x06, 0, 0, 0, "05000000 00000000");
    trace_add(&m, 60 * MS, 0x06, 1, 0, 0, "ffffffff 00000000");
    trace_add(&m, 60 * MS, 0x77, 0, 0, 0, "");
    trace_add(&m, 60 * MS, 0xF0, 0, 0, 0, "");
    trace_add(&m, 60 * MS, 0x02, 0, 0, 0, "09 000000");
    seen_of(&m, false, &s);
    assert_int_equal(s.facts.records, 8);
    assert_int_equal(s.facts.unknown, 2);
    assert_int_equal(s.facts.damaged, 1);
    assert_int_equal(s.facts.unreadable, 1);
    assert_int_equal(s.facts.lost, 6);
    assert_true(s.facts.lost_unknown);
    assert_true(s.facts.invented);
    assert_false(s.facts.cut_off);
    assert_true(s.facts.has_zero);
    assert_int_equal(s.facts.zero_ns, 1000 * 1000 * MS + 50 * MS); /* frame 2, the first with a header */
    assert_int_equal(s.facts.last_ns, 1000 * 1000 * MS + 1040 * MS);
    made_free(&m);
}

/* Counts what a longer trace gives; at most a few notices are kept. */
struct long_run {
    unsigned count, out_of_order, notices;
    int64_t  last_ns;
    struct trace_notice last;
};

static void long_notice(void *context, const struct trace_notice *notice)
{
    struct long_run *run = context;

    run->notices++;
    run->last = *notice;
}

static void long_run_of(const struct made *m, struct long_run *run, struct trace_facts *facts)
{
    struct trace_options options = { .notice = long_notice, .context = run };
    struct fault         f;
    struct trace        *t = trace_open_memory(m->bytes, m->length, &options, &f);
    const struct record *r;

    *run = (struct long_run){ .last_ns = INT64_MIN };
    assert_non_null(t);
    while (trace_next(t, &r, &f)) {
        run->count++;
        run->out_of_order += r->t_ns < run->last_ns;
        run->last_ns = r->t_ns;
    }
    *facts = *trace_facts(t);
    trace_close(t);
}

/* count POWER records of HELD_RECORD_BYTES, 1 ms apart, then one of another port that starts at 0.5 ms. */
static void long_power_then_a_late_one(struct made *m, int count)
{
    struct made big = { 0 };
    int         rows = (HELD_RECORD_BYTES - 16) / 4;

    made_hex(&big, "01 03 00 00 01000000 01000000");
    made_u16(&big, (unsigned)rows);
    made_u16(&big, 1);
    for (int k = 0; k < rows; k++)
        made_i32(&big, 5000000);
    pcap_begin(m, NANO_MAGIC, 147);
    for (int k = 0; k < count; k++)
        pcap_packet(m, 1000, (uint32_t)k * 1000000, &big);
    trace_add(m, MS / 2, 0x03, 1, 0, 1, ONE_ROW);
    made_free(&big);
}

static void four_mebibytes_of_power_are_held_and_no_more(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct long_run    run;
    struct trace_facts facts;

    long_power_then_a_late_one(&m, 69); /* 69 x 60,000 = 4,140,000 of 4,194,304 */
    long_run_of(&m, &run, &facts);
    assert_int_equal(run.count, 70);
    assert_int_equal(run.out_of_order, 0);
    assert_int_equal(facts.time_steps, 0);
    made_free(&m);

    long_power_then_a_late_one(&m, 75);
    long_run_of(&m, &run, &facts);
    assert_int_equal(run.count, 76);
    assert_int_equal(run.out_of_order, 1);
    assert_int_equal(facts.time_steps, 1);
    assert_int_equal(run.notices, 1);
    assert_int_equal(run.last.code, TRACE_HELD_TOO_MUCH);
    assert_int_equal(run.last.frame, 76);
    made_free(&m);
}

static void thousands_of_other_records_are_held_and_no_more(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct long_run    run;
    struct trace_facts facts;

    for (int k = 0; k < 32768; k++)
        trace_add(&m, 10 * MS + k, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, MS, 0x02, 1, 0, 0, RESET_BODY);
    long_run_of(&m, &run, &facts);
    assert_int_equal(run.out_of_order, 0);
    assert_int_equal(facts.time_steps, 0);
    for (int k = 0; k < 10; k++) /* now the first ten have to go */
        trace_add(&m, 20 * MS + k, 0x02, 0, 0, 0, RESET_BODY);
    trace_add(&m, 2 * MS, 0x02, 1, 0, 0, RESET_BODY);
    long_run_of(&m, &run, &facts);
    assert_int_equal(run.count, 32768 + 1 + 10 + 1);
    assert_int_equal(facts.records, run.count);
    assert_int_equal(facts.time_steps, 1);
    assert_int_equal(run.last.code, TRACE_HELD_TOO_MUCH);
    assert_int_equal(run.last.frame, run.count);
    assert_int_equal(run.out_of_order, 1);
    made_free(&m);
}

/* SplitMix64 (Steele, Lea, Flood 2014). */
static uint32_t random_word(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);

    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint32_t)((z ^ z >> 31) >> 32);
}

struct start { int64_t t_ns; uint64_t frame; };

static int start_compare(const void *a, const void *b)
{
    const struct start *x = a, *y = b;

    if (x->t_ns != y->t_ns)
        return x->t_ns < y->t_ns ? -1 : 1;
    return x->frame < y->frame ? -1 : 1;
}

static void any_disorder_within_a_second_comes_out_as_a_stable_sort_would_have_it(void **state)
{
    (void)state;
    enum { RECORDS = 20000 };
    struct start *starts = calloc(RECORDS, sizeof *starts);
    uint64_t      random = 1;
    struct made   m = { 0 };
    struct fault  f;
    const struct record *r;

    assert_non_null(starts);
    for (unsigned k = 0; k < RECORDS; k++) {
        /* Half a second of disorder; every third time is shared; unknown kinds, for they belong to no stream. */
        int64_t after_ns = k * MS + (int64_t)(random_word(&random) % (500 * MS)) / (3 * MS) * (3 * MS);

        starts[k] = (struct start){ after_ns + 1000 * 1000 * MS, k + 1 };
        trace_add(&m, after_ns, 0x80, 0, 0, 0, k % 5 ? "" : "0102030405060708090a0b0c0d");
    }
    qsort(starts, RECORDS, sizeof *starts, start_compare);
    struct trace *t = trace_open_memory(m.bytes, m.length, NULL, &f);

    assert_non_null(t);
    for (unsigned k = 0; k < RECORDS; k++) {
        assert_true(trace_next(t, &r, &f));
        assert_int_equal(r->t_ns, starts[k].t_ns);
        assert_int_equal(r->frame, starts[k].frame);
    }
    assert_false(trace_next(t, &r, &f));
    assert_int_equal(trace_facts(t)->time_steps, 0);
    trace_close(t);
    free(starts);
    made_free(&m);
}

static void a_record_that_stays_long_does_not_keep_the_room_of_those_behind_it(void **state)
{
    (void)state;
    struct made        m = { 0 };
    struct long_run    run;
    struct trace_facts facts;

    /* The first starts later than all others and so goes out last; what comes behind it is ten times as much as can be held. */
    trace_add(&m, 900 * MS, 0x80, 0, 0, 0, "");
    for (int k = 0; k < 400000; k++) /* pairs the wrong way round, so that some wait elsewhere */
        trace_add(&m, k ^ 1, 0x81, 0, 0, 0, "00112233445566778899aabbccddeeff");
    long_run_of(&m, &run, &facts);
    assert_int_equal(run.count, 400001);
    assert_int_equal(run.out_of_order, 0);
    assert_int_equal(facts.time_steps, 0);
    made_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_power_record_written_when_it_ends_comes_out_where_it_starts),
        cmocka_unit_test(ports_that_were_written_one_after_the_other_are_interleaved),
        cmocka_unit_test(records_that_start_together_keep_the_order_of_the_file),
        cmocka_unit_test(a_step_back_within_a_stream_is_told_and_counted_and_put_in_order),
        cmocka_unit_test(one_second_back_between_streams_is_in_order),
        cmocka_unit_test(more_than_one_second_back_begins_time_anew),
        cmocka_unit_test(steps_back_in_a_row_lose_nothing),
        cmocka_unit_test(a_record_that_cannot_be_read_stands_at_its_own_stamp),
        cmocka_unit_test(facts_sum_up_what_the_file_holds),
        cmocka_unit_test(four_mebibytes_of_power_are_held_and_no_more),
        cmocka_unit_test(thousands_of_other_records_are_held_and_no_more),
        cmocka_unit_test(any_disorder_within_a_second_comes_out_as_a_stable_sort_would_have_it),
        cmocka_unit_test(a_record_that_stays_long_does_not_keep_the_room_of_those_behind_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
