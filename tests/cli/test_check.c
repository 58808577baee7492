/* check: verdict, exit status and JSON as the interface page has them, on small traces whose faults are put in on purpose. */
#include "tests/cli/cli_try.h"
#include "tests/rules/wave.h"

#include "cli/finding_find.h"
#include "cli/options.h"
#include "cli/rule_names.h"

#include <stdio.h>
#include <stdlib.h>

/* Lumenbrick 65 on C1, negotiated at 9 V; nothing wrong with it. */
static void sound_trace(struct lines *l)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };

    lines_about(l, 255, "{\"device\":\"Lumenbrick 65\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"source\"}]}");
    lines_attach(l);
    lines_negotiate(l, 2, words, word_ask_fixed(2, 3000, 3000));
    lines_wait(l, MS(100));
    lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_accept_and_ready(l);
}

/* The same, but 9 V stands behind 15 V: caps.order. */
static uint64_t wrong_order(struct lines *l, bool sink_named)
{
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(15000, 3000), word_fixed(9000, 3000) };

    lines_about(l, 255, sink_named ? "{\"device\":\"Harbor 96\",\"ports\":[{\"port\":0,\"name\":\"C1\",\"kind\":\"sink\"}]}"
                                   : "{\"device\":\"Lumenbrick 65\"}");
    lines_attach(l);
    uint64_t frame = lines_caps(l, 3, words);

    lines_request(l, word_ask_fixed(2, 3000, 3000));
    lines_accept_and_ready(l);
    lines_wait(l, MS(10));
    return frame;
}

static void a_sound_trace_passes_with_every_key_there(void **state)
{
    struct lines *l = *state;
    char          path[64];

    sound_trace(l);
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(t.status, 0);
    assert_int_equal(number_at(t.json, "schema"), 1);
    assert_string_equal(text_at(t.json, "verdict"), "pass");
    assert_string_equal(text_at(t.json, "trace.file"), path);
    /* START_NS is 1770000000 s after 1970: 2026-02-02 02:40:00 (date -u -d @1770000000). */
    assert_string_equal(text_at(t.json, "trace.start"), "2026-02-02T02:40:00.000000000Z");
    assert_int_equal(number_at(t.json, "trace.records"), l->count);
    static const char *const none[] = { "unknown", "damaged", "unreadable", "lost", "time_steps" };

    for (unsigned k = 0; k < 5; k++)
        assert_int_equal(number_at(at(t.json, "trace"), none[k]), 0);
    assert_false(true_at(t.json, "trace.cut_off"));
    assert_true(true_at(t.json, "trace.invented"));
    assert_string_equal(text_at(t.json, "trace.about.device"), "Lumenbrick 65");
    assert_int_equal(number_at(t.json, "catalogue.of"), 243);
    assert_int_equal(number_at(t.json, "catalogue.judged"), size_at(t.json, "rules"));
    assert_int_equal(number_at(t.json, "findings_left_out"), 0);
    assert_int_equal(size_at(t.json, "findings"), 0);
    assert_int_equal(size_at(t.json, "ports.0.unjudged"), 3); /* neither VBUS nor the current nor the edges of the CC line were recorded */
    assert_non_null(find_at(t.json, "ports.0.unjudged", "missing", "vbus"));
    assert_non_null(find_at(t.json, "ports.0.unjudged", "missing", "ibus"));
    assert_int_equal(number_at(find_at(t.json, "ports.0.unjudged", "missing", "edges"), "rules"), 4);
    const cJSON *rule = find_at(t.json, "rules", "rule", "caps.first-5v");

    assert_non_null(rule);
    assert_string_equal(text_at(rule, "verdict"), "pass");
    assert_string_equal(text_at(rule, "level"), "must");
    assert_string_equal(text_at(rule, "who"), "source");
    assert_int_equal(number_at(rule, "judged"), 1);
    assert_int_equal(number_at(rule, "failed"), 0);
    assert_int_equal(number_at(rule, "undecided"), 0);
    rule = find_at(t.json, "rules", "rule", "caps.pps-range");
    assert_string_equal(text_at(rule, "verdict"), "not-seen");
    assert_int_equal(number_at(rule, "judged"), 0);
    try_free(&t);
    try_remove(path);
}

