/* Findings: kept within bounds, given back in order of time, also by way of a temporary file. */
#include "tests/cli/cli_try.h"

#include "cli/finding_list.h"

static const struct rule rules[2] = { { .id = "a.one" }, { .id = "a.two" } };

static struct finding finding(const struct rule *rule, unsigned port, int64_t t_ns, uint64_t frame)
{
    return (struct finding){ .rule = rule, .verdict = VERDICT_FAIL, .port = (uint8_t)port, .t_ns = t_ns, .frame = frame };
}

static void add(struct finding_list *l, const struct rule *rule, unsigned port, int64_t t_ns, uint64_t frame)
{
    struct finding f = finding(rule, port, t_ns, frame);

    finding_list_add(l, &f);
}

static void findings_come_back_by_time_then_frame_then_as_they_came(void **state)
{
    static const uint64_t expected[] = { 9, 5, 7, 7, 3 };
    static const char *const ids[] = { "a.one", "a.one", "a.two", "a.one", "a.two" };
    struct finding_list l;
    struct finding      f;
    uint64_t            number;

    (void)state;
    finding_list_start(&l, FINDINGS_LIMIT);
    add(&l, &rules[1], 0, 300, 3);
    add(&l, &rules[1], 0, 200, 7);
    add(&l, &rules[0], 0, 200, 7);
    add(&l, &rules[0], 0, 200, 5);
    add(&l, &rules[0], 0, 100, 9);
    assert_true(finding_list_sort(&l));
    for (unsigned k = 0; k < 5; k++) {
        assert_true(finding_list_next(&l, &f, &number));
        assert_int_equal(number, k + 1);
        assert_int_equal(f.frame, expected[k]);
        assert_string_equal(f.rule->id, ids[k]);
    }
    assert_false(finding_list_next(&l, &f, &number));
    finding_list_free(&l);
}

static void only_the_first_of_each_rule_verdict_and_port_are_kept(void **state)
{
    struct finding_list l;

    (void)state;
    finding_list_start(&l, 2);
    for (unsigned k = 0; k < 5; k++) {
        add(&l, &rules[0], 0, k, k + 1);
        add(&l, &rules[0], 1, k, k + 1);
        add(&l, &rules[1], 0, k, k + 1);
    }
    struct finding undecided = finding(&rules[0], 0, 1, 1);

    undecided.verdict = VERDICT_UNDECIDED;
    finding_list_add(&l, &undecided);
    assert_int_equal(finding_list_count(&l), 2 * 3 + 1);
    assert_int_equal(l.left_out, 3 * 3);
    finding_list_free(&l);
}

static void an_empty_list_sorts_and_gives_nothing(void **state)
{
    struct finding_list l;
    struct finding      f;
    uint64_t            number;

    (void)state;
    finding_list_start(&l, FINDINGS_ALL);
    assert_true(finding_list_sort(&l));
    assert_false(finding_list_next(&l, &f, &number));
    finding_list_free(&l);
}

/* 3 whole runs and a part of one; times fall, so that every run has to be mixed with every other. */
static void without_a_bound_the_temporary_file_gives_all_of_them_in_order_twice(void **state)
{
    enum { MANY = 3 * FINDINGS_RUN + 17 };
    struct finding_list l;
    struct finding      f;
    uint64_t            number;

    (void)state;
    finding_list_start(&l, FINDINGS_ALL);
    for (unsigned k = 0; k < MANY; k++)
        add(&l, &rules[k % 2], 0, (int64_t)(MANY - k) / 2, k + 1);
    assert_true(finding_list_sort(&l));
    assert_int_equal(finding_list_count(&l), MANY);
    for (unsigned round = 0; round < 2; round++) {
        int64_t  last_ns = INT64_MIN;
        uint64_t last_frame = 0, sum = 0;

        finding_list_rewind(&l);
        for (unsigned k = 0; k < MANY; k++) {
            assert_true(finding_list_next(&l, &f, &number));
            assert_true(f.t_ns > last_ns || (f.t_ns == last_ns && f.frame > last_frame));
            assert_ptr_equal(f.rule, &rules[(f.frame - 1) % 2]);
            last_ns = f.t_ns;
            last_frame = f.frame;
            sum += f.frame;
        }
        assert_int_equal(sum, (uint64_t)MANY * (MANY + 1) / 2);
        assert_false(finding_list_next(&l, &f, &number));
    }
    finding_list_free(&l);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(findings_come_back_by_time_then_frame_then_as_they_came),
        cmocka_unit_test(only_the_first_of_each_rule_verdict_and_port_are_kept),
        cmocka_unit_test(an_empty_list_sorts_and_gives_nothing),
        cmocka_unit_test(without_a_bound_the_temporary_file_gives_all_of_them_in_order_twice),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
