/*
 * request.*: every rule passed, failed, left undecided where it can be, and not seen; just inside and just outside each
 * limit. What is expected is typed from the catalogue's rows. The bench: "Lumenbrick 65", port C1, and a load that speaks USB PD.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define GIVE_BACK (UINT32_C(1) << 27)
#define MISMATCH (UINT32_C(1) << 26)
#define EPR_CAPABLE (UINT32_C(1) << 22)      /* of a Request */
#define SOURCE_EPR_CAPABLE (UINT32_C(1) << 23)

enum { OFFERED = 5 };
/* 5 V 3 A, 9 V 3 A, battery 5 to 12 V 18 W, variable 5 to 10 V 2 A, PPS 3.3 to 11 V 3 A. */
static void offer_words(uint32_t *words)
{
    words[0] = word_fixed(5000, 3000);
    words[1] = word_fixed(9000, 3000);
    words[2] = word_battery(5000, 12000, 18000);
    words[3] = word_variable(5000, 10000, 2000);
    words[4] = word_pps(3300, 11000, 3000);
}

/* Attach, the offer, the Request and its answer. Frame of the Request; that of the answer is 2 further on. */
static uint64_t ask_for(struct lines *l, uint32_t request, unsigned answer)
{
    uint32_t words[OFFERED];
    uint64_t frame;

    offer_words(words);
    lines_attach(l);
    lines_caps(l, OFFERED, words);
    frame = lines_request(l, request);
    lines_control(l, SIDE_SOURCE, answer);
    return frame;
}

static uint64_t ask_avs(struct lines *l, uint32_t avs, uint32_t request, unsigned answer)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), avs };
    uint64_t frame;

    lines_attach(l);
    lines_caps(l, 3, words);
    frame = lines_request(l, request);
    lines_control(l, SIDE_SOURCE, answer);
    return frame;
}

/* 5, 9, 15, 20 V, two fillers, nothing; 28 V 5 A at position 8, EPR AVS 15 to 28 V 140 W at 9. */
static const uint32_t *epr_words(void)
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

/* EPR mode entered and its offer made. */
static void enter_epr(struct lines *l)
{
    lines_attach(l);
    lines_negotiate(l, 4, epr_words(), word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE);
    lines_enter_epr(l);
    lines_epr_caps(l, 9, epr_words());
}

static uint64_t ask_epr(struct lines *l, uint32_t request, uint32_t copy, unsigned answer)
{
    uint64_t frame;

    enter_epr(l);
    frame = lines_epr_request(l, request, copy);
    lines_control(l, SIDE_SOURCE, answer);
    return frame;
}

/* A sink's row: that Request is judged so, and refused it is the only finding. */
static void expect_sink_row(const char *id, uint32_t request, bool broken)
{
    struct lines *l = lines_new();
    uint64_t frame = ask_for(l, request, broken ? CONTROL_REJECT : CONTROL_ACCEPT);

    lines_run(l, NULL);
    if (broken) {
        expect_fail(l, id, frame, WHO_SINK);
        expect_only(l, "request.", id);
    } else {
        expect_verdict(l, id, VERDICT_PASS);
        expect_only(l, "request.", NULL);
    }
    lines_free(l);
}

/* What holds for all */

static void a_sound_request_passes(void **state)
{
    static const char *const seen[] = {
        "request.position", "request.current", "request.current-order", "request.reserved-bits", "request.valid-accepted",
    };
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_only(l, "request.", NULL);
    for (unsigned i = 0; i < sizeof seen / sizeof seen[0]; i++)
        expect_counts(l, seen[i], 1, 0, 0);
    expect_verdict(l, "request.invalid-refused", VERDICT_NOT_SEEN);
    expect_verdict(l, "request.power", VERDICT_NOT_SEEN);
    expect_verdict(l, "request.pps-range", VERDICT_NOT_SEEN);
}

static void where_nothing_is_asked_for_no_rule_has_an_occasion(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];
    unsigned      rows = 0;

    offer_words(words);
    lines_attach(l);
    lines_caps(l, OFFERED, words);
    lines_run(l, NULL);
    for (unsigned i = 0; i < engine_rules(l->engine); i++) {
        const struct rule *r = engine_result(l->engine, i).rule;

        if (strncmp(r->id, "request.", 8) != 0)
            continue;
        rows++;
        expect_verdict(l, r->id, VERDICT_NOT_SEEN);
        assert_true(r->title && r->requirement && r->source && r->why && r->undecided && r->bench && r->basis);
        assert_int_equal(r->level, strcmp(r->id, "request.mismatch-flag") == 0 ? LEVEL_SHOULD : LEVEL_MUST);
        assert_int_equal(r->whom, rows <= 10 ? WHO_SINK : WHO_SOURCE);
    }
    assert_int_equal(rows, 12);
}

static void without_the_offer_every_demand_is_undecided(void **state)
{
    static const char *const undecided[] = {
        "request.position", "request.current", "request.current-order", "request.power", "request.mismatch-flag",
        "request.pps-range", "request.reserved-bits", "request.valid-accepted", "request.invalid-refused",
    };
    struct lines *l = *state;
    uint64_t frame = lines_request(l, word_ask_fixed(2, 3000, 3000));
    uint64_t answer = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);

    lines_run(l, NULL);
    for (unsigned i = 0; i < sizeof undecided / sizeof undecided[0]; i++)
        expect_undecided(l, undecided[i], i < 7 ? frame : answer, CAUSE_UNKNOWN_OFFER);
}

