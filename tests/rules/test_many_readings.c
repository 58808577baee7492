/*
 * Peaks over very many readings, and times at their limits. Of a million readings the worst lies 5 standard deviations out: whether a
 * trace is judged wrongly is asked trace by trace, of sources whose peaks are truly just inside and truly just outside of the wide
 * window, once in a trace or in every other reading. The noise of the worst of n: phi(k_n) = 1 - 0.0228 / n (the catalogue, section 3).
 *
 * A time between an edge of VBUS and a message is known to one distance of readings: at its limit and up to three distances on either
 * side of it no source is ever judged wrongly, wherever the readings fall. Limits typed from the catalogue: tSrcTransition 25 to 35 ms,
 * tPSHardReset 25 to 35, tSafe0V 650, tSrcRecover 660 to 1000, tSrcTurnOn 275, tCCDebounce + tVBUSON 475, tSRCDisconnect + tVBUSOFF 670.
 *
 * STATISTICS_TRACES 5000: a million readings in each of 100 traces a case and seed.
 */
#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { OBJECTS = 3, SEEDS = 3, ROWS = 1000, READINGS_SHORT = 10000, READINGS_WHOLE = 1000000, TRACES_SHORT = 30, TRACES_WHOLE = 100 };
static const uint64_t seeds[SEEDS] = { UINT64_C(20260131), UINT64_C(271828182845), UINT64_C(1618033988749) };
static const double allowed = 0.025;

static void make_caps(uint32_t caps[OBJECTS])
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_fixed(20000, 3000);
}

/* Peaks. */

struct stated { double gain, offset_mv, noise_mv; };
static const struct stated meters[] = { { 0, 0.2, 8 }, { 1000e-6, 4, 0.5 }, { 300e-6, 2, 4 } };
enum { METERS = sizeof meters / sizeof meters[0] };

static double expanded(const struct stated *m, double at_mv, double k)
{
    return sqrt(pow(2 * m->gain * at_mv, 2) + pow(2 * m->offset_mv, 2) + pow(k * m->noise_mv, 2));
}

/* phi(k) = 1 - 0.0228 / n, by halving. */
static double k_of(double n)
{
    double low = 0, high = 10;

    for (unsigned step = 0; step < 60; step++) {
        double k = (low + high) / 2;

        if (0.5 * erfc(k / sqrt(2.0)) > 0.0228 / n)
            low = k;
        else
            high = k;
    }
    return low;
}

/* VBUS for so many readings, 10 us apart: 9 V but for one of them, or by turns at peak_mv and at 8.3 V. */
static void feed_readings(struct lines *l, struct meter *m, unsigned readings, double peak_mv, bool often)
{
    static uint8_t bytes[64 + 4 * ROWS];
    static int32_t cells[ROWS];
    int64_t        t_ns = l->now_ns;

    for (unsigned done = 0; done < readings; done += ROWS, t_ns += ROWS * US(10)) {
        struct record r;

        for (unsigned k = 0; k < ROWS; k++) {
            double mv = often ? (k % 2 ? peak_mv : 8300) : done + k == readings / 2 ? peak_mv : 9000;

            cells[k] = (int32_t)lround(1000 * (mv * (1 + m->volt_gain) + m->volt_mv + m->volt_noise_mv * meter_normal(m)));
        }
        size_t length = record_put_power(bytes, sizeof bytes, 0, RECORD_INVENTED, 0, US(10), ROWS, RECORD_VBUS, cells);

        assert_true(length > 0);
        record_read(bytes, length, false, t_ns, l->count + 1 + done / ROWS, &r);
        assert_true(engine_feed(l->engine, &r, false));
    }
    l->now_ns = t_ns;
}

