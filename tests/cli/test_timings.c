/*
 * check --timings: numbers added up here by hand, from the times that the traces are built with; steps, median and 95th percentile as
 * the project's contract on JSON defines them: steps of 0.1 % of the value, or 1 us where that is more.
 */
#include "tests/cli/cli_try.h"

#include "cli/timings.h"

#include <stdlib.h>

static const struct parameter  made_up = { .name = "made up", .unit = "ms", .min = PARAMETER_NONE, .max = 15000 };
static const struct window     window = { .has_high = true, .high_ns = MS(15), .parameter = &made_up };

struct made { struct bench *bench; struct timings *t; };

static struct made made_new(int64_t since_ns, int64_t until_ns)
{
    struct made m = { .bench = bench_new() };

    assert_non_null(m.bench);
    m.t = timings_new(m.bench, NULL, since_ns, until_ns);
    assert_non_null(m.t);
    return m;
}

static void made_free(struct made *m)
{
    timings_free(m->t);
    bench_free(m->bench);
}

/* A time known to +- half_ns, that ended at end_ns. */
static void take(const struct made *m, unsigned port, unsigned rule, int64_t ns, int64_t half_ns, int64_t end_ns, const struct window *w)
{
    struct span s = { .low_ns = ns - half_ns, .high_ns = ns + half_ns, .to = { .early_ns = end_ns, .late_ns = end_ns } };

    timings_take(m->t, port, rule, &s, w);
}

static void count_least_and_greatest_are_exact(void **state)
{
    (void)state;
    static const int64_t ns[] = { 1234567, 15000001, 999, 40000003 };
    struct made          m = made_new(INT64_MIN, INT64_MAX);

    for (unsigned k = 0; k < 4; k++)
        take(&m, 1, 7, ns[k], k * 10, 0, &window);
    const struct timer *timer = timings_timer(m.t, 1, 7);

    assert_non_null(timer);
    assert_int_equal(timer->count, 4);
    assert_int_equal(timer->least_ns, 999);
    assert_int_equal(timer->greatest_ns, 40000003);
    assert_int_equal(timer->unsure_ns, 30);
    assert_int_equal(timer->window_count, 1);
    assert_int_equal(timer->windows[0].count, 4);
    assert_null(timings_timer(m.t, 1, 8));
    assert_null(timings_timer(m.t, 0, 7));
    made_free(&m);
}

static void near(int64_t ns, int64_t exact_ns)
{
    int64_t step = exact_ns / 1000 > 1000 ? exact_ns / 1000 : 1000;

    if (ns < exact_ns - step || ns > exact_ns + step)
        fail_msg("%lld is not within a step of %lld", (long long)ns, (long long)exact_ns);
}

/* 1, 2 ... 1000 of a unit: half of them are no greater than 500, 95 of 100 no greater than 950. */
static void shares_are_right_to_a_step_from_microseconds_to_hours(void **state)
{
    (void)state;
    static const int64_t units[] = { 1000, 12345, 1000000, INT64_C(1000000000), INT64_C(100000000000) };

    for (unsigned u = 0; u < 5; u++) {
        struct made m = made_new(INT64_MIN, INT64_MAX);
        int64_t     ns = 0;

        for (int64_t k = 1000; k >= 1; k--)
            take(&m, 0, 0, k * units[u], 0, 0, &window);
        assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 50, &ns));
        near(ns, 500 * units[u]);
        assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 95, &ns));
        near(ns, 950 * units[u]);
        made_free(&m);
    }
}

static void few_times_have_shares_that_are_among_them(void **state)
{
    (void)state;
    struct made m = made_new(INT64_MIN, INT64_MAX);
    int64_t     ns = 0;

    take(&m, 0, 0, 3000400, 0, 0, &window);
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 50, &ns));
    assert_int_equal(ns, 3000400); /* never outside of least and greatest */
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 95, &ns));
    assert_int_equal(ns, 3000400);
    take(&m, 0, 0, 9000000, 0, 0, &window);
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 50, &ns));
    near(ns, 3000400); /* of two the first is half */
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 95, &ns));
    near(ns, 9000000);
    made_free(&m);
}

