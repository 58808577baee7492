/*
 * time.*, part two: from Accept to PS_RDY. Just inside and just outside each limit; what is expected is typed from the catalogue's
 * rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/time_words.h"

#include "rules/judge.h"

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

static const char *const ready_ids[] = {
    "time.ready-spr", "time.ready-epr", "time.pps-small", "time.pps-large", "time.avs-small", "time.avs-large",
};

/* Accept, and PS_RDY that begins `ns` after its GoodCRC. */
static uint64_t ready_after(struct lines *l, int64_t ns)
{
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    time_after(l, ns);
    return lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
}

/* Of the rules about PS_RDY this one alone judges something new (what came before passed `before` times), and fails or passes. */
static void expect_ready(const struct lines *l, const char *id, unsigned before, uint64_t frame, bool fails)
{
    if (fails) {
        expect_fail(l, id, frame, WHO_SOURCE);
        expect_counts(l, id, before, 1, 0);
    } else {
        expect_counts(l, id, before + 1, 0, 0);
    }
    for (unsigned k = 0; k < sizeof ready_ids / sizeof ready_ids[0]; k++)
        if (strcmp(ready_ids[k], id) != 0 && lines_result(l, ready_ids[k]).verdict == VERDICT_FAIL)
            fail_msg("%s fails beside %s", ready_ids[k], id);
}

/* What the load asks for first, and then; 5 V, 9 V, PPS 3.3 to 11 V, PPS 3.3 to 16 V, SPR AVS 9 to 20 V, battery, variable. */
enum { OFFERED = 7 };
static const uint32_t *offer(void)
{
    static uint32_t words[OFFERED];

    words[0] = word_fixed(5000, 3000);
    words[1] = word_fixed(9000, 3000);
    words[2] = word_battery(5000, 12000, 18000);
    words[3] = word_variable(5000, 10000, 2000);
    words[4] = word_pps(3300, 11000, 3000);
    words[5] = word_pps(3300, 16000, 3000);
    words[6] = word_spr_avs(3000, 2000);
    return words;
}

struct step { const char *id; uint32_t first, then; int64_t most_ns; unsigned before; };

static void say_step(struct lines *l, const struct step *s, int64_t ns, bool refused, uint64_t *frame)
{
    lines_attach(l);
    lines_caps(l, OFFERED, offer());
    lines_request(l, s->first);
    ready_after(l, MS(20));
    lines_wait(l, MS(50));
    if (refused) { /* what the stand-in fails about */
        lines_request(l, word_ask_fixed(TIME_REFUSED, 100, 100));
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    }
    lines_request(l, s->then);
    *frame = ready_after(l, ns);
}

static void run_step(void **state, const struct step *s, int64_t ns, bool fails)
{
    struct lines *l = *state;
    uint64_t      frame;

    say_step(l, s, ns, false, &frame);
    lines_run(l, NULL);
    expect_ready(l, s->id, s->before, frame, fails);
    if (strstr(s->id, "-small")) /* a small step is no large one as well: the way in alone is */
        expect_counts(l, s->id[5] == 'p' ? "time.pps-large" : "time.avs-large", 1, 0, 0);
    time_again(state);
}

/* Late, but an exchange failed before. */
static void expect_silenced(void **state, const struct step *s)
{
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = *state;
        uint64_t      frame;

        say_step(l, s, s->most_ns + NS_MORE, true, &frame);
        time_run_beside(l, time_power_silencers[k]);
        expect_counts(l, s->id, s->before, 0, 0);
        time_run_beside(l, "exchange.answer"); /* no such silencer */
        expect_fail(l, s->id, frame, WHO_SOURCE);
        time_again(state);
    }
}

