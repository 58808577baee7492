/* What rules demand: the numbers in it are those that are gone by. */
#include "cli/requirement.h"
#include "rules/groups.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { PARAMETERS_MAX = 256 };

static void for_all_rules(void (*look)(const struct rule *r))
{
    for (const struct rule *const *g = rules_groups; *g; g++)
        for (const struct rule *r = *g; r->id; r++)
            look(r);
}

static struct phrase filled(const struct rule *r, const struct parameter *table)
{
    struct phrase p = phrase_empty();

    if (!requirement_phrase(&p, r, table)) {
        print_error("%s: %s\n", r->id, p.text);
        fail();
    }
    return p;
}

static void fill_one(const struct rule *r)
{
    assert_null(strpbrk(filled(r, parameters_all).text, "{}"));
}

static void every_number_of_every_requirement_is_found(void **state)
{
    (void)state;
    for_all_rules(fill_one);
}

static struct rule made_up(const char *requirement)
{
    static const char *const parameters[] = { "tSenderResponse@2.0", "tSoftReset", "tReceive", "tPSTransition@spr", "nRetryCount@3.x",
                                              "vSrcValid", "tFirstSourceCap", NULL };

    return (struct rule){ .id = "made.up", .requirement = requirement, .parameters = parameters };
}

/* Values: USB PD timers as in the table of parameters. */
static void sides_windows_and_sums_stand_in_the_text(void **state)
{
    static const struct { const char *requirement, *text; } cases[] = {
        { "within {tSenderResponse@2.0:most}.", "within 30 ms." },
        { "after {tSenderResponse@2.0:least}", "after 24 ms" },
        { "pass {tSenderResponse@2.0:both} (tSenderResponse)", "pass 24 to 30 ms (tSenderResponse)" },
        { "{tSoftReset:most+tReceive:most}", "16.1 ms" },
        { "at most {nRetryCount@3.x:most} times", "at most 2 times" },
        { "and {vSrcValid:most} more", "and 0.5 V more" },
    };

    (void)state;
    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct rule r = made_up(cases[k].requirement);

        assert_string_equal(filled(&r, parameters_all).text, cases[k].text);
    }
}

static void what_is_no_side_of_a_parameter_of_the_rule_is_left_and_told(void **state)
{
    static const char *const wrong[] = {
        "{tRetry:most}", "{tFirstSourceCap:least}", "{tSoftReset:middle}", "{tSoftReset}", "{}", "{tSoftReset:most", "{tSoftReset:most+vSrcValid:most}",
        "{tSoftReset:most+}", "{:most}",
    };

    (void)state;
    for (unsigned k = 0; k < sizeof wrong / sizeof wrong[0]; k++) {
        struct rule   r = made_up(wrong[k]);
        struct phrase p = phrase_empty();

        if (requirement_phrase(&p, &r, parameters_all)) {
            print_error("%s: %s\n", wrong[k], p.text);
            fail();
        }
        assert_non_null(strchr(p.text, '{'));
    }
}

/* A copy of the table in which one parameter is 7 times as large. */
static const struct parameter *table_with(const char *name, const struct parameter *q)
{
    static struct parameter table[PARAMETERS_MAX];
    unsigned n = 0;

    for (; parameters_all[n].name; n++) {
        assert_true(n + 1 < PARAMETERS_MAX);
        table[n] = parameters_all[n];
        if (strcmp(table[n].name, name) == 0) {
            table[n].min = q->min == PARAMETER_NONE ? PARAMETER_NONE : q->min * 7;
            table[n].max = q->max == PARAMETER_NONE ? PARAMETER_NONE : q->max * 7;
        }
    }
    table[n].name = NULL;
    return table;
}

static void number_text(char out[48], int64_t thousandths, const char *unit)
{
    struct phrase p = phrase_empty();

    phrase_short(&p, thousandths, 3);
    snprintf(out, 48, "%.20s%s%.20s", p.text, *unit ? " " : "", unit);
}

/* "15 ms" as a number of its own, not the end of "0.15 ms". */
static bool says(const char *text, const char *number)
{
    for (const char *at = strstr(text, number); at; at = strstr(at + 1, number)) {
        char before = at > text ? at[-1] : ' ', after = at[strlen(number)];

        if (!strchr("0123456789.@+-", before) && !(after >= '0' && after <= '9'))
            return true;
    }
    return false;
}

/* A number with a unit that is a side of one of the rule's parameters changes with it. */
static void turn_one(const struct rule *r)
{
    for (const char *const *n = r->parameters; n && *n; n++) {
        const struct parameter *q = parameter_find(*n);
        struct phrase           before = filled(r, parameters_all), after = filled(r, table_with(*n, q));

        for (unsigned side = 0; side < 2; side++) {
            int64_t amount = side ? q->max : q->min;
            char    number[48];

            if (amount == PARAMETER_NONE || !q->unit[0])
                continue;
            number_text(number, amount, q->unit);
            if (says(before.text, number) && strcmp(before.text, after.text) == 0) {
                print_error("%s: %s of %s stands in the text whatever its value is: %s\n", r->id, number, *n, before.text);
                fail();
            }
        }
    }
}

static void no_number_of_a_parameter_stands_in_a_requirement_whatever_its_value_is(void **state)
{
    (void)state;
    for_all_rules(turn_one);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_number_of_every_requirement_is_found),
        cmocka_unit_test(sides_windows_and_sums_stand_in_the_text),
        cmocka_unit_test(what_is_no_side_of_a_parameter_of_the_rule_is_left_and_told),
        cmocka_unit_test(no_number_of_a_parameter_stands_in_a_requirement_whatever_its_value_is),
    };

    return cmocka_run_group_tests_name("requirement", tests, NULL, NULL);
}
