/*
 * time.*, part one: how soon answers come, what is said again, and how long resets wait. Just inside and just outside each limit; what is
 * expected is typed from the catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/time_words.h"

#include "rules/judge.h"

void time_stand_in_check(struct judge *j, const struct event *e)
{
    struct outcome o = judge_outcome(j, e);
    uint32_t       word = message_word(&e->speech->m, 0);

    if (e->speech->m.message_class == CLASS_CONTROL || word == 0xff00a001 ||
        (e->speech->m.type == DATA_REQUEST && word >> 28 == TIME_REFUSED))
        judge_fail(j, &o);
}

/* A question of either side on SOP, and its answer that begins `ns` after the GoodCRC. */
struct asked {
    const char *id;
    struct say  question, answer;
    int64_t     most_ns;
    unsigned    whom;
};

#define SAYS_CONTROL(who, what) { .side = who, .message_class = CLASS_CONTROL, .type = what }
#define SAYS_WORD(who, what, word) { .side = who, .message_class = CLASS_DATA, .type = what, .count = 1, .words = { word } }

static const struct asked questions[] = {
    { "time.receiver-response", SAYS_CONTROL(SIDE_SOURCE, CONTROL_GET_SINK_CAP), SAYS_WORD(SIDE_SINK, DATA_SINK_CAPABILITIES, 0x0001912c),
      MS(15), WHO_SINK },
    { "time.receiver-response", SAYS_CONTROL(SIDE_SINK, CONTROL_GET_STATUS), SAYS_CONTROL(SIDE_SOURCE, CONTROL_NOT_SUPPORTED), MS(15),
      WHO_SOURCE },
    { "time.receiver-response", SAYS_CONTROL(SIDE_SINK, CONTROL_DR_SWAP), SAYS_CONTROL(SIDE_SOURCE, CONTROL_REJECT), MS(15), WHO_SOURCE },
    { "time.receiver-response", SAYS_CONTROL(SIDE_SINK, CONTROL_SOFT_RESET),
      { .side = SIDE_SOURCE, .message_class = CLASS_CONTROL, .type = CONTROL_ACCEPT, .id_given = true }, MS(15), WHO_SOURCE },
    { "time.source-response", SAYS_WORD(SIDE_SINK, DATA_REQUEST, 0x1004b12c), SAYS_CONTROL(SIDE_SOURCE, CONTROL_ACCEPT), MS(15), WHO_SOURCE },
    { "time.source-response", SAYS_WORD(SIDE_SINK, DATA_REQUEST, 0x1004b12c), SAYS_CONTROL(SIDE_SOURCE, CONTROL_WAIT), MS(15), WHO_SOURCE },
    { "time.vdm-response", SAYS_WORD(SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001), SAYS_WORD(SIDE_SINK, DATA_VENDOR_DEFINED, 0xff00a081),
      MS(15), WHO_SINK },
    { "time.vdm-response", SAYS_WORD(SIDE_SOURCE, DATA_VENDOR_DEFINED, 0x1209a104), SAYS_WORD(SIDE_SINK, DATA_VENDOR_DEFINED, 0x1209a144),
      MS(25), WHO_SINK }, /* Enter Mode */
    { "time.vdm-response", SAYS_WORD(SIDE_SOURCE, DATA_VENDOR_DEFINED, 0x1209a105), SAYS_WORD(SIDE_SINK, DATA_VENDOR_DEFINED, 0x1209a145),
      MS(25), WHO_SINK }, /* Exit Mode */
};

enum asked_case { ASKED_INSIDE, ASKED_OUTSIDE, ASKED_LOST, ASKED_LOST_INSIDE, ASKED_BAD, ASKED_HOST_TIME };

static uint64_t ask(void **state, const struct asked *q, enum asked_case how)
{
    struct lines *l = time_contract(state, 2);
    struct say    question = q->question, answer = q->answer;
    bool          inside = how == ASKED_INSIDE || how == ASKED_LOST_INSIDE || how == ASKED_HOST_TIME;
    int64_t       ns = q->most_ns + (inside ? 0 : NS_MORE);
    uint64_t      frame;

    question.host_time = answer.host_time = how == ASKED_HOST_TIME;
    lines_say(l, &question);
    time_after(l, ns);
    if (how == ASKED_LOST || how == ASKED_LOST_INSIDE) {
        lines_wait(l, -MS(1));
        lines_lost(l, 1);
        lines_wait(l, MS(1));
    } else if (how == ASKED_BAD) {
        int64_t then = l->now_ns;

        lines_wait(l, -MS(5));
        lines_say(l, &(struct say){ .side = question.side, .type = CONTROL_PING, .spoilt = true });
        l->now_ns = then;
    }
    frame = lines_say(l, &answer);
    lines_wait(l, MS(200));
    lines_run(l, NULL);
    return frame;
}

