/*
 * What VBUS says of resets, for contracts of every kind of supply: just inside and just outside of each window. Typed from the
 * catalogue: a fixed, programmable or adjustable supply within 5 % of its voltage, a variable or battery supply from 5 % below its least
 * to 5 % above its largest voltage; after a Soft_Reset 0.5 V more on either side. And what has to lie in the 6 s (programmable: 16 s)
 * before a reset that has a reason.
 */
#include "tests/rules/bench_lines.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { KINDS = 5, PPS_KIND = 3 };

/* The second object on offer of the "Lumenbrick 65", and what is asked of it. low, high: the ends of its window in mV. */
struct kind { const char *name; uint32_t object, ask; int32_t mv, low_mv, high_mv; };

static void kinds_of(struct kind kinds[KINDS])
{
    const struct kind all[KINDS] = {
        { "fixed", word_fixed(9000, 3000), word_ask_fixed(2, 3000, 3000), 9000, 8550, 9450 },
        { "variable", word_variable(8000, 12000, 3000), word_ask_fixed(2, 3000, 3000), 10000, 7600, 12600 },
        { "battery", word_battery(8000, 12000, 27000), word_ask_battery(2, 27000, 27000), 10000, 7600, 12600 },
        { "programmable", word_pps(3300, 11000, 3000), word_ask_pps(2, 9000, 3000), 9000, 8550, 9450 },
        { "adjustable", word_spr_avs(3000, 0), word_ask_avs(2, 12000, 3000), 12000, 11400, 12600 },
    };

    memcpy(kinds, all, sizeof all);
}

static void power(struct lines *l, int32_t mv)
{
    lines_power(l, mv * 1000, 1000000);
    lines_wait(l, MS(5));
}

static void ask(struct lines *l, const struct kind *k)
{
    lines_request(l, k->ask);
    lines_accept_and_ready(l);
}

/* The same again: there is nothing to change, PS_RDY comes at once. */
static void ask_again(struct lines *l, const struct kind *k)
{
    lines_request(l, k->ask);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
}

/* A contract of that kind; readings are exact to a millivolt. */
static struct lines *contract(const struct kind *k)
{
    struct lines *l = lines_new();

    lines_about(l, 255, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0},"
                        "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}");
    lines_attach(l);
    lines_caps(l, 2, (const uint32_t[]){ word_fixed(5000, 3000), k->object });
    ask(l, k);
    for (unsigned n = 0; n < 10; n++)
        power(l, k->mv);
    return l;
}

/* reset.soft-reset-keeps-vbus, with VBUS there after the Soft_Reset. */
static void kept_at(const struct kind *k, int32_t mv, unsigned verdict)
{
    struct lines *l = contract(k);

    lines_control(l, SIDE_SINK, CONTROL_SOFT_RESET);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    for (unsigned n = 0; n < 4; n++)
        power(l, mv);
    lines_caps(l, 2, (const uint32_t[]){ word_fixed(5000, 3000), k->object });
    ask(l, k);
    lines_run(l, NULL);
    if (lines_result(l, "reset.soft-reset-keeps-vbus").verdict != verdict)
        fail_msg("%s supply at %d mV: %s", k->name, (int)mv, verdict_name(lines_result(l, "reset.soft-reset-keeps-vbus").verdict));
    lines_free(l);
}

static void a_soft_reset_leaves_every_kind_of_supply_within_its_window_and_half_a_volt(void **state)
{
    enum { MORE_MV = 500, NEAR_MV = 20 };
    struct kind kinds[KINDS];

    (void)state;
    kinds_of(kinds);
    for (unsigned k = 0; k < KINDS; k++) {
        kept_at(&kinds[k], kinds[k].low_mv - MORE_MV + NEAR_MV, VERDICT_PASS);
        kept_at(&kinds[k], kinds[k].low_mv - MORE_MV - NEAR_MV, VERDICT_FAIL);
        kept_at(&kinds[k], kinds[k].high_mv + MORE_MV - NEAR_MV, VERDICT_PASS);
        kept_at(&kinds[k], kinds[k].high_mv + MORE_MV + NEAR_MV, VERDICT_FAIL);
    }
}

/* reset.unexplained: VBUS there, or a mark, so long before a Hard Reset in a contract that is 20 s old. */
static void quiet_for_20_s(struct lines *l, const struct kind *k)
{
    for (unsigned n = 0; n < 4; n++) {
        lines_wait(l, MS(5000));
        if (k->object == word_pps(3300, 11000, 3000))
            ask_again(l, k); /* a programmable supply is asked again before 10 s have passed */
        power(l, k->mv);
    }
}

static void reset_and_all_that_follows(struct lines *l, const struct kind *k)
{
    power(l, k->mv);
    lines_reset(l, RECORD_HARD_RESET);
    lines_wait(l, MS(1000));
    lines_caps(l, 2, (const uint32_t[]){ word_fixed(5000, 3000), k->object });
    ask(l, k);
    lines_wait(l, MS(3000));
    lines_run(l, NULL);
}

