/* --limits: what the file may hold, what is said where it is wrong, and that verdict, catalogue and cut go by it. */
#define _POSIX_C_SOURCE 200809L /* mkstemp */
#include "tests/cli/cli_try.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static void file_save(const char *text, char path[64])
{
    strcpy(path, "/tmp/portassay-test-XXXXXX");
    int fd = mkstemp(path);

    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
    close(fd);
}

/* A source that takes 10 ms to accept a Request; 15 are allowed. */
static void slow_source_save(struct lines *l, char path[64])
{
    const uint32_t words[] = { word_fixed(5000, 3000) };

    lines_attach(l);
    lines_caps(l, 1, words);
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    lines_wait(l, MS(8));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    try_save(l, path);
}

static const char stricter[] = "{\"schema\":1,\"parameters\":{\"tReceiverResponse\":5},\"levels\":{\"caps.order\":\"should\"}}";

static void the_verdict_goes_by_the_file_and_names_it_with_what_it_changed(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save(stricter, limits);
    struct try t = try_run(&command_check, "--only", "time.source-response", path, NULL);

    assert_int_equal(t.status, 0);
    expect_no_text(&t, "Limits by");
    try_free(&t);
    t = try_run(&command_check, "--only", "time.source-response", "--limits", limits, path, NULL);
    assert_int_equal(t.status, 1);
    expect_text(&t, limits);
    expect_text(&t, "tReceiverResponse at most 5 ms instead of at most 15 ms");
    expect_text(&t, "caps.order is a should instead of a must");
    expect_text(&t, "required at most 5 ms (tReceiverResponse, by --limits)");
    expect_text(&t, "pass at most tReceiverResponse, 5 ms.");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "-q", "--limits", limits, path, NULL);
    expect_text(&t, limits);
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

static void what_explains_a_finding_says_that_the_limit_is_by_the_file(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save(stricter, limits);
    struct try t = try_run(&command_check, "--only", "time.source-response", "--limits", limits, "--explain", "1", path, NULL);

    expect_text(&t, "at most 5 ms: tReceiverResponse");
    expect_text(&t, "(source: --limits, instead of at most 15 ms)");
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "time.source-response", "--limits", limits, "--explain", "1", path, NULL);
    assert_string_equal(text_at(t.json, "demand.parameter"), "tReceiverResponse");
    assert_non_null(strstr(text_at(t.json, "demand.requirement"), "tReceiverResponse, 5 ms."));
    assert_string_equal(text_at(t.json, "demand.parameter_source"), "--limits, instead of at most 15 ms");
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

