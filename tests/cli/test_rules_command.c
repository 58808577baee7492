/* rules: the list, one rule explained, the parameters; numbers of the catalogue as it is numbered (243 rules in all). */
#include "tests/cli/cli_try.h"

#include "cli/rule_names.h"
#include "rules/parameter.h"

#include <stdlib.h>

static void the_list_has_every_rule_with_level_and_title(void **state)
{
    (void)state;
    struct try t = try_run(&command_rules, NULL);

    assert_int_equal(t.status, 0);
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++)
            expect_text(&t, r->id);
    expect_text(&t, "of the 243 rules of its catalogue");
    expect_width(&t, 100);
    try_free(&t);
}

static void a_group_lists_its_rules_alone(void **state)
{
    static const char *const names[] = { "request", "request.*" };

    (void)state;
    for (unsigned k = 0; k < 2; k++) {
        struct try t = try_run(&command_rules, names[k], NULL);

        assert_int_equal(t.status, 0);
        expect_text(&t, "request.valid-accepted");
        expect_no_text(&t, "caps.order");
        try_free(&t);
    }
}

static void one_rule_is_explained_from_demand_to_bench(void **state)
{
    static const char *const labels[] = { "required", "matters", "level", "source", "basis", "needs", "undecided", "at the bench" };

    (void)state;
    struct try t = try_run(&command_rules, "caps.pps-range", NULL);

    assert_int_equal(t.status, 0);
    for (unsigned k = 0; k < sizeof labels / sizeof labels[0]; k++)
        expect_text(&t, labels[k]);
    expect_text(&t, "must, about the source");
    expect_text(&t, "from memory"); /* the catalogue's source column says M */
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_rules, "--json", "caps.pps-range", NULL);
    assert_int_equal(size_at(t.json, "rules"), 1);
    assert_string_equal(text_at(t.json, "rules.0.rule"), "caps.pps-range");
    assert_string_equal(text_at(t.json, "rules.0.group"), "caps");
    assert_string_equal(text_at(t.json, "rules.0.level"), "must");
    assert_string_equal(text_at(t.json, "rules.0.who"), "source");
    assert_string_equal(text_at(t.json, "rules.0.applies"), "3.x");
    assert_string_equal(text_at(t.json, "rules.0.basis.0"), "memory");
    static const char *const keys[] = { "title", "requirement", "source", "why", "undecided", "bench" };

    for (unsigned k = 0; k < sizeof keys / sizeof keys[0]; k++)
        assert_true(strlen(text_at(at(t.json, "rules.0"), keys[k])) > 10);
    assert_int_equal(number_at(t.json, "catalogue.of"), 243);
    try_free(&t);
}

/* Of the whole catalogue the groups message (17), caps (32) and request (12) are judged in full, and others beside them. */
static void the_json_has_the_three_groups_in_full(void **state)
{
    (void)state;
    struct try t = try_run(&command_rules, "--json", NULL);
    int        n[3] = { 0 };
    static const char *const groups[] = { "message", "caps", "request" };
    const cJSON *rule;

    cJSON_ArrayForEach(rule, at(t.json, "rules"))
        for (unsigned k = 0; k < 3; k++)
            n[k] += strcmp(text_at(rule, "group"), groups[k]) == 0;
    assert_int_equal(n[0], 17);
    assert_int_equal(n[1], 32);
    assert_int_equal(n[2], 12);
    assert_int_equal(number_at(t.json, "catalogue.judged"), size_at(t.json, "rules"));
    assert_true(size_at(t.json, "rules") > 17 + 32 + 12);
    try_free(&t);
}

static void an_unknown_rule_is_status_2_and_a_near_name_is_suggested(void **state)
{
    (void)state;
    struct try t = try_run(&command_rules, "caps.ordre", NULL);

    assert_int_equal(t.status, 2);
    expect_complaint(&t, "did you mean caps.order?");
    try_free(&t);
    t = try_run(&command_rules, "order", NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "did you mean caps.order?");
    try_free(&t);
    t = try_run(&command_rules, "cap", NULL);
    expect_complaint(&t, "did you mean caps?");
    try_free(&t);
    t = try_run(&command_rules, "qqqqqqqqqqqq", NULL);
    assert_int_equal(t.status, 2);
    assert_null(strstr(t.complaints, "did you mean"));
    try_free(&t);
}

/* Steps of letters, counted by hand. */
static void words_are_as_far_apart_as_letters_have_to_change(void **state)
{
    (void)state;
    assert_int_equal(word_distance("order", 5, "order", 5), 0);
    assert_int_equal(word_distance("order", 5, "ordr", 4), 1);
    assert_int_equal(word_distance("order", 5, "odrer", 5), 2);
    assert_int_equal(word_distance("", 0, "abc", 3), 3);
    assert_int_equal(word_distance("abc", 3, "", 0), 3);
    /* The textbook example of Wagner and Fischer's algorithm: kitten, sitting. */
    assert_int_equal(word_distance("kitten", 6, "sitting", 7), 3);
}

static void parameters_have_value_unit_and_source(void **state)
{
    (void)state;
    struct try t = try_run(&command_rules, "--parameters", NULL);

    assert_int_equal(t.status, 0);
    for (const struct parameter *q = parameters_all; q->name; q++)
        expect_text(&t, q->name);
    expect_text(&t, "24 to 33 ms"); /* tSenderResponse of an unknown edition */
    expect_text(&t, "no rule of this build goes by it");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_rules, "--parameters", "--json", NULL);
    const cJSON *q = find_at(t.json, "parameters", "name", "tSenderResponse");

    assert_non_null(q);
    assert_int_equal(number_at(q, "min"), 24);
    assert_int_equal(number_at(q, "max"), 33);
    assert_string_equal(text_at(q, "unit"), "ms");
    assert_true(strlen(text_at(q, "source")) > 3);
    q = find_at(t.json, "parameters", "name", "tReceiverResponse");
    assert_true(cJSON_IsNull(at(q, "min")));
    assert_int_equal(number_at(q, "max"), 15);
    assert_true(cJSON_IsTrue(at(q, "used")));
    /* Marks count in no rule that is built, and no reading of IBUS is held against anything. */
    assert_true(cJSON_IsFalse(at(find_at(t.json, "parameters", "name", "mark_time_ns"), "used")));
    assert_true(cJSON_IsFalse(at(find_at(t.json, "parameters", "name", "assumed_amp_ma"), "used")));
    try_free(&t);
    t = try_run(&command_rules, "--parameters", "caps.order", NULL);
    assert_int_equal(t.status, 2);
    try_free(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_list_has_every_rule_with_level_and_title),
        cmocka_unit_test(a_group_lists_its_rules_alone),
        cmocka_unit_test(one_rule_is_explained_from_demand_to_bench),
        cmocka_unit_test(the_json_has_the_three_groups_in_full),
        cmocka_unit_test(an_unknown_rule_is_status_2_and_a_near_name_is_suggested),
        cmocka_unit_test(words_are_as_far_apart_as_letters_have_to_change),
        cmocka_unit_test(parameters_have_value_unit_and_source),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