static void without_the_offer_an_epr_request_is_undecided_too(void **state)
{
    static const char *const undecided[] = { "request.avs-range", "request.avs-step", "request.epr-copy" };
    struct lines *l = *state;
    uint64_t frame = lines_epr_request(l, word_ask_fixed(8, 5000, 5000), word_fixed(28000, 5000));

    lines_run(l, NULL);
    for (unsigned i = 0; i < sizeof undecided / sizeof undecided[0]; i++)
        expect_undecided(l, undecided[i], frame, CAUSE_UNKNOWN_OFFER);
}

static void after_a_loss_the_offer_may_have_changed(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_lost(l, 4);
    frame = lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_undecided(l, "request.position", frame, CAUSE_LOST);
    expect_undecided(l, "request.current", frame, CAUSE_LOST);
}

static void an_offer_before_the_gap_is_not_sure_to_be_the_one_answered_after_it(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                .count = 1, .words = { word_fixed(5000, 3000) }, .quiet = true });
    lines_wait(l, MS(3000));
    lines_lost(l, 12);
    frame = lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_run(l, NULL);
    expect_undecided(l, "request.position", frame, CAUSE_LOST);
}

static void a_bad_packet_that_may_have_been_an_offer_leaves_a_request_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                .count = 1, .words = { word_fixed(5000, 3000) }, .spoilt = true });
    frame = lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_undecided(l, "request.position", frame, CAUSE_BAD_PACKET);
    expect_undecided(l, "request.current", frame, CAUSE_BAD_PACKET);
}

static void a_bad_control_message_leaves_the_offer_as_it_was(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .spoilt = true });
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_run(l, NULL);
    expect_counts(l, "request.position", 2, 0, 0);
}

/* request.position */

static void the_first_and_the_last_object_may_be_asked_for(void **state)
{
    (void)state;
    expect_sink_row("request.position", word_ask_fixed(1, 3000, 3000), false);
    expect_sink_row("request.position", word_ask_pps(5, 5000, 1000), false);
}

static void positions_0_and_behind_the_offer_fail_and_silence_the_rest(void **state)
{
    (void)state;
    expect_sink_row("request.position", word_ask_fixed(0, 3000, 3000), true);
    expect_sink_row("request.position", word_ask_fixed(6, 3000, 3000), true);
    expect_sink_row("request.position", word_ask_fixed(7, 9000, 3000), true);
    expect_sink_row("request.position", word_ask_fixed(8, 3000, 3000), true); /* bit 31 */
}

static void a_position_that_no_offer_can_have_fails_without_the_offer(void **state)
{
    struct lines *l = *state;
    uint64_t frame = lines_request(l, word_ask_fixed(0, 3000, 3000));

    lines_run(l, NULL);
    expect_fail(l, "request.position", frame, WHO_SINK);
}

static void the_highest_positions_need_the_offer_to_be_judged(void **state)
{
    struct lines *l = *state, *k = lines_new();
    uint64_t frame = lines_request(l, word_ask_fixed(7, 3000, 3000));

    lines_run(l, NULL);
    expect_undecided(l, "request.position", frame, CAUSE_UNKNOWN_OFFER);
    frame = lines_epr_request(k, word_ask_fixed(13, 3000, 3000), 0);
    lines_run(k, NULL);
    expect_undecided(k, "request.position", frame, CAUSE_UNKNOWN_OFFER);
    frame = lines_epr_request(k, word_ask_fixed(14, 3000, 3000), 0);
    lines_run(k, NULL);
    assert_int_equal(lines_finding(k, "request.position", VERDICT_FAIL, 0)->frame, frame);
    lines_free(k);
}

