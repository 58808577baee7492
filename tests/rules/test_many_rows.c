/*
 * What a contract's readings say does not depend on how many of them a record has, nor on whether they were taken many at a time: the
 * same waves, drawn with steps of the load, ramps and readings near and beyond the limits, are written with few rows a record and with
 * many, and what was gathered of the contract is compared. Of one row a record every row is looked at by itself.
 */
#include "rules/engine_inside.h"
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static struct rail_steady gathered; /* of the contract for 9 V */
static bool               told;

static void probe_check(struct judge *j, const struct event *e)
{
    (void)e;
    if (judge_section(j)->steady->contract.mv != 9000)
        return;
    gathered = *judge_section(j)->steady;
    told = true;
}

static const struct rule probe[] = {
    { .id = "test.probe", .title = "Told of every contract", .requirement = "None.", .source = "this test", .why = "None.", .basis = BASIS_OURS,
      .whom = WHO_SOURCE, .sections = SECTION_BIT(SECTION_CONTRACT), .check = probe_check },
    { 0 },
};
static const struct rule *const groups[] = { probe, NULL };

static uint32_t drawn_from = 1;

static uint32_t drawn(uint32_t below)
{
    drawn_from = drawn_from * 1664525u + 1013904223u;
    return (drawn_from >> 8) % below;
}

/* From now on for so long: a level in the window mostly, a load that steps now and then. */
static void draw(struct wave *w, int64_t from_ns, int64_t lasts_ns)
{
    for (int64_t t_ns = from_ns; t_ns < from_ns + lasts_ns; t_ns += MS(17) + MS(drawn(60))) {
        double mv = drawn(12) == 0 ? 8000 + drawn(2000) : drawn(4) == 0 ? 8540 + drawn(40) : 8700 + drawn(600);

        if (drawn(3) == 0)
            wave_ramp(w, t_ns, t_ns + MS(9), mv);
        else
            wave_step(w, t_ns, mv, wave_ma(w, t_ns));
        if (drawn(3) == 0)
            wave_load(w, t_ns + MS(12), 300 + drawn(2600));
    }
}

struct way { int64_t interval_ns; unsigned rows; };

static struct rail_steady gather(void **state, const struct way *way, uint32_t seed, bool wild)
{
    struct lines        *l = *state;
    struct played_supply s;
    const uint32_t       caps[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };

    lines_clear(l);
    supply_attach(&s, l, "{\"instrument\":{\"volt\":{\"gain_ppm\":300,\"offset_uv\":2000,\"noise_uv\":1000},"
                         "\"amp\":{\"gain_ppm\":300,\"offset_ua\":1000,\"noise_ua\":1000}}}");
    supply_contract(&s, 2, caps, word_ask_fixed(2, 3000, 3000), 9000);
    wave_load(&s.w, l->now_ns, 1000);
    drawn_from = seed;
    if (wild)
        draw(&s.w, l->now_ns + MS(600), MS(1000));
    supply_hold(&s, MS(1700));
    wave_write(l, &s.w, s.begin_ns, l->now_ns, way->interval_ns, way->rows);
    told = false;
    lines_run(l, &(struct engine_options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX, .groups = groups });
    assert_true(told);
    return gathered;
}

static void same_value(const struct rail_value *a, const struct rail_value *b)
{
    assert_int_equal(a->frame != 0, b->frame != 0);
    if (a->frame == 0)
        return;
    assert_int_equal(a->t_ns, b->t_ns);
    assert_int_equal(a->uv, b->uv);
    assert_int_equal(a->ua, b->ua);
    assert_int_equal(a->n, b->n);
}

static void same_fit(const struct rail_fit *a, const struct rail_fit *b, bool means)
{
    assert_int_equal(a->count, b->count);
    assert_int_equal(a->least.uv, b->least.uv);
    assert_int_equal(a->most.uv, b->most.uv);
    if (means) {
        same_value(&a->least, &b->least);
        same_value(&a->most, &b->most);
    }
    for (unsigned k = 0; k < FIT_STEPS; k++) {
        same_value(&a->below[k], &b->below[k]);
        same_value(&a->above[k], &b->above[k]);
        same_value(&a->unsure[k], &b->unsure[k]);
    }
}