static void ps_rdy_comes_as_soon_as_the_way_there_is_long(void **state)
{
    const struct step steps[] = {
        { "time.ready-spr", word_ask_fixed(1, 3000, 3000), word_ask_fixed(2, 3000, 3000), MS(325), 1 },
        { "time.ready-spr", word_ask_fixed(1, 3000, 3000), word_ask_battery(3, 9000, 9000), MS(325), 1 },
        { "time.ready-spr", word_ask_fixed(1, 3000, 3000), word_ask_fixed(4, 2000, 2000), MS(325), 1 }, /* variable */
        { "time.ready-spr", word_ask_pps(5, 9000, 3000), word_ask_fixed(2, 3000, 3000), MS(325), 0 },
        /* the same PPS object: 0.5 V and less, and more */
        { "time.pps-small", word_ask_pps(5, 9000, 3000), word_ask_pps(5, 9500, 3000), MS(25), 0 },
        { "time.pps-small", word_ask_pps(5, 9000, 3000), word_ask_pps(5, 8500, 3000), MS(25), 0 },
        { "time.pps-small", word_ask_pps(5, 9000, 3000), word_ask_pps(5, 9000, 2000), MS(25), 0 },
        { "time.pps-large", word_ask_pps(5, 9000, 3000), word_ask_pps(5, 9520, 3000), MS(275), 1 },
        { "time.pps-large", word_ask_pps(5, 9000, 3000), word_ask_pps(5, 8480, 3000), MS(275), 1 },
        /* another PPS object, and another kind of object */
        { "time.pps-large", word_ask_pps(5, 9000, 3000), word_ask_pps(6, 9000, 3000), MS(275), 1 },
        { "time.pps-large", word_ask_fixed(2, 3000, 3000), word_ask_pps(5, 9000, 3000), MS(325), 0 },
        /* AVS: 1 V and less, and more; and the way in */
        { "time.avs-small", word_ask_avs(7, 10000, 3000), word_ask_avs(7, 11000, 3000), MS(50), 0 },
        { "time.avs-small", word_ask_avs(7, 12000, 3000), word_ask_avs(7, 11000, 3000), MS(50), 0 },
        { "time.avs-large", word_ask_avs(7, 10000, 3000), word_ask_avs(7, 11100, 3000), MS(700), 1 },
        { "time.avs-large", word_ask_fixed(2, 3000, 3000), word_ask_avs(7, 12000, 3000), MS(760), 0 },
    };

    for (unsigned k = 0; k < sizeof steps / sizeof steps[0]; k++) {
        run_step(state, &steps[k], steps[k].most_ns, false);
        run_step(state, &steps[k], steps[k].most_ns + NS_MORE, true);
        expect_silenced(state, &steps[k]);
    }
}

/* 5, 9, 15, 20 V, two fillers, nothing; 28 V 5 A at position 8, EPR AVS 15 to 28 V 140 W at 9. */
static const uint32_t *epr_offer(void)
{
    static uint32_t words[9];

    words[0] = word_fixed(5000, 3000) | SOURCE_EPR_CAPABLE;
    words[1] = word_fixed(9000, 3000);
    words[2] = word_fixed(15000, 3000);
    words[3] = word_fixed(20000, 5000);
    words[7] = word_fixed(28000, 5000);
    words[8] = word_epr_avs(15000, 28000, 140);
    return words;
}

static void enter_epr(struct lines *l)
{
    lines_attach(l);
    lines_negotiate(l, 4, epr_offer(), word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE);
    lines_enter_epr(l);
    lines_epr_caps(l, 9, epr_offer());
}

static uint64_t ask_28_v(struct lines *l)
{
    return lines_epr_request(l, word_ask_fixed(8, 5000, 5000) | EPR_CAPABLE, epr_offer()[7]);
}

static void in_epr_mode_a_fixed_voltage_may_take_760_ms(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = *state;
        uint64_t      frame;

        enter_epr(l);
        ask_28_v(l);
        frame = ready_after(l, MS(760) + k);
        lines_run(l, NULL);
        expect_ready(l, "time.ready-epr", 0, frame, k == 1);
        expect_counts(l, "time.ready-spr", 1, 0, 0); /* the contract before EPR mode */
        time_again(state);
    }
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = *state;

        enter_epr(l);
        lines_request(l, word_ask_fixed(TIME_REFUSED, 100, 100)); /* the stand-in fails here */
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
        ask_28_v(l);
        ready_after(l, MS(760) + NS_MORE);
        time_run_beside(l, time_power_silencers[k]);
        expect_verdict(l, "time.ready-epr", VERDICT_NOT_SEEN);
        time_again(state);
    }
}

static void in_epr_mode_the_sink_waits_830_to_1025_ms(void **state)
{
    static const struct { int64_t ns; unsigned verdict; } cases[] = {
        { MS(810), VERDICT_UNDECIDED }, /* sooner than any sink, whose reset was it? */
        { MS(830), VERDICT_UNDECIDED }, /* the sink has been silent for so long that it may be the source as well */
        { MS(1025), VERDICT_PASS }, { MS(1025) + NS_MORE, VERDICT_FAIL },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        enter_epr(l);
        ask_28_v(l);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        time_after(l, cases[k].ns);
        lines_reset(l, RECORD_HARD_RESET);
        lines_run(l, NULL);
        expect_verdict(l, "time.ps-transition", cases[k].verdict);
        if (k == 0) /* the limit that is told */
            assert_int_equal(lines_finding(l, "time.ps-transition", VERDICT_UNDECIDED, 0)->values[5], MS(830));
        time_again(state);
    }
}

static void a_ready_that_is_late_beside_a_gap_is_undecided(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_lost(l, 1);
    time_after(l, MS(400));
    frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, NULL);
    expect_undecided(l, "time.ready-spr", frame, CAUSE_LOST);
}

