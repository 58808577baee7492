/*
 * The line itself. Numbers typed from the catalogue: bit rate 270 to 330 kbit/s over 64 + 20 + 10 a byte + 5 bits, a reset signal 84;
 * gap 25 us; GoodCRC after 195 us at most; repeats 0.9 to 1.295 ms after the end of the copy before.
 */
#include "tests/rules/line_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* A GoodCRC has 149 bits: 451,515.2 ns at 330 kbit/s, 551,851.9 ns at 270; the nominal length is 496,667 ns. */
enum { GOODCRC_NOMINAL = 496667 };

static void every_packet_of_a_talk_is_judged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_play(l);
    expect_counts(l, "wire.crc", BEGIN_PACKETS, 0, 0);
    expect_counts(l, "wire.bit-rate", BEGIN_PACKETS, 0, 0);
    expect_counts(l, "wire.inter-frame-gap", BEGIN_GAPS, 0, 0);
    expect_counts(l, "time.goodcrc-turnaround", BEGIN_MESSAGES, 0, 0);
    expect_verdict(l, "wire.crc-repeated", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.retry", VERDICT_NOT_SEEN);
    line_expect_only(l, NULL);
}

static void without_records_nothing_is_seen(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    line_play(l);
    expect_verdict(l, "wire.crc", VERDICT_NOT_SEEN);
    expect_verdict(l, "wire.bit-rate", VERDICT_NOT_SEEN);
    expect_verdict(l, "wire.inter-frame-gap", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.goodcrc-turnaround", VERDICT_NOT_SEEN);
}

/* An Alert, and its GoodCRC of this length, 60 us after. */
static void rate_case(int64_t length_ns, const char *about, unsigned verdict)
{
    struct lines *l = lines_new();

    if (about)
        lines_about(l, RECORD_PORT_BENCH, about);
    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    l->length_off_ns = length_ns - GOODCRC_NOMINAL;
    uint64_t frame = line_goodcrc(l, SIDE_SINK);

    l->length_off_ns = 0;
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    if (verdict == VERDICT_PASS) {
        expect_counts(l, "wire.bit-rate", BEGIN_PACKETS + 4, 0, 0);
        line_expect_only(l, NULL);
    } else if (verdict == VERDICT_FAIL) {
        expect_fail(l, "wire.bit-rate", frame, WHO_SINK);
        line_expect_only(l, "wire.bit-rate");
    } else {
        expect_undecided(l, "wire.bit-rate", frame, CAUSE_UNCERTAINTY);
    }
    lines_free(l);
}

static void the_bit_rate_is_judged_to_the_nanosecond(void **state)
{
    /* 100 ns (k = 1) a stamp: 200 ns each edge, 400 ns together. 50 ppm of half a millisecond: 50 ns with k = 2. */
    static const char stamped[] = "{\"instrument\":{\"time_ns\":100}}", drifting[] = "{\"instrument\":{\"time_ns\":0,\"clock_ppm\":50}}";

    (void)state;
    rate_case(451516, NULL, VERDICT_PASS);
    rate_case(451515, NULL, VERDICT_FAIL);
    rate_case(551851, NULL, VERDICT_PASS);
    rate_case(551852, NULL, VERDICT_FAIL);
    rate_case(451916, stamped, VERDICT_PASS);
    rate_case(451915, stamped, VERDICT_UNDECIDED);
    rate_case(451116, stamped, VERDICT_UNDECIDED);
    rate_case(451115, stamped, VERDICT_FAIL);
    rate_case(551451, stamped, VERDICT_PASS);
    rate_case(551452, stamped, VERDICT_UNDECIDED);
    rate_case(552252, stamped, VERDICT_FAIL);
    rate_case(451570, drifting, VERDICT_PASS);
    rate_case(451530, drifting, VERDICT_UNDECIDED);
    rate_case(451460, drifting, VERDICT_FAIL);
}

static void a_rate_is_told_in_kbit_s_with_its_edges(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    l->length_off_ns = -130000; /* 189 bits in 500,000 ns: 378 kbit/s */
    line_alert(l, SIDE_SINK);
    l->length_off_ns = 0;
    lines_wait(l, MS(5));
    line_play(l);

    const struct finding *f = lines_finding(l, "wire.bit-rate", VERDICT_FAIL, 0);

    assert_non_null(f);
    assert_string_equal(f->unit, "kbit/s");
    assert_int_equal(f->measured, 378000);
    assert_int_equal(f->low, 270000);
    assert_int_equal(f->high, 330000);
    assert_string_equal(f->parameter->name, "fBitRate");
    assert_true(f->has_span);
    assert_int_equal(f->span.high_ns, 500000);
}

static void reset_signals_have_a_rate_too(void **state)
{
    /* 84 bits: 254,545.5 ns to 311,111.1 ns; nominal 280,000 ns. Nobody is accused of a Hard Reset. */
    static const struct { int64_t length_ns; unsigned verdict; } cases[] = {
        { 254546, VERDICT_PASS }, { 254545, VERDICT_UNDECIDED }, { 311111, VERDICT_PASS }, { 311112, VERDICT_UNDECIDED },
    };

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = lines_new();

        line_begin(l);
        l->resets_measured = true;
        l->length_off_ns = cases[k].length_ns - 280000;
        uint64_t frame = lines_reset(l, RECORD_HARD_RESET);

        l->length_off_ns = 0;
        lines_wait(l, MS(5));
        line_play(l);
        if (cases[k].verdict == VERDICT_PASS)
            expect_counts(l, "wire.bit-rate", BEGIN_PACKETS + 1, 0, 0);
        else
            expect_undecided(l, "wire.bit-rate", frame, CAUSE_ORIGIN);
        lines_free(l);
    }
}