static unsigned peak_verdict(struct lines *l, struct meter *m, const struct stated *s, unsigned readings, double peak_mv, bool often)
{
    struct played_supply p;
    uint32_t             caps[OBJECTS];
    char                 about[200];

    make_caps(caps);
    snprintf(about, sizeof about, "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":%.0f,\"offset_uv\":%.0f,\"noise_uv\":%.0f}}}",
             s->gain * 1e6, s->offset_mv * 1e3, s->noise_mv * 1e3);
    m->volt_gain = s->gain * meter_normal(m);
    m->volt_mv = s->offset_mv * meter_normal(m);
    m->volt_noise_mv = s->noise_mv;
    lines_clear(l);
    supply_attach(&p, l, about);
    p.ibus_missing = true;
    supply_contract(&p, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(&p, MS(60));
    wave_write(l, &p.w, p.begin_ns, l->now_ns, MS(1), 100);
    lines_play(l, NULL);
    feed_readings(l, m, readings, peak_mv, often);
    engine_end(l->engine, l->now_ns);
    return lines_result(l, "volt.transient-window").verdict;
}

struct peaks { unsigned wrong[2], traces[2], right, far; };

static void play_peaks(struct lines *l, bool often, unsigned traces, unsigned readings, struct peaks *c)
{
    for (unsigned seed = 0; seed < SEEDS; seed++) {
        struct meter m = { .random = seeds[seed] };

        for (unsigned n = 0; n < traces; n++) {
            const struct stated *s = &meters[n % METERS];
            double   u = expanded(s, 9950, k_of(readings)), at = n / METERS % 3 == 0 ? 2.5 : 0.05;
            bool     outside = n / METERS % 2;
            unsigned verdict = peak_verdict(l, &m, s, readings, 9950 + (outside ? at : -at) * u, often);

            if (at > 1) {
                c->far++;
                c->right += verdict == (outside ? VERDICT_FAIL : VERDICT_PASS);
            } else {
                c->traces[outside]++;
                c->wrong[outside] += verdict == (outside ? VERDICT_PASS : VERDICT_FAIL);
            }
        }
    }
}

static void a_peak_among_very_many_readings_is_rarely_judged_wrongly(void **state)
{
    const char *asked = getenv("STATISTICS_TRACES");
    bool        whole = asked && atoi(asked) >= 5000;

    printf("%-12s %10s %22s %22s %18s\n", "peaks", "readings", "just inside, failed", "just outside, passed", "2.5 U off, right");
    for (unsigned often = 0; often < 2; often++) {
        struct peaks c = { .far = 0 };
        unsigned     readings = whole ? READINGS_WHOLE : READINGS_SHORT;

        play_peaks(*state, often, whole ? TRACES_WHOLE : TRACES_SHORT, readings, &c);
        printf("%-12s %10u %15u of %4u %15u of %4u %11u of %4u\n", often ? "every other" : "one", readings, c.wrong[0], c.traces[0], c.wrong[1],
               c.traces[1], c.right, c.far);
        for (unsigned side = 0; side < 2; side++) /* no more than chance makes of 2.5 %, at three standard deviations */
            assert_true(c.wrong[side] <= allowed * c.traces[side] + 3 * sqrt(allowed * (1 - allowed) * c.traces[side]));
        assert_true(c.right >= 0.95 * c.far);
    }
}

/* Times. */

static void nine_volts(struct played_supply *s, struct lines *l)
{
    uint32_t caps[OBJECTS];

    make_caps(caps);
    supply_attach(s, l, NULL);
    supply_contract(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000), 9000);
    supply_hold(s, MS(200));
}

static void moves_after(struct lines *l, struct played_supply *s, int64_t ns)
{
    uint32_t caps[OBJECTS];

    make_caps(caps);
    supply_attach(s, l, NULL);
    supply_ask(s, OBJECTS, caps, word_ask_fixed(2, 3000, 3000));
    supply_move(s, 9000, ns, US(10), MS(60));
    supply_hold(s, MS(200));
}

/* A Hard Reset: VBUS falls at once so long after it (response), or is down so long after, comes back so long after that and is up so
 * long after that. */
static void cycle(struct lines *l, struct played_supply *s, int64_t response_ns, int64_t fall_ns, int64_t off_ns, int64_t rise_ns)
{
    nine_volts(s, l);
    supply_load(s, 1000);
    supply_hold(s, MS(100));
    lines_reset(l, RECORD_HARD_RESET);
    int64_t fell_ns = l->now_ns + response_ns, low_ns = fell_ns + fall_ns;

    wave_step(&s->w, fell_ns, fall_ns > MS(5) ? 8700 : 0, 1000);
    if (fall_ns > MS(5))
        wave_step(&s->w, low_ns, 0, 0);
    wave_step(&s->w, low_ns + off_ns, rise_ns > MS(5) ? 2000 : 5000, 0);
    if (rise_ns > MS(5))
        wave_step(&s->w, low_ns + off_ns + rise_ns, 5000, 0);
    supply_hold(s, response_ns + fall_ns + off_ns + rise_ns + MS(200));
}