static void an_answer_just_in_time_passes_and_just_too_late_fails(void **state)
{
    for (unsigned k = 0; k < sizeof questions / sizeof questions[0]; k++) {
        const struct asked *q = &questions[k];
        unsigned others = strcmp(q->id, "time.source-response") == 0 ? 1 : 0; /* the Request of the contract */

        ask(state, q, ASKED_INSIDE);
        expect_counts(*state, q->id, 1 + others, 0, 0);
        time_again(state);
        expect_fail(*state, q->id, ask(state, q, ASKED_OUTSIDE), q->whom);
        time_again(state);
    }
}

static void a_late_answer_is_undecided_where_one_may_have_been_missed(void **state)
{
    static const struct { enum asked_case how; unsigned cause; } cases[] = {
        { ASKED_LOST, CAUSE_LOST }, { ASKED_BAD, CAUSE_BAD_PACKET }, { ASKED_HOST_TIME, CAUSE_UNCERTAINTY },
    };

    for (unsigned k = 0; k < sizeof questions / sizeof questions[0]; k++)
        for (unsigned c = 0; c < 3; c++) {
            uint64_t frame = ask(state, &questions[k], cases[c].how);

            expect_undecided(*state, questions[k].id, frame, cases[c].cause);
            time_again(state);
        }
}

static void an_answer_in_time_passes_even_beside_a_gap(void **state)
{
    ask(state, &questions[0], ASKED_LOST_INSIDE);
    expect_counts(*state, questions[0].id, 1, 0, 0);
}

static void nobody_asks_and_no_answer_is_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_run(l, NULL);
    expect_only(l, "time.", NULL);
    expect_verdict(l, "time.receiver-response", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.source-response", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.vdm-response", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.first-request", VERDICT_NOT_SEEN);
}

static void the_answer_to_a_reserved_type_is_not_timed(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_control(l, SIDE_SINK, 31);
    time_after(l, MS(20));
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_run(l, NULL);
    expect_verdict(l, "message.reserved-type", VERDICT_FAIL);
    expect_verdict(l, "time.receiver-response", VERDICT_NOT_SEEN);
}

static void what_is_not_to_be_there_is_not_answered_in_time_either(void **state)
{
    static const char *const silencers[] = {
        "message.reserved-type", "message.direction", "message.set-allowed", "message.allowed-in-revision",
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = time_contract(state, 2);

        lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
        time_after(l, MS(20));
        lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
        time_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001);
        time_after(l, MS(20));
        time_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 0xff00a081);
        time_run_beside(l, silencers[k]);
        expect_verdict(l, "time.receiver-response", VERDICT_NOT_SEEN);
        expect_verdict(l, "time.vdm-response", VERDICT_NOT_SEEN);
        time_run_beside(l, "message.length"); /* no such silencer */
        expect_verdict(l, "time.receiver-response", VERDICT_FAIL);
        expect_verdict(l, "time.vdm-response", VERDICT_FAIL);
        time_again(state);
    }
}

/* A Request that the stand-in fails about; then, before a reset or after it, a late Request and its late answer. */
static void an_exchange_that_failed_silences_what_follows_until_a_reset(void **state)
{
    for (unsigned k = 0; k < 6; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      asked, answered;

        lines_request(l, word_ask_fixed(TIME_REFUSED, 100, 100));
        time_after(l, MS(20));
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        lines_wait(l, MS(20));
        if (k % 2) {
            lines_reset(l, RECORD_HARD_RESET);
            lines_wait(l, MS(900));
        }
        lines_caps(l, 3, time_offer());
        time_after(l, MS(40));
        asked = lines_request(l, word_ask_fixed(2, 3000, 3000));
        time_after(l, MS(20));
        answered = lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        time_run_beside(l, time_power_silencers[k / 2]);
        expect_counts(l, "time.source-response", 1, k % 2, 0);
        expect_counts(l, "time.first-request", 1, k % 2, 0);
        if (k % 2) {
            expect_fail(l, "time.source-response", answered, WHO_SOURCE);
            expect_fail(l, "time.first-request", asked, WHO_SINK);
        }
        time_again(state);
    }
}

