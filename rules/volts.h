/*
 * rules/volts.h - readings of VBUS and IBUS: told row by row in the order of time, what each is worth, and what many of them say.
 *
 * A POWER record comes with its first row; the packets that its later rows lie between come after it. A rule that asked to read is
 * woken with WAKE_READINGS for rows whose time has passed: event->port is as it was when they were taken. Rows of the record in hand
 * count from the moment on that a rule asked. Where nobody reads they cost one copy of the record.
 *
 * Worth: k = 2 as ABOUT says, the path from the source's receptacle included where VBUS was taken at the sink (the catalogue's
 * section 3); where ABOUT says nothing, assumed_volt_share and assumed_volt_mv, assumed_amp_share and assumed_amp_ma.
 *
 *   _uv microvolt  _ua microampere
 */
#pragma once
#include "rules/judge.h"

struct readings {
    struct record record;         /* its cells point into the book's own copy */
    uint8_t      *cells;
    size_t        room;
    unsigned      next, from, to; /* row that comes next; the rows in hand */
    struct record_range volts, amps; /* of all rows */
};

/* RECORD_NO_READING where there is none. */
struct reading { int64_t t_ns; uint64_t frame; int32_t uv, ua; };

/* While on, the rule's check gets the port's rows as WAKE_READINGS. */
void judge_read(struct judge *j, const struct port *p, bool on);
/* WAKE_READINGS: how many rows, and the k-th of them. */
unsigned judge_readings(const struct judge *j);
struct reading judge_reading(const struct judge *j, unsigned k);

/* The last reading of VBUS before the event in hand, read or not; false: there is none in the last POWER record. */
bool judge_reading_before(const struct judge *j, struct reading *out);
/* EVENT_POWER: greatest reading of the record in hand, and least; false: it has none. */
bool judge_volts_range(const struct judge *j, int32_t *least_uv, int32_t *most_uv);
bool judge_amps_range(const struct judge *j, int32_t *least_ua, int32_t *most_ua);

/* What readings of VBUS on a port are worth; looked up once for many of them. */
enum { VOLT_FAR_UA = 20000000, VOLT_FAR_MOST = 1000000000 };
struct volt_trust {
    double gain, offset_uv, noise_uv; /* standard uncertainties, gain as a share */
    bool   assumed, noise_known, means; /* means: a row is the mean over the interval that it begins */
    double share, plus_uv;            /* assumed: expanded */
    bool   at_sink, path_known;
    double path_ohm, path_u_ohm;      /* k = 1 */
    double path_drop_uv;              /* most that an unknown path takes at the contract's current */
    double far_uv, far_share;         /* volt_far_uv */
    struct row_time { uint8_t flags; uint32_t lasts_ns; } row; /* volt_trust_rows */
};
/*
 * A reading further than this from a level is surely on its side, whatever number of readings the verdict rests on. Quick, and more
 * than it takes: what is nearer is to be worked out.
 */
static inline int64_t volt_far_uv(const struct volt_trust *t, int32_t uv, int32_t ua)
{
    double far_uv = t->far_uv + t->far_share * (uv < 0 ? -(double)uv : (double)uv);

    return far_uv < VOLT_FAR_MOST && (ua == RECORD_NO_READING || (ua > -VOLT_FAR_UA && ua < VOLT_FAR_UA)) ? (int64_t)far_uv + 1 : INT32_MAX * INT64_C(4);
}
/* Of the rows of this record: how they were stamped, and how long each lasts (a point: 0). */
void volt_trust_rows(struct volt_trust *t, const struct record *r);
struct volt_trust volt_trust(const struct judge *j, const struct port *p);
struct volt_trust engine_volt_trust(const struct engine *e, const struct port *p);
/* Where the value at the source's receptacle lies: a mean of n readings, or, as one of n single readings, the worst of them. */
struct volt_range { int64_t low_uv, high_uv; };
enum { VOLT_SINGLE = 0 };
struct volt_range volt_mean_range(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, unsigned n);
struct volt_range volt_peak_range(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, uint64_t n);

