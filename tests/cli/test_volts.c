/*
 * check --volts: what it prints and its JSON, of traces whose voltages are drawn here; the numbers are worked out by hand from what is
 * drawn (9 V fixed: window 8.55 to 9.45 V, the catalogue).
 */
#include "tests/cli/cli_try.h"
#include "tests/rules/wave.h"

#include "cli/volts.h"

extern const struct command command_check;

enum { OBJECTS = 3 };

static void make_caps(uint32_t *caps)
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_pps(3300, 11000, 3000);
}

/*
 * 9 V at no load and, from a step with a dip to 8.4 V for 2 ms on, 8.916 V at 2 A (42 mohm); an overshoot to 9.6 V for 1 ms; a reading
 * every 100 us.
 */
static void save_story(void **state, char path[64])
{
    struct played_supply s;
    uint32_t             caps[OBJECTS];

    make_caps(caps);
    supply_attach(&s, *state, NULL);
    s.interval_ns = US(100);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_move(&s, 9000, MS(30), MS(2), MS(60));
    wave_step(&s.w, s.done_ns + MS(40), 9600, 0);
    wave_step(&s.w, s.done_ns + MS(41), 9000, 0);
    supply_hold(&s, MS(150));
    wave_step(&s.w, s.l->now_ns, 8400, 2000);
    wave_step(&s.w, s.l->now_ns + MS(2), 8916, 2000);
    supply_hold(&s, MS(200));
    supply_end(&s);
    try_save(s.l, path);
}

