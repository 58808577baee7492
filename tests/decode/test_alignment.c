/*
 * Readings of VBUS tied to what was said: invented lives in which the truth is known. A source moves VBUS somewhere between Accept and PS_RDY,
 * as fast as it likes; a meter with a clock of its own reads it now and then, with noise. What is found must allow the truth.
 */
#include "tests/decode/testing.h"

#include "decode/alignment.h"

#include <math.h>
#include <stdlib.h>

enum { STEPS_MOST = 400 };
#define MS(n) ((int64_t)(n) * 1000000)
#define S(n) ((int64_t)(n) * 1000000000)

/* A straight move of the true voltage, by the clock of the wire. */
struct step { int64_t begin_ns, end_ns; int32_t from_mv, to_mv; };

struct life {
    struct wire_move wire[STEPS_MOST];
    struct step      steps[STEPS_MOST];
    unsigned         wire_count, step_count;
    int64_t          end_ns;
    uint64_t         seed;
};

static uint32_t below(struct life *l, uint32_t n)
{
    return (uint32_t)((uint64_t)random_word(&l->seed) * n >> 32);
}

static void step_add(struct life *l, enum wire_move_why why, int64_t from_ns, int64_t to_ns, int64_t begin_ns, int64_t end_ns, int32_t from_mv, int32_t to_mv)
{
    assert_true(l->wire_count < STEPS_MOST);
    l->wire[l->wire_count++] = (struct wire_move){ .why = why, .port = 1, .from_ns = from_ns, .to_ns = to_ns, .from_mv = from_mv, .to_mv = to_mv };
    l->steps[l->step_count++] = (struct step){ begin_ns, end_ns, from_mv, to_mv };
}

/* Plugged in, some contracts, pulled; again and again. late_ns: how much too late the source moves VBUS, in every change of contract. */
static void life_make(struct life *l, uint64_t seed, unsigned plugs, unsigned changes, uint32_t pause_ms, int64_t late_ns)
{
    static const int32_t levels[] = { 5000, 9000, 15000, 20000 };
    int64_t              t = S(1000);

    *l = (struct life){ .seed = seed };
    for (unsigned p = 0; p < plugs; p++) {
        int32_t level = 5000;

        t += MS(3000 + below(l, pause_ms));
        step_add(l, WIRE_MOVE_ON, t, t + MS(400), t + MS(200), t + MS(210), 0, 5000);
        t += MS(400);
        for (unsigned c = 0; c < changes; c++) {
            int32_t to = levels[below(l, 4)];

            t += MS(1500 + below(l, pause_ms));
            if (to == level)
                to = level == 9000 ? 15000 : 9000;
            int64_t begin = t + MS(25 + below(l, 10)) + late_ns, end = begin + MS(5 + below(l, 80));

            step_add(l, WIRE_MOVE_CONTRACT, t, end + MS(5 + below(l, 60)) - late_ns, begin, end, level, to);
            level = to;
        }
        t += MS(1500 + below(l, pause_ms));
        step_add(l, WIRE_MOVE_OFF, t - MS(50), t + MS(1500), t + MS(5), t + MS(60), level, 0);
    }
    l->end_ns = t + S(3);
}

/* The truth at a time of the wire. */
static int32_t truth(const struct life *l, unsigned *at, int64_t t_ns)
{
    while (*at < l->step_count && l->steps[*at].end_ns <= t_ns)
        (*at)++;
    if (*at == l->step_count)
        return l->steps[l->step_count - 1].to_mv;
    const struct step *s = &l->steps[*at];

    if (t_ns <= s->begin_ns)
        return s->from_mv;
    return s->from_mv + (int32_t)((s->to_mv - s->from_mv) * (double)(t_ns - s->begin_ns) / (double)(s->end_ns - s->begin_ns));
}

struct meter { struct volt_move moves[STEPS_MOST]; unsigned count; int64_t from_ns, to_ns; };

