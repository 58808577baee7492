/*
 * Limits set otherwise: what a parameter takes and what not, and that the engine, the port model and the line go by it. Numbers of
 * the standard are those of tests/rules/test_parameters.c; the others are made up.
 */
#include "rules/limits.h"

#include "rules/engine_inside.h"
#include "rules/groups.h"

#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static struct parameter copy_of(const char *name)
{
    const struct parameter *q = parameter_find(name);

    assert_non_null(q);
    return *q;
}

static enum limit_fault value(struct parameter *q, int64_t thousandths)
{
    const char *side;

    return limit_set(q, &(struct limit){ .has_value = true, .value = thousandths }, &side);
}

static enum limit_fault least(struct parameter *q, int64_t thousandths)
{
    const char *side;

    return limit_set(q, &(struct limit){ .has_min = true, .min = thousandths }, &side);
}

static enum limit_fault most(struct parameter *q, int64_t thousandths)
{
    const char *side;

    return limit_set(q, &(struct limit){ .has_max = true, .max = thousandths }, &side);
}

static void one_number_sets_the_one_side_there_is(void **state)
{
    (void)state;
    struct parameter q = copy_of("tReceiverResponse"); /* at most 15 ms */

    assert_int_equal(value(&q, 12000), LIMIT_SET);
    assert_int_equal(q.max, 12000);
    assert_true(q.min == PARAMETER_NONE);
    assert_int_equal(most(&q, 9000), LIMIT_SET);
    assert_int_equal(q.max, 9000);
    assert_int_equal(least(&q, 1000), LIMIT_NO_LEAST);
    q = copy_of("tSwapSourceStart"); /* at least 20 ms */
    assert_int_equal(value(&q, 25000), LIMIT_SET);
    assert_int_equal(q.min, 25000);
    assert_true(q.max == PARAMETER_NONE);
    assert_int_equal(most(&q, 30000), LIMIT_NO_MOST);
}

static void a_window_takes_sides_and_keeps_the_one_not_given(void **state)
{
    (void)state;
    struct parameter q = copy_of("tSrcTransition"); /* 25 to 35 ms */

    assert_int_equal(value(&q, 30000), LIMIT_WINDOW);
    assert_int_equal(least(&q, 20000), LIMIT_SET);
    assert_int_equal(q.min, 20000);
    assert_int_equal(q.max, 35000);
    assert_int_equal(most(&q, 19999), LIMIT_CROSSED);
    assert_int_equal(q.max, 35000); /* as it was */
    assert_int_equal(most(&q, 20000), LIMIT_SET);
}

static void what_holds_either_way_takes_one_number_for_both_sides(void **state)
{
    (void)state;
    struct parameter q = copy_of("vSrcNew@fixed"); /* +-5 % */

    assert_int_equal(value(&q, 4500), LIMIT_SET);
    assert_int_equal(q.min, -4500);
    assert_int_equal(q.max, 4500);
    assert_int_equal(value(&q, -4500), LIMIT_SIGN);
    assert_int_equal(least(&q, 1), LIMIT_SIGN);
}

static void a_single_value_stays_one_and_a_count_is_whole(void **state)
{
    (void)state;
    struct parameter q = copy_of("nRetryCount@3.x"); /* 2 */
    const char      *side;

    assert_int_equal(value(&q, 3000), LIMIT_SET);
    assert_int_equal(q.min, 3000);
    assert_int_equal(q.max, 3000);
    assert_int_equal(value(&q, 2500), LIMIT_WHOLE);
    assert_int_equal(value(&q, -1000), LIMIT_SIGN);
    assert_int_equal(limit_set(&q, &(struct limit){ .has_min = true, .min = 1000, .has_max = true, .max = 2000 }, &side), LIMIT_SINGLE);
    assert_int_equal(limit_set(&q, &(struct limit){ .has_min = false }, &side), LIMIT_NOTHING);
    q = copy_of("vPpsShutdown"); /* 0.85, no count though it has no unit */
    assert_int_equal(value(&q, 875), LIMIT_SET);
}