static void a_contract_has_all_its_keys_and_renewals_begin_none(void **state)
{
    struct lines *l = *state;
    char          path[64];

    sound_trace(l);
    int64_t detached_ns = l->now_ns - START_NS;

    lines_detach(l);
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(size_at(t.json, "ports.0.contracts"), 1);
    const cJSON *c = at(t.json, "ports.0.contracts.0");

    assert_int_equal(number_at(c, "position"), 2);
    assert_string_equal(text_at(c, "supply"), "fixed");
    assert_int_equal(number_at(c, "mv"), 9000);
    assert_int_equal(number_at(c, "ma"), 3000);
    assert_int_equal(number_at(c, "renewed"), 1);
    assert_string_equal(text_at(c, "ended_by"), "detached");
    assert_true(number_at(c, "until_ns") == (double)detached_ns);
    /* ABOUT, 2 x CC, then message and GoodCRC in turn: PS_RDY is the fourth message. */
    assert_int_equal(number_at(c, "frame"), 3 + 2 * 3 + 1);
    assert_string_equal(text_at(t.json, "ports.0.name"), "C1");
    assert_int_equal(size_at(t.json, "ports.0.offers"), 1);
    try_free(&t);
    t = try_run(&command_check, path, NULL);
    assert_int_equal(strncmp(t.text, "PASS", 4), 0);
    expect_text(&t, "9 V 3 A");
    expect_text(&t, "renewed 1 x");
    expect_text(&t, "detached");
    expect_text(&t, "243 rules");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void a_fault_fails_the_trace_and_says_where_what_and_why(void **state)
{
    struct lines *l = *state;
    char          path[64];
    uint64_t      frame = wrong_order(l, false);

    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(t.status, 1);
    assert_string_equal(text_at(t.json, "verdict"), "fail");
    const cJSON *f = find_at(t.json, "findings", "rule", "caps.order");

    assert_non_null(f);
    assert_string_equal(text_at(f, "verdict"), "fail");
    assert_string_equal(text_at(f, "level"), "must");
    assert_string_equal(text_at(f, "who"), "source");
    assert_string_equal(text_at(f, "party"), "device");
    assert_int_equal(number_at(f, "port"), 0);
    assert_int_equal(number_at(f, "frame"), frame);
    assert_true(number_at(f, "t_ns") == (double)(l->line[frame - 1].t_ns - START_NS));
    assert_true(size_at(f, "evidence") >= 1);
    /* Object 3 (9 V) behind object 2 (15 V). */
    assert_non_null(strstr(text_at(f, "text"), "Object 3"));
    static const char *const numbers[] = { "measured", "low", "high", "uncertainty", "unit" };

    for (unsigned k = 0; k < 5; k++)
        at(f, numbers[k]);
    try_free(&t);
    t = try_run(&command_check, path, NULL);
    assert_int_equal(t.status, 1);
    assert_int_equal(strncmp(t.text, "FAIL", 4), 0);
    /* Verdict, then the finding, then the contracts. */
    assert_true(strstr(t.text, "caps.order") < strstr(t.text, "Contracts"));
    expect_text(&t, "required");
    expect_text(&t, "source");
    expect_text(&t, "matters");
    expect_text(&t, "#1");
    expect_text(&t, "the device (source)");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(path);
}

static void a_fault_of_the_partner_is_shown_apart_and_decides_nothing(void **state)
{
    struct lines *l = *state;
    char          path[64];

    wrong_order(l, true); /* the device under test is the sink */
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(t.json, "verdict"), "pass");
    const cJSON *f = find_at(t.json, "findings", "rule", "caps.order");

    assert_string_equal(text_at(f, "party"), "partner");
    assert_string_equal(text_at(find_at(t.json, "rules", "rule", "caps.order"), "verdict"), "fail");
    try_free(&t);
    t = try_run(&command_check, path, NULL);
    expect_text(&t, "not held against the device");
    expect_no_text(&t, "Not met");
    try_free(&t);
    t = try_run(&command_check, "--judge", "source,sink", "--json", path, NULL);
    assert_int_equal(t.status, 1);
    assert_string_equal(text_at(t.json, "verdict"), "fail");
    try_free(&t);
    t = try_run(&command_check, "--judge", "charger", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "charger");
    try_free(&t);
    try_remove(path);
}

