/*
 * exchange.*: answers, order, PS_RDY, Wait and resets. Every rule passed, failed (where, about whom), left undecided and not seen; just
 * inside and just outside each limit; what silences it. Typed from the catalogue's rows and its sections 5 to 7. (GoodCRCs and
 * repeats: test_goodcrc_rules.c.) The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

/* 5 V 3 A, 9 V 3 A; the same with dual-role power; object 2 asked for. */
static const uint32_t caps[] = { 0x0001912c, 0x0002d12c };
static const uint32_t ask_9v = 0x2004b12c;

static struct lines *contract_in(void **state, uint8_t revision)
{
    struct lines *l = *state;

    l->revision = revision;
    lines_attach(l);
    lines_negotiate(l, 2, caps, ask_9v);
    lines_wait(l, MS(200));
    return l;
}

static struct lines *contract(void **state)
{
    return contract_in(state, HEADER_R3);
}

static struct lines *epr_contract(void **state)
{
    static const uint32_t words[] = { 0x0081912c, 0x0002d12c, 0, 0, 0, 0, 0, 0x0008c1f4 };
    struct lines         *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    lines_negotiate(l, 2, words, ask_9v | UINT32_C(1) << 22);
    lines_enter_epr(l);
    lines_epr_caps(l, 8, words);
    lines_epr_request(l, word_ask_fixed(8, 1000, 1000), words[7]);
    return l;
}

static uint64_t say_data(struct lines *l, unsigned side, unsigned type, uint32_t word)
{
    return lines_data(l, side, type, 1, &word);
}

static uint64_t say_status(struct lines *l, unsigned side)
{
    return lines_extended(l, side, EXTENDED_STATUS, "\0\0\0\0\0\0", 6);
}

/* So long after the end of the last GoodCRC. */
static void wait_from_goodcrc(struct lines *l, int64_t ns)
{
    lines_wait(l, ns - l->pause_ns);
}

static void finish(struct lines *l, int64_t ns)
{
    lines_wait(l, ns);
    lines_run(l, NULL);
}

/* A trace for each row of a table. */
static struct lines *fresh(struct lines **l)
{
    lines_free(*l);
    return *l = lines_new();
}

/* What holds for all */

static const char *const ids[] = {
    "exchange.answer", "exchange.answer-kind", "exchange.request-answered", "exchange.request-after-caps", "exchange.source-caps-answer",
    "exchange.ready-after-accept", "exchange.no-ready-without-accept", "exchange.unexpected-message", "exchange.not-supported",
    "exchange.soft-reset-accept", "exchange.one-at-a-time", "exchange.sink-tx", "exchange.wait-endless",
    "exchange.hard-reset-after-timeout",
};

static void where_nothing_is_said_no_rule_has_an_occasion(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    finish(l, MS(500));
    for (unsigned k = 0; k < sizeof ids / sizeof ids[0]; k++)
        expect_verdict(l, ids[k], VERDICT_NOT_SEEN);
}

static void a_sound_exchange_of_everything_passes(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    say_status(l, SIDE_SOURCE);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 2, caps);
    lines_request(l, ask_9v);
    lines_accept_and_ready(l);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    say_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 0x0001912c);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    finish(l, MS(200));
    expect_only(l, "exchange.", NULL);
    for (unsigned k = 0; k < sizeof ids / sizeof ids[0]; k++)
        if (strcmp(ids[k], "exchange.not-supported") != 0 && strcmp(ids[k], "exchange.wait-endless") != 0 &&
            strcmp(ids[k], "exchange.hard-reset-after-timeout") != 0)
            expect_verdict(l, ids[k], VERDICT_PASS);
}

static void every_row_says_all_that_a_row_has_to_say(void **state)
{
    struct lines *l = *state;

    lines_run(l, NULL);
    for (unsigned k = 0; k < sizeof ids / sizeof ids[0]; k++) {
        const struct rule *r = lines_result(l, ids[k]).rule;

        assert_true(r->title && r->requirement && r->source && r->why && r->undecided && r->bench && r->sentences && r->basis);
        assert_true(strchr(r->title, '.') == NULL);
    }
}

/* exchange.answer, -request-answered, -request-after-caps, -source-caps-answer, -soft-reset-accept: silence */

enum ask_case { CASE_STATUS, CASE_REQUEST, CASE_CAPS, CASE_SOURCE_CAP, CASE_SOFT_RESET, CASE_RESERVED, CASES };
static const struct { const char *id; uint8_t asker, whom; } cases[CASES] = {
    [CASE_STATUS] = { "exchange.answer", SIDE_SINK, WHO_SOURCE },
    [CASE_REQUEST] = { "exchange.request-answered", SIDE_SINK, WHO_SOURCE },
    [CASE_CAPS] = { "exchange.request-after-caps", SIDE_SOURCE, WHO_SINK },
    [CASE_SOURCE_CAP] = { "exchange.source-caps-answer", SIDE_SINK, WHO_SOURCE },
    [CASE_SOFT_RESET] = { "exchange.soft-reset-accept", SIDE_SINK, WHO_SOURCE },
    [CASE_RESERVED] = { "exchange.not-supported", SIDE_SINK, WHO_SOURCE },
};

static uint64_t ask_case(struct lines *l, unsigned c)
{
    switch (c) {
    case CASE_STATUS:
        return lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    case CASE_REQUEST:
        return lines_request(l, ask_9v);
    case CASE_CAPS:
        return lines_caps(l, 2, caps);
    case CASE_SOURCE_CAP:
        return lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    case CASE_RESERVED:
        return lines_control(l, SIDE_SINK, 27);
    default:
        return lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    }
}

static void answer_case(struct lines *l, unsigned c)
{
    switch (c) {
    case CASE_STATUS:
        say_status(l, SIDE_SOURCE);
        break;
    case CASE_CAPS:
        lines_request(l, ask_9v);
        break;
    case CASE_SOURCE_CAP:
        lines_caps(l, 2, caps);
        break;
    case CASE_RESERVED:
        lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
        break;
    default:
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        break;
    }
}

static void an_answer_within_100_ms_is_one_and_none_is_a_fault(void **state)
{
    static const struct { int64_t us; bool fails; } times[] = { { 5000, false }, { 99900, false }, { 100100, true } };
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++)
        for (unsigned k = 0; k < 3; k++) {
            void    *fixture = fresh(&l);
            uint64_t frame;

            contract(&fixture);
            frame = ask_case(l, c);
            wait_from_goodcrc(l, US(times[k].us));
            answer_case(l, c);
            lines_run(l, NULL);
            if (times[k].fails) {
                expect_fail(l, cases[c].id, frame, cases[c].whom);
                assert_int_equal(lines_finding(l, cases[c].id, VERDICT_FAIL, 0)->values[1], MS(100));
                assert_int_equal(lines_finding(l, cases[c].id, VERDICT_FAIL, 0)->values[2], MS(33)); /* tSenderResponse */
            } else {
                expect_verdict(l, cases[c].id, VERDICT_PASS);
            }
        }
    lines_free(l);
}

/* Until tSenderResponse has run out (24 ms at the least) whoever asked has no right to go on; then silence is proven. */
static void what_is_given_up_in_time_was_not_answered(void **state)
{
    static const struct { int64_t us; bool fails; } times[] = { { 23900, false }, { 24100, true } };
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++)
        for (unsigned k = 0; k < 2; k++) {
            void    *fixture = fresh(&l);
            uint64_t frame;

            contract(&fixture);
            frame = ask_case(l, c);
            wait_from_goodcrc(l, US(times[k].us));
            lines_control(l, cases[c].asker, CONTROL_GET_REVISION);
            lines_run(l, NULL);
            if (times[k].fails)
                expect_fail(l, cases[c].id, frame, cases[c].whom);
            else
                assert_int_equal(lines_result(l, cases[c].id).counts.failed, 0);
        }
    lines_free(l);
}