static void explained_by(const struct kind *k, int32_t mv, bool explained)
{
    struct lines *l = contract(k);

    quiet_for_20_s(l, k);
    power(l, mv);
    power(l, k->mv);
    lines_wait(l, MS(3000));
    reset_and_all_that_follows(l, k);
    if (lines_result(l, "reset.unexplained").verdict != (explained ? VERDICT_PASS : VERDICT_FAIL))
        fail_msg("%s supply at %d mV: %s", k->name, (int)mv, verdict_name(lines_result(l, "reset.unexplained").verdict));
    lines_free(l);
}

static void vbus_outside_the_window_of_any_kind_of_supply_explains_a_reset(void **state)
{
    enum { NEAR_MV = 20 };
    struct kind kinds[KINDS];

    (void)state;
    kinds_of(kinds);
    for (unsigned k = 0; k < KINDS; k++) {
        explained_by(&kinds[k], kinds[k].low_mv + NEAR_MV, false);
        explained_by(&kinds[k], kinds[k].low_mv - NEAR_MV, true);
        explained_by(&kinds[k], kinds[k].high_mv - NEAR_MV, false);
        explained_by(&kinds[k], kinds[k].high_mv + NEAR_MV, true);
    }
}

/* A mark, three Requests, so that silence is no reason, and the Hard Reset. */
static void a_programmable_supply_has_16_s_for_its_reason(void **state)
{
    static const struct { int64_t wait_ns; bool explained; } cases[] = { { MS(900), true }, { MS(1000), false } };
    struct kind kinds[KINDS];

    (void)state;
    kinds_of(kinds);
    for (unsigned k = 0; k < 2; k++) {
        struct lines *l = contract(&kinds[PPS_KIND]);

        quiet_for_20_s(l, &kinds[PPS_KIND]);
        lines_mark(l, RECORD_NOTE, 0);
        for (unsigned n = 0; n < 3; n++) {
            lines_wait(l, MS(5000));
            ask_again(l, &kinds[PPS_KIND]);
        }
        lines_wait(l, cases[k].wait_ns); /* three exchanges take 10 ms each */
        reset_and_all_that_follows(l, &kinds[PPS_KIND]);
        expect_verdict(l, "reset.unexplained", cases[k].explained ? VERDICT_PASS : VERDICT_FAIL);
        lines_free(l);
    }
}

/* Section 6: what an exchange that failed left behind is not judged again as a reset without a reason. */

/* 16 s into the contract, 3 s before the reset. */
static void reset_3_s_after(void (*happens)(struct lines *l, const struct kind *k), const char *id)
{
    struct kind   kinds[KINDS];
    struct lines *l;

    kinds_of(kinds);
    l = contract(&kinds[0]);
    quiet_for_20_s(l, &kinds[0]);
    happens(l, &kinds[0]);
    lines_wait(l, MS(3000));
    reset_and_all_that_follows(l, &kinds[0]);
    if (id)
        expect_verdict(l, id, VERDICT_FAIL);
    expect_verdict(l, "reset.unexplained", id ? VERDICT_NOT_SEEN : VERDICT_FAIL);
    lines_free(l);
}

static void nothing_happens(struct lines *l, const struct kind *k)
{
    (void)l;
    (void)k;
}

/* Accepted, and no PS_RDY. */
static void no_ready_comes(struct lines *l, const struct kind *k)
{
    lines_request(l, k->ask);
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
}

static void a_failed_exchange_speaks_for_the_reset_that_follows(void **state)
{
    (void)state;
    reset_3_s_after(nothing_happens, NULL);
    reset_3_s_after(no_ready_comes, "exchange.ready-after-accept");
}

/* So does a source that stumbles over a Vendor_Defined message: one fault, be the reset soft. */
static void a_source_that_stumbles_over_a_vdm_speaks_for_its_reset(void **state)
{
    struct kind kinds[KINDS];

    (void)state;
    kinds_of(kinds);
    for (unsigned asked = 0; asked < 2; asked++) {
        struct lines *l = contract(&kinds[0]);

        quiet_for_20_s(l, &kinds[0]);
        if (asked)
            lines_data(l, SIDE_SINK, DATA_VENDOR_DEFINED, 1, (const uint32_t[]){ 0x12340000 });
        lines_wait(l, MS(300));
        lines_control(l, SIDE_SOURCE, CONTROL_SOFT_RESET);
        lines_control(l, SIDE_SINK, CONTROL_ACCEPT);
        lines_caps(l, 2, (const uint32_t[]){ word_fixed(5000, 3000), kinds[0].object });
        ask(l, &kinds[0]);
        lines_wait(l, MS(3000));
        lines_run(l, NULL);
        expect_verdict(l, "vdm.survives", asked ? VERDICT_FAIL : VERDICT_NOT_SEEN);
        expect_verdict(l, "reset.unexplained", asked ? VERDICT_NOT_SEEN : VERDICT_FAIL);
        lines_free(l);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_soft_reset_leaves_every_kind_of_supply_within_its_window_and_half_a_volt),
        cmocka_unit_test(vbus_outside_the_window_of_any_kind_of_supply_explains_a_reset),
        cmocka_unit_test(a_programmable_supply_has_16_s_for_its_reason),
        cmocka_unit_test(a_failed_exchange_speaks_for_the_reset_that_follows),
        cmocka_unit_test(a_source_that_stumbles_over_a_vdm_speaks_for_its_reset),
    };

    return cmocka_run_group_tests_name("rules reset volts", tests, NULL, NULL);
}