static void times_below_zero_and_beyond_the_last_step_do_no_harm(void **state)
{
    (void)state;
    struct made m = made_new(INT64_MIN, INT64_MAX);
    int64_t     ns = 0;

    take(&m, 0, 0, -500, 0, 0, &window);
    take(&m, 0, 0, INT64_C(1) << 60, 0, 0, &window);
    assert_int_equal(timings_timer(m.t, 0, 0)->least_ns, -500);
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 50, &ns));
    assert_true(ns >= -500 && ns <= 1000);
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 95, &ns));
    assert_false(timings_failed(m.t));
    made_free(&m);
}

static void windows_are_kept_apart_and_only_so_many(void **state)
{
    (void)state;
    struct made   m = made_new(INT64_MIN, INT64_MAX);
    struct window other = window;

    take(&m, 0, 0, 1000, 0, 0, &window);
    take(&m, 0, 0, 1000, 0, 0, &window);
    for (int64_t k = 1; k <= TIMER_WINDOWS; k++) {
        other.high_ns = MS(15) + k;
        take(&m, 0, 0, 1000, 0, 0, &other);
    }
    const struct timer *timer = timings_timer(m.t, 0, 0);

    assert_int_equal(timer->windows[0].count, 2);
    assert_int_equal(timer->windows[1].count, 1);
    assert_int_equal(timer->window_count, TIMER_WINDOWS);
    assert_true(timer->windows_left_out);
    assert_int_equal(timer->count, 2 + TIMER_WINDOWS);
    made_free(&m);
}

static void times_outside_of_since_and_until_do_not_count(void **state)
{
    (void)state;
    struct made m = made_new(1000, 2000);

    take(&m, 0, 0, 500, 0, 999, &window);
    take(&m, 0, 0, 500, 0, 2001, &window);
    assert_null(timings_timer(m.t, 0, 0));
    take(&m, 0, 0, 500, 0, 1500, &window);
    assert_int_equal(timings_timer(m.t, 0, 0)->count, 1);
    made_free(&m);
}

/* Where there is no more room the count stays right, and the shares say that they are not known. */
static void room_runs_out_in_the_open(void **state)
{
    (void)state;
    struct made m = made_new(INT64_MIN, INT64_MAX);
    int64_t     ns;

    for (unsigned rule = 0; rule < 100; rule++)
        for (int64_t value = 1000; value < INT64_C(1000000000000000); value += value / 8 + 100000)
            take(&m, 0, rule, value, 0, 0, &window);
    assert_true(timings_share(m.t, timings_timer(m.t, 0, 0), 50, &ns));
    assert_false(timings_share(m.t, timings_timer(m.t, 0, 99), 50, &ns));
    assert_int_equal(timings_timer(m.t, 0, 99)->count, timings_timer(m.t, 0, 0)->count);
    made_free(&m);
}

static struct try timings_of(struct lines *l)
{
    char path[64];

    try_save(l, path);
    struct try t = try_run(&command_check, "--json", "--timings", path, NULL);

    try_remove(path);
    assert_non_null(t.json);
    return t;
}