static void only_and_skip_pick_rules_by_id_and_by_group(void **state)
{
    struct lines *l = *state;
    char          path[64];

    wrong_order(l, false);
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", "--skip", "caps.order,caps.power-rules-voltages", path, NULL);

    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(t.json, "verdict"), "pass");
    assert_null(find_at(t.json, "rules", "rule", "caps.order"));
    assert_null(find_at(t.json, "findings", "rule", "caps.order"));
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "request.*", path, NULL);
    assert_int_equal(t.status, 0);
    assert_int_equal(size_at(t.json, "rules"), 12);
    assert_non_null(find_at(t.json, "rules", "rule", "request.position"));
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "caps", "--skip", "caps.first-5v", path, NULL);
    assert_int_equal(t.status, 1);
    assert_int_equal(size_at(t.json, "rules"), 31);
    try_free(&t);
    /* Nothing that was asked for had an occasion: undecided, not passed. */
    t = try_run(&command_check, "--json", "--only", "caps.pps-range", path, NULL);
    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(t.json, "verdict"), "undecided");
    try_free(&t);
    t = try_run(&command_check, "--strict", "--only", "caps.pps-range", path, NULL);
    assert_int_equal(t.status, 3);
    expect_text(&t, "UNDECIDED");
    try_free(&t);
    t = try_run(&command_check, "--only", "caps.odrer", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "caps.order");
    try_free(&t);
    try_remove(path);
}

static void several_traces_are_an_object_each_and_the_worst_decides(void **state)
{
    struct lines *good = lines_new(), *bad = lines_new();
    char          good_path[64], bad_path[64];

    (void)state;
    sound_trace(good);
    wrong_order(bad, false);
    try_save(good, good_path);
    try_save(bad, bad_path);
    struct try t = try_run(&command_check, "--json", good_path, bad_path, good_path, NULL);
    unsigned   lines = 0;

    assert_int_equal(t.status, 1);
    for (const char *c = t.text; *c; c++)
        lines += *c == '\n';
    assert_int_equal(lines, 3);
    cJSON *second = cJSON_Parse(strchr(t.text, '\n') + 1);

    assert_string_equal(text_at(second, "verdict"), "fail");
    assert_string_equal(text_at(second, "trace.file"), bad_path);
    cJSON_Delete(second);
    try_free(&t);
    t = try_run(&command_check, good_path, "/nowhere/none.pcap", good_path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "/nowhere/none.pcap");
    expect_text(&t, "3 traces: 2 passed, 1 could not be judged");
    try_free(&t);
    t = try_run(&command_check, "-q", good_path, bad_path, NULL);
    assert_int_equal(t.status, 1);
    assert_int_equal(strncmp(t.text, "PASS", 4), 0);
    assert_non_null(strstr(t.text, "\nFAIL"));
    try_free(&t);
    try_remove(good_path);
    try_remove(bad_path);
    lines_free(good);
    lines_free(bad);
}

/* 200 days in one trace: nanoseconds beyond 2^53, which a double does not hold; the text has to have every digit. */
static void integers_beyond_a_double_are_written_exactly(void **state)
{
    struct lines *l = *state;
    char          path[64];

    lines_about(l, 255, "{\"device\":\"Lumenbrick 65\",\"note_ns\":1770000000123456789}");
    lines_attach(l);
    lines_wait(l, INT64_C(17280000000000001) - (l->now_ns - START_NS)); /* 200 days and 1 ns after the first record */
    uint64_t frame = wrong_order(l, false);

    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);
    int64_t    t_ns = l->line[frame - 1].t_ns - START_NS;
    char       expected[64];

    assert_true(t_ns > INT64_C(9007199254740992));
    snprintf(expected, sizeof expected, "\"frame\":%llu,\"t_ns\":%lld,", (unsigned long long)frame, (long long)t_ns);
    expect_text(&t, expected);
    expect_text(&t, "\"note_ns\":1770000000123456789");
    assert_true(number_at(t.json, "trace.duration_ns") > 1.7e16);
    try_free(&t);
    try_remove(path);
}

static void lost_and_damaged_records_are_counted(void **state)
{
    struct lines *l = *state;
    char          path[64];

    sound_trace(l);
    lines_lost(l, 3);
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(number_at(t.json, "trace.lost"), 3);
    assert_false(cJSON_HasObjectItem(at(t.json, "trace"), "lost_unknown"));
    try_free(&t);
    try_remove(path);
    lines_lost(l, UINT32_MAX); /* unknown: counts as 1 */
    try_save(l, path);
    t = try_run(&command_check, "--json", path, NULL);
    assert_int_equal(number_at(t.json, "trace.lost"), 4);
    assert_true(true_at(t.json, "trace.lost_unknown"));
    try_free(&t);
    t = try_run(&command_check, path, NULL);
    expect_text(&t, "records are missing, nobody knows how many");
    try_free(&t);
    try_remove(path);
}

