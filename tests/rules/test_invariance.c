/*
 * What a recording says must not hang on how its readings are packed: the same random lives, their readings as single rows, in blocks of 7,
 * 100 and 1,000 rows, in blocks cut at odd places, and with another port's records in between, give the same findings in everything but
 * frame numbers. And what may pass at which rate, and that readings which are missing never make a fail. Rates and what they can prove:
 * the catalogue's groups volt and pps (20 us for a slope, 1 ms for peaks, 5 ms for a reversal and for a drop, 10 ms at PS_RDY).
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = 4, LIVES = 60, ACTIONS = 14, ROWS_MAX = 1000 };
#define ABOUT_NOISY "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":300,\"offset_uv\":2000,\"noise_uv\":3000}," \
                    "\"amp\":{\"gain_ppm\":500,\"offset_ua\":1000,\"noise_ua\":3000}}}"

static void make_caps(uint32_t caps[OBJECTS])
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_fixed(20000, 3000);
    caps[3] = word_pps(3300, 11000, 3000);
}

/* How the rows of a port come in records. */
struct layout { unsigned rows; bool odd; unsigned lost_volts, lost_amps; }; /* lost: one reading in so many is missing, 0 none */

static void write_rows(struct played_supply *s, const struct layout *how, uint64_t seed, bool noisy)
{
    struct meter  noise = { .random = seed | 1, .volt_noise_mv = 3, .amp_noise_ma = 3 }, odd = { .random = seed + 77 };
    struct lines *l = s->l;
    int64_t       end_ns = l->now_ns;
    static int32_t cells[2 * ROWS_MAX];

    for (int64_t t = s->begin_ns; t < end_ns;) {
        unsigned rows = how->odd ? 1 + (unsigned)(meter_even(&odd) * 300) : how->rows, n = 0;

        l->now_ns = t;
        for (; n < rows && t < end_ns; n++, t += s->interval_ns) {
            double lost = meter_even(&noise), volt = meter_normal(&noise), amp = meter_normal(&noise);

            cells[2 * n] = (int32_t)lround(1000 * (wave_mv(&s->w, t) + (noisy ? 3 * volt : 0)));
            cells[2 * n + 1] = (int32_t)lround(1000 * (wave_ma(&s->w, t) + (noisy ? 3 * amp : 0)));
            if (how->lost_volts && lost * how->lost_volts < 1)
                cells[2 * n] = RECORD_NO_READING;
            if (how->lost_amps && (1 - lost) * how->lost_amps < 1)
                cells[2 * n + 1] = RECORD_NO_READING;
        }
        lines_power_rows(l, s->interval_ns, n, RECORD_VBUS | RECORD_IBUS, cells);
    }
    l->now_ns = end_ns;
}

/* Random lives. */

static double between(struct meter *m, double low, double high)
{
    return low + (high - low) * meter_even(m);
}

static int64_t ms_between(struct meter *m, double low, double high)
{
    return (int64_t)(1e6 * between(m, low, high));
}

static void ask(struct played_supply *s, struct meter *m, double *level_mv, bool *first, const uint32_t *caps)
{
    static const double levels[] = { 5000, 9000, 20000 };
    unsigned position = 1 + (unsigned)(meter_even(m) * 4);
    double   mv = position == 4 ? 20 * floor(between(m, 170, 540)) : levels[position - 1];
    int64_t  begin_ns = ms_between(m, 20, 40), ramp_ns = ms_between(m, 0.05, 30);

    supply_ask(s, *first ? OBJECTS : 0, *first ? caps : NULL, position == 4 ? word_ask_pps(4, (unsigned)mv, 2000) : word_ask_fixed(position, 2000, 3000));
    if (meter_even(m) < 0.2)
        wave_ramp(&s->w, s->done_ns + begin_ns, s->done_ns + begin_ns + ramp_ns / 2, mv + between(m, -1500, 1500));
    supply_move(s, mv * (meter_even(m) < 0.1 ? between(m, 0.9, 1.1) : 1), begin_ns + ramp_ns / 2, ramp_ns, begin_ns + ramp_ns + ms_between(m, -2, 40));
    *level_mv = mv;
    *first = false;
}

static void cycle(struct played_supply *s, struct meter *m)
{
    lines_reset(s->l, RECORD_HARD_RESET);
    int64_t t_ns = s->l->now_ns + ms_between(m, 22, 40);

    wave_ramp(&s->w, t_ns, t_ns + ms_between(m, 5, 700), between(m, -400, 900));
    supply_hold(s, MS(900) + ms_between(m, 0, 300));
    wave_ramp(&s->w, s->l->now_ns, s->l->now_ns + ms_between(m, 0.2, 50), 5000);
    supply_hold(s, MS(60) + ms_between(m, 0, 150));
}