static void a_bad_packet_of_an_odd_length_accuses_nobody(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    l->length_off_ns = 200000;
    uint64_t bad = line_alert_bad(l, SIDE_SOURCE);

    l->length_off_ns = 0;
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    expect_undecided(l, "wire.bit-rate", bad, CAUSE_BAD_PACKET);
}

static void without_lengths_rate_and_gap_are_not_judged(void **state)
{
    struct lines *l = *state;

    l->unmeasured = true;
    line_begin(l);
    for (unsigned k = 0; k < 3; k++) {
        line_alert(l, SIDE_SOURCE);
        lines_wait(l, US(30)); /* the end of the Alert is uncertain by 57 us and more */
        line_goodcrc(l, SIDE_SINK);
        lines_wait(l, MS(2));
    }
    line_play(l);
    expect_verdict(l, "wire.bit-rate", VERDICT_NOT_SEEN);
    assert_int_equal(lines_result(l, "wire.inter-frame-gap").counts.undecided, 0);
    line_expect_only(l, NULL);
}

static void gap_case(int64_t gap_ns, bool goodcrc, unsigned verdict)
{
    struct lines *l = lines_new();
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, goodcrc ? gap_ns : US(60));
    frame = line_goodcrc(l, SIDE_SINK);
    if (!goodcrc) {
        lines_wait(l, gap_ns);
        frame = line_alert(l, SIDE_SINK);
        lines_wait(l, US(60));
        line_goodcrc(l, SIDE_SOURCE);
    }
    lines_wait(l, MS(5));
    line_play(l);
    if (verdict == VERDICT_PASS) {
        expect_counts(l, "wire.inter-frame-gap", BEGIN_GAPS + (goodcrc ? 1 : 3), 0, 0);
        line_expect_only(l, NULL);
    } else {
        expect_fail(l, "wire.inter-frame-gap", frame, WHO_SINK);
        line_expect_only(l, "wire.inter-frame-gap");
    }
    lines_free(l);
}

static void the_gap_before_a_goodcrc_and_between_packets_of_one_sender_is_judged(void **state)
{
    (void)state;
    gap_case(25000, true, VERDICT_PASS);
    gap_case(24999, true, VERDICT_FAIL);
    gap_case(25000, false, VERDICT_PASS);
    gap_case(24999, false, VERDICT_FAIL);
}

static void the_gap_to_a_message_of_the_other_side_is_not_judged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, US(5));
    line_exchange(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_counts(l, "wire.inter-frame-gap", BEGIN_GAPS + 2, 0, 0);
    line_expect_only(l, NULL);
}

static void turnaround_case(int64_t wait_ns, const char *about, bool unmeasured, unsigned verdict)
{
    struct lines *l = lines_new();
    uint64_t      frame;

    if (about)
        lines_about(l, RECORD_PORT_BENCH, about);
    line_begin(l);
    l->unmeasured = unmeasured;
    line_alert(l, SIDE_SINK);
    l->unmeasured = false;
    lines_wait(l, wait_ns);
    frame = line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    if (verdict == VERDICT_PASS)
        line_expect_only(l, NULL);
    else if (verdict == VERDICT_UNDECIDED)
        expect_undecided(l, "time.goodcrc-turnaround", frame, CAUSE_UNCERTAINTY);
    else {
        expect_fail(l, "time.goodcrc-turnaround", frame, WHO_SOURCE);
        line_expect_only(l, "time.goodcrc-turnaround");
        /* It silences exchange.goodcrc and exchange.goodcrc-unprompted of that message. */
        expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES, 0, 0);
        expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES, 0, 0);
    }
    lines_free(l);
}

