/*
 * After a swap of power roles the other partner offers: what the first one told of itself does not hold for it. The bench: "Harbor 96", a
 * power bank, and a small dual-role port.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

#define DUAL (UINT32_C(1) << 29) /* Dual-Role Power, PDO 1: Linux include/linux/usb/pd.h */
#define ASK_5V UINT32_C(0x1004b12c)
#define OFFER_OF(l, ...) \
    lines_negotiate(l, sizeof((uint32_t[]){ __VA_ARGS__ }) / sizeof(uint32_t), (const uint32_t[]){ __VA_ARGS__ }, ASK_5V)
#define SMALL DUAL | F5
#define LARGE DUAL | F5, F9, F15, F20_65W

/* Source_Capabilities_Extended, in answer to the other one: PDP rating at byte 23, batteries at byte 22 (decode/blocks.c). */
static void tell_rating(struct lines *l, unsigned side, uint8_t watts)
{
    const uint8_t block[25] = { [22] = 1, [23] = watts };

    lines_control(l, side == SIDE_SOURCE ? SIDE_SINK : SIDE_SOURCE, CONTROL_GET_SOURCE_CAP_EXTENDED);
    lines_extended(l, side, EXTENDED_SOURCE_CAPABILITIES, block, sizeof block);
}

/* Rules that hold an offer against a rating. */
static void expect_no_rating_used(struct lines *l)
{
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_verdict(l, "caps.over-rating", VERDICT_NOT_SEEN);
    expect_verdict(l, "caps.agrees-with-extended-rating", VERDICT_NOT_SEEN);
}

static void the_rating_of_the_old_source_asks_nothing_of_the_new_one(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    OFFER_OF(l, LARGE);
    tell_rating(l, SIDE_SOURCE, 65);
    lines_power_swap(l);
    OFFER_OF(l, SMALL);
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_counts(l, "caps.power-rules-currents", 2, 0, 0);
    expect_counts(l, "caps.over-rating", 4, 0, 0); /* four objects of the first offer, none of the second */
    expect_counts(l, "caps.agrees-with-extended-rating", 1, 0, 0);
}

static void the_rating_of_the_old_source_limits_nothing_of_the_new_one(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    OFFER_OF(l, SMALL);
    tell_rating(l, SIDE_SOURCE, 15);
    lines_power_swap(l);
    OFFER_OF(l, LARGE);
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_counts(l, "caps.over-rating", 1, 0, 0);
}

