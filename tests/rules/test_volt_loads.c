/*
 * volt.drop-under-load, volt.sink-over-contract, volt.reverse-current: passed, failed, undecided, not seen, and just inside and outside
 * of each limit. Limits typed from the catalogue: 5 ms below the wide window with 10 to 100 % of the contract's current; 50 mA above the
 * contract; -50 mA, -200 mA where the offset is not known.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = SUPPLY_KINDS };
static uint32_t caps[OBJECTS];

/* An attach, and a contract for 9 V and 3 A with no load; VBUS stands at 9 V. */
static void nine_volts(struct played_supply *s, void **state, const char *about)
{
    supply_attach(s, *state, about);
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
}

/* volt.drop-under-load: at ma VBUS is at mv for ns. */
static void drops(void **state, double ma, double mv, int64_t ns, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(100));
    supply_load(&s, ma);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, mv, ma);
    supply_hold(&s, ns);
    wave_step(&s.w, s.l->now_ns, 9000, ma);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.drop-under-load", verdict);
    if (verdict == VERDICT_FAIL)
        expect_only(s.l, "volt.", "volt.drop-under-load");
}

static void vbus_that_holds_under_load_passes(void **state)
{
    drops(state, 2900, 8800, MS(50), VERDICT_PASS);
}

static void a_drop_of_4_ms_passes(void **state)
{
    drops(state, 2900, 8000, MS(4), VERDICT_PASS);
}

static void a_drop_of_20_ms_under_load_fails_and_speaks_for_the_windows(void **state)
{
    drops(state, 2900, 8000, MS(20), VERDICT_FAIL);
}

static void without_a_load_worth_the_name_there_is_no_drop_under_load(void **state)
{
    drops(state, 250, 8800, MS(20), VERDICT_NOT_SEEN);
}

static void a_load_above_the_contract_is_no_load_agreed_on(void **state)
{
    drops(state, 3100, 8000, MS(20), VERDICT_NOT_SEEN);
}

/* volt.sink-over-contract: 100 ms means. */
/* The load goes first, and VBUS after it. */
static void where_the_load_went_first_a_drop_is_undecided(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(100));
    supply_load(&s, 2000);
    supply_hold(&s, MS(300));
    supply_load(&s, 0);
    supply_hold(&s, MS(5));
    wave_step(&s.w, s.l->now_ns, 7000, 0);
    supply_hold(&s, MS(20));
    wave_step(&s.w, s.l->now_ns, 9000, 0);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.drop-under-load", VERDICT_UNDECIDED);
}

/* 27 W at 8 V are 3.375 A: a tenth of it is a load, and the whole of it. */
static void battery_drops(void **state, double ma, unsigned verdict)
{
    struct played_supply s;

    supply_attach(&s, *state, NULL);
    supply_contract(&s, OBJECTS, caps, word_ask_battery(4, 27000, 27000), 8000);
    supply_hold(&s, MS(100));
    supply_load(&s, ma);
    supply_hold(&s, MS(300));
    wave_step(&s.w, s.l->now_ns, 3000, ma);
    supply_hold(&s, MS(20));
    wave_step(&s.w, s.l->now_ns, 8000, ma);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.drop-under-load", verdict);
}

