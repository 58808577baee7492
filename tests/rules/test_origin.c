/*
 * Who sent a Hard Reset: the catalogue's section 6, each reason just inside and just outside its time, two at once, and what may
 * have been missed. Times are typed from there.
 */
#include "rules/engine_inside.h"
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>

/* 5 V 3 A, 9 V 3 A, PPS 3.3 to 11 V 3 A. */
static void offer(struct lines *l)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), word_pps(3300, 11000, 3000) };

    lines_caps(l, 3, words);
}

/* What the engine made of the last Hard Reset. */
static unsigned origin(struct lines *l)
{
    lines_run(l, NULL);
    assert_non_null(l->engine->books[0]);
    return l->engine->books[0]->talk.origin;
}

/* A Hard Reset that long after the end of the GoodCRC said last. */
static unsigned reset_after(struct lines *l, int64_t ns)
{
    lines_wait(l, ns - l->pause_ns);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(5));
    return origin(l);
}

struct at { int64_t us; unsigned origin; };

static void expect_each(void (*before)(struct lines *l), const struct at *at, unsigned count)
{
    for (unsigned k = 0; k < count; k++) {
        struct lines *l = lines_new();
        unsigned      found;

        before(l);
        found = reset_after(l, US(at[k].us));
        if (found != at[k].origin)
            fail_msg("%u us: origin %u, expected %u", (unsigned)at[k].us, found, at[k].origin);
        lines_free(l);
    }
}
#define EACH(before, ...) \
    expect_each(before, (const struct at[]){ __VA_ARGS__ }, sizeof((const struct at[]){ __VA_ARGS__ }) / sizeof(struct at))

static void asked(struct lines *l)
{
    lines_attach(l);
    offer(l);
    lines_request(l, word_ask_fixed(2, 1000, 3000));
}

static void a_request_without_answer_makes_the_sink_reset(void **state)
{
    (void)state;
    EACH(asked, { 23900, ORIGIN_UNKNOWN }, { 24100, ORIGIN_SINK }, { 39900, ORIGIN_SINK }, { 40100, ORIGIN_UNKNOWN });
}

static void offered(struct lines *l)
{
    lines_attach(l);
    offer(l);
}

static void capabilities_without_a_request_make_the_source_reset(void **state)
{
    (void)state;
    EACH(offered, { 23900, ORIGIN_UNKNOWN }, { 24100, ORIGIN_SOURCE }, { 39900, ORIGIN_SOURCE }, { 40100, ORIGIN_UNKNOWN });
}

static void accepted(struct lines *l)
{
    asked(l);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
}

static void an_accept_without_ps_rdy_makes_the_sink_reset(void **state)
{
    (void)state;
    EACH(accepted, { 449000, ORIGIN_UNKNOWN }, { 451000, ORIGIN_SINK }, { 559000, ORIGIN_SINK }, { 561000, ORIGIN_UNKNOWN });
}

static void accepted_in_epr_mode(struct lines *l)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), 0, 0, 0, 0, 0, word_fixed(28000, 5000) };

    asked(l);
    lines_accept_and_ready(l);
    lines_enter_epr(l);
    lines_epr_caps(l, 8, words);
    lines_epr_request(l, word_ask_fixed(8, 1000, 3000), words[7]);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
}

/* From 745 to 1010 ms after the sink's last message, a few ms before, the source may have reset as well. */
static void in_epr_mode_the_sink_waits_longer(void **state)
{
    (void)state;
    EACH(accepted_in_epr_mode, { 500000, ORIGIN_UNKNOWN }, { 900000, ORIGIN_UNKNOWN }, { 1015000, ORIGIN_SINK },
         { 1031000, ORIGIN_UNKNOWN });
}

static void ready_in_epr_mode(struct lines *l)
{
    accepted_in_epr_mode(l);
    lines_wait(l, MS(30));
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_control(l, SIDE_SINK, CONTROL_GET_STATUS);
    lines_extended(l, SIDE_SOURCE, EXTENDED_STATUS, "\0\0\0\0\0\0", 6);
}

/* Get_Status ends about 4.0 ms before the end of the Status message's GoodCRC. */
static void a_silent_sink_in_epr_mode_makes_the_source_reset(void **state)
{
    (void)state;
    EACH(ready_in_epr_mode, { 735000, ORIGIN_UNKNOWN }, { 750000, ORIGIN_SOURCE }, { 1000000, ORIGIN_SOURCE },
         { 1012000, ORIGIN_UNKNOWN });
}

static void in_a_pps_contract(struct lines *l)
{
    lines_attach(l);
    offer(l);
    lines_request(l, word_ask_pps(3, 5000, 1000));
    lines_accept_and_ready(l);
}

/* 100 ms from Accept to PS_RDY and about 8 ms for the messages: 11.9 to 15.1 s after the Request, less that. */
static void silence_in_a_pps_contract_makes_the_source_reset(void **state)
{
    (void)state;
    EACH(in_a_pps_contract, { 11780000, ORIGIN_UNKNOWN }, { 11800000, ORIGIN_SOURCE }, { 14980000, ORIGIN_SOURCE },
         { 15000000, ORIGIN_UNKNOWN });
}

static void soft_reset_taken(struct lines *l)
{
    asked(l);
    lines_accept_and_ready(l);
    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
}

/* The end of the Accept is about 0.8 ms before that of its GoodCRC. */
static void no_capabilities_after_a_soft_reset_make_the_sink_reset(void **state)
{
    (void)state;
    EACH(soft_reset_taken, { 308000, ORIGIN_UNKNOWN }, { 311000, ORIGIN_SINK }, { 628000, ORIGIN_SINK }, { 631000, ORIGIN_UNKNOWN });
}

