/*
 * What the CC pins' voltages say. Expectations are typed from the windows of Rd and Ra (TI TPS65987DDK, TPS65988 and TPS25740B data sheets:
 * 0.15/0.2/0.25 V, 0.66 V, 1.23 V, 1.31 V; the rest of the windows from memory) and calculated from Rp, Rd and Ra.
 */
#include "tests/decode/testing.h"

#include "decode/cc_level.h"

#include <stdio.h>
#include <string.h>

static enum cc_pin_level fresh(int32_t mv)
{
    return cc_pin_level_of(mv, CC_PIN_UNKNOWN);
}

static void voltages_lie_in_the_windows_of_rd(void **state)
{
    static const struct { int32_t least, most; enum cc_pin_level level; } windows[] = {
        { -50, 24, CC_PIN_GROUND }, { 51, 150, CC_PIN_RA }, { 250, 610, CC_PIN_USB }, { 700, 1160, CC_PIN_1A5 }, { 1310, 2040, CC_PIN_3A0 },
        { 2600, 5500, CC_PIN_OPEN },
    };

    (void)state;
    for (unsigned k = 0; k < LENGTH(windows); k++) {
        for (int32_t mv = windows[k].least; mv <= windows[k].most; mv++) {
            for (enum cc_pin_level before = CC_PIN_UNKNOWN; before <= CC_PIN_OPEN; before++)
                assert_int_equal(cc_pin_level_of(mv, before), windows[k].level);
        }
    }
}

static void between_two_windows_a_pin_stays_what_it_was(void **state)
{
    (void)state;
    assert_int_equal(fresh(659), CC_PIN_USB);
    assert_int_equal(fresh(660), CC_PIN_1A5);
    assert_int_equal(fresh(1229), CC_PIN_1A5);
    assert_int_equal(fresh(1230), CC_PIN_3A0);
    assert_int_equal(fresh(199), CC_PIN_RA);
    assert_int_equal(fresh(200), CC_PIN_USB);
    for (int32_t mv = 611; mv < 700; mv++) {
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_USB), CC_PIN_USB);
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_1A5), CC_PIN_1A5);
    }
    for (int32_t mv = 1161; mv < 1310; mv++) {
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_1A5), CC_PIN_1A5);
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_3A0), CC_PIN_3A0);
    }
    for (int32_t mv = 2041; mv < 2600; mv++) {
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_3A0), CC_PIN_3A0);
        assert_int_equal(cc_pin_level_of(mv, CC_PIN_OPEN), CC_PIN_OPEN);
    }
    assert_int_equal(cc_pin_level_of(640, CC_PIN_OPEN), CC_PIN_USB); /* from afar the middle counts */
}

static void borders_are_in_order_and_have_a_source(void **state)
{
    (void)state;
    for (unsigned k = 0; k < cc_borders_count; k++) {
        const struct cc_border *b = &cc_borders[k];

        assert_true(b->least_mv <= b->border_mv && b->border_mv <= b->most_mv);
        assert_int_equal(b->above, b->under + 1);
        assert_true(k == 0 || (b->least_mv > b[-1].most_mv && b->under == b[-1].above));
        assert_true(b->source && b->source[0]);
    }
    assert_int_equal(cc_borders[cc_borders_count - 1].above, CC_PIN_OPEN);
}

struct pair { int32_t cc1_mv, cc2_mv; uint8_t attach, rp; const char *what; };