/* Steps of k_n: up to so many values; the last one takes any number. */
enum { VOLT_NOISE_STEPS = 8 };
uint64_t volt_noise_values(unsigned step);
unsigned volt_noise_step(uint64_t values);
/*
 * Noise of the worst of many values: k_n times the noise, in two parts. The mean of the worst is there whatever gain and offset are, and
 * is added to them; only what it may be beyond that comes together with them by the root of squares. (The root of squares of the whole
 * would be too little where they are of one size: of a million readings at a limit, one trace in six would fail.)
 */
struct volt_noise { double sure, rest; };
struct volt_noise volt_noise(unsigned step, double noise, uint32_t n); /* of values that are means of n readings each */
/* Expanded uncertainty; systematic: that of gain and offset together, expanded. */
double volt_expanded(double systematic, struct volt_noise noise);
/* The same with the noise as it is to be taken. */
struct volt_range volt_range_noise(const struct volt_trust *t, const struct reading *r, int32_t contract_ma, struct volt_noise noise);
double volt_root(uint32_t n); /* square root, at least 1 */

/*
 * Window W of a contract at the source's receptacle; wide: with vSrcValid on both sides. The rule's parameters from k on are
 * VOLT_WINDOW_PARAMETERS. parameter: the one that gave it. known false: what was contracted is not known.
 */
#define VOLT_WINDOW_PARAMETERS "vSrcNew@fixed", "vSrcNew@variable", "vSrcNew@battery", "vPpsNew", "vAvsNew", "vSrcValid"
enum { VOLT_FIXED, VOLT_VARIABLE, VOLT_BATTERY, VOLT_PPS, VOLT_AVS, VOLT_VALID, VOLT_WINDOWS };
struct volt_window { int64_t low_uv, high_uv; bool known; const struct parameter *parameter; };
/* The same, where the VOLT_WINDOWS numbers are at hand. */
struct volt_window volt_window_by(const struct parameter *const *q, const struct contract *c, bool wide);
/* A window and what vSrcValid adds to it. */
struct volt_window volt_window_wide(const struct parameter *const *q, const struct volt_window *w);
struct volt_window volt_window(const struct judge *j, const struct contract *c, unsigned k, bool wide);

/* Static values: means of blocks laid end to end, from 5 ms after a load step on. */
struct volt_block {
    int64_t  from_ns, step_ns;    /* begin of the block, INT64_MIN: none; no block before step_ns */
    double   sum_uv, sum_ua;
    unsigned count, amps;
    uint64_t frame;               /* of its first reading */
    int64_t  step_seen_ns;        /* IBUS one load step's time ago, and when */
    int32_t  step_ua;
    int64_t  last_ns;
};
void volt_block_start(struct volt_block *b);
/*
 * One more reading outside transitions. True: a block before it is complete, and *mean (its mean, its begin, its first frame) and
 * *count say it. static_ns: its length; step_ua, transient_ns: what a load step is and how long it lasts.
 */
struct volt_static { int64_t static_ns, transient_ns; int32_t step_ua; };
bool volt_block_take(struct volt_block *b, const struct volt_static *s, const struct reading *r, struct reading *mean, unsigned *count);

/* A crossing of a level: from the last reading surely on one side to the first surely on the other. */
struct volt_crossing {
    int64_t  level_uv;
    bool     rising, done;
    int64_t  before_ns, after_ns; /* INT64_MIN: nothing on the first side was read yet */
    uint64_t before_frame, frame; /* of the first reading beyond */
    struct row_time before_row, row;
};
void volt_crossing_start(struct volt_crossing *c, int64_t level_uv, bool rising);
/* One more reading; true if with it the level is crossed. from_ns: before that it cannot have been crossed. */
bool volt_crossing_take(struct volt_crossing *c, const struct volt_trust *t, const struct reading *r, int64_t from_ns);
/* As an edge of a span: with the stamps of POWER records; other_stream: and their tie to the port's packets. */
struct edge volt_crossing_edge(const struct port *p, const struct volt_crossing *c, bool other_stream);

/* Current above the contract: when it was last seen, for rules that look for the cause of what follows. */
struct overload { int64_t last_ns; uint64_t frame; };
/* EVENT_POWER: may the record in hand hold any? The rule's parameter k is overload_share. */
bool overload_possible(const struct judge *j, const struct event *e, unsigned k);
void overload_take(const struct judge *j, const struct event *e, unsigned k, struct overload *o); /* WAKE_READINGS */