static void about_from_a_file_is_laid_over_and_named(void **state)
{
    struct lines *l = *state;
    char          path[64], about[64];

    wrong_order(l, false);
    try_save(l, path);
    strcpy(about, path);
    strcat(about, ".json");
    FILE *f = fopen(about, "w");

    assert_non_null(f);
    fputs("{\"sample\":\"7\",\"ports\":[{\"port\":0,\"kind\":\"sink\"}]}", f);
    fclose(f);
    struct try t = try_run(&command_check, "--json", "--about", about, path, NULL);

    assert_int_equal(t.status, 0); /* the source is the partner now */
    assert_string_equal(text_at(t.json, "trace.about.sample"), "7");
    assert_string_equal(text_at(t.json, "trace.about.device"), "Lumenbrick 65");
    assert_string_equal(text_at(t.json, "about"), about);
    try_free(&t);
    t = try_run(&command_check, "--about", about, path, NULL);
    expect_text(&t, "ABOUT overridden by");
    try_free(&t);
    remove(about);
    try_remove(path);
}

/* The request asks for object 5 of 2, again and again. */
static void lists_of_findings_are_bounded_and_the_counts_are_not(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };
    char           path[64];

    lines_attach(l);
    lines_caps(l, 2, words);
    for (unsigned k = 0; k < 120; k++) {
        lines_request(l, word_ask_fixed(5, 1000, 1000));
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    }
    try_save(l, path);
    struct try t = try_run(&command_check, "--json", "--only", "request.position", "--judge", "sink", path, NULL);

    assert_int_equal(t.status, 1);
    assert_int_equal(number_at(t.json, "rules.0.failed"), 120);
    assert_int_equal(size_at(t.json, "findings"), 100);
    assert_int_equal(number_at(t.json, "findings_left_out"), 20);
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "request.position", "--findings", "all", path, NULL);
    assert_int_equal(size_at(t.json, "findings"), 120);
    assert_int_equal(number_at(t.json, "findings_left_out"), 0);
    double last = -1;

    for (int k = 0; k < 120; k++) {
        double t_ns = cJSON_GetNumberValue(at(cJSON_GetArrayItem(at(t.json, "findings"), k), "t_ns"));

        assert_true(t_ns > last);
        last = t_ns;
    }
    try_free(&t);
    t = try_run(&command_check, "--json", "--only", "request.position", "--findings", "7", path, NULL);
    assert_int_equal(size_at(t.json, "findings"), 7);
    assert_int_equal(number_at(t.json, "findings_left_out"), 113);
    try_free(&t);
    t = try_run(&command_check, "--only", "request.position", path, NULL);
    expect_text(&t, "and 95 more like these");
    expect_text(&t, "20 more findings are counted, not kept");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, "--findings", "none", path, NULL);
    assert_int_equal(t.status, 2);
    expect_complaint(&t, "--findings none");
    try_free(&t);
    try_remove(path);
}

/* What `cut --finding N` asks for is what `check` numbers N. */
static void a_finding_is_found_by_the_number_that_check_gives(void **state)
{
    struct lines  *l = *state;
    const uint32_t words[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };
    struct options options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .quiet = true };
    struct finding f;
    char           path[64];
    uint64_t       frames[3];

    lines_attach(l);
    lines_caps(l, 2, words);
    for (unsigned k = 0; k < 3; k++) {
        frames[k] = lines_request(l, word_ask_fixed(5, 1000, 1000)); /* there are two objects */
        lines_control(l, SIDE_SOURCE, CONTROL_REJECT);
    }
    try_save(l, path);
    for (unsigned k = 0; k < 3; k++) {
        assert_true(finding_find(path, &options, &(struct check_words){ .standard = 0 }, k + 1, &f));
        assert_int_equal(f.frame, frames[k]);
        assert_string_equal(f.rule->id, "request.position");
        assert_ptr_equal(f.rule, rule_find("request.position")); /* lasts longer than the run */
    }
    struct try t = try_run(&command_check, "--json", path, NULL);

    for (int k = 0; k < 3; k++)
        assert_int_equal(number_at(cJSON_GetArrayItem(at(t.json, "findings"), k), "frame"), frames[k]);
    assert_false(finding_find(path, &options, &(struct check_words){ .standard = 0 }, 4, &f));
    assert_false(finding_find(path, &options, &(struct check_words){ .standard = 0 }, 0, &f));
    try_free(&t);
    try_remove(path);
}