static void both_pins_tell_who_is_there(void **state)
{
    static const struct pair pairs[] = {
        { 3300, 3300, 0, 0, "open" },
        { 0, 0, 0, 0, "no pull-up" },
        { 408, 3300, 1, 1, "80 uA x 5.1 kohm" },
        { 3300, 408, 2, 1, "turned" },
        { 918, 3300, 1, 2, "180 uA x 5.1 kohm" },
        { 5000, 1683, 2, 3, "330 uA x 5.1 kohm, VCONN on the other" },
        { 408, 80, 1, 1, "and a cable of 1 kohm" },
        { 918, 180, 1, 2, "the same at 1.5 A" },
        { 918, 233, 1, 2, "the most that Ra makes at 1.5 A: 194.4 uA x 1.2 kohm" },
        { 428, 1683, 2, 3, "the most that Ra makes at 3 A: 356.4 uA x 1.2 kohm, amid the window of default USB" },
        { 1683, 0, 1, 3, "a sink's side: its other pin at ground" },
        { 408, 408, 3, 1, "a debug accessory: Rd on both" },
        { 1683, 1683, 3, 3, "the same at 3 A" },
        { 80, 80, 4, 0, "an audio accessory: Ra on both" },
        { 80, 3300, 0, 0, "a cable without a partner" },
        { 918, -1, 1, 2, "one pin measured" },
        { -1, 1683, 2, 3, "the other one" },
        { 3300, -1, 0, 0, "one pin measured, open" },
    };

    (void)state;
    for (unsigned k = 0; k < LENGTH(pairs); k++) {
        const struct pair      *p = &pairs[k];
        const enum cc_pin_level levels[2] = { p->cc1_mv < 0 ? CC_PIN_UNKNOWN : fresh(p->cc1_mv), p->cc2_mv < 0 ? CC_PIN_UNKNOWN : fresh(p->cc2_mv) };
        const uint16_t          mv[2] = { p->cc1_mv < 0 ? CC_PIN_MV_NONE : (uint16_t)p->cc1_mv, p->cc2_mv < 0 ? CC_PIN_MV_NONE : (uint16_t)p->cc2_mv };
        struct cc_state         s = cc_state_of(levels, mv);

        if (s.attach != p->attach || s.rp != p->rp)
            print_message("%s\n", p->what);
        assert_int_equal(s.attach, p->attach);
        assert_int_equal(s.rp, p->rp);
        assert_int_equal(s.cc1_mv, mv[0]);
        assert_int_equal(s.cc2_mv, mv[1]);
    }
}

struct told { int64_t at_ns; struct cc_state s; };
struct tale { struct told told[40]; unsigned count; };

static void take_change(void *context, int64_t at_ns, const struct cc_state *s)
{
    struct tale *t = context;

    assert_true(t->count < LENGTH(t->told));
    assert_true(t->count == 0 || at_ns >= t->told[t->count - 1].at_ns);
    t->told[t->count++] = (struct told){ at_ns, *s };
}

static const int64_t ms = 1000000;

static void assert_told(const struct told *t, int64_t at_ms, unsigned attach, unsigned rp)
{
    assert_int_equal(t->at_ns, at_ms * ms);
    assert_int_equal(t->s.attach, attach);
    assert_int_equal(t->s.rp, rp);
}

static void a_plug_rp_and_an_unplug_are_told_when_they_begin(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ true, true }, take_change, &t);
    cc_pins_level(&p, 0, 0, 100 * ms, 3300);
    cc_pins_level(&p, 0, 100 * ms, 200 * ms, 408);
    cc_pins_level(&p, 0, 200 * ms, 400 * ms, 1683);
    cc_pins_level(&p, 0, 400 * ms, 500 * ms, 3300);
    assert_int_equal(t.count, 0); /* the other pin is to come */
    assert_true(cc_pins_settled(&p) <= 0);
    cc_pins_level(&p, 1, 0, 450 * ms, 3300);
    assert_int_equal(t.count, 4);
    cc_pins_level(&p, 1, 450 * ms, 500 * ms, 3300);
    cc_pins_finish(&p);
    assert_int_equal(t.count, 4);
    assert_told(&t.told[0], 0, 0, 0);
    assert_told(&t.told[1], 100, 1, 1);
    assert_told(&t.told[2], 200, 1, 3);
    assert_told(&t.told[3], 400, 0, 0);
    assert_int_equal(t.told[1].s.cc1_mv, 408);
    assert_int_equal(t.told[1].s.cc2_mv, 3300);
    assert_true(cc_pins_settled(&p) == INT64_MAX);
}

/* The cable's Ra lies amid the window of default USB while CC1 is on its way: that is no partner on CC2. */
static void what_lasts_less_than_a_millisecond_is_not_told(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ true, true }, take_change, &t);
    cc_pins_level(&p, 0, 0, 10 * ms, 3300);
    cc_pins_level(&p, 1, 0, 9 * ms, 3300);
    cc_pins_level(&p, 1, 9 * ms + ms / 2, 20 * ms, 330);
    cc_pins_level(&p, 0, 10 * ms, 20 * ms, 1683);
    cc_pins_level(&p, 1, 20 * ms, 40 * ms, 5000); /* VCONN comes on */
    cc_pins_level(&p, 0, 20 * ms, 40 * ms, 1683);
    cc_pins_finish(&p);
    assert_int_equal(t.count, 3);
    assert_told(&t.told[1], 10, 1, 3);
    assert_told(&t.told[2], 20, 1, 3);
    assert_int_equal(t.told[2].s.cc2_mv, 5000);
}

