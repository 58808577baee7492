/*
 * GoodCRCs and repeats. From the catalogue: a GoodCRC counts within tReceive, 1.1 ms; it is laid to what ended in the 1.4 ms before; a
 * copy begins less than 2 ms after the last; 4 copies under revision 2.0 and while none is agreed, 3 under 3.x, a cable plug 1.
 */
#include "tests/rules/line_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static void every_message_of_a_talk_is_acknowledged(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_exchange(l, SIDE_SOURCE);
    line_exchange(l, SIDE_SINK);
    line_play(l);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 2, 0, 0);
    expect_counts(l, "exchange.goodcrc-id", BEGIN_MESSAGES + 2, 0, 0);
    expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES + 2, 0, 0);
    expect_verdict(l, "exchange.first-try", VERDICT_NOT_SEEN);
    expect_verdict(l, "exchange.retry-count", VERDICT_NOT_SEEN);
    expect_verdict(l, "exchange.retry-same", VERDICT_NOT_SEEN);
    line_expect_only(l, NULL);
}

/*
 * Where lengths are not measured the end of a message is known to a ninth of its nominal length (300 kbit/s by 270 ... 330): 235 bytes
 * sent at 330 kbit/s end 0.8 ms before the nominal time, and are acknowledged then.
 */
static void a_long_message_of_a_fast_sender_is_acknowledged_though_nobody_measured_it(void **state)
{
    static const uint8_t text[235] = { 1 };

    for (int fast = -1; fast <= 1; fast++) {
        int64_t       nominal_ns = record_nominal_ns(2 + 2 + sizeof text + 4);
        struct lines *l = *state;

        line_begin(l);
        l->unmeasured = true;
        l->length_off_ns = fast < 0 ? -nominal_ns / 11 : fast * nominal_ns / 9;
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_EXTENDED, .type = EXTENDED_FIRMWARE_UPDATE_RESPONSE,
                                    .block = text, .size = sizeof text, .unchunked = true, .quiet = true });
        l->length_off_ns = 0;
        lines_wait(l, US(100));
        line_goodcrc(l, SIDE_SINK);
        lines_wait(l, MS(500));
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET); /* not for want of a GoodCRC */
        lines_wait(l, MS(1));
        lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
        line_play(l);
        expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 3, 0, 0);
        expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES + 3, 0, 0);
        expect_verdict(l, "time.soft-reset", VERDICT_NOT_SEEN);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void without_packets_nothing_is_seen(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    line_play(l);
    expect_verdict(l, "exchange.goodcrc", VERDICT_NOT_SEEN);
    expect_verdict(l, "exchange.goodcrc-id", VERDICT_NOT_SEEN);
    expect_verdict(l, "exchange.goodcrc-unprompted", VERDICT_NOT_SEEN);
}

/* Copies 1 ms apart that nobody acknowledges; frame of the last. */
static uint64_t deaf_copies(struct lines *l, unsigned side, unsigned count)
{
    uint64_t last = line_alert(l, side);

    for (unsigned k = 1; k < count; k++) {
        lines_wait(l, MS(1));
        last = line_alert_again(l, side);
    }
    return last;
}

/* What comes after a message that nobody acknowledged. */
enum after { AFTER_SOFT_RESET, AFTER_HARD_RESET, AFTER_OWN, AFTER_QUIET, AFTER_END };