/* The finding says whether the sink had to reset by then. */
static void an_answer_after_the_sink_s_patience_is_said_to_be_so(void **state)
{
    static const struct { unsigned standard; int64_t patience_ns; } known[] = {
        { 0, MS(33) }, { SINCE_R2, MS(30) }, { SINCE_R30, MS(30) }, { SINCE_R31, MS(32) }, { SINCE_R32, MS(33) },
    };

    for (unsigned k = 0; k < 10; k++) {
        struct lines *l = time_contract(state, 2);

        lines_request(l, word_ask_fixed(1, 3000, 3000));
        time_after(l, known[k / 2].patience_ns + k % 2);
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        time_run_as(l, known[k / 2].standard);
        assert_int_equal(lines_finding(l, "time.source-response", VERDICT_FAIL, 0)->sentence, k % 2);
        time_again(state);
    }
}

static void a_sink_of_3_2_version_1_2_waits_50_ms_for_the_answer(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);

        lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION);
        time_data(l, SIDE_SINK, DATA_REVISION, 0x32200000);
        lines_request(l, word_ask_fixed(1, 3000, 3000));
        time_after(l, MS(50) + k);
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        lines_run(l, NULL);
        assert_int_equal(lines_finding(l, "time.source-response", VERDICT_FAIL, 0)->sentence, k);
        time_again(state);
    }
}

/* time.first-request: the limit by revision and edition */

static void expect_first_request(void **state, unsigned revision, unsigned standard, int64_t most_ns)
{
    for (unsigned outside = 0; outside < 2; outside++) {
        struct lines *l = *state;
        uint64_t      frame;

        l->revision = (uint8_t)revision;
        lines_attach(l);
        lines_caps(l, 3, time_offer());
        time_after(l, most_ns + outside);
        frame = lines_request(l, word_ask_fixed(2, 3000, 3000));
        lines_accept_and_ready(l);
        lines_run(l, &(struct engine_options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = (uint8_t)standard });
        if (outside)
            expect_fail(l, "time.first-request", frame, WHO_SINK);
        else
            expect_counts(l, "time.first-request", 1, 0, 0);
        time_again(state);
    }
}

static void the_first_request_has_as_long_as_its_edition_says(void **state)
{
    expect_first_request(state, HEADER_R2, 0, MS(30));
    expect_first_request(state, HEADER_R3, 0, MS(33));
    expect_first_request(state, HEADER_R3, SINCE_R30, MS(30));
    expect_first_request(state, HEADER_R3, SINCE_R31, MS(32));
    expect_first_request(state, HEADER_R3, SINCE_R32, MS(33));
}

/* The sink says by its Revision message which edition it keeps; then it is offered anew. */
static void a_sink_known_by_its_revision_message_is_judged_by_it(void **state)
{
    static const struct { uint32_t revision; int64_t most_ns; } known[] = {
        { 0x30000000, MS(30) }, { 0x31150000, MS(32) }, { 0x32110000, MS(33) }, { 0x32120000, MS(50) },
    };

    for (unsigned k = 0; k < 2 * sizeof known / sizeof known[0]; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        lines_control(l, SIDE_SOURCE, CONTROL_GET_REVISION);
        time_data(l, SIDE_SINK, DATA_REVISION, known[k / 2].revision);
        lines_caps(l, 2, time_offer());
        time_after(l, known[k / 2].most_ns + k % 2);
        frame = lines_request(l, word_ask_fixed(1, 3000, 3000));
        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (k % 2)
            expect_fail(l, "time.first-request", frame, WHO_SINK);
        else
            expect_counts(l, "time.first-request", 2, 0, 0);
        time_again(state);
    }
}

static void capabilities_that_the_sink_asked_for_in_a_contract_need_no_request(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    lines_caps(l, 3, time_offer());
    time_after(l, MS(60));
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_counts(l, "time.first-request", 1, 0, 0);
}

/* time.sender-patience */