/*
 * Catalogue, exchange.answer: no reset in the span of 100 ms; exchange.request-answered: a Hard Reset within it is silence. The row of
 * exchange.request-after-caps names no reset: who waits for a Request and resets after 24 ms has heard none.
 */
static void a_reset_before_the_answer_was_due_leaves_it_undecided(void **state)
{
    static const int64_t times_us[] = { 5000, 23900, 24100, 99000 };
    struct lines        *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++)
        for (unsigned k = 0; k < 8; k++) {
            void    *fixture = fresh(&l);
            bool     hard = k % 2, late = k / 2 >= 2;
            uint64_t frame;

            if (c == CASE_SOFT_RESET && !hard)
                continue; /* a second Soft_Reset is another question */
            contract(&fixture);
            frame = ask_case(l, c);
            wait_from_goodcrc(l, US(times_us[k / 2]));
            if (hard)
                lines_reset(l, RECORD_HARD_RESET);
            else
                lines_control(l, cases[c].asker, CONTROL_SOFT_RESET);
            lines_run(l, NULL);
            if (c == CASE_CAPS ? late : c == CASE_REQUEST && hard && late)
                expect_fail(l, cases[c].id, frame, cases[c].whom);
            else if (c != CASE_CAPS)
                expect_undecided(l, cases[c].id, frame, CAUSE_RESET);
            else
                assert_int_equal(lines_result(l, cases[c].id).counts.failed, 0);
        }
    lines_free(l);
}

static void what_may_have_been_missed_leaves_silence_undecided(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++)
        for (unsigned bad = 0; bad < 2; bad++) {
            void    *fixture = fresh(&l);
            uint64_t frame;

            contract(&fixture);
            frame = ask_case(l, c);
            if (bad)
                lines_say(l, &(struct say){ .side = cases[c].asker == SIDE_SINK ? SIDE_SOURCE : SIDE_SINK, .type = CONTROL_ACCEPT,
                                            .spoilt = true });
            else
                lines_lost(l, 1);
            finish(l, MS(150));
            expect_undecided(l, cases[c].id, frame, bad ? CAUSE_BAD_PACKET : CAUSE_LOST);
        }
    lines_free(l);
}

static void what_nobody_heard_is_not_missed(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++) {
        void *fixture = fresh(&l);
        struct say say = { .side = cases[c].asker, .quiet = true, .type = CONTROL_GET_STATUS };

        if (c == CASE_REQUEST || c == CASE_CAPS) {
            say.message_class = CLASS_DATA;
            say.type = c == CASE_REQUEST ? DATA_REQUEST : DATA_SOURCE_CAPABILITIES;
            say.count = 1;
            say.words[0] = c == CASE_REQUEST ? ask_9v : caps[0];
        } else {
            say.type = c == CASE_STATUS ? CONTROL_GET_STATUS : c == CASE_RESERVED ? 27 : c == CASE_SOURCE_CAP ? CONTROL_GET_SOURCE_CAP : CONTROL_SOFT_RESET;
        }
        contract(&fixture);
        lines_say(l, &say);
        finish(l, MS(200));
        assert_int_equal(lines_result(l, cases[c].id).counts.failed + lines_result(l, cases[c].id).counts.undecided, 0);
    }
    lines_free(l);
}

static void the_end_of_the_recording_is_no_silence(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < CASES; c++) {
        void *fixture = fresh(&l);

        contract(&fixture);
        ask_case(l, c);
        wait_from_goodcrc(l, MS(99));
        lines_run(l, NULL);
        assert_int_equal(lines_result(l, cases[c].id).counts.failed + lines_result(l, cases[c].id).counts.undecided, 0);
    }
    lines_free(l);
}

/* Under 2.0 a port may keep silent about what it does not know, but a sink knows that it is one. */
static void under_2_0_only_the_sink_has_to_answer(void **state)
{
    struct lines *l = contract_in(state, HEADER_R2);
    uint64_t      frame;

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_wait(l, MS(200));
    frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    finish(l, MS(200));
    expect_fail(l, "exchange.answer", frame, WHO_SINK);
    expect_counts(l, "exchange.answer", 0, 1, 0);
}

static void under_an_unknown_revision_silence_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_attach(l);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_DR_SWAP);
    finish(l, MS(200));
    expect_undecided(l, "exchange.answer", frame, CAUSE_REVISION);
}

static void a_plug_owes_answers_too(void **state)
{
    static const bool known[] = { true, false };
    struct lines     *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        uint64_t frame;

        fresh(&l);
        lines_attach(l);
        if (known[k])
            lines_cable_identity(l, 1, 0, false);
        else
            lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .type = CONTROL_ACCEPT });
        lines_negotiate(l, 2, caps, ask_9v);
        frame = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .type = CONTROL_GET_STATUS });
        finish(l, MS(200));
        if (known[k])
            expect_fail(l, "exchange.answer", frame, WHO_CABLE);
        else
            expect_verdict(l, "exchange.answer", VERDICT_NOT_SEEN);
    }
    lines_free(l);
}

/* Section 6: a message that must not be there needs no answer. */
static void a_message_that_should_not_be_there_needs_no_answer(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SOURCE, CONTROL_GET_PPS_STATUS); /* the sink's to ask */
    finish(l, MS(200));
    expect_verdict(l, "message.direction", VERDICT_FAIL);
    expect_verdict(l, "exchange.answer", VERDICT_NOT_SEEN);
    expect_only(l, "exchange.", NULL);
}

/* exchange.request-after-caps */

static void capabilities_that_were_asked_for_oblige_to_nothing(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 2, caps);
    finish(l, MS(200));
    expect_counts(l, "exchange.request-after-caps", 1, 0, 0);
    expect_only(l, "exchange.", NULL);
}

static void the_first_capabilities_oblige_even_if_they_were_asked_for(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_attach(l);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    frame = lines_caps(l, 2, caps);
    finish(l, MS(200));
    expect_fail(l, "exchange.request-after-caps", frame, WHO_SINK);
}

static void a_port_that_is_no_sink_says_not_supported(void **state)
{
    struct lines *l = contract(state);

    lines_caps(l, 2, caps);
    lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
    finish(l, MS(200));
    expect_counts(l, "exchange.request-after-caps", 1, 0, 0);
}

/* In EPR mode it is the other capabilities that oblige, and each question of Extended_Control has a rule of its own. */
static void in_epr_mode_each_question_has_its_owner(void **state)
{
    static const struct { uint8_t side, control; const char *owner; uint8_t whom; } asks[] = {
        { SIDE_SINK, 1, "exchange.source-caps-answer", WHO_SOURCE }, /* EPR_Get_Source_Cap */
        { SIDE_SOURCE, 2, "exchange.answer", WHO_SINK },             /* EPR_Get_Sink_Cap */
        { SIDE_SINK, 3, "epr.keepalive-ack", WHO_SOURCE },           /* EPR_KeepAlive */
        { SIDE_SOURCE, 0, "exchange.request-after-caps", WHO_SINK }, /* EPR_Source_Capabilities again */
    };
    static const uint32_t words[] = { 0x0081912c, 0x0002d12c, 0, 0, 0, 0, 0, 0x0008c1f4 };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof asks / sizeof asks[0]; k++) {
        void    *fixture = fresh(&l);
        uint8_t  block[2] = { asks[k].control };
        uint64_t frame;

        epr_contract(&fixture);
        lines_accept_and_ready(l);
        lines_wait(l, MS(100));
        frame = asks[k].control ? lines_extended(l, asks[k].side, EXTENDED_CONTROL, block, 2) : lines_epr_caps(l, 8, words);
        finish(l, MS(120));
        expect_fail(l, asks[k].owner, frame, asks[k].whom);
        expect_only(l, "exchange.", asks[k].owner);
    }
    lines_free(l);
}