static void deaf_case(unsigned side, unsigned copies, enum after after)
{
    struct lines *l = lines_new();
    uint64_t      last;

    line_begin(l);
    last = deaf_copies(l, side, copies);
    lines_wait(l, MS(5));
    if (after == AFTER_SOFT_RESET) {
        lines_control(l, side, CONTROL_SOFT_RESET);
        lines_wait(l, MS(1));
        lines_control(l, side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, CONTROL_ACCEPT);
        lines_wait(l, MS(5));
    } else if (after == AFTER_HARD_RESET) {
        lines_reset(l, RECORD_HARD_RESET);
        lines_wait(l, MS(5));
    } else if (after == AFTER_OWN) {
        line_exchange(l, side);
    } else if (after == AFTER_QUIET) {
        lines_wait(l, MS(500));
        line_exchange(l, side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE);
    }
    line_play(l);
    expect_fail(l, "exchange.goodcrc", last, side == SIDE_SOURCE ? WHO_SINK : WHO_SOURCE);
    line_expect_only(l, "exchange.goodcrc");
    expect_verdict(l, "exchange.retry-count", copies > 1 ? VERDICT_PASS : VERDICT_NOT_SEEN);
    lines_free(l);
}

static void a_message_that_nobody_acknowledges_is_the_receivers_fault(void **state)
{
    (void)state;
    for (unsigned after = AFTER_SOFT_RESET; after <= AFTER_END; after++)
        for (unsigned copies = 1; copies <= 3; copies++) {
            deaf_case(SIDE_SOURCE, copies, after);
            deaf_case(SIDE_SINK, copies, after);
        }
}

static void a_goodcrc_counts_for_1_1_ms(void **state)
{
    struct lines *l = *state;

    /* Late beyond tTransmit it is that fault alone; later than 1.4 ms it answers nothing, and the message was not acknowledged. */
    line_begin(l);
    uint64_t frame = line_alert(l, SIDE_SOURCE);

    lines_wait(l, US(1500));
    uint64_t stray = line_goodcrc(l, SIDE_SINK);

    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    expect_fail(l, "exchange.goodcrc", frame, WHO_SINK);
    expect_fail(l, "exchange.goodcrc-unprompted", stray, WHO_SINK);
    line_expect_only(l, "exchange.goodcrc exchange.goodcrc-unprompted");
}

static void nobody_has_to_be_there_yet(void **state)
{
    struct lines  *l = *state;
    const uint32_t caps[] = { word_fixed(5000, 3000) };
    const struct say quiet = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                               .words = { word_fixed(5000, 3000) }, .quiet = true };

    lines_attach(l);
    lines_say(l, &quiet); /* before the sink's first word */
    lines_wait(l, MS(150));
    lines_caps(l, 1, caps);
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    /* The plug has not spoken. */
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                                .count = 1, .words = { 0xff00a001 }, .quiet = true });
    lines_wait(l, MS(200));
    line_play(l);
    expect_counts(l, "exchange.goodcrc", 2, 0, 0);
    line_expect_only(l, NULL);
}

static void who_speaks_only_later_need_not_have_been_there(void **state)
{
    struct lines    *l = *state;
    const struct say quiet = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                               .words = { word_fixed(5000, 3000) }, .quiet = true };

    lines_attach(l);
    lines_say(l, &quiet);
    lines_wait(l, MS(50));
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_wait(l, MS(3));
    lines_caps(l, 1, quiet.words);
    lines_wait(l, MS(200));
    line_play(l);
    expect_counts(l, "exchange.goodcrc", 2, 0, 0);
}

static void a_recording_without_goodcrcs_says_nothing_of_them(void **state)
{
    struct lines     *l = *state;
    const struct say  talk[] = {
        { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
          .words = { word_fixed(5000, 3000) }, .quiet = true },
        { .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1, .words = { word_ask_fixed(1, 1000, 1000) },
          .quiet = true },
        { .side = SIDE_SOURCE, .message_class = CLASS_CONTROL, .type = CONTROL_ACCEPT, .quiet = true },
        { .side = SIDE_SOURCE, .message_class = CLASS_CONTROL, .type = CONTROL_PS_RDY, .quiet = true },
    };

    lines_attach(l);
    for (unsigned k = 0; k < 4; k++) {
        lines_say(l, &talk[k]);
        lines_wait(l, MS(5));
    }
    lines_wait(l, MS(500));
    line_play(l);
    expect_verdict(l, "exchange.goodcrc", VERDICT_NOT_SEEN);
    line_expect_only(l, NULL);
}