static void a_soft_reset_before_the_answer_could_come_is_impatient(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        time_after(l, MS(24) - (k ? NS_MORE : 0));
        frame = lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_run(l, NULL);
        if (k)
            expect_fail(l, "time.sender-patience", frame, WHO_SOURCE);
        else
            expect_counts(l, "time.sender-patience", 1, 0, 0);
        time_again(state);
    }
}

static void impatience_is_measured_by_the_edition_of_who_asks(void **state)
{
    static const struct { unsigned standard; int64_t least_ns; } known[] = {
        { SINCE_R2, MS(24) }, { SINCE_R30, MS(24) }, { SINCE_R31, MS(26) }, { SINCE_R32, MS(27) },
    };

    for (unsigned k = 0; k < 8; k++) {
        struct lines *l = time_contract(state, 2);

        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        time_after(l, known[k / 2].least_ns - k % 2);
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        time_run_as(l, known[k / 2].standard);
        expect_verdict(l, "time.sender-patience", k % 2 ? VERDICT_FAIL : VERDICT_PASS);
        time_again(state);
    }
}

/* Its Revision message says 3.2, version 1.2: 27 ms at least. */
static void a_source_of_3_2_version_1_2_waits_27_ms(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);

        lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
        time_data(l, SIDE_SOURCE, DATA_REVISION, 0x32200000);
        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        time_after(l, MS(27) - k);
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_run(l, NULL);
        expect_verdict(l, "time.sender-patience", k ? VERDICT_FAIL : VERDICT_PASS);
        time_again(state);
    }
}

static void what_the_partner_resets_is_no_impatience(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "time.sender-patience", VERDICT_NOT_SEEN);
}

static void a_hard_reset_of_the_sink_is_laid_to_it_only_where_it_is_known_to_be_its(void **state)
{
    static const struct { int64_t ns; unsigned passed, undecided; } cases[] = {
        { MS(10), 0, 1 }, /* too early for anybody's timer: whose it was is not known */
        { MS(26), 1, 0 }, /* 24 to 40 ms after a Request: the sink's */
    };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);

        lines_request(l, word_ask_fixed(1, 3000, 3000));
        time_after(l, cases[k].ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        expect_counts(l, "time.sender-patience", cases[k].passed, 0, cases[k].undecided);
        time_again(state);
    }
}

static void impatience_is_undecided_where_the_answer_may_have_been_missed(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    lines_lost(l, 1);
    time_after(l, MS(10));
    frame = lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_run(l, NULL);
    expect_undecided(l, "time.sender-patience", frame, CAUSE_LOST);
}

static void a_message_that_is_said_not_to_be_acknowledged_is_not_waited_for(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_request(l, word_ask_fixed(TIME_REFUSED, 3000, 3000)); /* the stand-in for exchange.goodcrc fails here */
    time_after(l, MS(5));
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    time_run_beside(l, "exchange.goodcrc");
    expect_verdict(l, "time.sender-patience", VERDICT_NOT_SEEN);
}

/* time.caps-interval, time.caps-give-up: capabilities that nobody acknowledges */

static uint64_t unheard_caps(struct lines *l)
{
    uint32_t words[3];

    memcpy(words, time_offer(), sizeof words);
    return lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 3,
                                       .words = { words[0], words[1], words[2] }, .quiet = true });
}

static void capabilities_come_again_after_100_to_200_ms(void **state)
{
    static const struct { int64_t ns; bool fails; } cases[] = {
        { MS(100), false }, { MS(100) - NS_MORE, true }, { MS(200), false }, { MS(200) + NS_MORE, true },
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = *state;
        uint64_t      frame;

        lines_attach(l);
        unheard_caps(l);
        time_after(l, cases[k].ns);
        frame = unheard_caps(l);
        lines_run(l, NULL);
        if (cases[k].fails)
            expect_fail(l, "time.caps-interval", frame, WHO_SOURCE);
        else
            expect_counts(l, "time.caps-interval", 1, 0, 0);
        time_again(state);
    }
}

static void the_pace_counts_from_the_last_copy(void **state)
{
    struct lines *l = *state;
    uint32_t      words[3];

    memcpy(words, time_offer(), sizeof words);
    lines_attach(l);
    unheard_caps(l);
    time_after(l, MS(1));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 3,
                                .words = { words[0], words[1], words[2] }, .quiet = true, .again = true });
    time_after(l, MS(200));
    unheard_caps(l);
    lines_run(l, NULL);
    expect_counts(l, "time.caps-interval", 1, 0, 0);
}