static void an_epr_request_may_ask_for_both_parts_of_the_offer_but_not_for_a_filler(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    ask_epr(l, word_ask_fixed(8, 5000, 5000), word_fixed(28000, 5000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_epr_request(l, word_ask_fixed(4, 5000, 5000), word_fixed(20000, 5000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, NULL);
    expect_only(l, "request.", NULL);
    frame = lines_epr_request(l, word_ask_fixed(6, 5000, 5000), 0);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_run(l, NULL);
    expect_fail(l, "request.position", frame, WHO_SINK);
    expect_only(l, "request.", "request.position");
}

static void an_epr_request_behind_the_offer_fails(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_epr(l, word_ask_fixed(10, 5000, 5000), word_fixed(28000, 5000), CONTROL_REJECT);

    lines_run(l, NULL);
    expect_fail(l, "request.position", frame, WHO_SINK);
    expect_only(l, "request.", "request.position");
}

/* request.current */

static void the_current_of_a_fixed_object_is_the_limit(void **state)
{
    (void)state;
    expect_sink_row("request.current", word_ask_fixed(2, 3000, 3000), false);
    expect_sink_row("request.current", word_ask_fixed(2, 3010, 3010) | MISMATCH, true);
}

static void the_current_of_a_variable_object_is_the_limit(void **state)
{
    (void)state;
    expect_sink_row("request.current", word_ask_fixed(4, 2000, 2000), false);
    expect_sink_row("request.current", word_ask_fixed(4, 2010, 2010) | MISMATCH, true);
}

static void the_current_of_a_pps_object_is_the_limit(void **state)
{
    (void)state;
    expect_sink_row("request.current", word_ask_pps(5, 5000, 3000), false);
    expect_sink_row("request.current", word_ask_pps(5, 5000, 3050), true);
}

static void expect_avs_current(uint32_t avs, unsigned mv, unsigned ma, bool broken)
{
    struct lines *l = lines_new();
    uint64_t frame = ask_avs(l, avs, word_ask_avs(3, mv, ma), broken ? CONTROL_REJECT : CONTROL_ACCEPT);

    lines_run(l, NULL);
    if (broken)
        expect_fail(l, "request.current", frame, WHO_SINK);
    else
        expect_verdict(l, "request.current", VERDICT_PASS);
    expect_only(l, "request.", broken ? "request.current" : NULL);
    lines_free(l);
}

static void an_spr_avs_object_has_one_current_up_to_15_v_and_one_above(void **state)
{
    (void)state;
    expect_avs_current(word_spr_avs(3000, 2250), 15000, 3000, false);
    expect_avs_current(word_spr_avs(3000, 2250), 15000, 3050, true);
    expect_avs_current(word_spr_avs(3000, 2250), 15100, 2250, false);
    expect_avs_current(word_spr_avs(3000, 2250), 15100, 2300, true);
}

static void expect_epr_avs_current(unsigned mv, unsigned ma, bool broken)
{
    struct lines *l = lines_new();
    uint64_t frame = ask_epr(l, word_ask_avs(9, mv, ma), word_epr_avs(15000, 28000, 140), broken ? CONTROL_REJECT : CONTROL_ACCEPT);

    lines_run(l, NULL);
    if (broken)
        expect_fail(l, "request.current", frame, WHO_SINK);
    else
        expect_verdict(l, "request.current", VERDICT_PASS);
    expect_only(l, "request.", broken ? "request.current" : NULL);
    lines_free(l);
}

static void an_epr_avs_object_gives_its_power_but_never_more_than_5_a(void **state)
{
    (void)state;
    expect_epr_avs_current(28000, 5000, false); /* 140 W / 28 V = 5 A */
    expect_epr_avs_current(28000, 5050, true);
    expect_epr_avs_current(20000, 5000, false);
    expect_epr_avs_current(20000, 5050, true); /* 7 A by its power */
}

static void the_power_of_an_epr_avs_object_is_rounded_up_to_a_step(void **state)
{
    /* 100 W / 27.0 V = 3703.7 mA: 3750 mA passes, 3800 mA does not. */
    static const struct { unsigned ma; bool broken; } rows[] = { { 3750, false }, { 3800, true } };

    (void)state;
    for (unsigned i = 0; i < 2; i++) {
        struct lines *l = lines_new();
        uint32_t words[9];
        uint64_t frame;

        memcpy(words, epr_words(), sizeof words);
        words[8] = word_epr_avs(15000, 28000, 100);
        lines_attach(l);
        lines_negotiate(l, 4, words, word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE);
        lines_enter_epr(l);
        lines_epr_caps(l, 9, words);
        frame = lines_epr_request(l, word_ask_avs(9, 27000, rows[i].ma), words[8]);
        lines_run(l, NULL);
        if (rows[i].broken)
            expect_fail(l, "request.current", frame, WHO_SINK);
        else
            expect_verdict(l, "request.current", VERDICT_PASS);
        lines_free(l);
    }
}

/* request.current-order */

static void operating_current_is_at_most_the_maximum_asked_for(void **state)
{
    (void)state;
    expect_sink_row("request.current-order", word_ask_fixed(2, 2000, 2000), false);
    expect_sink_row("request.current-order", word_ask_fixed(2, 2010, 2000), true);
    expect_sink_row("request.current-order", word_ask_fixed(4, 1510, 1500), true);
}

static void operating_power_is_at_most_the_maximum_asked_for(void **state)
{
    (void)state;
    expect_sink_row("request.current-order", word_ask_battery(3, 9000, 9000), false);
    expect_sink_row("request.current-order", word_ask_battery(3, 9250, 9000), true);
}

static void with_give_back_the_second_field_is_a_minimum(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 2000, 500) | GIVE_BACK, CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_verdict(l, "request.current-order", VERDICT_NOT_SEEN);
    expect_only(l, "request.", NULL);
}

/* request.power */

static void the_power_of_a_battery_object_is_the_limit(void **state)
{
    (void)state;
    expect_sink_row("request.power", word_ask_battery(3, 18000, 18000), false);
    expect_sink_row("request.power", word_ask_battery(3, 18250, 18250) | MISMATCH, true);
}

/* request.mismatch-flag */

static void who_wants_more_than_is_offered_says_so(void **state)
{
    (void)state;
    expect_sink_row("request.mismatch-flag", word_ask_fixed(2, 3000, 4000) | MISMATCH, false);
    expect_sink_row("request.mismatch-flag", word_ask_battery(3, 18000, 20000) | MISMATCH, false);
}

static void a_mismatch_without_the_flag_is_found_but_the_request_is_valid(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_for(l, word_ask_fixed(2, 3000, 3010), CONTROL_ACCEPT);

    lines_run(l, NULL);
    expect_fail(l, "request.mismatch-flag", frame, WHO_SINK);
    expect_only(l, "request.", "request.mismatch-flag");
    expect_verdict(l, "request.valid-accepted", VERDICT_PASS);
}

static void a_battery_mismatch_without_the_flag_is_found(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_for(l, word_ask_battery(3, 18000, 18250), CONTROL_ACCEPT);

    lines_run(l, NULL);
    expect_fail(l, "request.mismatch-flag", frame, WHO_SINK);
}

static void what_was_asked_and_offered_stands_in_the_finding(void **state)
{
    struct lines *l = *state, *k = lines_new();
    const struct finding *f;

    ask_for(l, word_ask_fixed(2, 3010, 3010) | MISMATCH, CONTROL_REJECT);
    lines_run(l, NULL);
    f = lines_finding(l, "request.current", VERDICT_FAIL, 0);
    assert_string_equal(f->unit, "mA");
    assert_int_equal(f->measured, 3010000);
    assert_int_equal(f->high, 3000000);
    ask_for(k, word_ask_battery(3, 9250, 9000), CONTROL_REJECT);
    lines_run(k, NULL);
    f = lines_finding(k, "request.current-order", VERDICT_FAIL, 0);
    assert_string_equal(f->unit, "W");
    assert_int_equal(f->measured, 9250); /* thousandths of a watt */
    assert_int_equal(f->high, 9000);
    lines_free(k);
}

static void where_no_more_is_wanted_the_flag_is_no_occasion(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 1000, 3000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_verdict(l, "request.mismatch-flag", VERDICT_NOT_SEEN);
}

/* request.pps-range */

static void a_pps_voltage_is_from_its_minimum_to_its_maximum(void **state)
{
    (void)state;
    expect_sink_row("request.pps-range", word_ask_pps(5, 3300, 1000), false);
    expect_sink_row("request.pps-range", word_ask_pps(5, 11000, 1000), false);
    expect_sink_row("request.pps-range", word_ask_pps(5, 3280, 1000), true);
    expect_sink_row("request.pps-range", word_ask_pps(5, 11020, 1000), true);
}

static void under_2_0_there_is_no_pps_to_judge(void **state)
{
    struct lines *l = *state;

    l->revision = HEADER_R2;
    ask_for(l, word_ask_pps(5, 12000, 1000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_verdict(l, "request.pps-range", VERDICT_NOT_SEEN);
}

/* request.avs-range, request.avs-step */

static void expect_avs_row(const char *id, uint32_t avs, unsigned mv, bool broken)
{
    struct lines *l = lines_new();
    uint64_t frame = ask_avs(l, avs, word_ask_avs(3, mv, 1000), broken ? CONTROL_REJECT : CONTROL_ACCEPT);

    lines_run(l, NULL);
    if (broken)
        expect_fail(l, id, frame, WHO_SINK);
    else
        expect_verdict(l, id, VERDICT_PASS);
    expect_only(l, "request.", broken ? id : NULL);
    lines_free(l);
}

static void an_spr_avs_voltage_is_from_9_v_to_15_or_20_v(void **state)
{
    (void)state;
    expect_avs_row("request.avs-range", word_spr_avs(3000, 0), 9000, false);
    expect_avs_row("request.avs-range", word_spr_avs(3000, 0), 8900, true);
    expect_avs_row("request.avs-range", word_spr_avs(3000, 0), 15000, false);
    expect_avs_row("request.avs-range", word_spr_avs(3000, 0), 15100, true);
    expect_avs_row("request.avs-range", word_spr_avs(3000, 2000), 20000, false);
    expect_avs_row("request.avs-range", word_spr_avs(3000, 2000), 20100, true);
}

static void an_epr_avs_voltage_is_inside_the_object(void **state)
{
    static const struct { unsigned mv; bool broken; } rows[] = {
        { 15000, false }, { 14900, true }, { 28000, false }, { 28100, true },
    };

    (void)state;
    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lines *l = lines_new();
        uint64_t frame = ask_epr(l, word_ask_avs(9, rows[i].mv, 1000), word_epr_avs(15000, 28000, 140),
                                 rows[i].broken ? CONTROL_REJECT : CONTROL_ACCEPT);

        lines_run(l, NULL);
        if (rows[i].broken)
            expect_fail(l, "request.avs-range", frame, WHO_SINK);
        else
            expect_verdict(l, "request.avs-range", VERDICT_PASS);
        expect_only(l, "request.", rows[i].broken ? "request.avs-range" : NULL);
        lines_free(l);
    }
}

static void an_avs_voltage_is_a_multiple_of_100_mv(void **state)
{
    (void)state;
    expect_avs_row("request.avs-step", word_spr_avs(3000, 0), 12000, false);
    expect_avs_row("request.avs-step", word_spr_avs(3000, 0), 12025, true);
    expect_avs_row("request.avs-step", word_spr_avs(3000, 0), 12050, true);
    expect_avs_row("request.avs-step", word_spr_avs(3000, 0), 12075, true);
}

/* request.reserved-bits */

static void reserved_bits_of_each_form_are_0(void **state)
{
    (void)state;
    expect_sink_row("request.reserved-bits", word_ask_fixed(2, 3000, 3000) | 1 << 20, true);
    expect_sink_row("request.reserved-bits", word_ask_battery(3, 9000, 9000) | 1 << 21, true);
    expect_sink_row("request.reserved-bits", word_ask_fixed(2, 3000, 3000) | 15 << 22, false); /* 25:22 have a meaning */
    expect_sink_row("request.reserved-bits", word_ask_pps(5, 5000, 1000) | 1 << 7, true);
    expect_sink_row("request.reserved-bits", word_ask_pps(5, 5000, 1000) | 1 << 8, true);
    expect_sink_row("request.reserved-bits", word_ask_pps(5, 5000, 1000) | 1 << 21, true);
    expect_sink_row("request.reserved-bits", word_ask_pps(5, 5000, 1000) | 1 << 27, true);
}

static void avs_requests_have_the_reserved_bits_of_pps(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_avs(l, word_spr_avs(3000, 0), word_ask_avs(3, 12000, 1000) | 1 << 7, CONTROL_REJECT);

    lines_run(l, NULL);
    expect_fail(l, "request.reserved-bits", frame, WHO_SINK);
    expect_only(l, "request.", "request.reserved-bits");
}

static void under_2_0_bits_23_and_22_are_reserved_too(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    l->revision = HEADER_R2;
    frame = ask_for(l, word_ask_fixed(2, 3000, 3000) | 1 << 23, CONTROL_REJECT);
    lines_run(l, NULL);
    expect_fail(l, "request.reserved-bits", frame, WHO_SINK);
    expect_only(l, "request.", "request.reserved-bits");
}

static void give_back_is_reserved_from_3_1_on(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    ask_for(l, word_ask_fixed(2, 3000, 1000) | GIVE_BACK, CONTROL_ACCEPT); /* 3.x, edition unknown */
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, NULL);
    expect_only(l, "request.", NULL);
    frame = lines_request(l, word_ask_fixed(2, 3000, 1000) | GIVE_BACK | EPR_CAPABLE);
    lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    lines_run(l, NULL);
    expect_fail(l, "request.reserved-bits", frame, WHO_SINK);
}

/* request.epr-copy */

static void the_copy_in_an_epr_request_equals_the_object(void **state)
{
    struct lines *l = *state;

    ask_epr(l, word_ask_fixed(8, 5000, 5000), word_fixed(28000, 5000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_counts(l, "request.epr-copy", 1, 0, 0);
    expect_only(l, "request.", NULL);
}

static void a_copy_that_differs_in_one_bit_fails(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_epr(l, word_ask_fixed(8, 5000, 5000), word_fixed(28000, 5000) ^ 1, CONTROL_REJECT);

    lines_run(l, NULL);
    expect_fail(l, "request.epr-copy", frame, WHO_SINK);
    expect_only(l, "request.", "request.epr-copy");
}

static void a_plain_request_has_no_copy(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_verdict(l, "request.epr-copy", VERDICT_NOT_SEEN);
}

/* request.valid-accepted */

static void a_valid_request_may_be_put_off(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_WAIT);
    lines_run(l, NULL);
    expect_counts(l, "request.valid-accepted", 1, 0, 0);
}

static void a_valid_request_refused_fails_once_two_seconds_have_gone(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);

    lines_wait(l, MS(1900));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_verdict(l, "request.valid-accepted", VERDICT_NOT_SEEN); /* the trace ends too soon to tell */
    lines_wait(l, MS(200));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_fail(l, "request.valid-accepted", frame + 2, WHO_SOURCE);
    expect_only(l, "request.", "request.valid-accepted");
}

/* The Reject's start to the start of another offer. */
static void expect_after_reject(int64_t after_ns, unsigned verdict)
{
    struct lines *l = lines_new();
    uint64_t frame = ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);

    l->now_ns = l->line[frame + 2 - 1].t_ns + after_ns;
    lines_caps(l, 1, (const uint32_t[]){ word_fixed(5000, 3000) });
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
    expect_verdict(l, "request.valid-accepted", verdict);
    lines_free(l);
}

static void another_offer_within_two_seconds_explains_the_refusal(void **state)
{
    (void)state;
    expect_after_reject(MS(50), VERDICT_PASS);
    expect_after_reject(MS(2000), VERDICT_PASS);
    expect_after_reject(MS(2000) + 1, VERDICT_FAIL);
}

static void the_same_offer_again_explains_nothing(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];
    uint64_t      frame = ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);

    offer_words(words);
    lines_caps(l, OFFERED, words);
    lines_wait(l, MS(2100));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_fail(l, "request.valid-accepted", frame + 2, WHO_SOURCE);
}