static void a_plug_that_has_spoken_is_heard_of(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    l->pause_ns = MS(2);
    lines_cable_identity(l, 1, 0, false);
    uint64_t frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA,
                                                 .type = DATA_VENDOR_DEFINED, .count = 1, .words = { 0xff00a001 }, .quiet = true });

    lines_wait(l, MS(200));
    line_play(l);
    expect_fail(l, "exchange.goodcrc", frame, WHO_CABLE);
}

static void after_a_hard_reset_the_partner_may_be_off(void **state)
{
    struct lines    *l = *state;
    const struct say quiet = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                               .words = { word_fixed(5000, 3000) }, .quiet = true };

    line_begin(l);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_say(l, &quiet);
    lines_wait(l, MS(200));
    line_play(l);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES, 0, 0);
    line_expect_only(l, NULL);
}

static void pulled_out_nobody_answers(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    deaf_copies(l, SIDE_SOURCE, 3);
    lines_wait(l, MS(20));
    lines_detach(l);
    lines_wait(l, MS(500));
    line_play(l);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES, 0, 0);
    line_expect_only(l, NULL);
}

/* What may have been the GoodCRC, this long after the message. */
static void an_unreadable_goodcrc_settles_nothing(void **state)
{
    static const int64_t waits_us[] = { 60, 1300, 1500 };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = lines_new();
        uint64_t      frame;

        line_begin(l);
        frame = line_alert(l, SIDE_SINK);
        lines_wait(l, US(waits_us[k]));
        line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC, .bad = true });
        lines_wait(l, MS(5));
        line_exchange(l, SIDE_SINK);
        line_play(l);
        if (waits_us[k] < 1400)
            expect_undecided(l, "exchange.goodcrc", frame, CAUSE_BAD_PACKET);
        else
            expect_fail(l, "exchange.goodcrc", frame, WHO_SOURCE);
        lines_free(l);
    }
}

static void a_missing_record_may_have_been_the_goodcrc(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    frame = line_alert(l, SIDE_SINK);
    lines_wait(l, MS(1));
    lines_lost(l, 1);
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SINK);
    line_play(l);
    expect_undecided(l, "exchange.goodcrc", frame, CAUSE_LOST);
    line_expect_only(l, "exchange.goodcrc");
}

static void an_answer_shows_that_the_message_was_heard(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    l->pause_ns = MS(3);
    frame = lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_CONTROL, .type = CONTROL_GET_SOURCE_CAP, .quiet = true });
    lines_caps(l, 2, (const uint32_t[]){ word_fixed(5000, 3000), word_fixed(9000, 3000) });
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "exchange.goodcrc", frame, CAUSE_NO_GOODCRC);
    line_expect_only(l, "exchange.goodcrc");
}

static void both_speaking_at_once_leave_it_open(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    frame = line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(40));
    line_exchange(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    expect_undecided(l, "exchange.goodcrc", frame, CAUSE_CROSSING);
}

static void the_end_of_the_trace_drops_what_is_open(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(1900));
    line_play(l);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES, 0, 0);
    line_expect_only(l, NULL);
}

/* exchange.first-try */
static void the_first_copy_should_do(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    frame = line_alert(l, SIDE_SINK);
    lines_wait(l, MS(1));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SINK);
    line_play(l);
    expect_fail(l, "exchange.first-try", frame, WHO_SOURCE);
    expect_counts(l, "exchange.retry-count", 1, 0, 0);
    expect_counts(l, "exchange.retry-same", 1, 0, 0);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 2, 0, 0);
    line_expect_only(l, "exchange.first-try");
}

static void acknowledged_both_times_it_passes(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, US(400)); /* in the end 956 us after the copy before */
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_counts(l, "exchange.first-try", 1, 0, 0);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 1, 0, 0);
    line_expect_only(l, NULL);
}