/* One contract in four messages and their GoodCRCs 0.1 ms after them; messages 2 ms after the GoodCRC before. */
static void a_contract_by_hand(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000) };

    lines_attach(l);
    lines_negotiate(l, 1, words, word_ask_fixed(1, 1000, 1000));
    struct try   t = timings_of(l);
    const cJSON *timer = find_at(t.json, "timings", "rule", "time.goodcrc-turnaround");

    assert_non_null(timer);
    assert_int_equal(number_at(timer, "port"), 0);
    assert_int_equal(number_at(timer, "count"), 4);
    assert_int_equal(number_at(timer, "min_ns"), 100000);
    assert_int_equal(number_at(timer, "max_ns"), 100000);
    assert_int_equal(number_at(timer, "median_ns"), 100000);
    assert_int_equal(number_at(timer, "p95_ns"), 100000);
    assert_int_equal(size_at(timer, "windows"), 1);
    assert_string_equal(text_at(timer, "windows.0.parameter"), "tTransmit");
    assert_true(cJSON_IsNull(at(timer, "windows.0.low_ns")));
    assert_int_equal(number_at(timer, "windows.0.high_ns"), 195000);
    timer = find_at(t.json, "timings", "rule", "time.source-response");
    assert_int_equal(number_at(timer, "count"), 1);
    assert_int_equal(number_at(timer, "min_ns"), 2000000);
    assert_null(find_at(t.json, "timings", "rule", "wire.bit-rate")); /* a rate is no time */
    assert_int_equal(size_at(t.json, "health"), 1);
    assert_int_equal(number_at(t.json, "health.0.messages"), 4);
    assert_int_equal(number_at(t.json, "health.0.repeats"), 0);
    assert_int_equal(number_at(t.json, "health.0.crc_errors"), 0);
    assert_int_equal(number_at(t.json, "health.0.unacknowledged"), 0);
    assert_int_equal(number_at(t.json, "health.0.bit_rate.count"), 8); /* a packet's length is given to a nanosecond */
    assert_in_range((uintmax_t)number_at(t.json, "health.0.bit_rate.min_bit_s"), 299998, 300000);
    assert_in_range((uintmax_t)number_at(t.json, "health.0.bit_rate.max_bit_s"), 300000, 300002);
    assert_int_equal(number_at(t.json, "health.0.resets.hard"), 0);
    assert_int_equal(size_at(t.json, "health.0.before_resets"), 0);
    assert_string_equal(text_at(t.json, "verdict"), "pass"); /* the usual object is all there */
    try_free(&t);
}

/* The Request comes three times: spoilt, spoilt, good; its copies count, and so do both wrong CRCs. */
static void repeats_and_wrong_crcs_are_counted(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000) };
    struct say     request = { .side = SIDE_SINK, .message_class = CLASS_DATA, .type = DATA_REQUEST, .count = 1,
                               .words = { word_ask_fixed(1, 1000, 1000) }, .spoilt = true };

    lines_attach(l);
    lines_caps(l, 1, words);
    l->pause_ns = US(1050);
    lines_say(l, &request);
    lines_say(l, &request);
    request.spoilt = false;
    l->pause_ns = MS(2);
    lines_say(l, &request);
    lines_accept_and_ready(l);
    struct try t = timings_of(l);

    assert_int_equal(number_at(t.json, "health.0.messages"), 4);
    assert_int_equal(number_at(t.json, "health.0.repeats"), 2);
    assert_int_equal(number_at(t.json, "health.0.crc_errors"), 2);
    assert_int_equal(number_at(t.json, "health.0.repeats_per_1000"), 500);
    assert_int_equal(number_at(t.json, "health.0.crc_errors_per_1000"), 500);
    try_free(&t);
}

/* What nobody acknowledged is counted by who should have: the partner, or a plug. Not the last words of the trace. */
static void missing_goodcrcs_are_counted_by_who_owed_them(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000) };
    struct say     caps = { .side = SIDE_SOURCE, .message_class = CLASS_DATA, .type = DATA_SOURCE_CAPABILITIES, .count = 1,
                            .words = { words[0] }, .quiet = true };
    struct say     discover = { .side = SIDE_SOURCE, .set = SET_SOP1, .message_class = CLASS_DATA, .type = DATA_VENDOR_DEFINED, .count = 1,
                                .words = { 0xff00a001 }, .quiet = true };

    lines_attach(l);
    for (unsigned k = 0; k < 2; k++) {
        lines_say(l, &discover);
        lines_wait(l, MS(50));
    }
    for (unsigned k = 0; k < 3; k++) {
        lines_say(l, &caps);
        lines_wait(l, MS(150));
    }
    lines_say(l, &caps);
    l->now_ns -= l->pause_ns;
    struct try t = timings_of(l);

    assert_int_equal(number_at(t.json, "health.0.messages"), 6);
    assert_int_equal(number_at(t.json, "health.0.unacknowledged"), 3);
    assert_int_equal(number_at(t.json, "health.0.unacknowledged_by_plug"), 2);
    try_free(&t);
}

