/*
 * time.*, part three: PPS contracts and EPR mode are kept alive, and given up in time. Just inside and just outside each limit; what is
 * expected is typed from the catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/time_words.h"

#include "rules/judge.h"

#define S(n) MS(1000 * INT64_C(n))
#define EPR_CAPABLE (UINT32_C(1) << 22)      /* of a Request */
#define SOURCE_EPR_CAPABLE (UINT32_C(1) << 23)

void time_stand_in_check(struct judge *j, const struct event *e)
{
    struct outcome o = judge_outcome(j, e);
    uint32_t       word = message_word(&e->speech->m, 0);

    if (e->speech->m.message_class == CLASS_CONTROL || word == 0xff00a001 ||
        (e->speech->m.type == DATA_REQUEST && word >> 28 == TIME_REFUSED))
        judge_fail(j, &o);
}

/* Asked for again: Request, Accept, PS_RDY; frame of the Request. */
static uint64_t renew(struct lines *l)
{
    uint64_t frame = lines_request(l, word_ask_pps(3, 9000, 3000));

    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    return frame;
}

/* The time at which the message that was said last began its GoodCRC's end, and its own end: GoodCRC 0.1 ms after it. */
static int64_t nominal_request_ns(void)
{
    return record_nominal_ns(2 + 4 + 4);
}

static int64_t nominal_goodcrc_ns(void)
{
    return record_nominal_ns(2 + 4);
}

/* time.pps-keepalive: from the end of a Request to the start of the next */

static void a_pps_contract_is_asked_for_again_within_10_s(void **state)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = time_contract(state, 3);
        int64_t       end_ns;
        uint64_t      frame;

        end_ns = l->now_ns + nominal_request_ns();
        renew(l);
        if (k == 2)
            lines_lost(l, 1);
        l->now_ns = end_ns + S(10) + (k ? NS_MORE : 0);
        frame = renew(l);
        lines_wait(l, S(1));
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.pps-keepalive", 2, 0, 0);
        else if (k == 1)
            expect_fail(l, "time.pps-keepalive", frame, WHO_SINK);
        else
            expect_undecided(l, "time.pps-keepalive", frame, CAUSE_LOST);
        time_again(state);
    }
}

static void the_last_request_counts_to_the_end_of_the_contract(void **state)
{
    struct lines *l = time_contract(state, 3);
    uint64_t      frame = renew(l);

    lines_wait(l, S(11));
    lines_detach(l);
    lines_run(l, NULL);
    expect_fail(l, "time.pps-keepalive", frame, WHO_SINK);

    time_again(state);
    l = time_contract(state, 3);
    lines_wait(l, S(9));
    lines_detach(l);
    lines_run(l, NULL);
    expect_counts(l, "time.pps-keepalive", 1, 0, 0);

    time_again(state);
    l = time_contract(state, 3);
    lines_wait(l, S(9)); /* the trace ends before the time has run out */
    lines_run(l, NULL);
    expect_verdict(l, "time.pps-keepalive", VERDICT_NOT_SEEN);

    time_again(state);
    l = time_contract(state, 2);
    lines_wait(l, S(20)); /* a fixed contract needs no Request */
    lines_detach(l);
    lines_run(l, NULL);
    expect_verdict(l, "time.pps-keepalive", VERDICT_NOT_SEEN);
}

static void a_request_for_another_object_ends_the_silence_as_well(void **state)
{
    struct lines *l = time_contract(state, 3);

    lines_wait(l, S(9));
    lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, S(30));
    lines_run(l, NULL);
    expect_counts(l, "time.pps-keepalive", 1, 0, 0);
    expect_verdict(l, "time.pps-timeout", VERDICT_NOT_SEEN);
}

static void an_exchange_that_failed_is_a_fault_of_its_own(void **state)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = time_contract(state, 3);

        lines_request(l, word_ask_pps(TIME_REFUSED, 9000, 3000)); /* the stand-in fails here */
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        renew(l);
        lines_wait(l, S(30));
        time_run_beside(l, time_power_silencers[k]);
        expect_verdict(l, "time.pps-keepalive", VERDICT_NOT_SEEN);
        expect_verdict(l, "time.pps-timeout", VERDICT_NOT_SEEN);
        time_run_beside(l, "exchange.answer"); /* no such silencer */
        expect_verdict(l, "time.pps-keepalive", VERDICT_FAIL);
        expect_verdict(l, "time.pps-timeout", VERDICT_FAIL);
        time_again(state);
    }
}