/* Its clock: wire = own + shift + (own - first) x ppm. Readings each interval_ns, off by up to noise_mv. */
static void meter_read(struct life *l, struct meter *m, int64_t shift_ns, double ppm, int64_t interval_ns, uint32_t noise_mv)
{
    int64_t           first = S(997) - shift_ns, wire = 0;
    struct move_watch watch = move_watch_begin(150, 400);
    unsigned          at = 0;

    *m = (struct meter){ .from_ns = first };
    for (int64_t own = first; wire < l->end_ns; own += interval_ns) {
        struct volt_move v = { .port = 1 };

        wire = own + shift_ns + (int64_t)((double)(own - first) * ppm / 1e6);
        m->to_ns = own;
        if (move_watch_take(&watch, own, truth(l, &at, wire) + (int32_t)below(l, 2 * noise_mv + 1) - (int32_t)noise_mv, &v.move) && m->count < STEPS_MOST)
            m->moves[m->count++] = v;
    }
}

static struct align_result find(const struct life *l, const struct meter *m)
{
    const struct alignment a = {
        .wire = l->wire, .wire_count = l->wire_count, .volts = m->moves, .volt_count = m->count, .wire_from_ns = S(999), .wire_to_ns = l->end_ns,
        .volt_from_ns = m->from_ns, .volt_to_ns = m->to_ns,
    };

    return align_best(&a);
}

/* Found, and everywhere within what it is said to be worth (evenly spread: no farther than sqrt 3 of the standard uncertainty). */
static void expect_found(const struct align_result *r, const struct meter *m, int64_t shift_ns, double ppm, unsigned ties)
{
    double span = (double)(m->to_ns - m->from_ns);

    if (r->end != ALIGN_DONE)
        fail_msg("not found: end %u, ties %u of %u, other %u", r->end, r->ties, r->expected, r->other_ties);
    if (r->ties < ties)
        fail_msg("%u of %u tied, %u looked for", r->ties, r->expected, ties);
    for (unsigned k = 0; k < 3; k++) {
        double x = span * k / 2, off = (double)(r->shift_ns - shift_ns) + (r->rate_ppm - ppm) / 1e6 * x;

        if (fabs(off) > r->shift_u_ns * sqrt(3) + 1e5)
            fail_msg("off by %.3f ms, said to be worth %.3f ms; rate %.2f of %.2f ppm", off / 1e6, r->shift_u_ns / 1e6, r->rate_ppm, ppm);
    }
}

static void a_shift_is_found_at_any_sampling(void **state)
{
    (void)state;
    static const int64_t intervals[] = { MS(100), MS(50), MS(20), MS(5), MS(1) };
    static struct life   l;
    static struct meter  m;

    for (uint64_t seed = 1; seed <= 30; seed++) {
        for (size_t k = 0; k < LENGTH(intervals); k++) {
            int64_t shift = S(17) * (int64_t)seed - S(200) + MS(seed * 37 % 1000);

            life_make(&l, seed * 7919 + k, 1, 6, 4000, 0);
            meter_read(&l, &m, shift, 0, intervals[k], 20);
            struct align_result r = find(&l, &m);

            expect_found(&r, &m, shift, 0, 6);
            assert_true(r.shift_u_ns < 60e6 + (double)intervals[k]);
        }
    }
}

static void a_clock_that_runs_fast_or_slow_is_found_in_a_long_recording(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    for (uint64_t seed = 1; seed <= 12; seed++) {
        double ppm = (double)(int64_t)(seed * 61 % 700) - 350;

        life_make(&l, seed, 8, 6, 60000, 0); /* about half an hour */
        meter_read(&l, &m, -S(3600), ppm, MS(20), 30);
        struct align_result r = find(&l, &m);

        expect_found(&r, &m, -S(3600), ppm, 40);
        assert_true(r.rate_told);
        assert_true(fabs(r.rate_ppm - ppm) <= r.rate_u_ppm * sqrt(3) * 1.01);
        assert_true(r.rate_u_ppm < 50);
    }
}

static void a_day_is_tied_from_one_end_to_the_other(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    life_make(&l, 5, 20, 10, 600000, 0);
    assert_true(l.end_ns > S(40000));
    meter_read(&l, &m, S(86400), 43, MS(100), 30);
    struct align_result r = find(&l, &m);

    expect_found(&r, &m, S(86400), 43, 200);
    assert_true(r.rate_u_ppm < 2);
}

