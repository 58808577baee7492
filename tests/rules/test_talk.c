/*
 * Questions and what comes of them (rules/talk.h): every end, what is passed over, what may have been missed, and who is told.
 * Which answers belong to which question is typed from the catalogue's section 7.
 */
#include "rules/engine_inside.h"
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>

#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)
#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define EXTENDED(type) MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_##type)

/* 5 V 3 A, 9 V 3 A. */
static const uint32_t caps[] = { 0x0001912c, 0x0002d12c };
static const uint32_t ask_9v = 0x2004b12c;
/* PD SID, structured, version 2.0: Discover Identity REQ, ACK, Attention; unstructured. */
enum { VDM_IDENTITY = 0xa001, VDM_IDENTITY_ACK = 0xa041, VDM_ATTENTION = 0xa006, VDM_OTHER = 0x0001 };
static uint32_t vdm(unsigned low)
{
    return UINT32_C(0xff00) << 16 | low;
}

static struct lines *contract(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(200));
    return l;
}

static struct talk *talk_of(const struct lines *l)
{
    assert_non_null(l->engine->books[0]);
    return &l->engine->books[0]->talk;
}

/* The last question of the source (PLAYER_A) or the sink (PLAYER_B) that was settled. */
static const struct ask *settled(struct lines *l, unsigned set, unsigned player)
{
    struct talk *t;

    lines_run(l, NULL);
    t = talk_of(l);
    assert_true(t->last_ns[stream_index(set, player)] != INT64_MIN);
    return talk_last(t, stream_index(set, player));
}

static void expect_open(struct lines *l, unsigned player, bool open)
{
    lines_run(l, NULL);
    assert_int_equal(talk_of(l)->is_open[stream_index(SET_SOP, player)], open);
}

static void expect_end(const struct ask *a, unsigned index, unsigned end, uint64_t answer)
{
    if (a->index != index || a->end != end || a->answer.frame != answer)
        fail_msg("question %u ended %u by frame %u, expected %u, %u, %u", a->index, a->end, (unsigned)a->answer.frame, index, end,
                 (unsigned)answer);
}

static void an_answer_settles_a_question(void **state)
{
    struct lines     *l = contract(state);
    uint64_t          asked = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    uint64_t          answer = lines_extended(l, SIDE_SOURCE, EXTENDED_STATUS, "\0\0\0\0\0\0", 6);
    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_ANSWERED, answer);
    assert_int_equal(a->sent.frame, asked);
    assert_int_equal(a->sent.goodcrc_frame, asked + 1);
    assert_int_equal(a->answer_index, EXTENDED(STATUS));
    assert_int_equal(a->answer_player, PLAYER_A);
    assert_true(a->delivered && a->in_contract && !a->gap);
}

/* A question of that side, what the partner says next, and what came of the question. */
struct pair {
    uint8_t  side, ask_class, ask_type;
    uint32_t ask_word;    /* data: one object, 0: none */
    uint8_t  answer_class, answer_type;
    uint32_t answer_word;
    uint8_t  end;
};

static uint64_t say_one(struct lines *l, unsigned side, unsigned message_class, unsigned type, uint32_t word)
{
    static const uint8_t zeros[24];

    if (message_class == CLASS_EXTENDED) {
        uint8_t block[24] = { (uint8_t)word };

        return lines_extended(l, side, type, type == EXTENDED_CONTROL ? block : zeros, type == EXTENDED_CONTROL ? 2 : 6);
    }
    return message_class == CLASS_DATA ? lines_data(l, side, type, 1, &word) : lines_control(l, side, type);
}

