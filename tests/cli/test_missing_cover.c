/* The shortest list of actions: small sets whose answers were found by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cli/missing_cover.h"

#define BIT(n) (UINT64_C(1) << (n))
static const uint8_t even_ranks[64] = { 0 };

static void nothing_is_done_where_nothing_is_missing(void **state)
{
    const uint64_t needs[] = { 0, 0 };

    (void)state;
    assert_true(cover_shortest(needs, 0, even_ranks, 0) == 0);
    assert_true(cover_shortest(needs, 2, even_ranks, 0) == 0);
}

static void what_one_action_alone_shows_makes_it_needed(void **state)
{
    const uint64_t needs[] = { BIT(3), BIT(3) | BIT(1), BIT(7) };

    (void)state;
    assert_true(cover_shortest(needs, 3, even_ranks, 0) == (BIT(3) | BIT(7)));
}

/* Always taking the action that shows most would begin with 0 (four of six) and need three; 1 and 2 do it in two. */
static void the_list_is_shortest_and_not_only_greedy(void **state)
{
    const uint64_t needs[] = {
        BIT(0) | BIT(1), BIT(0) | BIT(1), BIT(1), /* 1 shows three of them */
        BIT(0) | BIT(2), BIT(0) | BIT(2), BIT(2),
    };

    (void)state;
    assert_true(cover_shortest(needs, 6, even_ranks, 0) == (BIT(1) | BIT(2)));
}

/* A circle of five: any three neighbours do, two never. */
static void of_equal_lists_the_gentlest_is_taken(void **state)
{
    const uint64_t needs[] = { BIT(0) | BIT(1), BIT(1) | BIT(2), BIT(2) | BIT(3), BIT(3) | BIT(4), BIT(4) | BIT(0) };
    uint8_t        ranks[64] = { 1, 1, 1, 1, 6 };
    uint64_t       chosen = cover_shortest(needs, 5, ranks, 0);

    (void)state;
    assert_int_equal(__builtin_popcountll(chosen), 3);
    assert_false(chosen & BIT(4));
    for (unsigned k = 0; k < 5; k++)
        assert_true(needs[k] & chosen);
}

static void what_is_done_anyway_costs_nothing_and_is_not_listed(void **state)
{
    const uint64_t needs[] = { BIT(0) | BIT(5), BIT(2), BIT(2) | BIT(6) };

    (void)state;
    assert_true(cover_shortest(needs, 3, even_ranks, BIT(5)) == BIT(2));
    assert_true(cover_shortest(needs, 3, even_ranks, BIT(5) | BIT(2)) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_done_where_nothing_is_missing),
        cmocka_unit_test(what_one_action_alone_shows_makes_it_needed),
        cmocka_unit_test(the_list_is_shortest_and_not_only_greedy),
        cmocka_unit_test(of_equal_lists_the_gentlest_is_taken),
        cmocka_unit_test(what_is_done_anyway_costs_nothing_and_is_not_listed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
