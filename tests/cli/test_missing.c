/* check --missing: what small traces show is known, so is what they do not, and by what it would be shown. */
#include "tests/cli/cli_try.h"

#include "cli/missing.h"

#include <stdio.h>
#include <stdlib.h>

/* Lumenbrick 65 offers 5 and 9 V, a sink of revision 3.x takes 9 V: nothing else happens. */
static void plain_trace(struct lines *l, const char *kind, bool pps)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000), word_pps(3300, 11000, 3000) };
    char           about[200];

    snprintf(about, sizeof about, "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"%s\"}]}", kind);
    lines_about(l, 255, about);
    lines_attach(l);
    lines_negotiate(l, pps ? 3 : 2, words, word_ask_fixed(2, 3000, 3000));
    lines_wait(l, MS(100));
}

static const cJSON *missing_rule(const struct try *t, const char *id)
{
    return find_at(t->json, "ports.0.missing", "rule", id);
}

static const char *state_of_rule(const struct try *t, const char *id)
{
    const cJSON *r = missing_rule(t, id);

    return r ? text_at(r, "state") : "shown";
}

/* Number of rules of `check --json` with this verdict that are about these (who), by what `rules --json` says of each. */
static unsigned rules_about(const char *path, bool (*wanted)(const char *who))
{
    struct try checked = try_run(&command_check, "--json", path, NULL), listed = try_run(&command_rules, "--json", NULL);
    const cJSON *rules = at(listed.json, "rules");
    unsigned     n = 0;

    for (int k = 0; k < cJSON_GetArraySize(rules); k++) {
        const cJSON *r = cJSON_GetArrayItem(rules, k);

        assert_non_null(find_at(checked.json, "rules", "rule", text_at(r, "rule")));
        n += wanted(text_at(r, "who"));
    }
    try_free(&checked);
    try_free(&listed);
    return n;
}

static bool about_a_source(const char *who)
{
    return strcmp(who, "source") == 0 || strcmp(who, "each") == 0 || strcmp(who, "link") == 0;
}

static bool about_a_sink(const char *who)
{
    return strcmp(who, "sink") == 0 || strcmp(who, "each") == 0 || strcmp(who, "link") == 0;
}

static void what_was_judged_is_shown_and_the_rest_has_an_action(void **state)
{
    struct lines *l = *state;
    char          path[64];

    plain_trace(l, "source", false);
    try_save(l, path);
    struct try t = try_run(&command_check, "--missing", "--json", path, NULL);

    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(t.json, "device"), "Lumenbrick 65");
    assert_string_equal(text_at(t.json, "ports.0.name"), "C1");
    assert_int_equal(number_at(t.json, "ports.0.total"), rules_about(path, about_a_source));
    assert_null(missing_rule(&t, "caps.first-5v"));
    assert_null(missing_rule(&t, "request.valid-accepted"));
    assert_null(missing_rule(&t, "request.position")); /* about the sink, which is not the device */
    const cJSON *r = missing_rule(&t, "caps.apdo-in-revision");

    assert_string_equal(text_at(r, "state"), "to_do");
    assert_string_equal(text_at(r, "action"), "revision-2");
    assert_string_equal(text_at(r, "level"), "must");
    assert_string_equal(text_at(missing_rule(&t, "request.invalid-refused"), "action"), "bad-request");
    r = missing_rule(&t, "caps.pps-range");
    assert_string_equal(text_at(r, "state"), "not_offered");
    assert_string_equal(text_at(r, "feature"), "pps");
    assert_true(cJSON_IsNull(at(r, "action")));
    assert_string_equal(state_of_rule(&t, "message.deprecated"), "only_by_fault");
    /* No EPR on this charger: chunks come by other messages. */
    assert_string_equal(text_at(missing_rule(&t, "message.chunk-size"), "action"), "chunks");
    try_free(&t);
    try_remove(path);
}