/* The trace begins in the middle: neither the offer nor the mode is known. */
static void an_unknown_beginning_leaves_open_how_soon_ps_rdy_was_due(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_request(l, word_ask_fixed(2, 3000, 3000));
    frame = ready_after(l, MS(300));
    lines_run(l, NULL);
    expect_undecided(l, "time.ready-spr", frame, CAUSE_UNKNOWN_OFFER);

    l = time_again(state);
    lines_request(l, word_ask_fixed(2, 3000, 3000));
    frame = ready_after(l, MS(760) + NS_MORE); /* too late for whatever it was */
    lines_run(l, NULL);
    expect_fail(l, "time.ready-spr", frame, WHO_SOURCE);

    l = time_again(state); /* the offer is known, the mode is not */
    lines_caps(l, 3, time_offer());
    lines_request(l, word_ask_fixed(2, 3000, 3000));
    frame = ready_after(l, MS(326));
    lines_run(l, NULL);
    expect_undecided(l, "time.ready-spr", frame, CAUSE_BEGINNING);
}

static void a_pps_step_from_an_unknown_voltage_is_judged_only_where_any_would_be_too_slow(void **state)
{
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = *state;
        uint64_t      frame;

        lines_caps(l, 3, time_offer());
        lines_request(l, word_ask_pps(3, 9000, 3000));
        frame = ready_after(l, MS(325) + k);
        lines_run(l, NULL);
        expect_verdict(l, "time.pps-small", VERDICT_NOT_SEEN);
        if (k)
            expect_fail(l, "time.pps-large", frame, WHO_SOURCE);
        else
            expect_verdict(l, "time.pps-large", VERDICT_NOT_SEEN);
        time_again(state);
    }
}

static void a_missing_ready_silences_the_times_until_a_reset(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_request(l, word_ask_fixed(TIME_REFUSED, 100, 100)); /* the stand-in fails here */
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    ready_after(l, MS(400));
    lines_wait(l, MS(50));
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_caps(l, 3, time_offer());
    lines_request(l, word_ask_fixed(2, 3000, 3000));
    frame = ready_after(l, MS(400));
    time_run_beside(l, "exchange.ready-after-accept");
    expect_counts(l, "time.ready-spr", 1, 1, 0);
    expect_fail(l, "time.ready-spr", frame, WHO_SOURCE);
}

/* An Accept that was followed by something else of the source is still what PS_RDY is timed from. */
static void what_the_source_says_in_between_does_not_hide_its_accept(void **state)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    time_after(l, MS(325) + NS_MORE - MS(10));

    int64_t then = l->now_ns + MS(10);

    time_data(l, SIDE_SOURCE, DATA_ALERT, 0x02000000);
    l->now_ns = then;
    frame = lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, NULL);
    expect_fail(l, "time.ready-spr", frame, WHO_SOURCE);
}

/* time.ps-transition */

static void expect_transition(void **state, int64_t ns, unsigned verdict, unsigned cause)
{
    struct lines *l = time_contract(state, 2);
    uint64_t      frame;

    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    time_after(l, ns);
    frame = lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    if (verdict == VERDICT_FAIL)
        expect_fail(l, "time.ps-transition", frame, WHO_SINK);
    else if (verdict == VERDICT_UNDECIDED)
        expect_undecided(l, "time.ps-transition", frame, cause);
    if (verdict == VERDICT_UNDECIDED) /* too early: that limit is told */
        assert_int_equal(lines_finding(l, "time.ps-transition", VERDICT_UNDECIDED, 0)->values[5], MS(450));
    if (verdict == VERDICT_PASS)
        expect_counts(l, "time.ps-transition", 1, 0, 0);
    time_again(state);
}

static void a_sink_waits_450_to_555_ms_for_ps_rdy(void **state)
{
    expect_transition(state, MS(450), VERDICT_PASS, 0);
    expect_transition(state, MS(555), VERDICT_PASS, 0);
    expect_transition(state, MS(555) + NS_MORE, VERDICT_FAIL, 0);
    /* Too early for the sink's timer: whose reset it was is not known (T2 of the catalogue: 200 ms). */
    expect_transition(state, MS(200), VERDICT_UNDECIDED, CAUSE_ORIGIN);
    expect_transition(state, MS(450) - NS_MORE, VERDICT_UNDECIDED, CAUSE_ORIGIN);
}

static void where_ps_rdy_came_no_wait_is_judged(void **state)
{
    struct lines *l = time_contract(state, 2);

    lines_wait(l, MS(400));
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "time.ps-transition", VERDICT_NOT_SEEN);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(ps_rdy_comes_as_soon_as_the_way_there_is_long),
        TEST(in_epr_mode_a_fixed_voltage_may_take_760_ms),
        TEST(in_epr_mode_the_sink_waits_830_to_1025_ms),
        TEST(a_ready_that_is_late_beside_a_gap_is_undecided),
        TEST(an_unknown_beginning_leaves_open_how_soon_ps_rdy_was_due),
        TEST(a_pps_step_from_an_unknown_voltage_is_judged_only_where_any_would_be_too_slow),
        TEST(a_missing_ready_silences_the_times_until_a_reset),
        TEST(what_the_source_says_in_between_does_not_hide_its_accept),
        TEST(a_sink_waits_450_to_555_ms_for_ps_rdy),
        TEST(where_ps_rdy_came_no_wait_is_judged),
    };

    return cmocka_run_group_tests_name("time power", tests, NULL, NULL);
}