static void a_port_that_looks_for_a_partner_is_told_once(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ true, true }, take_change, &t);
    for (int64_t k = 0; k < 100; k++) {
        cc_pins_level(&p, 0, k * 40 * ms, (k + 1) * 40 * ms, k % 2 ? 3300 : 0);
        cc_pins_level(&p, 1, k * 40 * ms, (k + 1) * 40 * ms, k % 2 ? 3300 : 0);
    }
    cc_pins_finish(&p);
    assert_int_equal(t.count, 1);
    assert_told(&t.told[0], 0, 0, 0);
}

static void a_pin_that_shows_no_level_is_waited_for_a_tenth_of_a_second(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ true, true }, take_change, &t);
    cc_pins_level(&p, 0, 0, 99 * ms, 918);
    cc_pins_reached(&p, 1, 99 * ms);
    assert_int_equal(t.count, 0);
    cc_pins_level(&p, 0, 99 * ms, 101 * ms, 918);
    cc_pins_reached(&p, 1, 101 * ms);
    assert_int_equal(t.count, 1);
    assert_told(&t.told[0], 0, 1, 2);
    assert_int_equal(t.told[0].s.cc2_mv, CC_PIN_MV_NONE);
}

static void one_pin_alone_is_told_without_waiting(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ false, true }, take_change, &t);
    cc_pins_level(&p, 1, 5 * ms, 7 * ms, 918);
    assert_int_equal(t.count, 1);
    assert_told(&t.told[0], 5, 2, 2);
    assert_int_equal(t.told[0].s.cc1_mv, CC_PIN_MV_NONE);
    cc_pins_level(&p, 1, 7 * ms, 8 * ms, 400000);
    cc_pins_level(&p, 1, 8 * ms, 10 * ms, -30);
    cc_pins_finish(&p);
    assert_int_equal(t.count, 2);
    assert_told(&t.told[1], 7, 0, 0);
}

static void a_recording_of_less_than_a_millisecond_has_its_state(void **state)
{
    struct cc_pins p;
    struct tale    t = { .count = 0 };

    (void)state;
    cc_pins_begin(&p, (const bool[2]){ true, false }, take_change, &t);
    cc_pins_level(&p, 0, 0, ms / 2, 1683);
    cc_pins_finish(&p);
    assert_int_equal(t.count, 1);
    assert_told(&t.told[0], 0, 1, 3);
}

/* Levels at random, one pin far ahead of the other: in order of time, one after the other different, memory as it is. */
static void anything_comes_out_in_order(void **state)
{
    uint64_t seed = 4;

    (void)state;
    for (unsigned round = 0; round < 200; round++) {
        struct cc_pins p;
        struct tale    t = { .count = 0 };
        int64_t        at[2] = { 0, 0 };

        cc_pins_begin(&p, (const bool[2]){ true, true }, take_change, &t);
        for (unsigned k = 0; k < 2000; k++) {
            unsigned pin = round % 3 == 0 ? k / 1000 : random_word(&seed) % 2;
            int64_t  next = at[pin] + 1 + random_word(&seed) % 700000;

            cc_pins_level(&p, pin, at[pin], next, (int32_t)(random_word(&seed) % 4000) - 200);
            at[pin] = next;
            assert_true(p.pin[0].count <= CC_CHANGES_MAX && p.pin[1].count <= CC_CHANGES_MAX);
            assert_true(t.count == 0 || cc_pins_settled(&p) >= t.told[t.count - 1].at_ns);
            t.count = t.count > 0 ? 1 : 0;
        }
        cc_pins_finish(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(voltages_lie_in_the_windows_of_rd),
        cmocka_unit_test(between_two_windows_a_pin_stays_what_it_was),
        cmocka_unit_test(borders_are_in_order_and_have_a_source),
        cmocka_unit_test(both_pins_tell_who_is_there),
        cmocka_unit_test(a_plug_rp_and_an_unplug_are_told_when_they_begin),
        cmocka_unit_test(what_lasts_less_than_a_millisecond_is_not_told),
        cmocka_unit_test(a_port_that_looks_for_a_partner_is_told_once),
        cmocka_unit_test(a_pin_that_shows_no_level_is_waited_for_a_tenth_of_a_second),
        cmocka_unit_test(one_pin_alone_is_told_without_waiting),
        cmocka_unit_test(a_recording_of_less_than_a_millisecond_has_its_state),
        cmocka_unit_test(anything_comes_out_in_order),
    };

    return cmocka_run_group_tests_name("cc_level", tests, NULL, NULL);
}