static void signs_zero_rates_and_great_numbers_are_refused(void **state)
{
    (void)state;
    struct parameter q = copy_of("vSrcNeg"); /* at least -0.3 V */

    assert_int_equal(value(&q, -500), LIMIT_SET);
    assert_int_equal(value(&q, 500), LIMIT_SIGN);
    q = copy_of("tRetry");
    assert_int_equal(value(&q, 0), LIMIT_SET);
    assert_int_equal(value(&q, -1), LIMIT_SIGN);
    assert_int_equal(value(&q, INT64_C(1000000000)), LIMIT_SET);
    assert_int_equal(value(&q, INT64_C(1000000001)), LIMIT_GREAT);
    q = copy_of("fBitRate");
    assert_int_equal(least(&q, 0), LIMIT_ZERO);
    q = copy_of("caps_same_max");
    assert_int_equal(value(&q, 16000), LIMIT_GREAT);
    assert_int_equal(value(&q, 15000), LIMIT_SET);
}

static void which_side_a_fault_is_about_is_said(void **state)
{
    (void)state;
    struct parameter q = copy_of("tSrcTransition");
    const char      *side = NULL;

    assert_int_equal(limit_set(&q, &(struct limit){ .has_min = true, .min = 1000, .has_max = true, .max = -1 }, &side), LIMIT_SIGN);
    assert_string_equal(side, "max");
}

static void only_a_claim_can_be_a_claim(void **state)
{
    (void)state;
    const struct rule must = { .level = LEVEL_MUST }, claim = { .level = LEVEL_CLAIM };

    assert_true(level_may_be(&must, LEVEL_SHOULD));
    assert_true(level_may_be(&must, LEVEL_NOTE));
    assert_false(level_may_be(&must, LEVEL_CLAIM));
    assert_true(level_may_be(&claim, LEVEL_CLAIM));
}

static void every_parameter_of_a_rule_matters_and_a_made_up_name_does_not(void **state)
{
    (void)state;
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            for (const char *const *name = r->parameters; name && *name; name++)
                assert_true(limit_matters(*name));
    assert_true(limit_matters("tReceive"));
    assert_true(limit_matters("assumed_volt_mv"));
    assert_true(limit_matters("path_drop_mv"));
    assert_false(limit_matters("tNothing"));
}

static void the_port_model_goes_by_the_usual_numbers_unless_told_otherwise(void **state)
{
    (void)state;
    struct bench_limits usual = limits_of_bench(parameters_all);
    struct parameter   *table = limits_copy();
    struct bench       *b = bench_new();

    assert_non_null(table);
    assert_non_null(b);
    assert_memory_equal(&usual, bench_limits(b), sizeof usual);
    assert_int_equal(usual.receive_least_ns, 900000);
    assert_int_equal(usual.receive_most_ns, 1100000);
    assert_int_equal(usual.rate_least, 270000);
    assert_int_equal(usual.rate_most, 330000);
    assert_int_equal(usual.host_time_ns, 1000000);
    for (struct parameter *q = table; q->name; q++) {
        if (strcmp(q->name, "tReceive") == 0)
            q->max = 1500;
        if (strcmp(q->name, "host_time_ns") == 0)
            q->min = q->max = 2000;
        if (strcmp(q->name, "fBitRate") == 0)
            q->min = 240000;
    }
    struct bench_limits set = limits_of_bench(table);

    bench_set_limits(b, &set);
    assert_int_equal(bench_limits(b)->receive_most_ns, 1500000);
    assert_int_equal(bench_stamp_ns(b, 0, RECORD_HOST_TIME), 4000000); /* twice it */
    assert_int_equal(length_most_ns(b, 240000), 300000);               /* 240 us x 300/240 */
    assert_int_equal(length_least_ns(b, 330000), 300000);              /* 330 us x 300/330 */
    bench_free(b);
    free(table);
}