/* One thing that happens while a contract is in force; level: where VBUS belongs. */
static void happens(struct played_supply *s, struct meter *m, double level_mv)
{
    double   draw = meter_even(m), ma = wave_ma(&s->w, s->l->now_ns);
    wave_step(&s->w, s->l->now_ns, level_mv * between(m, 0.97, 1.03), ma);
    if (draw < 0.3) {
        supply_load(s, between(m, 0, 2200));
    } else if (draw < 0.5) {
        wave_step(&s->w, s->l->now_ns, level_mv + between(m, -2500, 1500), ma);
        supply_hold(s, ms_between(m, 0.3, 30));
        wave_step(&s->w, s->l->now_ns, level_mv, ma);
    } else if (draw < 0.6) {
        wave_step(&s->w, s->l->now_ns, level_mv * between(m, 0.7, 1.2), ma);
        supply_hold(s, ms_between(m, 50, 300));
        wave_step(&s->w, s->l->now_ns, level_mv, ma);
    } else if (draw < 0.65) {
        lines_lost(s->l, 1);
    } else if (draw < 0.75) {
        lines_control(s->l, SIDE_SINK, CONTROL_SOFT_RESET);
        lines_control(s->l, SIDE_SOURCE, CONTROL_ACCEPT);
    }
    supply_hold(s, ms_between(m, 5, 400));
}

static void live(struct played_supply *s, struct lines *l, unsigned port, uint64_t seed)
{
    static const int64_t intervals_ns[] = { 1000000, 1000000, 500000, 3000000, 10000000, 100000000 };
    struct meter m = { .random = seed };
    uint32_t     caps[OBJECTS];
    double       level_mv = 5000;
    bool         first = true;

    make_caps(caps);
    l->port = (uint8_t)port;
    lines_ids_reset(l);
    supply_attach(s, l, ABOUT_NOISY);
    s->interval_ns = intervals_ns[(unsigned)(meter_even(&m) * 6)];
    for (unsigned k = 0; k < ACTIONS; k++) {
        if (first || meter_even(&m) < 0.25)
            ask(s, &m, &level_mv, &first, caps);
        else if (meter_even(&m) < 0.08)
            cycle(s, &m), first = true, level_mv = 5000;
        else
            happens(s, &m, level_mv);
    }
    if (meter_even(&m) < 0.5) {
        lines_detach(l);
        wave_ramp(&s->w, l->now_ns, l->now_ns + ms_between(&m, 5, 900), between(&m, -350, 850));
    }
    supply_hold(s, ms_between(&m, 50, 1500));
}

/*
 * What is compared: a life's findings, without frames. reset.unexplained apart: what happens on another port may explain a reset, and in
 * these lives resets come out of the blue.
 */
struct told { unsigned count; struct finding finding[LINES_FINDINGS]; };

static int finding_order(const void *a, const void *b)
{
    const struct finding *one = a, *other = b;
    int by_rule = strcmp(one->rule->id, other->rule->id);

    if (by_rule)
        return by_rule;
    return one->t_ns != other->t_ns ? (one->t_ns < other->t_ns ? -1 : 1) : (int)one->verdict - (int)other->verdict;
}

static void take_told(const struct lines *l, unsigned port, struct told *out)
{
    out->count = 0;
    for (unsigned k = 0; k < l->findings; k++)
        if (l->finding[k].port == port && strcmp(l->finding[k].rule->id, "reset.unexplained") != 0)
            out->finding[out->count++] = l->finding[k];
    qsort(out->finding, out->count, sizeof out->finding[0], finding_order);
}

static bool same_finding(const struct finding *a, const struct finding *b)
{
    return a->rule == b->rule && a->verdict == b->verdict && a->cause == b->cause && a->whom == b->whom && a->party == b->party &&
           a->t_ns == b->t_ns && a->sentence == b->sentence && memcmp(a->values, b->values, sizeof a->values) == 0 &&
           a->has_measured == b->has_measured && a->measured == b->measured && a->has_low == b->has_low && (!a->has_low || a->low == b->low) &&
           a->has_high == b->has_high && (!a->has_high || a->high == b->high) && a->has_uncertainty == b->has_uncertainty &&
           a->uncertainty == b->uncertainty && fabs(a->probability - b->probability) < 1e-12;
}