static void verbose_lists_every_rule_with_its_verdict(void **state)
{
    struct lines *l = *state;
    char          path[64];

    sound_trace(l);
    try_save(l, path);
    struct try t = try_run(&command_check, "-v", path, NULL);

    expect_text(&t, "Every rule");
    expect_text(&t, "request.invalid-refused");
    expect_text(&t, "not-seen");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_check, path, NULL);
    expect_no_text(&t, "Every rule");
    try_free(&t);
    try_remove(path);
}

static void a_trace_of_nothing_is_undecided(void **state)
{
    struct lines *l = *state;
    char          path[64];

    try_save(l, path); /* a capture without a packet */
    struct try t = try_run(&command_check, "--json", path, NULL);

    assert_int_equal(t.status, 0);
    assert_string_equal(text_at(t.json, "verdict"), "undecided");
    assert_true(cJSON_IsNull(at(t.json, "trace.start")));
    assert_int_equal(number_at(t.json, "trace.records"), 0);
    try_free(&t);
    t = try_run(&command_check, "--strict", path, NULL);
    assert_int_equal(t.status, 3);
    expect_text(&t, "Nothing in this recording puts the device to the test.");
    try_free(&t);
    try_remove(path);
}

/*
 * VBUS of a 9 V contract against 8.55 to 9.45 V: the conformance probability phi((9.45 - y) / u) - phi((8.55 - y) / u) of JCGM 106, by a
 * table of phi: phi(-0.5) 0.30854, phi(-1.5) 0.06681, phi(-2.5) 0.00621. u = 20 mV.
 */
static void a_voltage_too_near_its_limit_has_its_probability_in_json(void **state)
{
    static const struct { double mv; const char *verdict; double probability; } cases[] = {
        { 9460, "undecided", 0.30854 }, { 9480, "undecided", 0.06681 }, { 9500, "fail", 0.00621 },
    };
    const uint32_t caps[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct played_supply s;
        char                 path[64];

        lines_clear(*state);
        supply_attach(&s, *state, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":20000,\"noise_uv\":0}}}");
        supply_contract(&s, 2, caps, word_ask_fixed(2, 3000, 3000), 9000);
        supply_hold(&s, MS(20));
        wave_step(&s.w, s.l->now_ns, cases[k].mv, 0);
        supply_hold(&s, MS(400));
        supply_end(&s);
        try_save(s.l, path);
        struct try   t = try_run(&command_check, "--json", path, NULL);
        const cJSON *f = find_at(t.json, "findings", "rule", "volt.contract-window");

        assert_non_null(f);
        assert_string_equal(text_at(f, "verdict"), cases[k].verdict);
        assert_string_equal(text_at(f, "unit"), "V");
        assert_true(number_at(f, "measured") * 1000 > cases[k].mv - 0.01 && number_at(f, "measured") * 1000 < cases[k].mv + 0.01);
        assert_true(number_at(f, "low") * 1000 > 8549.99 && number_at(f, "high") * 1000 < 9450.01);
        assert_true(number_at(f, "uncertainty") > 0.0399 && number_at(f, "uncertainty") < 0.0401);
        assert_true(number_at(f, "probability") > cases[k].probability - 0.00002 &&
                    number_at(f, "probability") < cases[k].probability + 0.00002);
        try_free(&t);
        try_remove(path);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_sound_trace_passes_with_every_key_there),
        TEST(a_contract_has_all_its_keys_and_renewals_begin_none),
        TEST(a_fault_fails_the_trace_and_says_where_what_and_why),
        TEST(a_fault_of_the_partner_is_shown_apart_and_decides_nothing),
        TEST(only_and_skip_pick_rules_by_id_and_by_group),
        cmocka_unit_test(several_traces_are_an_object_each_and_the_worst_decides),
        TEST(integers_beyond_a_double_are_written_exactly),
        TEST(lost_and_damaged_records_are_counted),
        TEST(about_from_a_file_is_laid_over_and_named),
        TEST(lists_of_findings_are_bounded_and_the_counts_are_not),
        TEST(a_finding_is_found_by_the_number_that_check_gives),
        TEST(verbose_lists_every_rule_with_its_verdict),
        TEST(a_trace_of_nothing_is_undecided),
        TEST(a_voltage_too_near_its_limit_has_its_probability_in_json),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