/* time.pps-timeout: from the GoodCRC of the last Request to the Hard Reset */

/* A PPS contract, silence, and a Hard Reset so long after the GoodCRC of the last Request; frame of the reset. */
static uint64_t silent_reset(struct lines *l, int64_t ns, uint64_t *request, bool lost)
{
    int64_t done_ns = l->now_ns + nominal_request_ns() + US(100) + nominal_goodcrc_ns();

    *request = renew(l);
    if (lost)
        lines_lost(l, 1);
    l->now_ns = done_ns + ns;
    return lines_reset(l, RECORD_HARD_RESET);
}

static void a_source_resets_a_silent_pps_contract_after_12_to_15_s(void **state)
{
    static const struct { int64_t ns; bool fails; } cases[] = {
        { S(12), false }, { S(15) + MS(5), false }, { S(15) + MS(5) + NS_MORE, true }, { S(16), true },
    };

    for (unsigned k = 0; k < 4; k++) {
        struct lines *l = time_contract(state, 3);
        uint64_t      request;

        silent_reset(l, cases[k].ns, &request, false);
        lines_wait(l, S(1));
        lines_run(l, NULL);
        if (cases[k].fails)
            expect_fail(l, "time.pps-timeout", request, WHO_SOURCE); /* it had not come in time */
        else
            expect_counts(l, "time.pps-timeout", 1, 0, 0);
        time_again(state);
    }
}

static void a_source_that_never_resets_fails_at_the_last_request(void **state)
{
    struct lines *l = time_contract(state, 3);
    uint64_t      frame = renew(l);

    lines_wait(l, S(16));
    lines_run(l, NULL);
    expect_fail(l, "time.pps-timeout", frame, WHO_SOURCE);
    expect_fail(l, "time.pps-keepalive", frame, WHO_SINK);

    time_again(state);
    l = time_contract(state, 3);
    renew(l);
    lines_wait(l, S(14)); /* the trace ends before the time has run out */
    lines_run(l, NULL);
    expect_verdict(l, "time.pps-timeout", VERDICT_NOT_SEEN);

    time_again(state);
    l = time_contract(state, 3);
    renew(l);
    lines_wait(l, S(14));
    renew(l);
    lines_run(l, NULL);
    expect_verdict(l, "time.pps-timeout", VERDICT_NOT_SEEN);

    time_again(state);
    l = time_contract(state, 3);
    frame = renew(l);
    lines_lost(l, 1);
    lines_wait(l, S(16));
    lines_run(l, NULL);
    expect_undecided(l, "time.pps-timeout", frame, CAUSE_LOST);
}

/* A contract again after a reset. */
static void once_more(struct lines *l)
{
    lines_wait(l, MS(900));
    lines_negotiate(l, 3, time_offer(), word_ask_pps(3, 9000, 3000));
    lines_wait(l, MS(50));
}

static void a_reset_before_its_time_is_no_chance_the_second_time(void **state)
{
    static const struct { int64_t first, second; bool fails; } cases[] = {
        { S(9), S(9) + MS(500), true }, { MS(11900), MS(11600), true }, { S(9), S(9) - MS(500), true }, { S(9), S(9) + MS(500) + NS_MORE, false },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = time_contract(state, 3);
        uint64_t      request, first, second;

        first = silent_reset(l, cases[k].first, &request, false);
        once_more(l);
        second = silent_reset(l, cases[k].second, &request, false);
        lines_wait(l, S(1));
        lines_run(l, NULL);
        expect_counts(l, "time.pps-timeout", 0, cases[k].fails, 2 - cases[k].fails);
        assert_int_equal(lines_finding(l, "time.pps-timeout", VERDICT_UNDECIDED, 0)->frame, first);
        assert_int_equal(lines_finding(l, "time.pps-timeout", VERDICT_UNDECIDED, 0)->cause, CAUSE_ONCE);
        assert_int_equal(lines_finding(l, "time.pps-timeout", cases[k].fails ? VERDICT_FAIL : VERDICT_UNDECIDED, !cases[k].fails)->frame, second);
        time_again(state);
    }
}

static void a_reset_within_a_second_has_nothing_to_do_with_the_timer(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = time_contract(state, 3);
        uint64_t      request;

        silent_reset(l, S(1) - (k ? NS_MORE : 0), &request, false);
        lines_run(l, NULL);
        expect_verdict(l, "time.pps-timeout", k ? VERDICT_NOT_SEEN : VERDICT_UNDECIDED);
        time_again(state);
    }
}