static void every_refusal_is_an_occasion_of_its_own(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);
    for (unsigned k = 0; k < 3; k++) {
        lines_wait(l, MS(300));
        lines_request(l, word_ask_fixed(1, 3000, 3000));
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    }
    lines_wait(l, MS(2100));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_counts(l, "request.valid-accepted", 0, 4, 0);
}

static void a_loss_in_the_two_seconds_leaves_a_refusal_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);

    lines_wait(l, MS(500));
    lines_lost(l, 1);
    lines_wait(l, MS(2000));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_undecided(l, "request.valid-accepted", frame + 2, CAUSE_LOST);
}

static void a_bad_packet_in_the_two_seconds_leaves_a_refusal_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame = ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);

    lines_wait(l, MS(500));
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_GET_SINK_CAP, .spoilt = true });
    lines_wait(l, MS(2000));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_undecided(l, "request.valid-accepted", frame + 2, CAUSE_BAD_PACKET);
}

static void a_detach_after_a_refusal_leaves_nobody_to_offer_to(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_REJECT);
    lines_wait(l, MS(500));
    lines_detach(l);
    lines_wait(l, MS(3000));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_verdict(l, "request.valid-accepted", VERDICT_NOT_SEEN);
}

static void a_request_with_reserved_bits_may_be_refused(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(2, 3000, 3000) | 1 << 20, CONTROL_REJECT);
    lines_wait(l, MS(2100));
    lines_mark(l, RECORD_NOTE, 0);
    lines_run(l, NULL);
    expect_verdict(l, "request.valid-accepted", VERDICT_NOT_SEEN);
}

