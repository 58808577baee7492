/* What has to come through whole: thousands of packets a point, by the tests' own encoder. benchmark_sweep prints more of it. */
#include "tests/decode/bmc_trial.h"
#include "tests/decode/testing.h"

#include <stdlib.h>

/* The release build plays thousands of packets a point; under sanitizers each takes much longer. */
#if defined(__SANITIZE_ADDRESS__)
enum { PACKETS = 1000 };
#else
enum { PACKETS = 4000 };
#endif

static void all_come_through(struct trial t)
{
    struct trial_result r;

    t.packets = PACKETS;
    for (t.seed = 1; t.seed <= 2; t.seed++) {
        r = trial_run(&t);
        if (r.right != r.sent || r.broken || r.wrong)
            print_error("at %g MS/s, %g kbit/s: %u sent, %u right, %u broken, %u wrong\n", t.sample_hz / 1e6, t.bit_hz / 1e3, r.sent,
                        r.right, r.broken, r.wrong);
        assert_int_equal(r.sent, PACKETS);
        assert_int_equal(r.right, r.sent);
        assert_int_equal(r.broken + r.wrong, 0);
    }
}

static void at_6_mega_and_5_percent_of_jitter_all_packets_come_through_at_270_300_and_330_kilobit(void **state)
{
    (void)state;
    all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = 270e3, .jitter_percent = 5 });
    all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = 300e3, .jitter_percent = 5 });
    all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = 330e3, .jitter_percent = 5 });
}

static void four_samples_a_bit_are_enough_for_all_packets_of_a_line_without_jitter(void **state)
{
    (void)state;
    all_come_through((struct trial){ .sample_hz = 1.2e6, .bit_hz = 300e3 });
    all_come_through((struct trial){ .sample_hz = 1.08e6, .bit_hz = 270e3 });
    all_come_through((struct trial){ .sample_hz = 1.32e6, .bit_hz = 330e3 });
    all_come_through((struct trial){ .sample_hz = 1.2e6, .bit_hz = 270e3 });
}

static void where_readings_slip_against_the_bits_by_a_tick_now_and_then_nothing_is_lost(void **state)
{
    static const double ticks_a_cell[] = { 3.99, 4.003, 4.01, 4.02, 4.03, 4.06, 4.1, 4.25 };

    (void)state;
    for (size_t k = 0; k < LENGTH(ticks_a_cell); k++)
        all_come_through((struct trial){ .sample_hz = 1.2e6, .bit_hz = 1.2e6 / ticks_a_cell[k] });
}

static void illegal_rates_from_150_to_600_kilobit_come_through_at_6_mega(void **state)
{
    (void)state;
    for (double k = 150; k <= 600; k += 75)
        all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = k * 1e3, .jitter_percent = 2 });
}

static void rising_changes_a_third_of_half_a_cell_later_than_falling_ones_lose_nothing(void **state)
{
    (void)state;
    all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = 300e3, .skew_percent = 33, .jitter_percent = 3 });
    all_come_through((struct trial){ .sample_hz = 2.4e6, .bit_hz = 300e3, .skew_percent = 33 });
}

static void a_glitch_for_every_hundred_changes_loses_nothing(void **state)
{
    (void)state;
    all_come_through((struct trial){ .sample_hz = 24e6, .bit_hz = 300e3, .glitch_percent = 1, .glitch_ns = 240, .jitter_percent = 2 });
    all_come_through((struct trial){ .sample_hz = 6e6, .bit_hz = 300e3, .glitch_percent = 1, .glitch_ns = 240, .jitter_percent = 2 });
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(at_6_mega_and_5_percent_of_jitter_all_packets_come_through_at_270_300_and_330_kilobit),
        cmocka_unit_test(four_samples_a_bit_are_enough_for_all_packets_of_a_line_without_jitter),
        cmocka_unit_test(where_readings_slip_against_the_bits_by_a_tick_now_and_then_nothing_is_lost),
        cmocka_unit_test(illegal_rates_from_150_to_600_kilobit_come_through_at_6_mega),
        cmocka_unit_test(rising_changes_a_third_of_half_a_cell_later_than_falling_ones_lose_nothing),
        cmocka_unit_test(a_glitch_for_every_hundred_changes_loses_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