static void a_goodcrc_has_195_us(void **state)
{
    static const char stamped[] = "{\"instrument\":{\"time_ns\":100}}";

    (void)state;
    turnaround_case(195000, NULL, false, VERDICT_PASS);
    turnaround_case(195001, NULL, false, VERDICT_FAIL);
    turnaround_case(1350000, NULL, false, VERDICT_FAIL); /* later than tReceive: still that fault, not a missing GoodCRC */
    turnaround_case(194600, stamped, false, VERDICT_PASS);
    turnaround_case(194601, stamped, false, VERDICT_UNDECIDED);
    turnaround_case(195400, stamped, false, VERDICT_UNDECIDED);
    turnaround_case(195401, stamped, false, VERDICT_FAIL);
    /* 189 bits, 630 us: not measured it may have lasted 572.7 to 700 us. */
    turnaround_case(125000, NULL, true, VERDICT_PASS);
    turnaround_case(145000, NULL, true, VERDICT_UNDECIDED);
    turnaround_case(266000, NULL, true, VERDICT_FAIL);
}

static void retry_case(int64_t wait_ns, unsigned verdict)
{
    struct lines *l = lines_new();
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, wait_ns);
    frame = line_alert_again(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SINK);
    line_play(l);
    if (verdict == VERDICT_PASS) {
        expect_counts(l, "time.retry", 1, 0, 0);
        line_expect_only(l, "exchange.first-try");
    } else {
        expect_fail(l, "time.retry", frame, WHO_SOURCE);
        line_expect_only(l, "time.retry exchange.first-try");
    }
    lines_free(l);
}

static void a_repeat_comes_between_900_and_1295_us(void **state)
{
    (void)state;
    retry_case(899999, VERDICT_FAIL);
    retry_case(900000, VERDICT_PASS);
    retry_case(1295000, VERDICT_PASS);
    retry_case(1295001, VERDICT_FAIL);
}

static void a_repeat_that_had_to_wait_for_the_line_is_not_judged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(700));
    line_alert(l, SIDE_SINK); /* until 1.33 ms */
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, US(100));
    line_alert_again(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_play(l);
    expect_verdict(l, "time.retry", VERDICT_NOT_SEEN);
    line_expect_only(l, "exchange.first-try");
}

static void a_repeat_of_what_was_acknowledged_may_be_something_else(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, US(100));
    frame = line_alert_again(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "time.retry", frame, CAUSE_CAPTURE);
}

/* wire.crc */
static void one_bad_packet_is_the_links(void **state)
{
    struct lines *l = *state;
    uint64_t      bad;

    line_begin(l);
    bad = line_alert_bad(l, SIDE_SOURCE);
    lines_wait(l, MS(1));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    expect_fail(l, "wire.crc", bad, WHO_LINK);
    assert_int_equal(lines_finding(l, "wire.crc", VERDICT_FAIL, 0)->party, PARTY_LINK);
    expect_counts(l, "wire.crc", BEGIN_PACKETS + 2, 1, 0);
    /* The good copy makes it good: of this message not every copy was bad, and it came in time. */
    expect_counts(l, "wire.crc-repeated", 1, 0, 0);
    expect_counts(l, "time.retry", 1, 0, 0);
    expect_counts(l, "exchange.retry-count", 1, 0, 0);
    line_expect_only(l, "wire.crc");
}

static void a_goodcrc_says_that_the_receiver_had_it_whole(void **state)
{
    struct lines *l = *state;
    uint64_t      bad;

    line_begin(l);
    bad = line_alert_bad(l, SIDE_SOURCE);
    l->next_id[SET_SOP][SIDE_SOURCE]++;
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "wire.crc", bad, CAUSE_CAPTURE);
    expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES + 1, 0, 0);
    line_expect_only(l, "wire.crc");
}