static void an_unreadable_packet_may_have_acknowledged_the_first(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    frame = line_alert(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC, .bad = true });
    lines_wait(l, US(450));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "exchange.first-try", frame, CAUSE_BAD_PACKET);
    line_expect_only(l, "exchange.first-try wire.crc");
}

/* Accept is as long as a GoodCRC: the bad packet is none the less no copy of it, so soon after the first one. */
static void a_bad_goodcrc_to_a_message_as_long_as_itself_leaves_the_first_try_open(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_exchange(l, SIDE_SINK);
    frame = line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, US(60));
    line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .bad = true });
    lines_wait(l, US(600));
    line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, US(60));
    line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, MS(200));
    line_play(l);
    expect_undecided(l, "exchange.first-try", frame, CAUSE_BAD_PACKET);
}

static void a_copy_after_one_that_could_not_be_read_is_a_copy(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    frame = line_alert(l, SIDE_SINK);
    lines_wait(l, US(1250));
    line_alert_bad(l, SIDE_SINK);
    lines_wait(l, US(1250));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.first-try", frame, WHO_SOURCE);
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 1, 0, 0);
    expect_counts(l, "exchange.retry-same", 1, 0, 0);
    line_expect_only(l, "exchange.first-try wire.crc");
}

static void a_first_copy_that_could_not_be_read_is_no_occasion(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    line_alert_bad(l, SIDE_SINK);
    lines_wait(l, MS(1));
    line_exchange(l, SIDE_SINK);
    line_play(l);
    expect_verdict(l, "exchange.first-try", VERDICT_NOT_SEEN);
    line_expect_only(l, "wire.crc");
}

/* exchange.goodcrc-id */
static void a_goodcrc_with_another_id_is_one_fault(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, US(500));
    line_alert_again(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SINK);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.goodcrc-id", frame, WHO_SINK);
    /* It silences exchange.first-try, exchange.goodcrc-unprompted. */
    line_expect_only(l, "exchange.goodcrc-id");
    expect_verdict(l, "exchange.first-try", VERDICT_NOT_SEEN);
    expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES + 1, 0, 0);
}

static void a_goodcrc_with_another_id_silences_the_missing_one(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, MS(5));
    line_exchange(l, SIDE_SOURCE);
    line_play(l);
    expect_fail(l, "exchange.goodcrc-id", frame, WHO_SINK);
    line_expect_only(l, "exchange.goodcrc-id");
    expect_counts(l, "exchange.goodcrc", BEGIN_MESSAGES + 1, 0, 0);
}

static void a_goodcrc_on_another_ordered_set_is_wrong_too(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, US(60));
    frame = line_put(l, &(struct one){ .side = SIDE_CABLE, .set = SET_SOP1, .type = CONTROL_GOODCRC,
                                       .id = (l->next_id[SET_SOP][SIDE_SINK] + 7) & 7 });
    lines_wait(l, US(500));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.goodcrc-id", frame, WHO_CABLE);
    line_expect_only(l, "exchange.goodcrc-id");
}

static void after_an_unreadable_packet_the_id_may_be_its(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_exchange(l, SIDE_SOURCE);
    line_alert(l, SIDE_SOURCE);
    lines_wait(l, US(60));
    line_put(l, &(struct one){ .side = SIDE_SINK, .type = DATA_ALERT, .words = 1, .bad = true });
    lines_wait(l, US(60));
    frame = line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC, .id = l->next_id[SET_SOP][SIDE_SOURCE] });
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "exchange.goodcrc-id", frame, CAUSE_BAD_PACKET);
}

/* exchange.goodcrc-unprompted */
static void a_goodcrc_out_of_nothing_is_wrong(void **state)
{
    static const struct { int64_t wait_us; unsigned verdict; } cases[] = { { 1400, VERDICT_PASS }, { 1401, VERDICT_FAIL } };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = lines_new();
        uint64_t      frame;

        line_begin(l);
        line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = DATA_ALERT, .words = 1, .id = 3, .bad = true });
        lines_wait(l, US(cases[k].wait_us));
        frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = 3 });
        lines_wait(l, MS(5));
        line_play(l);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "exchange.goodcrc-unprompted", frame, WHO_SINK);
        else
            expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES + 1, 0, 0);
        lines_free(l);
    }
}