static void print_finding(const char *how, const struct finding *f)
{
    if (f)
        printf("    %s: %s %s, cause %u, at %.3f ms, sentence %u, measured %ld +- %ld, values %ld %ld %ld %ld\n", how, f->rule->id,
               verdict_name(f->verdict), f->cause, (double)(f->t_ns - START_NS) / 1e6, f->sentence, (long)f->measured, (long)f->uncertainty,
               (long)f->values[0], (long)f->values[1], (long)f->values[3], (long)f->values[5]);
    else
        printf("    %s: nothing\n", how);
}

static bool same_told(const struct told *a, const struct told *b, const char *how, unsigned life)
{
    for (unsigned k = 0; k < a->count || k < b->count; k++) {
        const struct finding *one = k < a->count ? &a->finding[k] : NULL, *other = k < b->count ? &b->finding[k] : NULL;

        if (one && other && same_finding(one, other))
            continue;
        printf("  life %u, %s:\n", life, how);
        print_finding("single rows", one);
        print_finding(how, other);
        return false;
    }
    return true;
}

static void play(struct lines *l, unsigned life, const struct layout *how, struct told *out)
{
    struct played_supply s;

    lines_clear(l);
    live(&s, l, 0, life + 1000);
    write_rows(&s, how, life + 5, true);
    l->now_ns = START_NS + MS(60000); /* whatever else is in the trace */
    lines_run(l, NULL);
    take_told(l, 0, out);
}

static struct told alone, packed; /* large */
static const struct layout singly = { .rows = 1 };

static void the_same_readings_in_blocks_of_any_size_say_the_same(void **state)
{
    static const struct { const char *name; struct layout how; } layouts[] = {
        { "blocks of 7", { .rows = 7 } }, { "blocks of 100", { .rows = 100 } }, { "blocks of 1000", { .rows = 1000 } },
        { "blocks cut anywhere", { .odd = true } },
    };
    unsigned found = 0, bad = 0;

    for (unsigned life = 0; life < LIVES; life++) {
        play(*state, life, &singly, &alone);
        found += alone.count;
        for (unsigned k = 0; k < sizeof layouts / sizeof layouts[0]; k++) {
            play(*state, life, &layouts[k].how, &packed);
            bad += !same_told(&alone, &packed, layouts[k].name, life);
        }
    }
    assert_int_equal(bad, 0);
    assert_true(found > 4 * LIVES); /* there is something to compare */
}

static void the_same_with_readings_missing(void **state)
{
    unsigned bad = 0;

    for (unsigned life = 0; life < LIVES; life++) {
        const struct layout one = { .rows = 1, .lost_volts = 9, .lost_amps = 7 }, many = { .rows = 100, .lost_volts = 9, .lost_amps = 7 };

        play(*state, life, &one, &alone);
        play(*state, life, &many, &packed);
        bad += !same_told(&alone, &packed, "blocks of 100 with holes", life);
    }
    assert_int_equal(bad, 0);
}

static void two_ports_at_once_say_what_each_says_alone(void **state)
{
    struct lines *l = *state;
    unsigned      bad = 0;

    for (unsigned life = 0; life < LIVES; life++) {
        const struct layout blocks = { .rows = 100 };
        struct played_supply s;

        play(l, life, &blocks, &alone);
        lines_clear(l);
        live(&s, l, 0, life + 1000);
        write_rows(&s, &blocks, life + 5, true);
        l->now_ns = START_NS + US(300);
        live(&s, l, 1, life + 5000);
        write_rows(&s, &(struct layout){ .odd = true }, life + 9, true);
        l->now_ns = START_NS + MS(60000);
        lines_run(l, NULL);
        take_told(l, 0, &packed);
        bad += !same_told(&alone, &packed, "beside another port", life);
    }
    assert_int_equal(bad, 0);
}

