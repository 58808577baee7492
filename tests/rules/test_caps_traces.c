/*
 * The rules caps.* where it takes more than one offer: offers that follow each other or come again, Source_Info, what
 * a sink says. Expectations typed from the catalogue of rules.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* ---- offers that follow each other ---- */

static void a_second_offer_is_judged_by_what_it_shows(void **state)
{
    struct lines *l = *state;

    lines_about(l, RECORD_PORT_BENCH, RATED(65));
    lines_attach(l);
    OFFER(l, SET_65W);
    OFFER(l, F5, F9);
    lines_run(l, NULL);
    expect_counts(l, "caps.power-rules-voltages", 2, 0, 0);
    expect_only(l, "caps.", NULL);
}

static void a_second_offer_answers_for_the_present_pdp_said_while_it_stood(void **state)
{
    struct lines *l = *state;
    uint64_t second;

    lines_attach(l);
    OFFER(l, SET_65W);
    say_info(l, INFO(65, 65, 65));
    second = OFFER(l, F5, F9);
    say_info(l, INFO(65, 30, 27));
    lines_run(l, NULL);
    expect_counts(l, "caps.power-rules-voltages", 1, 1, 0);
    assert_int_equal(lines_finding(l, "caps.power-rules-voltages", VERDICT_FAIL, 0)->frame, second);
    expect_only(l, "caps.", "caps.power-rules-voltages");
}

static void a_port_that_gives_power_to_another_is_not_held_to_what_it_said_before(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    say_info(l, INFO(65, 65, 65));
    OFFER(l, F5, F9);
    say_info(l, INFO(65, 27, 27));
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_counts(l, "caps.over-rating", 6, 0, 0);
}

static void the_same_offer_again_is_no_new_occasion(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    OFFER(l, SET_65W);
    OFFER(l, F5, F9);
    OFFER(l, SET_65W);
    lines_run(l, NULL);
    expect_counts(l, "caps.first-5v", 2, 0, 0);
    expect_counts(l, "caps.power-rules-voltages", 2, 0, 0);
}

/* Section 6: an offer that does not begin with 5 V speaks for what its power owes. */
static void an_offer_that_does_not_begin_with_5_v_is_not_judged_by_its_currents(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, F5, FIXED(9000, 1000), F15);
    lines_detach(l);
    lines_attach(l);
    OFFER(l, F9, FIXED(15000, 1000), F20_65W);
    lines_run(l, NULL);
    expect_counts(l, "caps.first-5v", 1, 1, 0);
    assert_int_equal(lines_result(l, "caps.power-rules-currents").counts.failed, 1); /* the first offer's 9 V */
}

static void a_later_offer_need_not_reach_the_extended_rating(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    OFFER(l, SET_65W);
    say_extended_caps(l, 65, 0, 0);
    OFFER(l, F5, F9);
    lines_run(l, NULL);
    expect_counts(l, "caps.agrees-with-extended-rating", 1, 0, 0);
    expect_only(l, "caps.", NULL);
}

static void a_rating_of_one_attach_is_not_carried_into_the_next(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    say_extended_caps(l, 65, 0, 0);
    lines_detach(l);
    lines_attach(l);
    OFFER(l, F5, F9);
    lines_detach(l);
    lines_run(l, NULL);
    expect_counts(l, "caps.power-rules-voltages", 2, 0, 0);
    expect_counts(l, "caps.over-rating", 4, 0, 0);
}

static void a_trace_without_offers_shows_nothing_of_them(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_run(l, NULL);
    for (unsigned k = 0; k < engine_rules(l->engine); k++)
        if (strncmp(engine_result(l->engine, k).rule->id, "caps.", 5) == 0)
            assert_int_equal(engine_result(l->engine, k).verdict, VERDICT_NOT_SEEN);
}

/* Source_Capabilities_Extended of R3.0 has 24 bytes, of R3.1 25. */
static void extended_capabilities_of_24_bytes_have_a_rating_and_of_23_none(void **state)
{
    static const uint8_t block[24] = { [23] = 65 };

    (void)state;
    for (unsigned size = 23; size <= 24; size++) {
        struct lines *l = lines_new();

        lines_attach(l);
        OFFER(l, SET_65W);
        lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
        lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, block, size);
        lines_run(l, NULL);
        expect_counts(l, "caps.over-rating", size == 24 ? 4 : 0, 0, 0);
        lines_free(l);
    }
}