static void each_question_has_its_answers(void **state)
{
    const struct pair pairs[] = {
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_GET_SINK_CAP, 0, CLASS_DATA, DATA_SINK_CAPABILITIES, 0x0001912c, ASK_ANSWERED },
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_GET_SINK_CAP, 0, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_ANSWERED },
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_GET_SINK_CAP, 0, CLASS_CONTROL, CONTROL_ACCEPT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_SOURCE_CAP, 0, CLASS_DATA, DATA_SOURCE_CAPABILITIES, 0x0001912c, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_STATUS, 0, CLASS_CONTROL, CONTROL_REJECT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_STATUS, 0, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_STATUS, 0, CLASS_EXTENDED, EXTENDED_PPS_STATUS, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_DR_SWAP, 0, CLASS_CONTROL, CONTROL_WAIT, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_DR_SWAP, 0, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_FR_SWAP, 0, CLASS_CONTROL, CONTROL_WAIT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_DATA_RESET, 0, CLASS_CONTROL, CONTROL_WAIT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_SOFT_RESET, 0, CLASS_CONTROL, CONTROL_ACCEPT, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_SOFT_RESET, 0, CLASS_CONTROL, CONTROL_REJECT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_DATA, DATA_REQUEST, 0x1004b12c, CLASS_CONTROL, CONTROL_REJECT, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_DATA, DATA_REQUEST, 0x1004b12c, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_REVISION, 0, CLASS_DATA, DATA_REVISION, 0x32100000, ASK_ANSWERED },
        { SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a001, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a041, ASK_ANSWERED },
        { SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a001, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a081, ASK_ANSWERED },
        { SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a001, CLASS_CONTROL, CONTROL_REJECT, 0, ASK_OTHER },
        { SIDE_SINK, CLASS_DATA, DATA_EPR_MODE, 0x018c0000, CLASS_DATA, DATA_EPR_MODE, 0x02000000, ASK_ANSWERED },
        { SIDE_SINK, CLASS_DATA, DATA_EPR_MODE, 0x018c0000, CLASS_DATA, DATA_EPR_MODE, 0x04000000, ASK_ANSWERED },
        { SIDE_SINK, CLASS_EXTENDED, EXTENDED_CONTROL, 3, CLASS_EXTENDED, EXTENDED_CONTROL, 4, ASK_ANSWERED },
        { SIDE_SINK, CLASS_EXTENDED, EXTENDED_CONTROL, 3, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, 27, 0, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0, ASK_ANSWERED },
        { SIDE_SINK, CLASS_CONTROL, 27, 0, CLASS_CONTROL, CONTROL_REJECT, 0, ASK_OTHER },
        /* the partner begins something itself */
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_GET_SINK_CAP, 0, CLASS_DATA, DATA_REQUEST, 0x1004b12c, ASK_CROSSED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_STATUS, 0, CLASS_CONTROL, CONTROL_GET_SINK_CAP, 0, ASK_CROSSED },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_GET_STATUS, 0, CLASS_CONTROL, CONTROL_SOFT_RESET, 0, ASK_SOFT_RESET },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof pairs / sizeof pairs[0]; k++) {
        const struct pair *p = &pairs[k];
        struct lines      *l = lines_new();
        void              *fixture = l;
        uint64_t           answer;
        const struct ask  *a;

        contract(&fixture);
        say_one(l, p->side, p->ask_class, p->ask_type, p->ask_word);
        answer = say_one(l, p->side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, p->answer_class, p->answer_type, p->answer_word);
        a = settled(l, SET_SOP, p->side == SIDE_SOURCE ? PLAYER_A : PLAYER_B);
        if (a->index != MESSAGE_INDEX(p->ask_class, p->ask_type) || a->end != p->end || a->answer.frame != answer)
            fail_msg("pair %u: question %u ended %u by frame %u", k, a->index, a->end, (unsigned)a->answer.frame);
        lines_free(l);
    }
}

/* answer_none_ms: 100. */
static void silence_is_told_once_100_ms_have_passed(void **state)
{
    static const struct { int64_t us; bool told; } waits[] = { { 99900, false }, { 100100, true } };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = lines_new();
        void         *fixture = l;
        uint64_t      asked;

        contract(&fixture);
        asked = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        lines_wait(l, US(waits[k].us) - l->pause_ns);
        expect_open(l, PLAYER_B, !waits[k].told);
        if (waits[k].told) {
            const struct ask *a = settled(l, SET_SOP, PLAYER_B);

            expect_end(a, CONTROL(GET_STATUS), ASK_SILENT, 0);
            assert_int_equal(a->sent.frame, asked);
            assert_true(a->delivered);
        }
        lines_free(l);
    }
}

