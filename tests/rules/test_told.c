/*
 * Ports that a kernel told of ("rebuilt" of ABOUT): only what it tells is judged. Offers as decode/kernel_caps.h puts them together: no CRC,
 * nobody acknowledges, 0xF0000000 where an object is not told.
 */
#include "tests/rules/caps_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#define TOLD "{\"rebuilt\":[\"kernel\"]}"
#define HOLE UINT32_C(0xF0000000)

static uint64_t told_offer(struct lines *l, unsigned side, unsigned count, const uint32_t *words)
{
    struct say s = { .side = (uint8_t)side, .message_class = CLASS_DATA, .type = side == SIDE_SOURCE ? DATA_SOURCE_CAPABILITIES : DATA_SINK_CAPABILITIES,
                     .count = (uint8_t)count, .quiet = true, .state = RECORD_NO_CRC, .host_time = true };

    memcpy(s.words, words, count * sizeof *words);
    return lines_say(l, &s);
}
#define TELL(l, ...) told_offer(l, SIDE_SOURCE, sizeof((uint32_t[]){ __VA_ARGS__ }) / 4, (uint32_t[]){ __VA_ARGS__ })

static void told(struct lines *l)
{
    lines_about(l, 0, TOLD);
    lines_attach(l);
}

/* Rules that found something, blanks between. */
static void expect_judged(const struct lines *l, const char *ids)
{
    for (unsigned k = 0; k < engine_rules(l->engine); k++) {
        struct result r = engine_result(l->engine, k);
        bool          may = strstr(ids, r.rule->id) != NULL;

        if (!may && r.verdict != VERDICT_NOT_SEEN)
            fail_msg("%s was judged", r.rule->id);
    }
}

static const char all_as_told[] =
    "caps.first-5v caps.order caps.unique-voltage caps.zero-object caps.spr-limits caps.variable-range caps.battery-range caps.pps-range "
    "caps.pps-current caps.pps-power-limited caps.power-rules-voltages caps.power-rules-currents caps.over-rating caps.sink-first-5v "
    "caps.sink-order";

static void a_sound_offer_passes_what_can_be_judged_and_nothing_else_is(void **state)
{
    struct lines *l = *state;

    told(l);
    TELL(l, SET_65W, PPS(3300, 11000, 5000));
    lines_run(l, NULL);
    expect_judged(l, all_as_told);
    expect_counts(l, "caps.first-5v", 1, 0, 0);
    expect_counts(l, "caps.order", 1, 0, 0);
    expect_counts(l, "caps.power-rules-voltages", 1, 0, 0);
    assert_int_equal(engine_verdict(l->engine), VERDICT_PASS);
}

/* The log of a port manager tells more, but no more of what was on the wire. */
static void what_a_kernels_log_tells_is_judged_alike(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    lines_about(l, 0, "{\"rebuilt\":[\"kernel_log\"]}");
    lines_attach(l);
    frame = TELL(l, F5, F15, F9 | 1u << 22, F20_65W);
    lines_run(l, NULL);
    expect_fail(l, "caps.order", frame, WHO_SOURCE);
    expect_judged(l, all_as_told);
}

static void what_is_wrong_with_numbers_and_places_is_found(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    told(l);
    frame = TELL(l, F5, F15, F9, F20_65W);
    lines_run(l, NULL);
    expect_fail(l, "caps.order", frame, WHO_SOURCE);
    assert_int_equal(engine_verdict(l->engine), VERDICT_FAIL);
}

static void bits_that_the_kernel_does_not_tell_are_not_judged(void **state)
{
    struct lines *l = *state;

    told(l);
    TELL(l, F5 | 1u << 22, F9 | 1u << 29, F15, FIXED(20000, 5000)); /* reserved, first-only, 5 A without a marked cable */
    lines_run(l, NULL);
    expect_judged(l, all_as_told);
    expect_only(l, "caps.", NULL);
}

static void an_object_that_is_not_told_accuses_nobody(void **state)
{
    static const uint32_t sets[][5] = {
        { F5, F9, HOLE, PPS(3300, 11000, 3000) }, { HOLE, F9, F15 }, { F5, HOLE, F15, F20_65W }, { F5, F9, F15, HOLE, F20_65W },
    };
    static const unsigned counts[] = { 4, 3, 4, 5 };
    struct lines         *l = *state;

    told(l);
    for (unsigned k = 0; k < sizeof counts / sizeof *counts; k++) {
        told_offer(l, SIDE_SOURCE, counts[k], sets[k]);
        lines_wait(l, MS(500));
    }
    lines_run(l, NULL);
    expect_judged(l, all_as_told);
    expect_only(l, "caps.", NULL);
}

/* On a wire the same word is what it is. */
static void the_same_word_on_a_wire_is_judged(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    lines_caps(l, 3, (uint32_t[]){ HOLE, F9, F15 });
    lines_run(l, NULL);
    expect_verdict(l, "caps.first-5v", VERDICT_FAIL);
}

static void a_sinks_needs_are_judged_too(void **state)
{
    struct lines *l = *state;

    told(l);
    told_offer(l, SIDE_SINK, 2, (uint32_t[]){ F9, FIXED(5000, 3000) });
    lines_run(l, NULL);
    expect_verdict(l, "caps.sink-first-5v", VERDICT_FAIL);
    expect_judged(l, all_as_told);
}

static void what_cannot_be_judged_is_told_once_for_the_port(void **state)
{
    struct lines   *l = *state;
    struct unjudged u;
    unsigned        as_told = 0;

    told(l);
    TELL(l, SET_65W);
    lines_run(l, NULL);
    for (unsigned k = 0; k < engine_rules(l->engine); k++)
        as_told += strstr(all_as_told, engine_result(l->engine, k).rule->id) ? 1 : 0;
    assert_int_equal(as_told, 15);
    assert_true(engine_unjudged(l->engine, NULL, 0, &u));
    assert_int_equal(u.missing, EVIDENCE_WIRE);
    assert_int_equal(u.rules, engine_rules(l->engine) - as_told);
    assert_false(engine_unjudged(l->engine, NULL, 1, &u));
}

static void a_port_beside_it_that_was_seen_on_a_wire_is_judged_in_full(void **state)
{
    struct lines *l = *state;
    uint64_t      frame;

    told(l);
    TELL(l, SET_65W);
    l->port = 1;
    lines_ids_reset(l);
    lines_attach(l);
    frame = lines_caps(l, 2, (uint32_t[]){ F5 | 1u << 22, F9 });
    lines_request(l, word_ask_fixed(1, 3000, 3000));
    lines_accept_and_ready(l);
    lines_run(l, NULL);
    expect_fail(l, "caps.reserved-bits", frame, WHO_SOURCE);
}

int main(void)
{
#define TOLD_TEST(f) cmocka_unit_test_setup_teardown(f, lines_setup, lines_teardown)
    const struct CMUnitTest tests[] = {
        TOLD_TEST(a_sound_offer_passes_what_can_be_judged_and_nothing_else_is),
        TOLD_TEST(what_a_kernels_log_tells_is_judged_alike),
        TOLD_TEST(what_is_wrong_with_numbers_and_places_is_found),
        TOLD_TEST(bits_that_the_kernel_does_not_tell_are_not_judged),
        TOLD_TEST(an_object_that_is_not_told_accuses_nobody),
        TOLD_TEST(the_same_word_on_a_wire_is_judged),
        TOLD_TEST(a_sinks_needs_are_judged_too),
        TOLD_TEST(what_cannot_be_judged_is_told_once_for_the_port),
        TOLD_TEST(a_port_beside_it_that_was_seen_on_a_wire_is_judged_in_full),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