static void a_battery_object_is_loaded_by_its_power(void **state)
{
    static const struct { double ma; unsigned verdict; } cases[] = {
        { 330, VERDICT_NOT_SEEN }, { 345, VERDICT_FAIL }, { 3360, VERDICT_FAIL }, { 3390, VERDICT_NOT_SEEN },
    };

    for (unsigned k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        battery_drops(state, cases[k].ma, cases[k].verdict);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void takes(void **state, double ma, int64_t ns, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    supply_hold(&s, MS(60));
    supply_load(&s, ma);
    supply_hold(&s, ns);
    supply_load(&s, 1000);
    supply_hold(&s, MS(300));
    supply_end(&s);
    expect_verdict(s.l, "volt.sink-over-contract", verdict);
    if (verdict == VERDICT_FAIL)
        assert_int_equal(lines_finding(s.l, "volt.sink-over-contract", verdict, 0)->whom, WHO_SINK);
}

/* 2.9 A where 1 A is asked for, and 3 A as the most; with GiveBack (bit 27) the other number is the least. */
static void the_most_that_a_request_names_may_be_taken(void **state)
{
    for (unsigned give_back = 0; give_back < 2; give_back++) {
        struct played_supply s;

        supply_attach(&s, *state, NULL);
        supply_contract(&s, OBJECTS, caps, word_ask_fixed(2, 1000, give_back ? 500 : 3000) | give_back << 27, 9000);
        supply_hold(&s, MS(60));
        supply_load(&s, 2900);
        supply_hold(&s, MS(500));
        supply_end(&s);
        expect_verdict(s.l, "volt.sink-over-contract", give_back ? VERDICT_FAIL : VERDICT_PASS);
        lines_teardown(state);
        lines_setup(state);
    }
}

static void up_to_50_ma_above_the_contract_pass(void **state)
{
    takes(state, 3047, MS(300), VERDICT_PASS);
}

static void more_than_50_ma_above_the_contract_fail(void **state)
{
    takes(state, 3053, MS(300), VERDICT_FAIL);
}

static void at_50_ma_above_the_contract_nothing_is_decided(void **state)
{
    takes(state, 3050, MS(300), VERDICT_UNDECIDED);
}

static void a_peak_of_20_ms_is_within_the_mean(void **state)
{
    takes(state, 4000, MS(20), VERDICT_PASS);
}

static void where_no_current_was_read_nothing_is_said_of_it(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, NULL);
    s.ibus_missing = true;
    supply_hold(&s, MS(600));
    supply_end(&s);
    expect_verdict(s.l, "volt.sink-over-contract", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.reverse-current", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.drop-under-load", VERDICT_NOT_SEEN);
    expect_verdict(s.l, "volt.contract-window", VERDICT_PASS);
}

/* volt.reverse-current */
static void flows_back(void **state, const char *about, double ma, unsigned verdict)
{
    struct played_supply s;

    nine_volts(&s, state, about);
    supply_hold(&s, MS(60));
    supply_load(&s, ma);
    supply_hold(&s, MS(500));
    supply_end(&s);
    expect_verdict(s.l, "volt.reverse-current", verdict);
}

static void down_to_minus_50_ma_pass(void **state)
{
    flows_back(state, NULL, -47, VERDICT_PASS);
}

static void below_minus_50_ma_fail(void **state)
{
    flows_back(state, NULL, -53, VERDICT_FAIL);
}

#define OFFSET_UNKNOWN "{\"instrument\":{\"amp\":{\"gain_ppm\":1000,\"noise_ua\":100}}}"
static void where_the_offset_is_not_known_a_small_current_is_undecided(void **state)
{
    flows_back(state, OFFSET_UNKNOWN, -150, VERDICT_UNDECIDED);
    lines_teardown(state);
    lines_setup(state);
    flows_back(state, OFFSET_UNKNOWN, -250, VERDICT_FAIL);
}

/* A small current first does not hide the large one after it. */
static void where_the_offset_is_not_known_a_large_current_fails_after_a_small_one(void **state)
{
    struct played_supply s;

    nine_volts(&s, state, OFFSET_UNKNOWN);
    supply_hold(&s, MS(60));
    supply_load(&s, -150);
    supply_hold(&s, MS(300));
    supply_load(&s, -400);
    supply_hold(&s, MS(400));
    supply_end(&s);
    expect_verdict(s.l, "volt.reverse-current", VERDICT_FAIL);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(vbus_that_holds_under_load_passes),
        TEST(a_drop_of_4_ms_passes),
        TEST(a_drop_of_20_ms_under_load_fails_and_speaks_for_the_windows),
        TEST(without_a_load_worth_the_name_there_is_no_drop_under_load),
        TEST(a_load_above_the_contract_is_no_load_agreed_on),
        TEST(where_the_load_went_first_a_drop_is_undecided),
        TEST(a_battery_object_is_loaded_by_its_power),
        TEST(the_most_that_a_request_names_may_be_taken),
        TEST(up_to_50_ma_above_the_contract_pass),
        TEST(more_than_50_ma_above_the_contract_fail),
        TEST(at_50_ma_above_the_contract_nothing_is_decided),
        TEST(a_peak_of_20_ms_is_within_the_mean),
        TEST(where_no_current_was_read_nothing_is_said_of_it),
        TEST(down_to_minus_50_ma_pass),
        TEST(below_minus_50_ma_fail),
        TEST(where_the_offset_is_not_known_a_small_current_is_undecided),
        TEST(where_the_offset_is_not_known_a_large_current_fails_after_a_small_one),
    };

    supply_kinds(caps);
    return cmocka_run_group_tests_name("VBUS under load, and the load", tests, NULL, NULL);
}