static void the_counts_of_a_port_add_up(void **state)
{
    static const char *const keys[] = { "covered", "undecided", "to_do", "needs_readings", "not_offered", "only_by_fault", "no_action" };
    struct lines *l = *state;
    char          path[64];

    plain_trace(l, "source", true);
    try_save(l, path);
    struct try   t = try_run(&command_check, "--missing", "--json", path, NULL);
    const cJSON *port = at(t.json, "ports.0");
    double       sum = 0;

    for (unsigned k = 0; k < sizeof keys / sizeof keys[0]; k++)
        sum += number_at(port, keys[k]);
    assert_true(sum == number_at(port, "total"));
    assert_true(number_at(port, "total") - number_at(port, "covered") == size_at(port, "missing"));
    assert_int_equal(number_at(port, "no_action"), 0);
    /* Every rule that is to be shown stands under one action. */
    double under = 0;

    for (int k = 0; k < size_at(t.json, "actions"); k++)
        under += size_at(cJSON_GetArrayItem(at(t.json, "actions"), k), "ports.0.rules");
    assert_true(under == number_at(port, "to_do") + number_at(port, "undecided"));
    try_free(&t);
    try_remove(path);
}

static void actions_come_gentlest_first_and_none_is_there_for_nothing(void **state)
{
    struct lines *l = *state;
    char          path[64];

    plain_trace(l, "source", false);
    try_save(l, path);
    struct try   t = try_run(&command_check, "--missing", "--json", path, NULL);
    const cJSON *actions = at(t.json, "actions");
    double       rank = 0;

    assert_true(cJSON_GetArraySize(actions) > 3);
    for (int k = 0; k < cJSON_GetArraySize(actions); k++) {
        const cJSON *a = cJSON_GetArrayItem(actions, k);

        assert_true(number_at(a, "rank") >= rank);
        rank = number_at(a, "rank");
        assert_true(size_at(a, "ports.0.rules") > 0);
        if (rank >= RANK_POWER)
            assert_false(cJSON_IsNull(at(a, "caution")));
    }
    try_free(&t);
    t = try_run(&command_check, "--missing", path, NULL);
    assert_int_equal(strncmp(t.text, "MISSING", 7), 0);
    assert_true(strstr(t.text, "revision-2") < strstr(t.text, "bad-request"));
    expect_text(&t, "careful");
    expect_text(&t, "Does not offer extended power range (EPR)");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "--missing", "-v", path, NULL);
    expect_text(&t, "caps.apdo-in-revision: An offer of revision 2.0 has no augmented objects");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void several_traces_are_taken_together(void **state)
{
    struct lines *without = lines_new(), *with = lines_new();
    char          without_path[64], with_path[64];

    (void)state;
    plain_trace(without, "source", false);
    plain_trace(with, "source", true);
    try_save(without, without_path);
    try_save(with, with_path);
    struct try t = try_run(&command_check, "--missing", "--json", without_path, "/nowhere/none.pcap", with_path, NULL);

    assert_int_equal(t.status, 2); /* one of them could not be judged; the others count */
    assert_int_equal(size_at(t.json, "traces"), 2);
    assert_int_equal(size_at(t.json, "ports"), 1);
    assert_string_equal(state_of_rule(&t, "caps.pps-range"), "shown");
    assert_string_equal(state_of_rule(&t, "caps.variable-range"), "not_offered");
    assert_false(true_at(t.json, "devices_differ"));
    try_free(&t);
    try_remove(without_path);
    try_remove(with_path);
    lines_free(without);
    lines_free(with);
}