static void the_instruments_word_is_weighed(void **state)
{
    static const struct { uint8_t state; bool bad; unsigned verdict, cause; } cases[] = {
        { RECORD_CRC_BAD, false, VERDICT_UNDECIDED, CAUSE_CAPTURE },
        { RECORD_CRC_BAD, true, VERDICT_FAIL, CAUSE_NONE },
        { RECORD_TRUNCATED, false, VERDICT_UNDECIDED, CAUSE_CUT },
        { RECORD_NO_CRC, false, VERDICT_PASS, CAUSE_NONE },
        { RECORD_NO_CRC | RECORD_CRC_BAD, false, VERDICT_PASS, CAUSE_NONE },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = lines_new();
        struct one    o = { .side = SIDE_SOURCE, .type = DATA_ALERT, .id = 3, .words = 1, .state = cases[k].state, .bad = cases[k].bad };
        uint64_t      frame;

        line_begin(l);
        frame = line_put(l, &o);
        lines_wait(l, MS(5));
        line_play(l);
        if (cases[k].verdict == VERDICT_UNDECIDED)
            expect_undecided(l, "wire.crc", frame, cases[k].cause);
        else if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "wire.crc", frame, WHO_LINK);
        else
            expect_counts(l, "wire.crc", BEGIN_PACKETS, 0, 0);
        lines_free(l);
    }
}

static void what_becomes_of_the_last_packet_lies_beyond_the_end(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert_bad(l, SIDE_SOURCE);
    lines_wait(l, MS(1));
    line_play(l);
    expect_counts(l, "wire.crc", BEGIN_PACKETS, 0, 0);
    line_expect_only(l, NULL);
}

static void missing_records_may_hold_the_goodcrc(void **state)
{
    struct lines *l = *state;
    uint64_t      bad;

    line_begin(l);
    bad = line_alert_bad(l, SIDE_SOURCE);
    lines_wait(l, MS(3));
    lines_lost(l, 1);
    lines_wait(l, MS(3));
    line_play(l);
    expect_undecided(l, "wire.crc", bad, CAUSE_LOST);
    line_expect_only(l, "wire.crc");
}

/* wire.crc-repeated: copies, all bad, 1 ms apart, and then a Soft_Reset. */
static uint64_t bad_copies(struct lines *l, unsigned count, unsigned after, uint64_t *soft_reset)
{
    uint64_t first = 0, last = 0;

    for (unsigned k = 0; k < count; k++) {
        last = line_alert_bad(l, SIDE_SOURCE);
        first = first ? first : last;
        lines_wait(l, MS(1));
    }
    lines_wait(l, MS(1));
    if (after == SIDE_UNKNOWN)
        return first;
    *soft_reset = lines_control(l, after, CONTROL_SOFT_RESET);
    lines_wait(l, MS(1));
    lines_control(l, after == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(5));
    return first;
}

static void all_copies_bad_is_the_senders_fault(void **state)
{
    struct lines *l = *state;
    uint64_t      first, reset;

    line_begin(l);
    first = bad_copies(l, 3, SIDE_SOURCE, &reset);
    line_play(l);
    expect_fail(l, "wire.crc-repeated", first, WHO_SOURCE);
    /* It silences wire.crc for every copy. */
    line_expect_only(l, "wire.crc-repeated");
    expect_counts(l, "wire.crc", BEGIN_PACKETS + 4, 0, 0);
    assert_int_equal(lines_finding(l, "wire.crc-repeated", VERDICT_FAIL, 0)->evidence_count, 3);
}

static void under_revision_2_there_are_four_copies(void **state)
{
    (void)state;
    for (unsigned copies = 3; copies <= 4; copies++) {
        struct lines *l = lines_new();
        uint64_t      first, reset;

        l->revision = HEADER_R2;
        line_begin(l);
        first = bad_copies(l, copies, SIDE_SINK, &reset);
        line_play(l);
        if (copies == 4) {
            expect_fail(l, "wire.crc-repeated", first, WHO_SINK);
            line_expect_only(l, "wire.crc-repeated");
        } else {
            expect_undecided(l, "wire.crc-repeated", first, CAUSE_LOST);
            expect_counts(l, "wire.crc", BEGIN_PACKETS + 4, 3, 0);
        }
        lines_free(l);
    }
}

static void fewer_copies_than_the_sender_has_do_not_settle_it(void **state)
{
    struct lines *l = *state;
    uint64_t      first, reset;

    line_begin(l);
    first = bad_copies(l, 2, SIDE_SOURCE, &reset);
    line_play(l);
    expect_undecided(l, "wire.crc-repeated", first, CAUSE_LOST);
    expect_counts(l, "wire.crc", BEGIN_PACKETS + 4, 2, 0);
}