static void two_recordings_of_different_lives_are_not_tied(void **state)
{
    (void)state;
    static struct life  l, other;
    static struct meter m;
    unsigned            refused = 0;

    for (uint64_t seed = 1; seed <= 40; seed++) {
        life_make(&l, seed, 2, 5, 4000, 0);
        life_make(&other, seed + 1000, 2, 5, 4000, 0);
        meter_read(&other, &m, S(10), 0, MS(10), 20);
        refused += find(&l, &m).end != ALIGN_DONE;
    }
    assert_int_equal(refused, 40);
}

/* Every ten seconds the same: shifted by ten seconds it looks nearly alike. */
static void what_repeats_itself_is_ambiguous(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    l = (struct life){ .seed = 1 };
    for (int64_t k = 0; k < 8; k++)
        step_add(&l, WIRE_MOVE_CONTRACT, S(1010 + 10 * k), S(1010 + 10 * k) + MS(100), S(1010 + 10 * k) + MS(30), S(1010 + 10 * k) + MS(60),
                 k % 2 ? 9000 : 5000, k % 2 ? 5000 : 9000);
    l.end_ns = S(1085);
    meter_read(&l, &m, S(4), 0, MS(10), 20);
    /* The meter was switched on late and off early: either end may be the missing one. */
    struct meter part = { .count = m.count - 4, .from_ns = m.moves[2].move.begin_ns - S(5), .to_ns = m.moves[m.count - 3].move.end_ns + S(5) };

    for (unsigned k = 0; k < part.count; k++)
        part.moves[k] = m.moves[k + 2];
    struct align_result r = find(&l, &part);

    assert_int_equal(r.end, ALIGN_AMBIGUOUS);
    assert_int_equal(r.other_ties, 4);
}

static void fewer_than_three_moves_are_too_few(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    life_make(&l, 1, 1, 0, 4000, 0); /* on and off */
    meter_read(&l, &m, S(4), 0, MS(10), 20);
    struct align_result r = find(&l, &m);

    assert_int_equal(r.end, ALIGN_FEW);
}

static void a_change_that_went_wrong_is_left_out(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    for (uint64_t seed = 1; seed <= 20; seed++) {
        life_make(&l, seed, 1, 8, 4000, 0);
        l.steps[4].begin_ns += MS(700); /* far behind its PS_RDY */
        l.steps[4].end_ns += MS(700);
        meter_read(&l, &m, S(4), 0, MS(5), 20);
        struct align_result r = find(&l, &m);

        expect_found(&r, &m, S(4), 0, 8);
        assert_int_equal(r.ties, 9);
        assert_int_equal(r.expected, 10);
    }
}

/* What the supply does between Accept and PS_RDY says how well the tie can be known: 25 ms before, 40 ms behind the move. */
static void what_is_left_open_is_what_the_tie_is_worth(void **state)
{
    (void)state;
    static struct life  l;
    static struct meter m;

    l = (struct life){ .seed = 1 };
    for (int64_t k = 0; k < 5; k++)
        step_add(&l, WIRE_MOVE_CONTRACT, S(1000 + 7 * k * k), S(1000 + 7 * k * k) + MS(125), S(1000 + 7 * k * k) + MS(25), S(1000 + 7 * k * k) + MS(85),
                 k % 2 ? 9000 : 5000, k % 2 ? 5000 : 9000);
    l.end_ns = S(1130);
    meter_read(&l, &m, S(4), 0, MS(1), 0);
    struct align_result r = find(&l, &m);

    assert_int_equal(r.end, ALIGN_DONE);
    assert_int_equal(r.ties, 5);
    /* Allowed shifts: from 25 ms and a little (band, rate) early to 40 ms late; the rate is free within 200 ppm of 120 s. */
    assert_true(r.shift_u_ns > 65e6 / sqrt(12) && r.shift_u_ns < 105e6 / sqrt(12));
    assert_true(r.rms_ns < 5e6);
}

static void one_window_alone_ties_to_its_middle(void **state)
{
    (void)state;
    const struct move   m = { .begin_ns = MS(1000), .end_ns = MS(1010), .from = 0, .to = 5000 };
    struct align_result r = align_one(MS(5000), MS(5250), &m);

    assert_int_equal(r.shift_ns, (MS(4000) + MS(4240)) / 2);
    assert_true(fabs(r.shift_u_ns - 240e6 / sqrt(12)) < 1);
}