static void the_pace_is_undecided_beside_a_gap_and_not_judged_where_somebody_spoke(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_attach(l);
    unheard_caps(l);
    lines_lost(l, 1);
    time_after(l, MS(300));
    frame = unheard_caps(l);
    lines_run(l, NULL);
    expect_undecided(l, "time.caps-interval", frame, CAUSE_LOST);

    l = time_again(state);
    lines_attach(l);
    lines_caps(l, 3, time_offer());
    time_after(l, MS(300));
    unheard_caps(l);
    lines_run(l, NULL);
    expect_verdict(l, "time.caps-interval", VERDICT_NOT_SEEN);
}

/* So many, and then nothing for so long; frame of the last. */
static uint64_t caps_run(struct lines *l, unsigned count, int64_t quiet_ns, bool lost)
{
    uint64_t frame = 0;

    lines_attach(l);
    for (unsigned k = 0; k < count; k++) {
        if (lost && k == 3)
            lines_lost(l, 1);
        frame = unheard_caps(l);
        lines_wait(l, MS(148));
    }
    lines_wait(l, quiet_ns - MS(150));
    return frame;
}

static void a_source_that_stops_after_49_capabilities_gives_up_too_soon(void **state)
{
    struct lines *l = *state;

    caps_run(l, 50, MS(1100), false);
    lines_run(l, NULL);
    expect_counts(l, "time.caps-give-up", 1, 0, 0);

    l = time_again(state);
    uint64_t frame = caps_run(l, 49, MS(1100), false);

    lines_run(l, NULL);
    expect_fail(l, "time.caps-give-up", frame, WHO_SOURCE);
    assert_int_equal(lines_finding(l, "time.caps-give-up", VERDICT_FAIL, 0)->values[0], 49);
}

static void a_run_is_not_judged_where_it_may_go_on_or_was_ended_by_somebody_else(void **state)
{
    struct lines *l = *state;

    caps_run(l, 49, MS(900), false); /* the trace ends before the source has given up */
    lines_run(l, NULL);
    expect_verdict(l, "time.caps-give-up", VERDICT_NOT_SEEN);

    l = time_again(state);
    caps_run(l, 20, MS(150), false);
    lines_caps(l, 3, time_offer()); /* heard */
    lines_wait(l, MS(2000));
    lines_run(l, NULL);
    expect_verdict(l, "time.caps-give-up", VERDICT_NOT_SEEN);

    l = time_again(state);
    caps_run(l, 20, MS(150), false);
    lines_detach(l);
    lines_wait(l, MS(2000));
    lines_run(l, NULL);
    expect_verdict(l, "time.caps-give-up", VERDICT_NOT_SEEN);

    l = time_again(state);
    uint64_t frame = caps_run(l, 20, MS(1100), true);

    lines_run(l, NULL);
    expect_undecided(l, "time.caps-give-up", frame, CAUSE_LOST);
}

/* time.sink-request-after-wait */

static void a_sink_asks_again_no_sooner_than_100_ms_after_wait(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        lines_request(l, word_ask_fixed(1, 3000, 3000));
        lines_control(l, SIDE_SOURCE, CONTROL_WAIT);
        time_after(l, MS(100) - (k ? NS_MORE : 0));
        frame = lines_request(l, word_ask_fixed(1, 3000, 3000));
        lines_accept_and_ready(l);
        lines_run(l, NULL);
        if (k)
            expect_fail(l, "time.sink-request-after-wait", frame, WHO_SINK);
        else
            expect_counts(l, "time.sink-request-after-wait", 1, 0, 0);
        time_again(state);
    }
}

static void a_new_offer_ends_the_wait_and_a_gap_makes_a_long_one_doubtful(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_WAIT);
    lines_caps(l, 3, time_offer());
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_verdict(l, "time.sink-request-after-wait", VERDICT_NOT_SEEN);

    time_again(state);
    l = time_contract(state, 2);
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_WAIT);
    lines_lost(l, 2);
    time_after(l, MS(150));
    frame = lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_undecided(l, "time.sink-request-after-wait", frame, CAUSE_LOST);
}