static void same_steady(const struct rail_steady *a, const struct rail_steady *b)
{
    same_fit(&a->values, &b->values, true);
    same_fit(&a->later, &b->later, true);
    same_fit(&a->ceiling, &b->ceiling, true);
    same_fit(&a->peaks, &b->peaks, false);
    same_fit(&a->peaks_later, &b->peaks_later, false);
    same_value(&a->first_static, &b->first_static);
    same_value(&a->reached, &b->reached);
    assert_int_equal(a->statics, b->statics);
    assert_int_equal(a->overloads, b->overloads);
    assert_true(a->sum_uv - b->sum_uv < 0.5 && b->sum_uv - a->sum_uv < 0.5);
    assert_int_equal(a->statics_ua, b->statics_ua);
    assert_int_equal(a->static_least_ua, b->static_least_ua);
    assert_int_equal(a->static_most_ua, b->static_most_ua);
    assert_int_equal(a->loaded, b->loaded);
    assert_int_equal(a->load.count, b->load.count);
    assert_int_equal(a->last_ns, b->last_ns);
    assert_int_equal(a->spacing_most_ns, b->spacing_most_ns);
    assert_int_equal(a->level.found, b->level.found);
    assert_int_equal(a->drop.found, b->drop.found);
}

enum { WAVES = 100 };

static void what_one_row_after_the_other_says_many_at_once_say(void **state)
{
    static const struct way one_by_one = { MS(3), 1 }, ways[] = { { MS(3), 3 }, { MS(3), 10 }, { MS(3), 33 }, { MS(3), 100 }, { MS(3), 200 } };

    for (uint32_t wave = 0; wave < WAVES; wave++) {
        struct rail_steady single = gather(state, &one_by_one, wave, wave > 0);

        for (unsigned k = 0; k < sizeof ways / sizeof ways[0]; k++) {
            struct rail_steady many = gather(state, &ways[k], wave, wave > 0);

            same_steady(&single, &many);
        }
    }
}

static void close_readings_say_the_same_in_short_and_in_long_records(void **state)
{
    static const struct way some = { US(200), 10 }, ways[] = { { US(200), 50 }, { US(200), 200 } };

    for (uint32_t wave = 0; wave < WAVES; wave++) {
        struct rail_steady few = gather(state, &some, wave, wave > 0);

        for (unsigned k = 0; k < sizeof ways / sizeof ways[0]; k++) {
            struct rail_steady many = gather(state, &ways[k], wave, wave > 0);

            same_steady(&few, &many);
        }
    }
}

/* 1.7 s less 50 ms after PS_RDY less what the last block lacks, 10 ms each; worked out by hand. */
static void a_contract_that_stands_still_has_one_static_value_for_each_10_ms(void **state)
{
    static const struct way ways[] = { { MS(1), 100 }, { MS(1), 200 }, { MS(5), 200 }, { US(200), 200 } };

    for (unsigned k = 0; k < sizeof ways / sizeof ways[0]; k++) {
        struct rail_steady s = gather(state, &ways[k], 0, false);

        assert_in_range(s.statics, 163, 165);
        assert_int_equal(s.values.count, s.statics);
        assert_in_range(s.load.count, 16, 17);
        assert_int_equal(s.values.least.uv, 9000000);
        assert_int_equal(s.values.most.uv, 9000000);
        assert_int_equal(s.static_least_ua, 1000000);
        assert_int_equal(s.static_most_ua, 1000000);
    }
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, lines_setup, lines_teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(what_one_row_after_the_other_says_many_at_once_say),
        TEST(close_readings_say_the_same_in_short_and_in_long_records),
        TEST(a_contract_that_stands_still_has_one_static_value_for_each_10_ms),
    };

    return cmocka_run_group_tests_name("many rows at once", tests, NULL, NULL);
}