static void a_contract_is_told_in_sentences(void **state)
{
    char path[64];

    save_story(state, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "VBUS in each contract, as it left the source");
    expect_text(&t, "    9 V 3 A, object 2, fixed: Request in frame ");
    expect_text(&t, "trace ends");
    expect_text(&t, "      static    median 8.916 V, lowest 8.916 V, highest 9 V (");
    expect_text(&t, "      nearest   366 +- 2 mV inside the lower end of 8.55 to 9.45 V: 8.916 V at 2 A, frame ");
    expect_text(&t, "      readings  8.4 to 9 V (");
    expect_text(&t, "outside the window for 1.9 to 2.1 ms");
    expect_text(&t, "      change    VBUS begins to move ");
    expect_text(&t, "overshoot at least 150 mV");
    expect_text(&t, "beyond 9.45 V, for ");
    expect_text(&t, "no undershoot beyond");
    expect_text(&t, "readings 100 us apart may miss shorter or higher ones");
    expect_text(&t, "      load      falls by 42 +- ");
    expect_text(&t, " mohm: 9 V at 0 A, 8.916 V at 2 A");
    expect_text(&t, "      steps     1 step up, 0 down:");
    expect_text(&t, "0 to 2 A at ");
    expect_text(&t, "9 V before, 8.916 V after; dip of 516 mV");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void close(const cJSON *json, const char *path, double least, double most)
{
    double x = number_at(json, path);

    if (x < least || x > most)
        fail_msg("%s: %f is not %f to %f", path, x, least, most);
}

static void a_contract_and_a_step_as_json(void **state)
{
    char path[64];

    save_story(state, path);
    struct try   t = try_run(&command_check, "--volts", "--json", path, NULL);
    const cJSON *j = t.json;

    assert_int_equal(size_at(j, "volts"), 1);
    assert_int_equal(number_at(j, "volts.0.port"), 0);
    assert_int_equal(number_at(j, "volts.0.position"), 2);
    assert_string_equal(text_at(j, "volts.0.supply"), "fixed");
    assert_int_equal(number_at(j, "volts.0.mv"), 9000);
    assert_int_equal(number_at(j, "volts.0.ma"), 3000);
    assert_int_equal(number_at(j, "volts.0.frame"), number_at(j, "ports.0.contracts.0.frame"));
    assert_string_equal(text_at(j, "volts.0.ended_by"), "trace_end");
    assert_int_equal(number_at(j, "volts.0.window.low_uv"), 8550000);
    assert_int_equal(number_at(j, "volts.0.window.high_uv"), 9450000);
    assert_string_equal(text_at(j, "volts.0.window.parameter"), "vSrcNew@fixed");
    assert_int_equal(number_at(j, "volts.0.static.median_uv"), 8916000);
    assert_int_equal(number_at(j, "volts.0.static.min.uv"), 8916000);
    assert_int_equal(number_at(j, "volts.0.static.max.uv"), 9000000);
    assert_int_equal(number_at(j, "volts.0.margin.uv"), 366000);
    close(j, "volts.0.margin.uncertainty_uv", 1999, 2001);
    assert_string_equal(text_at(j, "volts.0.margin.limit"), "low");
    close(j, "volts.0.change.ready.least_ns", 59.9e6, 60e6);
    close(j, "volts.0.change.ready.most_ns", 60e6, 60.1e6);
    close(j, "volts.0.change.reached.least_ns", 40.8e6, 41e6); /* the overshoot was outside once more */
    close(j, "volts.0.change.reached.most_ns", 41e6, 41.2e6);
    assert_int_equal(number_at(j, "volts.0.change.overshoot_uv"), 150000);
    assert_true(true_at(j, "volts.0.change.extremes_are_least"));
    close(j, "volts.0.outside.least_ns", 1.8e6, 2e6);
    close(j, "volts.0.outside.most_ns", 2e6, 2.2e6);
    assert_int_equal(number_at(j, "volts.0.times_outside"), 1);
    close(j, "volts.0.load_regulation.mohm", 41.99, 42.01);
    assert_int_equal(number_at(j, "volts.0.load_steps.up"), 1);
    assert_int_equal(number_at(j, "volts.0.load_steps.deepest_dip_uv"), 516000);
    assert_string_equal(text_at(j, "volts.0.measured_at"), "source");
    assert_int_equal(size_at(j, "load_steps"), 1);
    assert_int_equal(number_at(j, "load_steps.0.contract_frame"), number_at(j, "volts.0.frame"));
    assert_string_equal(text_at(j, "load_steps.0.load"), "up");
    assert_int_equal(number_at(j, "load_steps.0.from_ua"), 0);
    assert_int_equal(number_at(j, "load_steps.0.to_ua"), 2000000);
    assert_int_equal(number_at(j, "load_steps.0.before_uv"), 9000000);
    assert_int_equal(number_at(j, "load_steps.0.final_uv"), 8916000);
    assert_int_equal(number_at(j, "load_steps.0.dip_uv"), 516000);
    close(j, "load_steps.0.recovery.least_ns", 1.8e6, 2e6);
    close(j, "load_steps.0.recovery.most_ns", 2e6, 2.2e6);
    assert_int_equal(number_at(j, "load_steps.0.spacing_ns"), 100000);
    assert_int_equal(number_at(j, "volts_left_out"), 0);
    assert_int_equal(number_at(j, "load_steps_left_out"), 0);
    try_free(&t);
    try_remove(path);
}

/* 9 V, 9.02 V ... by a programmable supply, each held for 100 ms. */
static void save_points(void **state, unsigned points, char path[64])
{
    struct played_supply s;
    uint32_t             caps[OBJECTS];

    make_caps(caps);
    supply_attach(&s, *state, NULL);
    for (unsigned k = 0; k < points; k++) {
        unsigned mv = 9000 + k * 20;

        supply_ask(&s, OBJECTS, k ? NULL : caps, word_ask_pps(3, mv, 2000));
        supply_move(&s, mv, MS(1), MS(2), MS(20));
        supply_hold(&s, MS(80));
    }
    supply_end(&s);
    try_save(s.l, path);
}

static void operating_points_of_one_object_are_told_together(void **state)
{
    char path[64];

    save_points(state, 6, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "    6 operating points of object 3, PPS: 9 to 9.1 V at 2 A, PS_RDY in frames ");
    expect_text(&t, "      nearest   450 +- 2 mV inside the "); /* 5 % of 9 V at 9 V */
    expect_text(&t, "(asked for 9 V, PS_RDY in frame ");
    expect_text(&t, "never outside the window, as far as the readings show");
    expect_no_text(&t, "9.02 V 2 A, object 3, PPS");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "--volts", "-v", path, NULL);
    expect_text(&t, "    9 V 2 A, object 3, PPS: Request");
    expect_text(&t, "    9.02 V 2 A, object 3, PPS: Request");
    expect_text(&t, "    9.1 V 2 A, object 3, PPS: Request");
    expect_no_text(&t, "operating points of object");
    try_free(&t);
    t = try_run(&command_check, "--volts", "--json", path, NULL);
    assert_int_equal(size_at(t.json, "volts"), 6);
    try_free(&t);
    try_remove(path);
}

static void few_operating_points_are_told_one_by_one(void **state)
{
    char path[64];

    save_points(state, 4, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "    9.02 V 2 A, object 3, PPS: Request");
    try_free(&t);
    try_remove(path);
}