static void an_answer_after_100_ms_comes_too_late(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(101));
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(GET_STATUS), ASK_SILENT, 0);
}

/* The wait begins with the GoodCRC of the last copy. */
static void repeats_make_the_wait_longer(void **state)
{
    struct lines *l = contract(state);
    int64_t       first_ns;
    uint64_t      last, answer;

    l->pause_ns = US(950);
    first_ns = l->now_ns;
    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .quiet = true });
    last = lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .again = true });
    l->now_ns = first_ns + MS(101);
    answer = lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_ANSWERED, answer);
    assert_int_equal(a->sent.copies, 2);
    assert_int_equal(a->sent.last_frame, last);
}

static void what_nobody_heard_is_told_as_that(void **state)
{
    struct lines *l = contract(state);

    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .quiet = true });
    lines_wait(l, MS(150));

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_UNHEARD, 0);
    assert_false(a->delivered);
}

/* GoodCRCs are not in the recording: the answer shows that the question was heard. */
static void an_answer_delivers_without_a_goodcrc(void **state)
{
    struct lines *l = contract(state);

    lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_STATUS, .quiet = true });
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    assert_int_equal(a->end, ASK_ANSWERED);
    assert_true(a->delivered);
    assert_int_equal(a->sent.delivery, DELIVERY_UNPROVEN);
}

static void what_stands_for_itself_is_passed_over(void **state)
{
    const struct pair between[] = {
        { .answer_class = CLASS_DATA, .answer_type = DATA_ALERT, .answer_word = 0x02000000 },
        { .answer_class = CLASS_DATA, .answer_type = DATA_VENDOR_DEFINED, .answer_word = vdm(VDM_ATTENTION) },
        { .answer_class = CLASS_DATA, .answer_type = DATA_VENDOR_DEFINED, .answer_word = vdm(VDM_OTHER) },
        { .answer_class = CLASS_CONTROL, .answer_type = CONTROL_PING },
        { .answer_class = CLASS_CONTROL, .answer_type = CONTROL_PS_RDY },
        { .answer_class = CLASS_CONTROL, .answer_type = CONTROL_DATA_RESET_COMPLETE },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof between / sizeof between[0]; k++) {
        struct lines *l = lines_new();
        void         *fixture = l;
        uint64_t      answer;

        contract(&fixture);
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        say_one(l, SIDE_SOURCE, between[k].answer_class, between[k].answer_type, between[k].answer_word);
        answer = lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
        expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(GET_STATUS), ASK_ANSWERED, answer);
        lines_free(l);
    }
}

static void these_ask_for_nothing(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SOURCE, CONTROL_PING);
    say_one(l, SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, vdm(VDM_ATTENTION));
    say_one(l, SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, vdm(VDM_OTHER));
    say_one(l, SIDE_SOURCE, CLASS_DATA, DATA_ALERT, 0x02000000);
    say_one(l, SIDE_SINK, CLASS_DATA, DATA_EPR_MODE, 0x05000000); /* Exit */
    lines_run(l, NULL);
    assert_int_equal(talk_last(talk_of(l), stream_index(SET_SOP, PLAYER_A))->index, DATA(SOURCE_CAPABILITIES));
    assert_int_equal(talk_last(talk_of(l), stream_index(SET_SOP, PLAYER_B))->index, DATA(REQUEST));
    assert_false(talk_of(l)->is_open[0] || talk_of(l)->is_open[1]);
}

static void the_wait_for_a_request_goes_on_while_the_sink_asks(void **state)
{
    struct lines *l = *state;
    uint64_t      request;

    lines_attach(l);
    lines_caps(l, 2, caps);
    say_one(l, SIDE_SINK, CLASS_DATA, DATA_VENDOR_DEFINED, vdm(VDM_IDENTITY));
    say_one(l, SIDE_SOURCE, CLASS_DATA, DATA_VENDOR_DEFINED, vdm(VDM_IDENTITY_ACK));
    request = lines_request(l, ask_9v);

    const struct ask *a = settled(l, SET_SOP, PLAYER_A);

    expect_end(a, DATA(SOURCE_CAPABILITIES), ASK_ANSWERED, request);
    assert_true(a->owed && !a->asked && !a->in_contract);
}