/* Product types of a plug in bits 29:27 of the ID Header: 3 passive, 4 active, 6 VPD (Linux include/linux/usb/pd_vdo.h). */
static void only_cables_say_what_they_carry(void **state)
{
    static const struct { uint32_t product; uint8_t count; unsigned passed, failed; } plugs[] = {
        { 3, 5, 1, 0 }, { 4, 6, 1, 0 }, { 6, 5, 0, 0 }, { 0, 5, 0, 0 }, { 3, 4, 0, 0 },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof plugs / sizeof plugs[0]; k++) {
        struct lines *l = lines_new();

        lines_attach(l);
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                                    .count = 1, .words = { 0xff00a001 } });
        lines_say(l, &(struct say){ .side = SIDE_CABLE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED,
                                    .count = plugs[k].count,
                                    .words = { 0xff00a041, plugs[k].product << 27 | 0x1209, 0, 0x00010000, 0x000c2040 } });
        OFFER(l, SET_65W);
        lines_run(l, NULL);
        expect_counts(l, "caps.over-3a-needs-cable", plugs[k].passed, plugs[k].failed, 0);
        lines_free(l);
    }
}

/* ---- Source_Info ---- */

static void a_reported_pdp_two_watts_off_disagrees(void **state)
{
    struct lines *l = *state;
    uint64_t info;

    lines_attach(l);
    OFFER(l, SET_65W);
    info = say_info(l, INFO(65, 65, 63));
    lines_run(l, NULL);
    expect_fail(l, "caps.agrees-with-source-info", info, WHO_SOURCE);
    expect_only(l, "caps.", "caps.agrees-with-source-info");
}

static void source_info_that_does_not_add_up_is_not_held_against_the_offer_as_well(void **state)
{
    struct lines *l = *state;
    uint64_t info;

    lines_attach(l);
    OFFER(l, SET_65W);
    info = say_info(l, INFO(65, 65, 100));
    lines_run(l, NULL);
    expect_fail(l, "ext.source-info-fields", info, WHO_SOURCE);
    expect_verdict(l, "caps.agrees-with-source-info", VERDICT_NOT_SEEN);
}

static void source_info_after_a_loss_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t info;

    lines_attach(l);
    OFFER(l, SET_65W);
    lines_lost(l, 3);
    lines_wait(l, MS(5));
    info = say_info(l, INFO(65, 65, 30));
    lines_run(l, NULL);
    expect_undecided(l, "caps.agrees-with-source-info", info, CAUSE_LOST);
}

static void source_info_of_a_sink_is_not_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    lines_data(l, SIDE_SINK, DATA_SOURCE_INFO, 1, (const uint32_t[]){ INFO(65, 65, 30) });
    lines_run(l, NULL);
    expect_verdict(l, "caps.agrees-with-source-info", VERDICT_NOT_SEEN);
}

static void source_info_before_any_offer_is_not_judged(void **state)
{
    struct lines *l = *state;

    say_info(l, INFO(65, 65, 30));
    lines_run(l, NULL);
    expect_verdict(l, "caps.agrees-with-source-info", VERDICT_NOT_SEEN);
}

/* ---- offers that come again ---- */

static uint64_t answer_get_source_cap(struct lines *l, unsigned count, const uint32_t *words)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP);
    return lines_caps(l, count, words);
}

static const uint32_t set_65w[] = { SET_65W };
static const uint32_t set_27w[] = { F5, F9 };

static void an_offer_asked_for_that_is_the_last_one_passes(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    answer_get_source_cap(l, 4, set_65w);
    lines_run(l, NULL);
    expect_counts(l, "caps.changed-unannounced", 1, 0, 0);
}

static void an_offer_asked_for_that_differs_was_changed_in_silence(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    OFFER(l, SET_65W);
    frame = answer_get_source_cap(l, 2, set_27w);
    lines_run(l, NULL);
    expect_fail(l, "caps.changed-unannounced", frame, WHO_SOURCE);
    expect_only(l, "caps.", "caps.changed-unannounced");
}

static void a_change_that_was_announced_is_no_silent_one(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    OFFER(l, F5, F9);
    answer_get_source_cap(l, 2, set_27w);
    lines_run(l, NULL);
    expect_counts(l, "caps.changed-unannounced", 1, 0, 0);
}