static void without_readings_it_says_so(void **state)
{
    struct lines *l = *state;
    uint32_t      caps[OBJECTS];
    char          path[64];

    make_caps(caps);
    lines_attach(l);
    lines_negotiate(l, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    try_save(l, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "      static    no reading of VBUS");
    expect_text(&t, "      change    no reading of VBUS while it changed; PS_RDY ");
    try_free(&t);
    t = try_run(&command_check, "--volts", "--json", path, NULL);
    assert_true(cJSON_IsNull(at(t.json, "volts.0.margin")));
    assert_true(cJSON_IsNull(at(t.json, "volts.0.static.median_uv")));
    assert_true(cJSON_IsNull(at(t.json, "volts.0.change.overshoot_uv")));
    assert_string_equal(text_at(t.json, "volts.0.load_regulation.because"), "no_current");
    try_free(&t);
    try_remove(path);
}

static void without_a_contract_it_says_so(void **state)
{
    struct lines *l = *state;
    char          path[64];

    lines_attach(l);
    try_save(l, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "No contract was made.");
    try_free(&t);
    t = try_run(&command_check, "--json", path, NULL);
    assert_null(cJSON_GetObjectItemCaseSensitive(t.json, "volts")); /* not asked for */
    try_free(&t);
    try_remove(path);
}

static void an_accept_without_ps_rdy_has_a_line(void **state)
{
    struct played_supply s;
    uint32_t             caps[OBJECTS];
    char                 path[64];

    make_caps(caps);
    supply_attach(&s, *state, NULL);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_hold(&s, MS(1500));
    supply_end(&s);
    try_save(s.l, path);
    struct try t = try_run(&command_check, "--volts", path, NULL);

    expect_text(&t, "; no PS_RDY came");
    expect_text(&t, "VBUS was not seen to begin to move");
    try_free(&t);
    t = try_run(&command_check, "--volts", "--json", path, NULL);
    assert_true(cJSON_IsNull(at(t.json, "volts.0.frame")));
    assert_true(cJSON_IsNull(at(t.json, "volts.0.change.ready_frame")));
    assert_true(cJSON_IsNull(at(t.json, "volts.0.change.begins_to_move")));
    assert_int_equal(number_at(t.json, "volts.0.mv"), 9000);
    try_free(&t);
    try_remove(path);
}

static void it_goes_with_no_other_print(void **state)
{
    (void)state;
    struct try t = try_run(&command_check, "--volts", "--timings", "nothing.pcap", NULL);

    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "choose one");
    try_free(&t);
}

static void what_finds_no_room_is_counted_with_the_worst_of_it(void **state)
{
    (void)state;
    struct volts    *v = volts_new();
    struct volt_line l = { .port = 3, .agreed = true, .margin = { .known = true, .uv = 50000, .u_uv = 1000 }, .outside = { 1, 2 } };
    struct volt_step s = { .port = 3, .up = true, .frame = 9, .depth_uv = 10 };

    assert_non_null(v);
    for (unsigned k = 0; k < VOLTS_LINES; k++)
        volts_take_line(v, &l);
    for (unsigned k = 0; k < VOLTS_STEPS; k++)
        volts_take_step(v, &s);
    assert_null(volts_rest(v, 3));
    l.margin.uv = -7000;
    volts_take_line(v, &l);
    l.margin.uv = 20000;
    volts_take_line(v, &l);
    s.depth_uv = 400;
    volts_take_step(v, &s);
    const struct volts_rest *r = volts_rest(v, 3);

    assert_non_null(r);
    assert_int_equal(r->lines, 2);
    assert_int_equal(r->steps, 1);
    assert_int_equal(r->worst.margin.uv, -7000);
    assert_int_equal(r->outside.most_ns, 4);
    assert_int_equal(r->deepest.depth_uv, 400);
    assert_non_null(volts_line(v, VOLTS_LINES - 1));
    assert_null(volts_line(v, VOLTS_LINES));
    assert_false(volts_failed(v));
    volts_free(v);
}

#define OF(test) cmocka_unit_test_setup_teardown(test, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        OF(a_contract_is_told_in_sentences),
        OF(a_contract_and_a_step_as_json),
        OF(operating_points_of_one_object_are_told_together),
        OF(few_operating_points_are_told_one_by_one),
        OF(without_readings_it_says_so),
        OF(without_a_contract_it_says_so),
        OF(an_accept_without_ps_rdy_has_a_line),
        OF(it_goes_with_no_other_print),
        cmocka_unit_test(what_finds_no_room_is_counted_with_the_worst_of_it),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