static void capabilities_that_were_asked_for_are_known_as_that(void **state)
{
    struct lines *l = contract(state);
    uint64_t      answer;

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    answer = lines_caps(l, 2, caps);
    expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(GET_SOURCE_CAP), ASK_ANSWERED, answer);
    assert_true(talk_of(l)->is_open[stream_index(SET_SOP, PLAYER_A)]);
    assert_true(talk_open(talk_of(l), stream_index(SET_SOP, PLAYER_A))->asked);
    assert_false(talk_open(talk_of(l), stream_index(SET_SOP, PLAYER_A))->owed);
}

static void the_first_offer_after_a_soft_reset_is_owed(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_caps(l, 2, caps);
    lines_request(l, ask_9v);
    assert_true(settled(l, SET_SOP, PLAYER_A)->owed);
}

static void asking_again_overtakes_the_first_question(void **state)
{
    struct lines *l = contract(state);
    uint64_t      second;

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    second = lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_OVERTAKEN, second);
    assert_true(a->delivered);
    assert_int_equal(talk_open(talk_of(l), stream_index(SET_SOP, PLAYER_B))->index, CONTROL(GET_REVISION));
}

/* Both began before they heard the other: each answers. */
static void crossing_soft_resets_are_both_answered(void **state)
{
    struct lines *l = contract(state);
    uint64_t      second, answer;

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    second = lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    answer = lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(SOFT_RESET), ASK_CROSSED, second);
    expect_end(settled(l, SET_SOP, PLAYER_A), CONTROL(SOFT_RESET), ASK_ANSWERED, answer);
}

static void a_hard_reset_ends_every_question(void **state)
{
    struct lines *l = contract(state);
    uint64_t      reset;

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    reset = lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(5));
    expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(GET_STATUS), ASK_HARD_RESET, reset);
    assert_false(talk_of(l)->is_open[stream_index(SET_SOP, PLAYER_B)]);
}

static void a_detach_ends_every_question(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_detach(l);
    expect_end(settled(l, SET_SOP, PLAYER_B), CONTROL(GET_STATUS), ASK_DETACHED, 0);
}

static void an_attach_begins_without_any(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_detach(l);
    lines_attach(l);
    lines_run(l, NULL);
    for (unsigned k = 0; k < STREAMS; k++)
        assert_true(talk_of(l)->last_ns[k] == INT64_MIN && !talk_of(l)->is_open[k]);
}

static void at_the_end_an_open_question_stays_open(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(50));
    expect_open(l, PLAYER_B, true);
}

/* What may have been missed between question and end. */
static void lost_records_are_told_with_the_silence(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(20));
    lines_lost(l, 3);
    lines_wait(l, MS(200));

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_SILENT, 0);
    assert_true(a->gap && a->cause == CAUSE_LOST);
}

/* LOST says that something is missing since the record before it: that may have been the answer. */
static void a_loss_told_later_still_counts(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(150));
    lines_lost(l, 3);
    lines_wait(l, MS(200));
    assert_true(settled(l, SET_SOP, PLAYER_B)->gap);
}

static void a_loss_before_the_question_does_not(void **state)
{
    struct lines *l = contract(state);

    lines_lost(l, 3);
    lines_wait(l, MS(20));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_wait(l, MS(200));
    assert_false(settled(l, SET_SOP, PLAYER_B)->gap);
}

static void a_packet_that_could_not_be_read_is_told_too(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_NOT_SUPPORTED, .spoilt = true });
    lines_wait(l, MS(200));

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_SILENT, 0);
    assert_true(a->gap && a->cause == CAUSE_BAD_PACKET);
}

/* A good copy within 1.4 ms: the bad packet was the answer, and the answer began with it. */
static void a_spoilt_first_copy_is_the_answers_start(void **state)
{
    struct lines *l = contract(state);
    uint64_t      bad;

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    l->pause_ns = US(950);
    bad = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_NOT_SUPPORTED, .spoilt = true });
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    l->pause_ns = MS(2);

    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_STATUS), ASK_ANSWERED, bad);
    assert_false(a->gap);
}