static void what_came_before_may_be_missing(void **state)
{
    (void)state;
    for (unsigned lost = 0; lost < 2; lost++) {
        struct lines *l = lines_new();
        uint64_t      frame;

        if (lost) {
            line_begin(l);
            lines_lost(l, 1);
            lines_wait(l, US(200));
        }
        frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = 1 });
        lines_wait(l, MS(5));
        line_play(l);
        expect_undecided(l, "exchange.goodcrc-unprompted", frame, lost ? CAUSE_LOST : CAUSE_BEGINNING);
        lines_free(l);
    }
}

/* exchange.retry-count */
static void count_case(unsigned revision, unsigned copies, bool agreed, unsigned too_many)
{
    struct lines *l = lines_new();
    uint64_t      frame[6];

    l->revision = (uint8_t)revision;
    if (agreed)
        line_begin(l);
    else
        lines_attach(l);
    l->pause_ns = 0;
    for (unsigned k = 0; k < copies; k++) {
        frame[k] = k ? line_alert_again(l, SIDE_SINK) : line_alert(l, SIDE_SINK);
        lines_wait(l, MS(1));
    }
    lines_wait(l, MS(5));
    line_play(l);
    if (too_many) {
        const struct finding *f = lines_finding(l, "exchange.retry-count", VERDICT_FAIL, 0);

        expect_fail(l, "exchange.retry-count", frame[too_many - 1], WHO_SINK);
        assert_int_equal(f->evidence_count, too_many);
        for (unsigned k = 0; k < too_many; k++)
            assert_int_equal(f->evidence[k], frame[k]);
    } else
        expect_counts(l, "exchange.retry-count", 1, 0, 0);
    line_expect_only(l, too_many ? agreed ? "exchange.retry-count exchange.goodcrc" : "exchange.retry-count"
                        : agreed ? "exchange.goodcrc" : NULL);
    lines_free(l);
}

static void three_copies_under_3_x_and_four_under_2_0(void **state)
{
    (void)state;
    count_case(HEADER_R3, 2, true, 0);
    count_case(HEADER_R3, 3, true, 0);
    count_case(HEADER_R3, 4, true, 4);
    count_case(HEADER_R3, 6, true, 4);
    count_case(HEADER_R2, 4, true, 0);
    count_case(HEADER_R2, 5, true, 5);
    count_case(HEADER_R3, 4, false, 0);
    count_case(HEADER_R3, 5, false, 5);
}

static void a_plug_does_not_repeat(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;
    struct one    ack = { .side = SIDE_CABLE, .set = SET_SOP1, .type = DATA_VENDOR_DEFINED, .id = 1, .words = 5 };

    line_begin(l);
    l->pause_ns = MS(2);
    lines_cable_identity(l, 1, 0, false);
    l->pause_ns = 0;
    line_put(l, &ack);
    lines_wait(l, MS(1));
    frame = line_put(l, &ack);
    lines_wait(l, US(60));
    line_put(l, &(struct one){ .side = SIDE_SOURCE, .set = SET_SOP1, .type = CONTROL_GOODCRC, .id = 1 });
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.retry-count", frame, WHO_CABLE);
    line_expect_only(l, "exchange.retry-count exchange.first-try");
}

static void copies_that_could_not_be_read_count_but_accuse_nobody(void **state)
{
    struct lines *l = *state;
    uint64_t      frame = 0;

    line_begin(l);
    line_alert_bad(l, SIDE_SINK);
    lines_wait(l, MS(1));
    line_alert(l, SIDE_SINK);
    lines_wait(l, MS(1));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, MS(1));
    frame = line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_undecided(l, "exchange.retry-count", frame, CAUSE_BAD_PACKET);
}