/* One rule's window, moved: a Request that comes 20 ms after the offer, which is soon enough; then not. */
static void a_rule_goes_by_the_limit_that_was_set(void **state)
{
    struct lines          *l = *state;
    const uint32_t         words[] = { word_fixed(5000, 3000) };
    struct parameter      *table = limits_copy();
    struct engine_options  options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .parameters = table };

    assert_non_null(table);
    lines_attach(l);
    lines_caps(l, 1, words);
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    lines_wait(l, MS(8));
    uint64_t accept = lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);

    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_run(l, &options);
    expect_verdict(l, "time.source-response", VERDICT_PASS); /* 10 ms, at most 15 */
    for (struct parameter *q = table; q->name; q++)
        if (strcmp(q->name, "tReceiverResponse") == 0)
            assert_int_equal(value(q, 5000), LIMIT_SET);
    lines_run(l, &options);
    expect_fail(l, "time.source-response", accept, WHO_SOURCE);
    const struct finding *f = lines_finding(l, "time.source-response", VERDICT_FAIL, 0);

    assert_int_equal(f->high, MS(5));
    assert_string_equal(f->parameter->name, "tReceiverResponse");
    free(table);
}

/* A Hard Reset 52 ms after a Request: of somebody unknown, until tSenderResponse may last 50 ms; then it is the sink's. */
static void who_sent_a_hard_reset_follows_the_timers(void **state)
{
    struct lines          *l = *state;
    const uint32_t         words[] = { word_fixed(5000, 3000) };
    struct parameter      *table = limits_copy();
    struct engine_options  options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .parameters = table };

    assert_non_null(table);
    lines_attach(l);
    lines_caps(l, 1, words);
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    lines_wait(l, MS(52) - l->pause_ns);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(5));
    lines_run(l, &options);
    assert_int_equal(l->engine->books[0]->talk.origin, ORIGIN_UNKNOWN);
    for (struct parameter *q = table; q->name; q++)
        if (strcmp(q->name, "tSenderResponse") == 0)
            assert_int_equal(most(q, 50000), LIMIT_SET);
    lines_run(l, &options);
    assert_int_equal(l->engine->books[0]->talk.origin, ORIGIN_SINK);
    free(table);
}

/* A GoodCRC 1.3 ms after its message acknowledges it if tReceive allows that, and not if it does not. */
static void the_wait_for_a_goodcrc_follows_treceive(void **state)
{
    struct lines          *l = *state;
    const uint32_t         words[] = { word_fixed(5000, 3000) };
    struct parameter      *table = limits_copy();
    struct engine_options  options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .parameters = table };

    assert_non_null(table);
    lines_attach(l);
    uint64_t first = lines_say(l, &(struct say){ .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES,
                                                 .count = 1, .words = { words[0] }, .quiet = true });

    assert_true(first > 0);
    l->now_ns += US(1300) - l->pause_ns;
    lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_CONTROL, .type = CONTROL_GOODCRC, .id_given = true, .quiet = true });
    lines_run(l, &options);
    const struct sent *sent = &bench_port(engine_bench(l->engine), 0)->streams[stream_index(SET_SOP, PLAYER_A)].last;

    assert_int_equal(sent->goodcrc_frame, 0);
    for (struct parameter *q = table; q->name; q++)
        if (strcmp(q->name, "tReceive") == 0)
            assert_int_equal(most(q, 1500), LIMIT_SET);
    lines_run(l, &options);
    sent = &bench_port(engine_bench(l->engine), 0)->streams[stream_index(SET_SOP, PLAYER_A)].last;
    assert_int_equal(sent->goodcrc_frame, first + 1);
    assert_int_equal(sent->delivery, DELIVERY_PROVEN);
    free(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_number_sets_the_one_side_there_is),
        cmocka_unit_test(a_window_takes_sides_and_keeps_the_one_not_given),
        cmocka_unit_test(what_holds_either_way_takes_one_number_for_both_sides),
        cmocka_unit_test(a_single_value_stays_one_and_a_count_is_whole),
        cmocka_unit_test(signs_zero_rates_and_great_numbers_are_refused),
        cmocka_unit_test(which_side_a_fault_is_about_is_said),
        cmocka_unit_test(only_a_claim_can_be_a_claim),
        cmocka_unit_test(every_parameter_of_a_rule_matters_and_a_made_up_name_does_not),
        cmocka_unit_test(the_port_model_goes_by_the_usual_numbers_unless_told_otherwise),
        cmocka_unit_test_setup_teardown(a_rule_goes_by_the_limit_that_was_set, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(who_sent_a_hard_reset_follows_the_timers, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_wait_for_a_goodcrc_follows_treceive, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests_name("limits", tests, NULL, NULL);
}