static void plain_capabilities_in_epr_mode_oblige_to_no_request(void **state)
{
    struct lines *l = epr_contract(state);

    lines_accept_and_ready(l);
    lines_wait(l, MS(100));
    lines_caps(l, 2, caps);
    lines_wait(l, MS(5));
    lines_reset(l, RECORD_HARD_RESET);
    finish(l, MS(5));
    expect_only(l, "exchange.", NULL);
}

/* exchange.answer-kind */

struct kind { uint8_t side, ask, answer; uint8_t revision; bool fails; };

static void the_wrong_answer_is_told_where_it_stands(void **state)
{
    static const struct kind kinds[] = {
        { SIDE_SINK, CONTROL_GET_STATUS, CONTROL_REJECT, HEADER_R3, true },
        { SIDE_SINK, CONTROL_GET_STATUS, CONTROL_NOT_SUPPORTED, HEADER_R3, false },
        { SIDE_SINK, CONTROL_DR_SWAP, CONTROL_WAIT, HEADER_R3, false },
        { SIDE_SINK, CONTROL_DATA_RESET, CONTROL_WAIT, HEADER_R3, true },
        { SIDE_SINK, CONTROL_FR_SWAP, CONTROL_REJECT, HEADER_R3, true },
        { SIDE_SINK, CONTROL_FR_SWAP, CONTROL_NOT_SUPPORTED, HEADER_R3, false },
        /* who is the sink has sink capabilities, who is the source source capabilities */
        { SIDE_SOURCE, CONTROL_GET_SINK_CAP, CONTROL_NOT_SUPPORTED, HEADER_R3, true },
        { SIDE_SINK, CONTROL_GET_SINK_CAP, CONTROL_NOT_SUPPORTED, HEADER_R3, false },
        { SIDE_SINK, CONTROL_GET_SINK_CAP, CONTROL_REJECT, HEADER_R3, true },
        { SIDE_SINK, CONTROL_GET_SINK_CAP, CONTROL_REJECT, HEADER_R2, false },
        { SIDE_SINK, CONTROL_GET_SOURCE_CAP, CONTROL_REJECT, HEADER_R3, true },
        { SIDE_SINK, CONTROL_GET_SOURCE_CAP, CONTROL_ACCEPT, HEADER_R3, true },
    };
    static const uint32_t dual[] = { 0x2001912c, 0x0002d12c }; /* dual-role power: Get_Sink_Cap may come from the sink */
    struct lines         *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
        unsigned other = kinds[k].side == SIDE_SINK ? SIDE_SOURCE : SIDE_SINK;
        uint64_t frame;

        fresh(&l)->revision = kinds[k].revision;
        lines_attach(l);
        lines_negotiate(l, 2, dual, ask_9v);
        lines_control(l, kinds[k].side, kinds[k].ask);
        frame = lines_control(l, other, kinds[k].answer);
        finish(l, MS(200));
        if (kinds[k].fails) {
            expect_fail(l, "exchange.answer-kind", frame, other == SIDE_SOURCE ? WHO_SOURCE : WHO_SINK);
            expect_only(l, "exchange.", "exchange.answer-kind");
        } else {
            expect_verdict(l, "exchange.answer-kind", VERDICT_PASS);
            expect_only(l, "exchange.", NULL);
        }
    }
    lines_free(l);
}

static void after_a_gap_the_wrong_answer_is_undecided(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_lost(l, 2);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    finish(l, MS(200));
    expect_undecided(l, "exchange.answer-kind", frame, CAUSE_LOST);
}

/* Catalogue, section 7: if the sink had asked for them in a contract, Request or nothing. */
static void a_sink_that_asked_for_capabilities_may_go_on_without_a_request(void **state)
{
    static const uint32_t sink_caps[] = { 0x0001912c };
    struct lines         *l = NULL;

    (void)state;
    for (unsigned asked = 0; asked < 2; asked++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        if (asked)
            lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
        lines_caps(l, 2, caps);
        frame = lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, sink_caps);
        finish(l, MS(200));
        if (asked)
            expect_only(l, "exchange.", NULL);
        else
            expect_fail(l, "exchange.answer-kind", frame, WHO_SINK);
    }
    lines_free(l);
}

static void not_supported_is_no_answer_to_a_request(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_request(l, ask_9v);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    finish(l, MS(20));
    expect_fail(l, "exchange.answer-kind", frame, WHO_SOURCE);
    expect_only(l, "exchange.", "exchange.answer-kind");
}

/* exchange.not-supported */

static void an_unknown_type_is_answered_with_not_supported(void **state)
{
    static const struct { uint8_t answer; bool passes, silent; } answers[] = {
        { CONTROL_NOT_SUPPORTED, true, false }, { CONTROL_REJECT, false, false }, { CONTROL_SOFT_RESET, false, false }, { 0, false, true },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        void    *fixture = fresh(&l);
        uint64_t asked, answer;

        contract(&fixture);
        asked = answer = lines_control(l, SIDE_SINK, 27);
        if (answers[k].answer)
            answer = lines_control(l, SIDE_SOURCE, answers[k].answer);
        finish(l, answers[k].answer == CONTROL_SOFT_RESET ? MS(20) : MS(200));
        if (answers[k].passes)
            expect_verdict(l, "exchange.not-supported", VERDICT_PASS);
        else
            expect_fail(l, "exchange.not-supported", answers[k].silent ? asked : answer, WHO_SOURCE);
        expect_only(l, "exchange.", answers[k].passes ? NULL : "exchange.not-supported");
    }
    lines_free(l);
}

static void not_supported_is_owed_in_a_contract_under_3_x_alone(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        void *fixture = fresh(&l);

        if (k == 0)
            contract_in(&fixture, HEADER_R2);
        else
            lines_attach(l);
        lines_control(l, k == 0 ? SIDE_SINK : SIDE_SOURCE, 27);
        finish(l, MS(200));
        expect_verdict(l, "exchange.not-supported", VERDICT_NOT_SEEN);
    }
    lines_free(l);
}

static void a_gap_leaves_not_supported_undecided(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame = lines_control(l, SIDE_SINK, 27);

    lines_lost(l, 1);
    finish(l, MS(200));
    expect_undecided(l, "exchange.not-supported", frame, CAUSE_LOST);
}

/* exchange.soft-reset-accept */

static void a_soft_reset_that_is_refused_is_told_once(void **state)
{
    static const struct { uint8_t message_class, type; } answers[] = {
        { CLASS_CONTROL, CONTROL_REJECT }, { CLASS_CONTROL, CONTROL_NOT_SUPPORTED }, { CLASS_DATA, DATA_SOURCE_CAPABILITIES },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
        frame = answers[k].message_class == CLASS_DATA ? say_data(l, SIDE_SOURCE, answers[k].type, caps[0])
                                                       : lines_control(l, SIDE_SOURCE, answers[k].type);
        finish(l, MS(20));
        expect_fail(l, "exchange.soft-reset-accept", frame, WHO_SOURCE);
        expect_only(l, "exchange.", "exchange.soft-reset-accept");
    }
    lines_free(l);
}

static void soft_resets_that_cross_are_both_accepted(void **state)
{
    struct lines *l = contract(state);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_negotiate(l, 2, caps, ask_9v);
    finish(l, MS(200));
    expect_only(l, "exchange.", NULL);
}