/* time.chunk-request, time.chunk-response: an EPR offer in three chunks */

static void chunk(struct lines *l, unsigned side, unsigned number, bool request)
{
    static const uint8_t bytes[26];

    lines_say(l, &(struct say){ .side = (uint8_t)side, .message_class = CLASS_EXTENDED, .type = EXTENDED_MANUFACTURER_INFO,
                                .block = bytes, .size = request ? 2 : 26,
                                .extended_header = (uint16_t)(0x8000 | (request ? 0x400u : 52u) | number << 11) });
}

static void expect_chunks(void **state, const char *id, int64_t ask_ns, int64_t come_ns, uint64_t *at, unsigned whom)
{
    struct lines *l = time_contract(state, 2);

    chunk(l, SIDE_SOURCE, 0, false);
    time_after(l, ask_ns);
    at[0] = l->count + 1;
    chunk(l, SIDE_SINK, 1, true);
    time_after(l, come_ns);
    at[1] = l->count + 1;
    chunk(l, SIDE_SOURCE, 1, false);
    lines_run(l, NULL);
    if (whom == WHO_LINK)
        expect_counts(l, id, 1, 0, 0);
    else
        expect_fail(l, id, at[whom == WHO_SOURCE], whom);
    time_again(state);
}

static void chunks_and_their_requests_come_within_15_ms(void **state)
{
    uint64_t at[2];

    expect_chunks(state, "time.chunk-request", MS(15), MS(15), at, WHO_LINK);
    expect_chunks(state, "time.chunk-response", MS(15), MS(15), at, WHO_LINK);
    expect_chunks(state, "time.chunk-request", MS(15) + NS_MORE, MS(1), at, WHO_SINK);
    expect_chunks(state, "time.chunk-response", MS(1), MS(15) + NS_MORE, at, WHO_SOURCE);
}

static void a_late_chunk_beside_a_gap_is_undecided(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    chunk(l, SIDE_SOURCE, 0, false);
    lines_lost(l, 1);
    time_after(l, MS(20));
    frame = l->count + 1;
    chunk(l, SIDE_SINK, 1, true);
    lines_run(l, NULL);
    expect_undecided(l, "time.chunk-request", frame, CAUSE_LOST);
    expect_verdict(l, "time.chunk-response", VERDICT_NOT_SEEN);
}

/* time.vdm-busy, time.discover-identity */

static void a_request_that_met_busy_comes_again_after_50_ms_at_the_soonest(void **state)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        time_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001);
        time_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 0xff00a0c1); /* BUSY */
        time_after(l, MS(50) - (k ? NS_MORE : 0));
        frame = time_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, k == 2 ? 0xff00a002 : 0xff00a001);
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.vdm-busy", 1, 0, 0);
        else if (k == 1)
            expect_fail(l, "time.vdm-busy", frame, WHO_SOURCE);
        else
            expect_verdict(l, "time.vdm-busy", VERDICT_NOT_SEEN); /* another command */
        time_again(state);
    }
}

static void after_busy_a_gap_makes_a_long_wait_doubtful(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    time_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001);
    time_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 0xff00a0c1);
    lines_lost(l, 1);
    time_after(l, MS(60));
    frame = time_data(l, SIDE_SOURCE, DATA_VENDOR_DEFINED, 0xff00a001);
    lines_run(l, NULL);
    expect_undecided(l, "time.vdm-busy", frame, CAUSE_LOST);
}

static uint64_t ask_plug(struct lines *l)
{
    return lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                                       .count = 1, .words = { 0xff00a001 }, .quiet = true });
}

static void a_plug_that_is_silent_is_asked_again_after_40_ms_at_the_soonest(void **state)
{
    static const int64_t waits[] = { MS(40), MS(40) - NS_MORE, MS(40) - NS_MORE, MS(300) };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = *state;
        uint64_t      frame;

        lines_attach(l);
        ask_plug(l);
        if (k == 2)
            lines_lost(l, 1);
        time_after(l, waits[k]);
        frame = ask_plug(l);
        lines_run(l, NULL);
        if (k == 1)
            expect_fail(l, "time.discover-identity", frame, WHO_SOURCE);
        else if (k == 2)
            expect_undecided(l, "time.discover-identity", frame, CAUSE_LOST);
        else
            expect_counts(l, "time.discover-identity", 1, 0, 0);
        time_again(state);
    }
}