/* decode/moves.h */
static void a_step_between_two_readings_lies_between_them(void **state)
{
    (void)state;
    struct move_watch w = move_watch_begin(150, 400);
    struct move       m;

    assert_false(move_watch_take(&w, MS(0), 5010, &m));
    assert_false(move_watch_take(&w, MS(100), 4990, &m));
    assert_false(move_watch_take(&w, MS(200), 9010, &m));
    assert_true(move_watch_take(&w, MS(300), 9000, &m));
    assert_int_equal(m.begin_ns, MS(200));
    assert_int_equal(m.end_ns, MS(100));
    assert_in_range(m.from, 4980, 5020);
    assert_int_equal(m.to, 9005);
}

static void a_slow_move_is_one_move(void **state)
{
    (void)state;
    struct move_watch w = move_watch_begin(150, 400);
    struct move       m;
    unsigned          moves = 0;

    for (int64_t t = 0; t <= 1000; t++) { /* from 100 to 300 ms, 20 mV a ms */
        int32_t mv = t < 100 ? 5000 : t < 300 ? 5000 + (int32_t)(t - 100) * 20 : 9000;

        if (move_watch_take(&w, MS(t), mv, &m)) {
            moves++;
            assert_in_range(m.begin_ns, MS(100), MS(112));
            assert_in_range(m.end_ns, MS(280), MS(300));
        }
    }
    assert_int_equal(moves, 1);
}

/* As a logger has it that writes down what changes: straight up in 0.5 ms steps, then nothing for seconds. */
static void a_level_of_which_nothing_is_written_down_is_steady(void **state)
{
    (void)state;
    struct move_watch w = move_watch_begin(150, 400);
    struct move       m, found = { 0 };
    unsigned          moves = 0;

    for (int64_t k = 0; k <= 20; k++)
        moves += move_watch_take(&w, MS(100) + k * 500000, (int32_t)k * 250, &m) ? 1 : 0;
    assert_int_equal(moves, 0);
    for (int64_t k = 1; k <= 8; k++)
        if (move_watch_take(&w, S(4) + k * 500000, 5000 + (int32_t)k * 500, &m)) {
            found = m;
            moves++;
        }
    assert_int_equal(moves, 1);
    assert_int_equal(found.to, 5000);
    assert_in_range(found.end_ns, MS(109), MS(110));
    assert_true(move_watch_take(&w, S(8), 0, &m));
    assert_int_equal(m.from, 5000);
    assert_int_equal(m.to, 9000);
    assert_in_range(m.begin_ns, S(4), S(4) + MS(1));
}

static void drift_and_noise_are_no_moves(void **state)
{
    (void)state;
    struct move_watch w = move_watch_begin(150, 400);
    struct move       m;
    uint64_t          seed = 1;

    for (int64_t t = 0; t < 5000; t++)
        assert_false(move_watch_take(&w, MS(t), 20000 - (int32_t)t / 5 + (int32_t)(random_word(&seed) % 200), &m));
    assert_false(move_watch_take(&w, MS(5000), 26000, &m)); /* one reading that is wrong */
    assert_false(move_watch_take(&w, MS(5001), 19000, &m));
    assert_false(move_watch_take(&w, MS(5100), 19000, &m));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_shift_is_found_at_any_sampling),
        cmocka_unit_test(a_clock_that_runs_fast_or_slow_is_found_in_a_long_recording),
        cmocka_unit_test(a_day_is_tied_from_one_end_to_the_other),
        cmocka_unit_test(two_recordings_of_different_lives_are_not_tied),
        cmocka_unit_test(what_repeats_itself_is_ambiguous),
        cmocka_unit_test(fewer_than_three_moves_are_too_few),
        cmocka_unit_test(a_change_that_went_wrong_is_left_out),
        cmocka_unit_test(what_is_left_open_is_what_the_tie_is_worth),
        cmocka_unit_test(one_window_alone_ties_to_its_middle),
        cmocka_unit_test(a_step_between_two_readings_lies_between_them),
        cmocka_unit_test(a_slow_move_is_one_move),
        cmocka_unit_test(a_level_of_which_nothing_is_written_down_is_steady),
        cmocka_unit_test(drift_and_noise_are_no_moves),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
