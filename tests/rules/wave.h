/*
 * tests/rules/wave.h - VBUS and IBUS drawn as straight lines over a trace in memory, and read at even distances.
 *
 * Draw while the messages are added (times as in struct lines), then wave_write. Lines go from point to point; wave_step makes a
 * jump. Before the first point everything is 0.
 */
#pragma once
#include "tests/rules/bench_lines.h"

/* What a reading is off by: the errors of this one instrument, and a new one for each reading. NULL: nothing. */
struct meter {
    uint64_t random;                 /* state of the generator, not 0 */
    double   volt_gain, volt_mv, volt_noise_mv; /* gain as a share of the value */
    double   amp_gain, amp_ma, amp_noise_ma;
};
double meter_even(struct meter *m);  /* drawn evenly from 0 to 1 */
double meter_normal(struct meter *m); /* ... from a normal distribution, standard deviation 1 */

enum { WAVE_POINTS = 256 };
struct wave {
    unsigned count;
    struct meter *meter;
    struct { int64_t from_ns, to_ns; double low_mv, high_mv; } ripple; /* readings by turns at the one and the other; to_ns 0: none */
    struct { int64_t t_ns; double mv, ma; } at[WAVE_POINTS];
};

void wave_step(struct wave *w, int64_t t_ns, double mv, double ma); /* from t_ns on */
/* From where it stands at from_ns to mv at until_ns; the current as it is. */
void wave_ramp(struct wave *w, int64_t from_ns, int64_t until_ns, double mv);
void wave_load(struct wave *w, int64_t t_ns, double ma);            /* the current alone */
double wave_mv(const struct wave *w, int64_t t_ns);
double wave_ma(const struct wave *w, int64_t t_ns);
/* POWER records of so many rows from from_ns to until_ns, the port of l. */
void wave_write(struct lines *l, const struct wave *w, int64_t from_ns, int64_t until_ns, int64_t interval_ns, unsigned rows);

/* The usual story: a source that does everything as it should, unless told otherwise. */
struct played_supply {
    struct lines *l;
    struct wave   w;
    int64_t begin_ns, interval_ns; /* 1 ms at first */
    int64_t done_ns;               /* end of the GoodCRC to the last Accept, and of the last reset */
    uint64_t accept_frame, ready_frame, reset_frame;
    int64_t ready_ns;              /* start of the last PS_RDY */
    bool    ibus_missing;          /* VBUS alone is written */
};
#define PRECISE "{\"instrument\":{\"time_ns\":0,\"volt\":{\"gain_ppm\":0,\"offset_uv\":1000,\"noise_uv\":0}," \
                "\"amp\":{\"gain_ppm\":0,\"offset_ua\":1000,\"noise_ua\":0}}}"
/* What a source offers, 3 A each: 5, 9 and 20 V fixed, a battery (5 to 9 V, 27 W), a variable supply (5 to 9 V), PPS (3.3 to 11 V). */
enum { SUPPLY_KINDS = 6, SUPPLY_USUAL = 4 };
void supply_kinds(uint32_t caps[SUPPLY_KINDS]);
void supply_usual(uint32_t caps[SUPPLY_USUAL]); /* the same without battery and variable supply */
/* ABOUT, nothing attached for 20 ms, attach, VBUS 5 V 100 ms later (rising in 2 ms). about NULL: PRECISE. */
void supply_attach(struct played_supply *s, struct lines *l, const char *about);
/* Source_Capabilities (caps NULL: not again), Request, Accept. */
void supply_ask(struct played_supply *s, unsigned count, const uint32_t *caps, uint32_t request);
/* VBUS begins to move so long after the Accept was heard and takes so long; PS_RDY so long after it. */
void supply_move(struct played_supply *s, double mv, int64_t begin_ns, int64_t ramp_ns, int64_t ready_ns);
/* Both, as they should be: 30 ms, 2 ms, 60 ms. */
void supply_contract(struct played_supply *s, unsigned count, const uint32_t *caps, uint32_t request, double mv);
void supply_hold(struct played_supply *s, int64_t ns);
void supply_load(struct played_supply *s, double ma); /* from now on */
void supply_end(struct played_supply *s);             /* writes the readings up to now, and plays the trace */
void supply_end_with(struct played_supply *s, const struct engine_options *options); /* as for lines_run */