/* request.invalid-refused */

static void an_invalid_request_that_is_accepted_is_a_fault_of_both(void **state)
{
    const struct { const char *sink; uint32_t request; } rows[] = {
        { "request.position", word_ask_fixed(6, 3000, 3000) },
        { "request.current", word_ask_fixed(2, 3010, 3010) | MISMATCH },
        { "request.power", word_ask_battery(3, 18250, 18250) | MISMATCH },
        { "request.pps-range", word_ask_pps(5, 11020, 1000) },
    };

    (void)state;
    for (unsigned i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lines *l = lines_new();
        uint64_t frame = ask_for(l, rows[i].request, CONTROL_ACCEPT);
        char both[80];

        lines_run(l, NULL);
        expect_fail(l, rows[i].sink, frame, WHO_SINK);
        expect_fail(l, "request.invalid-refused", frame + 2, WHO_SOURCE);
        strcpy(both, "request.invalid-refused ");
        strcat(both, rows[i].sink);
        expect_only(l, "request.", both);
        lines_free(l);
    }
}

static void an_avs_voltage_or_a_copy_that_is_wrong_is_to_be_refused(void **state)
{
    struct lines *l = *state, *k = lines_new();
    uint64_t frame = ask_avs(l, word_spr_avs(3000, 0), word_ask_avs(3, 16000, 1000), CONTROL_ACCEPT);

    lines_run(l, NULL);
    expect_fail(l, "request.invalid-refused", frame + 2, WHO_SOURCE);
    frame = ask_epr(k, word_ask_fixed(8, 5000, 5000), word_fixed(28000, 4000), CONTROL_ACCEPT);
    lines_run(k, NULL);
    expect_fail(k, "request.invalid-refused", frame + 2, WHO_SOURCE);
    expect_only(k, "request.", "request.invalid-refused request.epr-copy");
    lines_free(k);
}