static void an_early_reset_that_something_explains_is_not_laid_to_the_timer(void **state)
{
    struct lines *l = time_contract(state, 3);

    /* A Request without answer: the sink resets, 28 ms later. */
    for (unsigned k = 0; k < 2; k++) {
        lines_wait(l, S(9));
        lines_request(l, word_ask_pps(3, 9000, 3000));
        time_after(l, MS(28));
        lines_reset(l, RECORD_HARD_RESET);
        once_more(l);
    }
    lines_run(l, NULL);
    expect_verdict(l, "time.pps-timeout", VERDICT_NOT_SEEN);
}

/* time.epr-keepalive, time.epr-timeout */

static const uint32_t *epr_offer(void)
{
    static uint32_t words[9];

    words[0] = word_fixed(5000, 3000) | SOURCE_EPR_CAPABLE;
    words[1] = word_fixed(9000, 3000);
    words[2] = word_fixed(15000, 3000);
    words[3] = word_fixed(20000, 5000);
    words[7] = word_fixed(28000, 5000);
    return words;
}

static struct lines *in_epr_mode(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_negotiate(l, 4, epr_offer(), word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE);
    lines_enter_epr(l);
    lines_epr_caps(l, 8, epr_offer());
    lines_epr_request(l, word_ask_fixed(8, 5000, 5000) | EPR_CAPABLE, epr_offer()[7]);
    lines_accept_and_ready(l);
    return l;
}

/* EPR_KeepAlive or its answer. */
static uint64_t extended_control(struct lines *l, unsigned side, unsigned type)
{
    const uint8_t block[2] = { (uint8_t)type, 0 };

    return lines_extended(l, side, EXTENDED_CONTROL, block, 2);
}

enum { KEEP_ALIVE = 3, KEEP_ALIVE_ACK = 4 };

/* The sink says that it is there, so long after the end of the message before; frame. */
static uint64_t alive_after(struct lines *l, int64_t ns)
{
    /* `now` is 2 ms after the GoodCRC. */
    time_after(l, ns - US(100) - nominal_goodcrc_ns());
    return extended_control(l, SIDE_SINK, KEEP_ALIVE);
}

static void in_epr_mode_the_sink_speaks_within_500_ms(void **state)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = in_epr_mode(state);
        uint64_t      frame;
        unsigned      before;

        lines_run(l, NULL);
        before = (unsigned)lines_result(l, "time.epr-keepalive").counts.passed;
        if (k == 2)
            lines_lost(l, 1);
        frame = alive_after(l, MS(500) + (k ? NS_MORE : 0));
        extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
        lines_run(l, NULL);
        if (k == 0)
            expect_counts(l, "time.epr-keepalive", before + 1, 0, 0);
        else if (k == 1)
            expect_fail(l, "time.epr-keepalive", frame, WHO_SINK);
        else
            expect_undecided(l, "time.epr-keepalive", frame, CAUSE_LOST);
        time_again(state);
    }
}

static void the_source_s_word_starts_the_sink_s_time_anew(void **state)
{
    struct lines *l = in_epr_mode(state);

    lines_wait(l, MS(400));
    time_data(l, SIDE_SOURCE, DATA_ALERT, 0x02000000);
    alive_after(l, MS(400));
    extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
    lines_run(l, NULL);
    expect_only(l, "time.epr-", NULL);
    expect_verdict(l, "time.epr-keepalive", VERDICT_PASS);
}

static void nobody_has_to_speak_while_ps_rdy_is_waited_for(void **state)
{
    struct lines *l = in_epr_mode(state);

    lines_epr_request(l, word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE, epr_offer()[1]);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(700));
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    alive_after(l, MS(450)); /* 1155 ms after the sink's last message */
    extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
    lines_run(l, NULL);
    expect_only(l, "time.epr-", NULL);
}

/* The sink falls silent in EPR mode: Hard Reset so long after the end of its last message, at which this returns; reset's frame in *at. */
static uint64_t epr_silence(struct lines *l, int64_t ns, uint64_t *at)
{
    int64_t  end_ns;
    uint64_t frame;

    lines_wait(l, MS(300));
    end_ns = l->now_ns + nominal_request_ns() /* as long: an extended header, two bytes, two of padding */;
    frame = extended_control(l, SIDE_SINK, KEEP_ALIVE);
    extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
    l->now_ns = end_ns + ns;
    *at = lines_reset(l, RECORD_HARD_RESET);
    return frame;
}