static void what_a_sink_could_give_is_not_held_against_the_source(void **state)
{
    static const uint8_t watts[] = { 15, 100 };

    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = *state;

        lines_attach(l);
        lines_cable_identity(l, 2, 0, false);
        OFFER_OF(l, LARGE);
        lines_data(l, SIDE_SINK, DATA_SINK_CAPABILITIES, 1, (const uint32_t[]){ DUAL | F5 });
        tell_rating(l, SIDE_SINK, watts[k]);
        expect_no_rating_used(l);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void the_new_source_answers_for_its_own_rating(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_cable_identity(l, 2, 0, false);
    OFFER_OF(l, LARGE);
    tell_rating(l, SIDE_SOURCE, 65);
    lines_power_swap(l);
    OFFER_OF(l, LARGE);
    tell_rating(l, SIDE_SOURCE, 45);
    lines_run(l, NULL);
    expect_only(l, "caps.", "caps.over-rating"); /* 65 W at 20 V, of 45 W */
    expect_counts(l, "caps.over-rating", 7, 1, 0);
    assert_int_equal(lines_finding(l, "caps.over-rating", VERDICT_FAIL, 0)->party, PARTY_PARTNER);
}

/* A declared rating holds for the first offer of an attach alone: the new source may have less to give just now. */
static void the_new_source_may_offer_less_than_its_rating(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER_OF(l, SMALL);
    lines_power_swap(l);
    OFFER_OF(l, SMALL);
    tell_rating(l, SIDE_SOURCE, 65);
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_verdict(l, "caps.agrees-with-extended-rating", VERDICT_NOT_SEEN);
    expect_counts(l, "caps.power-rules-currents", 2, 0, 0);
}

static void source_info_is_held_against_an_offer_of_the_same_partner(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER_OF(l, LARGE);
    lines_data(l, SIDE_SOURCE, DATA_SOURCE_INFO, 1, (const uint32_t[]){ INFO(65, 65, 65) });
    lines_power_swap(l);
    OFFER_OF(l, SMALL);
    lines_data(l, SIDE_SOURCE, DATA_SOURCE_INFO, 1, (const uint32_t[]){ INFO(15, 15, 15) });
    lines_run(l, NULL);
    expect_only(l, "caps.", NULL);
    expect_counts(l, "caps.agrees-with-source-info", 2, 0, 0);
}

/* rated_w is the device's: the source's unless ABOUT says sink; on a port that is both, either of the two may be the device. */
static void the_rating_in_about_is_the_devices(void **state)
{
    static const struct { const char *about; unsigned failed; bool swap; } cases[] = {
        { "{\"ports\":[{\"port\":0,\"rated_w\":15}]}", 3, false },
        { "{\"ports\":[{\"port\":0,\"kind\":\"sink\",\"rated_w\":15}]}", 0, false },
        { "{\"ports\":[{\"port\":0,\"kind\":\"dual\",\"rated_w\":15}]}", 0, false },
        { "{\"ports\":[{\"port\":0,\"rated_w\":15}]}", 0, true },
        { "{\"ports\":[{\"port\":0,\"kind\":\"sink\",\"rated_w\":15}]}", 3, true },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct lines *l = *state;

        lines_about(l, RECORD_PORT_BENCH, cases[k].about);
        lines_attach(l);
        lines_cable_identity(l, 2, 0, false);
        if (cases[k].swap) {
            OFFER_OF(l, SMALL);
            lines_power_swap(l);
        }
        OFFER_OF(l, LARGE);
        lines_run(l, NULL);
        assert_int_equal(lines_result(l, "caps.over-rating").counts.failed, cases[k].failed);
        assert_int_equal(lines_result(l, "caps.power-rules-voltages").counts.failed, 0);
        lines_teardown(state);
        lines_setup(state);
    }
}

/* ext.battery-fields: battery 1 of the one that told of a single battery does not exist; the other one told nothing. */
static void batteries_are_counted_by_partner(void **state)
{
    static const uint8_t  reference = 1;
    static const uint32_t valid = 0x00640200;
    struct lines         *l = *state;
    uint64_t              frame;

    lines_attach(l);
    OFFER_OF(l, SMALL);
    tell_rating(l, SIDE_SOURCE, 15);
    lines_power_swap(l);
    OFFER_OF(l, SMALL);
    lines_extended(l, SIDE_SINK, EXTENDED_GET_BATTERY_STATUS, &reference, 1);
    lines_data(l, SIDE_SOURCE, DATA_BATTERY_STATUS, 1, &valid);
    lines_extended(l, SIDE_SOURCE, EXTENDED_GET_BATTERY_STATUS, &reference, 1);
    frame = lines_data(l, SIDE_SINK, DATA_BATTERY_STATUS, 1, &valid); /* the old source, in its other role */
    lines_run(l, NULL);
    expect_counts(l, "ext.battery-fields", 1, 1, 0);
    assert_int_equal(lines_finding(l, "ext.battery-fields", VERDICT_FAIL, 0)->frame, frame);
    assert_int_equal(lines_finding(l, "ext.battery-fields", VERDICT_FAIL, 0)->party, PARTY_DEVICE);
}

/* caps.peak-current: a peak current that the extended capabilities of the same source say nothing of. */
static void peak_currents_are_told_by_the_one_that_offers_them(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    OFFER_OF(l, SMALL);
    tell_rating(l, SIDE_SOURCE, 15);
    lines_power_swap(l);
    OFFER_OF(l, SMALL | PEAK_1);
    lines_run(l, NULL);
    expect_verdict(l, "caps.peak-current", VERDICT_NOT_SEEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define TEST(f) cmocka_unit_test_setup_teardown(f, lines_setup, lines_teardown)
        TEST(the_rating_of_the_old_source_asks_nothing_of_the_new_one), TEST(the_rating_of_the_old_source_limits_nothing_of_the_new_one),
        TEST(what_a_sink_could_give_is_not_held_against_the_source), TEST(the_new_source_answers_for_its_own_rating),
        TEST(the_new_source_may_offer_less_than_its_rating), TEST(source_info_is_held_against_an_offer_of_the_same_partner),
        TEST(the_rating_in_about_is_the_devices), TEST(batteries_are_counted_by_partner),
        TEST(peak_currents_are_told_by_the_one_that_offers_them),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