static void a_change_after_a_loss_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    lines_attach(l);
    OFFER(l, SET_65W);
    lines_lost(l, 1);
    lines_wait(l, MS(5));
    frame = answer_get_source_cap(l, 2, set_27w);
    lines_run(l, NULL);
    expect_undecided(l, "caps.changed-unannounced", frame, CAUSE_LOST);
}

static void an_offer_asked_for_without_one_before_is_undecided(void **state)
{
    struct lines *l = *state;
    uint64_t frame;

    contract_for_5v(l);
    frame = answer_get_source_cap(l, 2, set_27w);
    lines_run(l, NULL);
    expect_undecided(l, "caps.changed-unannounced", frame, CAUSE_BEGINNING);
}

static void an_offer_that_nobody_asked_for_is_an_announcement(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    OFFER(l, F5, F9);
    lines_run(l, NULL);
    expect_verdict(l, "caps.changed-unannounced", VERDICT_NOT_SEEN);
}

static void two_repeats_in_30_s_are_let_pass_and_a_third_is_noted(void **state)
{
    struct lines *l = *state;
    uint64_t first, second, third;
    const struct finding *f;

    lines_attach(l);
    OFFER(l, SET_65W);
    first = OFFER(l, SET_65W);
    second = OFFER(l, SET_65W);
    third = OFFER(l, SET_65W);
    OFFER(l, SET_65W);
    lines_run(l, NULL);
    expect_fail(l, "caps.repeats-identical", third, WHO_SOURCE);
    f = lines_finding(l, "caps.repeats-identical", VERDICT_FAIL, 0);
    assert_int_equal(f->values[0], 3);
    assert_int_equal(f->values[1], MS(30000));
    assert_int_equal(f->values[2], 2);
    assert_int_equal(f->evidence_count, 3);
    assert_int_equal(f->evidence[0], first);
    assert_int_equal(f->evidence[1], second);
    assert_int_equal(f->evidence[2], third);
    expect_counts(l, "caps.repeats-identical", 2, 1, 0);
}

static void a_third_repeat_exactly_30_s_after_the_first_is_one_of_30_s(void **state)
{
    static const struct { int64_t after_ns; unsigned failed; } thirds[] = { { MS(30000), 1 }, { MS(30000) + 1, 0 } };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = lines_new();
        int64_t first_ns;

        lines_attach(l);
        OFFER(l, SET_65W);
        first_ns = l->now_ns;
        OFFER(l, SET_65W);
        OFFER(l, SET_65W);
        l->now_ns = first_ns + thirds[k].after_ns;
        OFFER(l, SET_65W);
        lines_run(l, NULL);
        expect_counts(l, "caps.repeats-identical", 3 - thirds[k].failed, thirds[k].failed, 0);
        lines_free(l);
    }
}

static void a_detach_begins_the_count_anew(void **state)
{
    struct lines *l = *state;

    for (unsigned k = 0; k < 2; k++) {
        lines_attach(l);
        OFFER(l, SET_65W);
        OFFER(l, SET_65W);
        OFFER(l, SET_65W);
        lines_detach(l);
    }
    lines_run(l, NULL);
    expect_counts(l, "caps.repeats-identical", 4, 0, 0);
}

static void repeats_that_are_spread_over_more_than_30_s_are_let_pass(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    for (unsigned k = 0; k < 4; k++) {
        OFFER(l, SET_65W);
        lines_wait(l, MS(15000));
    }
    lines_run(l, NULL);
    expect_counts(l, "caps.repeats-identical", 4, 0, 0);
}

static void repeats_that_were_asked_for_are_not_counted(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    for (unsigned k = 0; k < 4; k++)
        answer_get_source_cap(l, 4, set_65w);
    lines_run(l, NULL);
    expect_verdict(l, "caps.repeats-identical", VERDICT_NOT_SEEN);
}

static void repeats_that_a_soft_reset_calls_for_are_not_counted(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, SET_65W);
    for (unsigned k = 0; k < 4; k++) {
        lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
        lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
        OFFER(l, SET_65W);
    }
    lines_run(l, NULL);
    expect_verdict(l, "caps.repeats-identical", VERDICT_NOT_SEEN);
}

static void repeats_before_a_contract_are_not_counted(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    for (unsigned k = 0; k < 5; k++) {
        lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 4,
                                    .words = { SET_65W }, .quiet = true });
        lines_wait(l, MS(150));
    }
    OFFER(l, SET_65W);
    lines_run(l, NULL);
    expect_verdict(l, "caps.repeats-identical", VERDICT_NOT_SEEN);
    expect_counts(l, "caps.first-5v", 1, 0, 0);
}

