#include "tests/rules/wave.h"

#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>
#include <math.h>

double meter_even(struct meter *m)
{
    /* xorshift64*: Vigna, An experimental exploration of Marsaglia's xorshift generators */
    m->random ^= m->random >> 12;
    m->random ^= m->random << 25;
    m->random ^= m->random >> 27;
    return (double)(m->random * UINT64_C(2685821657736338717) >> 11) * 0x1p-53;
}

/* The polar method (Marsaglia and Bray). */
double meter_normal(struct meter *m)
{
    double x, square;

    do {
        double y = 2 * meter_even(m) - 1;

        x = 2 * meter_even(m) - 1;
        square = x * x + y * y;
    } while (square >= 1 || square <= 0);
    return x * sqrt(-2 * log(square) / square);
}

static double volt_read(const struct wave *w, double mv)
{
    struct meter *m = w->meter;

    return m ? mv * (1 + m->volt_gain) + m->volt_mv + m->volt_noise_mv * meter_normal(m) : mv;
}

static double amp_read(const struct wave *w, double ma)
{
    struct meter *m = w->meter;

    return m ? ma * (1 + m->amp_gain) + m->amp_ma + m->amp_noise_ma * meter_normal(m) : ma;
}

static void point(struct wave *w, int64_t t_ns, double mv, double ma)
{
    assert_true(w->count < WAVE_POINTS);
    w->at[w->count].t_ns = t_ns;
    w->at[w->count].mv = mv;
    w->at[w->count++].ma = ma;
}

double wave_mv(const struct wave *w, int64_t t_ns)
{
    double mv = 0;

    for (unsigned k = 0; k < w->count && w->at[k].t_ns <= t_ns; k++) {
        mv = w->at[k].mv;
        if (k + 1 < w->count && w->at[k + 1].t_ns > t_ns)
            mv += (w->at[k + 1].mv - mv) * (double)(t_ns - w->at[k].t_ns) / (double)(w->at[k + 1].t_ns - w->at[k].t_ns);
    }
    return mv;
}

double wave_ma(const struct wave *w, int64_t t_ns)
{
    double ma = 0;

    for (unsigned k = 0; k < w->count && w->at[k].t_ns <= t_ns; k++)
        ma = w->at[k].ma;
    return ma;
}

void wave_step(struct wave *w, int64_t t_ns, double mv, double ma)
{
    point(w, t_ns - 1, wave_mv(w, t_ns - 1), wave_ma(w, t_ns - 1));
    point(w, t_ns, mv, ma);
}

void wave_load(struct wave *w, int64_t t_ns, double ma)
{
    wave_step(w, t_ns, wave_mv(w, t_ns), ma);
}

void wave_ramp(struct wave *w, int64_t from_ns, int64_t until_ns, double mv)
{
    double ma = wave_ma(w, from_ns);

    point(w, from_ns, wave_mv(w, from_ns), ma);
    point(w, until_ns, mv, ma);
}

static int32_t micro(double milli)
{
    return (int32_t)lround(milli * 1000);
}

/* What the row at t_ns would read without its errors. */
static double true_mv(const struct wave *w, int64_t t_ns, int64_t interval_ns)
{
    if (t_ns < w->ripple.from_ns || t_ns >= w->ripple.to_ns)
        return wave_mv(w, t_ns);
    return (t_ns - w->ripple.from_ns) / interval_ns % 2 ? w->ripple.low_mv : w->ripple.high_mv;
}

static void write_columns(struct lines *l, const struct wave *w, int64_t from_ns, int64_t until_ns, int64_t interval_ns, unsigned rows,
                          uint8_t columns)
{
    int64_t now_ns = l->now_ns;
    int32_t cells[2 * 200];

    assert_true(rows >= 1 && rows <= 200);
    for (int64_t t = from_ns; t < until_ns;) {
        unsigned n = 0, used = 0;

        l->now_ns = t;
        for (; n < rows && t < until_ns; n++, t += interval_ns) {
            cells[used++] = micro(volt_read(w, true_mv(w, t, interval_ns)));
            if (columns & RECORD_IBUS)
                cells[used++] = micro(amp_read(w, wave_ma(w, t)));
        }
        lines_power_rows(l, interval_ns, n, columns, cells);
    }
    l->now_ns = now_ns;
}

void wave_write(struct lines *l, const struct wave *w, int64_t from_ns, int64_t until_ns, int64_t interval_ns, unsigned rows)
{
    write_columns(l, w, from_ns, until_ns, interval_ns, rows, RECORD_VBUS | RECORD_IBUS);
}

void supply_attach(struct played_supply *s, struct lines *l, const char *about)
{
    *s = (struct played_supply){ .l = l, .begin_ns = l->now_ns, .interval_ns = MS(1) };
    lines_about(l, 255, about ? about : PRECISE);
    lines_wait(l, MS(20));
    int64_t cc_ns = l->now_ns + MS(10);

    lines_attach(l);
    wave_ramp(&s->w, cc_ns + MS(100), cc_ns + MS(102), 5000);
}

void supply_ask(struct played_supply *s, unsigned count, const uint32_t *caps, uint32_t request)
{
    if (caps)
        lines_caps(s->l, count, caps);
    lines_request(s->l, request);
    s->accept_frame = lines_control(s->l, SIDE_SOURCE, CONTROL_ACCEPT);
    s->done_ns = s->l->now_ns - s->l->pause_ns;
}

void supply_move(struct played_supply *s, double mv, int64_t begin_ns, int64_t ramp_ns, int64_t ready_ns)
{
    wave_ramp(&s->w, s->done_ns + begin_ns, s->done_ns + begin_ns + ramp_ns, mv);
    lines_wait(s->l, s->done_ns + ready_ns - s->l->now_ns);
    s->ready_ns = s->l->now_ns;
    s->ready_frame = lines_control(s->l, SIDE_SOURCE, CONTROL_PS_RDY);
}

void supply_usual(uint32_t caps[SUPPLY_USUAL])
{
    caps[0] = word_fixed(5000, 3000);
    caps[1] = word_fixed(9000, 3000);
    caps[2] = word_fixed(20000, 3000);
    caps[3] = word_pps(3300, 11000, 3000);
}

void supply_kinds(uint32_t caps[SUPPLY_KINDS])
{
    supply_usual(caps);
    caps[5] = caps[3];
    caps[3] = word_battery(5000, 9000, 27000);
    caps[4] = word_variable(5000, 9000, 3000);
}

void supply_contract(struct played_supply *s, unsigned count, const uint32_t *caps, uint32_t request, double mv)
{
    supply_ask(s, count, caps, request);
    supply_move(s, mv, MS(30), MS(2), MS(60));
}

void supply_hold(struct played_supply *s, int64_t ns)
{
    lines_wait(s->l, ns);
}

void supply_load(struct played_supply *s, double ma)
{
    wave_load(&s->w, s->l->now_ns, ma);
}

void supply_end_with(struct played_supply *s, const struct engine_options *options)
{
    write_columns(s->l, &s->w, s->begin_ns, s->l->now_ns, s->interval_ns, s->interval_ns >= MS(20) ? 1 : 100,
                  s->ibus_missing ? RECORD_VBUS : RECORD_VBUS | RECORD_IBUS);
    lines_run(s->l, options);
}

void supply_end(struct played_supply *s)
{
    supply_end_with(s, NULL);
}