static void a_late_goodcrc_explains_the_copies(void **state)
{
    struct lines *l = *state;
    uint64_t      late;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, US(300));
    late = line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, US(200));
    for (unsigned k = 0; k < 4; k++) {
        line_alert_again(l, SIDE_SINK);
        lines_wait(l, MS(1));
    }
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "time.goodcrc-turnaround", late, WHO_SOURCE);
    line_expect_only(l, "time.goodcrc-turnaround");
}

static void a_late_goodcrc_to_the_first_copy_is_that_fault_alone(void **state)
{
    struct lines *l = *state;
    uint64_t      late;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, US(300));
    late = line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, US(200));
    line_alert_again(l, SIDE_SINK);
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "time.goodcrc-turnaround", late, WHO_SOURCE);
    line_expect_only(l, "time.goodcrc-turnaround");
    expect_verdict(l, "exchange.first-try", VERDICT_NOT_SEEN);
}

/* A MessageID that does not follow is one fault, whatever is said about its repeats and its GoodCRC. */
static void a_wrong_message_id_silences_what_rests_on_it(void **state)
{
    struct lines *l = *state;
    struct one    o = { .side = SIDE_SINK, .type = DATA_ALERT, .words = 1 };

    line_begin(l);
    o.id = (l->next_id[SET_SOP][SIDE_SINK] + 3) & 7;
    uint64_t frame = line_put(l, &o);

    for (unsigned k = 0; k < 3; k++) {
        lines_wait(l, MS(1));
        line_put(l, &o);
    }
    lines_wait(l, US(1500));
    line_put(l, &(struct one){ .side = SIDE_SOURCE, .type = CONTROL_GOODCRC, .id = o.id });
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "message.id-sequence", frame, WHO_SINK);
    expect_verdict(l, "exchange.retry-count", VERDICT_NOT_SEEN);
    expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES, 0, 0);
    line_expect_only(l, "exchange.goodcrc");
}

static void a_wrong_message_id_after_a_reset_does_the_same(void **state)
{
    struct lines *l = *state;
    struct one    o = { .side = SIDE_SOURCE, .type = DATA_SOURCE_CAPABILITIES, .words = 1, .id = 3 };

    line_begin(l);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    uint64_t frame = line_put(l, &o);

    for (unsigned k = 0; k < 4; k++) { /* no revision is agreed on: one more than four */
        lines_wait(l, MS(1));
        line_put(l, &o);
    }
    lines_wait(l, US(1500));
    line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GOODCRC, .id = 3 });
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "message.id-after-reset", frame, WHO_SOURCE);
    expect_verdict(l, "exchange.retry-count", VERDICT_NOT_SEEN);
    expect_counts(l, "exchange.goodcrc-unprompted", BEGIN_MESSAGES, 0, 0);
    line_expect_only(l, NULL);
}

/* exchange.retry-same */
static void a_copy_has_the_same_bytes(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, MS(1));
    frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = DATA_ALERT, .words = 1, .other = 0x02000000,
                                       .id = (l->next_id[SET_SOP][SIDE_SINK] + 7) & 7 });
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.retry-same", frame, WHO_SINK);
    line_expect_only(l, "exchange.retry-same exchange.first-try");
}

static void another_message_with_the_same_id_is_no_copy(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    line_begin(l);
    line_alert(l, SIDE_SINK);
    lines_wait(l, MS(1));
    frame = line_put(l, &(struct one){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .id = (l->next_id[SET_SOP][SIDE_SINK] + 7) & 7 });
    lines_wait(l, US(60));
    line_goodcrc(l, SIDE_SOURCE);
    lines_wait(l, MS(5));
    line_play(l);
    expect_fail(l, "exchange.retry-same", frame, WHO_SINK);
    line_expect_only(l, "exchange.retry-same exchange.first-try");
}