/* exchange.ready-after-accept, exchange.hard-reset-after-timeout; tPSTransition 450 to 550 ms, EPR mode 830 to 1020 ms */

static void ps_rdy_comes_before_the_sinks_patience_is_over(void **state)
{
    static const struct { bool epr; int64_t us; bool fails; } times[] = {
        { false, 549900, false }, { false, 550100, true }, { true, 1019900, false }, { true, 1020100, true },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        if (times[k].epr)
            epr_contract(&fixture);
        else
            lines_request(contract(&fixture), ask_9v);
        frame = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        wait_from_goodcrc(l, US(times[k].us));
        lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
        finish(l, MS(200));
        if (times[k].fails)
            expect_fail(l, "exchange.ready-after-accept", frame, WHO_SOURCE);
        else
            expect_verdict(l, "exchange.ready-after-accept", VERDICT_PASS);
        expect_verdict(l, "exchange.hard-reset-after-timeout", VERDICT_NOT_SEEN);
        if (times[k].fails)
            expect_verdict(l, "time.ready-spr", times[k].epr ? VERDICT_PASS : VERDICT_PASS); /* of the contract before alone */
    }
    lines_free(l);
}

static void a_hard_reset_in_the_sinks_patience_shows_that_ps_rdy_was_missing(void **state)
{
    static const struct { bool epr; int64_t us; bool fails; } times[] = {
        { false, 449900, false }, { false, 450100, true }, { true, 829900, false }, { true, 830100, true },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        if (times[k].epr)
            epr_contract(&fixture);
        else
            lines_request(contract(&fixture), ask_9v);
        frame = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        wait_from_goodcrc(l, US(times[k].us));
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        if (times[k].fails)
            expect_fail(l, "exchange.ready-after-accept", frame, WHO_SOURCE);
        else
            expect_counts(l, "exchange.ready-after-accept", 1, 0, 0);
        expect_verdict(l, "exchange.hard-reset-after-timeout", times[k].fails ? VERDICT_PASS : VERDICT_NOT_SEEN);
    }
    lines_free(l);
}

static void a_gap_leaves_the_missing_ps_rdy_undecided(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_request(l, ask_9v);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(100));
    lines_lost(l, 1);
    finish(l, MS(700));
    expect_undecided(l, "exchange.ready-after-accept", frame, CAUSE_LOST);
    expect_undecided(l, "exchange.hard-reset-after-timeout", frame, CAUSE_LOST);
}

/* 550 (1020) + 5 + 100 ms after the Accept; 33 + 5 + 100 ms after the Request and the capabilities. */
static void whoever_waits_in_vain_resets(void **state)
{
    enum { WAIT_READY, WAIT_READY_EPR, WAIT_ANSWER, WAIT_REQUEST, WAITS };
    static const struct { int64_t limit_us; uint8_t whom; } waits[WAITS] = {
        [WAIT_READY] = { 655000, WHO_SINK }, [WAIT_READY_EPR] = { 1125000, WHO_SINK }, [WAIT_ANSWER] = { 138000, WHO_SINK }, [WAIT_REQUEST] = { 138000, WHO_SOURCE },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < WAITS; c++)
        for (unsigned late = 0; late < 2; late++) {
            void    *fixture = fresh(&l);
            uint64_t frame = 0;

            if (c == WAIT_READY_EPR)
                epr_contract(&fixture);
            else
                contract(&fixture);
            if (c != WAIT_READY_EPR)
                frame = c == WAIT_REQUEST ? lines_caps(l, 2, caps) : lines_request(l, ask_9v);
            if (c == WAIT_READY || c == WAIT_READY_EPR)
                frame = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
            wait_from_goodcrc(l, US(waits[c].limit_us + (late ? 100 : -100)));
            lines_reset(l, RECORD_HARD_RESET);
            lines_run(l, NULL);
            if (late)
                expect_fail(l, "exchange.hard-reset-after-timeout", frame, waits[c].whom);
            else
                expect_verdict(l, "exchange.hard-reset-after-timeout", VERDICT_PASS);
        }
    lines_free(l);
}

static void a_sink_without_a_contract_may_be_ignored(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_attach(l);
    frame = lines_caps(l, 2, caps);
    finish(l, MS(300));
    expect_fail(l, "exchange.request-after-caps", frame, WHO_SINK);
    expect_verdict(l, "exchange.hard-reset-after-timeout", VERDICT_NOT_SEEN);
}

/* exchange.no-ready-without-accept */

static void ps_rdy_without_an_accept_is_told_once(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);

    finish(l, MS(200));
    expect_fail(l, "exchange.no-ready-without-accept", frame, WHO_SOURCE);
    expect_only(l, "exchange.", "exchange.no-ready-without-accept");
}

static void ps_rdy_after_a_reject_fails_as_well(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_request(l, ask_9v);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    finish(l, MS(200));
    expect_fail(l, "exchange.no-ready-without-accept", frame, WHO_SOURCE);
}

static void what_lies_before_ps_rdy_may_be_missing(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        if (k == 0)
            lines_lost(contract(&fixture), 4);
        frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
        finish(l, MS(200));
        expect_undecided(l, "exchange.no-ready-without-accept", frame, k == 0 ? CAUSE_LOST : CAUSE_BEGINNING);
    }
    lines_free(l);
}

static void under_2_0_ps_rdy_may_follow_goto_min(void **state)
{
    struct lines *l = contract_in(state, HEADER_R2);

    lines_control(l, SIDE_SOURCE, CONTROL_GOTOMIN);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    finish(l, MS(200));
    expect_counts(l, "exchange.no-ready-without-accept", 2, 0, 0);
}

/* exchange.unexpected-message */

static void what_answers_nothing_is_unexpected(void **state)
{
    static const struct { uint8_t side, message_class, type; uint32_t word; } messages[] = {
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_ACCEPT, 0 },        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_REJECT, 0 },
        { SIDE_SOURCE, CLASS_CONTROL, CONTROL_WAIT, 0 },          { SIDE_SINK, CLASS_CONTROL, CONTROL_PS_RDY, 0 },
        { SIDE_SINK, CLASS_CONTROL, CONTROL_NOT_SUPPORTED, 0 },   { SIDE_SOURCE, CLASS_CONTROL, CONTROL_DATA_RESET_COMPLETE, 0 },
        { SIDE_SOURCE, CLASS_DATA, DATA_EPR_MODE, 0x02000000 },   { SIDE_SOURCE, CLASS_DATA, DATA_EPR_MODE, 0x03000000 },
        { SIDE_SINK, CLASS_DATA, DATA_VENDOR_DEFINED, 0xff00a041 }, { SIDE_SOURCE, CLASS_DATA, DATA_REVISION, 0x32100000 },
        { SIDE_SINK, CLASS_DATA, DATA_BATTERY_STATUS, 0 },        { SIDE_SOURCE, CLASS_EXTENDED, EXTENDED_STATUS, 0 },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof messages / sizeof messages[0]; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        if (messages[k].message_class == CLASS_EXTENDED)
            frame = say_status(l, messages[k].side);
        else if (messages[k].message_class == CLASS_DATA)
            frame = say_data(l, messages[k].side, messages[k].type, messages[k].word);
        else
            frame = lines_control(l, messages[k].side, messages[k].type);
        finish(l, MS(50));
        expect_fail(l, "exchange.unexpected-message", frame, messages[k].side == SIDE_SOURCE ? WHO_SOURCE : WHO_SINK);
        expect_only(l, "exchange.", "exchange.unexpected-message");
    }
    lines_free(l);
}