/* Bits may come at 240 kbit/s, and a stamp of the host is good to 2 ms: the sum says so, and still adds up. */
static void the_sum_of_an_edge_goes_by_the_file_too(void **state)
{
    struct lines *l = *state;
    char          path[64], limits[64];
    const uint32_t words[] = { word_fixed(5000, 3000) };

    l->unmeasured = true;
    lines_attach(l);
    lines_caps(l, 1, words);
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    lines_wait(l, MS(8));
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    try_save(l, path);
    file_save("{\"schema\":1,\"parameters\":{\"tReceiverResponse\":5,\"fBitRate\":{\"min\":240}}}", limits);
    struct try t = try_run(&command_check, "--only", "time.source-response", "--limits", limits, "--explain", "1", path, NULL);

    expect_text(&t, "x 300/330 to x 300/240");
    expect_text(&t, "earliest and latest"); /* stamp, length and uncertainty make the edge */
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

static void the_missing_actions_name_the_file_too(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save(stricter, limits);
    struct try t = try_run(&command_check, "--missing", "--limits", limits, path, NULL);

    expect_text(&t, limits);
    try_free(&t);
    t = try_run(&command_check, "--missing", "--json", "--limits", limits, path, NULL);
    assert_string_equal(text_at(t.json, "limits.file"), limits);
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

static void the_json_names_the_file_what_it_changed_and_the_parameter_of_a_finding(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save(stricter, limits);
    struct try   t = try_run(&command_check, "--json", "--only", "time.source-response", "--limits", limits, path, NULL);
    const cJSON *f = find_at(t.json, "findings", "rule", "time.source-response");

    assert_int_equal(t.status, 1);
    assert_non_null(f);
    assert_string_equal(text_at(f, "parameter"), "tReceiverResponse");
    assert_int_equal(number_at(f, "high"), 5);
    assert_string_equal(text_at(t.json, "limits.file"), limits);
    assert_int_equal(size_at(t.json, "limits.parameters"), 1);
    assert_string_equal(text_at(t.json, "limits.parameters.0.name"), "tReceiverResponse");
    assert_true(cJSON_IsNull(at(t.json, "limits.parameters.0.min")));
    assert_int_equal(number_at(t.json, "limits.parameters.0.max"), 5);
    assert_int_equal(number_at(t.json, "limits.parameters.0.instead_of.max"), 15);
    assert_true(true_at(t.json, "limits.parameters.0.used"));
    assert_string_equal(text_at(t.json, "limits.levels.0.rule"), "caps.order");
    assert_string_equal(text_at(t.json, "limits.levels.0.level"), "should");
    assert_string_equal(text_at(t.json, "limits.levels.0.instead_of"), "must");
    try_free(&t);
    t = try_run(&command_check, "--json", path, NULL);
    assert_false(cJSON_HasObjectItem(t.json, "limits"));
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

/* A Request 40 ms after the offer is late in every edition, and the finding says by which number (USB PD reference, tSenderResponse). */
static void a_finding_names_the_value_of_the_edition_that_was_used(void **state)
{
    static const struct { const char *standard, *parameter; int high_ms; } expected[] = {
        { "2.0", "tSenderResponse@2.0", 30 }, { "3.0", "tSenderResponse@3.0", 30 }, { "3.1", "tSenderResponse@3.1", 32 },
        { "3.2", "tSenderResponse@3.2", 33 }, { "seen", "tSenderResponse", 33 },
    };
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000) };
    char           path[64], text[80];

    lines_attach(l);
    lines_caps(l, 1, words);
    lines_wait(l, MS(38));
    lines_request(l, word_ask_fixed(1, 1000, 1000));
    lines_accept_and_ready(l);
    try_save(l, path);
    for (unsigned k = 0; k < sizeof expected / sizeof expected[0]; k++) {
        struct try t = try_run(&command_check, "--json", "--only", "time.first-request", "--standard", expected[k].standard, path, NULL);
        const cJSON *f = find_at(t.json, "findings", "rule", "time.first-request");

        assert_non_null(f);
        assert_string_equal(text_at(f, "parameter"), expected[k].parameter);
        assert_int_equal(number_at(f, "high"), expected[k].high_ms);
        try_free(&t);
        t = try_run(&command_check, "--only", "time.first-request", "--standard", expected[k].standard, path, NULL);
        snprintf(text, sizeof text, "required at most %d ms (%s)", expected[k].high_ms, expected[k].parameter);
        expect_text(&t, text);
        try_free(&t);
    }
    try_remove(path);
}

static void a_failure_of_a_rule_made_a_should_does_not_fail_the_trace(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save("{\"schema\":1,\"parameters\":{\"tReceiverResponse\":{\"max\":5}},\"levels\":{\"time.source-response\":\"should\"}}", limits);
    struct try t = try_run(&command_check, "--json", "--only", "time.source-response,caps", "--limits", limits, path, NULL);

    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(find_at(t.json, "rules", "rule", "time.source-response"), "verdict"), "fail");
    assert_string_equal(text_at(find_at(t.json, "rules", "rule", "time.source-response"), "level"), "should");
    assert_string_equal(text_at(t.json, "verdict"), "pass");
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

static void a_file_that_says_what_holds_anyway_changes_nothing(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save("{\"schema\":1,\"parameters\":{\"tReceiverResponse\":15},\"levels\":{\"caps.order\":\"must\"}}", limits);
    struct try t = try_run(&command_check, "--only", "caps", "--limits", limits, path, NULL);

    assert_int_equal(t.status, 0);
    expect_text(&t, "it changes nothing");
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

static void a_wrong_file_is_refused_with_the_place_and_what_is_expected(void **state)
{
    static const struct { const char *text, *place, *expected; } wrong[] = {
        { "{\"schema\":1,\"parameters\":{\"tSrcTransitio\":5}}", "parameters.tSrcTransitio: there is no parameter",
          "did you mean tSrcTransition?" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransReq\":5}}", "parameters.tSrcTransReq: there is no parameter", "tSrcTransReq@" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":5}}", "parameters.tSrcTransition: one number", "min and max" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":{\"min\":36}}}", "parameters.tSrcTransition: the least would be above",
          "now 25 to 35 ms" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":{\"min\":\"25\"}}}", "parameters.tSrcTransition.min: not a number",
          "a number (ms)" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":{\"mim\":25}}}", "parameters.tSrcTransition.mim: there is no such key",
          "min and max are expected" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":{\"min\":25,\"min\":26}}}", "parameters.tSrcTransition.min: given twice",
          "leave one" },
        { "{\"schema\":1,\"parameters\":{\"tSrcTransition\":{}}}", "parameters.tSrcTransition: an empty object", "expected" },
        { "{\"schema\":1,\"parameters\":{\"tRetry\":{\"min\":0.1}}}", "parameters.tRetry.min: it has no least value", "{\"max\":" },
        { "{\"schema\":1,\"parameters\":{\"tRetry\":true}}", "parameters.tRetry: not a number", "a number (ms)" },
        { "{\"schema\":1,\"parameters\":{\"tRetry\":0.0001}}", "parameters.tRetry: finer than a thousandth", "a number (ms)" },
        { "{\"schema\":1,\"parameters\":{\"tRetry\":1e300}}", "parameters.tRetry: far too great", "a number (ms)" },
        { "{\"schema\":1,\"parameters\":{\"tRetry\":0.1,\"tRetry\":0.2}}", "parameters.tRetry: given twice", "leave one" },
        { "{\"schema\":1,\"parameters\":{\"nCapsCount\":1.5}}", "parameters.nCapsCount: a fraction", "a whole number" },
        { "{\"schema\":1,\"parameters\":{\"nCapsCount\":-1}}", "parameters.nCapsCount: below 0", "a whole number" },
        { "{\"schema\":1,\"parameters\":[]}", "parameters: an object is expected", "{\"name\":value" },
        { "{\"schema\":1,\"levels\":{\"caps.ordr\":\"must\"}}", "levels.caps.ordr: this build judges no rule", "did you mean caps.order?" },
        { "{\"schema\":1,\"levels\":{\"caps.order\":\"perhaps\"}}", "levels.caps.order: expected is one of", "\"should\"" },
        { "{\"schema\":1,\"levels\":{\"caps.order\":1}}", "levels.caps.order: expected is one of", "\"must\"" },
        { "{\"schema\":1,\"levels\":{\"caps.order\":\"claim\"}}", "levels.caps.order: only a rule about a maker's claim", "\"note\"" },
        { "{\"schema\":2}", "schema: 1 is expected", "no other form" },
        { "{\"parameters\":{}}", "schema: is missing", "\"schema\":1" },
        { "{\"schema\":1,\"parameter\":{}}", "parameter: there is no such key", "parameters and levels" },
        { "{\"schema\":1,\n\"levels\":{\n", "line 3", "correct the file" },
        { "[]", "line 1", "no JSON object" },
        { "", "line 1", "no JSON object" },
    };
    char path[64], limits[64];

    slow_source_save(*state, path);
    for (unsigned k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
        file_save(wrong[k].text, limits);
        struct try t = try_run(&command_check, "--limits", limits, path, NULL);

        assert_int_equal(t.status, 2);
        expect_complaint(&t, limits);
        expect_complaint(&t, wrong[k].place);
        expect_complaint(&t, wrong[k].expected);
        assert_string_equal(t.text, "");
        try_free(&t);
        unlink(limits);
    }
    struct try t = try_run(&command_check, "--limits", "/nowhere/limits.json", path, NULL);

    assert_int_equal(t.status, 2);
    expect_complaint(&t, "/nowhere/limits.json: cannot be opened");
    try_free(&t);
    try_remove(path);
}

static void the_catalogue_shows_the_values_that_the_file_sets(void **state)
{
    char limits[64];

    (void)state;
    file_save(stricter, limits);
    struct try t = try_run(&command_rules, "--limits", limits, "time.source-response", NULL);

    assert_int_equal(t.status, 0);
    expect_text(&t, "tReceiverResponse = at most 5 ms by");
    expect_text(&t, "pass at most tReceiverResponse, 5 ms.");
    expect_text(&t, "instead of at most 15 ms");
    try_free(&t);
    t = try_run(&command_rules, "--limits", limits, "caps.order", NULL);
    expect_text(&t, "should, about the source");
    expect_text(&t, "instead of must");
    try_free(&t);
    t = try_run(&command_rules, "--limits", limits, "--parameters", NULL);
    expect_text(&t, "tReceiverResponse at most 5 ms");
    expect_text(&t, "instead of at most 15 ms");
    try_free(&t);
    t = try_run(&command_rules, "--json", "--limits", limits, "--parameters", NULL);
    const cJSON *q = find_at(t.json, "parameters", "name", "tReceiverResponse");

    assert_int_equal(number_at(q, "max"), 5);
    assert_int_equal(number_at(q, "instead_of.max"), 15);
    assert_string_equal(text_at(t.json, "limits.file"), limits);
    try_free(&t);
    t = try_run(&command_rules, "--limits", "/nowhere/limits.json", NULL);
    assert_int_equal(t.status, 2);
    try_free(&t);
    unlink(limits);
}

static void cut_finds_the_finding_that_only_the_file_makes_one(void **state)
{
    char path[64], limits[64];

    slow_source_save(*state, path);
    file_save(stricter, limits);
    struct try t = try_run(&command_check, "--json", "--limits", limits, path, NULL);
    int        number = 0, k = 0;
    const cJSON *f;
    char         text[12];

    cJSON_ArrayForEach(f, at(t.json, "findings")) {
        k++;
        if (strcmp(text_at(f, "rule"), "time.source-response") == 0)
            number = k;
    }
    assert_int_not_equal(number, 0);
    try_free(&t);
    snprintf(text, sizeof text, "%d", number);
    t = try_run(&command_cut, "--limits", limits, "--finding", text, path, NULL);
    assert_int_equal(t.status, 0);
    try_free(&t);
    t = try_run(&command_cut, "--finding", "100", "--limits", limits, path, NULL);
    assert_int_equal(t.status, 2);
    try_free(&t);
    t = try_run(&command_cut, "--limits", limits, path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "for --finding");
    try_free(&t);
    unlink(limits);
    try_remove(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_verdict_goes_by_the_file_and_names_it_with_what_it_changed, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(what_explains_a_finding_says_that_the_limit_is_by_the_file, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_sum_of_an_edge_goes_by_the_file_too, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_missing_actions_name_the_file_too, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(the_json_names_the_file_what_it_changed_and_the_parameter_of_a_finding, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_finding_names_the_value_of_the_edition_that_was_used, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_failure_of_a_rule_made_a_should_does_not_fail_the_trace, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_file_that_says_what_holds_anyway_changes_nothing, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_wrong_file_is_refused_with_the_place_and_what_is_expected, lines_setup, lines_teardown),
        cmocka_unit_test(the_catalogue_shows_the_values_that_the_file_sets),
        cmocka_unit_test_setup_teardown(cut_finds_the_finding_that_only_the_file_makes_one, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests_name("limits", tests, NULL, NULL);
}