static void who_sent_the_bad_copies_may_not_show(void **state)
{
    struct lines *l = *state;
    uint64_t      first, reset;

    line_begin(l);
    first = bad_copies(l, 3, SIDE_UNKNOWN, &reset);
    line_exchange(l, SIDE_SINK);
    line_play(l);
    expect_undecided(l, "wire.crc-repeated", first, CAUSE_ROLES);
    assert_int_equal(lines_finding(l, "wire.crc-repeated", VERDICT_UNDECIDED, 0)->whom, WHO_LINK);
    expect_counts(l, "wire.crc", BEGIN_PACKETS + 2, 3, 0);
}

static void who_waited_for_an_answer_did_not_send_the_bad_copies(void **state)
{
    struct lines *l = *state;
    uint64_t      first, reset;

    line_begin(l);
    line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GET_SOURCE_CAP, .id = l->next_id[SET_SOP][SIDE_SINK]++ });
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(3));
    first = bad_copies(l, 3, SIDE_SINK, &reset);
    line_play(l);
    expect_undecided(l, "wire.crc-repeated", first, CAUSE_ROLES);
}

static void a_good_third_copy_lets_it_pass(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert_bad(l, SIDE_SOURCE);
    lines_wait(l, MS(1));
    line_alert_bad(l, SIDE_SOURCE);
    lines_wait(l, MS(1));
    line_exchange(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_counts(l, "wire.crc-repeated", 1, 0, 0);
    expect_counts(l, "wire.crc", BEGIN_PACKETS + 2, 2, 0);
    line_expect_only(l, "wire.crc");
}

static void missing_records_after_bad_copies_leave_it_open(void **state)
{
    struct lines *l = *state;
    uint64_t      first, reset;

    line_begin(l);
    first = bad_copies(l, 3, SIDE_UNKNOWN, &reset);
    lines_lost(l, 2);
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "wire.crc-repeated", first, CAUSE_LOST);
}

static void limits_can_be_moved(void **state)
{
    struct lines         *l = *state;
    struct parameter      own[256];
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .parameters = own };
    unsigned              n = 0;

    for (; parameters_all[n].name; n++) {
        assert_true(n < 255);
        own[n] = parameters_all[n];
        if (strcmp(own[n].name, "tTransmit") == 0)
            own[n].max = 100; /* us */
        if (strcmp(own[n].name, "fBitRate") == 0)
            own[n].min = 299000;
        if (strcmp(own[n].name, "tInterFrameGap") == 0)
            own[n].min = 90;
    }
    own[n] = parameters_all[n];
    line_begin(l); /* GoodCRCs after 100 us, at 300 kbit/s */
    line_exchange(l, SIDE_SOURCE);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(101));
    uint64_t late = line_goodcrc(l, SIDE_SINK);

    lines_wait(l, MS(5));
    l->length_off_ns = 2200; /* 189 bits in 632.2 us: 298.96 kbit/s */
    uint64_t slow = line_alert(l, SIDE_SOURCE);

    l->length_off_ns = 0;
    lines_wait(l, US(95));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    lines_run(l, &o);
    expect_fail(l, "time.goodcrc-turnaround", late, WHO_SINK);
    expect_fail(l, "wire.bit-rate", slow, WHO_SOURCE);
    expect_counts(l, "wire.inter-frame-gap", BEGIN_GAPS + 2, 1, 0);
}

static void what_lies_outside_of_since_and_until_is_not_counted(void **state)
{
    struct lines         *l = *state;
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX };

    line_begin(l);
    o.since_ns = l->now_ns;
    line_exchange(l, SIDE_SOURCE);
    line_exchange(l, SIDE_SINK);
    o.until_ns = l->now_ns;
    lines_wait(l, MS(1));
    line_exchange(l, SIDE_SINK);
    lines_run(l, &o);
    expect_counts(l, "wire.crc", 4, 0, 0);
    expect_counts(l, "wire.bit-rate", 4, 0, 0);
    expect_counts(l, "wire.inter-frame-gap", 2 + 1, 0, 0);
    expect_counts(l, "time.goodcrc-turnaround", 2, 0, 0);
    expect_counts(l, "exchange.goodcrc", 2, 0, 0);
}