/* A source that does everything as it should: 5, 9, 20 V and back, PPS, loads, a Hard Reset, a detach. */
static void faultless(struct played_supply *s, struct lines *l, int64_t interval_ns)
{
    uint32_t caps[OBJECTS];

    make_caps(caps);
    supply_attach(s, l, ABOUT_NOISY);
    s->interval_ns = interval_ns;
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(s, MS(800));
    supply_load(s, 2500);
    supply_hold(s, MS(700));
    supply_load(s, 100);
    supply_hold(s, MS(300));
    supply_contract(s, 0, NULL, word_ask_fixed(3, 3000, 3000), 20000);
    supply_hold(s, MS(1200));
    supply_contract(s, 0, NULL, word_ask_pps(4, 9000, 2000), 9000);
    supply_hold(s, MS(900));
    supply_contract(s, 0, NULL, word_ask_fixed(1, 3000, 3000), 5000);
    supply_hold(s, MS(900));
    lines_reset(l, RECORD_HARD_RESET);
    wave_ramp(&s->w, l->now_ns + MS(30), l->now_ns + MS(60), 0);
    supply_hold(s, MS(860));
    wave_ramp(&s->w, l->now_ns, l->now_ns + MS(10), 5000);
    supply_hold(s, MS(160));
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(s, MS(900));
    lines_detach(l);
    wave_ramp(&s->w, l->now_ns, l->now_ns + MS(60), 0);
    supply_hold(s, MS(2500));
}

/* Rules that go by readings; the messages of the story say nothing of each other. */
static bool of_volts(const char *id)
{
    static const char *const groups[] = { "volt.", "pps.", "time.", "epr.", "swap.", "reset.hard-reset-vbus", "reset.soft-reset-keeps" };

    for (unsigned k = 0; k < sizeof groups / sizeof groups[0]; k++)
        if (strncmp(id, groups[k], strlen(groups[k])) == 0)
            return true;
    return false;
}

static void nothing_fails(const struct lines *l, const char *how)
{
    for (unsigned k = 0; k < l->findings; k++)
        if (l->finding[k].verdict == VERDICT_FAIL && of_volts(l->finding[k].rule->id)) {
            print_finding(how, &l->finding[k]);
            fail_msg("%s: %s", how, l->finding[k].rule->id);
        }
}

static void missing_readings_never_make_a_fail(void **state)
{
    static const struct layout holes[] = {
        { .rows = 100, .lost_volts = 2 }, { .rows = 100, .lost_amps = 2 }, { .rows = 7, .lost_volts = 3, .lost_amps = 3 },
        { .rows = 1, .lost_volts = 50, .lost_amps = 2 }, { .odd = true, .lost_volts = 20, .lost_amps = 20 }, { .rows = 100, .lost_volts = 1 },
        { .rows = 100, .lost_amps = 1 },
    };
    struct lines *l = *state;

    for (unsigned k = 0; k < sizeof holes / sizeof holes[0]; k++)
        for (unsigned seed = 1; seed < 12; seed++) {
            struct played_supply s;
            char                 how[60];

            snprintf(how, sizeof how, "holes %u, seed %u", k, seed);
            lines_clear(l);
            faultless(&s, l, MS(1));
            write_rows(&s, &holes[k], seed * 1001, true);
            lines_run(l, NULL);
            nothing_fails(l, how);
        }
}

/* Whole records left out, anywhere. */
static void gaps_never_make_a_fail(void **state)
{
    struct lines *l = *state;

    for (unsigned seed = 1; seed < 60; seed++) {
        struct meter         m = { .random = seed * 7919 };
        struct played_supply s;
        char                 how[60];

        snprintf(how, sizeof how, "gaps, seed %u", seed);
        lines_clear(l);
        faultless(&s, l, MS(1));
        int64_t end_ns = l->now_ns;

        while (s.begin_ns < end_ns) {
            l->now_ns = s.begin_ns + ms_between(&m, 5, 900);
            l->now_ns = l->now_ns < end_ns ? l->now_ns : end_ns;
            write_rows(&s, &(struct layout){ .rows = 100 }, seed, true);
            s.begin_ns = l->now_ns + ms_between(&m, 1, 400);
        }
        l->now_ns = end_ns;
        lines_run(l, NULL);
        nothing_fails(l, how);
    }
}

/* At a rate: nothing fails, and what such a rate can not prove does not pass. */
static const char *const slopes[] = { "volt.slew-up", "volt.slew-down", NULL };
static const char *const slopes_peaks[] = { "volt.slew-up", "volt.slew-down", "volt.overshoot", "volt.undershoot", "volt.monotonic",
                                            "volt.drop-under-load", "volt.ready-inside-window", NULL };
static const char *const slow[] = { "volt.slew-up", "volt.slew-down", "volt.overshoot", "volt.undershoot", "volt.monotonic",
                                    "volt.drop-under-load", "volt.ready-inside-window",
                                    "time.src-transition", "time.safe0v", "time.hard-reset-response", NULL };
static const char *const windows[] = { "volt.contract-window", "volt.transient-window", "volt.level-not-reached", "pps.window",
                                       "epr.high-voltage-outside", NULL };
