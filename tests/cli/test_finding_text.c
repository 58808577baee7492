/* Sentences: every form of placeholder (rules/rule.h), limits and causes in words; and every sentence of every rule is sound. */
#include "tests/cli/cli_try.h"

#include "cli/finding_text.h"
#include "rules/parameter.h"

#include <ctype.h>

static void expect_filled(const char *sentence, const int64_t values[FINDING_VALUES], const char *expected)
{
    struct phrase p = phrase_empty();

    sentence_fill(&p, sentence, values);
    assert_string_equal(p.text, expected);
}

static void every_form_is_filled_with_its_unit(void **state)
{
    const int64_t values[FINDING_VALUES] = { 9000, 3250, 65000, 24000000, -1500000000, 0 };

    (void)state;
    expect_filled("{0:V}, {1:A}, {2:W}, {3:ms}, {4:s}, {5}", values, "9 V, 3.25 A, 65 W, 24 ms, -1.5 s, 0");
    /* 0x0801912c: 5 V 3 A (5000 / 50 = 100 = 0x64, 3000 / 10 = 300 = 0x12c) with USB communications. */
    const int64_t words[FINDING_VALUES] = { 0x0401912c, 1, 2, 3, HEADER_R2, SET_SOP1 };

    expect_filled("{0:x} by the {1:side} on {5:set}, {2:k}, revision {4:r}", words,
                  "0x0401912c by the sink on SOP', variable, revision 2.0");
    const int64_t messages[FINDING_VALUES] = { MESSAGE_INDEX(CLASS_CONTROL, CONTROL_PS_RDY), MESSAGE_INDEX(CLASS_CONTROL, 25),
                                               MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_STATUS), 0, 0, 0 };

    /* Control type 25 is reserved in every revision. */
    expect_filled("{0:m} {1:m} {2:m}", messages, "PS_RDY reserved control message 25 Status");
}

static void braces_that_are_no_placeholder_stay(void **state)
{
    const int64_t values[FINDING_VALUES] = { 7 };

    (void)state;
    expect_filled("{ {9} {0 {0:toolong12} {0}", values, "{ {9} {0 {0:toolong12} 7");
}

/* No digits beyond the third of the uncertainty, but never so few that the value seems to be on the other side of its limit. */
static void a_time_has_the_digits_that_its_uncertainty_leaves_it(void **state)
{
    static const char *const sentences[] = { "It came {0:ms} late, {1:ms} and {2:s} after the others." };
    static const struct rule r = { .id = "time.made-up", .title = "A.", .sentences = sentences, .level = LEVEL_MUST };
    struct finding           f = { .rule = &r, .verdict = VERDICT_FAIL, .has_measured = true, .measured = 39669998, .unit = "ms",
                                   .per_unit = 1000000, .has_high = true, .high = 35000000, .has_uncertainty = true,
                                   .uncertainty = 3050627, .values = { 39669998, 24709999, 13203610001 } };
    struct phrase            p = phrase_empty();

    (void)state;
    finding_seen(&p, &f);
    assert_string_equal(p.text, "It came 39.67 ms late, 24.71 ms and 13.20361 s after the others.");
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "measured 39.67 ms (+- 3.05 ms); required at most 35 ms");
    f.measured = 35002000;
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "measured 35.002 ms (+- 3.05 ms); required at most 35 ms");
}

static void a_measurement_says_what_is_required(void **state)
{
    static const char *const sentences[] = { "It came late." };
    static const struct rule r = { .id = "time.made-up", .title = "A.", .sentences = sentences, .level = LEVEL_MUST };
    struct finding           f = { .rule = &r, .verdict = VERDICT_FAIL, .has_measured = true, .measured = 31417, .unit = "ms",
                                   .has_low = true, .low = 24000, .has_high = true, .high = 30000, .has_uncertainty = true, .uncertainty = 200 };
    struct phrase            p = phrase_empty();

    (void)state;
    finding_measured(&p, &f);
    assert_string_equal(p.text, "measured 31.417 ms (+- 0.2 ms); required 24 to 30 ms");
    f.has_low = f.has_uncertainty = false;
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "measured 31.417 ms; required at most 30 ms");
    f.parameter = parameter_find("tSenderResponse@3.0"); /* whose 30 ms that are */
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "measured 31.417 ms; required at most 30 ms (tSenderResponse@3.0)");
    f.unit = "";
    f.parameter = parameter_find("nRetryCount@3.x");
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "goes by nRetryCount@3.x, 2"); /* the count itself stands in the sentence */
    f.parameter = NULL;
    p = phrase_empty();
    finding_measured(&p, &f);
    assert_string_equal(p.text, "");
    f.verdict = VERDICT_UNDECIDED;
    f.cause = CAUSE_LOST;
    p = phrase_empty();
    finding_text(&p, &f);
    assert_string_equal(p.text, "It came late. Not decided: records are missing here, and one of them could change the answer.");
}

static void every_cause_has_its_words(void **state)
{
    (void)state;
    for (unsigned a = CAUSE_LOST; a <= CAUSE_RP; a++) {
        assert_true(strlen(cause_text(a)) > 10);
        for (unsigned b = CAUSE_LOST; b < a; b++)
            assert_string_not_equal(cause_text(a), cause_text(b));
    }
}

/* A sentence of the catalogue, filled with numbers that every form takes, leaves no brace, and ends. */
static void sentences_of_the_catalogue_fill_up(void **state)
{
    const int64_t values[FINDING_VALUES] = { 1, 1, 1, 1, 1, 1 };
    unsigned      rules = 0;

    (void)state;
    for (const struct rule *const *group = rules_groups; *group; group++)
        for (const struct rule *r = *group; r->id; r++) {
            struct phrase p = phrase_empty();

            assert_non_null(r->sentences);
            assert_true(r->title && r->requirement && r->source && r->why && r->bench && r->undecided);
            if (r->sentences[0])
                sentence_fill(&p, r->sentences[0], values);
            if (strchr(p.text, '{') || strchr(p.text, '}'))
                fail_msg("%s: %s", r->id, p.text);
            rules++;
        }
    assert_true(rules > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_form_is_filled_with_its_unit),
        cmocka_unit_test(braces_that_are_no_placeholder_stay),
        cmocka_unit_test(a_time_has_the_digits_that_its_uncertainty_leaves_it),
        cmocka_unit_test(a_measurement_says_what_is_required),
        cmocka_unit_test(every_cause_has_its_words),
        cmocka_unit_test(sentences_of_the_catalogue_fill_up),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