static void the_plug_answers_on_its_own_ordered_set(void **state)
{
    struct lines     *l = *state;
    uint64_t          answer;
    const struct ask *a;

    lines_attach(l);
    answer = lines_cable_identity(l, 1, 0, false);
    a = settled(l, SET_SOP1, PLAYER_A);
    expect_end(a, DATA(VENDOR_DEFINED), ASK_ANSWERED, answer);
    assert_int_equal(a->set, SET_SOP1);
    assert_int_equal(a->answer_player, PLAYER_CABLE);
    assert_int_equal(a->detail, 1);
}

static void a_soft_reset_on_sop1_leaves_sop_alone(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .type = CONTROL_SOFT_RESET });
    expect_open(l, PLAYER_B, true);
}

static void the_first_chunk_is_the_answer(void **state)
{
    static const uint8_t block[60] = { 0 };
    struct lines        *l = contract(state);
    uint64_t             last;

    lines_control(l, SIDE_SINK, CONTROL_GET_COUNTRY_CODES);
    last = lines_chunks(l, SIDE_SOURCE, EXTENDED_COUNTRY_CODES, block, 30);

    /* chunk, GoodCRC, request, GoodCRC, chunk */
    const struct ask *a = settled(l, SET_SOP, PLAYER_B);

    expect_end(a, CONTROL(GET_COUNTRY_CODES), ASK_ANSWERED, last - 4);
    assert_int_equal(talk_of(l)->settled, -1); /* the last chunk settled nothing */
}

static void a_message_in_chunks_asks_with_its_last(void **state)
{
    static const uint32_t words[] = { 0x0001912c, 0x0002d12c, 0, 0, 0, 0, 0, 0x0008c1f4 };
    struct lines         *l = contract(state);
    uint64_t              last;

    lines_enter_epr(l);
    last = lines_epr_caps(l, 8, words);
    lines_epr_request(l, word_ask_fixed(8, 1000, 1000), words[7]);

    const struct ask *a = settled(l, SET_SOP, PLAYER_A);

    assert_int_equal(a->index, EXTENDED(EPR_SOURCE_CAPABILITIES));
    assert_int_equal(a->end, ASK_ANSWERED);
    assert_int_equal(a->sent.frame, last);
    assert_int_equal(a->first_frame, last - 4);
    assert_true(a->epr_mode && a->owed);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(an_answer_settles_a_question), cmocka_unit_test(each_question_has_its_answers),
        cmocka_unit_test(silence_is_told_once_100_ms_have_passed), TEST(an_answer_after_100_ms_comes_too_late),
        TEST(repeats_make_the_wait_longer), TEST(what_nobody_heard_is_told_as_that), TEST(an_answer_delivers_without_a_goodcrc),
        cmocka_unit_test(what_stands_for_itself_is_passed_over), TEST(these_ask_for_nothing),
        TEST(the_wait_for_a_request_goes_on_while_the_sink_asks), TEST(capabilities_that_were_asked_for_are_known_as_that),
        TEST(the_first_offer_after_a_soft_reset_is_owed), TEST(asking_again_overtakes_the_first_question),
        TEST(crossing_soft_resets_are_both_answered), TEST(a_hard_reset_ends_every_question), TEST(a_detach_ends_every_question),
        TEST(an_attach_begins_without_any), TEST(at_the_end_an_open_question_stays_open),
        TEST(lost_records_are_told_with_the_silence), TEST(a_loss_told_later_still_counts), TEST(a_loss_before_the_question_does_not),
        TEST(a_packet_that_could_not_be_read_is_told_too), TEST(a_spoilt_first_copy_is_the_answers_start),
        TEST(the_plug_answers_on_its_own_ordered_set), TEST(a_soft_reset_on_sop1_leaves_sop_alone),
        TEST(the_first_chunk_is_the_answer), TEST(a_message_in_chunks_asks_with_its_last),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
