/* What was done, from records drawn here: which words stand for it, what is folded into a count, what is cut. */
#include "tests/cli/cli_try.h"

#include "cli/behaviour.h"
#include "cli/check_run.h"
#include "cli/options.h"

#include <stdlib.h>

static const struct options options = { .quiet = true, .since_ns = INT64_MIN, .until_ns = INT64_MAX };

struct seen { struct check check; struct check_settings *settings; char path[64]; };

static void see(struct seen *s, const struct lines *l)
{
    const struct check_words words = { .findings = NULL };

    s->settings = malloc(sizeof *s->settings);
    assert_non_null(s->settings);
    assert_true(check_settings_read(s->settings, "test", &words));
    s->settings->behaviour = true;
    try_save(l, s->path);
    assert_true(check_run(&s->check, s->path, &options, s->settings));
}

static void seen_free(struct seen *s)
{
    check_free(&s->check);
    check_settings_free(s->settings);
    try_remove(s->path);
}

/* The deeds of port 0, a line each; more than one: " xN". */
static void expect_deeds(const struct seen *s, const char *expected)
{
    const struct behaviour_port *p = behaviour_port(s->check.behaviour, 0);
    struct phrase                all = phrase_empty();

    for (size_t k = 0; p && k < p->count; k++) {
        deed_phrase(&all, &p->deeds[k]);
        if (p->deeds[k].times > 1)
            phrase_format(&all, " x%u", p->deeds[k].times);
        phrase_add(&all, "\n");
    }
    assert_string_equal(all.text, expected);
}

static const uint32_t *caps(void)
{
    static uint32_t words[2];

    words[0] = word_fixed(5000, 3000);
    words[1] = word_fixed(9000, 2000);
    return words;
}

static void ask(struct lines *l, uint32_t word)
{
    lines_data(l, SIDE_SINK, DATA_REQUEST, 1, &word);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(40));
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, MS(100));
}

static void a_negotiation_reads_as_what_was_done(void **state)
{
    struct lines *l = *state;
    struct seen   s;

    lines_data(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, 2, caps());
    ask(l, word_ask_fixed(2, 1500, 2000));
    lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    see(&s, l);
    expect_deeds(&s, "source offers 5 V 3 A, 9 V 2 A\n"
                     "sink requests 9 V 1.5 A, object 2, fixed\n"
                     "source: Accept\n"
                     "contract 9 V 1.5 A, object 2, fixed\n"
                     "source: Soft_Reset\n"
                     "sink: Accept\n");
    seen_free(&s);
}

static void requests_for_the_point_in_force_are_a_count_of_the_contract(void **state)
{
    struct lines *l = *state;
    struct seen   s;

    lines_data(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, 2, caps());
    for (unsigned k = 0; k < 5; k++)
        ask(l, word_ask_fixed(2, 1500, 2000));
    ask(l, word_ask_fixed(1, 1500, 2000));
    see(&s, l);
    expect_deeds(&s, "source offers 5 V 3 A, 9 V 2 A\n"
                     "sink requests 9 V 1.5 A, object 2, fixed\n"
                     "source: Accept\n"
                     "contract 9 V 1.5 A, object 2, fixed x5\n"
                     "sink requests 5 V 1.5 A, object 1, fixed\n"
                     "source: Accept\n"
                     "contract 5 V 1.5 A, object 1, fixed\n");
    seen_free(&s);
}

static void polling_is_folded(void **state)
{
    struct lines *l = *state;
    struct seen   s;

    lines_data(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, 2, caps());
    ask(l, word_ask_fixed(2, 1500, 2000));
    for (unsigned k = 0; k < 4; k++) {
        lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
        lines_control(l, SIDE_SOURCE, CONTROL_NOT_SUPPORTED);
    }
    lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    see(&s, l);
    expect_deeds(&s, "source offers 5 V 3 A, 9 V 2 A\n"
                     "sink requests 9 V 1.5 A, object 2, fixed\n"
                     "source: Accept\n"
                     "contract 9 V 1.5 A, object 2, fixed\n"
                     "sink: Get_Revision\n"
                     "source: Not_Supported x4\n"
                     "sink: Get_Revision\n");
    seen_free(&s);
}

static void a_long_life_is_cut_and_counted(void **state)
{
    struct lines *l = *state;
    struct seen   s;

    for (unsigned k = 0; k < BEHAVIOUR_DEEDS / 2 + 50; k++) { /* no two neighbours alike, nothing to fold */
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
    }
    see(&s, l);
    const struct behaviour_port *p = behaviour_port(s.check.behaviour, 0);

    assert_non_null(p);
    assert_int_equal(p->count, BEHAVIOUR_DEEDS);
    assert_int_equal(p->left_out, 100);
    seen_free(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_negotiation_reads_as_what_was_done, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(requests_for_the_point_in_force_are_a_count_of_the_contract, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(polling_is_folded, lines_setup, lines_teardown),
        cmocka_unit_test_setup_teardown(a_long_life_is_cut_and_counted, lines_setup, lines_teardown),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