static void sink_capabilities_may_come_once_unasked(void **state)
{
    struct lines *l = contract(state);
    uint64_t      second;

    say_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 0x0001912c);
    lines_wait(l, MS(300));
    second = say_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 0x0001912c);
    finish(l, MS(50));
    expect_fail(l, "exchange.unexpected-message", second, WHO_SINK);
}

/* tSenderResponse, 33 ms at the most, and 100 ms. */
static void a_late_answer_is_late_and_not_unexpected(void **state)
{
    static const struct { int64_t us; bool fails; } times[] = { { 132900, false }, { 133100, true } };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        wait_from_goodcrc(l, US(times[k].us));
        frame = say_status(l, SIDE_SOURCE);
        finish(l, MS(50));
        if (times[k].fails)
            expect_fail(l, "exchange.unexpected-message", frame, WHO_SOURCE);
        else
            assert_int_equal(lines_result(l, "exchange.unexpected-message").counts.failed, 0);
        expect_verdict(l, "exchange.answer", VERDICT_FAIL);
    }
    lines_free(l);
}

static void before_a_gap_something_may_have_been_asked(void **state)
{
    static const struct { int64_t ms; bool fails; } times[] = { { 50, false }, { 150, true } };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        lines_lost(contract(&fixture), 1);
        lines_wait(l, MS(times[k].ms));
        frame = say_status(l, SIDE_SOURCE);
        finish(l, MS(50));
        if (times[k].fails)
            expect_fail(l, "exchange.unexpected-message", frame, WHO_SOURCE);
        else
            expect_undecided(l, "exchange.unexpected-message", frame, CAUSE_LOST);
    }
    lines_free(l);
}

/* Refusals of what nobody has to answer, steps of what was agreed on, later chunks. */
static void these_carry_on_what_was_begun(void **state)
{
    static const uint8_t block[40] = { 0 };
    struct lines        *l = contract(state);

    say_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0x12340001); /* unstructured */
    lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
    say_data(l, SIDE_SOURCE, DATA_ALERT, 0x02000000);
    lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
    lines_control(l, SIDE_SOURCE, CONTROL_VCONN_SWAP);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_control(l, SIDE_SINK, CONTROL_PS_RDY);
    lines_control(l, SIDE_SINK, CONTROL_GET_COUNTRY_CODES);
    lines_chunks(l, SIDE_SOURCE, EXTENDED_COUNTRY_CODES, block, 30);
    lines_control(l, SIDE_SOURCE, CONTROL_DATA_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    lines_wait(l, MS(150));
    lines_control(l, SIDE_SOURCE, CONTROL_DATA_RESET_COMPLETE);
    lines_enter_epr(l);
    finish(l, MS(50));
    expect_only(l, "exchange.", NULL);
}

/* The refusal of a message that was unexpected itself is no second fault. */
static void one_stray_message_is_one_finding(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame = say_data(l, SIDE_SOURCE, DATA_BATTERY_STATUS, 0);

    lines_control(l, SIDE_SINK, CONTROL_NOT_SUPPORTED);
    finish(l, MS(50));
    expect_fail(l, "exchange.unexpected-message", frame, WHO_SOURCE);
}

/* exchange.one-at-a-time */

static void a_question_waits_for_the_answer_to_the_last(void **state)
{
    static const struct { uint8_t second; int64_t us; bool fails, crosses; } rows[] = {
        { SIDE_SINK, 3000, true, false },   { SIDE_SINK, 23800, true, false },   { SIDE_SINK, 24100, false, false },
        { SIDE_SOURCE, 3000, true, false }, { SIDE_SOURCE, 23800, true, false }, { SIDE_SOURCE, 24100, false, false },
        { SIDE_SOURCE, 300, false, true }, /* begun before the end of the first was heard: 0.1 + 0.5 + 0.3 ms after it */
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        wait_from_goodcrc(l, US(rows[k].us));
        frame = lines_control(l, rows[k].second, CONTROL_GET_REVISION);
        say_data(l, rows[k].second == SIDE_SINK ? SIDE_SOURCE : SIDE_SINK, DATA_REVISION, 0x30000000);
        lines_run(l, NULL);
        if (rows[k].fails) {
            expect_fail(l, "exchange.one-at-a-time", frame, rows[k].second == SIDE_SINK ? WHO_SINK : WHO_SOURCE);
            assert_int_equal(lines_finding(l, "exchange.one-at-a-time", VERDICT_FAIL, 0)->values[2], MS(33));
            expect_only(l, "exchange.", "exchange.one-at-a-time");
        } else if (rows[k].crosses) {
            expect_undecided(l, "exchange.one-at-a-time", frame, CAUSE_CROSSING);
        } else {
            assert_int_equal(lines_result(l, "exchange.one-at-a-time").counts.failed, 0);
        }
    }
    lines_free(l);
}

static void nothing_is_begun_between_accept_and_ps_rdy(void **state)
{
    static const uint8_t sides[] = { SIDE_SINK, SIDE_SOURCE };
    struct lines        *l = NULL;

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        lines_request(l, ask_9v);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        frame = lines_control(l, sides[k], CONTROL_GET_STATUS);
        say_status(l, k == 0 ? SIDE_SOURCE : SIDE_SINK);
        lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
        finish(l, MS(200));
        expect_fail(l, "exchange.one-at-a-time", frame, k == 0 ? WHO_SINK : WHO_SOURCE);
        expect_only(l, "exchange.", "exchange.one-at-a-time");
    }
    lines_free(l);
}

static void a_sink_asks_nothing_between_offer_and_request(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_caps(l, 2, caps);
    frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    say_status(l, SIDE_SOURCE);
    lines_request(l, ask_9v);
    lines_accept_and_ready(l);
    finish(l, MS(200));
    expect_fail(l, "exchange.one-at-a-time", frame, WHO_SINK);
    expect_only(l, "exchange.", "exchange.one-at-a-time");
}

static void a_vdm_may_be_interrupted_and_alerts_come_at_any_time(void **state)
{
    struct lines *l = contract(state);

    say_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001);
    lines_request(l, ask_9v);
    say_data(l, SIDE_SINK, DATA_ALERT, 0x02000000);
    lines_accept_and_ready(l);
    finish(l, MS(200));
    expect_only(l, "exchange.", NULL);
}

static void under_2_0_nothing_is_said_of_the_order(void **state)
{
    struct lines *l = contract_in(state, HEADER_R2);

    lines_control(l, SIDE_SINK, CONTROL_DR_SWAP);
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    finish(l, MS(10));
    expect_verdict(l, "exchange.one-at-a-time", VERDICT_NOT_SEEN);
}

static void after_a_gap_something_may_be_open(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    lines_lost(l, 1);
    frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    say_status(l, SIDE_SOURCE);
    finish(l, MS(10));
    expect_undecided(l, "exchange.one-at-a-time", frame, CAUSE_LOST);
}

/* exchange.sink-tx; CC_STATE rp: 2 is 1.5 A, 3 is 3.0 A */