static void power_without_words(struct lines *l)
{
    lines_power(l, 0, 0);
    lines_wait(l, MS(200));
    lines_power(l, 5000000, 0);
    lines_wait(l, l->pause_ns);
}

static void no_capabilities_once_there_is_power_make_the_sink_reset(void **state)
{
    (void)state;
    EACH(power_without_words, { 309000, ORIGIN_UNKNOWN }, { 311000, ORIGIN_SINK }, { 629000, ORIGIN_SINK }, { 631000, ORIGIN_UNKNOWN });
}

/* 0.85 times 3.3 V is 2.805 V. */
static void a_pps_that_falls_below_its_least_voltage_resets_itself(void **state)
{
    static const struct { int32_t uv; unsigned origin; } readings[] = { { 2790000, ORIGIN_SOURCE }, { 2820000, ORIGIN_UNKNOWN } };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = lines_new();

        in_a_pps_contract(l);
        lines_wait(l, MS(700));
        lines_power(l, readings[k].uv, 3000000);
        assert_int_equal(reset_after(l, MS(50)), readings[k].origin);
        lines_free(l);
    }
}

/* A record that began before the reset and shows what came of it: VBUS is taken away by any Hard Reset. */
static void what_vbus_does_after_the_reset_is_no_reason_for_it(void **state)
{
    static const struct { unsigned falls_at; int32_t to_uv; unsigned origin; } blocks[] = {
        { 60, 0, ORIGIN_UNKNOWN }, { 60, 2500000, ORIGIN_UNKNOWN }, { 30, 2500000, ORIGIN_SOURCE },
    };

    (void)state;
    for (unsigned k = 0; k < 3; k++) {
        struct lines *l = lines_new();
        int32_t       cells[100];

        in_a_pps_contract(l);
        lines_wait(l, MS(700));
        for (unsigned row = 0; row < 100; row++)
            cells[row] = row < blocks[k].falls_at ? 5000000 : blocks[k].to_uv;
        lines_power_rows(l, MS(1), 100, RECORD_VBUS, cells);
        assert_int_equal(reset_after(l, MS(50)), blocks[k].origin);
        lines_free(l);
    }
}

/* 24 to 40 ms after an offer in a PPS contract whose last Request is 12 s old: both of the source, but they are two. */
static void of_two_reasons_none_is_believed(void **state)
{
    struct lines *l = *state;

    in_a_pps_contract(l);
    lines_wait(l, MS(12500));
    offer(l);
    assert_int_equal(reset_after(l, MS(30)), ORIGIN_UNKNOWN);
}

static void what_was_missed_may_have_been_the_answer(void **state)
{
    struct lines *l = *state;

    asked(l);
    lines_lost(l, 1);
    assert_int_equal(reset_after(l, MS(28)), ORIGIN_UNKNOWN);
}

static void what_could_not_be_read_may_have_been_the_answer(void **state)
{
    struct lines *l = *state;

    asked(l);
    lines_say(l, &(struct say){ .side = SIDE_SOURCE, .type = CONTROL_ACCEPT, .spoilt = true });
    assert_int_equal(reset_after(l, MS(27)), ORIGIN_UNKNOWN);
}

static void a_request_that_nobody_heard_is_no_reason(void **state)
{
    struct lines *l = *state;

    lines_attach(l);
    offer(l);
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                                .words = { word_ask_fixed(2, 1000, 3000) }, .quiet = true });
    assert_int_equal(reset_after(l, MS(28)), ORIGIN_UNKNOWN);
}

static void a_reset_out_of_quiet_has_no_sender(void **state)
{
    struct lines *l = *state;

    asked(l);
    lines_accept_and_ready(l);
    assert_int_equal(reset_after(l, MS(3000)), ORIGIN_UNKNOWN);
}

/* A stamp that is off by up to 2 ms leaves 25 ms open: tSenderResponse may have run out, or not. */
static void a_time_that_is_not_sure_names_nobody(void **state)
{
    struct lines *l = *state;

    lines_about(l, 0, "{\"format\":1,\"instrument\":{\"name\":\"bench\",\"time_ns\":1000000}}");
    asked(l);
    assert_int_equal(reset_after(l, MS(25)), ORIGIN_UNKNOWN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_request_without_answer_makes_the_sink_reset),
        cmocka_unit_test(capabilities_without_a_request_make_the_source_reset),
        cmocka_unit_test(an_accept_without_ps_rdy_makes_the_sink_reset),
        cmocka_unit_test(in_epr_mode_the_sink_waits_longer),
        cmocka_unit_test(a_silent_sink_in_epr_mode_makes_the_source_reset),
        cmocka_unit_test(silence_in_a_pps_contract_makes_the_source_reset),
        cmocka_unit_test(no_capabilities_after_a_soft_reset_make_the_sink_reset),
        cmocka_unit_test(no_capabilities_once_there_is_power_make_the_sink_reset),
        cmocka_unit_test(a_pps_that_falls_below_its_least_voltage_resets_itself),
        cmocka_unit_test(what_vbus_does_after_the_reset_is_no_reason_for_it),
        cmocka_unit_test_setup_teardown(of_two_reasons_none_is_believed, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(what_was_missed_may_have_been_the_answer, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(what_could_not_be_read_may_have_been_the_answer, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_request_that_nobody_heard_is_no_reason, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_reset_out_of_quiet_has_no_sender, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_time_that_is_not_sure_names_nobody, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