static void a_plug_that_answers_may_be_asked_again_at_once(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    lines_cable_identity(l, 2, 0, false);
    lines_run(l, NULL);
    expect_verdict(l, "time.discover-identity", VERDICT_NOT_SEEN);
    expect_counts(l, "time.vdm-response", 2, 0, 0);
}

/* time.soft-reset */

static void an_unacknowledged_message_is_followed_by_soft_reset_within_15_ms(void **state)
{
    /* 1.1 ms for the GoodCRC, and 15 ms. */
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = time_contract(state, 2);
        uint64_t      frame;

        lines_say(l, &(struct say){ .side = SIDE_SINK, .type = CONTROL_GET_SOURCE_CAP, .quiet = true });
        if (k == 2)
            lines_lost(l, 1);
        time_after(l, US(16100) + (k ? NS_MORE : 0));
        frame = lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.soft-reset", 1, 0, 0);
        else if (k == 1)
            expect_fail(l, "time.soft-reset", frame, WHO_SINK);
        else
            expect_undecided(l, "time.soft-reset", frame, CAUSE_LOST);
        time_again(state);
    }
}

static void a_soft_reset_for_another_reason_is_not_timed(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    lines_wait(l, MS(50));
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "time.soft-reset", VERDICT_NOT_SEEN);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(an_answer_just_in_time_passes_and_just_too_late_fails),
        TEST(a_late_answer_is_undecided_where_one_may_have_been_missed),
        TEST(an_answer_in_time_passes_even_beside_a_gap),
        TEST(nobody_asks_and_no_answer_is_judged),
        TEST(the_answer_to_a_reserved_type_is_not_timed),
        TEST(what_is_not_to_be_there_is_not_answered_in_time_either),
        TEST(an_exchange_that_failed_silences_what_follows_until_a_reset),
        TEST(an_answer_after_the_sink_s_patience_is_said_to_be_so),
        TEST(a_sink_of_3_2_version_1_2_waits_50_ms_for_the_answer),
        TEST(the_first_request_has_as_long_as_its_edition_says),
        TEST(a_sink_known_by_its_revision_message_is_judged_by_it),
        TEST(capabilities_that_the_sink_asked_for_in_a_contract_need_no_request),
        TEST(a_soft_reset_before_the_answer_could_come_is_impatient),
        TEST(impatience_is_measured_by_the_edition_of_who_asks),
        TEST(a_source_of_3_2_version_1_2_waits_27_ms),
        TEST(what_the_partner_resets_is_no_impatience),
        TEST(a_hard_reset_of_the_sink_is_laid_to_it_only_where_it_is_known_to_be_its),
        TEST(impatience_is_undecided_where_the_answer_may_have_been_missed),
        TEST(a_message_that_is_said_not_to_be_acknowledged_is_not_waited_for),
        TEST(capabilities_come_again_after_100_to_200_ms),
        TEST(the_pace_counts_from_the_last_copy),
        TEST(the_pace_is_undecided_beside_a_gap_and_not_judged_where_somebody_spoke),
        TEST(a_source_that_stops_after_49_capabilities_gives_up_too_soon),
        TEST(a_run_is_not_judged_where_it_may_go_on_or_was_ended_by_somebody_else),
        TEST(a_sink_asks_again_no_sooner_than_100_ms_after_wait),
        TEST(a_new_offer_ends_the_wait_and_a_gap_makes_a_long_one_doubtful),
        TEST(chunks_and_their_requests_come_within_15_ms),
        TEST(a_late_chunk_beside_a_gap_is_undecided),
        TEST(a_request_that_met_busy_comes_again_after_50_ms_at_the_soonest),
        TEST(after_busy_a_gap_makes_a_long_wait_doubtful),
        TEST(a_plug_that_is_silent_is_asked_again_after_40_ms_at_the_soonest),
        TEST(a_plug_that_answers_may_be_asked_again_at_once),
        TEST(an_unacknowledged_message_is_followed_by_soft_reset_within_15_ms),
        TEST(a_soft_reset_for_another_reason_is_not_timed),
    };

    return cmocka_run_group_tests_name("time answers", tests, NULL, NULL);
}