static void responds_after(struct lines *l, struct played_supply *s, int64_t ns)
{
    cycle(l, s, ns, MS(1), MS(800), MS(1));
}

static void falls_for(struct lines *l, struct played_supply *s, int64_t ns)
{
    cycle(l, s, MS(30), ns, MS(800), MS(1));
}

static void stays_off(struct lines *l, struct played_supply *s, int64_t ns)
{
    cycle(l, s, MS(30), MS(20), ns, MS(1));
}

static void rises_for(struct lines *l, struct played_supply *s, int64_t ns)
{
    cycle(l, s, MS(30), MS(20), MS(800), ns);
}

static void comes_up_after(struct lines *l, struct played_supply *s, int64_t ns)
{
    *s = (struct played_supply){ .l = l, .begin_ns = l->now_ns, .interval_ns = MS(1) };
    lines_about(l, 255, PRECISE);
    lines_wait(l, MS(20));
    int64_t cc_ns = l->now_ns + MS(10);

    lines_attach(l);
    wave_step(&s->w, cc_ns + ns, 5000, 0);
    supply_hold(s, MS(600));
}

static void goes_off_after(struct lines *l, struct played_supply *s, int64_t ns)
{
    nine_volts(s, l);
    wave_step(&s->w, l->now_ns + ns, 0, 0);
    lines_detach(l);
    supply_hold(s, MS(2500));
}

static const struct timed { const char *rule; int64_t limit_ns; int outside; void (*play)(struct lines *, struct played_supply *, int64_t); }
timed[] = {
    { "time.src-transition", MS(25), -1, moves_after },
    { "time.src-transition", MS(35), 1, moves_after },
    { "time.hard-reset-response", MS(25), -1, responds_after },
    { "time.hard-reset-response", MS(35), 1, responds_after },
    { "time.safe0v", MS(650), 1, falls_for },
    { "time.src-recover", MS(660), -1, stays_off },
    { "time.src-recover", MS(1000), 1, stays_off },
    { "time.turn-on", MS(275), 1, rises_for },
    { "time.vbus-on", MS(475), 1, comes_up_after },
    { "time.vbus-off-detach", MS(670), 1, goes_off_after },
};

static void a_time_at_its_limit_is_never_judged_wrongly(void **state)
{
    const char *asked = getenv("STATISTICS_TRACES");
    unsigned    traces = asked && atoi(asked) > 200 ? (unsigned)atoi(asked) / 10 : 20, bad = 0;

    printf("%-26s %8s %8s %8s %8s %8s\n", "times", "limit", "passed", "failed", "undecided", "wrong");
    for (unsigned k = 0; k < sizeof timed / sizeof timed[0]; k++) {
        const struct timed *t = &timed[k];
        struct meter        m = { .random = seeds[0] + k };
        unsigned            by[4] = { 0 }, wrong = 0;

        for (unsigned n = 0; n < traces; n++) {
            struct played_supply s;
            int64_t              off_ns = (int64_t)(MS(1) * (6 * meter_even(&m) - 3)); /* up to three distances of readings off */

            lines_clear(*state);
            lines_wait(*state, (int64_t)(MS(1) * meter_even(&m)));
            t->play(*state, &s, t->limit_ns + off_ns);
            s.begin_ns -= (int64_t)(MS(1) * meter_even(&m)); /* where the readings fall */
            supply_end(&s);
            unsigned verdict = lines_result(*state, t->rule).verdict;
            bool     outside = (off_ns > 0) == (t->outside > 0);

            assert_true(verdict < 4);
            by[verdict]++;
            wrong += verdict == (outside ? VERDICT_PASS : VERDICT_FAIL);
        }
        printf("%-26s %5ld ms %8u %8u %8u %8u\n", t->rule, (long)(t->limit_ns / MS(1)), by[VERDICT_PASS], by[VERDICT_FAIL], by[VERDICT_UNDECIDED],
               wrong);
        bad += wrong || by[VERDICT_PASS] == 0 || by[VERDICT_FAIL] == 0 || by[VERDICT_NOT_SEEN];
    }
    assert_int_equal(bad, 0);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, lines_setup, lines_teardown)

int main(void)
{
    static const struct CMUnitTest tests[] = {
        TEST(a_peak_among_very_many_readings_is_rarely_judged_wrongly),
        TEST(a_time_at_its_limit_is_never_judged_wrongly),
    };

    return cmocka_run_group_tests_name("Very many readings, and times at their limits", tests, NULL, NULL);
}