static const char *const finer[] = { "volt.overshoot", "volt.undershoot", "volt.monotonic", "volt.drop-under-load",
                                     "volt.ready-inside-window", "volt.safe0v-after-hard-reset", "volt.safe0v-after-detach", NULL };

static void at_a_rate(void **state, int64_t interval_ns, const char *const *not_passed, const char *const *passed)
{
    struct lines        *l = *state;
    struct played_supply s;
    char                 how[60];

    snprintf(how, sizeof how, "a reading every %.3f ms", (double)interval_ns / 1e6);
    lines_clear(l);
    faultless(&s, l, interval_ns);
    write_rows(&s, &(struct layout){ .rows = interval_ns >= MS(100) ? 1 : 1000 }, 4711, true);
    lines_run(l, NULL);
    nothing_fails(l, how);
    for (; *not_passed; not_passed++)
        if (lines_result(l, *not_passed).verdict == VERDICT_PASS)
            fail_msg("%s: %s passes", how, *not_passed);
    for (; *passed; passed++)
        if (lines_result(l, *passed).verdict != VERDICT_PASS)
            fail_msg("%s: %s is %s", how, *passed, verdict_name(lines_result(l, *passed).verdict));
}

static void one_reading_a_second_proves_little_and_fails_nothing(void **state)
{
    at_a_rate(state, MS(1000), slow, (const char *const[]){ NULL });
}

static void ten_readings_a_second_prove_windows_alone(void **state)
{
    at_a_rate(state, MS(100), slopes_peaks, windows);
}

static void a_thousand_readings_a_second_prove_all_but_slopes(void **state)
{
    at_a_rate(state, MS(1), slopes, windows);
    at_a_rate(state, MS(1), slopes, finer);
}

static void twenty_thousand_readings_a_second_prove_no_slopes_yet(void **state)
{
    at_a_rate(state, US(50), slopes, windows);
    at_a_rate(state, US(50), slopes, finer);
}

/* 5 to 9 V in a ramp, readings every interval_ns about it. */
static unsigned slope_at(struct lines *l, int64_t ramp_ns, int64_t interval_ns)
{
    struct played_supply s;
    uint32_t             caps[OBJECTS];

    make_caps(caps);
    lines_clear(l);
    supply_attach(&s, l, PRECISE);
    supply_ask(&s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    s.begin_ns = s.done_ns - MS(4);
    s.interval_ns = interval_ns;
    supply_move(&s, 9000, MS(26), ramp_ns, MS(28));
    supply_hold(&s, MS(60));
    write_rows(&s, &(struct layout){ .rows = 1000 }, 1, false);
    lines_run(l, NULL);
    return lines_result(l, "volt.slew-up").verdict;
}

static void a_million_readings_a_second_prove_slopes(void **state)
{
    assert_int_equal(slope_at(*state, US(200), US(1)), VERDICT_PASS); /* 20 mV/us */
    assert_int_equal(slope_at(*state, US(200), US(10)), VERDICT_PASS);
    assert_int_equal(slope_at(*state, US(100), US(1)), VERDICT_FAIL);      /* 40 mV/us */
    assert_int_equal(slope_at(*state, US(100), US(10)), VERDICT_FAIL);
}

/* Slow readings show the mean of a slope: it can fail, it does not pass. */
static void slow_readings_can_fail_a_slope_but_not_pass_it(void **state)
{
    assert_int_equal(slope_at(*state, US(1), US(50)), VERDICT_FAIL);  /* 4 V in 50 us at the most: 80 mV/us */
    assert_int_equal(slope_at(*state, US(1), MS(1)), VERDICT_NOT_SEEN); /* 4 mV/us at the least */
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(the_same_readings_in_blocks_of_any_size_say_the_same),
        TEST(the_same_with_readings_missing),
        TEST(two_ports_at_once_say_what_each_says_alone),
        TEST(missing_readings_never_make_a_fail),
        TEST(gaps_never_make_a_fail),
        TEST(one_reading_a_second_proves_little_and_fails_nothing),
        TEST(ten_readings_a_second_prove_windows_alone),
        TEST(a_thousand_readings_a_second_prove_all_but_slopes),
        TEST(twenty_thousand_readings_a_second_prove_no_slopes_yet),
        TEST(a_million_readings_a_second_prove_slopes),
        TEST(slow_readings_can_fail_a_slope_but_not_pass_it),
    };

    return cmocka_run_group_tests_name("The same waveform, however it was recorded", tests, NULL, NULL);
}