static void reject_and_wait_refuse_an_invalid_request(void **state)
{
    struct lines *l = *state, *k = lines_new();

    ask_for(l, word_ask_fixed(6, 3000, 3000), CONTROL_REJECT);
    lines_run(l, NULL);
    expect_counts(l, "request.invalid-refused", 1, 0, 0);
    ask_for(k, word_ask_fixed(6, 3000, 3000), CONTROL_WAIT);
    lines_run(k, NULL);
    expect_counts(k, "request.invalid-refused", 1, 0, 0);
    lines_free(k);
}

static void a_hard_reset_refuses_an_invalid_request(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];

    offer_words(words);
    lines_attach(l);
    lines_caps(l, OFFERED, words);
    lines_request(l, word_ask_fixed(6, 3000, 3000));
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_counts(l, "request.invalid-refused", 1, 0, 0);
}

static void a_soft_reset_of_the_source_refuses_an_invalid_request(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];

    offer_words(words);
    lines_attach(l);
    lines_caps(l, OFFERED, words);
    lines_request(l, word_ask_fixed(6, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_run(l, NULL);
    expect_counts(l, "request.invalid-refused", 1, 0, 0);
}

static void a_request_that_nobody_heard_was_not_refused(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];

    offer_words(words);
    lines_attach(l);
    lines_caps(l, OFFERED, words);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                .words = { word_ask_fixed(6, 3000, 3000) }, .quiet = true });
    lines_reset(l, RECORD_HARD_RESET);
    lines_run(l, NULL);
    expect_verdict(l, "request.invalid-refused", VERDICT_NOT_SEEN);
}

/* In a contract the source makes a smaller offer; the Request that starts after_ns behind its end asks for what is gone. */
static struct lines *offer_changed(void **state, int64_t after_ns, uint64_t *request)
{
    struct lines *l = *state;
    uint64_t      offer;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    offer = lines_caps(l, 1, (const uint32_t[]){ word_fixed(5000, 3000) });
    /* Its end: 64 + 20 bits, 2 + 4 + 4 bytes of 10 bits, 5 bits, at 300 kbit/s. */
    l->now_ns = l->line[offer - 1].t_ns + record_nominal_ns(10) + after_ns;
    *request = lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    return l;
}

static void an_offer_that_has_just_changed_leaves_an_accept_undecided(void **state)
{
    uint64_t      frame;
    struct lines *l = offer_changed(state, MS(33) - 1, &frame);

    lines_run(l, NULL);
    expect_undecided(l, "request.invalid-refused", frame + 2, CAUSE_RECENT_OFFER);
    expect_fail(l, "request.position", frame, WHO_SINK);
}

static void after_a_hard_reset_no_former_offer_excuses_an_accept(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    ask_for(l, word_ask_fixed(2, 3000, 3000), CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(900));
    lines_caps(l, 1, (const uint32_t[]){ word_fixed(5000, 3000) });
    frame = lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_run(l, NULL);
    expect_fail(l, "request.invalid-refused", frame + 2, WHO_SOURCE);
}

static void an_offer_that_changed_33_ms_before_counts(void **state)
{
    uint64_t      frame;
    struct lines *l = offer_changed(state, MS(33), &frame);

    lines_run(l, NULL);
    expect_fail(l, "request.invalid-refused", frame + 2, WHO_SOURCE);
}

static void the_sinks_fault_is_the_partners_and_the_sources_the_devices(void **state)
{
    struct lines *l = *state;

    ask_for(l, word_ask_fixed(6, 3000, 3000), CONTROL_ACCEPT);
    lines_run(l, NULL);
    assert_int_equal(lines_finding(l, "request.position", VERDICT_FAIL, 0)->party, PARTY_PARTNER);
    assert_int_equal(lines_finding(l, "request.invalid-refused", VERDICT_FAIL, 0)->party, PARTY_DEVICE);
    assert_int_equal(engine_verdict(l->engine), VERDICT_FAIL);
}