static void reset_is(const struct try *t, const char *reset, const char *before, const char *message, uint64_t frame)
{
    assert_int_equal(size_at(t->json, "health.0.before_resets"), 1);
    assert_string_equal(text_at(t->json, "health.0.before_resets.0.reset"), reset);
    assert_string_equal(text_at(t->json, "health.0.before_resets.0.before"), before);
    assert_int_equal(number_at(t->json, "health.0.before_resets.0.count"), 1);
    assert_int_equal(number_at(t->json, "health.0.before_resets.0.frame"), frame);
    if (message)
        assert_string_equal(text_at(t->json, "health.0.before_resets.0.message"), message);
    else
        assert_true(cJSON_IsNull(at(t->json, "health.0.before_resets.0.message")));
}

enum scene { SCENE_NO_ANSWER, SCENE_NO_READY, SCENE_NO_GOODCRC, SCENE_LOST, SCENE_MARK, SCENE_MARK_OF_BENCH, SCENE_SILENCE, SCENE_MESSAGE, SCENE_NOTHING, SCENES };

/* Ends where the reset comes, 30 ms after the last packet. */
static void scene_build(struct lines *l, enum scene scene)
{
    const uint32_t words[] = { word_fixed(5000, 3000) };

    lines_attach(l);
    if (scene == SCENE_NOTHING)
        return;
    if (scene == SCENE_NO_ANSWER || scene == SCENE_NO_READY) {
        lines_caps(l, 1, words);
        lines_request(l, word_ask_fixed(1, 1000, 1000));
        if (scene == SCENE_NO_READY)
            lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    } else {
        lines_negotiate(l, 1, words, word_ask_fixed(1, 1000, 1000));
    }
    if (scene == SCENE_NO_GOODCRC)
        lines_say(l, &(struct say){ .side = SIDE_SINK, .message_class = CLASS_CONTROL, .type = CONTROL_GET_STATUS, .quiet = true });
    if (scene == SCENE_SILENCE)
        lines_wait(l, MS(1500));
    lines_wait(l, MS(28)); /* 30 ms with the pause after the last packet */
    if (scene == SCENE_LOST)
        lines_lost(l, 1);
    if (scene == SCENE_MARK)
        lines_mark(l, RECORD_NOTE, 0);
    if (scene == SCENE_MARK_OF_BENCH)
        lines_mark(l, RECORD_NOTE, RECORD_PORT_NONE);
}

static void what_came_before_a_hard_reset_is_named(void **state)
{
    static const struct { const char *before, *message; } expected[SCENES] = {
        [SCENE_NO_ANSWER] = { "no_answer", "Request" },
        [SCENE_NO_READY] = { "no_ps_rdy", NULL },
        [SCENE_NO_GOODCRC] = { "no_goodcrc", "Get_Status" },
        [SCENE_LOST] = { "records_missing", NULL },
        [SCENE_MARK] = { "mark", NULL },
        [SCENE_MARK_OF_BENCH] = { "mark", NULL },
        [SCENE_SILENCE] = { "silence", NULL },
        [SCENE_MESSAGE] = { "message", "PS_RDY" },
        [SCENE_NOTHING] = { "nothing", NULL },
    };

    (void)state;
    for (unsigned k = 0; k < SCENES; k++) {
        struct lines *l = lines_new();

        scene_build(l, (enum scene)k);
        uint64_t frame = lines_reset(l, RECORD_HARD_RESET);

        lines_wait(l, MS(10));
        struct try t = timings_of(l);

        reset_is(&t, "hard", expected[k].before, expected[k].message, frame);
        assert_int_equal(number_at(t.json, "health.0.resets.hard"), 1);
        if (k == SCENE_NO_ANSWER || k == SCENE_NO_READY || k == SCENE_MESSAGE) {
            assert_int_equal(number_at(t.json, "health.0.before_resets.0.least_ns"), MS(30));
            assert_int_equal(number_at(t.json, "health.0.before_resets.0.greatest_ns"), MS(30));
        }
        if (k == SCENE_SILENCE)
            assert_int_equal(number_at(t.json, "health.0.before_resets.0.least_ns"), MS(1530));
        if (k == SCENE_NOTHING)
            assert_true(cJSON_IsNull(at(t.json, "health.0.before_resets.0.least_ns")));
        try_free(&t);
        lines_free(l);
    }
}