static void without_crcs_the_bytes_themselves_are_compared(void **state)
{
    (void)state;
    for (unsigned other = 0; other < 2; other++) {
        struct lines *l = lines_new();
        struct one    o = { .side = SIDE_SINK, .type = DATA_ALERT, .words = 1, .state = RECORD_NO_CRC };
        uint64_t      frame;

        line_begin(l);
        o.id = l->next_id[SET_SOP][SIDE_SINK];
        line_put(l, &o);
        lines_wait(l, MS(1));
        o.other = other;
        frame = line_put(l, &o);
        l->next_id[SET_SOP][SIDE_SINK]++;
        lines_wait(l, US(60));
        line_goodcrc(l, SIDE_SOURCE);
        lines_wait(l, MS(5));
        line_play(l);
        if (other)
            expect_fail(l, "exchange.retry-same", frame, WHO_SINK);
        else
            expect_counts(l, "exchange.retry-same", 1, 0, 0);
        lines_free(l);
    }
}

/* Every Soft_Reset has MessageID 0. */
static void a_second_soft_reset_is_a_new_message(void **state)
{
    struct lines *l = *state;

    line_begin(l);
    l->pause_ns = US(200);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(5));
    line_play(l);
    expect_verdict(l, "exchange.retry-count", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.retry", VERDICT_NOT_SEEN);
    line_expect_only(l, NULL);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
    const struct CMUnitTest tests[] = {
        TEST(every_message_of_a_talk_is_acknowledged), TEST(a_long_message_of_a_fast_sender_is_acknowledged_though_nobody_measured_it),
        TEST(without_packets_nothing_is_seen),
        TEST(a_message_that_nobody_acknowledges_is_the_receivers_fault),
        TEST(a_goodcrc_counts_for_1_1_ms),
        TEST(nobody_has_to_be_there_yet),
        TEST(who_speaks_only_later_need_not_have_been_there),
        TEST(a_recording_without_goodcrcs_says_nothing_of_them),
        TEST(a_plug_that_has_spoken_is_heard_of),
        TEST(after_a_hard_reset_the_partner_may_be_off),
        TEST(pulled_out_nobody_answers),
        TEST(an_unreadable_goodcrc_settles_nothing),
        TEST(a_missing_record_may_have_been_the_goodcrc),
        TEST(an_answer_shows_that_the_message_was_heard),
        TEST(both_speaking_at_once_leave_it_open),
        TEST(the_end_of_the_trace_drops_what_is_open),
        TEST(the_first_copy_should_do),
        TEST(acknowledged_both_times_it_passes),
        TEST(an_unreadable_packet_may_have_acknowledged_the_first),
        TEST(a_bad_goodcrc_to_a_message_as_long_as_itself_leaves_the_first_try_open),
        TEST(a_copy_after_one_that_could_not_be_read_is_a_copy),
        TEST(a_first_copy_that_could_not_be_read_is_no_occasion),
        TEST(a_goodcrc_with_another_id_is_one_fault),
        TEST(a_goodcrc_with_another_id_silences_the_missing_one),
        TEST(a_goodcrc_on_another_ordered_set_is_wrong_too),
        TEST(after_an_unreadable_packet_the_id_may_be_its),
        TEST(a_goodcrc_out_of_nothing_is_wrong),
        TEST(what_came_before_may_be_missing),
        TEST(three_copies_under_3_x_and_four_under_2_0),
        TEST(a_plug_does_not_repeat),
        TEST(copies_that_could_not_be_read_count_but_accuse_nobody),
        TEST(a_late_goodcrc_explains_the_copies),
        TEST(a_late_goodcrc_to_the_first_copy_is_that_fault_alone),
        TEST(a_wrong_message_id_silences_what_rests_on_it),
        TEST(a_wrong_message_id_after_a_reset_does_the_same),
        TEST(a_copy_has_the_same_bytes),
        TEST(another_message_with_the_same_id_is_no_copy),
        TEST(without_crcs_the_bytes_themselves_are_compared),
        TEST(a_second_soft_reset_is_a_new_message),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