static void the_sink_begins_only_at_3_a(void **state)
{
    enum { TX_PASS, TX_FAIL, TX_UNSURE, TX_NOT_SEEN };
    static const struct { uint8_t rp; int64_t us; uint8_t type, verdict; } rows[] = {
        { 3, 20000, CONTROL_GET_STATUS, TX_PASS },  { 2, 20000, CONTROL_GET_STATUS, TX_FAIL }, { 1, 20000, CONTROL_GET_STATUS, TX_FAIL },
        { 2, 4900, CONTROL_GET_STATUS, TX_UNSURE }, { 2, 5100, CONTROL_GET_STATUS, TX_FAIL },  { 0, 20000, CONTROL_GET_STATUS, TX_NOT_SEEN },
        { 2, 20000, CONTROL_SOFT_RESET, TX_NOT_SEEN }, { 2, 20000, CONTROL_FR_SWAP, TX_NOT_SEEN },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        contract(&fixture);
        lines_cc(l, 1, rows[k].rp);
        lines_wait(l, US(rows[k].us));
        frame = lines_control(l, SIDE_SINK, rows[k].type);
        lines_run(l, NULL);
        if (rows[k].verdict == TX_FAIL)
            expect_fail(l, "exchange.sink-tx", frame, WHO_SINK);
        else if (rows[k].verdict == TX_UNSURE)
            expect_undecided(l, "exchange.sink-tx", frame, CAUSE_RP);
        else
            expect_verdict(l, "exchange.sink-tx", rows[k].verdict == TX_PASS ? VERDICT_PASS : VERDICT_NOT_SEEN);
    }
    lines_free(l);
}

static void answers_are_free_of_rp(void **state)
{
    struct lines *l = contract(state);

    lines_cc(l, 1, 2);
    lines_wait(l, MS(20));
    lines_caps(l, 2, caps);
    lines_request(l, ask_9v);
    lines_accept_and_ready(l);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    say_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 0x0001912c);
    finish(l, MS(50));
    expect_verdict(l, "exchange.sink-tx", VERDICT_NOT_SEEN);
}

/* A Request up to 100 ms after a loss may answer an offer that was lost. */
static void soon_after_a_loss_a_request_may_be_an_answer(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned late = 0; late < 2; late++) {
        void *fixture = fresh(&l);

        lines_lost(contract(&fixture), 1);
        lines_wait(l, MS(20));
        lines_cc(l, 1, 2);
        lines_wait(l, MS(late ? 82 : 78));

        uint64_t frame = lines_request(l, ask_9v);

        lines_run(l, NULL);
        if (late)
            expect_fail(l, "exchange.sink-tx", frame, WHO_SINK);
        else
            expect_undecided(l, "exchange.sink-tx", frame, CAUSE_LOST);
    }
    lines_free(l);
}

static void after_a_loss_rp_is_unknown(void **state)
{
    struct lines *l = contract(state);

    lines_cc(l, 1, 2);
    lines_wait(l, MS(20));
    lines_lost(l, 1);
    lines_wait(l, MS(20));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    expect_verdict(l, "exchange.sink-tx", VERDICT_NOT_SEEN);
}

/* exchange.wait-endless; wait_max: 10 */

static uint64_t waits(struct lines *l, unsigned count, uint32_t word)
{
    uint64_t frame = 0;

    for (unsigned k = 0; k < count; k++) {
        lines_request(l, word);
        frame = lines_control(l, SIDE_SOURCE, CONTROL_WAIT);
        lines_wait(l, MS(110));
    }
    return frame;
}

static void ten_waits_in_a_row_are_the_most(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned count = 10; count <= 11; count++) {
        void    *fixture = fresh(&l);
        uint64_t frame;

        frame = waits(contract(&fixture), count, ask_9v);
        finish(l, MS(50));
        if (count == 11)
            expect_fail(l, "exchange.wait-endless", frame, WHO_SOURCE);
        else
            expect_counts(l, "exchange.wait-endless", 1, 0, 0);
    }
    lines_free(l);
}

static void a_new_offer_or_another_request_begins_a_new_row(void **state)
{
    struct lines *l = contract(state);

    waits(l, 6, ask_9v);
    waits(l, 6, 0x1004b12c);
    lines_caps(l, 2, caps);
    waits(l, 6, 0x1004b12c);
    finish(l, MS(50));
    expect_counts(l, "exchange.wait-endless", 3, 0, 0);
}

static void a_row_with_records_missing_is_undecided(void **state)
{
    struct lines *l = contract(state);
    uint64_t      frame;

    waits(l, 3, ask_9v);
    lines_lost(l, 1);
    frame = waits(l, 1, ask_9v);
    finish(l, MS(50));
    expect_undecided(l, "exchange.wait-endless", frame, CAUSE_LOST);
}

/* Section 6: what is wrong with a message itself is told once; nothing is said of its answer, or of its time. */

static uint64_t odd_control(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .type = (uint8_t)type, .bytes_off = 4 });
}

static uint64_t odd_objects(struct lines *l, unsigned side, unsigned type, unsigned count)
{
    static const uint32_t zeros[7];

    return lines_data(l, side, type, count, zeros);
}

static uint64_t on_sop1(struct lines *l, unsigned side, unsigned type)
{
    return lines_say(l, &(struct say){ .side = (uint8_t)side, .set = SET_SOP1, .type = (uint8_t)type });
}

static void ask_sop1_swap(struct lines *l) { on_sop1(l, SIDE_SOURCE, CONTROL_DR_SWAP); }
static void ask_too_long(struct lines *l) { odd_control(l, SIDE_SINK, CONTROL_GET_STATUS); }
static void ask_too_many(struct lines *l) { odd_objects(l, SIDE_SOURCE, DATA_GET_COUNTRY_INFO, 2); }
static void ask_wrong_side(struct lines *l) { lines_control(l, SIDE_SOURCE, CONTROL_GET_PPS_STATUS); }
static void ask_too_new(struct lines *l) { lines_control(l, SIDE_SINK, CONTROL_GET_STATUS); }
static void rejected(struct lines *l, unsigned side) { lines_control(l, side, CONTROL_REJECT); }

static void kind_wrong_side(struct lines *l) { ask_wrong_side(l), rejected(l, SIDE_SINK); }
static void kind_too_new(struct lines *l) { ask_too_new(l), rejected(l, SIDE_SOURCE); }
static void kind_too_long(struct lines *l) { ask_too_long(l), rejected(l, SIDE_SOURCE); }
static void kind_too_many(struct lines *l) { ask_too_many(l), rejected(l, SIDE_SINK); }
static void kind_on_sop1(struct lines *l)
{
    ask_sop1_swap(l);
    lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_EXTENDED, .type = EXTENDED_STATUS,
                                .block = "\0\0", .size = 2 });
}

static void request_too_new(struct lines *l) { lines_epr_request(l, ask_9v, caps[1]); }
static void request_too_long(struct lines *l)
{
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1, .words = { ask_9v },
                                .bytes_off = 4 });
}
static void request_too_many(struct lines *l) { odd_objects(l, SIDE_SINK, DATA_REQUEST, 2); }
static void request_plain(struct lines *l) { lines_request(l, ask_9v); }

static void caps_too_long(struct lines *l)
{
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                                .words = { caps[0] }, .bytes_off = 4 });
}
static void source_cap_too_long(struct lines *l) { odd_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP); }
static void source_cap_too_many(struct lines *l)
{
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_EXTENDED, .type = EXTENDED_CONTROL, .block = "\1\0\0\0\0",
                                .size = 2, .objects_off = 1, .bytes_off = 4 });
}
static void soft_reset_too_long(struct lines *l) { odd_control(l, SIDE_SINK, CONTROL_SOFT_RESET); }

static void stray_wrong_side(struct lines *l) { odd_objects(l, SIDE_SINK, DATA_SOURCE_INFO, 1); }
static void stray_on_sop1(struct lines *l) { on_sop1(l, SIDE_CABLE, CONTROL_REJECT); }
static void stray_too_new(struct lines *l) { lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED); }
static void stray_too_long(struct lines *l) { odd_control(l, SIDE_SOURCE, CONTROL_ACCEPT); }
static void stray_too_many(struct lines *l) { odd_objects(l, SIDE_SOURCE, DATA_REVISION, 2); }