static void a_device_that_is_charged_is_asked_for_the_rules_of_a_sink(void **state)
{
    struct lines *l = *state;
    char          path[64];

    plain_trace(l, "sink", false);
    try_save(l, path);
    struct try t = try_run(&command_check, "--missing", "--json", path, NULL);

    assert_int_equal(number_at(t.json, "ports.0.total"), rules_about(path, about_a_sink));
    assert_string_equal(state_of_rule(&t, "request.position"), "shown");
    assert_null(missing_rule(&t, "caps.apdo-in-revision"));
    assert_string_equal(text_at(missing_rule(&t, "request.power"), "action"), "battery-source");
    /* What the partner offers says nothing of the device. */
    assert_int_equal(number_at(t.json, "ports.0.not_offered"), 0);
    try_free(&t);
    /* The same trace, with the source as the one who is judged. */
    t = try_run(&command_check, "--missing", "--json", "--judge", "source", path, NULL);
    assert_string_equal(state_of_rule(&t, "caps.apdo-in-revision"), "to_do");
    assert_null(missing_rule(&t, "request.power"));
    try_free(&t);
    try_remove(path);
}

static void a_rule_that_was_only_undecided_is_still_missing(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 2000), word_pps(3300, 11000, 3000) };
    char           path[64];

    /* 33 W by PPS against an inferred rating of 18 W: whether it has to be limited depends on the rating, which nobody stated. */
    lines_attach(l);
    lines_negotiate(l, 3, words, word_ask_fixed(2, 2000, 2000));
    try_save(l, path);
    struct try t = try_run(&command_check, "--missing", "--json", path, NULL);

    assert_string_equal(state_of_rule(&t, "caps.pps-power-limited"), "undecided");
    try_free(&t);
    t = try_run(&command_check, "--missing", path, NULL);
    expect_text(&t, "caps.pps-power-limited (undecided so far)");
    try_free(&t);
    try_remove(path);
}

static void what_no_recording_of_this_kind_shows_names_the_readings(void **state)
{
    struct lines          *l = *state;
    struct options         options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .operand_count = 1 };
    struct check_settings *settings = malloc(sizeof *settings);
    struct check           c;
    struct missing         m;
    char                   path[64], output[] = "/tmp/portassay-test-missing";
    unsigned               k = 0;

    assert_non_null(settings);
    plain_trace(l, "source", false);
    try_save(l, path);
    assert_true(check_settings_read(settings, "check", &(struct check_words){ .standard = 0 }));
    while (strcmp(settings->rules.rows[k].id, "caps.apdo-in-revision") != 0)
        k++;
    settings->rules.rows[k].occasion_evidence = EVIDENCE_VBUS; /* as a rule of VBUS has it; the trace has none */
    assert_true(check_run(&c, path, &options, settings));
    assert_true(missing_start(&m, &options, settings));
    assert_true(missing_take(&m, &c));
    missing_settle(&m);
    assert_int_equal(m.ports[0]->state[k], MISSING_READINGS);
    assert_int_equal(missing_evidence(&m, m.ports[0], k), EVIDENCE_VBUS);
    /* No other rule wants that action here, so it is done for these readings alone. */
    assert_int_equal(m.ports[0]->action[k], ACTION_PLUG_R2);
    assert_false(m.to_do >> ACTION_PLUG_R2 & 1);
    assert_true(m.beside >> ACTION_PLUG_R2 & 1);
    struct out *o = out_open_path(output, COLOR_NEVER);

    assert_non_null(o);
    missing_text(o, &m);
    assert_true(out_close(o));
    struct try t = { .text = calloc(1, 65536) };
    FILE      *f = fopen(output, "rb");

    assert_true(fread(t.text, 1, 65535, f) > 0);
    fclose(f);
    expect_text(&t, "once the recording holds other readings");
    expect_text(&t, "with readings of VBUS:");
    expect_text(&t, "C1: caps.apdo-in-revision");
    try_free(&t);
    remove(output);
    missing_free(&m);
    check_free(&c);
    free(settings);
    try_remove(path);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(what_was_judged_is_shown_and_the_rest_has_an_action),
        TEST(the_counts_of_a_port_add_up),
        TEST(actions_come_gentlest_first_and_none_is_there_for_nothing),
        cmocka_unit_test(several_traces_are_taken_together),
        TEST(a_device_that_is_charged_is_asked_for_the_rules_of_a_sink),
        TEST(a_rule_that_was_only_undecided_is_still_missing),
        TEST(what_no_recording_of_this_kind_shows_names_the_readings),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