/* Any sequence of packets, sound or not: what is counted without a call must come to what a look at each would. */
static unsigned draw(uint32_t *seed, unsigned below)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (*seed >> 8) % below;
}

static void random_packet(struct lines *l, uint32_t *seed)
{
    static const int64_t waits_us[] = { 20, 30, 60, 100, 190, 200, 400, 900, 1000, 1200, 1350, 2100, 30000 };
    unsigned             side = draw(seed, 2) ? SIDE_SINK : SIDE_SOURCE;
    unsigned             other = side == SIDE_SINK ? SIDE_SOURCE : SIDE_SINK;

    l->length_off_ns = draw(seed, 40) ? 0 : 90000;
    l->unmeasured = draw(seed, 40) == 0;
    switch (draw(seed, 16)) {
    case 0:
        line_alert_bad(l, side);
        break;
    case 1:
        line_alert_again(l, side);
        break;
    case 2:
        line_goodcrc(l, side);
        break;
    case 3:
        lines_lost(l, 1);
        break;
    case 4:
        lines_reset(l, draw(seed, 2) ? RECORD_HARD_RESET : RECORD_CABLE_RESET);
        break;
    case 5:
        line_put(l, &(struct one){ .side = SIDE_CABLE, .set = SET_SOP1, .type = DATA_VENDOR_DEFINED, .words = 1, .id = (uint8_t)draw(seed, 8) });
        break;
    case 6:
        line_put(l, &(struct one){ .side = (uint8_t)side, .type = DATA_ALERT, .words = 1, .id = 1, .state = (uint8_t)draw(seed, 8) });
        break;
    default:
        line_alert(l, side);
        lines_wait(l, US(draw(seed, 8) ? 60 : 300));
        line_goodcrc(l, other);
        break;
    }
    lines_wait(l, US(waits_us[draw(seed, sizeof waits_us / sizeof waits_us[0])]));
}

static void counting_without_a_call_comes_to_the_same(void **state)
{
    uint32_t seed = 20260131;

    (void)state;
    for (unsigned n = 0; n < 400; n++) {
        struct lines *l = lines_new();

        if (draw(&seed, 3) == 0)
            lines_about(l, RECORD_PORT_BENCH, "{\"instrument\":{\"time_ns\":500,\"clock_ppm\":40}}");
        line_begin(l);
        for (unsigned k = 0; k < 40; k++)
            random_packet(l, &seed);
        l->length_off_ns = 0;
        l->unmeasured = false;
        lines_wait(l, MS(5));
        line_play(l);
        lines_free(l);
    }
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
    const struct CMUnitTest tests[] = {
        TEST(every_packet_of_a_talk_is_judged),
        TEST(without_records_nothing_is_seen),
        TEST(the_bit_rate_is_judged_to_the_nanosecond),
        TEST(a_rate_is_told_in_kbit_s_with_its_edges),
        TEST(reset_signals_have_a_rate_too),
        TEST(a_bad_packet_of_an_odd_length_accuses_nobody),
        TEST(without_lengths_rate_and_gap_are_not_judged),
        TEST(the_gap_before_a_goodcrc_and_between_packets_of_one_sender_is_judged),
        TEST(the_gap_to_a_message_of_the_other_side_is_not_judged),
        TEST(a_goodcrc_has_195_us),
        TEST(a_repeat_comes_between_900_and_1295_us),
        TEST(a_repeat_that_had_to_wait_for_the_line_is_not_judged),
        TEST(a_repeat_of_what_was_acknowledged_may_be_something_else),
        TEST(one_bad_packet_is_the_links),
        TEST(a_goodcrc_says_that_the_receiver_had_it_whole),
        TEST(the_instruments_word_is_weighed),
        TEST(what_becomes_of_the_last_packet_lies_beyond_the_end),
        TEST(missing_records_may_hold_the_goodcrc),
        TEST(all_copies_bad_is_the_senders_fault),
        TEST(under_revision_2_there_are_four_copies),
        TEST(fewer_copies_than_the_sender_has_do_not_settle_it),
        TEST(who_sent_the_bad_copies_may_not_show),
        TEST(who_waited_for_an_answer_did_not_send_the_bad_copies),
        TEST(a_good_third_copy_lets_it_pass),
        TEST(missing_records_after_bad_copies_leave_it_open),
        TEST(counting_without_a_call_comes_to_the_same),
        TEST(limits_can_be_moved),
        TEST(what_lies_outside_of_since_and_until_is_not_counted),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