static void second_wrong_side(struct lines *l) { ask_too_new(l), ask_wrong_side(l); }
static void second_too_long(struct lines *l) { ask_too_new(l), odd_control(l, SIDE_SOURCE, CONTROL_GET_STATUS); }
static void second_too_many(struct lines *l) { ask_too_new(l), ask_too_many(l); }
static void second_too_new(struct lines *l)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    say_data(l, SIDE_SOURCE, DATA_REVISION, 0x30000000); /* 3.0 */
    ask_too_new(l);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION); /* since 3.1 */
}

struct quiet { const char *id, *because; void (*begin)(struct lines *l); uint8_t revision; bool epr, reset; };

static void what_is_told_of_the_message_is_not_told_again(void **state)
{
    static const struct quiet rows[] = {
        { "exchange.answer", "message.direction", ask_wrong_side, HEADER_R3, false, false },
        { "exchange.answer", "message.set-allowed", ask_sop1_swap, HEADER_R3, false, false },
        { "exchange.answer", "message.length", ask_too_long, HEADER_R3, false, false },
        { "exchange.answer", "message.object-count", ask_too_many, HEADER_R3, false, false },
        { "exchange.answer-kind", "message.direction", kind_wrong_side, HEADER_R3, false, false },
        { "exchange.answer-kind", "message.set-allowed", kind_on_sop1, HEADER_R3, false, false },
        { "exchange.answer-kind", "message.allowed-in-revision", kind_too_new, HEADER_R2, false, false },
        { "exchange.answer-kind", "message.length", kind_too_long, HEADER_R3, false, false },
        { "exchange.answer-kind", "message.object-count", kind_too_many, HEADER_R3, false, false },
        { "exchange.request-answered", "message.allowed-in-revision", request_too_new, HEADER_R2, false, false },
        { "exchange.request-answered", "message.length", request_too_long, HEADER_R3, false, false },
        { "exchange.request-answered", "message.object-count", request_too_many, HEADER_R3, false, false },
        { "exchange.request-answered", "epr.request-kind", request_plain, HEADER_R3, true, true },
        { "exchange.request-after-caps", "message.length", caps_too_long, HEADER_R3, false, false },
        { "exchange.source-caps-answer", "message.length", source_cap_too_long, HEADER_R3, false, false },
        { "exchange.source-caps-answer", "message.object-count", source_cap_too_many, HEADER_R3, true, false },
        { "exchange.soft-reset-accept", "message.length", soft_reset_too_long, HEADER_R3, false, false },
        { "exchange.unexpected-message", "message.direction", stray_wrong_side, HEADER_R3, false, false },
        { "exchange.unexpected-message", "message.set-allowed", stray_on_sop1, HEADER_R3, false, false },
        { "exchange.unexpected-message", "message.allowed-in-revision", stray_too_new, HEADER_R2, false, false },
        { "exchange.unexpected-message", "message.length", stray_too_long, HEADER_R3, false, false },
        { "exchange.unexpected-message", "message.object-count", stray_too_many, HEADER_R3, false, false },
        { "exchange.one-at-a-time", "message.direction", second_wrong_side, HEADER_R3, false, false },
        { "exchange.one-at-a-time", "message.allowed-in-revision", second_too_new, HEADER_R3, false, false },
        { "exchange.one-at-a-time", "message.length", second_too_long, HEADER_R3, false, false },
        { "exchange.one-at-a-time", "message.object-count", second_too_many, HEADER_R3, false, false },
    };
    struct lines *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof rows / sizeof rows[0]; k++) {
        void *fixture = fresh(&l);

        l->revision = rows[k].revision;
        lines_attach(l);
        if (rows[k].epr) {
            epr_contract(&fixture);
            lines_accept_and_ready(l);
        } else {
            lines_cable_identity(l, 1, 0, false);
            lines_negotiate(l, 2, caps, ask_9v);
        }
        lines_wait(l, MS(200));
        rows[k].begin(l);
        if (rows[k].reset) {
            lines_wait(l, MS(28));
            lines_reset(l, RECORD_HARD_RESET);
        }
        finish(l, MS(200));
        if (lines_result(l, rows[k].because).counts.failed == 0)
            fail_msg("%s: %s does not fail", rows[k].id, rows[k].because);
        if (lines_result(l, rows[k].id).counts.failed || lines_result(l, rows[k].id).counts.undecided)
            fail_msg("%s is told beside %s", rows[k].id, rows[k].because);
    }
    lines_free(l);
}

/* Limits that only some exchanges come to */

static void an_exchange_may_be_open_just_so_long(void **state)
{
    enum { OPEN_POWER, OPEN_EPR, OPEN_VCONN, OPENS };
    static const int64_t limits_us[OPENS] = { [OPEN_POWER] = 450000, [OPEN_EPR] = 830000, [OPEN_VCONN] = 100000 };
    static const int64_t most_ns[OPENS] = { [OPEN_POWER] = MS(550), [OPEN_EPR] = MS(1020), [OPEN_VCONN] = MS(200) };
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < OPENS; c++)
        for (unsigned after = 0; after < 2; after++) {
            void    *fixture = fresh(&l);
            uint64_t frame;

            if (c == OPEN_EPR)
                epr_contract(&fixture);
            else if (c == OPEN_POWER)
                lines_request(contract(&fixture), ask_9v);
            else
                lines_control(contract(&fixture), SIDE_SINK, CONTROL_VCONN_SWAP);
            lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
            wait_from_goodcrc(l, US(limits_us[c] + (after ? 3000 : -3000)));
            frame = lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
            say_status(l, SIDE_SOURCE);
            lines_run(l, NULL);
            if (!after) {
                expect_fail(l, "exchange.one-at-a-time", frame, WHO_SINK);
                assert_int_equal(lines_finding(l, "exchange.one-at-a-time", VERDICT_FAIL, 0)->values[2], most_ns[c]);
            } else
                assert_int_equal(lines_result(l, "exchange.one-at-a-time").counts.failed, 0);
        }
    lines_free(l);
}

/* 1.4 ms after the end of the question, 0.1 and 0.5 ms of them its GoodCRC. */
static void whoever_began_within_1_4_ms_may_not_have_heard(void **state)
{
    static const uint8_t asked[] = { CONTROL_GET_STATUS, CONTROL_SOFT_RESET };
    static const char *const rule[] = { "exchange.one-at-a-time", "exchange.soft-reset-accept" };
    struct lines *l = NULL;

    (void)state;
    for (unsigned c = 0; c < 2; c++)
        for (unsigned later = 0; later < 2; later++) {
            void    *fixture = fresh(&l);
            int64_t  end_ns;
            uint64_t frame;

            contract(&fixture);
            l->pause_ns = 0;
            end_ns = l->now_ns + record_nominal_ns(6); /* header and CRC */
            lines_control(l, SIDE_SINK, asked[c]);
            l->now_ns = end_ns + US(later ? 1420 : 1380);
            frame = lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION);
            lines_wait(l, MS(2));
            lines_run(l, NULL);
            if (later)
                expect_fail(l, rule[c], frame, WHO_SOURCE);
            else
                expect_undecided(l, rule[c], frame, CAUSE_CROSSING);
        }
    lines_free(l);
}

static void a_gap_counts_for_100_ms(void **state)
{
    struct lines *l = NULL;

    (void)state;
    for (unsigned after = 0; after < 2; after++) {
        void *fixture = fresh(&l);

        lines_lost(contract(&fixture), 1);
        lines_wait(l, US(after ? 100500 : 99500));
        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        say_status(l, SIDE_SOURCE);
        lines_run(l, NULL);
        expect_verdict(l, "exchange.one-at-a-time", after ? VERDICT_PASS : VERDICT_UNDECIDED);
    }
    lines_free(l);
}

