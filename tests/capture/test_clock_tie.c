/* The tie of an instrument's clock to the host's, on clocks whose truth is known: answers with jitter, bursts, held up one way. */
#include "tests/capture/made.h"

#include "capture/clock_tie.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { SECONDS = 3600 };
static const int64_t begin_ns = INT64_C(1767261600000000000), ms = 1000000;

/* Numbers that look drawn, the same each time: xorshift64 (G. Marsaglia, Journal of Statistical Software 8(14), 2003). */
static uint64_t draw(uint64_t *s)
{
    *s ^= *s << 13;
    *s ^= *s >> 7;
    *s ^= *s << 17;
    return *s;
}

static int64_t between(uint64_t *s, int64_t least, int64_t most)
{
    return least + (int64_t)(draw(s) % (uint64_t)(most - least + 1));
}

/* What the instrument's clock says: ppm off, and 3 ppm more or less as it warms over 20 minutes. */
static int64_t device_at(int64_t host_ns, double ppm)
{
    double s = (double)(host_ns - begin_ns) * 1e-9;

    return (int64_t)((s * (1 + ppm * 1e-6) + 3e-6 * 600 * (1 - exp(-s / 600))) * 1e9);
}

/* One way of an answer: 0.05 to 2.5 ms; in a burst (half a minute of each five) always at the long end, and longer one way. */
static int64_t one_way(uint64_t *s, unsigned second, bool back)
{
    if (second % 300 >= 270)
        return between(s, back ? 2 * ms : ms / 2, back ? 4 * ms : ms);
    return between(s, ms / 20, 5 * ms / 2);
}

static void ask(struct clock_tie *c, uint64_t *s, unsigned second, int64_t host_ns, double ppm)
{
    int64_t there = one_way(s, second, false), back = one_way(s, second, true);

    clock_tie_answer(c, device_at(host_ns + there, ppm), host_ns, host_ns + there + back);
}

static int64_t worst_of_an_hour(double ppm, uint64_t seed, struct clock_tie_result *r)
{
    struct clock_tie c;
    int64_t          worst = 0, last = INT64_MIN;
    uint64_t         s = seed;

    clock_tie_start(&c);
    assert_false(clock_tie_tied(&c));
    for (unsigned k = 0; k < 32; k++)
        ask(&c, &s, 0, begin_ns + k * 5 * ms, ppm);
    clock_tie_go(&c);
    for (unsigned second = 1; second <= SECONDS; second++) {
        for (unsigned k = 0; k < 10; k++) {
            int64_t host = begin_ns + ((int64_t)second * 1000 + k * 100) * ms, said = clock_tie_host_ns(&c, device_at(host, ppm));

            assert_true(said > last); /* it never goes back */
            last = said;
            worst = llabs(said - host) > worst ? llabs(said - host) : worst;
        }
        ask(&c, &s, second, begin_ns + (int64_t)second * 1000 * ms + 950 * ms, ppm);
    }
    *r = clock_tie_result(&c);
    return worst;
}

/* The demand: an hour of answers with 0.1 to 5 ms of jitter and bursts, times right to within 1 ms. */
static void an_hour_of_answers_is_right_to_a_millisecond(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct clock_tie_result r;
        double                  ppm = seed % 2 ? 100 : -80;
        int64_t                 worst = worst_of_an_hour(ppm, seed * 7919, &r);
        double                  drifted = ppm + 3e-6 * 600 / SECONDS * 1e6 * (1 - exp(-SECONDS / 600.0));

        printf("clock %+.0f ppm, seed %2u: at most %.3f ms off in an hour; drift %.3f ppm (+- %.3f), offset +- %.3f ms\n", ppm,
               (unsigned)seed, (double)worst / 1e6, r.ppm, r.ppm_u, (double)r.offset_ns_u / 1e6);
        assert_true(worst < ms);
        assert_true(fabs(r.ppm - drifted) < 4 * r.ppm_u + 0.01);
        assert_true(r.ppm_u < 1);
        assert_true(r.offset_ns_u < ms);
    }
}

static void two_clocks_apart_by_100_ppm_agree(void **state)
{
    (void)state;
    struct clock_tie a, b;
    uint64_t         s = 42;

    clock_tie_start(&a);
    clock_tie_start(&b);
    for (unsigned k = 0; k < 32; k++) {
        ask(&a, &s, 0, begin_ns + k * 5 * ms, 50);
        ask(&b, &s, 0, begin_ns + k * 5 * ms + 2 * ms, -50);
    }
    clock_tie_go(&a);
    clock_tie_go(&b);
    for (unsigned second = 1; second <= 60; second++) {
        int64_t host = begin_ns + second * 1000 * ms;

        assert_true(llabs(clock_tie_host_ns(&a, device_at(host, 50)) - clock_tie_host_ns(&b, device_at(host, -50))) < ms);
        ask(&a, &s, second, host + 100 * ms, 50);
        ask(&b, &s, second, host + 200 * ms, -50);
    }
}

/* Answers that are exact leave nothing to guess: the line is the truth. */
static void exact_answers_give_the_exact_time(void **state)
{
    (void)state;
    struct clock_tie c;

    clock_tie_start(&c);
    for (int64_t k = 0; k < 40; k++)
        clock_tie_answer(&c, k * 1000 * ms, begin_ns + k * 1000100000, begin_ns + k * 1000100000);
    /* host runs 100 us a second faster: the instrument is 100 ppm slow */
    assert_true(llabs(clock_tie_host_ns(&c, 39500 * ms) - (begin_ns + INT64_C(39503950000))) <= 2);
    assert_true(fabs(clock_tie_result(&c).ppm + 99.99) < 0.001);
}

static void one_that_answers_nothing_is_tied_by_its_earliest_arrivals(void **state)
{
    (void)state;
    struct clock_tie c;
    uint64_t         s = 99;
    int64_t          worst = 0;

    clock_tie_start(&c);
    for (int64_t k = 0; k < 60000; k++) {
        int64_t host = begin_ns + k * 10 * ms;

        clock_tie_arrival(&c, device_at(host, 30), host + between(&s, ms / 10, 8 * ms));
        if (k == 20)
            clock_tie_go(&c);
        if (k > 6000) { /* after a minute: late by the shortest delay, and what the window has not seen yet */
            int64_t off = clock_tie_host_ns(&c, device_at(host, 30)) - host;

            worst = llabs(off) > worst ? llabs(off) : worst;
        }
    }
    assert_true(worst < ms);
    assert_true(c.by_arrivals);
}

static void answers_out_of_order_and_backwards_in_time_are_left_out(void **state)
{
    (void)state;
    struct clock_tie c;

    clock_tie_start(&c);
    clock_tie_answer(&c, 1000 * ms, begin_ns, begin_ns + ms);
    clock_tie_answer(&c, 1000 * ms, begin_ns + 100 * ms, begin_ns + 99 * ms);
    clock_tie_answer(&c, 900 * ms, begin_ns + 100 * ms, begin_ns + 100 * ms);
    assert_int_equal(c.count, 1);
    assert_true(clock_tie_host_ns(&c, 1000 * ms) == begin_ns + ms / 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_hour_of_answers_is_right_to_a_millisecond),
        cmocka_unit_test(two_clocks_apart_by_100_ppm_agree),
        cmocka_unit_test(exact_answers_give_the_exact_time),
        cmocka_unit_test(one_that_answers_nothing_is_tied_by_its_earliest_arrivals),
        cmocka_unit_test(answers_out_of_order_and_backwards_in_time_are_left_out),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