/* The second Request stays without an answer; what is said to a Data_Reset afterwards is no answer to it. */
static void the_answer_to_a_later_question_is_none_to_a_request(void **state)
{
    static const struct { unsigned asks, answers, type; } cases[] = {
        { SIDE_SINK, SIDE_SOURCE, CONTROL_REJECT }, { SIDE_SOURCE, SIDE_SINK, CONTROL_ACCEPT },
    };
    uint32_t words[OFFERED];

    offer_words(words);
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l;

        lines_teardown(state);
        lines_setup(state);
        l = *state;
        lines_attach(l);
        lines_negotiate(l, OFFERED, words, word_ask_fixed(1, 3000, 3000));
        lines_wait(l, MS(500));
        lines_request(l, word_ask_fixed(2, 3000, 3000));
        lines_wait(l, MS(400));
        lines_control(l, cases[k].asks, CONTROL_DATA_RESET);
        lines_control(l, cases[k].answers, cases[k].type);
        lines_wait(l, MS(80));
        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        lines_wait(l, MS(3000));
        lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
        lines_run(l, NULL);
        expect_counts(l, "request.valid-accepted", 1, 0, 0);
        assert_int_equal(lines_result(l, "exchange.one-at-a-time").counts.failed, 0);
    }
}

/* A Request that is no such message */

static void an_epr_request_under_2_0_is_not_judged_by_what_it_asks_for(void **state)
{
    struct lines *l = *state;
    uint32_t      words[OFFERED];
    uint64_t      frame;

    offer_words(words);
    l->revision = HEADER_R2;
    lines_attach(l);
    lines_negotiate(l, OFFERED, words, word_ask_fixed(2, 3000, 3000));
    frame = lines_epr_request(l, word_ask_fixed(9, 3000, 3000), 0); /* 2.0 has no EPR_Request */
    lines_run(l, NULL);
    expect_fail(l, "message.allowed-in-revision", frame, WHO_SINK);
    expect_only(l, "request.", NULL);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

/* What is wrong with the message itself, beside what it asks for. */
enum form { FORM_WHOLE, FORM_COUNT, FORM_LENGTH, FORM_REVISION };
struct bad_request { const char *id; uint32_t word, copy; uint8_t answer; };

/* In EPR mode, every kind of object on offer, that request with that fault of form; failures of the rule. */
static uint64_t failures_of(const struct bad_request *b, enum form form, const char *silencer)
{
    static const uint32_t sink_keeps_3_0 = 0x30000000; /* Revision message data object: major 3, minor 0 */
    struct lines *l = lines_new();
    uint32_t      words[9] = { 0 };
    uint64_t      failed;

    offer_words(words);
    words[0] |= SOURCE_EPR_CAPABLE;
    words[7] = word_fixed(28000, 5000);
    words[8] = word_epr_avs(15000, 28000, 140);
    lines_attach(l);
    lines_cable_identity(l, 2, 3, true);
    lines_negotiate(l, OFFERED, words, word_ask_fixed(2, 3000, 3000) | EPR_CAPABLE);
    if (form == FORM_REVISION)
        lines_data(l, SIDE_SINK, DATA_REVISION, 1, &sink_keeps_3_0);
    lines_enter_epr(l);
    lines_epr_caps(l, 9, words);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_EPR_REQUEST,
                                .count = form == FORM_COUNT ? 3 : 2, .words = { b->word, b->copy },
                                .bytes_off = form == FORM_LENGTH ? 4 : 0 });
    lines_control(l, SIDE_SOURCE, b->answer);
    lines_wait(l, MS(2500));
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    failed = lines_result(l, b->id).counts.failed;
    if (silencer)
        expect_verdict(l, silencer, VERDICT_FAIL);
    lines_free(l);
    return failed;
}