static void a_source_resets_a_silent_epr_sink_after_750_to_1005_ms(void **state)
{
    static const struct { int64_t ns; unsigned verdict; bool at_reset; } cases[] = {
        { MS(750), VERDICT_PASS, false }, { MS(1005), VERDICT_PASS, false },
        { MS(750) - NS_MORE, VERDICT_FAIL, true }, /* from 745 ms on it is the source's timer */
        { MS(745) - NS_MORE, VERDICT_NOT_SEEN, false }, { MS(700), VERDICT_NOT_SEEN, false },
        { MS(1005) + NS_MORE, VERDICT_FAIL, false }, { MS(1200), VERDICT_FAIL, false },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = in_epr_mode(state);
        uint64_t      reset, last = epr_silence(l, cases[k].ns, &reset);

        lines_wait(l, MS(100));
        lines_run(l, NULL);
        expect_verdict(l, "time.epr-timeout", cases[k].verdict);
        if (cases[k].verdict == VERDICT_FAIL)
            expect_fail(l, "time.epr-timeout", cases[k].at_reset ? reset : last, WHO_SOURCE);
        time_again(state);
    }
}

static void a_source_that_stays_in_epr_mode_with_a_silent_sink_fails(void **state)
{
    struct lines *l = in_epr_mode(state);
    uint64_t      last;

    lines_wait(l, MS(300));
    last = extended_control(l, SIDE_SINK, KEEP_ALIVE);
    extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
    lines_wait(l, S(3));
    lines_run(l, NULL);
    expect_fail(l, "time.epr-timeout", last, WHO_SOURCE);
    expect_verdict(l, "time.epr-keepalive", VERDICT_FAIL); /* the sink, beside it */

    time_again(state);
    l = in_epr_mode(state);
    lines_wait(l, MS(300));
    last = extended_control(l, SIDE_SINK, KEEP_ALIVE);
    extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
    lines_lost(l, 1);
    lines_wait(l, S(3));
    lines_run(l, NULL);
    expect_undecided(l, "time.epr-timeout", last, CAUSE_LOST);
}

static void a_swap_of_vconn_or_data_roles_leaves_the_duties_of_epr_mode(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = in_epr_mode(state);
        uint64_t      last;

        lines_wait(l, MS(200));
        lines_control(l, SIDE_SOURCE, k ? CONTROL_DR_SWAP : CONTROL_VCONN_SWAP);
        lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
        if (k == 0)
            lines_control(l, SIDE_SINK, CONTROL_PS_RDY);
        lines_wait(l, MS(200));
        last = extended_control(l, SIDE_SINK, KEEP_ALIVE);
        extended_control(l, SIDE_SOURCE, KEEP_ALIVE_ACK);
        lines_wait(l, S(3));
        lines_run(l, NULL);
        expect_fail(l, "time.epr-timeout", last, WHO_SOURCE);
        expect_verdict(l, "time.epr-keepalive", VERDICT_FAIL);
        time_again(state);
    }
}

static void outside_epr_mode_nobody_has_to_speak(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_wait(l, S(5));
    lines_run(l, NULL);
    expect_verdict(l, "time.epr-keepalive", VERDICT_NOT_SEEN);
    expect_verdict(l, "time.epr-timeout", VERDICT_NOT_SEEN);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_pps_contract_is_asked_for_again_within_10_s),
        TEST(the_last_request_counts_to_the_end_of_the_contract),
        TEST(a_request_for_another_object_ends_the_silence_as_well),
        TEST(an_exchange_that_failed_is_a_fault_of_its_own),
        TEST(a_source_resets_a_silent_pps_contract_after_12_to_15_s),
        TEST(a_source_that_never_resets_fails_at_the_last_request),
        TEST(a_reset_before_its_time_is_no_chance_the_second_time),
        TEST(a_reset_within_a_second_has_nothing_to_do_with_the_timer),
        TEST(an_early_reset_that_something_explains_is_not_laid_to_the_timer),
        TEST(in_epr_mode_the_sink_speaks_within_500_ms),
        TEST(the_source_s_word_starts_the_sink_s_time_anew),
        TEST(nobody_has_to_speak_while_ps_rdy_is_waited_for),
        TEST(a_source_resets_a_silent_epr_sink_after_750_to_1005_ms),
        TEST(a_source_that_stays_in_epr_mode_with_a_silent_sink_fails),
        TEST(a_swap_of_vconn_or_data_roles_leaves_the_duties_of_epr_mode),
        TEST(outside_epr_mode_nobody_has_to_speak),
    };

    return cmocka_run_group_tests_name("time alive", tests, NULL, NULL);
}