/*
 * Patience: 24 to 30 ms under 2.0 and 3.0, 26 to 32 under 3.1, 27 to 33 under 3.2, 24 to 33 where the edition is unknown, 27 to 50 from
 * 3.2 V1.2 on; and 105 ms for the reset.
 */
static void the_edition_says_when_a_reset_is_due(void **state)
{
    static const struct { uint8_t standard; uint32_t revision; int64_t least_us, limit_us; } editions[] = {
        { 0, 0, 24000, 138000 },          { SINCE_R2, 0, 24000, 135000 },   { SINCE_R30, 0, 24000, 135000 },
        { SINCE_R31, 0, 26000, 137000 },  { SINCE_R32, 0, 27000, 138000 },  { 0, 0x32110000, 27000, 138000 },
        { 0, 0x32120000, 27000, 155000 },
    };
    static const unsigned verdicts[] = { VERDICT_NOT_SEEN, VERDICT_PASS, VERDICT_PASS, VERDICT_FAIL };
    struct lines         *l = NULL;

    (void)state;
    for (unsigned k = 0; k < sizeof editions / sizeof editions[0]; k++)
        for (unsigned at = 0; at < 4; at++) {
            struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = editions[k].standard };
            void                 *fixture = fresh(&l);

            contract(&fixture);
            if (editions[k].revision) {
                lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION);
                say_data(l, SIDE_SINK, DATA_REVISION, editions[k].revision);
                lines_wait(l, MS(200));
            }
            lines_request(l, ask_9v);
            wait_from_goodcrc(l, US((at < 2 ? editions[k].least_us : editions[k].limit_us) + (at % 2 ? 100 : -100)));
            lines_reset(l, RECORD_HARD_RESET);
            lines_run(l, &o);
            if (lines_result(l, "exchange.hard-reset-after-timeout").verdict != verdicts[at])
                fail_msg("edition %u, %u: %s", k, at, verdict_name(lines_result(l, "exchange.hard-reset-after-timeout").verdict));
        }
    lines_free(l);
}

/* ... 24 ms under 2.0 and 3.0 too where limits of one's own say 20 for a revision that is not known. */
static void the_edition_has_a_patience_of_its_own(void **state)
{
    enum { PARAMETERS_MOST = 256 };
    static struct parameter limits[PARAMETERS_MOST];
    struct lines           *l = NULL;
    unsigned                n = 0;

    (void)state;
    do {
        assert_true(n < PARAMETERS_MOST);
        limits[n] = parameters_all[n];
        if (limits[n].name && strcmp(limits[n].name, "tSenderResponse") == 0)
            limits[n].min = 20000;
    } while (parameters_all[n++].name);
    for (unsigned k = 0; k < 4; k++) {
        struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = k / 2 ? SINCE_R2 : SINCE_R30,
                                    .parameters = limits };
        void                 *fixture = fresh(&l);

        lines_request(contract(&fixture), ask_9v);
        wait_from_goodcrc(l, k % 2 ? US(24100) : US(23900));
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, &o);
        expect_verdict(l, "exchange.hard-reset-after-timeout", k % 2 ? VERDICT_PASS : VERDICT_NOT_SEEN);
    }
    lines_free(l);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)
int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(where_nothing_is_said_no_rule_has_an_occasion), cmocka_unit_test(the_edition_has_a_patience_of_its_own),
        TEST(a_sound_exchange_of_everything_passes),
        TEST(every_row_says_all_that_a_row_has_to_say), cmocka_unit_test(an_answer_within_100_ms_is_one_and_none_is_a_fault),
        cmocka_unit_test(what_is_given_up_in_time_was_not_answered), TEST(a_reset_before_the_answer_was_due_leaves_it_undecided), TEST(a_sink_that_asked_for_capabilities_may_go_on_without_a_request),
        cmocka_unit_test(what_may_have_been_missed_leaves_silence_undecided), cmocka_unit_test(what_nobody_heard_is_not_missed),
        cmocka_unit_test(the_end_of_the_recording_is_no_silence), TEST(under_2_0_only_the_sink_has_to_answer),
        TEST(under_an_unknown_revision_silence_is_undecided), cmocka_unit_test(a_plug_owes_answers_too),
        TEST(a_message_that_should_not_be_there_needs_no_answer), TEST(capabilities_that_were_asked_for_oblige_to_nothing),
        TEST(the_first_capabilities_oblige_even_if_they_were_asked_for), TEST(a_port_that_is_no_sink_says_not_supported),
        cmocka_unit_test(in_epr_mode_each_question_has_its_owner),
        TEST(plain_capabilities_in_epr_mode_oblige_to_no_request), cmocka_unit_test(the_wrong_answer_is_told_where_it_stands), TEST(after_a_gap_the_wrong_answer_is_undecided),
        TEST(not_supported_is_no_answer_to_a_request), cmocka_unit_test(an_unknown_type_is_answered_with_not_supported),
        cmocka_unit_test(not_supported_is_owed_in_a_contract_under_3_x_alone), TEST(a_gap_leaves_not_supported_undecided),
        cmocka_unit_test(a_soft_reset_that_is_refused_is_told_once), TEST(soft_resets_that_cross_are_both_accepted),
        cmocka_unit_test(ps_rdy_comes_before_the_sinks_patience_is_over),
        cmocka_unit_test(a_hard_reset_in_the_sinks_patience_shows_that_ps_rdy_was_missing),
        TEST(a_gap_leaves_the_missing_ps_rdy_undecided), cmocka_unit_test(whoever_waits_in_vain_resets),
        TEST(a_sink_without_a_contract_may_be_ignored), TEST(ps_rdy_without_an_accept_is_told_once),
        TEST(ps_rdy_after_a_reject_fails_as_well), cmocka_unit_test(what_lies_before_ps_rdy_may_be_missing),
        TEST(under_2_0_ps_rdy_may_follow_goto_min), cmocka_unit_test(what_answers_nothing_is_unexpected),
        TEST(sink_capabilities_may_come_once_unasked), cmocka_unit_test(a_late_answer_is_late_and_not_unexpected),
        cmocka_unit_test(before_a_gap_something_may_have_been_asked), TEST(these_carry_on_what_was_begun),
        TEST(one_stray_message_is_one_finding), cmocka_unit_test(a_question_waits_for_the_answer_to_the_last),
        cmocka_unit_test(nothing_is_begun_between_accept_and_ps_rdy), TEST(a_sink_asks_nothing_between_offer_and_request),
        TEST(a_vdm_may_be_interrupted_and_alerts_come_at_any_time), TEST(under_2_0_nothing_is_said_of_the_order),
        TEST(after_a_gap_something_may_be_open), cmocka_unit_test(the_sink_begins_only_at_3_a), TEST(answers_are_free_of_rp),
        TEST(after_a_loss_rp_is_unknown), cmocka_unit_test(soon_after_a_loss_a_request_may_be_an_answer), cmocka_unit_test(ten_waits_in_a_row_are_the_most),
        TEST(a_new_offer_or_another_request_begins_a_new_row), TEST(a_row_with_records_missing_is_undecided),
        cmocka_unit_test(what_is_told_of_the_message_is_not_told_again), cmocka_unit_test(an_exchange_may_be_open_just_so_long),
        cmocka_unit_test(whoever_began_within_1_4_ms_may_not_have_heard), cmocka_unit_test(a_gap_counts_for_100_ms),
        cmocka_unit_test(the_edition_says_when_a_reset_is_due),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