/* The catalogue's section 6: object-count and length for that message, allowed-in-revision for what is asked with it. */
static void what_is_wrong_with_the_message_speaks_for_what_it_asks(void **state)
{
    const uint32_t nine = word_fixed(9000, 3000), battery = word_battery(5000, 12000, 18000), avs = word_epr_avs(15000, 28000, 140);
    const struct bad_request bad[] = {
        { "request.position", word_ask_fixed(6, 3000, 3000), 0, CONTROL_REJECT },
        { "request.current", word_ask_fixed(2, 3010, 3010) | MISMATCH, nine, CONTROL_REJECT },
        { "request.current-order", word_ask_fixed(2, 2010, 2000), nine, CONTROL_REJECT },
        { "request.power", word_ask_battery(3, 18250, 18250) | MISMATCH, battery, CONTROL_REJECT },
        { "request.mismatch-flag", word_ask_fixed(2, 3000, 4000), nine, CONTROL_REJECT },
        { "request.pps-range", word_ask_pps(5, 12000, 1000), word_pps(3300, 11000, 3000), CONTROL_REJECT },
        { "request.avs-range", word_ask_avs(9, 29000, 3000), avs, CONTROL_REJECT },
        { "request.avs-step", word_ask_avs(9, 20025, 3000), avs, CONTROL_REJECT },
        { "request.reserved-bits", word_ask_fixed(2, 3000, 3000) | UINT32_C(1) << 20, nine, CONTROL_REJECT },
        { "request.epr-copy", word_ask_fixed(2, 3000, 3000), nine ^ 1, CONTROL_REJECT },
        { "request.valid-accepted", word_ask_fixed(2, 3000, 3000), nine, CONTROL_REJECT },
        { "request.invalid-refused", word_ask_fixed(2, 3010, 3010) | MISMATCH, nine, CONTROL_ACCEPT },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof bad / sizeof bad[0]; k++) {
        if (failures_of(&bad[k], FORM_WHOLE, NULL) != 1)
            fail_msg("%s: does not fail on a request whose form is as it should be", bad[k].id);
        if (failures_of(&bad[k], FORM_COUNT, "message.object-count") + failures_of(&bad[k], FORM_LENGTH, "message.length") +
                failures_of(&bad[k], FORM_REVISION, "message.allowed-in-revision") != 0)
            fail_msg("%s: fails beside the fault of form", bad[k].id);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_sound_request_passes),
        TEST(where_nothing_is_asked_for_no_rule_has_an_occasion),
        TEST(without_the_offer_every_demand_is_undecided),
        TEST(without_the_offer_an_epr_request_is_undecided_too),
        TEST(after_a_loss_the_offer_may_have_changed),
        TEST(an_offer_before_the_gap_is_not_sure_to_be_the_one_answered_after_it),
        TEST(a_bad_packet_that_may_have_been_an_offer_leaves_a_request_undecided),
        TEST(a_bad_control_message_leaves_the_offer_as_it_was),
        TEST(the_first_and_the_last_object_may_be_asked_for),
        TEST(positions_0_and_behind_the_offer_fail_and_silence_the_rest),
        TEST(a_position_that_no_offer_can_have_fails_without_the_offer),
        TEST(the_highest_positions_need_the_offer_to_be_judged),
        TEST(an_epr_request_may_ask_for_both_parts_of_the_offer_but_not_for_a_filler),
        TEST(an_epr_request_behind_the_offer_fails),
        TEST(the_current_of_a_fixed_object_is_the_limit),
        TEST(the_current_of_a_variable_object_is_the_limit),
        TEST(the_current_of_a_pps_object_is_the_limit),
        TEST(an_spr_avs_object_has_one_current_up_to_15_v_and_one_above),
        TEST(an_epr_avs_object_gives_its_power_but_never_more_than_5_a),
        TEST(the_power_of_an_epr_avs_object_is_rounded_up_to_a_step),
        TEST(operating_current_is_at_most_the_maximum_asked_for),
        TEST(operating_power_is_at_most_the_maximum_asked_for),
        TEST(with_give_back_the_second_field_is_a_minimum),
        TEST(the_power_of_a_battery_object_is_the_limit),
        TEST(who_wants_more_than_is_offered_says_so),
        TEST(a_mismatch_without_the_flag_is_found_but_the_request_is_valid),
        TEST(a_battery_mismatch_without_the_flag_is_found),
        TEST(what_was_asked_and_offered_stands_in_the_finding),
        TEST(where_no_more_is_wanted_the_flag_is_no_occasion),
        TEST(a_pps_voltage_is_from_its_minimum_to_its_maximum),
        TEST(under_2_0_there_is_no_pps_to_judge),
        TEST(an_spr_avs_voltage_is_from_9_v_to_15_or_20_v),
        TEST(an_epr_avs_voltage_is_inside_the_object),
        TEST(an_avs_voltage_is_a_multiple_of_100_mv),
        TEST(reserved_bits_of_each_form_are_0),
        TEST(avs_requests_have_the_reserved_bits_of_pps),
        TEST(under_2_0_bits_23_and_22_are_reserved_too),
        TEST(give_back_is_reserved_from_3_1_on),
        TEST(the_copy_in_an_epr_request_equals_the_object),
        TEST(a_copy_that_differs_in_one_bit_fails),
        TEST(a_plain_request_has_no_copy),
        TEST(a_valid_request_may_be_put_off),
        TEST(what_is_wrong_with_the_message_speaks_for_what_it_asks),
        TEST(a_valid_request_refused_fails_once_two_seconds_have_gone),
        TEST(another_offer_within_two_seconds_explains_the_refusal),
        TEST(the_same_offer_again_explains_nothing),
        TEST(every_refusal_is_an_occasion_of_its_own),
        TEST(a_loss_in_the_two_seconds_leaves_a_refusal_undecided),
        TEST(a_bad_packet_in_the_two_seconds_leaves_a_refusal_undecided),
        TEST(a_detach_after_a_refusal_leaves_nobody_to_offer_to),
        TEST(a_request_with_reserved_bits_may_be_refused),
        TEST(an_invalid_request_that_is_accepted_is_a_fault_of_both),
        TEST(an_avs_voltage_or_a_copy_that_is_wrong_is_to_be_refused),
        TEST(reject_and_wait_refuse_an_invalid_request),
        TEST(a_hard_reset_refuses_an_invalid_request),
        TEST(a_soft_reset_of_the_source_refuses_an_invalid_request),
        TEST(a_request_that_nobody_heard_was_not_refused),
        TEST(an_offer_that_has_just_changed_leaves_an_accept_undecided),
        TEST(after_a_hard_reset_no_former_offer_excuses_an_accept),
        TEST(an_offer_that_changed_33_ms_before_counts),
        TEST(the_sinks_fault_is_the_partners_and_the_sources_the_devices),
        TEST(the_answer_to_a_later_question_is_none_to_a_request),
        TEST(an_epr_request_under_2_0_is_not_judged_by_what_it_asks_for),
    };

    return cmocka_run_group_tests_name("request rules", tests, NULL, NULL);
}