/* ---- the sink's ---- */

static uint64_t sink_caps(struct lines *l, unsigned count, const uint32_t *words)
{
    lines_attach(l);
    OFFER(l, F5);
    lines_control(l, SIDE_SOURCE, CONTROL_GET_SINK_CAP);
    return lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, count, words);
}

#define SINK_CAPS(l, ...)                                                                                                          \
    sink_caps(l, (unsigned)(sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t)), (const uint32_t[]){ __VA_ARGS__ })

static void published_sink_capabilities_are_in_order(void **state)
{
    struct lines *l = *state;

    /* linux-usb RFC "Character device for USB Power Delivery devices", 2021. */
    SINK_CAPS(l, 0x3601912C, 0x000640E1, 0x9901912C);
    lines_run(l, NULL);
    expect_counts(l, "caps.sink-first-5v", 1, 0, 0);
    expect_counts(l, "caps.sink-order", 1, 0, 0);
    expect_only(l, "caps.", NULL);
}

static void sink_capabilities_that_begin_with_9_v_fail_once_and_about_the_sink(void **state)
{
    struct lines *l = *state;
    uint64_t frame = SINK_CAPS(l, F9, F5);

    lines_run(l, NULL);
    expect_fail(l, "caps.sink-first-5v", frame, WHO_SINK);
    assert_int_equal(lines_finding(l, "caps.sink-first-5v", VERDICT_FAIL, 0)->party, PARTY_PARTNER);
    expect_only(l, "caps.", "caps.sink-first-5v");
    expect_verdict(l, "caps.sink-order", VERDICT_NOT_SEEN);
}

static void sink_capabilities_out_of_order_fail_about_the_sink(void **state)
{
    struct lines *l = *state;
    uint64_t frame = SINK_CAPS(l, F5, F15, F9);

    lines_run(l, NULL);
    expect_fail(l, "caps.sink-order", frame, WHO_SINK);
    expect_only(l, "caps.", "caps.sink-order");
}

static void what_a_source_offers_is_not_judged_as_a_sinks(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER(l, F9, F5);
    lines_run(l, NULL);
    expect_verdict(l, "caps.sink-first-5v", VERDICT_NOT_SEEN);
    expect_verdict(l, "caps.sink-order", VERDICT_NOT_SEEN);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_second_offer_is_judged_by_what_it_shows, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_second_offer_answers_for_the_present_pdp_said_while_it_stood, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_port_that_gives_power_to_another_is_not_held_to_what_it_said_before, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_same_offer_again_is_no_new_occasion, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_later_offer_need_not_reach_the_extended_rating, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(an_offer_that_does_not_begin_with_5_v_is_not_judged_by_its_currents, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_rating_of_one_attach_is_not_carried_into_the_next, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_trace_without_offers_shows_nothing_of_them, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(only_cables_say_what_they_carry, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(extended_capabilities_of_24_bytes_have_a_rating_and_of_23_none, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_reported_pdp_two_watts_off_disagrees, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(source_info_that_does_not_add_up_is_not_held_against_the_offer_as_well, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(source_info_after_a_loss_is_undecided, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(source_info_before_any_offer_is_not_judged, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(source_info_of_a_sink_is_not_judged, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(an_offer_asked_for_that_is_the_last_one_passes, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(an_offer_asked_for_that_differs_was_changed_in_silence, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_change_that_was_announced_is_no_silent_one, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_change_after_a_loss_is_undecided, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(an_offer_asked_for_without_one_before_is_undecided, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(an_offer_that_nobody_asked_for_is_an_announcement, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(two_repeats_in_30_s_are_let_pass_and_a_third_is_noted, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_detach_begins_the_count_anew, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_third_repeat_exactly_30_s_after_the_first_is_one_of_30_s, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(repeats_that_are_spread_over_more_than_30_s_are_let_pass, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(repeats_that_were_asked_for_are_not_counted, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(repeats_that_a_soft_reset_calls_for_are_not_counted, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(repeats_before_a_contract_are_not_counted, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(published_sink_capabilities_are_in_order, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(sink_capabilities_that_begin_with_9_v_fail_once_and_about_the_sink, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(sink_capabilities_out_of_order_fail_about_the_sink, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(what_a_source_offers_is_not_judged_as_a_sinks, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests_name("rules caps, traces", tests, NULL, NULL);
}