static void soft_resets_and_cable_resets_and_one_after_another_are_told_apart(void **state)
{
    struct lines *l = *state;

    scene_build(l, SCENE_NO_ANSWER);
    uint64_t soft = lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);

    lines_wait(l, MS(30));
    uint64_t hard = lines_reset(l, RECORD_HARD_RESET);

    lines_wait(l, MS(30));
    uint64_t cable = lines_reset(l, RECORD_CABLE_RESET);

    lines_wait(l, MS(10));
    struct try   t = timings_of(l);
    const cJSON *row = find_at(t.json, "health.0.before_resets", "reset", "soft");

    assert_string_equal(text_at(row, "before"), "no_answer");
    assert_string_equal(text_at(row, "message"), "Request");
    assert_int_equal(number_at(row, "frame"), soft);
    row = find_at(t.json, "health.0.before_resets", "reset", "hard");
    assert_string_equal(text_at(row, "before"), "reset");
    assert_int_equal(number_at(row, "frame"), hard);
    row = find_at(t.json, "health.0.before_resets", "reset", "cable");
    assert_int_equal(number_at(row, "frame"), cable);
    assert_int_equal(number_at(t.json, "health.0.resets.soft"), 1);
    assert_int_equal(number_at(t.json, "health.0.resets.cable"), 1);
    try_free(&t);
}

static void people_read_the_same_numbers(void **state)
{
    struct lines *l = *state;
    char          path[64];

    scene_build(l, SCENE_NO_ANSWER);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(10));
    try_save(l, path);
    struct try t = try_run(&command_check, "--timings", path, NULL);

    expect_text(&t, "time.goodcrc-turnaround 2 100.00 us 100.00 us 100.00 us 100.00 us at most 195 us");
    expect_text(&t, "2 messages, 0 repeated and 0 with a wrong CRC");
    expect_text(&t, "Hard Resets: 1, Soft_Resets: 0, Cable Resets: 0.");
    expect_text(&t, "1 x Hard Reset: 30 ms after the last packet; Request had no answer");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "-v", "--timings", "--only", "time", path, NULL);
    expect_text(&t, "A GoodCRC comes at once (tTransmit,");
    expect_no_text(&t, "wire.");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "--timings", "--missing", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "choose one");
    try_free(&t);
    try_remove(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(count_least_and_greatest_are_exact),
        cmocka_unit_test(shares_are_right_to_a_step_from_microseconds_to_hours),
        cmocka_unit_test(few_times_have_shares_that_are_among_them),
        cmocka_unit_test(times_below_zero_and_beyond_the_last_step_do_no_harm),
        cmocka_unit_test(windows_are_kept_apart_and_only_so_many),
        cmocka_unit_test(times_outside_of_since_and_until_do_not_count),
        cmocka_unit_test(room_runs_out_in_the_open),
        cmocka_unit_test_setup_teardown(a_contract_by_hand, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(repeats_and_wrong_crcs_are_counted, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(missing_goodcrcs_are_counted_by_who_owed_them, lines_setup, lines_teardown),
        cmocka_unit_test(what_came_before_a_hard_reset_is_named),
        cmocka_unit_test_setup_teardown(soft_resets_and_cable_resets_and_one_after_another_are_told_apart, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(people_read_the_same_numbers, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests_name("timings", tests, NULL, NULL);
}
